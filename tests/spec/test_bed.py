"""Bed files: rollers side by side, their profiles read along, every complaint in its place."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollergen.errors import Complaint, ProfileError
from rollergen.spec.duty_schema import bed_schema
from rollergen.spec.reading import bed_from_text, read_bed, read_bed_source, warnings_for

PROFILES = Path(__file__).parents[2] / "profiles"
BEDS = sorted((PROFILES / "beds").glob("*.toml"))
BED = """
name = "test-bed"
width = "1.5 m"
[[rollers]]
profile = "beet-general.toml"
x = "0 mm"
rotation_speed = "-70 rpm"
[[rollers]]
name = "smooth"
diameter = "90 mm"
x = "110.2 mm"
y = "-5 mm"
rotation_speed = "-42 rpm"
"""


def complaints_of(text: str) -> tuple[Complaint, ...]:
    with pytest.raises(ProfileError) as wrong:
        bed_from_text(text, folder=PROFILES)
    return wrong.value.complaints


def test_a_bed_reads_its_profiles_and_knows_its_neighbours() -> None:
    bed = bed_from_text(BED, folder=PROFILES)
    ours, mate = bed.rollers
    assert (ours.kind, mate.kind) == ("ribbed", "smooth")
    assert ours.segment is not None and ours.segment.name == "beet-general"
    assert (ours.tip_radius, ours.body_radius, mate.tip_radius) == (64.0, 56.0, 45.0)
    assert (ours.name, ours.y, ours.phase) == ("roller 1", 0.0, 0.0)
    assert ours.speed_rpm == pytest.approx(-70)
    assert bed.neighbours == ((0, 1),)
    assert bed.axis_distance(0, 1) == pytest.approx((110.2**2 + 25) ** 0.5)
    assert bed.width == 1500.0


@pytest.mark.parametrize(
    ("old", "new", "key", "words"),
    [
        ('x = "110.2 mm"', 'x = "100 mm"', "rollers[1].x", "at least 100.88"),
        ('diameter = "90 mm"\n', "", "rollers[1].diameter", "required"),
        (
            'diameter = "90 mm"',
            'diameter = "90 mm"\nprofile = "beet-general.toml"',
            "rollers[1].diameter",
            "profile",
        ),
        ('"beet-general.toml"', '"beet-genral.toml"', "rollers[0].profile", "no such file"),
        ('width = "1.5 m"', 'width = "9 cm"', "width", "148.5"),
        ('width = "1.5 m"', "width = 1.5", "width", "no unit"),
        ('name = "smooth"', 'name = "roller 1"', "rollers[1].name", "roller 1 2"),
        ('y = "-5 mm"', 'z = "-5 mm"', "rollers[1].z", "known here"),
    ],
)
def test_a_slip_is_told_with_key_place_and_way_out(old: str, new: str, key: str, words: str) -> None:
    assert old in BED
    complaint = next(c for c in complaints_of(BED.replace(old, new, 1)) if c.key == key)
    assert words in complaint.message
    assert complaint.line > 0


def test_a_bed_without_rollers_is_refused() -> None:
    assert any(c.key == "rollers" for c in complaints_of('name = "none"\nwidth = "1 m"\n'))


JUNK = st.sampled_from(
    ['"9 kg"', "9", "true", "[]", "{}", '""', '"."', '"../.."', '"gone.toml"', '"beet-left.toml"', "nan",
     '"0 mm"', '"0 rpm"', '"1.5 Hz"', "0x" + "f" * 5000, "[{a = 1}]", '"\\u0000"', '"smooth"']
)  # fmt: skip


@settings(max_examples=80, deadline=None)
@given(
    slips=st.lists(
        st.tuples(st.integers(1, len(BED.splitlines()) - 1), JUNK, st.booleans()), min_size=1, max_size=3
    ),
    more=st.sampled_from(["", "segment", "profile", "diameter", "extends", "rollers", "phase"]),
)
def test_any_broken_lines_are_complaints_or_still_a_bed(
    slips: list[tuple[int, str, bool]], more: str
) -> None:
    lines = BED.splitlines()
    for line, junk, drop in slips:
        key, _, value = lines[line].partition(" = ")
        lines[line] = "" if drop else f"{key} = {junk}" if value else lines[line]
    if more:
        line, junk, _ = slips[0]
        lines.insert(line, f"{more} = {junk}")
    try:
        bed = bed_from_text("\n".join(lines), folder=PROFILES)
        assert all(roller.tip_radius >= roller.body_radius > 0 for roller in bed.rollers)
    except ProfileError as wrong:
        assert wrong.complaints and all(c.message and c.file for c in wrong.complaints)


def test_every_unreadable_profile_is_named_at_its_roller() -> None:
    text = BED.replace('diameter = "90 mm"', 'profile = "gone.toml"').replace("beet-general", "beet-genral")
    places = [(c.key, c.line) for c in complaints_of(text)]
    assert places == [("rollers[0].profile", 5), ("rollers[1].profile", 10)]


@pytest.mark.parametrize("path", BEDS, ids=lambda p: p.stem)
def test_shipped_beds_read_and_clear_their_neighbours(path: Path) -> None:
    bed = read_bed(path)
    assert warnings_for(read_bed_source(path)) == ()
    for one, other in bed.neighbours:
        a, b = bed.rollers[one], bed.rollers[other]
        assert bed.axis_distance(one, other) - a.tip_radius - b.tip_radius >= 1.0


def test_the_schema_hides_what_only_the_reader_fills() -> None:
    roller = bed_schema()["$defs"]["BedRoller"]["properties"]
    assert {"profile", "diameter", "x", "y", "rotation_speed", "phase"} <= set(roller)
    assert "segment" not in roller
