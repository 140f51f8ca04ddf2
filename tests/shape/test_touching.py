"""A ball touching roller and mate: places held against exact distances, moments against turning the parts."""

from __future__ import annotations

from functools import cache
from math import acos, cos, inf, sin, tau

import numpy as np
import pytest

from rollergen.shape.distance import edge_table, signed_distance
from rollergen.shape.outline import Arc, Line, Outline, circle, polygon, turned
from rollergen.shape.section import section_of
from rollergen.shape.touching import branches_of, mirrored, touch
from rollergen.shape.touching_corners import contour_of, corner_ends, fan, touches_along
from rollergen.shape.touching_hold import largest_held, least_of, squeeze_before_loss
from rollergen.shape.touching_mate import Pair, centre_angles, closing, drop_size, open_share, states_of
from rollergen.shape.touching_rib import angle_under_rib, closed_form_size, rib_sides
from rollergen.spec.profile import Profile
from rollergen.spec.reading import profile_from_text

PROFILE = """
name = "grip-test"
[body]
diameter = "{body} mm"
free_length = "150 mm"
edge_chamfer = "0 mm"
[ribs]
count = {count}
height = "{height} mm"
tip_width = "{tip} mm"
flank_angle_ahead = "{ahead} deg"
flank_angle_behind = "{behind} deg"
tip_radius = "{tip_round} mm"
root_radius = "{root} mm"
helix_pitch = "{pitch}"
[bore]
section = "round"
across = "20 mm"
shaft_tolerance = "0.1 mm"
[compound]
name = "test"
density = "1100 kg/m^3"
"""
KINDS = {"low": (122, 5, 5), "mid": (114, 4, 9), "tall": (106, 3, 13)}


@cache
def ribbed(kind: str = "mid", **changes: object) -> Profile:
    body, count, height = KINDS[kind]
    said = {
        "body": body,
        "count": count,
        "height": height,
        "tip": 10,
        "ahead": 18,
        "behind": 18,
        "tip_round": 2.5,
        "root": 4,
        "pitch": "straight",
        **changes,
    }
    return profile_from_text(PROFILE.format(**said))


def pair_of(profile: Profile, *, mate_radius: float = 46.0, tip_gap: float = 1.5, **more: float) -> Pair:
    assert profile.ribs is not None
    return Pair(
        outline=section_of(profile).outer,
        count=profile.ribs.count,
        turn_per_mm=profile.turn_per_mm,
        body_radius=profile.body_radius,
        tip_radius=profile.tip_radius,
        mate_radius=mate_radius,
        axis_distance=profile.tip_radius + mate_radius + tip_gap,
        **more,  # type: ignore[arg-type]
    )


def centres(rho: np.ndarray, theta: np.ndarray) -> np.ndarray:
    return np.stack([rho * np.cos(theta), rho * np.sin(theta)], axis=-1)


def test_corners_of_the_demo_rib():
    side, _ = rib_sides(branches_of(section_of(ribbed()).outer, 4))
    assert (side.nu, side.p, side.chi) == pytest.approx((1.256637, 25.087359, 0.049511), abs=1e-6)
    psi = side.nu - acos((side.p + 4) / (57 + 4))
    assert psi == pytest.approx(0.182899, abs=1e-6)


