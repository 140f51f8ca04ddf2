"""Tables somebody else wrote: what stands between the cells, and whether a comma is a decimal one."""

from __future__ import annotations

import re

DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+(?:[eE][+-]?\d+)?|[+-]?\d+(?:[eE][+-]?\d+)?")


def first_line(text: str) -> str:
    """The first line that says something: neither empty nor a comment."""
    lines = (line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#"))
    return next(lines, "")


def delimiter_of(line: str) -> str:
    """What stands between the cells of a whole table, by its first line: semicolon or tab where it has one, else comma."""
    return next((mark for mark in (";", "\t") if mark in line), ",")


def decimal_points(cell: str) -> str:
    """A cell of a table that needs no commas between its cells, with points for them: there a comma is a decimal one."""
    return cell.replace(",", ".")


def decimal_comma_words(line: str) -> bool:
    """Whether the words of a line are numbers with a decimal comma and blanks between, such as ``12,5 3,25 7``."""
    words = line.split()
    return "," in line and len(words) > 1 and all(DECIMAL_COMMA.fullmatch(word) for word in words)
