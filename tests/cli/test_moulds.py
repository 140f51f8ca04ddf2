"""The mould command as a user meets it."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

import rollergen.cli.moulds  # noqa: F401  registers the command
from rollergen.cli.app import app

FOLDER = Path(__file__).resolve().parents[2] / "profiles"
GENERAL = FOLDER / "beet-general.toml"
runner = CliRunner()


def told(*words: str | Path) -> tuple[int, str, str]:
    done = runner.invoke(app, [str(word) for word in ("mould", *words)])
    return done.exit_code, done.stdout, done.stderr


def page(*words: str | Path) -> dict:
    code, out, err = told(*words, "--json")
    assert code in (0, 3), out + err
    return json.loads(out)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict]:
    out = tmp_path_factory.mktemp("mould")
    found = page(
        GENERAL, "--shrinkage", "1.6 %", "--axial-shrinkage", "1.1 %", "--shrinkage-source", "trial casting",
        "--draft", "0.5 deg", "--release", "screw", "--most-twist-shear", "2 %", "--cure-rise", "80 K",
        "--part-number", "7", "--compound-mark", "PU", "--interference",
        "--out", out, "--picture", out / "apart.png",
    )  # fmt: skip
    return out, found


def test_the_report_says_shrinkage_numbers_and_order(made: tuple[Path, dict]) -> None:
    _, found = made
    assert found["schema"] == 1 and found["profile"] == "beet-general"
    assert found["scale_radial"] == pytest.approx(1 / 0.984, rel=1e-15)
    assert found["scale_axial"] == pytest.approx(1 / 0.989, rel=1e-15)
    assert found["shrinkage_source"] == "trial casting"
    assert abs(found["volume_residual"]) <= 1e-9
    assert found["core_pull_n"] is None and "no published formula" in found["core_pull_reason"]
    assert found["wall_ends_mm"][0] == pytest.approx(7.0, abs=1e-6)
    assert all(fit["hot_mm"] is not None for fit in found["fits"])
    assert {part["part"] for part in found["parts"]} == {
        "cavity_sleeve", "base_plate", "top_plate", "chamber_core_1", "bore_mandrel", "dowel_1", "bolt_1", "cast_segment",
        "core_screw_1", "mandrel_screw", "jack_screw_1",
    }  # fmt: skip
    met = found["interference"]
    assert met["pairs"] == 26 * 25 / 2 and len(met["near"]) > 20
    assert all(one["overlap_mm"] == 0.0 for one in met["near"])
    assert any("screw the sleeve" in step for step in found["demould"])
    assert any("diisocyanates" in caution for caution in found["cautions"])
    words = json.dumps(found).lower()
    assert "compliant" not in words and " safe " not in words


def test_files_are_one_assembly_one_a_shape_a_list_a_report_and_a_picture(made: tuple[Path, dict]) -> None:
    out, found = made
    folder = out / "beet-general-mould"
    names = {file.name for file in folder.iterdir()}
    shapes = {f"{part['part']}.step" for part in found["parts"]}
    rest = {"beet-general-mould.step", "beet-general-mould.parts.csv", "beet-general-mould.report.json"}
    assert names == shapes | rest
    assert json.loads((folder / "beet-general-mould.report.json").read_text()) == found
    assert (out / "apart.png").read_bytes()[:4] == b"\x89PNG"
    rows = list(csv.DictReader((folder / "beet-general-mould.parts.csv").read_text().splitlines()))
    assert [row["part"] for row in rows] == [part["part"] for part in found["parts"]]
    assert float(rows[0]["volume_mm3"]) == found["parts"][0]["volume_mm3"]
    for entry in found["files"]:
        assert (folder / entry["path"]).stat().st_size == entry["bytes"]
        if entry["kind"].startswith("step"):
            assert abs(entry["volume_error"]) <= 1e-8


@pytest.mark.slow
def test_the_assembly_reads_back_with_every_name_valid_and_of_its_volume(made: tuple[Path, dict]) -> None:
    import cadquery as cq

    out, found = made
    file = out / "beet-general-mould" / "beet-general-mould.step"
    text = file.read_text()
    count = sum(part["count"] for part in found["parts"])
    assert text.count("NEXT_ASSEMBLY_USAGE_OCCURRENCE") == count
    for part in found["parts"]:
        for name in part["bodies"]:
            assert f"'{name}'" in text
    assert "DESCRIPTIVE_REPRESENTATION_ITEM('steel'" in text and "rollergen-" not in text
    assert text.count("COLOUR_RGB") >= 5
    solids = cq.importers.importStep(str(file)).solids().vals()
    assert len(solids) == count and all(solid.isValid() for solid in solids)
    total = sum(part["volume_mm3"] for part in found["parts"])
    assert sum(solid.Volume() for solid in solids) == pytest.approx(total, rel=1e-5)


@pytest.mark.slow
def test_every_part_file_reads_back_valid_to_1e8_of_its_closed_form(made: tuple[Path, dict]) -> None:
    import cadquery as cq

    from rollergen.shape.solid_check import kernel_volume

    out, found = made
    for part in found["parts"]:
        solid = cq.importers.importStep(str(out / "beet-general-mould" / f"{part['part']}.step")).val()
        assert solid.isValid(), part["part"]
        assert kernel_volume(solid.wrapped) == pytest.approx(part["each_volume_mm3"], rel=1e-8), part["part"]


def test_same_input_same_bytes(tmp_path: Path) -> None:
    words = (FOLDER / "plain-sleeve.toml", "--shrinkage", "1.4 %")
    for name in ("a", "b"):
        page(*words, "--out", tmp_path / name)
    files = sorted(p.relative_to(tmp_path / "a") for p in (tmp_path / "a").rglob("*") if p.is_file())
    assert len(files) > 5
    for file in files:
        assert (tmp_path / "a" / file).read_bytes() == (tmp_path / "b" / file).read_bytes(), file


def test_the_profile_may_give_the_shrinkage_and_the_command_goes_before_it(tmp_path: Path) -> None:
    file = tmp_path / "own.toml"
    file.write_text(
        (FOLDER / "plain-sleeve.toml").read_text().replace("[compound]", '[compound]\nshrinkage = "1.2 %"')
    )
    own = page(file)
    assert own["radial_shrinkage"] == own["axial_shrinkage"] == pytest.approx(0.012)
    assert own["shrinkage_source"] == "compound.shrinkage of the profile plain-sleeve"
    assert page(file, "--shrinkage", "1.5 %")["radial_shrinkage"] == pytest.approx(0.015)


def test_a_value_measured_on_steel_is_carried_over_to_aluminium() -> None:
    words = (
        FOLDER / "plain-sleeve.toml",
        "--shrinkage",
        "1.4 %",
        "--metal",
        "aluminium",
        "--cure-rise",
        "80 K",
    )
    found = page(*words, "--measured-on", "steel")
    assert found["radial_shrinkage"] == pytest.approx(0.01313, abs=5e-6)
    assert "aluminium" in found["shrinkage_source"]


def test_words_for_people() -> None:
    code, out, _ = told(GENERAL, "--shrinkage", "1.4 %")
    assert code in (0, 3)
    for words in (
        "shrinkage",
        "shot",
        "hub wall",
        "core pull force",
        "6 x chamber_core_1",
        "demould 1",
        "caution:",
    ):
        assert words in out


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ((), 2, "a mould cannot be made without"),
        (("--shrinkage", "-1 %"), 2, "--shrinkage"),
        (("--shrinkage", "5.1 %"), 2, "--shrinkage: 0.051 as a share (5.100%): 0 to 5% is meant"),
        (("--shrinkage", "1.4 %", "--axial-shrinkage", "7 %"), 2, "--axial-shrinkage: 0.07"),
        (("--shrinkage", "1.4"), 2, '--shrinkage: "1.4" has no unit; write "1.4 %"'),
        (("--shrinkage", "0.8"), 2, 'write "80 %" or "0.8 %", as is meant'),
        (("--shrinkage", "0.014"), 2, 'write "1.4 %"'),
        (("--shrinkage", "1.4 %", "--shrinkage-source", " "), 2, "say where"),
        (("--shrinkage", "1.4 %", "--draft", "3 deg"), 2, "0.95 deg or less"),
        (("--shrinkage", "1.4 %", "--draft", "30 deg"), 2, "under 20 deg"),
        (("--shrinkage", "1.4 %", "--gate-at", "45 mm"), 2, "radius and angle"),
        (("--shrinkage", "1.4 %", "--gate-at", "5 mm, 30 deg"), 2, "inside the bore"),
        (("--shrinkage", "1.4 %", "--cure-rise", "80"), 2, "80 K"),
        (("--shrinkage", "1.4 %", "--measured-on", "steel"), 2, "--cure-rise"),
        (("--shrinkage", "1.4 %", "--picture", "x.jpg"), 2, ".png"),
        (("--shrinkage", "1.4 %", "--part-number", "é"), 2, "A to Z"),
        (("--shrinkage", "1.4 %", "--base-plate", "10 mm"), 2, "--base-plate: 10 mm is too thin"),
        (("--shrinkage", "1.4 %", "--top-plate", "10 mm"), 2, "use 15 mm or more"),
        (("--shrinkage", "1.4 %", "--bolts", "1"), 2, "2 or more"),
        (("--shrinkage", "1.4 %", "--bolt", "9 mm"), 2, "use 8 mm"),
        (("--shrinkage", "1.4 %", "--dowel", "4 mm"), 2, "use 6 mm or more"),
        (("--shrinkage", "1.4 %", "--vent", "0.1 mm"), 2, "use 0.3 mm or more"),
        (("--shrinkage", "1.4 %", "--vent", "40 mm"), 2, "--vent: 40 mm does not fit"),
        (("--shrinkage", "1.4 %", "--foot", "2 mm"), 2, "use 3 mm or more"),
        (("--shrinkage", "1.4 %", "--foot-fit", "3 mm"), 2, "use 0 to 1 mm"),
        (("--shrinkage", "1.4 %", "--spigot-fit", "0.1"), 2, "--spigot-fit"),
        (("--shrinkage", "1.4 %", "--mark-depth", "3 mm"), 2, "use 0 to 2 mm"),
        (("--shrinkage", "1.4 %", "--block-wall", "12 mm"), 2, "a block wall of 13.1 mm or more"),
    ],
)
def test_bad_input_answers_with_its_code_and_a_way_out(words: tuple[str, ...], code: int, said: str) -> None:
    answered, out, err = told(GENERAL, *words)
    assert answered == code and said in err
    assert "Traceback" not in err + out


def test_sizes_of_the_tool_are_what_was_asked() -> None:
    """Every option that a message names exists and does what it says."""
    found = page(
        GENERAL, "--shrinkage", "1.4 %", "--base-plate", "40 mm", "--top-plate", "24 mm", "--bolts", "6",
        "--bolt", "8 mm", "--dowel", "8 mm", "--vent", "1 mm", "--foot", "20 mm", "--spigot", "12 mm", "--foot-fit",
        "0.05 mm", "--spigot-fit", "0.1 mm", "--part-number", "7", "--mark-depth", "0.6 mm", "--interference",
    )  # fmt: skip
    parts = {part["part"]: part for part in found["parts"]}
    fits = {fit["fit"]: fit["cold_mm"] for fit in found["fits"]}
    length, chamfer = found["cavity_length_mm"], 1 / 0.986
    assert found["block_mm"][2] == pytest.approx(length + 64)
    assert parts["base_plate"]["size_mm"][2] == pytest.approx(40 + chamfer)
    assert parts["bolt_1"]["count"] == 6 and "M8" in parts["bolt_1"]["note"]
    assert parts["dowel_1"]["size_mm"][0] == pytest.approx(8) and "M5" in parts["dowel_1"]["note"]
    assert parts["chamber_core_1"]["size_mm"][2] == pytest.approx(length + 32)
    assert parts["cast_segment"]["size_mm"][2] == pytest.approx(length + 0.6)
    assert found["vent_diameter_mm"] == 1.0
    assert fits["core foot in base plate"] == pytest.approx(0.05, abs=1e-9)
    assert fits["core spigot in top plate"] == pytest.approx(0.1, abs=1e-9)
    assert not any(one["overlap_mm"] for one in found["interference"]["near"])
    assert abs(found["volume_residual"]) <= 1e-9


def test_nothing_is_written_when_the_last_thing_fails(tmp_path: Path) -> None:
    """The parts would come out; the picture's ending is wrong: no file at all."""
    words = (
        "--shrinkage",
        "1.4 %",
        "--release",
        "screw",
        "--out",
        tmp_path / "out",
        "--picture",
        tmp_path / "x.bmp",
    )
    assert told(GENERAL, *words)[0] == 2
    assert list(tmp_path.iterdir()) == []


