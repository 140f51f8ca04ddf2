"""A measured stress-strain table of a compound, as the profile writes it: strain and stress, both rising."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Annotated

from pydantic import BeforeValidator, WithJsonSchema

from rollergen.spec.kinds import PRESSURE, SHARE
from rollergen.spec.numerals import Unreadable
from rollergen.spec.ranges import Points, told
from rollergen.spec.units import quantity, text_schema

FEWEST_ROWS = 4  # two constants are fitted; fewer rows leave nothing to judge the fit by
MOST_ROWS = 500
STRAIN = replace(SHARE, name="strain", example="20 %", most=8.0, above_least=True)  # cast PU breaks at 3 to 7
STRESS = replace(PRESSURE, name="stress", example="1.2 MPa", most=200.0)
_EXAMPLE = 'write e.g. [["5 %", "0.3 MPa"], ["10 %", "0.5 MPa"], ["20 %", "0.9 MPa"], ["40 %", "1.5 MPa"]]'


def _table(said: object) -> Points:
    if not isinstance(said, list | tuple) or not said:
        raise Unreadable(f"{told(said)} is not a list of strains with the stress at each; {_EXAMPLE}")
    if not FEWEST_ROWS <= len(said) <= MOST_ROWS:
        raise Unreadable(
            f"a stress-strain table has {FEWEST_ROWS} to {MOST_ROWS} rows, this one has {len(said)}; {_EXAMPLE}"
        )
    points, wrong = [], []
    for number, row in enumerate(said, start=1):
        try:
            points.append(_row(row))
        except Unreadable as why:
            wrong.append(f"row {number}: {why}")
    if wrong:
        raise Unreadable("; ".join(wrong[:5]))
    for number, ((e0, s0), (e1, s1)) in enumerate(pairwise(points), start=2):
        if e1 <= e0:
            raise Unreadable(f"row {number}: strains must rise, {e1:g} follows {e0:g}; sort the rows")
        if s1 <= s0:
            raise Unreadable(
                f"row {number}: stresses must rise, {s1:g} MPa follows {s0:g} MPa; end the table before it falls"
            )
    return tuple(points)


def _row(row: object) -> tuple[float, float]:
    if not isinstance(row, list | tuple) or len(row) != 2:
        raise Unreadable(f'{told(row)} is not a strain and a stress; write e.g. ["20 %", "0.9 MPa"]')
    return quantity(row[0], STRAIN), quantity(row[1], STRESS)


StressStrain = Annotated[
    Points,
    BeforeValidator(_table),
    WithJsonSchema(
        {
            "type": "array",
            "minItems": FEWEST_ROWS,
            "maxItems": MOST_ROWS,
            "items": {
                "type": "array",
                "minItems": 2,
                "maxItems": 2,
                "prefixItems": [text_schema(STRAIN).json_schema, text_schema(STRESS).json_schema],
            },
            "description": "pulled in one direction: engineering strain and stress (force over first section), both rising",
        }
    ),
]
