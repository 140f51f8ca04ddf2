"""The side view of a bed: same bytes, true to scale, marks where the numbers say, readable without colour."""

from __future__ import annotations

import io
from math import hypot, pi
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from rollergen.answer.bed_overview import overview
from rollergen.answer.report import draw_profile
from rollergen.export.bed_picture import SeenGap, SeenRoller, bed_picture, placed_points
from rollergen.spec.reading import read_bed

PROFILES = Path(__file__).parents[2] / "profiles"
BEDS = sorted((PROFILES / "beds").glob("*.toml"))


def circle(x: float, y: float = 0.0, *, speed: float | None = None, name: str = "smooth") -> SeenRoller:
    return SeenRoller(name=name, outline=None, radius=45.0, tip_radius=45.0, x=x, y=y, rotation_speed=speed)


def words_of(svg: bytes) -> list[str]:
    """Texts of an SVG; the writer leaves each as a comment beside its glyphs."""
    return [line.strip()[5:-4] for line in svg.decode().splitlines() if line.strip().startswith("<!-- ")]


def seen(path: Path) -> tuple[list[SeenRoller], list[SeenGap]]:
    bed = read_bed(path)
    rollers = []
    for roller in bed.rollers:
        section = draw_profile(roller.segment).section if roller.segment is not None else None
        rollers.append(
            SeenRoller(
                name=roller.name,
                outline=section.outer if section is not None else None,
                holes=section.holes if section is not None else (),
                radius=roller.body_radius,
                tip_radius=roller.tip_radius,
                x=roller.x,
                y=roller.y,
                phase=roller.phase,
                rotation_speed=roller.rotation_speed,
            )
        )
    gaps = [
        SeenGap(
            rollers=pair.numbers,
            tip_gap=pair.tip_gap_mm,
            ok=pair.ok,
            nips=None if pair.nips is None else tuple((n.side, n.surfaces == "both") for n in pair.nips),
        )
        for pair in overview(bed).pairs
    ]
    return rollers, gaps


@pytest.mark.parametrize("path", BEDS, ids=lambda path: path.stem)
def test_shipped_beds_draw_the_same_every_time_with_every_name_and_gap(path: Path) -> None:
    rollers, gaps = seen(path)
    pages = [bed_picture(rollers=rollers, gaps=gaps, title=path.stem, form="svg") for _ in range(2)]
    assert pages[0] == pages[1] and pages[0].startswith(b"<?xml")
    said = words_of(pages[0])
    assert path.stem in said
    assert all(any(roller.name in word for word in said) for roller in rollers)
    assert sum(word == f"{gap.tip_gap:.4g}" for gap in gaps for word in set(said)) == len(gaps)


def test_a_png_is_grey_throughout_and_the_same_twice() -> None:
    rollers, gaps = seen(BEDS[0])
    data = bed_picture(rollers=rollers, gaps=gaps, title="bed", note="caution")
    assert data == bed_picture(rollers=rollers, gaps=gaps, title="bed", note="caution")
    page = np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)
    assert page.max(axis=-1).tolist() == page.min(axis=-1).tolist()
    assert (page == 0).any() and (page == 255).any()


def test_both_axes_have_one_scale() -> None:
    """A lone circle is as wide as it is tall: longest row and longest column of its shade, in pixels."""
    page = np.asarray(Image.open(io.BytesIO(bed_picture(rollers=[circle(0)], title=""))).convert("L"))
    shade = (page >= 244) & (page <= 246)
    wide, tall = shade.sum(axis=1).max(), shade.sum(axis=0).max()
    assert wide > 400 and abs(int(wide) - int(tall)) <= 4


