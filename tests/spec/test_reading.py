"""Profile files: what is read, what is filled in, and every complaint at its place."""

from __future__ import annotations

import pickle
import subprocess
import sys
from math import inf, pi, radians
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollergen.errors import Complaint, FileTrouble, ProfileError
from rollergen.spec.reading import (
    placed,
    profile_from_text,
    read_profile,
    read_source,
    source_from_text,
    warnings_for,
)
from rollergen.spec.schema import starting_profile

SLEEVE = """name = "sleeve"
[body]
diameter = "100 mm"
free_length = "120 mm"
[bore]
section = "round"
across = "30 mm"
shaft_tolerance = "0.1 mm"
[compound]
density = "1100 kg/m^3"
"""
RIBBED = (
    SLEEVE
    + """[ribs]
count = 3
height = "6 mm"
tip_width = "8 mm"
flank_angle = "10 deg"
tip_radius = "1 mm"
root_radius = "2 mm"
helix_pitch = "straight"
"""
)
CHAMBERS = """[chambers]
count = 4
wall = "6 mm"
web = "6 mm"
hub_wall = "6 mm"
corner_radius = "2 mm"
"""


def complaints_of(text: str, **where: object) -> tuple[Complaint, ...]:
    with pytest.raises(ProfileError) as wrong:
        profile_from_text(text, **where)  # type: ignore[arg-type]
    return wrong.value.complaints


def with_line(text: str, table: str, line: str) -> str:
    assert f"[{table}]\n" in text
    return text.replace(f"[{table}]\n", f"[{table}]\n{line}\n")


