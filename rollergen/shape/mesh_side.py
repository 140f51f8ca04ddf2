"""Facets of one side, built on its plan and measured against its exact edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rollergen.shape.mesh_deviation import HALVES, UPPER, choose_diagonals
from rollergen.shape.mesh_plan import Complex, Edges, Flags, Ints, SidePlan, edges_of, turn_of
from rollergen.shape.offset import inward
from rollergen.shape.outline import Floats
from rollergen.shape.part import Side

SMOOTH = 0.9995  # cosine: edges that meet within 1.8 deg are shaded as one surface


@dataclass(frozen=True, slots=True)
class Wall:
    """Facets of one side: ``low``/``high`` are the vertex numbers of its end rings, ``error`` per (row, edge)."""

    points: Floats
    facets: Ints
    surface: Ints
    low: Ints
    high: Ints
    error: Floats


@dataclass(frozen=True, slots=True)
class _Columns:
    """Vertical lines of vertices: the edge each stands on, its share of it, each edge's first column."""

    edge: Ints
    share: Floats
    first: Ints


def _columns(pieces: Ints) -> _Columns:
    first = np.cumsum(pieces) - pieces
    edge = np.repeat(np.arange(len(pieces)), pieces)
    return _Columns(edge, (np.arange(len(edge)) - first[edge]) / pieces[edge], first)


def build_wall(side: Side, edges: Edges, plan: SidePlan) -> Wall:
    """Sweep one side; vertices are numbered from 0, facets face away from the material."""
    columns = _columns(plan.pieces)
    turn = turn_of(side, edges)
    runs = _smooth_runs(edges)
    points: list[Floats] = []
    facets: list[Ints] = []
    surface: list[Ints] = []
    error = np.zeros((len(plan.layers), len(edges.arc)))
    count = 0
    ring = np.zeros(0, dtype=np.int64)
    low = ring
    for row, ((z0, d0), (z1, d1)) in enumerate(zip(side.levels, side.levels[1:], strict=False)):
        layers = int(plan.layers[row])
        share = np.arange(layers + 1) / layers
        z, d = z0 + share * (z1 - z0), d0 + share * (d1 - d0)
        z[-1], d[-1] = z1, d1  # to the last digit, so that parts that touch lie in one plane
        flat = _sections(side, edges, columns, d)
        keep = np.ones((layers + 1, len(columns.edge)), dtype=bool)
        keep[1:-1] = ~(plan.strip[row][columns.edge] & (columns.share > 0))
        keep[0] = row == 0
        number = np.where(keep, count - 1 + np.cumsum(keep).reshape(keep.shape), -1)
        if row:
            number[0] = ring
        else:
            low = number[0]
        count += int(np.count_nonzero(keep))
        ring = number[-1]
        lifted = flat * np.exp(1j * turn * z)[:, None]
        points.append(
            np.stack([lifted.real, lifted.imag, np.broadcast_to(z[:, None], lifted.shape)], -1)[keep]
        )
        step = turn * (z1 - z0) / layers
        made = (
            *_quads(edges, columns, plan.strip[row], number, flat, d, step, error[row]),
            *_strips(edges, columns, plan.strip[row], number, (z1 - z0) * turn, d0, error[row]),
        )
        for edge, tris in made:
            facets.append(tris)
            surface.append(row * len(edges.arc) + runs[edge])
    found = np.concatenate(facets)
    if not side.material_inside:
        found = found[:, ::-1]
    return Wall(np.concatenate(points), found, np.concatenate(surface), low, ring, error)


def _smooth_runs(edges: Edges) -> Ints:
    """A number per edge, shared by neighbours that meet smoothly."""
    along = np.exp(1j * (edges.angle + edges.convex * np.pi / 2))
    first = np.where(edges.arc, along, 1j * edges.normal)
    last = np.where(edges.arc, along * np.exp(1j * edges.sweep), 1j * edges.normal)
    sharp = (np.roll(last, 1) * np.conj(first)).real < SMOOTH
    run = np.cumsum(sharp)
    return np.where(run == 0, run[-1], run).astype(np.int64)


def _sections(side: Side, edges: Edges, columns: _Columns, offsets: Floats) -> Complex:
    """Points of every layer in the section's own frame, (layers + 1, columns)."""
    moved: dict[float, Complex] = {}
    for d in np.unique(offsets).tolist():
        base = edges_of(inward(side.outline, d)) if d else edges
        moved[d] = base.at(columns.edge, columns.share)
    return np.stack([moved[d] for d in offsets.tolist()])