def test_points_are_turned_by_the_phase_and_moved_to_the_axis() -> None:
    ribbed = next(roller for roller in seen(BEDS[0])[0] if roller.outline is not None)
    there = SeenRoller(
        name="there", outline=ribbed.outline, radius=56, tip_radius=64, x=200.0, y=-30.0, phase=pi / 2
    )
    at_home = SeenRoller(name="home", outline=ribbed.outline, radius=56, tip_radius=64, x=0.0, y=0.0)
    home, moved = placed_points(at_home), placed_points(there)
    np.testing.assert_allclose(moved, np.stack([200.0 - home[:, 1], -30.0 + home[:, 0]], axis=1), atol=1e-9)
    reach = max(hypot(x - 200.0, y + 30.0) for x, y in moved)
    assert reach == pytest.approx(64.0, abs=0.01)
    rim = placed_points(circle(5.0, 7.0))
    np.testing.assert_allclose(np.hypot(rim[:, 0] - 5.0, rim[:, 1] - 7.0), 45.0)


def black(page: bytes) -> int:
    return int((np.asarray(Image.open(io.BytesIO(page)).convert("L")) < 40).sum())


def test_a_nip_of_both_surfaces_is_filled_and_one_of_one_is_hollow() -> None:
    rollers = [circle(0, speed=-5.0), circle(93, speed=5.0)]

    def drawn(*nips: tuple[str, bool]) -> bytes:
        gap = SeenGap(rollers=(0, 1), tip_gap=3.0, nips=nips)  # type: ignore[arg-type]
        return bed_picture(rollers=rollers, gaps=[gap], title="")

    none, hollow, filled = drawn(), drawn(("above", False)), drawn(("above", True))
    assert black(none) < black(hollow) < black(filled) - 300
    assert drawn(("above", True)) != drawn(("below", True))


def test_the_legend_tells_only_what_is_there() -> None:
    rollers = [circle(0), circle(93)]

    def legend(gap: SeenGap) -> str:
        return " | ".join(words_of(bed_picture(rollers=rollers, gaps=[gap], title="", form="svg")))

    both = legend(SeenGap(rollers=(0, 1), tip_gap=3.0, nips=(("above", True),)))
    assert "both surfaces run in" in both and "one surface" not in both and "not as asked" not in both
    missed = legend(SeenGap(rollers=(0, 1), tip_gap=-0.25, ok=False, nips=None))
    assert "-0.25!" in missed.replace("\u2212", "-") and "not as asked" in missed
    assert "direction not given" in missed and "speed not given" in missed


def test_the_arrow_shows_the_sense_and_a_standing_roller_has_none() -> None:
    pages = [bed_picture(rollers=[circle(0, speed=s)], title="", form="svg") for s in (5.0, -5.0, 0.0)]
    assert len(set(pages)) == 3 and len(pages[2]) < min(len(pages[0]), len(pages[1]))

    def lean(speed: float) -> float:
        """Where the dark of the arrow is heaviest, right of the axis positive."""
        page = np.asarray(
            Image.open(io.BytesIO(bed_picture(rollers=[circle(0, speed=speed)], title=""))).convert("L")
        )
        still = np.asarray(
            Image.open(io.BytesIO(bed_picture(rollers=[circle(0, speed=0.0)], title=""))).convert("L")
        )
        rows = slice(0, page.shape[0] // 2)
        arrow = (page[rows] < 60) & (still[rows] > 200)
        columns = np.flatnonzero(arrow.any(axis=0))
        return float(np.average(np.arange(page.shape[1]), weights=arrow.sum(axis=0)) - columns.mean())

    assert lean(-5.0) > 2.0 and lean(5.0) < -2.0  # clockwise: the head is on the right


def test_a_note_and_many_rollers_stay_on_the_page() -> None:
    many = [circle(93.0 * k, name=f"roller {k}") for k in range(40)]
    data = bed_picture(rollers=many, title="long bed", note="caution " * 60)
    assert Image.open(io.BytesIO(data)).size[0] == 60 * 120
    with pytest.raises(ValueError, match="at least one"):
        bed_picture(rollers=[], title="")
