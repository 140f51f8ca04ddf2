"""The front door as a user meets it: exit codes, streams, files whole or not at all."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rollergen.cli import app

PROFILES = sorted((Path(__file__).resolve().parents[2] / "profiles").glob("*.toml"))
GENERAL = next(p for p in PROFILES if p.stem == "beet-general")
runner = CliRunner()


def told(*words: str | Path) -> tuple[int, str, str]:
    result = runner.invoke(app, [str(word) for word in words])
    return result.exit_code, result.stdout, result.stderr


@pytest.mark.parametrize("profile", PROFILES, ids=lambda p: p.stem)
def test_every_profile_builds_and_clears_its_mates(profile: Path, tmp_path: Path) -> None:
    code, out, err = told("build", profile, "--out", tmp_path, "--formats", "step,stl,3mf,glb,dxf", "--json")
    assert code == 0, err
    report = json.loads(out)
    folder = tmp_path / report["profile"]
    assert json.loads((folder / f"{report['profile']}.report.json").read_text()) == report
    assert {f["kind"] for f in report["files"]} == {"step", "stl", "3mf", "glb", "dxf"}
    for file in report["files"]:
        assert (folder / file["path"]).stat().st_size == file["bytes"]
        if file["kind"] == "step":
            assert abs(file["volume_error"]) < 1e-6
        elif file["kind"] != "dxf":
            assert 0 < file["deviation_mm"] <= 0.05
    assert report["mass_kg"] == pytest.approx(report["volume_mm3"] * report["density_kg_m3"] / 1e9, rel=1e-12)


def test_same_input_same_bytes_across_processes_and_hash_seeds(tmp_path: Path) -> None:
    seen = []
    for seed in ("1", "2"):
        out = tmp_path / seed
        command = [sys.executable, "-m", "rollergen", "build", str(GENERAL), "--out", str(out)]
        subprocess.run(
            [*command, "--formats", "step,stl,3mf,glb,dxf"],
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
        )
        seen.append({p.name: p.read_bytes() for p in (out / "beet-general").iterdir()})
    assert seen[0] == seen[1]


def test_a_gap_that_is_not_met_exits_3_and_still_writes(tmp_path: Path) -> None:
    near = tmp_path / "near.toml"
    near.write_text(GENERAL.read_text().replace('"110.2 mm"', '"109.5 mm"'))
    code, out, _ = told("build", near, "--out", tmp_path / "out", "--formats", "stl", "--json")
    assert code == 3
    (gap,) = json.loads(out)["gaps"]
    assert gap["ok"] is False
    assert gap["tip_gap_mm"] == pytest.approx(0.5, abs=1e-9)
    assert (tmp_path / "out/beet-general/beet-general.stl").exists()


def test_every_complaint_of_a_file_at_once_with_its_place(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text(GENERAL.read_text().replace('"112 mm"', '"112 kg"').replace("tip_width", "tip_widht"))
    code, out, err = told("build", bad, "--out", tmp_path / "out", "--json")
    assert code == 2
    keys = {error["key"] for error in json.loads(out)["errors"]}
    assert {"body.diameter", "ribs.tip_widht"} <= keys
    assert all(error["line"] > 0 for error in json.loads(out)["errors"])
    assert "Traceback" not in err
    assert not (tmp_path / "out").exists()


def test_geometric_complaints_carry_their_place_too(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text(GENERAL.read_text().replace('root_radius = "4 mm"', 'root_radius = "40 mm"'))
    code, out, _ = told("gap", bad, "--json")
    assert code == 2
    (error,) = json.loads(out)["errors"]
    assert error["key"] == "ribs.root_radius"
    assert error["line"] > 0


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("gap", "no-such-file.toml"), 5),
        (("gap", "."), 5),
        (("gap", GENERAL, "--units", "furlong"), 2),
        (("build", GENERAL, "--formats", "dwg"), 2),
        (("gap", GENERAL, "--solve", "ribs.height"), 2),
        (("weigh", GENERAL, "--length", "1,5 m"), 2),
        (("nonsense",), 2),
    ],
)
def test_bad_input_answers_with_its_code(words: tuple[str | Path, ...], code: int) -> None:
    answered, _, err = told(*words)
    assert answered == code
    assert "Traceback" not in err


def test_a_folder_that_cannot_be_made_exits_5_and_keeps_what_was_there(tmp_path: Path) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("a file, not a folder")
    code, _, _ = told("build", GENERAL, "--out", blocked, "--formats", "stl")
    assert code == 5
    assert blocked.read_text() == "a file, not a folder"


def test_solve_gives_the_height_that_gives_the_gap(tmp_path: Path) -> None:
    code, out, _ = told("gap", GENERAL, "--solve", "ribs.height", "--target", "1 mm", "--json")
    assert code == 0
    assert json.loads(out)["solution"]["value_mm"] == pytest.approx(8.2, abs=1e-9)


def test_pattern_leaves_as_picture_and_data(tmp_path: Path) -> None:
    code, _, _ = told("gap", GENERAL, "--picture", tmp_path / "g.png", "--data", tmp_path / "g.csv")
    assert code == 0
    assert (tmp_path / "g.png").read_bytes()[:4] == b"\x89PNG"
    assert (tmp_path / "g.csv").read_text().startswith("z_mm,rotation_deg,gap_mm")


@pytest.mark.parametrize("command", ["schema", "init"])
def test_a_dash_is_stdout_and_no_file(command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert told(command, "-")[:2] == told(command)[:2]
    assert list(tmp_path.iterdir()) == []


def test_init_reads_back_and_is_not_overwritten(tmp_path: Path) -> None:
    file = tmp_path / "new.toml"
    assert told("init", file)[0] == 0
    assert told("check", file)[0] == 0
    assert told("init", file)[0] == 2
    assert told("schema", tmp_path / "s.json")[0] == 0


def test_diff_names_what_differs() -> None:
    other = next(p for p in PROFILES if p.stem == "shallot-gentle")
    code, out, _ = told("diff", GENERAL, other, "--json")
    assert code == 0
    assert json.loads(out)["differences"]["body_diameter_mm"] == [112.0, 118.0]
    assert told("diff", GENERAL, GENERAL, "--json")[1].count("[") == 0


def test_strict_counts_the_fitted_worst_case(tmp_path: Path) -> None:
    assert told("gap", GENERAL)[0] == 0
    code, out, err = told("gap", GENERAL, "--strict", "--json")
    (entry,) = json.loads(out)["gaps"]
    assert code == (0 if entry["ok_fitted"] else 3)
    assert entry["ok_fitted"] or "as fitted, in the worst case" in err
    warm = json.loads(told("gap", GENERAL, "--warm-by", "25 K", "--json")[1])["gaps"][0]
    assert warm["fitted"]["least_left_mm"] < entry["fitted"]["least_left_mm"]
    assert told("gap", GENERAL, "--warm-by", "25")[0] == 2


@pytest.mark.parametrize("profile", PROFILES, ids=lambda p: p.stem)
def test_no_reported_figure_is_without_an_entry(profile: Path) -> None:
    from rollergen.answer.explain import unexplained

    checked = json.loads(told("check", profile, "--json")[1])
    assert unexplained({k: v for k, v in checked.items() if k not in ("ok", "warnings")}) == []


def test_explain_prints_formula_source_and_value() -> None:
    code, out, _ = told("explain", "body_gap_mm", GENERAL)
    assert code == 0
    assert "formula:" in out
    assert "source:" in out
    assert "9.2" in out
    assert told("explain", "body_gap_mmm")[0] == 2


def test_an_interrupt_inside_the_kernel_start_waits_and_exits_130(tmp_path: Path) -> None:
    """The signal is sent while the kernel registers itself; no file is half-written."""
    code = (
        "import os, signal, sys\n"
        "from rollergen.shape import solid\n"
        "real = solid.import_module\n"
        "def loading(name):\n"
        "    os.kill(os.getpid(), signal.SIGINT)\n"
        "    return real(name)\n"
        "solid.import_module = loading\n"
        f"sys.argv = ['rollergen', 'build', {str(GENERAL)!r}, '--out', {str(tmp_path / 'out')!r}]\n"
        "from rollergen.cli import run\n"
        "run()\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 130
    assert "interrupted" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


def test_weigh_tells_whole_pieces_and_inertia() -> None:
    code, out, _ = told("weigh", GENERAL, "--length", "1.5 m", "--json")
    page = json.loads(out)
    assert code == 0
    assert page["pieces"] == [pytest.approx(1500 / 148.5), 10, 11]
    assert page["roller_whole_kg"] == pytest.approx(10 * page["total_kg"], rel=1e-12)
    assert page["kg_per_m_free"] * 0.150 == pytest.approx(page["total_kg"], rel=1e-12)
    assert page["over_all_mm"] == [128.0, 128.0, 150.0]
    # a tube of this mass between bore and tips bounds the inertia about the axis
    assert page["total_kg"] * 18**2 < page["spin_inertia_kg_mm2"] < page["total_kg"] * 64**2
    assert told("weigh", GENERAL)[1].count("inertia") == 1


@pytest.mark.parametrize("command", ["schema", "init"])
def test_what_is_written_for_editors_and_people_comes_as_json_too(command: str, tmp_path: Path) -> None:
    page = json.loads(told(command, "--json")[1])
    assert page["schema"] == 1
    assert page["text"] == told(command)[1]
    assert json.loads(told(command, tmp_path / "f", "--json")[1]) == {
        "schema": 1,
        "file": str(tmp_path / "f"),
    }
    assert (tmp_path / "f").read_text() == page["text"]


def test_budget_lists_every_contribution_with_its_source() -> None:
    out = told("gap", GENERAL, "--budget", "--shaft-bar", "bright-h11")[1]
    for words in ("cast rib tips", "ISO 3302-1", "bright square bar, h11", "axis distance", "not given"):
        assert words in out
    assert told("gap", GENERAL, "--cast-class", "M9")[0] == 2
    assert told("gap", GENERAL, "--shaft-bar", "silver")[0] == 2
