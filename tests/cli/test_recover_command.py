"""inspect --recover as a user runs it: what it writes, where it refuses to, and what its exit code says."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rollergen.cli import app, inspections
from rollergen.shape.section import section_of, thicknesses_of
from rollergen.spec.reading import read_profile

sys.path.insert(0, str(Path(__file__).parents[1] / "tooling"))
from scan_case import TEXT, moved, noisy, part_mesh, profile_with  # noqa: E402
from scan_whole import whole_mesh  # noqa: E402

COMPOUND = "cast ether PU 80A"
RUN = CliRunner()
assert inspections.app is app  # importing the module registers the command


def told(*words: str | Path) -> tuple[int, str, str]:
    done = RUN.invoke(app, ["inspect", "--recover", *(str(word) for word in words)])
    assert "Traceback" not in done.stderr and (
        done.exception is None or isinstance(done.exception, SystemExit)
    )
    return done.exit_code, done.stdout, done.stderr


@pytest.fixture(scope="module")
def scan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    import trimesh

    points, facets = part_mesh(profile_with(), spacing=3.0)
    file = tmp_path_factory.mktemp("scan") / "part.ply"
    trimesh.Trimesh(moved(noisy(points, facets, 0.03, 1), 2), facets, process=False).export(file)
    return file


def test_both_files_or_neither(scan: Path, tmp_path: Path) -> None:
    out = tmp_path / "x.toml"
    (tmp_path / "x.confidence.json").mkdir()
    code, _, err = told("--scan", scan, "--out", out, "--compound", COMPOUND)
    assert code == 5 and "it is a folder" in err
    assert [file.name for file in tmp_path.iterdir()] == ["x.confidence.json"]  # and nothing aside


def test_a_profile_that_is_there_stays_without_force(scan: Path, tmp_path: Path) -> None:
    out, beside = tmp_path / "x.toml", tmp_path / "x.confidence.json"
    out.write_text("mine")
    code, _, err = told("--scan", scan, "--out", out, "--compound", COMPOUND)
    assert code == 2 and "--force" in err and out.read_text() == "mine" and not beside.exists()
    out.unlink()
    beside.write_text("mine")
    assert told("--scan", scan, "--out", out)[0] == 2 and not out.exists()
    code, _, _ = told("--scan", scan, "--out", out, "--compound", COMPOUND, "--force")
    assert code == 0 and read_profile(out).compound.name == COMPOUND
    page = json.loads(beside.read_text())
    assert page["ok"] is True and page["reasons"] == []


def test_a_scan_is_never_written_over(scan: Path, tmp_path: Path) -> None:
    mine = tmp_path / scan.name
    shutil.copy(scan, mine)
    for words in ((), ("--force",)):
        code, _, err = told("--scan", mine, "--out", mine, *words)
        assert code == 2 and f"--out {tmp_path / 'part.toml'}" in err
    link = tmp_path / "link.toml"
    link.symlink_to(mine)
    assert told("--scan", mine, "--out", link, "--force")[0] == 2
    assert mine.read_bytes() == scan.read_bytes()
    code, _, err = told("--scan", mine, "--out", tmp_path / "part.txt")
    assert code == 2 and "ends in .toml" in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--compound", "cast eter PU 80A"), "did you mean cast ether PU 80A"),
        (("--compound", "zzzz"), "known are soft cast PU 55A"),
        (("--units", "in"), "--units beside --recover has no effect"),
        (("--strict", "--cast-with", "1 %"), "--cast-with and --strict beside --recover"),
        (("--most-runout", "1 mm"), "--most-runout beside --recover"),
        (("--out", "."), "recovered.toml"),
    ],
)
def test_words_without_effect_are_refused_before_the_scan_is_read(words: tuple[str, ...], said: str) -> None:
    code, _, err = told("--scan", "none.stl", *words)
    assert code == 2 and said in err


def test_a_unit_of_the_scan_has_no_effect_on_readings() -> None:
    done = RUN.invoke(app, ["inspect", "none.toml", "--caliper", "none.csv", "--scan-units", "inch"])
    assert done.exit_code == 2 and "names its own unit" in done.stderr


CHAMBERS = TEXT[TEXT.index("[chambers]") : TEXT.index("[compound]")]
KINDS: dict[str, tuple[tuple[str, str], ...]] = {
    "helical": (),
    "straight": (('helix_pitch = "700 mm"', 'helix_pitch = "straight"'),),
    "left hand": (('helix_pitch = "700 mm"', 'helix_pitch = "700 mm"\nhand = "left"'),),
    "solid": ((CHAMBERS, ""),),
    "hexagon": (('section = "square"', 'section = "hexagon"'),),
    "round": (('section = "square"', 'section = "round"'), ('corner_radius = "1.5 mm"', "")),
    "keyed": (
        ('section = "square"', 'section = "keyed"\nkey_width = "10 mm"\nkey_depth = "3.3 mm"\nlead_in = "1 mm"'),
    ),
    "round chambers": (("count = 6", 'count = 6\nsection = "round"'), ('corner_radius = "3 mm"', 'corner_radius = "0 mm"')),
    "one rib": (("count = 5", "count = 1"),),
    "two ribs": (("count = 5", "count = 2"),),
    "unlike flanks": (
        ('flank_angle = "15 deg"', 'flank_angle_ahead = "10 deg"\nflank_angle_behind = "35 deg"'),
        ('edge_chamfer = "0 mm"', 'edge_chamfer = "2 mm"'),
    ),
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_every_recovered_profile_builds_and_passes_its_own_scan(kind: str, tmp_path: Path) -> None:
    import trimesh

    profile = profile_with(*KINDS[kind])
    points, facets = whole_mesh(profile)
    scan, out = tmp_path / "part.ply", tmp_path / "back.toml"
    trimesh.Trimesh(moved(noisy(points, facets, 0.03, 7), 8), facets, process=False).export(scan)
    code, said, err = told("--scan", scan, "--out", out, "--compound", COMPOUND)
    assert code == 0, said + err
    built = RUN.invoke(app, ["build", str(out), "--out", str(tmp_path / "out"), "--formats", "stl"])
    assert built.exit_code == 0, built.output
    done = RUN.invoke(app, ["inspect", str(out), "--scan", str(scan), "--json"])
    page = json.loads(done.stdout)
    assert done.exit_code == 0 and page["ok"], page["reasons"]
    back = read_profile(out)
    assert back.bore.section == profile.bore.section and back.bore.lead_in == pytest.approx(
        profile.bore.lead_in, abs=0.05
    )
    assert back.body.edge_chamfer == pytest.approx(profile.body.edge_chamfer, abs=0.05)
    assert (back.ribs and back.ribs.count) == (profile.ribs and profile.ribs.count)
    both = [p.chambers for p in (back, profile) if p.chambers is not None]
    assert len(both) in (0, 2)
    for key in ("count", "section") if both else ():
        assert getattr(both[0], key) == getattr(both[1], key)
    # as they come out: the web between round chambers follows from wall and hub wall and is more than was asked
    real = [thicknesses_of(section_of(p), p.body_radius) for p in (back, profile)]
    for key in ("wall", "web", "hub_wall") if both else ():
        assert getattr(real[0], key) == pytest.approx(getattr(real[1], key), abs=0.05), key
