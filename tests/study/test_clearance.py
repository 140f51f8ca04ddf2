"""Clearance to a ribbed mate: closed forms, what must not change, brute force, the kernel's distance."""

from __future__ import annotations

from dataclasses import replace
from math import cos, degrees, inf, pi, radians, sin, tau

import numpy as np
import pytest

from rollergen.shape.distance import boundary_points, edge_table, signed_distance
from rollergen.shape.edge_pairs import least_between
from rollergen.shape.outline import circle, turned
from rollergen.shape.roller_pair import RibbedRoller, RollerPair, pair_of, section_depth, section_distance
from rollergen.shape.section import section_of
from rollergen.spec.reading import profile_from_text
from rollergen.study.clearance import (
    Closest,
    clearance_at,
    passings_until_repeat,
    ribbed_gap,
    section_pattern,
)

PROFILE = """
name = "clearance-test"
[body]
diameter = "{body} mm"
free_length = "{length} mm"
[ribs]
count = {count}
height = "{height} mm"
tip_width = "9 mm"
flank_angle = "14 deg"
tip_radius = "2 mm"
root_radius = "3 mm"
helix_pitch = "{pitch}"
hand = "{hand}"
[bore]
section = "round"
across = "30 mm"
shaft_tolerance = "0.1 mm"
[compound]
name = "test"
density = "1100 kg/m^3"
"""


def roller(
    count: int = 5,
    body: float = 112,
    height: float = 8,
    pitch: float = inf,
    hand: str = "right",
    length: float = 60,
) -> RibbedRoller:
    said = "straight" if pitch == inf else f"{pitch} mm"
    text = PROFILE.format(body=body, count=count, height=height, pitch=said, hand=hand, length=length)
    profile = profile_from_text(text)
    return RibbedRoller(
        outline=section_of(profile).outer,
        count=count,
        turn_per_mm=profile.turn_per_mm,
        length=length,
        body_radius=profile.body_radius,
        tip_radius=profile.tip_radius,
    )


def sleeve(radius: float, length: float = 60) -> RibbedRoller:
    return RibbedRoller(
        outline=circle(radius, "body"),
        count=0,
        turn_per_mm=0.0,
        length=length,
        body_radius=radius,
        tip_radius=radius,
    )


def smaller(pitch: float = inf, hand: str = "right", length: float = 60) -> RibbedRoller:
    return roller(count=6, body=100, height=6, pitch=pitch, hand=hand, length=length)


def points_on(
    part: RibbedRoller, rotation: float, place: np.ndarray, from_z: float, z: np.ndarray
) -> np.ndarray:
    ring = boundary_points(part.outline, 0.15)
    angle = rotation + part.turn_per_mm * z[:, None]
    x = np.cos(angle) * ring[:, 0] - np.sin(angle) * ring[:, 1] + place[0]
    y = np.sin(angle) * ring[:, 0] + np.cos(angle) * ring[:, 1] + place[1]
    return np.stack([x, y, np.broadcast_to(z[:, None] + from_z, x.shape)], axis=-1).reshape(-1, 3)


def cloud_distance(pair: RollerPair, rotation: float, mate_rotation: float) -> float:
    """Least distance of two dense clouds: never below the true clearance, and hardly above it."""
    spatial = pytest.importorskip("scipy.spatial")
    z, mate_z = np.linspace(0, pair.ours.length, 131), np.linspace(0, pair.mate.length, 131)
    ours = points_on(pair.ours, rotation, np.zeros(2), 0.0, z)
    mates = points_on(pair.mate, mate_rotation, pair.centre, pair.mate_from, mate_z)
    ours = ours[np.hypot(*(ours[:, :2] - pair.centre).T) < pair.mate.tip_radius + 14]
    mates = mates[np.hypot(mates[:, 0], mates[:, 1]) < pair.ours.tip_radius + 14]
    return float(spatial.cKDTree(mates).query(ours)[0].min())


# closed forms


def test_two_sleeves_are_apart_by_the_axes_less_the_radii():
    gap = ribbed_gap(pair_of(sleeve(50), sleeve(40), axis_distance=93.0))
    assert gap.least == pytest.approx(3.0) == pytest.approx(gap.greatest) == pytest.approx(gap.any_phase)


