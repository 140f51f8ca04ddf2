"""Six-node triangles alone: their slopes, area scale, area and quality against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from rollergen.rubber.plane_mesh import (
    PlaneMesh,
    jacobians,
    least_jacobian,
    mesh_area,
    quality_of,
    shape_slopes,
)

CORNERS = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
SPOTS = np.array([[0.2, 0.3], [1 / 3, 1 / 3], [0.0, 0.0], [0.6, 0.4], [0.05, 0.9]])


def triangle(corners: np.ndarray, *, bulge: float = 0.0) -> PlaneMesh:
    """One triangle; the middle of its first side moved outwards by ``bulge``."""
    corners = np.asarray(corners, dtype=np.float64)
    middles = (corners + np.roll(corners, -1, axis=0)) / 2
    along = corners[1] - corners[0]
    middles[0] += bulge * np.array([along[1], -along[0]]) / np.linalg.norm(along)
    rim = np.array([[0, 3, 1], [1, 4, 2], [2, 5, 0]])
    return PlaneMesh(
        nodes=np.concatenate([corners, middles]),
        triangles=np.arange(6)[None],
        filled=np.zeros(1, dtype=np.int64),
        outer=rim,
        bore=np.zeros((0, 3), dtype=np.int64),
        chambers=(),
    )


def test_slopes_of_every_quadratic_are_exact() -> None:
    nodes = np.concatenate([CORNERS, (CORNERS + np.roll(CORNERS, -1, axis=0)) / 2])
    x, y = nodes.T
    r, s = SPOTS.T
    zero, one = np.zeros_like(r), np.ones_like(r)
    cases = [
        (np.ones(6), zero, zero), (x, one, zero), (y, zero, one),
        (x * x, 2 * r, zero), (x * y, s, r), (y * y, zero, 2 * s),
    ]  # fmt: skip
    for values, along_r, along_s in cases:
        found = np.einsum("n,qnd->qd", values, shape_slopes(SPOTS))
        assert found == pytest.approx(np.stack([along_r, along_s], axis=1), abs=1e-14)


def test_a_straight_triangle_has_twice_its_area_as_scale_everywhere() -> None:
    mesh = triangle([[1, 2], [6, 3], [2, 7]])  # cross product 5 * 5 - 1 * 1 = 24
    assert jacobians(mesh, SPOTS) == pytest.approx(np.full((1, 5), 24.0), rel=1e-14)
    assert least_jacobian(mesh) == pytest.approx([24.0]) and mesh_area(mesh) == pytest.approx(12.0)


@pytest.mark.parametrize("bulge", [0.3, -0.2])
def test_a_parabolic_side_adds_two_thirds_of_its_rise(bulge: float) -> None:
    mesh = triangle([[0, 0], [4, 0], [1, 3]], bulge=bulge)
    # a parabola over a chord encloses 2/3 chord x rise (Archimedes)
    assert mesh_area(mesh) == pytest.approx(6.0 + 2 / 3 * 4 * bulge, rel=1e-14)


@pytest.mark.parametrize(("apex", "at_most"), [(0.5, 1 / 2), (0.0, 1 / 4)])
def test_a_side_bent_in_too_far_folds_the_triangle(apex: float, at_most: float) -> None:
    # base a, height h, apex over the share of the base, its middle raised by c: on the base the scale is
    # a (h - 2 c) under a middle apex, and a (h - 4 c) at the far corner of a right-angled one
    base, height = 4.0, 3.0
    for share in (0.2, 0.24, 0.26, 0.49, 0.51):
        mesh = triangle([[0, 0], [base, 0], [apex * base, height]], bulge=-share * height)
        wanted = base * height * (1 - share / at_most)
        assert least_jacobian(mesh) == pytest.approx([wanted], rel=1e-12)
        assert (least_jacobian(mesh)[0] > 0) == (share < at_most)


def test_quality_of_known_triangles() -> None:
    equal = triangle([[0, 0], [2, 0], [1, 3**0.5]])
    right = triangle(CORNERS * 5)
    flat = triangle([[0, 0], [2, 0], [1, 0]])
    turned = triangle(CORNERS[::-1])
    assert quality_of(equal) == pytest.approx([1.0])
    assert quality_of(right) == pytest.approx([3**0.5 / 2])  # 4 sqrt3 / 2 over 1 + 1 + 2
    assert quality_of(flat) == pytest.approx([0.0]) and quality_of(turned) == pytest.approx([-(3**0.5) / 2])
