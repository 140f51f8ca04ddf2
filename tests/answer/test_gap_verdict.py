"""The gap verdict: words, limits, solving, pictures, and what it must not import."""

from __future__ import annotations

import json
import subprocess
import sys

import numpy as np
import pytest

from rollergen.answer.gap_verdict import check_gap, map_gap, solve_gap
from rollergen.errors import ProfileError, UsageError
from rollergen.export.gap_picture import gap_csv, gap_json, gap_picture
from rollergen.shape.section import section_of
from rollergen.spec.profile import Profile
from rollergen.spec.reading import profile_from_text

SEGMENT = """
name = "verdict-test"
[body]
diameter = "112 mm"
free_length = "60 mm"
[ribs]
count = 5
height = "8 mm"
tip_width = "10 mm"
flank_angle = "15 deg"
tip_radius = "2 mm"
root_radius = "3 mm"
helix_pitch = "300 mm"
hand = "{hand}"
[bore]
section = "round"
across = "30 mm"
shaft_tolerance = "0.1 mm"
[compound]
name = "test"
density = "1100 kg/m^3"
"""
MATE = """
[[mates]]
name = "smooth roller"
diameter = "90 mm"
axis_distance = "112 mm"
least_tip_gap = "{least} mm"
most_body_gap = "{most} mm"
"""


def smooth(least: float = 2, most: float = 12) -> Profile:
    return profile_from_text(SEGMENT.format(hand="right") + MATE.format(least=least, most=most))


def beside_ribs(axis_distance: float = 126.0, **more: object) -> Profile:
    """The segment beside its own left-hand twin (reading a mate's profile is tested with the reader)."""
    partner = profile_from_text(SEGMENT.format(hand="left"))
    one = smooth()
    limits = {"least_tip_gap": None, "most_body_gap": None}
    change = {"kind": "ribbed", "diameter": None, "ribbed": partner, "axis_distance": axis_distance, **limits}
    mate = one.mates[0].model_copy(update=change | more)
    return one.model_copy(update={"mates": (mate,)})


def verdict(profile: Profile):
    (report,) = check_gap(profile, section_of(profile))
    return report


def test_a_gap_that_meets_both_limits_is_ok():
    report = verdict(smooth())
    assert report.ok and not report.reasons
    assert report.tip_gap_mm == pytest.approx(3) and report.body_gap_mm == pytest.approx(11)


def test_a_limit_met_exactly_is_met():
    assert verdict(smooth(least=3, most=11)).ok


def test_reasons_name_number_place_limit_and_way_out():
    profile = smooth()
    tight = profile.mates[0].model_copy(update={"least_tip_gap": 4.2, "most_body_gap": 10.5})
    report = verdict(profile.model_copy(update={"mates": (tight,)}))
    assert not report.ok and len(report.reasons) == 2
    assert "gap to smooth roller 3 mm at rotation" in report.reasons[0]
    assert "asked 4.2 mm; move the axes 1.2 mm apart or lower the ribs" in report.reasons[0]
    assert "11 mm, at most 10.5 mm asked" in report.reasons[1]


def test_interference_fails_without_any_limit():
    report = verdict(beside_ribs(axis_distance=122.0, speed_ratio=1.37))
    assert report.tip_gap_mm == pytest.approx(-6.0) and not report.ok
    assert "run into each other" in report.reasons[0]


def test_a_timed_ribbed_pair_is_judged_by_its_own_phases():
    timed = verdict(beside_ribs())
    assert timed.kind == "ribbed" and timed.tip_gap_mm > 0 > timed.any_phase_gap_mm == pytest.approx(-2.0)
    assert timed.body_gap_mm == pytest.approx(14.0) and timed.ok


def test_without_mates_there_is_nothing_to_report():
    profile = profile_from_text(SEGMENT.format(hand="right"))
    assert check_gap(profile, section_of(profile)) == ()


def test_every_report_says_what_a_gap_is_not():
    said = " ".join(verdict(smooth()).cautions)
    assert "ISO 13854" in said and "drawing-in" in said  # ISO 13854:2017, scope
    assert "ribbed" in said and "lock out" in said
    for word in ("compliant", "certified", "safe"):
        assert word not in said


def test_bodies_that_meet_are_a_wrong_profile_with_its_key():
    profile = smooth()
    near = profile.mates[0].model_copy(update={"axis_distance": 100.0})
    far = profile.mates[0].model_copy(update={"height": 113.0})
    with pytest.raises(ProfileError) as trouble:
        check_gap(profile.model_copy(update={"mates": (near, far)}), section_of(profile))
    assert [c.key for c in trouble.value.complaints] == ["mates[0].axis_distance", "mates[1].height"]
    profile = beside_ribs(z_offset=80.0)
    with pytest.raises(ProfileError, match="no common length"):
        check_gap(profile, section_of(profile))


