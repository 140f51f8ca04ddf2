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
        app,
        ["sheet", str(PROFILES / "plain-sleeve.toml"), "--out", str(tmp_path), "--number", "7", "--json"]
        + ["--what", "drawing"],
    )
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert told["schema"] == 1 and told["profile"] == "plain-sleeve" and len(told["sheets"]) == 1
    names = [Path(entry["path"]).name for entry in told["files"]]
    assert names == ["plain-sleeve.drawing.dxf", "plain-sleeve.drawing.pdf", "plain-sleeve.drawing.svg"]
    for entry in told["files"]:
        assert Path(entry["path"]).stat().st_size == entry["bytes"] > 10_000


def test_several_sheets_are_one_pdf_and_numbered_svgs(tmp_path: Path) -> None:
    words = ["--size", "A4", "--formats", "svg,pdf", "--what", "drawing", "--out", str(tmp_path)]
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


def test_drawing_and_data_sheet_of_one_profile(tmp_path: Path) -> None:
    duty = str(PROFILES / "duties" / "beet-sandy-loam.toml")
    words = ["--out", str(tmp_path), "--duty", duty, "--width", "1.6 m", "--formats", "svg"]
    done = RUN.invoke(app, ["sheet", str(PROFILES / "beet-general.toml"), *words])
    assert done.exit_code == 0, done.output
    page = (tmp_path / "beet-general" / "beet-general.sheet.html").read_text()
    for words_ in (
        "Grip, duty beet-sandy-loam",
        "Soil, duty beet-sandy-loam",
        "Roller of 1600 mm",
        "in-running nip",
    ):
        assert words_ in page
    assert (tmp_path / "beet-general" / "beet-general.sheet.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "beet-general" / "beet-general.drawing.svg").exists()


def test_several_profiles_share_one_data_sheet(tmp_path: Path) -> None:
    both = [str(PROFILES / f"{name}.toml") for name in ("beet-general", "plain-sleeve")]
    done = RUN.invoke(app, ["sheet", *both, "--what", "data", "--out", str(tmp_path), "--json"])
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["profiles"] == ["beet-general", "plain-sleeve"]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["comparison.sheet.html", "comparison.sheet.pdf"]


@pytest.mark.slow
def test_a_data_sheet_with_the_press(tmp_path: Path) -> None:
    words = ["--what", "data", "--flex", "--out", str(tmp_path)]
    done = RUN.invoke(app, ["sheet", str(PROFILES / "beet-short.toml"), *words])
    assert done.exit_code == 0, done.output
    page = (tmp_path / "beet-short" / "beet-short.sheet.html").read_text()
    assert "over a web, collapses" in page and "how it gives" in page
