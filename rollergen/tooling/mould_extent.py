"""The box a body of the mould fills: its sides along x, y and z of the assembly, exact on arcs and lines."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from math import cos, inf, pi, tau

import numpy as np

from rollergen.shape.chambers import least_radius
from rollergen.shape.offset import inward
from rollergen.shape.outline import turned_edges
from rollergen.shape.part import Part, Side
from rollergen.shape.reach import reach_towards, swept_reach
from rollergen.tooling.mould_body import Body
from rollergen.tooling.pieces import chain_between

WAYS = (0.0, pi / 2, pi, 3 * pi / 2)  # +x, +y, -x, -y
STEPS, ZOOMS = 33, 6  # heights a reach without closed form is looked at, and how often closer about the best
NEAR = 1e-9  # mm or rad


def size_of(body: Body) -> tuple[float, float, float]:
    """Length of the body's box along x, y and z (mm), as it lies in the closed mould.

    Exact, but for a twisted chamfer and for more than two parts between axial planes, whose heights are searched (1e-6).
    """
    heights = [z for side in body.part.sides for z, _ in side.levels]
    if body.sector is None:
        reach = [_reach_of_part(body.part, way) for way in WAYS]
    else:
        reach = [_reach_of_sector(body.part, *body.sector, way) for way in WAYS]
    return (reach[0] + reach[2], reach[1] + reach[3], max(heights) - min(heights))


def _reach_of_part(part: Part, way: float) -> float:
    """Of every wall, holes only take away."""
    return max(
        _reach_of_row(side, lower, upper, way)
        for side in part.sides
        if side.material_inside
        for lower, upper in pairwise(side.levels)
    )


def _reach_of_row(side: Side, lower: tuple[float, float], upper: tuple[float, float], way: float) -> float:
    """Between two levels, over which the offset is linear."""
    (low, narrow), (high, wide) = lower, upper
    turn = side.turn_per_mm
    if not turn:
        edges = inward(side.outline, min(narrow, wide)).edges  # the least offset holds the rest
        return float(reach_towards(edges, np.array([way]))[0])
    if narrow == wide:
        return swept_reach(inward(side.outline, narrow).edges, way - turn * high, way - turn * low)

    def at(z: float) -> float:
        edges = inward(side.outline, narrow + (wide - narrow) * (z - low) / (high - low)).edges
        return float(reach_towards(edges, np.array([way - turn * z]))[0])

    return _greatest(at, low, high)


def _greatest(at: Callable[[float], float], low: float, high: float, *, bound: float = inf) -> float:
    """The greatest value between two heights, its neighbourhood looked at ever closer; ``bound``: none is greater."""
    best = -inf
    for _ in range(ZOOMS):
        heights = [low + (high - low) * step / (STEPS - 1) for step in range(STEPS)]
        values = []
        for z in heights:
            values.append(at(z))
            if values[-1] >= bound - NEAR:
                return bound
        top = values.index(max(values))
        best = max(best, values[top])
        low, high = heights[max(top - 1, 0)], heights[min(top + 1, STEPS - 1)]
    return best


def _reach_of_sector(part: Part, start: float, sweep: float, way: float) -> float:
    """Of the ring between two half-planes: its outside where that looks the way, else what is nearest the axis."""
    outside, hollow = part.sides[0], part.sides[1]
    off = (way - start - sweep / 2 + pi) % tau - pi
    beside = max(abs(off) - sweep / 2, 0.0)  # angle from the direction to the nearer plane
    if beside <= pi / 2:
        return _reach_of_part(part, way) * cos(beside)
    nearest = least_radius(hollow.outline) * cos(beside)  # no point of the hollow reaches further

    def at(z: float) -> float:
        turn = hollow.turn_per_mm * z
        chain = chain_between(hollow.outline, start - turn, start + sweep - turn)
        return float(reach_towards(turned_edges(chain, turn), np.array([way]))[0])

    low, high = outside.levels[0][0], outside.levels[-1][0]
    return _greatest(at, low, high, bound=nearest) if hollow.turn_per_mm else at(low)
