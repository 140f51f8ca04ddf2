"""Whether a roller sheds the soil of a duty: by spin, by its flex, past grooves that clog, and what the flex costs."""

from __future__ import annotations

from dataclasses import dataclass
from math import tau

from rollergen.answer.duty_items import Running
from rollergen.answer.report import Drawn
from rollergen.errors import UsageError
from rollergen.shape.section import Section, net_moments
from rollergen.spec.duty import Duty, Soil
from rollergen.spec.duty_presets import preset_rows
from rollergen.spec.profile import Profile
from rollergen.spec.trace import Figure
from rollergen.study.arching import BridgeReport, Slot, bridge, groove_of, tensile_strength
from rollergen.study.bond import BondReport, Mud, SurfaceFlex, Wall, break_bond, middle_of
from rollergen.study.hysteresis import HeatReport, heat, smooth_patch
from rollergen.study.shed import ShedReport, shed, spin_speed

Ends = tuple[str, str, str]  # where the mud lets go easily, in the middle, where it holds hard
FOR_FLEX = ("modulus", "bond_energy", "cohesion", "friction_angle")
BY_SPIN, BY_FLEX, NEITHER = "spin alone", "spin and flex", "neither"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shedding:
    """Both halves of the verdict.  ``bond`` and ``leaves_by`` are None where the flex is not judged; ``notes`` say why."""

    spin: ShedReport
    bond: BondReport | None
    leaves_by: Ends | None
    notes: tuple[str, ...]

    @property
    def verdict(self) -> str:
        """In a few words; by spin only where the flex is not judged."""
        if self.leaves_by is None:
            return self.spin.verdict
        easy, _, hard = self.leaves_by
        return easy if easy == hard else f"{easy} where it sticks least, {hard} where it sticks most"


@dataclass(frozen=True, slots=True, kw_only=True)
class SoilRow:
    """One soil preset at the duty's layer and speed; ``leaves_by`` None where the flex is not judged."""

    soil: str
    adhesion_kpa: tuple[float, float]
    spin_speed_rpm: tuple[float, float]
    verdict: str
    leaves_by: Ends | None
    mud_energy_j_m2: tuple[float, float, float] | None
    bond_energy_j_m2: tuple[float, float, float] | None
    groove_verdict: tuple[str, str] | None


def shed_by(
    profile: Profile,
    duty: Duty,
    running: Running,
    *,
    tensile: float = 0.0,
    flexed: SurfaceFlex | None = None,
) -> Shedding:
    """Verdict for the duty's soil on the body; ``tensile`` MPa for a closed ring of mud.

    ``flexed``: how the surface moves under what presses on it; None judges by spin alone, and says so.
    Raises UsageError for a duty without soil.
    """
    return _shed_soil(profile, soil_of(duty), running, tensile=tensile, flexed=flexed)


def soil_of(duty: Duty) -> Soil:
    """The duty's soil; UsageError without one."""
    if duty.soil is None:
        raise UsageError(f'{duty.name} has no [soil]: write density, layer and adhesion, or preset = "loam"')
    return duty.soil


def _shed_soil(
    profile: Profile, soil: Soil, running: Running, *, tensile: float, flexed: SurfaceFlex | None
) -> Shedding:
    spin = shed(
        adhesion=soil.adhesion,
        layer=soil.layer,
        density_kg_m3=soil.density_kg_m3,
        radius=profile.body_radius,
        rotation_speed=running.rotation_speed,
        tensile=tensile,
    )
    mud = mud_of(soil)
    if flexed is None:
        said = (
            "by spin only: the flex is not judged; it needs the force that presses on each mm of roller, write"
            ' [run] line_load = "0.5 N/mm", or --line-load',
        )
        return Shedding(spin=spin, bond=None, leaves_by=None, notes=said)
    if mud is None:
        missing = ", ".join(key for key in FOR_FLEX if getattr(soil, key) is None)
        said = (
            f"by spin only: the flex is not judged, [soil] does not say {missing}; write them, or a preset, "
            f"one of {', '.join(preset_rows('soil'))}",
        )
        return Shedding(spin=spin, bond=None, leaves_by=None, notes=said)
    bond = break_bond(flexed, mud, layer=soil.layer, density_kg_m3=soil.density_kg_m3, wall=_wall_of(profile))
    leaves_by = _leaves_by(profile, soil, running, tensile, bond.bond_broken)
    return Shedding(spin=spin, bond=bond, leaves_by=leaves_by, notes=_told(spin, bond, leaves_by))


def mud_of(soil: Soil) -> Mud | None:
    """What the flex half needs of a soil; None where the soil does not say it.

    A tensile strength that is not given is Mohr-Coulomb's, from cohesion and angle of friction.
    """
    if soil.modulus is None or soil.bond_energy is None:
        return None
    strength = soil.strength
    if strength is None:
        if soil.cohesion is None or soil.friction_angle is None:
            return None
        low, high = (tensile_strength(c, a) for c, a in zip(soil.cohesion, soil.friction_angle, strict=True))
        strength = (min(low, high), max(low, high))
    return Mud(modulus=soil.modulus, bond_energy=soil.bond_energy, strength=strength)


