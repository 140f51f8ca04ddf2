"""Raised text on the part as pockets in a plate: square letters of straight strokes, laid round a ring.

Every letter is drawn on a grid of 5 by 7 squares, so that a cutter as wide as one square engraves it, and
strokes meet along whole sides: outlines never touch themselves.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, sin, tau

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.outline import Outline, Point, polygon
from rollergen.shape.properties import area_of

WIDE, HIGH, STEP = 5, 7, 6.2  # squares; from one letter to the next
LEAST_HEIGHT = 2.1  # mm: squares of 0.3 mm, the smallest cutters engrave that
HIGHEST = 5.0  # mm
SIDE_ROOM = 0.6  # mm from a letter to the edge of the ring it lies in
LETTERS = {
    "A": ".###. ##.## #...# ##### #...# #...# #...#",
    "B": "####. #..## #..## ####. #..## #..## ####.",
    "C": "##### #.... #.... #.... #.... #.... #####",
    "D": "####. #..## #...# #...# #...# #..## ####.",
    "E": "##### #.... #.... ####. #.... #.... #####",
    "F": "##### #.... #.... ####. #.... #.... #....",
    "G": "##### #.... #.... #.### #...# #...# #####",
    "H": "#...# #...# #...# ##### #...# #...# #...#",
    "I": "##### ..#.. ..#.. ..#.. ..#.. ..#.. #####",
    "J": "..### ...#. ...#. ...#. ...#. #..#. ####.",
    "K": "#..## #..#. #.##. ###.. #.##. #..#. #..##",
    "L": "#.... #.... #.... #.... #.... #.... #####",
    "M": "#...# ##.## ##### #.#.# #...# #...# #...#",
    "N": "#...# ##..# ###.# #.### #..## #...# #...#",
    "O": ".###. ##.## #...# #...# #...# ##.## .###.",
    "P": "##### #...# #...# ##### #.... #.... #....",
    "Q": "##### #...# #...# #...# #.### #..## #####",
    "R": "##### #...# #...# ##### #.##. #..#. #..##",
    "S": "##### #.... #.... ##### ....# ....# #####",
    "T": "##### ..#.. ..#.. ..#.. ..#.. ..#.. ..#..",
    "U": "#...# #...# #...# #...# #...# #...# #####",
    "V": "#...# #...# #...# ##.## .#.#. .###. ..#..",
    "W": "#...# #...# #...# #.#.# ##### ##.## #...#",
    "X": "#...# ##.## .###. ..#.. .###. ##.## #...#",
    "Y": "#...# ##.## .###. ..#.. ..#.. ..#.. ..#..",
    "Z": "##### ...## ..##. .##.. ##... #.... #####",
    "0": "##### #...# #...# #...# #...# #...# #####",
    "1": "..#.. .##.. ..#.. ..#.. ..#.. ..#.. #####",
    "2": "##### ....# ....# ##### #.... #.... #####",
    "3": "##### ....# ....# .#### ....# ....# #####",
    "4": "#...# #...# #...# ##### ....# ....# ....#",
    "5": "##### #.... ####. ...## ....# ...## ####.",
    "6": "##### #.... #.... ##### #...# #...# #####",
    "7": "##### ....# ...## ..##. ..#.. ..#.. ..#..",
    "8": "##### #...# #...# ##### #...# #...# #####",
    "9": "##### #...# #...# ##### ....# ....# #####",
    "-": "..... ..... ..... .###. ..... ..... .....",
    ".": "..... ..... ..... ..... ..... .##.. .##..",
    "/": "....# ...## ..##. ..#.. .##.. ##... #....",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Glyph:
    """One letter where it lies on the z = 0 end (mm): its outline, the eyes in it, and its sign."""

    words: str
    outline: Outline
    eyes: tuple[Outline, ...]


def lettering(
    texts: tuple[str, ...],
    *,
    inner: float,
    outer: float,
    start: float = 0.0,
    options: tuple[str, ...] = (),
) -> tuple[Glyph, ...]:
    """The texts one after another round the ring between two radii, to be read from below (from -z).

    Letters are as high as the ring allows, ``HIGHEST`` at most.  ``start``: angle of the first (rad).  ``options``:
    where each text is from, for messages.

    Raises ProfileError for a sign that is not there, a ring too narrow or a text too long, with numbers.
    """
    keys = options or ("--part-number",) * len(texts)
    complaints = [
        Complaint(
            key=key,
            message=f'{" ".join(unknown)} of "{text}" cannot be engraved: letters A to Z, figures, - . / and spaces can; '
            "write another text",
        )
        for text, key in zip(texts, keys, strict=True)
        if (unknown := _unknown(text))
    ]
    if complaints:
        raise ProfileError(complaints)
    line = "   ".join(text.strip().upper() for text in texts if text.strip())
    if not line:
        return ()
    height = _height(line, inner, outer)
    cell = height / HIGH
    foot = (inner + outer - height) / 2
    turn = STEP * cell / (foot + height / 2)
    return tuple(
        _placed(sign, cell, foot, start + number * turn) for number, sign in enumerate(line) if sign != " "
    )


def _unknown(text: str) -> list[str]:
    """Signs there are no letters for, as they were typed."""
    known = {" ", *LETTERS}
    return [sign for sign in dict.fromkeys(text.strip()) if not set(sign.upper()) <= known]


def _height(line: str, inner: float, outer: float) -> float:
    room = outer - inner - 2 * SIDE_ROOM
    round_ = tau * (inner + outer) / 2 * 0.95  # what a closed line of letters may take up
    height = min(room, HIGHEST, round_ / len(line) * HIGH / STEP)
    if height >= LEAST_HEIGHT:
        return height
    least = LEAST_HEIGHT + 2 * SIDE_ROOM
    if room < LEAST_HEIGHT:
        message = (
            f"the end face is a ring {outer - inner:.1f} mm wide beside chambers and chamfer, letters need {least:.1f} mm; "
            "leave the marks out or make chambers.wall thicker"
        )
    else:
        most = int(round_ / (LEAST_HEIGHT * STEP / HIGH))
        message = f"{len(line)} signs do not fit round the end face; {most} at most"
    raise ProfileError([Complaint(key="--part-number", message=message)])


def _placed(sign: str, cell: float, foot: float, angle: float) -> Glyph:
    """A letter on the ring: it reads along growing angle and its head is outward, seen from below."""
    c, s = cos(angle), sin(angle)

    def put(u: float, v: float) -> Point:
        along, out = (u - WIDE / 2) * cell, foot + v * cell
        return (out * c - along * s, out * s + along * c)

    # along and outward are left-handed seen from +z, so every loop is travelled the other way
    loops = [polygon([put(u, v) for u, v in reversed(loop)], "mark") for loop in loops_of(sign)]
    solid = [loop for loop in loops if area_of(loop) > 0]
    eyes = [loop for loop in loops if area_of(loop) < 0]
    assert len(solid) == 1  # every letter is one piece
    return Glyph(
        words=sign,
        outline=solid[0],
        eyes=tuple(polygon([edge.start for edge in reversed(eye.edges)], "eye") for eye in eyes),
    )


def loops_of(sign: str) -> list[list[tuple[int, int]]]:
    """Corners of a letter's outlines in squares, (across, up): its body counter-clockwise, its eyes clockwise.

    Every square hands in its four sides; sides two squares share cancel; the rest join into loops.
    """
    rows = LETTERS[sign].split()
    sides: set[tuple[tuple[int, int], tuple[int, int]]] = set()
    for row, text in enumerate(rows):
        for u, mark in enumerate(text):
            if mark != "#":
                continue
            v = HIGH - 1 - row
            corners = [(u, v), (u + 1, v), (u + 1, v + 1), (u, v + 1)]
            for a, b in zip(corners, (*corners[1:], corners[0]), strict=True):
                if (b, a) in sides:
                    sides.remove((b, a))
                else:
                    sides.add((a, b))
    after = dict(sides)
    loops = []
    while after:
        first = min(after)
        loop, here = [], first
        while here in after:
            loop.append(here)
            here = after.pop(here)
        loops.append(_without_straight_corners(loop))
    return loops


def _without_straight_corners(loop: list[tuple[int, int]]) -> list[tuple[int, int]]:
    kept = []
    for before, here, next_ in zip((loop[-1], *loop[:-1]), loop, (*loop[1:], loop[0]), strict=True):
        if (here[0] - before[0]) * (next_[1] - here[1]) != (here[1] - before[1]) * (next_[0] - here[0]):
            kept.append(here)
    return kept
