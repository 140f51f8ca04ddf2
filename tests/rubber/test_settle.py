"""Shapes that keep: energies and their slopes, ridges found and left, webs that collapse alike in every mesh."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import inf, pi, radians

import numpy as np
import pytest

from rollergen.rubber.elements import Assembly, Element, assembled, forces
from rollergen.rubber.law import Law, elastic_law
from rollergen.rubber.mesher import mesh_section
from rollergen.rubber.newton import factorised, meeting_of, newton, stiffness, unbalance, ways_down
from rollergen.rubber.obstacle import Obstacle
from rollergen.rubber.press import first_peak, press
from rollergen.rubber.settle import followed, settled, valley_of
from rollergen.shape.section import section_of
from rollergen.spec.reading import profile_from_text

ELEMENTS: list[Element] = ["TH", "P0", "P2"]
LAW = Law(mu=1.84, bulk=92.0)
TEXT = """name = "t"
[body]
diameter = "112 mm"
free_length = "130 mm"
[bore]
section = "square"
across = "36 mm"
shaft_tolerance = "0.1 mm"
[chambers]
count = 6
section = "sector"
wall = "7 mm"
web = "{web} mm"
hub_wall = "7 mm"
corner_radius = "3 mm"
[compound]
name = "cast ether PU 80A"
"""


@cache
def sleeve(web: float = 7.0, size: float = 3.0, element: Element = "TH", foam: float = 0.0) -> Assembly:
    section = section_of(profile_from_text(TEXT.format(web=web)))
    mesh = mesh_section(section, size=size, foamed=range(1, 7) if foam else ())
    law = replace(LAW, c2=0.1) if foam else LAW
    return assembled(mesh, law, foam=elastic_law(foam, 0.2) if foam else None, element=element)


def solid(size: float, element: Element) -> Assembly:
    """The same without chambers: few triangles."""
    text = TEXT.format(web=7)
    text = text[: text.index("[chambers]")] + text[text.index("[compound]") :]
    return assembled(mesh_section(section_of(profile_from_text(text)), size=size), LAW, element=element)


@pytest.mark.parametrize("element", ELEMENTS)
@pytest.mark.parametrize("radius", [inf, 10.0])
def test_forces_are_the_slope_of_the_energy(element: Element, radius: float) -> None:
    """Rubber, foam and contact together, with pressures that follow."""
    assembly = sleeve(size=8.0, element=element, foam=0.5)
    meeting = meeting_of(assembly, Obstacle(angle=0.4, radius=radius), 60.0)
    valley = valley_of(meeting, 1.0)
    rng = np.random.default_rng(3)
    u = np.zeros(assembly.size)
    u[assembly.free] = rng.uniform(-0.1, 0.1, len(assembly.free))
    way = np.zeros(assembly.size)
    way[assembly.free] = rng.uniform(-1, 1, len(assembly.free))
    way[2 * len(assembly.mesh.nodes) :] = 0
    u, energy = followed(valley, u)
    h = 1e-5
    slope = (followed(valley, u + h * way)[1] - followed(valley, u - h * way)[1]) / (2 * h)
    now = unbalance(meeting, u, 1.0)
    assert now.met.force > 1 and energy > 0
    assert now.left @ way[assembly.free] == pytest.approx(slope, rel=1e-6)


@pytest.mark.parametrize("element", ELEMENTS)
def test_pressures_follow_so_that_no_volume_is_left_unbalanced(element: Element) -> None:
    assembly = sleeve(size=8.0, element=element)
    meeting = meeting_of(assembly, Obstacle(angle=0.4), 60.0)
    u = np.zeros(assembly.size)
    u[assembly.free] = np.random.default_rng(3).uniform(-0.1, 0.1, len(assembly.free))
    u, _ = followed(valley_of(meeting, 0.5), u)
    volume = forces(assembly, u, stiff=False)[0][2 * len(assembly.mesh.nodes) :]
    assert np.abs(volume).max(initial=0.0) < 1e-12


@pytest.mark.parametrize("element", ELEMENTS)
def test_ways_down_are_the_negative_eigenvalues(element: Element) -> None:
    """Counted from the pivots; against all eigenvalues of the stiffness with its pressures taken out."""
    assembly = solid(14.0, element)
    assert len(assembly.free) < 900
    displaced = 2 * len(assembly.mesh.nodes)
    counts = []
    for far in (0.0, 0.05, 0.25):
        u = np.zeros(assembly.size)
        x, y = assembly.mesh.nodes.T
        radius = np.hypot(x, y)
        u[0:displaced:2], u[1:displaced:2] = -far * x * (radius - 20) / 36, -far * y * (radius - 20) / 36
        u[np.setdiff1d(np.arange(displaced), assembly.free)] = 0
        if element == "TH":
            u, _ = followed(valley_of(meeting_of(assembly, Obstacle(angle=0.0), 60.0), 0.0), u)
        _, entries, least = forces(assembly, u)
        assert least > 0
        K = assembly.matrix(entries)
        full = K.toarray()
        m = int((assembly.free < displaced).sum())
        reduced = full[:m, :m]
        if element == "TH":
            reduced = reduced - full[:m, m:] @ np.linalg.solve(full[m:, m:], full[m:, :m])
        counts.append(int((np.linalg.eigvalsh(reduced) < 0).sum()))
        assert ways_down(assembly, factorised(K)) == counts[-1]
    assert counts[0] == 0 and counts[-1] > 0


def test_newton_refuses_a_web_that_stands_on_a_ridge_and_settling_leaves_it() -> None:
    """An exactly symmetric press: past the load at which the web buckles the straight web is a ridge."""
    assembly = sleeve()
    obstacle = Obstacle(angle=0.0)
    meeting = meeting_of(assembly, obstacle, 60.0)
    steps = press(assembly, obstacle, [1.0, 2.0, 3.0, 3.5, 4.0]).steps
    ahead = steps[-1].u + (steps[-1].u - steps[-2].u)
    found, why = newton(meeting, ahead, 4.5)
    assert found is None and "would not keep" in why
    kept, why = settled(meeting, (steps[-1].u, ahead), 4.5)
    assert kept is not None and why == ""
    assert kept.force < 0.95 * (2 * steps[-1].force - steps[-2].force)  # far below the straight web's
    assert ways_down(assembly, factorised(stiffness(assembly, unbalance(meeting, kept.u, 4.5)))) == 0


def test_settling_finds_what_newton_finds_where_there_is_one_shape() -> None:
    for element in ELEMENTS:
        assembly = solid(8.0, element)
        meeting = meeting_of(assembly, Obstacle(angle=pi / 6, radius=20.0), 60.0)
        (_, last) = press(assembly, meeting.obstacle, [0.2]).steps
        by_newton, _ = newton(meeting, last.u, 0.25)
        by_settling, _ = settled(meeting, (last.u,), 0.25)
        assert by_newton is not None and by_settling is not None
        assert by_settling.force == pytest.approx(by_newton.force, rel=1e-8)
        assert np.abs(by_settling.u - by_newton.u).max() < 1e-6


@pytest.mark.slow
def test_every_state_on_the_way_through_a_collapse_is_one_that_keeps() -> None:
    for angle in (0.0, radians(1.0)):
        assembly = sleeve()
        meeting = meeting_of(assembly, Obstacle(angle=angle), 60.0)
        found = press(assembly, meeting.obstacle, [*np.arange(1.0, 8.01, 0.5)], past_collapse=True)
        assert found.reason == ""
        for step in found.steps[1:]:
            now = unbalance(meeting, step.u, step.travel)
            assert ways_down(assembly, factorised(stiffness(assembly, now))) == 0
            assert step.least_volume > 0.85


@pytest.mark.slow
def test_a_collapse_is_the_same_in_either_element_and_mesh() -> None:
    """Values of this code on a fine mesh of plain P2, which has no pressures to stray: limits of agreement."""
    travels = [1.0, 2.0, 3.0, 3.5, 4.0, 4.5, 5.0, 5.5, 6.0]
    plain = [8.33, 9.39, 9.61, 9.45, 9.13, 8.84]  # "P2", size 1.5, from 3.5 mm
    for element, size in (("TH", 3.0), ("P0", 3.0), ("TH", 2.0)):
        found = press(
            sleeve(size=size, element=element), Obstacle(angle=radians(1)), travels, past_collapse=True
        )
        load = [step.force for step in found.steps]
        assert load[4:] == pytest.approx(plain, rel=0.03)
        peak = first_peak(load)
        assert peak is not None and found.steps[peak].travel == 4.5


@pytest.mark.slow
def test_pressing_exactly_over_a_web_ends_where_pressing_beside_it_does() -> None:
    exact, beside = (
        press(sleeve(), Obstacle(angle=radians(deg)), [*np.arange(1.0, 8.01, 0.5)], past_collapse=True).steps
        for deg in (0.0, 1.0)
    )
    assert exact[-1].force == pytest.approx(beside[-1].force, rel=0.03)
