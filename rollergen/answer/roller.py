"""The roller on its shaft: which segments fill it, how the ribs meet, whether the bar carries it, what is left of the gap.

Composition of the stack, joints, shaft, balance, drive and fit studies for one profile and one width.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf, remainder, tau

import numpy as np

from rollergen.answer.fitted import Assumed, FittedGap, fitted_gaps
from rollergen.answer.gap_verdict import check_gap
from rollergen.answer.report import Drawn
from rollergen.errors import Complaint, ProfileError, UsageError
from rollergen.shape.bar import Bar
from rollergen.shape.placing import Placing
from rollergen.shape.properties import area_of, perimeter_of
from rollergen.spec.hardness import ModulusRange, modulus_range
from rollergen.spec.kinds import GRAVITY
from rollergen.spec.profile import Profile
from rollergen.spec.standard_bars import BarSection, standard_bars
from rollergen.spec.trace import Figure
from rollergen.study.balance import BalanceReport, balance, unbalances
from rollergen.study.clamp import ClampReport, clamp
from rollergen.study.drive import DriveLoad, DriveReport, Turning, axial_speed, drive, surface_speed
from rollergen.study.inertia import inertia_of
from rollergen.study.joints import JointsReport, joints
from rollergen.study.mass import weigh
from rollergen.study.shaft import (
    BarChoice,
    Loads,
    ShaftLimits,
    ShaftReport,
    Steel,
    bars_over_widths,
    bent_axis,
    deflected_gap,
    shaft,
    smallest_bar,
)
from rollergen.study.stack import Filling, Piece, StackReport, stack

CAST_ECCENTRICITY = 0.3  # mm of body to bore where nobody says; ours
END_FRICTION = (0.3, 0.6)  # rubber on steel end plates and on rubber; common practice, no source
POINTS_ALONG = 41  # where the bent shaft's gap is looked at


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a roller is asked to do beside its width (mm, N, rad/s); the defaults are printed with the answer.

    ``crop_load`` N per mm of roller; ``rib_force`` N, one force at mid span; ``rib_drag`` N, mean force along
    the rib tips; ``bow`` mm of the bare shaft; ``span`` between the bearings, None: the width.
    ``rotation_speed`` None: balance and drive are not worked out.
    """

    squeeze_band: tuple[float, float] = (0.008, 0.025)
    spacers: tuple[float, ...] = ()
    crop_load: float = 0.5
    rib_force: float = 0.0
    rib_drag: float = 0.0
    bow: float = 0.0
    span: float | None = None
    limits: ShaftLimits = field(default_factory=ShaftLimits)
    rotation_speed: float | None = None
    cast_eccentricity: float = CAST_ECCENTRICITY
    end_friction: tuple[float, float] = END_FRICTION
    rollers: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class BentGap:
    """Tip gap to one smooth mate along the bent shaft (mm): the least with the mate straight, and sagging alike.

    ``pushed_mm``: sagging alike, the rib force of a body seized on our other side pointing at this mate.
    """

    mate: str
    mate_straight_mm: float
    mate_alike_mm: float
    pushed_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RollerAnswer:
    """One roller.  ``filled`` False: joints, masses and shaft are those of the nearest width that can be filled.

    ``names``: the segments from z = 0 up.  ``places``: where each stands once squeezed.
    ``widths``: the smallest standard bar (None: none is enough) for widths from 0.6 to 3.2 m under the same loads.
    """

    profile: str
    width_mm: float
    filled: bool
    stack: StackReport
    names: tuple[str, ...]
    places: tuple[Placing, ...]
    squeeze: float
    modulus: ModulusRange | None
    clamp: ClampReport | None
    joints: JointsReport
    segments_kg: float
    shaft: ShaftReport
    smallest: BarChoice
    widths: tuple[tuple[float, str | None], ...]
    fitted: tuple[FittedGap, ...]
    bent: tuple[BentGap, ...]
    balance: BalanceReport | None
    drive: DriveReport | None
    tip_speed_mm_s: float | None
    axial_speed_mm_s: float | None
    ok: bool
    reasons: tuple[str, ...]
    notes: tuple[str, ...]


