"""Every limit against an independent polygon library: move the mould's section, cut it with the part's.

The oracle knows nothing of normals: a piece is a sector of metal less the rubber, it is moved step by step, and the
area it shares with the rubber, or with a neighbour, says whether it jams.
"""

from __future__ import annotations

import importlib.util
from math import cos, degrees, pi, radians, sin, tau
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from rollergen.shape.distance import boundary_points
from rollergen.shape.outline import Outline
from rollergen.shape.section import section_of
from rollergen.tooling.release import release_report
from rollergen.tooling.release_lines import HelicalLine, On
from rollergen.tooling.release_section import lean_of, ribs_of
from rollergen.tooling.shrinkage import Shrinkage, scaled_outline
from rollergen.tooling.undercut import cuts_of, mirrored_curves, skew_of


def _neighbour(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


demo = _neighbour("test_release").demo
EVEN = Shrinkage(radial=0.014, axial=0.014, source="test")
NOTHING = 1e-7  # mm2: rounding of the library
STEPS = (0.02, 0.3, 1.0, 3.0, 8.0, 20.0, 60.0)  # mm a piece is moved by
PLACES = (0.0, 0.5, 1.0)  # of the length

SHAPES: dict[str, dict[str, Any]] = {
    "demo": {},
    "unlike": {"ahead": 12, "behind": 33},
    "four flat": {"count": 4, "ahead": 35, "behind": 35, "tip_width": 8},
    "one sided": {"count": 3, "height": 3, "tip_width": 5, "ahead": 2, "behind": 55, "tip": 0.4, "root": 0.4},
    "six sharp": {"count": 6, "height": 6, "tip_width": 8, "ahead": 20, "behind": 20, "tip": 0, "root": 0},
}


def rubber(outline: Outline) -> Polygon:
    return Polygon(boundary_points(outline, 0.25))


def sector(start: float, end: float, reach: float = 160.0) -> Polygon:
    arc = np.linspace(start, end, 60)
    return Polygon([(0.0, 0.0), *zip(reach * np.cos(arc), reach * np.sin(arc), strict=True)])


def turned(shape: Any, angle: float) -> Any:
    return affinity.rotate(shape, angle, origin=(0, 0), use_radians=True)


def moved(shape: Any, direction: float, by: float) -> Any:
    return affinity.translate(shape, by * cos(direction), by * sin(direction))


def chosen(
    shape: dict[str, Any], on: On, per_piece: int, twist_deg: float, hand: str = "right"
) -> HelicalLine:
    """The line of the report for a segment with this twist."""
    profile = demo(hand=hand, **shape)
    sign = 1 if hand == "right" else -1
    report = release_report(
        section_of(profile), turn_per_mm=sign * radians(twist_deg) / 100, length=100, shrinkage=EVEN
    )
    return next(line for line in report.helical if (line.on, line.per_piece) == (on, per_piece))


def overlap(
    shape: dict[str, Any], line: HelicalLine, twist_deg: float, pull: float, neighbours: str = "none"
) -> float:
    """Greatest area the first piece shares with the rubber, or with neighbours that stay or move too (mm2)."""
    profile = demo(**shape)
    part = rubber(section_of(profile).outer)
    step = line.per_piece * tau / profile.ribs.count
    start = radians(line.parting_deg)
    pieces = [
        sector(start + n * step, start + (n + 1) * step).difference(part)
        for n in range(line.piece_count if line.like else 1)
    ]
    worst = 0.0
    for share in PLACES:
        turn = radians(twist_deg) * share
        here, rotated = turned(part, turn), [turned(piece, turn) for piece in pieces]
        for by in STEPS:
            first = moved(rotated[0], pull, by)
            worst = max(worst, first.intersection(here).area)
            if neighbours == "none":
                continue
            for n in (1, len(pieces) - 1):
                other = rotated[n] if neighbours == "stay" else moved(rotated[n], pull + n * step, by)
                worst = max(worst, first.intersection(other).area)
    return worst


def least_overlap(
    shape: dict[str, Any], line: HelicalLine, twist_deg: float, neighbours: str = "none"
) -> float:
    """Over pulls about the middle of the piece at half length: no direction may do better than ours."""
    profile = demo(**shape)
    middle = radians(line.parting_deg) + line.per_piece * pi / profile.ribs.count + radians(twist_deg) / 2
    offs = radians(10) * np.arange(-5, 6)
    return min(overlap(shape, line, twist_deg, middle + off, neighbours) for off in offs)


@pytest.mark.parametrize("name", ["demo", "unlike", "four flat", "six sharp"])
@pytest.mark.parametrize(("on", "per_piece"), [("tips", 1), ("grooves", 1)])
def test_a_piece_comes_free_at_its_limit_and_jams_beyond(name: str, on: On, per_piece: int) -> None:
    """Free 0.3 deg inside along the pull we say; 0.3 deg outside along none."""
    shape = SHAPES[name]
    comes_free_up_to_its_limit(shape, on, per_piece)


@pytest.mark.parametrize("name", ["demo", "unlike", "six sharp"])
def test_a_piece_of_two_grooves_too(name: str) -> None:
    comes_free_up_to_its_limit(SHAPES[name], "tips", 2)


def comes_free_up_to_its_limit(shape: dict[str, Any], on: On, per_piece: int) -> None:
    limit = chosen(shape, on, per_piece, 1.0).limit_deg
    assert limit > 1
    inside, outside = chosen(shape, on, per_piece, limit - 0.3), chosen(shape, on, per_piece, limit + 0.3)
    assert inside.helical_ok and inside.pull_deg is not None and not outside.helical_ok
    assert outside.pull_deg is None
    # 0.3 mm between samples makes chords, whose normals lie between the arcs' own
    assert overlap(shape, inside, limit - 0.3, radians(inside.pull_deg)) < NOTHING
    middle = inside.pull_deg + 0.3
    jam = min(
        overlap(shape, outside, limit + 0.3, radians(middle + off)) for off in np.arange(-0.9, 1.0, 0.3)
    )
    assert jam > NOTHING


@pytest.mark.parametrize("name", ["demo", "unlike"])
def test_a_left_hand_piece_comes_free_too(name: str) -> None:
    shape = SHAPES[name]
    limit = chosen(shape, "tips", 1, 1.0, "left").limit_deg
    line = chosen(shape, "tips", 1, limit - 0.3, "left")
    assert line.pull_deg is not None
    assert overlap(shape, line, -(limit - 0.3), radians(line.pull_deg)) < NOTHING


@pytest.mark.parametrize("name", ["demo", "unlike", "four flat"])
def test_a_piece_leaves_alone_up_to_its_limit(name: str) -> None:
    shape = SHAPES[name]
    limit = chosen(shape, "tips", 1, 1.0).one_at_a_time_limit_deg
    inside, outside = chosen(shape, "tips", 1, limit - 0.3), chosen(shape, "tips", 1, limit + 0.3)
    assert inside.one_at_a_time and inside.pull_deg is not None and not outside.one_at_a_time
    assert overlap(shape, inside, limit - 0.3, radians(inside.pull_deg), "stay") < NOTHING
    middle = inside.pull_deg + 0.15
    offs = np.arange(-0.9, 1.0, 0.3)
    jam = min(overlap(shape, outside, limit + 0.3, radians(middle + off), "stay") for off in offs)
    assert jam > NOTHING


@pytest.mark.parametrize("name", ["demo", "unlike", "six sharp"])
def test_pieces_that_move_all_at_once_slide_apart(name: str) -> None:
    """At more twist than one at a time allows."""
    shape = SHAPES[name]
    limit = chosen(shape, "tips", 1, 1.0).limit_deg - 0.3
    line = chosen(shape, "tips", 1, limit)
    assert line.together and not line.one_at_a_time and line.pull_deg is not None
    assert overlap(shape, line, limit, radians(line.pull_deg), "move") < NOTHING
    assert overlap(shape, line, limit, radians(line.pull_deg), "stay") > 1e-3


def test_three_grooves_a_piece_never_come_free() -> None:
    line = chosen({}, "tips", 3, 0.0)
    assert line.limit_deg == pytest.approx(-42)
    assert least_overlap({}, line, 0.0) > 1.0


def planes_overlap(outline: Outline, parts: int, skew: float) -> float:
    """Greatest area a part by planes shares with the rubber over all turns of the ribs (mm2)."""
    ribs = ribs_of(outline)
    assert ribs is not None
    part, wedge = rubber(outline), sector(-pi / parts - skew, pi / parts - skew)
    worst = 0.0
    for turn in np.linspace(0, ribs.step, 145):
        here = turned(part, turn)
        metal = wedge.difference(here)
        worst = max(worst, *(moved(metal, 0.0, by).intersection(here).area for by in (0.1, 0.5, 2.0)))
    return worst


@pytest.mark.parametrize("name", ["demo", "unlike", "four flat", "one sided"])
def test_least_parts_clear_and_one_part_less_does_not(name: str) -> None:
    profile = demo(**SHAPES[name])
    outline = section_of(profile).outer
    report = release_report(section_of(profile), turn_per_mm=tau / 700, length=152, shrinkage=EVEN)
    parts = report.planes.least_parts
    assert parts is not None
    skew = skew_of(lean_of(outline), parts)
    assert planes_overlap(outline, parts, skew) < NOTHING
    assert planes_overlap(outline, parts - 1, skew_of(lean_of(outline), parts - 1)) > 1e-4
    less = next(p for p in report.planes.depth_by_parts if p.parts == parts - 1)
    assert less.undercut_mm > 0
    if abs(skew) > 1e-9:  # and the pull off the middle is what makes it enough
        worst = pi / (pi / 2 - lean_of(outline).greatest)
        assert parts < worst
        assert planes_overlap(outline, parts, 0.0) > 1e-3


def test_straight_even_ribs_part_where_the_search_says() -> None:
    """Six ribs, straight, two parts: the place found clears, a place a quarter step on does not."""
    profile = demo(count=6, height=6, tip_width=6, ahead=30, behind=30, root=2, tip=1, pitch="straight")
    outline = section_of(profile).outer
    (cut,) = cuts_of(
        mirrored_curves(outline), (2,), lean=lean_of(outline), step=tau / 6, turns=(0.0, 0.0), first=0.0
    )
    assert cut.depth == pytest.approx(0, abs=1e-9)

    def shared(first: float) -> float:
        part = rubber(outline)
        metal = sector(first, first + pi).difference(part)
        return max(moved(metal, first + pi / 2, by).intersection(part).area for by in STEPS)

    assert shared(cut.first) < NOTHING < shared(cut.first + tau / 24)


@pytest.mark.parametrize("share", [0.97, 1.06])
def test_the_part_jams_past_its_free_length(share: float) -> None:
    """Shrunk section in the middle of its play, cavity as large as it is, turned by the mismatch at both ends."""
    profile = demo()
    outline = section_of(profile).outer
    free = release_report(
        section_of(profile), turn_per_mm=profile.turn_per_mm, length=152, shrinkage=EVEN
    ).screw.screw_free_length_mm
    assert free is not None
    cavity = rubber(scaled_outline(outline, EVEN.radial_scale))
    mismatch = profile.turn_per_mm * share * free * EVEN.axial
    pressed = max(turned(rubber(outline), s * mismatch / 2).difference(cavity).area for s in (-1, 1))
    assert (pressed > 1e-3) == (share > 1)
    assert degrees(mismatch) < 1
    assert shapely.__version__ >= "2"
