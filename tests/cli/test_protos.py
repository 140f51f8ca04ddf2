"""The proto command as a user runs it; its files as other readers find them."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

import lib3mf
import numpy as np
import pytest
from typer.testing import CliRunner

import rollergen.cli.protos  # noqa: F401  registers the command
from rollergen.answer.explain import unexplained
from rollergen.cli.app import app

PROFILES = Path(__file__).parents[2] / "profiles"
GENERAL = PROFILES / "beet-general.toml"
RUN = CliRunner()


def told(*words: str | Path) -> tuple[int, str, str]:
    done = RUN.invoke(app, ["proto", *map(str, words)])
    return done.exit_code, done.stdout, done.stderr


def page(*words: str | Path) -> dict:
    code, out, err = told(*words, "--json")
    assert code in (0, 3), out + err
    return json.loads(out)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict]:
    out = tmp_path_factory.mktemp("proto")
    words = ("--printer", "220x220x90 mm", "--chord-error", "0.2 mm", "--shaft", "30 mm", "--out", out)
    return out / "beet-general-proto", page(GENERAL, *words)


def read(data: bytes) -> tuple[object, list[str]]:
    """A strictly read model, and what the reader warns of."""
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(data)
    return model, [reader.GetWarning(n)[0] for n in range(reader.GetWarningCount())]


def bodies_of(model: object) -> list:
    objects, found = model.GetMeshObjects(), []
    while objects.MoveNext():
        found.append(objects.GetCurrentMeshObject())
    return found


def rewritten(data: bytes, change) -> bytes:
    """The same package with its model text changed."""
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(made, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            new.writestr(name, change(content.decode()).encode() if name.endswith(".model") else content)
    return made.getvalue()


def test_one_file_a_piece_one_of_all_and_the_report(made: tuple[Path, dict]) -> None:
    folder, found = made
    names = ["beet-general.piece-1.3mf", "beet-general.piece-2.3mf", "beet-general.all.3mf"]
    assert [entry["path"] for entry in found["files"]] == names
    assert {path.name for path in folder.iterdir()} == {*names, "beet-general.proto.json"}
    assert json.loads((folder / "beet-general.proto.json").read_text()) == found
    for entry in found["files"]:
        assert (folder / entry["path"]).stat().st_size == entry["bytes"] and 0 < entry["deviation_mm"] <= 0.2


def test_the_report_says_what_to_do_and_explains_every_number(made: tuple[Path, dict]) -> None:
    _, found = made
    assert found["schema"] == 1 and found["printable"] is True and found["reasons"] == []
    assert found["cuts_mm"] == pytest.approx([75.0], abs=1e-9) and len(found["printed"]) == 2
    assert found["bore_mm"] == pytest.approx(30.6) and found["shaft_mm"] == 30
    assert found["orientation"].startswith("upright: axis vertical, the end at z = 0 on the plate")
    assert sum(piece["filament_g"] for piece in found["printed"]) == pytest.approx(
        found["filament_g"], rel=1e-12
    )
    assert found["printed"][0]["piece_height_mm"] == pytest.approx(80.0)
    total = sum(piece["piece_volume_mm3"] for piece in found["printed"])
    lost = found["joint_lost_mm3"] + found["foot_lost_mm3"] + found["upper_end_lost_mm3"]
    assert total + lost == pytest.approx(found["plain_volume_mm3"], rel=1e-9)
    assert unexplained(found) == []
    cautions = " ".join(found["cautions"])
    assert "not the cast compound" in cautions and "not for service" in cautions and "fumes" in cautions
    assert "compliant" not in json.dumps(found).lower() and " safe " not in json.dumps(found).lower()


def test_every_file_reads_strictly_and_is_manifold_and_oriented(made: tuple[Path, dict]) -> None:
    """3MF Core 1.4.0, 4.1, read by the consortium's own library."""
    folder, found = made
    for entry, count in zip(found["files"], (1, 1, 2), strict=True):
        model, warnings = read((folder / entry["path"]).read_bytes())
        assert warnings == []
        bodies = bodies_of(model)
        assert len(bodies) == count and all(body.IsManifoldAndOriented() for body in bodies)
        assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
        build = model.GetBuildItems()
        assert sum(build.MoveNext() for _ in range(count + 1)) == count
    assert [body.GetName() for body in bodies] == ["beet-general piece 1", "beet-general piece 2"]


