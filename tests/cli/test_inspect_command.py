"""The inspect command: what it writes, what it answers to wrong words, and that every number is explained."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rollergen.answer import explain
from rollergen.cli import app, inspections
from rollergen.spec.reading import read_profile
from rollergen.tooling import inspection_figures

sys.path.insert(0, str(Path(__file__).parents[1] / "tooling"))
from scan_case import moved, noisy, part_mesh  # noqa: E402

GENERAL = Path(__file__).resolve().parents[2] / "profiles" / "beet-general.toml"
runner = CliRunner()
assert inspections.app is app  # importing the module registers the command


def told(*words: str | Path) -> tuple[int, str, str]:
    done = runner.invoke(app, [str(word) for word in words])
    assert "Traceback" not in done.stderr and (
        done.exception is None or isinstance(done.exception, SystemExit)
    )
    return done.exit_code, done.stdout, done.stderr


@pytest.fixture(scope="module")
def scan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    import trimesh

    points, facets = part_mesh(read_profile(GENERAL), spacing=3.0, radial=0.996, axial=0.993)
    file = tmp_path_factory.mktemp("scan") / "part.stl"
    trimesh.Trimesh(moved(noisy(points, facets, 0.05, 1), 2), facets, process=False).export(file)
    return file


def test_json_and_picture_are_whole_and_every_number_is_explained(scan: Path, tmp_path: Path) -> None:
    words = (
        "inspect",
        GENERAL,
        "--scan",
        scan,
        "--cast-with",
        "1.4 %",
        "--json",
        "--picture",
        tmp_path / "map.png",
    )
    code, out, _ = told(*words)
    page = json.loads(out)
    assert code == 0 and page["schema"] == 1 and page["ok"] is True
    assert (tmp_path / "map.png").read_bytes()[:4] == b"\x89PNG"
    across, along = page["next_pour"]
    assert across["shrinkage_next"] == pytest.approx(1 - 0.986 * 0.996, abs=1e-4)
    assert along["shrinkage_next"] == pytest.approx(1 - 0.986 * 0.993, abs=1e-4)
    assert across["mould_factor"] == 1 / across["size_ratio"]
    known = set(explain.figures()) | {figure.key for figure in inspection_figures.FIGURES}
    rows = [
        *page["features"],
        *across_rows(page),
        *page["forms"],
        *page["offsets"],
        page["scan"],
        *page["scan"]["seen"],
    ]
    numbers = {key for row in rows for key, value in row.items() if isinstance(value, int | float)}
    assert numbers <= known


def across_rows(page: dict) -> list[dict]:
    return [*page["next_pour"], {"rib_heights_mm": 1.0, "end_tilt_mm": 1.0}]


def test_pictures_are_the_same_every_time(tmp_path: Path) -> None:
    import numpy as np

    from rollergen.export.inspect_picture import FeatureBar, inspect_picture

    angle, z = np.arange(0.0, 360.0, 6.0) + 3, np.arange(0.0, 150.0, 5.0) + 2.5
    off = 0.2 * np.cos(np.radians(angle))[None, :] + 0.001 * z[:, None]
    off[:, 20:30] = np.nan
    bars = [
        FeatureBar(name="body.diameter", words="111.5 mm", verdict="pass", share=-0.4, error=0.1),
        FeatureBar(name="ribs.height", words="not seen", verdict="not seen", share=None, error=None),
        FeatureBar(name="body.free_length", words="147 mm", verdict="fail", share=-4.0, error=0.0),
    ]
    for form in ("png", "svg"):
        pages = [
            inspect_picture(
                angle=angle, z=z, deviation=off, bars=bars, title="a part", verdict="one fails", form=form
            )
            for _ in range(2)
        ]
        assert pages[0] == pages[1] and len(pages[0]) > 20_000
    nothing = np.full_like(off, np.nan)
    assert inspect_picture(angle=angle, z=z, deviation=nothing, bars=bars, title="a", verdict="b")


def test_limits_change_the_exit_code(tmp_path: Path) -> None:
    table = tmp_path / "hand.csv"
    table.write_text("body.diameter, 111.4 mm, 111.6 mm\nbody.free_length, 149.2 mm\n")
    code, out, _ = told("inspect", GENERAL, "--caliper", table, "--cast-with", "1.4 %")
    assert code == 0 and "shrinkage 1.840% instead of 1.400%" in out
    assert told("inspect", GENERAL, "--caliper", table, "--strict")[0] == 3  # most of it was not read
    assert told("inspect", GENERAL, "--caliper", table, "--cast-class", "M1")[0] == 3
    assert " in (" in told("inspect", GENERAL, "--caliper", table, "--units", "in")[1]


@pytest.mark.slow
def test_runout_has_the_limit_that_is_given(scan: Path) -> None:
    code, out, _ = told("inspect", GENERAL, "--scan", scan, "--most-runout", "0.5 mm")
    assert code == 0 and "at most 0.500 mm: pass" in out
    code, out, _ = told("inspect", GENERAL, "--scan", scan, "--most-runout", "0 mm")
    assert code == 3 and "runout measures" in out


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ((GENERAL,), 2, "either --scan FILE or --caliper FILE"),
        ((GENERAL, "--scan", "none.stl"), 5, "cannot be read"),
        ((GENERAL, "--scan", "part.step"), 2, "save it as one of these"),
        ((GENERAL, "--caliper", "none.csv"), 5, "cannot be read"),
        (("none.toml", "--scan", "none.stl"), 5, ""),
        (("--scan", "none.stl"), 2, "needs a PROFILE"),
        (("--recover",), 2, "needs --scan"),
        ((GENERAL, "--recover", "--scan", "none.stl"), 2, "takes no profile"),
        ((GENERAL, "--caliper", "none.csv", "--picture", "a.png"), 2, "no map"),
        ((GENERAL, "--caliper", "none.csv", "--most-runout", "1 mm"), 2, "--most-runout beside --caliper"),
        ((GENERAL, "--caliper", "none.csv", "--most-phase", "1 deg"), 2, "--most-phase beside --caliper"),
        ((GENERAL, "--scan", "none.stl", "--most-phase", "1 mm"), 2, "--most-phase"),
        (
            (GENERAL, "--scan", "none.stl", "--most-phase=-1 deg"),
            2,
            "is no limit: bore.phase and chambers.phase",
        ),
        ((GENERAL, "--scan", "none.stl", "--most-phase", "6 deg"), 2, "come again every 12 deg"),
        ((GENERAL, "--scan", "none.stl", "--picture", "a.pdf"), 2, "--picture"),
        ((GENERAL, "--scan", "none.stl", "--cast-with", "1.4 mm"), 2, "--cast-with"),
        (
            (GENERAL, "--scan", "none.stl", "--cast-with", "14 %"),
            2,
            "--cast-with: 0.14 as a share (14.000%): 0 to 5%",
        ),
        ((GENERAL, "--scan", "none.stl", "--cast-with-axial", "1 %"), 2, "needs --cast-with"),
        ((GENERAL, "--scan", "none.stl", "--scan-units", "furlong"), 2, ""),
        ((GENERAL, "--scan", "none.stl", "--out", "a.toml"), 2, "go with --recover"),
    ],
)
def test_bad_input_answers_with_its_code(words: tuple[str | Path, ...], code: int, said: str) -> None:
    answered, _, err = told("inspect", *words)
    assert answered == code and said in err


def test_a_file_that_is_no_mesh_answers_in_json_too(tmp_path: Path) -> None:
    junk = tmp_path / "junk.stl"
    junk.write_bytes(b"this is a letter, not a mesh")
    code, out, _ = told("inspect", GENERAL, "--scan", junk, "--json")
    assert code == 5 and "no STL" in json.loads(out)["errors"][0]["message"]
