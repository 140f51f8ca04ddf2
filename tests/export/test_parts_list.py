"""The parts list: counts by hand, masses against the weight study, the table read back."""

from __future__ import annotations

import csv
import io
import json
from math import pi, sqrt
from pathlib import Path

import pytest

from rollergen.answer.bed_parts import COLOUR_REMARK, Piece, parts_of
from rollergen.answer.report import draw_profile
from rollergen.errors import ProfileError
from rollergen.export.parts_list import COLUMNS, parts_csv, parts_json
from rollergen.shape.bar import bar_area
from rollergen.shape.properties import area_of
from rollergen.spec.bed import Bed
from rollergen.spec.reading import bed_from_text, read_bed, read_profile
from rollergen.study.mass import weigh

PROFILES = Path(__file__).parents[2] / "profiles"
BEET = PROFILES / "beds" / "beet-line.toml"
MIXED = """
name = "mixed"
width = "900 mm"
[[rollers]]
name = "sleeve"
profile = "plain-sleeve.toml"
x = "0 mm"
[[rollers]]
name = "general"
profile = "beet-general.toml"
x = "112 mm"
[[rollers]]
name = "transfer"
profile = "celeriac-transfer.toml"
x = "230 mm"
[[rollers]]
name = "tube"
diameter = "80 mm"
x = "322 mm"
"""


def mixed() -> Bed:
    return bed_from_text(MIXED, folder=PROFILES)


def test_counts_of_the_beet_line_by_hand() -> None:
    """1500 mm take ten segments of 148.5 mm and leave 15 mm; three ribbed and three smooth rollers."""
    parts = parts_of(read_bed(BEET))
    (segment,), (shaft,), (smooth,) = parts.segments, parts.shafts, parts.smooth
    assert (segment.profile, segment.count, segment.fitted_length_mm) == ("beet-general", 30, 148.5)
    assert (shaft.section, shaft.across_mm, shaft.length_mm, shaft.count) == ("square", 36.0, 1500.0, 3)
    assert (smooth.diameter_mm, smooth.length_mm, smooth.count, smooth.kg) == (90.0, 1500.0, 3, None)
    assert [(f.pieces, f.left_mm) for f in parts.filled] == [(10, 15.0)] * 3
    assert COLOUR_REMARK in parts.remarks and any("counted, not weighed" in r for r in parts.remarks)


