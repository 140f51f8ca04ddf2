"""From a drawing's content to its sheets: size, scale and places tried until nothing meets anything."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from rollergen.errors import UsageError
from rollergen.export.drawing import Page
from rollergen.export.drawing_dims import Crowded
from rollergen.export.drawing_room import extent_of
from rollergen.export.drawing_table import notes_block, table_block
from rollergen.export.drawing_text import check_letters
from rollergen.export.drawing_view import Block, in_line, lay_out, stroke_item
from rollergen.export.sheet_frame import (
    SHEETS,
    OnSheet,
    Rect,
    Size,
    TitleBlock,
    block_place,
    frame_items,
    frame_of,
    mark_places,
    title_block,
)
from rollergen.shape.views import DrawingContent, View

# ISO 5455
SCALES: dict[str, float] = {
    "50:1": 50, "20:1": 20, "10:1": 10, "5:1": 5, "2:1": 2, "1:1": 1, "1:2": 1 / 2, "1:5": 1 / 5, "1:10": 1 / 10,
    "1:20": 1 / 20, "1:50": 1 / 50, "1:100": 1 / 100,
}  # fmt: skip
WIDE: dict[Size, float] = {"A4": 0.5, "A3": 0.5, "A2": 0.5, "A1": 0.7, "A0": 0.7}
TEXTS: dict[Size, tuple[float, ...]] = {
    "A4": (2.5,), "A3": (3.5, 2.5), "A2": (3.5,), "A1": (3.5,), "A0": (3.5,),
}  # fmt: skip
DETAIL: dict[Size, float] = {"A4": 70.0, "A3": 85.0, "A2": 105.0, "A1": 140.0, "A0": 180.0}  # mm, at most
SHARES = (1.15, 0.85, 0.6, 1.9)  # of that, in the order they are tried
READABLE = (48.0, 24.0, 12.0)  # mm: what a section should measure on paper, and has to at the very least
GAPS = (14.0, 9.0, 5.0)  # mm between blocks
IN_LINE = 12.0
LEAST_ROUND = 20.0  # mm that dimensions need beside a view


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the user fixed: a sheet size, a scale; None leaves it to the layout."""

    size: Size | None = None
    scale: str | None = None


FREE = Asked()


def pages_of(content: DrawingContent, title: TitleBlock, asked: Asked = FREE) -> tuple[Page, ...]:
    """The sheets, usually one.  Raises UsageError, with numbers, when no sheet can hold a view.

    The smallest sheet on which a section is readable is taken, and on it the largest scale of ISO 5455.
    Several sheets only where a size was asked for, or where not even A0 holds all views.
    """
    _check_words(content)
    desk = Desk(content=content)
    for least in READABLE:
        choices = _choices(content, asked, least)
        found = _one_sheet(desk, choices)
        if found is None and asked.size is not None:
            found = _several_sheets(desk, choices)
        if found is not None:
            return _pages(content, title, *found)
    found = _several_sheets(
        desk, _choices(content, Asked(size=asked.size or "A0", scale=asked.scale), READABLE[-1])
    )
    if found is None:
        raise UsageError(_refusal(content, asked, desk.why))
    return _pages(content, title, *found)


@dataclass(slots=True, kw_only=True)
class Desk:
    """One drawing being laid out: views already tried, and why some did not go; local to that work."""

    content: DrawingContent
    tried: dict[tuple[str, str, float, float, str], Block | None] = field(default_factory=dict)
    why: list[str] = field(default_factory=list)

    def view(self, view: View, scale: str, text: float, narrow: float, title: str) -> Block | None:
        """The view laid out, None when it is too crowded."""
        key = (view.name, scale, text, narrow, title)
        if key not in self.tried:
            try:
                self.tried[key] = lay_out(view, scale=SCALES[scale], text=text, narrow=narrow, title=title)
            except Crowded as crowded:
                self.tried[key] = None
                self.why.append(f'in the {view.name} view at {scale} the text "{crowded.what}" finds no room')
        return self.tried[key]


Choice = tuple[Size, str]
Found = tuple[Size, str, list[list[Block]]]


def _one_sheet(desk: Desk, choices: Sequence[Choice]) -> Found | None:
    for size, scale in choices:
        for blocks in _arrangements(desk, size, scale):
            if (placed := _packed(blocks, size)) is not None:
                return size, scale, [placed]
    return None


def _several_sheets(desk: Desk, choices: Sequence[Choice]) -> Found | None:
    for size, scale in choices:
        for blocks in _arrangements(desk, size, scale):
            if (sheets := _spread(blocks, size)) is not None:
                return size, scale, sheets
    return None


