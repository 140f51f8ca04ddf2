"""How a side leans once it is carried along z with a twist, and what bridges when the segment lies: closed forms.

Surface X = Rot(kz)(c - d n) with the outward normal n of the section: its normal is (n, d' - k (p x n)), so a side
faces down where k (p x n) > d' and leans atan of the difference from upright.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import atan, atan2, cos, hypot, pi, sin, tau

from rollergen.shape.outline import Arc, Edge, Outline, Point, mirrored_edges, normal_at, turned
from rollergen.shape.section import Section

ROOF = pi / 4  # rad: a roof flatter than this has to bridge
STEPS = 90  # rotations at which roofs are looked at, beside those where a run begins or ends
SAME = 1e-9  # rad
JUST = 1e-6  # rad beside a rotation where a flat edge is exactly as steep as counts


def lever_range(outline: Outline) -> tuple[float, float]:
    """(least, greatest) p x n along an outline, the arm of the outward normal about the axis (mm), exact.

    Along an arc it is |c| sin(angle from c), along a line it runs evenly.
    """
    levers = [lever for edge in outline.edges for lever in _levers(edge)]
    return (min(levers), max(levers))


def _levers(edge: Edge) -> list[float]:
    if not isinstance(edge, Arc):
        n = normal_at(edge, 0.5)
        return [p[0] * n[1] - p[1] * n[0] for p in (edge.start, edge.end)]
    side = 1.0 if edge.sweep > 0 else -1.0
    reach, towards = hypot(*edge.centre), atan2(edge.centre[1], edge.centre[0])
    angles = [edge.angle, edge.angle + edge.sweep]
    for crest in (towards + pi / 2, towards - pi / 2):
        if (side * (crest - edge.angle)) % tau <= abs(edge.sweep):
            angles.append(crest)
    return [side * reach * sin(a - towards) for a in angles]


def hanging(outline: Outline, turn_per_mm: float, *, slope: float = 0.0) -> float:
    """Greatest lean from upright of what faces down, the lower end on the plate (rad): atan(slope + max k (p x n)).

    ``slope``: how fast the outline grows with height (1 for a 45 deg chamfer at the lower end).
    """
    low, high = lever_range(outline)
    return atan(max(slope + max(turn_per_mm * low, turn_per_mm * high), 0.0))


def turned_over(section: Section, turn_per_mm: float, length: float) -> Section:
    """The section of the segment stood on its other end: z runs down from there, the hand of the helix stays."""

    def flipped(outline: Outline) -> Outline:
        return Outline(mirrored_edges(outline.edges))

    return Section(
        outer=flipped(turned(section.outer, turn_per_mm * length)),
        bore=flipped(section.bore),
        chambers=tuple(flipped(c) for c in section.chambers),
    )


def widest_roofs(holes: Sequence[Outline]) -> tuple[float, float] | None:
    """(least, greatest) over rotations of the widest roof of any hole, lying down (mm); None without holes.

    A roof is a run of the hole's edge flatter than 45 deg with rubber above; its width at each rotation is exact,
    rotations are 4 deg apart and on both sides of every place where an edge joins or leaves a run.
    """
    if not holes:
        return None
    ends = {normal for hole in holes for edge in hole.edges for normal in _normals(edge)}
    rotations = {round(tau * n / STEPS, 12) for n in range(STEPS)}
    rotations |= {
        round((end + way * ROOF + by) % tau, 12) for end in ends for way in (1, -1) for by in (JUST, -JUST)
    }
    widest = [max(roof_width(hole, up) for hole in holes) for up in sorted(rotations)]
    return (min(widest), max(widest))


def roof_width(hole: Outline, up: float) -> float:
    """Width of the widest roof of one hole when the direction ``up`` (rad, from +x) points up (mm)."""
    flat = [(edge, _flat_shares(edge, up)) for edge in hole.edges]
    runs: list[tuple[float, float]] = []  # positions along the horizontal where each run starts and stops
    open_run = False
    for edge, shares in flat:
        for start, stop in shares:
            a, b = _across(edge, start, up), _across(edge, stop, up)
            if open_run and start < SAME:
                runs[-1] = (runs[-1][0], b)
            else:
                runs.append((a, b))
            open_run = stop > 1 - SAME
        open_run = open_run and bool(shares)
    heads, tails = flat[0][1], flat[-1][1]
    if len(runs) > 1 and heads and tails and heads[0][0] < SAME and tails[-1][1] > 1 - SAME:
        runs[0] = (runs[-1][0], runs[0][1])  # the run goes through where the outline closes
    return max((abs(b - a) for a, b in runs), default=0.0)


def _normals(edge: Edge) -> tuple[float, float]:
    """Direction of the outward normal at both ends (rad), running on without a jump along an arc."""
    if isinstance(edge, Arc):
        first = edge.angle if edge.sweep > 0 else edge.angle + pi
        return (first, first + edge.sweep)
    n = normal_at(edge, 0.0)
    return (atan2(n[1], n[0]),) * 2


def _flat_shares(edge: Edge, up: float) -> list[tuple[float, float]]:
    """Parts of an edge (shares 0..1) whose outward normal lies within 45 deg of ``up``."""
    first, last = _normals(edge)
    if first == last:
        return [(0.0, 1.0)] if abs((first - up + pi) % tau - pi) < ROOF - SAME else []
    low, high = min(first, last), max(first, last)
    found = []
    turn = -1 + int((low - up) // tau)
    while up - ROOF + tau * turn <= high:
        a, b = max(low, up - ROOF + tau * turn), min(high, up + ROOF + tau * turn)
        if b - a > SAME:
            shares = sorted(((a - first) / (last - first), (b - first) / (last - first)))
            found.append((shares[0], shares[1]))
        turn += 1
    return sorted(found)


def _across(edge: Edge, share: float, up: float) -> float:
    if isinstance(edge, Arc):
        x, y = edge.at(share)
    else:
        x, y = _between(edge.start, edge.end, share)
    return x * sin(up) - y * cos(up)


def _between(a: Point, b: Point, share: float) -> Point:
    return (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
