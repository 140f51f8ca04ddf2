"""Duty files: units, presets, sieve tables, every complaint at once; the shipped ones read without a warning."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollergen.errors import Complaint, ProfileError
from rollergen.spec.duty_presets import MARKS, preset_rows, source_of
from rollergen.spec.duty_schema import duty_schema
from rollergen.spec.reading import duty_from_text, duty_source_from_text, read_duty_source, warnings_for

DUTIES = sorted((Path(__file__).parents[2] / "profiles" / "duties").glob("*.toml"))
DUTY = """
name = "test-duty"
[crop]
name = "beet"
diameters = ["45 mm", "4 1/4 in"]
length_ratio = 1.2
friction = [0.35, 0.6]
bruise_pressure = "900 kPa"
density = "1.05 g/cm^3"
[[debris]]
name = "clods"
diameters = ["8 mm", "6 cm"]
friction = [0.4, 0.8]
strength = ["42 kPa", "58 kPa"]
[[debris]]
name = "haulm"
shape = "along"
diameters = ["2 mm", "9 mm"]
friction = [0.3, 0.6]
mate_friction = [0.2, 0.4]
[soil]
density = "1.6 g/cm^3"
layer = "6 mm"
adhesion = ["0.2 kPa", "2 kPa"]
[run]
rotation_speed = "90 rpm"
mate_speed_ratio = -0.6
"""


def complaints_of(text: str) -> tuple[Complaint, ...]:
    with pytest.raises(ProfileError) as wrong:
        duty_from_text(text)
    return wrong.value.complaints


def test_units_come_in_as_mm_mpa_and_rad_per_s() -> None:
    duty = duty_from_text(DUTY)
    assert duty.crop.diameters == (45.0, pytest.approx(107.95))
    assert duty.crop.bruise_pressure == pytest.approx(0.9)
    assert duty.crop.density_kg_m3 == pytest.approx(1050)
    assert duty.debris[0].diameters == (8.0, 60.0)
    assert duty.debris[0].strength == pytest.approx((0.042, 0.058))
    assert duty.debris[0].mate_friction == duty.debris[0].friction  # the default
    assert duty.debris[1].mate_friction == (0.2, 0.4)
    assert duty.soil is not None and duty.soil.adhesion == pytest.approx((0.0002, 0.002))
    assert duty.run is not None and duty.run.speed_rpm == pytest.approx(90)
    assert duty.run.rotation_speed == pytest.approx(9.42477796)


def test_what_flex_and_bridging_need_comes_in_as_mpa_n_per_mm_and_rad() -> None:
    text = DUTY.replace(
        'layer = "6 mm"',
        'layer = "6 mm"\nmodulus = ["500 kPa", "4 MPa"]\nbond_energy = ["50 mJ/m^2", "0.2 J/m2"]\n'
        'strength = ["5 kPa", "9 kPa"]\ncohesion = ["0 kPa", "4 kPa"]\nfriction_angle = ["20 deg", "0.5 rad"]',
    ).replace('"90 rpm"', '"90 rpm"\nline_load = "5 N/cm"')
    duty = duty_from_text(text)
    assert duty.soil is not None and duty.run is not None
    assert duty.soil.modulus == pytest.approx((0.5, 4.0))
    assert duty.soil.bond_energy == pytest.approx((5e-5, 2e-4))
    assert duty.soil.strength == pytest.approx((0.005, 0.009))
    assert duty.soil.cohesion == pytest.approx((0.0, 0.004))
    assert duty.soil.friction_angle == pytest.approx((0.34906585, 0.5))
    assert duty.run.line_load == pytest.approx(0.5)
    plain = duty_from_text(DUTY)
    assert plain.soil is not None and plain.soil.modulus is None
    assert plain.run is not None and plain.run.line_load is None


def test_every_soil_preset_says_all_that_flex_and_bridging_need_and_marks_it_weak() -> None:
    for name, row in preset_rows("soil").items():
        for column in ("modulus", "bond_energy", "cohesion", "friction_angle"):
            assert row[column].mark == "M", name
        soil = duty_from_text(DUTY.split("[soil]")[0] + f'[soil]\npreset = "{name}"\nlayer = "5 mm"\n').soil
        assert soil is not None and soil.bond_energy is not None and soil.friction_angle is not None


def test_a_sieve_table_is_straight_between_its_points() -> None:
    text = DUTY.replace(
        'diameters = ["45 mm", "4 1/4 in"]', 'sieve = [["40 mm", 0], ["60 mm", 0.5], ["100 mm", 1]]'
    )
    crop = duty_from_text(text).crop
    assert (crop.smallest_diameter, crop.largest_diameter) == (40.0, 100.0)
    assert [crop.share_below(d) for d in (30, 40, 50, 60, 80, 100, 120)] == [0, 0, 0.25, 0.5, 0.75, 1, 1]


def test_an_open_sieve_is_carried_on_with_a_warning() -> None:
    text = DUTY.replace('diameters = ["45 mm", "4 1/4 in"]', 'sieve = [["50 mm", 0.1], ["70 mm", 0.6]]')
    source = duty_source_from_text(text)
    assert source.duty.crop.smallest_diameter == pytest.approx(46.0)  # 0.1 at 0.025 a mm
    assert source.duty.crop.largest_diameter == pytest.approx(86.0)
    assert {w.key for w in warnings_for(source)} == {"crop.sieve"}


@pytest.mark.parametrize(
    ("old", "new", "key", "words"),
    [
        ("[0.35, 0.6]", "[0, 0.6]", "crop.friction", "above 0"),
        ("[0.35, 0.6]", "[0.35, 2.1]", "crop.friction", "2"),
        ("[0.35, 0.6]", "[0.6, 0.35]", "crop.friction", "[0.35, 0.6]"),
        ("[0.35, 0.6]", "0.5", "crop.friction", "lowest"),
        ('["8 mm", "6 cm"]', '["6 cm", "8 mm"]', "debris[0].diameters", "backwards"),
        ('["8 mm", "6 cm"]', '["8 mm", "8 mm"]', "debris[0].diameters", "empty"),
        ('["8 mm", "6 cm"]', '["8 kg", "6 cm"]', "debris[0].diameters", "kg"),
        ('"90 rpm"', '"0 rpm"', "run.rotation_speed", "stands still"),
        ('"90 rpm"', '"-90 rpm"', "run.rotation_speed", "90 rpm"),
        ('"90 rpm"', '"1.5 Hz"', "run.rotation_speed", "rev/s"),
        ("length_ratio = 1.2", "length_ratio = 0.8", "crop.length_ratio", "1.25"),
        ("bruise_pressure", "bruise_presure", "crop.bruise_presure", "bruise_pressure"),
        ('name = "haulm"', 'name = "clods"', "debris[1].name", "clods 2"),
        ('shape = "along"', 'shape = "alnog"', "debris[1].shape", "along"),
        ('name = "beet"', 'name = "beet"\nsieve = [["40 mm", 0], ["60 mm", 1]]', "crop.sieve", "either"),
        ('diameters = ["45 mm", "4 1/4 in"]', "", "crop.diameters", "sieve"),
        ("[crop]", '[crop]\npreset = "betroot"', "crop.preset", "beetroot"),
    ],
)
def test_a_slip_is_told_with_key_place_and_way_out(old: str, new: str, key: str, words: str) -> None:
    assert old in DUTY
    complaint = next(c for c in complaints_of(DUTY.replace(old, new, 1)) if c.key == key)
    assert words in complaint.message
    assert complaint.line > 0


def test_all_slips_at_once_and_a_duty_without_crop() -> None:
    text = DUTY.replace("[0.35, 0.6]", "[0, 0.6]").replace('"90 rpm"', '"0 rpm"').replace('"6 mm"', '"6 kg"')
    assert {c.key for c in complaints_of(text)} == {"crop.friction", "run.rotation_speed", "soil.layer"}
    assert any(c.key == "crop" for c in complaints_of('name = "none"\n'))


def test_a_misspelt_size_is_complained_about_once() -> None:
    (complaint,) = complaints_of(DUTY.replace('diameters = ["45 mm"', 'diametres = ["45 mm"'))
    assert complaint.key == "crop.diametres" and "diameters" in complaint.message


def test_a_mate_that_stands_still_is_valid() -> None:
    run = duty_from_text(DUTY.replace("mate_speed_ratio = -0.6", "mate_speed_ratio = 0")).run
    assert run is not None and run.mate_speed_ratio == 0


@pytest.mark.parametrize("path", DUTIES, ids=lambda p: p.stem)
def test_shipped_duties_read_without_a_warning(path: Path) -> None:
    source = read_duty_source(path)
    assert warnings_for(source) == ()
    assert source.duty.name == path.stem
    assert source.duty.run is not None and source.duty.debris
    for _, why in source.defaults.values():
        assert why


def test_there_are_at_least_four_duties() -> None:
    assert len(DUTIES) >= 4


def test_every_preset_value_shows_its_source_and_mark() -> None:
    for table in ("crop", "debris", "soil"):
        for name, row in preset_rows(table).items():
            for column, value in row.items():
                assert value.mark in MARKS
                assert MARKS[value.mark] in source_of(table, name, column)
    source = duty_source_from_text(DUTY.replace("[soil]", '[soil]\npreset = "wet clay"').replace(
        'density = "1.6 g/cm^3"\n', ""))  # fmt: skip
    value, why = source.defaults["soil.density"]
    assert value == "1.25 g/cm^3" and "text read" in why


JUNK = st.sampled_from(
    [
        '"9 kg"',
        "9",
        "-1",
        "true",
        "[]",
        "{}",
        '""',
        '["1 mm"]',
        "[0.1]",
        "nan",
        '"inf mm"',
        "[[]]",
        "9" * 400,
        "0x" + "f" * 5000,
        "[0x" + "f" * 5000 + ", 1]",
        "[nan, nan]",
        "[1979-05-27, 2]",
        '"1/0 mm"',
        '[["1 mm", 0], ["1 mm", 1]]',
        '[["1 mm", nan], ["2 mm", 1]]',
        "[{a = 1}]",
        '"\\u0000"',
    ]
)


@settings(max_examples=150, deadline=None)
@given(
    slips=st.lists(
        st.tuples(st.integers(1, len(DUTY.splitlines()) - 1), JUNK, st.booleans()), min_size=1, max_size=4
    ),
    more=st.sampled_from(["", "sieve", "diameters", "preset", "extends", "debris", "crop", "note"]),
)
def test_any_broken_lines_are_complaints_or_still_a_duty(
    slips: list[tuple[int, str, bool]], more: str
) -> None:
    lines = DUTY.splitlines()
    for line, junk, drop in slips:
        key, _, value = lines[line].partition(" = ")
        lines[line] = "" if drop else f"{key} = {junk}" if value else lines[line]
    if more:
        line, junk, _ = slips[0]
        lines.insert(line, f"{more} = {junk}")
    try:
        duty = duty_from_text("\n".join(lines))
        assert 0 <= duty.crop.share_below(60.0) <= 1
    except ProfileError as wrong:
        assert wrong.complaints and all(c.message and c.file for c in wrong.complaints)


def test_the_schema_knows_the_keys_of_a_whole_duty() -> None:
    schema = duty_schema()
    said = tomllib.loads(DUTY)
    assert set(said) <= set(schema["properties"])
    for table, name in (("crop", "Crop"), ("soil", "Soil"), ("run", "Run")):
        assert set(said[table]) <= set(schema["$defs"][name]["properties"])
    assert all(set(d) <= set(schema["$defs"]["Debris"]["properties"]) for d in said["debris"])
    assert json.loads(json.dumps(schema)) == schema
