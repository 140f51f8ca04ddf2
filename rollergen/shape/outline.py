"""One closed curve of exact arcs and lines in the plane: the only description of a section's edge.

Direction: the inside of the curve lies to the LEFT of travel, so ``area_of`` is positive for every
outline, holes included (a hole is an outline of its own that bounds air).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, hypot, sin

import numpy as np
from numpy.typing import NDArray

Point = tuple[float, float]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Line:
    """Straight edge from ``start`` to ``end`` (mm). ``feature`` names what it bounds ("flank", "bore" ...)."""

    start: Point
    end: Point
    feature: str = ""

    def at(self, share: float) -> Point:
        (x, y), (to_x, to_y) = self.start, self.end
        return (x + share * (to_x - x), y + share * (to_y - y))


@dataclass(frozen=True, slots=True)
class Arc:
    """Circular edge: ``centre``, ``radius`` (mm), start angle ``angle`` and signed ``sweep`` (rad).

    ``sweep`` > 0 turns counter-clockwise: convex, the inside is towards the centre.  < 0: concave.
    """

    centre: Point
    radius: float
    angle: float
    sweep: float
    feature: str = ""

    @property
    def start(self) -> Point:
        return self.at(0.0)

    @property
    def end(self) -> Point:
        return self.at(1.0)

    def at(self, share: float) -> Point:
        a = self.angle + share * self.sweep
        return (self.centre[0] + self.radius * cos(a), self.centre[1] + self.radius * sin(a))


Edge = Line | Arc


@dataclass(frozen=True, slots=True)
class Outline:
    """Closed chain of edges, each starting where the one before ends (checked to 1e-9 mm)."""

    edges: tuple[Edge, ...]

    def __post_init__(self) -> None:
        for before, after in zip(self.edges, (*self.edges[1:], self.edges[0]), strict=True):
            step = hypot(before.end[0] - after.start[0], before.end[1] - after.start[1])
            if not step < 1e-9:
                raise ValueError(f"outline is open by {step:.3g} mm between {before} and {after}")


def is_circle(outline: Outline) -> bool:
    """True when the outline is one full circle (a single arc)."""
    return len(outline.edges) == 1


def turned(outline: Outline, angle: float) -> Outline:
    """The same outline turned counter-clockwise by ``angle`` (rad) about the axis."""
    return Outline(turned_edges(outline.edges, angle))


def turned_edges(edges: Sequence[Edge], angle: float) -> tuple[Edge, ...]:
    """Edges turned counter-clockwise by ``angle`` (rad) about the axis."""
    c, s = cos(angle), sin(angle)

    def turn(p: Point) -> Point:
        return (c * p[0] - s * p[1], s * p[0] + c * p[1])

    return tuple(
        Line(turn(e.start), turn(e.end), e.feature)
        if isinstance(e, Line)
        else Arc(turn(e.centre), e.radius, e.angle + angle, e.sweep, e.feature)
        for e in edges
    )


def mirrored_edges(edges: Sequence[Edge]) -> tuple[Edge, ...]:
    """A chain of edges seen in the x axis, in reversed order so that the inside stays on the left."""

    def flip(p: Point) -> Point:
        return (p[0], -p[1])

    return tuple(
        Line(flip(e.end), flip(e.start), e.feature)
        if isinstance(e, Line)
        else Arc(flip(e.centre), e.radius, -(e.angle + e.sweep), e.sweep, e.feature)
        for e in reversed(edges)
    )


def polygon(corners: Sequence[Point], feature: str) -> Outline:
    """Sharp-cornered outline through ``corners``, counter-clockwise."""
    pairs = zip(corners, (*corners[1:], corners[0]), strict=True)
    return Outline(tuple(Line(a, b, feature) for a, b in pairs))


def circle(radius: float, feature: str, *, centre: Point = (0.0, 0.0), start: float = 0.0) -> Outline:
    """One full circle as one arc, from angle ``start``."""
    return Outline((Arc(centre, radius, start, 2 * np.pi, feature),))


def normal_at(edge: Edge, share: float) -> Point:
    """Outward unit normal (pointing away from the inside) at ``share`` 0..1 of an edge."""
    if isinstance(edge, Line):
        dx, dy = edge.end[0] - edge.start[0], edge.end[1] - edge.start[1]
        length = hypot(dx, dy)
        return (dy / length, -dx / length)
    a = edge.angle + share * edge.sweep
    side = 1.0 if edge.sweep > 0 else -1.0
    return (side * cos(a), side * sin(a))
