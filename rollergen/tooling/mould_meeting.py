"""Do any two bodies of the closed mould share room, and how near do they come?  Exact, height by height.

Bodies are cut flat: between two heights where neither changes its slope, offsets are linear in z, so both ends of
that stretch and its middle stand for it.  A point of one body deeper than rounding inside the other is shared room.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, pairwise
from math import atan2, ceil, hypot, tau

import numpy as np

from rollergen.shape.distance import EdgeTable, edge_table, joined, kept, signed_distance
from rollergen.shape.outline import Arc, Edge, Floats, Outline, normal_at
from rollergen.shape.part_holes import backwards
from rollergen.shape.part_slice import heights, loops_at
from rollergen.shape.properties import facing_points
from rollergen.tooling.mould import Mould
from rollergen.tooling.mould_body import Body
from rollergen.tooling.pieces import between_partings

ROW = 2.0  # mm between the points of a loop
UNDER = 0.01  # mm below the skin: where two loops run on one another the skin itself tells nothing
NEAR = 1.0  # mm: pairs further apart are not listed
ROUNDING = 1e-7  # mm
INSIDE = 1e-6  # share of a stretch its ends are looked at from


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """Two bodies less than 1 mm apart: ``gap_mm`` 0 where they touch, ``overlap_mm`` how deep one lies in the other."""

    a: str
    b: str
    overlap_mm: float
    gap_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Meetings:
    """``pairs`` bodies were held against one another; ``near`` are those that come within 1 mm."""

    pairs: int
    near: tuple[Meeting, ...]

    @property
    def shared(self) -> tuple[Meeting, ...]:
        """Those that claim the same room."""
        return tuple(one for one in self.near if one.overlap_mm > 0)


class _Cut:
    """One body at one height: the edges of its loops, and points on and just under their skin."""

    def __init__(self, loops: tuple[Outline, ...]) -> None:
        self.edges = [edge for loop in loops for edge in loop.edges]
        self.table = joined([edge_table(loop) for loop in loops])

    @cached_property
    def points(self) -> Floats:
        """On the skin and ``UNDER`` it, (n, 2)."""
        skin = np.array([row for edge in self.edges for row in _row(edge)])
        return np.concatenate([skin[:, :2], skin[:, :2] - UNDER * skin[:, 2:]])

    @cached_property
    def round(self) -> tuple[Floats, float]:
        """A circle that holds the whole cut: middle and radius."""
        middle = (self.points.min(axis=0) + self.points.max(axis=0)) / 2
        return middle, float(np.hypot(*(self.points - middle).T).max())


def meetings(mould: Mould) -> Meetings:
    """Every pair of bodies of the closed mould; pieces between axial planes as they are cut."""
    cuts: dict[tuple[str, float], _Cut] = {}
    pairs = list(combinations(mould.bodies, 2))
    found = [met for a, b in pairs if (met := _met(cuts, a, b)) is not None]
    return Meetings(pairs=len(pairs), near=tuple(found))


def _met(cuts: dict[tuple[str, float], _Cut], a: Body, b: Body) -> Meeting | None:
    overlap, gap = 0.0, np.inf
    for z in _looked_at(heights(a.part), heights(b.part)):
        one, other = _cut(cuts, a, z), _cut(cuts, b, z)
        if one is None or other is None:
            continue
        deep, apart = _between(one, other)
        overlap, gap = max(overlap, deep), min(gap, apart)
    if overlap == 0.0 and gap > NEAR:
        return None
    return Meeting(a=a.name, b=b.name, overlap_mm=overlap, gap_mm=0.0 if overlap else gap)


def _looked_at(a: tuple[float, ...], b: tuple[float, ...]) -> list[float]:
    low, high = max(a[0], b[0]), min(a[-1], b[-1])
    levels = sorted({z for z in (*a, *b) if low <= z <= high})
    found: list[float] = []
    for lower, upper in pairwise(levels):
        if upper - lower > ROUNDING:
            found += [lower + share * (upper - lower) for share in (INSIDE, 0.5, 1 - INSIDE)]
    return found


def _cut(cuts: dict[tuple[str, float], _Cut], body: Body, z: float) -> _Cut | None:
    key = (body.name, z)
    if key not in cuts:
        loops = loops_at(body.part, z)
        if not loops:
            return None
        cuts[key] = _Cut(loops if body.sector is None else _sector(loops, *body.sector))
    return cuts[key]


def _sector(loops: tuple[Outline, ...], start: float, sweep: float) -> tuple[Outline, ...]:
    """Loops of a ring, outside and hollow first, between two half-planes; what is drilled there lies wholly inside."""
    outside, hollow, *drilled = loops
    first = outside.edges[0]
    assert isinstance(first, Arc)
    here = [loop for loop in drilled if _angle_past(loop, start) < sweep]
    return (between_partings(Outline(backwards(hollow.edges)), first.radius, start, sweep), *here)


def _angle_past(loop: Outline, start: float) -> float:
    """Of a round hole's middle (rad, 0 to 2 pi)."""
    first = loop.edges[0]
    assert isinstance(first, Arc)
    return (atan2(first.centre[1], first.centre[0]) - start) % tau


