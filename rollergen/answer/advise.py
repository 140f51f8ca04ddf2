"""A profile proposed for a duty: rib height, count, body and gap that keep the crop whole and take the most debris.

Every rib height, count and tip gap of a grid is tried on one tip circle between the axes that are given;
the body gives way to the ribs.  Among what is legal, keeps its gaps and seizes no crop, the highest score
of ``rank`` wins.  Nothing is fitted to a known machine: the grid and the limits are all there is.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rollergen.answer.duty_items import Running, smooth_mate_of
from rollergen.answer.rank import USUAL, Ranked, Weights, drawn_from, judge, with_height
from rollergen.errors import UsageError
from rollergen.spec.duty import Duty
from rollergen.spec.profile import Profile
from rollergen.spec.trace import Figure

HEIGHTS = (2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0, 18.0)  # mm; the best is refined by FINER afterwards
FINER = (-1.5, -1.0, -0.5, 0.5, 1.0, 1.5)  # mm
COUNTS = (2, 3, 4, 5, 6, 8)
GAPS = (1.0, 1.5, 2.0, 3.0)  # mm between rib tip and mate


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a proposal must keep (mm): tip gaps tried, body gap at most, crop share at risk at most."""

    tip_gaps: tuple[float, ...] = GAPS
    most_body_gap: float | None = None
    most_at_risk: float = 0.0

    def __post_init__(self) -> None:
        if not self.tip_gaps or min(self.tip_gaps) <= 0:
            raise UsageError("a tip gap to try must be above 0 mm: ribs that touch the mate wear and squeal")
        if not 0 <= self.most_at_risk < 1:
            raise UsageError(f"--most-at-risk {self.most_at_risk:g} is a share from 0 to below 100 %")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One candidate: its dimensions (mm), its row of ``rank``, and whether it keeps every limit."""

    height_mm: float
    count: int
    tip_gap_mm: float
    body_diameter_mm: float
    keeps: bool
    row: Ranked


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """The proposal (None when nothing keeps every limit), all that was tried, and how many were no profile.

    ``nearest``: the candidate with the least crop at risk, when there is no proposal.
    """

    duty: str
    profile: Profile | None
    chosen: Tried | None
    nearest: Tried | None
    tried: tuple[Tried, ...]
    refused: int
    words: tuple[str, ...]


def advise(
    start: Profile,
    duty: Duty,
    running: Running,
    *,
    limits: Limits | None = None,
    weights: Weights = USUAL,
    progress: Callable[[str], object] | None = None,
) -> Advice:
    """Propose ribs, body and gap for a duty, from a profile that gives everything else.

    ``start`` gives bore, chambers, compound, helix, rib form and the mate with its axis distance.  Raises
    UsageError when it has no smooth mate or no ribs.
    """
    limits = limits or Limits()
    smooth_mate_of(start)
    if start.ribs is None:
        raise UsageError(f"{start.name} has no ribs to vary; start from a profile with a [ribs] table")
    tried, refused = [], 0
    for gap in limits.tip_gaps:
        for count in COUNTS:
            found = [_try(start, duty, running, limits, weights, h, count, gap) for h in HEIGHTS]
            tried += [t for t in found if t is not None]
            refused += found.count(None)
            if progress is not None:
                progress(f"{count} ribs, tip gap {gap:g} mm")
    coarse = _best(tried)
    if coarse is not None:
        at, n, gap = coarse.height_mm, coarse.count, coarse.tip_gap_mm
        finer = [_try(start, duty, running, limits, weights, at + step, n, gap) for step in FINER]
        tried += [t for t in finer if t is not None]
        refused += finer.count(None)
    chosen = _best(tried)
    nearest = min(tried, key=lambda t: (t.row.crop_at_risk, _order(t))) if tried and not chosen else None
    profile = _named(start, duty, chosen) if chosen else None
    return Advice(
        duty=duty.name,
        profile=profile,
        chosen=chosen,
        nearest=nearest,
        tried=tuple(tried),
        refused=refused,
        words=_words(duty, limits, chosen, nearest, tried, refused),
    )


def varied(start: Profile, *, height: float, count: int, tip_gap: float) -> Profile | None:
    """The starting profile with other ribs between the same axes; None where the rules refuse it.

    The tip circle is what axis distance, mate and tip gap leave; the body is that less the ribs.  What the
    mate asks for stays; a mate that asks for no tip gap is given the one tried.
    """
    number, mate = smooth_mate_of(start)
    assert start.ribs is not None and mate.diameter is not None  # advise has seen to both
    tip = mate.axis_distance - mate.diameter / 2 - tip_gap
    asked = tip_gap if mate.least_tip_gap is None else mate.least_tip_gap
    mates = tuple(
        m.model_copy(update={"least_tip_gap": asked}) if n == number else m for n, m in enumerate(start.mates)
    )
    own = start.ribs
    on_circle = start.model_copy(
        update={
            "body": start.body.model_copy(update={"diameter": 2 * (tip - own.height)}),
            "ribs": own.model_copy(update={"count": count}),
            "mates": mates,
        }
    )
    return with_height(on_circle, height) if tip > own.height else None


def _try(
    start: Profile,
    duty: Duty,
    running: Running,
    limits: Limits,
    weights: Weights,
    height: float,
    count: int,
    gap: float,
) -> Tried | None:
    profile = varied(start, height=height, count=count, tip_gap=gap)
    drawn = drawn_from(profile) if profile is not None else None
    if profile is None or drawn is None:
        return None
    row = judge(drawn, duty, running, weights)
    closed = limits.most_body_gap is None or gap + height <= limits.most_body_gap
    return Tried(
        height_mm=height,
        count=count,
        tip_gap_mm=gap,
        body_diameter_mm=profile.body.diameter,
        keeps=row.gaps_ok and closed and row.crop_at_risk <= limits.most_at_risk,
        row=row,
    )


def _best(tried: Sequence[Tried]) -> Tried | None:
    """The highest score that keeps every limit; equal ones: the lower rib, then fewer, then the closer gap."""
    return min((t for t in tried if t.keeps), key=_order, default=None)


def _order(tried: Tried) -> tuple[float, float, int, float]:
    return (-tried.row.score, tried.height_mm, tried.count, tried.tip_gap_mm)


def _named(start: Profile, duty: Duty, chosen: Tried) -> Profile:
    profile = varied(start, height=chosen.height_mm, count=chosen.count, tip_gap=chosen.tip_gap_mm)
    assert profile is not None  # it was judged a moment ago
    return profile.model_copy(
        update={"name": f"{duty.name}-proposal", "note": f"proposed for {duty.name}, from {start.name}"}
    )


def _words(
    duty: Duty,
    limits: Limits,
    chosen: Tried | None,
    nearest: Tried | None,
    tried: Sequence[Tried],
    refused: int,
) -> tuple[str, ...]:
    said = [f"{len(tried)} candidates judged, {refused} more are no profile (ribs, chambers or bore collide)"]
    if chosen is not None:
        bolder = [t for t in tried if t.height_mm > chosen.height_mm and t.count == chosen.count]
        said.append(
            f"{chosen.count} ribs of {chosen.height_mm:g} mm on a body of {chosen.body_diameter_mm:g} mm, tip gap"
            f" {chosen.tip_gap_mm:g} mm"
        )
        said += chosen.row.words
        over = next((t for t in bolder if t.tip_gap_mm == chosen.tip_gap_mm and not t.keeps), None)
        if over is not None:
            said.append(
                f"ribs of {over.height_mm:g} mm would take more but put {over.row.crop_at_risk:.0%} of the"
                f" {duty.crop.name} at risk"
                if over.row.crop_at_risk > limits.most_at_risk
                else f"ribs of {over.height_mm:g} mm would miss a gap that is asked for"
            )
    elif nearest is not None:
        said.append(
            f"nothing keeps every limit; the least crop at risk is {nearest.row.crop_at_risk:.1%} with"
            f" {nearest.count} ribs of {nearest.height_mm:g} mm and a tip gap of {nearest.tip_gap_mm:g} mm:"
            " allow more crop at risk, grade the smallest out before, or lower the friction"
        )
    else:
        said.append("not one candidate is a profile: the tip circle leaves no room for chambers and bore")
    return tuple(said)


FIGURES = (
    Figure(
        key="height_mm",
        words="rib height that was tried",
        formula="grid of heights, refined about the best",
        source="input",
        limits="above the body, on one tip circle",
        unit="mm",
    ),
    Figure(
        key="keeps",
        words="whether a candidate keeps every limit that was stated",
        formula="gaps met, body gap at most as asked, crop at risk at most as asked",
        source="rank and gap answers",
        limits="nominal, as cast",
        unit="-",
    ),
)
