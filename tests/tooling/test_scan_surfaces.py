"""Distances of scanned points to the exact surfaces, and the fits that rest on them, without any noise."""

from __future__ import annotations

from math import pi, tau

import numpy as np
import pytest
from scan_case import part_mesh, profile_with

from rollergen.shape.distance import signed_distance
from rollergen.shape.outline import turned
from rollergen.shape.section import section_of
from rollergen.tooling.scan_readings import chamber_shape_of
from rollergen.tooling.scan_surfaces import (
    CHAMBER,
    HIGH_END,
    LOW_END,
    OUTER,
    look_at,
    nearest_surface,
    surfaces_of,
)
from rollergen.tooling.section_fit import fit_bore, fit_chambers, fit_outer, fit_scale

PROFILE = profile_with()
SECTION = section_of(PROFILE)
SURFACES = surfaces_of(PROFILE, SECTION)


def scattered(seed: int, count: int = 3000) -> np.ndarray:
    rng = np.random.default_rng(seed)
    r, a = rng.uniform(5.0, 75.0, count), rng.uniform(0, tau, count)
    return np.stack([r * np.cos(a), r * np.sin(a), rng.uniform(0, 152, count)], axis=1)


def test_one_rib_and_one_chamber_stand_for_all() -> None:
    """In the section: the distance to the drawn repeat is the distance to the whole outline, exactly."""
    points = scattered(1)
    points[:, 2] = 0.0
    look = look_at(SURFACES.outer, points)
    lean = np.sqrt(1 + (look.normal[:, 2] / np.hypot(look.normal[:, 0], look.normal[:, 1])) ** 2)
    assert np.allclose(look.deviation * lean, signed_distance(SECTION.outer, points[:, :2]), atol=1e-9)
    assert SURFACES.chambers is not None
    alone = np.min([signed_distance(hole, points[:, :2]) for hole in SECTION.chambers], axis=0)
    assert np.allclose(-look_at(SURFACES.chambers, points).deviation, alone, atol=1e-9)


def test_a_point_at_height_sees_the_section_turned_by_the_twist() -> None:
    points = scattered(2, 400)
    points[:, 2] = 60.0
    look = look_at(SURFACES.outer, points)
    flat = signed_distance(turned(SECTION.outer, PROFILE.turn_per_mm * 60.0), points[:, :2])
    assert np.all(np.sign(look.deviation) == np.sign(flat))
    assert np.all(np.abs(look.deviation) <= np.abs(flat) + 1e-12)  # the lean only shortens


def test_distance_off_the_helical_surface_is_exact_to_second_order() -> None:
    """Step d along the normal from points on the surface: the distance found is d, with an error like d squared."""
    on, _ = part_mesh(PROFILE, spacing=3.0)
    kind, look = nearest_surface(SURFACES, on, None)
    side = (kind == OUTER) & (on[:, 2] > 1) & (on[:, 2] < 151)
    assert np.abs(look.deviation[side]).max() < 1e-9
    errors = []
    for d in (0.4, 0.2, 0.1):
        off = look_at(SURFACES.outer, on[side] + d * look.normal[side]).deviation - d
        errors.append(float(np.percentile(np.abs(off), 99)))
    assert errors[0] < 0.02
    assert np.log2(errors[0] / errors[1]) > 1.8 and np.log2(errors[1] / errors[2]) > 1.8


def test_normals_are_the_gradient_of_the_distance() -> None:
    on, _ = part_mesh(PROFILE, spacing=4.0)
    kind, look = nearest_surface(SURFACES, on, None)
    rows = np.flatnonzero((kind == OUTER) & (np.abs(look.deviation) < 1e-9))[::7]
    normal = look_at(SURFACES.outer, on[rows] + 0.05 * look.normal[rows]).normal
    base = on[rows] + 0.05 * look.normal[rows]
    numeric = np.stack(
        [
            (
                look_at(SURFACES.outer, base + 1e-5 * e).deviation
                - look_at(SURFACES.outer, base - 1e-5 * e).deviation
            )
            / 2e-5
            for e in np.eye(3)
        ],
        axis=1,
    )
    assert np.percentile(np.abs(numeric - normal), 98) < 2e-3  # the lean changes a little off the surface


