"""Drive and drift: closed forms, energy, hands and senses, and a helix that is really turned."""

from __future__ import annotations

from dataclasses import fields, replace
from math import pi, tau

import numpy as np
import pytest

from rollergen.study.drive import (
    FIGURES,
    DriftReport,
    DriveLoad,
    DriveReport,
    Turning,
    axial_speed,
    drift,
    drive,
    helix_angle,
    lead_of,
    surface_speed,
)

RPM = pi / 30
LOAD = DriveLoad(length=1500.0, surface_radius=60.0)


def test_crop_friction_by_hand():
    # 0.5 N/mm x 1500 mm x 0.5 x 60 mm = 22.5 N m; at 120 rpm 282.7 W
    report = drive(LOAD, rotation_speed=120 * RPM)
    assert report.crop_torque_n_mm == pytest.approx(22_500)
    assert report.roller_power_w == pytest.approx(22.5 * 4 * pi)
    assert report.motor_power_w == pytest.approx(22.5 * 4 * pi * 1.5 / 0.85)


def test_every_part_adds_and_power_is_torque_times_speed():
    load = replace(LOAD, bearing_load=900.0, rib_force=80.0, tip_radius=70.0, throughput_kg_s=4.0, lift=50.0)
    report = drive(load, rotation_speed=-10.0, rollers=12, efficiency=0.9, service_factor=1.2)
    assert report.roller_torque_n_mm == pytest.approx(22_500 + 90 + 5600 + 4 * 9.80665 * 50 / 10)
    assert report.lift_power_w == pytest.approx(4 * 9.80665 * 0.05)
    assert report.roller_power_w == pytest.approx(report.roller_torque_n_mm * 10 / 1000)
    assert report.roller_power_w == pytest.approx(
        report.friction_power_w + report.rib_power_w + report.lift_power_w
    )
    assert report.motor_power_w == pytest.approx(12 * report.roller_power_w * 1.2 / 0.9)
    assert report.load == load  # what went in is shown


def test_lift_power_does_not_mind_the_speed_and_lowering_gives_nothing_back():
    lifting = replace(LOAD, crop_friction=0.0, throughput_kg_s=5.0, lift=100.0)
    slow, fast = (drive(lifting, rotation_speed=w).roller_power_w for w in (5.0, 25.0))
    assert slow == pytest.approx(fast) == pytest.approx(5 * 9.80665 * 0.1)
    assert drive(replace(lifting, lift=-100.0), rotation_speed=5.0).roller_power_w == 0


def test_no_load_no_power():
    assert drive(replace(LOAD, crop_load=0.0), rotation_speed=10.0).motor_power_w == 0


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize("omega", [7.0, -7.0])
def test_the_axial_speed_is_that_of_a_helix_really_turned(hand, omega):
    lead, dt = 400.0, 0.009
    turn_per_mm = (1 if hand == "right" else -1) * tau / lead

    def crossing(t):  # where the rib stands at angle 0, near z = 0: turn_per_mm z + omega t = 0
        z = np.linspace(-10, 10, 40001)
        return z[np.abs(np.exp(1j * (turn_per_mm * z + omega * t)) - 1).argmin()]

    seen = (crossing(0.01 + dt) - crossing(0.01 - dt)) / (2 * dt)
    assert axial_speed(Turning(rotation_speed=omega, lead=lead, hand=hand)) == pytest.approx(seen, abs=0.06)


def test_hand_and_sense_each_reverse_the_axial_speed():
    one = Turning(rotation_speed=9.0, lead=500.0)
    assert axial_speed(replace(one, hand="left")) == -axial_speed(one)
    assert axial_speed(replace(one, rotation_speed=-9.0)) == -axial_speed(one)
    assert axial_speed(replace(one, hand="left", rotation_speed=-9.0)) == axial_speed(one)
    assert axial_speed(replace(one, lead=None)) == 0


def test_alternate_hands_leave_no_drift_when_all_turn_alike():
    bed = [Turning(rotation_speed=9.0, lead=500.0, hand=("right", "left")[k % 2]) for k in range(8)]
    report = drift(bed)
    assert report.bed_drift_mm_s == 0 and report.most_axial_mm_s == pytest.approx(9 * 500 / tau)
    assert "no net drift" in report.drift_words


def test_alternate_hands_drift_all_one_way_when_neighbours_turn_against_each_other():
    bed = [
        Turning(rotation_speed=9.0 * (-1) ** k, lead=500.0, hand=("right", "left")[k % 2]) for k in range(8)
    ]
    report = drift(bed)
    assert report.bed_drift_mm_s == pytest.approx(-9 * 500 / tau) and "towards -z" in report.drift_words
    assert "same hand if they turn against" in report.drift_words
    assert drift([replace(r, hand="right") for r in bed]).bed_drift_mm_s == 0


def test_an_odd_roller_leaves_its_share():
    bed = [Turning(rotation_speed=9.0, lead=500.0, hand=hand) for hand in ("left", "right", "left")]
    assert drift(bed).bed_drift_mm_s == pytest.approx(9 * 500 / tau / 3)


def test_smooth_rollers_carry_nothing():
    assert "nothing is carried" in drift([Turning(rotation_speed=9.0)]).drift_words


def test_the_lead_is_ribs_times_spacing_and_the_spacing_alone_is_too_slow():
    right = axial_speed(Turning(rotation_speed=10.0, lead=lead_of(6, 80.0)))
    assert right == pytest.approx(6 * axial_speed(Turning(rotation_speed=10.0, lead=80.0)))


def test_surface_speed_and_helix_angle_make_the_axial_speed():
    R, lead, omega = 62.0, 450.0, 8.0
    along = surface_speed(R, omega) * np.tan(helix_angle(lead, R))
    assert abs(axial_speed(Turning(rotation_speed=omega, lead=lead))) == pytest.approx(along)


@pytest.mark.parametrize(
    "wrong, words",
    [
        (lambda: drive(LOAD, rotation_speed=0.0), "must not be 0"),
        (lambda: drive(LOAD, rotation_speed=1.0, rollers=0), "0 rollers"),
        (lambda: drive(LOAD, rotation_speed=1.0, efficiency=1.2), "efficiency 1.2"),
        (lambda: drive(LOAD, rotation_speed=1.0, service_factor=0.9), "service factor 0.9"),
        (lambda: replace(LOAD, crop_friction=-0.1), "crop_friction -0.1"),
        (lambda: replace(LOAD, rib_force=5.0), "tip_radius"),
        (lambda: axial_speed(Turning(rotation_speed=1.0, lead=0.0)), "helix pitch 0 mm"),
        (lambda: drift([]), "without rollers"),
        (lambda: lead_of(0, 80.0), "no helix"),
    ],
)
def test_nonsense_is_refused(wrong, words):
    with pytest.raises(ValueError, match=words):
        wrong()


def test_every_number_is_explained():
    known = {figure.key for figure in FIGURES}
    for report in (DriveReport, DriftReport, DriveLoad):
        assert {field.name for field in fields(report)} <= known
