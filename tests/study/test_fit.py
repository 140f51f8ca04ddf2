"""Growth on the shaft: volume kept, Lame's thick ring as an independent limit, order of the bands."""

from __future__ import annotations

from math import log2, pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollergen.errors import ProfileError
from rollergen.spec.reading import profile_from_text
from rollergen.study.fit import (
    Rings,
    fit,
    fitted_gap,
    free_growth,
    growth_bands,
    held_body_growth,
    held_ring_growth,
    rings_of,
    squeeze_of,
)

SOLID = Rings(bore=20, hub=60, wall=60, body=60, tip=68)
HOLLOW = Rings(bore=20, hub=27, wall=53, body=60, tip=68)
PROFILE = """
name = "fitted"
body = {{ diameter = "120 mm", free_length = "100 mm", fitted_length = "98.4 mm" }}
bore = {{ section = "round", across = "40 mm", shaft_tolerance = "0.1 mm" }}
compound = {{ name = "cast", density = "1100 kg/m^3"{more} }}
"""


def lame_held_ring(a: float, b: float, squeeze: float, poisson: float) -> float:
    """u(b) of a linear-elastic ring, generalised plane strain, u(a) = 0, no pressure at b.

    u = A r + B/r (Lame); sigma_r = lam (2 A + eps_z) + 2 mu (A - B/r2).  Two equations, solved as they are.
    """
    mu, lam = 1.0, 2 * poisson / (1 - 2 * poisson)
    equations = np.array([[a, 1 / a], [2 * lam + 2 * mu, -2 * mu / b**2]])
    A, B = np.linalg.solve(equations, [0.0, lam * squeeze])
    return float(A * b + B / b)


def test_lame_with_ratio_one_half_is_the_limit_of_the_held_ring() -> None:
    a, b, e = 20.0, 60.0, 1e-6
    limit = e / 2 * (b - a**2 / b)
    errors = [abs(lame_held_ring(a, b, e, 0.5 - d) / limit - 1) for d in (1e-3, 5e-4, 2.5e-4)]
    assert errors[2] < 1e-3
    assert log2(errors[0] / errors[1]) == pytest.approx(1, abs=0.02)  # first order in 1/2 - ratio
    assert held_ring_growth(a, b, 1 / (1 - e)) == pytest.approx(limit, rel=3e-6)


def test_held_ring_leaves_the_linear_answer_at_second_order() -> None:
    a, b = 20.0, 60.0

    def off(e: float) -> float:
        return held_ring_growth(a, b, 1 / (1 - e)) - e / 2 * (b - a**2 / b)

    assert log2(off(0.02) / off(0.01)) == pytest.approx(2, abs=0.03)


@given(st.floats(0.0, 0.3), st.floats(1.0, 59.0))
def test_both_ends_keep_the_rubber(e: float, a: float) -> None:
    b, L = 60.0, 100.0
    volume = pi * (b**2 - a**2) * L
    held = b + held_ring_growth(a, b, 1 / (1 - e))
    assert pi * (held**2 - a**2) * L * (1 - e) == pytest.approx(volume, rel=1e-12)
    outside, inside = b + free_growth(b, 1 / (1 - e)), a + free_growth(a, 1 / (1 - e))
    assert pi * (outside**2 - inside**2) * L * (1 - e) == pytest.approx(volume, rel=1e-12)


def test_a_full_rod_does_not_care_whether_its_bore_is_held() -> None:
    rod = Rings(bore=0, hub=60, wall=60, body=60, tip=60)
    tip, body = growth_bands(rod, squeeze=0.02)
    assert tip == body
    assert body[0] == pytest.approx(body[1], rel=1e-12)


def test_no_chambers_is_the_thick_ring_wherever_the_hub_is_drawn() -> None:
    for radius in (20.0, 33.0, 60.0):
        rings = Rings(bore=20, hub=radius, wall=radius, body=60, tip=68)
        assert held_body_growth(rings, 1.02) == pytest.approx(held_ring_growth(20, 60, 1.02), rel=1e-12)


