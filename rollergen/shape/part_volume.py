"""Volume, surface and centroid of a Part from its description alone: numpy, no kernel, no mesh.

Sections are exact arcs and lines; what varies along z (twist, draft, chamfer) is integrated by Gauss -
Legendre rules far past the point where another node changes the last digits.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from math import ceil, pi

import numpy as np

from rollergen.shape.offset import inward
from rollergen.shape.outline import Arc, Floats, Outline
from rollergen.shape.part import Cap, Part, Side
from rollergen.shape.properties import area_of, centroid_of

ROUND = 12  # nodes round an arc of 0.4 rad or along a line, and along a quarter turn: rounding is reached
ALONG = 6  # nodes along a row whose offset grows: area is of degree 2 (smooth where corners are mitred)
PARTS_KEPT = (
    64  # figures are asked for by the report, the checks and the writers of every part of a mould in turn
)
Vector = tuple[float, float, float]


@lru_cache(maxsize=PARTS_KEPT)
def volume_of(part: Part) -> float:
    """Volume (mm^3): area of every side's outline over its length, holes subtracted.

    Exact for constant offsets and for outlines without sharp corners (area is quadratic in the
    offset); mitred corners converge to rounding.  Source: Cavalieri; Steiner's formula for offsets.
    """
    return sum(_sign(side) * _side_volume(side) for side in part.sides)


@lru_cache(maxsize=PARTS_KEPT)
def centroid_of_part(part: Part) -> Vector:
    """Centre of volume (mm)."""
    moment = np.zeros(3)
    for side in part.sides:
        for z, weight, area, (x, y) in _slices(side):
            moment += _sign(side) * weight * area * np.array([x, y, z])
    x, y, z = (moment / volume_of(part)).tolist()
    return (x, y, z)


@lru_cache(maxsize=PARTS_KEPT)
def surface_of(part: Part) -> float:
    """Area of the whole surface, sides and caps (mm^2).

    An element of a side is ds dz sqrt(1 + (k (p x n) - d')^2) with k the twist per mm, p x n the lever of
    the outward normal n about the axis, d' the slope of the offset.  Integrated to about 1e-12.
    """
    return sum(_side_surface(side) for side in part.sides) + sum(_cap_area(part, cap) for cap in part.caps)


def area_of_side(side: Side, low: float, high: float) -> float:
    """Area of one side between two heights (mm^2), caps not counted: what a core wets."""

    def offset_at(z: float) -> float:
        heights, offsets = zip(*side.levels, strict=True)
        return float(np.interp(z, heights, offsets))

    inner = [level for level in side.levels if low + 1e-9 < level[0] < high - 1e-9]
    levels = ((low, offset_at(low)), *inner, (high, offset_at(high)))
    return _side_surface(replace(side, levels=levels))


def _sign(side: Side) -> int:
    return 1 if side.material_inside else -1


@lru_cache
def _rule(nodes: int) -> tuple[Floats, Floats]:
    node, weight = np.polynomial.legendre.leggauss(nodes)
    return node, weight


def _gauss(low: float, high: float, panels: int, nodes: int = ROUND) -> tuple[Floats, Floats]:
    """Nodes and weights on low..high in equal panels."""
    node, weight = _rule(nodes)
    width = (high - low) / panels
    starts = low + width * np.arange(panels)
    return (starts[:, None] + width * (node + 1) / 2).ravel(), np.tile(weight * width / 2, panels)


def _side_volume(side: Side) -> float:
    total = 0.0
    for (z0, d0), (z1, d1) in zip(side.levels, side.levels[1:], strict=False):
        if d0 == d1:
            total += (z1 - z0) * area_of(_moved(side.outline, d0))
            continue
        for z, weight in zip(*_gauss(z0, z1, 1, ALONG), strict=True):
            total += weight * area_of(_moved(side.outline, d0 + (d1 - d0) * (z - z0) / (z1 - z0)))
    return float(total)


def _moved(outline: Outline, offset: float) -> Outline:
    return inward(outline, float(offset)) if offset else outline


def _slices(side: Side) -> Iterator[tuple[float, float, float, tuple[float, float]]]:
    """(z, weight in mm, area, turned centroid) of sections that stand for the whole side."""
    for (z0, d0), (z1, d1) in zip(side.levels, side.levels[1:], strict=False):
        panels = max(1, ceil(abs(side.turn_per_mm) * (z1 - z0) / (pi / 2)))
        steady = _section(side.outline, d0) if d0 == d1 else None
        for z, weight in zip(*_gauss(z0, z1, panels, ROUND if steady else ALONG), strict=True):
            offset = d0 + (d1 - d0) * (z - z0) / (z1 - z0)
            area, centre = steady or _section(side.outline, offset)
            place = centre * np.exp(1j * side.turn_per_mm * z)
            yield float(z), float(weight), area, (place.real, place.imag)


def _section(outline: Outline, offset: float) -> tuple[float, complex]:
    moved = _moved(outline, offset)
    return area_of(moved), complex(*centroid_of(moved))


def _side_surface(side: Side) -> float:
    total = 0.0
    for (z0, d0), (z1, d1) in zip(side.levels, side.levels[1:], strict=False):
        slope = (d1 - d0) / (z1 - z0)
        if d0 == d1:
            total += (z1 - z0) * _stretched_length(side.outline, d0, side.turn_per_mm, slope)
            continue
        for z, weight in zip(*_gauss(z0, z1, 1, ALONG), strict=True):
            total += weight * _stretched_length(side.outline, d0 + slope * (z - z0), side.turn_per_mm, slope)
    return total


def _stretched_length(outline: Outline, offset: float, turn: float, slope: float) -> float:
    """Integral of sqrt(1 + (k p x n - d')^2) round the outline moved in by ``offset``."""
    total = 0.0
    for edge in _moved(outline, offset).edges:
        if isinstance(edge, Arc):
            angle, weight = _gauss(edge.angle, edge.angle + edge.sweep, max(1, ceil(abs(edge.sweep) / 0.4)))
            normal = np.exp(1j * angle) * (1 if edge.sweep > 0 else -1)
            # the radius drops out of p x n: an arc's own normal passes through its centre
            lever = (np.conj(complex(*edge.centre)) * normal).imag
            ds = np.abs(weight) * edge.radius
        else:
            start, step = complex(*edge.start), complex(*edge.end) - complex(*edge.start)
            share, weight = _gauss(0.0, 1.0, 8)
            lever = (np.conj(start + share * step) * (-1j * step / abs(step))).imag
            ds = weight * abs(step)
        total += float(np.sum(ds * np.sqrt(1 + (turn * lever - slope) ** 2)))
    return total


def _cap_area(part: Part, cap: Cap) -> float:
    def area(end: tuple[int, str]) -> float:
        side = part.sides[end[0]]
        return _section(side.outline, side.levels[0 if end[1] == "low" else -1][1])[0]

    return area(cap.outer) - sum(area(hole) for hole in cap.holes)
