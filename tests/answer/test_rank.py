"""The ranking: order, weights, reasons, what the second would need; trade facts; the proposal made from it."""

from __future__ import annotations

from dataclasses import asdict, replace
from math import atan, cos, hypot, sin
from pathlib import Path

import numpy as np
import pytest

from rollergen.answer.advise import Limits, advise, varied
from rollergen.answer.bed_start import start_in
from rollergen.answer.duty_items import Running, items_for, pair_for, running_of, smooth_mate_of
from rollergen.answer.explain import unexplained
from rollergen.answer.gap_verdict import check_gap, misses_of
from rollergen.answer.grip_limit import limit_of
from rollergen.answer.grip_verdict import judge_grip
from rollergen.answer.rank import Weights, at_tip_gap, judge, rank, with_height
from rollergen.answer.report import Drawn, draw_profile
from rollergen.errors import ProfileError, UsageError
from rollergen.shape.distance import signed_distance
from rollergen.shape.section import section_of
from rollergen.spec.profile import Profile
from rollergen.spec.profile_text import profile_text
from rollergen.spec.reading import bed_from_text, duty_from_text, profile_from_text, read_profile
from rollergen.spec.schema import starting_profile
from rollergen.study.grip import friction_needed, grip_size

FOLDER = Path(__file__).parents[2] / "profiles"
NAMES = ("beet-general", "beet-flooded", "shallot-gentle", "celeriac-transfer")
DUTY = """
name = "rank-test"
[crop]
name = "red beet"
sieve = [["45 mm", 0], ["60 mm", 0.25], ["75 mm", 0.7], ["105 mm", 1]]
length_ratio = 1.1
friction = [0.35, 0.55]
bruise_pressure = "0.8 MPa"
[[debris]]
name = "clods"
diameters = ["10 mm", "50 mm"]
friction = [0.4, 0.75]
strength = ["42 kPa", "58 kPa"]
[[debris]]
name = "haulm"
diameters = ["2 mm", "9 mm"]
shape = "across"
friction = [0.3, 0.6]
[run]
rotation_speed = "75 rpm"
mate_speed_ratio = -0.6
"""
duty = duty_from_text(DUTY)
running = running_of(duty)


@pytest.fixture(scope="module")
def drawn() -> list[Drawn]:
    return [draw_profile(read_profile(FOLDER / f"{name}.toml")) for name in NAMES]


def start() -> Profile:
    return profile_from_text(starting_profile())


def test_scores_are_the_printed_weights_times_the_printed_points(drawn: list[Drawn]) -> None:
    ranking = rank(drawn, duty, running, weights=Weights(crop=7, debris=3, windows=2, chances=5))
    for row in ranking.rows:
        assert row.score == pytest.approx(
            7 * row.points["crop"]
            + 3 * row.points["debris"]
            + 2 * row.points["windows"]
            + 5 * row.points["chances"]
        )
        assert all(0 <= value <= 1 for value in row.points.values())
    assert [row.score for row in ranking.rows] == sorted((row.score for row in ranking.rows), reverse=True)
    assert [row.place for row in ranking.rows] == [1, 2, 3, 4]


def test_order_of_the_files_does_not_matter(drawn: list[Drawn]) -> None:
    assert rank(drawn, duty, running) == rank(drawn[::-1], duty, running)


@pytest.mark.parametrize(("only", "best"), [("crop", "shallot-gentle"), ("debris", "beet-flooded")])
def test_weights_turn_the_table(drawn: list[Drawn], only: str, best: str) -> None:
    bare = Weights(crop=0, debris=0, windows=0, chances=0.01)
    ranking = rank(drawn, duty, running, weights=replace(bare, **{only: 10.0}))
    assert ranking.rows[0].profile == best


def test_a_row_agrees_with_the_full_grip_verdict(drawn: list[Drawn]) -> None:
    for one in drawn:
        row, verdict = judge(one, duty, running), judge_grip(one, duty, running)
        crop, clods, _ = verdict.report.items
        assert row.crop_grip_mm == pytest.approx(max(s.grip_size_mm[1] for s in crop.sides), rel=2e-4)
        sure = max(clods.grip_size_mm[0], verdict.report.drop_size_mm)
        assert row.taken[0].sure_size_mm == pytest.approx(sure, rel=2e-4)
        assert (row.crop_at_risk == 0) == verdict.ok


