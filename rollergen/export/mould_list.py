"""The parts list of a mould as it leaves: one line a shape, for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence

COLUMNS = (
    "part", "role", "material", "count", "each_volume_mm3", "volume_mm3", "each_kg", "kg",
    "size_x_mm", "size_y_mm", "size_z_mm", "file", "note",
)  # fmt: skip


def mould_csv(lines: Sequence[Mapping[str, object]]) -> bytes:
    """One line a row under ``COLUMNS``; UTF-8, numbers not rounded.  Same input, same bytes.

    Raises ValueError for a key that is no column: nothing is dropped in silence.
    """
    page = io.StringIO(newline="")
    table = csv.DictWriter(page, COLUMNS, restval="", lineterminator="\n")
    table.writeheader()
    for line in lines:
        table.writerow(
            {key: repr(value) if isinstance(value, float) else value for key, value in line.items()}
        )
    return page.getvalue().encode()
