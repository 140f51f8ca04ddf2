"""Sheet, frame, reference grid and title block, with the first-angle symbol.

Sheets ISO 216; frame ISO 5457:1999 (20 mm on the left, 10 mm elsewhere; line 0.7 mm, grid fields of 50 mm and
title block of 180 mm from memory); fields ISO 7200:2004; symbol ISO 5456-2.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import pi
from typing import Literal

from rollergen.errors import UsageError
from rollergen.export.drawing import Chain, Ink, Item, Words, segment
from rollergen.export.drawing_text import check_letters, width_of, wrapped
from rollergen.shape.outline import Arc, Line, Point

Size = Literal["A4", "A3", "A2", "A1", "A0"]
# width x height as they lie: A4 upright, the others along (ISO 5457, from memory)
SHEETS: dict[Size, tuple[float, float]] = {
    "A4": (210.0, 297.0),
    "A3": (420.0, 297.0),
    "A2": (594.0, 420.0),
    "A1": (841.0, 594.0),
    "A0": (1189.0, 841.0),
}
LEFT, OTHER = 20.0, 10.0  # mm, margins to the frame
GRID, FIELD, MARKS = 5.0, 50.0, 5.0  # mm: grid border, its fields, how far centring marks enter the frame
LEAST_FIELD = 12.5  # mm: a shorter rest joins its neighbour
BLOCK_WIDTH = 180.0
ROWS = (14.0, 14.0, 11.0, 18.0, 11.0)  # mm, title block from the top
BLOCK_HEIGHT = sum(ROWS)
LABEL, SMALL, MIDDLE, LARGE = 2.5, 2.5, 3.5, 5.0  # ISO 3098 heights
LINE = 1.45  # text heights from line to line
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # without I and O


@dataclass(frozen=True, slots=True, kw_only=True)
class TitleBlock:
    """What the title block says beside the drawing's own facts; "-" where nothing was given.

    ``date`` is the user's, never the clock's.  Raises UsageError for letters the font does not have.
    """

    title: str = "-"
    supplement: str = "-"
    owner: str = "-"
    number: str = "-"
    revision: str = "-"
    date: str = "-"
    creator: str = "-"
    approval: str = "-"
    department: str = "-"
    reference: str = "-"
    status: str = "-"
    language: str = "en"

    def __post_init__(self) -> None:
        for field in fields(self):
            check_letters(getattr(self, field.name), f"--{field.name}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rect:
    """A piece of paper (mm)."""

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

    def meets(self, other: Rect, gap: float) -> bool:
        return not (
            self.right + gap <= other.left + 1e-9
            or other.right + gap <= self.left + 1e-9
            or self.top + gap <= other.bottom + 1e-9
            or other.top + gap <= self.bottom + 1e-9
        )


def frame_of(size: Size) -> Rect:
    """The frame: what lies inside it is the drawing space."""
    width, height = SHEETS[size]
    return Rect(left=LEFT, bottom=OTHER, right=width - OTHER, top=height - OTHER)


def block_place(size: Size) -> Rect:
    """Where the title block stands: lower right, on an A4 as wide as the frame."""
    frame = frame_of(size)
    return Rect(
        left=frame.right - BLOCK_WIDTH,
        bottom=frame.bottom,
        right=frame.right,
        top=frame.bottom + BLOCK_HEIGHT,
    )


def mark_places(size: Size) -> tuple[Rect, ...]:
    """Where the centring marks stand inside the frame."""
    width, height = SHEETS[size]
    frame = frame_of(size)
    return (
        Rect(left=width / 2 - 0.5, bottom=frame.top - MARKS, right=width / 2 + 0.5, top=frame.top),
        Rect(left=width / 2 - 0.5, bottom=frame.bottom, right=width / 2 + 0.5, top=frame.bottom + MARKS),
        Rect(left=frame.left, bottom=height / 2 - 0.5, right=frame.left + MARKS, top=height / 2 + 0.5),
        Rect(left=frame.right - MARKS, bottom=height / 2 - 0.5, right=frame.right, top=height / 2 + 0.5),
    )


def frame_items(size: Size) -> list[Item]:
    """Trimmed edge, frame, centring marks and reference grid."""
    width, height = SHEETS[size]
    frame = frame_of(size)
    items: list[Item] = [_box(frame, "frame")]
    outer = Rect(
        left=frame.left - GRID, bottom=frame.bottom - GRID, right=frame.right + GRID, top=frame.top + GRID
    )
    items.append(_box(outer, "narrow"))
    items += [
        segment((width / 2, outer.top), (width / 2, frame.top - MARKS), "frame"),
        # the title block of an A4 stands on the lower mark's place
        segment(
            (width / 2, outer.bottom), (width / 2, frame.bottom + (0 if size == "A4" else MARKS)), "frame"
        ),
        segment((outer.left, height / 2), (frame.left + MARKS, height / 2), "frame"),
        segment((outer.right, height / 2), (frame.right - MARKS, height / 2), "frame"),
    ]
    items += _grid(frame, width / 2, along=True)
    items += _grid(frame, height / 2, along=False)
    return items


def _grid(frame: Rect, middle: float, *, along: bool) -> list[Item]:
    """Fields of 50 mm from the sheet's middle: numerals left to right, letters from the top down."""
    low, high = (frame.left, frame.right) if along else (frame.bottom, frame.top)
    inner = sorted(
        middle + k * FIELD
        for k in range(-30, 31)
        if low + LEAST_FIELD < middle + k * FIELD < high - LEAST_FIELD
    )
    limits = [low, *inner, high]
    items: list[Item] = []
    edges = ((frame.bottom - GRID, frame.bottom), (frame.top, frame.top + GRID))
    if not along:
        edges = ((frame.left - GRID, frame.left), (frame.right, frame.right + GRID))
    count = len(limits) - 1
    for a, b in edges:
        items += [
            segment((at, a), (at, b), "narrow") if along else segment((a, at), (b, at), "narrow")
            for at in inner
            if abs(at - middle) > 1e-9  # a centring mark stands there
        ]
        for n in range(count):
            at = (limits[n] + limits[n + 1]) / 2
            name = str(n + 1) if along else LETTERS[count - 1 - n]
            place = (at, (a + b) / 2) if along else ((a + b) / 2, at)
            items.append(_centred(name, place, MIDDLE))
    return items


