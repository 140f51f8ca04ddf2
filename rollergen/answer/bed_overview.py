"""Every neighbour gap of a bed at once, worst first, with the nips its rollers make and how fast they run."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from itertools import combinations
from math import hypot, tau
from typing import Any, Literal

from rollergen.answer.bed_nips import Nip, nips_between
from rollergen.answer.gap_verdict import (
    LIMIT_SLACK,
    NIP_CAUTION,
    RIBS_CAUTION,
    WORK_CAUTION,
    check_gap,
)
from rollergen.errors import Complaint, ProfileError
from rollergen.shape.section import Section, section_of
from rollergen.spec.bed import Bed, BedRoller
from rollergen.spec.bed_limits import broken_bed_limits
from rollergen.spec.profile import Mate, Profile
from rollergen.spec.trace import Figure

SAME_DIAMETER = 1e-6  # mm: a mate of the profile is this neighbour when its diameter is that close

PairKind = Literal["smooth-smooth", "ribbed-smooth", "ribbed-ribbed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PairGap:
    """Two neighbours, ``left`` and ``right`` by x (mm, mm/s); ``numbers`` are theirs in the bed, from 0.

    ``tip_gap_mm``: rib tip to a smooth neighbour by closed form; between two ribbed rollers the least
    clearance in space over every phase their speeds bring, and ``any_phase_gap_mm`` if the drive loses
    its timing.  Where the speeds of two ribbed rollers are not given the tip gap is that of any phase.
    Negative is interference.  ``least_tip_gap_mm``, ``most_body_gap_mm``: what a profile asks of a mate
    like this neighbour, None where none is written.  ``nips`` is None where a rotation speed is not
    given.  ``passing_speed_mm_s``: how fast the facing surfaces pass each other.
    """

    left: str
    right: str
    numbers: tuple[int, int]
    kind: PairKind
    axis_distance_mm: float
    tip_gap_mm: float
    any_phase_gap_mm: float
    body_gap_mm: float
    least_tip_gap_mm: float | None
    most_body_gap_mm: float | None
    ok: bool
    reasons: tuple[str, ...]
    nips: tuple[Nip, ...] | None
    passing_speed_mm_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RollerSpeed:
    """How one roller turns: signed as in the bed, counter-clockwise seen from +z positive; None if not given."""

    name: str
    kind: Literal["smooth", "ribbed"]
    rotation_speed_rpm: float | None
    body_speed_mm_s: float | None
    tip_speed_mm_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BedOverview:
    """A whole bed: its neighbour gaps worst first, its rollers from left to right, the cautions that go with it.

    Worst first: pairs that fail come before those that pass, each group by tip gap.
    """

    bed: str
    width_mm: float
    pairs: tuple[PairGap, ...]
    rollers: tuple[RollerSpeed, ...]
    cautions: tuple[str, ...]

    @property
    def ok(self) -> bool:
        """No interference, and every gap that a profile asks for is met."""
        return all(pair.ok for pair in self.pairs)

    @property
    def entry(self) -> dict[str, Any]:
        """What a report says of the bed: plain numbers, never rounded."""
        return {**asdict(self), "ok": self.ok}


def overview(bed: Bed) -> BedOverview:
    """Every neighbour gap of the bed, as cast, with nips and surface speeds.

    Judged on one segment of each roller, both from z = 0; joints further along a roller may stand in
    another phase, which ``any_phase_gap_mm`` covers.  Raises ProfileError, by ``rollers[n].x`` and with
    numbers, when bodies overlap (neighbours or not) or another limit of the bed is broken, and when a
    profile has no section.
    """
    complaints = broken_bed_limits(bed)
    if complaints:
        raise ProfileError(complaints)
    known = _Known(sections=_sections_of(bed), gaps={})
    pairs = [_pair_gap(bed, left, right, known) for left, right in near_pairs(bed)]
    # rounded, so that equal gaps stay from left to right whatever the last bit of the axis distance is
    pairs.sort(key=lambda pair: (pair.ok, round(pair.tip_gap_mm, 9), bed.rollers[pair.numbers[0]].x))
    row = sorted(bed.rollers, key=lambda roller: (roller.x, roller.y))
    ribbed = any(roller.kind == "ribbed" for roller in bed.rollers)
    return BedOverview(
        bed=bed.name,
        width_mm=bed.width,
        pairs=tuple(pairs),
        rollers=tuple(_speed_of(roller) for roller in row),
        cautions=(NIP_CAUTION, RIBS_CAUTION, WORK_CAUTION) if ribbed else (NIP_CAUTION, WORK_CAUTION),
    )


def near_pairs(bed: Bed) -> tuple[tuple[int, int], ...]:
    """Numbers of the rollers that face each other, left one first.

    Those side by side in the row, and, for rollers in several rows, any other two with no third axis
    inside the circle over their own axes and nearer, tip to tip, than the larger one's tip diameter.
    """
    row = list(bed.neighbours)
    others = (
        (one, other) if (bed.rollers[one].x, bed.rollers[one].y) <= (bed.rollers[other].x, bed.rollers[other].y)
        else (other, one)
        for one, other in combinations(range(len(bed.rollers)), 2)
    )  # fmt: skip
    return (*row, *(pair for pair in others if pair not in row and _face_each_other(bed, *pair)))


def _face_each_other(bed: Bed, one: int, other: int) -> bool:
    a, b = bed.rollers[one], bed.rollers[other]
    apart = bed.axis_distance(one, other)
    if apart - a.tip_radius - b.tip_radius >= 2 * max(a.tip_radius, b.tip_radius):
        return False
    middle = ((a.x + b.x) / 2, (a.y + b.y) / 2)
    return all(
        hypot(third.x - middle[0], third.y - middle[1]) >= apart / 2
        for number, third in enumerate(bed.rollers)
        if number not in (one, other)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What one overview has worked out so far: sections by profile, gaps by everything they hang on."""

    sections: dict[Profile, Section]
    gaps: dict[tuple[object, ...], float]


