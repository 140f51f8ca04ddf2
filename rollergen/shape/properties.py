"""What an outline measures: closed forms for area, centroid and second moments, exact distances.

Every arc is split into its chord (part of a polygon) and the circular segment between chord and arc;
both have textbook closed forms, and the signed sweep gives concave segments their minus sign.
Source: any table of plane areas (circular sector minus triangle), e.g. EN/ISO mechanics handbooks;
checked in tests against an independent polygon library.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, cos, hypot, sin, tau

import numpy as np

from rollergen.shape.distance import signed_distance
from rollergen.shape.outline import Arc, Edge, Floats, Line, Outline, Point, normal_at


@dataclass(frozen=True, slots=True, kw_only=True)
class Moments:
    """Integrals over the inside of an outline about the axis: 1, x, y (mm2, mm3), x2, y2, xy (mm4)."""

    area: float
    x: float
    y: float
    xx: float
    yy: float
    xy: float

    def __sub__(self, other: Moments) -> Moments:
        return Moments(
            area=self.area - other.area,
            x=self.x - other.x,
            y=self.y - other.y,
            xx=self.xx - other.xx,
            yy=self.yy - other.yy,
            xy=self.xy - other.xy,
        )


def area_of(outline: Outline) -> float:
    """Enclosed area (mm2), closed form."""
    return moments_of(outline).area


def perimeter_of(outline: Outline) -> float:
    """Length of the curve (mm), closed form."""
    return sum(
        hypot(e.end[0] - e.start[0], e.end[1] - e.start[1])
        if isinstance(e, Line)
        else e.radius * abs(e.sweep)
        for e in outline.edges
    )


def centroid_of(outline: Outline) -> Point:
    """Centroid of the enclosed area (mm)."""
    m = moments_of(outline)
    return (m.x / m.area, m.y / m.area)


def second_moments_of(outline: Outline) -> tuple[float, float, float]:
    """(integral y2, integral x2, integral xy) about the axis, mm4: Ixx, Iyy, Ixy of beam books."""
    m = moments_of(outline)
    return (m.yy, m.xx, m.xy)


def moments_of(outline: Outline) -> Moments:
    """Area, first and second moments about the axis, closed form."""
    total = np.zeros(6)
    for edge in outline.edges:
        total += _triangle_moments(edge.start, edge.end)
        if isinstance(edge, Arc):
            total += _segment_moments(edge)
    area, x, y, xx, yy, xy = (float(value) for value in total)
    return Moments(area=area, x=x, y=y, xx=xx, yy=yy, xy=xy)


def _triangle_moments(a: Point, b: Point) -> Floats:
    """Signed moments of the triangle axis-a-b."""
    (ax, ay), (bx, by) = a, b
    area = (ax * by - bx * ay) / 2
    return area * np.array(
        [
            1.0,
            (ax + bx) / 3,
            (ay + by) / 3,
            (ax * ax + ax * bx + bx * bx) / 6,
            (ay * ay + ay * by + by * by) / 6,
            (2 * ax * ay + ax * by + bx * ay + 2 * bx * by) / 12,
        ]
    )


def _segment_moments(arc: Arc) -> Floats:
    """Signed moments of the area between an arc and its chord (sector minus triangle about the centre)."""
    r, half = arc.radius, arc.sweep / 2
    s, c = sin(half), cos(half)
    area = r**2 * (half - s * c)
    first = 2 / 3 * r**3 * s**3  # along the bisector, about the centre
    uu = r**4 / 4 * (half + s * c) - r**4 * s * c**3 / 2
    vv = r**4 / 4 * (half - s * c) - r**4 * s**3 * c / 6
    bisector = arc.angle + half
    cb, sb = cos(bisector), sin(bisector)
    cx, cy = arc.centre
    fx, fy = first * cb, first * sb
    return np.array(
        [
            area,
            cx * area + fx,
            cy * area + fy,
            cx * cx * area + 2 * cx * fx + uu * cb * cb + vv * sb * sb,
            cy * cy * area + 2 * cy * fy + uu * sb * sb + vv * cb * cb,
            cx * cy * area + cx * fy + cy * fx + (uu - vv) * cb * sb,
        ]
    )


def least_distance(a: Outline, b: Outline) -> float:
    """Least distance between two disjoint outlines (mm), exact; unsigned.

    The least distance of two chains of arcs and lines is taken at a corner of one of them, or where an
    arc looks along the line to the other's arc centre, or along the other's line normal: all of these
    points are tried on both curves.
    """
    return min(
        float(np.min(np.abs(signed_distance(b, facing_points(a.edges, b.edges))))),
        float(np.min(np.abs(signed_distance(a, facing_points(b.edges, a.edges))))),
    )


def reach_between(a: Outline, b: Outline) -> float:
    """Least signed distance from ``a`` to the curve ``b`` (mm); negative when ``b`` reaches into ``a``."""
    return float(np.min(signed_distance(a, facing_points(b.edges, a.edges))))


def greatest_radius(outline: Outline) -> float:
    """Greatest distance of the curve from the axis (mm), exact."""
    reach = max(hypot(*edge.start) for edge in outline.edges)
    for arc in (e for e in outline.edges if isinstance(e, Arc)):
        outwards = atan2(arc.centre[1], arc.centre[0])
        if _sweeps_over(arc, outwards):
            reach = max(reach, hypot(*arc.centre) + arc.radius)
    return reach


def _sweeps_over(arc: Arc, angle: float) -> bool:
    side = 1.0 if arc.sweep > 0 else -1.0
    return (side * (angle - arc.angle)) % tau <= abs(arc.sweep)


def facing_points(a: Sequence[Edge], b: Sequence[Edge]) -> Floats:
    """Where edges begin in ``a``, and the points of its arcs that face arc centres or lines of ``b``, (n, 2).

    The least distance of two closed chains lies at one of these points, of the one or of the other.
    """
    points = [edge.start for edge in a]
    for arc in (e for e in a if isinstance(e, Arc)):
        for other in b:
            if isinstance(other, Arc):
                towards = atan2(other.centre[1] - arc.centre[1], other.centre[0] - arc.centre[0])
            else:
                normal = normal_at(other, 0.0)
                towards = atan2(normal[1], normal[0])
            points.extend(
                (arc.centre[0] + arc.radius * cos(t), arc.centre[1] + arc.radius * sin(t))
                for t in (towards, towards + tau / 2)
                if _sweeps_over(arc, t)
            )
    return np.array(points)
