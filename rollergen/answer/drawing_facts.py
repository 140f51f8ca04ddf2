"""What a drawing says in words: the table of what no view can measure, and the general notes."""

from __future__ import annotations

from math import atan, degrees, pi

from rollergen.answer.drawing_details import walls_beyond_asked
from rollergen.answer.drawing_stated import Held, amount, angle_amount
from rollergen.shape.section import Section
from rollergen.shape.views import Fact
from rollergen.spec.profile import Profile
from rollergen.study.mass import MassReport

SHAFTS = {"square": "square", "hexagon": "hexagon", "round": "⌀", "keyed": "⌀"}


def facts_of(profile: Profile, section: Section, weight: MassReport) -> tuple[Fact, ...]:
    """The rows of the table, in reading order."""
    rows = [
        *_rib_facts(profile),
        *_chamber_facts(profile, section),
        *_fit_facts(profile),
        *_compound_facts(profile),
    ]
    rows.append(
        _fact("", "Mass" + (" with foam" if weight.foam_kg else ""), f"({amount(weight.total_kg)} kg)")
    )
    return tuple(rows)


def _fact(keys: str, label: str, value: str) -> Fact:
    return Fact(keys=tuple(keys.split()), label=label, value=value)


def _rib_facts(profile: Profile) -> list[Fact]:
    ribs = profile.ribs
    if ribs is None:
        return []
    rows = []
    if ribs.count == 1:
        rows.append(_fact("ribs.count", "Ribs", "1"))
    rows.append(_fact("ribs.start", "Middle of rib 1 (X) at z = 0", f"{angle_amount(ribs.start)} from +x"))
    if profile.turn_per_mm == 0:
        rows.append(_fact("ribs.hand", "Hand", "none: straight"))
    else:
        twist = abs(profile.turn_per_mm) * profile.body.free_length
        slope = atan(2 * pi * profile.tip_radius / ribs.helix_pitch)
        rows.append(_fact("", "Twist over the length", f"({amount(degrees(twist), 2)}°)"))
        rows.append(_fact("", "Helix angle at the tip, to the axis", f"({amount(degrees(slope), 2)}°)"))
    for name, words in (("tip_radius", "Rib tip corners"), ("root_radius", "Rib roots")):
        if getattr(ribs, name) == 0:
            rows.append(_fact(f"ribs.{name}", words, "sharp (R0)"))
    return rows


def _chamber_facts(profile: Profile, section: Section) -> list[Fact]:
    chambers = profile.chambers
    if chambers is None or not section.chambers:
        return [_fact("chambers.count" if chambers else "", "Chambers", "none")]
    rows = []
    if chambers.count == 1:
        rows.append(_fact("chambers.count", "Chambers", "1"))
    rows.append(_fact("chambers.start", "Middle of web 1", f"{angle_amount(chambers.start)} from +x"))
    for key in walls_beyond_asked(profile, section):
        name = key.removeprefix("chambers.")
        asked = f"at least {amount(getattr(chambers, name))}"
        rows.append(_fact(key, f"{name.replace('_', ' ').capitalize()}, as asked", asked))
    if chambers.section == "sector" and chambers.corner_radius == 0:
        rows.append(_fact("chambers.corner_radius", "Chamber corners", "sharp (R0)"))
    if chambers.foamed:
        which = ", ".join(str(number) for number in chambers.foamed)
        density = chambers.foam_density_kg_m3
        words = f"{which}" + (f"; {amount(density)} kg/m³" if density is not None else "")
        rows.append(_fact("chambers.foamed chambers.foam_density", "Foam in chambers", words))
    else:
        rows.append(_fact("chambers.fill", "Chambers filled with", chambers.fill))
    return rows


def _fit_facts(profile: Profile) -> list[Fact]:
    body, bore = profile.body, profile.bore
    rows = [_fact("body.fitted_length", "Length on the shaft, squeezed", amount(body.fitted_length))]
    shaft = f"{SHAFTS[bore.section]} {amount(bore.across)}"
    keys = "bore.across"
    if bore.shaft_tolerance is not None:
        shaft, keys = f"{shaft} ±{amount(bore.shaft_tolerance)}", f"{keys} bore.shaft_tolerance"
    if bore.section in ("square", "hexagon"):
        shaft, keys = (
            f"{shaft}, corners R{amount(bore.shaft_corner_radius)}",
            f"{keys} bore.shaft_corner_radius",
        )
    rows.append(_fact(keys, "Shaft", shaft))
    rows.append(_fact("bore.clearance", "Bore wider than the shaft by", amount(bore.clearance)))
    if bore.section in ("square", "hexagon") and bore.corner_radius == 0:
        rows.append(_fact("bore.corner_radius", "Bore corners", "sharp (R0)"))
    if bore.lead_in == 0:
        rows.append(_fact("bore.lead_in", "Bore mouths", "no chamfer (0)"))
    if body.edge_chamfer == 0:
        rows.append(_fact("body.edge_chamfer", "Outer end edges", "no chamfer (0)"))
    return rows


def _compound_facts(profile: Profile) -> list[Fact]:
    compound = profile.compound
    rows = [_fact("compound.name", "Compound", compound.name)]
    if compound.hardness is not None:
        rows.append(_fact("compound.hardness", "Hardness", f"{amount(compound.hardness)} Shore A"))
    rows.append(_fact("compound.density", "Density", f"{amount(compound.density_kg_m3)} kg/m³"))
    return rows


def notes_of(profile: Profile, held: Held) -> tuple[str, ...]:
    """General notes, each one sentence."""
    split = " and across the cavity's parting" if held.dimension == "closure" else ""
    walls = ", wall, web and hub wall" if profile.chambers is not None and profile.chambers.count else ""
    notes = [
        "Dimensions in mm, of the casting as it leaves the mould and has cooled.",
        f"± by ISO 3302-1 class {held.grade}: across mould parts for length{walls}{split}, else within one part. "
        "The standard is for vulcanised rubber, for cast polyurethane by agreement.",
        "Angles and counts carry no class; brackets: for information, not to be checked.",
        "A–A is taken at z = 0 without the end chamfers. All angles counter-clockwise as seen in A–A.",
    ]
    if profile.ribs is not None and profile.ribs.tip_radius > 0:
        notes.append("Rib tip width is measured along the tip arc between the unrounded corners.")
    if profile.mates:
        notes.append("The neighbouring rollers are not drawn.")
    return tuple(notes)