def write(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


# what is read and filled in


def test_the_starting_profile_reads_without_complaint_or_warning_and_clears_its_mate():
    source = source_from_text(starting_profile())
    profile, mate = source.profile, source.profile.mates[0]
    assert warnings_for(source) == ()
    assert mate.diameter is not None and mate.least_tip_gap is not None and mate.most_body_gap is not None
    tip_gap = mate.axis_distance - profile.tip_radius - mate.diameter / 2
    assert tip_gap == pytest.approx(1.2) and tip_gap >= mate.least_tip_gap
    assert mate.axis_distance - profile.body_radius - mate.diameter / 2 <= mate.most_body_gap


def test_a_plain_solid_sleeve_without_mates_is_a_profile():
    profile = profile_from_text(SLEEVE)
    assert (profile.ribs, profile.chambers, profile.mates) == (None, None, ())
    assert profile.tip_radius == profile.body_radius == 50.0
    assert profile.body.edge_chamfer == 1.0  # no rib tip asks for less


def test_linked_defaults_are_filled_and_recorded():
    source = source_from_text(RIBBED + CHAMBERS)
    body, ribs, bore, chambers = (
        source.profile.body,
        source.profile.ribs,
        source.profile.bore,
        source.profile.chambers,
    )
    assert ribs is not None and chambers is not None
    assert body.fitted_length == 120.0 and body.edge_chamfer == 0.5  # half the tip radius
    assert ribs.flank_angle_ahead == ribs.flank_angle_behind == pytest.approx(radians(10))
    assert (ribs.hand, ribs.start, ribs.helix_pitch) == ("right", 0.0, inf)
    assert (bore.clearance, bore.corner_radius, bore.shaft_corner_radius, bore.lead_in) == (
        0.0,
        0.0,
        0.0,
        0.0,
    )
    assert (chambers.section, chambers.fill, chambers.foamed, chambers.start) == ("sector", "air", (), 0.0)
    assert source.defaults["body.fitted_length"][0] == "120 mm"
    assert source.defaults["body.edge_chamfer"] == ("0.5 mm", "the smaller of 1 mm and half the tip radius")
    assert "ribs.count" not in source.defaults


def test_a_sharp_tip_has_no_default_chamfer():
    profile = profile_from_text(RIBBED.replace('tip_radius = "1 mm"', 'tip_radius = "0 mm"'))
    assert profile.body.edge_chamfer == 0.0


@pytest.mark.parametrize(("side", "tolerance"), [("30 mm", 0.6), ("20 mm", 0.5)])
def test_a_hot_rolled_square_has_a_default_tolerance(side: str, tolerance: float):
    text = SLEEVE.replace('"round"', '"square"').replace('"30 mm"', f'"{side}"')
    source = source_from_text(text.replace('shaft_tolerance = "0.1 mm"\n', ""))
    assert source.profile.bore.shaft_tolerance == tolerance  # EN 10059
    assert "EN 10059" in source.defaults["bore.shaft_tolerance"][1]


@pytest.mark.parametrize("bore", ['"round"', '"hexagon"', '"square"'])
def test_a_shaft_without_a_row_is_asked_for_its_tolerance(bore: str):
    text = SLEEVE.replace('"round"', bore).replace('"30 mm"', '"36 mm"')
    source = source_from_text(text.replace('shaft_tolerance = "0.1 mm"\n', ""))
    assert source.profile.bore.shaft_tolerance is None
    (warning,) = warnings_for(source)
    assert (warning.key, warning.line) == ("bore.shaft_tolerance", 5)


@pytest.mark.parametrize(
    ("lines", "fill", "foamed"),
    [
        ('fill = "foam"\nfoam_density = "90 kg/m^3"', "foam", (1, 2, 3, 4)),
        ('fill = "foam"\nfoamed = [3, 1]\nfoam_density = "90 kg/m^3"', "foam", (3, 1)),
        ('foamed = [2]\nfoam_density = "90 kg/m^3"', "foam", (2,)),
        ("", "air", ()),
    ],
)
def test_foam(lines: str, fill: str, foamed: tuple[int, ...]):
    chambers = profile_from_text(SLEEVE + CHAMBERS + lines).chambers
    assert chambers is not None and (chambers.fill, chambers.foamed) == (fill, foamed)


def test_a_named_compound_brings_its_row_and_what_is_written_wins():
    named = SLEEVE.replace('density = "1100 kg/m^3"', 'name = "cast ether PU 80A"')
    source = source_from_text(named)
    assert source.profile.compound.density_kg_m3 == 1110.0
    assert source.profile.compound.hardness == 80.0
    assert "from memory" in source.defaults["compound.density"][1]
    own = profile_from_text(named + 'density = "1.2 g/cm^3"\nprice = "6.4 EUR/kg"\n')
    assert own.compound.density_kg_m3 == 1200.0
    assert own.compound.price is not None
    assert (own.compound.price.amount, own.compound.price.currency) == (6.4, "EUR")


def test_an_unknown_compound_needs_a_density():
    text = SLEEVE.replace('density = "1100 kg/m^3"', 'name = "cast ether PU 81A"')
    (complaint,) = complaints_of(text)
    assert complaint.key == "compound.density" and complaint.line == 9
    assert 'did you mean name = "cast ether PU 80A"?' in complaint.message
    assert profile_from_text(text + 'density = "1.2 g/cm^3"\n').compound.name == "cast ether PU 81A"


def test_unlike_flanks():
    text = RIBBED.replace(
        'flank_angle = "10 deg"', 'flank_angle_ahead = "5 deg"\nflank_angle_behind = "20 deg"'
    )
    ribs = profile_from_text(text).ribs
    assert ribs is not None
    assert (ribs.flank_angle_ahead, ribs.flank_angle_behind) == pytest.approx((pi / 36, pi / 9))


def test_both_spellings_of_the_flank_in_one_file_are_refused():
    text = with_line(RIBBED, "ribs", 'flank_angle_ahead = "5 deg"')
    complaints = complaints_of(text)
    assert [complaint.key for complaint in complaints] == ["ribs.flank_angle"]


def test_inches_and_millimetres_give_one_profile():
    metric = profile_from_text(SLEEVE.replace("100 mm", "101.6 mm"))
    assert profile_from_text(SLEEVE.replace("100 mm", "4 in")).body.diameter == pytest.approx(
        metric.body.diameter, rel=1e-15
    )


def test_a_byte_order_mark_and_windows_line_ends_are_read(tmp_path: Path):
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SLEEVE.replace("\n", "\r\n").encode())
    assert read_profile(path) == profile_from_text(SLEEVE)


def test_profiles_cross_process_borders():
    profile = profile_from_text(starting_profile())
    assert pickle.loads(pickle.dumps(profile)) == profile


# complaints


