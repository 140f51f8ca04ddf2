"""The bed command as a user meets it."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rollergen.cli import app

FOLDER = Path(__file__).resolve().parents[2] / "profiles"
BEDS = sorted((FOLDER / "beds").glob("*.toml"))
LINE = next(p for p in BEDS if p.stem == "beet-line")
runner = CliRunner()


def told(*words: str | Path) -> tuple[int, str, str]:
    done = runner.invoke(app, [str(word) for word in words])
    return done.exit_code, done.stdout, done.stderr


@pytest.mark.parametrize("bed", BEDS, ids=lambda p: p.stem)
def test_every_shipped_bed_clears_and_draws(bed: Path, tmp_path: Path) -> None:
    code, out, _ = told("bed", bed, "--picture", tmp_path / "b.png", "--parts", tmp_path / "p.csv")
    assert code == 0
    for said in ("worst first", "in-running nip", "along the rollers", "parts,", "caution:"):
        assert said in out
    assert (tmp_path / "b.png").read_bytes()[:4] == b"\x89PNG"
    rows = list(csv.DictReader(io.StringIO((tmp_path / "p.csv").read_text())))
    assert {row["part"] for row in rows} == {"segment", "shaft", "smooth roller", "compound"}


def test_json_counts_the_pieces_of_a_filled_bed() -> None:
    page = json.loads(told("bed", LINE, "--lengths", FOLDER / "beet-short.toml", "--json")[1])
    assert page["ok"] is True and page["schema"] == 1
    counts = {s["free_length_mm"]: s["count"] for s in page["parts"]["segments"]}
    filled = page["rollers_filled"]["ribbed 1"]
    assert counts == {piece["free_length"]: 3 * piece["count"] for piece in filled}
    assert sum(p["count"] * p["fitted_length"] for p in filled) == pytest.approx(1500.0)
    assert page["drift"]["bed_drift_mm_s"] == pytest.approx(650 * 70 / 60)  # all one hand, all one way


def test_a_bed_whose_ribs_touch_exits_3_and_one_whose_bodies_meet_2(tmp_path: Path) -> None:
    text = LINE.read_text().replace("../", f"{FOLDER}/")
    near = tmp_path / "near.toml"
    near.write_text(text.replace('x = "110.2 mm"', 'x = "108 mm"'))
    code, out, _ = told("bed", near)
    assert code == 3 and "NOT MET" in out
    near.write_text(text.replace('x = "110.2 mm"', 'x = "90 mm"'))
    code, out, _ = told("bed", near, "--json")
    (error,) = json.loads(out)["errors"]
    assert code == 2 and error["key"] == "rollers[1].x" and error["line"] > 0
    near.write_text(text.replace("beet-general.toml", "none.toml"))
    assert told("bed", near)[0] == 2
    assert told("bed", LINE, "--parts", tmp_path / "p.txt")[0] == 2
