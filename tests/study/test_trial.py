"""Bed trial: statics and momentum in closed form, what must fall, what must be held, and that counts add up."""

from __future__ import annotations

from dataclasses import replace
from math import atan, cos, pi, sqrt

import numpy as np
import pytest

from rollergen.shape.roller_row import row_of
from rollergen.shape.section import section_of
from rollergen.spec.reading import profile_from_text
from rollergen.study import trial as trial_file
from rollergen.study.trial import (
    ItemCount,
    PairCount,
    TrialItem,
    TrialReport,
    TrialRoller,
    side_of,
    trial,
)
from rollergen.study.trial_figures import FIGURES

PROFILE = """
name = "trial"
[body]
diameter = "{body} mm"
free_length = "150 mm"
[ribs]
count = {count}
height = "{height} mm"
tip_width = "10 mm"
flank_angle = "18 deg"
tip_radius = "2.5 mm"
root_radius = "4 mm"
helix_pitch = "640 mm"
[bore]
section = "round"
across = "30 mm"
shaft_tolerance = "0.1 mm"
[compound]
name = "test"
density = "1100 kg/m^3"
"""
RIBS = {"low": (122, 5, 5), "mid": (114, 4, 9), "tall": (106, 3, 13)}  # body diameter, count, height
CAN = {"low": 40.0, "mid": 50.0, "tall": 58.6}  # mm at friction 0.5 and pitch 640 mm, mate standing


def smooth(*, apart: float, speeds: tuple[float, ...], radius: float = 46.0) -> list[TrialRoller]:
    return [TrialRoller(radius=radius, x=k * apart, rotation_speed=w) for k, w in enumerate(speeds)]


def ribbed_bed(name: str, number: int, *, rpm: float = 60.0, mate: float = 0.6) -> list[TrialRoller]:
    body, count, height = RIBS[name]
    profile = profile_from_text(PROFILE.format(body=body, count=count, height=height))
    outline, speed = section_of(profile).outer, -rpm * pi / 30
    ours = TrialRoller(
        outline=outline,
        radius=66.0,
        count=count,
        turn_per_mm=profile.turn_per_mm,
        x=0.0,
        rotation_speed=speed,
    )
    mates = TrialRoller(radius=46.0, x=0.0, rotation_speed=mate * speed)
    return [replace(ours if k % 2 == 0 else mates, x=k * 113.5) for k in range(number)]


def item(smallest: float, largest: float, count: int, **changes: object) -> TrialItem:
    said = {"name": "crop", "kind": "crop", "friction": (0.5, 0.5), "density_kg_m3": 1050.0, **changes}
    return TrialItem(smallest=smallest, largest=largest, count=count, **said)


# statics and momentum


def test_a_ball_between_two_standing_rollers_rests_where_both_are_touched():
    bed = smooth(apart=94.0, speeds=(0.0, 0.0))
    report = trial(bed, [item(50.0, 50.0, 1)], seconds=1.1, seed=3, frames_per_second=20)
    assert report.track is not None and report.items[0].on_bed == 1
    assert report.track.x[-1, 0] == pytest.approx(47.0, abs=0.02)
    assert report.track.y[-1, 0] == pytest.approx(sqrt(71.0**2 - 47.0**2), abs=0.02)
    assert np.ptp(report.track.y[-6:, 0]) < 1e-3


def collided(velocity: np.ndarray, spin: np.ndarray, apart: tuple[float, float, float], steps: int):
    """Two bodies high above any roller that run into each other, before and after; gravity taken off."""
    bed = row_of(smooth(apart=94.0, speeds=(0.0, 0.0)), 60.0, margin=8.0)
    radius = np.array([20.0, 30.0])
    bodies = trial_file._Bodies(
        radius=radius,
        mass=1e-6 * 4 / 3 * pi * radius**3,
        friction=np.array([0.5, 0.5]),
        item=np.zeros(2, dtype=np.int64),
        place=np.array([[47.0, 500.0, 100.0], [47.0, 500.0, 100.0]]).T
        + np.array([[0, 1]]) * np.array(apart)[:, None],
        velocity=velocity.copy(),
        spin=spin.copy(),
        state=np.full(2, trial_file.ON_BED),
        since=np.zeros(2),
        pair=np.full(2, -1),
    )
    watch = trial_file._watch(bed, bodies, None)
    assert len(watch.one) == 1 and len(watch.body) == 0
    for step in range(steps):
        trial_file._advance(bed, bodies, watch, step * trial_file.STEP)
    bodies.velocity[1] += 9810.0 * steps * trial_file.STEP
    return bodies


