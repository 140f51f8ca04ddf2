"""What a segment and a roller weigh, and how they resist turning: mass and inertia in one answer."""

from __future__ import annotations

from dataclasses import dataclass

from rollergen.answer.report import Drawn
from rollergen.spec.trace import Figure
from rollergen.study.inertia import InertiaReport, inertia_of, pieces_for
from rollergen.study.mass import MassReport, weigh


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight:
    """One segment as cast, and what a shaft of a given length takes (None without a length).

    ``kg_per_m_free`` counts metres of segment as cast, ``mass.kg_per_m`` metres of shaft.  ``over_all_mm``:
    the smallest upright box that takes the segment at any rotation.  ``pieces``: not rounded, whole ones
    that fit, whole ones that cover the length.
    """

    mass: MassReport
    inertia: InertiaReport
    kg_per_m_free: float
    over_all_mm: tuple[float, float, float]
    pieces: tuple[float, int, int] | None
    roller_whole_kg: float | None


def weight_of(drawn: Drawn, *, length: float | None = None) -> Weight:
    """Mass, inertia and sizes of a segment; ``length`` (mm of shaft) adds the roller."""
    profile = drawn.profile
    mass = weigh(profile, drawn.section, drawn.part, length=length)
    pieces = pieces_for(length, profile.body.fitted_length) if length is not None else None
    over = 2 * profile.tip_radius
    return Weight(
        mass=mass,
        inertia=inertia_of(profile, drawn.section, drawn.part),
        kg_per_m_free=mass.total_kg * 1000 / profile.body.free_length,
        over_all_mm=(over, over, profile.body.free_length),
        pieces=pieces,
        roller_whole_kg=mass.total_kg * pieces[1] if pieces else None,
    )


_DEFINITION = "definition"
FIGURES = (
    Figure(
        key="kg_per_m_free",
        words="mass per metre of segment as cast",
        formula="total / free length",
        source=_DEFINITION,
        limits="segment as cast, not squeezed",
        unit="kg/m",
    ),
    Figure(
        key="over_all_mm",
        words="smallest upright box that takes the segment at any rotation (x, y, z)",
        formula="tip diameter, tip diameter, free length",
        source=_DEFINITION,
        limits="as cast",
        unit="mm",
    ),
    Figure(
        key="pieces",
        words="segments a shaft of this length takes: not rounded, whole ones that fit, that cover it",
        formula="length / fitted length, rounded down, rounded up",
        source=_DEFINITION,
        limits="all segments alike, no end pieces",
        unit="1",
    ),
    Figure(
        key="roller_whole_kg",
        words="mass of the whole segments that fit",
        formula="total x whole ones that fit",
        source=_DEFINITION,
        limits="shaft not counted",
        unit="kg",
    ),
)
