"""The undercut map as a picture: bytes repeat, greys tell depth, an empty map is still a map."""

from __future__ import annotations

import io
from typing import Literal

import numpy as np
import pytest

from rollergen.export.undercut_picture import DepthMap, _levels, undercut_picture


def hump(depth: float, words: str = "2 parts", first: float = 0.0) -> DepthMap:
    """A ramp of depth over half the turn, nothing over the other half."""
    angle, z = first + np.linspace(0.25, 359.75, 720), np.linspace(0, 100, 21)
    ramp = np.clip(np.where(angle - first < 180, depth * (angle - first) / 180, 0.0), 0, None)
    return DepthMap(
        angle=angle, z=z, depth=np.tile(ramp, (21, 1)), planes=(first, first + 180.0), words=words
    )


def greys(page: bytes) -> np.ndarray:
    from matplotlib.image import imread

    image = imread(io.BytesIO(page), format="png")
    assert np.ptp(image[..., :3], axis=2).max() < 1e-6  # nothing but grey: any printer will do
    return np.asarray(image[..., 0])


@pytest.mark.parametrize("form", ["png", "svg"])
def test_same_input_same_bytes(form: Literal["png", "svg"]) -> None:
    maps = (hump(8.5), hump(0.0, "9 parts: no undercut"))
    page = undercut_picture(maps, title="demo", form=form)
    assert page == undercut_picture(maps, title="demo", form=form)
    assert page.startswith(b"\x89PNG" if form == "png" else b"<?xml")


def test_deep_is_darker_than_shallow_and_nothing_is_white() -> None:
    """Rows through the middle of the only map: white after the parting, growing darker up to it."""
    image = greys(undercut_picture((hump(8.5),), title="demo"))
    middle = image[image.shape[0] // 2]
    paint = [middle[int(share * len(middle))] for share in (0.2, 0.3, 0.4)]
    assert paint[0] > paint[1] > paint[2]
    assert middle[int(0.6 * len(middle))] == 1.0


def test_words_and_partings_are_written() -> None:
    page = undercut_picture((hump(8.5, "2 parts: 8.5 mm", 40.0),), title="the title", form="svg").decode()
    assert page.count("stroke-dasharray") >= 3  # two planes, the first again a turn on
    assert "the title" in page and "2 parts: 8.5 mm" in page


def test_flat_maps_have_no_scale_and_many_maps_wrap() -> None:
    one = undercut_picture((hump(0.0),), title="flat", form="svg")
    assert b"white: none" not in one
    wide, tall = (greys(undercut_picture((hump(3.0),) * n, title="t")).shape for n in (3, 4))
    assert tall[0] > 1.5 * wide[0] and tall[1] == wide[1]


def test_nothing_to_show_is_refused() -> None:
    with pytest.raises(ValueError, match="no map"):
        undercut_picture((), title="none")


@pytest.mark.parametrize("most", [1e-3, 0.03, 0.7, 2.0, 8.53, 30.0])
def test_greys_cover_the_depth_in_few_even_steps(most: float) -> None:
    levels = _levels(most)
    assert levels[0] < 0.1 * most and levels[-1] >= most * (1 - 1e-9) and len(levels) <= 8
    assert np.diff(levels[1:]) == pytest.approx([levels[1]] * (len(levels) - 2))
