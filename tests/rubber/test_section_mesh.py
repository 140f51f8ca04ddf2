"""The mesh of a section: its area, its edges on the true curve, its topology, and what it refuses."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollergen.errors import ProfileError
from rollergen.rubber.measures import loop_area
from rollergen.rubber.mesher import inside, mesh_section
from rollergen.rubber.plane_mesh import PlaneMesh, least_jacobian, mesh_area, quality_of
from rollergen.shape.distance import signed_distance
from rollergen.shape.outline import circle, turned
from rollergen.shape.properties import area_of, perimeter_of
from rollergen.shape.section import Section, section_of
from rollergen.spec.reading import profile_from_text, read_profile

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))


def sleeve(wall: float = 7.0, *, count: int = 6, web: float = 7.0, foam: str = "", ribs: str = "") -> Section:
    text = f"""name = "t"
[body]
diameter = "112 mm"
free_length = "130 mm"
{ribs}
[bore]
section = "square"
across = "36 mm"
shaft_tolerance = "0.1 mm"
[chambers]
count = {count}
section = "sector"
wall = "{wall} mm"
web = "{web} mm"
hub_wall = "7 mm"
corner_radius = "3 mm"
{foam}
[compound]
name = "cast ether PU 80A"
"""
    return section_of(profile_from_text(text))


def exact_area(section: Section) -> float:
    return area_of(section.outer) - sum(area_of(hole) for hole in section.holes)


def sides_of(mesh: PlaneMesh) -> tuple[np.ndarray, np.ndarray]:
    """(corner pairs, how many triangles have each)."""
    t = mesh.triangles[:, :3]
    pairs = np.sort(t[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    return np.unique(pairs, axis=0, return_counts=True)


@pytest.mark.parametrize("size", [3.0, 1.75])
@pytest.mark.parametrize("path", PROFILES, ids=lambda p: p.stem)
def test_every_profile_is_meshed_whole(path: Path, size: float) -> None:
    section = section_of(read_profile(path))
    mesh = mesh_section(section, size=size)
    assert mesh_area(mesh) == pytest.approx(exact_area(section), rel=2e-4)
    assert least_jacobian(mesh).min() > 0
    quality = quality_of(mesh)
    assert quality.min() > 0.3 and quality.mean() > 0.9
    for outline, loop in zip(
        (section.outer, *section.holes), (mesh.outer, mesh.bore, *mesh.chambers), strict=True
    ):
        assert np.abs(signed_distance(outline, mesh.nodes[loop.ravel()])).max() < 1e-9
        assert np.array_equal(loop[:, 2], np.roll(loop[:, 0], -1))  # closed, in order
        assert loop_area(mesh.nodes, loop) == pytest.approx(area_of(outline), rel=1e-3)
        # the bore is held by its shaft, so its corners are cut coarse
        near = 5e-3 if loop is mesh.bore else 2e-3
        chords = np.linalg.norm(np.diff(mesh.nodes[loop], axis=1), axis=2).sum()
        assert (
            chords == pytest.approx(perimeter_of(outline), rel=near) and chords < perimeter_of(outline) + 1e-9
        )


@pytest.mark.parametrize("path", PROFILES, ids=lambda p: p.stem)
def test_triangles_fit_together(path: Path) -> None:
    section = section_of(read_profile(path))
    mesh = mesh_section(section, size=3.0)
    pairs, count = sides_of(mesh)
    edges = np.concatenate([mesh.outer, mesh.bore, *mesh.chambers])
    rim = np.sort(edges[:, [0, 2]], axis=1)
    assert set(np.unique(count)) == {1, 2}
    assert {tuple(p) for p in pairs[count == 1]} == {tuple(p) for p in rim} and len(rim) == (count == 1).sum()
    corners = len(np.unique(mesh.triangles[:, :3]))
    # Euler: one disc less its holes
    assert corners - len(pairs) + len(mesh.triangles) == 1 - len(section.holes)
    assert np.array_equal(np.unique(mesh.triangles), np.arange(len(mesh.nodes)))
    middle = mesh.nodes[pairs].mean(axis=1)
    inner = np.setdiff1d(np.unique(mesh.triangles[:, 3:]), edges[:, 1])
    assert {tuple(x) for x in np.round(mesh.nodes[inner], 9)} <= {tuple(x) for x in np.round(middle, 9)}


def test_the_area_converges_fast_because_edges_are_curved() -> None:
    section = sleeve()
    misses = [
        abs(mesh_area(mesh_section(section, size=h)) / exact_area(section) - 1) for h in (4.0, 2.0, 1.0)
    ]
    # fillets are cut by their own radius, so the miss is small from the start
    assert misses[0] < 1e-5 and misses[2] < misses[0] / 4


def test_at_least_two_triangles_lie_across_the_thinnest_wall() -> None:
    section = sleeve(wall=2.0)
    mesh = mesh_section(section, size=6.0)
    x, y = mesh.nodes[mesh.triangles[:, :3]].mean(axis=1).T
    in_wall = np.hypot(x, y) > 54.0
    # one triangle across would have corners on both sides of the wall only
    radius = np.hypot(*mesh.nodes.T)
    inside_wall = (radius > 54.2) & (radius < 55.8)
    assert in_wall.any() and inside_wall.sum() > 60


def test_foam_shares_the_nodes_of_its_chamber() -> None:
    section = sleeve()
    mesh = mesh_section(section, size=3.0, foamed=(2, 5))
    assert sorted(np.unique(mesh.filled)) == [0, 2, 5]
    wanted = exact_area(section) + area_of(section.chambers[1]) + area_of(section.chambers[4])
    assert mesh_area(mesh) == pytest.approx(wanted, rel=1e-4)
    for number in (2, 5):
        of_foam = np.unique(mesh.triangles[mesh.filled == number])
        of_rubber = np.unique(mesh.triangles[mesh.filled == 0])
        shared = np.intersect1d(of_foam, of_rubber)
        assert set(shared) == set(np.unique(mesh.chambers[number - 1]))
    pairs, count = sides_of(mesh)
    assert count.max() == 2


def test_turning_the_section_turns_the_mesh_s_measure() -> None:
    section = sleeve()
    by = 0.37
    other = Section(
        outer=turned(section.outer, by), bore=turned(section.bore, by),
        chambers=tuple(turned(c, by) for c in section.chambers),
    )  # fmt: skip
    a, b = mesh_section(section, size=3.0), mesh_section(other, size=3.0)
    assert mesh_area(a) == pytest.approx(mesh_area(b), rel=1e-5)
    assert len(a.outer) == len(b.outer)


def test_same_section_same_mesh() -> None:
    section = sleeve()
    a, b = mesh_section(section, size=3.0), mesh_section(section, size=3.0)
    assert np.array_equal(a.nodes, b.nodes) and np.array_equal(a.triangles, b.triangles)


def test_too_fine_is_refused_with_a_number() -> None:
    with pytest.raises(ProfileError, match=r"nodes would be needed, at most 60000"):
        mesh_section(sleeve(), size=0.3)
    with pytest.raises(ValueError, match="above 0"):
        mesh_section(sleeve(), size=0.0)


def test_a_wall_too_thin_to_follow_is_refused() -> None:
    with pytest.raises(ProfileError, match=r"nodes would be needed|too thin"):
        tube = Section(outer=circle(50.0, "body"), bore=circle(49.98, "bore"), chambers=())
        mesh_section(tube, size=3.0)


def test_inside_a_polygon_that_is_not_convex() -> None:
    notched = np.array([[0, 0], [4, 0], [4, 4], [2, 1], [0, 4]], dtype=float)
    points = np.array([[1, 0.5], [2, 2], [0.5, 3], [3.5, 3], [5, 1], [2, 0.9]])
    assert inside(notched, points).tolist() == [True, False, True, True, False, True]


@settings(max_examples=12, deadline=None)
@given(
    wall=st.floats(3.0, 12.0), web=st.floats(3.0, 10.0), count=st.integers(2, 10), size=st.floats(2.5, 6.0)
)
def test_random_sleeves(wall: float, web: float, count: int, size: float) -> None:
    try:
        section = sleeve(wall, count=count, web=web)
    except ProfileError:
        return  # no such section
    mesh = mesh_section(section, size=size)
    assert mesh_area(mesh) == pytest.approx(exact_area(section), rel=1e-3)
    assert least_jacobian(mesh).min() > 0 and quality_of(mesh).min() > 0.1
