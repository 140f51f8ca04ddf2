"""The proto command as a user runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rollergen.answer.explain import unexplained
from rollergen.cli import app

PROFILES = Path(__file__).parents[2] / "profiles"
GENERAL = str(PROFILES / "beet-general.toml")
RUN = CliRunner()


def test_pieces_and_report(tmp_path: Path) -> None:
    words = [
        "proto",
        GENERAL,
        "--printer",
        "220x220x90 mm",
        "--out",
        str(tmp_path),
        "--chord-error",
        "0.2 mm",
    ]
    done = RUN.invoke(app, [*words, "--json"])
    assert done.exit_code == 0, done.output
    page = json.loads(done.stdout)
    names = [Path(entry["path"]).name for entry in page["files"]]
    assert names == ["beet-general.piece-1.3mf", "beet-general.piece-2.3mf", "beet-general.all.3mf"]
    assert page["cuts_mm"] == [75.0] and page["printable"] is True and unexplained(page) == []
    folder = tmp_path / "beet-general-proto"
    assert json.loads((folder / "beet-general.proto.json").read_text()) == page
    first = {p.name: p.read_bytes() for p in folder.iterdir()}
    assert RUN.invoke(app, words).exit_code == 0
    assert first == {p.name: p.read_bytes() for p in folder.iterdir()}


def test_words_for_people_and_a_verdict_that_counts(tmp_path: Path) -> None:
    words = ["--printer", "10x10x20 in", "--cuts", "none", "--nozzle-line", "4 mm", "--out", str(tmp_path)]
    done = RUN.invoke(app, ["proto", GENERAL, *words, "--chord-error", "0.5 mm"])
    assert done.exit_code == 3 and "NOT AS ASKED" in done.stdout and "not for service" in done.stdout
    assert (tmp_path / "beet-general-proto" / "beet-general.print.3mf").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--printer", "100x100x100 mm"], "fits"),
        (["--printer", "big"], "not a plate and a height"),
        (["--printer", "220x220 mm"], "not a plate and a height"),
        (["--printer", "220x220x250 kg"], "--printer"),
        (["--printer", "220x220x250 mm", "--cuts", "a"], "--cuts"),
        (["--printer", "220x220x250 mm", "--infill", "120 %"], "--infill"),
        (["--printer", "220x220x250 mm", "--elephant-foot", "2 mm"], "one line"),
    ],
)
def test_bad_input_is_refused_and_nothing_written(words: list[str], told: str, tmp_path: Path) -> None:
    done = RUN.invoke(app, ["proto", GENERAL, "--out", str(tmp_path), *words])
    assert done.exit_code == 2 and told in done.stderr, done.output
    assert not list(tmp_path.iterdir())
