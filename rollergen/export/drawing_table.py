"""The sheet's table of what no view can measure, and its numbered notes."""

from __future__ import annotations

from rollergen.export.drawing import Item, Words, segment
from rollergen.export.drawing_text import widest, width_of, wrapped
from rollergen.export.drawing_view import Block, block_of
from rollergen.shape.views import DrawingContent

TABLE_WIDTH, NOTES_WIDTH = 62.0, 125.0  # mm, of the table's values, of the notes


def table_block(content: DrawingContent, height: float) -> Block:
    """The facts in two columns with narrow rules."""
    left = widest([f.label for f in content.facts], height) + 3.0
    rows = [(f.label, wrapped(f.value, height, TABLE_WIDTH) or [f.value]) for f in content.facts]
    right = max(widest(lines, height) for _, lines in rows) + 3.0
    items: list[Item] = [Words(at=(0.0, 2.0), text="Data", height=3.5)]
    y = 0.0
    items.append(segment((0.0, y), (left + right, y), "table"))
    pitch = 1.5 * height
    for label, lines in rows:
        items.append(Words(at=(1.2, y - 0.35 * height - height), text=label, height=height))
        items += [
            Words(at=(left + 1.2, y - 0.35 * height - height - n * pitch), text=line, height=height)
            for n, line in enumerate(lines)
        ]
        y -= pitch * len(lines) + 0.3 * height
        items.append(segment((0.0, y), (left + right, y), "narrow"))
    items += [segment((x, 0.0), (x, y), "narrow") for x in (0.0, left, left + right)]
    return block_of("table", items)


def notes_block(content: DrawingContent, height: float) -> Block:
    """Numbered notes."""
    items: list[Item] = [Words(at=(0.0, 0.0), text="Notes", height=3.5)]
    y = -2.2 * height
    indent = width_of("8. ", height) + 0.5
    for number, note in enumerate(content.notes, start=1):
        items.append(Words(at=(0.0, y), text=f"{number}.", height=height))
        for line in wrapped(note, height, NOTES_WIDTH) or [note]:
            items.append(Words(at=(indent, y), text=line, height=height))
            y -= 1.5 * height
        y -= 0.4 * height
    return block_of("notes", items)
