"""How much filament a print takes: shells along every edge, infill between, in closed form where one exists."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np

from rollergen.shape.distance import boundary_points, signed_distance
from rollergen.shape.offset import inward
from rollergen.shape.outline import Outline, Point
from rollergen.shape.properties import area_of, centroid_of, greatest_radius, least_distance
from rollergen.shape.section import Section

ACROSS = 400  # samples across the segment where no closed form exists; the area is then good to about 0.1 %
COARSE = 0.5  # mm, of points that only say how far a hole reaches


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch of a print whose section stays the same but for its twist (mm)."""

    height: float
    section: Section
    flats: int = 0  # ends of the print, above and below, that are closed by solid layers


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
        flats += min(span.flats * flat, span.height) * (net_area(span.section) - area)
        closed = closed and exact
    return Filled(shells=shells, flats=flats, exact=closed)


def used_of(solid: float, filled: Filled, infill: float) -> float:
    """Volume of filament for a print of ``solid`` mm3: what is solid, and the rest at the infill's share (mm3)."""
    dense = min(filled.shells + filled.flats, solid)
    return dense + infill * (solid - dense)


@lru_cache(maxsize=16)
def band_area(section: Section, depth: float) -> tuple[float, bool]:
    """Area (mm2) within ``depth`` mm of any edge, and whether it is a closed form (Steiner).

    Where edges come closer than twice the depth, or an edge vanishes when moved, the area is counted on a grid.
    """
    whole = net_area(section)
    loops = (section.outer, *section.holes)
    if all(least_distance(a, b) > 2 * depth for a, b in combinations(loops, 2)):
        try:
            return (whole - net_area(section, depth), True)
        except ValueError:
            pass  # an edge vanishes: no closed form, count instead
    return (whole - counted_area(section, depth), False)


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
