"""What is left of a gap when everything that makes it may be off: worst case and root-sum-square."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import hypot
from typing import Literal

from rollergen.spec.profile import OFF_CENTRE, Bore, Mate, Profile
from rollergen.spec.tolerances import (
    Bar,
    Dimension,
    MouldClass,
    bright_square,
    hot_rolled_square,
    moulding_tolerance,
)
from rollergen.spec.trace import Figure

NOT_GIVEN = "not given, counted as 0"


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """One thing that can be off: plus-minus on the tip gap and on the body gap (mm), never negative."""

    name: str
    tip_mm: float
    body_mm: float
    source: str

    def __post_init__(self) -> None:
        if not (self.tip_mm >= 0 and self.body_mm >= 0):
            raise ValueError(
                f"{self.name}: {self.tip_mm:g} and {self.body_mm:g} mm are plus-minus, not below 0"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetReport:
    """What is left (mm).  Tip gap: at its narrowest.  Body gap: at its widest, since it must stay closed.

    ``worst``: everything off at once.  ``rss``: independent and centred, the same number of deviations
    each contribution is stated at.
    """

    contributions: tuple[Contribution, ...]
    worst_tip_gap_mm: float
    rss_tip_gap_mm: float
    worst_body_gap_mm: float
    rss_body_gap_mm: float


def budget(tip_gap: float, body_gap: float, contributions: Iterable[Contribution]) -> BudgetReport:
    """Worst case and root-sum-square of what is left of two nominal gaps (mm)."""
    listed = tuple(contributions)
    tips, bodies = [c.tip_mm for c in listed], [c.body_mm for c in listed]
    return BudgetReport(
        contributions=listed,
        worst_tip_gap_mm=tip_gap - sum(tips),
        rss_tip_gap_mm=tip_gap - hypot(*tips),
        worst_body_gap_mm=body_gap + sum(bodies),
        rss_body_gap_mm=body_gap + hypot(*bodies),
    )


def contributions_for(
    profile: Profile,
    mate: Mate,
    *,
    grade: MouldClass = "M3",
    dimension: Dimension = "fixed",
    bar: Bar | None = None,
    mate_diameter_tolerance: float | None = None,
) -> tuple[Contribution, ...]:
    """Everything a gap to one mate depends on, each with its source (mm, plus-minus).

    ``dimension``: "fixed" for a cavity in one piece that leaves along the axis, "closure" for one split
    lengthwise.  ``bar`` overrides the shaft of the profile by a class of square bar.  A ribbed mate brings
    its own castings and its own play; on the tip gap its tips count.  The phase between two ribbed rollers
    is not budgeted.
    """
    axis = mate.axis_distance_tolerance
    shared = Contribution(
        name="axis distance",
        tip_mm=axis,
        body_mm=axis,
        source="mate.axis_distance_tolerance" if axis else NOT_GIVEN,
    )
    own = _of_roller(profile, grade, dimension, bar)
    if mate.ribbed is None:
        return (*own, _smooth_mate(mate_diameter_tolerance), shared)
    theirs = tuple(replace(c, name=f"mate: {c.name}") for c in _of_roller(mate.ribbed, grade, dimension, bar))
    return (*own, *theirs, shared)


def _of_roller(
    profile: Profile, grade: MouldClass, dimension: Dimension, bar: Bar | None
) -> tuple[Contribution, ...]:
    standard = f"ISO 3302-1:2014, Table 1, {grade} {dimension}, half the diameter's tolerance"
    tip = moulding_tolerance(2 * profile.tip_radius, grade, dimension) / 2
    body = moulding_tolerance(profile.body.diameter, grade, dimension) / 2
    return (
        Contribution(name="cast rib tips", tip_mm=tip, body_mm=0.0, source=standard),
        Contribution(name="cast body", tip_mm=0.0, body_mm=body, source=standard),
        *_play(profile, grade, bar),
    )


def _play(profile: Profile, grade: MouldClass, bar: Bar | None) -> tuple[Contribution, ...]:
    """Off-centre shift of a loose segment: half the play, along the diagonal where flats allow it.

    A roller that turns carries the shift all the way round, so it counts for and against every gap.
    """
    bore = profile.bore
    half = OFF_CENTRE[bore.section] / 2

    def shift(name: str, play: float, source: str) -> Contribution:
        return Contribution(name=name, tip_mm=half * play, body_mm=half * play, source=source)

    return (
        shift("bore clearance", bore.clearance, "bore.clearance" if bore.clearance else NOT_GIVEN),
        shift("shaft size", *undersize_of(bore, bar)),
        shift(
            "cast bore",
            moulding_tolerance(bore.width, grade, "fixed"),
            f"ISO 3302-1:2014, Table 1, {grade} fixed: the bore's core is one piece",
        ),
    )


def undersize_of(bore: Bore, bar: Bar | None) -> tuple[float, str]:
    """(how far the shaft may be under its size in mm, where that is from); ``bar`` overrides the profile.

    Raises ValueError for a class of square bar on a bore that is not square, or without a row for its size.
    """
    if bar is None:
        if bore.shaft_tolerance is None:
            return 0.0, NOT_GIVEN
        return bore.shaft_tolerance, "bore.shaft_tolerance, or EN 10059 where it has a row"
    if bore.section != "square":
        raise ValueError(f"{bar} is a class of square bar; this bore is {bore.section}")
    if bar == "hot-rolled":
        return hot_rolled_square(bore.across).side_tolerance, "EN 10059 hot-rolled square bar, Table 2"
    fit: Literal["h9", "h11"] = "h9" if bar == "bright-h9" else "h11"
    return -bright_square(bore.across, fit)[0], f"EN 10278 bright square bar, {fit}: all of it below the size"


def _smooth_mate(tolerance: float | None) -> Contribution:
    half = (tolerance or 0.0) / 2
    source = NOT_GIVEN if tolerance is None else "half the mate diameter's tolerance, as given"
    return Contribution(name="mate diameter", tip_mm=half, body_mm=half, source=source)


_ISO_LIMITS = "ISO 3302-1 is for vulcanised rubber, for cast polyurethane by agreement only"


def _left(key: str, which: str, sum_words: str, source: str) -> Figure:
    side = "narrowest tip gap" if which == "tip" else "widest body gap"
    sign = "-" if which == "tip" else "+"
    return Figure(
        key=key,
        words=f"{side} left once every contribution is counted",
        formula=f"nominal gap {sign} {sum_words}",
        source=source,
        limits=f"contributions as listed, no others; {_ISO_LIMITS}",
        unit="mm",
    )


_RSS_SOURCE = "root-sum-square of independent, centred contributions; any tolerance handbook"
FIGURES = (
    Figure(
        key="contributions",
        words="what each part of the chain may add or take, plus-minus, with its source",
        formula="castings: half the diameter's tolerance; play: half of it, times sqrt(2) in a square bore",
        source="ISO 3302-1:2014 Table 1; EN 10059 Table 2; the profile",
        limits=_ISO_LIMITS,
        unit="mm",
    ),
    Figure(
        key="tip_mm",
        words="plus-minus of one contribution on the tip gap",
        formula="as its own source says",
        source="named beside it",
        limits=_ISO_LIMITS,
        unit="mm",
    ),
    Figure(
        key="body_mm",
        words="plus-minus of one contribution on the body gap",
        formula="as its own source says",
        source="named beside it",
        limits=_ISO_LIMITS,
        unit="mm",
    ),
    _left("worst_tip_gap_mm", "tip", "sum of all", "worst case: all off at once, the same way"),
    _left("rss_tip_gap_mm", "tip", "root of the sum of squares", _RSS_SOURCE),
    _left("worst_body_gap_mm", "body", "sum of all", "worst case: all off at once, the same way"),
    _left("rss_body_gap_mm", "body", "root of the sum of squares", _RSS_SOURCE),
)
