"""Parts in their places: rigid motions that keep volume, sense and hand; meshes joined as separate shells."""

from __future__ import annotations

from math import pi, tau

import numpy as np
import pytest
import trimesh

from rollergen.shape.mesh import build_mesh
from rollergen.shape.mesh_check import mesh_volume
from rollergen.shape.placing import Placing, joined_mesh, placed_mesh
from rollergen.shape.section import part_of, section_of
from rollergen.spec.reading import profile_from_text
from rollergen.spec.schema import starting_profile

PROFILE = profile_from_text(starting_profile())
MESH = build_mesh(part_of(PROFILE, section_of(PROFILE)), chord_error=0.1)


def phase_at(mesh: trimesh.Trimesh, z: float) -> float:
    """Angle of the five ribs in a slice of the mesh, between -pi/5 and pi/5."""
    cut = mesh.section(plane_origin=[0, 0, z], plane_normal=[0, 0, 1])
    outside = max((np.asarray(loop)[:, :2] for loop in cut.discrete), key=lambda loop: np.abs(loop).max())
    radius, angle = np.hypot(*outside.T), np.arctan2(*outside.T[::-1])
    high = radius > 60.0
    return float(np.angle(np.sum((radius[high] - 60.0) * np.exp(5j * angle[high]))) / 5)


def turned_by(mesh: trimesh.Trimesh, low: float, high: float) -> float:
    step = phase_at(mesh, high) - phase_at(mesh, low)
    return (step + pi / 5) % (tau / 5) - pi / 5


@pytest.mark.parametrize("flipped", [False, True])
@pytest.mark.parametrize("rotation", [0.0, 0.7, -2.0])
def test_a_placing_is_rigid_and_keeps_volume_and_hand(rotation: float, flipped: bool) -> None:
    placing = Placing(z=40.0, rotation=rotation, flipped=flipped, length=150.0)
    turn = placing.matrix[:, :3]
    assert np.allclose(turn @ turn.T, np.eye(3), atol=1e-15)
    assert np.linalg.det(turn) == pytest.approx(1.0)
    moved = placed_mesh(MESH, placing)
    assert mesh_volume(moved.vertices, moved.triangles) == pytest.approx(
        mesh_volume(MESH.vertices, MESH.triangles), rel=1e-12
    )
    assert (moved.vertices[:, 2].min(), moved.vertices[:, 2].max()) == pytest.approx((40.0, 190.0))
    read = trimesh.Trimesh(moved.vertices, moved.triangles, process=False)
    # a right-hand helix of 650 mm turns 20 mm * 360 / 650, whichever end is up
    assert turned_by(read, 100.0, 120.0) == pytest.approx(20 * tau / 650, rel=0.02)


def test_turning_turns_the_ribs_by_as_much() -> None:
    still = trimesh.Trimesh(MESH.vertices, MESH.triangles, process=False)
    moved = placed_mesh(MESH, Placing(z=0.0, rotation=0.3, length=150.0))
    turned = trimesh.Trimesh(moved.vertices, moved.triangles, process=False)
    step = phase_at(turned, 75.0) - phase_at(still, 75.0)
    assert (step + pi / 5) % (tau / 5) - pi / 5 == pytest.approx(
        0.3, abs=3e-3
    )  # a loop counts its first point twice


def test_joined_meshes_are_as_many_closed_shells() -> None:
    pieces = [placed_mesh(MESH, Placing(z=150.0 * k, rotation=0.5 * k, length=150.0)) for k in range(3)]
    whole = joined_mesh(pieces)
    read = trimesh.Trimesh(whole.vertices, whole.triangles, process=False)
    assert read.is_watertight and read.body_count == 3
    assert mesh_volume(whole.vertices, whole.triangles) == pytest.approx(
        3 * mesh_volume(MESH.vertices, MESH.triangles), rel=1e-9
    )
    assert len(set(whole.surface)) == 3 * len(set(MESH.surface))
    with pytest.raises(ValueError, match="no meshes"):
        joined_mesh([])