def test_a_sleeve_beside_ribs_is_a_smooth_mate():
    gap = ribbed_gap(pair_of(roller(pitch=400), sleeve(45), axis_distance=112.0))
    assert gap.least == pytest.approx(112 - 64 - 45, abs=1e-9)
    assert gap.greatest == pytest.approx(112 - 56 - 45, abs=1e-6)


def test_tip_against_tip_on_the_line_of_centres():
    pair = pair_of(roller(), smaller(), axis_distance=122.0)
    assert clearance_at(pair, 0.0, pi).gap == pytest.approx(122 - 64 - 56, abs=1e-9)


def test_timed_straight_ribs_mesh_and_untimed_ones_meet():
    # equal rollers at ratio 1, half a rib out of step: a rib of one always faces a groove of the other
    pair = pair_of(roller(), roller(), axis_distance=124.0)
    timed = ribbed_gap(pair, phase=0.0, speed_ratio=1.0)
    assert timed.least == pytest.approx(124 - 64 - 56, abs=1e-6)
    assert timed.any_phase == pytest.approx(124 - 128)
    assert ribbed_gap(pair, phase=pi / 5, speed_ratio=1.0).least == pytest.approx(124 - 128)
    assert ribbed_gap(pair, speed_ratio=2**0.5).least == pytest.approx(124 - 128)


def test_opposite_hands_keep_their_mesh_along_the_length_and_equal_hands_lose_it():
    """Counter-rotating equal pitches keep phase with opposite hands only (own derivation: the drift
    of the mate's turn along z is mate twist + ratio * our twist)."""
    left = roller(pitch=200, hand="left", length=100)
    right = roller(pitch=200, length=100)
    meshed = ribbed_gap(pair_of(right, left, axis_distance=126.0), speed_ratio=1.0)
    lost = ribbed_gap(pair_of(right, right, axis_distance=126.0), speed_ratio=1.0)
    assert meshed.least > 3.0 and lost.least == pytest.approx(-2.0)
    same_way = ribbed_gap(pair_of(right, right, axis_distance=126.0), phase=pi / 5, speed_ratio=-1.0)
    assert same_way.repeats == pytest.approx(1 / 5)


@pytest.mark.parametrize("ratio, lines", [(1.0, 5), (5 / 6, 1), (-5 / 6, 1), (0.0, 1), (0.5, 5), (0.6, 25)])
def test_passings_until_the_pattern_repeats(ratio: float, lines: int):
    pair = pair_of(roller(count=5), smaller(), axis_distance=125.0)
    assert passings_until_repeat(pair, ratio) == lines
    assert passings_until_repeat(pair, 2**0.5) is None


# geometry of one plane


def test_section_distance_is_the_least_over_dense_points():
    pair = pair_of(roller(), smaller(), axis_distance=125.0)
    rng = np.random.default_rng(4)
    a, b = rng.uniform(0, tau, 20), rng.uniform(0, tau, 20)
    distance = section_distance(pair, a, b)
    ring = boundary_points(pair.ours.outline, 0.02)
    for i in range(20):
        turn = ring @ np.array([[cos(a[i]), sin(a[i])], [-sin(a[i]), cos(a[i])]]) - pair.centre
        turn = turn @ np.array([[cos(b[i]), -sin(b[i])], [sin(b[i]), cos(b[i])]])
        dense = signed_distance(pair.mate.outline, turn).min()
        assert -1e-9 <= dense - distance[i] < 1e-4


def test_edges_left_out_as_not_facing_never_matter():
    pair = pair_of(roller(count=7), smaller(), axis_distance=125.0, height=30.0)
    rng = np.random.default_rng(8)
    a, b = rng.uniform(0, tau, 60), rng.uniform(0, tau, 60)
    whole = least_between(edge_table(pair.ours.outline), a, edge_table(pair.mate.outline), b, pair.centre)
    assert np.abs(section_distance(pair, a, b) - whole).max() < 1e-9


def test_crossing_sections_are_exactly_zero_apart_and_have_a_depth():
    pair = pair_of(roller(), smaller(), axis_distance=117.0)
    a, b = np.zeros(1), np.full(1, pi)
    assert section_distance(pair, a, b)[0] == 0.0
    assert section_depth(pair, a, b, 0.01)[0] < -2.0
    touching = replace(pair, axis_distance=120.01)
    assert section_depth(touching, a, b, 0.01)[0] == 0.0


# invariance