def test_every_number_is_explained() -> None:
    from rollergen.answer.explain import PLAIN, figures
    from rollergen.tooling.mould_figures import FIGURES

    found = page(GENERAL, "--shrinkage", "1.4 %", "--cure-rise", "80 K", "--interference")
    known = set(figures()) | {figure.key for figure in FIGURES} | PLAIN
    texts = {
        "way", "not_met", "demould", "parts", "fits", "part", "bodies", "role", "material", "note", "fit", "release",
        "shrinkage_source", "core_pull_reason", "nominal_end",
    }  # fmt: skip
    del found["release"]  # has entries of its own

    def keys(value: object) -> list[str]:
        if isinstance(value, dict):
            return [*value, *(k for inner in value.values() for k in keys(inner))]
        return [k for inner in value for k in keys(inner)] if isinstance(value, list) else []

    assert sorted(set(keys(found)) - known - texts) == []


@pytest.mark.slow
def test_draft_stiffens_the_part_towards_the_thin_end_of_its_cores() -> None:
    from rollergen.answer.explain import unexplained

    words = [
        "mould",
        str(Path(__file__).parents[2] / "profiles" / "beet-general.toml"),
        "--shrinkage",
        "1.4 %",
        "--draft",
        "0.5 deg",
        "--flex",
    ]
    done = CliRunner().invoke(app, [*words, "--json"])
    assert done.exit_code == 0, done.output
    page = json.loads(done.stdout)
    assert [one["at"] for one in page["give"]] == ["over a chamber", "over a web", "on a rib"]
    for one in page["give"]:
        foot, thin = one["stiffness_ends_n_mm2"]
        assert thin > 1.1 * foot
    assert unexplained(page) == []