SHAPES = {
    "mid": {},
    "tall": {"kind": "tall"},
    "sharp tips": {"tip_round": 0},
    "sharp roots": {"root": 0},
    "all sharp": {"tip_round": 0, "root": 0, "ahead": 5, "behind": 20},
    "unlike": {"ahead": 8, "behind": 30},
    "one rib": {"count": 1},
    "narrow grooves": {"count": 11, "tip": 18, "root": 3, "height": 12, "body": 108, "ahead": 3, "behind": 9},
}


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
def test_every_touch_is_exactly_one_radius_away_and_nothing_is_missed(shape: dict[str, object]):
    profile = ribbed(**shape)
    outline = section_of(profile).outer
    branches = branches_of(outline, profile.ribs.count)
    radius = np.concatenate([np.linspace(0.3, 12, 14), [20, 35, 60, 300]])
    contour = contour_of(branches, radius)
    on = touches_along(contour, 12)
    gap = signed_distance(outline, centres(on.rho, on.theta).reshape(-1, 2)).reshape(on.rho.shape)
    assert np.abs(gap - radius[:, None, None])[contour.seen].max() < 1e-8
    for ball in range(len(radius)):  # one closed curve: each part starts where the one before ends
        rows = np.flatnonzero(contour.seen[ball])
        start = np.append(on.theta[ball, rows, 0], on.theta[ball, rows[0], 0] + branches.period)
        height = np.append(on.rho[ball, rows, 0], on.rho[ball, rows[0], 0])
        assert np.abs(start[1:] - on.theta[ball, rows, -1]).max() < 1e-8
        assert np.abs(height[1:] - on.rho[ball, rows, -1]).max() < 1e-7


def test_a_corner_touches_two_places_and_its_fan_joins_their_normals():
    outline = section_of(ribbed()).outer
    contour = contour_of(branches_of(outline, 4), np.array([10.0, 25.0]))
    ball, row = np.nonzero(contour.corner)
    here, there = corner_ends(contour, ball, row)
    assert len(ball) == 4
    assert here.rho == pytest.approx(there.rho, abs=1e-9)
    share = np.linspace(0, 1, 5)[None, :]
    pushes = fan(here, there, share)
    assert pushes.delta == pytest.approx(
        here.delta[:, None] + share * (there.delta - here.delta)[:, None], abs=1e-12
    )


@pytest.mark.parametrize("pitch", [640.0, 320.0])
def test_helical_touches_are_one_radius_away_in_space(pitch: float):
    """Distance to the screw surface = least over z of hypot(z, plane distance turned with z)."""
    profile = ribbed(pitch=f"{pitch} mm")
    outline, kappa = section_of(profile).outer, profile.turn_per_mm
    branches = branches_of(outline, 4)
    radius = np.array([3.0, 8.0, 20.0, 30.0])
    contour = contour_of(branches, radius, kappa)
    on = touches_along(contour, 6)
    table = edge_table(outline)
    for ball, r in enumerate(radius):
        z = np.linspace(-r, r, 401)
        rows = contour.seen[ball]
        rho, theta = on.rho[ball, rows].ravel(), on.theta[ball, rows].ravel()
        points = centres(np.broadcast_to(rho[:, None], (len(rho), len(z))), theta[:, None] - kappa * z)
        plane = signed_distance(table, points.reshape(-1, 2)).reshape(len(rho), len(z))
        least = np.hypot(z, np.maximum(plane, 0.0)).min(axis=1)
        assert least == pytest.approx(r, abs=2e-3)  # z is sampled every r/200


def test_a_helix_of_endless_pitch_is_straight():
    branches, r = branches_of(section_of(ribbed()).outer, 4), np.array([15.0])
    rows, share = np.arange(len(branches)), 0.3
    straight, nearly = touch(branches, rows, share, r), touch(branches, rows, share, r, tau / 1e9)
    assert nearly.theta == pytest.approx(straight.theta, abs=1e-9)
    assert nearly.rho == pytest.approx(straight.rho, abs=1e-9)


def test_angles_of_a_needle_thin_triangle():
    over = np.array([0.0, 1e-12, 1e-8, -1e-9])
    alpha, gamma, meets = centre_angles(60.0 + over, np.array([50.0]), 110.0)
    assert meets.tolist() == [True, True, True, False]
    # opening of a flat triangle: alpha^2 = 2 over * reach / (rho * distance)
    assert alpha[2] == pytest.approx(np.sqrt(2 * 1e-8 * 50 / (60 * 110)), rel=1e-6)
    assert gamma[2] == pytest.approx(np.sqrt(2 * 1e-8 * 60 / (50 * 110)), rel=1e-6)