def roller(
    drawn: Sequence[Drawn], width: float, asked: Asked | None = None, *, assumed: Assumed | None = None
) -> RollerAnswer:
    """The roller that fills ``width`` (mm) with the first profile and shorter sections of it.

    Raises UsageError when the profiles are not sections of one segment, ProfileError when a number of the
    profile is wrong for a study (the key is told).
    """
    asked, assumed = asked or Asked(), assumed or Assumed()
    main = drawn[0]
    _same_section(drawn)
    profile = main.profile
    found = _stacked(drawn, width, asked)
    filling = found.best or found.below or found.above
    assert filling is not None  # a stack that cannot be filled has a nearest one
    by_name = {d.profile.name: d for d in drawn}
    names = filling.names
    lengths = [by_name[name].profile.body.free_length for name in names]
    jointed = joints_of(profile, lengths)
    segments = sum(_mass(by_name[name]) for name in names)
    bar, span = _bar(profile), asked.span or width
    driven = _driven(main, segments, bar.mass_per_mm(Steel().density_kg_m3) * span, width, asked)
    torque = driven.roller_torque_n_mm if driven is not None else 0.0
    loads = Loads(
        rubber_kg_per_mm=segments / filling.width_mm,
        crop_load=asked.crop_load,
        rib_force=asked.rib_force,
        torque=torque,
        segment_torque=torque / len(names),
        segment_length=min(lengths) * (1 - filling.squeeze),
        rotation_speed=asked.rotation_speed or 0.0,
    )
    shafted = shaft(bar, span, loads=loads, limits=asked.limits)
    chosen = smallest_bar(span, standard_bars(bar.section), loads=loads, limits=asked.limits)
    modulus, notes = _modulus(profile)
    fitted = _fitted(main, filling.squeeze, assumed)
    answer = RollerAnswer(
        profile=profile.name,
        width_mm=width,
        filled=found.best is not None,
        stack=found,
        names=names,
        places=_places(by_name, names, jointed, filling),
        squeeze=filling.squeeze,
        modulus=modulus,
        clamp=_clamped(main, min(lengths), filling.squeeze, modulus, asked) if modulus else None,
        joints=jointed,
        segments_kg=segments,
        shaft=shafted,
        smallest=chosen,
        widths=tuple(
            (choice.span_mm, choice.bar.words if choice.bar else None)
            for choice in bars_over_widths(standard_bars(bar.section), loads=loads, limits=asked.limits)
        ),
        fitted=fitted,
        bent=_bent(main, bar, span, loads),
        balance=_balanced(main, segments, shafted.shaft_kg, len(names), asked),
        drive=driven,
        tip_speed_mm_s=None
        if asked.rotation_speed is None
        else surface_speed(profile.tip_radius, asked.rotation_speed),
        axial_speed_mm_s=_axial_speed(profile, asked.rotation_speed),
        ok=found.best is not None and shafted.shaft_ok,
        reasons=(*(() if found.best else (found.words,)), *shafted.reasons),
        notes=notes,
    )
    return answer


def squeezed(profile: Profile, squeeze: float) -> Profile:
    """The segment as it stands in a stack: shorter, its whole twist kept; radii as cast (growth is a band)."""
    left = 1 - squeeze
    body = profile.body.model_copy(
        update={
            "free_length": profile.body.free_length * left,
            "fitted_length": profile.body.free_length * left,
        }
    )
    ribs = profile.ribs
    if ribs is not None and ribs.helix_pitch != inf:
        ribs = ribs.model_copy(update={"helix_pitch": ribs.helix_pitch * left})
    return profile.model_copy(update={"body": body, "ribs": ribs})


def _same_section(drawn: Sequence[Drawn]) -> None:
    """Shorter sections differ in length and name only: else their ribs and chambers would not run on."""
    main = drawn[0].profile
    for other in (d.profile for d in drawn[1:]):
        for table in ("ribs", "bore", "chambers"):
            if getattr(other, table) != getattr(main, table):
                raise UsageError(
                    f"{other.name} is no shorter section of {main.name}: its [{table}] differs; let it extend"
                    f" {main.name} and change name, free_length and fitted_length only"
                )
        if other.body.diameter != main.body.diameter:
            raise UsageError(
                f"{other.name} is no shorter section of {main.name}: its body is another diameter"
            )


