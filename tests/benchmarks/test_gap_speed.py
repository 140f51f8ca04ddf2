"""How long a gap takes: 1e6 samples, one phase of a ribbed pair, a whole cycle, a cold verdict."""

from __future__ import annotations

import subprocess
import sys
from math import pi, tau
from pathlib import Path

import numpy as np
import pytest

from rollergen.shape.roller_pair import RibbedRoller, RollerPair, pair_of
from rollergen.shape.section import section_of
from rollergen.spec.reading import profile_from_text
from rollergen.study.clearance import clearance_at, ribbed_gap
from rollergen.study.gap import gap_pattern

pytestmark = pytest.mark.benchmark

START = Path(__file__).parents[2] / "rollergen" / "spec" / "starting.toml"


def pair(axis_distance: float) -> RollerPair:
    def segment(hand: str) -> RibbedRoller:
        text = START.read_text().replace('hand = "right"', f'hand = "{hand}"').replace("650 mm", "150 mm")
        profile = profile_from_text(text)
        return RibbedRoller(
            outline=section_of(profile).outer,
            count=5,
            turn_per_mm=profile.turn_per_mm,
            length=profile.body.free_length,
            body_radius=profile.body_radius,
            tip_radius=profile.tip_radius,
        )

    return pair_of(segment("right"), segment("left"), axis_distance=axis_distance)


def test_map_of_a_million_samples(benchmark):  # goal 50 ms warm
    profile = profile_from_text(START.read_text())
    outline = section_of(profile).outer
    z, rotation = np.linspace(0, 150, 1000), np.linspace(0, tau, 1000)
    gap = benchmark(
        gap_pattern,
        outline,
        count=5,
        turn_per_mm=profile.turn_per_mm,
        axis_distance=110.2,
        mate_radius=45.0,
        z=z,
        rotation=rotation,
    )
    assert gap.shape == (1000, 1000)


def test_clearance_of_a_ribbed_pair_at_one_phase(benchmark):  # goal 0.2 s
    assert benchmark(clearance_at, pair(129.5), 0.3, pi - 0.25).gap > 1.0


def test_worst_of_a_whole_cycle(benchmark):
    assert benchmark(ribbed_gap, pair(126.0), phase=0.1, speed_ratio=1.0).least > -2.0


def test_cold_verdict(benchmark):  # goal 0.5 s, the command line's own start not counted
    code = (
        "from rollergen.spec.reading import read_profile; from rollergen.shape.section import section_of;"
        "from rollergen.answer.gap_verdict import check_gap;"
        f"p = read_profile({str(START)!r}); print(check_gap(p, section_of(p))[0].tip_gap_mm)"
    )
    out = benchmark.pedantic(
        lambda: subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True),
        rounds=3,
    )
    assert float(out.stdout) == pytest.approx(1.2)
