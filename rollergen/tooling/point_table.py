"""Reads points from a table: which columns are x, y, z, and complaints with their line where a line does not fit."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from rollergen.shape.outline import Floats
from rollergen.tooling.tables import decimal_comma_words, decimal_points, delimiter_of

XYZ = ("x", "y", "z")
COMMENT = ("#", "//", "%")
NAME = re.compile(r"[a-z_]\w*")
UNIT = re.compile(r"[\[(].*[\])]")
MARKS = {";": "semicolons", "\t": "tabs", ",": "commas", None: "blanks"}


class Unfitting(ValueError):
    """A table that cannot be taken for points without a guess: what is wrong, on which line, the way out."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PointTable:
    """Points (n, 3) in the table's own units, how many lines were passed over, and what was noticed."""

    points: Floats
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """What stands between the cells (None: blanks), whether commas are decimal, how many cells, which are x, y, z.

    ``named``: a heading says which.  ``first``: number of the first line of points.
    """

    mark: str | None
    decimal_comma: bool
    width: int
    columns: tuple[int, int, int]
    named: bool
    first: int

    def cells(self, line: str) -> list[str]:
        return _cells(decimal_points(line) if self.decimal_comma else line, self.mark)


def points_of_table(text: str) -> PointTable:
    """Points from lines of numbers: a heading with x, y, z says which columns, without one the first three are.

    Between the cells may stand semicolons, tabs, commas or blanks; where no comma is needed for that it is a decimal
    one.  Words and comments are passed over.  A first column that counts the lines is left out.  Raises Unfitting where a
    line of numbers has more or fewer of them than the first, where a heading names columns but not x, y and z, and where
    commas between and decimal ones cannot be told apart.
    """
    lines = text.splitlines()
    layout = _layout_of(lines)
    if layout is None:
        return PointTable(points=np.zeros((0, 3)), notes=())
    rows: list[list[float]] = []
    passed: list[int] = []
    for number, line in enumerate(lines[layout.first - 1 :], start=layout.first):
        try:
            row = [float(cell) for cell in layout.cells(line)]
        except ValueError:
            passed.append(number)
            continue
        if len(row) != layout.width:
            if row:
                raise Unfitting(_ragged(number, len(row), layout))
            continue
        rows.append(row)
    table = np.array(rows).reshape(-1, layout.width)
    columns, notes = _columns(table, layout)
    if len(passed) > 3:
        notes = (
            *notes,
            f"{len(passed)} lines, the first of them line {passed[0]}, are not numbers and were passed over",
        )
    return PointTable(points=table[:, list(columns)], notes=notes)


def _layout_of(lines: list[str]) -> _Layout | None:
    """By the first line of three numbers or more, and the line of words above it; None where there is no such line."""
    heading = ""
    for number, line in enumerate(lines, start=1):
        bare = line.strip()
        mark, decimal_comma = _marks_of(bare)
        cells = _cells(decimal_points(bare) if decimal_comma else bare, mark)
        if len(cells) < 3 or not all(_is_number(cell) for cell in cells):
            heading = bare or heading
            continue
        named = _named(heading, mark, len(cells))
        layout = _Layout(
            mark=mark, decimal_comma=decimal_comma, width=len(cells), columns=named or (0, 1, 2),
            named=named is not None, first=number,
        )  # fmt: skip
        if mark == "," and named is None and len(cells) >= 6 and len(cells) % 2 == 0:
            _refuse_torn(lines[number - 1 : number + 49], layout)
        return layout
    return None


def _marks_of(line: str) -> tuple[str | None, bool]:
    """(what stands between the cells, whether a comma is a decimal one) of a line of numbers."""
    mark = delimiter_of(line)
    if mark != ",":
        return mark, True
    if decimal_comma_words(line):
        return None, True
    return (",", False) if "," in line else (None, False)


def _cells(line: str, mark: str | None) -> list[str]:
    """Cells of a line, without the empty ones a mark at its end leaves."""
    cells = [cell.strip().strip('"') for cell in line.split(mark)]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def _named(heading: str, mark: str | None, width: int) -> tuple[int, int, int] | None:
    """Which columns a heading calls x, y and z; None where there is none."""
    bare = heading
    for sign in COMMENT:
        bare = bare.removeprefix(sign)
    for between in (
        mark,
        None,
        ",",
        ";",
    ):  # x, y, z is often written with other marks than the numbers below it
        names = [_name_of(cell) for cell in _cells(bare.strip(), between) if not UNIT.fullmatch(cell)]
        if not all(name in names for name in XYZ):
            continue
        if len(names) != width and mark is None and width == 3:
            return None  # a sentence
        if len(names) != width:
            raise Unfitting(
                f"the heading names {len(names)} columns and the first line of numbers has {width}, with {MARKS[mark]} "
                "between; name every column, or, where the comma is a decimal one, put semicolons between the columns"
            )
        return names.index("x"), names.index("y"), names.index("z")
    words = _cells(bare.strip(), mark)
    if mark is not None and width > 3 and len(words) == width and not any(_is_number(word) for word in words):
        raise Unfitting(
            f"the heading names {', '.join(words)}: which of them are the points? Call these columns x, y and z"
        )
    return None


def _name_of(cell: str) -> str:
    """x of ``X``, ``"x [mm]"`` or ``x (mm)``."""
    found = NAME.match(cell.strip().lower())
    return found[0].removesuffix("_mm") if found else ""


def _refuse_torn(lines: list[str], layout: _Layout) -> None:
    """Six whole numbers a line may be three with a decimal comma, torn apart by the commas between."""
    cells = [cell for line in lines for cell in layout.cells(line)]
    if all(re.fullmatch(r"[+-]?\d+", cell) for cell in cells):
        raise Unfitting(
            f"line {layout.first} has {layout.width} whole numbers with commas between: a decimal comma cannot be told "
            "from one between columns; put semicolons between the columns, or name each column in a first line, three of "
            "them x, y and z"
        )


def _ragged(number: int, width: int, layout: _Layout) -> str:
    way_out = (
        "where the comma is a decimal one put semicolons between the columns"
        if layout.mark == ","
        else "complete the line, or take it out"
    )
    return f"line {number} has {width} numbers, and line {layout.first}, the first, {layout.width}; {way_out}"


def _columns(table: Floats, layout: _Layout) -> tuple[tuple[int, int, int], tuple[str, ...]]:
    """The columns of x, y, z, past a first one that counts the lines."""
    if layout.named or layout.width < 4 or len(table) < 3:
        return layout.columns, ()
    counts = np.diff(table[:, 0])
    if bool((counts == 1.0).all()) and bool((table[:, 0] == np.rint(table[:, 0])).all()):
        return (1, 2, 3), (
            "the first column counts the lines and was left out: x, y, z are the three after it",
        )
    return layout.columns, ()
