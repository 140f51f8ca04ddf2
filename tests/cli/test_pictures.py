"""The picture command as a user runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rollergen.cli import app

PROFILES = Path(__file__).parents[2] / "profiles"
RUN = CliRunner()


def test_all_pictures_of_a_profile(tmp_path: Path) -> None:
    done = RUN.invoke(
        app,
        [
            "picture",
            str(PROFILES / "beet-general.toml"),
            "--out",
            str(tmp_path),
            "--size",
            "160x120",
            "--json",
        ],
    )
    assert done.exit_code == 0, done.output
    paths = [Path(entry["path"]) for entry in json.loads(done.stdout)["files"]]
    assert [p.name.removeprefix("beet-general.") for p in paths] == [
        "solid.png",
        "section.svg",
        "gap.png",
        "stack.png",
    ]
    assert all(p.stat().st_size > 1000 for p in paths)


def test_a_sleeve_without_mates_has_no_gap_picture(tmp_path: Path) -> None:
    sleeve = str(PROFILES / "plain-sleeve.toml")
    done = RUN.invoke(app, ["picture", sleeve, "--out", str(tmp_path), "--size", "96x96", "--pieces", "2"])
    assert done.exit_code == 0, done.output
    assert not list(tmp_path.rglob("*.gap.png")) and len(list(tmp_path.rglob("*.*"))) >= 3
    wrong = RUN.invoke(app, ["picture", sleeve, "--show", "gap", "--out", str(tmp_path)])
    assert wrong.exit_code == 2 and "has no mates" in wrong.stderr


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--show", "ghost"], "choose from solid, section, gap, stack"),
        (["--show", ","], "names nothing"),
        (["--size", "big"], "not a size in pixels"),
        (["--size", "10x10"], "64 to 6000"),
        (["--pieces", "1"], "greater than or equal to 2"),
    ],
)
def test_wrong_words_are_refused(words: list[str], told: str, tmp_path: Path) -> None:
    done = RUN.invoke(app, ["picture", str(PROFILES / "beet-general.toml"), "--out", str(tmp_path), *words])
    assert done.exit_code == 2 and told in done.stderr
    assert not list(tmp_path.iterdir())
