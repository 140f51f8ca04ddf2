"""Ranges and sieve tables as a duty writes them: a lowest and a highest, or sizes with the share below.

Read whole, so that one slip makes one complaint, with the list to write instead.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from itertools import pairwise
from typing import Annotated

from pydantic import BeforeValidator, WithJsonSchema

from rollergen.spec.kinds import (
    ADHESION,
    BOND_ENERGY,
    COHESION,
    FRICTION_ANGLE,
    ITEM_SIZE,
    MUD_MODULUS,
    STRENGTH,
    Kind,
)
from rollergen.spec.numerals import Unreadable
from rollergen.spec.units import quantity, ratio, reader, shown, text_schema

MOST_FRICTION = 2.0  # clean rubber on rubber stays below; more is a slip of the pen
LONGEST_SIEVE = 200  # rows; a sieve table has a dozen

Pair = tuple[float, float]
Points = tuple[tuple[float, float], ...]


def told(said: object) -> str:
    """A value as the file wrote it, short lists included: ["45 mm", "110 mm"]."""
    if isinstance(said, list | tuple):
        plain = len(said) <= 4 and all(isinstance(entry, str | int | float) for entry in said)
        return f"[{', '.join(shown(entry) for entry in said)}]" if plain else "a list"
    return shown(said)


def rising_share(points: Points, size: float) -> float:
    """Share below ``size`` (mm) from rising (size, share) points, straight lines between them.

    Below the first point it is the first share, above the last the last.
    """
    place = bisect_right([known for known, _ in points], size)
    if place == 0:
        return points[0][1]
    if place == len(points):
        return points[-1][1]
    (d0, s0), (d1, s1) = points[place - 1], points[place]
    return s0 + (s1 - s0) * (size - d0) / (d1 - d0)


def _ends(said: object, read: Callable[[object], float], what: str, example: str) -> Pair:
    if not isinstance(said, list | tuple) or len(said) != 2:
        raise Unreadable(f"{told(said)} is not a lowest and a highest {what}; write e.g. {example}")
    values, wrong = [], []
    for entry in said:
        try:
            values.append(read(entry))
        except Unreadable as why:
            wrong.append(str(why))
    if wrong:
        raise Unreadable("; and ".join(dict.fromkeys(wrong)))
    low, high = values
    if low > high:
        raise Unreadable(f"{told(said)} runs backwards; write {told([said[1], said[0]])}")
    return low, high


def _range_of(kind: Kind, example: str, *, spread: bool = False) -> Callable[[object], Pair]:
    def read(said: object) -> Pair:
        low, high = _ends(said, reader(kind), kind.name, example)
        if spread and low == high:
            around = [f"{low * share:.4g} {kind.unit}" for share in (0.98, 1.02)]
            raise Unreadable(
                f"{told(said)} is an empty range; write what lies around it, e.g. {told(around)}"
            )
        return low, high

    return read


def _friction(said: object) -> float:
    value = ratio(said)
    if not 0 < value <= MOST_FRICTION:
        raise Unreadable(f"friction {value:g} is outside the limit: above 0, at most {MOST_FRICTION:g}")
    return value


def friction_range(said: object) -> Pair:
    """A lowest and a highest coefficient of friction, each above 0 and at most 2."""
    return _ends(said, _friction, "friction", "[0.35, 0.6]")


def _sieve(said: object) -> Points:
    example = 'write e.g. [["40 mm", 0], ["70 mm", 0.55], ["110 mm", 1]]'
    if not isinstance(said, list | tuple) or not said:
        raise Unreadable(f"{told(said)} is not a list of sizes with the share below each; {example}")
    if not 2 <= len(said) <= LONGEST_SIEVE:
        raise Unreadable(f"a sieve table has 2 to {LONGEST_SIEVE} rows, this one has {len(said)}; {example}")
    points, wrong = [], []
    for number, row in enumerate(said, start=1):
        try:
            points.append(_sieve_row(row))
        except Unreadable as why:
            wrong.append(f"row {number}: {why}")
    if wrong:
        raise Unreadable("; ".join(wrong[:5]))
    for number, ((d0, s0), (d1, s1)) in enumerate(pairwise(points), start=2):
        if d1 <= d0:
            raise Unreadable(f"row {number}: sizes must rise, {d1:g} mm follows {d0:g} mm; sort the rows")
        if s1 <= s0:
            raise Unreadable(
                f"row {number}: shares must rise, {s1:g} follows {s0:g}; each is the whole share BELOW its "
                "size, take a row that adds nothing out"
            )
    return tuple(points)


def _sieve_row(row: object) -> tuple[float, float]:
    if not isinstance(row, list | tuple) or len(row) != 2:
        raise Unreadable(f'{told(row)} is not a size and a share; write e.g. ["70 mm", 0.55]')
    size = quantity(row[0], ITEM_SIZE)
    share = row[1]
    if isinstance(share, str):
        raise Unreadable(f"{shown(share)} is a text; write the share below as a number from 0 to 1")
    value = ratio(share)
    if not 0 <= value <= 1:
        hint = f"; for per cent write {value / 100:g}" if 1 < value <= 100 else ""
        raise Unreadable(f"share {value:g} is outside the limit: 0 to 1{hint}")
    return size, value


def _pair_schema(kind: Kind) -> WithJsonSchema:
    text = text_schema(kind).json_schema
    return WithJsonSchema(
        {
            "type": "array",
            "minItems": 2,
            "maxItems": 2,
            "items": text,
            "description": f"lowest and highest {kind.name}, each with its unit",
        }
    )


def _numbers(low: float, high: float, length: int) -> dict[str, object]:
    number = {"type": "number", "minimum": low, "maximum": high}
    return {"type": "array", "minItems": length, "maxItems": length, "items": number}


def _sieve_schema() -> WithJsonSchema:
    row = {
        "type": "array",
        "minItems": 2,
        "maxItems": 2,
        "prefixItems": [text_schema(ITEM_SIZE).json_schema, {"type": "number", "minimum": 0, "maximum": 1}],
    }
    return WithJsonSchema(
        {
            "type": "array",
            "minItems": 2,
            "maxItems": LONGEST_SIEVE,
            "items": row,
            "description": "sizes with the share of the crop below each, both rising",
        }
    )


SizeRange = Annotated[
    Pair,
    BeforeValidator(_range_of(ITEM_SIZE, '["45 mm", "110 mm"]', spread=True)),
    _pair_schema(ITEM_SIZE),
]
StrengthRange = Annotated[
    Pair, BeforeValidator(_range_of(STRENGTH, '["42 kPa", "58 kPa"]')), _pair_schema(STRENGTH)
]
AdhesionRange = Annotated[
    Pair, BeforeValidator(_range_of(ADHESION, '["0.2 kPa", "2 kPa"]')), _pair_schema(ADHESION)
]
MudModulusRange = Annotated[
    Pair, BeforeValidator(_range_of(MUD_MODULUS, '["0.5 MPa", "4 MPa"]')), _pair_schema(MUD_MODULUS)
]
BondEnergyRange = Annotated[
    Pair, BeforeValidator(_range_of(BOND_ENERGY, '["0.05 J/m^2", "0.2 J/m^2"]')), _pair_schema(BOND_ENERGY)
]
CohesionRange = Annotated[
    Pair, BeforeValidator(_range_of(COHESION, '["4 kPa", "20 kPa"]')), _pair_schema(COHESION)
]
FrictionAngleRange = Annotated[
    Pair, BeforeValidator(_range_of(FRICTION_ANGLE, '["20 deg", "30 deg"]')), _pair_schema(FRICTION_ANGLE)
]
FrictionRange = Annotated[
    Pair,
    BeforeValidator(friction_range),
    WithJsonSchema(
        {
            **_numbers(0.0, MOST_FRICTION, 2),
            "description": "lowest and highest coefficient of friction",
            "examples": [[0.35, 0.6]],
        }
    ),
]
Sieve = Annotated[Points, BeforeValidator(_sieve), _sieve_schema()]
