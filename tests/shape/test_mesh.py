"""The mesh against closed forms and independent readers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh

from rollergen.errors import BirthError
from rollergen.shape.distance import signed_distance
from rollergen.shape.mesh import Mesh, build_mesh
from rollergen.shape.mesh_check import check_manifold, mesh_volume
from rollergen.shape.part import Part
from rollergen.shape.part_volume import volume_of
from rollergen.shape.section import part_of, section_of
from rollergen.spec.reading import read_profile

PROFILES = sorted((Path(__file__).resolve().parents[2] / "profiles").glob("*.toml"))
GENERAL = next(p for p in PROFILES if p.stem == "beet-general")


def part_from(path: Path) -> Part:
    profile = read_profile(path)
    return part_of(profile, section_of(profile))


def volume(mesh: Mesh) -> float:
    return mesh_volume(mesh.vertices, mesh.triangles)


@pytest.mark.parametrize("asked", [0.2, 0.05, 0.01])
@pytest.mark.parametrize("path", PROFILES, ids=lambda p: p.stem)
def test_measured_deviation_stays_at_or_under_what_was_asked(path: Path, asked: float) -> None:
    mesh = build_mesh(part_from(path), chord_error=asked)
    assert 0 < mesh.deviation_mm <= asked


def test_volume_error_falls_in_step_with_the_chord_error() -> None:
    part = part_from(GENERAL)
    errors = [abs(volume(build_mesh(part, chord_error=e)) / volume_of(part) - 1) for e in (0.2, 0.05, 0.0125)]
    assert errors[0] / errors[2] > 8  # 16 in the limit: chord error and volume error are both second order
    assert errors[2] < 1e-4


@pytest.mark.parametrize("path", PROFILES, ids=lambda p: p.stem)
def test_independent_libraries_find_a_sound_solid(path: Path) -> None:
    part = part_from(path)
    mesh = build_mesh(part)
    read = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    assert read.is_watertight
    assert read.is_winding_consistent
    assert read.volume == pytest.approx(volume_of(part), rel=2e-3)
    body = manifold3d.Manifold(
        manifold3d.Mesh(mesh.vertices.astype(np.float32), mesh.triangles.astype(np.uint32))
    )
    assert body.status() == manifold3d.Error.NoError
    assert body.genus() == len(part.sides) - 1


def test_deviation_by_brute_force_on_the_outer_side() -> None:
    """Random points of facets between the chamfers, un-twisted, lie on the exact outline within what was asked."""
    profile = read_profile(GENERAL)
    section = section_of(profile)
    mesh = build_mesh(part_of(profile, section), chord_error=0.05)
    rng = np.random.default_rng(5)
    share = rng.dirichlet((1, 1, 1), len(mesh.triangles))
    points = np.einsum("ij,ijk->ik", share, mesh.vertices[mesh.triangles])
    z = mesh.vertices[mesh.triangles][:, :, 2]
    cut = profile.body.edge_chamfer
    far = np.hypot(points[:, 0], points[:, 1]) > profile.body_radius - profile.chambers.wall / 2
    side = far & (z.min(axis=1) > cut - 1e-9) & (z.max(axis=1) < profile.body.free_length - cut + 1e-9)
    turn = -profile.turn_per_mm * points[side, 2]
    x, y = points[side, 0], points[side, 1]
    flat = np.stack([x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)], axis=1)
    assert side.sum() > 1000
    assert np.abs(signed_distance(section.outer, flat)).max() <= 0.05


def test_a_flipped_triangle_and_a_missing_one_are_caught() -> None:
    mesh = build_mesh(part_from(GENERAL), chord_error=0.2)
    flipped = mesh.triangles.copy()
    flipped[7] = flipped[7, ::-1]
    for broken in (flipped, mesh.triangles[1:]):
        with pytest.raises(BirthError):
            check_manifold(len(mesh.vertices), replace(mesh, triangles=broken).triangles)
