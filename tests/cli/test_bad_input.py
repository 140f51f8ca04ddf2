"""Files nobody should have given us, folders nobody can write: the right exit code, old files intact."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rollergen.cli import app

GENERAL = Path(__file__).resolve().parents[2] / "profiles" / "beet-general.toml"
runner = CliRunner()


def told(*words: str | Path) -> tuple[int, str, str]:
    result = runner.invoke(app, [str(word) for word in words])
    return result.exit_code, result.stdout, result.stderr


def errors_of(*words: str | Path) -> tuple[int, list[dict[str, object]]]:
    code, out, err = told(*words, "--json")
    assert "Traceback" not in err
    return code, json.loads(out)["errors"]


@pytest.mark.parametrize("command", ["build", "gap", "weigh", "check"])
@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"\x7fELF\x02\x01\x01\x00\x00\x00", "binary"),
        (b"#" * 50_000_000, "too large"),
        (b"\xff\xfe[\x00b\x00", "UTF-16"),
        (b'name = "x"\n[body\ndiameter = "9 mm"\n', "TOML syntax"),
        (b"", "required"),
    ],
    ids=["binary", "50 MB", "utf-16", "broken toml", "empty"],
)
def test_a_file_that_is_no_profile(command: str, data: bytes, words: str, tmp_path: Path) -> None:
    file = tmp_path / "odd.toml"
    file.write_bytes(data)
    extra = ["--out", tmp_path / "out"] if command == "build" else []
    code, errors = errors_of(command, file, *extra)
    assert code == 2
    assert any(words in str(error["message"]) for error in errors)
    assert all(str(file) == error["file"] for error in errors)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('diameter = "112 mm"', 'diameter = "112 kg"', "body.diameter"),
        ('diameter = "112 mm"', 'diameter = "112"', "body.diameter"),
        ('diameter = "112 mm"', 'diameter = "nan mm"', "body.diameter"),
        ('diameter = "112 mm"', 'diameter = "-112 mm"', "body.diameter"),
        ('diameter = "112 mm"', 'diameter = "1e12 mm"', "body.diameter"),
        ('diameter = "112 mm"', 'diameter = "112,5 mm"', "body.diameter"),
        ("count = 5", "count = 25", "ribs.count"),
        ('wall = "7 mm"', 'wall = "30 mm"', "chambers.wall"),
    ],
)
def test_a_value_that_cannot_be(old: str, new: str, key: str, tmp_path: Path) -> None:
    file = tmp_path / "bad.toml"
    file.write_text(GENERAL.read_text().replace(old, new))
    code, errors = errors_of("gap", file)
    assert code == 2
    assert key in {error["key"] for error in errors}
    assert all(int(str(error["line"])) > 0 for error in errors)


def test_a_mate_that_is_the_profile_itself(tmp_path: Path) -> None:
    file = tmp_path / "self.toml"
    text = GENERAL.read_text()
    assert 'diameter = "90 mm"' in text
    file.write_text(text.replace('diameter = "90 mm" ', 'profile = "self.toml" '))
    code, errors = errors_of("build", file, "--out", tmp_path / "out")
    assert code == 2
    assert "itself" in str(errors[0]["message"])


def test_one_bad_profile_among_many_does_not_stop_the_others(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text('name = "bad"\n')
    code, out, err = told(
        "build", bad, GENERAL, tmp_path / "none.toml", "--out", tmp_path / "out", "--formats", "stl", "--json"
    )
    assert code == 5  # the file that is not there comes before the profile that is wrong
    page = json.loads(out)
    assert [report["profile"] for report in page["profiles"]] == ["beet-general"]
    assert {Path(error["file"]).name for error in page["errors"]} == {"bad.toml", ""}
    assert (tmp_path / "out/beet-general/beet-general.stl").exists()
    assert "no such file" in err


def test_two_profiles_of_one_name_are_refused(tmp_path: Path) -> None:
    twin = tmp_path / "twin.toml"
    twin.write_text(GENERAL.read_text())
    code, _, err = told("build", GENERAL, twin, "--out", tmp_path / "out", "--formats", "dxf")
    assert code == 2
    assert "beet-general" in err


def test_a_disk_that_fills_up_leaves_the_old_files(tmp_path: Path) -> None:
    """The system refuses to let any file grow past 40 kB: the write fails half way, as on a full disk."""
    words = ["build", str(GENERAL), "--out", str(tmp_path), "--formats", "dxf"]
    assert told(*words)[0] == 0
    folder = tmp_path / "beet-general"
    (folder / "beet-general.stl").write_bytes(b"an old file")
    before = {p.name: p.read_bytes() for p in folder.iterdir()}
    code = (
        "import resource, sys\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000))\n"
        f"sys.argv = {['rollergen', *words[:-1], 'stl']!r}\n"
        "from rollergen.cli import run\n"
        "run()\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 5, done.stderr
    assert "cannot be written" in done.stderr
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before


def test_a_wrong_command_line_is_told_as_json_too() -> None:
    words = [sys.executable, "-m", "rollergen", "gap", "--json"]
    done = subprocess.run(words, capture_output=True, text=True)
    assert done.returncode == 2
    (error,) = json.loads(done.stdout)["errors"]
    assert "PROFILE" in error["message"]
    assert "Traceback" not in done.stderr


def test_a_reader_that_leaves_is_no_trouble() -> None:
    words = f"{sys.executable} -m rollergen schema | head -1"
    done = subprocess.run(["bash", "-o", "pipefail", "-c", words], capture_output=True, text=True)
    assert done.stdout == "{\n"
    assert done.stderr == ""