def _quads(
    edges: Edges,
    columns: _Columns,
    strip: Flags,
    number: Ints,
    flat: Complex,
    d: Floats,
    step: float,
    error: Floats,
) -> list[tuple[Ints, Ints]]:
    """Facets of all edges but the strips; notes each edge's greatest deviation in ``error``."""
    here = np.nonzero(~strip[columns.edge])[0]
    if not len(here):
        return []
    right = (here + 1) % len(columns.edge)
    edge = columns.edge[here]
    # a screw carries one layer of a steady row onto the next, exactly: the first stands for all
    seen = 1 if d[0] == d[-1] else len(flat) - 1
    lower, upper = flat[:seen], flat[1 : seen + 1]
    corner = np.stack([lower[:, here], lower[:, right], upper[:, right], upper[:, here]])
    corner = corner * np.exp(1j * step * UPPER)[:, None, None]
    rising = choose_diagonals(edges, edge, corner, d[: seen + 1], step, error)
    ids = np.stack([number[:-1, here], number[:-1, right], number[1:, right], number[1:, here]], axis=-1)
    rising = np.broadcast_to(rising, ids.shape[:2])[..., None]
    halves = [np.where(rising, ids[..., HALVES[1, h]], ids[..., HALVES[0, h]]) for h in (0, 1)]
    tris = np.stack(halves, axis=2).reshape(-1, 3)
    return [(np.repeat(np.tile(edge, len(number) - 1), 2), tris)]


def _strips(
    edges: Edges, columns: _Columns, strip: Flags, number: Ints, turn: float, d: float, error: Floats
) -> list[tuple[Ints, Ints]]:
    """Facets of cylinders about the axis: both rims merged by angle, so facets lie along z.

    A facet inscribed in a circle of radius r over the angle w stays r (1 - cos(w/2)) away: exact.
    """
    layers = len(number) - 1
    made: list[tuple[Ints, Ints]] = []
    for j in np.nonzero(strip)[0].tolist():
        end = int(columns.first[j + 1]) if j + 1 < len(strip) else len(columns.edge)
        at = np.arange(columns.first[j], end + 1) % len(columns.edge)
        width, rise = float(abs(edges.sweep[j])), float(edges.convex[j]) * turn
        flat = np.linspace(0.0, width, len(at))
        climb = np.linspace(0.0, rise, layers + 1)
        left, right = number[:, at[0]], number[:, at[-1]]
        bottom, top = number[0, at], number[-1, at]
        if rise > 0:
            below, low = np.append(bottom, right[1:]), np.append(flat, width + climb[1:])
            above, high = np.append(left, top[1:]), np.append(climb, rise + flat[1:])
        else:
            below, low = np.append(left[::-1], bottom[1:]), np.append(climb[::-1], flat[1:])
            above, high = np.append(top, right[-2::-1]), np.append(rise + flat, width + climb[-2::-1])
        tris, widest = _zip(below, low, above, high)
        radius = edges.radius[j] - edges.convex[j] * d
        error[j] = max(error[j], radius * (1 - np.cos(widest / 2)))
        made.append((np.full(len(tris), j), tris))
    return made


def _zip(below: Ints, low: Floats, above: Ints, high: Floats) -> tuple[Ints, float]:
    """Facets between two chains that share both ends, merged by rising angle; the widest facet (rad).

    The first and the last facet take one step of both chains, so none lies flat in a cap.
    """
    nb, na = len(below) - 1, len(above) - 1
    i = np.arange(1, nb - 1)  # steps of the lower chain, i -> i + 1
    j = np.clip(np.searchsorted(high[1:na], low[i + 1], side="left"), 1, na - 1)
    q = np.arange(1, na - 1)
    p = np.clip(np.searchsorted(low[1:nb], high[q + 1], side="right"), 1, nb - 1)
    lower = np.stack([below[i], below[i + 1], above[j]], axis=1)
    upper = np.stack([below[p], above[q + 1], above[q]], axis=1)
    ends = np.array([[below[0], below[1], above[1]], [below[nb - 1], below[nb], above[na - 1]]])
    spans = np.concatenate(
        [
            np.maximum(low[i + 1], high[j]) - np.minimum(low[i], high[j]),
            np.maximum(high[q + 1], low[p]) - np.minimum(high[q], low[p]),
            [max(low[1], high[1]) - low[0], low[nb] - min(low[nb - 1], high[na - 1])],
        ]
    )
    return np.concatenate([lower, upper, ends]), float(np.max(spans))
