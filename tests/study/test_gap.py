"""Gap to a smooth mate: closed forms first, then what must not change, then other libraries."""

from __future__ import annotations

from math import cos, pi, radians, sin, sqrt, tau

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollergen.shape.distance import edge_table, nearest, signed_distance
from rollergen.shape.outline import Outline, circle, polygon, turned
from rollergen.shape.section import section_of
from rollergen.spec.profile import Profile
from rollergen.spec.reading import profile_from_text
from rollergen.study.gap import SmoothGap, extremes, gap_at, gap_curve, gap_pattern, smooth_gap
from rollergen.study.gap_solve import solve_clearance, solve_smooth

PROFILE = """
name = "gap-test"
[body]
diameter = "{body} mm"
free_length = "{length} mm"
[ribs]
count = {count}
height = "{height} mm"
tip_width = "10 mm"
flank_angle_ahead = "{ahead} deg"
flank_angle_behind = "12 deg"
tip_radius = "2 mm"
root_radius = "3 mm"
helix_pitch = "{pitch}"
hand = "{hand}"
start = "{start} deg"
[bore]
section = "round"
across = "30 mm"
shaft_tolerance = "0.1 mm"
[compound]
name = "test"
density = "1100 kg/m^3"
"""


def ribbed(**changes: object) -> Profile:
    said = {
        "body": 112,
        "length": 150,
        "count": 5,
        "height": 8,
        "ahead": 12,
        "pitch": "600 mm",
        "hand": "right",
        "start": 0,
        **changes,
    }
    return profile_from_text(PROFILE.format(**said))


def gap_of(
    profile: Profile, *, axis_distance: float = 112.0, mate_radius: float = 45.0, **more: float
) -> SmoothGap:
    return smooth_gap(
        section_of(profile).outer,
        count=profile.ribs.count if profile.ribs else 0,
        turn_per_mm=profile.turn_per_mm,
        length=profile.body.free_length,
        body_radius=profile.body_radius,
        tip_radius=profile.tip_radius,
        mate_radius=mate_radius,
        axis_distance=axis_distance,
        **more,
    )


def outline_of(profile: Profile) -> Outline:
    return section_of(profile).outer


# closed forms


def test_least_and_greatest_are_the_closed_forms():
    gap = gap_of(ribbed())
    assert gap.tip_gap == pytest.approx(112 - 64 - 45, abs=1e-12)
    assert gap.least == pytest.approx(gap.tip_gap, abs=1e-9)
    assert gap.greatest == pytest.approx(gap.body_gap, abs=1e-9) == pytest.approx(112 - 56 - 45)


def test_interference_is_a_negative_gap():
    assert gap_of(ribbed(), axis_distance=106.0).least == pytest.approx(-3.0, abs=1e-9)


def test_signed_distance_of_a_square_is_the_textbook_one():
    square = polygon([(-2, -2), (2, -2), (2, 2), (-2, 2)], "bore")
    points = np.array([[0, 0], [3, 0], [5, 6], [1.5, 0], [2, 2], [-2.5, -2.5]])
    assert signed_distance(square, points) == pytest.approx([-2, 1, 5, -0.5, 0, sqrt(0.5)])


def test_distance_agrees_with_a_polygon_library():
    shapely = pytest.importorskip("shapely")
    outline = outline_of(ribbed())
    from rollergen.shape.distance import boundary_points

    ring = shapely.Polygon(boundary_points(outline, 0.02))
    points = np.random.default_rng(6).uniform(-80, 80, (200, 2))
    ours = signed_distance(outline, points)
    for point, distance in zip(points, ours, strict=True):
        p = shapely.Point(point)
        other = ring.exterior.distance(p) * (-1 if ring.contains(p) else 1)
        assert distance == pytest.approx(
            other, abs=6e-5
        )  # sagitta 0.02^2 / (8 * 2) = 2.5e-5 mm on a 2 mm fillet, on both sides


def test_where_the_least_gap_occurs_the_gap_is_least():
    profile = ribbed(start=17)
    for height in (0.0, 31.0, -50.0):
        gap = gap_of(profile, height=height)
        for (rotation, z), value in ((gap.least_at, gap.least), (gap.greatest_at, gap.greatest)):
            mate = (sqrt(112**2 - height**2), height)
            turn = -(rotation + profile.turn_per_mm * z)
            seen = (mate[0] * cos(turn) - mate[1] * sin(turn), mate[0] * sin(turn) + mate[1] * cos(turn))
            assert signed_distance(outline_of(profile), np.array([seen]))[0] - 45 == pytest.approx(
                value, abs=1e-9
            )


def test_window_is_the_run_above_half_way():
    profile = ribbed()
    gap = gap_of(profile)
    assert gap.rib_period == pytest.approx(600 / 5)
    curve = gap_curve(outline_of(profile), count=5, axis_distance=112.0, mate_radius=45.0)
    angle = np.linspace(0, curve.period, 200_001)
    share = (gap_at(curve, angle) >= (gap.least + gap.greatest) / 2).mean()
    assert gap.window_angle == pytest.approx(share * curve.period, abs=2e-5)
    assert gap.window_length == pytest.approx(gap.window_angle * 600 / tau)
    assert gap.floor_length < gap.window_length < gap.rib_period
    floor = (np.abs(gap_at(curve, angle) - gap.body_gap) < 1e-9).mean() * curve.period
    assert gap.floor_angle == pytest.approx(floor, abs=2e-5)


