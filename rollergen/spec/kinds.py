"""The physical kinds our files speak of: their unit inside, the common units people write, their bounds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import inf, pi

INCH = 25.4  # mm, exact since the international yard and pound agreement of 1959
_FOOT = 12 * INCH
POUND = 0.45359237  # kg, exact, same agreement
GRAVITY = 9.80665  # m/s2, and N per kg; standard value
_PSI = POUND * GRAVITY / INCH**2  # MPa: pound-force per square inch


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A physical kind: its name for messages, its unit inside, common units, bounds and an example.

    ``own`` maps a unit's text to its size in ``unit``; ``oracle`` is ``unit`` spelled for pint.
    ``refused`` maps a unit that can be read in two ways to what to write instead.
    """

    name: str
    unit: str
    oracle: str
    own: Mapping[str, float]
    example: str
    least: float = -inf
    most: float = inf
    above_least: bool = False
    refused: Mapping[str, str] = field(default_factory=dict)


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
_PER_MINUTE = pi / 30  # rad/s in one turn a minute
_SPEEDS = {
    "rpm": _PER_MINUTE, "1/min": _PER_MINUTE, "/min": _PER_MINUTE, "min^-1": _PER_MINUTE,
    "r/min": _PER_MINUTE, "rev/min": _PER_MINUTE, "turn/min": _PER_MINUTE, "turns/min": _PER_MINUTE,
    "rps": 2 * pi, "rev/s": 2 * pi, "turn/s": 2 * pi, "turns/s": 2 * pi,
    "rad/s": 1.0, "deg/s": pi / 180, "°/s": pi / 180,
}  # fmt: skip
_TWO_SPEEDS = dict.fromkeys(
    ("Hz", "hz", "1/s", "/s", "s^-1"),
    'may mean turns or radians per second; write "rev/s" for turns, "rad/s" for radians, or turns a minute',
)
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
STIFFNESS = Kind(
    name="stiffness", unit="N/mm", oracle="N/mm", own={"N/mm": 1.0, "kN/m": 1.0, "N/m": 1e-3, "kN/mm": 1e3},
    example="80 N/mm", least=0.0, most=1e6, above_least=True,
)  # fmt: skip
SHARE = Kind(name="share", unit="", oracle="", own=_SHARES, example="1.4 %", least=0.0, most=1.0)

_FASTEST = 6000 * _PER_MINUTE  # far above any cleaning roller
SIGNED_ROTATION_SPEED = Kind(
    name="rotation speed", unit="rad/s", oracle="rad/s", own=_SPEEDS, example="90 rpm", least=-_FASTEST,
    most=_FASTEST, refused=_TWO_SPEEDS,
)  # fmt: skip
ROTATION_SPEED = replace(SIGNED_ROTATION_SPEED, least=0.0, above_least=True)

# Duty: bounds that a slip of the pen passes and no crop, clod, stone or soil does
ITEM_SIZE = replace(POSITIVE_LENGTH, name="size", example="45 mm", most=2000.0)
CROP_DENSITY = replace(DENSITY, name="crop density", example="1.05 g/cm^3", least=100.0, most=2500.0)
DEBRIS_DENSITY = replace(DENSITY, name="density", example="2.6 g/cm^3", least=10.0, most=9000.0)
SOIL_DENSITY = replace(DENSITY, name="soil density", example="1.6 g/cm^3", least=300.0, most=3000.0)
SOIL_LAYER = replace(POSITIVE_LENGTH, name="layer", example="6 mm", most=200.0)
ADHESION = replace(
    PRESSURE, name="adhesion", example="0.2 kPa", least=0.0, most=0.1, above_least=False
)  # walls in stiff clay carry at most 36 to 46 kPa (geotechnical program manual)
STRENGTH = replace(PRESSURE, name="strength", example="42 kPa", most=1000.0)
MUD_MODULUS = replace(PRESSURE, name="modulus of the soil", example="1 MPa", most=1000.0)
COHESION = replace(PRESSURE, name="cohesion", example="4 kPa", least=0.0, most=1.0, above_least=False)
FRICTION_ANGLE = replace(
    ANGLE, name="angle of friction", example="30 deg", least=0.0, most=60 * pi / 180
)  # loose soil stays below 45 deg
BOND_ENERGY = Kind(
    name="bond energy", unit="N/mm", oracle="N/mm", example="0.2 J/m^2", least=0.0, most=10.0,
    own={"J/m^2": 1e-3, "J/m2": 1e-3, "mJ/m^2": 1e-6, "mJ/m2": 1e-6, "kJ/m^2": 1.0, "kJ/m2": 1.0, "N/m": 1e-3,
         "mN/m": 1e-6, "N/mm": 1.0},
)  # fmt: skip
LINE_LOAD = Kind(
    name="force per length", unit="N/mm", oracle="N/mm", example="0.5 N/mm", least=0.0, most=1000.0,
    own={"N/mm": 1.0, "kN/m": 1.0, "N/m": 1e-3, "N/cm": 0.1}, above_least=True,
)  # fmt: skip
BRUISE_PRESSURE = replace(PRESSURE, name="bruise pressure", example="0.9 MPa", most=100.0)