def test_pieces_stand_on_the_plate_side_by_side_and_of_their_volume(made: tuple[Path, dict]) -> None:
    folder, found = made
    model, _ = read((folder / "beet-general.all.3mf").read_bytes())
    corners = []
    for body, piece in zip(bodies_of(model), found["printed"], strict=True):
        points = np.array([list(v.Coordinates) for v in body.GetVertices()])
        facets = np.array([list(t.Indices) for t in body.GetTriangleIndices()])
        a, b, c = (points[facets[:, k]].astype(float) for k in range(3))
        volume = np.einsum("ij,ij->", a, np.cross(b, c)) / 6
        assert volume == pytest.approx(piece["piece_volume_mm3"], rel=6e-3)
        assert points[:, 2].min() == pytest.approx(0, abs=1e-6)
        assert points[:, 2].max() == pytest.approx(piece["piece_height_mm"], abs=1e-4)
        corners.append((points[:, 0].min(), points[:, 0].max()))
    assert corners[0][1] < corners[1][0]


def test_a_file_that_is_wrong_is_found_out(made: tuple[Path, dict]) -> None:
    """The checks above can fail: an unknown metadata name is refused; one facet turned reads without a word."""
    good = (made[0] / "beet-general.piece-1.3mf").read_bytes()
    with pytest.raises(lib3mf.ELib3MFException, match="Unknown Model Metadata"):
        read(rewritten(good, _with_material))

    def flipped(text: str) -> str:
        at = text.index("<triangle v1=")
        line = text[at : text.index("/>", at)]
        one, two, three = (part.split('"')[1] for part in line.split(" ")[1:4])
        return text.replace(line, f'<triangle v1="{one}" v2="{three}" v3="{two}"', 1)

    model, warnings = read(rewritten(good, flipped))
    assert warnings == []
    assert not bodies_of(model)[0].IsManifoldAndOriented()


def _with_material(text: str) -> str:
    return text.replace("<resources>", '<metadata name="material">PU</metadata>\n<resources>', 1)


def test_one_piece_makes_one_file_and_no_out_makes_none(tmp_path: Path) -> None:
    words = ("--printer", "220x220x250 mm", "--chord-error", "0.2 mm")
    assert page(GENERAL, *words)["files"] == [] and list(tmp_path.iterdir()) == []
    found = page(GENERAL, *words, "--out", tmp_path)
    assert [entry["path"] for entry in found["files"]] == ["beet-general.print.3mf"]
    assert found["joint"] is None and found["joint_lost_mm3"] == 0 and found["cuts_mm"] == []


def test_one_piece_takes_the_pieces_of_an_earlier_print_away(tmp_path: Path) -> None:
    words = ("--chord-error", "0.2 mm", "--out", tmp_path)
    page(GENERAL, "--printer", "220x220x90 mm", *words)
    folder = tmp_path / "beet-general-proto"
    assert len(list(folder.glob("*.piece-*.3mf"))) == 2
    found = page(GENERAL, "--printer", "220x220x250 mm", *words)
    left = {path.name for path in folder.iterdir()}
    assert left == {*(entry["path"] for entry in found["files"]), "beet-general.proto.json"}


def test_same_input_same_bytes(tmp_path: Path) -> None:
    words = (PROFILES / "plain-sleeve.toml", "--printer", "150x150x90 mm", "--chord-error", "0.2 mm")
    for name in ("a", "b"):
        page(*words, "--out", tmp_path / name)
    files = sorted(p.relative_to(tmp_path / "a") for p in (tmp_path / "a").rglob("*") if p.is_file())
    assert len(files) == 4
    for file in files:
        assert (tmp_path / "a" / file).read_bytes() == (tmp_path / "b" / file).read_bytes(), file


