"""Stacks against brute force, by property and in limit cases."""

from __future__ import annotations

from itertools import product
from math import inf
from time import perf_counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollergen.study.stack import FIGURES, Piece, stack

BAND = (0.008, 0.025)


def piece(free: float, squeeze: float = 0.0145) -> Piece:
    return Piece(name=f"{free:g}", free_length=free, fitted_length=free * (1 - squeeze))


# sections of 171, 122 and 100 mm fitted length are stacked: common practice, no source
TRADE = (
    Piece(name="long", free_length=173.5, fitted_length=171.0),
    Piece(name="middle", free_length=123.8, fitted_length=122.0),
    Piece(name="short", free_length=101.5, fitted_length=100.0),
)


def brute(
    width: float, lengths: list[float], band: tuple[float, float], spacers: tuple[float, ...] = ()
) -> set[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Every (counts, spacer counts) whose squeeze is in the band, lengths falling, up to 4 spacers."""
    ranges = [range(int(width / (1 - band[1]) / length) + 2) for length in lengths]
    found = set()
    for used in product(range(5), repeat=len(spacers)):
        room = width - sum(n * t for n, t in zip(used, spacers, strict=True))
        if sum(used) > 4 or room <= 0:
            continue
        for counts in product(*ranges):
            free = sum(n * length for n, length in zip(counts, lengths, strict=True))
            if free and band[0] - 1e-9 <= 1 - room / free <= band[1] + 1e-9:
                found.add((counts, used))
    return found


@pytest.mark.parametrize("width", [600.0, 733.0, 850.0, 1000.0, 1111.0])
@pytest.mark.parametrize("spacers", [(), (2.0, 5.0)])
def test_all_of_brute_force_is_found_and_nothing_else(width: float, spacers: tuple[float, ...]):
    lengths = [173.5, 123.8, 101.5]
    report = stack(width, [piece(x) for x in lengths], spacers=spacers, most_listed=10_000)
    mine = {
        (tuple(n for _, n in f.counts), tuple(f.spacers_mm.count(s) for s in spacers))
        for f in report.fillings
    }
    assert mine == brute(width, lengths, BAND, spacers)
    assert len(mine) == len(report.fillings) and not report.more


lengths_given = st.lists(st.integers(600, 2000), min_size=1, max_size=3, unique=True)


@given(
    tenths=lengths_given,
    width=st.integers(40, 900),
    low=st.floats(0.0, 0.02),
    more=st.floats(0.0, 0.03),
)
def test_lengths_add_up_squeeze_in_band_and_brute_force_agrees(
    tenths: list[int], width: int, low: float, more: float
):
    lengths, band = sorted((t / 10 for t in tenths), reverse=True), (low, low + more)
    report = stack(float(width), [piece(x) for x in lengths], squeeze_band=band, most_listed=1000)
    for filling in report.fillings:
        free = sum(n * float(name) for name, n in filling.counts)
        assert free == pytest.approx(filling.free_length_mm)
        assert free * (1 - filling.squeeze) == pytest.approx(width)
        assert band[0] - 1e-8 <= filling.squeeze <= band[1] + 1e-8
    best = min((sum(counts[1:]) for counts, _ in brute(width, lengths, band)), default=None)
    assert (report.best.odd_pieces if report.best else None) == best
    odd = [filling.odd_pieces for filling in report.fillings]
    assert odd == sorted(odd)


@given(tenths=lengths_given, width=st.integers(40, 500), spacer=st.sampled_from([(), (7.0,)]))
def test_nearest_widths_are_the_nearest_that_fill(tenths: list[int], width: int, spacer: tuple[float, ...]):
    lengths = sorted((t / 10 for t in tenths), reverse=True)
    pieces = [piece(x) for x in lengths]
    report = stack(float(width), pieces, spacers=spacer)
    if report.fillings:
        assert report.below is None and report.above is None
        return
    counts = product(*[range(int(900 / length) + 2) for length in lengths])
    frees = [sum(n * x for n, x in zip(c, lengths, strict=True)) for c in counts if any(c)]
    tops = [f * (1 - BAND[0]) + n * s for f in frees for s in spacer or (0.0,) for n in range(5)]
    feet = [f * (1 - BAND[1]) + n * s for f in frees for s in spacer or (0.0,) for n in range(5)]
    below = max((top for top in tops if top < width), default=None)
    assert (report.below.width_mm if report.below else None) == (below and pytest.approx(below))
    assert report.above is not None
    assert report.above.width_mm == pytest.approx(min(foot for foot in feet if foot > width))
    for near in filter(None, (report.below, report.above)):
        assert stack(near.width_mm, pieces, spacers=spacer).fillings


def test_sections_of_the_trade():
    # common practice, no source: 171, 122 and 100 mm fitted are stacked
    width = 5 * 171.0 + 122.0 + 2 * 100.0
    report = stack(width, TRADE, most_listed=50)
    exact = next(f for f in report.fillings if f.counts == (("long", 5), ("middle", 1), ("short", 2)))
    assert exact.leftover_mm == pytest.approx(0.0, abs=1e-9)
    assert exact.squeeze == pytest.approx(1 - width / exact.free_length_mm)
    assert report.best is not None and report.best.odd_pieces <= 3


def test_only_the_longest_when_it_fits():
    report = stack(10 * 171.0, TRADE)
    assert report.best is not None and report.best.counts == (("long", 10), ("middle", 0), ("short", 0))
    assert report.best.leftover_mm == pytest.approx(0.0)
    assert report.best.names == ("long",) * 10
    assert "10 x long, squeezed 1.44%" in report.words


def test_a_band_of_no_width_asks_for_the_length_exactly():
    rigid = [piece(150.0, 0.0), piece(100.0, 0.0)]
    assert stack(700.0, rigid, squeeze_band=(0.0, 0.0)).best is not None
    report = stack(701.0, rigid, squeeze_band=(0.0, 0.0))
    assert report.best is None and report.below is not None and report.above is not None
    assert (report.below.width_mm, report.above.width_mm) == (700.0, 750.0)
    assert "cannot be filled; nearest are 700 mm" in report.words


def test_a_width_shorter_than_a_segment():
    report = stack(50.0, TRADE)
    assert report.below is None and report.above is not None
    assert report.above.width_mm == pytest.approx(101.5 * 0.975)
    assert report.words.startswith("50 mm cannot be filled; nearest are 98.963 mm (1 x short)")


def test_a_spacer_fills_what_segments_cannot():
    alone = stack(359.0, TRADE[:1])
    helped = stack(359.0, TRADE[:1], spacers=(8.0,))
    assert not alone.fillings and helped.best is not None
    assert helped.best.spacers_mm == (8.0, 8.0) and helped.best.odd_pieces == 0
    assert helped.best.words == "2 x long + spacer 8 mm + spacer 8 mm"


def test_one_odd_piece_comes_before_two_spacers_and_a_tie_goes_without_spacer():
    report = stack(1500.0, TRADE, spacers=(3.0, 20.0), most_listed=500)
    parts = [(f.odd_pieces + len(f.spacers_mm), len(f.spacers_mm)) for f in report.fillings]
    assert parts == sorted(parts)


def test_the_list_is_capped_and_says_so():
    full, short = stack(2400.0, TRADE, most_listed=5000), stack(2400.0, TRADE, most_listed=3)
    assert len(full.fillings) > 3 and not full.more
    assert short.fillings == full.fillings[:3] and short.more
    assert len(stack(2400.0, TRADE, most_listed=len(full.fillings)).fillings) == len(full.fillings)
    assert not stack(2400.0, TRADE, most_listed=len(full.fillings)).more


def test_order_of_the_pieces_given_does_not_matter():
    assert stack(1730.0, TRADE) == stack(1730.0, TRADE[::-1])


@pytest.mark.parametrize(("width", "most"), [(3000.0, 0.1), (200 * 171.0, 1.0)])
def test_three_lengths_are_instant(width: float, most: float):
    # a few ms on a quiet machine; the limit here leaves room for a loaded one
    start = perf_counter()
    assert stack(width, TRADE).fillings
    assert perf_counter() - start < most


def test_searches_past_their_size_are_given_up_with_a_way_out():
    crowd = [Piece(name=f"{i}", free_length=x, fitted_length=x) for i, x in enumerate(
        (100.0, 97.013, 93.177, 89.501, 86.297, 83.071))]  # fmt: skip
    with pytest.raises(ValueError, match="fewer lengths"):
        stack(7000.0003, crowd, squeeze_band=(0.0, 0.0))


@pytest.mark.parametrize(
    ("width", "said", "says"),
    [
        (0.0, {}, "above 0"),
        (inf, {}, "above 0"),
        (900.0, {"squeeze_band": (0.03, 0.01)}, "must rise"),
        (900.0, {"squeeze_band": (0.0, 1.0)}, "below 1"),
        (900.0, {"spacers": (0.0,)}, "above 0"),
        (900.0, {"most_listed": 0}, "least is 1"),
    ],
)
def test_bad_numbers_are_named(width: float, said: dict[str, object], says: str):
    with pytest.raises(ValueError, match=says):
        stack(width, TRADE, **said)  # type: ignore[arg-type]


def test_bad_pieces_are_named():
    with pytest.raises(ValueError, match="0 lengths"):
        stack(900.0, ())
    with pytest.raises(ValueError, match="same free length"):
        stack(900.0, (piece(100.0), Piece(name="b", free_length=100.0, fitted_length=99.0)))
    with pytest.raises(ValueError, match="same name"):
        stack(900.0, (piece(100.0), Piece(name="100", free_length=90.0, fitted_length=89.0)))
    with pytest.raises(ValueError, match="fitted length 101"):
        Piece(name="a", free_length=100.0, fitted_length=101.0)


def test_every_reported_number_has_its_figure():
    report = stack(1500.0, TRADE)
    assert report.best is not None
    keys = {figure.key for figure in FIGURES}
    assert keys >= {"width_mm", "free_length_mm", "leftover_mm", "odd_pieces"}
