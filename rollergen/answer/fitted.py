"""The gap once a segment is on its shaft: squeezed, warm, swollen, and as far off as its tolerances allow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rollergen.answer.gap_verdict import LIMIT_SLACK, GapReport
from rollergen.errors import Complaint, ProfileError
from rollergen.spec.profile import Mate, Profile
from rollergen.spec.tolerances import Bar, Dimension, MouldClass
from rollergen.spec.trace import Figure
from rollergen.study.budget import BudgetReport, Contribution, budget, contributions_for
from rollergen.study.fit import NO_GROWTH, FitReport, fit, fitted_gap


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """How closely things are made and how they run, where the profile does not say it.

    ``grade`` and ``dimension``: class of ISO 3302-1, and whether the cavity is in one piece ("fixed") or
    split lengthwise ("closure").  ``bar``: class of square bar, overrides ``bore.shaft_tolerance``.
    ``mate_diameter_tolerance``: mm, whole.  ``warm_by``: K over casting.  ``swell``: linear share.
    """

    grade: MouldClass = "M3"
    dimension: Dimension = "fixed"
    bar: Bar | None = None
    mate_diameter_tolerance: float | None = None
    warm_by: float | None = None
    swell: float | None = None


USUAL = Assumed()


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedGap:
    """One mate, as fitted (mm).  Bands are (least, greatest) by growth alone; ``budget`` is as cast.

    ``least_left_mm``: tip gap at the most growth with every tolerance against us.  ``most_left_mm``: body
    gap at the least growth with every tolerance opening it.  ``ok_fitted`` judges these two against the
    limits that were given; without any it judges interference.
    """

    mate: str
    tip_gap_band_mm: tuple[float, float]
    body_gap_band_mm: tuple[float, float]
    budget: BudgetReport
    least_left_mm: float
    most_left_mm: float
    ok_fitted: bool
    reasons: tuple[str, ...]


def fitted_gaps(
    profile: Profile, gaps: Sequence[GapReport], assumed: Assumed = USUAL
) -> tuple[FittedGap, ...]:
    """As-fitted verdict for every mate, in the order of ``gaps`` (which is the profile's).

    A smooth mate is taken not to grow.  Raises ProfileError when warmth is assumed and a compound states
    no expansion, or a class of square bar and the shaft is none.
    """
    own = fit(profile, warm_by=assumed.warm_by, swell=assumed.swell)
    return tuple(
        _fitted(profile, mate, gap, own, assumed) for mate, gap in zip(profile.mates, gaps, strict=True)
    )


def _fitted(profile: Profile, mate: Mate, gap: GapReport, own: FitReport, assumed: Assumed) -> FittedGap:
    theirs = fit(mate.ribbed, warm_by=assumed.warm_by, swell=assumed.swell) if mate.ribbed else None
    tip = fitted_gap(
        gap.tip_gap_mm, own.fitted_tip_growth_mm, theirs.fitted_tip_growth_mm if theirs else NO_GROWTH
    )
    body = fitted_gap(
        gap.body_gap_mm, own.fitted_body_growth_mm, theirs.fitted_body_growth_mm if theirs else NO_GROWTH
    )
    cast = budget(gap.tip_gap_mm, gap.body_gap_mm, _contributions(profile, mate, assumed))
    least = tip[0] - (gap.tip_gap_mm - cast.worst_tip_gap_mm)
    most = body[1] + (cast.worst_body_gap_mm - gap.body_gap_mm)
    reasons = _reasons(gap, least, most)
    return FittedGap(
        mate=gap.mate,
        tip_gap_band_mm=tip,
        body_gap_band_mm=body,
        budget=cast,
        least_left_mm=least,
        most_left_mm=most,
        ok_fitted=not reasons,
        reasons=reasons,
    )


def _contributions(profile: Profile, mate: Mate, assumed: Assumed) -> tuple[Contribution, ...]:
    try:
        return contributions_for(
            profile,
            mate,
            grade=assumed.grade,
            dimension=assumed.dimension,
            bar=assumed.bar,
            mate_diameter_tolerance=assumed.mate_diameter_tolerance,
        )
    except ValueError as wrong:
        raise ProfileError([Complaint(key="bore.section", message=str(wrong))]) from wrong


def _reasons(gap: GapReport, least: float, most: float) -> tuple[str, ...]:
    asked = gap.least_tip_gap_mm if gap.least_tip_gap_mm is not None else 0.0
    found = []
    if least < asked - LIMIT_SLACK:
        found.append(
            f"as fitted, in the worst case, the tip gap to {gap.mate} is {least:.2f} mm, asked {asked:g} mm;"
            f" move the axes {asked - least:.2f} mm apart or hold closer tolerances"
        )
    if gap.most_body_gap_mm is not None and most > gap.most_body_gap_mm + LIMIT_SLACK:
        found.append(
            f"as fitted, in the worst case, the body gap to {gap.mate} is {most:.2f} mm,"
            f" asked {gap.most_body_gap_mm:g} mm at most"
        )
    return tuple(found)


_WORST = "worst case of growth band and budget together; a smooth mate is taken not to grow"
FIGURES = (
    Figure(
        key="tip_gap_band_mm",
        words="tip gap as fitted, before tolerances: least, greatest",
        formula="tip gap - highest growth, tip gap - lowest growth, both rollers' if the mate is ribbed",
        source="growth bands of the fit study",
        limits="radial growth only; a ribbed pair's clearance on its flanks changes less than this",
        unit="mm",
    ),
    Figure(
        key="body_gap_band_mm",
        words="body gap as fitted, before tolerances: least, greatest",
        formula="body gap - highest growth, body gap - lowest growth",
        source="growth bands of the fit study",
        limits="radial growth only",
        unit="mm",
    ),
    Figure(
        key="least_left_mm",
        words="tip gap left as fitted with every tolerance against it",
        formula="least of the fitted band - sum of contributions",
        source="fit and budget studies",
        limits=_WORST,
        unit="mm",
    ),
    Figure(
        key="most_left_mm",
        words="body gap as fitted with every tolerance opening it",
        formula="greatest of the fitted band + sum of contributions",
        source="fit and budget studies",
        limits=_WORST,
        unit="mm",
    ),
)
