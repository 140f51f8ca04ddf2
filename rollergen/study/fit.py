"""As fitted: what squeeze, warmth and water do to a segment's radii.

Rubber keeps its volume, so what is lost in length is won in section.  Everything here is one factor on
the rubber's section area, J, and one question: can the bore follow?

    squeezed from free to fitted length     J = free / fitted
    warm or swollen by a linear share s     J = (1 + s)^2 if the length can follow, (1 + s)^3 if it is held

HIGH END, bore free: every length in the section grows by sqrt(J).  Exact for any section, ribs and
chambers included (even axial stress, end faces that slide).
LOW END, bore held: the bore keeps its radius, so the rubber starts from there.  Solid segment: one thick
ring from the bore to the body.  With chambers: hub wall as a held ring, webs that lengthen freely and
pull on the wall, wall as a ring on their ends.  With no chambers this is the thick ring again.

Not in either end: end faces that stick make a barrel, whose middle grows up to 1.5 times the mean here
(a parabola's height over its mean); a wall that buckles inward between webs grows less, down to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from rollergen.errors import Complaint, ProfileError
from rollergen.spec.profile import Profile
from rollergen.spec.trace import Figure

Band = tuple[float, float]
NO_GROWTH: Band = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class FitReport:
    """Growth of the radii from as cast to as fitted: (low, high) bands in mm, positive outwards.

    ``squeeze`` is 1 - fitted/free.  ``tip_growth_mm`` and ``body_growth_mm`` are by squeeze alone;
    ``warm_*`` and ``swell_*`` by that alone, None when the profile or the caller does not say how much.
    ``fitted_*`` is all of it together; it is not the sum of the parts, which act on one another.
    """

    squeeze: float
    tip_growth_mm: Band
    body_growth_mm: Band
    warm_by_k: float | None
    warm_tip_growth_mm: Band | None
    warm_body_growth_mm: Band | None
    swell_share: float | None
    swell_tip_growth_mm: Band | None
    swell_body_growth_mm: Band | None
    fitted_tip_growth_mm: Band
    fitted_body_growth_mm: Band


@dataclass(frozen=True, slots=True, kw_only=True)
class Rings:
    """The radii growth depends on (mm): bore, outside of the hub wall, inside of the wall, body, tip.

    A solid segment has no chambers between: ``hub`` = ``wall`` = any radius from bore to body.
    """

    bore: float
    hub: float
    wall: float
    body: float
    tip: float

    def __post_init__(self) -> None:
        if not 0 <= self.bore <= self.hub <= self.wall <= self.body <= self.tip:
            raise ValueError(
                f"radii must rise: bore {self.bore:g}, hub {self.hub:g}, wall {self.wall:g},"
                f" body {self.body:g}, tip {self.tip:g} mm"
            )


def fit(profile: Profile, *, warm_by: float | None = None, swell: float | None = None) -> FitReport:
    """Growth bands of a segment on its shaft; ``warm_by`` in K over the casting state, negative is colder.

    ``swell`` (linear share) overrides the profile's for this run.

    Raises ProfileError when ``warm_by`` is given and the compound states no expansion.
    """
    rings = rings_of(profile)
    squeeze = squeeze_of(profile.body.free_length, profile.body.fitted_length)
    warm = _warm_share(profile, warm_by)
    swell = profile.compound.swell if swell is None else swell
    total = (1 + (warm or 0.0)) * (1 + (swell or 0.0)) - 1
    tip, body = growth_bands(rings, squeeze=squeeze)
    warm_tip, warm_body = _if_known(rings, warm)
    swell_tip, swell_body = _if_known(rings, swell)
    fitted_tip, fitted_body = growth_bands(rings, squeeze=squeeze, share=total)
    return FitReport(
        squeeze=squeeze,
        tip_growth_mm=tip,
        body_growth_mm=body,
        warm_by_k=warm_by,
        warm_tip_growth_mm=warm_tip,
        warm_body_growth_mm=warm_body,
        swell_share=swell,
        swell_tip_growth_mm=swell_tip,
        swell_body_growth_mm=swell_body,
        fitted_tip_growth_mm=fitted_tip,
        fitted_body_growth_mm=fitted_body,
    )


def rings_of(profile: Profile) -> Rings:
    """The rings a profile stands for, each chosen so that the low end stays low.

    A bore that is not round is held at its outermost reach, and the hub wall is counted from its flats:
    the larger the held radius and the slimmer the hub wall, the less grows.  Foam counts as air.
    """
    bore, body = min(profile.bore.reach, profile.body_radius), profile.body_radius
    chambers = profile.chambers
    if chambers is None or chambers.count == 0:
        return Rings(bore=bore, hub=body, wall=body, body=body, tip=profile.tip_radius)
    hub = max(bore, profile.bore.width / 2 + chambers.hub_wall)
    return Rings(bore=bore, hub=hub, wall=max(hub, body - chambers.wall), body=body, tip=profile.tip_radius)


def squeeze_of(free_length: float, fitted_length: float) -> float:
    """Axial squeeze 1 - fitted/free, positive when shortened.  Raises ValueError unless both are positive."""
    if not (free_length > 0 and fitted_length > 0):
        raise ValueError(f"lengths must be above 0: free {free_length:g} mm, fitted {fitted_length:g} mm")
    return 1 - fitted_length / free_length


def growth_bands(rings: Rings, *, squeeze: float, share: float = 0.0) -> tuple[Band, Band]:
    """(tip, body) growth bands in mm for a squeeze and a linear share of warmth and swell together.

    Each end of each band is the lower or higher of all four: bore held or free, length held or following.
    """
    if not squeeze < 1 or not share > -1:
        raise ValueError(f"squeeze {squeeze:g} must be below 1 and share {share:g} above -1")
    factors = [(1 + share) ** power / (1 - squeeze) for power in (2, 3)]
    tips = [held_tip_growth(rings, j) for j in factors] + [free_growth(rings.tip, j) for j in factors]
    bodies = [held_body_growth(rings, j) for j in factors] + [free_growth(rings.body, j) for j in factors]
    return (min(tips), max(tips)), (min(bodies), max(bodies))


def free_growth(radius: float, area_factor: float) -> float:
    """Growth of a radius (mm) when the whole section is free to grow: R (sqrt(J) - 1)."""
    return radius * (sqrt(area_factor) - 1)


def held_ring_growth(inner: float, outer: float, area_factor: float) -> float:
    """Growth of a ring's outer radius (mm) with its inner radius held: sqrt(a2 + (b2 - a2) J) - b.

    Source: the ring's rubber area grows by J; to first order in J - 1 it is Lame's thick ring with
    u(a) = 0 and Poisson's ratio 1/2, u(b) = (J - 1)/2 (b - a2/b).
    """
    a, b, J = inner, outer, area_factor
    return sqrt(a**2 + (b**2 - a**2) * J) - b


def held_body_growth(rings: Rings, area_factor: float) -> float:
    """Growth of the body radius (mm) with the bore held: hub ring, webs, wall ring, one on the other."""
    J = area_factor
    hub = rings.hub + held_ring_growth(rings.bore, rings.hub, J)
    inside = hub + (rings.wall - rings.hub) * sqrt(J)
    return sqrt(inside**2 + (rings.body**2 - rings.wall**2) * J) - rings.body


def held_tip_growth(rings: Rings, area_factor: float) -> float:
    """Growth of the tip radius (mm) with the bore held: the body's, and the rib's own height grown freely."""
    return held_body_growth(rings, area_factor) + free_growth(rings.tip - rings.body, area_factor)


def fitted_gap(gap: float, own: Band, mate: Band = NO_GROWTH) -> Band:
    """(least, greatest) gap in mm once our radius, and a ribbed mate's, have grown by their bands."""
    return gap - own[1] - mate[1], gap - own[0] - mate[0]


