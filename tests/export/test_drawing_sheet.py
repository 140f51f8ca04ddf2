"""Whole sheets: nothing meets anything, the right sheet and scale are found, or the refusal says why."""

from __future__ import annotations

from functools import cache
from math import cos, sin
from pathlib import Path

import numpy as np
import pytest
from shapely import LineString, Polygon, STRtree

from rollergen.answer.drawing_views import drawing_of
from rollergen.answer.report import draw, draw_profile
from rollergen.errors import UsageError
from rollergen.export.drawing import (
    Chain,
    Curve,
    Hatching,
    Item,
    Measure,
    Page,
    Solid,
    Words,
    all_words,
    drawn_parts,
)
from rollergen.export.drawing_hatch import hatched
from rollergen.export.drawing_sheet import SCALES, Asked, pages_of
from rollergen.export.drawing_text import width_of
from rollergen.export.sheet_frame import TitleBlock, block_place, frame_of
from rollergen.shape.outline import Arc, circle
from rollergen.shape.properties import area_of
from rollergen.shape.views import DrawingContent
from rollergen.spec.reading import read_source

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
ALIKE = ("beet-general", "beet-left", "beet-short")  # near to the others: with the long tests
NAMES = [pytest.param(p.stem, marks=pytest.mark.slow) if p.stem in ALIKE else p.stem for p in PROFILES]
DEEP, FLAT, TALL = 0.30, 0.03, 1.0  # of the capitals' height: below and above the baseline
UPRIGHT = frozenset("0123456789ABCDEFGHIJKLMNOPRSTUVWXYZ.:+-±×° ")  # letters that stand on the baseline


def text_shape(words: Words) -> Polygon:
    """The rectangle a text covers, descenders included."""
    length = width_of(words.text, words.height)
    start = {"left": 0.0, "middle": -length / 2, "right": -length}[words.anchor]
    c, s = cos(words.angle), sin(words.angle)
    deep = FLAT if UPRIGHT.issuperset(words.text) else DEEP
    low, high = -deep * words.height, TALL * words.height
    corners = [(start, low), (start + length, low), (start + length, high), (start, high)]
    return Polygon([(words.at[0] + x * c - y * s, words.at[1] + x * s + y * c) for x, y in corners])


def line_shapes(items: tuple[Item, ...]) -> list[LineString]:
    """Everything a pen draws, arcs as fine chains, hatching included."""
    found = []
    for item in items:
        if isinstance(item, Hatching):
            found += [LineString(line) for line in item.lines]
        for part in drawn_parts(item):
            if isinstance(part, Curve):
                found.append(LineString(part.points))
            elif isinstance(part, Solid):
                found.append(LineString([*part.points, part.points[0]]))
            elif isinstance(part, Chain):
                for edge in part.edges:
                    count = 65 if isinstance(edge, Arc) else 2
                    shares = np.linspace(0, 1, count)
                    points = [edge.at(s) for s in shares] if isinstance(edge, Arc) else [edge.start, edge.end]
                    found.append(LineString(points))
    return found


def collisions(page: Page) -> list[str]:
    """Every text that meets another text or a line, as words."""
    words = all_words(page.items)
    shapes = [text_shape(w) for w in words]
    tree = STRtree(shapes)
    found = []
    for number, shape in enumerate(shapes):
        for other in tree.query(shape, predicate="intersects"):
            if other > number:
                found.append(f"{words[number].text!r} meets {words[other].text!r}")
    for line in line_shapes(page.items):
        for number in tree.query(line, predicate="intersects"):
            found.append(f"{words[number].text!r} is crossed at {np.round(line.centroid.coords[0], 1)}")
    return found


@cache
def content_of(name: str) -> DrawingContent:
    return drawing_of(draw(read_source(next(p for p in PROFILES if p.stem == name))))


@cache
def sheets_of(name: str, size: str | None = None) -> tuple[Page, ...]:
    return pages_of(content_of(name), TitleBlock(title=f"Segment {name}", number="1"), Asked(size=size))  # type: ignore[arg-type]


@pytest.mark.parametrize("name", NAMES)
def test_nothing_meets_anything_on_the_shipped_profiles(name: str) -> None:
    for page in sheets_of(name):
        assert collisions(page) == []


@pytest.mark.parametrize("size", ["A4", "A1"])
def test_nothing_meets_anything_on_a_sheet_asked_for(size: str) -> None:
    pages = sheets_of("beet-flooded", size)
    assert {page.size for page in pages} == {size} and (len(pages) > 1) == (size == "A4")
    for number, page in enumerate(pages, start=1):
        assert collisions(page) == []
        assert f"{number} / {len(pages)}" in [w.text for w in all_words(page.items)]
    said = [w.text for page in pages for w in all_words(page.items)]
    for text in ("⌀104 ±1.3", "12 ±0.4", "150 ±2", "helix pitch 880, right-hand"):
        assert said.count(text) == 1


