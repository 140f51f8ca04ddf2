"""Shrinkage on the parameters: round trips, closed forms, refusals."""

from __future__ import annotations

from dataclasses import replace
from math import radians, tan
from pathlib import Path

import pytest

from rollergen.errors import ProfileError
from rollergen.shape.part_volume import volume_of
from rollergen.shape.properties import area_of, perimeter_of
from rollergen.shape.section import part_of, section_of
from rollergen.spec.reading import read_profile
from rollergen.tooling.cavity import cast_part, cavity_of
from rollergen.tooling.shrinkage import (
    METALS,
    Shrinkage,
    cavity_section,
    cavity_turn,
    checked_shrinkage,
    on_other_metal,
    scaled_outline,
    tool_angle,
)

PROFILES = sorted((Path(__file__).resolve().parents[2] / "profiles").glob("*.toml"))
GENERAL = read_profile(next(p for p in PROFILES if p.stem == "beet-general"))


def even(share: float) -> Shrinkage:
    return Shrinkage(radial=share, axial=share, source="test")


def test_a_mould_is_the_part_over_one_less_s_not_times_one_and_s() -> None:
    """240 mm at 1.2 %: 242.914980 mm; part x (1 + s) would be 0.035 mm short."""
    scale = even(0.012).radial_scale
    assert 240 * scale == pytest.approx(242.914980, abs=5e-7)
    assert 240 * scale - 240 * 1.012 == pytest.approx(0.035, abs=5e-4)
    assert 30 * scale == pytest.approx(30.3644, abs=5e-5)
    assert scale**3 == pytest.approx(1.036882, abs=5e-7)


@pytest.mark.parametrize("path", PROFILES, ids=lambda p: p.stem)
def test_cast_shrinks_back_to_the_part(path: Path) -> None:
    profile = read_profile(path)
    section = section_of(profile)
    s = Shrinkage(radial=0.016, axial=0.011, source="test")
    cast = volume_of(cast_part(cavity_of(profile, section, s)))
    part = volume_of(part_of(profile, section))
    assert cast * (1 - s.radial) ** 2 * (1 - s.axial) == pytest.approx(part, rel=1e-12)


def test_section_goes_there_and_back() -> None:
    section = section_of(GENERAL)
    s = Shrinkage(radial=0.014, axial=0.02, source="test")
    larger = cavity_section(section, s)
    assert area_of(larger.outer) * (1 - s.radial) ** 2 == pytest.approx(area_of(section.outer), rel=1e-13)
    for mine, theirs in zip(section.holes, larger.holes, strict=True):
        back = scaled_outline(theirs, 1 - s.radial)
        assert perimeter_of(back) == pytest.approx(perimeter_of(mine), rel=1e-13)
        for a, b in zip(mine.edges, back.edges, strict=True):
            assert a.start == pytest.approx(b.start, abs=1e-12)


def test_the_twist_angle_stays() -> None:
    s = Shrinkage(radial=0.014, axial=0.02, source="test")
    length = GENERAL.body.free_length
    twist = cavity_turn(GENERAL.turn_per_mm, s) * length * s.axial_scale
    assert twist == pytest.approx(GENERAL.turn_per_mm * length, rel=1e-15)


def test_no_shrinkage_changes_nothing() -> None:
    section = section_of(GENERAL)
    assert cavity_section(section, even(0.0)) == section
    assert cast_part(cavity_of(GENERAL, section, even(0.0))).sides[0] == part_of(GENERAL, section).sides[0]


def test_a_draft_angle_grows_by_radial_over_axial() -> None:
    s = Shrinkage(radial=0.016, axial=0.011, source="test")
    expected = tan(radians(0.5)) * (1 - 0.011) / (1 - 0.016)
    assert tan(tool_angle(radians(0.5), s)) == pytest.approx(expected, rel=1e-14)
    assert tool_angle(radians(0.5), even(0.014)) == pytest.approx(radians(0.5), rel=1e-14)


def test_a_value_measured_on_steel_is_smaller_in_aluminium() -> None:
    """1.40 % at a rise of 80 K becomes 1.313 %; on a 240 mm part that is 0.21 mm."""
    steel, aluminium = METALS["steel"], METALS["aluminium"]
    s = on_other_metal(even(0.014), measured=steel, used=aluminium, rise=80.0)
    assert s.radial == pytest.approx(0.01313, abs=5e-6) and s.axial == s.radial
    assert 240 * (even(0.014).radial_scale - s.radial_scale) == pytest.approx(0.21, abs=5e-3)
    back = on_other_metal(replace(s, source="x"), measured=aluminium, used=steel, rise=80.0)
    assert back.radial == pytest.approx(0.014, rel=1e-12)
    assert "aluminium" in s.source
    assert on_other_metal(even(0.014), measured=steel, used=steel, rise=80.0) == even(0.014)


@pytest.mark.parametrize("bad", [-0.001, 0.0501, 0.9, float("nan")])
@pytest.mark.parametrize("axis", ["radial", "axial"])
def test_out_of_range_is_refused_by_key(bad: float, axis: str) -> None:
    values = {"radial": 0.014, "axial": 0.014, axis: bad}
    with pytest.raises(ProfileError, match="shrinkage") as wrong:
        checked_shrinkage(values["radial"], values["axial"], "test")
    assert "0 to 5%" in str(wrong.value)


def test_no_value_and_no_source_are_refused() -> None:
    with pytest.raises(ProfileError, match="not given"):
        checked_shrinkage(None, 0.01, "test")
    with pytest.raises(ProfileError, match="say where"):
        checked_shrinkage(0.014, None, "  ")
    assert checked_shrinkage(0.014, None, "trial").axial == 0.014


def test_the_volume_error_of_times_one_and_s() -> None:
    """The wrong rule is off by s squared: 3 s^2 of the volume at first order."""
    s = 0.014
    assert ((1 + s) * (1 - s)) ** 3 - 1 == pytest.approx(-3 * s**2, rel=1e-3)


def test_five_percent_is_the_limit_itself_and_one_slip_is_one_complaint() -> None:
    assert checked_shrinkage(0.05, None, "test").axial == 0.05
    for radial, axial, keys in (
        (0.06, None, ["--shrinkage"]),
        (0.014, 0.06, ["--axial-shrinkage"]),
        (0.06, 0.07, ["--shrinkage", "--axial-shrinkage"]),
    ):
        with pytest.raises(ProfileError) as wrong:
            checked_shrinkage(radial, axial, "test", keys=("--shrinkage", "--axial-shrinkage"))
        assert [complaint.key for complaint in wrong.value.complaints] == keys
