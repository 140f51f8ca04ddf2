"""What a profile does with a duty: the grip study, and whether the crop stays whole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rollergen.answer.duty_items import Running, items_for, pair_for, smooth_mate_of
from rollergen.answer.item_verdict import GripReport, grip
from rollergen.answer.report import Drawn
from rollergen.shape.outline import Floats
from rollergen.shape.touching_mate import Pair
from rollergen.spec.duty import Duty
from rollergen.spec.trace import Figure
from rollergen.study.grip import Band, friction_needed
from rollergen.study.grip_map import GripMap, grip_map

PLAIN_FRICTION: Band = (0.3, 0.7)  # what is told without a duty: dry crop and stones on rubber lie in it
MAP_SIZES, MAP_TOP = 60, 1.4  # diameters of a map, up to this many times the largest grip size

CAUTIONS = (
    "the study says what a pair CAN seize, one round body at a time; films of water, crowding, ribs that bend"
    " and bodies that bounce are not in it",
    "friction is the weakest input: measure it on your crop, soil and compound before steel is cut",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class GripVerdict:
    """``ok``: no crop of the duty can be seized (True without a duty).  ``words`` say what happens to each."""

    profile: str
    mate: str
    duty: str | None
    ok: bool
    words: tuple[str, ...]
    cautions: tuple[str, ...]
    report: GripReport


def judge_grip(
    drawn: Drawn,
    duty: Duty | None,
    running: Running,
    *,
    mate: str | None = None,
    stiffness: float | None = None,
) -> GripVerdict:
    """The verdict for one smooth mate; ``stiffness`` in N/mm adds forces.  Raises ProfileError, UsageError."""
    number, neighbour = smooth_mate_of(drawn.profile, mate)
    pair = pair_for(drawn, number, neighbour, running)
    report = grip(
        pair,
        items_for(duty) if duty is not None else (),
        speed_rpm=running.speed_rpm,
        friction=PLAIN_FRICTION,
        stiffness=stiffness,
    )
    return GripVerdict(
        profile=drawn.profile.name,
        mate=neighbour.name,
        duty=duty.name if duty is not None else None,
        ok=all(item.ok is True for item in report.items if item.keep),
        words=tuple(dict.fromkeys(word for item in report.items for word in item.words)),
        cautions=CAUTIONS,
        report=report,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """Friction needed (n,) over diameter (n,) mm, inf where none seizes; ``name`` is the profile's."""

    name: str
    diameter: Floats
    friction: Floats


def curve_of(pair: Pair, name: str, diameter: Floats) -> Curve:
    """The grip curve where ribs descend: every friction is read off one line."""
    return Curve(name=name, diameter=diameter, friction=friction_needed(pair, diameter))


def chart_of(pair: Pair, report: GripReport) -> GripMap:
    """The map of the side where ribs descend, over all diameters that matter for the report."""
    top = MAP_TOP * max(report.descending.grip_size_mm[1], report.body_gap_mm, 1.0)
    low = max(pair.tip_gap, 0.02 * top)
    return grip_map(pair, np.linspace(low, max(top, 2 * low), MAP_SIZES))


FIGURES = (
    Figure(
        key="words",
        words="what happens to each item, in words",
        formula="from the figures beside them",
        source="grip study",
        limits="one round body at a time",
        unit="-",
    ),
)
