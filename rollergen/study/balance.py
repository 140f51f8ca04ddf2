"""Balance: how far a roller is out of balance, and whether that or something else decides how true it runs.

Unbalance U = mass x distance of its centre from the axis (kg mm); in turning it pulls with U omega^2.
A grade G (mm/s) permits G / omega of centre distance.  At the speeds a bed turns, that is more than bores,
castings and bars leave, so the grade says little; the statement says which of the two decides.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import hypot, inf, tau
from typing import Literal

from rollergen.spec.kinds import GRAVITY
from rollergen.spec.profile import OFF_CENTRE
from rollergen.spec.trace import Figure

# ISO 21940-11:2016, Table 1 (was ISO 1940-1), grades in mm/s; G16 lists parts of agricultural machinery
GRADES = (0.4, 1.0, 2.5, 6.3, 16.0, 40.0, 100.0, 250.0, 630.0, 1600.0, 4000.0)
AGRICULTURAL = 16.0
MEAN_OF_BOW = 2 / 3  # of a parabola's height


@dataclass(frozen=True, slots=True, kw_only=True)
class Unbalance:
    """One thing that puts a roller out of balance: kg mm, never negative, with its source."""

    name: str
    unbalance_kg_mm: float
    source: str

    def __post_init__(self) -> None:
        if not 0 <= self.unbalance_kg_mm < inf:
            raise ValueError(f"{self.name}: unbalance {self.unbalance_kg_mm:g} kg mm must be 0 or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceReport:
    """A roller against a grade; see FIGURES for each number.

    ``worst``: all contributions pull the same way.  ``rss``: each in a direction of its own.
    ``balance_governs``: the worst unbalance is more than the grade permits; ``statement`` says it in words.
    """

    turning_mass_kg: float
    balanced_at_rpm: float
    grade: float
    unbalances: tuple[Unbalance, ...]
    permitted_offset_mm: float
    permitted_unbalance_g_mm: float
    worst_unbalance_g_mm: float
    rss_unbalance_g_mm: float
    worst_offset_mm: float
    worst_grade: float
    rss_grade: float
    finest_grade_met: float | None
    unbalance_force_n: float
    force_share_of_weight: float
    balance_governs: bool
    statement: str


def permitted_offset(grade: float, rotation_speed: float) -> float:
    """Distance of the centre of mass from the axis that a grade permits: G / omega (mm; mm/s, rad/s).

    Source: ISO 21940-11.  Raises ValueError unless both are above 0: at rest nothing is out of balance.
    """
    for name, value in (("grade", grade), ("rotation speed", abs(rotation_speed))):
        if not 0 < value < inf:
            raise ValueError(f"{name} {value:g} must be above 0")
    return grade / abs(rotation_speed)


def unbalances(
    *,
    segments_kg: float,
    roller_kg: float,
    bore_section: Literal["square", "hexagon", "round", "keyed"] = "square",
    bore_play: float = 0.0,
    cast_eccentricity: float = 0.0,
    foam_kg_mm: float = 0.0,
    bow: float = 0.0,
) -> tuple[Unbalance, ...]:
    """What puts a roller out of balance, each as if at its worst over the whole length (kg mm).

    ``bore_play`` mm between bore and shaft across flats; ``cast_eccentricity`` mm of body to bore;
    ``foam_kg_mm`` of all segments together, turned alike; ``bow`` mm of the bare shaft at mid span, which
    carries everything with it.  Raises ValueError for a number below 0 or a roller lighter than its segments.
    """
    if not 0 <= segments_kg <= roller_kg < inf:
        raise ValueError(f"segments {segments_kg:g} kg are part of the roller, which is {roller_kg:g} kg")
    for name, value in (("bore_play", bore_play), ("cast_eccentricity", cast_eccentricity), ("bow", bow)):
        if not 0 <= value < inf:
            raise ValueError(f"{name} {value:g} mm must be 0 or more")
    shift = OFF_CENTRE[bore_section] * bore_play / 2
    return (
        Unbalance(
            name="bore clearance",
            unbalance_kg_mm=shift * segments_kg,
            source=f"segments pushed into a corner of the {bore_section} bore, all the same way",
        ),
        Unbalance(
            name="cast eccentricity",
            unbalance_kg_mm=cast_eccentricity * segments_kg,
            source="body to bore as given, all segments turned alike",
        ),
        Unbalance(
            name="foam in some chambers",
            unbalance_kg_mm=foam_kg_mm,
            source="as given, all segments turned alike",
        ),
        Unbalance(
            name="bowed shaft",
            unbalance_kg_mm=MEAN_OF_BOW * bow * roller_kg,
            source="two thirds of the bow at mid span, a parabola's mean",
        ),
    )


def balance(
    *,
    mass: float,
    rotation_speed: float,
    contributions: Iterable[Unbalance],
    grade: float = AGRICULTURAL,
) -> BalanceReport:
    """A roller of ``mass`` kg at ``rotation_speed`` rad/s against a grade in mm/s.

    Static unbalance of a roller that stays stiff: below about 0.7 of its first critical speed.
    Raises ValueError unless mass, speed and grade are above 0.
    """
    if not 0 < mass < inf:
        raise ValueError(f"mass {mass:g} kg must be above 0")
    offset, omega = permitted_offset(grade, rotation_speed), abs(rotation_speed)
    listed = tuple(contributions)
    each = [part.unbalance_kg_mm for part in listed]
    worst, rss = sum(each), hypot(*each)
    reached = worst / mass * omega
    force = worst * omega**2 / 1000
    governs = worst > offset * mass
    return BalanceReport(
        turning_mass_kg=mass,
        balanced_at_rpm=omega * 60 / tau,
        grade=grade,
        unbalances=listed,
        permitted_offset_mm=offset,
        permitted_unbalance_g_mm=1000 * offset * mass,
        worst_unbalance_g_mm=1000 * worst,
        rss_unbalance_g_mm=1000 * rss,
        worst_offset_mm=worst / mass,
        worst_grade=reached,
        rss_grade=rss / mass * omega,
        finest_grade_met=next((known for known in GRADES if reached <= known), None),
        unbalance_force_n=force,
        force_share_of_weight=force / (mass * GRAVITY),
        balance_governs=governs,
        statement=_statement(governs, grade, offset, worst / mass, listed),
    )


def _statement(
    governs: bool, grade: float, permitted: float, reached: float, parts: tuple[Unbalance, ...]
) -> str:
    numbers = (
        f"the centre of mass may be {reached:.3g} mm off the axis, G{grade:g} permits {permitted:.3g} mm"
    )
    if not governs:
        return (
            f"balance does not govern: {numbers}; how true the roller must run is decided by the gap instead"
        )
    most = max(parts, key=lambda part: part.unbalance_kg_mm)
    return f"balance governs: {numbers}; most comes from {most.name}: make it smaller, balance the roller, or turn slower"


# unbalance_kg_mm has its entry in the inertia study: the same figure of a single part
_ISO = "ISO 21940-11:2016"
_STIFF = "static unbalance; roller stiff, below 0.7 of its critical speed; couple not counted"
_WORST = "all contributions the same way, all segments alike; a roller of many segments scatters less"


def _entry(key: str, unit: str, words: str, formula: str, source: str, limits: str = _STIFF) -> Figure:
    return Figure(key=key, words=words, formula=formula, source=source, limits=limits, unit=unit)


FIGURES = (
    _entry("turning_mass_kg", "kg", "mass of the whole roller, shaft counted", "input", "the caller"),
    _entry("balanced_at_rpm", "rpm", "rotation speed the balance is judged at", "input", "the caller", "without its sign"),
    _entry("grade", "mm/s", "balance grade G asked for", "input", f"{_ISO}, Table 1; G16 names agricultural machinery"),
    _entry("unbalances", "-", "what puts the roller out of balance, each with its source", "mass x its way off the axis",
           "named beside it", _WORST),
    _entry("permitted_offset_mm", "mm", "how far off the axis the centre of mass may be", "G / omega", _ISO),
    _entry("permitted_unbalance_g_mm", "g mm", "residual unbalance the grade permits", "1000 G m / omega", _ISO),
    _entry("worst_unbalance_g_mm", "g mm", "all contributions pulling the same way", "sum", "worst case", _WORST),
    _entry("rss_unbalance_g_mm", "g mm", "contributions in directions of their own", "root of the sum of squares",
           "independent directions"),
    _entry("worst_offset_mm", "mm", "centre of mass off the axis at worst", "worst unbalance / mass", "definition", _WORST),
    _entry("worst_grade", "mm/s", "grade the roller reaches at worst", "worst offset x omega", _ISO, _WORST),
    _entry("rss_grade", "mm/s", "grade with contributions in directions of their own", "rss offset x omega", _ISO),
    _entry("finest_grade_met", "mm/s", "finest grade of the table that the worst case meets", "table look-up", _ISO,
           "none when even G4000 is passed"),
    _entry("unbalance_force_n", "N", "turning force of the worst unbalance", "U omega2", "mechanics", _WORST),
    _entry("force_share_of_weight", "1", "turning force over the roller's weight", "force / (m g)", "definition", _WORST),
    _entry("balance_governs", "-", "whether the worst unbalance is more than the grade permits",
           "worst > permitted", "definition", _WORST),
    _entry("statement", "-", "which of balance and gap decides how true the roller must run", "from the above",
           "definition", _WORST),
)  # fmt: skip