def _centred(text: str, at: Point, height: float) -> Words:
    return Words(at=(at[0], at[1] - height / 2), text=text, height=height, anchor="middle")


def _box(r: Rect, ink: Ink) -> Chain:
    corners = ((r.left, r.bottom), (r.right, r.bottom), (r.right, r.top), (r.left, r.top))
    return Chain(
        edges=tuple(Line(a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True)), ink=ink
    )


def first_angle(at: Point, height: float) -> list[Item]:
    """The symbol of first-angle projection, ``at`` its left middle, ``height`` of the larger circle.

    A cone cut off, its small end to the left, and to the right of it the view from the left: two circles.
    """
    x, y = at
    big, small, long = height / 2, height / 4, height
    cone = (
        (x, y - small),
        (x + long, y - big),
        (x + long, y + big),
        (x, y + small),
    )
    eye = x + long + 1.15 * height
    edges = tuple(Line(a, b) for a, b in zip(cone, (*cone[1:], cone[0]), strict=True))
    return [
        Chain(edges=edges, ink="visible"),
        Chain(edges=(Arc((eye, y), big, 0.0, 2 * pi),), ink="visible"),
        Chain(edges=(Arc((eye, y), small, 0.0, 2 * pi),), ink="visible"),
        segment((x - 1.2, y), (x + long + 1.2, y), "dimension"),
        segment((eye - big - 1.2, y), (eye + big + 1.2, y), "dimension"),
        segment((eye, y - big - 1.2), (eye, y + big + 1.2), "dimension"),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class OnSheet:
    """What the title block says of the drawing itself."""

    scale: str
    material: str
    mass: str
    tolerances: str
    sheet: str


def title_block(size: Size, title: TitleBlock, on_sheet: OnSheet) -> list[Item]:
    """The title block's lines and texts.  Raises UsageError for a text that does not fit its field."""
    place = block_place(size)
    items: list[Item] = [_box(place, "table")]
    for cell in _cells(title, on_sheet, size):
        rect = _cell_rect(place, cell)
        items.append(_box(rect, "narrow"))
        items += _filled(cell, rect)
    symbol = _row_rect(place, 0, 0.0, 30.0)
    items.append(_box(symbol, "narrow"))
    items += first_angle((symbol.left + 3.0, (symbol.bottom + symbol.top) / 2), 9.0)
    return items


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cell:
    label: str
    option: str
    value: str
    first: int  # rows it stands on, from the top
    last: int
    left: float
    right: float
    heights: tuple[float, ...] = (MIDDLE, SMALL)


def _cells(title: TitleBlock, on: OnSheet, size: str) -> list[_Cell]:
    def cell(
        label: str,
        option: str,
        value: str,
        rows: tuple[int, int],
        at: tuple[float, float],
        large: bool = False,
    ) -> _Cell:
        heights = (LARGE, MIDDLE, SMALL) if large else (MIDDLE, SMALL)
        return _Cell(
            label=label, option=option, value=value, first=rows[0], last=rows[1], left=at[0], right=at[1],
            heights=heights,
        )  # fmt: skip

    return [
        cell("Scale", "--scale", on.scale, (0, 0), (30, 55)),
        cell("Size", "--size", size, (0, 0), (55, 68)),
        cell("Material", "compound.name", on.material, (0, 0), (68, 125)),
        cell("Mass", "mass", on.mass, (0, 0), (125, 148)),
        cell("General tolerances", "--cast-class", on.tolerances, (0, 0), (148, 180)),
        cell("Responsible department", "--department", title.department, (1, 1), (0, 45)),
        cell("Technical reference", "--reference", title.reference, (1, 1), (45, 90)),
        cell("Created by", "--creator", title.creator, (1, 1), (90, 135)),
        cell("Approved by", "--approval", title.approval, (1, 1), (135, 180)),
        cell("Legal owner", "--owner", title.owner, (2, 4), (0, 60), large=True),
        cell("Document type", "document type", "Part drawing", (2, 2), (60, 120)),
        cell("Document status", "--status", title.status, (2, 2), (120, 180)),
        cell("Title", "--title", _whole_title(title), (3, 3), (60, 132), large=True),
        cell("Identification number", "--number", title.number, (3, 3), (132, 180), large=True),
        cell("Rev.", "--revision", title.revision, (4, 4), (60, 78)),
        cell("Date of issue", "--date", title.date, (4, 4), (78, 116)),
        cell("Lang.", "--language", title.language, (4, 4), (116, 132)),
        cell("Sheet", "sheet", on.sheet, (4, 4), (132, 180)),
    ]


def _whole_title(title: TitleBlock) -> str:
    return title.title if title.supplement == "-" else f"{title.title}; {title.supplement}"


def _row_rect(place: Rect, row: int, left: float, right: float) -> Rect:
    top = place.top - sum(ROWS[:row])
    return Rect(left=place.left + left, bottom=top - ROWS[row], right=place.left + right, top=top)


def _cell_rect(place: Rect, cell: _Cell) -> Rect:
    first, last = (_row_rect(place, row, cell.left, cell.right) for row in (cell.first, cell.last))
    return Rect(left=first.left, bottom=last.bottom, right=first.right, top=first.top)


def _filled(cell: _Cell, rect: Rect) -> list[Item]:
    """Label on top, below it the value as large as it fits, in as many lines as fit."""
    top = rect.top - 0.9 - LABEL
    room = rect.width - 2.4
    items: list[Item] = [Words(at=(rect.left + 1.2, top), text=cell.label, height=LABEL)]
    below = top - 1.1 - rect.bottom
    check_letters(cell.value, cell.option)
    for height in cell.heights:
        lines = [cell.value] if width_of(cell.value, height) <= room else wrapped(cell.value, height, room)
        if lines is None or _tall(lines, height) > below:
            continue
        start = top - 1.2 - height
        return items + [
            Words(at=(rect.left + 1.2, start - n * LINE * height), text=line, height=height)
            for n, line in enumerate(lines)
        ]
    raise UsageError(
        f'{cell.option}: "{_short(cell.value)}" has {len(cell.value)} characters and does not fit the field '
        f'"{cell.label}" of {rect.width:g} x {rect.height:g} mm even at {SMALL:g} mm; it holds about '
        f"{_most(cell.value, room, below)} of them"
    )


def _tall(lines: list[str], height: float) -> float:
    return height + (len(lines) - 1) * LINE * height + 0.34 * height


def _most(value: str, room: float, below: float) -> int:
    low, high = 0, len(value)
    while high - low > 1:
        middle = (low + high) // 2
        lines = wrapped(value[:middle], SMALL, room)
        fits = lines is not None and _tall(lines, SMALL) <= below
        low, high = (middle, high) if fits else (low, middle)
    return low


def _short(text: str) -> str:
    return text if len(text) <= 30 else f"{text[:27]}..."
