"""Grip, its map, a ranking and a trial; run: pytest tests/benchmarks/test_grip_speed.py -m benchmark -s

Goals: map of 360 rotations x 60 diameters 30 ms (helical 150), closed-form size 1 ms, grip cold 0.6 s,
rank of 20 profiles 1.5 s, trial of 200 bodies on 8 rollers for 10 s 60 s.  No time is asserted.
"""

from __future__ import annotations

import subprocess
import sys
from math import pi
from pathlib import Path

import numpy as np
import pytest

from rollergen.shape.section import section_of
from rollergen.shape.touching_mate import Pair
from rollergen.shape.touching_rib import closed_form_size, rib_sides
from rollergen.spec.reading import profile_from_text
from rollergen.spec.schema import starting_profile
from rollergen.study.grip import grip_size
from rollergen.study.grip_map import grip_map
from rollergen.study.trial import TrialItem, TrialRoller, trial

pytestmark = pytest.mark.benchmark

PROFILES = Path(__file__).parents[2] / "profiles"
DUTY = PROFILES / "duties" / "beet-sandy-loam.toml"


def pair(pitch: str) -> Pair:
    profile = profile_from_text(starting_profile().replace("650 mm", pitch))
    (mate,) = profile.mates
    assert profile.ribs is not None and mate.diameter is not None
    return Pair(
        outline=section_of(profile).outer,
        count=profile.ribs.count,
        turn_per_mm=profile.turn_per_mm,
        body_radius=profile.body_radius,
        tip_radius=profile.tip_radius,
        mate_radius=mate.diameter / 2,
        axis_distance=mate.axis_distance,
        speed_ratio=-0.6,
    )


@pytest.mark.parametrize("pitch", ["straight", "650 mm"])
def test_map(benchmark, pitch):
    p = pair(pitch)
    assert benchmark(grip_map, p, np.linspace(2, 75, 60)).friction.shape == (60, 360)


@pytest.mark.parametrize("pitch", ["straight", "650 mm"])
def test_size_by_the_study(benchmark, pitch):
    assert benchmark(grip_size, pair(pitch), 0.5) > 40


def test_size_in_closed_form(benchmark):
    p = pair("straight")
    driving, trailing = rib_sides(p.branches)

    def size():
        return closed_form_size(
            driving, trailing, count=p.count, body_radius=p.body_radius, mate_radius=p.mate_radius,
            axis_distance=p.axis_distance, friction=0.5, speed_ratio=p.speed_ratio,
        )  # fmt: skip

    assert benchmark(size) == pytest.approx(grip_size(p, 0.5))


def cold(words: list[str]) -> None:
    done = subprocess.run([sys.executable, "-m", "rollergen", *words], capture_output=True, text=True)
    assert done.returncode in (0, 3), done.stderr


def test_grip_cold(benchmark):
    words = ["grip", str(PROFILES / "beet-general.toml"), "--duty", str(DUTY)]
    benchmark.pedantic(cold, args=(words,), rounds=5, warmup_rounds=1)


def test_rank_of_20_profiles(benchmark, tmp_path):
    files = []
    for number in range(20):
        file = tmp_path / f"p{number}.toml"
        text = starting_profile().replace('"beet-general"', f'"p{number}"')
        file.write_text(text.replace('height = "8 mm"', f'height = "{7.6 + 0.02 * number:.2f} mm"'))
        files.append(str(file))
    benchmark.pedantic(cold, args=(["rank", *files, "--duty", str(DUTY)],), rounds=3, warmup_rounds=1)


def test_trial_of_200_bodies_on_8_rollers(benchmark):
    p = pair("650 mm")
    speed = -60 * pi / 30
    rollers = [
        TrialRoller(
            outline=p.outline if k % 2 == 0 else None,
            radius=p.tip_radius if k % 2 == 0 else p.mate_radius,
            count=p.count if k % 2 == 0 else 0,
            turn_per_mm=p.turn_per_mm if k % 2 == 0 else 0.0,
            x=k * p.axis_distance,
            rotation_speed=speed if k % 2 == 0 else 0.6 * speed,
        )
        for k in range(8)
    ]
    common = {"share": 0.5, "friction": (0.3, 0.5)}
    fed = [
        TrialItem(name="crop", kind="crop", smallest=52, largest=98, density_kg_m3=1060.0, **common),
        TrialItem(name="stones", kind="debris", smallest=8, largest=40, density_kg_m3=2600.0, **common),
    ]
    report = benchmark.pedantic(trial, args=(rollers, fed), kwargs={"seconds": 10.0, "seed": 1}, rounds=1)
    assert sum(item.count for item in report.items) == 200
