"""Dimensions on paper: each is tried in place after place until its text meets nothing else.

Lines, arrows and texts after ISO 129-1 (values from memory): text above its line, read from below or from the
right; extension lines run 8 line widths past the dimension line.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, pi, radians, sin

import numpy as np

from rollergen.export.drawing import Chain, Drawn, Item, Kind, Measure, Solid, Words, arrow, segment
from rollergen.export.drawing_room import Floats, Room, box_of, crossed, segments_of
from rollergen.export.drawing_text import width_of
from rollergen.shape.outline import Arc, Point
from rollergen.shape.views import AngleDim, ArcDim, Dim, LengthDim, Pointer, RoundDim, Stated

FIRST, NEXT, LEVELS = 8.0, 2.6, 7  # mm to the first dimension line; text heights from one to the next
FAN = (0, 12, -12, 25, -25, 40, -40, 55, -55, 75, -75, 95, -95)  # deg off the asked direction of a leader
ASKEW, BACKWARDS = 0.22, 3.0  # mm of way that a degree off, or a landing turned back, is worth
OWN = 0.1  # mm a text keeps from its own lines
STEPS = (5.0, 9.0, 13.0, 18.0, 24.0, 31.0, 39.0)  # mm a leader runs beyond the view


class Crowded(Exception):
    """A text finds no place in a view at this scale; ``what`` names it.  Never leaves the layout."""

    def __init__(self, what: str) -> None:
        super().__init__(what)
        self.what = what


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """How a view lies on the paper: mm of paper per mm of the part, text height, line width, its own extent."""

    scale: float
    text: float
    narrow: float
    left: float
    bottom: float
    right: float
    top: float

    def at(self, p: Point) -> Point:
        return (self.scale * p[0], self.scale * p[1])

    @property
    def head(self) -> float:
        return self.text

    @property
    def lift(self) -> float:
        """From a dimension line up to its text: past descenders and arrow heads."""
        return 0.6 * self.text

    @property
    def past(self) -> float:
        return 8 * self.narrow

    def way_out(self, p: Point, direction: float) -> float:
        """How far from ``p`` along a direction the view's extent ends (mm)."""
        ux, uy = cos(direction), sin(direction)
        runs = [
            ((self.right if ux > 0 else self.left) - p[0]) / ux if abs(ux) > 1e-9 else 1e9,
            ((self.top if uy > 0 else self.bottom) - p[1]) / uy if abs(uy) > 1e-9 else 1e9,
        ]
        return max(0.0, min(runs))


@dataclass(frozen=True, slots=True, kw_only=True)
class Try:
    """One way to draw a dimension: its text, its own lines, those that shall not cross another dimension line."""

    words: Words
    drawn: tuple[Drawn, ...]
    leaders: tuple[Chain, ...]
    base: Point


def text_of(stated: Stated, angle: bool = False) -> str:
    """What stands on the dimension line: 4× R2 ±0.25, (⌀128)."""
    number = f"{_short(degrees(stated.value))}°" if angle else _short(stated.value)
    body = f"{stated.before}{number}{stated.after}{_plus_minus(stated)}"
    return f"({body})" if stated.reference else body


def around(stated: Stated) -> tuple[str, str]:
    """What stands before and after the number itself."""
    before, after = stated.before, stated.after + _plus_minus(stated)
    return (f"({before}", f"{after})") if stated.reference else (before, after)


def _plus_minus(stated: Stated) -> str:
    return "" if stated.plus_minus is None else f" ±{_short(stated.plus_minus, 2)}"


def _short(value: float, decimals: int = 3) -> str:
    text = f"{round(value, decimals) + 0.0:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def place_dim(dim: Dim, paper: Paper, room: Room) -> list[Item]:
    """The dimension drawn where it meets nothing.  Raises Crowded; what is taken is marked in ``room``."""
    for found in _tries(dim, paper):
        box = box_of(found.words)
        own = _rows(found.drawn)
        tight = _rows(found.leaders)
        if (
            room.free_for(box)
            and not crossed(box, own, OWN).any()
            and room.free_for_lines(own)
            and room.free_for_leaders(tight)
        ):
            items = _items(dim, found, paper)
            room.take(items)
            room.leaders = np.concatenate([room.leaders, tight])
            return items
    raise Crowded(dim.words if isinstance(dim, Pointer) else text_of(dim.stated, isinstance(dim, AngleDim)))