def test_all_complaints_of_a_file_come_at_once_each_at_its_place():
    text = """name = "be et"
[body]
  diameter = 112
free_length = "150 kg"
[ribs]
count = 30
heigth = "8 mm"
tip_width = "1,5 mm"
flank_angle = "15 mm"
tip_radius = "1 mm"
root_radius = "1 mm"
helix_pitch = "600"
hand = "rigth"
[bore]
section = "round"
across = "30 mm"
shaft_tolerance = "0.1 mm"
key_width = "5 mm"
[compound]
density = "1100 kg/m^3"
[[mates]]
diameter = "90 mm"
axis_distance = "110 mm"
[[mates]]
speed_ratio = "1"
colour = "red"
"""
    complaints = complaints_of(text, file="bad.toml")
    assert [(c.key, c.line, c.column) for c in complaints] == [
        ("name", 1, 1),
        ("body.diameter", 3, 3),
        ("body.free_length", 4, 1),
        ("ribs.count", 6, 1),
        ("ribs.heigth", 7, 1),
        ("ribs.tip_width", 8, 1),
        ("ribs.flank_angle", 9, 1),
        ("ribs.helix_pitch", 12, 1),
        ("ribs.hand", 13, 1),
        ("bore.key_width", 18, 1),  # a limit, judged although other tables are wrong
        ("mates[1].axis_distance", 24, 1),
        ("mates[1].speed_ratio", 25, 1),
        ("mates[1].colour", 26, 1),
    ]
    assert {c.file for c in complaints} == {"bad.toml"}
    said = {c.key: c.message for c in complaints}
    assert 'write e.g. "be-et"' in said["name"]
    assert 'write "112 mm"' in said["body.diameter"]
    assert "at most 24" in said["ribs.count"]
    assert 'did you mean "height"?' in said["ribs.heigth"]
    assert 'did you mean "right"?' in said["ribs.hand"]
    assert "belongs in [compound]" in said["mates[1].colour"]


def test_missing_tables_are_named():
    complaints = complaints_of('name = "x"\n')
    assert [complaint.key for complaint in complaints] == ["body", "bore", "compound"]


@pytest.mark.parametrize(
    ("line", "key"),
    [
        ("ribbed = 3", "mates[0].ribbed"),
        ("profile = 3", "mates[0].profile"),
        ('kind = "ribed"', "mates[0].kind"),
        ("speed_ratio = nan", "mates[0].speed_ratio"),
        ("speed_ratio = true", "mates[0].speed_ratio"),
        ("phase = 0", "mates[0].phase"),
        ('name = ""', "mates[0].name"),
    ],
)
def test_a_wrong_value_of_a_mate_is_named(line: str, key: str):
    text = SLEEVE + f'[[mates]]\ndiameter = "90 mm"\naxis_distance = "110 mm"\n{line}\n'
    (complaint,) = complaints_of(text)
    assert (complaint.key, complaint.line) == (key, 14)


@pytest.mark.parametrize(
    "text",
    [
        "body = 5", 'name = "x"\nmates = 5', 'name = "x"\nmates = [5]', 'ribs = "none"', "name = 1979-05-27",
        "[[body]]", "[mates]", "chambers = []", "x = {a = 1}", "a.b.c = 1", '"" = 1', '"a b"."c.d" = 1',
        "[compound]\nname = []", "[bore]\nsection = {}\nacross = []", "[ribs]\nflank_angle = []",
        "[chambers]\ncount = 'x'\nfoamed = ['1']", "extends = 5", "extends = ''",
        "[chambers]\nfoamed = [true]\nfill = 'foam'\ncount = 99999999999999999999", "a = " + "9" * 5000,
        "a = " + "[" * 5000, "a" + ".a" * 5000 + " = 1", "a = 0x" + "f" * 5000, "a = [0x" + "f" * 5000 + "]",
        "[body", "a = 1\na = 2", "a = 'x", 'a = """', "\x01", "a = 1e999",
    ],
)  # fmt: skip
def test_no_text_is_answered_with_anything_but_complaints(text: str):
    assert complaints_of(text)


@settings(deadline=None, max_examples=60)
@given(cut=st.integers(0, 3000), junk=st.text(max_size=6))
def test_a_damaged_profile_is_read_or_refused(cut: int, junk: str):
    text = starting_profile()
    at = cut % len(text)
    try:
        profile_from_text(text[:at] + junk + text[at + len(junk) :])
    except ProfileError as wrong:
        assert all(complaint.message and complaint.file for complaint in wrong.complaints)


@pytest.mark.parametrize(
    ("text", "line", "column"),
    [('name = "x"\nbody = ]', 2, 8), ('name = "x"\n[body', 2, 6), ("a = 1\na = 2\n", 2, 6)],
)
def test_syntax_errors_have_a_place(text: str, line: int, column: int):
    (complaint,) = complaints_of(text)
    assert "TOML syntax" in complaint.message
    assert (complaint.line, complaint.column) == (line, column)


