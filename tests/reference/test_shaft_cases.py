"""Published beam, torsion and balance cases, each with where it is from."""

from __future__ import annotations

from math import pi, radians, sqrt

import numpy as np
import pytest

from rollergen.shape.bar import Bar, bore_pressure
from rollergen.study.balance import GRADES, permitted_offset
from rollergen.study.drive import Turning, axial_speed, helix_angle, lead_of, surface_speed
from rollergen.study.shaft import FIRST_MODE, Loads, Steel, first_critical_speed, shaft

RPM = pi / 30


def square(across: float) -> Bar:
    return Bar(section="square", across=across)


def series_of_saint_venant(terms: int = 200) -> tuple[float, float]:
    """J/a^4 and Q/a^3 of a square.  Source: Timoshenko and Goodier, Theory of Elasticity, torsion of rectangles."""
    n = np.arange(1, 2 * terms, 2, dtype=float)
    J = (1 - 192 / pi**5 * (np.tanh(n * pi / 2) / n**5).sum()) / 3
    with np.errstate(over="ignore"):
        steepest = 1 - 8 / pi**2 * (1 / (n**2 * np.cosh(n * pi / 2))).sum()
    return J, J / steepest


def test_b1_torsion_of_a_square():
    J, Q = series_of_saint_venant()
    assert (J, Q) == pytest.approx((0.140577, 0.208166), rel=5e-6)
    bar = square(30.0)
    assert bar.torsion_constant == pytest.approx(J * 30**4, rel=1e-6)
    assert bar.torsion_modulus == pytest.approx(Q * 30**3, rel=2e-5)
    assert bar.torsion_constant == pytest.approx(2.25 * 15**4, rel=5e-4)  # Roark, square (value from memory)
    assert bar.torsion_constant == pytest.approx(0.141 * 30**4, rel=3.1e-3)  # as handbooks print it
    assert bar.torsion_modulus == pytest.approx(0.208 * 30**3, rel=1e-3)


def test_hexagon_as_a_strength_of_materials_table_prints_it():
    # teaching table: J = 1.04 side^4, Q = 0.977 side^3 = 0.188 b^3; the printed J is 0.45 % high
    bar = Bar(section="hexagon", across=sqrt(3.0))
    assert bar.torsion_constant == pytest.approx(1.04, rel=6e-3)
    assert bar.torsion_modulus == pytest.approx(0.977, rel=3e-3)


def test_b3_square_of_30_mm_by_finite_elements():
    # sectionproperties 3.10.2, mesh 0.5 mm2: J = 113867.5, I = 67500, tau coefficient 0.20814
    bar = square(30.0)
    assert bar.torsion_constant == pytest.approx(113867.5, rel=1e-5)
    assert bar.second_moment == pytest.approx(67500, rel=1e-12)
    assert bar.torsion_modulus == pytest.approx(0.20814 * 30**3, rel=2e-4)


def test_b5_square_bar_in_torsion():
    # R. Mott, Applied Strength of Materials (title from memory): 25 mm square, 650 mm, 230 N m, G 80 GPa
    steel = Steel(modulus=80e3 * 2.6)
    report = shaft(square(25), 650, loads=Loads(rubber_kg_per_mm=0.0, torque=230e3), steel=steel)
    assert report.torsion_stress_mpa == pytest.approx(70.77, rel=5e-3)
    assert report.shaft_twist_rad == pytest.approx(0.03393, rel=5e-3)
    assert report.shaft_twist_rad == pytest.approx(radians(1.944), rel=5e-3)


def test_b6_first_of_the_hinged_modes():
    for n, printed in enumerate((9.870, 39.478, 88.826, 157.914, 246.740), start=1):
        assert n**2 * FIRST_MODE["self-aligning"] == pytest.approx(printed, abs=5e-4)


def test_b7_thirty_mm_over_1200():
    # closed form with g = 9.80665
    report = shaft(square(30), 1200, loads=Loads(rubber_kg_per_mm=0.0, crop_load=1.5))
    assert report.shaft_kg / 1.2 == pytest.approx(7.065, rel=1e-12)
    assert report.sag_own_mm == pytest.approx(0.13197, rel=4e-5)
    assert report.deflection_mm == pytest.approx(2.98911, rel=1e-5)
    assert report.bare_critical_speed_rpm == pytest.approx(2931.7, rel=2e-5)
    force = shaft(square(30), 1200, loads=Loads(rubber_kg_per_mm=0.0, crop_load=0.0, rib_force=500.0))
    assert force.sag_rib_mm == pytest.approx(1.26984, rel=1e-5)
    own = shaft(square(30), 1200, loads=Loads(rubber_kg_per_mm=0.0, crop_load=0.0))
    assert force.flat_stress_mpa - own.flat_stress_mpa == pytest.approx(33.333, rel=2e-5)
    heavy = shaft(square(30), 1200, loads=Loads(rubber_kg_per_mm=1.5 / 9.80665, crop_load=0.0))
    assert heavy.critical_speed_rpm / 60 == pytest.approx(10.2666, rel=1e-5)


