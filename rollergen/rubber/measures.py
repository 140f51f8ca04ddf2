"""What a pressed shape tells: strain in the rubber and along its surface, bending of it, chambers closing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollergen.rubber.contact import edge_shapes
from rollergen.rubber.elements import Assembly, gradients
from rollergen.rubber.plane_mesh import PlaneMesh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

QUANTILE = 0.995  # of the rubber's strains: peaks in folds never settle with the mesh, this does
CREASES_AT = (
    -0.35
)  # hoop strain at which a neo-Hookean surface folds on itself (Hong, Zhao, Suo; from memory)
HALF = np.array([-((1 / 3) ** 0.5), (1 / 3) ** 0.5])  # two Gauss points of an edge
SIDE = 0.1  # of a chamber's depth: what counts to its wall side and its hub side


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """Along the outer surface: ``angle`` (n,) rad of every place at rest, whether it lies on the ``body``.

    ``stretched`` (n,): hoop strain, share.  ``bent`` (n,): change of curvature, 1/mm, negative where it is
    pressed flat.
    """

    angle: Floats
    body: NDArray[np.bool_]
    stretched: Floats
    bent: Floats


def nodes_at(mesh: PlaneMesh, u: Floats) -> Floats:
    """Where the nodes are (n, 2), mm."""
    return mesh.nodes + u[: 2 * len(mesh.nodes)].reshape(-1, 2)


def stretches(assembly: Assembly, u: Floats) -> Floats:
    """(t, q) greatest principal stretch less 1 at every Gauss point of the rubber, share."""
    F = gradients(assembly.groups[0], u)
    C = np.stack(
        [
            F[..., 0] ** 2 + F[..., 2] ** 2,
            F[..., 0] * F[..., 1] + F[..., 2] * F[..., 3],
            F[..., 1] ** 2 + F[..., 3] ** 2,
        ]
    )
    middle, half = (C[0] + C[2]) / 2, np.hypot((C[0] - C[2]) / 2, C[1])
    found: Floats = np.sqrt(middle + half) - 1
    return found


def rubber_strain(assembly: Assembly, u: Floats) -> float:
    """The stretch that 99.5 % of the rubber stays below, by area: it settles as the mesh is made finer."""
    values, weights = stretches(assembly, u).ravel(), assembly.groups[0].w.ravel()
    order = np.argsort(values, kind="stable")
    below = np.cumsum(weights[order]) / weights.sum()
    return float(values[order][np.searchsorted(below, QUANTILE)])


def surface_of(mesh: PlaneMesh, u: Floats, body_radius: float) -> Surface:
    """Hoop strain and bending of the outer surface, at two places of every edge and at its corner nodes' means."""
    before, after = mesh.nodes, nodes_at(mesh, u)
    values, slopes = edge_shapes(HALF)
    at_rest = np.einsum("qn,end->eqd", values, before[mesh.outer])
    first = np.linalg.norm(np.einsum("qn,end->eqd", slopes, before[mesh.outer]), axis=2)
    now = np.linalg.norm(np.einsum("qn,end->eqd", slopes, after[mesh.outer]), axis=2)
    bend = _curvature(after, mesh.outer) - _curvature(before, mesh.outer)
    # an edge's bending is that of the circle through its two ends and its neighbours', the mean of both ends
    bent = (bend + np.roll(bend, -1)) / 2
    return Surface(
        angle=np.arctan2(at_rest[..., 1], at_rest[..., 0]).ravel(),
        body=(np.linalg.norm(at_rest, axis=2) < body_radius + 1e-3 * body_radius).ravel(),
        stretched=(now / first - 1).ravel(),
        bent=np.repeat(bent, len(HALF)),
    )


def _curvature(nodes: Floats, edges: Ints) -> Floats:
    """(e,) at every edge's start: one over the radius of the circle through it and its two neighbours."""
    b = nodes[edges[:, 0]]
    a, c = np.roll(b, 1, axis=0), np.roll(b, -1, axis=0)
    turn = (b[:, 0] - a[:, 0]) * (c[:, 1] - b[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - b[:, 0])
    sides = np.linalg.norm(b - a, axis=1) * np.linalg.norm(c - b, axis=1) * np.linalg.norm(c - a, axis=1)
    found: Floats = 2 * turn / sides
    return found


def loop_area(nodes: Floats, edges: Ints) -> float:
    """Area inside a closed loop of three-node edges (e, 3), mm2, exact for their parabolas."""
    a, m, b = (nodes[edges[:, k]] for k in range(3))

    def cross(p: Floats, q: Floats) -> Floats:
        return p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]

    # half the integral of x dy - y dx along a parabola through a, m, b
    return float((cross(a, m) * 4 + cross(m, b) * 4 - cross(a, b)).sum() / 6)


def chamber_closing(mesh: PlaneMesh, u: Floats) -> Floats:
    """(c,) share by which the area of every chamber is less than at rest; foamed ones too."""
    after = nodes_at(mesh, u)
    return np.array([1 - loop_area(after, c) / loop_area(mesh.nodes, c) for c in mesh.chambers])


def chamber_gaps(mesh: PlaneMesh, u: Floats) -> Floats:
    """(c,) mm between the wall side and the hub side of every chamber, where they are nearest; 0: they meet.

    A side is all of a chamber's edge within a tenth of its depth from its outermost or innermost place.
    """
    after, found = nodes_at(mesh, u), []
    for chamber in mesh.chambers:
        here = chamber[:, :2].ravel()
        radius = np.linalg.norm(mesh.nodes[here], axis=1)
        tenth = SIDE * (radius.max() - radius.min())
        wall, hub = after[here[radius > radius.max() - tenth]], after[here[radius < radius.min() + tenth]]
        found.append(float(np.linalg.norm(wall[:, None] - hub, axis=2).min()))
    return np.array(found)


def touched_width(pressure: Floats, length: Floats) -> float:
    """Width of the contact, mm of the surface at rest that is pressed."""
    return float(length[pressure > 0].sum())
