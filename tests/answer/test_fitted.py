"""As-fitted verdict: squeeze, tolerances and limits put together."""

from __future__ import annotations

import pytest

from rollergen.answer.fitted import Assumed, FittedGap, fitted_gaps
from rollergen.answer.gap_verdict import check_gap
from rollergen.errors import ProfileError
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
    return fitted_gaps(profile, check_gap(profile, section_of(profile)), Assumed(grade="M1"))[0]


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


def test_closer_making_leaves_more_and_says_from_where() -> None:
    profile = profile_from_text(
        PROFILE.format(fitted=150, axes=103).replace('"round"', '"square"').replace("0 mm", "0.8 mm", 1)
    )
    gaps = check_gap(profile, section_of(profile))
    (loose,) = fitted_gaps(profile, gaps, Assumed(grade="M3"))
    (close,) = fitted_gaps(profile, gaps, Assumed(grade="M1", bar="bright-h9"))
    assert close.least_left_mm > loose.least_left_mm
    named = {c.name: c for c in close.budget.contributions}
    assert named["shaft size"].tip_mm == pytest.approx(0.062 * 2**0.5 / 2)  # h9 over 30 to 50 mm: 62 um
    assert "bright" in named["shaft size"].source


def test_a_square_bar_on_a_round_bore_is_refused() -> None:
    profile = read()
    with pytest.raises(ProfileError, match="square bar"):
        fitted_gaps(profile, check_gap(profile, section_of(profile)), Assumed(bar="bright-h9"))


def test_swell_given_for_a_run_overrides_the_profile() -> None:
    profile = read()
    gaps = check_gap(profile, section_of(profile))
    (wet,) = fitted_gaps(profile, gaps, Assumed(grade="M1", swell=0.01))
    assert wet.tip_gap_band_mm[0] == pytest.approx(2.0 - 56 * (1.01**1.5 - 1))  # length held: (1 + s)^3