def _arrangements(desk: Desk, size: Size, scale: str) -> Iterator[list[Block]]:
    """What is worth packing: end view beside the side view, then by itself; details and texts from large to small."""
    for on_one_axis in (True, False):
        for larger in _detail_scales(desk.content, size, scale):
            for text in TEXTS[size]:
                blocks = _blocks(desk, size, scale, text, larger, on_one_axis)
                if blocks is not None:
                    yield blocks


def _pages(
    content: DrawingContent, title: TitleBlock, size: Size, scale: str, sheets: Sequence[Sequence[Block]]
) -> tuple[Page, ...]:
    count = len(sheets)
    return tuple(
        _page(content, title, size, scale, blocks, (n, count)) for n, blocks in enumerate(sheets, start=1)
    )


def _check_words(content: DrawingContent) -> None:
    check_letters(content.name, "name")
    for fact in content.facts:
        check_letters(fact.value, fact.keys[0] if fact.keys else fact.label)


def _choices(content: DrawingContent, asked: Asked, least: float) -> list[Choice]:
    """Sizes from small to large, on each the scales from large to small that could fit at all."""
    wide, tall = _bare(content.in_line)
    section = _bare(content.others[:1])[1]
    found: list[Choice] = []
    for size in [asked.size] if asked.size else list(SHEETS):
        frame = frame_of(size)
        for name in [asked.scale] if asked.scale else list(SCALES):
            s = SCALES[name]
            if not _fits(wide, tall, s, frame):
                continue
            if s * section < least:
                continue
            found.append((size, name))
    return found


def _bare(views: Sequence[View]) -> tuple[float, float]:
    """Width of the widest view and height of the tallest, in mm of the part, strokes alone."""
    sizes = [_extent(view) for view in views]
    return max(s[0] for s in sizes), max(s[1] for s in sizes)


def _extent(view: View) -> tuple[float, float]:
    left, bottom, right, top = extent_of([stroke_item(stroke, 1.0) for stroke in view.strokes])
    return right - left, top - bottom


def _blocks(
    desk: Desk, size: Size, scale: str, text: float, larger: Mapping[str, str], on_one_axis: bool
) -> list[Block] | None:
    """Every view, the table and the notes, laid out; None when a view is too crowded at this scale."""
    found: dict[str, Block] = {}
    content = desk.content
    # details are the most crowded: they say first that a scale does not go
    for view in sorted(content.views, key=lambda v: not v.enlarged):
        name = larger.get(view.name, scale)
        title = f"{view.title} ({name})" if view.name in larger else view.title
        title = title if on_one_axis else view.alone or title
        block = desk.view(view, name, text, WIDE[size] / 2, title)
        if block is None:
            return None
        found[view.name] = block
    small = 2.5 if text == 2.5 or size == "A3" else text
    first = [found[view.name] for view in content.in_line]
    return [
        *([in_line(first, IN_LINE)] if on_one_axis else first),
        *(found[view.name] for view in content.others),
        table_block(content, small),
        notes_block(content, small),
    ]


def _detail_scales(content: DrawingContent, size: Size, scale: str) -> list[dict[str, str]]:
    """Scales worth trying for the details, the largest first: name of the view -> scale."""
    found: list[dict[str, str]] = []
    for share in SHARES:
        scales = {
            view.name: detail_scale(view, share * DETAIL[size], scale)
            for view in content.views
            if view.enlarged
        }
        if scales not in found:
            found.append(scales)
    return found


def detail_scale(view: View, most: float, scale: str) -> str:
    """The largest scale at which a detail measures no more than ``most`` mm, never below the sheet's own."""
    greatest = max(_extent(view))
    fits = [name for name, s in SCALES.items() if s * greatest <= most and s >= SCALES[scale]]
    return fits[0] if fits else scale


# Places


def _packed(blocks: Sequence[Block], size: Size) -> list[Block] | None:
    """All blocks on one sheet, as far apart as goes; None when they do not fit."""
    frame, taken = frame_of(size), block_place(size)
    if sum(b.width * b.height for b in blocks) > frame.width * frame.height - taken.width * taken.height:
        return None
    for gap in GAPS:
        for order in _orders(blocks):
            spots = _spots(order, size, gap)
            if len(spots) == len(blocks):
                return _moved(blocks, spots)
    return None


def _orders(blocks: Sequence[Block]) -> list[list[Block]]:
    """As they read, then the larger ones first."""
    return [
        list(blocks),
        sorted(blocks, key=lambda b: -b.width * b.height),
        sorted(blocks, key=lambda b: -b.height),
    ]


