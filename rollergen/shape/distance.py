"""How far points are from an outline: closed form for every arc, line and corner, no tessellation.

An outline is laid out once as arrays (``edge_table``); every distance afterwards is one vectorised
expression per kind of edge.  Nothing here knows about rollers, ribs or mates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from math import atan2, cos, hypot, pi, sin

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.outline import Arc, Floats, Line, Outline, normal_at

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

IN_SWEEP_SLACK = 1e-12  # cosine slack: a foot on the very end of an arc counts as on the arc
PAIRS_PER_BLOCK = 32768  # points times edges: arrays that stay in the cache, and memory flat for any input

INTERIOR, AT_START, AT_END = 0, 1, 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeTable:
    """The edges of one outline as arrays, one row an edge (mm).

    ``middle`` is the point of the edge half way along it, ``reach`` the largest distance from there to
    any point of the edge.  ``toward`` is the unit vector from an arc's centre to its middle (0 for a
    line), ``cos_half`` the cosine of half its sweep, ``side`` +1 for a convex arc, -1 for a concave
    one.  ``normal`` is a line's outward unit normal.  ``start_normal`` and ``end_normal`` are the sums
    of the unit normals of the two edges that meet there: their sign tells inside from outside where a
    corner is the nearest point.
    """

    is_arc: Flags
    start: Floats
    end: Floats
    centre: Floats
    radius: Floats
    side: Floats
    middle: Floats
    toward: Floats
    cos_half: Floats
    reach: Floats
    normal: Floats
    start_normal: Floats
    end_normal: Floats

    def __len__(self) -> int:
        return len(self.radius)


def edge_table(outline: Outline) -> EdgeTable:
    """Lay an outline out as arrays for the distance functions of this file."""
    edges = outline.edges
    before = (edges[-1], *edges[:-1])
    after = (*edges[1:], edges[0])
    corner_in = [_sum(normal_at(b, 1.0), normal_at(e, 0.0)) for b, e in zip(before, edges, strict=True)]
    corner_out = [_sum(normal_at(e, 1.0), normal_at(a, 0.0)) for e, a in zip(edges, after, strict=True)]

    def toward(e: Line | Arc) -> tuple[float, float]:
        if isinstance(e, Line):
            return (0.0, 0.0)
        return (cos(e.angle + e.sweep / 2), sin(e.angle + e.sweep / 2))

    def reach(e: Line | Arc) -> float:
        if isinstance(e, Line):
            return hypot(e.end[0] - e.start[0], e.end[1] - e.start[1]) / 2
        return 2 * e.radius * sin(abs(e.sweep) / 4)

    def column(values: list[float]) -> Floats:
        return np.array(values, dtype=np.float64)

    def pairs(values: list[tuple[float, float]]) -> Floats:
        return np.array(values, dtype=np.float64).reshape(-1, 2)

    return EdgeTable(
        is_arc=np.array([isinstance(e, Arc) for e in edges]),
        start=pairs([e.start for e in edges]),
        end=pairs([e.end for e in edges]),
        centre=pairs([e.centre if isinstance(e, Arc) else (0.0, 0.0) for e in edges]),
        radius=column([e.radius if isinstance(e, Arc) else 0.0 for e in edges]),
        side=column([0.0 if isinstance(e, Line) else 1.0 if e.sweep > 0 else -1.0 for e in edges]),
        middle=pairs([e.at(0.5) for e in edges]),
        toward=pairs([toward(e) for e in edges]),
        cos_half=column([cos(min(abs(e.sweep) / 2, pi)) if isinstance(e, Arc) else 0.0 for e in edges]),
        reach=column([reach(e) for e in edges]),
        normal=pairs([normal_at(e, 0.5) if isinstance(e, Line) else (0.0, 0.0) for e in edges]),
        start_normal=pairs(corner_in),
        end_normal=pairs(corner_out),
    )


def kept(table: EdgeTable, rows: Flags | Ints) -> EdgeTable:
    """The same table with only some of its edges (those a caller knows can be nearest)."""
    return EdgeTable(**{f.name: getattr(table, f.name)[rows] for f in fields(EdgeTable)})


def joined(tables: Sequence[EdgeTable]) -> EdgeTable:
    """The loops of one face in one table: outer loop as it is, holes travelled backwards.

    ``signed_distance`` to it is that to the face's edge, negative on the face.
    """
    return EdgeTable(
        **{f.name: np.concatenate([getattr(t, f.name) for t in tables]) for f in fields(EdgeTable)}
    )


def signed_distance(outline: Outline | EdgeTable, points: Floats) -> Floats:
    """Distance of points (n, 2) to the outline (mm), NEGATIVE inside, shape (n,).

    Exact to rounding: foot on a line, on an arc, or the corner itself.  The sign comes from the nearest
    edge; where a corner is nearest, from the sum of its two normals, which is right for convex and
    reflex corners alike.

    Source: sign by the pseudo-normal, Baerentzen and Aanaes, "Signed distance computation using the
    angle weighted pseudonormal", IEEE Trans. Vis. Comput. Graph. 11 (2005) 243-253; in the plane the
    two weights are equal (value from memory).
    """
    return nearest(outline, points)[0]


def nearest(outline: Outline | EdgeTable, points: Floats) -> tuple[Floats, Ints, Ints]:
    """Signed distance, row of the nearest edge and where on it (INTERIOR, AT_START, AT_END), each (n,)."""
    table = outline if isinstance(outline, EdgeTable) else edge_table(outline)
    points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    step = max(PAIRS_PER_BLOCK // max(len(table), 1), 1)
    blocks = [_nearest_block(table, points[i : i + step]) for i in range(0, max(len(points), 1), step)]
    distance, edge, place = (np.concatenate(parts) for parts in zip(*blocks, strict=True))
    return distance, edge, place


def _nearest_block(table: EdgeTable, points: Floats) -> tuple[Floats, Ints, Ints]:
    """One row an edge, one column a point: rows are long, so that each step runs through them in one go."""
    px, py = np.ascontiguousarray(points.T)
    sx, sy = px - table.start[:, :1], py - table.start[:, 1:]
    ex, ey = px - table.end[:, :1], py - table.end[:, 1:]
    to_start, to_end = sx * sx + sy * sy, ex * ex + ey * ey

    foot = np.empty_like(to_start)  # distance to the edge where its foot lies on it, signed already
    inside_edge = np.empty(to_start.shape, dtype=bool)
    arcs, lines = table.is_arc.nonzero()[0], (~table.is_arc).nonzero()[0]
    if len(arcs):
        foot[arcs], inside_edge[arcs] = _feet_on_arcs(table, arcs, px, py)
    if len(lines):
        foot[lines], inside_edge[lines] = _feet_on_lines(table, lines, sx[lines], sy[lines])
    corner = np.sqrt(np.minimum(to_start, to_end))
    size = np.where(inside_edge, np.abs(foot), corner)

    edge = size.argmin(axis=0)
    column = np.arange(len(points))
    best, on_edge = size[edge, column], inside_edge[edge, column]
    first = to_start[edge, column] <= to_end[edge, column]
    place = np.where(on_edge, INTERIOR, np.where(first, AT_START, AT_END))
    start_side = (
        sx[edge, column] * table.start_normal[edge, 0] + sy[edge, column] * table.start_normal[edge, 1]
    )
    end_side = ex[edge, column] * table.end_normal[edge, 0] + ey[edge, column] * table.end_normal[edge, 1]
    corner_side = np.where(first, start_side, end_side)
    signed = np.where(on_edge, foot[edge, column], np.where(corner_side < 0.0, -best, best))
    return signed, edge.astype(np.int64), place.astype(np.int64)


def _feet_on_arcs(table: EdgeTable, rows: Ints, px: Floats, py: Floats) -> tuple[Floats, Flags]:
    centre, toward = table.centre[rows], table.toward[rows]
    vx, vy = px - centre[:, :1], py - centre[:, 1:]
    rho = np.sqrt(vx * vx + vy * vy)
    least = table.cos_half[rows, None] - IN_SWEEP_SLACK
    in_sweep: Flags = vx * toward[:, :1] + vy * toward[:, 1:] >= least * rho
    return table.side[rows, None] * (rho - table.radius[rows, None]), in_sweep


def _feet_on_lines(table: EdgeTable, rows: Ints, sx: Floats, sy: Floats) -> tuple[Floats, Flags]:
    chord, normal = table.end[rows] - table.start[rows], table.normal[rows]
    length2 = (chord * chord).sum(axis=1)
    along = (sx * chord[:, :1] + sy * chord[:, 1:]) / length2[:, None]
    within: Flags = (along > 0.0) & (along < 1.0)
    return sx * normal[:, :1] + sy * normal[:, 1:], within


def boundary_points(outline: Outline, spacing: float) -> Floats:
    """Points on the outline, every corner among them and none further apart than ``spacing`` (mm), (n, 2)."""
    rows: list[tuple[float, float]] = []
    for e in outline.edges:
        length = (
            abs(e.sweep) * e.radius
            if isinstance(e, Arc)
            else hypot(e.end[0] - e.start[0], e.end[1] - e.start[1])
        )
        steps = max(1, int(np.ceil(length / spacing)))
        rows.extend(e.at(step / steps) for step in range(steps))
    return np.array(rows, dtype=np.float64)


def angle_towards(distance: float, height: float) -> float:
    """Angle at which an axis ``distance`` away and ``height`` above ours is seen, from +x (rad)."""
    return atan2(height, (distance * distance - height * height) ** 0.5)


def _sum(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    return (a[0] + b[0], a[1] + b[1])