def test_what_the_second_needs_is_what_it_needs(drawn: list[Drawn]) -> None:
    ranking = rank(drawn, duty, running)
    first, second = ranking.rows[:2]
    words = " ".join(ranking.second_would_win)
    behind = first.score - second.score
    assert f"{behind:.2f} points behind {first.profile}" in words
    needed = second.points["debris"] + behind / 4
    assert (f"debris at {needed:.2f}" in words) == (needed <= 1)
    if "instead of" in words and "would win" in words and "ribs of" in words:
        height = float(words.split("with ribs of ")[1].split(" mm")[0])
        one = next(d for d in drawn if d.profile.name == second.profile)
        changed = with_height(one.profile, height)
        assert changed is not None and changed.tip_radius == pytest.approx(one.profile.tip_radius)
        assert judge(draw_profile(changed), duty, running).score > first.score


def test_a_profile_that_misses_its_gap_comes_last(drawn: list[Drawn]) -> None:
    tight = at_tip_gap(drawn[2], 0.2)
    ranking = rank([drawn[0], tight], duty, running)
    assert [row.gaps_ok for row in ranking.rows] == [True, False]
    assert "first has to meet the gaps" in ranking.second_would_win[0]


def test_one_tip_gap_for_all_is_kept_and_otherwise_told(drawn: list[Drawn]) -> None:
    assert any("tip gaps differ" in note for note in rank(drawn, duty, running).notes)
    same = rank(drawn, duty, running, tip_gap=1.5)
    assert all(row.tip_gap_mm == pytest.approx(1.5) for row in same.rows)
    assert not any("tip gaps differ" in note for note in same.notes)


@pytest.mark.parametrize("name", NAMES)
def test_quick_and_full_gap_verdict_agree(name: str) -> None:
    profile = read_profile(FOLDER / f"{name}.toml")
    for axes in (0.0, -1.0, 1.0, 5.0):
        mates = tuple(m.model_copy(update={"axis_distance": m.axis_distance + axes}) for m in profile.mates)
        moved = profile.model_copy(update={"mates": mates})
        section = section_of(moved)
        assert all(g.ok for g in check_gap(moved, section)) == (not misses_of(moved, section))


def test_twins_sleeves_and_ribbed_mates_are_refused(drawn: list[Drawn]) -> None:
    with pytest.raises(UsageError, match="two profiles are called"):
        rank([drawn[0], drawn[0]], duty, running)
    sleeve = draw_profile(read_profile(FOLDER / "plain-sleeve.toml"))
    with pytest.raises(UsageError, match="no mate"):
        rank([sleeve], duty, running)
    ribbed = draw_profile(read_profile(FOLDER / "beet-left.toml"))
    with pytest.raises(UsageError, match="has ribs"):
        judge_grip(ribbed, duty, running)
    with pytest.raises(UsageError, match='no mate "left"'):
        smooth_mate_of(drawn[0].profile, "left")
    with pytest.raises(UsageError, match="0 or more"):
        Weights(crop=-1)


def test_a_roller_that_turns_the_other_way_drives_with_its_other_flank() -> None:
    text = starting_profile().replace(
        'flank_angle = "15 deg" ', 'flank_angle_ahead = "4 deg"\nflank_angle_behind = "24 deg" '
    ).replace('tip_radius = "2.5 mm"', 'tip_radius = "0.4 mm"').replace('"650 mm"', '"straight"')  # fmt: skip
    one = draw_profile(profile_from_text(text))
    other = draw_profile(
        profile_from_text(
            text.replace("ahead = ", "x = ").replace("behind = ", "ahead = ").replace("_x = ", "_behind = ")
        )
    )
    back = Running(rotation_speed=6.0, mate_speed_ratio=-0.6, turning="counter-clockwise")
    forth = replace(back, turning="clockwise")
    number, mate = smooth_mate_of(one.profile)
    small = np.linspace(10.0, 30.0, 9)  # small bodies lie on the flank, larger ones under the tip round
    needed = [
        friction_needed(pair_for(d, number, mate, run), small)
        for d, run in ((one, back), (other, forth), (one, forth))
    ]
    assert needed[0] == pytest.approx(needed[1], rel=1e-9)
    assert np.abs(needed[0] - needed[2]).max() > 0.01


@pytest.mark.parametrize("name", NAMES)
def test_the_limit_that_is_drawn_touches_roller_and_mate(name: str, drawn: list[Drawn]) -> None:
    one = next(d for d in drawn if d.profile.name == name)
    pair = pair_for(one, *smooth_mate_of(one.profile), running)
    state = limit_of(pair, 0.5)
    x, y = state.centre
    assert (x - pair.axis_distance) ** 2 + y**2 == pytest.approx((pair.mate_radius + state.diameter / 2) ** 2)
    turned = complex(*state.ours) * complex(cos(-state.rotation), sin(-state.rotation))
    assert abs(float(signed_distance(pair.outline, np.array([[turned.real, turned.imag]]))[0])) < 1e-6
    # seen along the axis, the wedge between both contacts is no wider than friction holds
    chord = hypot(state.ours[0] - state.mates[0], state.ours[1] - state.mates[1])
    assert chord >= state.diameter * cos(atan(0.5)) * 0.9
    assert state.diameter == pytest.approx(grip_size(pair, 0.5), rel=1e-6)


