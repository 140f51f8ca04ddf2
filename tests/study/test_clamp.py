"""Clamping force and torque in closed form, against a published pad, and in limit cases."""

from __future__ import annotations

from math import pi

import pytest

from rollergen.study.clamp import FIGURES, bonded_factor, clamp, face_area, friction_radius

CLAMP = {
    "area": 5475.0,
    "free_perimeter": 900.0,
    "length": 150.0,
    "modulus": (5.521, 10.109),
    "friction": (0.3, 0.6),
    "inner": 20.0,
    "outer": 56.0,
}


def test_force_is_hooke_with_ends_that_slide_and_more_with_ends_held():
    report = clamp(0.015, **CLAMP)  # type: ignore[arg-type]
    assert report.force_free_ends_n == pytest.approx((5.521 * 5475 * 0.015, 10.109 * 5475 * 0.015))
    S = 5475.0 / (900.0 * 150.0)
    assert report.shape_factor == pytest.approx(S)
    assert report.force_bonded_ends_n[0] == pytest.approx(report.force_free_ends_n[0] * (1 + 2 * S * S))


def test_bonded_factor_of_a_published_pad():
    # moulder's design page: 6 x 3 x 2 in pad, loaded 18 in2, free to bulge 36 in2: f = 0.5, factor 1.5
    assert bonded_factor(18 / 36) == 1.5
    assert bonded_factor(0.0) == 1.0


def test_torque_of_a_disc_clutch():
    # even pressure p on a ring: T = 2 pi mu p (b^3 - a^3) / 3, F = p x area
    a, b, mu = 20.0, 56.0, 0.3
    report = clamp(0.015, **CLAMP)  # type: ignore[arg-type]
    p = report.force_free_ends_n[0] / face_area(a, b)
    torque = 2 * pi * mu * p * (b**3 - a**3) / 3 / 1000
    assert report.joint_torque_n_m[0] == pytest.approx(torque)
    assert report.stack_torque_n_m[1] == pytest.approx(2 * report.joint_torque_n_m[1])
    assert report.joint_torque_n_m[1] / report.joint_torque_n_m[0] == pytest.approx(2 * 10.109 / 5.521)


def test_friction_radius_limits():
    assert friction_radius(0.0, 30.0) == pytest.approx(20.0)  # full disc: two thirds
    assert friction_radius(29.999, 30.0) == pytest.approx(29.9995, rel=1e-6)  # thin ring: its radius
    with pytest.raises(ValueError, match="must rise"):
        friction_radius(30.0, 30.0)


def test_no_squeeze_no_force_and_bad_numbers_are_named():
    none = clamp(0.0, **CLAMP)  # type: ignore[arg-type]
    assert none.force_free_ends_n == (0.0, 0.0) == none.stack_torque_n_m
    for wrong in ({"area": 0.0}, {"modulus": (0.0, 5.0)}, {"modulus": (6.0, 5.0)}, {"friction": (0.6, 0.3)}):
        with pytest.raises(ValueError, match="must"):
            clamp(0.015, **{**CLAMP, **wrong})  # type: ignore[arg-type]


def test_every_reported_number_has_its_figure():
    keys = {figure.key for figure in FIGURES}
    assert keys == set(type(clamp(0.01, **CLAMP)).__dataclass_fields__)  # type: ignore[arg-type]