def _between(one: _Cut, other: _Cut) -> tuple[float, float]:
    """Depth of shared room and least gap of two cuts (mm); the gap is infinite where it is plainly above ``NEAR``."""
    (c, r), (d, s) = one.round, other.round
    if hypot(*(c - d)) > r + s + NEAR:
        return 0.0, np.inf
    deep = max(_deepest(one, other), _deepest(other, one))
    if deep > ROUNDING:
        return deep, 0.0
    return 0.0, _gap(one, other)


def _deepest(one: _Cut, other: _Cut) -> float:
    """How far points of ``other`` lie inside ``one`` (mm), 0 where none does."""
    middle, reach = one.round
    near = np.hypot(*(other.points - middle).T) <= reach
    if not near.any():
        return 0.0
    points = other.points[near]
    return max(0.0, -float(signed_distance(_edges_about(one.table, points), points).min()))


def _edges_about(table: EdgeTable, points: Floats) -> EdgeTable:
    """The edges that can be nearest to any of the points, told from the circle round them."""
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    reach = float(np.hypot(*(points - middle).T).max())
    to_middle = np.hypot(*(table.middle - middle).T)
    return kept(table, to_middle - table.reach <= float((to_middle + table.reach).min()) + 2 * reach)


def _gap(one: _Cut, other: _Cut) -> float:
    """Least distance of the two skins, exact where it is below ``NEAR``."""
    skin = other.points[: len(other.points) // 2]
    least = float(np.abs(signed_distance(_edges_about(one.table, skin), skin)).min())
    if least > NEAR + ROW / 2:
        return np.inf
    if least > ROUNDING:
        here, there = _edges_within(one, other, least)
        for a, b, to in ((here, there, other), (there, here, one)):
            least = min(least, float(np.abs(signed_distance(to.table, facing_points(a, b))).min()))
    return 0.0 if least < ROUNDING else least


def _edges_within(one: _Cut, other: _Cut, least: float) -> tuple[list[Edge], list[Edge]]:
    """The edges of both that can come nearer to one another than ``least``, told from circles round them."""
    a, b = one.table, other.table
    apart = np.hypot(*(a.middle[:, None] - b.middle[None]).transpose(2, 0, 1))
    close = apart - a.reach[:, None] - b.reach[None] <= least + ROUNDING
    return (
        [one.edges[row] for row in np.flatnonzero(close.any(axis=1))],
        [other.edges[row] for row in np.flatnonzero(close.any(axis=0))],
    )


def _row(edge: Edge) -> list[tuple[float, float, float, float]]:
    """Points within the edge (x, y) with the outward normal there."""
    if isinstance(edge, Arc):
        length = edge.radius * abs(edge.sweep)
    else:
        length = hypot(edge.end[0] - edge.start[0], edge.end[1] - edge.start[1])
    steps = max(2, ceil(length / ROW))
    shares = [(k + 0.5) / steps for k in range(steps)]
    return [(*edge.at(share), *normal_at(edge, share)) for share in shares]