def near(one: Closest, other: Closest) -> bool:
    return abs(one.gap - other.gap) < 1e-6


def test_a_rib_step_of_either_changes_nothing():
    pair = pair_of(roller(pitch=150), smaller(pitch=200, hand="left"), axis_distance=121.0, z_offset=5.0)
    here = clearance_at(pair, 0.4, 0.9)
    assert near(here, clearance_at(pair, 0.4 + tau / 5, 0.9))
    assert near(here, clearance_at(pair, 0.4, 0.9 - tau / 6))


def test_changing_places_changes_nothing():
    one, other = roller(pitch=150), smaller(pitch=150, hand="left")
    pair = pair_of(one, other, axis_distance=121.0, z_offset=7.0)
    back = pair_of(other, one, axis_distance=121.0, z_offset=-7.0)
    assert near(clearance_at(pair, 0.4, 0.9), clearance_at(back, 0.9 + pi, 0.4 + pi))


def test_a_mirror_changes_nothing():
    pair = pair_of(roller(pitch=150), smaller(pitch=120, hand="left"), axis_distance=121.0)
    seen = pair_of(roller(pitch=150, hand="left"), smaller(pitch=120), axis_distance=121.0)
    assert near(clearance_at(pair, 0.3, 1.1), clearance_at(seen, -0.3, -1.1))


def test_height_only_tilts_the_line_of_centres():
    flat = pair_of(roller(pitch=150), smaller(pitch=150), axis_distance=121.0)
    tilted = pair_of(roller(pitch=150), smaller(pitch=150), axis_distance=121.0, height=40.0)
    tilt = tilted.seen
    assert near(clearance_at(flat, 0.2, 0.7), clearance_at(tilted, 0.2 + tilt, 0.7 + tilt))


def test_turning_a_datum_is_a_phase():
    mate = smaller(pitch=150)
    shifted = replace(mate, outline=turned(mate.outline, 0.25))
    one = pair_of(roller(pitch=150), mate, axis_distance=121.0)
    other = pair_of(roller(pitch=150), shifted, axis_distance=121.0)
    assert near(clearance_at(one, 0.2, 0.7 + 0.25), clearance_at(other, 0.2, 0.7))


def test_clearance_is_never_above_the_section_distance_nor_below_tip_to_tip():
    pair = pair_of(roller(pitch=100), smaller(pitch=100, hand="left"), axis_distance=122.0)
    for rotation in (0.0, 0.3, 0.7, 1.0):
        gap = clearance_at(pair, rotation, 0.5).gap
        plane = section_pattern(
            pair, z=np.linspace(0, 60, 200), rotation=np.array([rotation]), phase=0.5, speed_ratio=0.0
        )
        assert pair.tip_to_tip - 1e-9 <= gap <= plane.min() + 1e-9


def test_the_worst_of_a_cycle_is_found():
    pair = pair_of(roller(pitch=150), roller(pitch=150, hand="left"), axis_distance=128.0)
    gap = ribbed_gap(pair, phase=0.3, speed_ratio=1.0)
    tried = [clearance_at(pair, r, 0.3 - r).gap for r in np.linspace(0, tau / 5, 40, endpoint=False)]
    assert min(tried) >= gap.least - 1e-6 and min(tried) < gap.least + 0.05
    again = clearance_at(pair, gap.closest.rotation, gap.closest.mate_rotation)
    assert again.gap == pytest.approx(gap.least, abs=1e-6)


# oracles


@pytest.mark.parametrize(
    "pitch, mate_pitch, mate_hand",
    [
        pytest.param(300, 300, "left", marks=pytest.mark.slow),
        (100, 100, "left"),
        pytest.param(90, 200, "right", marks=pytest.mark.slow),
    ],
)
def test_clearance_against_dense_clouds(pitch: float, mate_pitch: float, mate_hand: str):
    pair = pair_of(
        roller(pitch=pitch, length=40),
        smaller(pitch=mate_pitch, hand=mate_hand, length=40),
        axis_distance=122.0,
        z_offset=3.0,
    )
    for rotation, mate_rotation in ((0.1, 0.2), (0.9, 2.0), (2.2, 0.7)):
        gap = clearance_at(pair, rotation, mate_rotation).gap
        assert gap - 1e-9 <= cloud_distance(pair, rotation, mate_rotation) < gap + 0.05


