"""The gap verdict: every mate of a profile, measured against what was asked, in words with a way out."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from math import degrees, tau
from typing import Literal, cast

import numpy as np

from rollergen.errors import Complaint, ProfileError, UsageError
from rollergen.shape.outline import Floats, Outline
from rollergen.shape.roller_pair import RibbedRoller, RollerPair, pair_of
from rollergen.shape.section import Section, section_of
from rollergen.spec.profile import Mate, Profile
from rollergen.study.clearance import ribbed_gap, section_pattern
from rollergen.study.gap import gap_pattern, smooth_gap
from rollergen.study.gap_solve import Dimension, solve_clearance, solve_smooth

LIMIT_SLACK = 1e-9  # mm: a gap asked for and met exactly is met

NIP_CAUTION = (
    "in-running nip: the least gaps of ISO 13854 are for crushing and do not apply to drawing-in;"
    " a finger-wide gap between turning rollers is no protection"
)  # ISO 13854:2017, scope
RIBS_CAUTION = (
    "the rule that a nip guard may stand a few millimetres off a roller holds for smooth cylinders only;"
    " it excludes ribbed and grooved ones like these"
)  # machine-guarding guidance on drawing-in points of cylinders (teaching slides); no clause number known
WORK_CAUTION = (
    "guard the rollers before they run; stop and lock out before clearing; reversing does not remove the"
    " nip; local law and codes decide, this report does not"
)  # common practice, no source

KEYS: dict[str, Dimension] = {
    "axis_distance": "axis_distance",
    "ribs.height": "rib_height",
    "rib_height": "rib_height",
    "body.diameter": "body_diameter",
    "body_diameter": "body_diameter",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class GapReport:
    """How our roller clears one mate, as cast (mm, deg).

    ``tip_gap_mm``: rib tip to a smooth mate, or the least clearance in space to a ribbed one over every
    phase its drive brings; negative is interference.  ``any_phase_gap_mm``: the same if the drive loses
    its timing.  ``least``/``greatest``: over a full rotation and the length, ``*_at`` = (rotation_deg,
    z_mm).  ``window_*``: the opening between two ribs; ``floor_length_mm`` the part of it where the body
    is nearest (None for a ribbed mate).  ``rib_period_mm`` is None for straight ribs.  ``ok`` judges the
    nominal gap against the limits that were given; without any it judges interference.
    """

    mate: str
    kind: Literal["smooth", "ribbed"]
    tip_gap_mm: float
    any_phase_gap_mm: float
    body_gap_mm: float
    least_gap_mm: float
    least_at: tuple[float, float]
    greatest_gap_mm: float
    greatest_at: tuple[float, float]
    rib_passings_per_turn: int
    mate_rib_passings_per_turn: float
    rib_period_mm: float | None
    window_height_mm: float
    window_length_mm: float
    floor_length_mm: float | None
    least_tip_gap_mm: float | None
    most_body_gap_mm: float | None
    ok: bool
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GapMap:
    """The gap to one mate over height and rotation: ``gap`` (len(z), len(rotation)), mm and rad."""

    mate: str
    meaning: str
    z: Floats
    rotation: Floats
    gap: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class GapSolution:
    """The dimension that gives an asked tip gap: its key, its value (mm), the mate that rules it."""

    key: str
    value_mm: float
    mate: str
    tip_gap_mm: float


def check_gap(profile: Profile, section: Section) -> tuple[GapReport, ...]:
    """Gap to every mate of the profile, in its order.

    ProfileError when an axis distance leaves no room for the bodies, or a mate lies past our length.
    """
    reports: list[GapReport] = []
    complaints: list[Complaint] = []
    for number, mate in enumerate(profile.mates):
        try:
            of_kind = _smooth if mate.ribbed is None else _ribbed
            reports.append(_judged(of_kind(profile, section, mate), profile))
        except ValueError as trouble:
            complaints.append(Complaint(key=f"mates[{number}].{_key_of(trouble)}", message=str(trouble)))
    if complaints:
        raise ProfileError(complaints)
    return tuple(reports)


def misses_of(profile: Profile, section: Section) -> tuple[str, ...]:
    """What of the gaps asked for is not met, in words; smooth mates by closed form, without windows or places."""
    missed: list[str] = []
    for mate in profile.mates:
        if mate.kind == "ribbed":
            missed += _judged(_ribbed(profile, section, mate), profile).reasons
            continue
        tip, body = (
            mate.axis_distance - _radius(mate) - r for r in (profile.tip_radius, profile.body_radius)
        )
        least = mate.least_tip_gap if mate.least_tip_gap is not None else 0.0
        if tip < least - LIMIT_SLACK:
            missed.append(f"gap to {mate.name} {tip:.4g} mm, asked {least:.4g} mm")
        if mate.most_body_gap is not None and body > mate.most_body_gap + LIMIT_SLACK:
            missed.append(f"body gap to {mate.name} {body:.4g} mm, at most {mate.most_body_gap:.4g} mm asked")
    return tuple(missed)


def map_gap(
    profile: Profile, section: Section, mate: Mate, *, heights: int = 121, rotations: int = 181
) -> GapMap:
    """The pattern gap(z, rotation) to one mate over its length and one turn, for a picture or as data."""
    z = np.linspace(0.0, profile.body.free_length, heights)
    rotation = np.linspace(0.0, tau, rotations)
    if mate.ribbed is None:
        return GapMap(
            mate=mate.name,
            meaning="distance to the smooth mate",
            z=z,
            rotation=rotation,
            gap=gap_pattern(
                section.outer,
                count=_count(profile),
                turn_per_mm=profile.turn_per_mm,
                axis_distance=mate.axis_distance,
                mate_radius=_radius(mate),
                height=mate.height,
                z=z,
                rotation=rotation,
            ),
        )
    pair = _pair(_roller(profile, section.outer), mate)
    first, last = pair.common
    z = np.linspace(first, last, heights)
    gap = section_pattern(pair, z=z, rotation=rotation, phase=mate.phase, speed_ratio=mate.speed_ratio)
    return GapMap(
        mate=mate.name,
        meaning="distance inside each section plane, an upper bound of the clearance",
        z=z,
        rotation=rotation,
        gap=gap,
    )


def solve_gap(profile: Profile, key: str, target: float, *, mate: str | None = None) -> GapSolution:
    """The axis distance, rib height or body diameter that gives a tip gap of ``target`` (mm).

    ``key``: ``mates[0].axis_distance`` (or ``axis_distance`` with one mate or ``mate`` named),
    ``ribs.height``, ``body.diameter``.  A rib height or diameter faces every mate at once: the nearest
    one rules, unless ``mate`` names one.  Whether the rest of the profile allows the value is for the
    limits to say when it is written in.  UsageError, with numbers, when it cannot be done.
    """
    index = re.fullmatch(r"mates\[(\d+)\]\.axis_distance", key)
    dimension = "axis_distance" if index else KEYS.get(key)
    if dimension is None:
        raise UsageError(
            f"cannot solve for {key}: choose mates[0].axis_distance, ribs.height or body.diameter"
        )
    if dimension != "axis_distance" and profile.ribs is None and dimension == "rib_height":
        raise UsageError(f"{profile.name} has no ribs, so no rib height gives a gap; solve for body.diameter")
    numbers = [
        number
        for number, m in enumerate(profile.mates)
        if (mate is None or m.name == mate) and (index is None or int(index[1]) == number)
    ]
    if not numbers:
        known = ", ".join(m.name for m in profile.mates) or "none"
        raise UsageError(f"no such mate to solve {key} for; mates of {profile.name}: {known}")
    if dimension == "axis_distance" and len(numbers) > 1:
        raise UsageError(f"{profile.name} has {len(numbers)} mates: say which, as mates[0].axis_distance")
    solutions = [_solve_one(profile, dimension, target, number) for number in numbers]
    return min(solutions, key=lambda solution: solution.value_mm)


def cautions_for(profile: Profile) -> tuple[str, ...]:
    """What every report that names a gap must say beside it."""
    ribbed = profile.ribs is not None or any(m.ribbed is not None for m in profile.mates)
    return (NIP_CAUTION, RIBS_CAUTION, WORK_CAUTION) if ribbed else (NIP_CAUTION, WORK_CAUTION)


def _smooth(profile: Profile, section: Section, mate: Mate) -> GapReport:
    gap = smooth_gap(
        section.outer,
        count=_count(profile),
        turn_per_mm=profile.turn_per_mm,
        length=profile.body.free_length,
        body_radius=profile.body_radius,
        tip_radius=profile.tip_radius,
        mate_radius=_radius(mate),
        axis_distance=mate.axis_distance,
        height=mate.height,
    )
    return GapReport(
        mate=mate.name,
        kind="smooth",
        tip_gap_mm=gap.tip_gap,
        any_phase_gap_mm=gap.tip_gap,
        body_gap_mm=gap.body_gap,
        least_gap_mm=gap.least,
        least_at=(degrees(gap.least_at[0]), gap.least_at[1]),
        greatest_gap_mm=gap.greatest,
        greatest_at=(degrees(gap.greatest_at[0]), gap.greatest_at[1]),
        rib_passings_per_turn=gap.rib_passings_per_turn,
        mate_rib_passings_per_turn=0.0,
        rib_period_mm=_finite(gap.rib_period),
        window_height_mm=gap.window_height,
        window_length_mm=gap.window_length,
        floor_length_mm=gap.floor_length,
        least_tip_gap_mm=mate.least_tip_gap,
        most_body_gap_mm=mate.most_body_gap,
        ok=True,
        reasons=(),
        cautions=(),
    )


def _ribbed(profile: Profile, section: Section, mate: Mate) -> GapReport:
    pair = _pair(_roller(profile, section.outer), mate)
    gap = ribbed_gap(pair, phase=mate.phase, speed_ratio=mate.speed_ratio)
    return GapReport(
        mate=mate.name,
        kind="ribbed",
        tip_gap_mm=gap.least,
        any_phase_gap_mm=gap.any_phase,
        body_gap_mm=gap.body_gap,
        least_gap_mm=gap.least,
        least_at=(degrees(gap.closest.rotation), gap.closest.z),
        greatest_gap_mm=gap.greatest,
        greatest_at=(degrees(gap.greatest_at[0]), gap.greatest_at[1]),
        rib_passings_per_turn=gap.rib_passings_per_turn,
        mate_rib_passings_per_turn=gap.mate_rib_passings_per_turn,
        rib_period_mm=_finite(gap.rib_period),
        window_height_mm=gap.window_height,
        window_length_mm=gap.window_length,
        floor_length_mm=None,
        least_tip_gap_mm=mate.least_tip_gap,
        most_body_gap_mm=mate.most_body_gap,
        ok=True,
        reasons=(),
        cautions=(),
    )


def _judged(report: GapReport, profile: Profile) -> GapReport:
    tip, body = report.tip_gap_mm, report.body_gap_mm
    asked, most = report.least_tip_gap_mm, report.most_body_gap_mm
    where = f"at rotation {report.least_at[0]:.1f} deg"
    lower = " or lower the ribs" if profile.ribs else " or take a smaller body"
    reasons = []
    if asked is not None and tip < asked - LIMIT_SLACK:
        reasons.append(
            f"gap to {report.mate} {tip:.4g} mm {where}, asked {asked:.4g} mm;"
            f" move the axes {asked - tip:.4g} mm apart{lower}"
        )
    elif asked is None and tip < -LIMIT_SLACK:
        reasons.append(
            f"gap to {report.mate} {tip:.4g} mm {where}: they run into each other;"
            f" move the axes at least {-tip:.4g} mm apart{lower}"
        )
    if most is not None and body > most + LIMIT_SLACK:
        reasons.append(
            f"body gap to {report.mate} {body:.4g} mm, at most {most:.4g} mm asked;"
            f" move the axes {body - most:.4g} mm closer or take a body {2 * (body - most):.4g} mm thicker"
        )
    return replace(report, ok=not reasons, reasons=tuple(reasons), cautions=cautions_for(profile))


def _solve_one(profile: Profile, dimension: Dimension, target: float, number: int) -> GapSolution:
    mate = profile.mates[number]
    height = profile.ribs.height if profile.ribs else 0.0
    facing = mate.ribbed.tip_radius if mate.ribbed else _radius(mate)
    key = {
        "axis_distance": f"mates[{number}].axis_distance",
        "rib_height": "ribs.height",
        "body_diameter": "body.diameter",
    }[dimension]
    try:
        value = solve_smooth(
            dimension,
            target,
            body_radius=profile.body_radius,
            rib_height=height,
            mate_radius=facing,
            axis_distance=mate.axis_distance,
        )
        if mate.ribbed is not None:
            body = mate.ribbed.body_radius
            limit = {
                "axis_distance": profile.body_radius + body,
                "rib_height": mate.axis_distance - profile.body_radius - body,
                "body_diameter": 2 * (mate.axis_distance - body),
            }[dimension]
            now = {
                "axis_distance": mate.axis_distance,
                "rib_height": height,
                "body_diameter": profile.body.diameter,
            }[dimension]
            gap_of = _clearance_of(profile, dimension, number)
            value = solve_clearance(gap_of, target, now=now, safe=value, limit=limit)
    except ValueError as trouble:
        raise UsageError(f"{key} for a tip gap of {target:g} mm to {mate.name}: {trouble}") from trouble
    return GapSolution(key=key, value_mm=value, mate=mate.name, tip_gap_mm=target)


def _clearance_of(profile: Profile, dimension: Dimension, number: int) -> Callable[[float], float | None]:
    """True worst clearance to one ribbed mate as a function of one dimension (mm); None: cannot be built."""

    def clearance(value: float) -> float | None:
        changed = _with_dimension(profile, dimension, value, number)
        mate = changed.mates[number]
        if mate.ribbed is None or value <= 0.0:
            return None
        if mate.axis_distance <= changed.body_radius + mate.ribbed.body_radius:
            return None
        try:
            outline = section_of(changed).outer
        except ProfileError:
            return None  # the search reports how far it got, with numbers
        pair = _pair(_roller(changed, outline), mate)
        return ribbed_gap(pair, phase=mate.phase, speed_ratio=mate.speed_ratio).least

    return clearance


def _with_dimension(profile: Profile, dimension: Dimension, value: float, number: int) -> Profile:
    if dimension == "axis_distance":
        moved = profile.mates[number].model_copy(update={"axis_distance": value})
        mates = (*profile.mates[:number], moved, *profile.mates[number + 1 :])
        return profile.model_copy(update={"mates": mates})
    if dimension == "rib_height" and profile.ribs is not None:
        return profile.model_copy(update={"ribs": profile.ribs.model_copy(update={"height": value})})
    return profile.model_copy(update={"body": profile.body.model_copy(update={"diameter": value})})


def _pair(ours: RibbedRoller, mate: Mate) -> RollerPair:
    other = cast(Profile, mate.ribbed)
    return pair_of(
        ours,
        _roller(other, section_of(other).outer),
        axis_distance=mate.axis_distance,
        height=mate.height,
        z_offset=mate.z_offset,
    )


def _roller(profile: Profile, outline: Outline) -> RibbedRoller:
    return RibbedRoller(
        outline=outline,
        count=_count(profile),
        turn_per_mm=profile.turn_per_mm,
        length=profile.body.free_length,
        body_radius=profile.body_radius,
        tip_radius=profile.tip_radius,
    )


def _count(profile: Profile) -> int:
    return profile.ribs.count if profile.ribs else 0


def _radius(mate: Mate) -> float:
    if mate.diameter is None:
        raise ValueError(f"{mate.name} cannot be judged: the mate has neither diameter nor profile")
    return mate.diameter / 2


def _key_of(trouble: ValueError) -> str:
    """The key of a mate that a study's refusal is about."""
    said = str(trouble)
    return (
        "z_offset"
        if said.startswith("z_offset")
        else "height"
        if "above or below" in said
        else "axis_distance"
    )


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None
