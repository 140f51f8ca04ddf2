"""Joints go together in one turn, by a road that knows nothing of how they are drawn; clearances that work."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from math import cos, pi, radians, sin
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import linprog
from shapely.geometry import Polygon

from rollergen.answer.prototype import PrintAsked, Prototype, prototype_of
from rollergen.answer.report import Drawn, draw_profile
from rollergen.errors import ProfileError
from rollergen.shape.bore import rounded_polygon
from rollergen.shape.distance import boundary_points
from rollergen.shape.offset import inward
from rollergen.shape.outline import Outline, mirrored_edges
from rollergen.shape.properties import area_of
from rollergen.spec.reading import profile_from_text
from rollergen.tooling.print_checks import Printer
from rollergen.tooling.print_joint import Joint, Seat
from rollergen.tooling.print_key import corner_cut, depth_of, key_depth, needed_depth, sides_of

PROFILES = Path(__file__).parents[2] / "profiles"
PRINTER = Printer(plate=(220.0, 220.0), height=250.0)
GENERAL = (PROFILES / "beet-general.toml").read_text()
BORES = {
    "square": "",
    "sharp": "",
    "hexagon": 'section = "hexagon"',
    "round": 'section = "round"',
    "keyed": 'section = "keyed"\nkey_width = "10 mm"\nkey_depth = "3.3 mm"',
}
FEW_BORES = [b if b in ("square", "keyed") else pytest.param(b, marks=pytest.mark.slow) for b in BORES]


@cache
def drawn(bore: str, more: tuple[tuple[str, str], ...] = ()) -> Drawn:
    text = GENERAL
    if bore == "sharp":
        more = (('corner_radius = "2 mm"\nshaft_corner_radius = "2 mm"', 'corner_radius = "0 mm"'), *more)
    elif BORES[bore]:
        more = ((re.search(r'section = "square".*', text)[0], BORES[bore]), *more)
    if bore == "round":
        more = (('corner_radius = "2 mm"\nshaft_corner_radius = "2 mm"', ""), *more)
    if bore == "keyed":
        more = (('corner_radius = "2 mm"\nshaft_corner_radius = "2 mm"', 'corner_radius = "0.5 mm"'), *more)
    for old, new in more:
        assert old in text, old
        text = text.replace(old, new, 1)
    return draw_profile(profile_from_text(text))


def cut(bore: str, more: tuple[tuple[str, str], ...] = (), **asked) -> Prototype:
    printer = asked.pop("printer", PRINTER)
    return prototype_of(
        drawn(bore, more), PrintAsked(printer=printer, cuts=asked.pop("cuts", (75.0,)), **asked)
    )


def seat_of(found: Prototype) -> Seat:
    assert found.seat is not None
    return found.seat


def turned_points(points: np.ndarray, deg: float) -> np.ndarray:
    c, s = cos(radians(deg)), sin(radians(deg))
    return points @ np.array([[c, s], [-s, c]])


def goes_in(step: np.ndarray, recess: np.ndarray, deg: float, slack: float = 8e-3) -> bool:
    """Whether the step's convex hull, turned, has a place within the recess's: a linear program over the shift.

    Hulls are looser than what they hold: "no" is certain for any outline, "yes" only for convex ones.
    """
    hull = np.array(Polygon(recess).convex_hull.exterior.coords)
    along = np.diff(hull, axis=0)
    long = np.hypot(*along.T)
    along, at = along[long > 1e-9] / long[long > 1e-9, None], hull[:-1][long > 1e-9]
    way = 1.0 if Polygon(hull).exterior.is_ccw else -1.0
    normal = way * np.stack([along[:, 1], -along[:, 0]], axis=1)
    room = np.einsum("ij,ij->i", normal, at) - (normal @ turned_points(step, deg).T).max(axis=1)
    done = linprog([0.0, 0.0], A_ub=normal, b_ub=room + slack, bounds=[(None, None)] * 2)
    return done.status == 0


def overlap(step: np.ndarray, recess: np.ndarray, deg: float) -> float:
    """Area of the centred step, turned, outside the recess (mm2)."""
    return Polygon(turned_points(step, deg)).difference(Polygon(recess)).area


def points_of(seat: Seat) -> tuple[np.ndarray, np.ndarray]:
    return boundary_points(seat.step, 0.4), boundary_points(seat.recess, 0.4)


@pytest.mark.parametrize("around", [0.15, pytest.param(0.4, marks=pytest.mark.slow)])
@pytest.mark.parametrize("bore", BORES)
def test_pieces_go_together_in_one_turn_only(bore: str, around: float) -> None:
    """Every degree, wherever the step is moved to: it fits about 0, within its play, and nowhere else."""
    found = cut(bore, joint=Joint(around=around))
    seat, joint = seat_of(found), found.joint
    assert joint is not None and seat.ways == joint.joint_ways == 1
    assert (seat.flat > 0) == (bore != "keyed")
    step, recess = points_of(seat)
    fine = boundary_points(seat.step, 0.1), boundary_points(seat.recess, 0.1)
    # a hull forgives a key a little more than its slot does
    band = seat.play_deg + (12.0 if bore == "keyed" else 1.0)
    fits = [deg for deg in range(-180, 180) if goes_in(step, recess, deg)]
    assert 0 in fits and max(abs(deg) for deg in fits) <= band
    for deg in range(-180, 180):
        touches = overlap(*fine, deg) > 1e-3
        assert touches == (abs(deg) > seat.play_deg), deg
    if bore not in ("keyed", "round"):
        assert not any("ways" in warning for warning in found.report.warnings)


@pytest.mark.parametrize("bore", BORES)
def test_a_step_turns_as_far_as_told(bore: str) -> None:
    seat = seat_of(cut(bore))
    step, recess = boundary_points(seat.step, 0.05), boundary_points(seat.recess, 0.05)
    for way in (1, -1):
        assert overlap(step, recess, way * (seat.play_deg - 0.03)) < 1e-5
        assert overlap(step, recess, way * (seat.play_deg + 0.05)) > 1e-5


@pytest.mark.parametrize(
    ("bore", "ways"), [("square", 4), ("hexagon", 6), pytest.param("sharp", 4, marks=pytest.mark.slow)]
)
def test_a_thin_rim_goes_together_many_ways_and_says_so(bore: str, ways: int) -> None:
    """The oracle finds every one of them; the rim the warning names leaves one."""
    found = cut(bore, joint=Joint(rim=0.95))
    seat = seat_of(found)
    step, recess = points_of(seat)
    fits = [deg for deg in range(-180, 180) if goes_in(step, recess, deg)]
    assert seat.ways == ways == sum(deg % (360 // ways) == 0 for deg in fits) and seat.flat == 0
    (told,) = (warning for warning in found.report.warnings if f"{ways} ways" in warning)
    rim = float(re.search(r'--joint-rim "([0-9.]+) mm"', told)[1])  # type: ignore[index]
    assert seat_of(cut(bore, joint=Joint(rim=rim))).ways == 1
    assert seat_of(cut(bore, joint=Joint(rim=rim - 0.02))).ways == ways


def test_a_thin_hub_gives_the_flat_what_it_needs() -> None:
    """2.6 mm of hub wall: half the room would leave too little behind a flat; the rim is thicker for it."""
    thin = (('hub_wall = "7 mm"', 'hub_wall = "2.6 mm"'),)
    seat = seat_of(cut("square", thin))
    assert seat.ways == 1 and min(seat.rim, seat.left) >= 0.9 - 1e-9
    none = seat_of(cut("square", (('hub_wall = "7 mm"', 'hub_wall = "2 mm"'),)))
    assert none.ways == 4 and none.one_way_rim is None  # no rim would do: none is advised


@pytest.mark.parametrize("bore", BORES)
def test_rim_and_rubber_round_the_recess_are_what_polygons_say(bore: str) -> None:
    found = cut(bore)
    seat = seat_of(found)

    def ring(outline: Outline) -> Polygon:
        return Polygon(boundary_points(outline, 0.02))

    assert ring(seat.step).exterior.distance(ring(found.section.bore).exterior) == pytest.approx(
        seat.rim, abs=2e-3
    )
    near = min(ring(seat.recess).distance(ring(chamber)) for chamber in found.section.chambers)
    assert near == pytest.approx(seat.left, abs=2e-3)
    assert ring(seat.recess).exterior.distance(ring(seat.step).exterior) == pytest.approx(0.15, abs=2e-3)


@pytest.mark.parametrize(("sides", "radius"), [(4, 5.0), (4, 0.0), (6, 3.0), (8, 2.0)])
def test_a_corner_cut_flat_takes_its_depth_off_one_corner(sides: int, radius: float) -> None:
    reach = 20 / cos(pi / sides)
    corners = [(reach * cos(a), reach * sin(a)) for a in (2 * np.arange(sides) - 1) * pi / sides]
    whole = rounded_polygon(corners, radius, "step")
    tip = (20 - radius) / cos(pi / sides) + radius  # of every whole corner
    for outline in (whole, Outline(mirrored_edges(whole.edges))):
        made = corner_cut(outline, 1.0)
        assert len(made.edges) == len(outline.edges) + (2 if radius else 1)
        points = boundary_points(made, 0.05)
        far = [points @ [cos(a), sin(a)] for a in (2 * np.arange(sides) - 1) * pi / sides]
        reached = sorted(f.max() for f in far)
        assert reached[0] == pytest.approx(tip - 1.0, abs=1e-9)
        assert reached[1:] == pytest.approx([tip] * (sides - 1), abs=1e-3)
        lost = area_of(outline) - area_of(made)
        exact = Polygon(boundary_points(outline, 0.01)).difference(Polygon(boundary_points(made, 0.01)))
        assert lost == pytest.approx(exact.area, abs=2e-3) and lost > 0
        assert area_of(corner_cut(outline, 1e-9)) == pytest.approx(area_of(outline), abs=1e-6)


@pytest.mark.parametrize("sides", [4, 5, 6, 8])
def test_the_depth_a_flat_needs_keeps_every_other_turn_out(sides: int) -> None:
    """Just deep enough no other turn fits, wherever the step is moved to; at 1.9 clearances some do."""
    reach, around = 20 / cos(pi / sides), 0.3
    corners = [(reach * cos(a), reach * sin(a)) for a in (2 * np.arange(sides) - 1) * pi / sides]
    for radius in (0.0, 4.0):
        whole = rounded_polygon(corners, radius, "step")
        turns = [360 / sides * n + by for n in range(1, sides) for by in (-1.0, 0.0, 1.0)]

        def fitting(depth: float, whole: Outline = whole, turns: list[float] = turns) -> int:
            step = corner_cut(whole, depth)
            a, b = boundary_points(step, 0.4), boundary_points(inward(step, -around), 0.4)
            return sum(goes_in(a, b, turn) for turn in turns)

        assert fitting(needed_depth(sides, around)) == 0
        assert fitting(0.9 * around) > 0
        assert depth_of(whole, rounded_polygon(corners, radius, "bore"), around=around, least=0.9) == 0


def test_a_key_tells_how_far_it_stands_out() -> None:
    bore = drawn("keyed").section.bore
    deep, aside = key_depth(bore)
    assert sides_of(bore) == 0 and deep == pytest.approx(3.3, abs=1e-9)
    assert aside == pytest.approx(1 / (1 - (5 / 18.3) ** 2) ** 0.5, rel=1e-12)


@pytest.mark.parametrize("bore", FEW_BORES)
@pytest.mark.parametrize("around", [3.0])
def test_too_much_clearance_is_told_the_one_that_works(bore: str, around: float) -> None:
    with pytest.raises(ProfileError) as told:
        cut(bore, joint=Joint(around=around))
    found = re.match(rf"--joint-around: {around:g} mm is too much, ([0-9.]+) mm works", str(told.value))
    assert found is not None, str(told.value)
    works = float(found[1])
    assert seat_of(cut(bore, joint=Joint(around=works))).play_deg <= 5.0
    with pytest.raises(ProfileError, match="--joint-around"):
        cut(bore, joint=Joint(around=works + 0.01))


def test_a_rim_that_does_not_fit_is_not_blamed_on_the_clearance() -> None:
    with pytest.raises(ProfileError, match=r"--joint-rim: 7 mm: 0\.9 mm \(2 lines\) to"):
        cut("square", joint=Joint(rim=7.0))
    with pytest.raises(ProfileError, match=r"--joint-rim: .* cannot hold a joint"):
        cut("square", printer=replace(PRINTER, line=2.0))


def test_every_piece_of_a_flat_cornered_joint_is_a_sound_body() -> None:
    from manifold3d import Error, Manifold, Mesh64

    from rollergen.shape.mesh import build_mesh

    for bore in BORES:
        solids = []
        for piece in cut(bore).pieces.pieces:
            mesh = build_mesh(piece.part, chord_error=0.05)
            solids.append(Manifold(Mesh64(mesh.vertices, mesh.triangles.astype(np.uint64))))
            assert solids[-1].status() == Error.NoError
        low, high = solids
        assert (low ^ high).volume() < 1e-6
        for deg in (60.0, 72.0, 90.0, 120.0, 180.0):
            # held apart but for the step: only the joint can be in the way
            step = low.trim_by_plane((0, 0, 1), 75.01)
            recess = high.trim_by_plane((0, 0, -1), -79.99)
            assert (step ^ recess.rotate([0, 0, deg])).volume() > 0.1, (bore, deg)


SOLID = (re.search(r"\[chambers\].*?(?=\[compound\])", GENERAL, re.S)[0], "")  # type: ignore[index]


@pytest.mark.parametrize(
    "bore", [b if b in ("sharp", "round") else pytest.param(b, marks=pytest.mark.slow) for b in BORES]
)
def test_the_roof_of_a_recess_hangs_over_by_no_more_than_half_a_bridge(bore: str) -> None:
    """A solid hub has room for a step of 20 mm: its rim is capped, and the one told leaves 5 mm of ledge.

    Round a key less: in a thicker step, or the relief of its recess, the slot's sides vanish.
    """
    with pytest.raises(ProfileError, match="hangs over by 5 mm at most") as told:
        cut(bore, (SOLID,), joint=Joint(rim=20.0))
    rim = float(re.search(r"(?:to|;) ([0-9.]+) mm (?:fits|works)", str(told.value))[1])  # type: ignore[index]
    found = cut(bore, (SOLID,), joint=Joint(rim=rim))
    assert found.report.printable and found.joint is not None and found.joint.joint_ledge_mm <= 5.0 + 1e-9
    assert found.joint.joint_ledge_mm > (2.0 if bore == "keyed" else 4.0)
    with pytest.raises(ProfileError):
        cut(bore, (SOLID,), joint=Joint(rim=rim + 0.02))
    usual = cut(bore, (SOLID,))
    assert usual.joint is not None and usual.joint.joint_ledge_mm <= 5.0 + 1e-9


def test_a_line_too_wide_for_any_ledge_is_told_a_finer_one() -> None:
    with pytest.raises(
        ProfileError, match=r"--joint-rim: a step of 2 lines of 3 mm: .* 6\.15 mm, 5 mm at most"
    ) as told:
        cut("square", (SOLID,), printer=replace(PRINTER, line=3.0))
    line = float(re.search(r'--nozzle-line "([0-9.]+) mm" works', str(told.value))[1])  # type: ignore[index]
    assert line == 2.42 and cut("square", (SOLID,), printer=replace(PRINTER, line=line)).joint is not None
