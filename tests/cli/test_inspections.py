"""The inspect command on synthetic scans with known errors, as a user runs it."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

import rollergen.cli.inspections  # noqa: F401  registers the command
from rollergen.cli.app import app

sys.path.insert(0, str(Path(__file__).parents[1] / "tooling"))
from scan_case import TEXT, moved, noisy, only, part_mesh, profile_with  # noqa: E402

RUN = CliRunner()


def scanned(folder: Path, points, facets, name: str = "part.stl") -> Path:
    import trimesh

    path = folder / name
    trimesh.Trimesh(points, facets, process=False).export(path)
    return path


def inspected(folder: Path, scan: Path, *words: str, text: str = TEXT) -> tuple[int, dict]:
    (folder / "measured.toml").write_text(text)
    done = RUN.invoke(app, ["inspect", str(folder / "measured.toml"), "--scan", str(scan), *words, "--json"])
    assert done.exit_code in (0, 3), done.output
    return done.exit_code, json.loads(done.stdout)


def values(page: dict) -> dict[str, dict]:
    return {one["key"]: one for one in page["features"]}


@pytest.fixture(scope="module")
def part():
    return part_mesh(profile_with(), spacing=2.0)


def test_a_part_as_drawn_passes_wherever_it_lies(part, tmp_path: Path) -> None:
    points, facets = part
    scan = scanned(tmp_path, moved(noisy(points, facets, 0.05, 1), 2), facets)
    code, page = inspected(tmp_path, scan)
    found = values(page)
    assert code == 0
    assert found["ribs.height"]["measured"] == pytest.approx(9.0, abs=0.05)
    assert found["ribs.helix_pitch"]["measured"] == pytest.approx(700, rel=5e-3)
    assert found["body.diameter"]["measured"] == pytest.approx(118, abs=0.05)
    assert found["chambers.wall"]["measured"] == pytest.approx(8.0, abs=0.1)
    assert {one["verdict"] for one in found.values()} <= {"pass", "no limit"}


def test_known_shrinkage_is_found_and_carried_to_the_next_pour(tmp_path: Path) -> None:
    # made with 1.4 %, shrunk by 1.6 % across and 1.1 % along
    radial, axial = (1 - 0.016) / (1 - 0.014), (1 - 0.011) / (1 - 0.014)
    points, facets = part_mesh(profile_with(), radial=radial, axial=axial)
    scan = scanned(tmp_path, moved(noisy(points, facets, 0.05, 3), 4), facets)
    _, page = inspected(tmp_path, scan, "--cast-with", "1.4 %")
    text = json.dumps(page)
    found = values(page)
    assert found["body.diameter"]["measured"] / 118 == pytest.approx(radial, abs=5e-4)
    assert found["body.free_length"]["measured"] / 152 == pytest.approx(axial, abs=5e-4)
    told = [float(x) for x in _numbers(page) if 0.009 < x < 0.02]
    assert any(abs(x - 0.016) < 5e-4 for x in told) and any(abs(x - 0.011) < 5e-4 for x in told), text[-2000:]


def _numbers(value):
    if isinstance(value, dict):
        for inner in value.values():
            yield from _numbers(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _numbers(inner)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield value


@pytest.mark.slow
def test_inches_and_end_for_end(part, tmp_path: Path) -> None:
    points, facets = part
    over = points * [1.0, -1.0, -1.0]
    code, page = inspected(tmp_path, scanned(tmp_path, over / 25.4, facets))
    assert code == 0 and values(page)["body.diameter"]["measured"] == pytest.approx(118, abs=0.1)
    assert "inch" in json.dumps(page)


@pytest.mark.slow
def test_half_a_part_says_what_it_has_not_seen(part, tmp_path: Path) -> None:
    points, facets = part
    points, facets = only(points, facets, points[:, 2] > 70.0)
    _, page = inspected(tmp_path, scanned(tmp_path, moved(points, 5), facets))
    found = values(page)
    assert found["body.free_length"]["verdict"] == "not seen"
    assert found["ribs.height"]["measured"] == pytest.approx(9.0, abs=0.05)
    assert not page["complete"]


def test_a_rib_too_low_fails(tmp_path: Path) -> None:
    low = profile_with(('height = "9 mm"', 'height = "8 mm"'))
    points, facets = part_mesh(low)
    code, page = inspected(tmp_path, scanned(tmp_path, points, facets))
    assert code == 3 and values(page)["ribs.height"]["verdict"] == "fail"
    assert values(page)["body.diameter"]["verdict"] == "pass"


@pytest.mark.slow
def test_the_other_hand_is_told(tmp_path: Path) -> None:
    points, facets = part_mesh(
        profile_with(('helix_pitch = "700 mm"', 'helix_pitch = "700 mm"\nhand = "left"'))
    )
    (tmp_path / "measured.toml").write_text(TEXT)
    scan = scanned(tmp_path, points, facets)
    done = RUN.invoke(app, ["inspect", str(tmp_path / "measured.toml"), "--scan", str(scan)])
    assert done.exit_code in (2, 3) and "hand" in done.stdout + done.stderr


@pytest.mark.parametrize(
    ("name", "data", "code"),
    [
        ("none.stl", None, 5),
        ("broken.stl", b"no mesh at all", 5),
        ("few.csv", b"1,2,3\n4,5,6\n", 5),
        ("odd.doc", b"x", 2),
    ],
)
def test_what_is_no_scan_is_refused(name: str, data: bytes | None, code: int, tmp_path: Path) -> None:
    (tmp_path / "measured.toml").write_text(TEXT)
    if data is not None:
        (tmp_path / name).write_bytes(data)
    done = RUN.invoke(app, ["inspect", str(tmp_path / "measured.toml"), "--scan", str(tmp_path / name)])
    assert done.exit_code == code and done.stderr, done.output


def test_an_unrelated_body_is_refused(tmp_path: Path) -> None:
    import trimesh

    box = trimesh.creation.box([130, 120, 150]).subdivide_to_size(6.0)
    scan = scanned(tmp_path, np.asarray(box.vertices), np.asarray(box.faces))
    (tmp_path / "measured.toml").write_text(TEXT)
    done = RUN.invoke(app, ["inspect", str(tmp_path / "measured.toml"), "--scan", str(scan)])
    assert done.exit_code in (2, 3) and "pass, 0 fail" not in done.stdout


def test_readings_by_hand(tmp_path: Path) -> None:
    (tmp_path / "measured.toml").write_text(TEXT)
    (tmp_path / "readings.csv").write_text("body.diameter, 118.3 mm, 118.1 mm\nribs.height, 7 mm\n")
    done = RUN.invoke(
        app,
        ["inspect", str(tmp_path / "measured.toml"), "--caliper", str(tmp_path / "readings.csv"), "--json"],
    )
    assert done.exit_code == 3, done.output
    found = values(json.loads(done.stdout))
    assert (
        found["body.diameter"]["measured"] == pytest.approx(118.2)
        and found["ribs.height"]["verdict"] == "fail"
    )
    (tmp_path / "readings.csv").write_text("body.colour, 3 mm\n")
    done = RUN.invoke(
        app, ["inspect", str(tmp_path / "measured.toml"), "--caliper", str(tmp_path / "readings.csv")]
    )
    assert done.exit_code == 2 and "body.colour" in done.stderr


def test_a_reading_ten_times_too_large_tells_no_next_pour(tmp_path: Path) -> None:
    (tmp_path / "measured.toml").write_text(TEXT)
    (tmp_path / "readings.csv").write_text("body.diameter, 1180 mm\nbody.free_length, 151 mm\n")
    words = ["inspect", str(tmp_path / "measured.toml"), "--caliper", str(tmp_path / "readings.csv")]
    done = RUN.invoke(app, [*words, "--json"])
    page = json.loads(done.stdout)
    assert done.exit_code == 3 and [pour["along"] for pour in page["next_pour"]] == ["along"]
    assert any("no next pour is told" in note for note in page["notes"])
    said = RUN.invoke(app, words)
    assert "a scan tells size" not in said.output and "age your drawing" in said.output


def test_the_table_tells_places_and_leaning_ends_in_either_unit(part, tmp_path: Path) -> None:
    """Ends out of square by a slope of 0.01: 1.18 mm over a body of 118 mm."""
    points, facets = part
    leaning = points + np.column_stack(
        [0 * points[:, 0], 0 * points[:, 0], 0.01 * points[:, 0] * (points[:, 2] > 76)]
    )
    scan = scanned(tmp_path, moved(noisy(leaning, facets, 0.03, 5), 6), facets)
    (tmp_path / "measured.toml").write_text(TEXT)
    words = ["inspect", str(tmp_path / "measured.toml"), "--scan", str(scan)]
    said = RUN.invoke(app, words).stdout
    lean = next(line for line in said.splitlines() if "high end leans" in line)
    assert 1.1 < float(lean.split()[-5]) < 1.25, lean
    assert "from place to place" in said
    inches = RUN.invoke(app, [*words, "--units", "in"]).stdout
    assert " mm" not in inches.replace("in mm", "").replace("mm2", "")


@pytest.mark.slow
def test_a_profile_is_recovered_from_an_unknown_scan(part, tmp_path: Path) -> None:
    from rollergen.spec.reading import read_profile

    points, facets = part
    scan = scanned(tmp_path, moved(noisy(points, facets, 0.03, 7), 8), facets)
    out = tmp_path / "back.toml"
    words = ["--recover", "--scan", str(scan), "--compound", "cast ether PU 80A", "--out", str(out)]
    done = RUN.invoke(app, ["inspect", *words])
    assert done.exit_code == 0, done.output
    back = read_profile(out)
    assert (
        back.body.diameter == pytest.approx(118, abs=0.1)
        and back.ribs is not None
        and back.chambers is not None
    )
    assert (back.ribs.count, back.ribs.hand, back.chambers.count) == (5, "right", 6)
    assert back.ribs.height == pytest.approx(9, abs=0.05)
    assert back.ribs.helix_pitch == pytest.approx(700, rel=5e-3)
    assert back.bore.section == "square" and back.bore.width == pytest.approx(38.3, abs=0.1)
    assert json.loads((tmp_path / "back.confidence.json").read_text())
