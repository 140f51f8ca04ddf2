"""Press a section step by step and follow how it gives: the load, the shape, and why it stopped."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollergen.rubber.contact import FOR_FORCE, Skin, Touch, edge_points, skin_of, touch
from rollergen.rubber.elements import Assembly, forces
from rollergen.rubber.obstacle import Obstacle
from rollergen.rubber.plane_mesh import PlaneMesh

Floats = NDArray[np.float64]

TOLERANCE = 1e-8  # of the push, left unbalanced at any node
VOLUME_TOLERANCE = 1e-9  # mm2 of area per mm2 of triangle
MOST_ROUNDS = 14  # of Newton, in one step
MOST_SHORTENED = 7  # halvings of a Newton step that would turn a triangle inside out
MOST_HALVED = 5  # halvings of a step of travel before giving up
HOPELESS_AFTER, HOPELESS = 6, 0.3  # rounds, and the share of the first unbalance still left then
FALLS = 0.01  # of the load by which it must fall after a peak to be a collapse
AFTER_PEAK = 2  # states followed after a collapse
SNAPS = 0.97  # of the load before: less after a step is a snap to another shape
MOST_RELAXED = 60  # rounds as if in oil
DRAG = 0.02  # of mu, MPa per mm2: well above what a buckling web resists with
SPOTS = np.linspace(-1, 1, 9)  # of every edge, where first touch is looked for


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
class Pressed:
    """What came of pressing: the first state is the one at rest.  ``reason``: why it stopped early, or ""."""

    obstacle: Obstacle
    steps: tuple[Step, ...]
    reason: str


def first_reach(mesh: PlaneMesh, obstacle: Obstacle) -> float:
    """Distance of the obstacle from the axis at which it just touches the section at rest, mm."""
    return obstacle.first_touch(edge_points(mesh.nodes, mesh.outer, SPOTS).reshape(-1, 2))


def press(
    assembly: Assembly,
    obstacle: Obstacle,
    travels: Sequence[float],
    *,
    spring: float = FOR_FORCE,
    past_collapse: bool = False,
    told: Callable[[float], None] | None = None,
) -> Pressed:
    """Press to each of ``travels`` (mm after first touch, rising) in turn; the bore stays where it is.

    ``spring`` over mu of the rubber, per mm: 60 is enough for forces, 600 for contact pressure.  ``told`` is
    called with the share done.  A step that does not balance is halved, five times at most; then the curve
    ends there with its reason, as it does two states after a collapse unless ``past_collapse``.  Steps put
    between are left out of the answer.
    """
    skin, reach = skin_of(assembly.mesh), first_reach(assembly.mesh, obstacle)
    if reach == -np.inf:
        raise ValueError("the obstacle passes the section by")
    stiffness = spring * assembly.groups[0].law.mu
    rest = Step(
        travel=0.0, force=0.0, u=np.zeros(assembly.size), pressure=np.zeros(len(skin.length)),
        least_volume=1.0, rounds=0,
    )  # fmt: skip
    steps, before, now = [rest], rest, rest
    for number, travel in enumerate(travels, start=1):
        found, reason = _reached(assembly, skin, obstacle, reach, stiffness, (before, now), travel)
        if found is None:
            return Pressed(obstacle=obstacle, steps=tuple(steps), reason=reason)
        before, now = found
        steps.append(now)
        if told is not None:
            told(number / len(travels))
        peak = first_peak([step.force for step in steps])
        if peak is not None and not past_collapse and len(steps) > peak + AFTER_PEAK:
            why = f"ends after its collapse at {steps[peak].travel:.3g} mm: what follows is rough"
            return Pressed(obstacle=obstacle, steps=tuple(steps), reason=why)
    return Pressed(obstacle=obstacle, steps=tuple(steps), reason="")


def first_peak(loads: Sequence[float]) -> int | None:
    """Which load is the first to be followed by one more than 1 % less, after having risen; None without."""
    for number in range(1, len(loads) - 1):
        if loads[number + 1] < (1 - FALLS) * loads[number] and loads[number] > loads[number - 1]:
            return number
    return None


def _reached(
    assembly: Assembly, skin: Skin, obstacle: Obstacle, reach: float, spring: float, last: tuple[Step, Step],
    travel: float,
) -> tuple[tuple[Step, Step] | None, str]:  # fmt: skip
    """The states before and at ``travel``, by as many steps between as it needs; or why it is not reached."""
    before, now = last
    part, halved, why = travel - now.travel, 0, ""
    while now.travel < travel - 1e-12:
        aim, snapped = min(travel, now.travel + part), False
        found, why = _balanced(assembly, skin, obstacle, reach, spring, (before, now), aim)
        if found is None:
            found, why = _relaxed(assembly, skin, obstacle, reach, spring, now, aim)
            snapped = found is not None
        if found is None:
            halved += 1
            if halved > MOST_HALVED:
                return None, f"stopped at {now.travel:.3g} mm of {travel:.3g} mm: {why}"
            part /= 2
            continue
        # where it has snapped, the way it came says nothing of the way on
        snapped = snapped and found.force < SNAPS * now.force
        before, now = (found if snapped else now), found
    return (before, now), ""


def _balanced(
    assembly: Assembly, skin: Skin, obstacle: Obstacle, reach: float, spring: float, last: tuple[Step, Step],
    travel: float,
) -> tuple[Step | None, str]:  # fmt: skip
    """Newton's method at one travel, from where the last two states lead."""
    before, now = last
    u, first = now.u.copy(), np.inf
    if now.travel > before.travel:
        ahead = u + (travel - now.travel) / (now.travel - before.travel) * (now.u - before.u)
        if forces(assembly, ahead, stiff=False)[2] > 0:
            u = ahead
    for rounds in range(1, MOST_ROUNDS + 1):
        inner, entries, least = forces(assembly, u)
        if not least > 0:
            return None, "the rubber would be turned inside out"
        met = _touched(assembly, skin, u, obstacle, reach - travel, spring)
        left = (inner + met.residual)[assembly.free]
        if rounds > 1 and _is_balanced(assembly, left, met.force):
            return (
                Step(
                    travel=travel, force=met.force, u=u, pressure=met.pressure, least_volume=least,
                    rounds=rounds,
                ),
                "",
            )  # fmt: skip
        size = float(np.linalg.norm(left))
        first = size if rounds == 1 else first
        if rounds >= HOPELESS_AFTER and size > HOPELESS * first:
            break
        move = _solved(assembly, entries, met, left)
        if not np.all(np.isfinite(move)):
            return None, "the stiffness is singular"
        u = _moved(assembly, u, move)
    return None, f"no balance after {rounds} rounds; rubber that folds or buckles does that"