@pytest.mark.slow
@pytest.mark.parametrize("name", ["plain-sleeve", "beet-general", "celeriac-transfer"])
def test_same_input_same_picture(name: str, tmp_path: Path) -> None:
    for form, head in (("svg", b"<?xm"), ("png", b"\x89PNG")):
        for n in (1, 2):
            words = ("--printer", "150x150x90 mm", "--picture", tmp_path / f"{n}.{form}")
            assert told(PROFILES / f"{name}.toml", *words)[0] == 0
        assert (tmp_path / f"1.{form}").read_bytes()[:4] == head
        assert (tmp_path / f"1.{form}").read_bytes() == (tmp_path / f"2.{form}").read_bytes()


def test_inches_are_millimetres() -> None:
    metric = page(GENERAL, "--printer", "254x254x127 mm", "--cuts", "50.8 mm, 101.6 mm")
    assert page(GENERAL, "--printer", "10x10x5 in", "--cuts", "2 in, 4 in") == metric
    assert page(GENERAL, "--printer", "254x254x127mm", "--cuts", "2in, 4in") == metric
    assert page(GENERAL, "--printer", "10 x 10 x 5 in", "--cuts", "2 in, 4 in") == metric


def test_words_for_people_and_a_verdict_that_counts() -> None:
    code, out, _ = told(GENERAL, "--printer", "220 x 220 x 90 mm")
    assert code == 0
    for words in (
        "can be printed", "stand it", "first layer", "lines across", "filament", "piece 2", "joint", "not for service",
    ):  # fmt: skip
        assert words in out
    code, out, _ = told(GENERAL, "--printer", "10x10x20 in", "--nozzle-line", "4 mm", "--layer", "0.2 mm")
    assert code == 3 and "NOT AS ASKED" in out and "2 at least are wanted" in out


def test_people_may_read_inches_and_programs_read_the_same() -> None:
    words = (GENERAL, "--printer", "220x220x90 mm", "--chord-error", "0.2 mm")
    assert page(*words, "--units", "in") == page(*words)
    metric, imperial = told(*words)[1], told(*words, "--units", "in")[1]
    assert "128.0 mm" in metric and "5.039 in" in imperial  # tip circle
    rows = imperial[: imperial.index("  note")]
    assert " mm" not in rows and "z 0.000 to 2.953 in, 3.150 in high" in rows
    metres, feet = (
        float(text.split(f" {u}\n")[0].rpartition(" ")[2]) for text, u in ((metric, "m"), (imperial, "ft"))
    )
    assert feet * 0.3048 == pytest.approx(metres, abs=0.1)


def test_what_stands_and_what_is_said_of_lying_down_follow_the_checks() -> None:
    beyond = page(GENERAL, "--printer", "220x220x250 mm")
    assert beyond["bridge_lying_mm"][0] > 10 and beyond["orientation"].endswith("; lying down is refused")
    small = page(GENERAL, "--printer", "220x220x250 mm", "--scale", "0.2", "--elephant-foot", "0.2 mm")
    assert small["bridge_lying_mm"][1] <= 10
    assert "refused" not in small["orientation"] and "would bridge" in small["orientation"]
    between = page(GENERAL, "--printer", "220x220x250 mm", "--scale", "0.28")
    assert between["bridge_lying_mm"][0] <= 10 < between["bridge_lying_mm"][1]
    assert "in some rotations only" in between["orientation"] and "refused" not in between["orientation"]
    code, out, _ = told(GENERAL, "--printer", "220x220x20 mm", "--cuts", "none")
    assert code == 3 and "it would stand" in out and "stand it" not in out


def test_ribs_that_need_support_are_told_where_it_stands(tmp_path: Path) -> None:
    steep = tmp_path / "steep.toml"
    steep.write_text(GENERAL.read_text().replace('helix_pitch = "650 mm"', 'helix_pitch = "300 mm"'))
    found = page(steep, "--printer", "220x220x250 mm")
    assert found["upright_lean_deg"] > 45 and "with support under the rib flanks" in found["orientation"]