def energy(bodies, velocity: np.ndarray, spin: np.ndarray) -> float:
    inertia = 0.4 * bodies.mass * bodies.radius**2
    return float((bodies.mass * velocity**2).sum() + (inertia * spin**2).sum()) / 2


def test_two_bodies_that_meet_keep_momentum_and_lose_energy():
    velocity = np.array([[600.0, -200.0], [0.0, 50.0], [0.0, -30.0]])
    spin = np.array([[3.0, 0.0], [-2.0, 5.0], [9.0, 4.0]])
    bodies = collided(velocity, spin, (48.0, 14.0, 5.0), 60)
    before, after = (bodies.mass * velocity).sum(axis=1), (bodies.mass * bodies.velocity).sum(axis=1)
    assert after == pytest.approx(before, abs=1e-9)
    assert np.abs(bodies.velocity - velocity).max() > 100.0
    assert energy(bodies, bodies.velocity, bodies.spin) < energy(bodies, velocity, spin)


def test_a_central_impact_bounces_as_a_damped_spring_does():
    velocity = np.array([[500.0, -300.0], [0.0, 0.0], [0.0, 0.0]])
    bodies = collided(velocity, np.zeros((3, 2)), (50.5, 0.0, 0.0), 60)
    share = (bodies.velocity[0, 1] - bodies.velocity[0, 0]) / 800.0
    zeta = trial_file.DAMPING
    # the force ends when it would pull, not when the overlap ends: closed form of that dashpot model
    wd = sqrt(1 - zeta**2)
    ended = np.arctan2(2 * zeta * wd, 2 * zeta**2 - 1) / wd
    t = np.linspace(0.0, ended, 20001)
    x = np.exp(-zeta * t) * np.sin(wd * t) / wd
    assert share == pytest.approx(-np.gradient(x, t)[-1], rel=0.08)
    assert bodies.spin == pytest.approx(0.0, abs=1e-9)


# limit cases


def test_a_ball_smaller_than_the_body_gap_falls():
    bed = smooth(apart=112.0, speeds=(-3.0, -3.0))
    report = trial(bed, [item(8.0, 12.0, 5)], seconds=1.1, seed=1)
    assert report.items[0].fell == 5 and report.pairs[0].fell == 5 and report.largest_seized is None


def test_equal_smooth_rollers_turning_the_same_way_seize_nothing():
    bed = smooth(apart=94.0, speeds=(-8.0, -8.0))
    report = trial(bed, [item(40.0, 60.0, 4)], seconds=1.2, seed=1)
    assert report.items[0].seized == 0 and report.items[0].fell == 0


@pytest.mark.parametrize("share, all_seized", [((0.8, 0.93), True), ((1.12, 1.4), False)])
def test_two_smooth_rollers_turning_inward_seize_below_the_nip_diameter(share, all_seized):
    """cos(atan mu) = half the axis distance over the sum of radii: the classic nip of two cylinders.

    Just above it a ball that drops in at 1 m/s is pressed 0.6 mm into both rollers and held there, so the
    sizes that must not be seized start a little higher.
    """
    nip = 2 * (48.0 / cos(atan(0.5)) - 46.0)
    bed = smooth(apart=96.0, speeds=(-3.0, 3.0))
    report = trial(bed, [item(share[0] * nip, share[1] * nip, 6)], seconds=1.2, seed=2)
    assert report.items[0].seized == (6 if all_seized else 0)
    assert report.items[0].on_bed == (0 if all_seized else 6)


