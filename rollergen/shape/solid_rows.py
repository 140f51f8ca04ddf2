"""A side cut into rows, each row into patches: poles and kinds as plain numbers, before any kernel.

A point of the section is one complex number, so a turn is one multiplication.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import hypot
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.offset import inward
from rollergen.shape.outline import Arc, Floats, Outline, is_circle, turned
from rollergen.shape.part import Side
from rollergen.shape.spline_fit import Basis, Complex, basis_of, spans_for

Kind = Literal["plane", "cylinder", "cone", "spline"]
ON_AXIS = 1e-9  # mm: an arc whose centre is this close to the axis is turned about itself
MOST_SPANS = 2048  # of one row
SAME = 1e-10  # mm and rad: rounding of an offset that should be linear


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """How fine splines are: ``span`` of turn at most (rad), errors in mm along z and round an arc."""

    degree: int
    span: float
    along: float
    round: float


def fit_of(degree: int, span: float) -> Fit:
    """Errors kept by a degree: about 1 nm along the helix, 8 nm when old readers need cubics."""
    if degree not in (3, 5, 7):
        raise ValueError(f"spline degree {degree}: 3, 5 or 7 are offered")
    if not 0 < span <= 2:
        raise ValueError(f"spline span {span:.3g} rad: more than 0, at most 2")
    if degree == 3:
        return Fit(degree=3, span=span, along=8e-6, round=1.5e-6)
    return Fit(degree=degree, span=span, along=1e-6, round=4.5e-8)


@dataclass(frozen=True, slots=True)
class Table:
    """The edges of one outline as columns; ``corner[j]`` is where edge j starts."""

    corner: Complex
    is_arc: NDArray[np.bool_]
    centre: Complex
    radius: Floats
    start: Floats
    sweep: Floats


def table_of(outline: Outline) -> Table:
    """Columns of an outline; lines have radius and sweep 0."""
    rows = [
        (complex(*e.start), True, complex(*e.centre), e.radius, e.angle, e.sweep)
        if isinstance(e, Arc)
        else (complex(*e.start), False, 0j, 0.0, 0.0, 0.0)
        for e in outline.edges
    ]
    corner, is_arc, centre, radius, start, sweep = (np.array(column) for column in zip(*rows, strict=True))
    return Table(corner, is_arc, centre, radius, start, sweep)


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """One face of a row. ``net``: poles (u, v, xyz) of a spline; ``round_error`` of its arcs (mm)."""

    kind: Kind
    net: Floats | None = None
    u_spans: int = 1
    u_degree: int = 1
    round_error: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """The faces between two levels.

    ``low``, ``high``: the outline at both ends, turned in place.  ``corners``: poles of the paths of
    the corners, (corner, v, xyz), in ``basis``; ``straight`` marks paths that are lines.  ``path_error``:
    measured distance of a fitted path to the true one (mm).
    """

    z: tuple[float, float]
    turn: float
    low: Outline
    high: Outline
    basis: Basis
    corners: Floats
    straight: NDArray[np.bool_]
    path_error: float
    patches: tuple[Patch, ...]


def turn_of(side: Side) -> float:
    """Twist that changes the surface: a circle about the axis has none (rad per mm)."""
    if is_circle(side.outline):
        (edge,) = side.outline.edges
        if isinstance(edge, Arc) and hypot(*edge.centre) < ON_AXIS:
            return 0.0
    return side.turn_per_mm


def rows_of(side: Side, fit: Fit) -> tuple[Row, ...]:
    """All rows of a side from low to high."""
    if len(side.levels) < 2:
        raise ValueError(f"a side needs two levels, got {side.levels}")
    levels = zip(side.levels, side.levels[1:], strict=False)
    return tuple(_row(side.outline, low, high, turn_of(side), fit) for low, high in levels)


def _row(outline: Outline, low: tuple[float, float], high: tuple[float, float], turn: float, fit: Fit) -> Row:
    (z0, d0), (z1, d1) = low, high
    if not z1 > z0:
        raise ValueError(f"levels must rise: z {z1:.6g} mm follows {z0:.6g} mm")
    ends = [_offset(outline, d) for d in (d0, d1)]
    offsets = _Offsets(outline, d0, d1)
    reach = max(float(np.max(np.abs(t.centre) + t.radius)) for t in offsets.ends)
    reach = max(reach, *(float(np.max(np.abs(t.corner))) for t in offsets.ends))
    paths, basis, error = _paths(offsets, turn, z0, z1, reach, fit)
    corners = _lifted(paths, basis, z0, z1)
    straight = offsets.linear_corner if turn == 0 else np.zeros(len(outline.edges), dtype=bool)
    return Row(
        z=(z0, z1),
        turn=turn,
        low=turned(ends[0], turn * z0),
        high=turned(ends[1], turn * z1),
        basis=basis,
        corners=corners,
        straight=straight,
        path_error=error,
        patches=_patches(offsets, turn, z0, z1, basis, corners, fit),
    )


@lru_cache(maxsize=256)
def _offset(outline: Outline, d: float) -> Outline:
    return inward(outline, d) if d else outline


class _Offsets:
    """The outline at any share of a row: straight between the ends where that is exact, else offset anew."""

    def __init__(self, outline: Outline, d0: float, d1: float) -> None:
        self.outline, self.d0, self.d1 = outline, d0, d1
        self.ends = (table_of(_offset(outline, d0)), table_of(_offset(outline, d1)))
        low, high = self.ends
        middle = low if d0 == d1 else table_of(_offset(outline, (d0 + d1) / 2))
        self.linear_corner = np.abs(middle.corner * 2 - low.corner - high.corner) < SAME
        self.steady = (
            (np.abs(low.centre - high.centre) < SAME)
            & (np.abs(low.start - high.start) < SAME)
            & (np.abs(low.sweep - high.sweep) < SAME)
        )
        self.linear = bool(np.all(self.linear_corner & self.steady))

    def at(self, share: float) -> Table:
        low, high = self.ends
        if self.d0 == self.d1:
            return low
        if not self.linear:
            return table_of(_offset(self.outline, self.d0 + share * (self.d1 - self.d0)))
        return Table(
            low.corner + share * (high.corner - low.corner),
            low.is_arc,
            low.centre,
            low.radius + share * (high.radius - low.radius),
            low.start,
            low.sweep,
        )


def _paths(
    offsets: _Offsets, turn: float, z0: float, z1: float, reach: float, fit: Fit
) -> tuple[Complex, Basis, float]:
    """Poles of all corner paths (v, corner), their basis, and the measured error (mm)."""

    def true_at(share: Floats) -> Complex:
        corner = np.stack([offsets.at(s).corner for s in share])
        found: Complex = corner * np.exp(1j * turn * (z0 + share * (z1 - z0)))[:, None]
        return found

    spans = spans_for(abs(turn) * (z1 - z0), fit.degree, radius=reach, error=fit.along, span=fit.span)
    while True:
        basis = basis_of(fit.degree, spans)
        poles = basis.poles(true_at(basis.greville))
        at = (np.arange(4 * spans) + 0.5) / (4 * spans)
        error = float(np.max(np.abs(np.tensordot(basis.values(at), poles, axes=1) - true_at(at))))
        if error <= 1.2 * fit.along:
            return poles, basis, error
        if spans > MOST_SPANS:
            raise ValueError(f"corner paths from z {z0:.6g} to {z1:.6g} mm stay {error:.3g} mm off their fit")
        # a mitre between an arc and its neighbour is no polynomial: refine
        spans *= 2


def _lifted(plane: Complex, basis: Basis, z0: float, z1: float) -> Floats:
    """Poles (v, ...) of the section as (..., v, xyz); z is linear, so its poles are the Greville heights."""
    flat = np.moveaxis(plane, 0, -1)
    z = np.broadcast_to(z0 + basis.greville * (z1 - z0), flat.shape)
    return np.stack([flat.real, flat.imag, z], axis=-1)


def _patches(
    offsets: _Offsets, turn: float, z0: float, z1: float, basis: Basis, corners: Floats, fit: Fit
) -> tuple[Patch, ...]:
    low, high = offsets.ends
    about_axis = np.abs(low.centre) < ON_AXIS
    found: dict[int, Patch] = {}
    spline_arcs: dict[int, list[int]] = {}
    for j, arc in enumerate(low.is_arc):
        if arc and offsets.steady[j] and (turn == 0 or about_axis[j]):
            same = abs(low.radius[j] - high.radius[j]) < SAME
            found[j] = Patch(kind="cylinder" if same else "cone")
        elif arc:
            sweep = max(abs(t.sweep[j]) for t in offsets.ends)
            radius = max(t.radius[j] for t in offsets.ends)
            spans = spans_for(float(sweep), fit.degree, radius=float(radius), error=fit.round, span=1.0)
            spline_arcs.setdefault(spans, []).append(j)
        elif turn == 0:
            found[j] = Patch(kind="plane")
        else:
            net = np.stack([corners[j], corners[(j + 1) % len(corners)]])
            found[j] = Patch(kind="spline", net=net)
    for spans, which in spline_arcs.items():
        nets = _arc_nets(offsets, which, turn, z0, z1, basis, basis_of(fit.degree, spans))
        for j, net in zip(which, nets, strict=True):
            net[0], net[-1] = corners[j], corners[(j + 1) % len(corners)]
            found[j] = Patch(
                kind="spline", net=net, u_spans=spans, u_degree=fit.degree, round_error=fit.round
            )
    return tuple(found[j] for j in range(len(low.is_arc)))


def _arc_nets(
    offsets: _Offsets, which: list[int], turn: float, z0: float, z1: float, along: Basis, across: Basis
) -> Floats:
    """Poles (arc, u, v, xyz) of arcs carried along z; u is the angle, so the ends stay true circles."""

    def arcs(share: float) -> Complex:
        t = offsets.at(share)
        angle = t.start[which, None] + across.greville * t.sweep[which, None]
        points: Complex = t.centre[which, None] + t.radius[which, None] * np.exp(1j * angle)
        return points

    turns = np.exp(1j * turn * (z0 + along.greville * (z1 - z0)))
    if offsets.d0 == offsets.d1:  # one section, turned: the two fits are independent
        section = np.einsum("pu,eu->ep", across.inverse, arcs(0.0))
        poles = along.poles(turns)[:, None, None] * section
    else:
        grid = np.stack([arcs(s) for s in along.greville]) * turns[:, None, None]
        poles = along.poles(np.einsum("pu,veu->vep", across.inverse, grid))
    return _lifted(poles, along, z0, z1)
