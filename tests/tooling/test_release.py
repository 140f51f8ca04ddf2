"""How the part leaves: closed forms, limits, the choice, refusals, invariance, every number explained."""

from __future__ import annotations

import subprocess
import sys
import time
from dataclasses import asdict
from math import acos, cos, degrees, pi, radians, sin, tan, tau
from typing import Any

import numpy as np
import pytest

from rollergen.errors import ProfileError
from rollergen.shape.distance import boundary_points, signed_distance
from rollergen.shape.outline import Line, Outline, circle, mirrored_edges, turned
from rollergen.shape.section import Section, section_of
from rollergen.spec.profile import Profile
from rollergen.spec.reading import profile_from_text
from rollergen.spec.schema import starting_profile
from rollergen.tooling.mould_figures import FIGURES as MOULD_FIGURES
from rollergen.tooling.release import best_helical, release, release_report
from rollergen.tooling.release_figures import FIGURES
from rollergen.tooling.release_lines import HelicalLine, On, ReleaseLimits, ReleaseReport
from rollergen.tooling.shrinkage import Shrinkage, scaled_outline

EVEN = Shrinkage(radial=0.014, axial=0.014, source="test")


def demo(
    *, count: int = 5, height: float = 9, tip_width: float = 11, ahead: float = 15, behind: float = 15,
    tip: float = 2.5, root: float = 4, pitch: str = "700 mm", hand: str = "right", start: float = 0,
    length: float = 152, ribs: bool = True,
) -> Profile:  # fmt: skip
    """Body 118, bore 38.3 square, six chambers 8/8/8: the segment the numbers below were first worked out for."""
    rib = (
        f'[ribs]\ncount = {count}\nheight = "{height} mm"\ntip_width = "{tip_width} mm"\n'
        f'flank_angle_ahead = "{ahead} deg"\nflank_angle_behind = "{behind} deg"\ntip_radius = "{tip} mm"\n'
        f'root_radius = "{root} mm"\nhelix_pitch = "{pitch}"\nhand = "{hand}"\nstart = "{start} deg"\n'
    )
    return profile_from_text(
        f'name = "demo"\n[body]\ndiameter = "118 mm"\nfree_length = "{length} mm"\nedge_chamfer = "0 mm"\n'
        + (rib if ribs else "")
        + '[bore]\nsection = "square"\nacross = "38.3 mm"\ncorner_radius = "1.5 mm"\nshaft_tolerance = "0.5 mm"\n'
        '[chambers]\ncount = 6\nsection = "sector"\nwall = "8 mm"\nweb = "8 mm"\nhub_wall = "8 mm"\n'
        'corner_radius = "3 mm"\n[compound]\nname = "cast ether PU 80A"\n'
    )


def reported(profile: Profile, shrinkage: Shrinkage = EVEN, **asked: Any) -> ReleaseReport:
    return release_report(
        section_of(profile), turn_per_mm=profile.turn_per_mm, length=profile.body.free_length,
        shrinkage=shrinkage, **asked,
    )  # fmt: skip


def forced(profile: Profile, **asked: Any) -> ReleaseReport:
    return release(
        section_of(profile), turn_per_mm=profile.turn_per_mm, length=profile.body.free_length,
        shrinkage=EVEN, **asked,
    )  # fmt: skip


def line_of(report: ReleaseReport, on: On, per_piece: int) -> HelicalLine:
    return next(line for line in report.helical if (line.on, line.per_piece) == (on, per_piece))


# closed forms