def _sections_of(bed: Bed) -> dict[Profile, Section]:
    """Sections of all profiles, by profile without its mates; complaints by the first roller that has it."""
    sections: dict[Profile, Section] = {}
    complaints: list[Complaint] = []
    for number, roller in enumerate(bed.rollers):
        plain = _without_mates(roller.segment) if roller.segment is not None else None
        if plain is None or plain in sections:
            continue
        try:
            sections[plain] = section_of(plain)
        except ProfileError as wrong:
            complaints += [
                Complaint(key=f"rollers[{number}].profile", message=f"{plain.name}: {c.key}: {c.message}")
                for c in wrong.complaints
            ]
    if complaints:
        raise ProfileError(complaints)
    return sections


def _without_mates(profile: Profile) -> Profile:
    return profile.model_copy(update={"mates": ()})


def _pair_gap(bed: Bed, left: int, right: int, known: _Known) -> PairGap:
    a, b = bed.rollers[left], bed.rollers[right]
    apart = bed.axis_distance(left, right)
    ribbed = [roller.kind for roller in (a, b)].count("ribbed")
    body = apart - a.body_radius - b.body_radius
    any_phase = apart - a.tip_radius - b.tip_radius
    tip = any_phase if ribbed == 0 else _checked_gap(a, b, apart, known)
    least, most = _asked(a, b)
    reasons = tuple(_misses(a, b, tip, body, least, most))
    passing = None
    if a.rotation_speed is not None and b.rotation_speed is not None:
        passing = abs(a.rotation_speed * a.tip_radius + b.rotation_speed * b.tip_radius)
    kinds: tuple[PairKind, ...] = ("smooth-smooth", "ribbed-smooth", "ribbed-ribbed")
    return PairGap(
        left=a.name,
        right=b.name,
        numbers=(left, right),
        kind=kinds[ribbed],
        axis_distance_mm=apart,
        tip_gap_mm=tip,
        any_phase_gap_mm=any_phase,
        body_gap_mm=body,
        least_tip_gap_mm=least,
        most_body_gap_mm=most,
        ok=not reasons,
        reasons=reasons,
        nips=nips_between(a, b),
        passing_speed_mm_s=passing,
    )


def _checked_gap(a: BedRoller, b: BedRoller, apart: float, known: _Known) -> float:
    """Tip gap of a pair with ribs, by the gap verdict of a profile with this neighbour as its only mate."""
    turned_round = a.kind != "ribbed"
    # a mate lies to the right of ours: where only the right one has ribs, the picture is turned by half a
    # turn, which leaves the height between the axes as it is
    ours, other = (b, a) if turned_round else (a, b)
    assert ours.segment is not None  # a ribbed roller has one
    ratio, phase = 1.0, 0.0
    if other.kind == "ribbed":
        if ours.rotation_speed is None or other.rotation_speed is None:
            return apart - a.tip_radius - b.tip_radius  # no drive known that would keep the ribs apart
        ratio = -other.rotation_speed / ours.rotation_speed
        phase = (other.phase + ratio * ours.phase) % tau
    mate = _mate(other, apart=apart, height=b.y - a.y, ratio=ratio, phase=phase)
    plain = _without_mates(ours.segment)
    facing = other.segment if other.kind == "ribbed" else other.body_radius
    # rounded below what anyone can build, so that a row of equal pairs is searched once
    key = (plain, facing, round(apart, 9), round(b.y - a.y, 9), round(ratio, 12), round(phase, 9))
    if key not in known.gaps:
        profile = plain.model_copy(update={"mates": (mate,)})
        known.gaps[key] = check_gap(profile, known.sections[plain])[0].tip_gap_mm
    return known.gaps[key]


