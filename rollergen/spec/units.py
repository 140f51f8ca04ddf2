"""The only door for units: text with a unit in, plain floats in mm, rad, kg, N, MPa, s out.

A text is split into one number and one unit by our own rules (``spec.numerals``).  The unit is looked
up in a short table of common units; only a unit that is not there is asked of pint, word by word, and
pint never sees a number.  Bare numbers are refused: write "143 mm".
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from math import inf, isfinite, pi
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, WithJsonSchema

from rollergen.spec.numerals import number_and_unit, plain

Units = Literal["mm", "in"]
INCH = 25.4  # mm, exact since the international yard and pound agreement of 1959
_FOOT = 12 * INCH
_POUND = 0.45359237  # kg, exact, same agreement
_PSI = _POUND * 9.80665 / INCH**2  # MPa: pound-force per square inch

_NUMBER_PATTERN = r"[+-]?[0-9 .½¼¾⅓⅔⅛⅜⅝⅞/eE+-]*"


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
    "t/m3": 1000.0, "g/l": 1.0, "g/L": 1.0, "lb/ft^3": _POUND / 0.3048**3, "lb/ft3": _POUND / 0.3048**3,
    "lb/in^3": _POUND / 0.0254**3, "lb/in3": _POUND / 0.0254**3,
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
    name="length", unit="mm", oracle="mm", own=_LENGTHS, example="8 mm", least=0.0, most=_HUGE, above_least=True
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


def quantity(said: object, kind: Kind) -> float:
    """A text such as "8 mm" as a plain float in ``kind.unit``.

    Raises ``ValueError`` naming the text, what is wrong and what to write: no unit, unknown unit, a unit
    of another kind, an offset unit, a decimal comma, NaN, out of bounds.
    """
    value, unit = number_and_unit(_text_of(said, kind))
    if not unit:
        raise ValueError(f'{shown(said)} has no unit; write {_with_unit(value, said, kind)}')
    result = value * _size_of(unit, kind, str(said))
    _refuse_outside(result, kind, str(said))
    return result


def parse_length(text: str, what: str = "length") -> float:
    """A length of zero or more in mm from text such as "8 mm", "1/4 in"; ``what`` names it in the error."""
    return _parsed(text, what, LENGTH)


def parse_positive_length(text: str, what: str = "length") -> float:
    """A length above zero in mm."""
    return _parsed(text, what, POSITIVE_LENGTH)


def parse_signed_length(text: str, what: str = "length") -> float:
    """A length in mm that may be negative (a gap, an offset)."""
    return _parsed(text, what, SIGNED_LENGTH)


def parse_angle(text: str, what: str = "angle") -> float:
    """An angle in rad from text such as "15 deg"."""
    return _parsed(text, what, ANGLE)


def parse_density(text: str, what: str = "density") -> float:
    """A density in kg/m^3."""
    return _parsed(text, what, DENSITY)


def parse_pressure(text: str, what: str = "pressure") -> float:
    """A modulus or pressure in MPa."""
    return _parsed(text, what, PRESSURE)


def parse_expansion(text: str, what: str = "expansion") -> float:
    """A linear expansion in 1/K."""
    return _parsed(text, what, EXPANSION)


def parse_share(text: str, what: str = "share") -> float:
    """A share from text such as "1.4 %" (0.014)."""
    return _parsed(text, what, SHARE)


def length_text(mm: float, units: Units = "mm", *, digits: int | None = None) -> str:
    """A length for people to read: "112.00 mm" or "4.4094 in" (2 and 4 decimals unless told)."""
    value = mm / INCH if units == "in" else mm
    places = digits if digits is not None else (4 if units == "in" else 2)
    rounded = round(value, places) + 0.0  # + 0.0 turns a rounded -0.0 into 0.0
    return f"{rounded:.{places}f} {units}"


def angle_text(rad: float, *, digits: int = 2) -> str:
    """An angle for people to read, in degrees."""
    return f"{round(rad * 180 / pi, digits) + 0.0:.{digits}f} deg"


def _parsed(text: str, what: str, kind: Kind) -> float:
    try:
        return quantity(text, kind)
    except ValueError as wrong:
        raise ValueError(f"{what}: {wrong}") from None


def _text_of(said: object, kind: Kind) -> str:
    if isinstance(said, str):
        return said
    if isinstance(said, bool) or not isinstance(said, int | float):
        raise ValueError(f'{shown(said)} is not a {kind.name}; write e.g. "{kind.example}"')
    if not isfinite(said):
        raise ValueError(f'{said} is not a number that can be measured; write e.g. "{kind.example}"')
    raise ValueError(f"{said} has no unit; write {_with_unit(said, said, kind)}")


def _with_unit(value: float, said: object, kind: Kind) -> str:
    if kind.unit == "":
        return f'"{value * 100:g} %"'
    usual = kind.example.rsplit(" ", 1)[1]
    return f'"{plain(said) if isinstance(said, str) else f"{value:g}"} {usual}"'


def shown(said: object) -> str:
    if isinstance(said, dict):
        return "a table"
    if isinstance(said, list):
        return "a list"
    return f'"{said}"' if isinstance(said, str) else str(said).lower()


def _refuse_outside(value: float, kind: Kind, said: str) -> None:
    if not isfinite(value) or value > kind.most:
        raise ValueError(f'"{said}" is too large: at most {_bound(kind.most, kind)}')
    if value < kind.least:
        why = "negative" if kind.least == 0.0 else "too small"
        raise ValueError(f'"{said}" is {why}: at least {_bound(kind.least, kind)}')
    if kind.above_least and value <= kind.least:
        raise ValueError(f'"{said}" must be above {_bound(kind.least, kind)}')


def _bound(value: float, kind: Kind) -> str:
    if kind.unit == "rad":
        return f"{value * 180 / pi:g} deg"
    return f"{value * 100:g} %" if kind.unit == "" else f"{value:g} {kind.unit}"


# A word of a unit with an optional power; words are joined by *, ·, a blank or /.
_WORD = r"([A-Za-zµμÅΩ°%_][A-Za-z0-9µμ_]*?)(?:(?:\^|\*\*)([+-]?[0-9])|([0-9]))?"
_FACTOR = re.compile(rf"\s*([*/·]|)\s*(?:{_WORD})(?=$|[\s*/·])")


def _size_of(unit: str, kind: Kind, said: str) -> float:
    spelled = unit.replace("²", "^2").replace("³", "^3").replace("µ", "u").replace("μ", "u")
    own = kind.own.get(spelled)
    if own is not None:
        return own
    size, dimension = _compound_unit(spelled, kind, said)
    reference, wanted = _compound_unit(kind.oracle, kind, said) if kind.oracle else (1.0, ())
    if dimension != wanted:
        raise ValueError(_wrong_kind(said, unit, kind))
    return size / reference


def _wrong_kind(said: str, unit: str, kind: Kind) -> str:
    folded = {known.lower(): known for known in kind.own}
    near = folded.get(unit.lower())
    hint = f'did you mean "{near}"?' if near else f'write e.g. "{kind.example}"'
    article = "an" if kind.name[0] in "aeiou" else "a"
    return f'"{said}" is not {article} {kind.name}: "{unit}" measures something else; {hint}'


def _compound_unit(spelled: str, kind: Kind, said: str) -> tuple[float, tuple[tuple[str, int], ...]]:
    size, powers, at = 1.0, dict[str, int](), 0
    text = spelled[1:] if spelled.startswith("1/") else spelled
    while at < len(text):
        found = _FACTOR.match(text, at)
        if not found:
            raise ValueError(f'"{said}": "{spelled}" is not one unit; write e.g. "{kind.example}"')
        power = int(found.group(3) or found.group(4) or 1) * (-1 if found.group(1) == "/" else 1)
        try:
            word_size, roots = _word(found.group(2))
        except ValueError as wrong:
            raise ValueError(_unknown(said, found.group(2), kind, str(wrong))) from None
        size *= word_size**power
        for root, exponent in roots:
            powers[root] = powers.get(root, 0) + exponent * power
        at = found.end()
    return size, tuple(sorted((root, exponent) for root, exponent in powers.items() if exponent))


def _unknown(said: str, word: str, kind: Kind, why: str) -> str:
    near = get_close_matches(word, list(kind.own), n=1, cutoff=0.6)
    hint = f'did you mean "{near[0]}"?' if near else f'write e.g. "{kind.example}"'
    return f'"{said}": {why}; {hint}'


@cache
def _registry() -> Any:
    import pint  # 0.25 s with its registry: only for a unit outside our own tables

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=False, cache_folder=None)


@cache
def _word(word: str) -> tuple[float, tuple[tuple[str, int], ...]]:
    """Size of one unit word in root units, and those root units with their powers, as pint knows them."""
    from pint.errors import PintError

    registry = _registry()
    try:
        if not registry.parse_unit_name(word) or _slipped_plural(word):
            raise ValueError(f'"{word}" is not a unit')
        nothing, one, two = (registry.Quantity(n, word).to_root_units() for n in (0.0, 1.0, 2.0))
    except PintError:
        raise ValueError(f'"{word}" is not a unit') from None
    if nothing.magnitude != 0.0 or abs(two.magnitude - 2 * one.magnitude) > 1e-12 * abs(two.magnitude):
        raise ValueError(f'"{word}" is counted from an offset and cannot be used here')
    powers = one.unit_items()
    if any(exponent != int(exponent) for _, exponent in powers):
        raise ValueError(f'"{word}" is not a unit this program can use')
    return float(one.magnitude), tuple(sorted((str(root), int(exponent)) for root, exponent in powers))


def _slipped_plural(word: str) -> bool:
    # pint drops any final s ("inchs", "foots", "ins"); English does not, and symbols have no plural
    stem = word.removesuffix("s")
    if stem == word or not _registry().parse_unit_name(stem):
        return False
    # prefixed units such as "us" (microsecond) are no plurals: their stem means something else
    same = _registry().Unit(stem) == _registry().Unit(word)
    return same and (len(stem) < 3 or stem.endswith(("s", "x", "z", "ch", "sh", "foot")))


def _schema(kind: Kind, *more: str) -> WithJsonSchema:
    return WithJsonSchema(
        {
            "type": "string",
            "pattern": rf"^\s*{_NUMBER_PATTERN}\s*[^0-9\s.,].*$|^\s*[+-]?[0-9.eE+-]+\s*1/.+$",
            "examples": [kind.example, *more],
            "description": f"{kind.name} with its unit",
        }
    )


def _reader(kind: Kind) -> Callable[[object], float]:
    return lambda said: quantity(said, kind)


def _count(said: object) -> int:
    if isinstance(said, bool) or not isinstance(said, int):
        raise ValueError(f"{shown(said)} is not a whole number; write e.g. 5, without quotes")
    return said


def _ratio(said: object) -> float:
    if isinstance(said, bool) or not isinstance(said, int | float):
        raise ValueError(f"{shown(said)} is not a plain number; write e.g. 0.8, without quotes and unit")
    if not isfinite(said) or abs(said) > 1e6:
        raise ValueError(f"{said} is not a usable number; write e.g. 0.8")
    return float(said)


def _pitch(said: object) -> float:
    if isinstance(said, str) and said.strip().lower() == "straight":
        return inf
    try:
        return quantity(said, POSITIVE_LENGTH)
    except ValueError as wrong:
        raise ValueError(f'{wrong}; for ribs without helix write "straight"') from None


_SHORE = re.compile(r"^(?:shore)?\s*([a-zA-Z])$", re.I)


def _hardness(said: object) -> float:
    example = 'write e.g. "75 ShoreA"'
    if not isinstance(said, str):
        raise ValueError(f"{shown(said)} has no scale; {example}")
    value, scale = number_and_unit(said)
    found = _SHORE.match(scale)
    if not found:
        raise ValueError(f'"{said}" is not a hardness; {example}')
    if found.group(1).upper() != "A":
        raise ValueError(f'"{said}" is on another Shore scale, and scales do not convert; {example}')
    if not 0 < value < 100:
        raise ValueError(f'"{said}" is outside the Shore A scale, 0 to 100; {example}')
    return value


@dataclass(frozen=True, slots=True, kw_only=True)
class PricePerKg:
    """What a kilogram of compound costs: ``amount`` in ``currency`` ("EUR") per kg."""

    amount: float
    currency: str


_PRICE = re.compile(r"^([A-Z]{3}|€|£)\s*/\s*(kg|g|lb|t)$")
_MASSES = {"kg": 1.0, "g": 1e-3, "lb": _POUND, "t": 1000.0}


def _price(said: object) -> PricePerKg:
    example = 'write e.g. "6.4 EUR/kg"'
    if isinstance(said, PricePerKg):
        return said
    if not isinstance(said, str):
        raise ValueError(f"{shown(said)} is not a price; {example}")
    value, unit = number_and_unit(said)
    found = _PRICE.match(unit)
    if not found:
        raise ValueError(f'"{said}" is not a price per mass; {example}')
    if not 0 <= value <= 1e6:
        raise ValueError(f'"{said}" is not a price between 0 and 1e6; {example}')
    currency = {"€": "EUR", "£": "GBP"}.get(found.group(1), found.group(1))
    return PricePerKg(amount=value / _MASSES[found.group(2)], currency=currency)


_RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}


def _name(said: object) -> str:
    if not isinstance(said, str):
        raise ValueError(f'{shown(said)} is not a name; write a text in quotes, e.g. "smooth roller"')
    if not said.strip() or said != said.strip():
        raise ValueError(f'"{said}" is not a name: it is empty or begins or ends with a blank')
    if len(said) > 80 or not said.isprintable():
        raise ValueError("a name has at most 80 printable characters on one line")
    return said


def _file_name(said: object) -> str:
    name = _name(said)
    if re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]*", name) and not name.endswith("."):
        if name.split(".")[0].lower() in _RESERVED:
            raise ValueError(f'"{name}" is a reserved file name on some systems; write "{name}-segment"')
        return name
    better = re.sub(r"[^A-Za-z0-9._-]+", "-", name).strip("-._") or "segment"
    raise ValueError(f'"{name}" cannot name a file everywhere; write e.g. "{better}"')


_COLOURS = {
    "black": "#1f2124", "white": "#f4f4f2", "grey": "#8d9194", "red": "#b23a33", "orange": "#d97b29",
    "yellow": "#e3b93c", "green": "#4d8a4f", "blue": "#3d6fa5", "brown": "#7a5638", "natural": "#d8c39a",
}  # fmt: skip


def _colour(said: object) -> str:
    if isinstance(said, str) and said.lower() in _COLOURS:
        return _COLOURS[said.lower()]
    if isinstance(said, str) and re.fullmatch(r"#[0-9A-Fa-f]{6}", said):
        return said.lower()
    raise ValueError(f'{shown(said)} is not a colour; write "#d8c39a" or one of {", ".join(_COLOURS)}')


Angle = Annotated[float, BeforeValidator(_reader(ANGLE)), _schema(ANGLE)]
Count = Annotated[int, BeforeValidator(_count)]
Density = Annotated[float, BeforeValidator(_reader(DENSITY)), _schema(DENSITY, "1.12 g/cm^3")]
Expansion = Annotated[float, BeforeValidator(_reader(EXPANSION)), _schema(EXPANSION)]
Hardness = Annotated[
    float,
    BeforeValidator(_hardness),
    WithJsonSchema({"type": "string", "pattern": r"^[0-9.]+\s*(Shore)?\s*A$", "examples": ["75 ShoreA"]}),
]
Length = Annotated[float, BeforeValidator(_reader(LENGTH)), _schema(LENGTH, "1/4 in")]
PositiveLength = Annotated[
    float, BeforeValidator(_reader(POSITIVE_LENGTH)), _schema(POSITIVE_LENGTH, "2 1/2 in")
]
SignedLength = Annotated[float, BeforeValidator(_reader(SIGNED_LENGTH)), _schema(SIGNED_LENGTH, "-3 mm")]
Modulus = Annotated[float, BeforeValidator(_reader(PRESSURE)), _schema(PRESSURE)]
Share = Annotated[float, BeforeValidator(_reader(SHARE)), _schema(SHARE)]
PitchOrStraight = Annotated[float, BeforeValidator(_pitch), _schema(POSITIVE_LENGTH, "straight")]
Ratio = Annotated[float, BeforeValidator(_ratio)]
Price = Annotated[
    PricePerKg,
    BeforeValidator(_price),
    WithJsonSchema(
        {"type": "string", "pattern": r"^[0-9.]+\s*([A-Z]{3}|€|£)/(kg|g|lb|t)$", "examples": ["6.4 EUR/kg"]}
    ),
]
Name = Annotated[
    str, BeforeValidator(_name), WithJsonSchema({"type": "string", "minLength": 1, "maxLength": 80})
]
FileName = Annotated[
    str,
    BeforeValidator(_file_name),
    WithJsonSchema({"type": "string", "pattern": "^[A-Za-z0-9][A-Za-z0-9._-]*$", "examples": ["beet-autumn"]}),
]
Colour = Annotated[
    str, BeforeValidator(_colour), WithJsonSchema({"type": "string", "examples": ["#d8c39a", "orange"]})
]
