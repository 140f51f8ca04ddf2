"""How far a curve reaches along a direction, exact on arcs and lines.

It is told by the curve's corners, and by arcs that look that way.  A section carried up a helix is looked at from every
direction its twist sweeps: its reach is greatest where one of those ends, or where a corner or an arc's middle lies
straight ahead.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, tau

import numpy as np

from rollergen.shape.outline import Arc, Edge, Floats

NEAR = 1e-9  # rad


def reach_towards(edges: Sequence[Edge], ways: Floats) -> Floats:
    """How far a chain reaches along directions (rad from +x), shape (n,): greatest p . (cos, sin) of its points (mm)."""
    ends = np.array([p for edge in edges for p in (edge.start, edge.end)])
    found: Floats = (ends @ np.array([np.cos(ways), np.sin(ways)])).max(axis=0)
    for arc in (edge for edge in edges if isinstance(edge, Arc)):
        looks = (np.sign(arc.sweep) * (ways - arc.angle)) % tau <= abs(arc.sweep) + NEAR
        far = arc.centre[0] * np.cos(ways) + arc.centre[1] * np.sin(ways) + arc.radius
        found = np.where(looks, np.maximum(found, far), found)
    return found


def swept_reach(edges: Sequence[Edge], one: float, other: float) -> float:
    """Greatest reach (mm) over every direction between two (rad, in either order)."""
    start, stop = min(one, other), max(one, other)
    ahead = [atan2(p[1], p[0]) for edge in edges for p in _straight_ahead(edge)]
    ways = [start + (angle - start) % tau for angle in ahead]
    return float(reach_towards(edges, np.array([start, stop, *(way for way in ways if way < stop)])).max())


def _straight_ahead(edge: Edge) -> tuple[tuple[float, float], ...]:
    return (edge.start, edge.centre) if isinstance(edge, Arc) else (edge.start,)
