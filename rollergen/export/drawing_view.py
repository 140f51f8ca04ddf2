"""One view on paper at one scale: strokes, hatching, rings, cutting planes, marks and dimensions, none in another's way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import atan2, cos, pi, sin

from rollergen.export.drawing import Chain, Curve, Hatching, Item, Words, arrow, moved, placed_edges, segment
from rollergen.export.drawing_dims import Crowded, Paper, place_dim
from rollergen.export.drawing_hatch import hatched
from rollergen.export.drawing_room import Room, box_of, extent_of, lines_of
from rollergen.export.drawing_text import width_of
from rollergen.shape.outline import Arc, Outline, Point
from rollergen.shape.views import CutMark, Mark, Ring, Stroke, Trace, View

HATCH = 2.5  # mm between hatching lines; ISO 128-3 asks for enough distance only (value from memory)
TURNS = 6  # orders of a view's dimensions that are tried
TITLE = 5.0  # mm, height of view letters


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Something laid out, in its own frame, with its extent (mm): it is only moved from here on."""

    name: str
    items: tuple[Item, ...]
    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.top - self.bottom

    def at(self, dx: float, dy: float) -> Block:
        return Block(
            name=self.name,
            items=tuple(moved(item, dx, dy) for item in self.items),
            left=self.left + dx,
            bottom=self.bottom + dy,
            right=self.right + dx,
            top=self.top + dy,
        )


def block_of(name: str, items: Sequence[Item]) -> Block:
    left, bottom, right, top = extent_of(list(items))
    return Block(name=name, items=tuple(items), left=left, bottom=bottom, right=right, top=top)


def lay_out(view: View, *, scale: float, text: float, narrow: float, title: str) -> Block:
    """The view at ``scale`` (mm of paper per mm).  Raises Crowded when a text finds no room."""
    strokes = [stroke_item(s, scale) for s in view.strokes if _apart_enough(s, scale, narrow)]
    hatch = [_hatch(region, scale) for region in view.regions]
    rings = [_ring(r, scale) for r in view.rings]
    left, bottom, right, top = extent_of([*strokes, *rings])
    paper = Paper(scale=scale, text=text, narrow=narrow, left=left, bottom=bottom, right=right, top=top)
    cuts = [item for cut in view.cuts for item in _cut(cut, paper)]
    base: list[Item] = [*hatch, *strokes, *rings, *cuts]
    items = [*base, *_words_in_place(view, paper, base, cuts)]
    if title:
        items.append(_title(title, items, paper))
    return block_of(view.name, items)


def _words_in_place(view: View, paper: Paper, base: Sequence[Item], cuts: Sequence[Item]) -> list[Item]:
    """Dimensions, marks and letters one after the other; what finds no room is tried first the next time.

    No leader crosses the marks of a cutting plane.
    """
    order = list(view.dims)
    for attempt in range(TURNS):
        room = Room()
        items: list[Item] = []
        room.take(base)
        room.leaders = lines_of(cuts)
        try:
            for dim in order:
                blocked = dim
                items += place_dim(dim, paper, room)
            items += [_mark(mark, paper, room) for mark in view.marks]
            items += [_ring_letter(ring, paper, room) for ring in view.rings]
        except Crowded:
            if attempt == TURNS - 1 or blocked is order[0]:
                raise
            order = [blocked, *(dim for dim in order if dim is not blocked)]
        else:
            return items
    raise AssertionError("the last turn returns or raises")


def _apart_enough(stroke: Stroke | Trace, scale: float, narrow: float) -> bool:
    """False for an edge that on paper lies closer to its neighbour than twice a wide line's width."""
    return isinstance(stroke, Trace) or stroke.beside is None or stroke.beside * scale >= 4 * narrow


def stroke_item(stroke: Stroke | Trace, scale: float) -> Chain | Curve:
    """A stroke of the part on paper, in the view's own frame."""
    if isinstance(stroke, Trace):
        return Curve(points=tuple((scale * x, scale * y) for x, y in stroke.points), ink=stroke.style)
    return Chain(edges=placed_edges(stroke.edges, scale, (0.0, 0.0)), ink=stroke.style)


