"""Limits of a duty that need more than one value, and what is legal but worth a second look.

What one value alone can get wrong is refused where it is read (``spec.ranges``, ``spec.duty``).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from difflib import get_close_matches
from typing import Any

from rollergen.errors import Complaint
from rollergen.spec.amounts import at_most, mm
from rollergen.spec.duty import Duty
from rollergen.spec.duty_presets import preset_rows

DUTY_TABLES = frozenset({"crop", "debris", "soil", "run"})
HIGHEST_ADHESION = 0.018  # MPa; clay on metal, Basmenj et al. 2016, Geomech. Eng. 10(2) 125-135
USUAL_BRUISE = (0.05, 5.0)  # MPa; apples bruise above 0.10, beet fails from 2.5 on
USUAL_CROP_DENSITY = (500.0, 1400.0)  # kg/m^3; value from memory, dry bulbs to stone-hard roots

Rule = Callable[[Duty], Iterator[Complaint]]


def broken_duty_limits(duty: Duty, *, tables: Collection[str] = DUTY_TABLES) -> list[Complaint]:
    """Every limit the duty breaks, judged by the rules whose tables are all among ``tables``."""
    known = set(tables)
    return [complaint for needs, rule in _RULES if needs <= known for complaint in rule(duty)]


def duty_warnings(duty: Duty) -> list[Complaint]:
    """What is legal but worth a second look."""
    return [complaint for rule in _WARNINGS for complaint in rule(duty)]


def sizes_told_once(raw: dict[str, Any]) -> list[Complaint]:
    """A crop needs its sizes in one way: diameters or a sieve table. Judged on the file's own keys."""
    crop = raw.get("crop")
    if not isinstance(crop, dict):
        return []
    if "diameters" in crop and "sieve" in crop:
        return [
            Complaint(key="crop.sieve", message="stands beside diameters; keep either the one or the other")
        ]
    if any(get_close_matches(key, ("diameters", "sieve"), cutoff=0.6) for key in crop):
        return []  # told, or misspelt and complained about as such
    known = preset_rows("crop").get(str(crop.get("preset")), {})
    least = known["least_permitted"].value if "least_permitted" in known else "45 mm"
    why = f'preset "{crop["preset"]}" gives no largest size: ' if known else ""
    return [
        Complaint(
            key="crop.diameters",
            message=f"required and missing; {why}write smallest and largest short diameter, "
            f'e.g. diameters = ["{least}", "110 mm"], or a sieve table, '
            f'e.g. sieve = [["{least}", 0], ["70 mm", 0.5], ["110 mm", 1]]',
        )
    ]


def _names_are_told_apart(duty: Duty) -> Iterator[Complaint]:
    seen = {duty.crop.name: "the crop"}
    for number, debris in enumerate(duty.debris):
        if debris.name in seen:
            yield Complaint(
                key=f"debris[{number}].name",
                message=f'"{debris.name}" is also the name of {seen[debris.name]}; reports go by name, '
                f'write e.g. "{debris.name} {number + 1}"',
            )
        seen.setdefault(debris.name, f"debris[{number}]")


def _permitted_size_is_met(duty: Duty) -> Iterator[Complaint]:
    crop = duty.crop
    if crop.least_permitted is not None and crop.least_permitted >= crop.largest_diameter:
        yield Complaint(
            key="crop.least_permitted",
            message=f"{mm(crop.least_permitted)} leaves no crop: the largest is {mm(crop.largest_diameter)}; "
            f"write at most {at_most(crop.largest_diameter)}",
        )


def _sieve_is_open(duty: Duty) -> Iterator[Complaint]:
    crop = duty.crop
    if crop.sieve is None:
        return
    (first, below), (last, above) = crop.sieve[0], crop.sieve[-1]
    if below > 0:
        yield Complaint(
            key="crop.sieve",
            message=f"does not say what the {below:.3g} below {mm(first)} is: its first line is carried on down "
            f"to {mm(crop.smallest_diameter)}; write the size none is below with share 0",
        )
    if above < 1:
        yield Complaint(
            key="crop.sieve",
            message=f"does not say what the {1 - above:.3g} above {mm(last)} is: its last line is carried on up "
            f"to {mm(crop.largest_diameter)}; write the size all are below with share 1",
        )


def _some_crop_is_below_permitted(duty: Duty) -> Iterator[Complaint]:
    crop = duty.crop
    if crop.least_permitted is not None and crop.smallest_diameter < crop.least_permitted:
        yield Complaint(
            key="crop.least_permitted",
            message=f"{mm(crop.least_permitted)} is more than the smallest crop told, "
            f"{mm(crop.smallest_diameter)}: what lies between counts as crop and is no loss to the buyer",
        )


def _values_are_usual(duty: Duty) -> Iterator[Complaint]:
    crop, soil = duty.crop, duty.soil
    if crop.bruise_pressure is not None and not USUAL_BRUISE[0] <= crop.bruise_pressure <= USUAL_BRUISE[1]:
        yield Complaint(
            key="crop.bruise_pressure",
            message=f"{crop.bruise_pressure:g} MPa is outside {USUAL_BRUISE[0]:g} to {USUAL_BRUISE[1]:g} MPa, "
            "where fruit and roots bruise; check the unit",
        )
    least, most = USUAL_CROP_DENSITY
    if crop.density_kg_m3 is not None and not least <= crop.density_kg_m3 <= most:
        yield Complaint(
            key="crop.density",
            message=f"{crop.density_kg_m3:g} kg/m^3 is outside {least:g} to {most:g} kg/m^3, what single roots "
            "and bulbs weigh; a heap's bulk density is not meant here",
        )
    if soil is not None and soil.adhesion[1] > HIGHEST_ADHESION:
        yield Complaint(
            key="soil.adhesion",
            message=f"{soil.adhesion[1] * 1000:g} kPa is above any measured pull of clay off metal, "
            f"{HIGHEST_ADHESION * 1000:g} kPa (Basmenj et al. 2016); check the unit",
        )


_RULES: tuple[tuple[frozenset[str], Rule], ...] = (
    (frozenset({"crop", "debris"}), _names_are_told_apart),
    (frozenset({"crop"}), _permitted_size_is_met),
)
_WARNINGS: tuple[Rule, ...] = (_sieve_is_open, _some_crop_is_below_permitted, _values_are_usual)
