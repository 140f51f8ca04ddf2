"""Limits of a bed: each rule one function, in plain words, with the number that works."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from itertools import combinations
from math import sqrt

from rollergen.errors import Complaint
from rollergen.spec.amounts import at_least, at_most, mm
from rollergen.spec.bed import Bed, BedRoller

BED_TABLES = frozenset({"rollers"})
MOST_ROLLERS = 200
WIDEST = 10_000.0  # mm

Rule = Callable[[Bed], Iterator[Complaint]]


def broken_bed_limits(bed: Bed, *, tables: Collection[str] = BED_TABLES) -> list[Complaint]:
    """Every limit the bed breaks; nothing is judged unless all its rollers could be read."""
    if "rollers" not in tables:
        return []
    return [complaint for rule in _RULES for complaint in rule(bed)]


def bed_warnings(bed: Bed) -> list[Complaint]:
    """What is legal but worth a second look."""
    return list(_ribbed_roller_turns(bed))


def _rollers_are_there(bed: Bed) -> Iterator[Complaint]:
    if not bed.rollers:
        yield Complaint(key="rollers", message="a bed has at least 1 roller; write a [[rollers]] table")
    if len(bed.rollers) > MOST_ROLLERS:
        yield Complaint(
            key="rollers",
            message=f"{len(bed.rollers)} rollers are too many for one bed, at most {MOST_ROLLERS}",
        )


def _roller_is_one_kind(bed: Bed) -> Iterator[Complaint]:
    for number, roller in enumerate(bed.rollers):
        if roller.profile is None and roller.diameter is None:
            yield Complaint(
                key=f"rollers[{number}].diameter",
                message='required for a smooth roller; write e.g. diameter = "92 mm", or name a profile',
            )
        if roller.profile is not None and roller.diameter is not None:
            yield Complaint(
                key=f"rollers[{number}].diameter",
                message="stands beside profile, which brings its own diameter; take one of the two out",
            )


def _names_differ(bed: Bed) -> Iterator[Complaint]:
    seen: dict[str, int] = {}
    for number, roller in enumerate(bed.rollers):
        if roller.name in seen:
            yield Complaint(
                key=f"rollers[{number}].name",
                message=f'"{roller.name}" is also the name of rollers[{seen[roller.name]}]; '
                f'write e.g. "{roller.name} {number + 1}"',
            )
        seen.setdefault(roller.name, number)


def _sized(roller: BedRoller) -> bool:
    return (roller.segment is not None) != (roller.diameter is not None)


def _axes_keep_apart(bed: Bed) -> Iterator[Complaint]:
    if len(bed.rollers) > MOST_ROLLERS:
        return
    for one, other in combinations(range(len(bed.rollers)), 2):
        a, b = bed.rollers[one], bed.rollers[other]
        if not (_sized(a) and _sized(b)):
            continue
        least, apart = a.body_radius + b.body_radius, bed.axis_distance(one, other)
        if apart <= least:
            yield Complaint(
                key=f"rollers[{other}].x",
                message=f"{mm(b.x)} puts the axis {mm(apart)} from that of {a.name}, so the bodies collide: the "
                f"radii are {mm(a.body_radius)} and {mm(b.body_radius)}; {_clear_of(a, b, least)}",
            )


def _clear_of(a: BedRoller, b: BedRoller, least: float) -> str:
    aside = sqrt(max(least**2 - (b.y - a.y) ** 2, 0.0))
    if b.x >= a.x:
        return f"write at least {at_least(a.x + aside)}"
    return f"write at most {at_most(a.x - aside)}"


def _width_holds_segments(bed: Bed) -> Iterator[Complaint]:
    if "width" not in bed.model_fields_set:
        return  # it could not be read, and is complained about where it stands
    if bed.width > WIDEST:
        yield Complaint(
            key="width", message=f"{mm(bed.width)} is wider than any bed; write at most {mm(WIDEST)}"
        )
    longest = max(
        (roller for roller in bed.rollers if roller.segment is not None),
        key=lambda roller: roller.segment.body.fitted_length if roller.segment else 0.0,
        default=None,
    )
    if longest is None or longest.segment is None:
        return
    length = longest.segment.body.fitted_length
    if bed.width < length:
        yield Complaint(
            key="width",
            message=f"{mm(bed.width)} holds not one segment of {longest.name}, {mm(length)} long on the shaft; "
            f"write at least {at_least(length, itself=True)}",
        )


def _ribbed_roller_turns(bed: Bed) -> Iterator[Complaint]:
    for number, roller in enumerate(bed.rollers):
        if roller.kind == "ribbed" and roller.rotation_speed == 0:
            yield Complaint(
                key=f"rollers[{number}].rotation_speed",
                message='a ribbed roller that stands still draws nothing in; write e.g. "90 rpm"',
            )


_RULES: tuple[Rule, ...] = (
    _rollers_are_there,
    _roller_is_one_kind,
    _names_differ,
    _axes_keep_apart,
    _width_holds_segments,
    _ribbed_roller_turns,
)