@pytest.mark.parametrize("name", NAMES)
def test_everything_lies_inside_the_frame_and_clear_of_the_title_block(name: str) -> None:
    for page in sheets_of(name):
        frame, block = frame_of(page.size), block_place(page.size)  # type: ignore[arg-type]
        drawn = tuple(i for i in page.items if isinstance(i, Measure | Hatching))
        shapes = [*line_shapes(drawn), *(text_shape(w) for w in all_words(drawn))]
        assert len(shapes) > 50
        for shape in shapes:
            left, bottom, right, top = shape.bounds
            assert frame.left < left and right < frame.right and frame.bottom < bottom and top < frame.top
            assert right < block.left or bottom > block.top


@pytest.mark.parametrize("name", NAMES)
def test_every_dimension_on_paper_times_its_factor_is_the_model_value(name: str) -> None:
    page = sheets_of(name)[0]
    factors = {1 / s for s in SCALES.values()}
    for item in page.items:
        if isinstance(item, Measure):
            assert item.per_paper_mm in factors
            assert item.words.text.startswith(item.before) and item.words.text.endswith(item.after)
            number = item.words.text[len(item.before) : len(item.words.text) - len(item.after)].rstrip("°")
            shown = item.value * (57.29577951308232 if item.kind == "angle" else 1.0)
            assert float(number) == pytest.approx(shown, abs=6e-4)


def test_the_scale_is_that_of_iso_5455_and_sections_read_well() -> None:
    assert {round(s, 9) for s in SCALES.values()} == {
        round(s, 9) for s in (50, 20, 10, 5, 2, 1, 1 / 2, 1 / 5, 1 / 10, 1 / 20, 1 / 50, 1 / 100)
    }
    for name in ("beet-flooded", "plain-sleeve", "celeriac-transfer", "shallot-gentle"):
        page = sheets_of(name)[0]
        assert page.size in ("A4", "A3") and SCALES[page.scale] >= 0.5


def test_wide_lines_are_0_5_to_a2_and_0_7_above() -> None:
    assert sheets_of("beet-flooded", "A4")[0].wide == 0.5 and sheets_of("beet-flooded", "A1")[0].wide == 0.7


def long_thin(diameter: float, length: float) -> DrawingContent:
    profile = read_source(next(p for p in PROFILES if p.stem == "plain-sleeve")).profile
    body = profile.body.model_copy(
        update={"diameter": diameter, "free_length": length, "fitted_length": length}
    )
    bore = profile.bore.model_copy(
        update={"section": "round", "across": diameter / 3, "key_width": None, "key_depth": None}
    )
    return drawing_of(draw_profile(profile.model_copy(update={"body": body, "bore": bore, "chambers": None})))


def test_what_no_sheet_holds_is_refused_with_numbers() -> None:
    with pytest.raises(UsageError) as refused:
        pages_of(long_thin(30.0, 5000.0), TitleBlock())
    assert "any sheet up to A0" in str(refused.value) and "measures 6.4 mm" in str(refused.value)
    assert "below 12 mm" in str(refused.value) and "shorter segment" in str(refused.value)
    with pytest.raises(UsageError) as refused:
        pages_of(long_thin(60.0, 900.0), TitleBlock(), Asked(size="A4", scale="1:1"))
    assert "sheet A4 at 1:1" in str(refused.value) and "180 x 277 mm" in str(refused.value)
    assert "leave out --size and --scale" in str(refused.value)


def test_a_long_segment_takes_a_larger_sheet() -> None:
    page = pages_of(long_thin(60.0, 2500.0), TitleBlock())[0]
    assert page.size in ("A1", "A0") and collisions(page) == []


def test_hatching_covers_the_area_between_its_loops() -> None:
    """Length of all lines times their spacing tends to the area: ring of radii 30 and 12, spacing halved twice."""
    ring = (circle(30.0, ""), circle(12.0, ""))
    area = area_of(ring[0]) - area_of(ring[1])
    errors = []
    for spacing in (2.0, 1.0, 0.5):
        found = hatched(ring, spacing)
        total = sum(((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5 for a, b in found.lines)
        errors.append(abs(total * spacing / area - 1))
    assert errors[-1] < 2e-3 and max(errors) < 2e-2
    for a, b in found.lines:
        assert a[1] - b[1] == pytest.approx(a[0] - b[0])
