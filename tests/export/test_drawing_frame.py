"""Sheet, frame, title block, symbol, line widths and lettering against the standards' numbers."""

from __future__ import annotations

from itertools import pairwise
from math import hypot

import pytest

from rollergen.errors import UsageError
from rollergen.export.drawing import DASHES, WIDE, Chain, Page, Words, arrow
from rollergen.export.drawing_text import check_letters, lettering, width_of, wrapped
from rollergen.export.sheet_frame import (
    BLOCK_WIDTH,
    SHEETS,
    OnSheet,
    TitleBlock,
    block_place,
    first_angle,
    frame_items,
    frame_of,
    title_block,
)
from rollergen.shape.outline import Arc

ON = OnSheet(
    scale="1:2", material="cast ether PU 80A", mass="0.9 kg", tolerances="ISO 3302-1 M3", sheet="1 / 1"
)


def page(wide: float) -> Page:
    return Page(name="x", size="A3", width=420, height=297, wide=wide, scale="1:1", items=())


@pytest.mark.parametrize(
    ("size", "sheet", "space"),
    [
        ("A4", (210, 297), (180, 277)),
        ("A3", (420, 297), (390, 277)),
        ("A2", (594, 420), (564, 400)),
        ("A1", (841, 594), (811, 574)),
        ("A0", (1189, 841), (1159, 821)),
    ],
)
def test_sheets_and_drawing_spaces(size: str, sheet: tuple[float, float], space: tuple[float, float]) -> None:
    """ISO 216 sheets; ISO 5457:1999 drawing spaces (20 mm on the left, 10 mm elsewhere)."""
    assert SHEETS[size] == sheet  # type: ignore[index]
    frame = frame_of(size)  # type: ignore[arg-type]
    assert (frame.width, frame.height) == space and (frame.left, frame.bottom) == (20, 10)
    block = block_place(size)  # type: ignore[arg-type]
    assert block.width == BLOCK_WIDTH == 180 and (block.right, block.bottom) == (frame.right, frame.bottom)


@pytest.mark.parametrize(
    ("size", "columns", "rows"), [("A4", 4, 6), ("A3", 8, 6), ("A2", 12, 8), ("A1", 16, 12), ("A0", 24, 16)]
)
def test_reference_grid_has_the_fields_of_the_standard(size: str, columns: int, rows: int) -> None:
    """ISO 5457: fields of 50 mm from the middle of the sheet (counts: values from memory)."""
    words = [i for i in frame_items(size) if isinstance(i, Words)]  # type: ignore[arg-type]
    numerals = sorted({int(w.text) for w in words if w.text.isdigit()})
    letters = sorted({w.text for w in words if not w.text.isdigit()})
    assert numerals == list(range(1, columns + 1)) and len(letters) == rows
    assert "I" not in letters and "O" not in letters
    across = sorted({w.at[0] for w in words if w.text.isdigit()})
    assert all(b - a == pytest.approx(50) for a, b in pairwise(across[1:-1]))
    top = {w.text: w.at[1] for w in words if not w.text.isdigit()}
    assert top["A"] == max(top.values())


def test_frame_line_is_0_7_and_other_lines_come_in_two_widths_two_to_one() -> None:
    """ISO 128-2: narrow : wide = 1 : 2; frame line 0.7 mm (value from memory)."""
    for wide in (0.5, 0.7):
        p = page(wide)
        assert {p.width_of(ink) for ink in WIDE} == {wide} and p.width_of("frame") == 0.7
        assert p.width_of("narrow") * 2 == p.width_of("visible")
        assert p.width_of("hatch") == p.width_of("dimension") == p.width_of("centre") == wide / 2


def test_dashes_are_counted_in_line_widths() -> None:
    """ISO 128-2: gap 3 d, dash 12 d, long dash 24 d; d the width of the line itself."""
    p = page(0.5)
    assert p.dashes_of("hidden") == (12 * 0.25, 3 * 0.25)
    assert p.dashes_of("centre") == (24 * 0.25, 3 * 0.25, 0.25, 3 * 0.25)
    assert p.dashes_of("cut")[0] == 24 * 0.5 and p.dashes_of("visible") == ()
    assert len(DASHES["phantom"]) == 6