# common practice, no source: what practitioners expect of low, general and open rollers


def trade(count: int, height: float, body: float) -> Drawn:
    text = (
        starting_profile()
        .replace("count = 5", f"count = {count}", 1)
        .replace('height = "8 mm"', f'height = "{height} mm"')
    )
    text = text.replace('diameter = "112 mm"', f'diameter = "{body} mm"')
    return at_tip_gap(draw_profile(profile_from_text(text)), 1.5)


def test_bolder_ribs_seize_larger_bodies_and_take_more() -> None:
    """common practice, no source: 4 ribs of 6 mm on a larger body, 6 of 10 mm, 3 of 15 mm, at one tip gap."""
    rows = [judge(d, duty, running) for d in (trade(4, 6, 120), trade(6, 10, 112), trade(3, 15, 112))]
    assert rows[0].crop_grip_mm < rows[1].crop_grip_mm < rows[2].crop_grip_mm
    sure = [row.taken[0].sure_size_mm for row in rows]
    assert sure[0] < sure[1] < sure[2]  # lower and fewer ribs take fewer stones and clods through
    passings = [
        d.profile.ribs.count
        for d in (trade(4, 6, 120), trade(6, 10, 112), trade(3, 15, 112))
        if d.profile.ribs
    ]
    assert passings == [4, 6, 3]


def test_no_figure_of_a_duty_answer_is_without_an_entry(drawn: list[Drawn]) -> None:
    advice = advise(start(), duty, running, limits=Limits(tip_gaps=(2.0,)))
    assert unexplained(asdict(judge_grip(drawn[0], duty, running, stiffness=40.0))) == []
    assert unexplained(asdict(rank(drawn, duty, running))) == []
    assert unexplained({"tried": [asdict(t) for t in advice.tried[:1]]}) == ["tried"]


# the proposal


def test_a_proposal_keeps_the_crop_reads_back_and_is_the_best_that_was_tried() -> None:
    advice = advise(start(), duty, running, limits=Limits(tip_gaps=(1.5,)))
    assert advice.profile is not None and advice.chosen is not None
    again = profile_from_text(profile_text(advice.profile))
    assert judge_grip(draw_profile(again), duty, running).ok
    assert not misses_of(again, section_of(again))
    best = max(t.row.score for t in advice.tried if t.keeps)
    assert advice.chosen.row.score == best
    assert again.ribs is not None and again.ribs.height == advice.chosen.height_mm
    bolder = varied(start(), height=advice.chosen.height_mm + 4, count=advice.chosen.count, tip_gap=1.5)
    assert bolder is not None and not judge_grip(draw_profile(bolder), duty, running).ok


def test_a_duty_that_nothing_can_meet_says_how_near_it_gets() -> None:
    small = duty_from_text(DUTY.replace('["45 mm", 0]', '["12 mm", 0]'))
    advice = advise(start(), small, running, limits=Limits(tip_gaps=(1.5,)))
    assert advice.profile is None and advice.nearest is not None
    assert advice.nearest.row.crop_at_risk > 0
    assert "nothing keeps every limit" in " ".join(advice.words)
    with pytest.raises(UsageError, match="above 0 mm"):
        Limits(tip_gaps=(0.0,))


def test_a_bed_gives_the_mate_and_its_place() -> None:
    bed = bed_from_text(
        f"""
name = "b"
width = "1 m"
[[rollers]]
profile = "{FOLDER / "beet-general.toml"}"
x = "0 mm"
y = "0 mm"
rotation_speed = "-75 rpm"
[[rollers]]
diameter = "84 mm"
x = "109 mm"
y = "6 mm"
rotation_speed = "-45 rpm"
"""
    )
    profile = start_in(bed)
    (mate,) = profile.mates
    assert mate.diameter == 84.0
    assert mate.axis_distance == pytest.approx((109**2 + 6**2) ** 0.5)
    assert (mate.height, mate.speed_ratio) == (6.0, pytest.approx(-0.6))


def test_a_mate_that_leaves_no_room_is_a_wrong_profile(drawn: list[Drawn]) -> None:
    number, mate = smooth_mate_of(drawn[0].profile)
    with pytest.raises(ProfileError, match="leaves no room"):
        pair_for(drawn[0], number, mate.model_copy(update={"axis_distance": 90.0}), running)
    assert len(items_for(duty)) == 3