def _if_known(rings: Rings, share: float | None) -> tuple[Band | None, Band | None]:
    return (None, None) if share is None else growth_bands(rings, squeeze=0.0, share=share)


def _warm_share(profile: Profile, warm_by: float | None) -> float | None:
    if warm_by is None:
        return None
    if profile.compound.expansion is None:
        raise ProfileError(
            [
                Complaint(
                    key="compound.expansion",
                    message=f'needed to warm the segment by {warm_by:g} K; write it out, e.g. "1.5e-4 1/K"',
                )
            ]
        )
    return profile.compound.expansion * warm_by


_VOLUME = "rubber keeps its volume; bore held: ring from the bore, exact; bore free: Lame with ratio 1/2"
_LIMITS = (
    "mean over the length: end faces that stick let the middle grow up to 1.5 times as much;"
    " a wall that buckles between webs grows less"
)
_WARMTH = "J = (1 + s)2 with the length following, (1 + s)3 with it held"


def _growth(key: str, what: str, why: str) -> Figure:
    return Figure(
        key=key,
        words=f"growth of the {what} radius {why}, lowest and highest",
        formula=f"low: bore held, ring by ring; high: R (sqrt(J) - 1); {_WARMTH}; squeezed J = free/fitted",
        source=_VOLUME,
        limits=_LIMITS,
        unit="mm",
    )


FIGURES = (
    Figure(
        key="squeeze",
        words="share of its length a segment loses on the shaft",
        formula="1 - fitted length / free length",
        source="definition",
        limits="the same for every segment of a stack",
        unit="1",
    ),
    Figure(
        key="warm_by_k",
        words="how much warmer than as cast, as given",
        formula="input",
        source="the caller",
        limits="even through the segment; the shaft's own expansion is left out",
        unit="K",
    ),
    Figure(
        key="swell_share",
        words="linear swell by water, as the profile states it",
        formula="input",
        source="compound.swell",
        limits="even through the segment",
        unit="1",
    ),
    *(
        _growth(f"{prefix}{what}_growth_mm", what, why)
        for prefix, why in (
            ("", "by the squeeze alone"),
            ("warm_", "by warmth alone"),
            ("swell_", "by swell alone"),
            ("fitted_", "as fitted: squeeze, warmth and swell together"),
        )
        for what in ("tip", "body")
    ),
)