@pytest.mark.parametrize("key", ["mates[0].axis_distance", "ribs.height", "body.diameter"])
@pytest.mark.parametrize("ribbed", [False, True])
def test_a_solved_key_written_back_gives_the_asked_gap(key: str, ribbed: bool):
    profile = beside_ribs(axis_distance=130.0, speed_ratio=2**0.5) if ribbed else smooth()
    solution = solve_gap(profile, key, 1.5)
    assert solution.key == key
    if key.startswith("mates"):
        moved = profile.mates[0].model_copy(update={"axis_distance": solution.value_mm})
        changed = profile.model_copy(update={"mates": (moved,)})
    elif key == "ribs.height":
        ribs = profile.ribs.model_copy(update={"height": solution.value_mm})
        changed = profile.model_copy(update={"ribs": ribs})
    else:
        body = profile.body.model_copy(update={"diameter": solution.value_mm})
        changed = profile.model_copy(update={"body": body})
    assert verdict(changed).tip_gap_mm == pytest.approx(1.5, abs=2e-6)


def test_a_timed_pair_is_solved_on_its_true_clearance():
    profile = beside_ribs()
    value = solve_gap(profile, "axis_distance", 2.0).value_mm
    moved = profile.mates[0].model_copy(update={"axis_distance": value})
    assert value < 130.0 - 1.0  # nearer than tip against tip would allow
    assert verdict(profile.model_copy(update={"mates": (moved,)})).tip_gap_mm == pytest.approx(2.0, abs=2e-6)


def test_what_cannot_be_solved_is_refused_with_numbers():
    with pytest.raises(UsageError, match="only 11 mm"):
        solve_gap(smooth(), "ribs.height", 11.5)
    with pytest.raises(UsageError, match="choose"):
        solve_gap(smooth(), "ribs.count", 1.0)
    with pytest.raises(UsageError, match="mates of verdict-test: smooth roller"):
        solve_gap(smooth(), "mates[3].axis_distance", 1.0)


def test_map_holds_the_least_and_greatest_of_the_report():
    for profile in (smooth(), beside_ribs(axis_distance=126.0)):
        report = verdict(profile)
        shown = map_gap(profile, section_of(profile), profile.mates[0], heights=21, rotations=361)
        assert shown.gap.shape == (21, 361)
        assert shown.gap.min() >= report.least_gap_mm - 1e-3
        assert shown.gap.max() == pytest.approx(report.greatest_gap_mm, abs=0.3)


def test_picture_and_data_are_the_same_bytes_twice_and_hold_the_pattern():
    profile = smooth()
    shown = map_gap(profile, section_of(profile), profile.mates[0], heights=7, rotations=31)
    said = {"z": shown.z, "rotation": shown.rotation, "gap": shown.gap}
    for form in ("png", "svg"):
        once, again = (gap_picture(**said, title="gap", asked=4.0, form=form) for _ in range(2))
        assert once == again and len(once) > 5000
    lines = gap_csv(**said).decode().splitlines()
    assert lines[0] == "z_mm,rotation_deg,gap_mm" and len(lines) == 1 + 7 * 31
    assert float(lines[5].split(",")[2]) == shown.gap[0, 4]
    page = json.loads(gap_json(**said, mate=shown.mate, meaning=shown.meaning))
    assert np.array_equal(np.array(page["gap_mm"]), shown.gap) and page["schema"] == 1


def test_a_picture_is_grey_and_shows_a_constant_gap_too():
    flat = np.full((3, 5), 2.0)
    axis = {"z": np.linspace(0, 1, 3), "rotation": np.linspace(0, 6, 5)}
    assert gap_picture(**axis, gap=flat, title="sleeve").startswith(b"\x89PNG")
    wavy = flat + np.linspace(-3, 3, 5)
    page = gap_picture(**axis, gap=wavy, title="ribs", form="svg").decode()
    import re

    colours = {c.lower() for c in re.findall(r"#[0-9a-fA-F]{6}", page)}
    assert colours and all(c[1:3] == c[3:5] == c[5:7] for c in colours)


def test_a_gap_answer_never_pays_for_the_kernel():
    code = (
        "import sys, rollergen.answer.gap_verdict;"
        "print([m for m in ('OCP','cadquery','trimesh','matplotlib','scipy.optimize') if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