def test_masses_and_cost_are_those_of_the_weight_study() -> None:
    parts = parts_of(mixed())
    for row, name in zip(parts.segments, ("plain-sleeve", "beet-general", "celeriac-transfer"), strict=True):
        profile = read_profile(PROFILES / f"{name}.toml")
        drawn = draw_profile(profile)
        alone = weigh(profile, drawn.section, drawn.part)
        assert row.count == int(900 // profile.body.fitted_length)
        assert row.each_kg == pytest.approx(alone.total_kg, rel=1e-12)
        assert row.kg == pytest.approx(row.count * alone.total_kg, rel=1e-12)
        assert row.volume_mm3 == pytest.approx(row.count * alone.volume_mm3, rel=1e-12)
        assert (row.each_cost, row.currency) == (alone.cost, alone.currency)
        compound = next(c for c in parts.compounds if c.compound == row.compound)
        assert compound.kg == pytest.approx(row.count * alone.mass_kg, rel=1e-12)  # foam is no compound
    priced = [row for row in parts.segments if row.cost is not None]
    assert [row.currency for row in priced] == ["EUR"]
    assert priced[0].cost == pytest.approx(7.1 * parts.compounds[0].kg)
    assert any("no price" in remark and "cast ether PU 80A" in remark for remark in parts.remarks)


def test_given_stacks_are_counted_by_length_and_weigh_by_length() -> None:
    long, short = (
        Piece(free_length=150, fitted_length=148.5, count=9),
        Piece(free_length=75, fitted_length=74, count=2),
    )
    bed = read_bed(BEET)
    parts = parts_of(bed, {"ribbed 1": (long, short)})
    assert [(s.free_length_mm, s.count) for s in parts.segments] == [(150.0, 29), (75.0, 2)]
    assert (
        parts.filled[0].left_mm == pytest.approx(1500 - 9 * 148.5 - 2 * 74) and parts.filled[0].pieces == 11
    )
    whole, half = parts.segments
    # a section of half the length has half the rubber but for the chamfers and lead-ins at its two ends
    assert half.each_kg < whole.each_kg / 2 and half.each_kg == pytest.approx(whole.each_kg / 2, rel=0.01)
    (compound,) = parts.compounds
    assert compound.volume_mm3 == pytest.approx(whole.volume_mm3 + half.volume_mm3)
    assert parts_of(bed, {roller.name: () for roller in bed.rollers[::2]}).segments == ()


def test_shafts_and_tubes_weigh_as_bars_do() -> None:
    parts = parts_of(read_bed(BEET), shaft_ends=200.0, smooth_wall=4.0)
    (shaft,), (smooth,) = parts.shafts, parts.smooth
    assert shaft.length_mm == 1700.0
    assert shaft.each_kg == pytest.approx((36**2 - (4 - pi) * 2**2) * 1700 * 7850e-9)
    assert smooth.each_kg == pytest.approx(pi / 4 * (90**2 - 82**2) * 1500 * 7850e-9)
    assert parts.total_kg == pytest.approx(parts.segments[0].kg + 3 * shaft.each_kg + 3 * smooth.each_kg)


@pytest.mark.parametrize(("name", "section"), [("beet-general", "square"), ("celeriac-transfer", "hexagon")])
def test_shaft_area_is_that_of_the_bore_outline_without_play(name: str, section: str) -> None:
    profile = read_profile(PROFILES / f"{name}.toml")
    bore = profile.bore
    tight = profile.model_copy(update={"bore": bore.model_copy(update={"clearance": 0.0})})
    outline = draw_profile(tight).section.bore
    assert bore.section == section
    assert bar_area(section, bore.across, bore.corner_radius) == pytest.approx(area_of(outline), rel=1e-12)


def test_shaft_area_limits() -> None:
    assert bar_area("round", 40.0, 0.0) == pytest.approx(pi * 400)
    assert bar_area("square", 40.0, 20.0) == pytest.approx(pi * 400)  # rounded all the way to a circle
    assert bar_area("hexagon", 40.0, 20.0) == pytest.approx(pi * 400)
    assert bar_area("hexagon", 40.0, 0.0) == pytest.approx(sqrt(3) / 2 * 1600)


@pytest.mark.parametrize(
    ("stacks", "key", "words"),
    [
        ({"nobody": ()}, "stacks", "no roller nobody"),
        ({"smooth 1": ()}, "rollers[1]", "one piece"),
        (
            {"ribbed 2": (Piece(free_length=150, fitted_length=148.5, count=11),)},
            "rollers[2]",
            "take out 133.5 mm",
        ),
        ({"ribbed 1": (Piece(free_length=100, fitted_length=101, count=1),)}, "rollers[0]", "no stack"),
        ({"ribbed 1": (Piece(free_length=100, fitted_length=99, count=-1),)}, "rollers[0]", "no stack"),
    ],
)
def test_a_stack_that_cannot_be_is_told_with_numbers(
    stacks: dict[str, tuple[Piece, ...]], key: str, words: str
) -> None:
    with pytest.raises(ProfileError) as wrong:
        parts_of(read_bed(BEET), stacks)
    assert wrong.value.complaints[0].key == key and words in wrong.value.complaints[0].message


def test_a_wall_thicker_than_the_roller_is_told() -> None:
    with pytest.raises(ProfileError, match="radius 45 mm"):
        parts_of(read_bed(BEET), smooth_wall=46.0)
    assert parts_of(read_bed(BEET), smooth_wall=45.0).smooth[0].each_kg == pytest.approx(
        pi * 45**2 * 1500 * 7850e-9
    )
    with pytest.raises(ProfileError, match="0 or more"):
        parts_of(read_bed(BEET), shaft_ends=-1.0)


def test_the_table_reads_back_number_for_number() -> None:
    parts = parts_of(mixed(), smooth_wall=3.2)
    data = parts_csv(parts.lines)
    assert data == parts_csv(parts_of(mixed(), smooth_wall=3.2).lines)
    rows = list(csv.DictReader(io.StringIO(data.decode())))
    assert tuple(rows[0]) == COLUMNS and len(rows) == len(parts.lines)
    for row, line in zip(rows, parts.lines, strict=True):
        for column in COLUMNS:
            said = line.get(column)
            if isinstance(said, float | int):
                assert float(row[column]) == said
            else:
                assert row[column] == ("" if said is None else said)
    with pytest.raises(ValueError, match="odd_key"):
        parts_csv([{"part": "segment", "odd_key": 1}])


def test_a_name_with_a_comma_and_quotes_reads_back() -> None:
    (row,) = csv.DictReader(io.StringIO(parts_csv([{"part": "segment", "profile": 'a, "b"\nc'}]).decode()))
    assert row["profile"] == 'a, "b"\nc'


def test_json_holds_the_whole_list_not_rounded() -> None:
    parts = parts_of(mixed())
    data = parts_json(parts.entry)
    assert data == parts_json(parts_of(mixed()).entry)
    page = json.loads(data)
    assert page["schema"] == 1 and list(page) == sorted(page)
    assert [row["each_kg"] for row in page["segments"]] == [row.each_kg for row in parts.segments]
    assert page["total_kg"] == parts.total_kg and page["remarks"] == list(parts.remarks)