def _rows(parts: Sequence[Drawn]) -> Floats:
    return np.concatenate([segments_of(part) for part in parts])


def _tries(dim: Dim, paper: Paper) -> Iterator[Try]:
    if isinstance(dim, LengthDim):
        return _beside(dim, paper) if dim.side != "leader" else _pointed_length(dim, paper)
    if isinstance(dim, RoundDim):
        return _round(dim, paper)
    if isinstance(dim, Pointer):
        return _pointer(dim, paper)
    return _angle(dim, paper)


# A length beside the view


def _beside(dim: LengthDim, paper: Paper) -> Iterator[Try]:
    """Dimension line parallel to one side of the view, level after level outwards."""
    upright = dim.side in ("left", "right")
    edge = getattr(paper, {"above": "top", "below": "bottom", "left": "left", "right": "right"}[dim.side])
    sign = 1.0 if dim.side in ("above", "right") else -1.0
    a, b = sorted((paper.at(dim.a), paper.at(dim.b)), key=lambda p: p[1] if upright else p[0])
    low, high = (a[1], b[1]) if upright else (a[0], b[0])
    text = text_of(dim.stated)
    half = width_of(text, paper.text) / 2
    beyond = 2.0 + 2 * paper.head + half
    for level in range(LEVELS):
        line = edge + sign * (FIRST + level * NEXT * paper.text)
        for centre in ((low + high) / 2, high + beyond, low - beyond):
            between = low < centre < high
            if between and high - low < 2 * half + 1.0:
                continue

            def on(along: float, off: float = line) -> Point:
                return (off, along) if upright else (along, off)

            lines = _bar(low, high, None if between else (centre - half, centre + half), on, paper)
            past = line + sign * paper.past
            extension = tuple(
                segment(p, on(c, past), "dimension")
                for p, c in ((a, low), (b, high))
                if abs((p[0] if upright else p[1]) - past) > 0.1
            )
            at = (line - paper.lift, centre) if upright else (centre, line + paper.lift)
            turn = pi / 2 if upright else 0.0
            words = Words(at=at, text=text, height=paper.text, angle=turn, anchor="middle")
            bar, *heads = lines
            assert isinstance(bar, Chain)
            yield Try(words=words, drawn=(bar, *extension, *heads), leaders=(bar,), base=on((low + high) / 2))


def _bar(
    low: float,
    high: float,
    text: tuple[float, float] | None,
    on: Callable[[float], Point],
    paper: Paper,
) -> tuple[Drawn, ...]:
    """A dimension line with its two heads, as long as a text beyond its ends needs it; heads outside where short."""
    inside = high - low > 2 * paper.head + 1.5
    out = 0.0 if inside else 2 * paper.head
    ends = [low - out, high + out, *(text or ())]
    (x0, y0), (x1, y1) = on(low), on(high)
    way = atan2(y1 - y0, x1 - x0) + (0.0 if inside else pi)
    return (
        segment(on(min(ends)), on(max(ends)), "dimension"),
        arrow(on(low), way + pi, paper.head),
        arrow(on(high), way, paper.head),
    )


# Leaders


def _ways(towards: Point) -> list[tuple[float, float, bool]]:
    """(mm beyond the view, direction, landing the other way), the shortest and straightest first."""
    first = atan2(towards[1], towards[0])
    ways = [(beyond, off, back) for beyond in STEPS for off in FAN for back in (False, True)]
    ways.sort(key=lambda way: way[0] + ASKEW * abs(way[1]) + (BACKWARDS if way[2] else 0.0))
    return [(beyond, first + radians(off), back) for beyond, off, back in ways]


def _landing(
    start: Point, direction: float, run: float, text: str, paper: Paper, *, back: bool = False
) -> tuple[Words, Chain, Chain]:
    """The text of a leader on its level landing, the slanting line and the landing (``back``: the other way)."""
    elbow = (start[0] + run * cos(direction), start[1] + run * sin(direction))
    side = 1.0 if (cos(direction) >= 0) != back else -1.0
    wide = width_of(text, paper.text) + 1.0
    landing = segment(elbow, (elbow[0] + side * wide, elbow[1]), "dimension")
    words = Words(
        at=(elbow[0] + side * wide / 2, elbow[1] + paper.lift), text=text, height=paper.text, anchor="middle"
    )
    return words, segment(start, elbow, "dimension"), landing


