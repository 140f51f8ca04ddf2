"""How much filament a print takes: shells along every edge, infill between, in closed form where one exists."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from math import atan2, inf, pi, tau

import numpy as np

from rollergen.shape.chambers import webs_of
from rollergen.shape.distance import boundary_points, signed_distance
from rollergen.shape.offset import inward, is_smooth
from rollergen.shape.outline import Arc, Edge, Line, Outline, Point, normal_at
from rollergen.shape.properties import area_of, centroid_of, greatest_radius, least_distance
from rollergen.shape.section import Section

ACROSS = 400  # samples across the segment where no closed form exists; the area is then good to about 0.1 %
COARSE = 0.5  # mm, of points that only say how far a hole reaches


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch of a print whose section stays the same but for its twist (mm).

    ``flats``: how far beyond this stretch each end that solid layers close lies, above or below; 0 for its own end.
    """

    height: float
    section: Section
    flats: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """What is printed solid (mm3): ``shells`` along edges, ``flats`` inside them; whether it is a closed form."""

    shells: float
    flats: float
    exact: bool


def net_area(section: Section, moved: float = 0.0) -> float:
    """Area of the section with every edge moved ``moved`` mm into the rubber (mm2).

    ValueError where an edge vanishes; overlaps of the moved edges are not looked for.
    """
    return area_of(inward(section.outer, moved)) - sum(area_of(inward(h, -moved)) for h in section.holes)


def filled_of(spans: Sequence[Span], depth: float, flat: float) -> Filled:
    """What is printed solid: shells ``depth`` mm deep along every edge, ``flat`` mm of solid layers at flat ends."""
    shells = flats = 0.0
    closed = True
    for span in spans:
        area, exact = band_area(span.section, depth)
        shells += span.height * area
        reached = sum(max(flat - away, 0.0) for away in span.flats)
        flats += min(reached, span.height) * (net_area(span.section) - area)
        closed = closed and exact
    return Filled(shells=shells, flats=flats, exact=closed)


def used_of(solid: float, filled: Filled, infill: float) -> float:
    """Volume of filament for a print of ``solid`` mm3: what is solid, and the rest at the infill's share (mm3)."""
    dense = min(filled.shells + filled.flats, solid)
    return dense + infill * (solid - dense)


@lru_cache(maxsize=16)
def band_area(section: Section, depth: float) -> tuple[float, bool]:
    """Area (mm2) within ``depth`` mm of any edge, and whether it is a closed form (Steiner).

    Round a corner that points into the rubber the depth is reached on an arc about it, not on a mitre.  Where edges
    come closer than twice the depth, or an edge vanishes when moved, the area is counted on a grid.
    """
    whole = net_area(section)
    loops = (section.outer, *section.holes)
    apart = all(least_distance(a, b) > 2 * depth for a, b in combinations(loops, 2))
    if apart and min(webs_of(section.chambers), default=inf) > 2 * depth:
        try:
            return (whole - _rounded_core(section, depth), True)
        except ValueError:
            pass  # an edge vanishes: no closed form, count instead
    return (whole - counted_area(section, depth), False)


def _rounded_core(section: Section, depth: float) -> float:
    """Area (mm2) deeper than ``depth`` mm in the rubber, no edge vanishing; ValueError where one does."""
    mitred = net_area(section, depth)
    return mitred + sum(
        _beyond_arcs(loop, by)
        for loop, by in ((section.outer, depth), *((hole, -depth) for hole in section.holes))
    )


def _beyond_arcs(outline: Outline, d: float) -> float:
    """Area (mm2) between the mitres of an outline moved inward by ``d`` and the arcs about its corners.

    (tan(a/2) - a/2) d^2 where two lines turn by a; moved arcs are taken as they are.
    """
    moved = inward(outline, d).edges
    return sum(
        _beyond_arc(before, after, moved[n - 1], moved[n], d)
        for n, (before, after) in enumerate(
            zip((outline.edges[-1], *outline.edges), outline.edges, strict=False)
        )
        if len(moved) > 1 and not is_smooth(before, after)
    )


def _beyond_arc(before: Edge, after: Edge, moved_before: Edge, moved_after: Edge, d: float) -> float:
    n, m = normal_at(before, 1.0), normal_at(after, 0.0)
    cross, dot = n[0] * m[1] - n[1] * m[0], n[0] * m[0] + n[1] * m[1]
    if d * cross > 0:
        return 0.0  # the rubber is on the inner side of the corner: the moved edges do meet
    corner, mitre = after.start, moved_after.start
    reached = (corner[0] - d * n[0], corner[1] - d * n[1])
    left = (corner[0] - d * m[0], corner[1] - d * m[1])
    kite = Outline(
        (
            Line(corner, reached),
            _stretch(moved_before, reached, mitre),
            _stretch(moved_after, mitre, left),
            Line(left, corner),
        )
    )
    return abs(area_of(kite)) - d * d * atan2(abs(cross), dot) / 2


def _stretch(edge: Edge, start: Point, end: Point) -> Edge:
    """A part of an edge, or of the line or circle it lies on."""
    if isinstance(edge, Line):
        return Line(start, end)
    (x, y), (u, v) = edge.centre, start
    angle = atan2(v - y, u - x)
    sweep = atan2(end[1] - y, end[0] - x) - angle
    return Arc(edge.centre, edge.radius, angle, (sweep + pi) % tau - pi)


def counted_area(section: Section, depth: float) -> float:
    """Area (mm2) deeper than ``depth`` mm in the rubber, counted on a grid with soft edges."""
    reach = greatest_radius(section.outer)
    step = 2 * reach / ACROSS
    places = (np.arange(ACROSS) + 0.5) * step - reach
    points = np.stack(np.meshgrid(places, places), axis=-1).reshape(-1, 2)
    away = np.hypot(points[:, 0], points[:, 1])
    points = points[away < reach]
    buried = np.full(len(points), reach)
    surface = -float(signed_distance(section.outer, np.zeros((1, 2)))[0])  # the outer edge's least radius
    for sign, loop, middle, near in (
        (-1.0, section.outer, (0.0, 0.0), surface - depth - step),
        *((1.0, hole, *_disc(hole)) for hole in section.holes),
    ):
        off = np.hypot(points[:, 0] - middle[0], points[:, 1] - middle[1])
        close = (
            off > near if sign < 0 else off < near + depth + step
        )  # elsewhere the loop is too far to count
        buried[close] = np.minimum(buried[close], sign * signed_distance(loop, points[close]))
    return float(np.clip((buried - depth) / step + 0.5, 0.0, 1.0).sum()) * step**2


def _disc(hole: Outline) -> tuple[Point, float]:
    """A circle that holds a hole (mm): centre and radius."""
    x, y = centroid_of(hole)
    points = boundary_points(hole, COARSE)
    return ((x, y), float(np.hypot(points[:, 0] - x, points[:, 1] - y).max()) + COARSE)