def test_an_earlier_set_leaves_nothing_beside_a_new_one_but_what_somebody_changed(tmp_path: Path) -> None:
    """Pieces first, then a sleeve into the same folder: no jacket of the pieces may lie beside it."""
    short = tmp_path / "short.toml"
    text = GENERAL.read_text().replace('free_length = "150 mm"', 'free_length = "60 mm"')
    text = re.sub(r"fitted_length.*", "", text)
    short.write_text(re.sub(r"\[\[mates\]\].*", "", text, flags=re.DOTALL))
    words = (short, "--shrinkage", "1.4 %", "--out", tmp_path / "out")
    page(*words, "--release", "helical")
    folder = next((tmp_path / "out").iterdir())
    assert (folder / "jacket.step").is_file() and (folder / "cavity_piece_1.step").is_file()
    (folder / "cavity_piece_1.step").write_text("changed by hand")
    (folder / "notes.txt").write_text("mine")
    found = page(*words, "--release", "screw", "--most-twist-shear", "5 %")
    left = {p.name for p in folder.iterdir()}
    assert "cavity_sleeve.step" in left and not {"jacket.step", "pin_1.step"} & left
    assert {"cavity_piece_1.step", "notes.txt"} <= left
    assert left - {entry["path"] for entry in found["files"]} == {
        "cavity_piece_1.step", "notes.txt", next(n for n in left if n.endswith(".report.json")),
    }  # fmt: skip


