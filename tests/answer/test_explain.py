"""Every reported figure has an entry; explain finds it or says what is near."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import pytest

from rollergen.answer.explain import explain, figures, unexplained
from rollergen.answer.fitted import fitted_gaps
from rollergen.answer.report import draw, report_of, verdicts_of
from rollergen.answer.weight import weight_of
from rollergen.cli.writing import write_formats
from rollergen.errors import UsageError
from rollergen.spec.reading import read_source
from rollergen.spec.trace import Figure
from rollergen.study.fit import fit
from rollergen.study.inertia import inertia_of

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))


@pytest.mark.parametrize("path", PROFILES, ids=lambda p: p.stem)
def test_no_figure_of_any_report_is_without_an_entry(path: Path) -> None:
    source = read_source(path)
    drawn = draw(source)
    gaps = verdicts_of(drawn, source)
    report = report_of(drawn, gaps, [])
    assert unexplained(report) == []
    for study in (
        inertia_of(drawn.profile, drawn.section, drawn.part),
        fit(drawn.profile),
        weight_of(drawn, length=1500.0),
        *fitted_gaps(drawn.profile, [verdict.gap for verdict in gaps]),
    ):
        assert unexplained(asdict(study)) == []


def test_no_figure_of_a_file_is_without_an_entry() -> None:
    source = read_source(next(p for p in PROFILES if p.stem == "plain-sleeve"))
    drawn = draw(source)
    made = write_formats(drawn, ("stl", "dxf"), chord_error=0.2, degree=5)
    assert unexplained({"files": [entry for _, _, entry in made]}) == []


def test_a_new_figure_without_an_entry_is_found_however_deep() -> None:
    assert unexplained({"mass_kg": 1, "gaps": [{"mate": "x", "made_up_mm": 2}, ({"other_mm": 1},)]}) == [
        "made_up_mm",
        "other_mm",
    ]


def test_explain_gives_formula_source_limits_and_every_value() -> None:
    text = explain("tip_gap_mm", {"gaps": [{"tip_gap_mm": 1.25}, {"tip_gap_mm": 2.5}]})
    for part in ("formula:", "source:", "limits:", "value gaps[0]: 1.25", "value gaps[1]: 2.5"):
        assert part in text


def test_an_unknown_key_is_met_with_the_near_one() -> None:
    with pytest.raises(UsageError, match="did you mean mass_kg"):
        explain("mas_kg")
    with pytest.raises(UsageError, match="known: "):
        explain("qqqqqqqq")


def test_a_key_may_leave_its_unit_out_and_a_profile_gives_the_inputs() -> None:
    profile = read_source(next(p for p in PROFILES if p.stem == "beet-general")).profile
    told = explain("body_gap", {"body_gap_mm": 9.2}, profile)
    assert told.startswith("body_gap_mm\n") and "value: 9.2" in told.replace("value : ", "value: ")
    for line in (
        "axis distance, smooth roller: 110.2 mm",
        "body radius: 56 mm",
        "mate radius, smooth roller: 45 mm",
    ):
        assert f"input, {line}" in told
    assert 110.2 - 56 - 45 == pytest.approx(9.2)


def test_every_entry_is_whole_and_stands_once() -> None:
    assert all(key == figure.key for key, figure in figures().items())
    with pytest.raises(ValueError, match="leaves source blank"):
        Figure(key="x", words="w", formula="f", source=" ", limits="l", unit="mm")
