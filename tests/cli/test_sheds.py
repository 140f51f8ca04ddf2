"""The shed command as a user meets it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rollergen.cli import app

FOLDER = Path(__file__).resolve().parents[2] / "profiles"
GENERAL = FOLDER / "beet-general.toml"
DUTIES = FOLDER / "duties"
runner = CliRunner()


def told(*words: str | Path) -> tuple[int, str, str]:
    done = runner.invoke(app, [str(word) for word in words])
    return done.exit_code, done.stdout, done.stderr


def test_shed_tells_speeds_at_lowest_and_highest_adhesion(tmp_path: Path) -> None:
    duty = DUTIES / "beet-flooded-clay.toml"
    code, out, _ = told("shed", GENERAL, "--duty", duty, "--json", "--picture", tmp_path / "s.png")
    page = json.loads(out)
    low, high = page["spin_speed_rpm"]
    assert code == 0 and low < high
    assert page["verdict"] == "not by spin"  # wet clay holds with kPa, spin pulls with a tenth of that
    assert (tmp_path / "s.png").read_bytes()[:4] == b"\x89PNG"
    fast = json.loads(told("shed", GENERAL, "--duty", duty, "--speed", "3000 rpm", "--json")[1])
    assert fast["verdict"] == "spin alone"
    ring = json.loads(told("shed", GENERAL, "--duty", duty, "--tensile", "5 kPa", "--json")[1])
    assert ring["spin_speed_rpm"][0] > low
    assert "weak number" in told("shed", GENERAL, "--duty", duty)[1]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--duty", DUTIES / "bulbs-sand.toml"), 2),
        (("--duty", DUTIES / "none.toml"), 5),
        (("--duty", DUTIES / "beet-flooded-clay.toml", "--speed", "0 rpm"), 2),
        (("--duty", DUTIES / "beet-flooded-clay.toml", "--tensile", "2 mm"), 2),
    ],
)
def test_bad_input_answers_with_its_code(words: tuple[str | Path, ...], code: int) -> None:
    answered, _, err = told("shed", GENERAL, *words)
    assert answered == code
    assert "Traceback" not in err


def test_rank_tells_the_shed_verdict() -> None:
    words = (
        "rank",
        GENERAL,
        FOLDER / "beet-flooded.toml",
        "--duty",
        DUTIES / "beet-flooded-clay.toml",
        "--json",
    )
    assert {row["shed"] for row in json.loads(told(*words)[1])["rows"]} == {"not by spin"}
    sand = ("rank", GENERAL, FOLDER / "shallot-gentle.toml", "--duty", DUTIES / "bulbs-sand.toml", "--json")
    assert {row["shed"] for row in json.loads(told(*sand)[1])["rows"]} == {None}
