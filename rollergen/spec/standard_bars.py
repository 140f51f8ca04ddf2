"""Solid steel bars one can buy: size, tolerance, corner radius, and where each is from."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, cast

from rollergen.spec.tolerances import Deviations, bright_square, hot_rolled_square

BarSection = Literal["square", "hexagon", "round"]
Finish = Literal["hot-rolled", "bright"]
MARKS = {"T": "text read", "M": "size from memory"}


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardBar:
    """One bar of a standard (mm): across flats or diameter, its lower and upper deviation, corner radius.

    ``corner_radius`` is the largest the standard allows; 0 for a bright bar, whose edges are sharp.
    """

    section: BarSection
    finish: Finish
    across: float
    deviations: Deviations
    corner_radius: float
    source: str

    @property
    def least_across(self) -> float:
        """The smallest the bar may come (mm): a 40 mm hot-rolled square may be 39.2."""
        return self.across + self.deviations[0]


@cache
def standard_bars(section: BarSection = "square", finish: Finish | None = None) -> tuple[StandardBar, ...]:
    """The bars of one section, smallest first; without a finish hot-rolled if the section has it, else bright.

    Raises ValueError when the table holds none such.
    """
    rows = [row for row in _rows() if row["section"] == section]
    finish = finish or ("hot-rolled" if any(row["finish"] == "hot-rolled" for row in rows) else "bright")
    found = [_bar(row) for row in rows if row["finish"] == finish]
    if not found:
        known = sorted({f"{row['section']} {row['finish']}" for row in _rows()})
        raise ValueError(f"no {finish} {section} bars in the table; it holds {', '.join(known)}")
    return tuple(sorted(found, key=lambda bar: bar.across))


def _bar(row: dict[str, str]) -> StandardBar:
    across = float(row["across"])
    if row["finish"] == "hot-rolled":
        rolled = hot_rolled_square(across)
        plus_minus, radius = rolled.side_tolerance, rolled.corner_radius
        deviations, standard = (-plus_minus, plus_minus), "EN 10059"
    else:
        deviations, radius, standard = bright_square(across, "h11"), 0.0, "EN 10278, h11"
    return StandardBar(
        section=cast(BarSection, row["section"]),
        finish=cast(Finish, row["finish"]),
        across=across,
        deviations=deviations,
        corner_radius=radius,
        source=f"{standard} ({MARKS[row['mark']]})",
    )


@cache
def _rows() -> tuple[dict[str, str], ...]:
    text = files("rollergen.spec").joinpath("standard_bars.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