def test_b8_frequency_from_sag():
    report = shaft(square(30), 1200, loads=Loads(rubber_kg_per_mm=1.5 / 9.80665, crop_load=0.0))
    f = report.critical_speed_rpm / 60
    factor = f * sqrt(report.sag_own_mm / 1000)
    assert factor == pytest.approx(pi / 2 * sqrt(5 * 9.80665 / 384), rel=1e-12)
    assert factor == pytest.approx(0.56130, abs=1e-5)
    assert f == pytest.approx(0.5615 / sqrt(report.sag_own_mm / 1000), rel=5e-4)  # as the table rounds it


def test_b9_steel():
    # EN 1993-1-1, 3.2.6: 210 000 MPa, 0.3, G about 81 000
    assert (Steel().modulus, Steel().poisson, Steel().density_kg_m3) == (210e3, 0.3, 7850.0)
    assert Steel().shear_modulus == pytest.approx(80769, rel=1e-5)


def test_ribbed_roller_on_36_mm_square():
    # worked once beforehand: 36 mm, 1500 mm, 5475 mm2 of rubber at 1130 kg/m3, 0.5 N/mm crop
    report = shaft(square(36), 1500, loads=Loads(rubber_kg_per_mm=5475 * 1130e-9))
    assert report.shaft_kg / 1.5 == pytest.approx(10.17, abs=5e-3)
    assert report.sag_own_mm == pytest.approx(0.360, abs=5e-4)
    assert report.deflection_mm == pytest.approx(1.481, abs=5e-4)
    assert report.span_per_deflection == pytest.approx(1013, abs=0.5)
    assert report.end_slope_rad == pytest.approx(3.16e-3, abs=5e-6)
    assert report.flat_stress_mpa == pytest.approx(23.9, abs=0.05)
    assert report.bending_stress_mpa == pytest.approx(33.8, abs=0.05)
    assert report.critical_speed_rpm == pytest.approx(1775, abs=1)
    assert report.bare_critical_speed_rpm == pytest.approx(2252, abs=1)
    assert bore_pressure(square(36), 40e3, 130) == pytest.approx((0.71, 0.47), abs=5e-3)


def test_nafems_fv5_shows_how_far_a_stubby_beam_is_off():
    # NAFEMS FV5: 2 x 2 x 10 m, 200 GPa, 8000 kg/m3: 42.65 Hz with shear; without it 45.35, 6 % high at L/a = 5
    bar = square(2000.0)
    omega = first_critical_speed(200e3 * bar.second_moment, bar.mass_per_mm(8000), 10_000.0)
    assert omega / (2 * pi) == pytest.approx(45.35, abs=0.01)
    assert omega / (2 * pi) / 42.650 - 1 == pytest.approx(0.063, abs=2e-3)


def test_k_grades_and_permitted_offset():
    # ISO 21940-11:2016, Table 1
    assert GRADES == (0.4, 1.0, 2.5, 6.3, 16.0, 40.0, 100.0, 250.0, 630.0, 1600.0, 4000.0)
    assert permitted_offset(6.3, 3000 * RPM) == pytest.approx(0.0200535, rel=1e-5)
    assert permitted_offset(16, 120 * RPM) == pytest.approx(1.27324, rel=1e-5)
    for rpm, mm in ((60, 2.546), (300, 0.5093), (600, 0.2546), (1200, 0.1273)):
        assert permitted_offset(16, rpm * RPM) == pytest.approx(mm, rel=3e-4)


def test_l1_to_l3_axial_speed_takes_the_lead():
    assert abs(axial_speed(Turning(rotation_speed=120 * RPM, lead=150.0))) == pytest.approx(300.0, rel=1e-14)
    assert abs(axial_speed(Turning(rotation_speed=200 * RPM, lead=90.0))) == pytest.approx(300.0, rel=1e-14)
    assert lead_of(5, 30.0) == 150.0  # five ribs, 30 mm from rib to rib


def test_l4_surface_speed():
    assert surface_speed(60.0, 200 * RPM) == pytest.approx(1256.637, rel=1e-6)
    assert surface_speed(55.0, 180 * RPM) == pytest.approx(1036.726, rel=1e-6)


def test_l5_helix_angle():
    assert helix_angle(150.0, 60.0) == pytest.approx(radians(21.70), abs=1e-4)
    assert helix_angle(150.0, 50.0) > helix_angle(150.0, 60.0)  # steeper at the root
