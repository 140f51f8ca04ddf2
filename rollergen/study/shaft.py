"""The shaft across the machine: how far it bends and twists, at what speed it whirls, which bar is enough.

A solid bar of one section on two bearings, carrying its own weight, the rubber on it, the crop, and one
rib force at mid span.  Slender: shear is left out, which makes deflections 1 to 2 % low at span = 10 x
across and less beyond.  The rubber adds mass and no stiffness (its E I is about a thousandth of the steel's).

A square or a hexagon bends alike in every direction, so a turning shaft runs still: no shaking at half
the critical speed.  Its stress does change with the turn, fully reversed, and is greatest over the corner.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import hypot, inf, pi, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.bar import Bar, bore_pressure
from rollergen.spec.kinds import GRAVITY
from rollergen.spec.standard_bars import StandardBar

Floats = NDArray[np.float64]
Supports = Literal["self-aligning", "clamped"]

PER_MIN = 60 / (2 * pi)
# sqrt(omega / sqrt(EI / (m L^4))) squared, first mode: pi^2 and the clamped beam's 4.73004^2
FIRST_MODE = {"self-aligning": pi**2, "clamped": 22.373285448061}
WIDTHS = tuple(float(width) for width in range(600, 3201, 200))


@dataclass(frozen=True, slots=True, kw_only=True)
class Steel:
    """What the shaft is made of: modulus in MPa.  Source of the defaults: EN 1993-1-1, 3.2.6."""

    modulus: float = 210e3
    poisson: float = 0.3
    density_kg_m3: float = 7850.0

    @property
    def shear_modulus(self) -> float:
        return self.modulus / (2 * (1 + self.poisson))

    def __post_init__(self) -> None:
        _above_0("modulus", self.modulus, "MPa")
        _above_0("density", self.density_kg_m3, "kg/m3")


@dataclass(frozen=True, slots=True, kw_only=True)
class Loads:
    """What the shaft carries.

    ``rubber_kg_per_mm`` segments on the shaft; ``crop_load`` N per mm, downwards; ``rib_force`` N, one force
    at mid span; ``torque`` N mm, through the whole span; ``segment_torque`` N mm on one segment of
    ``segment_length`` mm, for the pressure in its bore; ``rotation_speed`` rad/s.
    """

    rubber_kg_per_mm: float
    crop_load: float = 0.5
    rib_force: float = 0.0
    torque: float = 0.0
    segment_torque: float = 0.0
    segment_length: float | None = None
    rotation_speed: float = 0.0

    def __post_init__(self) -> None:
        for name in ("rubber_kg_per_mm", "crop_load"):
            value = getattr(self, name)
            if not 0 <= value < inf:
                raise ValueError(f"{name} {value:g} must be 0 or more")
        for name in ("rib_force", "torque", "segment_torque", "rotation_speed"):
            value = getattr(self, name)
            if not abs(value) < inf:
                raise ValueError(f"{name} {value:g} must be a plain number")
        if self.segment_torque and self.segment_length is None:
            raise ValueError("segment_torque needs segment_length, the mm of bore that carry it")


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftLimits:
    """What counts as enough; None leaves a limit out.

    ``span_per_sag``: deflection at most span over this; common practice, no source.  ``stress`` MPa, fully
    reversed: half of S235's tensile strength, 0.84 for a rolled surface, 0.8 for size, over 1.5; rule of the
    machine-design books, value from memory.  ``slope`` rad at the bearings: least figure for self-aligning ball
    bearings, value from memory.  ``speed_share`` of the first critical speed: value from memory.
    ``bore_pressure`` MPa.
    """

    span_per_sag: float | None = 400.0
    stress: float | None = 80.0
    slope: float | None = 0.026
    speed_share: float | None = 0.7
    bore_pressure: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftReport:
    """One bar over one span; ``shaft_figures`` says what each number is.

    ``reasons``: why the bar is not enough, empty when ``shaft_ok``.
    """

    section: str
    across_mm: float
    corner_radius_mm: float
    span_mm: float
    supports: Supports
    shaft_kg: float
    own_load_n_per_mm: float
    sag_own_mm: float
    sag_crop_mm: float
    sag_rib_mm: float
    deflection_mm: float
    span_per_deflection: float
    end_slope_rad: float
    bending_stress_mpa: float
    flat_stress_mpa: float
    torsion_stress_mpa: float
    shaft_twist_rad: float
    combined_stress_mpa: float
    critical_speed_rad_s: float
    critical_speed_rpm: float
    bare_critical_speed_rpm: float
    critical_speed_ratio: float | None
    bore_pressure_mpa: tuple[float, float] | None
    shaft_ok: bool
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejected:
    """A bar that is not enough, and why."""

    bar: Bar
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BarChoice:
    """The smallest bar that is enough for a span; ``bar`` and ``report`` None when none is.

    ``rejected``: every smaller bar with its reasons, smallest first; the last is the next smaller one.
    """

    span_mm: float
    bar: Bar | None
    report: ShaftReport | None
    rejected: tuple[Rejected, ...]


def bar_of(standard: StandardBar) -> Bar:
    """A standard bar at its nominal size; its least size (``standard.least_across``) deflects a little more."""
    return Bar(section=standard.section, across=standard.across, corner_radius=standard.corner_radius)


def shaft(
    bar: Bar,
    span: float,
    *,
    loads: Loads,
    supports: Supports = "self-aligning",
    steel: Steel | None = None,
    limits: ShaftLimits | None = None,
) -> ShaftReport:
    """Deflection, stress, twist and critical speed of a bar over ``span`` mm between bearings, and a verdict.

    All forces are taken in one line, the worst case for bending.  Raises ValueError for a span not above 0.
    """
    _above_0("span", span, "mm")
    steel, limits = steel or Steel(), limits or ShaftLimits()
    EI = steel.modulus * bar.second_moment
    bar_kg = bar.mass_per_mm(steel.density_kg_m3)
    mass = bar_kg + loads.rubber_kg_per_mm
    own, force = mass * GRAVITY, abs(loads.rib_force)
    even = own + loads.crop_load
    sags = [
        _even_sag(own, span, EI, supports),
        _even_sag(loads.crop_load, span, EI, supports),
        _force_sag(force, span, EI, supports),
    ]
    moment = _greatest_moment(even, force, span, supports)
    bending, torsion = moment / bar.corner_modulus, abs(loads.torque) / bar.torsion_modulus
    critical = first_critical_speed(EI, mass, span, supports)
    turning = abs(loads.rotation_speed)
    numbers = ShaftReport(
        section=bar.section,
        across_mm=bar.across,
        corner_radius_mm=bar.corner_radius,
        span_mm=span,
        supports=supports,
        shaft_kg=bar_kg * span,
        own_load_n_per_mm=own,
        sag_own_mm=sags[0],
        sag_crop_mm=sags[1],
        sag_rib_mm=sags[2],
        deflection_mm=sum(sags),
        span_per_deflection=span / sum(sags),
        end_slope_rad=_end_slope(even, force, span, EI, supports),
        bending_stress_mpa=bending,
        flat_stress_mpa=moment / bar.flat_modulus,
        torsion_stress_mpa=torsion,
        shaft_twist_rad=abs(loads.torque) * span / (steel.shear_modulus * bar.torsion_constant),
        combined_stress_mpa=sqrt(bending**2 + 3 * torsion**2),
        critical_speed_rad_s=critical,
        critical_speed_rpm=critical * PER_MIN,
        bare_critical_speed_rpm=first_critical_speed(EI, bar_kg, span, supports) * PER_MIN,
        critical_speed_ratio=critical / turning if turning else None,
        bore_pressure_mpa=_pressure(bar, loads),
        shaft_ok=True,
        reasons=(),
    )
    return _judged(numbers, turning, limits)


def smallest_bar(
    span: float,
    bars: Iterable[Bar | StandardBar],
    *,
    loads: Loads,
    supports: Supports = "self-aligning",
    steel: Steel | None = None,
    limits: ShaftLimits | None = None,
) -> BarChoice:
    """The least stiff of the bars that is enough for a span, with the reasons every smaller one is not.

    Raises ValueError without bars.
    """
    plain = [bar_of(bar) if isinstance(bar, StandardBar) else bar for bar in bars]
    if not plain:
        raise ValueError("no bars to choose from")
    rejected: list[Rejected] = []
    for bar in sorted(plain, key=lambda bar: (bar.second_moment, bar.area)):
        report = shaft(bar, span, loads=loads, supports=supports, steel=steel, limits=limits)
        if report.shaft_ok:
            return BarChoice(span_mm=span, bar=bar, report=report, rejected=tuple(rejected))
        rejected.append(Rejected(bar=bar, reasons=report.reasons))
    return BarChoice(span_mm=span, bar=None, report=None, rejected=tuple(rejected))


def bars_over_widths(
    bars: Sequence[Bar | StandardBar],
    *,
    loads: Loads,
    widths: Iterable[float] = WIDTHS,
    supports: Supports = "self-aligning",
    steel: Steel | None = None,
    limits: ShaftLimits | None = None,
) -> tuple[BarChoice, ...]:
    """The smallest bar that is enough for each width (mm, taken as the span between bearings)."""
    return tuple(
        smallest_bar(width, bars, loads=loads, supports=supports, steel=steel, limits=limits)
        for width in widths
    )


def ratios_over_widths(
    bars: Sequence[Bar | StandardBar],
    *,
    loads: Loads,
    widths: Iterable[float] = WIDTHS,
    supports: Supports = "self-aligning",
    steel: Steel | None = None,
) -> Floats:
    """Span over deflection of every bar at every width, shape (bars, widths)."""
    plain = [bar_of(bar) if isinstance(bar, StandardBar) else bar for bar in bars]
    spans = tuple(widths)
    rows = [
        [shaft(bar, span, loads=loads, supports=supports, steel=steel).span_per_deflection for span in spans]
        for bar in plain
    ]
    return np.array(rows)


def bent_axis(
    z: Floats,
    bar: Bar,
    span: float,
    *,
    loads: Loads,
    rib_direction: float = pi,
    supports: Supports = "self-aligning",
    steel: Steel | None = None,
) -> Floats:
    """Where the shaft's axis goes, shape (len(z), 2), mm: x towards the mate, y up; z mm from one bearing.

    Own weight and crop pull down; the rib force, at mid span, pushes along ``rib_direction`` (rad from +x,
    counter-clockwise; pi, the default, is straight away from a mate that lies level with us).
    """
    _above_0("span", span, "mm")
    steel = steel or Steel()
    EI = steel.modulus * bar.second_moment
    own = (bar.mass_per_mm(steel.density_kg_m3) + loads.rubber_kg_per_mm) * GRAVITY
    sag = _even_curve(z, own + loads.crop_load, span, EI, supports)
    push = _force_curve(z, loads.rib_force, span, EI, supports)
    return np.stack([push * np.cos(rib_direction), push * np.sin(rib_direction) - sag], axis=-1)


def deflected_gap(
    centres: tuple[float, float], own: Floats, mate: Floats | float = 0.0, *, gap: float = 0.0
) -> Floats:
    """The gap along the shaft once both axes have moved, mm: gap + |C + e(z)| - |C|.

    ``centres``: C, from our axis to the mate's (x, y) mm; ``own`` and ``mate`` (n, 2) as ``bent_axis`` gives
    them, e = mate - own; ``gap`` of the straight rollers, so 0 gives the change alone.

    Sag is geometry, not a subtraction: across the line of centres it changes the gap by e2 / (2 C) only, two
    alike rollers that sag together change nothing, and a force along the line of centres counts in full.
    Holds for round bodies and rib tips; axes stay parallel (slope changes the gap by its square only).
    Raises ValueError when the axes coincide.
    """
    C = hypot(*centres)
    _above_0("axis distance", C, "mm")
    apart = np.asarray(centres) + (np.asarray(mate) - np.asarray(own))
    return np.asarray(gap + np.hypot(apart[..., 0], apart[..., 1]) - C, dtype=np.float64)


def first_critical_speed(
    bending_stiffness: float, mass_per_mm: float, span: float, supports: Supports = "self-aligning"
) -> float:
    """First whirling speed of an even shaft, rad/s; E I in N mm2, kg per mm, mm.

    Source: first bending mode of a uniform beam, pi2 sqrt(EI / (m L4)) on hinges, 22.373 clamped; any
    vibration book.  Shear and rotary inertia left out: 6 % high at span = 5 x across, 1.6 % at 10.
    """
    # N = kg m/s2 = 1000 kg mm/s2
    return FIRST_MODE[supports] * sqrt(1000.0 * bending_stiffness / (mass_per_mm * span**4))


def _even_sag(q: float, L: float, EI: float, supports: Supports) -> float:
    """Mid-span sag under q N per mm: 5 q L4 / (384 EI) on hinges, a fifth of it clamped; any beam table."""
    return (5 if supports == "self-aligning" else 1) * q * L**4 / (384 * EI)


def _force_sag(P: float, L: float, EI: float, supports: Supports) -> float:
    """Mid-span sag under P N at mid span: P L3 / (48 EI) on hinges, a quarter of it clamped."""
    return P * L**3 / ((48 if supports == "self-aligning" else 192) * EI)


def _even_curve(z: Floats, q: float, L: float, EI: float, supports: Supports) -> Floats:
    if supports == "self-aligning":
        return np.asarray(q * z * (L**3 - 2 * L * z**2 + z**3) / (24 * EI))
    return np.asarray(q * z**2 * (L - z) ** 2 / (24 * EI))


def _force_curve(z: Floats, P: float, L: float, EI: float, supports: Supports) -> Floats:
    near = np.minimum(z, L - z)  # both halves alike
    if supports == "self-aligning":
        return np.asarray(P * near * (3 * L**2 - 4 * near**2) / (48 * EI))
    return np.asarray(P * near**2 * (3 * L - 4 * near) / (48 * EI))


def _end_slope(q: float, P: float, L: float, EI: float, supports: Supports) -> float:
    """At the bearings, rad: q L3 / (24 EI) + P L2 / (16 EI) on hinges, none clamped."""
    return (q * L**3 / 24 + P * L**2 / 16) / EI if supports == "self-aligning" else 0.0


def _greatest_moment(q: float, P: float, L: float, supports: Supports) -> float:
    """N mm: at mid span on hinges, at the bearings clamped."""
    return q * L**2 / 8 + P * L / 4 if supports == "self-aligning" else q * L**2 / 12 + P * L / 8


def _pressure(bar: Bar, loads: Loads) -> tuple[float, float] | None:
    if bar.section == "round" or loads.segment_length is None:
        return None
    return bore_pressure(bar, loads.segment_torque, loads.segment_length)


def _judged(report: ShaftReport, turning: float, limits: ShaftLimits) -> ShaftReport:
    reasons = tuple(_reasons(report, turning, limits))
    return replace(report, shaft_ok=not reasons, reasons=reasons)


def _reasons(r: ShaftReport, turning: float, limits: ShaftLimits) -> Iterable[str]:
    bar = f"{r.across_mm:g} mm {r.section} over {r.span_mm:g} mm"
    if limits.span_per_sag is not None and r.span_per_deflection < limits.span_per_sag:
        yield (
            f"{bar} bends {r.deflection_mm:.2f} mm (span/{r.span_per_deflection:.0f}), allowed are"
            f" {r.span_mm / limits.span_per_sag:.2f} mm (span/{limits.span_per_sag:g});"
            " take a larger bar or a middle bearing"
        )
    if limits.stress is not None and r.combined_stress_mpa > limits.stress:
        yield (
            f"{bar} is stressed to {r.combined_stress_mpa:.1f} MPa over its corners, allowed are"
            f" {limits.stress:g} MPa; take a larger bar or a stronger steel"
        )
    if limits.slope is not None and r.end_slope_rad > limits.slope:
        yield (
            f"{bar} tilts {r.end_slope_rad:.4f} rad in its bearings, allowed are {limits.slope:g} rad;"
            " take a larger bar or bearings that align further"
        )
    if limits.speed_share is not None and turning > limits.speed_share * r.critical_speed_rad_s:
        highest = limits.speed_share * r.critical_speed_rpm
        yield (
            f"{bar} turns at {turning * PER_MIN:.0f} rpm, its critical speed is {r.critical_speed_rpm:.0f} rpm;"
            f" stay below {limits.speed_share:g} of it, {highest:.0f} rpm, or take a larger bar"
        )
    if limits.bore_pressure is not None and r.bore_pressure_mpa is not None:
        if r.bore_pressure_mpa[0] > limits.bore_pressure:
            yield (
                f"{bar} presses its bore with {r.bore_pressure_mpa[0]:.2f} MPa at the corners, allowed are"
                f" {limits.bore_pressure:g} MPa; take a larger bar or longer segments"
            )


def _above_0(name: str, value: float, unit: str) -> None:
    if not 0 < value < inf:
        raise ValueError(f"{name} {value:g} {unit} must be above 0")
