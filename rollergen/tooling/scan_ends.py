"""The flat ends of a scanned part: planes through their points, where the profile has them or far from there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rollergen.shape.distance import Flags, Ints
from rollergen.shape.outline import Floats
from rollergen.tooling.aligning import Fit
from rollergen.tooling.scan import Scan, every_nth
from rollergen.tooling.scan_surfaces import HIGH_END, LOW_END, Surfaces, look_at

LEAST_ON_SURFACE = 80
EDGE = 0.6  # mm beside a chamfer or an edge that no feature is read from
OUTWARD = 0.5  # cosine between a facet of an end and the axis
LOOKED_AT = 20000  # points among which an end is looked for
SLICE = 0.5  # mm of height
NEAR_PLANE = 1.5  # mm about a flat face that its points are looked for
LEAST_RUBBER = (
    0.8  # share of a flat face that must lie where the section has rubber: a table covers the holes too
)
MOST_BEYOND = 0.02  # share of the sides that may lie beyond an end: a part ends at its ends
FAR = 4.0  # mm off, an end is no end of the profile's
LEAST_LENGTH = 0.2  # of the length asked: ends nearer than that are no two ends


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """A flat end: height on the axis and slopes, with the error of the height (mm)."""

    height: float
    error: float
    slope_x: float
    slope_y: float
    points: int


Ends = tuple[End | None, End | None]


def ends_of(
    scan: Scan, fit: Fit, q: Floats, kind: Ints, belongs: Flags, surfaces: Surfaces, shrunk: Floats
) -> Ends:
    """(low, high) end of the part, None for one the scan does not show.

    An end far from where the profile has it belongs to no surface of the profile, and is looked for by itself: a
    part far too long is no part of which one end is not seen.
    """
    margin = max(surfaces.edge_chamfer, surfaces.lead_in) + EDGE
    found: list[End | None] = []
    for end in (LOW_END, HIGH_END):
        rows = np.flatnonzero(belongs & (kind == end))
        if len(rows) >= LEAST_ON_SURFACE:
            level = 0.0 if end == LOW_END else surfaces.length
            rows = rows[depth_in_rubber(surfaces, shrunk[rows], level) > margin]
        found.append(_plane(q[rows]) if len(rows) >= LEAST_ON_SURFACE else None)
    if found[0] is None or found[1] is None:
        return _far_off(scan, fit, q, kind < LOW_END, surfaces, margin, (found[0], found[1]))
    return found[0], found[1]


def far_heights(ends: Ends, length: float) -> tuple[float, float] | None:
    """Heights of the ends where one of them is far from where the profile has it, else None."""
    low, high = (level if end is None else end.height for end, level in zip(ends, (0.0, length), strict=True))
    return (low, high) if max(abs(low), abs(high - length)) > FAR else None


def depth_in_rubber(surfaces: Surfaces, points: Floats, level: float | None = None) -> Floats:
    """How deep in the rubber of the section points lie (mm), negative outside and in holes.

    The section is that at each point's own height, or at height ``level`` for all.
    """
    at = points if level is None else np.column_stack([points[:, :2], np.full(len(points), level)])
    deep: Floats = -np.max([look_at(ring, at).deviation for _, ring in surfaces.rings], axis=0)
    return deep


def _far_off(
    scan: Scan, fit: Fit, q: Floats, sides: Flags, surfaces: Surfaces, margin: float, ends: Ends
) -> Ends:
    """The ends with a missing one found wherever it lies: a flat face of rubber with nothing of the part beyond."""
    inside = np.hypot(q[:, 0], q[:, 1]) < surfaces.radius * fit.radial
    along = None if scan.normals is None else scan.normals @ fit.pose.rotation[:, 2]
    middle = float(np.median(q[inside, 2])) if inside.any() else 0.0
    found = list(ends)
    for which, sign in ((0, -1.0), (1, 1.0)):
        if ends[which] is not None:
            continue
        outward = sign * (q[:, 2] - middle) > 0 if along is None else sign * along > OUTWARD
        height = _crowded_height(q[inside & outward], surfaces, margin)
        end = None if height is None else _face(q, outward, surfaces, margin, height)
        if end is None:
            continue
        side = sides & inside
        beyond = side & (sign * (q[:, 2] - end.height) > NEAR_PLANE)
        other = ends[1 - which]
        far = other is None or sign * (end.height - other.height) > LEAST_LENGTH * surfaces.length
        if far and beyond.sum() <= MOST_BEYOND * max(int(side.sum()), 1):
            found[which] = end
    return found[0], found[1]


def _crowded_height(q: Floats, surfaces: Surfaces, margin: float) -> float | None:
    """Height (mm) at which most points lie where the section has rubber: only an end has points there."""
    if len(q) < LEAST_ON_SURFACE:
        return None
    few = q[every_nth(np.ones(len(q)), LOOKED_AT)]
    z = few[depth_in_rubber(surfaces, few) > margin, 2]
    if len(z) < LEAST_ON_SURFACE / 2:
        return None
    edges = np.arange(z.min() - SLICE, z.max() + 2 * SLICE, SLICE)
    slices = np.histogram(z, bins=edges)[0]
    both = slices[:-1] + slices[1:]
    return float(edges[int(both.argmax()) + 1])


def _face(q: Floats, outward: Flags, surfaces: Surfaces, margin: float, height: float) -> End | None:
    """The plane through the rubber of a flat face at about this height; None where it is no end of the part."""
    end = End(height=height, error=0.0, slope_x=0.0, slope_y=0.0, points=0)
    for _ in range(2):
        level = end.height + end.slope_x * q[:, 0] + end.slope_y * q[:, 1]
        mine = (np.abs(q[:, 2] - level) < NEAR_PLANE) & (np.hypot(q[:, 0], q[:, 1]) < surfaces.radius)
        rows = np.flatnonzero(mine & outward)
        if len(rows) < LEAST_ON_SURFACE:
            return None
        deep = depth_in_rubber(surfaces, q[rows], end.height)
        if (deep > -margin).mean() < LEAST_RUBBER:
            return None
        rows = rows[deep > margin]
        if len(rows) < LEAST_ON_SURFACE:
            return None
        end = _plane(q[rows])
    return end


def _plane(points: Floats) -> End:
    """z = height + slope_x x + slope_y y by least squares, points far off left out step by step."""
    matrix = np.column_stack([np.ones(len(points)), points[:, 0], points[:, 1]])
    kept = np.ones(len(points), dtype=bool)
    spread = 0.0
    for _ in range(4):
        solution = np.linalg.lstsq(matrix[kept], points[kept, 2], rcond=None)[0]
        off = points[:, 2] - matrix @ solution
        spread = 1.4826 * float(np.median(np.abs(off[kept])))
        kept = np.abs(off) < max(3.5 * spread, 0.01)
    covariance = np.linalg.inv(matrix[kept].T @ matrix[kept]) * spread**2
    height, slope_x, slope_y = (float(v) for v in solution)
    return End(
        height=height,
        error=float(np.sqrt(covariance[0, 0])),
        slope_x=slope_x,
        slope_y=slope_y,
        points=int(kept.sum()),
    )