def test_ribs_that_descend_seize_a_small_stone_and_name_the_pair():
    report = trial(
        ribbed_bed("mid", 2),
        [item(24.0, 26.0, 2, name="stones", kind="debris", density_kg_m3=2600.0, strength=(0.04, 0.06))],
        seconds=1.5,
        seed=1,
    )
    stones, pair = report.items[0], report.pairs[0]
    assert stones.seized == 2 == pair.seized and pair.side == "ribs descending"
    assert stones.largest_seized == pair.largest_seized == report.largest_seized
    assert stones.breaks_at is not None and stones.largest_seized is not None
    assert stones.breaks_at[1] == pytest.approx(0.06 * stones.largest_seized**2 / 0.576)


# invariance and bookkeeping


def test_same_seed_same_report_and_another_seed_another():
    bed = ribbed_bed("mid", 3)
    fed = [item(20.0, 60.0, 6), item(8.0, 40.0, 6, name="clods", kind="debris", density_kg_m3=1700.0)]
    one, two, other = (trial(bed, fed, seconds=0.3, seed=seed, frames_per_second=20) for seed in (5, 5, 6))
    assert replace(one, track=None) == replace(two, track=None)
    assert one.track is not None and two.track is not None and other.track is not None
    assert one.track.x.tobytes() == two.track.x.tobytes() != other.track.x.tobytes()


def test_counts_add_up_and_only_fed_bodies_move():
    bed = ribbed_bed("tall", 4)
    fed = [
        item(20.0, 60.0, 0, name="crop"),
        replace(item(20.0, 60.0, 0), name="beet", count=None, share=0.75),
        replace(item(8.0, 40.0, 0), name="clods", kind="debris", count=None, share=0.25),
        item(8.0, 12.0, 5, name="stones", kind="debris"),
    ]
    told: list[float] = []
    report = trial(bed, fed, seconds=0.6, seed=1, bodies=30, progress=told.append, frames_per_second=10)
    assert [c.count for c in report.items] == [0, 19, 6, 5]
    for c in report.items:
        assert c.count == c.seized + c.fell + c.over + c.on_bed + c.waiting
    assert sum(p.seized for p in report.pairs) == sum(c.seized for c in report.items)
    assert sum(p.fell for p in report.pairs) == sum(c.fell for c in report.items)
    assert told[0] == 0.0 and told == sorted(told) and told[-1] <= 1.0
    assert report.track is not None and len(report.track.time) == 6
    assert (np.diff(report.track.state.astype(int), axis=0) >= 0).all()


def test_a_bed_seen_from_behind_carries_to_the_other_side():
    def drawn(speed: float) -> np.ndarray:
        bed = [TrialRoller(radius=46.0, x=x, rotation_speed=speed) for x in (-94.0, 0.0, 94.0)]
        track = trial(bed, [item(50.0, 50.0, 2)], seconds=0.5, seed=4, frames_per_second=20).track
        assert track is not None
        return track.x

    there, back = drawn(-6.0), drawn(6.0)
    assert back == pytest.approx(-there, abs=1e-2)
    assert there[-1].min() > -94.0


def test_the_width_closes_every_helix():
    bed = ribbed_bed("mid", 2)
    assert trial(bed, [item(40.0, 40.0, 1)], seconds=0.01, seed=1).width == pytest.approx(320.0)
    other = replace(bed[0], x=227.0, turn_per_mm=bed[0].turn_per_mm * 1.01)
    report = trial([*bed, other], [item(40.0, 40.0, 1)], seconds=0.01, seed=1)
    assert (report.width / 160.0) % 1 == pytest.approx(0.0) and "pitches were changed" in report.notes[-1]
    odd = replace(bed[0], x=227.0, turn_per_mm=bed[0].turn_per_mm / 1.3)
    with pytest.raises(ValueError, match="share no width"):
        trial([*bed, odd], [item(40.0, 40.0, 1)], seconds=0.01, seed=1)


