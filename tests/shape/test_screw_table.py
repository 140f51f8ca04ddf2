"""Distance to a helical roller: the straight and the plain limit, a dense cloud, and its gradient."""

from __future__ import annotations

from functools import cache
from math import pi, tau

import numpy as np
import pytest

from rollergen.shape.distance import boundary_points, signed_distance
from rollergen.shape.outline import Outline, circle, turned
from rollergen.shape.screw_table import ScrewTable, look_up, roller_distance, screw_table, stacked
from rollergen.shape.section import section_of
from rollergen.spec.reading import profile_from_text

PROFILE = """
name = "screw-test"
[body]
diameter = "114 mm"
free_length = "150 mm"
[ribs]
count = 4
height = "9 mm"
tip_width = "10 mm"
flank_angle = "18 deg"
tip_radius = "2.5 mm"
root_radius = "4 mm"
helix_pitch = "straight"
[bore]
section = "round"
across = "30 mm"
shaft_tolerance = "0.1 mm"
[compound]
name = "test"
density = "1100 kg/m^3"
"""


@cache
def mid() -> Outline:
    return section_of(profile_from_text(PROFILE)).outer


@cache
def table_of(turn_per_mm: float, spacing: float = 0.2) -> ScrewTable:
    return screw_table(mid(), count=4, turn_per_mm=turn_per_mm, outer=100.0, spacing=spacing)


def points_around(seed: int, number: int, low: float = 58.0, high: float = 95.0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    rho, angle = rng.uniform(low, high, number), rng.uniform(0.0, tau, number)
    return np.stack([rho * np.cos(angle), rho * np.sin(angle), rng.uniform(-200.0, 200.0, number)], axis=1)


def nearest_of_cloud(turn_per_mm: float, points: np.ndarray) -> np.ndarray:
    """Brute force: the outline's own points every 0.1 mm, at heights every 0.1 mm."""
    ring = boundary_points(mid(), 0.1)
    found = []
    for x, y, z in points:
        near = np.hypot(x, y) - 56.9
        least = np.inf
        for height in z + np.arange(-near, near, 0.1):
            c, s = np.cos(turn_per_mm * height), np.sin(turn_per_mm * height)
            away = (ring[:, 0] * c - ring[:, 1] * s - x) ** 2 + (ring[:, 0] * s + ring[:, 1] * c - y) ** 2
            least = min(least, float(away.min()) + (height - z) ** 2)
        found.append(np.sqrt(least))
    return np.array(found)


def test_a_plain_circle_is_exact():
    table = screw_table(circle(46.0, "body"), count=0, turn_per_mm=0.02, outer=90.0)
    points = points_around(1, 200)
    distance, normal = roller_distance(table, points, 0.7)
    assert distance == pytest.approx(np.hypot(points[:, 0], points[:, 1]) - 46.0, abs=1e-12)
    assert normal[:, 2] == pytest.approx(0.0) and np.linalg.norm(normal, axis=1) == pytest.approx(1.0)


def test_straight_ribs_are_the_flat_distance():
    points = points_around(2, 3000)
    distance, _ = roller_distance(table_of(0.0), points, 0.3)
    error = np.abs(distance - signed_distance(turned(mid(), 0.3), points[:, :2]))
    assert error.max() < 0.07 and np.median(error) < 1e-3 and np.quantile(error, 0.98) < 0.02


def test_bilinear_error_falls_with_the_square_of_the_spacing_where_one_place_is_nearest():
    rng = np.random.default_rng(3)
    rho, angle = rng.uniform(70.0, 90.0, 2000), rng.uniform(0.075, 0.1, 2000)  # over one tip round
    points = np.stack([rho * np.cos(angle), rho * np.sin(angle), np.zeros(2000)], axis=1)
    exact = signed_distance(mid(), points[:, :2])
    error = [
        np.abs(roller_distance(table_of(0.0, spacing), points)[0] - exact).max() for spacing in (1.6, 0.4)
    ]
    assert np.log2(error[0] / error[1]) / 2 > 1.7


@pytest.mark.parametrize("pitch", [640.0, -320.0])
def test_helical_distance_is_that_of_a_dense_cloud(pitch: float):
    points = points_around(4, 25)
    distance, _ = roller_distance(table_of(tau / pitch), points)
    error = np.abs(np.abs(distance) - nearest_of_cloud(tau / pitch, points))
    assert error.max() < 0.02 and np.median(error) < 1e-3


def test_a_very_long_pitch_is_a_straight_rib():
    points = points_around(5, 500)
    points[:, 2] = 0.0
    straight, _ = roller_distance(table_of(0.0), points)
    long, _ = roller_distance(table_of(tau / 1e7), points)
    assert long == pytest.approx(straight, abs=1e-6)


def test_a_helix_is_never_further_than_its_own_section():
    points = points_around(6, 2000)
    points[:, 2] = 0.0
    straight, _ = roller_distance(table_of(0.0), points)
    helical, _ = roller_distance(table_of(tau / 320), points)
    straight, helical = straight[straight > 0.1], helical[straight > 0.1]
    assert (helical <= straight + 0.06).all() and (straight - helical).max() > 1.0


def test_turning_and_moving_along_the_helix_changes_nothing():
    table, points = table_of(tau / 640), points_around(7, 300)
    z = 37.0
    c, s = np.cos(tau / 640 * z), np.sin(tau / 640 * z)
    moved = np.stack(
        [c * points[:, 0] - s * points[:, 1], s * points[:, 0] + c * points[:, 1], points[:, 2] + z], axis=1
    )
    assert roller_distance(table, moved)[0] == pytest.approx(roller_distance(table, points)[0], abs=1e-9)


def test_mirrored_hand_mirrors_distance_and_normal():
    points = points_around(8, 500)
    right, normal = roller_distance(table_of(tau / 640), points)
    left, mirrored = roller_distance(table_of(-tau / 640), points * [1.0, 1.0, -1.0])
    error = np.abs(left - right)
    assert error.max() < 0.02 and np.median(np.abs(normal * [1, 1, -1] - mirrored)) < 1e-3


def test_going_the_distance_against_the_normal_lands_on_the_roller():
    table, points = table_of(tau / 320), points_around(9, 2000)
    distance, normal = roller_distance(table, points)
    foot, _ = roller_distance(table, points - distance[:, None] * normal)
    assert np.quantile(np.abs(foot), 0.9) < 0.03  # the rest lies where two places are nearest
    assert np.linalg.norm(normal, axis=1) == pytest.approx(1.0)


def test_inside_is_negative_and_a_stack_gives_each_its_own_table():
    one, other = table_of(0.0), table_of(tau / 640)
    stack = stacked([one, other])
    rho, theta = np.array([64.0, 64.0, 80.0]), np.array([0.0, 0.0, pi / 4])
    distance, _ = look_up(stack, np.array([0, 1, 1]), rho, theta)
    assert distance[0] == pytest.approx(-2.0, abs=0.02) and -2.0 <= distance[1] < -1.5
    assert distance[2] == pytest.approx(
        roller_distance(other, np.array([[80 * 0.5**0.5, 80 * 0.5**0.5, 0]]))[0]
    )


def test_empty_ranges_are_refused_with_numbers():
    with pytest.raises(ValueError, match="outer 50 mm must be more than inner 57 mm"):
        screw_table(mid(), count=4, turn_per_mm=0.0, outer=50.0)
    with pytest.raises(ValueError, match="spacing 0 mm"):
        screw_table(mid(), count=4, turn_per_mm=0.0, outer=90.0, spacing=0.0)
