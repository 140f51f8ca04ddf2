"""What makes a joint go together in one turn only: one corner of the step cut flat, or the bore's own key.

A step of n equal sides fits its recess in n turns, and one of them lets the ribs run on.  With a corner cut flat, in
step and recess alike, another corner meets that flat in every other turn.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, hypot, pi, sin, tan, tau

import numpy as np

from rollergen.shape.bore import rounded_chain
from rollergen.shape.distance import signed_distance
from rollergen.shape.outline import Arc, Line, Outline, Point, is_circle, normal_at

DEEP = 1.5  # mm, a flat that is seen at a glance
SURE = 0.2  # mm beyond what the clearances give; a printer lays lines to about 0.1 mm (common practice, no source)
SAME = 1e-9  # mm
OF_SIDE = 0.45  # a flat takes less than half of a side, so that every side still stops the turning


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """The corner that is cut: sides before and after it, its rounding (mm, 0 for none), and how far it turns (rad)."""

    before: Line
    after: Line
    radius: float
    turn: float

    @property
    def tip(self) -> Point:
        """Where the sides would meet."""
        (ux, uy), cut = _unit(self.before), self.radius * tan(self.turn / 2)
        return (self.before.end[0] + cut * ux, self.before.end[1] + cut * uy)

    @property
    def blunt(self) -> float:
        """From there back to the outline, along the middle (mm)."""
        return self.radius * (1 / cos(self.turn / 2) - 1)

    @property
    def deepest(self) -> float:
        """The deepest flat the sides can carry (mm)."""
        side = min(hypot(e.end[0] - e.start[0], e.end[1] - e.start[1]) for e in (self.before, self.after))
        return OF_SIDE * side * sin(self.turn / 2)


def sides_of(outline: Outline) -> int:
    """Equal sides of a square, a hexagon or a polygon; 0 where the outline has a key, and goes together once."""
    if any(edge.feature == "key" for edge in outline.edges):
        return 0
    return sum(isinstance(edge, Line) for edge in outline.edges)


def needed_depth(sides: int, around: float) -> float:
    """How deep the flat must be at least (mm) for a step of ``sides`` with ``around`` of clearance.

    Turned by a side or more, a whole corner faces the flat: it reaches the depth beyond it, and has the clearance
    before it.  Moved aside it gains no more than ``around`` / cos(pi/n), until the sides across touch.
    """
    return (1 + 1 / cos(pi / sides)) * around + SURE


def rubber_at_corner(step: Outline, bore: Outline) -> float:
    """Rubber between the bore and the corner that is to be cut (mm); a flat takes its depth of it."""
    corner = _corner(step)
    (ux, uy), (vx, vy) = _unit(corner.before), _unit(corner.after)
    away = hypot(ux - vx, uy - vy)
    x, y = corner.tip
    blunt = (x - corner.blunt * (ux - vx) / away, y - corner.blunt * (uy - vy) / away)
    return float(signed_distance(bore, np.array([blunt]))[0])


def depth_of(step: Outline, bore: Outline, *, around: float, least: float) -> float:
    """How deep to cut the corner (mm): ``DEEP`` or half the rubber there; 0 where too little would stay or be cut."""
    rubber = rubber_at_corner(step, bore)
    needed = needed_depth(sides_of(step), around)
    most = min(rubber - least, _corner(step).deepest)
    return 0.0 if most < needed - SAME else min(most, max(needed, min(DEEP, rubber / 2)))


def corner_cut(outline: Outline, depth: float) -> Outline:
    """The outline with one corner cut flat ``depth`` mm deep, both new corners rounded as the old one was.

    ``depth``: from the outline's own corner inwards, up to ``deepest``.
    """
    corner = _corner(outline)
    back = (corner.blunt + depth) / sin(corner.turn / 2)
    (x, y), (ux, uy), (vx, vy) = corner.tip, _unit(corner.before), _unit(corner.after)
    chain = rounded_chain(
        [corner.before.start, (x - back * ux, y - back * uy), (x + back * vx, y + back * vy), corner.after.end],
        corner.radius,
        corner.before.feature,
    )  # fmt: skip
    at = outline.edges.index(corner.before)
    rest = (*outline.edges[at:], *outline.edges[:at])[3 if corner.radius else 2 :]
    return Outline((*chain, *rest))


def flat_middle(cut: Outline) -> Point:
    """Middle of the flat of an outline as ``corner_cut`` makes it (mm)."""
    lines = [edge for edge in cut.edges if isinstance(edge, Line)]
    return lines[1].at(0.5)  # the chain of the corner comes first: side, flat, side


def key_depth(bore: Outline) -> tuple[float, float]:
    """How far a bore's key stands out of its round part, and the share of that it is moved aside by (mm, 1).

    The round part moved towards the key's slot gains 1 / cos of half the slot's opening.
    """
    (around,) = (edge for edge in bore.edges if isinstance(edge, Arc) and hypot(*edge.centre) < 1e-9)
    normals = [
        (edge, normal_at(edge, 0.5))
        for edge in bore.edges
        if isinstance(edge, Line) and edge.feature == "key"
    ]
    floor = max(edge.start[0] * n[0] + edge.start[1] * n[1] for edge, n in normals)
    return floor - around.radius, 1 / cos((tau - abs(around.sweep)) / 2)


def _corner(outline: Outline) -> Corner:
    """The first corner of a convex outline that is no circle and has no key."""
    assert not is_circle(outline) and sides_of(outline) > 2
    at = next(n for n, edge in enumerate(outline.edges) if isinstance(edge, Line))
    before, between, last = (outline.edges[(at + n) % len(outline.edges)] for n in range(3))
    assert isinstance(before, Line)
    if isinstance(between, Line):
        (ux, uy), (vx, vy) = _unit(before), _unit(between)
        return Corner(
            before=before, after=between, radius=0.0, turn=atan2(ux * vy - uy * vx, ux * vx + uy * vy)
        )
    assert isinstance(last, Line)
    return Corner(before=before, after=last, radius=between.radius, turn=between.sweep)


def _unit(line: Line) -> Point:
    dx, dy = line.end[0] - line.start[0], line.end[1] - line.start[1]
    return (dx / hypot(dx, dy), dy / hypot(dx, dy))