def test_ends_and_holes_are_told_apart_by_facing() -> None:
    on, facets = part_mesh(PROFILE, spacing=3.0)
    normals = np.zeros_like(on)
    cross = np.cross(on[facets[:, 1]] - on[facets[:, 0]], on[facets[:, 2]] - on[facets[:, 0]])
    for corner in range(3):
        np.add.at(normals, facets[:, corner], cross)
    used = np.linalg.norm(normals, axis=1) > 0
    on, normals = on[used], normals[used] / np.linalg.norm(normals[used], axis=1)[:, None]
    kind, look = nearest_surface(SURFACES, on, normals)
    assert np.abs(look.deviation).max() < 1e-9
    assert np.all(normals[kind == LOW_END, 2] < -0.99) and np.all(normals[kind == HIGH_END, 2] > 0.99)
    assert np.all(np.abs(normals[kind == CHAMBER, 2]) < 1e-9)


@pytest.mark.parametrize(("radial", "axial"), [(0.985, 0.99)])
def test_exact_points_give_exact_values(radial: float, axial: float) -> None:
    """No noise: every value of the outer surface comes back to a micrometre, though it starts up to 1.5 % off."""
    on, _ = part_mesh(PROFILE, spacing=5.0, radial=radial, axial=axial, chambers=False)
    outer = on[(np.hypot(on[:, 0], on[:, 1]) > 57) & (on[:, 2] > 1) & (on[:, 2] < 152 * axial - 1)]
    m = fit_outer(outer, PROFILE)
    expected = {
        "radius": 59 * radial, "height": 9 * radial, "tip_width": 11 * radial, "tip_radius": 2.5 * radial,
        "root_radius": 4 * radial, "flank_angle_ahead": pi / 12, "flank_angle_behind": pi / 12,
        "twist": PROFILE.turn_per_mm / axial,
    }  # fmt: skip
    for key, value in expected.items():
        assert m.value[key] == pytest.approx(value, abs=1e-3 if key != "twist" else 1e-8), key
    half = fit_scale(outer, SURFACES.outer, 76.0)
    assert half.value["scale"] == pytest.approx(radial, abs=1e-6)


def test_bore_and_chambers_come_back_with_their_offset() -> None:
    on, _ = part_mesh(PROFILE, spacing=2.0)
    r = np.hypot(on[:, 0], on[:, 1])
    inner = (on[:, 2] > 1) & (on[:, 2] < 151)
    bore = on[inner & (r < 27)] + [0.3, -0.2, 0.0]
    m = fit_bore(bore, PROFILE)
    assert m.value["width"] == pytest.approx(38.3, abs=1e-4)
    assert m.value["corner_radius"] == pytest.approx(1.5, abs=1e-3)
    assert (m.value["x"], m.value["y"]) == pytest.approx((0.3, -0.2), abs=1e-4)
    shape = chamber_shape_of(PROFILE, SECTION)
    assert shape is not None and shape.outer == pytest.approx(51.0)
    chambers = fit_chambers(on[inner & (r > 33) & (r < 51.5)], shape, 76.0)
    assert chambers.value["outer"] == pytest.approx(51.0, abs=1e-3)
    assert chambers.value["web"] == pytest.approx(8.0, abs=1e-3)


def test_a_rib_three_mm_too_low_is_still_measured() -> None:
    low = profile_with(('height = "9 mm"', 'height = "6 mm"'))
    on, _ = part_mesh(low, spacing=5.0, chambers=False)
    outer = on[(np.hypot(on[:, 0], on[:, 1]) > 57) & (on[:, 2] > 1) & (on[:, 2] < 151)]
    assert fit_outer(outer, PROFILE).value["height"] == pytest.approx(6.0, abs=2e-3)


def test_a_feature_without_points_keeps_a_large_error() -> None:
    on, _ = part_mesh(PROFILE, spacing=3.0, chambers=False)
    r = np.hypot(on[:, 0], on[:, 1])
    floor = on[(r > 57) & (r < 59.001) & (on[:, 2] > 1) & (on[:, 2] < 151)]
    m = fit_outer(floor, PROFILE)
    assert m.error["radius"] < 1e-3 and m.error["tip_radius"] > 0.5