def soils_compared(
    profile: Profile,
    duty: Duty,
    running: Running,
    *,
    tensile: float = 0.0,
    flexed: SurfaceFlex | None = None,
    section: Section,
) -> tuple[SoilRow, ...]:
    """Every soil preset with its own values, as thick as the duty's layer, at the working speed."""
    rows = []
    for name, values in preset_rows("soil").items():
        said = {column: value.value for column, value in values.items()}
        soil = Soil.model_validate({**said, "preset": name, "layer": f"{soil_of(duty).layer!r} mm"})
        found = _shed_soil(profile, soil, running, tensile=tensile, flexed=flexed)
        bridged = bridging_of(profile, section, soil, running)
        rows.append(
            SoilRow(
                soil=name,
                adhesion_kpa=found.spin.adhesion_kpa,
                spin_speed_rpm=found.spin.spin_speed_rpm,
                verdict=found.verdict,
                leaves_by=found.leaves_by,
                mud_energy_j_m2=None if found.bond is None else found.bond.mud_energy_j_m2,
                bond_energy_j_m2=None if found.bond is None else found.bond.bond_energy_j_m2,
                groove_verdict=None if bridged is None else bridged.groove_verdict,
            )
        )
    return tuple(rows)


def bridging_of(profile: Profile, section: Section, soil: Soil, running: Running) -> BridgeReport | None:
    """Whether the soil spans the grooves and the slots to the mates; None where it does not say its strength."""
    if soil.cohesion is None or soil.friction_angle is None:
        return None
    groove = groove_of(
        section.outer,
        body_radius=profile.body_radius,
        depth=profile.tip_radius - profile.body_radius,
        turn_per_mm=profile.turn_per_mm,
    )
    return bridge(
        cohesion=soil.cohesion,
        friction_angle=soil.friction_angle,
        adhesion=soil.adhesion,
        density_kg_m3=soil.density_kg_m3,
        layer=soil.layer,
        groove=groove,
        body_radius=profile.body_radius,
        rotation_speed=running.rotation_speed,
        slots=_slots_of(profile),
    )


def heat_of(drawn: Drawn, running: Running, flexed: SurfaceFlex | None) -> tuple[HeatReport | None, str]:
    """(what the flex costs, "") or (None, why it is not worked out)."""
    profile = drawn.profile
    loss_factor = profile.compound.loss_factor
    if loss_factor is None:
        return None, "not worked out: the compound has no loss factor; write [compound] loss_factor = 0.15"
    if flexed is None:
        return None, "not worked out: it needs the flex under a line load"
    if not flexed.travel > 0:
        return None, "none: what presses does not move the surface"
    chambers, R = profile.chambers, profile.body_radius
    patch = (
        tau * R / chambers.count
        if chambers is not None and chambers.count
        else smooth_patch(radius=R, travel=flexed.travel)
    )
    area = net_moments(drawn.section).area
    found = heat(
        loss_factor=loss_factor,
        line_load=flexed.line_load,
        travel=flexed.travel,
        patch=patch,
        radius=R,
        rotation_speed=running.rotation_speed,
        rubber_kg_m=area * 1e-6 * profile.compound.density_kg_m3,
    )
    return found, ""


def _leaves_by(
    profile: Profile, soil: Soil, running: Running, tensile: float, broken: tuple[bool, bool, bool]
) -> Ends:
    """What it takes, for the mud that lets go easily, in the middle, and that holds hard."""

    def word(adhesion: float, peeled: bool) -> str:
        # every part of the layer passes the bottom once a turn, and need leave only there
        lowest = spin_speed(
            adhesion, layer=soil.layer, density_kg_m3=soil.density_kg_m3, radius=profile.body_radius,
            tensile=tensile, bottom=True,
        )  # fmt: skip
        if abs(running.rotation_speed) >= float(lowest):
            return BY_SPIN
        return BY_FLEX if peeled else NEITHER

    low, high = soil.adhesion
    return word(low, broken[0]), word(middle_of(soil.adhesion), broken[1]), word(high, broken[2])


def _told(spin: ShedReport, bond: BondReport, leaves_by: Ends) -> tuple[str, ...]:
    """What the two halves mean together, for people."""
    said = []
    stretch = bond.flex_strain + bond.flex_curvature_1_mm * spin.layer_mm / 2
    if stretch > bond.own_strain:
        said.append(
            f"the middle of the layer is stretched by {stretch:.2%}, the mud itself fails at {bond.own_strain:.2%}: it"
            " cracks or smears before it peels, and stores no more from there"
        )
    if BY_FLEX in leaves_by:
        said.append("mud that the flex has peeled drops at the bottom of the turn by its weight")
    if bond.inertial_kpa is not None:
        said.append(
            f"a wall that sprang back freely would pull with {bond.inertial_kpa:.2g} kPa: an upper bound, not used in"
            " the verdict"
        )
    return tuple(said)


def _wall_of(profile: Profile) -> Wall | None:
    chambers = profile.chambers
    if chambers is None or not chambers.count:
        return None
    width = tau / chambers.count * (profile.body_radius - chambers.wall / 2) - chambers.web
    if not width > 0:
        return None
    return Wall(thickness=chambers.wall, width=width, density_kg_m3=profile.compound.density_kg_m3)


def _slots_of(profile: Profile) -> tuple[Slot, ...]:
    slots = []
    for mate in profile.mates:
        other = mate.ribbed.body_radius if mate.ribbed is not None else (mate.diameter or 0.0) / 2
        apart = mate.axis_distance - other
        smooth = mate.ribbed is None
        slots.append(
            Slot(
                mate=mate.name,
                tip_gap=apart - profile.tip_radius if smooth else None,
                body_gap=apart - profile.body_radius,
            )
        )
    return tuple(slots)


FIGURES = (
    Figure(key="leaves_by", words="what the mud leaves by: where it lets go easily, in the middle, where it holds hard",
           formula="spin alone: working speed >= speed at the bottom of the turn, which every part of the layer passes;"
                   " spin and flex: mud energy >= bond energy, after which its weight drops it; else neither",
           source="both halves together", limits="weak soil data: see how far the three are apart", unit="-"),
)  # fmt: skip