def _stacked(drawn: Sequence[Drawn], width: float, asked: Asked) -> StackReport:
    pieces = [
        Piece(
            name=d.profile.name,
            free_length=d.profile.body.free_length,
            fitted_length=d.profile.body.fitted_length,
        )
        for d in drawn
    ]
    try:
        return stack(width, pieces, squeeze_band=asked.squeeze_band, spacers=asked.spacers)
    except ValueError as wrong:
        raise UsageError(str(wrong)) from wrong


def joints_of(profile: Profile, lengths: Sequence[float]) -> JointsReport:
    """How segments of the given lengths (mm) sit on the shaft one after another."""
    ribs = profile.ribs
    plain = (ribs is None or ribs.flank_angle_ahead == ribs.flank_angle_behind) and _mirrors(profile)
    return joints(
        lengths,
        count=ribs.count if ribs else 0,
        helix_pitch=ribs.helix_pitch if ribs else inf,
        bore_section=profile.bore.section,
        tip_radius=profile.tip_radius,
        hand=-1 if ribs is not None and ribs.hand == "left" else 1,
        start=ribs.start if ribs else 0.0,
        may_turn=plain,
    )


def _mirrors(profile: Profile) -> bool:
    """Whether a segment turned end for end has its chambers, and what fills them, where they were."""
    chambers = profile.chambers
    if chambers is None or chambers.count == 0:
        return True
    step = tau / chambers.count
    even = abs(remainder(2 * chambers.start, step)) < 1e-9
    return even and len(chambers.foamed) in (0, chambers.count)


def _places(
    by_name: dict[str, Drawn], names: Sequence[str], jointed: JointsReport, filling: Filling
) -> tuple[Placing, ...]:
    places, z = [], 0.0
    for name, seat in zip(names, jointed.seats, strict=True):
        length = by_name[name].profile.body.free_length * (1 - filling.squeeze)
        places.append(Placing(z=z, rotation=np.radians(seat.turn_deg), flipped=seat.turned, length=length))
        z += length
    return tuple(places)


def _mass(drawn: Drawn) -> float:
    return weigh(drawn.profile, drawn.section, drawn.part).total_kg


def _bar(profile: Profile) -> Bar:
    """The shaft the bore is made for; a keyed one is a round bar, its keyway left out."""
    bore = profile.bore
    try:
        if bore.section in ("round", "keyed"):
            return Bar(section="round", across=bore.across)
        section: BarSection = "square" if bore.section == "square" else "hexagon"
        return Bar(section=section, across=bore.across, corner_radius=bore.shaft_corner_radius)
    except ValueError as wrong:
        raise ProfileError([Complaint(key="bore.shaft_corner_radius", message=str(wrong))]) from wrong


def _modulus(profile: Profile) -> tuple[ModulusRange | None, tuple[str, ...]]:
    compound = profile.compound
    if compound.modulus is None and compound.hardness is None:
        return None, ("no force of the squeeze: the compound has neither modulus nor hardness",)
    return modulus_range(compound.hardness, measured=compound.modulus), ()


def _clamped(
    drawn: Drawn, shortest: float, squeeze: float, modulus: ModulusRange, asked: Asked
) -> ClampReport:
    section = drawn.section
    area = area_of(section.outer) - area_of(section.bore) - sum(area_of(c) for c in section.chambers)
    return clamp(
        squeeze,
        area=area,
        free_perimeter=perimeter_of(section.outer) + sum(perimeter_of(c) for c in section.chambers),
        length=shortest,
        modulus=(modulus.low, modulus.high),
        friction=asked.end_friction,
        inner=drawn.profile.bore.width / 2,
        outer=drawn.profile.body_radius,
    )


def _fitted(drawn: Drawn, squeeze: float, assumed: Assumed) -> tuple[FittedGap, ...]:
    """What is left of the gaps at the squeeze the stack settles on, not the profile's own."""
    profile = drawn.profile
    body = profile.body.model_copy(update={"fitted_length": profile.body.free_length * (1 - squeeze)})
    settled = profile.model_copy(update={"body": body})
    return fitted_gaps(settled, check_gap(settled, drawn.section), assumed)