def test_sides_by_which_way_the_ribs_go_in_the_gap():
    ours, mate, _ = ribbed_bed("mid", 3)
    back = replace(ours, rotation_speed=-ours.rotation_speed)
    assert side_of(ours, mate) == "ribs descending" == side_of(mate, back)
    assert side_of(back, mate) == "ribs rising" == side_of(mate, ours)
    assert side_of(mate, mate) == "smooth" and side_of(ours, ours) == "ribs on both"


@pytest.mark.parametrize(
    "changes, says",
    [
        ({"smallest": 0.0}, "diameters 0 to 50 mm must rise"),
        ({"smallest": 60.0}, "diameters 60 to 50 mm must rise"),
        ({"friction": (0.0, 0.5)}, "friction 0 to 0.5 must rise"),
        ({"friction": (0.5, 2.5)}, "2 at most"),
        ({"density_kg_m3": 0.0}, "density 0 kg/m"),
        ({"share": 0.5}, "either a count or a share"),
        ({"count": 0}, "no bodies to feed"),
    ],
)
def test_bad_items_are_refused_with_numbers(changes, says):
    with pytest.raises(ValueError, match=says):
        trial(
            smooth(apart=94.0, speeds=(0.0, 0.0)),
            [replace(item(40.0, 50.0, 1), **changes)],
            seconds=1.0,
            seed=1,
        )


def test_bad_beds_are_refused_with_numbers():
    fed = [item(40.0, 50.0, 1)]
    with pytest.raises(ValueError, match="two or more"):
        trial(smooth(apart=94.0, speeds=(0.0,)), fed, seconds=1.0, seed=1)
    with pytest.raises(ValueError, match=r"90 mm apart, radii 46 \+ 46 mm"):
        trial(smooth(apart=90.0, speeds=(0.0, 0.0)), fed, seconds=1.0, seed=1)
    with pytest.raises(ValueError, match="seconds 0"):
        trial(smooth(apart=94.0, speeds=(0.0, 0.0)), fed, seconds=0.0, seed=1)


def test_every_number_of_the_report_has_an_entry():
    told = {figure.key for figure in FIGURES}
    numbers = {*ItemCount.__dataclass_fields__, *PairCount.__dataclass_fields__}
    numbers |= {*TrialReport.__dataclass_fields__}
    asked = {
        "name",
        "kind",
        "count",
        "left",
        "right",
        "side",
        "seconds",
        "seed",
        "items",
        "pairs",
        "notes",
        "track",
    }
    assert numbers - asked - {"mean"} <= told


# the bed against what the pair can seize


@pytest.mark.slow
@pytest.mark.parametrize("name", list(RIBS))
def test_bodies_that_come_alone_are_seized_up_to_what_the_pair_can(name: str):
    """16 bodies, one every 0.4 s, so that hardly any is pressed by another."""
    low = CAN[name]
    report = trial(ribbed_bed(name, 2, rpm=30.0), [item(0.8 * low, 1.06 * low, 16)], seconds=9.0, seed=1)
    assert report.largest_seized is not None and 0.9 * low < report.largest_seized < 1.02 * low


@pytest.mark.slow
@pytest.mark.parametrize("name", list(RIBS))
def test_a_full_bed_seizes_on_the_descending_side_and_near_what_the_pair_can(name: str):
    fed = [
        item(44.0, 76.0, 100),
        item(6.0, 50.0, 50, name="stones", kind="debris", density_kg_m3=2600.0),
        item(8.0, 60.0, 50, name="clods", kind="debris", density_kg_m3=1700.0),
    ]
    report = trial(ribbed_bed(name, 8), fed, seconds=10.0, seed=1)
    assert report.largest_seized is not None
    assert 0.9 * CAN[name] < report.largest_seized < 1.1 * CAN[name]
    rising = sum(p.seized for p in report.pairs if p.side == "ribs rising")
    assert rising <= 0.05 * sum(p.seized for p in report.pairs)
