"""The roller command and the stack option of build, as a user meets them."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
import trimesh
from typer.testing import CliRunner

from rollergen.cli import app

FOLDER = Path(__file__).resolve().parents[2] / "profiles"
GENERAL, SHORT = FOLDER / "beet-general.toml", FOLDER / "beet-short.toml"
runner = CliRunner()


def told(*words: str | Path) -> tuple[int, str, str]:
    done = runner.invoke(app, [str(word) for word in words])
    return done.exit_code, done.stdout, done.stderr


def test_a_roller_is_told_in_words_and_as_json() -> None:
    words = ("roller", GENERAL, "--width", "1.6 m", "--lengths", SHORT, "--speed", "70 rpm")
    code, out, _ = told(*words, "--table")
    assert code == 0
    for said in (
        "stack",
        "joints",
        "shaft over 1600.00 mm",
        "smallest standard bar",
        "balance at 70 rpm",
        "3200.00 mm",
    ):
        assert said in out
    page = json.loads(told(*words, "--json")[1])
    assert page["filled"] is True
    assert len(page["joints"]) == len(page["names"]) - 1
    assert all(joint["mismatch_deg"] >= 0 and isinstance(joint["index"], int) for joint in page["joints"])
    assert page["stack"]["fillings"][0]["squeeze"] == page["squeeze"]
    assert told(*words, "--json")[1] == told(*words, "--json")[1]


def test_a_width_that_cannot_be_filled_exits_3_with_the_joints(tmp_path: Path) -> None:
    words = ("roller", GENERAL, "--width", "1.6 m", "--squeeze", "0.8 %, 1 %", "--json")
    code, out, _ = told(*words)
    page = json.loads(out)
    assert code == 3 and page["filled"] is False
    assert len(page["joints"]) == 9
    assert "1488 mm" in page["reasons"][0]
    assert told(*words, "--out", tmp_path / "out")[0] == 2
    assert not (tmp_path / "out").exists()


def test_the_whole_roller_leaves_as_one_assembly_and_one_mesh(tmp_path: Path) -> None:
    words = ("roller", GENERAL, "--width", "1.2 m", "--lengths", SHORT, "--out", tmp_path, "--json")
    code, out, _ = told(*words, "--formats", "step,stl,3mf,glb")
    page = json.loads(out)
    assert code == 0
    folder = tmp_path / "beet-general-roller"
    for file in page["files"]:
        assert (tmp_path / file["path"]).stat().st_size == file["bytes"]
        assert abs(file["volume_error"]) < (1e-6 if file["kind"] == "step" else 5e-3)
    mesh = trimesh.load_mesh(folder / "beet-general-roller.stl")
    # segments that touch share points in an STL, so closedness is looked at piece by piece in the 3MF
    pieces = trimesh.load_scene(folder / "beet-general-roller.3mf").geometry
    assert len(pieces) == len(page["names"]) and all(one.is_watertight for one in pieces.values())
    assert mesh.bounds[1][2] - mesh.bounds[0][2] == pytest.approx(1200.0, abs=1e-3)
    text = (folder / "beet-general-roller.step").read_text()
    assert text.count("NEXT_ASSEMBLY_USAGE_OCCURRENCE") == len(page["names"])
    assert text.count("MANIFOLD_SOLID_BREP") == len(set(page["names"]))


def test_build_stack_makes_segments_and_roller(tmp_path: Path) -> None:
    words = ("build", GENERAL, SHORT, "--formats", "dxf", "--out", tmp_path, "--chord-error", "0.3 mm")
    assert told(*words, "--stack")[0] == 2
    code, _, err = told(*words, "--stack", "--width", "0.9 m")
    assert code == 0, err
    assert (tmp_path / "beet-general-roller" / "beet-general-roller.step").exists()
    assert (tmp_path / "beet-short" / "beet-short.dxf").exists()
    assert "roller step" in err


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--width", "0 mm"), 2),
        (("--width", "1.6"), 2),
        (("--width", "1.6 m", "--squeeze", "3 %, 1 %"), 2),
        (("--width", "1.6 m", "--squeeze", "much"), 2),
        (("--width", "1.6 m", "--spacers", "-2 mm"), 2),
        (("--width", "1.6 m", "--lengths", "none.toml"), 5),
        (("--width", "1.6 m", "--speed", "1500 rpm"), 3),
        (("--width", "60 mm"), 3),
    ],
)
def test_bad_input_answers_with_its_code(words: tuple[str, ...], code: int) -> None:
    answered, _, err = told("roller", GENERAL, *words)
    assert answered == code
    assert "Traceback" not in err


def test_roller_loads_no_kernel() -> None:
    code = (
        "import sys\nfrom rollergen.cli import run\n"
        f"sys.argv = ['rollergen', 'roller', {str(GENERAL)!r}, '--width', '1.6 m']\n"
        "try:\n    run()\nexcept SystemExit:\n    pass\n"
        "print('HEAVY', sorted({'OCP', 'cadquery', 'trimesh', 'matplotlib', 'scipy', 'pint'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stdout.splitlines()[-1] == "HEAVY []"
