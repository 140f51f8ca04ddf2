"""Standard tolerances by size: mouldings, hot-rolled and bright square bars.

Every table is a csv beside this file with its source in the head.  Band rule of all of them: over the
lower end, up to AND INCLUDING the upper end.  Outside a table the look-up refuses.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

MouldClass = Literal["M1", "M2", "M3", "M4"]
Dimension = Literal["fixed", "closure"]
Bar = Literal["hot-rolled", "bright-h9", "bright-h11"]
FitClass = Literal["h9", "h11", "c11", "d9", "f7", "g6", "H6", "H7", "H8", "H9", "H10", "H11"]
Deviations = tuple[float, float]


def moulding_tolerance(size: float, grade: MouldClass, dimension: Dimension) -> float:
    """Plus-minus tolerance of a moulded dimension (mm).

    ``fixed`` lies within one mould part, ``closure`` across a parting line.  Above 160 mm the tolerance
    is a percentage, and steps DOWN there: 160 mm M3 fixed is 1.30, 160.01 mm is 1.2801.
    Raises ``ValueError`` for a size that is not above zero.

    Source: ISO 3302-1:2014, Table 1; made for vulcanised rubber, for cast polyurethane by agreement only.
    """
    row = _band("iso_3302_1.csv", size, "ISO 3302-1", least_included=False)
    column = f"{grade}_{'F' if dimension == 'fixed' else 'C'}"
    cell = row[column]
    return size * float(cell[:-1]) / 100 if cell.endswith("%") else float(cell)


@dataclass(frozen=True, slots=True, kw_only=True)
class HotRolledSquare:
    """A hot-rolled square bar of one size (mm): plus-minus on the side, largest corner radius.

    ``twist_deg_per_m`` is None where the table has no row for the size.
    """

    side: float
    side_tolerance: float
    corner_radius: float
    twist_deg_per_m: float | None


LARGEST_TWIST_DEG = 18.0  # over the whole bar, same source as the table


def hot_rolled_square(side: float) -> HotRolledSquare:
    """Side tolerance, corner radius and twist of a hot-rolled square bar.

    Raises ``ValueError`` outside 8 to 90 mm and between the bands (e.g. 14.5 mm).

    Source: EN 10059, Table 2, through an industry association's article.
    """
    tolerance = _row("en_10059_side.csv", side, "EN 10059")
    radius = _row("en_10059_corner.csv", side, "EN 10059")
    twisted = 14.0 <= side <= 50.0
    return HotRolledSquare(
        side=side,
        side_tolerance=float(tolerance["plus_minus"]),
        corner_radius=float(radius["largest_radius"]),
        twist_deg_per_m=3.0 if twisted else None,
    )


def bright_square(side: float, fit: Literal["h9", "h11"]) -> Deviations:
    """Lower and upper deviation (mm, signed) of a bright square bar's side: (-0.062, 0.0).

    Raises ``ValueError`` outside 18 (excluded) to 80 mm.

    Source: EN 10278 through a steel stockist's table; equal to ISO 286 h9 and h11.
    """
    return fit_deviations(side, fit)


def fit_deviations(size: float, fit: FitClass) -> Deviations:
    """Lower and upper deviation (mm, signed) of a shaft (lower case) or hole (upper case) class.

    Raises ``ValueError`` outside 18 (excluded) to 80 mm and for a class the table does not hold.

    Source: ISO 286-1 and -2, three bands, two public tables and an open package agree.
    """
    row = _band("iso_286.csv", size, "ISO 286", least_included=False)
    if fit[0] == "H":
        return 0.0, _grade(row, fit[1:])
    column = f"{fit}_es"
    if fit[0] == "h":
        upper = 0.0
    elif column in row:
        upper = float(row[column]) / 1000
    else:
        raise ValueError(f"ISO 286 class {fit} is not in our table; it holds h, H, c11, d9, f7, g6")
    return upper - _grade(row, fit[1:]), upper


def standard_tolerance(size: float, grade: Literal["6", "7", "8", "9", "10", "11"]) -> float:
    """Width of ISO 286 grade IT6 to IT11 (mm), over 18 up to and including 80 mm."""
    return _grade(_band("iso_286.csv", size, "ISO 286", least_included=False), grade)


def _grade(row: dict[str, str], grade: str) -> float:
    column = f"IT{grade}"
    if column not in row:
        raise ValueError(f"ISO 286 grade IT{grade} is not in our table; it holds IT6 to IT11")
    return float(row[column]) / 1000


@cache
def _table(name: str) -> tuple[dict[str, str], ...]:
    text = files("rollergen.spec").joinpath(name).read_text(encoding="utf-8")
    return tuple(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


def _band(name: str, size: float, standard: str, *, least_included: bool) -> dict[str, str]:
    """The row whose band holds ``size``: over the lower end, up to and including the upper end."""
    rows = _table(name)
    for row in rows:
        over, upto = float(row["over"]), float(row["upto"])
        if over < size <= upto or (least_included and size == over):
            return row
    first, last = float(rows[0]["over"]), float(rows[-1]["upto"])
    raise ValueError(
        f"{standard} has no row for {size:g} mm here: the table runs from {first:g} to {last:g} mm"
    )


def _row(name: str, size: float, standard: str) -> dict[str, str]:
    """Bar tables list whole sizes: "8 to 14" includes both, and 14.5 is in no band."""
    return _band(name, size, standard, least_included=True)