def test_numbers_of_the_demo_segment() -> None:
    report = reported(demo(), limits=ReleaseLimits(modulus=10.0))
    assert report.gamma_max_deg == pytest.approx(69.85, abs=0.005)
    assert report.twist_deg == pytest.approx(360 * 152 / 700, rel=1e-12)
    screw = report.screw
    assert screw.screw_free_length_mm == pytest.approx(81.8, abs=0.05)
    assert screw.screw_free_length_mm == pytest.approx(
        700 / pi / tan(radians(report.gamma_max_deg)), rel=1e-9
    )
    assert screw.twist_mismatch_deg == pytest.approx(1.094, abs=0.0005)
    assert screw.free_play_deg == pytest.approx(0.598, abs=0.0015)
    assert screw.flank_gap_mm == pytest.approx(0.324, abs=0.001)
    assert screw.end_gap_mm == pytest.approx(-0.269, abs=0.002)
    assert screw.twist_shear == pytest.approx(0.0085, abs=0.0001)
    assert screw.twist_shear == pytest.approx(tau / 700 * 0.014 * 68, rel=1e-12)
    assert screw.torque_bound_n_m == pytest.approx(6.0, abs=0.05)
    assert report.planes.least_parts_bound == pytest.approx(8.93, abs=0.005)
    assert report.planes.least_parts == 9


def test_helical_limits_of_the_demo_segment() -> None:
    """180 - max(180 - 2 phi + (n-2) step, n step) on the tips, with (n-1) in the grooves."""
    report = reported(demo())
    assert line_of(report, "tips", 1).limit_deg == pytest.approx(102, abs=1e-9)
    assert line_of(report, "tips", 2).limit_deg == pytest.approx(30, abs=1e-9)
    assert line_of(report, "tips", 3).limit_deg < 0 and not line_of(report, "tips", 3).helical_ok
    assert line_of(report, "grooves", 1).limit_deg == pytest.approx(30, abs=1e-9)
    assert line_of(report, "tips", 1).one_at_a_time_limit_deg == pytest.approx(72, abs=1e-9)
    assert not line_of(report, "tips", 1).one_at_a_time and line_of(report, "tips", 1).together


@pytest.mark.parametrize("count", [3, 4, 5, 6, 8])
@pytest.mark.parametrize("flank", [0, 10, 25, 40])
@pytest.mark.parametrize("rounds", [(0, 0), (1.5, 2)])
def test_helical_limits_follow_the_formula_for_like_flanks(
    count: int, flank: float, rounds: tuple[float, float]
) -> None:
    profile = demo(
        count=count, height=5, tip_width=8, ahead=flank, behind=flank, tip=rounds[0], root=rounds[1]
    )
    step = 360 / count
    for line in reported(profile).helical:
        n = line.per_piece
        off = n - 2 if line.on == "tips" else n - 1
        assert line.limit_deg == pytest.approx(180 - max(180 - 2 * flank + off * step, n * step), abs=1e-7)


def test_unlike_flanks_count_by_their_sum() -> None:
    """Steep on one side, flat on the other: 2 phi becomes the sum, cot and gamma become mean or sum."""
    report = reported(demo(ahead=10, behind=32))
    assert line_of(report, "grooves", 1).limit_deg == pytest.approx(10 + 32, abs=1e-9)
    assert report.gamma_ahead_deg > report.gamma_behind_deg
    cot = sum(1 / tan(radians(g)) for g in (report.gamma_ahead_deg, report.gamma_behind_deg))
    assert report.screw.screw_free_length_mm == pytest.approx(700 / tau * cot, rel=1e-9)
    mean = (report.gamma_ahead_deg + report.gamma_behind_deg) / 2
    assert report.planes.least_parts_bound == pytest.approx(180 / (90 - mean), rel=1e-12)


@pytest.mark.parametrize(("pitch", "free"), [("300 mm", 35), ("700 mm", 81.8), ("1500 mm", 178)])
def test_free_length_over_the_pitch(pitch: str, free: float) -> None:
    """The last is a measured length, 1/(1 - s) above the closed form."""
    found = reported(demo(pitch=pitch)).screw.screw_free_length_mm
    assert found == pytest.approx(free, rel=0.02)


def jam(outline: Outline, radial: float, low: float, high: float) -> float:
    """Turn of the shrunk section at which it touches its cavity, by the signed distance of many points."""
    cavity, points = scaled_outline(outline, 1 / (1 - radial)), boundary_points(outline, 0.1)
    for _ in range(18):
        middle = (low + high) / 2
        c, s = cos(middle), sin(middle)
        there = points @ np.array([[c, s], [-s, c]])
        low, high = (middle, high) if signed_distance(cavity, there).max() < 0 else (low, middle)
    return low


