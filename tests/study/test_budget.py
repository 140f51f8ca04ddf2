"""Tolerance budget: sums by hand, tables at their cited values, play in each bore."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from rollergen.spec.profile import Profile
from rollergen.spec.reading import profile_from_text
from rollergen.spec.tolerances import Dimension, MouldClass
from rollergen.study.budget import Contribution, budget, contributions_for

PROFILE = """
name = "budget"
body = {{ diameter = "112 mm", free_length = "100 mm" }}
bore = {{ section = "{section}", across = "36 mm", clearance = "0.6 mm", shaft_tolerance = "0.4 mm" }}
compound = {{ name = "cast", density = "1100 kg/m^3" }}
[ribs]
count = 5
height = "8 mm"
tip_width = "10 mm"
flank_angle = "15 deg"
tip_radius = "2 mm"
root_radius = "4 mm"
helix_pitch = "650 mm"
[[mates]]
name = "smooth"
kind = "smooth"
diameter = "90 mm"
axis_distance = "112 mm"
axis_distance_tolerance = "0.3 mm"
"""


def profile(section: str = "square") -> Profile:
    return profile_from_text(PROFILE.format(section=section))


def named(
    p: Profile,
    *,
    grade: MouldClass = "M3",
    dimension: Dimension = "fixed",
    mate_diameter_tolerance: float | None = None,
) -> dict[str, Contribution]:
    listed = contributions_for(
        p, p.mates[0], grade=grade, dimension=dimension, mate_diameter_tolerance=mate_diameter_tolerance
    )
    return {c.name: c for c in listed}


def one(tip: float, body: float) -> Contribution:
    return Contribution(name="one", tip_mm=tip, body_mm=body, source="by hand")


def test_worst_case_adds_and_root_sum_square_is_pythagoras() -> None:
    report = budget(10.0, 20.0, [one(3, 0), one(4, 5), one(0, 12)])
    assert (report.worst_tip_gap_mm, report.rss_tip_gap_mm) == (3.0, 5.0)
    assert (report.worst_body_gap_mm, report.rss_body_gap_mm) == (37.0, 33.0)


def test_nothing_off_leaves_the_nominal_gap() -> None:
    report = budget(1.0, 9.0, [])
    assert report.worst_tip_gap_mm == report.rss_tip_gap_mm == 1.0
    assert report.worst_body_gap_mm == report.rss_body_gap_mm == 9.0


def test_root_sum_square_is_what_a_crowd_of_rollers_shows() -> None:
    """Independent: 200 000 rollers with three normal errors; their spread is the root-sum-square."""
    rng = np.random.default_rng(7)
    spread = np.std(sum(rng.normal(0, s, 200_000) for s in (0.65, 0.3, 0.2)))
    assert 1 - budget(1.0, 0.0, [one(s, 0) for s in (0.65, 0.3, 0.2)]).rss_tip_gap_mm == pytest.approx(
        spread, rel=0.01
    )


def test_castings_count_half_the_diameter_tolerance_of_the_standard() -> None:
    """ISO 3302-1:2014, Table 1: 100-160 mm M3 fixed 1.30, closure 2.00; M1 fixed 0.40."""
    assert named(profile())["cast rib tips"].tip_mm == pytest.approx(0.65)
    assert named(profile())["cast body"].body_mm == pytest.approx(0.65)
    assert named(profile(), dimension="closure")["cast body"].body_mm == pytest.approx(1.0)
    assert named(profile(), grade="M1")["cast body"].body_mm == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("section", "factor"), [("square", sqrt(2)), ("hexagon", 2 / sqrt(3)), ("round", 1.0)]
)
def test_a_loose_segment_shifts_furthest_into_a_corner(section: str, factor: float) -> None:
    listed = named(profile(section))
    assert listed["bore clearance"].tip_mm == pytest.approx(0.3 * factor)
    assert listed["shaft size"].tip_mm == pytest.approx(0.2 * factor)
    assert listed["cast bore"].tip_mm == pytest.approx(0.3 * factor)  # M3 fixed, 25-40 mm: 0.60


def test_the_list_adds_up_and_names_what_nobody_gave() -> None:
    p = profile()
    listed = contributions_for(p, p.mates[0])
    report = budget(1.2, 9.2, listed)
    assert 1.2 - report.worst_tip_gap_mm == pytest.approx(0.65 + 0.8 * sqrt(2) + 0.3)
    assert report.worst_tip_gap_mm < report.rss_tip_gap_mm < 1.2
    mate = named(p)["mate diameter"]
    assert (mate.tip_mm, mate.source) == (0.0, "not given, counted as 0")
    assert named(p, mate_diameter_tolerance=0.5)["mate diameter"].body_mm == 0.25


def test_a_ribbed_mate_brings_its_own_castings_and_play() -> None:
    ours = profile()
    mate = ours.mates[0].model_copy(update={"kind": "ribbed", "ribbed": profile("round")})
    names = [c.name for c in contributions_for(ours, mate)]
    assert "mate: cast rib tips" in names and "mate: bore clearance" in names
    assert "mate diameter" not in names and len(names) == len(set(names))


def test_a_contribution_below_zero_is_refused() -> None:
    with pytest.raises(ValueError, match="not below 0"):
        one(-0.1, 0)
