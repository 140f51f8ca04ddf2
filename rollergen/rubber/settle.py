"""Settle pressed rubber into a shape that keeps, downhill in energy: for webs that snap and skins that fold.

Newton's method finds any balance, also one on a ridge of the energy, or none.  Here every round goes downhill:
the pressures follow the shape, the stiffness gets a drag as in thick oil until all its eigenvalues are
positive, a round is shortened until the energy falls, and a balance on a ridge is left along its weakest
direction.  What is found is a minimum of the energy, the one that is reached without crossing a ridge by more
than a round's move.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollergen.rubber.contact import spring_energy
from rollergen.rubber.elements import CORNERS, Assembly, gradients, stored_energy
from rollergen.rubber.newton import (
    SINGULAR,
    Meeting,
    Step,
    factorised,
    is_balanced,
    step_of,
    stiffness,
    unbalance,
    ways_down,
)

Floats = NDArray[np.float64]

MOST_ROUNDS = 80
MOST_MOVE = 0.3  # mm that any node moves in one round: ridges farther than that are not jumped
MOST_SHORTENED = 20  # halvings of a round
FALLS = 1e-4  # of the fall the slope promises, at least
NOISE = 1e-15  # of mu times area: falls of energy below that are not seen, I1bar - 3 has no more digits
DRAG_FIRST, DRAG_LEAST = 1e-4, 1e-5  # of mu, MPa per mm2
DRAG_MOST = 1e4  # of mu: more than any stiffness there is
OFF_RIDGE = 0.02  # mm by which a balance on a ridge is left
WEAKEST_ROUNDS = 4  # of inverse iteration, for its weakest direction


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Valley:
    """What is the same in all rounds: areas (free,) of nodes, and factors of the pressures' mass matrix."""

    meeting: Meeting
    travel: float
    areas: Floats
    mass: Any

    @property
    def assembly(self) -> Assembly:
        return self.meeting.assembly


def settled(meeting: Meeting, starts: tuple[Floats, ...], travel: float) -> tuple[Step | None, str]:
    """The shape that keeps at ``travel``, downhill from the lowest of ``starts``; or None and why not."""
    assembly = meeting.assembly
    valley = valley_of(meeting, travel)
    u, energy = min((followed(valley, start) for start in starts), key=lambda found: found[1])
    drag = 0.0
    for rounds in range(1, MOST_ROUNDS + 1):
        now = unbalance(meeting, u, travel)
        done = is_balanced(assembly, now.left, now.met.force)
        lu, drag = _downhill(valley, stiffness(assembly, now), 0.0 if done else drag)
        if lu is None:
            return None, SINGULAR
        if done and drag == 0.0:
            return step_of(now, u, travel, rounds), ""
        move = _weakest(valley, lu) if done else lu.solve(-now.left)
        found = _lower(valley, u, energy, move, now.left)
        if found is None:
            return None, "no lower energy is found; rubber that folds on itself does that"
        u, energy, shortened = found
        drag = max(2 * drag, DRAG_LEAST * _mu(assembly)) if shortened else drag / 4
        drag = drag if drag > DRAG_LEAST * _mu(assembly) / 2 else 0.0
    return None, f"no shape that keeps after {MOST_ROUNDS} rounds; rubber that folds on itself does that"


def valley_of(meeting: Meeting, travel: float) -> Valley:
    assembly = meeting.assembly
    return Valley(
        meeting=meeting, travel=travel, areas=_node_areas(assembly)[assembly.free], mass=_mass(assembly)
    )


def _downhill(valley: Valley, K: Any, drag: float) -> tuple[Any, float]:
    """Factors of K with as little drag as makes it go downhill, at least ``drag``; None when none does."""
    from scipy.sparse import diags

    mu = _mu(valley.assembly)
    while drag < DRAG_MOST * mu:
        lu = factorised(K + diags(drag * valley.areas) if drag else K)
        if lu is not None and ways_down(valley.assembly, lu) <= 0:
            return lu, drag
        drag = max(4 * drag, DRAG_FIRST * mu)
    return None, drag