@pytest.mark.parametrize(
    ("profile", "s"),
    [
        (demo(), 0.006),
        (demo(), 0.03),
        (demo(pitch="300 mm"), 0.014),
        (demo(ahead=8, behind=35, hand="left"), 0.014),
        (demo(count=3, ahead=30, behind=25), 0.014),
    ],
    ids=["little", "much", "short pitch", "unlike left", "flat"],
)
def test_free_length_is_where_the_turned_and_scaled_section_touches(profile: Profile, s: float) -> None:
    outline = section_of(profile).outer
    play = jam(outline, s, 0.0, 0.1) + jam(mirrored(outline), s, 0.0, 0.1)
    even = Shrinkage(radial=s, axial=s, source="test")
    screw = reported(profile, even).screw
    measured = play / (abs(profile.turn_per_mm) * s)
    assert screw.screw_free_length_mm == pytest.approx(measured, rel=0.03 if s < 0.02 else 0.05)
    assert screw.screw_free_length_mm < measured  # short by the share s, the safe side
    assert screw.free_play_deg == pytest.approx(degrees(play), rel=0.02)


def mirrored(outline: Outline) -> Outline:
    return Outline(mirrored_edges(outline.edges))


def test_free_length_does_not_depend_on_an_even_shrinkage() -> None:
    found = [
        reported(demo(), Shrinkage(radial=s, axial=s, source="test")).screw.screw_free_length_mm
        for s in (0.001, 0.014, 0.04)
    ]
    assert found == pytest.approx([found[0]] * 3, rel=1e-12)
    uneven = reported(demo(), Shrinkage(radial=0.02, axial=0.01, source="test")).screw.screw_free_length_mm
    assert found[0] is not None and uneven == pytest.approx(2 * found[0], rel=1e-12)


def test_end_gap_is_the_signed_distance_of_the_turned_section() -> None:
    """First order, against the section really turned and scaled."""
    outline = section_of(demo()).outer
    cavity = scaled_outline(outline, 1 / (1 - 0.014))
    points = boundary_points(outline, 0.05)
    screw = reported(demo()).screw
    assert -signed_distance(cavity, points).max() == pytest.approx(screw.flank_gap_mm, abs=1e-3)
    ends = boundary_points(turned(outline, radians(screw.twist_mismatch_deg / 2)), 0.05)
    assert -signed_distance(cavity, ends).max() == pytest.approx(screw.end_gap_mm, abs=3e-3)


def test_lean_at_sharp_flanks_in_closed_form() -> None:
    """Without rounds gamma is greatest at the tip: cos gamma = distance of the flank line / tip radius."""
    report = reported(demo(tip=0, root=0, ahead=20, behind=20))
    flank = radians(90 - 20)
    away = 68 * cos(flank - 11 / (2 * 68))
    assert report.gamma_max_deg == pytest.approx(degrees(acos(away / 68)), rel=1e-12)


# limits of the ways


def test_no_ribs_are_pushed_off_and_need_two_parts_at_most() -> None:
    report = reported(demo(ribs=False))
    assert (report.choice, report.outer_parts, report.rib_count) == ("push", 1, 0)
    assert report.helical == () and report.gamma_max_deg == 0
    assert report.screw.screw_free_length_mm is None and report.screw.free_play_deg is None
    assert report.planes.least_parts == 2


def test_straight_ribs_are_pushed_off() -> None:
    report = reported(demo(pitch="straight"))
    assert (report.choice, report.twist_deg) == ("push", 0)
    assert report.screw.twist_mismatch_deg == 0 and report.screw.screw_free_length_mm is None
    assert reported(demo(pitch="straight"), way="screw").choice == "push"
    assert report.planes.depth_by_parts[0].undercut_mm == 0  # pulled along the axis


def test_a_short_segment_is_unscrewed_and_a_long_one_is_not() -> None:
    free = reported(demo()).screw.screw_free_length_mm
    assert free is not None
    short, long = reported(demo(length=round(free - 0.1, 2))), reported(demo(length=round(free + 0.1, 2)))
    assert short.choice == "screw" and short.screw.twist_needed_deg == 0
    assert not long.screw.screw_ok and long.choice == "helical"


