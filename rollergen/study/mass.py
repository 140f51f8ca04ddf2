"""What a segment weighs: volume of rubber, mass with foam, per metre, of a roller, and its price."""

from __future__ import annotations

from dataclasses import dataclass

from rollergen.shape.part import Part
from rollergen.shape.part_volume import centroid_of_part, surface_of, volume_of
from rollergen.shape.properties import area_of
from rollergen.shape.section import Section, net_moments
from rollergen.spec.profile import Profile

MM3_PER_M3 = 1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class MassReport:
    """One segment as cast (kg, mm); ``cost`` in ``currency``, None without a price.

    ``volume_mm3`` is rubber only; foam stands beside it.  ``kg_per_m`` counts metres of shaft, that is
    the fitted length.
    """

    volume_mm3: float
    surface_mm2: float
    section_area_mm2: float
    density_kg_m3: float
    mass_kg: float
    foam_mm3: float
    foam_kg: float
    total_kg: float
    centre_mm: tuple[float, float, float]
    kg_per_m: float
    roller_length_mm: float | None
    roller_kg: float | None
    cost: float | None
    cost_per_m: float | None
    currency: str | None


def weigh(profile: Profile, section: Section, part: Part, *, length: float | None = None) -> MassReport:
    """Volume by closed form, mass for the profile's compound; ``length`` (mm of shaft) adds a roller's mass."""
    volume = volume_of(part)
    mass = volume * profile.compound.density_kg_m3 / MM3_PER_M3
    foam = _foam_volume(profile, section)
    foam_kg = foam * ((profile.chambers and profile.chambers.foam_density_kg_m3) or 0.0) / MM3_PER_M3
    per_m = (mass + foam_kg) * 1000 / profile.body.fitted_length
    price = profile.compound.price
    cost = price.amount * mass if price else None
    return MassReport(
        volume_mm3=volume,
        surface_mm2=surface_of(part),
        section_area_mm2=net_moments(section).area,
        density_kg_m3=profile.compound.density_kg_m3,
        mass_kg=mass,
        foam_mm3=foam,
        foam_kg=foam_kg,
        total_kg=mass + foam_kg,
        centre_mm=centroid_of_part(part),
        kg_per_m=per_m,
        roller_length_mm=length,
        roller_kg=per_m * length / 1000 if length is not None else None,
        cost=cost,
        cost_per_m=cost * 1000 / profile.body.fitted_length if cost is not None else None,
        currency=price.currency if price else None,
    )


def _foam_volume(profile: Profile, section: Section) -> float:
    if profile.chambers is None:
        return 0.0
    filled = [section.chambers[number - 1] for number in profile.chambers.foamed]
    return sum(area_of(chamber) for chamber in filled) * profile.body.free_length
