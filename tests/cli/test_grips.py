"""Grip, rank, advise and trial as a user meets them."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rollergen.cli import app

FOLDER = Path(__file__).resolve().parents[2] / "profiles"
GENERAL = FOLDER / "beet-general.toml"
runner = CliRunner()
DUTY = """
name = "front-door"
[crop]
name = "red beet"
diameters = ["45 mm", "105 mm"]
length_ratio = 1.1
friction = [0.35, 0.55]
bruise_pressure = "0.8 MPa"
[[debris]]
name = "clods"
diameters = ["10 mm", "50 mm"]
friction = [0.4, 0.75]
strength = ["42 kPa", "58 kPa"]
[run]
rotation_speed = "75 rpm"
mate_speed_ratio = -0.6
"""


def told(*words: str | Path) -> tuple[int, str, str]:
    done = runner.invoke(app, [str(word) for word in words])
    return done.exit_code, done.stdout, done.stderr


@pytest.fixture
def duty(tmp_path: Path) -> Path:
    file = tmp_path / "duty.toml"
    file.write_text(DUTY)
    return file


def test_grip_answers_crop_at_risk_with_3_and_the_figures(duty: Path) -> None:
    code, out, _ = told("grip", GENERAL, "--duty", duty, "--stiffness", "40 N/mm", "--json")
    page = json.loads(out)
    assert code == 3 and page["ok"] is False
    crop, clods = page["items"]
    assert (crop["name"], clods["name"]) == ("red beet", "clods")
    low, high = crop["grip_size_mm"]
    assert low < 45 < high and crop["kind"] == "rib"
    assert clods["sides"][0]["force_n"][1] > 0
    assert page["descending"]["grip_size_mm"][0] < page["descending"]["grip_size_mm"][1]
    safe = duty.with_name("safe.toml")
    safe.write_text(DUTY.replace('"45 mm"', '"70 mm"'))
    code, out, _ = told("grip", GENERAL, "--duty", safe)
    assert code == 0
    assert "the crop stays" in out


def test_grip_without_a_duty_needs_a_speed() -> None:
    assert told("grip", GENERAL)[0] == 2
    code, out, _ = told("grip", GENERAL, "--speed", "60 rpm")
    assert code == 0
    assert "where ribs are descending" in out


@pytest.mark.parametrize("show", ["map", "curve", "section"])
@pytest.mark.parametrize("suffix", [".png", ".svg"])
def test_every_picture_leaves_with_the_same_bytes_twice(
    duty: Path, tmp_path: Path, show: str, suffix: str
) -> None:
    pages = []
    for name in ("a", "b"):
        file = tmp_path / f"{name}{suffix}"
        told("grip", GENERAL, "--duty", duty, "--picture", file, "--show", show)
        pages.append(file.read_bytes())
    assert pages[0] == pages[1]
    assert pages[0][:4] == b"\x89PNG" if suffix == ".png" else b"<svg" in pages[0]


def test_rank_prints_order_weights_and_reasons(duty: Path, tmp_path: Path) -> None:
    files = [FOLDER / f"{name}.toml" for name in ("beet-general", "beet-flooded", "shallot-gentle")]
    code, out, _ = told("rank", *files, "--duty", duty, "--picture", tmp_path / "r.png")
    assert code == 0
    assert out.index("1. ") < out.index("2. ") < out.index("3. ")
    assert "weights: crop 40" in out and "second:" in out
    assert (tmp_path / "r.png").read_bytes()[:4] == b"\x89PNG"
    page = json.loads(told("rank", *files, "--duty", duty, "--weights", "crop=0,debris=9", "--json")[1])
    assert page["weights"]["debris"] == 9.0
    assert page["rows"][0]["profile"] == "beet-flooded"
    for wrong in ("crop", "crop=x", "beets=3", "crop=nan", "crop=-2"):
        assert told("rank", *files, "--duty", duty, "--weights", wrong)[0] == 2


def test_advise_writes_a_profile_that_builds(duty: Path, tmp_path: Path) -> None:
    out = tmp_path / "new.toml"
    words = ["advise", "--duty", duty, "--tip-gaps", "1.5 mm", "--out", out, "--picture", tmp_path / "a.svg"]
    code, said, _ = told(*words)
    assert code == 0
    assert "candidates judged" in said
    assert told("grip", out, "--duty", duty)[0] == 0
    assert told("build", out, "--formats", "stl", "--out", tmp_path / "out")[0] == 0
    assert b"<svg" in (tmp_path / "a.svg").read_bytes()
    tiny = tmp_path / "tiny.toml"
    tiny.write_text(DUTY.replace('"45 mm"', '"9 mm"'))
    code, said, _ = told("advise", "--duty", tiny, "--tip-gaps", "1.5 mm", "--json")
    assert code == 3
    assert json.loads(said)["chosen"] is None


def test_trial_counts_every_body_and_draws(duty: Path, tmp_path: Path) -> None:
    bed = tmp_path / "bed.toml"
    rollers = "".join(
        f'[[rollers]]\n{what}\nx = "{x} mm"\ny = "0 mm"\n'
        for what, x in (
            (f'profile = "{GENERAL}"', 0),
            ('diameter = "90 mm"', 110.2),
            (f'profile = "{GENERAL}"', 220.4),
        )
    )
    bed.write_text(f'name = "line"\nwidth = "1 m"\n{rollers}')
    words = ["trial", bed, "--duty", duty, "--seconds", "0.4", "--bodies", "12", "--json"]
    code, out, _ = told(*words, "--picture", tmp_path / "b.gif", "--seeds", "2")
    page = json.loads(out)
    assert code == 0 and page["seeds"] == [1, 2]
    for item in page["items"]:
        assert sum(item[k]["mean"] for k in ("seized", "fell", "over", "on_bed")) == pytest.approx(
            item["count"]
        )
    assert (tmp_path / "b.gif").read_bytes()[:6] == b"GIF89a"
    drawn = json.loads(told(*words, "--picture", tmp_path / "b.png")[1])
    assert (tmp_path / "b.png").read_bytes()[:4] == b"\x89PNG"
    assert json.loads(told(*words)[1])["items"] == drawn["items"]


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("friction = [0.35, 0.55]", "friction = [0, 0.55]", "crop.friction"),
        ("friction = [0.35, 0.55]", "friction = [-0.2, 0.55]", "crop.friction"),
        ("friction = [0.35, 0.55]", "friction = [0.35, 2.5]", "crop.friction"),
        ("friction = [0.35, 0.55]", "friction = [0.6, 0.5]", "crop.friction"),
        ('["45 mm", "105 mm"]', '["105 mm", "45 mm"]', "crop.diameters"),
        ('["45 mm", "105 mm"]', "[]", "crop.diameters"),
        ('"75 rpm"', '"0 rpm"', "run.rotation_speed"),
        ("[crop]", "[crops]", "crop"),
    ],
)
def test_a_wrong_duty_exits_2_with_its_place(old: str, new: str, key: str, tmp_path: Path) -> None:
    file = tmp_path / "wrong.toml"
    file.write_text(DUTY.replace(old, new))
    code, out, err = told("grip", GENERAL, "--duty", file, "--json")
    errors = json.loads(out)["errors"]
    assert code == 2 and "Traceback" not in err
    assert any(e["key"].startswith(key) and e["file"] == str(file) for e in errors)


def test_a_mate_that_stands_still_is_valid(tmp_path: Path) -> None:
    file = tmp_path / "still.toml"
    file.write_text(DUTY.replace("mate_speed_ratio = -0.6", "mate_speed_ratio = 0"))
    assert told("grip", GENERAL, "--duty", file)[0] in (0, 3)


def test_grip_loads_no_heavy_library(duty: Path) -> None:
    code = (
        "import sys\nfrom rollergen.cli import run\n"
        f"sys.argv = ['rollergen', 'grip', {str(GENERAL)!r}, '--duty', {str(duty)!r}]\n"
        "try:\n    run()\nexcept SystemExit:\n    pass\n"
        "heavy = {'OCP', 'cadquery', 'trimesh', 'matplotlib', 'scipy', 'ezdxf', 'pint'}\n"
        "print('HEAVY', sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stdout.splitlines()[-1] == "HEAVY []"


def test_check_and_diff_take_a_duty(duty: Path) -> None:
    code, out, _ = told("check", GENERAL, "--duty", duty, "--json")
    assert code == 3 and json.loads(out)["grip"]["ok"] is False
    assert told("check", GENERAL)[0] == 0
    other = FOLDER / "shallot-gentle.toml"
    different = json.loads(told("diff", GENERAL, other, "--duty", duty, "--json")[1])["differences"]
    assert any(key.startswith("grip.report.items[0].grip_size_mm") for key in different)


def test_a_slight_rib_lifts_a_stone_that_a_bold_one_seizes(tmp_path: Path) -> None:
    """common practice, no source: a solid transfer roller with a slight rib lifts stones instead of seizing them."""
    file = tmp_path / "stone.toml"
    file.write_text(DUTY.replace('diameters = ["10 mm", "50 mm"]', 'diameters = ["30 mm", "36 mm"]'))
    kinds = {}
    for name in ("beet-general", "celeriac-transfer"):
        page = json.loads(told("grip", FOLDER / f"{name}.toml", "--duty", file, "--json")[1])
        kinds[name] = page["items"][1]["kind"], page["rising"]["grip_size_mm"]
    assert kinds["beet-general"][0] == "rib"
    assert kinds["celeriac-transfer"] == ("rides", [0.0, 0.0])