def _pointed_length(dim: LengthDim, paper: Paper) -> Iterator[Try]:
    """A small length measured in the middle of a view, its text led out to where there is room."""
    a, b = paper.at(dim.a), paper.at(dim.b)
    span = paper.scale * abs((dim.b[0] - dim.a[0]) * dim.along[0] + (dim.b[1] - dim.a[1]) * dim.along[1])
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    text = text_of(dim.stated)
    for beyond, direction, back in _ways(dim.towards):
        run = paper.way_out(middle, direction) + beyond
        words, slant, landing = _landing(middle, direction, run, text, paper, back=back)
        if span < 1.5:
            marks: tuple[Drawn, ...] = (arrow(middle, direction + pi, paper.head),)
        else:
            marks = _between_arrows(a, b, span, paper)
        yield Try(words=words, drawn=(slant, landing, *marks), leaders=(slant, landing), base=middle)


def _between_arrows(a: Point, b: Point, span: float, paper: Paper) -> tuple[Drawn, ...]:
    way = atan2(b[1] - a[1], b[0] - a[0])
    inside = span > 2 * paper.head + 1.0
    over = 0.0 if inside else 2 * paper.head
    start = (a[0] - over * cos(way), a[1] - over * sin(way))
    end = (b[0] + over * cos(way), b[1] + over * sin(way))
    turn = 0.0 if inside else pi
    return (
        segment(start, end, "dimension"),
        arrow(a, way + pi + turn, paper.head),
        arrow(b, way + turn, paper.head),
    )


def _round(dim: RoundDim, paper: Paper) -> Iterator[Try]:
    centre, radius = paper.at(dim.centre), paper.scale * dim.radius
    text = text_of(dim.stated)
    for beyond in STEPS:
        for angle in dim.angles:
            at = (centre[0] + radius * cos(angle), centre[1] + radius * sin(angle))
            direction = angle + (pi if dim.from_centre else 0.0)
            run = paper.way_out(at, direction) + beyond
            head = arrow(at, direction + pi, paper.head)
            for back in (False, True):
                words, slant, landing = _landing(at, direction, run, text, paper, back=back)
                yield Try(words=words, drawn=(slant, landing, head), leaders=(slant, landing), base=at)


def _pointer(dim: Pointer, paper: Paper) -> Iterator[Try]:
    for beyond, direction, back in _ways(dim.towards):
        for place in dim.at:
            at = paper.at(place)
            run = paper.way_out(at, direction) + beyond
            words, slant, landing = _landing(at, direction, run, dim.words, paper, back=back)
            head = arrow(at, direction + pi, paper.head)
            yield Try(words=words, drawn=(slant, landing, head), leaders=(slant, landing), base=at)


# Angles and arc lengths


def _angle(dim: AngleDim | ArcDim, paper: Paper) -> Iterator[Try]:
    """An arc outside the view; its text outside the arc's middle, or beyond one of its ends."""
    vertex = paper.at(dim.vertex if isinstance(dim, AngleDim) else dim.centre)
    reach = paper.scale * (dim.reach if isinstance(dim, AngleDim) else dim.radius)
    arms = reach if isinstance(dim, ArcDim) or dim.arms_from is None else paper.scale * dim.arms_from
    text = text_of(dim.stated, isinstance(dim, AngleDim))
    wide = width_of(text, paper.text)
    first = 5.0 if arms == reach else 0.0  # inside the view the arc may begin where it is asked to
    for level in range(LEVELS + 2):
        radius = reach + first + level * 1.6 * paper.text
        inside = radius * dim.sweep > 2 * paper.head + 2.0
        spill = 0.0 if inside else 2.2 * paper.head / radius
        bar = Chain(edges=(Arc(vertex, radius, dim.start - spill, dim.sweep + 2 * spill),), ink="dimension")
        arms_drawn = tuple(
            segment(_polar(vertex, arms, a), _polar(vertex, radius + paper.past, a), "dimension")
            for a in (dim.start, dim.start + dim.sweep)
        )
        drawn: tuple[Drawn, ...] = (bar, *arms_drawn, *_arc_heads(vertex, radius, dim, inside, paper))
        base = _polar(vertex, radius, dim.start + dim.sweep / 2)
        for place in ("middle", "end", "start"):
            words = _arc_words(text, wide, place, vertex, radius, dim, spill, paper)
            yield Try(words=words, drawn=drawn, leaders=(bar,), base=base)
        for beyond, direction, back in _ways((base[0] - vertex[0], base[1] - vertex[1])):
            if beyond > STEPS[1]:
                break
            run = paper.way_out(base, direction) + beyond
            words, slant, landing = _landing(base, direction, run, text, paper, back=back)
            yield Try(words=words, drawn=(*drawn, slant, landing), leaders=(bar, slant, landing), base=base)


