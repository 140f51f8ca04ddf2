"""A whole mould: described, built, checked and written as one STEP assembly, against a plain cadquery script.

Run: pytest tests/benchmarks/test_mould_speed.py -m benchmark -s

Nothing is asserted about time.  Goals: assembly from a warm kernel 0.5 s; in a process of its own 2.2 s and
0.55 of the plain script (which has no draft, chamfers, fits, checks or figures); the sleeve built direct
20 times faster than as block minus body.
"""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from statistics import median
from time import perf_counter

import pytest
from cold_mould import assembly, speed_mould
from reference_part import PROFILE, reference_part

from rollergen.shape.part import Cap, Part
from rollergen.shape.solid import as_cadquery, build_solid, load_kernel
from rollergen.tooling.mould_numbers import body_named

pytestmark = pytest.mark.benchmark
HERE = Path(__file__).parent
ROUNDS = 5


def timed(work, *arguments) -> float:
    start = perf_counter()
    work(*arguments)
    return perf_counter() - start


def test_description_and_assembly_warm(benchmark):
    """Goals: description 0.1 s, solids with their checks and STEP 0.4 s, all 0.5 s."""
    mould = speed_mould()
    assembly(mould)
    describe = median(timed(speed_mould) for _ in range(ROUNDS))
    write = median(timed(assembly, mould) for _ in range(ROUNDS))
    benchmark.pedantic(assembly, args=(mould,), rounds=1, iterations=1)
    print(
        f"\n{len(mould.bodies)} bodies: described {describe * 1e3:.0f} ms, built, checked, written {write * 1e3:.0f} ms"
    )


def test_sleeve_direct_against_block_minus_body(benchmark):
    load_kernel()
    mould = speed_mould(0.0)
    sleeve = body_named(mould, "cavity_sleeve").part
    build_solid(sleeve, check=False)
    direct = median(timed(lambda: build_solid(sleeve, check=False)) for _ in range(ROUNDS))

    import cadquery as cq

    layout = mould.layout
    outer = replace(
        body_named(mould, "cast_segment").part.sides[0], levels=((layout.low, 0.0), (layout.high, 0.0))
    )
    body = Part(
        name="body",
        sides=(outer,),
        caps=(
            Cap(z=layout.low, up=False, outer=(0, "low")),
            Cap(z=layout.high, up=True, outer=(0, "high")),
        ),
    )
    tool = as_cadquery(build_solid(body, check=False))
    block = cq.Solid.makeCylinder(layout.block_radius, layout.high - layout.low, cq.Vector(0, 0, layout.low))
    cut = benchmark.pedantic(timed, args=(lambda: block.cut(tool),), rounds=1, iterations=1)
    assert cut > 0
    print(
        f"\nsleeve direct {direct * 1e3:.1f} ms, block minus body {cut * 1e3:.0f} ms: {cut / direct:.0f} times"
    )


def test_cold_process_against_a_plain_script(benchmark, tmp_path):
    profile = tmp_path / "speed.toml"
    profile.write_text(PROFILE.format(pitch="650 mm"))
    ours = [
        sys.executable, "-c", "import rollergen.cli.moulds\nfrom rollergen.cli.app import app\napp()",
        "mould", str(profile), "--shrinkage", "1.4 %", "--draft", "0.5 deg", "--out", str(tmp_path / "out"),
    ]  # fmt: skip
    plain = [sys.executable, str(HERE / "plain_mould.py"), str(tmp_path / "plain.step")]

    def seconds(command: list[str]) -> float:
        start = perf_counter()
        done = subprocess.run(command, capture_output=True, text=True)
        assert done.returncode in (0, 3), done.stderr
        return perf_counter() - start

    alone = [sys.executable, str(HERE / "cold_mould.py"), str(tmp_path / "cold.step")]
    commands = (alone, ours, plain)
    for command in commands:
        seconds(command)
    rounds = [
        [seconds(command) for command in commands] for _ in range(ROUNDS)
    ]  # turn about: the machine's speed drifts
    only, mine, theirs = (median(column) for column in zip(*rounds, strict=True))
    benchmark.pedantic(seconds, args=(ours,), rounds=1, iterations=1)
    print(
        f"\ncold: assembly {only:.2f} s, the whole command with one file a part beside it {mine:.2f} s, plain script"
        f" {theirs:.2f} s: {only / theirs:.2f} and {mine / theirs:.2f} of it"
    )
    assert reference_part(83.0).sides
