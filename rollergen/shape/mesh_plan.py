"""How finely a side is cut before any facet exists: pieces per edge, layers per row, in closed form.

Second fundamental form of a twisted wall, for a step ``s`` along the edge and a turn ``a`` of the layer:
``q = kappa s^2 + 2 s a + (p.n) a^2`` with kappa the curvature of the edge and p.n the lever of its outward
normal; a straight facet edge stays ``|q| / 8`` away from the wall.  A flank cares for the mixed term, a
fillet for both squares, and on a cylinder about the axis q is one square that vanishes along z: there
facets follow rulings and need no inner vertices at all (``strip``).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, pi

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.outline import Arc, Floats, Outline
from rollergen.shape.part import Side

Complex = NDArray[np.complex128]  # points of the plane, x + iy
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
ON_AXIS = 1e-9  # mm: an arc whose centre is this close to the axis is a cylinder about it
WIDEST = pi / 3  # rad: no piece of an arc is wider, whatever the tolerance
MOST_PIECES = 20_000  # of one edge or one row: beyond this the asked error is not meant


@dataclass(frozen=True, slots=True)
class Edges:
    """Edges of one outline as columns; ``convex`` is +1 where an arc bulges outward, -1 inward."""

    start: Complex
    end: Complex
    arc: Flags
    centre: Complex
    radius: Floats
    angle: Floats
    sweep: Floats
    convex: Floats

    def at(self, edge: Ints, share: Floats) -> Complex:
        """Points at ``share`` 0..1 of the edges numbered ``edge``."""
        round_: Complex = self.centre[edge] + self.radius[edge] * np.exp(
            1j * (self.angle[edge] + share * self.sweep[edge])
        )
        straight = self.start[edge] + share * (self.end[edge] - self.start[edge])
        return np.where(self.arc[edge] & (share > 0), round_, straight)

    @property
    def normal(self) -> Complex:
        """Outward unit normals of the lines; meaningless on arcs."""
        along = self.end - self.start
        length = np.abs(along)
        found: Complex = -1j * np.divide(along, length, out=np.ones_like(along), where=length > 0)
        return found

    @property
    def length(self) -> Floats:
        return np.where(self.arc, self.radius * np.abs(self.sweep), np.abs(self.end - self.start))


def edges_of(outline: Outline) -> Edges:
    """Columns of an outline."""
    rows = [
        (complex(*e.start), complex(*e.end), True, complex(*e.centre), e.radius, e.angle, e.sweep)
        if isinstance(e, Arc)
        else (complex(*e.start), complex(*e.end), False, 0j, 0.0, 0.0, 0.0)
        for e in outline.edges
    ]
    start, end, arc, centre, radius, angle, sweep = (np.array(c) for c in zip(*rows, strict=True))
    return Edges(start, end, arc, centre, radius, angle, sweep, np.where(sweep < 0, -1.0, 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class SidePlan:
    """``pieces`` per edge and ``layers`` per row; ``strip[row, edge]`` marks facets along rulings."""

    pieces: Ints
    layers: Ints
    strip: Flags


def turn_of(side: Side, edges: Edges) -> float:
    """Twist that changes the surface: a full circle about the axis has none (rad per mm)."""
    circle = len(edges.arc) == 1 and abs(edges.centre[0]) < ON_AXIS
    return 0.0 if circle else side.turn_per_mm


def plan_side(side: Side, edges: Edges, tolerance: Floats, stretch: Ints) -> SidePlan:
    """The cheapest cut of a side: least triangles with every edge within its ``tolerance`` (mm).

    ``tolerance`` is per edge; ``stretch`` multiplies the layers per row (rows whose mitred corners
    run on curves).  Errors: ValueError when the tolerance asks for more than MOST_PIECES.
    """
    level = np.array(side.levels)
    heights, offsets = np.diff(level[:, 0]), level[:, 1]
    turn = turn_of(side, edges)
    steady = offsets[1:] == offsets[:-1]
    about_axis = edges.arc & (np.abs(edges.centre) < ON_AXIS)
    strip = (steady[:, None] & about_axis) if turn else np.zeros((len(heights), len(edges.arc)), bool)
    round_ = np.max(edges.radius[:, None] - edges.convex[:, None] * offsets, axis=1)
    chord = _pieces_of_chord(edges, round_, tolerance)
    if not turn:
        return SidePlan(pieces=chord, layers=stretch.copy(), strip=strip)
    inner = np.all(strip, axis=0)
    most_turn = _most_turn(edges, round_, float(np.max(-offsets)), tolerance, about_axis)
    main = float(np.max(heights)) * abs(turn)
    least = max(1, ceil(main / most_turn - 1e-9))
    if least > MOST_PIECES:
        raise ValueError(f"mesh error {tolerance.min():.3g} mm needs {least} layers, at most {MOST_PIECES}")
    layers = np.unique(np.round(least * np.linspace(1.0, 2.2, 13)).astype(np.int64))
    pieces = _pieces(edges, round_, chord, tolerance, np.sign(turn) * main / layers, about_axis)
    cost = np.sum(
        np.where(inner, 2 * layers[:, None] + 4 * pieces, (2 * layers[:, None] + 2) * pieces), axis=1
    )
    best = int(np.argmin(cost))
    per_row = np.ceil(heights * abs(turn) / (main / layers[best]) - 1e-9).astype(np.int64)
    return SidePlan(pieces=pieces[best], layers=np.maximum(per_row, 1) * stretch, strip=strip)


def _pieces_of_chord(edges: Edges, radius: Floats, tolerance: Floats) -> Ints:
    """Pieces whose sagitta stays in tolerance; one for a line."""
    safe = np.where(edges.arc, radius, 1.0)
    widest = np.minimum(2 * np.arccos(np.maximum(1 - tolerance / safe, 0.5)), WIDEST)
    return np.where(edges.arc, np.ceil(np.abs(edges.sweep) / widest - 1e-9), 1).astype(np.int64)


def _levers(edges: Edges) -> Floats:
    """p.n at start, middle and end of every edge (3, edges)."""
    line = (edges.start * np.conj(edges.normal)).real
    share = np.array([0.0, 0.5, 1.0])[:, None]
    out = np.exp(1j * (edges.angle + share * edges.sweep))
    return np.where(edges.arc, edges.convex * ((edges.centre * np.conj(out)).real + edges.radius), line)


def _most_turn(edges: Edges, radius: Floats, grown: float, tolerance: Floats, about_axis: Flags) -> float:
    """Widest turn of a layer that keeps every vertical facet edge in tolerance (rad)."""
    lever = np.max(np.abs(_levers(edges)), axis=0) + max(grown, 0.0)
    widest = np.sqrt(8 * tolerance / np.maximum(lever, 1e-9))
    exact = 2 * np.arccos(np.maximum(1 - tolerance / np.where(about_axis, radius, 1.0), 0.5))
    return float(min(np.min(np.where(about_axis, exact, widest)), WIDEST))


def _pieces(
    edges: Edges, radius: Floats, chord: Ints, tolerance: Floats, turn: Floats, about_axis: Flags
) -> Ints:
    """Least pieces per (layer turn, edge) whose better diagonal stays in tolerance."""
    curve = np.where(edges.arc, edges.convex / np.where(edges.arc, radius, 1.0), 0.0)
    lever, length = _levers(edges)[:, None, :], edges.length
    a = turn[:, None]
    pieces = np.broadcast_to(chord, (len(turn), len(chord))).copy()
    while True:
        s = length / pieces
        square = curve * s**2 + lever * a**2
        rise, fall = (np.max(np.abs(square + 2 * way * s * a), axis=0) for way in (1, -1))
        wide = ~about_axis & (np.minimum(rise, fall) > 8 * tolerance) & (s > np.abs(a) * 1e-3)
        if not np.any(wide):
            return pieces
        pieces[wide] += np.maximum(1, pieces[wide] // 8)
        if np.max(pieces) > MOST_PIECES:
            raise ValueError(
                f"mesh error {tolerance.min():.3g} mm needs over {MOST_PIECES} pieces of one edge"
            )