@pytest.mark.parametrize("pitch", ["straight", "400 mm"])
@pytest.mark.parametrize("ratio", [-1.7, 0.0, 0.8])
def test_closing_is_what_two_stuck_contacts_do(pitch: str, ratio: float):
    """Contacts carried along by a small turn of both rollers: their distance shrinks by closing * turn."""
    pair = pair_of(ribbed(pitch=pitch), speed_ratio=ratio)
    states = states_of(pair, np.array([24.0]), samples=5)
    w, t, r, C = states.wedge, states.on, 12.0, pair.axis_distance
    good = w.touching & states.contour.seen[..., None]
    normal = np.stack(
        [
            np.cos(t.lean) * np.cos(w.alpha + t.delta),
            np.cos(t.lean) * np.sin(w.alpha + t.delta),
            np.sin(t.lean),
        ],
        -1,
    )
    centre = np.stack([t.rho * np.cos(w.alpha), t.rho * np.sin(w.alpha), np.zeros_like(t.rho)], -1)
    mate_axis = np.array([C, 0.0, 0.0])
    to_mate = mate_axis - centre
    ours = centre - r * normal
    mates = centre + r * to_mate / np.linalg.norm(to_mate, axis=-1)[..., None]
    assert np.linalg.norm(mates - mate_axis, axis=-1)[good] == pytest.approx(pair.mate_radius, abs=1e-9)

    def carried(points: np.ndarray, turn: float) -> np.ndarray:
        c, s = cos(turn), sin(turn)
        x, y = points[..., 0], points[..., 1]
        return np.stack([c * x - s * y, s * x + c * y, points[..., 2]], -1)

    for rising, sense in ((False, -1.0), (True, 1.0)):
        h = 1e-6

        def apart(turn: float, sense: float = sense) -> np.ndarray:
            a = carried(ours, sense * turn)
            b = carried(mates - mate_axis, -ratio * sense * turn) + mate_axis
            return np.linalg.norm(b - a, axis=-1)

        shrinks = (apart(-h) - apart(h)) / (2 * h)
        assert closing(w, ratio, rising)[good] == pytest.approx(shrinks[good], abs=1e-6)


def passes(pair: Pair, diameter: float, phases: np.ndarray) -> np.ndarray:
    """Brute force: can a ball that follows the mate round get from above to below at this phase?"""
    r, Q, C = diameter / 2, pair.mate_radius + diameter / 2, pair.axis_distance
    beta = np.linspace(-0.6, 0.6, 401)  # about the mate's axis
    x, y = C - Q * np.cos(beta), Q * np.sin(beta)
    c, s = np.cos(phases)[:, None], np.sin(phases)[:, None]
    points = np.stack([c * x + s * y, -s * x + c * y], axis=-1)
    near = np.hypot(x, y) < pair.tip_radius + r + 1
    gap = signed_distance(pair.outline, points[:, near].reshape(-1, 2)).reshape(len(phases), -1)
    return np.asarray((gap >= r).all(axis=1))


@pytest.mark.parametrize("kind", KINDS)
def test_open_share_is_brute_force(kind: str):
    profile = ribbed(kind, ahead=25, behind=12) if kind == "low" else ribbed(kind)
    pair = pair_of(profile)
    step = tau / pair.count
    phases = step * (np.arange(1100) + 0.5) / 1100
    for diameter in (2.0, 6.0, 10.0):
        share = passes(pair, diameter, phases).mean()
        assert open_share(pair, np.array([diameter]))[0] == pytest.approx(share, abs=1e-3)


def test_open_shares_of_the_demo_roller():
    share = open_share(pair_of(ribbed()), np.array([1.0, 2, 4, 6, 8, 10, 10.6, 60]))
    assert share == pytest.approx([1, 0.8306, 0.6965, 0.6108, 0.5408, 0.4790, 0, 0], abs=1e-4)


@pytest.mark.parametrize(("kind", "gap"), [("low", 6.5), ("mid", 10.5), ("tall", 14.5)])
def test_drop_size_is_the_body_gap_of_a_wide_groove(kind: str, gap: float):
    assert drop_size(pair_of(ribbed(kind))) == pytest.approx(gap, abs=1e-9)