def test_a_file_that_cannot_be_read_is_trouble(tmp_path: Path):
    with pytest.raises(FileTrouble, match="no such file"):
        read_profile(tmp_path / "none.toml")
    with pytest.raises(FileTrouble, match="is a folder"):
        read_profile(tmp_path)
    with pytest.raises(FileTrouble, match="not a plain file"):
        read_profile("/dev/null")
    with pytest.raises(FileTrouble, match="cannot be read"):
        read_profile("a\0b")
    with pytest.raises(FileTrouble):
        read_profile(tmp_path / ("x" * 5000))


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\x7fELF\0\0", "binary"),
        (b"name = '\xe9'", "not UTF-8"),
        ("name = 'x'".encode("utf-16"), "UTF-16"),
        (b"#" * 50_000_000, "50.0 MB is too large"),
        (b"", "required and missing"),
    ],
)
def test_a_file_that_is_no_profile_is_refused(tmp_path: Path, content: bytes, said: str):
    path = tmp_path / "a.toml"
    path.write_bytes(content)
    with pytest.raises(ProfileError) as wrong:
        read_profile(path)
    assert said in str(wrong.value) and str(path) in str(wrong.value)


def test_a_file_of_a_thousand_wrong_keys_is_answered_shortly():
    complaints = complaints_of("".join(f"key{n} = 1\n" for n in range(1000)))
    assert len(complaints) == 101 and complaints[-1].message.startswith("and ")


# extends


def test_extends_overrides_key_by_key_and_replaces_lists(tmp_path: Path):
    base = RIBBED + '[[mates]]\ndiameter = "90 mm"\naxis_distance = "110 mm"\n' * 2
    write(tmp_path, "base.toml", base)
    path = write(
        tmp_path,
        "top.toml",
        'extends = "base.toml"\nname = "top"\n[ribs]\ncount = 4\n'
        '[[mates]]\ndiameter = "80 mm"\naxis_distance = "105 mm"\n',
    )
    profile = read_profile(path)
    assert profile.name == "top" and profile.ribs is not None
    assert (profile.ribs.count, profile.ribs.height, len(profile.mates)) == (4, 6.0, 1)


@pytest.mark.parametrize(
    ("line", "flanks"),
    [('flank_angle = "20 deg"', (20, 20)), ('flank_angle_behind = "20 deg"', (10, 20))],
)
def test_either_spelling_of_the_flank_overrides_the_other(
    tmp_path: Path, line: str, flanks: tuple[float, float]
):
    write(tmp_path, "base.toml", RIBBED)
    ribs = read_profile(write(tmp_path, "top.toml", f'extends = "base.toml"\n[ribs]\n{line}\n')).ribs
    assert ribs is not None
    assert (ribs.flank_angle_ahead, ribs.flank_angle_behind) == pytest.approx(tuple(map(radians, flanks)))


def test_complaints_point_into_the_file_where_the_key_stands(tmp_path: Path):
    (tmp_path / "below").mkdir()
    base = write(tmp_path / "below", "base.toml", RIBBED.replace('height = "6 mm"', "height = 6"))
    top = write(
        tmp_path, "top.toml", 'extends = "below/base.toml"\n[body]\ndiameter = "100"\n[bore]\nwidth = 3\n'
    )
    with pytest.raises(ProfileError) as wrong:
        read_profile(top)
    assert [(c.file, c.key, c.line) for c in wrong.value.complaints] == [
        (str(top), "body.diameter", 3),
        (str(top), "bore.width", 5),
        (str(base), "ribs.height", 13),
    ]


def test_loops_of_extends_are_refused_with_the_chain(tmp_path: Path):
    a = write(tmp_path, "a.toml", 'extends = "b.toml"\n')
    write(tmp_path, "b.toml", '\n extends = "./a.toml"\n')
    with pytest.raises(ProfileError) as wrong:
        read_profile(a)
    (complaint,) = wrong.value.complaints
    assert complaint.message.count("->") == 2 and (complaint.line, complaint.column) == (2, 2)
    write(tmp_path, "c.toml", 'extends = "c.toml"\n')
    with pytest.raises(ProfileError, match="loop"):
        read_profile(tmp_path / "c.toml")


def test_a_missing_base_is_a_wrong_profile(tmp_path: Path):
    top = write(tmp_path, "top.toml", 'name = "x"\nextends = "gone.toml"\n')
    with pytest.raises(ProfileError) as wrong:
        read_profile(top)
    assert [(c.key, c.line) for c in wrong.value.complaints] == [("extends", 2)]


