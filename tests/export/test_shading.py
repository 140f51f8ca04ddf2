"""The shaded picture: what covers how many pixels, what hides what, where the light falls."""

from __future__ import annotations

import io

import numpy as np
import pytest
from matplotlib.image import imread

from rollergen.export.shading import Eye, Shown, shaded_png

FRONT = Eye(azimuth_deg=-90.0, elevation_deg=0.0)  # along +y: x to the right, z up


def box(size: tuple[float, float, float], at: tuple[float, float, float], colour: str) -> Shown:
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float)
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    triangles = np.array([t for a, b, c, d in faces for t in ((a, b, c), (a, c, d))], dtype=np.int32)
    return Shown(
        vertices=corners * size + at, triangles=triangles, surface=np.repeat(np.arange(6, dtype=np.int32), 2),
        colour=colour,
    )  # fmt: skip


def page(*shown: Shown, eye: Eye = FRONT, width: int = 200, height: int = 100) -> np.ndarray:
    return np.asarray(imread(io.BytesIO(shaded_png(shown, eye=eye, width=width, height=height))))[:, :, :3]


def covered(seen: np.ndarray) -> int:
    return int((seen.min(axis=2) < 0.999).sum())


def test_a_box_covers_its_projection() -> None:
    # margin 6 % of 100 px at top and bottom: 88 px high, so 4 x 2 makes 176 x 88
    seen = page(box((4, 1, 2), (7, -3, 5), "#808080"))
    assert covered(seen) == 176 * 88
    rows, columns = np.nonzero(seen.min(axis=2) < 0.999)
    assert (rows.min(), rows.max(), columns.min(), columns.max()) == (6, 93, 12, 187)


def test_seen_from_a_corner_the_projection_grows_as_it_must() -> None:
    eye = Eye(azimuth_deg=-45.0, elevation_deg=0.0)
    # a unit cube over an edge: sqrt(2) wide, 1 high; half a pixel of doubt at either side
    seen = page(box((1, 1, 1), (0, 0, 0), "#808080"), eye=eye)
    assert covered(seen) == pytest.approx(88 * 88 * 2**0.5, abs=88)


@pytest.mark.parametrize("roll", [0.0, 90.0, 180.0, 270.0])
def test_rolling_the_head_turns_the_picture(roll: float) -> None:
    upright = page(box((4, 1, 2), (0, 0, 0), "#808080"), width=150, height=150)
    turned = page(
        box((4, 1, 2), (0, 0, 0), "#808080"),
        eye=Eye(azimuth_deg=-90.0, elevation_deg=0.0, roll_deg=roll), width=150, height=150,
    )  # fmt: skip
    hit = np.rot90(upright.min(axis=2) < 0.999, k=-int(roll // 90))
    assert np.array_equal(hit, turned.min(axis=2) < 0.999)


def test_the_nearer_thing_hides_the_farther_whatever_the_order() -> None:
    near, far = box((2, 1, 2), (1, -5, 0), "#cc0000"), box((4, 1, 2), (0, 0, 0), "#0000cc")
    one, other = page(near, far), page(far, near)
    assert np.array_equal(one, other)
    middle, edge = one[50, 100], one[50, 20]
    assert middle[0] > middle[2] and edge[2] > edge[0]


def test_top_left_is_lit_and_lines_are_dark() -> None:
    eye = Eye(azimuth_deg=-60.0, elevation_deg=30.0)
    seen = page(box((1, 1, 1), (0, 0, 0), "#999999"), eye=eye, width=300, height=300)
    top, low = seen[70, 150].mean(), seen[220, 190].mean()
    assert top > low
    assert seen[seen.min(axis=2) < 0.999].min() < 0.2


def test_same_bytes_twice_and_no_software_named() -> None:
    shown = [box((1, 2, 3), (0, 0, 0), "#ab8")]
    data = shaded_png(shown, eye=FRONT, width=64, height=64)
    assert data == shaded_png(shown, eye=FRONT, width=64, height=64)
    assert b"matplotlib" not in data.lower()


@pytest.mark.parametrize(("width", "height"), [(8, 100), (100, 8), (10_000, 10_000)])
def test_impossible_sizes_are_refused(width: int, height: int) -> None:
    with pytest.raises(ValueError, match="pixels"):
        shaded_png([box((1, 1, 1), (0, 0, 0), "k")], eye=FRONT, width=width, height=height)


def test_nothing_to_show_is_refused() -> None:
    with pytest.raises(ValueError, match="nothing to show"):
        shaded_png([], eye=FRONT)
