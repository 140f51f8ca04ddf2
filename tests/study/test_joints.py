"""Joints in closed form, against all seats there are, mirrored, and in limit cases."""

from __future__ import annotations

from itertools import product
from math import inf, lcm, pi, radians, tau

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollergen.study.joints import FIGURES, STEPS, JointsReport, joints, mismatch_bound_deg

TIP = 68.0


def asked(lengths: list[float], **said: object) -> JointsReport:
    usual: dict[str, object] = {
        "count": 5,
        "helix_pitch": 700.0,
        "bore_section": "square",
        "tip_radius": TIP,
    }
    return joints(lengths, **{**usual, **said})  # type: ignore[arg-type]


def rib_lines(
    lengths: list[float], report: JointsReport, *, count: int, pitch: float, hand: int, start: float
) -> list[tuple[np.ndarray, np.ndarray]]:
    """(near, far) tip points (count, 2) of each segment as seated, by moving points in space."""
    ends = []
    for length, seat in zip(lengths, report.seats, strict=True):
        z = np.array([0.0, length])
        angle = start + tau * np.arange(count)[:, None] / count + hand * tau * z / pitch
        points = np.stack([np.cos(angle), np.sin(angle), np.broadcast_to(z, angle.shape)], axis=-1)
        if seat.turned:  # half a turn about x, then back up by its length
            points = points * np.array([1.0, -1.0, -1.0]) + np.array([0.0, 0.0, length])
            points = points[:, ::-1]
        assert points[0, 0, 2] == 0.0 and points[0, 1, 2] == length
        a = radians(seat.turn_deg)
        spin = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
        ends.append((points[:, 0, :2] @ spin, points[:, 1, :2] @ spin))
    return ends


def nearest_rib_deg(far: np.ndarray, near: np.ndarray) -> float:
    """Angle from the first rib of one end to the nearest of the other."""
    angle = np.arctan2(near[:, 1], near[:, 0]) - np.arctan2(far[0, 1], far[0, 0])
    return float(np.degrees(np.min(np.abs(np.angle(np.exp(1j * angle))))))


sections = st.sampled_from(sorted(STEPS))
stacks = st.lists(st.floats(60.0, 200.0), min_size=1, max_size=6)


@given(
    lengths=stacks,
    section=sections,
    count=st.integers(1, 9),
    pitch=st.floats(150.0, 3000.0),
    hand=st.sampled_from([1, -1]),
    start=st.floats(-3.0, 3.0),
    may_turn=st.booleans(),
)
def test_mismatch_is_what_points_on_the_ribs_show(
    lengths: list[float],
    section: str,
    count: int,
    pitch: float,
    hand: int,
    start: float,
    may_turn: bool,
):
    report = asked(
        lengths,
        count=count,
        helix_pitch=pitch,
        bore_section=section,
        hand=hand,
        start=start,
        may_turn=may_turn,
    )
    ends = rib_lines(lengths, report, count=count, pitch=pitch, hand=hand, start=start)
    assert len(report.joints) == len(lengths) - 1
    for joint, (_, far), (near, _) in zip(report.joints, ends, ends[1:], strict=False):
        assert nearest_rib_deg(far, near) == pytest.approx(joint.mismatch_deg, abs=1e-6)
        assert joint.mismatch_deg <= mismatch_bound_deg(count, section) + 1e-9
        assert joint.step_mm == pytest.approx(radians(joint.mismatch_deg) * TIP)
    steps = STEPS[section]
    if steps is not None:
        assert all(seat.turn_deg == pytest.approx(seat.index * 360 / steps) for seat in report.seats)
        assert all(0 <= seat.index < steps for seat in report.seats)


