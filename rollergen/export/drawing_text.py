"""Lettering: how wide a text is, whether the font has its letters, how it wraps.

The font is DejaVu Sans, which comes with matplotlib (free licence), set a little narrower: its digits then take
the width ISO 3098 gives them.  Every writer uses these widths, so that a text fits everywhere where it fits here.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from rollergen.errors import MissingLibrary, UsageError

NARROWED = 0.85  # of the font's own widths: a digit is then 0.74 of its height
CAPITAL, EM = 1493, 2048  # height of H, and of the em, in the font's own units
DESCENT = 0.34  # of the capitals' height: how far g and y reach below the baseline
FLAT = 0.05
ON_BASELINE = frozenset(
    "0123456789ABCDEFGHIKLMNOPRSTUVWXYZ.:+-±×° "
)  # letters that reach no deeper than FLAT
FAMILY = "DejaVu Sans"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettering:
    """Advance of each character the font has, in its own units."""

    advances: Mapping[int, int]


def font_file() -> Path:
    """Where the font lies.  Raises MissingLibrary where matplotlib came without its fonts."""
    from importlib.util import find_spec

    spec = find_spec("matplotlib")
    path = Path(spec.origin or "").parent / "mpl-data/fonts/ttf/DejaVuSans.ttf" if spec else Path()
    if not path.is_file():
        raise MissingLibrary(
            "the drawing's font DejaVuSans.ttf is missing; pip install --force-reinstall matplotlib"
        )
    return path


@cache
def lettering() -> Lettering:
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    with TTFont(font_file(), lazy=True) as font:
        widths = font["hmtx"].metrics
        return Lettering(advances={code: widths[name][0] for code, name in font.getBestCmap().items()})


def size_of(height: float) -> float:
    """Font size (mm) whose capitals are ``height`` tall."""
    return height * EM / CAPITAL


def width_of(text: str, height: float) -> float:
    """Length of a text (mm) with capitals ``height`` tall."""
    advances = lettering().advances
    return sum(advances[ord(letter)] for letter in text) * NARROWED * height / CAPITAL


def depth_of(text: str, height: float) -> float:
    """How far a text may reach below its baseline (mm)."""
    return height * (FLAT if ON_BASELINE.issuperset(text) else DESCENT)


def check_letters(text: str, what: str) -> str:
    """``text`` itself.  Raises UsageError naming the characters that the font cannot show as written."""
    advances = lettering().advances
    strange = sorted({letter for letter in text if ord(letter) not in advances or not letter.isprintable()})
    if strange:
        named = ", ".join(f"{c!r} (U+{ord(c):04X})" for c in strange[:5])
        raise UsageError(
            f"{what}: the drawing's font has no letter for {named}; write it with Latin, Greek or Cyrillic"
        )
    turned = [c for c in text if unicodedata.bidirectional(c) in ("R", "AL") or unicodedata.combining(c)]
    if turned:
        raise UsageError(
            f"{what}: {turned[0]!r} (U+{ord(turned[0]):04X}) is of a script written from right to left, or joined on "
            "to its neighbour, which the drawing's text cannot show; write it with Latin, Greek or Cyrillic letters"
        )
    return text


def wrapped(text: str, height: float, room: float) -> list[str] | None:
    """The text in lines no longer than ``room`` (mm); None where a single letter is too wide.

    Breaks at blanks, behind - / . _ and, where a word alone is too long, anywhere.
    """
    lines: list[str] = []
    line = ""
    for piece in _pieces(text):
        if width_of((line + piece).rstrip(), height) <= room:
            line += piece
            continue
        if line.strip():
            lines.append(line.rstrip())
        line = piece
        while width_of(line.rstrip(), height) > room:
            fits = _most_letters(line, height, room)
            if fits == 0:
                return None
            lines.append(line[:fits])
            line = line[fits:]
    return [*lines, line.rstrip()] if line.strip() or not lines else lines


def _pieces(text: str) -> list[str]:
    pieces, piece = [], ""
    for letter in text:
        piece += letter
        if letter in " -/._":
            pieces.append(piece)
            piece = ""
    return [*pieces, piece] if piece else pieces


def _most_letters(text: str, height: float, room: float) -> int:
    fits = 0
    while fits < len(text) and width_of(text[: fits + 1], height) <= room:
        fits += 1
    return fits


def widest(texts: Sequence[str], height: float) -> float:
    return max((width_of(text, height) for text in texts), default=0.0)