def _hatch(region: tuple[Outline, ...], scale: float) -> Hatching:
    loops = tuple(Outline(placed_edges(loop.edges, scale, (0.0, 0.0))) for loop in region)
    return hatched(loops, HATCH)


def _ring(ring: Ring, scale: float) -> Chain:
    centre = (scale * ring.centre[0], scale * ring.centre[1])
    return Chain(edges=(Arc(centre, scale * ring.radius, 0.0, 2 * pi),), ink="dimension")


def _cut(cut: CutMark, paper: Paper) -> list[Item]:
    """Wide ends of the cutting plane with arrows the way one looks, and its letter twice."""
    x = paper.scale * cut.x
    items: list[Item] = []
    for edge, out in ((paper.top, 1.0), (paper.bottom, -1.0)):
        tail, tip = (x, edge + out * 8.0), (x + cut.looks * 8.0, edge + out * 8.0)
        way = 0.0 if cut.looks > 0 else pi
        items += [
            segment((x, edge + out * 1.5), tail, "visible"),
            segment(tail, tip, "dimension"),
            arrow(tip, way, 1.2 * paper.text),
            Words(
                at=(x + cut.looks * 3.4, tail[1] + (1.2 if out > 0 else -1.2 - TITLE)),
                text=cut.letter,
                height=TITLE,
                anchor="middle",
            ),
        ]
    return items


def _mark(mark: Mark, paper: Paper, room: Room) -> Words:
    return _near(mark.words, paper.at(mark.at), mark.away, paper.text, room)


def _ring_letter(ring: Ring, paper: Paper, room: Room) -> Words:
    """The detail's letter outside its ring."""
    centre, radius = paper.at(ring.centre), paper.scale * ring.radius
    first = atan2(ring.away[1], ring.away[0])
    for run in (1.0, 4.0, 8.0, 14.0):
        for off in (0.0, 0.4, -0.4, 0.8, -0.8, 1.3, -1.3, 1.9, -1.9, 2.5, -2.5):
            way = (cos(first + off), sin(first + off))
            edge = (centre[0] + radius * way[0], centre[1] + radius * way[1])
            words = _beyond(ring.letter, edge, way, TITLE, run)
            if room.free_for(box_of(words)):
                room.take([words])
                return words
    raise Crowded(f"letter {ring.letter}")


def _near(text: str, at: Point, away: Point, height: float, room: Room) -> Words:
    first = atan2(away[1], away[0])
    for run in (1.0, 3.0, 6.0, 10.0, 15.0):
        for off in (0.0, 0.3, -0.3, 0.7, -0.7, 1.2, -1.2):
            words = _beyond(text, at, (cos(first + off), sin(first + off)), height, run)
            if room.free_for(box_of(words)):
                room.take([words])
                return words
    raise Crowded(text)


def _beyond(text: str, at: Point, way: Point, height: float, run: float) -> Words:
    half = (width_of(text, height) / 2, height * 0.67)
    off = abs(way[0]) * half[0] + abs(way[1]) * half[1] + run
    middle = (at[0] + off * way[0], at[1] + off * way[1])
    return Words(at=(middle[0], middle[1] - height * 0.33), text=text, height=height, anchor="middle")


def _title(title: str, items: list[Item], paper: Paper) -> Words:
    left, _, right, top = extent_of(items)
    middle = min(max((paper.left + paper.right) / 2, left), right)
    return Words(at=(middle, top + 4.0), text=title, height=TITLE, anchor="middle")


def in_line(blocks: Sequence[Block], gap: float) -> Block:
    """Blocks side by side on one axis, left to right: first-angle views of one part."""
    items: list[Item] = []
    x = 0.0
    for block in blocks:
        placed = block.at(x - block.left, 0.0)
        items += placed.items
        x = placed.right + gap
    return replace(block_of("+".join(b.name for b in blocks), items))
