"""Where the outer surface meets an obstacle: a stiff layer of springs at three points of every edge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollergen.rubber.obstacle import Obstacle
from rollergen.rubber.plane_mesh import PlaneMesh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_POINTS = np.array([-(0.6**0.5), 0.0, 0.6**0.5])
_WEIGHTS = np.array([5.0, 8.0, 5.0]) / 9
# mm either side of touching over which a spring comes on, times the radius: where a thin cylinder's few points
# jump on and off, Newton's way is lost
SOFT_START, LEAST_SOFT = 0.1, 1e-9
FOR_FORCE, FOR_PRESSURE = 60.0, 600.0  # spring stiffness over mu, per mm


def edge_shapes(spots: Floats) -> tuple[Floats, Floats]:
    """Shape functions (q, 3) of an edge's start, mid-node and end at ``spots`` (q,) from -1 to 1, and slopes."""
    values = np.stack([spots * (spots - 1) / 2, 1 - spots**2, spots * (spots + 1) / 2], axis=1)
    slopes = np.stack([spots - 0.5, -2 * spots, spots + 0.5], axis=1)
    return values, slopes


def edge_points(nodes: Floats, edges: Ints, spots: Floats) -> Floats:
    """Points (e, q, 2) at ``spots`` of every edge (e, 3)."""
    found: Floats = np.einsum("qn,end->eqd", edge_shapes(spots)[0], nodes[edges])
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Skin:
    """The outer surface at its points: ``nodes`` (s, 3), shape ``values`` (s, 3), ``length`` (s,) mm at rest."""

    nodes: Ints
    values: Floats
    length: Floats

    def places(self, nodes: Floats) -> Floats:
        """Where the points are (s, 2), given all nodes (n, 2)."""
        found: Floats = np.einsum("sn,snd->sd", self.values, nodes[self.nodes])
        return found


def skin_of(mesh: PlaneMesh) -> Skin:
    values, slopes = edge_shapes(_POINTS)
    along = np.einsum("qn,end->eqd", slopes, mesh.nodes[mesh.outer])
    count = len(mesh.outer)
    return Skin(
        nodes=np.repeat(mesh.outer, len(_POINTS), axis=0),
        values=np.tile(values, (count, 1)),
        length=(np.linalg.norm(along, axis=2) * _WEIGHTS).ravel(),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Touch:
    """What the obstacle does to the rubber at one state.

    ``force``: its push towards the axis, N per mm of roller.  ``residual`` (2 n,) and ``stiffness`` (2 n, 2 n),
    sparse, on the displacements.  ``pressure`` (s,) MPa at the skin's points, 0 where it does not touch.
    """

    force: float
    residual: Floats
    stiffness: Any
    pressure: Floats


def _soft(obstacle: Obstacle) -> float:
    return max(SOFT_START / obstacle.radius, LEAST_SOFT)


def spring_energy(skin: Skin, nodes: Floats, obstacle: Obstacle, reach: float, spring: float) -> float:
    """Energy of the springs of ``touch``, N mm per mm."""
    gap, soft = obstacle.gap(skin.places(nodes), reach)[0], _soft(obstacle)
    begun = np.maximum(soft - gap, 0.0) ** 3 / (12 * soft)
    each = np.where(gap < -soft, gap**2 / 2 + soft**2 / 6, begun)
    return float(spring * (each * skin.length).sum())


def touch(skin: Skin, nodes: Floats, obstacle: Obstacle, reach: float, spring: float, size: int) -> Touch:
    """Springs of ``spring`` MPa per mm wherever the obstacle, at ``reach`` mm from the axis, would overlap.

    ``nodes`` (n, 2) where they are now; ``size`` unknowns, of which the first 2 n are displacements.
    """
    from scipy.sparse import csc_matrix

    gap, slope, bend, by_reach = obstacle.gap(skin.places(nodes), reach)
    soft = _soft(obstacle)
    pressure = spring * np.where(gap < -soft, -gap, np.maximum(soft - gap, 0.0) ** 2 / (4 * soft))
    on = np.flatnonzero(gap < soft)
    push = (pressure * skin.length)[on]
    hard = np.minimum((soft - gap[on]) / (2 * soft), 1.0)  # share of the spring that answers
    N, node = skin.values[on], skin.nodes[on]
    dofs = np.stack([2 * node, 2 * node + 1], axis=2)  # (a, 3, 2)
    residual: Floats = np.bincount(
        dofs.ravel(),
        weights=(-push[:, None, None] * N[:, :, None] * slope[on][:, None, :]).ravel(),
        minlength=size,
    ).astype(np.float64)
    stiff = (spring * hard * skin.length[on])[:, None, None] * (slope[on][:, :, None] * slope[on][:, None, :])
    stiff -= push[:, None, None] * bend[on]
    block = np.einsum("ai,aj,ade->aidje", N, N, stiff).reshape(len(on), 6, 6)
    flat = dofs.reshape(len(on), 6)
    rows, columns = np.repeat(flat, 6, axis=1).ravel(), np.tile(flat, (1, 6)).ravel()
    return Touch(
        force=float((push * by_reach[on]).sum()),
        residual=residual,
        stiffness=csc_matrix((block.ravel(), (rows, columns)), shape=(size, size)),
        pressure=pressure,
    )
