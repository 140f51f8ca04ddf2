"""Where the figures of the shaft study come from."""

from __future__ import annotations

from rollergen.spec.trace import Figure

_BEAM = "even beam, any beam table"
_SLENDER = (
    "slender bar of nominal size, span between bearings; shear left out (1 to 2 % at span = 10 x across)"
)
_MODE = "uniform beam, any vibration book"
_INPUT = "as chosen"


def _entry(key: str, unit: str, words: str, formula: str, source: str, limits: str = _SLENDER) -> Figure:
    return Figure(key=key, words=words, formula=formula, source=source, limits=limits, unit=unit)


FIGURES = (
    _entry("section", "-", "section of the bar", "input", _INPUT, "solid bars"),
    _entry("across_mm", "mm", "bar across flats, or its diameter", "input", _INPUT, "nominal size"),
    _entry(
        "corner_radius_mm",
        "mm",
        "radius on the corners of the bar",
        "input",
        "the bar standard's largest",
        "nominal",
    ),
    _entry("span_mm", "mm", "distance between the bearings", "input", _INPUT, "two bearings"),
    _entry(
        "supports", "-", "what the bearings hold", "input", _INPUT, "self-aligning: hinges; clamped: no tilt"
    ),
    _entry("shaft_kg", "kg", "mass of the bar between the bearings", "area x density x span", "definition"),
    _entry("own_load_n_per_mm", "N/mm", "weight of bar and rubber", "(bar + rubber) x 9.80665", "definition"),
    _entry("sag_own_mm", "mm", "sag under bar and rubber", "5 q L4 / (384 E I); clamped 1/5", _BEAM),
    _entry("sag_crop_mm", "mm", "sag under the crop", "5 q L4 / (384 E I); clamped 1/5", _BEAM),
    _entry("sag_rib_mm", "mm", "bend under the rib force at mid span", "P L3 / (48 E I); clamped 1/4", _BEAM),
    _entry("deflection_mm", "mm", "greatest bend, all loads in one line", "sum of the three", _BEAM),
    _entry("span_per_deflection", "1", "span over greatest bend", "span / deflection", "definition"),
    _entry(
        "end_slope_rad", "rad", "tilt in the bearings", "(q L3 / 24 + P L2 / 16) / (E I); clamped 0", _BEAM
    ),
    _entry(
        "bending_stress_mpa",
        "MPa",
        "bending stress over the corner, fully reversed each turn",
        "M reach / I, M = q L2 / 8 + P L / 4; clamped q L2 / 12 + P L / 8",
        _BEAM,
    ),
    _entry(
        "flat_stress_mpa", "MPa", "bending stress with a flat square to the load", "M (across / 2) / I", _BEAM
    ),
    _entry(
        "torsion_stress_mpa",
        "MPa",
        "greatest shear stress by torque, at the middle of a flat",
        "T / Q; Q = 0.20817 a3 square, 0.18768 a3 hexagon, pi d3 / 16 round, less for round corners",
        "Saint-Venant's series; hexagon and rounding solved by boundary collocation",
        "free warping",
    ),
    _entry(
        "shaft_twist_rad",
        "rad",
        "twist of the bar, the torque passing through its whole length",
        "T L / (G J); J = 0.14058 a4 square, 0.11505 a4 hexagon, pi d4 / 32 round, less for round corners",
        "Saint-Venant's series; hexagon and rounding solved by boundary collocation",
        "a torque taken off evenly along the shaft twists half as much",
    ),
    _entry(
        "combined_stress_mpa",
        "MPa",
        "bending over the corner and torsion together, not exceeded anywhere",
        "sqrt(bending2 + 3 torsion2)",
        "von Mises",
        "upper bound: bending is greatest at a corner, torsion at mid flat; exact for a round bar",
    ),
    _entry(
        "critical_speed_rad_s",
        "rad/s",
        "first critical speed with the rubber's mass",
        "pi2 sqrt(E I / (m L4)); clamped 22.373",
        _MODE,
    ),
    _entry(
        "critical_speed_rpm",
        "rpm",
        "first critical speed with the rubber's mass",
        "as critical_speed_rad_s x 60 / (2 pi)",
        _MODE,
    ),
    _entry("bare_critical_speed_rpm", "rpm", "first critical speed of the bar alone", "m = bar only", _MODE),
    _entry(
        "critical_speed_ratio",
        "1",
        "critical speed over rotation speed",
        "critical / rotation",
        "definition",
        "none without a rotation speed",
    ),
    _entry(
        "bore_pressure_mpa",
        "MPa",
        "pressure on the bore's flats under a segment's torque: linear, uniform",
        "square: 3 T / (c2 L) rising to the corner, 2 T / (c2 L) all over, c = flat between the corners",
        "equilibrium of half flats",
        "stiff bore; friction left out; no round bars",
    ),
    _entry(
        "shaft_ok",
        "-",
        "whether the bar meets every limit that was set",
        "no reasons",
        "definition",
        "limits as given; span/400 and the others by default",
    ),
    _entry(
        "reasons",
        "-",
        "why the bar is not enough",
        "each limit that is passed, with its numbers",
        "the limits",
    ),
)
