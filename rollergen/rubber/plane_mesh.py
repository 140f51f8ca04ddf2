"""A plane mesh of six-node triangles, and the names of its edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneMesh:
    """Six-node triangles over a section; every mid-node of a boundary edge lies on the true curve.

    ``nodes``: (n, 2), mm.  ``triangles``: (t, 6), corners counter-clockwise, then the mid-nodes of the edges
    0-1, 1-2, 2-0.  ``filled``: (t,), 0 for rubber, i for the foam in chamber i (counted from 1).
    Edges are (e, 3) as start, mid-node, end, in order: ``outer`` counter-clockwise round the section,
    ``bore`` and each of ``chambers`` counter-clockwise seen from +z too.
    """

    nodes: Points
    triangles: Numbers
    filled: Numbers
    outer: Numbers
    bore: Numbers
    chambers: tuple[Numbers, ...]


# at corners and mid-nodes: where a six-node triangle with one curved side folds first
_SPOTS = np.array([[0, 0], [1, 0], [0, 1], [0.5, 0], [0.5, 0.5], [0, 0.5]], dtype=np.float64)


def shape_slopes(spots: Points) -> NDArray[np.float64]:
    """Slopes (q, 6, 2) of the six shape functions in the triangle's own axes at ``spots`` (q, 2)."""
    r, s = spots[:, 0], spots[:, 1]
    t = 1 - r - s
    zero = np.zeros_like(r)
    along_r = [1 - 4 * t, 4 * r - 1, zero, 4 * (t - r), 4 * s, -4 * s]
    along_s = [1 - 4 * t, zero, 4 * s - 1, -4 * r, 4 * r, 4 * (t - s)]
    return np.stack([np.stack(along_r, axis=1), np.stack(along_s, axis=1)], axis=2)


def jacobians(mesh: PlaneMesh, spots: Points) -> NDArray[np.float64]:
    """Area scale (t, q) of every triangle at ``spots`` (q, 2) of its own axes; mm2, above 0 when not folded."""
    slopes = shape_slopes(spots)
    map_ = np.einsum("tnd,qne->tqde", mesh.nodes[mesh.triangles], slopes)
    found: NDArray[np.float64] = map_[..., 0, 0] * map_[..., 1, 1] - map_[..., 0, 1] * map_[..., 1, 0]
    return found


def least_jacobian(mesh: PlaneMesh) -> NDArray[np.float64]:
    """(t,) least area scale of each triangle over its corners and mid-nodes, mm2."""
    found: NDArray[np.float64] = jacobians(mesh, _SPOTS).min(axis=1)
    return found


def mesh_area(mesh: PlaneMesh) -> float:
    """Area of all triangles with their curved sides, mm2: exact for parabolic edges."""
    gauss = np.array([[1, 1], [4, 1], [1, 4]], dtype=np.float64) / 6
    return float(jacobians(mesh, gauss).sum() / 6)


def quality_of(mesh: PlaneMesh) -> NDArray[np.float64]:
    """(t,) 4 sqrt(3) area over the sum of squared sides: 1 for an equal-sided triangle, 0 for a sliver."""
    a, b, c = (mesh.nodes[mesh.triangles[:, k]] for k in range(3))
    turn = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    sides = sum(((p - q) ** 2).sum(axis=1) for p, q in ((a, b), (b, c), (c, a)))
    found: NDArray[np.float64] = 2 * 3**0.5 * turn / sides
    return found