def test_clearance_is_the_kernels_own_distance():
    from typing import Any

    from OCP.BRepExtrema import BRepExtrema_DistShapeShape
    from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
    from OCP.TopLoc import TopLoc_Location

    from rollergen.shape.part import Cap, Part, Side
    from rollergen.shape.solid import build_solid

    def solid(part: RibbedRoller) -> Any:
        levels = ((0.0, 0.0), (part.length, 0.0))
        side = Side(outline=part.outline, levels=levels, turn_per_mm=part.turn_per_mm)
        caps = (Cap(z=0.0, up=False, outer=(0, "low")), Cap(z=part.length, up=True, outer=(0, "high")))
        return build_solid(Part(name="oracle", sides=(side,), caps=caps), check=False)

    def placed(shape: Any, rotation: float, x: float, y: float, z: float) -> Any:
        turn, move = gp_Trsf(), gp_Trsf()
        turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), rotation)
        move.SetTranslation(gp_Vec(x, y, z))
        return shape.Moved(TopLoc_Location(move.Multiplied(turn)))

    ours = roller(count=2, pitch=110, length=25)
    mate = roller(count=2, body=100, height=6, pitch=130, hand="left", length=25)
    pair = pair_of(ours, mate, axis_distance=121.0, z_offset=4.0)
    a, b = solid(ours), solid(mate)
    # ribs side by side, flank near flank: the nearest points lie at different heights
    for rotation, mate_rotation in ((0.15, pi + 0.1), (-0.55, pi + 0.1)):
        found = clearance_at(pair, rotation, mate_rotation)
        x, y = pair.centre
        kernel = BRepExtrema_DistShapeShape(
            placed(a, rotation, 0.0, 0.0, 0.0), placed(b, mate_rotation, float(x), float(y), 4.0)
        ).Value()
        assert found.gap == pytest.approx(kernel, abs=1e-4)


# refusals


def test_no_common_length_and_meeting_bodies_are_refused():
    with pytest.raises(ValueError, match="no common length"):
        pair_of(roller(), smaller(), axis_distance=121.0, z_offset=60.0)
    with pytest.raises(ValueError, match="more than 106 mm"):
        pair_of(roller(), smaller(), axis_distance=106.0)
    with pytest.raises(ValueError, match="above or below"):
        pair_of(roller(), smaller(), axis_distance=121.0, height=-122.0)


def test_degrees_of_a_mesh_are_where_the_report_says():
    pair = pair_of(roller(), smaller(), axis_distance=121.0)
    gap = ribbed_gap(pair, phase=radians(10), speed_ratio=0.5)
    assert 0 <= degrees(gap.closest.rotation) < 360 and 0 <= gap.closest.z <= 60
    assert gap.mate_rib_passings_per_turn == 3.0 and gap.rib_period == inf


def test_a_low_at_the_end_of_a_segment_is_followed_to_its_bottom():
    """Random pairs (one has its nearest point on the mate's end face) against a dense grid of z, z'."""
    rng = np.random.default_rng(11)
    for _ in range(10):
        pitch, mate_pitch = rng.choice([60.0, 90.0, 130.0, 200.0, 400.0], 2)
        hands = rng.choice(["left", "right"], 2)
        ours = roller(count=int(rng.integers(2, 8)), pitch=float(pitch), hand=str(hands[0]), length=50)
        mate = roller(
            int(rng.integers(2, 7)),
            body=100,
            height=6,
            pitch=float(mate_pitch),
            hand=str(hands[1]),
            length=45,
        )
        offset = float(rng.uniform(-5, 8))
        pair = pair_of(ours, mate, axis_distance=float(rng.uniform(120.2, 124)), z_offset=offset)
        rotation, mate_rotation = rng.uniform(0, tau, 2)
        z, mate_z = np.meshgrid(np.linspace(0, 50, 81), offset + np.linspace(0, 45, 81))
        z, mate_z = z.ravel(), mate_z.ravel()
        close = np.abs(z - mate_z) < 7.0
        z, mate_z = z[close], mate_z[close]
        turn = rotation + ours.turn_per_mm * z
        mate_turn = mate_rotation + mate.turn_per_mm * (mate_z - offset)
        grid = np.hypot(section_distance(pair, turn, mate_turn), z - mate_z).min()
        assert clearance_at(pair, float(rotation), float(mate_rotation)).gap <= grid + 1e-9
