"""Stiffness all round for small travel: the section is solved once, every rotation is a small problem after."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollergen.rubber.contact import FOR_FORCE, Skin, skin_of
from rollergen.rubber.elements import Assembly, forces
from rollergen.rubber.newton import factorised, first_reach, one_thread
from rollergen.rubber.obstacle import Obstacle

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

IN_THE_WAY = 3.0  # travels: the surface farther than that from the obstacle at rest is taken never to touch


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compliance:
    """How the surface answers: ``give`` (2 s, 2 s) mm per N/mm between the skin's points ``known``, x and y."""

    assembly: Assembly
    skin: Skin
    known: Ints
    give: Floats


def small_stiffness(
    assembly: Assembly, obstacles: Sequence[Obstacle], *, travel: float, spring: float = FOR_FORCE
) -> Floats:
    """(len(obstacles),) force over ``travel`` (mm after first touch), N/mm per mm of roller.

    Small strains about the shape at rest; who touches is found, not assumed: the pushes are the non-negative
    least squares of the surface's give, with the same springs as ``press``.  It is the limit of ``press`` for a
    small travel; at ``travel`` itself the contact has spread as it does there.
    """
    skin = skin_of(assembly.mesh)
    places = skin.places(assembly.mesh.nodes)
    reaches = [first_reach(assembly.mesh, obstacle) - travel for obstacle in obstacles]
    near = np.zeros(len(places), dtype=bool)
    for obstacle, reach in zip(obstacles, reaches, strict=True):
        near |= obstacle.gap(places, reach)[0] < (IN_THE_WAY - 1) * travel
    with one_thread():
        found = _compliance(assembly, skin, np.flatnonzero(near))
        return np.array(
            [
                _one(found, obstacle, reach, travel, spring)
                for obstacle, reach in zip(obstacles, reaches, strict=True)
            ]
        )


def _compliance(assembly: Assembly, skin: Skin, known: Ints) -> Compliance:
    """Solve for a unit push at every node that can be touched, then look at the skin's points."""
    _, entries, _ = forces(assembly, np.zeros(assembly.size))
    lu = factorised(assembly.matrix(entries))
    nodes = np.unique(skin.nodes[known])
    dofs = np.stack([2 * nodes, 2 * nodes + 1], axis=1).ravel()
    row = np.searchsorted(assembly.free, dofs)
    unit = np.zeros((len(assembly.free), len(dofs)))
    unit[row, np.arange(len(dofs))] = 1.0
    between = lu.solve(unit)[row]  # (2 m, 2 m)
    spread = _spread(skin, known, nodes)
    return Compliance(assembly=assembly, skin=skin, known=known, give=spread @ between @ spread.T)


def _spread(skin: Skin, known: Ints, nodes: Ints) -> Any:
    """(2 s, 2 m) sparse: displacement at the skin's points from those of their nodes."""
    from scipy.sparse import csr_matrix

    column = np.searchsorted(nodes, skin.nodes[known])
    point = np.repeat(np.arange(len(known)), 3)
    values = skin.values[known].ravel()
    rows = np.concatenate([2 * point, 2 * point + 1])
    columns = np.concatenate([2 * column.ravel(), 2 * column.ravel() + 1])
    return csr_matrix((np.tile(values, 2), (rows, columns)), shape=(2 * len(known), 2 * len(nodes)))


def _one(found: Compliance, obstacle: Obstacle, reach: float, travel: float, spring: float) -> float:
    from scipy.linalg import cholesky, solve_triangular
    from scipy.optimize import nnls

    places = found.skin.places(found.assembly.mesh.nodes)[found.known]
    gap, slope, _, by_reach = obstacle.gap(places, reach)
    on = np.flatnonzero(gap < (IN_THE_WAY - 1) * travel)
    # the normal part of the give between points that may touch, and the springs of the contact itself
    pick = np.stack([2 * on, 2 * on + 1], axis=1)
    n = slope[on]
    give = np.einsum("ai,aibj,bj->ab", n, found.give[pick][:, :, pick], n)
    stiffness = spring * found.assembly.groups[0].law.mu
    give[np.diag_indices(len(on))] += 1 / (stiffness * found.skin.length[found.known][on])
    lower = cholesky((give + give.T) / 2, lower=True)
    push, _ = nnls(lower.T, solve_triangular(lower, -gap[on], lower=True))
    return float(push @ by_reach[on]) / travel
