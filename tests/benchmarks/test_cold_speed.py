"""Whole commands in a process of their own, against a plain cadquery script that does the same.

Run: pytest tests/benchmarks/test_cold_speed.py -m benchmark -s

Nothing is asserted about time.  Goals: STEP with checks and report 1.5 s, 2.3 times faster than the plain
script at 90 deg of twist and 4 times at 180; 11 ribs, 8 chambers and chamfers 2 s; STL at 0.05 mm 0.5 s;
gap 0.5 s; --help 0.3 s; 150 MB without the kernel.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from statistics import median
from time import perf_counter

import pytest
from reference_part import PROFILE

pytestmark = pytest.mark.benchmark

HERE = Path(__file__).parent
GENERAL = HERE.parents[1] / "profiles" / "beet-general.toml"
ROUNDS = 5
LARGE = PROFILE.replace("count = 5", "count = 11").replace("count = 6", "count = 8")
LARGE = LARGE.replace('tip_width = "10 mm"', 'tip_width = "8 mm"').replace('"0 mm"', '"1 mm"')


def seconds(command: list[str]) -> float:
    start = perf_counter()
    done = subprocess.run(command, capture_output=True, text=True)
    passed = perf_counter() - start
    assert done.returncode == 0, done.stderr
    return passed


def ours(*words: str) -> list[str]:
    return [sys.executable, "-m", "rollergen", *words]


def profile_file(folder: Path, text: str, twist_deg: float) -> str:
    file = folder / "speed.toml"
    file.write_text(text.format(pitch=f"{150 * 360 / twist_deg} mm"))
    return str(file)


def told(benchmark, name: str, command: list[str]) -> float:
    seconds(command)  # the first fills the disk's and the compiled files' caches
    times = [seconds(command) for _ in range(ROUNDS)]
    benchmark.pedantic(seconds, args=(command,), rounds=1, iterations=1)
    print(f"\n{name}: median {median(times):.2f} s, {min(times):.2f} to {max(times):.2f} s")
    return median(times)


@pytest.mark.parametrize("twist_deg", [90, 180])
def test_step_with_checks_and_report(benchmark, tmp_path, twist_deg):
    file = profile_file(tmp_path, PROFILE, twist_deg)
    words = ["build", file, "--out", str(tmp_path / "out"), "--formats", "step", "--again"]
    mine = told(benchmark, f"STEP {twist_deg} deg", ours(*words))
    script = [sys.executable, str(HERE / "reference_part.py"), str(twist_deg), str(tmp_path / "plain.step")]
    plain = median(seconds(script) for _ in range(3))
    print(f"plain script {plain:.2f} s: {plain / mine:.1f} times faster")


def test_step_of_a_large_part(benchmark, tmp_path):
    file = profile_file(tmp_path, LARGE, 90)
    words = ["build", file, "--out", str(tmp_path / "out"), "--formats", "step", "--again"]
    told(benchmark, "STEP of 11 ribs, 8 chambers and chamfers", ours(*words))


def test_stl(benchmark, tmp_path):
    file = profile_file(tmp_path, PROFILE, 90)
    words = ["build", file, "--out", str(tmp_path / "out"), "--formats", "stl", "--again"]
    mine = told(benchmark, "STL at 0.05 mm", ours(*words))
    script = [sys.executable, str(HERE / "reference_part.py"), "90", str(tmp_path / "plain.stl")]
    print(f"plain script {seconds(script):.2f} s: {seconds(script) / mine:.1f} times faster")


@pytest.mark.parametrize(
    "words", [["--help"], ["gap", str(GENERAL)], ["weigh", str(GENERAL)]], ids=lambda w: w[0]
)
def test_light_commands(benchmark, words):
    told(benchmark, words[0], ours(*words))


def test_memory_without_the_kernel(benchmark, tmp_path):
    code = (
        "import resource, subprocess, sys\n"
        f"subprocess.run({ours('build', str(GENERAL), '--out', str(tmp_path), '--formats', 'stl,3mf,glb')!r}, check=True,"
        " capture_output=True)\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)\n"
    )
    run = benchmark.pedantic(
        subprocess.run,
        args=([sys.executable, "-c", code],),
        kwargs={"capture_output": True, "text": True},
        rounds=1,
    )
    print(f"\nmeshes, largest memory: {int(run.stdout) / 1024:.0f} MB")
    assert int(run.stdout) > 0
