"""Entries for the figures of the report that have no study file of their own to stand in."""

from __future__ import annotations

from rollergen.spec.trace import Figure

_DEFINITION = "definition"
_CAST = "segment as cast"
_EXACT = "exact section of arcs and lines"
_DISTANCE = "distance of a point to circles and lines"
_PARALLEL = "parallel axes, as cast; the end chamfer is left out"


def _entry(key: str, unit: str, words: str, formula: str, source: str, limits: str) -> Figure:
    return Figure(key=key, words=words, formula=formula, source=source, limits=limits, unit=unit)


WEIGHT = (
    _entry(
        "volume_mm3",
        "mm3",
        "volume of rubber, foam not counted; in a parts list of all pieces of a row",
        "area of each side's outline over its length, holes taken out",
        "Cavalieri; Steiner for offsets",
        _CAST,
    ),
    _entry(
        "surface_mm2",
        "mm2",
        "whole surface, sides, bore, chambers and ends",
        "integral ds dz sqrt(1 + (k p x n - d')2)",
        "surface of a twisted, sloped side",
        _CAST,
    ),
    _entry(
        "section_area_mm2",
        "mm2",
        "rubber in a cut across the segment",
        "outer area - bore - chambers",
        "circular sector less triangle, any table of plane areas",
        _CAST,
    ),
    _entry(
        "density_kg_m3",
        "kg/m3",
        "density of the compound",
        "input or compound table",
        "compound.density, or the table's row with its own source",
        "solid rubber without voids",
    ),
    _entry("mass_kg", "kg", "mass of rubber of one segment", "volume x density", _DEFINITION, _CAST),
    _entry("foam_mm3", "mm3", "volume of foam", "area of foamed chambers x free length", _DEFINITION, _CAST),
    _entry("foam_kg", "kg", "mass of foam", "foam volume x foam density", _DEFINITION, _CAST),
    _entry(
        "total_kg",
        "kg",
        "mass of one segment; in a parts list of all that was weighed",
        "rubber + foam",
        _DEFINITION,
        _CAST,
    ),
    _entry(
        "centre_mm",
        "mm",
        "centre of volume of the rubber (x, y, z)",
        "first moments of the turned slices / volume",
        _DEFINITION,
        f"{_CAST}; foam not counted",
    ),
    _entry(
        "kg_per_m",
        "kg/m",
        "mass per metre of shaft",
        "total / fitted length",
        _DEFINITION,
        "full shaft, end pieces alike; shaft not counted",
    ),
    _entry(
        "roller_length_mm",
        "mm",
        "shaft length to fill",
        "input",
        "the caller",
        "clear length",
    ),
    _entry(
        "roller_kg",
        "kg",
        "mass of the segments on a shaft",
        "kg per metre x length",
        _DEFINITION,
        "segment count not rounded; shaft not counted",
    ),
    _entry(
        "cost",
        "currency",
        "price of the rubber in one segment; in a parts list of all pieces of a row",
        "mass x price per kg",
        "compound.price",
        "material only, no casting, waste or foam",
    ),
    _entry(
        "cost_per_m",
        "currency/m",
        "price of the rubber per metre of shaft",
        "cost / fitted length",
        "compound.price",
        "material only, no casting, waste or foam",
    ),
)

SIZES = (
    _entry(
        "wall",
        "mm",
        "least rubber between chamber and body surface",
        "body radius - chamber's reach",
        _EXACT,
        "ribs not counted; as cast",
    ),
    _entry(
        "web",
        "mm",
        "least rubber between two chambers",
        "least distance of neighbouring outlines",
        _EXACT,
        _CAST,
    ),
    _entry(
        "hub_wall",
        "mm",
        "least rubber between bore and chamber",
        "least distance of the outlines",
        _EXACT,
        _CAST,
    ),
    _entry(
        "solid",
        "mm",
        "least rubber between bore and body surface",
        "body radius - bore's reach",
        _EXACT,
        "what a segment without chambers has",
    ),
    _entry(
        "tip_diameter_mm",
        "mm",
        "diameter over the rib tips",
        "body diameter + 2 rib height",
        _DEFINITION,
        _CAST,
    ),
    _entry("body_diameter_mm", "mm", "diameter of the body", "input", "body.diameter", _CAST),
    _entry(
        "length_mm", "mm", "length of one segment", "input", "body.free_length", "free length, not squeezed"
    ),
)

