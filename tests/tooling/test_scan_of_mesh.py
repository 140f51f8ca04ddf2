"""From a mesh file to points: meshes of CAD as well as of scanners, spikes left out."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from mould_case import FOLDER
from numpy.typing import NDArray
from scan_case import part_mesh, profile_with

from rollergen.shape.mesh import build_mesh
from rollergen.shape.section import part_of, section_of
from rollergen.spec.reading import read_profile
from rollergen.tooling.inspecting import lay, take
from rollergen.tooling.scan import in_mm, scan_of_mesh, smooth_patches

NAMES = ("beet-general", "beet-left", "plain-sleeve", "celeriac-transfer")


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("chord", [0.1, pytest.param(0.02, marks=pytest.mark.slow)])
def test_a_part_meshed_by_our_own_build_is_laid_and_is_of_its_size(name: str, chord: float) -> None:
    """Facets that run from end to end, points at the ends only: no scanner's mesh, yet what a user tries first.

    Chords lie inside an arc by no more than ``chord``: so far may a radius come out short.
    """
    profile = read_profile(FOLDER / f"{name}.toml")
    section = section_of(profile)
    mesh = build_mesh(part_of(profile, section), chord_error=chord)
    turned = np.array([[0.36, 0.48, -0.8], [-0.8, 0.6, 0.0], [0.48, 0.64, 0.6]])  # a rotation, lengths 1
    scan = scan_of_mesh(mesh.vertices @ turned.T + [30.0, -200.0, 5.0], mesh.triangles.astype(np.int64))
    assert scan.filled > 0.5
    taken = take(lay(scan, profile, section))
    found = {key: reading.value for key, reading in taken.readings.items()}
    assert found["body.diameter"] == pytest.approx(profile.body.diameter, abs=2.5 * chord)
    assert found["body.free_length"] == pytest.approx(profile.body.free_length, abs=0.02)
    asked = {"ribs.root_radius": profile.ribs and profile.ribs.root_radius,
             "ribs.tip_radius": profile.ribs and profile.ribs.tip_radius,
             "bore.corner_radius": profile.bore.corner_radius}  # fmt: skip
    for key in asked.keys() & found.keys():  # read where facets follow it, else said to be too small
        assert found[key] == pytest.approx(asked[key], abs=0.25)


def tube() -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Corners and facets of 24 long flats about an axis, 50 mm from it to their edges."""
    turn = np.arange(24) * np.pi / 12
    ring = np.stack([50 * np.cos(turn), 50 * np.sin(turn)], axis=1)
    corners = np.concatenate([np.column_stack([ring, np.full(24, z)]) for z in (0.0, 150.0)])
    low, nxt = np.arange(24), (np.arange(24) + 1) % 24
    facets = np.concatenate(
        [np.stack([low, nxt, nxt + 24], axis=1), np.stack([low, nxt + 24, low + 24], axis=1)]
    )
    return corners, facets


def test_facets_cut_across_a_curve_by_the_height_of_its_arcs() -> None:
    """Arcs of 15 deg at 50 mm: 50 (1 - cos 7.5 deg) high; in inches as many inches; a noisy scan has none."""
    corners, facets = tube()
    assert scan_of_mesh(corners, facets).chord == pytest.approx(50 * (1 - np.cos(np.pi / 24)), rel=0.01)
    assert in_mm(scan_of_mesh(corners / 25.4, facets), 25.4).chord == pytest.approx(0.4278, rel=0.01)
    assert scan_of_mesh(*part_mesh(profile_with(), spacing=2.2)).chord == 0


def test_normals_of_points_in_rows_are_those_of_their_facets() -> None:
    """A tube of 24 long facets: every patch on it looks straight out, none along the axis."""
    corners, facets = tube()
    points, normals, _ = smooth_patches(scan_of_mesh(corners, facets), 12.0)
    out = points[:, :2] / np.hypot(*points[:, :2].T)[:, None]
    assert len(points) > 100
    assert np.abs(normals[:, 2]).max() < 0.2
    assert np.einsum("ij,ij->i", normals[:, :2], out).min() > 0.95


def test_spikes_are_left_out_and_told_and_a_clamp_beside_the_part_is_not(tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    turn, z = np.meshgrid(np.arange(200) * 2 * np.pi / 200, np.linspace(0, 100, 60))
    ring = np.stack([40 * np.cos(turn), 40 * np.sin(turn), z], axis=-1).reshape(-1, 3)
    row, column = np.meshgrid(np.arange(59), np.arange(200), indexing="ij")
    a, b = (row * 200 + column).ravel(), (row * 200 + (column + 1) % 200).ravel()
    facets = np.concatenate([np.stack([a, b, b + 200], axis=1), np.stack([a, b + 200, a + 200], axis=1)])
    sound = scan_of_mesh(ring, facets)
    assert sound.notes == () and sound.filled == 0.0
    spiky = ring.copy()
    at = rng.choice(len(ring), 12, replace=False)
    spiky[at] += 400.0
    found = scan_of_mesh(spiky, facets)
    assert found.filled == 0.0 and "12 points far off" in found.notes[0]
    assert np.abs(found.points).max() <= 100.0
    assert len(found.points) >= len(ring) - 12 - 12 * 6
    beside = np.concatenate([ring, ring + [300.0, 0.0, 0.0]])
    both = scan_of_mesh(beside, np.concatenate([facets, facets + len(ring)]))
    assert both.notes == () and len(both.points) == 2 * len(ring)
