"""The shed command as a user meets it."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rollergen.answer import shedding
from rollergen.cli import app, sheds
from rollergen.study import arching, bond, hysteresis, shed

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
        (("--duty", DUTIES / "beet-flooded-clay.toml", "--line-load", "0.5 N"), 2),
        (("--duty", DUTIES / "beet-flooded-clay.toml", "--line-load", "0 N/mm"), 2),
        (("--duty", DUTIES / "beet-flooded-clay.toml", "--line-load", "-1 N/mm"), 2),
        (("--duty", DUTIES / "beet-flooded-clay.toml", "--line-load", "900 N/mm"), 2),
        (("--duty", DUTIES / "beet-flooded-clay.toml", "--picture", "map.pdf"), 2),
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


CLAY = (DUTIES / "beet-flooded-clay.toml").read_text()


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        ('"9 mm"', '"0 mm"', "soil.layer"),
        ('rotation_speed = "95 rpm"', "", "run.rotation_speed"),
        ('preset = "wet clay"', 'preset = "wet caly"', "wet clay"),
        ('preset = "wet clay"', 'preset = "wet clay"\nadhesion = ["-1 kPa", "2 kPa"]', "soil.adhesion"),
        ('preset = "wet clay"', 'preset = "wet clay"\nstrength = ["0 kPa", "2 kPa"]', "soil.strength"),
        ('preset = "wet clay"', 'preset = "wet clay"\nmodulus = ["2 MPa", "1 MPa"]', "backwards"),
        (
            'preset = "wet clay"',
            'preset = "wet clay"\nbond_energy = ["-1 J/m^2", "2 J/m^2"]',
            "soil.bond_energy",
        ),
        ('preset = "wet clay"', 'preset = "wet clay"\ncohesion = ["1 kPa", "2 J/m^2"]', "soil.cohesion"),
        ('preset = "wet clay"', 'preset = "wet clay"\nfriction_angle = ["0 deg", "80 deg"]', "60 deg"),
        ('"95 rpm"', '"95 rpm"\nline_load = "2 kN"', "run.line_load"),
        ('preset = "wet clay"', 'preset = "wet clay"\nbond_enery = ["1 J/m^2", "2 J/m^2"]', "bond_energy"),
    ],
)
def test_a_wrong_duty_is_told_and_ends_in_2(tmp_path: Path, old: str, new: str, word: str) -> None:
    assert old in CLAY
    duty = tmp_path / "d.toml"
    duty.write_text(CLAY.replace(old, new, 1))
    code, _, err = told("shed", GENERAL, "--duty", duty)
    assert code == 2 and word in err and "Traceback" not in err


def test_a_roller_that_is_not_said_to_turn_is_asked_for_its_speed(tmp_path: Path) -> None:
    duty = tmp_path / "d.toml"
    duty.write_text(CLAY.split("[run]")[0])
    code, _, err = told("shed", GENERAL, "--duty", duty)
    assert code == 2 and "--speed" in err
    assert told("shed", GENERAL, "--duty", duty, "--speed", "95 rpm")[0] == 0


PLAIN = {
    "schema",
    "profile",
    "duty",
    "words",
    "notes",
    "bond",
    "soils",
    "soil",
    "bridging",
    "heat",
    "slots",
    "mate",
}


def keys_of(value: object) -> set[str]:
    if isinstance(value, dict):
        return set(value) | {key for inner in value.values() for key in keys_of(inner)}
    return {key for inner in value for key in keys_of(inner)} if isinstance(value, list) else set()


GIVES = bond.SurfaceFlex(strain=0.02, curvature_change=0.008, travel=1.6, line_load=0.5, where="made up")


def test_with_a_line_load_both_halves_are_judged_and_every_number_explained(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sheds, "_flexed", lambda drawn, duty, line_load: replace(GIVES, line_load=line_load))
    lossy = tmp_path / "lossy.toml"
    lossy.write_text(
        f'name = "lossy"\nextends = "{FOLDER / "celeriac-transfer.toml"}"\n[compound]\nloss_factor = 0.12\n'
    )
    duty = tmp_path / "d.toml"
    text = (DUTIES / "celeriac-stony.toml").read_text()
    duty.write_text(text.replace('"60 rpm"', '"60 rpm"\nline_load = "500 N/m"'))
    words = ("shed", lossy, "--duty", duty, "--picture", tmp_path / "s.svg")
    code, out, _ = told(*words, "--json")
    page = json.loads(out)
    assert code == 0 and page["bond"]["line_load_n_mm"] == pytest.approx(0.5)
    assert page["leaves_by"][0] in ("spin alone", "spin and flex") and len(page["soils"]) == 3
    assert page["heat"]["loss_power_w_m"] > 0 and page["bridging"]["groove_mouth_mm"] > 0
    explained = {
        figure.key for study in (shed, bond, arching, hysteresis, shedding) for figure in study.FIGURES
    }
    assert keys_of(page) - PLAIN - explained == set()
    first = (tmp_path / "s.svg").read_bytes()
    assert b"flex peels" in first
    shown = told(*words)[1]
    assert (tmp_path / "s.svg").read_bytes() == first
    for said in ("the bond asks for", "every soil preset", "elastic until it fails", "an hour", "groove"):
        assert said in shown


def test_a_sleeve_without_grooves_and_a_duty_that_says_little(tmp_path: Path) -> None:
    duty = tmp_path / "d.toml"
    duty.write_text(
        CLAY.replace('preset = "wet clay"', 'density = "1.4 g/cm^3"\nadhesion = ["1 kPa", "2 kPa"]')
    )
    code, out, _ = told("shed", FOLDER / "plain-sleeve.toml", "--duty", duty)
    assert code == 0 and "bridging: not judged" in out and "no groove" in out
    page = json.loads(told("shed", FOLDER / "plain-sleeve.toml", "--duty", duty, "--json")[1])
    assert page["bridging"] is None and page["bond"] is None and page["heat"] is None


@pytest.mark.slow
def test_the_flex_study_feeds_the_verdict() -> None:
    words = (
        "shed",
        GENERAL,
        "--duty",
        DUTIES / "beet-flooded-clay.toml",
        "--line-load",
        "0.5 N/mm",
        "--json",
    )
    pressed = json.loads(told(*words)[1])["bond"]
    assert pressed["line_load_n_mm"] == 0.5 and "over a chamber" in pressed["flex_where"]
    assert 0.5 < pressed["flex_travel_mm"] < 4 and 0.005 < pressed["flex_strain"] < 0.1
    assert pressed["inertial_kpa"] > 0