def test_shear_allowed_opens_the_sleeve() -> None:
    shear = reported(demo()).screw.twist_shear
    assert reported(demo(), limits=ReleaseLimits(most_twist_shear=shear * 1.001)).choice == "screw"
    assert reported(demo(), limits=ReleaseLimits(most_twist_shear=shear * 0.999)).choice == "helical"


def test_no_axial_shrinkage_never_jams_and_no_radial_shrinkage_always_does() -> None:
    only_across = Shrinkage(radial=0.014, axial=0.0, source="test")
    only_along = Shrinkage(radial=0.0, axial=0.014, source="test")
    assert reported(demo(), only_across).choice == "screw"
    jams = reported(demo(), only_along).screw
    assert jams.screw_free_length_mm == 0 and not jams.screw_ok


def test_torque_is_not_computed_without_a_modulus() -> None:
    report = reported(demo())
    assert report.screw.torque_bound_n_m is None
    assert any("no modulus given" in line for line in report.why)


def test_grooves_are_preferred_where_they_come_free() -> None:
    """Parting in the grooves keeps flash off the tips."""
    report = reported(demo(ahead=40, behind=40, tip_width=6, pitch="1000 mm", length=200), way="helical")
    assert report.choice == "helical" and report.on == "grooves" and report.outer_parts == 5
    best = best_helical(report)
    assert best is not None and best.limit_deg == pytest.approx(80, abs=1e-9)


def test_even_ribs_are_held_two_by_two_where_the_table_allows() -> None:
    """Six ribs with flat flanks: two grooves a piece, three pieces."""
    report = reported(demo(count=6, height=6, tip_width=9, ahead=15, behind=15, pitch="2500 mm", length=207))
    grooves, tips = line_of(report, "grooves", 1), line_of(report, "tips", 2)
    assert grooves.limit_deg == pytest.approx(30, abs=1e-7) == tips.limit_deg
    assert tips.piece_count == 3 and tips.like


def test_planes_are_chosen_for_flat_flanks_and_long_twist() -> None:
    flat = demo(count=3, height=6, tip_width=5, ahead=50, behind=50, tip=1, root=3, pitch="150 mm")
    report = reported(flat)
    assert report.gamma_max_deg < 45
    assert (report.choice, report.outer_parts) == ("planes", report.planes.least_parts)
    assert report.outer_parts <= 4


def test_stripping_is_chosen_only_within_the_strain_stated() -> None:
    tight = demo(pitch="300 mm")
    assert reported(tight).choice == "none"
    report = reported(tight, limits=ReleaseLimits(most_strip=0.05))
    assert report.choice == "strip" and report.strip.split is not None
    assert report.strip.split.strip_strain <= 0.05 and report.outer_parts == 3
    two = next(p for p in report.planes.depth_by_parts if p.parts == 2)
    assert two.strip_strain == pytest.approx(0.063, abs=0.0005)
    assert two.strip_strain == pytest.approx(two.undercut_mm / 136, rel=1e-12)
    undivided = report.planes.depth_by_parts[0]
    assert (undivided.parts, undivided.undercut_mm) == (1, pytest.approx(9))


# refusals


def test_refusal_says_the_way_out_with_numbers_that_work() -> None:
    tight = demo(pitch="300 mm")
    with pytest.raises(ProfileError) as refused:
        forced(tight)
    (complaint,) = refused.value.complaints
    first, *lines = [line.strip() for line in complaint.message.splitlines()]
    assert "nothing releases this part" in first
    for key in ("--most-twist-shear", "body.free_length", "ribs.helix_pitch", "--most-strip"):
        assert key in first
    assert any(line.startswith("screw:") and "35.0 mm" in line for line in lines)
    assert any("limit 102.00 deg" in line for line in lines)
    assert "ribs.helix_pitch of 1302 mm" in first and "ribs.helix_pitch of 537 mm" in first
    assert (
        reported(demo(pitch="1302 mm")).choice == "screw"
        and reported(demo(pitch="1300 mm")).choice != "screw"
    )
    assert (
        reported(demo(pitch="537 mm")).choice == "helical" and reported(demo(pitch="536 mm")).choice == "none"
    )
    assert "shear of 2 % allowed" in first
    assert forced(tight, limits=ReleaseLimits(most_twist_shear=0.02)).choice == "screw"