def _relaxed(
    assembly: Assembly, skin: Skin, obstacle: Obstacle, reach: float, spring: float, now: Step, travel: float
) -> tuple[Step | None, str]:  # fmt: skip
    """Balance where Newton's way is lost: a web snaps to its next stable shape, as if through thick oil.

    Each round adds a drag to every node that falls as the balance nears; what is reached is a minimum of
    energy, so a stable state.  Pseudo-transient continuation, after Kelley and Keyes 1998 (from memory).
    """
    u, drag = now.u.copy(), DRAG * assembly.groups[0].law.mu
    mass = _node_areas(assembly)[assembly.free]
    last = np.inf
    for rounds in range(1, MOST_RELAXED + 1):
        inner, entries, least = forces(assembly, u)
        if not least > 0:
            return None, "the rubber would be turned inside out"
        met = _touched(assembly, skin, u, obstacle, reach - travel, spring)
        left = (inner + met.residual)[assembly.free]
        if rounds > 1 and _is_balanced(assembly, left, met.force):
            return (
                Step(
                    travel=travel, force=met.force, u=u, pressure=met.pressure, least_volume=least,
                    rounds=rounds,
                ),
                "",
            )  # fmt: skip
        size = float(np.linalg.norm(left))
        drag *= 0.4 if size < last else 2.5
        last = size
        move = _solved(assembly, entries, met, left, drag * mass)
        if not np.all(np.isfinite(move)):
            return None, "the stiffness is singular"
        u = _moved(assembly, u, move)
    return None, f"no stable shape found in {MOST_RELAXED} rounds; rubber that folds on itself does that"


def _node_areas(assembly: Assembly) -> Floats:
    """(size,) a share of its triangles' area for every displacement, 0 for pressures, mm2."""
    total = np.zeros(assembly.size)
    for group in assembly.groups:
        share = np.repeat(group.w.sum(axis=1)[:, None] / 6, 12, axis=1)
        total += np.bincount(group.dofs[:, :12].ravel(), weights=share.ravel(), minlength=assembly.size)
    return total


def _touched(
    assembly: Assembly, skin: Skin, u: Floats, obstacle: Obstacle, reach: float, spring: float
) -> Touch:
    mesh = assembly.mesh
    nodes = mesh.nodes + u[: 2 * len(mesh.nodes)].reshape(-1, 2)
    return touch(skin, nodes, obstacle, reach, spring, assembly.size)


def _is_balanced(assembly: Assembly, left: Floats, force: float) -> bool:
    """Unbalanced forces against the push; unbalanced volume against the size of the triangles."""
    on_nodes = assembly.free < 2 * len(assembly.mesh.nodes)
    if np.abs(left[on_nodes]).max() > TOLERANCE * max(force, 1e-9):
        return False
    volume = left[~on_nodes]
    mean = float(np.mean([group.w.sum() / len(group.w) for group in assembly.groups]))
    return not len(volume) or bool(np.abs(volume).max() <= VOLUME_TOLERANCE * mean)


def _solved(
    assembly: Assembly, entries: Floats, met: Touch, left: Floats, drag: Floats | None = None
) -> Floats:
    K = assembly.matrix(entries) + met.stiffness[assembly.free][:, assembly.free]
    if drag is not None:
        from scipy.sparse import diags

        K = K + diags(drag)
    found: Floats = factorised(K).solve(-left)
    return found


def factorised(K: Any) -> Any:
    """LU factors of a symmetric matrix; quasi-definite ones (pressure unknowns too) need no pivoting."""
    from scipy.sparse.linalg import splu
    from threadpoolctl import threadpool_limits

    with threadpool_limits(1):  # its dense blocks are so small that threads only stand in each other's way
        return splu(
            K.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, relax=1, panel_size=20,
            options={"SymmetricMode": True, "Equil": False},
        )  # fmt: skip


def _moved(assembly: Assembly, u: Floats, move: Floats) -> Floats:
    """A Newton step, shortened until no triangle is turned inside out."""
    share = 1.0
    for _ in range(MOST_SHORTENED):
        ahead = u.copy()
        ahead[assembly.free] += share * move
        if forces(assembly, ahead, stiff=False)[2] > 0.02:
            break
        share /= 2
    return ahead