def all_seats_worst(
    lengths: list[float], *, count: int, steps: int, pitch: float, start: float, may_turn: bool
) -> tuple[float, float]:
    """(worst, sum of) mismatch in deg over every combination of index and end, least worst first."""
    n, options = len(lengths), list(product(range(steps), (False, True) if may_turn else (False,)))
    best = (inf, inf)
    for seats in product(options, repeat=n):
        misses = []
        for i in range(n - 1):
            (a, a_turned), (b, b_turned) = seats[i], seats[i + 1]
            twist, after = tau * lengths[i] / pitch, tau * lengths[i + 1] / pitch
            far = tau * a / steps + (-start if a_turned else start + twist)
            near = tau * b / steps + (-start - after if b_turned else start)
            rest = (far - near) % (tau / count)
            misses.append(360 / tau * min(rest, tau / count - rest))
        best = min(best, (round(max(misses), 9), round(sum(misses), 9)))
    return best


@pytest.mark.parametrize("may_turn", [False, True])
@settings(max_examples=20, deadline=None)
@given(
    lengths=st.lists(st.sampled_from([101.5, 123.8, 173.5]), min_size=2, max_size=3),
    count=st.integers(1, 8),
    steps=st.sampled_from([("square", 4), ("hexagon", 6), ("keyed", 1)]),
    pitch=st.sampled_from([433.0, 700.0, 1234.5]),
    start=st.sampled_from([0.0, 0.3]),
)
def test_best_of_all_seats_there_are(
    may_turn: bool,
    lengths: list[float],
    count: int,
    steps: tuple[str, int],
    pitch: float,
    start: float,
):
    report = asked(
        lengths,
        count=count,
        helix_pitch=pitch,
        bore_section=steps[0],
        start=start,
        may_turn=may_turn,
    )
    worst, total = all_seats_worst(
        lengths, count=count, steps=steps[1], pitch=pitch, start=start, may_turn=may_turn
    )
    assert report.worst_mismatch_deg == pytest.approx(worst, abs=1e-7)
    assert sum(j.mismatch_deg for j in report.joints) == pytest.approx(total, abs=1e-7)


@settings(max_examples=40)
@given(lengths=st.lists(st.sampled_from([101.5, 123.8, 173.5]), min_size=4, max_size=8))
def test_turning_in_longer_stacks_is_the_best_of_all(lengths: list[float]):
    # indices are free at every joint, so only the ends matter: all 2^n of them
    pitch, grid = 700.0, 1 / lcm(5, 4)
    best = (inf, inf)
    for ends in product((False, True), repeat=len(lengths)):
        misses = []
        for i, (a, b) in enumerate(zip(ends, ends[1:], strict=False)):
            apart = (0 if a else lengths[i] / pitch) + (lengths[i + 1] / pitch if b else 0)
            misses.append(360 * abs(apart - grid * round(apart / grid)))
        best = min(best, (round(max(misses), 9), round(sum(misses), 9)))
    report = asked(lengths)
    assert report.worst_mismatch_deg == pytest.approx(best[0], abs=1e-7)
    assert sum(j.mismatch_deg for j in report.joints) == pytest.approx(best[1], abs=1e-7)


@pytest.mark.parametrize(
    ("count", "section", "bound"),
    [(5, "square", 9.0), (4, "square", 45.0), (6, "square", 15.0), (5, "hexagon", 6.0),
     (6, "hexagon", 30.0), (5, "keyed", 36.0), (5, "round", 0.0), (0, "square", 0.0)],
)  # fmt: skip
def test_bound_in_closed_form_and_reached(count: int, section: str, bound: float):
    assert mismatch_bound_deg(count, section) == pytest.approx(bound)
    if bound:
        # a twist of half a step more than a whole one: nothing untwists it
        step = 2 * bound / 360
        report = asked(
            [100.0] * 3, count=count, helix_pitch=100.0 / (1.5 * step), bore_section=section, may_turn=False
        )
        assert report.worst_mismatch_deg == pytest.approx(bound)