def test_no_picture_is_left_when_the_folder_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "wall").write_text("a file, no folder")
    words = ("--shrinkage", "1.4 %", "--picture", tmp_path / "ok.png", "--out", tmp_path / "wall")
    assert told(GENERAL, *words)[0] == 5
    assert [p.name for p in tmp_path.iterdir()] == ["wall"]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--release", "screw", "--most-twist-shear", "0.1 %"), 3),
        (("--release", "strip", "--most-strip", "1 %"), 3),
        (("--release", "planes", "--most-parts", "3"), 3),
        (("--release", "screw"), 2),
    ],
)
def test_a_limit_you_stated_answers_3_and_nothing_is_written(
    words: tuple[str, ...], code: int, tmp_path: Path
) -> None:
    asked = (GENERAL, "--shrinkage", "1.4 %", *words, "--out", tmp_path / "out")
    answered, out, err = told(*asked, "--json")
    assert answered == code and list(tmp_path.iterdir()) == []
    (only,) = json.loads(out)["errors"]
    assert json.loads(out)["schema"] == 1 and only["key"] == "--release"
    assert "way out: leave --release out" in err and err.count("--release: ") == 1
    assert "axial rings:" in err  # every line of the rule


def test_cautions_name_every_rubber_that_draft_thins_and_the_foam() -> None:
    """Nominal half way: wall and hub wall lose L tan / 2, the web twice that."""
    from math import radians, tan

    half = 150 * tan(radians(0.5)) / 2
    said = " ".join(
        page(GENERAL, "--shrinkage", "1.4 %", "--draft", "0.5 deg", "--nominal-end", "middle")["cautions"]
    )
    assert f"a wall of {7 - half:.2f} mm instead of 7.00 mm" in said
    assert f"a web of {6 - 2 * half:.2f} mm instead of 6.00 mm" in said
    assert f"a hub wall of {7 - half:.2f} mm instead of 7.00 mm" in said
    large = " ".join(page(GENERAL, "--shrinkage", "1.4 %", "--draft", "0.5 deg")["cautions"])
    assert "thinner" not in large and "foam" not in large.replace("the compound foams", "")
    foamed = page(FOLDER / "plain-sleeve.toml", "--shrinkage", "1.4 %")["cautions"]
    assert any("foaming is a later step" in caution for caution in foamed)


