"""As-fitted verdict: squeeze, tolerances and limits put together."""

from __future__ import annotations

import pytest

from rollergen.answer.fitted import FittedGap, fitted_gaps, with_fitted
from rollergen.answer.gap_verdict import check_gap
from rollergen.shape.section import section_of
from rollergen.spec.profile import Profile
from rollergen.spec.reading import profile_from_text

PROFILE = """
name = "fitted"
body = {{ diameter = "112 mm", free_length = "150 mm", fitted_length = "{fitted} mm" }}
bore = {{ section = "round", across = "36 mm", shaft_tolerance = "0 mm" }}
compound = {{ name = "cast", density = "1100 kg/m^3" }}
[[mates]]
name = "smooth"
kind = "smooth"
diameter = "90 mm"
axis_distance = "{axes} mm"
least_tip_gap = "1 mm"
"""


def read(fitted: float = 150.0, axes: float = 103.0) -> Profile:
    return profile_from_text(PROFILE.format(fitted=fitted, axes=axes))


def judged(profile: Profile) -> FittedGap:
    return fitted_gaps(profile, check_gap(profile, section_of(profile)), grade="M1")[0]


def test_without_squeeze_the_budget_alone_is_left() -> None:
    fitted = judged(read())
    assert fitted.tip_gap_band_mm == (2.0, 2.0)
    assert fitted.least_left_mm == pytest.approx(fitted.budget.worst_tip_gap_mm)
    assert fitted.most_left_mm == pytest.approx(fitted.budget.worst_body_gap_mm)
    assert fitted.ok_fitted and fitted.reasons == ()


def test_squeeze_can_turn_the_verdict_and_the_way_out_works() -> None:
    tight = judged(read(fitted=145.0))
    assert tight.least_left_mm == pytest.approx(
        2.0 - 56 * ((150 / 145) ** 0.5 - 1) - (2.0 - tight.budget.worst_tip_gap_mm)
    )
    assert not tight.ok_fitted
    assert "move the axes" in tight.reasons[0]
    wider = judged(read(fitted=145.0, axes=103.0 + 1.0 - tight.least_left_mm))
    assert wider.ok_fitted


def test_nominal_verdict_stays_and_the_fitted_one_is_filled_in() -> None:
    profile = read(fitted=145.0)
    gaps = check_gap(profile, section_of(profile))
    (gap,) = with_fitted(gaps, fitted_gaps(profile, gaps, grade="M1"))
    assert (gap.ok, gap.ok_fitted) == (True, False)