@pytest.mark.parametrize(
    ("foot", "chamfer", "said"),
    [
        ("0.4 mm", "1 mm", "the relief of 0.4 mm takes its place"),
        ("0 mm", "1 mm", "the edge there is sharp"),
        ("0.4 mm", "0 mm", None),
    ],
)
def test_the_cast_chamfer_is_only_spoken_of_where_there_is_one(
    foot: str, chamfer: str, said: str | None, tmp_path: Path
) -> None:
    file = tmp_path / "p.toml"
    file.write_text(GENERAL.read_text().replace('# edge_chamfer = "1 mm" ', f'edge_chamfer = "{chamfer}" '))
    found = page(file, "--printer", "220x220x250 mm", "--elephant-foot", foot)
    about = [warning for warning in found["warnings"] if "cast chamfer" in warning]
    assert len(about) == (said is not None) and (said is None or said in about[0])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--printer", "100x100x100 mm"), "--scale 0.781 fits"),
        (("--printer", "big"), "not a plate and a height"),
        (("--printer", "220x220 mm"), "not a plate and a height"),
        (("--printer", "220x220x250 kg"), "--printer"),
        (("--printer", "220x0x250 mm"), "--printer"),
        (("--printer", "220x220x250 mm", "--cuts", "a"), "--cuts"),
        (("--printer", "220x220x250 mm", "--cuts", "200 mm"), "outside the print"),
        (("--printer", "220x220x250 mm", "--infill", "120 %"), "--infill"),
        (("--printer", "220x220x250 mm", "--elephant-foot", "2 mm"), "one line"),
        (("--printer", "220x220x250 mm", "--scale", "0"), "--scale 0"),
        (("--printer", "220x220x250 mm", "--shaft", "70 mm"), '--shaft "43.84 mm" works'),
        (("--printer", "220x220x250 mm", "--shaft-corner", "1 mm"), "go with --shaft"),
        (("--printer", "220x220x250 mm", "--shaft-key", "8x3 mm"), "go with --shaft"),
        (
            ("--printer", "220x220x250 mm", "--shaft", "30 mm", "--shaft-key", "8 mm"),
            "not a width and a depth",
        ),
        (("--printer", "220x220x250 mm", "--shaft", "30 mm", "--shaft-key", "8x3 mm"), "has no keyway"),
        (("--printer", "220x220x250 mm", "--cuts", "75 mm", "--joint-rim", "9 mm"), "fits"),
        (("--printer", "220x220x250 mm", "--picture", "x.bmp"), ".png"),
        (
            ("--printer", "220x220x250 mm", "--chord-error", "5 mm"),
            "--chord-error 5 mm: half a line (0.45 mm) at most",
        ),
        (("--printer", "220x220x60 mm", "--joint-above", "60 mm"), "--joint-above: 60 mm"),
        (("--printer", "220x220x60 mm", "--joint-height", "0.05 mm"), "--joint-height: 0.05 mm"),
    ],
)
def test_bad_input_is_refused_and_nothing_written(words: tuple[str, ...], said: str, tmp_path: Path) -> None:
    code, out, err = told(GENERAL, "--out", tmp_path, *words)
    assert code == 2 and said in err, out + err
    assert not list(tmp_path.iterdir()) and "Traceback" not in err + out
    code, out, _ = told(GENERAL, *words, "--json")
    assert code == 2 and json.loads(out)["errors"]


@pytest.mark.parametrize("out", ["both.png", "both.png/inside", "x/../both.png"])
def test_a_picture_of_a_folder_s_own_name_leaves_nothing_behind(out: str, tmp_path: Path) -> None:
    words = ("--printer", "220x220x250 mm", "--out", tmp_path / out, "--picture", tmp_path / "both.png")
    code, said, err = told(GENERAL, *words)
    assert code == 2 and "name the picture otherwise" in err, said + err
    assert list(tmp_path.iterdir()) == []


def test_a_keyway_is_told_as_it_is_printed() -> None:
    words = (PROFILES / "plain-sleeve.toml", "--printer", "220x220x250 mm", "--shaft", "30 mm")
    code, out, err = told(*words, "--shaft-key", "8x3.3 mm")
    assert code == 0 and "keyway 8.00 mm wide and 3.30 mm deep" in out, out + err
    assert page(*words, "--shaft-key", "8x3.3mm")["keyway_mm"] == [8.0, 3.3]
    assert page(GENERAL, "--printer", "220x220x250 mm")["keyway_mm"] is None
