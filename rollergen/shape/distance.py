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
POINTS_PER_BLOCK = 8192  # keeps (points x edges) arrays in cache and memory flat for any input

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
    blocks = [
        _nearest_block(table, points[i : i + POINTS_PER_BLOCK])
        for i in range(0, max(len(points), 1), POINTS_PER_BLOCK)
    ]
    distance, edge, place = (np.concatenate(parts) for parts in zip(*blocks, strict=True))
    return distance, edge, place


def _nearest_block(table: EdgeTable, points: Floats) -> tuple[Floats, Ints, Ints]:
    px, py = points[:, :1], points[:, 1:]
    sx, sy = px - table.start[:, 0], py - table.start[:, 1]
    ex, ey = px - table.end[:, 0], py - table.end[:, 1]
    to_start, to_end = sx * sx + sy * sy, ex * ex + ey * ey

    vx, vy = px - table.centre[:, 0], py - table.centre[:, 1]
    rho = np.sqrt(vx * vx + vy * vy)
    in_sweep = vx * table.toward[:, 0] + vy * table.toward[:, 1] >= (table.cos_half - IN_SWEEP_SLACK) * rho
    chord = table.end - table.start
    length2 = np.where(table.is_arc, 1.0, (chord * chord).sum(axis=1))
    along = (sx * chord[:, 0] + sy * chord[:, 1]) / length2
    height = sx * table.normal[:, 0] + sy * table.normal[:, 1]

    inside_edge = np.where(table.is_arc, in_sweep, (along > 0.0) & (along < 1.0))
    foot = np.where(table.is_arc, table.side * (rho - table.radius), height)  # signed already
    corner = np.sqrt(np.minimum(to_start, to_end))
    size = np.where(inside_edge, np.abs(foot), corner)

    edge = size.argmin(axis=1)
    row = np.arange(len(points))
    best, on_edge = size[row, edge], inside_edge[row, edge]
    first = to_start[row, edge] <= to_end[row, edge]
    place = np.where(on_edge, INTERIOR, np.where(first, AT_START, AT_END))
    start_side = sx[row, edge] * table.start_normal[edge, 0] + sy[row, edge] * table.start_normal[edge, 1]
    end_side = ex[row, edge] * table.end_normal[edge, 0] + ey[row, edge] * table.end_normal[edge, 1]
    corner_side = np.where(first, start_side, end_side)
    signed = np.where(on_edge, foot[row, edge], np.where(corner_side < 0.0, -best, best))
    return signed, edge.astype(np.int64), place.astype(np.int64)


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
