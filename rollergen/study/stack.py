"""Segments that fill a shaft between its end plates: which ones, how far squeezed, how hard they press.

All pieces of a stack share one relative squeeze s: same compound, same section, same force.  A stack of
free length F fills what the spacers leave of the width W when F (1 - s) = W - spacers.  The search is over
whole numbers of pieces and exact: lengths are read to the micrometre and added as whole micrometres.

Order of the alternatives: fewest odd parts (pieces that are not the longest, and spacers), then fewest
spacers, then nearest to the pieces' stated fitted lengths.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement
from math import ceil, floor, inf

from rollergen.spec.trace import Figure

Band = tuple[float, float]
PER_MM = 1000  # search unit: one micrometre
ROUNDING = 1e-4  # search units; what the last bits of a width may add up to
MOST_KINDS = 6
MOST_SPACERS = 4  # in one stack; more of them is a missing segment
MOST_SUMS = 2_000_000  # sums of odd pieces times spacer sets before the search is given up, about a second


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A segment length that exists (mm): as cast, and as it is meant to sit on the shaft."""

    name: str
    free_length: float
    fitted_length: float

    def __post_init__(self) -> None:
        if not 0 < self.fitted_length <= self.free_length < inf:
            raise ValueError(
                f"{self.name}: fitted length {self.fitted_length:g} mm must be above 0 and at most the free"
                f" length {self.free_length:g} mm"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """One way to fill a width (mm).

    ``counts``: (name, how many), longest first, none left out.  ``squeeze``: share of its free length each
    piece loses.  ``leftover_mm``: what stays open, were each piece at its stated fitted length; negative:
    the stack is squeezed more than they are made for.
    """

    width_mm: float
    counts: tuple[tuple[str, int], ...]
    spacers_mm: tuple[float, ...]
    free_length_mm: float
    squeeze: float
    leftover_mm: float
    odd_pieces: int

    @property
    def pieces(self) -> int:
        """How many segments."""
        return sum(count for _, count in self.counts)

    @property
    def names(self) -> tuple[str, ...]:
        """One name per segment in the order of ``counts``: the odd ones together at the far end."""
        return tuple(name for name, count in self.counts for _ in range(count))

    @property
    def words(self) -> str:
        """What to thread on the shaft, e.g. "8 x long + 1 x short + spacer 2 mm"."""
        parts = [f"{count} x {name}" for name, count in self.counts if count]
        return " + ".join(parts + [f"spacer {thick:g} mm" for thick in self.spacers_mm])


@dataclass(frozen=True, slots=True, kw_only=True)
class StackReport:
    """Every way found to fill ``width_mm``, best first; none: the nearest widths that can be filled.

    ``more``: there are ways beyond the listed.  ``below``, ``above``: only when there is no way at all;
    ``below`` is None for a width shorter than the shortest squeezed piece.
    """

    width_mm: float
    squeeze_band: Band
    fillings: tuple[Filling, ...]
    more: bool
    below: Filling | None
    above: Filling | None

    @property
    def best(self) -> Filling | None:
        """The first of the ways, None when there is none."""
        return self.fillings[0] if self.fillings else None

    @property
    def words(self) -> str:
        """The answer in one line."""
        if self.best is not None:
            return f"{self.best.words}, squeezed {self.best.squeeze:.2%}"
        # rounded towards the side that can be filled, so that the printed width works when asked for
        near = [
            (f, way(f.width_mm * 1000) / 1000) for f, way in ((self.below, floor), (self.above, ceil)) if f
        ]
        said = " and ".join(f"{width:.10g} mm ({f.words})" for f, width in near)
        return f"{self.width_mm:.10g} mm cannot be filled; nearest are {said}"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Search:
    """The question in whole micrometres, lengths falling; the longest is ``lengths[0]``."""

    width: float
    pieces: tuple[Piece, ...]
    lengths: tuple[int, ...]
    band: Band
    spacer_sets: tuple[tuple[int, ...], ...]  # fewest first

    def window(self, spacers: tuple[int, ...]) -> tuple[int, int]:
        """Lowest and highest free length whose squeeze is in the band."""
        room = self.width * PER_MM - sum(spacers)
        return ceil(room / (1 - self.band[0]) - ROUNDING), floor(room / (1 - self.band[1]) + ROUNDING)

    def filling(self, counts: tuple[int, ...], spacers: tuple[int, ...], width: float) -> Filling:
        free = sum(n * length for n, length in zip(counts, self.lengths, strict=True)) / PER_MM
        thick = sum(spacers) / PER_MM
        fitted = sum(n * piece.fitted_length for n, piece in zip(counts, self.pieces, strict=True))
        return Filling(
            width_mm=width,
            counts=tuple((piece.name, n) for n, piece in zip(counts, self.pieces, strict=True)),
            spacers_mm=tuple(spacer / PER_MM for spacer in spacers),
            free_length_mm=free,
            squeeze=1 - (width - thick) / free,
            leftover_mm=width - thick - fitted,
            odd_pieces=sum(counts[1:]),
        )


class _OddSums:
    """Sums of exactly m odd pieces, level by level: row[j][m] uses the lengths from j on."""

    def __init__(self, lengths: tuple[int, ...], *, most: int, times: int) -> None:
        self._lengths, self._most, self._times = lengths, most, times  # each sum is looked at so many times
        self._rows: list[list[set[int]]] = [[{0}] for _ in range(len(lengths) + 1)]
        self._seen = 0

    def level(self, m: int) -> set[int]:
        """All sums of m odd pieces up to the most asked for; empty once even the shortest go past it."""
        while len(self._rows[0]) <= m:
            self._grow()
        return self._rows[0][m]

    def _grow(self) -> None:
        below: set[int] = set()
        self._rows[-1].append(below)
        for row, length in zip(self._rows[-2::-1], self._lengths[::-1], strict=True):
            below = below | {total + length for total in row[-1] if total + length <= self._most}
            row.append(below)
            self._seen += len(below)
        if self._seen * self._times > MOST_SUMS:
            raise ValueError(
                f"{len(self._lengths) + 1} lengths give more than {MOST_SUMS} sums to look at; give fewer"
                " lengths, fewer spacers, a wider squeeze band or lengths in whole millimetres"
            )

    def ways(self, total: int, m: int, j: int = 0) -> Iterator[tuple[int, ...]]:
        """Counts of the odd lengths from j on: m pieces that add up to ``total``."""
        if j == len(self._lengths):
            yield ()
            return
        for count in range(m + 1):
            rest = total - count * self._lengths[j]
            if rest in self._rows[j + 1][m - count]:
                for others in self.ways(rest, m - count, j + 1):
                    yield (count, *others)


def stack(
    width: float,
    pieces: Sequence[Piece],
    *,
    squeeze_band: Band = (0.008, 0.025),
    spacers: Sequence[float] = (),
    most_listed: int = 20,
) -> StackReport:
    """Ways to fill a shaft of ``width`` (mm, clear between end plates), best first, found exactly.

    ``squeeze_band``: lowest and highest share of its free length a piece may lose; the default is common
    practice, no source.  ``spacers``: thicknesses (mm) of stiff rings that may be used, up to 4 in a stack,
    of each as many as needed.

    Raises ValueError for a width not above 0, a band that is not 0 <= low <= high < 1, no pieces or more
    than 6, two pieces of one name or length, a spacer not above 0 and fewer than one alternative asked for.
    """
    _check(width, pieces, squeeze_band, spacers, most_listed)
    search = _search_of(width, pieces, squeeze_band, spacers)
    longest = search.lengths[0]
    most = search.window(())[1] + longest + search.lengths[-1]  # the next width up is below this
    sums = _OddSums(search.lengths[1:], most=most, times=len(search.spacer_sets))
    fillings = _all_levels(search, sums, most_listed)
    below, above = (None, None) if fillings else _nearest(search, sums)
    return StackReport(
        width_mm=width,
        squeeze_band=squeeze_band,
        fillings=tuple(fillings[:most_listed]),
        more=len(fillings) > most_listed,
        below=below,
        above=above,
    )


def _all_levels(search: _Search, sums: _OddSums, most_listed: int) -> list[Filling]:
    """Fillings in order, at least one more than ``most_listed`` when there are so many."""
    found: list[Filling] = []
    odd_parts, most_spacers = 0, len(search.spacer_sets[-1])
    while len(found) <= most_listed and sums.level(max(odd_parts - most_spacers, 0)):
        found.extend(sorted(_with_odd_parts(search, sums, odd_parts), key=_order))
        odd_parts += 1
    return found


def _with_odd_parts(search: _Search, sums: _OddSums, odd_parts: int) -> Iterator[Filling]:
    longest = search.lengths[0]
    for spacers in search.spacer_sets:
        odd = odd_parts - len(spacers)
        if odd < 0:
            continue
        low, high = search.window(spacers)
        for total in sums.level(odd):
            for n in range(max(ceil((low - total) / longest), 0), (high - total) // longest + 1):
                if n + odd:
                    for counts in sums.ways(total, odd):
                        yield search.filling((n, *counts), spacers, search.width)


def _order(filling: Filling) -> tuple[int, float, tuple[int, ...], tuple[float, ...]]:
    counts = tuple(-count for _, count in filling.counts)
    return len(filling.spacers_mm), round(abs(filling.leftover_mm), 6), counts, filling.spacers_mm


def _nearest(search: _Search, sums: _OddSums) -> tuple[Filling | None, Filling | None]:
    """The widest filling below a width that has none, at its least squeeze, and the narrowest above, at its most."""
    lower = _Nearest(width=0.0)
    upper = _Nearest(width=inf)
    longest = search.lengths[0]
    (least, most), odd = search.band, 0
    while level := sums.level(odd):
        for spacers in search.spacer_sets:
            thick, (low, high) = sum(spacers), search.window(spacers)
            for total in sorted(level):
                n = (low - 1 - total) // longest
                if n >= 0 and n + odd > 0:
                    width = ((total + n * longest) * (1 - least) + thick) / PER_MM
                    if width > lower.width:
                        lower = _Nearest(width=width, total=total, odd=odd, longest=n, spacers=spacers)
                n = max((high - total) // longest + 1, 0 if odd else 1)
                width = ((total + n * longest) * (1 - most) + thick) / PER_MM
                if width < upper.width:
                    upper = _Nearest(width=width, total=total, odd=odd, longest=n, spacers=spacers)
        odd += 1
    return _filling_of(search, sums, lower), _filling_of(search, sums, upper)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Nearest:
    width: float
    total: int = 0
    odd: int = 0
    longest: int = 0
    spacers: tuple[int, ...] = ()


def _filling_of(search: _Search, sums: _OddSums, near: _Nearest) -> Filling | None:
    if near.longest + near.odd == 0:
        return None
    counts = next(sums.ways(near.total, near.odd))
    return search.filling((near.longest, *counts), near.spacers, near.width)


def _search_of(width: float, pieces: Sequence[Piece], band: Band, spacers: Sequence[float]) -> _Search:
    falling = tuple(sorted(pieces, key=lambda piece: -piece.free_length))
    kinds = sorted({round(spacer * PER_MM) for spacer in spacers})
    sets = [
        chosen
        for size in range(MOST_SPACERS + 1 if kinds else 1)
        for chosen in combinations_with_replacement(kinds, size)
        if sum(chosen) < width * PER_MM
    ]
    return _Search(
        width=width,
        pieces=falling,
        lengths=tuple(round(piece.free_length * PER_MM) for piece in falling),
        band=band,
        spacer_sets=tuple(sets),
    )


def _check(
    width: float, pieces: Sequence[Piece], band: Band, spacers: Sequence[float], most_listed: int
) -> None:
    if not 0 < width < inf:
        raise ValueError(f"width {width:g} mm must be above 0")
    if not 0 <= band[0] <= band[1] < 1:
        raise ValueError(f"squeeze band {band[0]:g} to {band[1]:g} must rise from 0 to below 1")
    if not 1 <= len(pieces) <= MOST_KINDS:
        raise ValueError(f"{len(pieces)} lengths given; a stack is searched from 1 to {MOST_KINDS}")
    if len({round(p.free_length * PER_MM) for p in pieces}) < len(pieces):
        raise ValueError("two pieces have the same free length; leave one out")
    if len({p.name for p in pieces}) < len(pieces):
        raise ValueError("two pieces have the same name; rename one")
    if any(round(p.free_length * PER_MM) < 1 for p in pieces):
        raise ValueError("a piece is shorter than 0.001 mm")
    if not all(round(spacer * PER_MM) >= 1 and spacer < inf for spacer in spacers):
        raise ValueError(f"spacers {', '.join(f'{s:g}' for s in spacers)} mm must all be above 0")
    if most_listed < 1:
        raise ValueError(f"{most_listed} alternatives asked for, least is 1")


_SEARCH = "whole-number search, lengths to 0.001 mm, one squeeze for all pieces"

FIGURES = (
    Figure(
        key="width_mm",
        words="clear shaft length between the end plates",
        formula="input",
        source="the caller",
        limits="nominal",
        unit="mm",
    ),
    Figure(
        key="free_length_mm",
        words="free lengths of all pieces together",
        formula="sum of counts times free lengths",
        source=_SEARCH,
        limits="nominal lengths; their tolerance moves the squeeze",
        unit="mm",
    ),
    Figure(
        key="leftover_mm",
        words="what stays open were each piece at its stated fitted length; negative: squeezed more",
        formula="width - spacers - sum of counts times fitted lengths",
        source="definition",
        limits="nominal lengths",
        unit="mm",
    ),
    Figure(
        key="odd_pieces",
        words="pieces that are not the longest",
        formula="fewest over all whole numbers of pieces whose squeeze is in the band",
        source=_SEARCH,
        limits=f"at most {MOST_SPACERS} spacers in a stack, each counted as one odd part",
        unit="1",
    ),
)
