"""The sheet command as a user runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

import rollergen.cli.sheets  # noqa: F401  registers the command
from rollergen.cli import app

PROFILES = Path(__file__).parents[2] / "profiles"
RUN = CliRunner()


def test_a_drawing_in_all_formats(tmp_path: Path) -> None:
    done = RUN.invoke(
        app, ["sheet", str(PROFILES / "plain-sleeve.toml"), "--out", str(tmp_path), "--number", "7", "--json"]
    )
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert told["schema"] == 1 and told["profile"] == "plain-sleeve" and len(told["sheets"]) == 1
    names = [Path(entry["path"]).name for entry in told["files"]]
    assert names == ["plain-sleeve.drawing.dxf", "plain-sleeve.drawing.pdf", "plain-sleeve.drawing.svg"]
    for entry in told["files"]:
        assert Path(entry["path"]).stat().st_size == entry["bytes"] > 10_000


def test_several_sheets_are_one_pdf_and_numbered_svgs(tmp_path: Path) -> None:
    words = ["--size", "A4", "--formats", "svg,pdf", "--out", str(tmp_path)]
    done = RUN.invoke(app, ["sheet", str(PROFILES / "beet-flooded.toml"), *words])
    assert done.exit_code == 0, done.output
    names = sorted(p.name for p in tmp_path.rglob("*.*"))
    assert "beet-flooded.drawing.pdf" in names and "beet-flooded.drawing.2.svg" in names
    assert "sheet 2" in done.stdout and "A4, 1:2" in done.stdout


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--formats", "dwg"], "choose from dxf, pdf, svg"),
        (["--formats", ","], "names nothing"),
        (["--size", "A5"], "A4"),
        (["--scale", "1:3"], "1:2"),
        (["--scale", "10:1"], "the frame holds 1159 x 821 mm"),
        (["--creator", "漢字"], "U+6F22"),
        (["--approval", "name " * 30], "it holds about"),
    ],
)
def test_wrong_words_are_refused_and_nothing_is_written(words: list[str], told: str, tmp_path: Path) -> None:
    done = RUN.invoke(app, ["sheet", str(PROFILES / "plain-sleeve.toml"), "--out", str(tmp_path), *words])
    assert done.exit_code == 2 and told in done.stderr + done.stdout
    assert list(tmp_path.rglob("*.*")) == []


def test_a_refusal_is_told_as_json_too(tmp_path: Path) -> None:
    words = ["--out", str(tmp_path), "--scale", "10:1", "--json"]
    done = RUN.invoke(app, ["sheet", str(PROFILES / "plain-sleeve.toml"), *words])
    assert done.exit_code == 2 and "does not fit" in json.loads(done.stdout)["errors"][0]["message"]