def rows_of(*words: str | Path) -> dict[str, str]:
    code, out, err = told(*words)
    assert code == 0, err
    return rows_in(out)


def rows_in(out: str) -> dict[str, str]:
    return {
        line[2:].split("  ")[0]: line[2:].split("  ", 1)[1].strip()
        for line in out.splitlines()
        if line[:2] == "  "
    }


def test_the_table_says_what_the_page_says() -> None:
    words = (
        GENERAL, "--shrinkage", "1.4 %", "--draft", "0.5 deg", "--mandrel-draft", "0.2 deg", "--cure-rise", "80 K",
        "--metal", "aluminium", "--core-metal", "steel", "--nominal-end", "middle",
    )  # fmt: skip
    rows, found = rows_of(*words), page(*words)
    assert rows["cavity"] == (
        f"{found['cavity_length_mm']:.2f} mm long, {found['cavity_tip_diameter_mm']:.2f} mm over the rib tips"
    )
    assert (
        "core_shift_hot_mm" not in found
    )  # cores stand loose in pockets of their own and go along with them
    assert rows["chamfer's draft"].startswith(f"{found['recess_draft_deg']:.2f} deg")
    assert rows["mandrel draft"] == f"0.2 deg; least width of the bore {found['least_bore_mm']:.2f} mm"
    assert rows["draft"].endswith("nominal half way")


def test_a_draft_without_chambers_is_said_to_do_nothing() -> None:
    solid = FOLDER / "celeriac-transfer.toml"
    assert rows_of(solid, "--shrinkage", "1.4 %", "--draft", "0.3 deg")["draft"] == (
        "0.3 deg does nothing: there are no chamber cores"
    )
    assert rows_of(solid, "--shrinkage", "1.4 %")["draft"] == "none: there are no chamber cores"


def test_inches_for_people_and_the_page_unchanged() -> None:
    words = (
        GENERAL,
        "--shrinkage",
        "1.4 %",
        "--draft",
        "0.5 deg",
        "--nominal-end",
        "middle",
        "--interference",
    )
    code, out, err = told(*words, "--units", "in")
    assert code == 0, err
    rows, found = rows_in(out), page(*words)
    assert page(*words, "--units", "in") == found
    assert rows["cavity"].startswith(f"{found['cavity_length_mm'] / 25.4:.4f} in long")
    assert rows["block"].startswith(" x ".join(f"{side / 25.4:.3f}" for side in found["block_mm"]) + " in,")
    assert rows["wall"].startswith(f"{found['wall_ends_mm'][0] / 25.4:.4f} in at the core's foot")
    assert rows["core foot in base plate"] == f"{0.03 / 25.4:.5f} in a side"
    lengths = [line for line in out.splitlines() if " mm" in line]
    assert [line for line in lengths if "diameter 10 mm" not in line] == []  # bought pins keep their name
    (depths,) = (line for line in found["release"]["why"] if "undercut by parts" in line)
    two = float(depths.split("2: ")[1].split(" mm")[0])
    assert f"2: {two / 25.4:.4f}"[:-1] in out and "in mm by" not in out
    assert told(*words, "--units", "ft")[0] == 2


@pytest.mark.parametrize(
    ("words", "key", "sign"),
    [
        (("--part-number", "7é"), "--part-number", "é of "),
        (("--compound-mark", "µPU", "--part-number", "7"), "--compound-mark", "µ of "),
        (("--date", "12_5"), "--date", "_ of "),
    ],
)
def test_a_sign_that_cannot_be_engraved_is_told_by_its_option_as_typed(
    words: tuple[str, ...], key: str, sign: str
) -> None:
    code, _, err = told(GENERAL, "--shrinkage", "1.4 %", *words)
    (line,) = [line for line in err.splitlines() if "engraved" in line]
    assert code == 2 and line.startswith(f"{key}: {sign}")


def test_a_sign_in_the_compound_s_name_is_the_compound_mark_s(tmp_path: Path) -> None:
    file = tmp_path / "micro.toml"
    text = GENERAL.read_text().replace(
        'name = "cast ether PU 80A"', 'name = "cast µPU 80A"\ndensity = "1110 kg/m^3"'
    )
    assert "µ" in text
    file.write_text(text)
    code, _, err = told(file, "--shrinkage", "1.4 %", "--part-number", "7")
    assert code == 2 and '--compound-mark: µ of "cast µPU 80A"' in err and "--part-number" not in err