@given(lengths=stacks, hand_start=st.floats(-3.0, 3.0), count=st.integers(1, 8), section=sections)
def test_the_other_hand_is_the_mirror_image(
    lengths: list[float], hand_start: float, count: int, section: str
):
    right = asked(lengths, count=count, bore_section=section, start=hand_start)
    left = asked(lengths, count=count, bore_section=section, start=-hand_start, hand=-1)
    # worst and sum are the choice's own; a tie may be broken another way joint by joint
    assert left.worst_mismatch_deg == pytest.approx(right.worst_mismatch_deg, abs=1e-8)
    assert sum(j.mismatch_deg for j in left.joints) == pytest.approx(
        sum(j.mismatch_deg for j in right.joints), abs=1e-7
    )
    assert left.as_threaded_deg == pytest.approx(right.as_threaded_deg, abs=1e-8)


@pytest.mark.parametrize("lengths", [[152.0] * 9, [173.5, 173.5, 123.8, 101.5], [150.0, 100.0, 100.0, 75.0]])
@pytest.mark.parametrize("section", ["square", "hexagon", "keyed"])
def test_exact_pitches_and_lengths_give_nothing_at_all(lengths: list[float], section: str):
    report = asked(lengths, bore_section=section, may_turn=False)
    below, above = report.exact_pitch_below_mm, report.exact_pitch_above_mm
    assert below is not None and above is not None and below <= 700.0 <= above
    for pitch in (below, above):
        for order in (lengths, lengths[::-1]):
            again = asked(order, bore_section=section, helix_pitch=pitch, may_turn=False)
            assert again.worst_mismatch_deg == pytest.approx(0.0, abs=1e-8)
    for exact in report.exact_lengths:
        for length in (exact.below_mm, exact.above_mm):
            if length is not None:
                other = asked([length] * 4, bore_section=section, may_turn=False)
                assert other.worst_mismatch_deg == pytest.approx(0.0, abs=1e-8)


def test_exact_pitches_by_hand():
    # five ribs on a square bore: 20 steps a turn, one step per whole 150 mm segment: 3000 mm; k = 4, 5: 750, 600
    report = asked([150.0] * 10, may_turn=False)
    assert (report.exact_pitch_below_mm, report.exact_pitch_above_mm) == pytest.approx((600.0, 750.0))
    # 700 mm / 20 = 35 mm: 140 and 175
    (exact,) = report.exact_lengths
    assert (exact.below_mm, exact.above_mm) == pytest.approx((140.0, 175.0))
    # 150 and 100 have 50 in common: 1000 / k
    mixed = asked([150.0, 100.0])
    assert (mixed.exact_pitch_below_mm, mixed.exact_pitch_above_mm) == pytest.approx((500.0, 1000.0))
    # nothing but straight above 20 times the common measure
    prime = asked([173.0, 101.0])
    assert (prime.exact_pitch_below_mm, prime.exact_pitch_above_mm) == (20.0, inf)


def test_a_pitch_between_two_exact_ones_has_none_nearer():
    lengths = [150.0, 100.0]
    for pitch in np.linspace(505.0, 995.0, 50):
        assert asked(lengths, helix_pitch=float(pitch), may_turn=False).exact_pitch_below_mm == 500.0
        misses = [abs(x * 20 / pitch - round(x * 20 / pitch)) for x in lengths]
        assert max(misses) > 1e-3


def test_mismatch_by_hand():
    # 152 mm at 700 mm turns by 78.171 deg; nearest step of 18 deg is 72: 6.171 deg
    report = asked([152.0] * 4, may_turn=False)
    assert [joint.mismatch_deg for joint in report.joints] == pytest.approx([360 * 152 / 700 - 72] * 3)
    assert report.worst_step_mm == pytest.approx(radians(360 * 152 / 700 - 72) * TIP)
    # 72 deg is one rib: all on alike is as good here
    assert [seat.index for seat in report.seats] == [0, 0, 0, 0]
    assert report.as_threaded_deg == pytest.approx(360 * 152 / 700 - 72)


