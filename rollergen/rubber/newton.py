"""Balance at one travel by Newton's method: what is left unbalanced, the solve, and whether a shape would keep."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollergen.rubber.contact import Skin, Touch, edge_points, skin_of, touch
from rollergen.rubber.elements import Assembly, forces
from rollergen.rubber.obstacle import Obstacle
from rollergen.rubber.plane_mesh import PlaneMesh

Floats = NDArray[np.float64]

TOLERANCE = 1e-8  # of the push, left unbalanced at any node
VOLUME_TOLERANCE = 1e-9  # mm2 of area per mm2 of triangle
MOST_ROUNDS = 14  # in one step
HOPELESS_AFTER, HOPELESS = 6, 0.3  # rounds, and the share of the first unbalance still left then
MOST_SHORTENED = 7  # halvings of a round that would turn a triangle inside out
LEAST_VOLUME = 0.02  # J a round may lead to
SPOTS = np.linspace(-1, 1, 9)  # of every edge, where first touch is looked for
INSIDE_OUT = "the rubber would be turned inside out"
SINGULAR = "the stiffness is singular"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Step:
    """One balanced state: ``travel`` mm after first touch, ``force`` N per mm, unknowns ``u``, least J.

    ``pressure`` (s,) MPa at the skin's points; ``rounds`` of Newton it took.
    """

    travel: float
    force: float
    u: Floats
    pressure: Floats
    least_volume: float
    rounds: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Meeting:
    """What is pressed and by what: ``first`` is the reach (mm) at first touch, ``spring`` MPa per mm."""

    assembly: Assembly
    skin: Skin
    obstacle: Obstacle
    first: float
    spring: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unbalance:
    """Forces (free,) left over at a state, with what is needed to go on; J at or below 0: nothing else holds."""

    left: Floats
    entries: Floats
    met: Touch
    least_volume: float


def first_reach(mesh: PlaneMesh, obstacle: Obstacle) -> float:
    """Distance of the obstacle from the axis at which it just touches the section at rest, mm."""
    return obstacle.first_touch(edge_points(mesh.nodes, mesh.outer, SPOTS).reshape(-1, 2))


def meeting_of(assembly: Assembly, obstacle: Obstacle, spring: float) -> Meeting:
    """``spring`` over mu of the rubber, per mm.  Raises ValueError when the obstacle passes the section by."""
    first = first_reach(assembly.mesh, obstacle)
    if first == -np.inf:
        raise ValueError("the obstacle passes the section by")
    return Meeting(
        assembly=assembly, skin=skin_of(assembly.mesh), obstacle=obstacle, first=first,
        spring=spring * assembly.groups[0].law.mu,
    )  # fmt: skip


def unbalance(meeting: Meeting, u: Floats, travel: float) -> Unbalance:
    assembly, mesh = meeting.assembly, meeting.assembly.mesh
    inner, entries, least = forces(assembly, u)
    nodes = mesh.nodes + u[: 2 * len(mesh.nodes)].reshape(-1, 2)
    met = touch(meeting.skin, nodes, meeting.obstacle, meeting.first - travel, meeting.spring, assembly.size)
    return Unbalance(left=(inner + met.residual)[assembly.free], entries=entries, met=met, least_volume=least)


def is_balanced(assembly: Assembly, left: Floats, force: float) -> bool:
    """Unbalanced forces against the push; unbalanced volume against the size of the triangles."""
    on_nodes = assembly.free < 2 * len(assembly.mesh.nodes)
    if not np.abs(left[on_nodes]).max() <= TOLERANCE * max(force, 1e-9):
        return False
    volume = left[~on_nodes]
    mean = float(np.mean([group.w.sum() / len(group.w) for group in assembly.groups]))
    return not len(volume) or bool(np.abs(volume).max() <= VOLUME_TOLERANCE * mean)


def stiffness(assembly: Assembly, found: Unbalance) -> Any:
    """Sparse (free, free), contact included."""
    return assembly.matrix(found.entries) + found.met.stiffness[assembly.free][:, assembly.free]


def factorised(K: Any) -> Any:
    """LU factors of a symmetric matrix; quasi-definite ones (pressure unknowns too) need no pivoting.

    None for a singular one.
    """
    from scipy.sparse.linalg import splu

    try:
        return splu(
            K.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, relax=1, panel_size=20,
            options={"SymmetricMode": True, "Equil": False},
        )  # fmt: skip
    except RuntimeError:  # the only error splu has: a pivot of exactly 0
        return None


def one_thread() -> AbstractContextManager[Any]:
    """While it holds, dense products take one thread: blocks of these factors are so small that threads only
    stand in each other's way (a solve of 700 pushes 1.6 s instead of 6 to 15 s on two shared cores)."""
    import scipy.sparse.linalg  # noqa: F401  its libraries must be there to be held
    from threadpoolctl import threadpool_limits

    limits: AbstractContextManager[Any] = threadpool_limits(1)
    return limits


def ways_down(assembly: Assembly, lu: Any) -> int:
    """Independent directions in which the energy falls away: 0 for a shape that keeps.

    Without pivoting the signs of the pivots are those of the eigenvalues (Sylvester); every pressure unknown
    brings one negative by itself.
    """
    pressures = assembly.size - 2 * len(assembly.mesh.nodes)
    return int((lu.U.diagonal() < 0).sum()) - pressures


def newton(meeting: Meeting, start: Floats, travel: float) -> tuple[Step | None, str]:
    """The balance near unknowns ``start``, or None and why not; never one that would not keep."""
    u, first, lu = start, np.inf, None
    for rounds in range(1, MOST_ROUNDS + 1):
        now = unbalance(meeting, u, travel)
        if not now.least_volume > 0:
            return None, INSIDE_OUT
        if lu is not None and is_balanced(meeting.assembly, now.left, now.met.force):
            if ways_down(meeting.assembly, lu) > 0:
                return None, "the balance found is one that would not keep"
            return step_of(now, u, travel, rounds), ""
        size = float(np.linalg.norm(now.left))
        first = size if rounds == 1 else first
        if rounds >= HOPELESS_AFTER and size > HOPELESS * first:
            break
        lu = factorised(stiffness(meeting.assembly, now))
        if lu is None:
            return None, SINGULAR
        u = _moved(meeting.assembly, u, lu.solve(-now.left))
    return None, f"no balance after {rounds} rounds; rubber that folds or buckles does that"


def step_of(now: Unbalance, u: Floats, travel: float, rounds: int) -> Step:
    return Step(
        travel=travel, force=now.met.force, u=u, pressure=now.met.pressure, least_volume=now.least_volume,
        rounds=rounds,
    )  # fmt: skip


def _moved(assembly: Assembly, u: Floats, move: Floats) -> Floats:
    """A round's move, shortened until no triangle is turned inside out."""
    share = 1.0
    for _ in range(MOST_SHORTENED):
        ahead = u.copy()
        ahead[assembly.free] += share * move
        if forces(assembly, ahead, stiff=False)[2] > LEAST_VOLUME:
            break
        share /= 2
    return ahead
