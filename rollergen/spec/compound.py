"""The compound table: what a named polyurethane weighs and how hard it is, each value with its source."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from rollergen.spec.profile import Compound

# kg/m^3; property page citing Cardarelli, CRC Handbook, Howatson
USUAL_DENSITY = (1050.0, 1250.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class TableValue:
    """One value of one compound, as text with its unit. ``mark``: "T" text read, "M" value from memory."""

    compound: str
    column: str
    value: str
    source: str
    mark: str


@cache
def compound_rows() -> dict[str, dict[str, TableValue]]:
    """The whole table: compound name -> column (a key of ``[compound]``) -> value with its source."""
    text = files("rollergen.spec").joinpath("compounds.csv").read_text(encoding="utf-8")
    lines = (line for line in text.splitlines() if not line.startswith("#"))
    rows: dict[str, dict[str, TableValue]] = {}
    for row in csv.DictReader(lines):
        value = TableValue(
            compound=row["name"],
            column=row["column"],
            value=row["value"],
            source=row["source"],
            mark=row["mark"],
        )
        rows.setdefault(value.compound, {})[value.column] = value
    return rows


def source_of(name: str, column: str) -> str:
    """Where the table's value for ``column`` ("density", "hardness" ...) of compound ``name`` comes from.

    Raises ``KeyError`` for a compound or column the table does not hold.
    """
    value = compound_rows()[name][column]
    memory = " (value from memory)" if value.mark == "M" and "from memory" not in value.source else ""
    return f"compound table, {name}: {value.source}{memory}"


def density_warning(compound: Compound) -> str:
    """A sentence when the density lies outside what cast polyurethane has, else ""."""
    least, most = USUAL_DENSITY
    if least <= compound.density_kg_m3 <= most:
        return ""
    return (
        f"compound.density {compound.density_kg_m3:g} kg/m^3 is outside {least:g} to {most:g} kg/m^3, "
        "the usual range of cast polyurethane; check the unit"
    )
