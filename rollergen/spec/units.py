"""The only door for units: text with a unit in, plain floats in mm, rad, kg, N, MPa, s out.

A text is split into one number and one unit by our own rules (``spec.numerals``).  The unit is looked
up in a short table of common units; only a unit that is not there is asked of pint, word by word, and
pint never sees a number.  Bare numbers are refused: write "143 mm".
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from math import inf, isfinite, pi
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, WithJsonSchema

from rollergen.spec.kinds import (
    ANGLE,
    DENSITY,
    EXPANSION,
    INCH,
    LENGTH,
    LINE_LOAD,
    POSITIVE_LENGTH,
    POUND,
    PRESSURE,
    ROTATION_SPEED,
    SHARE,
    SIGNED_LENGTH,
    STIFFNESS,
    Kind,
)
from rollergen.spec.numerals import Unreadable, number_and_unit, plain

Units = Literal["mm", "in"]

# A number, whole, decimal or with a fraction, then at least one letter or sign of a unit
_PATTERN = r"^\s*[+\-−]?[0-9.½¼¾⅓⅔⅛⅜⅝⅞][0-9 ./½¼¾⅓⅔⅛⅜⅝⅞eE+\-]*[^0-9\s.,+\-].*$"


def quantity(said: object, kind: Kind) -> float:
    """A text such as "8 mm" as a plain float in ``kind.unit``.

    Raises ``Unreadable`` (a ``ValueError``) naming the text, what is wrong and what to write: no unit,
    unknown unit, a unit of another kind, an offset unit, a decimal comma, NaN, out of bounds.
    """
    value, unit = number_and_unit(_text_of(said, kind))
    if not unit:
        raise Unreadable(f"{shown(said)} has no unit; write {_with_unit(value, said, kind)}")
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


def parse_share(text: str, what: str = "share") -> float:
    """A share from text such as "1.4 %" (0.014)."""
    return _parsed(text, what, SHARE)


def parse_rotation_speed(text: str, what: str = "rotation speed") -> float:
    """A rotation speed above 0 in rad/s from text such as "90 rpm"."""
    return _parsed(text, what, ROTATION_SPEED)


def parse_stiffness(text: str, what: str = "stiffness") -> float:
    """A stiffness in N/mm."""
    return _parsed(text, what, STIFFNESS)


def parse_line_load(text: str, what: str = "force per length") -> float:
    """A force per length of roller, above 0, in N/mm."""
    return _parsed(text, what, LINE_LOAD)


def length_text(mm: float, units: Units = "mm", *, digits: int = 2) -> str:
    """A length for people to read: "112.00 mm" or "4.4094 in"; ``digits`` decimals of a mm, inches take two more."""
    value, places = (mm / INCH, digits + 2) if units == "in" else (mm, digits)
    rounded = round(value, places) + 0.0  # + 0.0 turns a rounded -0.0 into 0.0
    return f"{rounded:.{places}f} {units}"


def angle_text(rad: float, *, digits: int = 2) -> str:
    """An angle for people to read, in degrees."""
    return f"{round(rad * 180 / pi, digits) + 0.0:.{digits}f} deg"


def _parsed(text: str, what: str, kind: Kind) -> float:
    try:
        return quantity(text, kind)
    except Unreadable as wrong:
        raise Unreadable(f"{what}: {wrong}") from None


def _text_of(said: object, kind: Kind) -> str:
    if isinstance(said, str):
        return said
    if isinstance(said, bool) or not isinstance(said, int | float):
        raise Unreadable(f'{shown(said)} is not a {kind.name}; write e.g. "{kind.example}"')
    if not _usable(said):
        raise Unreadable(f'{shown(said)} is not a number that can be measured; write e.g. "{kind.example}"')
    raise Unreadable(f"{said} has no unit; write {_with_unit(said, said, kind)}")


def _with_unit(value: float, said: object, kind: Kind) -> str:
    if kind.unit == "":
        if value >= 1:  # nobody means more than the whole: the sign was forgotten
            return f'"{value:g} %"'
        return f'"{value * 100:g} %"' + (f' or "{value:g} %", as is meant' if value >= 0.1 else "")
    usual = kind.example.rsplit(" ", 1)[1]
    return f'"{plain(said) if isinstance(said, str) else f"{value:g}"} {usual}"'


def _usable(said: float) -> bool:
    # a whole number of a TOML text may have thousands of digits: no float, and not to be printed
    return abs(said) < 10**300 if isinstance(said, int) else isfinite(said)


def shown(said: object) -> str:
    """A value of a file as a message repeats it."""
    if isinstance(said, int) and not _usable(said):
        return "a number of hundreds of digits"
    if isinstance(said, dict):
        return "a table"
    if isinstance(said, list):
        return "a list"
    return f'"{said}"' if isinstance(said, str) else str(said).lower()


def _refuse_outside(value: float, kind: Kind, said: str) -> None:
    if not isfinite(value) or value > kind.most:
        raise Unreadable(f'"{said}" is too large: at most {_bound(kind.most, kind)}')
    if value < kind.least:
        why = "negative" if kind.least == 0.0 else "too small"
        raise Unreadable(f'"{said}" is {why}: at least {_bound(kind.least, kind)}')
    if kind.above_least and value <= kind.least:
        raise Unreadable(f'"{said}" must be above {_bound(kind.least, kind)}')


def _bound(value: float, kind: Kind) -> str:
    if kind.unit == "rad":
        return f"{value * 180 / pi:g} deg"
    if kind.unit == "rad/s":
        return f"{value * 30 / pi:g} rpm"
    return f"{value * 100:g} %" if kind.unit == "" else f"{value:g} {kind.unit}"


# A word of a unit with an optional power; words are joined by *, ·, a blank or /.
_WORD = r"([A-Za-zµμÅΩ°%_][A-Za-z0-9µμ_]*?)(?:(?:\^|\*\*)([+-]?[0-9])|([0-9]))?"
_FACTOR = re.compile(rf"\s*([*/·]|)\s*(?:{_WORD})(?=$|[\s*/·])")


def _size_of(unit: str, kind: Kind, said: str) -> float:
    spelled = unit.replace("²", "^2").replace("³", "^3").replace("µ", "u").replace("μ", "u")
    own = kind.own.get(spelled)
    if own is not None:
        return own
    if spelled in kind.refused:
        raise Unreadable(f'"{said}": "{unit}" {kind.refused[spelled]}, e.g. "{kind.example}"')
    size, dimension = _compound_unit(spelled, kind, said)
    reference, wanted = _compound_unit(kind.oracle, kind, said) if kind.oracle else (1.0, ())
    if dimension != wanted:
        raise Unreadable(_wrong_kind(said, unit, kind))
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
            raise Unreadable(f'"{said}": "{spelled}" is not one unit; write e.g. "{kind.example}"')
        power = int(found.group(3) or found.group(4) or 1) * (-1 if found.group(1) == "/" else 1)
        try:
            word_size, roots = _word(found.group(2))
        except Unreadable as wrong:
            raise Unreadable(_unknown(said, found.group(2), kind, str(wrong))) from None
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
            raise Unreadable(f'"{word}" is not a unit')
        nothing, one, two = (registry.Quantity(n, word).to_root_units() for n in (0.0, 1.0, 2.0))
    except PintError:
        raise Unreadable(f'"{word}" is not a unit') from None
    if nothing.magnitude != 0.0 or abs(two.magnitude - 2 * one.magnitude) > 1e-12 * abs(two.magnitude):
        raise Unreadable(f'"{word}" is counted from an offset and cannot be used here')
    powers = one.unit_items()
    if any(exponent != int(exponent) for _, exponent in powers):
        raise Unreadable(f'"{word}" is not a unit this program can use')
    return float(one.magnitude), tuple(sorted((str(root), int(exponent)) for root, exponent in powers))


def _slipped_plural(word: str) -> bool:
    # pint drops any final s ("inchs", "foots", "ins"); English does not, and symbols have no plural
    stem = word.removesuffix("s")
    if stem == word or not _registry().parse_unit_name(stem):
        return False
    # prefixed units such as "us" (microsecond) are no plurals: their stem means something else
    same = _registry().Unit(stem) == _registry().Unit(word)
    return same and (len(stem) < 3 or stem.endswith(("s", "x", "z", "ch", "sh", "foot")))


def text_schema(kind: Kind, *more: str, pattern: str = _PATTERN) -> WithJsonSchema:
    """What an editor is told about a text of this kind."""
    return WithJsonSchema(
        {
            "type": "string",
            "pattern": pattern,
            "examples": [kind.example, *more],
            "description": f"{kind.name} with its unit",
        }
    )


def reader(kind: Kind) -> Callable[[object], float]:
    """A validator that takes a text of this kind for its number in ``kind.unit``."""
    return lambda said: quantity(said, kind)


def _count(said: object) -> int:
    if isinstance(said, bool) or not isinstance(said, int):
        raise Unreadable(f"{shown(said)} is not a whole number; write e.g. 5, without quotes")
    return said


def ratio(said: object) -> float:
    """A plain number, whole or decimal, without unit."""
    if isinstance(said, bool) or not isinstance(said, int | float):
        raise Unreadable(f"{shown(said)} is not a plain number; write e.g. 0.8, without quotes and unit")
    if not _usable(said) or abs(said) > 1e6:
        raise Unreadable(f"{shown(said)} is not a usable number; write e.g. 0.8")
    return float(said)


def _pitch(said: object) -> float:
    if isinstance(said, str) and said.strip().lower() == "straight":
        return inf
    try:
        return quantity(said, POSITIVE_LENGTH)
    except Unreadable as wrong:
        raise Unreadable(f'{wrong}; for ribs without helix write "straight"') from None


_SHORE = re.compile(r"^(?:shore)?\s*([a-zA-Z])$", re.IGNORECASE)


def _hardness(said: object) -> float:
    example = 'write e.g. "75 ShoreA"'
    if not isinstance(said, str):
        raise Unreadable(f"{shown(said)} has no scale; {example}")
    value, scale = number_and_unit(said)
    found = _SHORE.match(scale)
    if not found:
        raise Unreadable(f'"{said}" is not a hardness; {example}')
    if found.group(1).upper() != "A":
        raise Unreadable(f'"{said}" is on another Shore scale, and scales do not convert; {example}')
    if not 0 < value < 100:
        raise Unreadable(f'"{said}" is outside the Shore A scale, 0 to 100; {example}')
    return value


@dataclass(frozen=True, slots=True, kw_only=True)
class PricePerKg:
    """What a kilogram of compound costs: ``amount`` in ``currency`` ("EUR") per kg."""

    amount: float
    currency: str


_PRICE = re.compile(r"^([A-Z]{3}|€|£)\s*/\s*(kg|g|lb|t)$")
_MASSES = {"kg": 1.0, "g": 1e-3, "lb": POUND, "t": 1000.0}


def _price(said: object) -> PricePerKg:
    example = 'write e.g. "6.4 EUR/kg"'
    if isinstance(said, PricePerKg):
        return said
    if not isinstance(said, str):
        raise Unreadable(f"{shown(said)} is not a price; {example}")
    value, unit = number_and_unit(said)
    found = _PRICE.match(unit)
    if not found:
        raise Unreadable(f'"{said}" is not a price per mass; {example}')
    if not 0 <= value <= 1e6:
        raise Unreadable(f'"{said}" is not a price between 0 and 1e6; {example}')
    currency = {"€": "EUR", "£": "GBP"}.get(found.group(1), found.group(1))
    return PricePerKg(amount=value / _MASSES[found.group(2)], currency=currency)


_RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}


def _name(said: object) -> str:
    if not isinstance(said, str):
        raise Unreadable(f'{shown(said)} is not a name; write a text in quotes, e.g. "smooth roller"')
    if not said.strip() or said != said.strip():
        raise Unreadable(f'"{said}" is not a name: it is empty or begins or ends with a blank')
    if len(said) > 80 or not said.isprintable():
        raise Unreadable("a name has at most 80 printable characters on one line")
    return said


def _file_name(said: object) -> str:
    name = _name(said)
    if re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]*", name) and not name.endswith("."):
        if name.split(".")[0].lower() in _RESERVED:
            raise Unreadable(f'"{name}" is a reserved file name on some systems; write "{name}-segment"')
        return name
    better = re.sub(r"[^A-Za-z0-9._-]+", "-", name).strip("-._") or "segment"
    raise Unreadable(f'"{name}" cannot name a file everywhere; write e.g. "{better}"')


_COLOURS = {
    "black": "#1f2124", "white": "#f4f4f2", "grey": "#8d9194", "red": "#b23a33", "orange": "#d97b29",
    "yellow": "#e3b93c", "green": "#4d8a4f", "blue": "#3d6fa5", "brown": "#7a5638", "natural": "#d8c39a",
}  # fmt: skip


def _colour(said: object) -> str:
    if isinstance(said, str) and said.lower() in _COLOURS:
        return _COLOURS[said.lower()]
    if isinstance(said, str) and re.fullmatch(r"#[0-9A-Fa-f]{6}", said):
        return said.lower()
    raise Unreadable(f'{shown(said)} is not a colour; write "#d8c39a" or one of {", ".join(_COLOURS)}')


Angle = Annotated[float, BeforeValidator(reader(ANGLE)), text_schema(ANGLE)]
Count = Annotated[int, BeforeValidator(_count)]
Density = Annotated[float, BeforeValidator(reader(DENSITY)), text_schema(DENSITY, "1.12 g/cm^3")]
Expansion = Annotated[float, BeforeValidator(reader(EXPANSION)), text_schema(EXPANSION)]
Hardness = Annotated[
    float,
    BeforeValidator(_hardness),
    WithJsonSchema({"type": "string", "pattern": r"^[0-9.]+\s*(Shore)?\s*A$", "examples": ["75 ShoreA"]}),
]
Length = Annotated[float, BeforeValidator(reader(LENGTH)), text_schema(LENGTH, "1/4 in")]
PositiveLength = Annotated[
    float, BeforeValidator(reader(POSITIVE_LENGTH)), text_schema(POSITIVE_LENGTH, "2 1/2 in")
]
SignedLength = Annotated[float, BeforeValidator(reader(SIGNED_LENGTH)), text_schema(SIGNED_LENGTH, "-3 mm")]
Modulus = Annotated[float, BeforeValidator(reader(PRESSURE)), text_schema(PRESSURE)]
Share = Annotated[float, BeforeValidator(reader(SHARE)), text_schema(SHARE)]
PitchOrStraight = Annotated[
    float,
    BeforeValidator(_pitch),
    text_schema(POSITIVE_LENGTH, "straight", pattern=f"^straight$|{_PATTERN}"),
]
Ratio = Annotated[float, BeforeValidator(ratio)]
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
    WithJsonSchema(
        {"type": "string", "pattern": "^[A-Za-z0-9][A-Za-z0-9._-]*$", "examples": ["beet-autumn"]}
    ),
]
Colour = Annotated[
    str, BeforeValidator(_colour), WithJsonSchema({"type": "string", "examples": ["#d8c39a", "orange"]})
]
