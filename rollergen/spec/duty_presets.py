"""The table of duty presets: what published sources say of a crop, of debris, of soil, each value with its source."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from typing import Any

from rollergen.spec.numerals import Unreadable
from rollergen.spec.units import shown

MARKS = {
    "T": "text read",
    "T2": "two texts agree",
    "P": "read from public data",
    "M": "value from memory",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PresetValue:
    """One value of one preset as the duty would write it; ``mark`` is a key of ``MARKS``."""

    table: str
    preset: str
    column: str
    value: Any
    source: str
    mark: str


@cache
def preset_rows(table: str) -> dict[str, dict[str, PresetValue]]:
    """The presets of a table ("crop", "debris", "soil"): preset -> column (a key of the table) -> value."""
    text = files("rollergen.spec").joinpath("duty_presets.csv").read_text(encoding="utf-8")
    lines = (line for line in text.splitlines() if not line.startswith("#"))
    rows: dict[str, dict[str, PresetValue]] = {}
    for row in csv.DictReader(lines):
        if row["table"] == table:
            value = PresetValue(
                table=table,
                preset=row["name"],
                column=row["column"],
                value=_as_written(row["value"]),
                source=row["source"],
                mark=row["mark"],
            )
            rows.setdefault(value.preset, {})[value.column] = value
    return rows


def source_of(table: str, name: str, column: str) -> str:
    """Where the value for ``column`` of preset ``name`` comes from, its mark in words included.

    Raises ``KeyError`` for a table, preset or column that is not there.
    """
    value = preset_rows(table)[name][column]
    return f"duty presets, {name}: {value.source} ({MARKS[value.mark]})"


def nearest_preset(table: str, said: object) -> str:
    """The preset a misspelt name probably means, "" when none is near."""
    return next(iter(get_close_matches(str(said), list(preset_rows(table)), n=1, cutoff=0.6)), "")


def known_preset(table: str, said: object) -> str:
    """The name itself; raises ``Unreadable`` with the near one, or all there are, when the table has none such."""
    rows = preset_rows(table)
    if isinstance(said, str) and said in rows:
        return said
    near = nearest_preset(table, said) if isinstance(said, str) else ""
    hint = f'did you mean "{near}"?' if near else f"known are {', '.join(rows)}"
    raise Unreadable(f"{shown(said)} is not a preset for [{table}]; {hint}")


def _as_written(text: str) -> Any:
    """ "42 kPa | 58 kPa" as the list a duty writes, plain numbers as numbers."""
    parts = [_number_or_text(part.strip()) for part in text.split("|")]
    return parts[0] if len(parts) == 1 else parts


def _number_or_text(text: str) -> str | float:
    try:
        return float(text)
    except ValueError:
        return text
