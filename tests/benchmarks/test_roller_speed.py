"""A roller: search, files and the whole command; run: pytest tests/benchmarks/test_roller_speed.py -m benchmark -s

Goals: roller cold 0.5 s, search of 3 lengths over 3 m 20 ms, mesh of 20 segments 0.5 s, STEP assembly 2 s.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from rollergen.answer.report import draw_profile
from rollergen.answer.roller import roller
from rollergen.cli.stacking import stack_files
from rollergen.shape.solid import load_kernel
from rollergen.spec.reading import read_profile
from rollergen.study.stack import Piece, stack

pytestmark = pytest.mark.benchmark
PROFILES = Path(__file__).parents[2] / "profiles"


def test_search(benchmark):
    lengths = ((173.5, 171.0), (123.8, 122.0), (101.5, 100.0))
    pieces = [Piece(name=f"{free:g}", free_length=free, fitted_length=fitted) for free, fitted in lengths]
    assert benchmark(stack, 3000.0, pieces).best is not None


@pytest.mark.parametrize("kind", ["stl", "step"])
def test_files_of_a_roller_of_20_segments(benchmark, kind):
    load_kernel()
    drawn = [draw_profile(read_profile(PROFILES / f"{name}.toml")) for name in ("beet-general", "beet-short")]
    answer = roller(drawn, 2970.0)
    assert len(answer.names) >= 20

    def write():
        return stack_files(answer, drawn, [kind], chord_error=0.1, degree=5)

    ((_, data, _),) = benchmark.pedantic(write, rounds=5, warmup_rounds=1)
    assert len(data) > 100_000


def test_roller_cold(benchmark):
    words = [
        "roller",
        str(PROFILES / "beet-general.toml"),
        "--width",
        "1.485 m",
        "--squeeze",
        "0.5 %, 2 %",
        "--speed",
        "70 rpm",
    ]
    command = [sys.executable, "-m", "rollergen", *words]
    how = {"check": True, "capture_output": True}
    benchmark.pedantic(subprocess.run, args=(command,), kwargs=how, rounds=5, warmup_rounds=1)