def test_a_narrow_groove_drops_less_than_the_body_gap():
    pair = pair_of(ribbed(**SHAPES["narrow grooves"]), tip_gap=12.0)
    size = drop_size(pair)
    assert pair.tip_gap < size < pair.body_gap - 0.5
    phases = np.linspace(0, tau / pair.count, 401)
    assert passes(pair, size - 0.01, phases).any() and not passes(pair, size + 0.01, phases).any()
    assert open_share(pair, np.array([size - 1e-3, size + 1e-3])) == pytest.approx([0, 0], abs=1e-3)


def brute_half(pair: Pair, diameter: float, phase: float) -> float:
    """Least half angle at one rotation, from plain distances along the mate: no branches, no corners."""
    r, Q, C = diameter / 2, pair.mate_radius + diameter / 2, pair.axis_distance
    beta = np.linspace(0.0, 1.5, 12001)
    x, y = C - Q * np.cos(beta), Q * np.sin(beta)
    c, s = cos(phase), sin(phase)
    points = np.stack([c * x + s * y, -s * x + c * y], axis=-1)
    table = edge_table(pair.outline)
    gap = signed_distance(table, points) - r
    best = inf
    for i in np.flatnonzero(np.sign(gap[1:]) != np.sign(gap[:-1])):
        share = gap[i] / (gap[i] - gap[i + 1])
        p = points[i] + share * (points[i + 1] - points[i])
        h = 1e-5
        grad = np.array(
            [
                signed_distance(table, p + (h, 0))[0] - signed_distance(table, p - (h, 0))[0],
                signed_distance(table, p + (0, h))[0] - signed_distance(table, p - (0, h))[0],
            ]
        )
        turned_normal = np.arctan2(grad[1], grad[0]) + phase
        gamma = beta[i] + share * (beta[i + 1] - beta[i])
        contact = np.array([C - Q * cos(gamma), Q * sin(gamma)]) - r * np.array(
            [cos(turned_normal), sin(turned_normal)]
        )
        mate = np.array([C - pair.mate_radius * cos(gamma), pair.mate_radius * sin(gamma)])
        e = (mate - contact) / np.linalg.norm(mate - contact)
        closes = -(contact[0] * e[1] - contact[1] * e[0]) > 1e-9  # the mate stands still
        if closes:
            best = min(best, (turned_normal + gamma) / 2)
    return best


def test_least_half_angles_are_those_of_plain_distances():
    from rollergen.study.grip_map import grip_map

    pair = pair_of(ribbed(ahead=10, behind=25), speed_ratio=0.0)
    diameters = np.array([6.0, 20.0, 45.0, 70.0])
    chart = grip_map(pair, diameters, rotations=72, samples=200)
    for n, d in enumerate(diameters):
        for m in range(0, 18, 3):
            half = brute_half(pair, d, chart.rotation[m])
            if np.isfinite(half):
                assert np.arctan(chart.friction[n, m]) == pytest.approx(half, abs=2e-4)
            else:
                assert np.isnan(chart.friction[n, m])


def test_the_easiest_state_does_not_depend_on_sampling():
    pair = pair_of(ribbed(), speed_ratio=-2.5)
    diameter = np.array([8.0, 20.0, 40.0, 60.0])
    halves = [least_of(states_of(pair, diameter, samples=m)).half for m in (12, 50, 400)]
    assert halves[0] == pytest.approx(halves[2], abs=1e-6) and halves[1] == pytest.approx(halves[2], abs=1e-6)


@pytest.mark.parametrize("pitch", ["straight", "500 mm"])
def test_turning_and_mirroring_change_nothing(pitch: str):
    """Start of rib 1, hand of the helix: same sizes; a mirrored symmetric outline likewise."""
    pair = pair_of(ribbed(pitch=pitch))
    half = np.arctan([0.3, 0.6])
    sizes = largest_held(pair, half)

    def changed(outline: Outline, twist: float) -> Pair:
        return Pair(
            outline=outline,
            count=4,
            turn_per_mm=twist,
            body_radius=pair.body_radius,
            tip_radius=pair.tip_radius,
            mate_radius=pair.mate_radius,
            axis_distance=pair.axis_distance,
        )

    for outline, twist in (
        (turned(pair.outline, 0.7), pair.turn_per_mm),
        (pair.outline, -pair.turn_per_mm),
        (mirrored(pair.outline), -pair.turn_per_mm),
    ):
        assert largest_held(changed(outline, twist), half) == pytest.approx(sizes, abs=1e-6)