@pytest.mark.parametrize(
    ("way", "limits", "words"),
    [
        ("screw", ReleaseLimits(), "jams beyond 35.0 mm"),
        ("screw", ReleaseLimits(most_twist_shear=0.01), "only 1.00% allowed"),
        ("helical", ReleaseLimits(), "limit 102.00 deg"),
        ("planes", ReleaseLimits(most_parts=8), "9 parts at least"),
        ("strip", ReleaseLimits(), "no limit of strain stated"),
        ("strip", ReleaseLimits(most_strip=0.001), "0.10% allowed"),
    ],
)
def test_forcing_a_way_that_jams_is_refused(way: Any, limits: ReleaseLimits, words: str) -> None:
    with pytest.raises(ProfileError) as refused:
        forced(demo(pitch="300 mm"), way=way, limits=limits)
    (only,) = refused.value.complaints
    first, *rule = only.message.splitlines()
    assert only.key == "--release" and words in first and "way out" in first
    assert len(rule) > 5  # every line of the rule


def test_forcing_planes_with_enough_parts_is_allowed() -> None:
    """One part less is refused above."""
    assert forced(demo(), way="planes", limits=ReleaseLimits(most_parts=9)).outer_parts == 9
    assert forced(demo(), way="planes").outer_parts == 9


def test_more_parts_than_are_listed_still_have_a_line() -> None:
    steep = demo(count=12, height=3, tip_width=6, ahead=0, behind=0, tip=0.2, root=0.2, pitch="300 mm")
    report = forced(steep, way="planes")
    assert report.outer_parts > 12
    last = report.planes.depth_by_parts[-1]
    assert (last.parts, last.undercut_mm) == (report.outer_parts, 0)
    assert [line.parts for line in report.planes.depth_by_parts[:-1]] == list(range(1, 13))


def test_flanks_that_lean_back_never_part_by_planes() -> None:
    """A dovetail, which no profile makes: gamma past 90 deg."""
    corners = [(10, -2), (20, -6), (20, 6), (10, 2), (10, 10), (-10, 10), (-10, -10), (10, -10)]
    names = ["flank", "tip", "flank", *["body"] * 5]
    outer = Outline(
        tuple(Line(a, b, n) for a, b, n in zip(corners, corners[1:] + corners[:1], names, strict=True))
    )
    section = Section(outer=outer, bore=circle(3, "bore"), chambers=())
    report = release_report(section, turn_per_mm=0.05, length=100, shrinkage=EVEN)
    assert report.gamma_max_deg > 90 and report.planes.least_parts is None and report.choice == "none"
    assert any("planes through the axis: never" in line for line in report.why)


def test_a_refused_way_names_the_one_that_is_open() -> None:
    with pytest.raises(ProfileError, match="leave --release out, for then it is 5 helical pieces"):
        forced(demo(), way="screw")
    with pytest.raises(ProfileError, match="for then it is one sleeve, pushed off along the axis\n"):
        forced(demo(ribs=False), way="helical", limits=ReleaseLimits(most_strip=0.01))


def test_helical_pieces_are_refused_without_ribs() -> None:
    with pytest.raises(ProfileError, match="no ribs to part on"):
        forced(demo(ribs=False), way="helical")


def test_a_chamfer_at_the_exit_end_of_the_sleeve_jams() -> None:
    short = demo(length=60)
    assert reported(short).choice == "screw"
    report = reported(short, exit_end_chamfer=1.0)
    assert not report.screw.end_ok and not report.screw.screw_ok and report.choice == "helical"
    with pytest.raises(ProfileError, match="chamfer of 1 mm at the end the part leaves by"):
        forced(short, way="screw", exit_end_chamfer=1.0)
    with pytest.raises(ProfileError, match="leave --base-chamfer out") as wrong:
        forced(demo(pitch="straight"), way="screw", exit_end_chamfer=1.0)
    assert "and then" not in str(wrong.value)  # that alone does


