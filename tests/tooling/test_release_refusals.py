"""Refusals of a release: every way out can work, none is said that cannot, and no shrinkage is not passed over."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from mould_case import GENERAL, changed

from rollergen.answer.moulding import mould_for
from rollergen.answer.report import draw_profile
from rollergen.errors import ProfileError
from rollergen.shape.section import section_of
from rollergen.spec.profile import Profile
from rollergen.spec.reading import read_profile
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.release import release, release_report
from rollergen.tooling.release_lines import ReleaseReport
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