def _bent(drawn: Drawn, bar: Bar, span: float, loads: Loads) -> tuple[BentGap, ...]:
    profile = drawn.profile
    along = np.linspace(0.0, span, POINTS_ALONG)
    own = bent_axis(along, bar, span, loads=loads)
    found = []
    for mate in profile.mates:
        if mate.kind != "smooth" or mate.diameter is None:
            continue
        gap = mate.axis_distance - profile.tip_radius - mate.diameter / 2
        centres = ((mate.axis_distance**2 - mate.height**2) ** 0.5, mate.height)
        sag = own * np.array([0.0, 1.0])
        lean = float(np.arcsin(mate.height / mate.axis_distance))
        pushed = bent_axis(along, bar, span, loads=loads, rib_direction=lean)
        found.append(
            BentGap(
                mate=mate.name,
                mate_straight_mm=float(deflected_gap(centres, own, 0.0, gap=gap).min()),
                mate_alike_mm=float(deflected_gap(centres, own, sag, gap=gap).min()),
                pushed_mm=float(deflected_gap(centres, pushed, sag, gap=gap).min()),
            )
        )
    return tuple(found)


def _balanced(
    drawn: Drawn, segments: float, shaft_kg: float, count: int, asked: Asked
) -> BalanceReport | None:
    if asked.rotation_speed is None:
        return None
    profile = drawn.profile
    play = profile.bore.clearance + (profile.bore.shaft_tolerance or 0.0)
    each = inertia_of(profile, drawn.section, drawn.part).unbalance_kg_mm
    parts = unbalances(
        segments_kg=segments,
        roller_kg=segments + shaft_kg,
        bore_section=profile.bore.section,
        bore_play=play,
        cast_eccentricity=asked.cast_eccentricity,
        foam_kg_mm=each * count,
        bow=asked.bow,
    )
    return balance(mass=segments + shaft_kg, rotation_speed=asked.rotation_speed, contributions=parts)


def _driven(drawn: Drawn, segments: float, shaft_kg: float, width: float, asked: Asked) -> DriveReport | None:
    if asked.rotation_speed is None:
        return None
    profile = drawn.profile
    weight = (segments + shaft_kg) * GRAVITY + asked.crop_load * width
    load = DriveLoad(
        length=width,
        surface_radius=profile.tip_radius,
        crop_load=asked.crop_load,
        bearing_load=weight,
        rib_force=asked.rib_drag,
        tip_radius=profile.tip_radius,
    )
    return drive(load, rotation_speed=asked.rotation_speed, rollers=asked.rollers)


def _axial_speed(profile: Profile, rotation_speed: float | None) -> float | None:
    """How fast the ribs' pattern runs along the roller when it turns clockwise, tops towards +x (mm/s)."""
    if rotation_speed is None or profile.ribs is None:
        return None
    pitch = profile.ribs.helix_pitch
    lead = None if pitch == inf else pitch
    return axial_speed(Turning(rotation_speed=-rotation_speed, lead=lead, hand=profile.ribs.hand))


def _entry(key: str, unit: str, words: str, formula: str, source: str, limits: str) -> Figure:
    return Figure(key=key, words=words, formula=formula, source=source, limits=limits, unit=unit)


FIGURES = (
    _entry("smallest_bar", "-", "smallest standard bar that keeps every limit of the shaft over the span",
           "the standard bars tried from the smallest up", "bars of EN 10059 and its kind",
           "the loads of this roller, a simply supported bar"),
    _entry("pushed_mm", "mm", "least tip gap along the bent shaft, the rib force pointing at the mate",
           "gap + |C + e(z)| - |C|, least over z; the force counts in full", "shaft study",
           "one force at mid span; the mate sags alike and is not pushed"),
    _entry("axial_speed_mm_s", "mm/s", "speed of the rib pattern along the roller, positive towards +z",
           "helix pitch x turns a second; clockwise seen from +z", "drive study",
           "the most crop can be carried sideways, it slips"),
    _entry("filled", "-", "whether the width can be filled within the squeeze band", "stack search",
           "stack study", "lengths as given; end plates stiff"),
    _entry("segments_kg", "kg", "mass of all segments on the shaft, foam included", "sum of the segments",
           "mass study", "as cast"),
    _entry("mate_straight_mm", "mm", "least tip gap along the bent shaft, the mate straight",
           "gap + |C + e(z)| - |C|, least over z", "shaft study", "one shaft bends, as cast"),
    _entry("mate_alike_mm", "mm", "least tip gap along the bent shaft, the mate sagging alike",
           "gap + |C + e(z)| - |C|, least over z", "shaft study", "only force along the line of centres is left"),
)  # fmt: skip