def test_a_ball_under_a_rib_touches_body_and_rib():
    outline = section_of(ribbed()).outer
    side, _ = rib_sides(branches_of(outline, 4))
    for r in (5.0, 12.0, 28.0):
        th, u = angle_under_rib(side, 57.0, r)
        centre = (57 + r) * np.array([[cos(-th), sin(-th)]])  # clockwise side
        assert signed_distance(outline, centre)[0] == pytest.approx(r, abs=1e-9)
        contact = centre - r * np.array([[cos(-u), sin(-u)]])
        assert signed_distance(outline, contact)[0] == pytest.approx(0, abs=1e-9)
    assert angle_under_rib(side, 57.0, 3.9) is None  # sits in the fillet


def test_closed_form_knows_where_it_ends():
    pair = pair_of(ribbed(**SHAPES["narrow grooves"]))
    driving, trailing = rib_sides(pair.branches)
    said = closed_form_size(
        driving,
        trailing,
        count=11,
        body_radius=pair.body_radius,
        mate_radius=46.0,
        axis_distance=pair.axis_distance,
        friction=0.5,
    )
    assert said is None  # two ribs hold the ball before it reaches the body
    assert rib_sides(branches_of(circle(50.0, "body"), 0)) is None


def test_squeeze_grows_below_the_limit():
    pair = pair_of(ribbed(), speed_ratio=0.0)
    size = largest_held(pair, np.array([np.arctan(0.5)]))[0]
    squeezes = squeeze_before_loss(pair, np.array([1.01, 0.99, 0.95, 0.9, 0.6]) * size, np.arctan(0.5))
    assert squeezes[0] == 0.0 and (np.diff(squeezes) > 0).all()


def test_squeeze_of_the_demo_rollers_is_in_the_measured_range():
    for kind in KINDS:
        pair = pair_of(ribbed(kind), speed_ratio=0.0)
        for friction in (0.3, 0.5):
            size = largest_held(pair, np.array([np.arctan(friction)]))[0]
            near, far = squeeze_before_loss(pair, np.array([0.99, 0.9]) * size, np.arctan(friction))
            assert 0.07 < near < 0.28 and 0.7 < far < 2.6


def test_what_cannot_be_worked_out_is_refused_with_numbers():
    sleeve = {"outline": circle(50.0, "body"), "count": 0, "turn_per_mm": 0.0, "body_radius": 50.0}
    sleeve |= {"tip_radius": 50.0, "mate_radius": 40.0}
    with pytest.raises(ValueError, match="need more than 90 mm"):
        Pair(axis_distance=90.0, **sleeve)
    with pytest.raises(ValueError, match="axis distance is only 95 mm"):
        Pair(axis_distance=95.0, height=95.0, **sleeve)
    with pytest.raises(ValueError, match="mate has 4 ribs"):
        Pair(axis_distance=95.0, mate_ribs=4, **sleeve)
    with pytest.raises(ValueError, match="finite"):
        Pair(axis_distance=95.0, speed_ratio=inf, **sleeve)
    with pytest.raises(ValueError, match="does not repeat 3 times"):
        branches_of(polygon([(50, 0), (0, 50), (-50, 0), (0, -50)], "body"), 3)
    hook = Outline(
        (
            Arc((0.0, 0.0), 50.0, 0.2, tau - 0.4, "body"),
            Line((50 * cos(-0.2), 50 * sin(-0.2)), (70.0, -24.0), "flank"),
            Line((70.0, -24.0), (70.0, 24.0), "tip"),
            Line((70.0, 24.0), (50 * cos(0.2), 50 * sin(0.2)), "flank"),
        )
    )
    with pytest.raises(ValueError, match="undercut"):
        branches_of(hook, 1)