def test_index_by_hand():
    # 175 mm at 700 mm turns by 90 deg: each segment one flat on
    report = asked([175.0] * 6, may_turn=False)
    assert [seat.index for seat in report.seats] == [0, 1, 2, 3, 0, 1]
    assert report.worst_mismatch_deg == pytest.approx(0.0, abs=1e-9)
    assert report.as_threaded_deg == pytest.approx(18.0)


def test_two_segments_end_for_end_run_through_exactly():
    # the first turned over: its near end, where a rib lies on a flat, meets the second's near end
    report = asked([152.0, 131.0])
    assert report.worst_mismatch_deg == pytest.approx(0.0, abs=1e-9)
    assert [seat.turned for seat in report.seats] == [True, False]


def test_nothing_is_turned_without_gain():
    for report in (asked([175.0] * 6), asked([152.0]), asked([120.0] * 5, helix_pitch=inf)):
        assert not any(seat.turned for seat in report.seats)


@pytest.mark.parametrize("said", [{"helix_pitch": inf}, {"count": 0}, {"bore_section": "round"}])
@pytest.mark.parametrize("may_turn", [False, True])
def test_straight_ribs_no_ribs_and_a_round_bore_always_run_through(said: dict[str, object], may_turn: bool):
    report = asked([173.5, 123.8, 101.5], may_turn=may_turn, **said)
    assert report.worst_mismatch_deg == 0.0 == report.worst_step_mm
    assert [joint.mismatch_deg for joint in report.joints] == [0.0, 0.0]


def test_straight_ribs_are_the_limit_of_a_long_pitch():
    misses = [
        asked([152.0] * 5, helix_pitch=pitch, may_turn=False).worst_mismatch_deg
        for pitch in (1e5, 2e5, 4e5, inf)
    ]
    assert misses[:3] == pytest.approx([360 * 152 / pitch for pitch in (1e5, 2e5, 4e5)])
    assert misses[3] == 0.0
    assert asked([152.0] * 5, helix_pitch=inf).exact_pitch_above_mm == inf


def test_round_bore_is_turned_by_the_twist():
    report = asked([152.0, 152.0], bore_section="round", may_turn=False)
    assert report.seats[1].turn_deg == pytest.approx(360 * 152 / 700 % 72)
    assert (report.exact_pitch_below_mm, report.exact_lengths) == (None, ())


def test_twice_the_same_and_two_hundred_at_once():
    many = [173.5, 123.8, 101.5, 173.5] * 50
    assert asked(many) == asked(list(many))
    assert len(asked(many).joints) == 199


def test_start_does_not_matter_while_nothing_is_turned():
    plain = asked([152.0, 131.0, 90.0], may_turn=False)
    shifted = asked([152.0, 131.0, 90.0], may_turn=False, start=pi / 7)
    assert [j.mismatch_deg for j in shifted.joints] == pytest.approx([j.mismatch_deg for j in plain.joints])


@pytest.mark.parametrize(
    ("lengths", "said", "says"),
    [
        ([], {}, "at least one"),
        ([0.0], {}, "at least 0.001"),
        ([inf], {}, "at least 0.001"),
        ([100.0], {"count": -1}, "count -1"),
        ([100.0], {"helix_pitch": -700.0}, "hand = -1"),
        ([100.0], {"tip_radius": 0.0}, "tip radius 0"),
        ([100.0], {"bore_section": "oval"}, "square, hexagon"),
        ([100.0], {"hand": 2}, "hand 2"),
    ],
)
def test_bad_numbers_are_named(lengths: list[float], said: dict[str, object], says: str):
    with pytest.raises(ValueError, match=says):
        asked(lengths, **said)


def test_every_reported_number_has_its_figure():
    report = asked([152.0, 131.0])
    keys = {figure.key for figure in FIGURES}
    for record in (report, report.joints[0], report.seats[0]):
        assert keys >= set(type(record).__dataclass_fields__) - {"joints", "seats"}
