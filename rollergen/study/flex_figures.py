"""Entries for the figures of the flex study."""

from __future__ import annotations

from rollergen.spec.trace import Figure

_FE = "own finite elements, verified against closed forms (thick cylinder, rubber tube, ring, Hertz, Cook)"
_LIMITS = "plane strain, stiff shaft bonded in the bore, no friction, slow, room temperature"


def _entry(key: str, unit: str, words: str, formula: str, limits: str = _LIMITS, source: str = _FE) -> Figure:
    return Figure(key=key, words=words, formula=formula, source=source, limits=limits, unit=unit)


_ROUGH = "past a collapse rough: elements differ by 25 %"
FIGURES = (
    _entry("modulus_mpa", "MPa", "Young's modulus of the rubber: lowest and highest", "both fits, or as measured",
           "a hardness is a poor stand-in: factor of two", "Gent 1958 and the log fit, or compound.modulus"),
    _entry("modulus_used_mpa", "MPa", "Young's modulus the forces were worked out with", "Gent's fit, or as measured",
           "forces grow with it", "Gent 1958 (from memory), or compound.modulus, or the table's fit"),
    _entry("force_band", "1", "factors on every force at the lowest and the highest modulus", "modulus / modulus used",
           "exact without foam and for one law of one modulus"),
    _entry("presser_radius_mm", "mm", "radius of what presses; null for a plate", "input", source="input"),
    _entry("rotation_deg", "deg", "where round the roller, from +x, counter-clockwise seen from +z", "positions"),
    _entry("stiffness_n_mm2", "N/mm2", "force per mm of travel and per mm of roller, over the first half millimetre",
           "secant of the small-strain contact problem", "0.5 mm of travel; " + _LIMITS),
    _entry("unevenness", "1", "greatest over least stiffness all round", "max / min of stiffness_n_mm2"),
    _entry("at_deg", "deg", "where it is pressed", "place, from +x"),
    _entry("travel_mm", "mm", "how far it is pressed after first touch", "input"),
    _entry("force_n_mm", "N/mm", "force per mm of roller at each travel", "resultant of the contact", _ROUGH),
    _entry("strain", "1", "stretch that 99.5 % of the rubber stays below", "quantile of greatest principal stretch - 1",
           "settles with the mesh where a peak would not"),
    _entry("surface_strain", "1", "least and greatest hoop strain along the body's surface",
           "length of the surface / at rest - 1"),
    _entry("flattening_1_mm", "1/mm", "greatest loss of curvature of the body's surface", "1/R at rest - 1/R pressed"),
    _entry("chamber_closing", "1", "share of its area the chamber loses that closes most", "1 - area / area at rest"),
    _entry("chamber_gap_mm", "mm", "nearest the wall side of a chamber has come to its hub side",
           "least distance of the two sides",
           "sides that meet are not followed further"),
    _entry("contact_width_mm", "mm", "width of surface that is pressed", "length of touched surface at rest",
           "to the spacing of the contact's points, a third of a triangle"),
    _entry("contact_pressure_mpa", "MPa", "mean pressure on what presses", "force / contact width",
           "of a line load; the peak of a round body is 4/pi times that"),
    _entry("collapse_mm", "mm", "travel at the first peak of the load, null without one",
           "first fall of the load by 1 %", _ROUGH),
    _entry("collapse_n_mm", "N/mm", "first peak of the load, null without one",
           "first fall of the load by 1 %", _ROUGH),
    _entry("mesh_dependent", "-", "whether strains are past where a pressed surface creases", "hoop strain below -35 %",
           source="Hong, Zhao, Suo (from memory)"),
    _entry("mesh_size_mm", "mm", "size asked of the triangles", "input"),
    _entry("stopped", "-", "why a curve ends early", "step that does not balance, or sides that meet"),
)  # fmt: skip
