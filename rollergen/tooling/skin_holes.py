"""Holes of one body that open in different faces and lie side by side in it: do they leave metal between them?

``too_near`` holds loops of one flat end against one another; a funnel from above and a pocket from below share none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import hypot

import numpy as np

from rollergen.shape.distance import signed_distance
from rollergen.shape.offset import inward
from rollergen.shape.outline import Arc, Outline, is_circle, turned
from rollergen.shape.part import Part, Side
from rollergen.shape.part_holes import clearance

TWISTED_STEPS = 13  # heights a hole that twists past another is looked at
SLACK = 1e-9  # mm


def holes_too_near(part: Part, *, least: float) -> dict[tuple[int, int], float]:
    """Pairs of holes by side number with less than ``least`` mm of metal between them at some height, and how much.

    Offsets are linear between levels, so levels stand for all that is between; a blind end keeps ``least`` along the
    axis too.  Pairs a shared flat end already tells of are left to it.  Exact for holes that do not twist against one
    another; else at ``TWISTED_STEPS`` heights.
    """
    holes = [number for number, side in enumerate(part.sides) if not side.material_inside]
    if len(holes) < 2:
        return {}
    caps, islands = _caps_of(part), _islands(part)
    found = {}
    for one, other in _doubtful([part.sides[number] for number in holes], least):
        pair = (holes[one], holes[other])
        around = [islands[number] for number in pair if number in islands]
        left = _least_between(part, pair, (caps[pair[0]], caps[pair[1]]), around, least)
        if left < least:
            found[pair] = left
    return found


def _caps_of(part: Part) -> dict[int, dict[str, int]]:
    """The flat end every end of every side is in, by side number and "low" or "high"."""
    found: dict[int, dict[str, int]] = {number: {} for number in range(len(part.sides))}
    for number, cap in enumerate(part.caps):
        for side, end in (cap.outer, *cap.holes):
            found[side][end] = number
    return found


def _islands(part: Part) -> dict[int, Side]:
    """Walls that stand in a hole, by the side number of what is drilled into them: there nothing else is met."""
    inner = {hole[0] for cap in part.caps for hole in cap.holes if part.sides[hole[0]].material_inside}
    return {
        hole[0]: part.sides[cap.outer[0]] for cap in part.caps if cap.outer[0] in inner for hole in cap.holes
    }


def _doubtful(holes: list[Side], least: float) -> list[tuple[int, int]]:
    """Pairs (i < j) whose heights overlap and that circles round them do not keep apart."""
    low = np.array([side.levels[0][0] for side in holes])
    high = np.array([side.levels[-1][0] for side in holes])
    round_ = np.array([_circle_round(side) for side in holes])
    away = np.hypot(*(round_[:, None, :2] - round_[None, :, :2]).transpose(2, 0, 1))
    near = away - round_[:, None, 2] - round_[None, :, 2] < least
    beside = (low[:, None] < high[None] + least) & (low[None] < high[:, None] + least)
    return [(int(i), int(j)) for i, j in np.argwhere(np.triu(near & beside, 1))]


def _circle_round(side: Side) -> tuple[float, float, float]:
    """A circle (x, y, radius) that holds the side at every height; about the axis where it twists."""
    first = side.outline.edges[0]
    wider = 2 * max(
        0.0, *(-offset for _, offset in side.levels)
    )  # twice: a sharp corner moves further than its walls
    if len(side.outline.edges) == 1 and isinstance(first, Arc) and not side.turn_per_mm:
        return (*first.centre, first.radius + wider)
    x, y = 0.0, 0.0
    if not side.turn_per_mm:
        x, y = np.mean([edge.start for edge in side.outline.edges], axis=0).tolist()
    reach = max(hypot(e.start[0] - x, e.start[1] - y) for e in side.outline.edges)
    arcs = [e for e in side.outline.edges if isinstance(e, Arc)]
    reach = max([reach, *(hypot(e.centre[0] - x, e.centre[1] - y) + e.radius for e in arcs)])
    return (x, y, reach + wider)


def _least_between(
    part: Part,
    pair: tuple[int, int],
    caps: tuple[Mapping[str, int], Mapping[str, int]],
    around: Sequence[Side],
    least: float,
) -> float:
    """Least metal between two holes where no shared end tells of it (mm); infinite where there is no such height."""
    one, other = (part.sides[number] for number in pair)
    told = _told(one, other, caps)
    if told is None:
        return float("inf")
    left, seen = float("inf"), list(told)
    for z in _heights(one, other, least):
        if any(wall.levels[0][0] - least <= z <= wall.levels[-1][0] + least for wall in around):
            continue
        a, b = _offset(one, z), _offset(other, z)
        if any(a >= p - SLACK and b >= q - SLACK for p, q in seen):
            continue  # both no wider than where they were looked at
        if one.turn_per_mm == other.turn_per_mm:
            seen.append((a, b))
        here, there = _outline(one, z), _outline(other, z)
        if not _plainly_apart(here, there, least):
            left = min(left, clearance(here, there))
    return left


def _plainly_apart(one: Outline, other: Outline, least: float) -> bool:
    """Whether one of them is a circle whose middle is far enough from the other: no nearest points need be sought."""
    for ring, loop in ((one, other), (other, one)):
        first = ring.edges[0]
        if isinstance(first, Arc) and is_circle(ring):
            return float(signed_distance(loop, np.array([first.centre]))[0]) - first.radius >= least
    return False


def _told(
    one: Side, other: Side, caps: tuple[Mapping[str, int], Mapping[str, int]]
) -> tuple[tuple[float, float], ...] | None:
    """Offsets of both at every end they share; None where one goes on as the other and they belong together."""
    ends = {"low": 0, "high": -1}
    shared = [(a, b) for a in caps[0] for b in caps[1] if caps[0][a] == caps[1][b]]
    if any(a != b for a, b in shared):
        return None
    if one.turn_per_mm != other.turn_per_mm:
        return ()  # beside one another at one height tells nothing of the next
    return tuple((one.levels[ends[a]][1], other.levels[ends[b]][1]) for a, b in shared)


def _heights(one: Side, other: Side, least: float) -> list[float]:
    """Every level of both in the room they share, each reaching on by ``least`` past its blind ends."""
    lows, highs = zip(*((side.levels[0][0], side.levels[-1][0]) for side in (one, other)), strict=True)
    low = max(max(lows) - least, min(lows))
    high = min(min(highs) + least, max(highs))
    if one.turn_per_mm != other.turn_per_mm:
        return [float(z) for z in np.linspace(low, high, TWISTED_STEPS)]
    return sorted({low, high, *(z for side in (one, other) for z, _ in side.levels if low < z < high)})


def _offset(side: Side, z: float) -> float:
    """Offset at a height; above and below the side as at its end."""
    levels = side.levels
    for (low, at_low), (high, at_high) in pairwise(levels):
        if low <= z <= high:
            return at_low + (at_high - at_low) * (z - low) / (high - low)
    return levels[0][1] if z < levels[0][0] else levels[-1][1]


def _outline(side: Side, z: float) -> Outline:
    moved = inward(side.outline, _offset(side, z))
    return turned(moved, side.turn_per_mm * z) if side.turn_per_mm else moved