def test_a_screw_that_jams_beside_its_chamfer_is_told_both_and_both_ways_out_work() -> None:
    """150 mm is longer than the free length too: without the sleeve's chamfer the screw still jams."""
    with pytest.raises(
        ProfileError, match="leave --base-chamfer out.*; and then leave --release out"
    ) as wrong:
        forced(demo(), way="screw", exit_end_chamfer=1.0)
    said = str(wrong.value).split("way out: ")[1].splitlines()[0]
    shear = float(said.split("with a shear of ")[1].split(" %")[0]) / 100
    allowed = forced(demo(), way="screw", limits=ReleaseLimits(most_twist_shear=shear))
    assert allowed.choice == "screw"
    instead = reported(demo())
    assert f"it is {instead.outer_parts} helical pieces" in said and instead.choice == "helical"
    with pytest.raises(ProfileError) as alone:
        forced(demo(), way="screw")
    assert "base-chamfer" not in str(alone.value)


def test_the_wrong_hand_jams_at_once() -> None:
    """Sleeve moved by h and turned by -k h instead of k h: part and cavity part by 2 k h."""
    profile = demo(length=60)
    travel = reported(profile).screw.wrong_hand_travel_mm
    assert travel is not None and travel == pytest.approx(0.29, abs=0.01)
    outline, k = section_of(profile).outer, profile.turn_per_mm
    cavity = scaled_outline(outline, 1 / (1 - 0.014))

    def pressed(h: float, sense: float) -> bool:
        cavity_turn = k * (1 - 0.014)
        turn = cavity_turn * h - sense * cavity_turn * h  # of the part against the cavity, z by z
        points = boundary_points(turned(outline, turn), 0.05)
        return bool(signed_distance(cavity, points).max() > 0)

    assert not pressed(0.97 * travel, -1.0) and pressed(1.05 * travel, -1.0)
    assert not any(pressed(h, 1.0) for h in (0.3, 1.0, 20.0))


# invariance


def same(a: ReleaseReport, b: ReleaseReport) -> None:
    """All but angles of place, and the two flanks, which swap in the mirror."""
    assert (a.choice, a.outer_parts, a.on, a.rings) == (b.choice, b.outer_parts, b.on, b.rings)
    ours_free, theirs_free = a.screw.screw_free_length_mm, b.screw.screw_free_length_mm
    assert (ours_free is None) == (theirs_free is None)
    assert (ours_free or 0) == pytest.approx(theirs_free or 0, rel=1e-9)
    assert a.screw.end_gap_mm == pytest.approx(b.screw.end_gap_mm, rel=1e-9)
    for ours, theirs in zip(a.helical, b.helical, strict=True):
        assert ours.limit_deg == pytest.approx(theirs.limit_deg, abs=1e-7)
        assert (ours.one_at_a_time, ours.together) == (theirs.one_at_a_time, theirs.together)
        assert ours.one_at_a_time_limit_deg == pytest.approx(theirs.one_at_a_time_limit_deg, abs=1e-7)
    for ours_, theirs_ in zip(a.planes.depth_by_parts, b.planes.depth_by_parts, strict=True):
        assert ours_.undercut_mm == pytest.approx(theirs_.undercut_mm, rel=2e-3, abs=1e-3)
        assert (ours_.undercut_share or 0) == pytest.approx(theirs_.undercut_share or 0, abs=0.006)


@pytest.mark.parametrize("start", [7.3, 36.0, 181.0])
@pytest.mark.parametrize(
    "shape", [{}, {"ahead": 10, "behind": 30}, {"tip": 0, "root": 0, "pitch": "2500 mm"}]
)
def test_where_rib_one_is_does_not_matter(start: float, shape: dict[str, Any]) -> None:
    a, b = reported(demo(**shape)), reported(demo(start=start, **shape))
    same(a, b)
    turn = (b.helical[0].parting_deg - a.helical[0].parting_deg - start + 180) % 360 - 180
    assert turn == pytest.approx(0, abs=1e-7)
    if a.helical[0].pull_deg is not None and b.helical[0].pull_deg is not None:
        pull = (b.helical[0].pull_deg - a.helical[0].pull_deg - start + 180) % 360 - 180
        assert pull == pytest.approx(0, abs=1e-7)


