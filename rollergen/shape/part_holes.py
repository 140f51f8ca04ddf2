"""Are the loops of every flat end of a Part clear of one another?  Exact, on arcs and lines.

Two holes that overlap make a face the kernel calls invalid, or worse accepts; which two, and by how much,
only a check before building can say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rollergen.shape.distance import EdgeTable, boundary_points, edge_table, signed_distance
from rollergen.shape.offset import inward
from rollergen.shape.outline import Arc, Edge, Floats, Line, Outline, turned
from rollergen.shape.part import Cap, Part
from rollergen.shape.properties import reach_between

ROW = 2.0  # mm between the points of a loop that are tried before the exact distance


@dataclass(frozen=True, slots=True, kw_only=True)
class TooNear:
    """Two loops of one flat end, by side number, and the metal left between them (mm, negative: overlap)."""

    cap: int
    one: int
    other: int
    left: float


def backwards(edges: Sequence[Edge]) -> tuple[Edge, ...]:
    """The same chain travelled the other way: what lay to the left lies to the right."""
    return tuple(
        Line(e.end, e.start, e.feature)
        if isinstance(e, Line)
        else Arc(e.centre, e.radius, e.angle + e.sweep, -e.sweep, e.feature)
        for e in reversed(edges)
    )


def end_outline(part: Part, end: tuple[int, str]) -> Outline:
    """The loop a side ends in, as it lies at that height: moved by its offset and turned."""
    side = part.sides[end[0]]
    z, offset = side.levels[0 if end[1] == "low" else -1]
    outline = inward(side.outline, offset) if offset else side.outline
    return turned(outline, side.turn_per_mm * z) if side.turn_per_mm else outline


def too_near(part: Part, *, least: float) -> tuple[TooNear, ...]:
    """Every pair of loops of one flat end with less than ``least`` mm between them, exactly measured."""
    found: list[TooNear] = []
    for number, cap in enumerate(part.caps):
        found += _cap_pairs(part, number, cap, least)
    return tuple(found)


def _cap_pairs(part: Part, number: int, cap: Cap, least: float) -> list[TooNear]:
    if not cap.holes:
        return []
    loops = [Outline(backwards(end_outline(part, cap.outer).edges))]
    loops += [end_outline(part, hole) for hole in cap.holes]
    names = [cap.outer[0], *(hole[0] for hole in cap.holes)]
    tables = [edge_table(loop) for loop in loops]
    rows = [boundary_points(loop, ROW) for loop in loops]
    found = []
    for i, j in _doubtful(loops, tables, least):
        if _plainly_apart(tables[i], tables[j], rows[i], rows[j], least):
            continue
        left = clearance(loops[i], loops[j])
        if left < least:
            found.append(TooNear(cap=number, one=names[j], other=names[i], left=left))
    return found


def _plainly_apart(a: EdgeTable, b: EdgeTable, row_a: Floats, row_b: Floats, least: float) -> bool:
    """Whether a row of points on ``b`` already shows ``least`` mm between the loops, neither inside the other.

    Distance changes by no more than one moves, so no point of ``b`` is nearer than its row less half a step.
    """
    far = float(signed_distance(a, row_b).min()) - ROW / 2 >= least
    return far and float(signed_distance(b, row_a[:1])[0]) > 0


def _doubtful(loops: Sequence[Outline], tables: Sequence[EdgeTable], least: float) -> list[tuple[int, int]]:
    """Pairs (i < j) that circles round the loops do not already keep apart; loop 0 lies round all the others."""
    middle = np.array([_middle(loop) for loop in loops])
    reach = np.array([_reach(loop, at) for loop, at in zip(loops, middle.tolist(), strict=True)])
    away = np.hypot(*(middle[:, None] - middle[None]).transpose(2, 0, 1)) - reach[:, None] - reach[None]
    away[0] = away[:, 0] = -np.inf
    pairs = []
    for i in range(len(loops)):
        near = np.flatnonzero(away[i] < least)
        near = near[near > i]
        if len(near):
            # the loop itself against the others' circles
            left = signed_distance(tables[i], middle[near]) - reach[near]
            pairs += [(i, j) for j in near[left < least].tolist()]
    return pairs


def clearance(a: Outline, b: Outline) -> float:
    """Least distance between two loops that should bound separate regions (mm); negative where they overlap.

    For a loop that should lie inside another, turn the outer one with ``backwards``.
    """
    return min(reach_between(a, b), reach_between(b, a))


def _middle(outline: Outline) -> tuple[float, float]:
    first = outline.edges[0]
    if len(outline.edges) == 1 and isinstance(first, Arc):
        return first.centre
    x, y = np.mean([edge.start for edge in outline.edges], axis=0).tolist()
    return (x, y)


def _reach(outline: Outline, middle: tuple[float, float]) -> float:
    """A radius about ``middle`` that holds the whole loop."""
    far = 0.0
    for edge in outline.edges:
        if isinstance(edge, Arc):
            away = float(np.hypot(edge.centre[0] - middle[0], edge.centre[1] - middle[1]))
            far = max(far, away + edge.radius)
        else:
            far = max(far, float(np.hypot(edge.start[0] - middle[0], edge.start[1] - middle[1])))
    return far