GAPS = (
    _entry(
        "tip_gap_mm",
        "mm",
        "clearance of the rib tips to the mate; negative is interference",
        "smooth: axis distance - tip radius - mate radius; ribbed: least distance in space over all phases",
        _DISTANCE,
        _PARALLEL,
    ),
    _entry(
        "any_phase_gap_mm",
        "mm",
        "tip gap if the drive loses its timing",
        "least clearance over every phase, whatever the speed ratio",
        _DISTANCE,
        _PARALLEL,
    ),
    _entry(
        "body_gap_mm",
        "mm",
        "body to mate (to the mate's body if it is ribbed)",
        "axis distance - body radius - mate radius",
        _DISTANCE,
        _PARALLEL,
    ),
    _entry(
        "least_gap_mm",
        "mm",
        "least gap over a full rotation and the length",
        "least of gap(z, rotation)",
        _DISTANCE,
        _PARALLEL,
    ),
    _entry(
        "least_at",
        "deg, mm",
        "rotation and height at which the gap is least",
        "where gap(z, rotation) is least",
        _DISTANCE,
        "one of the places, at mid length",
    ),
    _entry(
        "greatest_gap_mm",
        "mm",
        "greatest gap over a full rotation and the length",
        "greatest of gap(z, rotation)",
        _DISTANCE,
        _PARALLEL,
    ),
    _entry(
        "greatest_at",
        "deg, mm",
        "rotation and height at which the gap is greatest",
        "where gap(z, rotation) is greatest",
        _DISTANCE,
        "one of the places, at mid length",
    ),
    _entry(
        "rib_passings_per_turn", "1", "ribs that pass the mate in one turn", "rib count", _DEFINITION, _CAST
    ),
    _entry(
        "mate_rib_passings_per_turn",
        "1",
        "the mate's ribs that pass in one turn of ours",
        "mate's rib count x speed ratio",
        _DEFINITION,
        "0 for a smooth mate",
    ),
    _entry(
        "rib_period_mm",
        "mm",
        "axial distance from rib to rib",
        "helix pitch / rib count",
        _DEFINITION,
        "none for straight ribs",
    ),
    _entry(
        "window_height_mm",
        "mm",
        "height of the opening between two ribs",
        "greatest gap",
        _DISTANCE,
        _PARALLEL,
    ),
    _entry(
        "window_length_mm",
        "mm",
        "length of the opening between two ribs",
        "run over which the gap is above half way between least and greatest, read along the helix",
        _DISTANCE,
        "cut to the segment's length",
    ),
    _entry(
        "floor_length_mm",
        "mm",
        "part of the opening where the body is nearest",
        "run over which the gap is the body gap",
        _DISTANCE,
        "none for a ribbed mate",
    ),
    _entry(
        "least_tip_gap_mm", "mm", "tip gap asked for", "input", "mates.least_tip_gap", "the user's own limit"
    ),
    _entry(
        "most_body_gap_mm",
        "mm",
        "body gap asked for at most",
        "input",
        "mates.most_body_gap",
        "the user's own limit",
    ),
    _entry(
        "ok",
        "-",
        "whether the nominal gaps meet what was asked",
        "tip gap >= asked and body gap <= asked; without limits, no interference",
        _DEFINITION,
        "nominal, as cast; no tolerance, no squeeze",
    ),
    _entry(
        "ok_fitted",
        "-",
        "whether the gaps meet what was asked as fitted, in the worst case",
        "worst end of the growth band with every tolerance against it",
        "fit and budget studies",
        "radial growth and the listed contributions only",
    ),
)

FILES = (
    _entry(
        "deviation_mm",
        "mm",
        "largest distance of the file's surface from the exact one, measured",
        "facets against the exact section",
        "measured on the mesh that was written",
        "none where not measured",
    ),
    _entry(
        "volume_error",
        "1",
        "share by which the file's volume is off",
        "file volume / exact volume - 1",
        "closed form against what was written",
        "none where a file holds no volume",
    ),
    _entry("triangles", "1", "triangles of the mesh", "count", "the mesh that was written", "meshes only"),
    _entry("bytes", "1", "size of the file", "count", "the file as written", "none"),
)

FIGURES = (*WEIGHT, *SIZES, *GAPS, *FILES)
