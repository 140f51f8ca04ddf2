"""Two twisted sections turning about parallel axes: how far apart they are in one plane.

Everything here is about one plane at a time; ``study.clearance`` looks along the length.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, hypot, pi, sin, tau

import numpy as np

from rollergen.shape.distance import (
    EdgeTable,
    angle_towards,
    boundary_points,
    edge_table,
    kept,
    signed_distance,
)
from rollergen.shape.edge_pairs import facing_edges, least_between
from rollergen.shape.outline import Arc, Floats, Outline


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RibbedRoller:
    """What a clearance needs of one segment: outline, ribs, twist and length (mm, rad).

    ``count`` 0 is a plain sleeve; otherwise the outline must repeat ``count`` times per turn.
    """

    outline: Outline
    count: int
    turn_per_mm: float
    length: float
    body_radius: float
    tip_radius: float

    @property
    def period(self) -> float:
        """Turn from one rib to the next (rad)."""
        return tau / self.count if self.count else tau


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RollerPair:
    """Two segments side by side. Made by ``pair_of``, which keeps only the edges that can face the other.

    ``seen`` is the direction of the mate's axis from ours (rad, from +x); ``mate_from`` the z of ours at
    which the mate's own z = 0 sits.
    """

    ours: RibbedRoller
    mate: RibbedRoller
    axis_distance: float
    seen: float
    mate_from: float
    our_edges: EdgeTable
    mate_edges: EdgeTable

    @property
    def centre(self) -> Floats:
        return self.axis_distance * np.array([cos(self.seen), sin(self.seen)])

    @property
    def common(self) -> tuple[float, float]:
        """First and last z that both segments cover (mm)."""
        return max(0.0, self.mate_from), min(self.ours.length, self.mate_from + self.mate.length)

    @property
    def tip_to_tip(self) -> float:
        """Gap with a rib tip of each on the line of centres: no phase can be worse (mm)."""
        return self.axis_distance - self.ours.tip_radius - self.mate.tip_radius

    @property
    def body_gap(self) -> float:
        return self.axis_distance - self.ours.body_radius - self.mate.body_radius


def pair_of(
    ours: RibbedRoller,
    mate: RibbedRoller,
    *,
    axis_distance: float,
    height: float = 0.0,
    z_offset: float = 0.0,
) -> RollerPair:
    """Put two segments beside each other (mm). ValueError when bodies meet or lengths do not overlap.

    ``axis_distance`` is the straight distance between the axes; ``height`` (mate above ours) tilts the
    line of centres.
    """
    bodies = ours.body_radius + mate.body_radius
    if not axis_distance > bodies:
        raise ValueError(
            f"axis distance {axis_distance:g} mm leaves no room: the two bodies need more than {bodies:g} mm"
        )
    if abs(height) > axis_distance:
        raise ValueError(
            f"the mate's axis is {abs(height):g} mm above or below ours, more than the axis distance"
            f" {axis_distance:g} mm; axis_distance is the straight distance between the axes"
        )
    if not (z_offset < ours.length and z_offset + mate.length > 0.0):
        raise ValueError(
            f"z_offset {z_offset:g} mm puts the mate ({mate.length:g} mm long) past our segment"
            f" (0 to {ours.length:g} mm): no common length to judge"
        )
    seen = angle_towards(axis_distance, height)
    centre = axis_distance * np.array([cos(seen), sin(seen)])
    free = axis_distance - bodies  # no section distance is larger, so only edges this near can matter
    our_table, mate_table = edge_table(ours.outline), edge_table(mate.outline)
    our_rows = facing_edges(our_table, centre=centre, within=mate.tip_radius + free, period=ours.period)
    mate_rows = facing_edges(mate_table, centre=-centre, within=ours.tip_radius + free, period=mate.period)
    return RollerPair(
        ours=ours,
        mate=mate,
        axis_distance=axis_distance,
        seen=seen,
        mate_from=z_offset,
        our_edges=kept(our_table, our_rows),
        mate_edges=kept(mate_table, mate_rows),
    )


def section_distance(pair: RollerPair, our_turn: Floats, mate_turn: Floats) -> Floats:
    """Distance of the two sections turned by these angles (n,), mm; 0 where they cross. Exact."""
    return least_between(
        pair.our_edges,
        np.mod(our_turn, pair.ours.period),
        pair.mate_edges,
        np.mod(mate_turn, pair.mate.period),
        pair.centre,
    )


def section_depth(pair: RollerPair, our_turn: Floats, mate_turn: Floats, spacing: float) -> Floats:
    """Deepest that an edge point of one section lies inside the other, NEGATIVE (n,), mm; 0 if none does.

    Taken over points every ``spacing`` mm of both edges, each measured straight to the nearest edge of
    the other; low by at most spacing^2 / (8 tip radius) on a round tip.
    """
    ours = boundary_points(pair.ours.outline, spacing)
    mates = boundary_points(pair.mate.outline, spacing)
    depth = np.zeros(len(our_turn))
    for i, (a, b) in enumerate(zip(our_turn, mate_turn, strict=True)):
        into_mate = _turned(_turned(ours, a) - pair.centre, -b)
        into_ours = _turned(_turned(mates, b) + pair.centre, -a)
        depth[i] = min(0.0, _lowest(pair.mate, into_mate), _lowest(pair.ours, into_ours))
    return depth


def tip_span(roller: RibbedRoller) -> tuple[float, float]:
    """Middle and half width of one rib tip as seen from the axis (rad); the half width is 0 for a point.

    A tip is an arc about the axis at the tip radius; a sleeve is tip all round.
    """
    arcs = [
        e
        for e in roller.outline.edges
        if isinstance(e, Arc) and hypot(*e.centre) < 1e-9 and abs(e.radius - roller.tip_radius) < 1e-9
    ]
    if roller.count == 0:
        return 0.0, pi
    if arcs:
        widest = max(arcs, key=lambda e: abs(e.sweep))
        return widest.angle + widest.sweep / 2, abs(widest.sweep) / 2
    highest = max((e.start for e in roller.outline.edges), key=lambda p: hypot(*p))
    return atan2(highest[1], highest[0]), 0.0


def _lowest(roller: RibbedRoller, points: Floats) -> float:
    radius = np.hypot(points[:, 0], points[:, 1])
    near = points[radius < roller.tip_radius]
    return float(signed_distance(roller.outline, near).min()) if len(near) else 0.0


def _turned(points: Floats, angle: float) -> Floats:
    c, s = cos(angle), sin(angle)
    return np.stack([c * points[:, 0] - s * points[:, 1], s * points[:, 0] + c * points[:, 1]], axis=1)