# limit cases


def test_a_sleeve_has_one_gap_everywhere():
    gap = smooth_gap(
        circle(56.0, "body"),
        count=0,
        turn_per_mm=0.0,
        length=150.0,
        body_radius=56.0,
        tip_radius=56.0,
        mate_radius=45.0,
        axis_distance=103.0,
    )
    assert gap.least == gap.greatest == pytest.approx(2.0) == pytest.approx(gap.tip_gap)
    assert gap.rib_passings_per_turn == 0 and gap.window_length == 150.0


def test_straight_ribs_open_the_whole_length():
    gap = gap_of(ribbed(pitch="straight"))
    assert gap.rib_period == np.inf and gap.window_length == 150.0


def test_a_very_long_pitch_is_a_straight_rib():
    z, rotation = np.linspace(0, 150, 7), np.linspace(0, tau, 301)

    def pattern(pitch: str):
        profile = ribbed(pitch=pitch)
        return gap_pattern(
            outline_of(profile),
            count=5,
            turn_per_mm=profile.turn_per_mm,
            axis_distance=112.0,
            mate_radius=45.0,
            z=z,
            rotation=rotation,
        )

    assert np.abs(pattern("1e5 mm") - pattern("straight")).max() < 150 * tau / 1e5 * 112


def test_a_segment_shorter_than_a_rib_sees_only_its_own_phases():
    profile = ribbed(length=20)
    curve = gap_curve(outline_of(profile), count=5, axis_distance=112.0, mate_radius=45.0)
    rotation = radians(30)
    (low, _), (high, _) = extremes(curve, -rotation - profile.turn_per_mm * 20, -rotation)
    dense = gap_at(curve, -rotation - profile.turn_per_mm * np.linspace(0, 20, 20_001))
    assert low == pytest.approx(dense.min(), abs=1e-6) and high == pytest.approx(dense.max(), abs=1e-6)
    assert low > 3.0 + 0.1  # the tip does not come round while the roller stands there


# invariance


@settings(max_examples=12, deadline=None)
@given(angle=st.floats(-7, 7))
def test_gap_repeats_every_rib(angle: float):
    curve = gap_curve(outline_of(ribbed()), count=5, axis_distance=112.0, mate_radius=45.0)
    both = gap_at(curve, np.array([angle, angle + tau / 5]))
    assert both[0] == pytest.approx(both[1], abs=1e-10)


def test_mirrored_hand_and_flanks_give_the_mirrored_pattern():
    z, rotation = np.linspace(0, 150, 16), np.linspace(0, tau, 181)

    def pattern(hand: str, rotation):
        profile = ribbed(hand=hand)
        return gap_pattern(
            outline_of(profile),
            count=5,
            turn_per_mm=profile.turn_per_mm,
            axis_distance=112.0,
            mate_radius=45.0,
            z=z,
            rotation=rotation,
        )

    assert np.abs(pattern("right", rotation) - pattern("left", -rotation)).max() < 1e-3


def test_turning_the_datum_turns_the_pattern():
    outline = outline_of(ribbed())
    one = gap_curve(outline, count=5, axis_distance=112.0, mate_radius=45.0)
    other = gap_curve(turned(outline, 0.3), count=5, axis_distance=112.0, mate_radius=45.0)
    angle = np.linspace(0, 1, 50)
    assert gap_at(other, angle + 0.3) == pytest.approx(gap_at(one, angle), abs=1e-10)


@pytest.mark.parametrize("count, ahead", [(1, 12), (5, 3), (11, 12)])
def test_pattern_error_stays_below_the_stated_one(count: int, ahead: float):
    profile = ribbed(count=count, ahead=ahead)
    outline = outline_of(profile)
    z, rotation = np.linspace(0, 150, 11), np.linspace(0, tau, 4001)
    pattern = gap_pattern(
        outline,
        count=count,
        turn_per_mm=profile.turn_per_mm,
        axis_distance=112.0,
        mate_radius=45.0,
        z=z,
        rotation=rotation,
        height=10.0,
    )
    curve = gap_curve(outline, count=count, axis_distance=112.0, mate_radius=45.0)
    seen = np.arcsin(10 / 112)
    exact = gap_at(curve, seen - rotation[None, :] - profile.turn_per_mm * z[:, None])
    assert np.abs(pattern - exact).max() < 3e-4


def test_every_nearest_edge_found_is_as_near_as_said():
    table = edge_table(polygon([(-60, -50), (70, -40), (10, 10), (30, 60)], "body"))  # one reflex corner
    points = np.random.default_rng(2).uniform(-100, 100, (500, 2))
    distance, edge, place = nearest(table, points)
    corner = np.where((place == 1)[:, None], table.start[edge], table.end[edge])
    at_corner = place > 0
    assert np.abs(np.hypot(*(points - corner).T) - np.abs(distance))[at_corner].max() < 1e-12