def _spread(blocks: Sequence[Block], size: Size) -> list[list[Block]] | None:
    """Sheet after sheet, each taking what fits in reading order; None when one alone does not fit."""
    left, sheets = list(blocks), []
    while left:
        taken = _spots(left, size, GAPS[-1], skip=True)
        if not taken:
            return None
        sheets.append(_moved(left, taken))
        left = [block for block in left if block.name not in taken]
    return sheets


Spots = dict[str, tuple[float, float]]  # name of a block -> its left and top


def _moved(blocks: Sequence[Block], spots: Spots) -> list[Block]:
    chosen = [(block, spots[block.name]) for block in blocks if block.name in spots]
    return [block.at(left - block.left, top - block.top) for block, (left, top) in chosen]


def _spots(blocks: Sequence[Block], size: Size, gap: float, *, skip: bool = False) -> Spots:
    """Blocks one by one at the highest, then leftmost free corner; stops at the first that finds none."""
    frame = frame_of(size)
    area = Rect(left=frame.left + 3, bottom=frame.bottom + 3, right=frame.right - 3, top=frame.top - 3)
    used = [block_place(size), *mark_places(size)]
    spots: Spots = {}
    for block in blocks:
        spot = _corner(block, area, used, gap)
        if spot is None:
            if skip:
                continue
            break
        left, top = spots[block.name] = spot
        used.append(Rect(left=left, bottom=top - block.height, right=left + block.width, top=top))
    return spots


def _corner(block: Block, area: Rect, used: Sequence[Rect], gap: float) -> tuple[float, float] | None:
    lefts = sorted({area.left, *(r.right + gap for r in used), *(r.left - gap - block.width for r in used)})
    tops = sorted(
        {area.top, *(r.bottom - gap for r in used), *(r.top + gap + block.height for r in used)}, reverse=True
    )
    for top in tops:
        for left in lefts:
            spot = Rect(left=left, bottom=top - block.height, right=left + block.width, top=top)
            inside = (
                spot.left >= area.left - 1e-9
                and spot.right <= area.right + 1e-9
                and spot.bottom >= area.bottom - 1e-9
                and spot.top <= area.top + 1e-9
            )
            if inside and not any(
                spot.meets(r, gap if r.width > 1.5 and r.height > 1.5 else 1.0) for r in used
            ):
                return left, top
    return None


def _page(
    content: DrawingContent,
    title: TitleBlock,
    size: Size,
    scale: str,
    blocks: Sequence[Block],
    sheet: tuple[int, int],
) -> Page:
    width, height = SHEETS[size]
    on_sheet = OnSheet(
        scale=scale,
        material=content.material,
        mass=content.mass,
        tolerances=content.tolerance_class,
        sheet=f"{sheet[0]} / {sheet[1]}",
    )
    items = [
        *frame_items(size),
        *title_block(size, title, on_sheet),
        *(item for block in blocks for item in block.items),
    ]
    return Page(
        name=content.name,
        size=size,
        width=width,
        height=height,
        wide=WIDE[size],
        scale=scale,
        items=tuple(items),
    )


def _refusal(content: DrawingContent, asked: Asked, why: Sequence[str]) -> str:
    """Which number stands in the way, and what to change."""
    wide, tall = _bare(content.in_line)
    section = _bare(content.others[:1])[1]
    size: Size = asked.size or "A0"
    frame = frame_of(size)
    scales = [asked.scale] if asked.scale else list(SCALES)
    fitting = [n for n in scales if _fits(wide, tall, SCALES[n], frame)]
    sheet = f"sheet {size}" if asked.size else f"any sheet up to {size}"
    text = f"{content.name} does not fit {sheet}"
    if not fitting:
        s = SCALES[scales[-1]]
        text += (
            f" at {scales[-1]}: its side view alone takes {wide * s:.0f} x {tall * s:.0f} mm and "
            f"{LEAST_ROUND:g} mm for dimensions, the frame holds {frame.width:g} x {frame.height:g} mm"
        )
    elif SCALES[fitting[0]] * section < READABLE[-1]:
        text += (
            f": {fitting[0]} is the largest scale that goes, and there its section measures "
            f"{SCALES[fitting[0]] * section:.1f} mm; below {READABLE[-1]:g} mm it cannot be read"
        )
    else:
        text += (
            f": {why[-1]}"
            if why
            else f" at {fitting[0]}: a view and its dimensions are larger than the frame"
        )
    ways = [f"--{name}" for name, given in (("size", asked.size), ("scale", asked.scale)) if given]
    return text + (f"; leave out {' and '.join(ways)}" if ways else "; draw a shorter segment")


def _fits(wide: float, tall: float, scale: float, frame: Rect) -> bool:
    return scale * wide + LEAST_ROUND <= frame.width and scale * tall + LEAST_ROUND <= frame.height
