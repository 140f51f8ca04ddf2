"""Work lost in pressed rubber: against an integrated cycle, limits, and a worked case."""

from __future__ import annotations

from math import pi, tau

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollergen.study.hysteresis import FIGURES, HEAT_CAPACITY, HeatReport, heat, lost_share, smooth_patch

CASE = {
    "loss_factor": 0.1, "line_load": 0.5, "travel": 1.6, "patch": 56.0, "radius": 56.0, "rotation_speed": 10.0,
    "rubber_kg_m": 6.0,
}  # fmt: skip


@given(loss_factor=st.floats(0.0, 0.3))
def test_the_lost_share_is_that_of_half_a_sine_swing(loss_factor: float) -> None:
    """Force k (d sin + tan(delta) d cos) over travel d sin, half a cycle, against k d^2 / 2."""
    phase = (np.arange(20000) + 0.5) * pi / 20000
    force, speed = np.sin(phase) + loss_factor * np.cos(phase), np.cos(phase)
    lost = float(np.mean(force * speed) * pi)
    assert lost_share(loss_factor) == pytest.approx(lost / 0.5, rel=1e-6, abs=1e-12)


def test_no_more_is_lost_than_was_stored() -> None:
    assert lost_share(0.0) == 0.0
    assert lost_share(2.0) == 1.0


def test_the_patch_of_a_solid_roller_is_that_of_a_bed_of_springs() -> None:
    """Springs pressed by a flat: the force over the greatest pressure is the patch, energies add up over a turn."""
    R, d = 50.0, 0.2
    half = (2 * R * d) ** 0.5
    x = (np.arange(20000) + 0.5) * half / 20000
    pressed = d - x**2 / (2 * R)
    force = 2 * float(np.mean(pressed)) * half  # springs of 1 N/mm3
    assert smooth_patch(radius=R, travel=d) == pytest.approx(force / d, rel=1e-6)
    stored_round = tau * R * d**2 / 2
    assert force * d / 2 * tau * R / smooth_patch(radius=R, travel=d) == pytest.approx(stored_round, rel=1e-6)


def test_a_worked_case() -> None:
    """0.5 N/mm through 1.6 mm store 0.4 mJ/mm; 2 pi presses a turn at tan(delta) 0.1."""
    found = heat(**CASE)
    assert found.press_energy_mj_mm == pytest.approx(0.4)
    assert found.presses_per_turn == pytest.approx(tau)
    assert found.loss_per_turn_j_m == pytest.approx(0.1 * pi * 0.4 * tau)
    assert found.loss_power_w_m == pytest.approx(found.rolling_torque_n * 10.0)
    assert found.warming_k_h * 6.0 * HEAT_CAPACITY == pytest.approx(found.loss_power_w_m * 3600)
    assert set(HeatReport.__dataclass_fields__) <= {figure.key for figure in FIGURES}


@given(faster=st.floats(1.0, 10.0))
def test_power_grows_with_speed_and_not_with_its_sign(faster: float) -> None:
    plain = heat(**CASE).loss_power_w_m
    assert heat(**{**CASE, "rotation_speed": 10.0 * faster}).loss_power_w_m == pytest.approx(plain * faster)
    assert heat(**{**CASE, "rotation_speed": -10.0}).loss_power_w_m == plain


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="loss factor"):
        heat(**{**CASE, "loss_factor": -0.1})
    for key, value in (
        ("patch", 0.0),
        ("radius", 0.0),
        ("rubber_kg_m", 0.0),
        ("travel", -1.0),
        ("line_load", -1.0),
    ):
        with pytest.raises(ValueError, match="above 0"):
            heat(**{**CASE, key: value})