# mates


def mated(profile: str) -> str:
    return f'[[mates]]\nprofile = "{profile}"\naxis_distance = "115 mm"\n'


def test_a_ribbed_mate_is_read_from_its_own_file_and_may_name_us_as_its_mate(tmp_path: Path):
    (tmp_path / "left").mkdir()
    one = write(tmp_path, "one.toml", RIBBED + mated("left/two.toml"))
    write(tmp_path / "left", "two.toml", RIBBED.replace('"sleeve"', '"two"') + mated("../one.toml"))
    mate = read_profile(one).mates[0]
    assert (mate.kind, mate.name) == ("ribbed", "two")
    assert mate.ribbed is not None and mate.ribbed.name == "two" and mate.ribbed.mates == ()


def test_a_mate_in_a_base_file_is_looked_up_beside_that_file(tmp_path: Path):
    (tmp_path / "below").mkdir()
    write(tmp_path / "below", "mate.toml", RIBBED.replace('"sleeve"', '"mate"'))
    write(tmp_path / "below", "base.toml", RIBBED + mated("mate.toml"))
    profile = read_profile(write(tmp_path, "top.toml", 'extends = "below/base.toml"\nname = "top"\n'))
    assert profile.mates[0].ribbed is not None and profile.mates[0].ribbed.name == "mate"


def test_a_profile_that_names_itself_as_mate_is_told_the_way_out(tmp_path: Path):
    own = write(tmp_path, "own.toml", RIBBED + mated("./own.toml"))
    with pytest.raises(ProfileError) as wrong:
        read_profile(own)
    (complaint,) = wrong.value.complaints
    assert (
        complaint.key == "mates[0].profile"
        and complaint.line
        and "copy it under another name" in complaint.message
    )
    write(tmp_path, "own.toml", RIBBED + mated("twin.toml"))
    write(tmp_path, "twin.toml", 'extends = "own.toml"\nname = "twin"\n')
    assert read_profile(own).mates[0].name == "twin"  # the way out works


def test_complaints_about_a_mate_file_carry_its_name(tmp_path: Path):
    other = write(tmp_path, "other.toml", RIBBED.replace('"6 mm"', "6"))
    own = write(tmp_path, "own.toml", RIBBED.replace("count = 3", "count = 99") + mated("other.toml"))
    with pytest.raises(ProfileError) as wrong:
        read_profile(own)
    assert [(c.file, c.key) for c in wrong.value.complaints] == [
        (str(own), "ribs.count"),
        (str(other), "ribs.height"),
    ]


@pytest.mark.parametrize(
    ("lines", "key"),
    [
        ('kind = "ribbed"\naxis_distance = "115 mm"', "mates[0].profile"),
        ('axis_distance = "115 mm"', "mates[0].diameter"),
        ('profile = "gone.toml"\naxis_distance = "115 mm"', "mates[0].profile"),
    ],
)
def test_half_told_mates_are_refused(tmp_path: Path, lines: str, key: str):
    complaints = complaints_of(SLEEVE + "[[mates]]\n" + lines, folder=tmp_path)
    assert [complaint.key for complaint in complaints] == [key]


# places for later stages


def test_geometry_can_place_its_own_complaints(tmp_path: Path):
    path = write(tmp_path, "a.toml", RIBBED)
    complaints = [
        Complaint(key="ribs.root_radius", message="meets its neighbour"),
        Complaint(key="body.edge_chamfer", message="a default stands nowhere: its table is named"),
        Complaint(key="ribs.flank_angle_ahead", message="too flat"),
    ]
    assert [(c.key, c.line) for c in placed(complaints, read_source(path))] == [
        ("body.edge_chamfer", 2),
        ("ribs.flank_angle", 15),
        ("ribs.root_radius", 17),
    ]


def test_reading_common_units_pays_for_no_heavy_library():
    code = (
        "import sys; from rollergen.spec.reading import profile_from_text;"
        "from rollergen.spec.schema import starting_profile; profile_from_text(starting_profile());"
        "heavy = {'pint', 'OCP', 'cadquery', 'trimesh', 'matplotlib', 'scipy', 'ezdxf', 'typer'};"
        "heavy &= set(sys.modules);"
        "assert not heavy, heavy"
    )
    root = Path(__file__).parents[2]
    subprocess.run([sys.executable, "-c", code], check=True, cwd=root)