def test_chambers_leave_the_low_end_lower_and_the_high_end_where_it_is() -> None:
    (solid_tip, solid_body), (tip, body) = (growth_bands(r, squeeze=0.016) for r in (SOLID, HOLLOW))
    assert 0 < body[0] < solid_body[0]
    assert 0 < tip[0] < solid_tip[0]
    assert (tip[1], body[1]) == (solid_tip[1], solid_body[1])
    assert body[0] == pytest.approx(0.008 * (60 - 20**2 * 53 / (27 * 60)), rel=0.02)  # first order


def test_squeeze_eats_half_a_millimetre() -> None:
    """0.4 to 0.8 mm of a 1 mm gap at 1.6 % squeeze: common practice, no source."""
    growth = free_growth(62.0, 1 / (1 - 0.016))
    assert growth == pytest.approx(0.5, abs=0.01)
    assert 0.4 < growth < 0.8


@pytest.mark.parametrize("rings", [SOLID, HOLLOW])
@given(e=st.floats(-0.05, 0.1), s=st.floats(-0.01, 0.05))
def test_bands_rise(rings: Rings, e: float, s: float) -> None:
    for low, high in growth_bands(rings, squeeze=e, share=s):
        assert low <= high


def test_warmth_takes_one_to_one_and_a_half_times_its_share() -> None:
    rod = Rings(bore=0, hub=60, wall=60, body=60, tip=60)
    s = 1e-5
    (low, high), _ = growth_bands(rod, squeeze=0.0, share=s)
    assert low == pytest.approx(60 * s, rel=1e-9)  # length follows: expansion x dT x R
    assert high == pytest.approx(1.5 * 60 * s, rel=1e-4)  # length held: the axial share goes outwards too


def test_a_profile_says_what_it_knows_and_no_more() -> None:
    report = fit(profile_from_text(PROFILE.format(more="")))
    assert report.squeeze == pytest.approx(0.016)
    assert report.tip_growth_mm == report.body_growth_mm == report.fitted_tip_growth_mm
    assert report.warm_tip_growth_mm is None and report.swell_tip_growth_mm is None
    with pytest.raises(ProfileError, match=r"compound\.expansion: needed"):
        fit(profile_from_text(PROFILE.format(more="")), warm_by=20)


def test_warm_and_wet_act_together() -> None:
    profile = profile_from_text(PROFILE.format(more=', expansion = "1.5e-4 1/K", swell = "1 %"'))
    report = fit(profile, warm_by=20)
    assert report.warm_body_growth_mm is not None and report.swell_body_growth_mm is not None
    assert report.warm_body_growth_mm[1] == pytest.approx(60 * (1.003**1.5 - 1))
    assert report.swell_body_growth_mm[1] == pytest.approx(60 * (1.01**1.5 - 1))
    assert report.fitted_body_growth_mm[1] == pytest.approx(60 * ((1.003 * 1.01) ** 1.5 / 0.984**0.5 - 1))
    cold = fit(profile, warm_by=-20)
    assert cold.warm_body_growth_mm is not None and cold.warm_body_growth_mm[0] < 0


def test_rings_and_lengths_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="radii must rise"):
        Rings(bore=20, hub=10, wall=53, body=60, tip=68)
    with pytest.raises(ValueError, match="above 0"):
        squeeze_of(100, 0)
    with pytest.raises(ValueError, match="below 1"):
        growth_bands(SOLID, squeeze=1.0)


def test_the_gap_loses_what_both_rollers_gain() -> None:
    assert fitted_gap(1.0, (0.25, 0.5)) == (0.5, 0.75)
    assert fitted_gap(1.0, (0.25, 0.5), (0.125, 0.25)) == (0.25, 0.625)


def test_rings_of_a_profile_start_at_the_bore() -> None:
    rings = rings_of(profile_from_text(PROFILE.format(more="")))
    assert (rings.bore, rings.hub, rings.body, rings.tip) == (20, 60, 60, 60)
