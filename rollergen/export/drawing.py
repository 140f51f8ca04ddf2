"""The drawing model: what stands on a page, in mm of paper, x to the right and y up from its lower left corner.

One model, three writers (``drawing_dxf``, ``drawing_pdf``, ``drawing_svg``): they add nothing of their own.
Lines follow ISO 128-2: two widths, wide = 2 x narrow; dashes are counted in widths of the line they belong to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import cos, sin
from typing import Literal

from rollergen.shape.outline import Arc, Edge, Line, Outline, Point

Ink = Literal[
    "visible",
    "narrow",
    "hidden",
    "centre",
    "phantom",
    "broken",
    "hatch",
    "dimension",
    "cut",
    "table",
    "frame",
]
Anchor = Literal["left", "middle", "right"]

# ISO 128-2, in widths of the line (dot 1 as seen in an open program's table; the standard's own is at most 0.5)
GAP, DOT, DASH, LONG = 3.0, 1.0, 12.0, 24.0
DASHES: dict[str, tuple[float, ...]] = {
    "hidden": (DASH, GAP),  # 02.1
    "centre": (LONG, GAP, DOT, GAP),  # 04.1
    "cut": (LONG, GAP, DOT, GAP),  # 04.2
    "phantom": (LONG, GAP, DOT, GAP, DOT, GAP),  # 05.1
}
WIDE: tuple[Ink, ...] = ("visible", "cut", "table")
FRAME_WIDTH = 0.7  # mm, ISO 5457 (value from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Exact arcs and lines one after the other."""

    edges: tuple[Edge, ...]
    ink: Ink


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A chain of points."""

    points: tuple[Point, ...]
    ink: Ink


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """A filled polygon: an arrow head."""

    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """One line of text; ``at`` is on its baseline; ``height`` of its capitals (mm); ``angle`` in rad."""

    at: Point
    text: str
    height: float
    angle: float = 0.0
    anchor: Anchor = "left"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hatching:
    """A cut surface: ``loops`` by the even-odd rule, and the 45 degree lines that fill it."""

    loops: tuple[Outline, ...]
    lines: tuple[tuple[Point, Point], ...]
    spacing: float


Drawn = Chain | Curve | Solid | Words
Kind = Literal["length", "radius", "diameter", "angle", "arc"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A dimension: what is measured, and how it is drawn.

    ``points`` (mm of paper) by kind: length a, b, a point of the dimension line; radius centre, point;
    diameter the two opposite points; angle and arc vertex or centre, first point, second point
    (counter-clockwise), a point of the dimension line.  ``along`` is the direction measured in (rad).
    ``per_paper_mm``: mm of the part for one mm of paper.  ``value``: mm, or rad for an angle.
    """

    kind: Kind
    points: tuple[Point, ...]
    along: float
    value: float
    per_paper_mm: float
    before: str
    after: str
    words: Words
    drawn: tuple[Drawn, ...]


Item = Drawn | Hatching | Measure


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One sheet: trimmed size, width of its wide lines (mm), everything on it; ``name`` for the file's title."""

    name: str
    size: str
    width: float
    height: float
    wide: float
    scale: str
    items: tuple[Item, ...]

    @property
    def narrow(self) -> float:
        return self.wide / 2

    def width_of(self, ink: Ink) -> float:
        """Line width of an ink on this page (mm)."""
        if ink == "frame":
            return FRAME_WIDTH
        return self.wide if ink in WIDE else self.narrow

    def dashes_of(self, ink: Ink) -> tuple[float, ...]:
        """Dash, gap, dash ... (mm); empty for a continuous line."""
        return tuple(n * self.width_of(ink) for n in DASHES.get(ink, ()))


def drawn_parts(item: Item) -> tuple[Drawn, ...]:
    """An item as what pens draw; a hatching has its own lines."""
    if isinstance(item, Measure):
        return (*item.drawn, item.words)
    return () if isinstance(item, Hatching) else (item,)


def all_words(items: Sequence[Item]) -> tuple[Words, ...]:
    """Every text of a page, those of dimensions included."""
    return tuple(part for item in items for part in drawn_parts(item) if isinstance(part, Words))


def segment(a: Point, b: Point, ink: Ink) -> Chain:
    return Chain(edges=(Line(a, b),), ink=ink)


def moved(item: Item, dx: float, dy: float) -> Item:
    """The same item elsewhere on the paper."""

    def shift(p: Point) -> Point:
        return (p[0] + dx, p[1] + dy)

    if isinstance(item, Measure):
        words = replace(item.words, at=shift(item.words.at))
        return replace(
            item,
            points=tuple(map(shift, item.points)),
            words=words,
            drawn=tuple(_moved_part(part, dx, dy) for part in item.drawn),
        )
    if isinstance(item, Hatching):
        return replace(
            item,
            loops=tuple(Outline(placed_edges(loop.edges, 1.0, (dx, dy))) for loop in item.loops),
            lines=tuple((shift(a), shift(b)) for a, b in item.lines),
        )
    return _moved_part(item, dx, dy)


def _moved_part(part: Drawn, dx: float, dy: float) -> Drawn:
    if isinstance(part, Chain):
        return replace(part, edges=placed_edges(part.edges, 1.0, (dx, dy)))
    if isinstance(part, Words):
        return replace(part, at=(part.at[0] + dx, part.at[1] + dy))
    return replace(part, points=tuple((x + dx, y + dy) for x, y in part.points))


def placed_edges(edges: Sequence[Edge], scale: float, to: Point) -> tuple[Edge, ...]:
    """Edges scaled about their frame's origin, which then lies at ``to``."""

    def place(p: Point) -> Point:
        return (scale * p[0] + to[0], scale * p[1] + to[1])

    return tuple(
        Line(place(e.start), place(e.end), e.feature)
        if isinstance(e, Line)
        else Arc(place(e.centre), scale * e.radius, e.angle, e.sweep, e.feature)
        for e in edges
    )


def arrow(tip: Point, direction: float, length: float) -> Solid:
    """A closed filled arrow head at ``tip``, pointing along ``direction`` (rad), 20 degrees wide.

    ISO 129-1: closed and filled, 15 to 30 degrees (value from memory).
    """
    half = 0.1763 * length  # tan 10 degrees
    back = (tip[0] - length * cos(direction), tip[1] - length * sin(direction))
    nx, ny = -sin(direction) * half, cos(direction) * half
    return Solid(points=(tip, (back[0] + nx, back[1] + ny), (back[0] - nx, back[1] - ny)))
