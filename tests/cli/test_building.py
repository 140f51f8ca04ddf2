"""Many profiles at once: the same bytes side by side as one by one; what did not change is kept."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rollergen.cli import app

PROFILES = sorted((Path(__file__).resolve().parents[2] / "profiles").glob("*.toml"))
GENERAL = next(p for p in PROFILES if p.stem == "beet-general")
FEW = PROFILES[:3]
runner = CliRunner()


def build(*words: str | Path) -> tuple[int, str, str]:
    done = runner.invoke(app, ["build", *map(str, words)])
    return done.exit_code, done.stdout, done.stderr


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_side_by_side_gives_the_same_bytes_and_words_as_one_by_one(tmp_path: Path) -> None:
    seen = []
    for jobs in ("1", "2"):
        words = [
            "build",
            *map(str, FEW),
            "--out",
            str(tmp_path / jobs),
            "--formats",
            "step,stl",
            "--json",
        ]
        command = [sys.executable, "-m", "rollergen", *words, "--jobs", jobs]
        done = subprocess.run(command, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        seen.append((contents(tmp_path / jobs), done.stdout, done.stderr))
    assert seen[0] == seen[1]
    assert len(seen[0][0]) == 3 * len(FEW)
    reports = [report["profile"] for report in json.loads(seen[0][1])["profiles"]]
    assert reports == [p.stem for p in FEW]


@pytest.fixture
def made(tmp_path: Path) -> Path:
    assert build(GENERAL, "--out", tmp_path, "--formats", "stl,dxf")[0] == 0
    return tmp_path


def test_what_did_not_change_is_kept_and_tells_the_same(made: Path) -> None:
    stl = made / "beet-general" / "beet-general.stl"
    before, stood = contents(made), stl.stat().st_mtime_ns
    _, first, _ = build(GENERAL, "--out", made, "--formats", "stl,dxf", "--json", "--again")
    assert stl.stat().st_mtime_ns != stood  # --again writes anew
    assert contents(made) == before
    stood = stl.stat().st_mtime_ns
    _, again, err = build(GENERAL, "--out", made, "--formats", "stl,dxf", "--json")
    assert again == first
    assert "kept" in err
    assert stl.stat().st_mtime_ns == stood


@pytest.mark.parametrize(
    "words",
    [("--chord-error", "0.1 mm"), ("--formats", "dxf"), ("--cast-class", "M1"), ("--warm-by", "9 K"),
     ("--detail", "envelope"), ("--degree", "3")],
)  # fmt: skip
def test_another_way_of_asking_builds_anew(made: Path, words: tuple[str, ...]) -> None:
    assert "kept" not in build(GENERAL, "--out", made, "--formats", "stl,dxf", *words)[2]


@pytest.mark.parametrize("harm", ["changed", "gone", "report broken", "report gone"])
def test_a_file_that_was_touched_is_made_anew(made: Path, harm: str) -> None:
    before = contents(made)
    folder = made / "beet-general"
    if harm == "changed":
        (folder / "beet-general.dxf").write_text("edited by hand")
    elif harm == "gone":
        (folder / "beet-general.stl").unlink()
    elif harm == "report broken":
        (folder / "beet-general.report.json").write_text("{")
    else:
        (folder / "beet-general.report.json").unlink()
    assert "kept" not in build(GENERAL, "--out", made, "--formats", "stl,dxf")[2]
    assert contents(made) == before


def test_a_changed_mate_or_base_counts_as_a_change(tmp_path: Path) -> None:
    base, mine = tmp_path / "base.toml", tmp_path / "mine.toml"
    base.write_text(GENERAL.read_text())
    mine.write_text('extends = "base.toml"\nname = "mine"\n')
    words = (mine, "--out", tmp_path / "out", "--formats", "dxf")
    build(*words)
    assert "kept" in build(*words)[2]
    mine.write_text('# a remark changes nothing\nextends = "base.toml"\nname = "mine"\n')
    assert "kept" in build(*words)[2]
    base.write_text(GENERAL.read_text().replace('height = "8 mm"', 'height = "7 mm"'))
    assert "kept" not in build(*words)[2]


def test_no_progress_bar_off_a_terminal(tmp_path: Path) -> None:
    words = ["build", *map(str, FEW), "--out", str(tmp_path), "--formats", "dxf"]
    done = subprocess.run([sys.executable, "-m", "rollergen", *words], capture_output=True, text=True)
    assert "\x1b" not in done.stderr + done.stdout
