"""The physical kinds a profile speaks of: their unit inside, the common units people write, their bounds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, pi

INCH = 25.4  # mm, exact since the international yard and pound agreement of 1959
_FOOT = 12 * INCH
POUND = 0.45359237  # kg, exact, same agreement
_PSI = POUND * 9.80665 / INCH**2  # MPa: pound-force per square inch


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A physical kind: its name for messages, its unit inside, common units, bounds and an example.

    ``own`` maps a unit's text to its size in ``unit``; ``oracle`` is ``unit`` spelled for pint.
    """

    name: str
    unit: str
    oracle: str
    own: Mapping[str, float]
    example: str
    least: float = -inf
    most: float = inf
    above_least: bool = False


_LENGTHS = {
    "mm": 1.0, "cm": 10.0, "dm": 100.0, "m": 1000.0, "um": 1e-3, "in": INCH, "inch": INCH, "inches": INCH,
    '"': INCH, "″": INCH, "ft": _FOOT, "foot": _FOOT, "feet": _FOOT, "'": _FOOT, "′": _FOOT,
    "millimeter": 1.0, "millimeters": 1.0, "millimetre": 1.0, "millimetres": 1.0, "thou": INCH / 1000,
    "centimeter": 10.0, "centimeters": 10.0, "centimetre": 10.0, "centimetres": 10.0,
    "meter": 1000.0, "meters": 1000.0, "metre": 1000.0, "metres": 1000.0,
}  # fmt: skip
_ANGLES = {
    "deg": pi / 180, "°": pi / 180, "º": pi / 180, "degree": pi / 180, "degrees": pi / 180, "rad": 1.0,
    "radian": 1.0, "radians": 1.0, "arcmin": pi / 10800, "'": pi / 10800, "′": pi / 10800,
    '"': pi / 648000, "″": pi / 648000, "turn": 2 * pi, "turns": 2 * pi,
}  # fmt: skip
_DENSITIES = {
    "kg/m^3": 1.0, "kg/m3": 1.0, "g/cm^3": 1000.0, "g/cm3": 1000.0, "g/cc": 1000.0, "g/ml": 1000.0,
    "g/mL": 1000.0, "kg/dm^3": 1000.0, "kg/dm3": 1000.0, "kg/l": 1000.0, "kg/L": 1000.0, "t/m^3": 1000.0,
    "t/m3": 1000.0, "g/l": 1.0, "g/L": 1.0, "lb/ft^3": POUND / 0.3048**3, "lb/ft3": POUND / 0.3048**3,
    "lb/in^3": POUND / 0.0254**3, "lb/in3": POUND / 0.0254**3,
}  # fmt: skip
_PRESSURES = {
    "MPa": 1.0, "kPa": 1e-3, "Pa": 1e-6, "GPa": 1e3, "bar": 0.1, "N/mm^2": 1.0, "N/mm2": 1.0, "psi": _PSI,
    "ksi": 1000 * _PSI, "N/m^2": 1e-6, "N/m2": 1e-6,
}  # fmt: skip
_EXPANSIONS = {
    "1/K": 1.0, "/K": 1.0, "K^-1": 1.0, "ppm/K": 1e-6, "um/(m*K)": 1e-6, "um/m/K": 1e-6,
    "1/°C": 1.0, "/°C": 1.0, "1/degC": 1.0, "/degC": 1.0, "1/°F": 1.8, "1/degF": 1.8,
}  # fmt: skip
_SHARES = {"%": 0.01, "percent": 0.01, "‰": 1e-3, "ppm": 1e-6}

_HUGE = 1e5  # mm: a length of 100 m is a slip of the pen on a roller
LENGTH = Kind(name="length", unit="mm", oracle="mm", own=_LENGTHS, example="8 mm", least=0.0, most=_HUGE)
POSITIVE_LENGTH = Kind(
    name="length",
    unit="mm",
    oracle="mm",
    own=_LENGTHS,
    example="8 mm",
    least=0.0,
    most=_HUGE,
    above_least=True,
)
SIGNED_LENGTH = Kind(
    name="length", unit="mm", oracle="mm", own=_LENGTHS, example="8 mm", least=-_HUGE, most=_HUGE
)
ANGLE = Kind(
    name="angle", unit="rad", oracle="rad", own=_ANGLES, example="15 deg", least=-200 * pi, most=200 * pi
)
DENSITY = Kind(
    name="density", unit="kg/m^3", oracle="kg/m^3", own=_DENSITIES, example="1120 kg/m^3", least=0.0,
    most=25000.0, above_least=True,
)  # fmt: skip
PRESSURE = Kind(
    name="modulus or pressure", unit="MPa", oracle="MPa", own=_PRESSURES, example="6 MPa", least=0.0,
    most=1e6, above_least=True,
)  # fmt: skip
EXPANSION = Kind(
    name="expansion", unit="1/K", oracle="K^-1", own=_EXPANSIONS, example="1.5e-4 1/K", least=0.0, most=0.01
)
SHARE = Kind(name="share", unit="", oracle="", own=_SHARES, example="1.4 %", least=0.0, most=1.0)
