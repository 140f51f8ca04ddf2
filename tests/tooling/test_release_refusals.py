"""Refusals of a release: every way out can work, none is said that cannot, and no shrinkage is not passed over."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from mould_case import GENERAL, changed

from rollergen.answer.moulding import mould_for
from rollergen.answer.report import draw_profile
from rollergen.errors import LimitNotMet, ProfileError
from rollergen.shape.section import section_of
from rollergen.spec.profile import Profile
from rollergen.spec.reading import read_profile
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.release import release, release_report
from rollergen.tooling.release_lines import ReleaseLimits, ReleaseReport
from rollergen.tooling.shrinkage import METALS, Shrinkage, on_other_metal

EVEN = Shrinkage(radial=0.014, axial=0.014, source="test")
ONLY_ALONG = Shrinkage(radial=0.0, axial=0.014, source="test")
NOT_AT_ALL = Shrinkage(radial=0.0, axial=0.0, source="test")
GENTLE = read_profile(Path(GENERAL).with_name("shallot-gentle.toml"))


def reported(profile: Profile, shrinkage: Shrinkage = EVEN, **asked: Any) -> ReleaseReport:
    return release_report(
        section_of(profile), turn_per_mm=profile.turn_per_mm, length=profile.body.free_length,
        shrinkage=shrinkage, **asked,
    )  # fmt: skip


def refused(profile: Profile, shrinkage: Shrinkage = EVEN, **asked: Any) -> str:
    with pytest.raises(ProfileError) as wrong:
        release(
            section_of(profile), turn_per_mm=profile.turn_per_mm, length=profile.body.free_length,
            shrinkage=shrinkage, **asked,
        )  # fmt: skip
    return str(wrong.value)


# no shrinkage across: no play


def test_without_shrinkage_across_no_length_and_no_pitch_is_offered() -> None:
    """Free length s_r (cot + cot) / (k s_z) is 0 at any pitch; the other ways out are still said."""
    said = refused(GENTLE, ONLY_ALONG).splitlines()[0]
    assert "helical pieces from ribs.helix_pitch of 636 mm" in said and "--most-twist-shear" in said
    assert not re.search(r"or body\.free_length of [\d.]+ mm; or ribs\.helix_pitch", said)
    assert "free_length of 0 mm" not in said and "a shrinkage across as measured, above 0" in said
    assert any("no play in its cavity" in line for line in reported(GENTLE, ONLY_ALONG).why)
    longer = changed(('helix_pitch = "650 mm"', 'helix_pitch = "90000 mm"'))
    assert not reported(longer, ONLY_ALONG).screw.screw_ok


def test_no_shrinkage_at_all_is_passed_with_a_caution() -> None:
    found = mould_for(draw_profile(GENTLE), NOT_AT_ALL, Tool(), way="screw")
    assert found.report.cautions[0].startswith("the shrinkage across and along is 0 % at your word")
    usual = mould_for(draw_profile(read_profile(GENERAL)), EVEN, Tool())
    assert not any("at your word" in caution for caution in usual.report.cautions)


def test_a_value_too_small_to_be_carried_over_is_refused_with_the_least_that_can_be() -> None:
    """1 - s' = (1 - s) (1 + 23e-6 80) / (1 + 12e-6 80): s' is 0 at s = 0.0878 %."""
    steel, aluminium = METALS["steel"], METALS["aluminium"]

    def carried(share: float) -> Shrinkage:
        given = Shrinkage(radial=0.014, axial=share, source="test")
        return on_other_metal(given, measured=steel, used=aluminium, rise=80.0)

    with pytest.raises(ProfileError, match=r"0\.088% or more is needed"):
        carried(0.0005)
    assert 0 < carried(0.00088).axial < 1e-5


# one complaint, its lines, and only what can work


def test_a_refusal_is_one_complaint_with_the_rule_line_by_line() -> None:
    with pytest.raises(ProfileError) as wrong:
        release(
            section_of(GENTLE), turn_per_mm=GENTLE.turn_per_mm, length=GENTLE.body.free_length, shrinkage=EVEN
        )
    (only,) = wrong.value.complaints
    said = str(wrong.value).splitlines()
    assert only.key == "--release" and said[0].startswith("--release: nothing releases this part")
    assert len(said) > 8 and not any(line.startswith("--release") for line in said[1:])


NO_RIBS = read_profile(Path(GENERAL).with_name("plain-sleeve.toml"))


def test_a_part_that_is_pushed_off_hears_nothing_of_rings_or_strain() -> None:
    report = reported(NO_RIBS)
    assert report.choice == "push" and "axial rings: not needed, no ribs" in report.why
    straight = reported(changed(('helix_pitch = "650 mm"', 'helix_pitch = "straight"')))
    assert "axial rings: not needed, no twist" in straight.why
    said = refused(NO_RIBS, way="helical").splitlines()[0]
    assert said.endswith("way out: leave --release out, for then it is one sleeve, pushed off along the axis")


@pytest.mark.parametrize(
    ("way", "limits", "option"),
    [
        ("screw", {"most_twist_shear": 0.001}, "--most-twist-shear"),
        ("strip", {"most_strip": 0.001}, "--most-strip"),
        ("planes", {"most_parts": 3}, "--most-parts"),
        ("auto", {"most_twist_shear": 0.001}, "--most-twist-shear"),
        ("auto", {"most_strip": 0.001}, "--most-strip"),
        ("auto", {"most_parts": 3}, "--most-parts"),
    ],
)
def test_a_limit_stated_answers_3_and_its_way_out_works(
    way: Any, limits: dict[str, Any], option: str
) -> None:
    """The number beside the option, put in, opens the way; without the limit stated it is the profile that is wrong."""
    asked = {
        "turn_per_mm": GENTLE.turn_per_mm,
        "length": GENTLE.body.free_length,
        "shrinkage": EVEN,
        "way": way,
    }
    with pytest.raises(LimitNotMet) as wrong:
        release(section_of(GENTLE), limits=ReleaseLimits(**limits), **asked)
    assert wrong.value.exit_code == 3
    first = str(wrong.value).splitlines()[0]
    out = re.search(rf"([\d.]+) % [a-z ]+\({option}\)|{option} (\d+)", first)
    assert out is not None, first
    (key,) = limits
    works = int(out[2]) if key == "most_parts" else float(out[1]) / 100
    assert release(section_of(GENTLE), limits=ReleaseLimits(**{key: works}), **asked).choice != "none"
    if way != "planes":  # who asks for planes and states no number gets as many as it takes
        with pytest.raises(ProfileError) as unstated:
            release(section_of(GENTLE), **asked)
        assert unstated.value.exit_code == 2


def test_a_limit_on_another_way_than_the_one_asked_for_is_no_limit_not_met() -> None:
    steep = changed(('helix_pitch = "650 mm"', 'helix_pitch = "300 mm"'))
    with pytest.raises(ProfileError) as wrong:
        mould_for(draw_profile(steep), EVEN, Tool(), way="helical", limits=ReleaseLimits(most_parts=3))
    assert wrong.value.exit_code == 2 and "--most-parts" not in str(wrong.value).splitlines()[0]


@pytest.mark.parametrize(
    ("count", "words"), [(1, "one rib, and two or more"), (2, "limit 0.00 deg; 2 pieces")]
)
def test_helical_pieces_of_one_or_two_ribs_are_refused_with_another_way(count: int, words: str) -> None:
    """Neither a pitch nor a length frees them, so another way is named, and its number works."""
    few = changed(
        (
            "[ribs]                                 # leave the table out for a plain sleeve\ncount = 5",
            f"[ribs]\ncount = {count}",
        )
    )
    first = refused(few, way="helical").splitlines()[0]
    assert words in first and "way out: leave --release out, and screw it out with a shear of" in first
    out = re.search(r"shear of ([\d.]+) %", first)
    assert out is not None
    allowed = ReleaseLimits(most_twist_shear=float(out[1]) / 100)
    assert reported(few, limits=allowed).choice == "screw"
