"""A whole bed at once: gaps against the gap verdict, order, nips by hand, overlapping beds refused."""

from __future__ import annotations

from math import hypot, pi, radians
from pathlib import Path

import numpy as np
import pytest

from rollergen.answer.bed_nips import nips_between
from rollergen.answer.bed_overview import FIGURES, near_pairs, overview
from rollergen.answer.gap_verdict import NIP_CAUTION, RIBS_CAUTION, check_gap
from rollergen.errors import ProfileError
from rollergen.shape.roller_pair import RibbedRoller, pair_of, section_distance
from rollergen.shape.section import section_of
from rollergen.spec.bed import Bed
from rollergen.spec.profile import Profile
from rollergen.spec.reading import bed_from_text, read_bed, read_profile

PROFILES = Path(__file__).parents[2] / "profiles"
BEDS = sorted((PROFILES / "beds").glob("*.toml"))


def bed_of(*rollers: str) -> Bed:
    tables = "".join(f"[[rollers]]\n{roller}\n" for roller in rollers)
    return bed_from_text(f'name = "test-bed"\nwidth = "1.5 m"\n{tables}', folder=PROFILES)


def smooth(x: float, diameter: float = 90.0, *, y: float = 0.0, speed: float | None = None) -> str:
    turning = "" if speed is None else f'\nrotation_speed = "{speed!r} rpm"'
    return f'diameter = "{diameter!r} mm"\nx = "{x!r} mm"\ny = "{y!r} mm"{turning}'


def ribbed(
    x: float,
    profile: str = "beet-general",
    *,
    y: float = 0.0,
    speed: float | None = None,
    phase: float = 0.0,
) -> str:
    turning = "" if speed is None else f'\nrotation_speed = "{speed!r} rpm"'
    place = f'x = "{x!r} mm"\ny = "{y!r} mm"\nphase = "{phase!r} deg"'
    return f'profile = "{profile}.toml"\n{place}{turning}'


def sides(bed: Bed) -> list[tuple[str, str]]:
    found = nips_between(*bed.rollers)
    assert found is not None
    return [(nip.side, nip.surfaces) for nip in found]


@pytest.mark.parametrize("path", BEDS, ids=lambda path: path.stem)
def test_gaps_of_shipped_beds_agree_with_the_verdict_on_the_profile_itself(path: Path) -> None:
    bed = read_bed(path)
    seen = overview(bed)
    assert seen.ok and len(seen.pairs) == len(bed.rollers) - 1
    assert NIP_CAUTION in seen.cautions and RIBS_CAUTION in seen.cautions
    segment = next(roller.segment for roller in bed.rollers if roller.segment is not None)
    alone = check_gap(segment, section_of(segment))[0]
    for pair in seen.pairs:
        assert pair.kind == "ribbed-smooth"
        assert pair.tip_gap_mm == pytest.approx(alone.tip_gap_mm, abs=1e-9)
        assert pair.body_gap_mm == pytest.approx(alone.body_gap_mm, abs=1e-9)
        assert (pair.least_tip_gap_mm, pair.most_body_gap_mm) == (
            alone.least_tip_gap_mm,
            alone.most_body_gap_mm,
        )


def test_worst_comes_first_and_equal_gaps_stay_from_left_to_right() -> None:
    bed = bed_of(smooth(0), smooth(93), smooth(183.5), smooth(277), smooth(370), smooth(475))
    pairs = overview(bed).pairs
    assert [round(pair.tip_gap_mm, 9) for pair in pairs] == [0.5, 3.0, 3.0, 3.5, 15.0]
    assert [pair.left for pair in pairs] == ["roller 2", "roller 1", "roller 4", "roller 3", "roller 5"]
    assert all(pair.kind == "smooth-smooth" and pair.ok for pair in pairs)