def test_first_angle_symbol() -> None:
    """A cone cut off on the left, its small end to the left; two concentric circles on its right."""
    items = first_angle((10.0, 20.0), 8.0)
    cone = next(i for i in items if isinstance(i, Chain) and len(i.edges) == 4)
    circles = [i.edges[0] for i in items if isinstance(i, Chain) and isinstance(i.edges[0], Arc)]
    corners = [e.start for e in cone.edges]
    left, right = min(x for x, _ in corners), max(x for x, _ in corners)
    tall = {
        at: max(y for x, y in corners if x == at) - min(y for x, y in corners if x == at)
        for at in (left, right)
    }
    assert tall[left] < tall[right] and len(circles) == 2
    assert circles[0].centre == circles[1].centre
    assert {2 * c.radius for c in circles} == {tall[left], tall[right]}
    assert circles[0].centre[0] - max(c.radius for c in circles) > right
    assert all(i.ink == "visible" for i in items if isinstance(i, Chain) and isinstance(i.edges[0], Arc))


def test_arrow_heads_are_closed_and_between_15_and_30_degrees() -> None:
    head = arrow((0.0, 0.0), 0.0, 3.5)
    tip, a, b = head.points
    half = abs(a[1]) / abs(a[0])
    assert (
        tip == (0.0, 0.0) and 0.131 < half < 0.268 and hypot(a[0], 0) == pytest.approx(3.5) and a[1] == -b[1]
    )


def test_widths_are_the_font_s_own() -> None:
    """Advance of digits in DejaVu Sans is 1303 of 2048 units; capitals are 1493 tall."""
    assert width_of("0000", 1493) == pytest.approx(4 * 1303 * 0.85)
    assert width_of("", 3.5) == 0 and len(lettering().advances) > 5000


def test_texts_wrap_and_lose_nothing() -> None:
    text = "a-very-long-name-without-a-blank and some words that go on"
    for room in (60.0, 25.0, 8.0):
        lines = wrapped(text, 2.5, room)
        assert lines is not None and all(width_of(line, 2.5) <= room for line in lines)
        assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert wrapped("W", 2.5, 0.5) is None and wrapped("", 2.5, 10) == [""]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("漢字", "U+6F22"),
        ("a\tb", "U+0009"),
        ("שלום", "right to left"),
        ("line\nline", "U+000A"),
        ("e\u0301", "joined"),
    ],
)
def test_letters_the_font_cannot_show_are_refused_by_name(text: str, told: str) -> None:
    with pytest.raises(UsageError, match="--creator") as refused:
        TitleBlock(creator=text)
    assert told in str(refused.value)


def test_odd_letters_that_the_font_has_pass() -> None:
    for text in ("Müller & Söhne <GmbH>", "Жуков", "Łódź", "Ωμέγα", "a\"b'c"):
        assert check_letters(text, "x") == text


def test_long_names_shrink_then_wrap_then_are_refused() -> None:
    def values(owner: str) -> list[Words]:
        items = title_block("A3", TitleBlock(owner=owner), ON)
        return [i for i in items if isinstance(i, Words) and i.text and i.text in owner]

    assert [w.height for w in values("Acme Works")] == [5.0]
    long = values("The Very Long Named Machine Works of the Northern Counties and Partners")
    assert "".join(w.text for w in long).replace(" ", "") == (
        "TheVeryLongNamedMachineWorksoftheNorthernCountiesandPartners"
    )
    assert len({w.height for w in long}) == 1 and len(long) > 1
    for option, field, count in (("--creator", "creator", 120), ("--owner", "owner", 900)):
        with pytest.raises(UsageError, match=option) as refused:
            title_block("A3", TitleBlock(**{field: "long " * (count // 5)}), ON)
        assert "it holds about" in str(refused.value) and str(count) in str(refused.value)


def test_every_field_of_the_title_block_is_there() -> None:
    """ISO 7200:2004, mandatory: owner, number, date, sheet, title, approval, creator, document type."""
    fields = {
        "owner": "Owner1", "number": "Num2", "date": "2026-03-02", "title": "Title4", "approval": "Appr5",
        "creator": "Crea6", "revision": "R7", "status": "Stat8", "department": "Dep9", "reference": "Ref10",
        "language": "de",
    }  # fmt: skip
    words = [i.text for i in title_block("A4", TitleBlock(**fields), ON) if isinstance(i, Words)]
    for value in (*fields.values(), "Part drawing", "1 / 1", "1:2", "A4", "0.9 kg", "ISO 3302-1 M3"):
        assert words.count(value) == 1, value