@pytest.mark.parametrize("pitch", ["700 mm", "2500 mm", "straight"])
@pytest.mark.parametrize(("ahead", "behind"), [(15, 15), (8, 33)])
def test_the_mirrored_segment_releases_alike(pitch: str, ahead: float, behind: float) -> None:
    right = reported(demo(pitch=pitch, ahead=ahead, behind=behind))
    left = reported(demo(pitch=pitch, ahead=behind, behind=ahead, hand="left"))
    same(right, left)
    assert left.gamma_ahead_deg == pytest.approx(right.gamma_behind_deg, rel=1e-9)
    if right.twist_deg:
        assert (right.screw.screw_hand, left.screw.screw_hand) == ("right", "left")


def test_a_segment_k_times_as_large_releases_alike() -> None:
    """Lengths k times as large, angles the same."""
    small, section = demo(), section_of(demo())
    large = Section(
        outer=scaled_outline(section.outer, 2), bore=scaled_outline(section.bore, 2),
        chambers=tuple(scaled_outline(c, 2) for c in section.chambers),
    )  # fmt: skip
    a = reported(small)
    b = release_report(large, turn_per_mm=small.turn_per_mm / 2, length=304, shrinkage=EVEN)
    assert b.screw.screw_free_length_mm == pytest.approx(2 * (a.screw.screw_free_length_mm or 0), rel=1e-9)
    assert b.helical[0].limit_deg == pytest.approx(a.helical[0].limit_deg, abs=1e-9)
    for ours, theirs in zip(a.planes.depth_by_parts, b.planes.depth_by_parts, strict=True):
        assert theirs.undercut_mm == pytest.approx(2 * ours.undercut_mm, rel=1e-6)
        assert theirs.strip_strain == pytest.approx(ours.strip_strain, rel=1e-6)


# the report


def keys_of(value: object) -> list[str]:
    if isinstance(value, dict):
        return [*value, *(key for inner in value.values() for key in keys_of(inner))]
    if isinstance(value, list | tuple):
        return [key for inner in value for key in keys_of(inner)]
    return []


def test_every_key_is_explained_once() -> None:
    explained = [figure.key for figure in FIGURES]
    assert len(explained) == len(set(explained))
    held = set(keys_of(asdict(reported(demo(), limits=ReleaseLimits(most_strip=0.05)))))
    mould = {figure.key for figure in MOULD_FIGURES}
    assert held == set(explained)
    assert not held & mould


def test_why_has_a_line_for_every_way() -> None:
    why = reported(demo(), limits=ReleaseLimits(modulus=10, most_twist_shear=0.02)).why
    for start in ("push:", "screw:", "helical pieces", "axial rings:", "planes through", "strip:", "chosen:"):
        assert any(line.startswith(start) for line in why)
    assert why == reported(demo(), limits=ReleaseLimits(modulus=10, most_twist_shear=0.02)).why
    assert any("81.8 mm" in line and "5.98 N m" in line and "2.00% allowed" in line for line in why)


def test_the_shipped_starting_profile_gets_a_release() -> None:
    profile = profile_from_text(starting_profile())
    assert reported(profile).choice == "helical"


def test_no_kernel_and_no_heavy_library_is_loaded() -> None:
    code = (
        "import sys, rollergen.tooling.release, rollergen.tooling.undercut_map\n"
        "print(sorted({'OCP', 'cadquery', 'scipy', 'matplotlib', 'trimesh', 'shapely'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.benchmark
@pytest.mark.parametrize("pitch", ["700 mm", "1500 mm", "straight"])
def test_a_release_takes_10_ms_at_most(pitch: str) -> None:
    profile = demo(pitch=pitch)
    section = section_of(profile)

    def once() -> float:
        start = time.perf_counter()
        release_report(section, turn_per_mm=profile.turn_per_mm, length=152, shrinkage=EVEN)
        return time.perf_counter() - start

    assert min(once() for _ in range(20)) <= 0.010
