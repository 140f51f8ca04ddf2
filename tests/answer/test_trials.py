"""A bed fed several times: mean, error, and the bed's rollers as the trial needs them."""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest

from rollergen.answer.duty_items import Running, running_of
from rollergen.answer.trials import Spread, bodies_for, rollers_for, spread, trials
from rollergen.spec.reading import read_bed, read_duty
from rollergen.study.trial import TrialItem, TrialRoller

PROFILES = Path(__file__).parents[2] / "profiles"


def smooth(*, apart: float, speeds: tuple[float, ...], radius: float = 46.0) -> list[TrialRoller]:
    return [TrialRoller(radius=radius, x=k * apart, rotation_speed=w) for k, w in enumerate(speeds)]


def item(smallest: float, largest: float, count: int, **changes: object) -> TrialItem:
    said = {"name": "crop", "kind": "crop", "friction": (0.5, 0.5), "density_kg_m3": 1050.0, **changes}
    return TrialItem(smallest=smallest, largest=largest, count=count, **said)


def test_spread_is_the_standard_error_and_binomial_for_one_seed():
    assert spread([4, 6, 8], 10).mean == 6.0
    assert spread([4, 6, 8], 10).error == pytest.approx(2.0 / sqrt(3))
    assert spread([5], 10) == Spread(mean=5.0, error=sqrt(10) / 2)
    assert spread([0], 8).error == pytest.approx(sqrt(8 * 0.1 * 0.9))


def test_several_seeds_give_mean_and_error():
    bed, fed = smooth(apart=112.0, speeds=(-3.0, -3.0)), [item(8.0, 60.0, 6)]
    report = trials(bed, fed, seconds=0.5, seeds=(1, 2))
    counts = [r.items[0].fell for r in report.reports]
    assert len(set(counts)) > 1 or report.items[0].fell.error == 0.0
    assert report.items[0].fell == spread(counts, 6) and report.seeds == (1, 2)
    assert any("can" in note and "does" in note for note in report.notes)
    with pytest.raises(ValueError, match="must be given and differ"):
        trials(bed, fed, seconds=1.0, seeds=(1, 1))


@pytest.mark.parametrize("path", sorted((PROFILES / "beds").glob("*.toml")), ids=lambda p: p.stem)
def test_every_bed_can_be_tried_and_carries_the_crop_forward(path: Path) -> None:
    rollers = rollers_for(read_bed(path), Running(rotation_speed=6.0, mate_speed_ratio=-0.6))
    ribbed = [r for r in rollers if r.outline is not None]
    assert ribbed and len(rollers) >= 2
    assert all(r.rotation_speed < 0 for r in ribbed)  # clockwise: tops go to +x, where the crop goes


@pytest.mark.parametrize("path", sorted((PROFILES / "duties").glob("*.toml")), ids=lambda p: p.stem)
def test_bodies_of_a_duty_share_one_feed(path: Path) -> None:
    duty = read_duty(path)
    bodies = bodies_for(duty)
    assert bodies[0].kind == "crop" and bodies[0].name == duty.crop.name
    assert sum(b.share or 0.0 for b in bodies) == pytest.approx(1.0)
    assert running_of(duty).rotation_speed > 0
