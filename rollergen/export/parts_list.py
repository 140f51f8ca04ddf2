"""The parts list of a bed as it leaves: a table for a spreadsheet, or one JSON object."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence

COLUMNS = (
    "part", "profile", "compound", "colour", "section", "diameter_mm", "across_mm", "corner_radius_mm",
    "wall_mm", "free_length_mm", "fitted_length_mm", "length_mm", "density_kg_m3", "count", "each_kg", "kg",
    "each_volume_mm3", "volume_mm3", "each_cost", "cost", "currency",
)  # fmt: skip


def parts_csv(lines: Sequence[Mapping[str, object]]) -> bytes:
    """One line a row under ``COLUMNS``, empty where a part has no such figure; UTF-8, numbers not rounded.

    Same input, same bytes.  Raises ValueError for a key that is no column: nothing is dropped in silence.
    """
    page = io.StringIO(newline="")
    table = csv.DictWriter(page, COLUMNS, restval="", lineterminator="\n")
    table.writeheader()
    for line in lines:
        table.writerow({key: _written(value) for key, value in line.items()})
    return page.getvalue().encode()


def parts_json(entry: Mapping[str, object]) -> bytes:
    """The whole list as one JSON object with sorted keys, numbers not rounded.  Same input, same bytes."""
    return (json.dumps(entry, sort_keys=True, allow_nan=False) + "\n").encode()


def _written(value: object) -> str:
    return "" if value is None else repr(value) if isinstance(value, float) else str(value)