def _polar(centre: Point, radius: float, angle: float) -> Point:
    return (centre[0] + radius * cos(angle), centre[1] + radius * sin(angle))


def _arc_words(
    text: str,
    wide: float,
    place: str,
    vertex: Point,
    radius: float,
    dim: AngleDim | ArcDim,
    spill: float,
    paper: Paper,
) -> Words:
    half = (wide / 2, paper.text * 0.67)
    if place == "middle":
        angle = dim.start + dim.sweep / 2
        off = radius + abs(cos(angle)) * half[0] + abs(sin(angle)) * half[1] + paper.lift
        middle = _polar(vertex, off, angle)
    else:
        end = place == "end"
        angle = dim.start - spill if not end else dim.start + dim.sweep + spill
        tip = _polar(vertex, radius, angle)
        way = angle + (pi / 2 if end else -pi / 2)
        ux, uy = cos(way), sin(way)
        off = min(half[0] / max(abs(ux), 1e-9), half[1] / max(abs(uy), 1e-9)) + 1.2
        middle = (tip[0] + off * ux, tip[1] + off * uy)
    return Words(at=(middle[0], middle[1] - paper.text * 0.33), text=text, height=paper.text, anchor="middle")


def _arc_heads(
    vertex: Point, radius: float, dim: AngleDim | ArcDim, inside: bool, paper: Paper
) -> tuple[Solid, Solid]:
    lean = paper.head / 2 / radius  # the head follows the arc, not its tangent
    heads = []
    for angle, way in ((dim.start, -1.0), (dim.start + dim.sweep, 1.0)):
        sign = way if inside else -way
        heads.append(arrow(_polar(vertex, radius, angle), angle + sign * (pi / 2 - lean), paper.head))
    return heads[0], heads[1]


# What the page keeps of it


def _items(dim: Dim, found: Try, paper: Paper) -> list[Item]:
    if isinstance(dim, Pointer):
        return [*found.drawn, found.words]
    before, after = around(dim.stated)
    kind, points, along = _measured(dim, found, paper)
    return [
        Measure(
            kind=kind,
            points=points,
            along=along,
            value=dim.stated.value,
            per_paper_mm=1 / paper.scale,
            before=before,
            after=after,
            words=found.words,
            drawn=found.drawn,
        )
    ]


Measurable = LengthDim | RoundDim | AngleDim | ArcDim


def _measured(dim: Measurable, found: Try, paper: Paper) -> tuple[Kind, tuple[Point, ...], float]:
    """Kind, defining points and direction, as ``Measure`` wants them."""
    if isinstance(dim, LengthDim):
        return "length", (paper.at(dim.a), paper.at(dim.b), found.base), atan2(dim.along[1], dim.along[0])
    if isinstance(dim, RoundDim):
        centre, touch = paper.at(dim.centre), found.base
        angle = atan2(touch[1] - centre[1], touch[0] - centre[0])
        if dim.diameter:
            return "diameter", (_polar(centre, paper.scale * dim.radius, angle + pi), touch), angle
        return "radius", (centre, touch), angle
    vertex = paper.at(dim.vertex if isinstance(dim, AngleDim) else dim.centre)
    reach = paper.scale * (dim.reach if isinstance(dim, AngleDim) else dim.radius)
    ends = (_polar(vertex, reach, dim.start), _polar(vertex, reach, dim.start + dim.sweep))
    return ("angle" if isinstance(dim, AngleDim) else "arc"), (vertex, *ends, found.base), 0.0