def _lower(
    valley: Valley, u: Floats, energy: float, move: Floats, left: Floats
) -> tuple[Floats, float, bool] | None:
    """The state a share of ``move`` away whose energy is lower, its energy, and whether that took shortening."""
    on_nodes = valley.assembly.free < 2 * len(valley.assembly.mesh.nodes)
    slope = float(left[on_nodes] @ move[on_nodes])
    noise = NOISE * _mu(valley.assembly) * float(valley.areas.sum())
    share = min(1.0, MOST_MOVE / max(float(np.abs(move[on_nodes]).max()), 1e-300))
    for shortened in range(MOST_SHORTENED):
        ahead = u.copy()
        ahead[valley.assembly.free] += share * move
        ahead, there = followed(valley, ahead)
        if there <= energy + FALLS * share * min(slope, 0.0) + noise:
            return ahead, there, shortened > 0
        share /= 2
    return None


def _weakest(valley: Valley, lu: Any) -> Floats:
    """Along the eigenvector of the least eigenvalue, by inverse iteration on the dragged stiffness.

    Which way along it is all one to the energy at a balance; it is taken so that its greatest part is positive.
    """
    on_nodes = valley.assembly.free < 2 * len(valley.assembly.mesh.nodes)
    move = np.where(on_nodes, np.cos(np.arange(len(on_nodes))), 0.0)
    for _ in range(WEAKEST_ROUNDS):
        move = lu.solve(np.where(on_nodes, move * valley.areas, 0.0))
        move = move / np.abs(move[on_nodes]).max()
    largest = int(np.argmax(np.abs(np.where(on_nodes, move, 0.0))))
    found: Floats = OFF_RIDGE * np.sign(move[largest]) * move
    return found


def followed(valley: Valley, u: Floats) -> tuple[Floats, float]:
    """The unknowns with pressures that follow the displacements, and the energy; inf for J at or below 0."""
    meeting, assembly = valley.meeting, valley.assembly
    displaced = 2 * len(assembly.mesh.nodes)
    u = u.copy()
    energy = 0.0
    for group in assembly.groups:
        F = gradients(group, u)
        J = F[..., 0] * F[..., 3] - F[..., 1] * F[..., 2]
        if not J.min() > 0:
            return u, np.inf
        energy += stored_energy(group, F, J)
        if group.element == "TH":
            swollen = np.bincount(
                (group.dofs[:, 12:] - displaced).ravel(),
                weights=np.einsum("tq,qc->tc", group.w * (J - 1), CORNERS).ravel(),
                minlength=assembly.size - displaced,
            )
            u[displaced:] = (group.law.bulk - group.local) * valley.mass.solve(swollen)
            energy += float(u[displaced:] @ swollen) / 2
    nodes = assembly.mesh.nodes + u[:displaced].reshape(-1, 2)
    reach = meeting.first - valley.travel
    return u, energy + spring_energy(meeting.skin, nodes, meeting.obstacle, reach, meeting.spring)


def _mass(assembly: Assembly) -> Any:
    """Factors of the mass matrix of the pressures; None without pressures."""
    from scipy.sparse import csc_matrix

    displaced = 2 * len(assembly.mesh.nodes)
    count = assembly.size - displaced
    if not count:
        return None
    group = assembly.groups[0]
    here = group.dofs[:, 12:] - displaced
    entries = np.einsum("tq,qc,qd->tcd", group.w, CORNERS, CORNERS)
    rows, columns = np.repeat(here, 3, axis=1).ravel(), np.tile(here, (1, 3)).ravel()
    return factorised(csc_matrix((entries.ravel(), (rows, columns)), shape=(count, count)))


def _node_areas(assembly: Assembly) -> Floats:
    """(size,) a share of its triangles' area for every displacement, 0 for pressures, mm2."""
    total = np.zeros(assembly.size)
    for group in assembly.groups:
        share = np.repeat(group.w.sum(axis=1)[:, None] / 6, 12, axis=1)
        total += np.bincount(group.dofs[:, :12].ravel(), weights=share.ravel(), minlength=assembly.size)
    return total


def _mu(assembly: Assembly) -> float:
    return assembly.groups[0].law.mu