def test_a_pair_that_misses_what_its_profile_asks_leads_the_list_and_says_why() -> None:
    """beet-general asks at most 12 mm to the body of a 90 mm mate: 115 mm apart leaves 14."""
    bed = bed_of(ribbed(0), smooth(110), smooth(200.5), ribbed(315.5))
    seen = overview(bed)
    first = seen.pairs[0]
    assert not seen.ok and (first.left, first.right, first.ok) == ("roller 3", "roller 4", False)
    assert first.body_gap_mm == pytest.approx(14.0) and "at most 12 mm" in first.reasons[0]
    assert "2 mm closer" in first.reasons[0]
    assert seen.pairs[1].tip_gap_mm == pytest.approx(0.5)
    too_near = overview(bed_of(ribbed(0), smooth(109.5))).pairs[0]
    assert not too_near.ok and "asked 1 mm" in too_near.reasons[0] and "0.5 mm apart" in too_near.reasons[0]
    other_diameter = overview(bed_of(ribbed(0), smooth(109.5, 89.0))).pairs[0]
    assert other_diameter.ok and other_diameter.least_tip_gap_mm is None


def test_ribs_that_run_into_the_neighbour_are_a_verdict() -> None:
    pair = overview(bed_of(ribbed(0), smooth(105, 84.0))).pairs[0]
    assert pair.tip_gap_mm == pytest.approx(-1.0) and not pair.ok
    assert "run into each other" in pair.reasons[0]


@pytest.mark.parametrize("changed", [95.0, 101.0])
def test_an_overlapping_bed_is_refused_by_roller_with_numbers(changed: float) -> None:
    bed = read_bed(PROFILES / "beds" / "beet-line.toml")
    moved = bed.rollers[1].model_copy(update={"x": changed})
    with pytest.raises(ProfileError) as wrong:
        overview(bed.model_copy(update={"rollers": (bed.rollers[0], moved, *bed.rollers[2:])}))
    complaint = wrong.value.complaints[0]
    assert complaint.key == "rollers[1].x" and f"{changed:g} mm" in complaint.message
    assert "at least 101" in complaint.message
    assert wrong.value.exit_code == 2


def test_a_height_between_the_axes_counts_in_the_distance() -> None:
    level = overview(bed_of(ribbed(0), smooth(112))).pairs[0]
    lifted = overview(bed_of(ribbed(0), smooth(112, y=20))).pairs[0]
    assert lifted.axis_distance_mm == pytest.approx(hypot(112, 20))
    assert lifted.tip_gap_mm - level.tip_gap_mm == pytest.approx(hypot(112, 20) - 112)


def test_turning_the_bed_round_leaves_every_gap_as_it_is() -> None:
    """Half a turn about z: x and y change sign, phases gain 180 deg, gaps stay, nips change sides."""
    one = bed_of(
        ribbed(0, speed=-70.0, phase=10),
        ribbed(124.5, "beet-left", y=8, speed=35.0, phase=25),
        smooth(236, speed=40.0),
    )
    turned = one.model_copy(
        update={
            "rollers": tuple(
                roller.model_copy(update={"x": -roller.x, "y": -roller.y, "phase": roller.phase + pi})
                for roller in one.rollers
            )
        }
    )
    here, there = overview(one).pairs, overview(turned).pairs
    assert [pair.kind for pair in here] == [pair.kind for pair in there]
    for a, b in zip(here, there, strict=True):
        assert b.tip_gap_mm == pytest.approx(a.tip_gap_mm, abs=1e-6)
        assert {a.left, a.right} == {b.left, b.right}


def as_roller(profile: Profile) -> RibbedRoller:
    return RibbedRoller(
        outline=section_of(profile).outer,
        count=profile.ribs.count if profile.ribs else 0,
        turn_per_mm=profile.turn_per_mm,
        length=profile.body.free_length,
        body_radius=profile.body_radius,
        tip_radius=profile.tip_radius,
    )