def _mate(roller: BedRoller, *, apart: float, height: float, ratio: float, phase: float) -> Mate:
    """The neighbour as a mate, from numbers that were validated with the bed."""
    ribbed = roller.kind == "ribbed"
    return Mate.model_construct(
        name=roller.name,
        kind=roller.kind,
        diameter=None if ribbed else 2 * roller.body_radius,
        profile=None,
        axis_distance=apart,
        axis_distance_tolerance=0.0,
        least_tip_gap=None,
        most_body_gap=None,
        height=height,
        speed_ratio=ratio,
        phase=phase,
        z_offset=0.0,
        ribbed=roller.segment if ribbed else None,
    )


def _asked(a: BedRoller, b: BedRoller) -> tuple[float | None, float | None]:
    """Least tip gap and most body gap that either profile asks of such a mate; the stricter where both do."""
    written = [*_mates_like(a, b), *_mates_like(b, a)]
    least = [mate.least_tip_gap for mate in written if mate.least_tip_gap is not None]
    most = [mate.most_body_gap for mate in written if mate.most_body_gap is not None]
    return max(least, default=None), min(most, default=None)


def _mates_like(ours: BedRoller, other: BedRoller) -> Iterator[Mate]:
    for mate in ours.segment.mates if ours.segment is not None else ():
        if mate.ribbed is not None and other.segment is not None and other.kind == "ribbed":
            if mate.ribbed.name == other.segment.name:
                yield mate
        elif mate.diameter is not None and other.kind == "smooth":
            if abs(mate.diameter - 2 * other.body_radius) < SAME_DIAMETER:
                yield mate


def _misses(
    a: BedRoller, b: BedRoller, tip: float, body: float, least: float | None, most: float | None
) -> Iterator[str]:
    pair = f"{a.name} and {b.name}"
    lower = "lower the ribs" if "ribbed" in (a.kind, b.kind) else "take smaller rollers"
    if least is not None and tip < least - LIMIT_SLACK:
        yield (
            f"gap between {pair} {tip:.4g} mm, asked {least:.4g} mm;"
            f" move the axes {least - tip:.4g} mm apart or {lower}"
        )
    elif tip < -LIMIT_SLACK:
        yield (
            f"gap between {pair} {tip:.4g} mm: they run into each other;"
            f" move the axes at least {-tip:.4g} mm apart or {lower}"
        )
    if most is not None and body > most + LIMIT_SLACK:
        yield (
            f"body gap between {pair} {body:.4g} mm, at most {most:.4g} mm asked;"
            f" move the axes {body - most:.4g} mm closer"
        )


def _speed_of(roller: BedRoller) -> RollerSpeed:
    speed = roller.rotation_speed
    return RollerSpeed(
        name=roller.name,
        kind=roller.kind,
        rotation_speed_rpm=roller.speed_rpm,
        body_speed_mm_s=None if speed is None else speed * roller.body_radius,
        tip_speed_mm_s=None if speed is None else speed * roller.tip_radius,
    )


_AS_CAST = "as cast, parallel axes; one segment of each roller, both from z = 0"
FIGURES = (
    Figure(
        key="axis_distance_mm",
        words="distance between the axes of two rollers of a bed",
        formula="hypot(x2 - x1, y2 - y1)",
        source="definition",
        limits="parallel axes",
        unit="mm",
    ),
    Figure(
        key="passing_speed_mm_s",
        words="speed at which the facing surfaces of two neighbours pass each other",
        formula="|w1 R1 + w2 R2|, R the tip radius",
        source="velocity of a point on a turning roller",
        limits="None where a rotation speed is not given",
        unit="mm/s",
    ),
    Figure(
        key="body_speed_mm_s",
        words="surface speed of a roller's body, counter-clockwise positive",
        formula="w x body radius",
        source="velocity of a point on a turning roller",
        limits="None where the rotation speed is not given",
        unit="mm/s",
    ),
    Figure(
        key="tip_speed_mm_s",
        words="surface speed of a roller's rib tips, counter-clockwise positive",
        formula="w x tip radius",
        source="velocity of a point on a turning roller",
        limits="None where the rotation speed is not given",
        unit="mm/s",
    ),
    Figure(
        key="rotation_speed_rpm",
        words="turns a minute, counter-clockwise seen from +z positive",
        formula="input",
        source="rollers.rotation_speed of the bed",
        limits="None where the bed does not say",
        unit="1/min",
    ),
)
