"""Where the order of demoulding says a piece goes: there it comes free, along its middle it jams, by a polygon library.

The direction is read out of the sentence a toolmaker gets, the piece and the rubber are the mould's own outlines.
"""

from __future__ import annotations

import re
from math import atan2, cos, degrees, radians, sin, tau
from typing import Any

import numpy as np
import pytest
from mould_case import changed
from shapely import affinity
from shapely.geometry import Polygon

from rollergen.answer.moulding import MouldAnswer, mould_for
from rollergen.answer.report import draw_profile
from rollergen.shape.distance import boundary_points
from rollergen.shape.outline import Outline
from rollergen.tooling.mould_numbers import body_named
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.pieces import parting_angles, piece_middles, piece_outline
from rollergen.tooling.release_lines import ReleaseLimits
from rollergen.tooling.shrinkage import Shrinkage

EVEN = Shrinkage(radial=0.014, axial=0.014, source="test")
UNLIKE = (
    'flank_angle = "15 deg" ',
    'flank_angle_ahead = "35 deg"\nflank_angle_behind = "5 deg" ',
)
NOTHING = 1e-2  # mm2: chords of 0.02 mm stand off the arcs of both
STEPS = (0.3, 1.0, 3.0, 8.0, 20.0)  # mm


def made(way: Any, *pairs: tuple[str, str], limits: ReleaseLimits | None = None) -> MouldAnswer:
    return mould_for(draw_profile(changed(*pairs)), EVEN, Tool(), way=way, limits=limits or ReleaseLimits())


def said(found: MouldAnswer) -> list[float]:
    """Directions in the sentence (rad)."""
    (step,) = [step for step in found.report.demould if "cavity_piece_1 at" in step]
    return [radians(float(each)) for each in re.findall(r"cavity_piece_\d+ at ([\d.]+) deg", step)]


def polygon(outline: Outline) -> Polygon:
    return Polygon(boundary_points(outline, 0.02))


def turned(shape: Polygon, angle: float) -> Polygon:
    return affinity.rotate(shape, angle, origin=(0, 0), use_radians=True)


def moved(shape: Polygon, direction: float, by: float) -> Polygon:
    return affinity.translate(shape, by * cos(direction), by * sin(direction))


def jams(found: MouldAnswer, direction: float, number: int, *, neighbours: str) -> float:
    """Greatest area (mm2) a piece shares with rubber, or with a neighbour that stays or moves too, along the axis."""
    mould = found.mould
    cavity, split = mould.cavity, mould.split
    assert split is not None
    rubber, worst, step = polygon(cavity.section.outer), 0.0, tau / split.pieces
    heights = np.linspace(mould.layout.low, mould.layout.high, 3 if split.on != "planes" else 25)
    pieces = (
        [polygon(piece_outline(cavity, mould.layout, split, n)) for n in range(split.pieces)]
        if split.on != "planes"
        else []
    )
    for z in heights:
        turn = cavity.turn_per_mm * float(z)
        here = turned(rubber, turn)
        if pieces:
            there = [turned(one, turn) for one in pieces]
        else:
            there = [_sector(a, a + step, mould.layout.block_radius).difference(here)
                     for a in parting_angles(cavity, split)]  # fmt: skip
        for by in STEPS:
            gone = moved(there[number], direction, by)
            worst = max(worst, gone.intersection(here).area)
            for side in (1, -1):
                other = there[(number + side) % split.pieces]
                if neighbours == "move":
                    other = moved(other, direction + side * step, by)
                worst = max(worst, gone.intersection(other).area)
    return worst


def _sector(start: float, end: float, reach: float) -> Polygon:
    arc = np.linspace(start, end, 200)
    return Polygon([(0.0, 0.0), *zip(reach * np.cos(arc), reach * np.sin(arc), strict=True)])


SHORT = ('free_length = "150 mm"', 'free_length = "60 mm"')
FITTED = ('fitted_length = "148.5 mm"', 'fitted_length = "59.5 mm"')
STEEPER = ('helix_pitch = "650 mm"', 'helix_pitch = "590 mm"')  # 91.5 deg of the 95 that can leave


@pytest.mark.parametrize(
    ("way", "pairs", "neighbours"),
    [
        ("planes", (SHORT, FITTED), "stay"),
        ("helical", (SHORT, FITTED), "stay"),
        ("helical", (STEEPER,), "move"),
    ],
    ids=["planes", "in the grooves, one at a time", "on the tips, all at once"],
)
def test_the_direction_told_frees_the_piece_and_its_middle_does_not(
    way: Any, pairs: tuple[tuple[str, str], ...], neighbours: str
) -> None:
    found = made(way, UNLIKE, *pairs)
    split = found.mould.split
    assert split is not None
    directions, middles = said(found), piece_middles(found.mould.cavity, split)
    assert len(directions) == split.pieces
    for number in (0, 1):
        free = jams(found, directions[number], number, neighbours=neighbours)
        jammed = jams(found, middles[number], number, neighbours=neighbours)
        assert free < NOTHING < 0.1 < jammed, (number, free, jammed)
    (step,) = [step for step in found.report.demould if "at the same" in step or "one after another" in step]
    assert ("at the same time" in step) == (neighbours == "move") and "off the middle" in step


@pytest.mark.parametrize("way", ["planes", "helical"])
def test_the_report_the_sentence_and_the_picture_say_one_direction(way: Any) -> None:
    found = made(way, UNLIKE, SHORT, FITTED)
    pulls = found.release.pulls
    assert [one.piece for one in pulls] == list(range(1, len(pulls) + 1))
    for one, told in zip(pulls, said(found), strict=True):
        assert one.direction_deg == pytest.approx(degrees(told), abs=0.051)
        x, y, z = body_named(found.mould, f"cavity_piece_{one.piece}").apart
        assert (degrees(atan2(y, x)) - one.direction_deg + 180) % 360 - 180 == pytest.approx(0, abs=1e-9)
        assert z == 0 and one.off_middle_deg < -10
    if way == "planes":
        line = next(x for x in found.release.planes.depth_by_parts if x.parts == len(pulls))
        assert pulls[0].off_middle_deg == line.pull_skew_deg


def test_like_flanks_leave_along_the_middle_and_stripped_pieces_off_it_too() -> None:
    found = made("helical")
    assert all(one.off_middle_deg == 0 for one in found.release.pulls)
    assert any("each along the middle of its piece, half way up" in step for step in found.report.demould)
    stripped = made("strip", UNLIKE, limits=ReleaseLimits(most_strip=0.05))
    assert len(said(stripped)) == stripped.release.outer_parts > 1
    assert any(
        "ribs give way" in step and "clockwise off the middle" in step for step in stripped.report.demould
    )
    assert made("screw", limits=ReleaseLimits(most_twist_shear=0.05)).release.pulls == ()


def test_the_twist_one_can_leave_by_alone_is_the_release_limit_not_the_pieces_share() -> None:
    """The sentence names the limit of the report, whatever stops a lone piece."""
    found = made("helical", UNLIKE)
    line = next(x for x in found.release.helical if x.on == "tips" and x.per_piece == 1)
    (step,) = [step for step in found.report.demould if "at the same time" in step]
    twist = abs(found.mould.cavity.twist)
    assert twist > radians(line.one_at_a_time_limit_deg)
    assert (
        f"twist of {degrees(twist):.1f} deg is more than the {line.one_at_a_time_limit_deg:.1f} deg" in step
    )