@pytest.mark.parametrize(("ours", "mates"), [(12.0, 0.0), (12.0, 36.0), (0.0, 23.0)])
def test_two_ribbed_rollers_keep_their_phases(ours: float, mates: float) -> None:
    """Never above the section distance at any moment of the drive, and near the least of many moments."""
    left, right = read_profile(PROFILES / "beet-general.toml"), read_profile(PROFILES / "beet-left.toml")
    bed = bed_of(ribbed(0, speed=60.0, phase=ours), ribbed(125, "beet-left", speed=-60.0, phase=mates))
    gap = overview(bed).pairs[0]
    pair = pair_of(as_roller(left), as_roller(right), axis_distance=125.0)
    turn, z = np.meshgrid(np.linspace(0, radians(72), 145), np.linspace(0, left.body.free_length, 40))
    distance = section_distance(
        pair,
        (turn + radians(ours) + left.turn_per_mm * z).ravel(),
        (-turn + radians(mates) + right.turn_per_mm * z).ravel(),
    )
    assert gap.tip_gap_mm <= distance.min() + 1e-9
    assert gap.tip_gap_mm >= 0.9 * distance.min() - 0.1
    assert gap.any_phase_gap_mm == pytest.approx(125 - 64 - 64)


def test_two_ribbed_rollers_agree_with_the_verdict_on_the_written_mate() -> None:
    profile = read_profile(PROFILES / "beet-left.toml")
    written = check_gap(profile, section_of(profile))
    mate = next(report for report in written if report.kind == "ribbed")
    bed = bed_of(ribbed(0, "beet-left", speed=-50.0), ribbed(125, speed=50.0))
    pair = overview(bed).pairs[0]
    assert pair.tip_gap_mm == pytest.approx(mate.tip_gap_mm, abs=1e-9)
    assert (pair.ok, pair.least_tip_gap_mm) == (mate.ok, 1.0)


def test_ribbed_rollers_without_a_known_drive_are_judged_tip_to_tip() -> None:
    for left, right in ((None, None), (30.0, None), (None, 30.0)):
        pair = overview(bed_of(ribbed(0, speed=left), ribbed(130, "beet-left", speed=right))).pairs[0]
        assert pair.tip_gap_mm == pair.any_phase_gap_mm == pytest.approx(2.0)
        assert pair.nips is None
    timed = overview(bed_of(ribbed(0, speed=-30.0), ribbed(130, "beet-left", speed=30.0))).pairs[0]
    assert timed.tip_gap_mm > timed.any_phase_gap_mm + 1.0


def test_a_row_of_equal_ribbed_pairs_has_equal_gaps() -> None:
    """Positions that cannot be written exactly in binary make the same pair, worked out once."""
    hands, speeds = ("beet-general", "beet-left"), (40.0, -40.0)
    row = [ribbed(124.7 * k, hands[k % 2], speed=speeds[k % 2]) for k in range(5)]
    pairs = overview(bed_of(*row)).pairs
    gaps = [pair.tip_gap_mm for pair in pairs]
    assert max(gaps) - min(gaps) < 1e-6 and min(gaps) > pairs[0].any_phase_gap_mm + 1.0


@pytest.mark.parametrize(
    ("left", "right", "found"),
    [
        (-60.0, 40.0, [("above", "both")]),  # tops turn towards each other
        (60.0, -40.0, [("below", "both")]),  # tops turn apart, the bottoms towards each other
        (-60.0, -40.0, [("above", "one"), ("below", "one")]),
        (60.0, 40.0, [("above", "one"), ("below", "one")]),
        (-60.0, 0.0, [("above", "one")]),
        (0.0, 40.0, [("above", "one")]),
        (60.0, 0.0, [("below", "one")]),
        (0.0, 0.0, []),
    ],
)
def test_nips_of_two_level_rollers_by_hand(left: float, right: float, found: list[tuple[str, str]]) -> None:
    assert sides(bed_of(smooth(0, speed=left), smooth(93, speed=right))) == found


def test_nip_words_name_the_surface_that_draws_in() -> None:
    same = nips_between(*bed_of(smooth(0, speed=-60.0), smooth(93, speed=-40.0)).rollers)
    assert same is not None
    assert same[0].words == (
        "in-running nip from above: the surface of roller 1 runs into the gap, that of roller 2 runs out of it"
    )
    stands = nips_between(*bed_of(smooth(0, speed=0.0), smooth(93, speed=40.0)).rollers)
    assert stands is not None and "roller 1 stands still" in stands[0].words


def test_rollers_above_each_other_have_their_nips_left_and_right() -> None:
    """The lower one turns clockwise, the upper one counter-clockwise: facing surfaces both go to the right."""
    assert sides(bed_of(smooth(0, speed=-60.0), smooth(0, y=93, speed=60.0))) == [("left", "both")]
    assert sides(bed_of(smooth(0, y=93, speed=60.0), smooth(1, speed=-60.0))) == [("left", "both")]


