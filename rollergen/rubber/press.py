"""Press a section step by step and follow how it gives: the load, the shape, and why it stopped."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollergen.rubber.contact import FOR_FORCE
from rollergen.rubber.elements import Assembly, forces
from rollergen.rubber.newton import Meeting, Step, first_reach, meeting_of, newton, one_thread
from rollergen.rubber.obstacle import Obstacle
from rollergen.rubber.settle import settled

__all__ = ["Pressed", "Step", "first_peak", "first_reach", "press"]

Floats = NDArray[np.float64]

FALLS = 0.01  # of the load by which it must fall after a peak to be a collapse
AFTER_PEAK = 2  # states followed after a collapse
SNAPS = 0.97  # of the load before: less after settling is a snap to another shape
MOST_HALVED = 3  # halvings of a step of travel before giving up


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pressed:
    """What came of pressing: the first state is the one at rest.  ``reason``: why it stopped early, or ""."""

    obstacle: Obstacle
    steps: tuple[Step, ...]
    reason: str


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
    called with the share done.  Every state is one that keeps: where Newton's method finds none, the rubber
    settles downhill from the last one, as a web does that snaps.  A step that fails both ways is halved, three
    times at most; then the curve ends there with its reason, as it does two states after a collapse unless
    ``past_collapse``.  Steps put between are left out of the answer.

    Raises ValueError for travels that do not rise from 0 or an obstacle that passes the section by.
    """
    if any(b < a for a, b in zip((0.0, *travels), travels, strict=False)):
        raise ValueError("travels must rise from 0")
    meeting = meeting_of(assembly, obstacle, spring)
    rest = Step(
        travel=0.0, force=0.0, u=np.zeros(assembly.size), pressure=np.zeros(len(meeting.skin.length)),
        least_volume=1.0, rounds=0,
    )  # fmt: skip
    with one_thread():
        return _pressed(meeting, rest, travels, past_collapse=past_collapse, told=told)


def _pressed(
    meeting: Meeting,
    rest: Step,
    travels: Sequence[float],
    *,
    past_collapse: bool,
    told: Callable[[float], None] | None,
) -> Pressed:
    steps, before, now, obstacle = [rest], rest, rest, meeting.obstacle
    for number, travel in enumerate(travels, start=1):
        found, reason = _reached(meeting, before, now, travel)
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
    """Which load is the greatest up to where they have fallen by more than 1 % of it; None where they never do."""
    top = 0
    for number, load in enumerate(loads):
        if load > loads[top]:
            top = number
        elif top > 0 and load < (1 - FALLS) * loads[top]:
            return top
    return None


def _reached(
    meeting: Meeting, before: Step, now: Step, travel: float
) -> tuple[tuple[Step, Step] | None, str]:
    """The states before and at ``travel``, by as many steps between as it needs; or why it is not reached."""
    part, halved = travel - now.travel, 0
    while now.travel < travel - 1e-12:
        aim, snapped = min(travel, now.travel + part), False
        ahead = _ahead(meeting.assembly, before, now, aim)
        found, why = newton(meeting, ahead, aim)
        if found is None:
            found, why = settled(meeting, (now.u, ahead), aim)
            snapped = found is not None and found.force < SNAPS * now.force
        if found is None:
            halved += 1
            if halved > MOST_HALVED:
                return None, f"stopped at {now.travel:.3g} mm of {travel:.3g} mm: {why}"
            part /= 2
            continue
        # where it has snapped, the way it came says nothing of the way on
        before, now = (found if snapped else now), found
    return (before, now), ""


def _ahead(assembly: Assembly, before: Step, now: Step, travel: float) -> Floats:
    """The unknowns the last two states lead to at ``travel``; the last ones where that would fold rubber."""
    if not now.travel > before.travel:
        return now.u
    ahead = now.u + (travel - now.travel) / (now.travel - before.travel) * (now.u - before.u)
    return ahead if forces(assembly, ahead, stiff=False)[2] > 0 else now.u
