"""Numbers as people write them: "8", "-0.25", "1/4", "2 1/2", "2-1/2", "2½" - and nothing else.

The number is read here and never by a units library: such a parser takes "1,5" for 15 and
"3 1/4" for 0.75.  What is not plainly one number followed by one unit is refused, with the fix shown.
"""

from __future__ import annotations

import re
import unicodedata
from math import isfinite

_SPACES = dict.fromkeys(map(ord, "\u00a0\u2007\u2009\u202f\t"), " ")
_SIGNS = {ord("\u2212"): "-", ord("\u2044"): "/", ord("\u2215"): "/"}
_DECIMAL = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_COMMA = re.compile(r"^([+-]?)([0-9]*),([0-9]+)(?![0-9,/])")
_GROUPED = re.compile(r"^[+-]?[0-9]{1,3}(?:[, '_][0-9]{3})+(?![0-9/])")
_FRACTION = re.compile(r"^([+-]?)(?:([0-9]+)(?:[ ]+|-))?([0-9]+)/([0-9]+)(?![0-9./,])[ ]*(.*)$", re.DOTALL)
_NUMBER = re.compile(rf"^([+-]?{_DECIMAL})[ ]*(.*)$", re.DOTALL)
_NOT_A_NUMBER = re.compile(r"^[+-]?(nan|inf|infinity)\b", re.IGNORECASE)
_LONGEST = 100


class Unreadable(ValueError):
    """A text that cannot be taken for what was asked; the message says what to write instead."""


def plain(text: str) -> str:
    """The text with every kind of blank, minus and fraction sign written the plain way.

    A vulgar fraction becomes " n/d" ("2½" -> "2 1/2"); nothing else changes.
    """
    text = text.translate(_SPACES).translate(_SIGNS)
    return "".join(_spelled(letter) for letter in text).strip()


def number_and_unit(text: str) -> tuple[float, str]:
    """Split "number unit" into the number and the unit's text ("" when there is none).

    Raises ``Unreadable`` with the way out for comma decimals, thousands marks, NaN, infinity,
    improper or zero-denominator fractions and everything that does not begin with a number.
    """
    if len(text) > _LONGEST:
        raise Unreadable(f"a text of {len(text)} characters is not one number with its unit")
    written = plain(text)
    if not written:
        raise Unreadable("an empty text is not a number with its unit")
    _refuse_marks(text, written)
    mixed = _FRACTION.match(written)
    if mixed:
        return _fraction(text, mixed), mixed.group(5).strip()
    simple = _NUMBER.match(written)
    if not simple:
        raise Unreadable(f'"{text}" does not begin with a number')
    value = float(simple.group(1))
    if not isfinite(value):
        raise Unreadable(f'"{text}" is too large to be a number here')
    return value, simple.group(2).strip()


def _spelled(letter: str) -> str:
    if unicodedata.category(letter) != "No":
        return letter
    over = unicodedata.normalize("NFKD", letter)
    return f" {over.replace(chr(0x2044), '/')} " if "\u2044" in over else letter


def _refuse_marks(text: str, written: str) -> None:
    if _NOT_A_NUMBER.match(written):
        raise Unreadable(f'"{text}" is not a number that can be measured')
    grouped, comma = _GROUPED.match(written), _COMMA.match(written)
    if grouped:
        joined = re.sub(r"[, '_]", "", grouped.group()) + written[grouped.end() :]
        point = f' or "{written.replace(",", ".", 1)}"' if grouped.group().count(",") == 1 else ""
        raise Unreadable(f'"{text}" can be read in two ways; write "{joined}"{point}')
    if comma:
        raise Unreadable(f'"{text}" has a decimal comma; write "{written.replace(",", ".", 1)}"')


def _fraction(text: str, found: re.Match[str]) -> float:
    sign, whole, above, below = found.group(1, 2, 3, 4)
    n, d = int(above), int(below)
    if d == 0:
        raise Unreadable(f'"{text}" divides by zero')
    if whole is not None and n >= d:
        raise Unreadable(f'"{text}" is an odd mixed fraction; write "{int(whole) + n / d:g}" with its unit')
    if max(len(above), len(below), len(whole or "")) > 9:
        raise Unreadable(f'"{text}" is too long a fraction; write it as a decimal number')
    return (-1.0 if sign == "-" else 1.0) * (int(whole or 0) + n / d)