def test_nips_are_where_both_facing_surfaces_move_into_the_gap() -> None:
    """Against velocities by cross product, for tilted lines of centres and every pair of senses."""
    upright = {"above": (0.0, 1.0), "below": (0.0, -1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)}
    for y in (-70.0, -20.0, 0.0, 35.0, 80.0):
        for left in (-50.0, 50.0):
            bed = bed_of(smooth(0, speed=left), smooth(70, y=y, diameter=40.0, speed=-left))
            a, b = bed.rollers
            along = np.array([b.x - a.x, b.y - a.y]) / hypot(b.x - a.x, b.y - a.y)
            speed = float(a.rotation_speed or 0.0)
            surface = speed * a.tip_radius * np.array([-along[1], along[0]])
            ((side, surfaces),) = sides(bed)
            assert surfaces == "both" and float(surface @ np.array(upright[side])) < 0


def test_speeds_that_are_not_given_leave_the_nips_open() -> None:
    seen = overview(bed_of(smooth(0, speed=60.0), smooth(93)))
    assert seen.pairs[0].nips is None and seen.pairs[0].passing_speed_mm_s is None
    assert seen.rollers[1].tip_speed_mm_s is None and seen.cautions[0] == NIP_CAUTION
    assert RIBS_CAUTION not in seen.cautions


def test_surface_speeds_by_hand() -> None:
    seen = overview(bed_of(ribbed(0, speed=-60.0), smooth(110.2, speed=-30.0)))
    ours, mate = seen.rollers
    assert ours.tip_speed_mm_s == pytest.approx(-2 * pi * 64) and ours.body_speed_mm_s == pytest.approx(
        -2 * pi * 56
    )
    assert mate.tip_speed_mm_s == mate.body_speed_mm_s == pytest.approx(-pi * 45)
    assert seen.pairs[0].passing_speed_mm_s == pytest.approx(2 * pi * 64 + pi * 45)
    opposite = overview(bed_of(smooth(0, speed=30.0), smooth(93, speed=-30.0)))
    assert opposite.pairs[0].passing_speed_mm_s == pytest.approx(0.0)


def test_rollers_in_two_rows_face_across_but_not_through_a_third() -> None:
    zigzag = bed_of(smooth(0), smooth(60, y=90), smooth(120), smooth(180, y=90))
    assert near_pairs(zigzag) == ((0, 1), (1, 2), (2, 3), (0, 2), (1, 3))
    row = bed_of(*(smooth(93.0 * k) for k in range(5)))
    assert near_pairs(row) == row.neighbours


def test_a_profile_without_a_section_is_told_by_its_roller() -> None:
    bed = bed_of(smooth(0), ribbed(112))
    segment = bed.rollers[1].segment
    assert segment is not None
    broken = segment.model_copy(update={"bore": segment.bore.model_copy(update={"across": 111.0})})
    roller = bed.rollers[1].model_copy(update={"segment": broken})
    with pytest.raises(ProfileError) as wrong:
        overview(bed.model_copy(update={"rollers": (bed.rollers[0], roller)}))
    assert wrong.value.complaints[0].key == "rollers[1].profile"
    assert "bore" in wrong.value.complaints[0].message


def test_every_number_of_a_pair_has_an_entry() -> None:
    pair = overview(bed_of(smooth(0), smooth(93))).entry["pairs"][0]
    words = {"left", "right", "numbers", "kind", "ok", "reasons", "least_tip_gap_mm", "most_body_gap_mm"}
    from rollergen.answer.bed_nips import FIGURES as NIPS

    words |= {"tip_gap_mm", "any_phase_gap_mm", "body_gap_mm"}  # explained with the gap answer
    assert set(pair) - words <= {figure.key for figure in (*FIGURES, *NIPS)}


def test_a_lone_roller_has_no_neighbour_to_judge() -> None:
    seen = overview(bed_of(ribbed(0, speed=30.0)))
    assert seen.pairs == () and seen.ok and len(seen.rollers) == 1