# refusals and the way back


def test_bodies_that_meet_are_refused_with_numbers():
    with pytest.raises(ValueError, match="need more than 101 mm"):
        gap_of(ribbed(), axis_distance=101.0)
    with pytest.raises(ValueError, match="above or below"):
        gap_of(ribbed(), height=113.0)


@pytest.mark.parametrize("dimension", ["axis_distance", "rib_height", "body_diameter"])
def test_a_solved_dimension_gives_the_asked_gap(dimension):
    value = solve_smooth(dimension, 1.25, body_radius=56, rib_height=8, mate_radius=45, axis_distance=112)
    body, height, axis = 56.0, 8.0, 112.0
    if dimension == "axis_distance":
        axis = value
    elif dimension == "rib_height":
        height = value
    else:
        body = value / 2
    assert axis - body - height - 45 == pytest.approx(1.25, abs=1e-12)


def test_impossible_targets_are_refused_with_numbers():
    with pytest.raises(ValueError, match="only 11 mm"):
        solve_smooth("rib_height", 11.0, body_radius=56, rib_height=8, mate_radius=45, axis_distance=112)
    with pytest.raises(ValueError, match="touch at 101 mm"):
        solve_smooth("axis_distance", -8.0, body_radius=56, rib_height=8, mate_radius=45, axis_distance=112)


def test_search_finds_a_root_and_says_what_stops_it():
    root = solve_clearance(lambda x: x**3 - 2, 0.0, now=2.0, safe=3.0, limit=0.5)
    assert root == pytest.approx(2 ** (1 / 3), abs=1e-6)
    with pytest.raises(ValueError, match="last value that can be built"):
        solve_clearance(lambda x: x**3 - 2 if x > 1.5 else None, 0.0, now=2.0, safe=3.0, limit=0.5)


@pytest.mark.parametrize("body, count, height, passings", [(124, 4, 6, 4), (112, 6, 10, 6), (112, 3, 15, 3)])
def test_rib_passings_per_turn(body, count, height, passings):  # common practice, no source
    profile = ribbed(body=body, count=count, height=height)
    assert gap_of(profile, axis_distance=125.0).rib_passings_per_turn == passings


def test_low_ribs_on_a_larger_body_close_the_gap_most():  # common practice, no source
    low, general, opened = (
        gap_of(ribbed(body=body, count=count, height=height), axis_distance=125.0)
        for body, count, height in ((124, 4, 6), (112, 6, 10), (112, 3, 15))
    )
    assert low.body_gap < general.body_gap == opened.body_gap


def test_gap_of_a_solid_is_the_kernels_own_distance():
    """The kernel's own least distance of extruded segment and mate, to a tenth of a micrometre."""
    from OCP.BRepExtrema import BRepExtrema_DistShapeShape
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    from rollergen.shape.part import Cap, Part, Side
    from rollergen.shape.solid import build_solid

    profile = ribbed(length=30)
    side = Side(
        outline=outline_of(profile), levels=((0.0, 0.0), (30.0, 0.0)), turn_per_mm=profile.turn_per_mm
    )
    caps = (Cap(z=0.0, up=False, outer=(0, "low")), Cap(z=30.0, up=True, outer=(0, "high")))
    solid = build_solid(Part(name="gap", sides=(side,), caps=caps), check=False)
    curve = gap_curve(outline_of(profile), count=5, axis_distance=112.0, mate_radius=45.0)
    for seen in (0.1, 0.5, 1.1):
        place = gp_Ax2(gp_Pnt(112 * cos(seen), 112 * sin(seen), 0), gp_Dir(0, 0, 1))
        mate = BRepPrimAPI_MakeCylinder(place, 45.0, 30.0).Shape()
        (low, _), _ = extremes(curve, seen - profile.turn_per_mm * 30, seen)
        assert BRepExtrema_DistShapeShape(solid, mate).Value() == pytest.approx(low, abs=1e-4)


def test_gap_of_a_mesh_is_manifolds_min_gap():
    manifold3d = pytest.importorskip("manifold3d")
    from rollergen.shape.distance import boundary_points

    profile = ribbed(length=30)
    ring = boundary_points(outline_of(profile), 0.2)
    body = manifold3d.Manifold.extrude(
        manifold3d.CrossSection([ring]), 30.0, 60, float(np.degrees(profile.turn_per_mm * 30))
    )
    curve = gap_curve(outline_of(profile), count=5, axis_distance=112.0, mate_radius=45.0)
    mate = manifold3d.Manifold.cylinder(30.0, 45.0, 45.0, 720).translate((112.0, 0.0, 0.0))
    (low, _), _ = extremes(curve, -profile.turn_per_mm * 30, 0.0)
    assert abs(body.min_gap(mate, 20.0) - low) < 45 * (1 - cos(pi / 720)) + 5e-3
