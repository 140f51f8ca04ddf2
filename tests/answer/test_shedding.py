"""Both halves of the shed verdict put together: presets, speeds, hollow against solid, and what is missing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollergen.answer.duty_items import Running
from rollergen.answer.report import draw_profile
from rollergen.answer.shedding import bridging_of, heat_of, mud_of, shed_by, soil_of, soils_compared
from rollergen.answer.surface_flex import greatest_mean, surface_flex
from rollergen.errors import UsageError
from rollergen.spec.duty_presets import preset_rows
from rollergen.spec.reading import read_duty, read_profile
from rollergen.study.arching import tensile_strength
from rollergen.study.bond import SurfaceFlex
from rollergen.study.flex import Presser

FOLDER = Path(__file__).resolve().parents[2] / "profiles"
HOLLOW = read_profile(FOLDER / "beet-general.toml")
SOLID = read_profile(FOLDER / "celeriac-transfer.toml")
LOAM = read_duty(FOLDER / "duties" / "celeriac-stony.toml")
BULBS = read_duty(FOLDER / "duties" / "bulbs-sand.toml")
SLOW = Running(rotation_speed=60 / 9.549296585)
# made up: the solid one is stretched several times less under the same load
GIVES = SurfaceFlex(strain=0.02, curvature_change=0.008, travel=1.6, line_load=0.5, where="hollow")
STIFF = SurfaceFlex(strain=0.003, curvature_change=0.0005, travel=0.2, line_load=0.5, where="solid")
RANK = ("neither", "spin and flex", "spin alone")


def test_a_hollow_roller_sheds_what_a_solid_one_does_not() -> None:  # common practice, no source
    hollow, solid = (shed_by(HOLLOW, LOAM, SLOW, flexed=flexed) for flexed in (GIVES, STIFF))
    assert hollow.leaves_by is not None and solid.leaves_by is not None
    assert hollow.leaves_by[1] == "spin and flex" and solid.leaves_by[1] == "neither"


def test_sand_leaves_by_spin_loam_with_the_flex_and_wet_clay_stays() -> None:
    """What the presets say of mud in the middle of each; their numbers are weak, see how far the ends are apart."""
    drawn = draw_profile(HOLLOW)
    rows = soils_compared(HOLLOW, LOAM, SLOW, flexed=GIVES, section=drawn.section)
    middles = {row.soil: row.leaves_by[1] for row in rows if row.leaves_by is not None}
    assert middles == {"sandy loam": "spin alone", "loam": "spin and flex", "wet clay": "neither"}
    for row in rows:
        assert row.leaves_by is not None
        places = [RANK.index(word) for word in row.leaves_by]
        assert places == sorted(places, reverse=True)
    (own,) = (row for row in rows if row.soil == "loam")  # the duty's soil is that preset
    found = shed_by(HOLLOW, LOAM, SLOW, flexed=GIVES)
    assert (own.leaves_by, own.verdict) == (found.leaves_by, found.verdict)
    assert [row.soil for row in rows] == list(preset_rows("soil"))


@settings(max_examples=60, deadline=None)
@given(rpm=st.floats(5.0, 2000.0), faster=st.floats(1.0, 4.0), strain=st.floats(0.0, 0.03))
def test_higher_speed_always_sheds_more(
    rpm: float, faster: float, strain: float
) -> None:  # common practice, no source
    def places(speed_rpm: float, share: float) -> list[int]:
        flexed = replace(GIVES, strain=strain * share, curvature_change=0.0)
        found = shed_by(
            HOLLOW, LOAM, Running(rotation_speed=speed_rpm / 9.549296585), flexed=flexed
        ).leaves_by
        assert found is not None
        return [RANK.index(word) for word in found]

    plain = places(rpm, 1.0)
    assert all(b >= a for a, b in zip(plain, places(rpm * faster, 1.0), strict=True))
    assert all(b >= a for a, b in zip(plain, places(rpm, faster), strict=True))  # and so does more flex


def test_without_flex_it_is_by_spin_only_and_says_so() -> None:
    found = shed_by(HOLLOW, LOAM, SLOW)
    assert found.bond is None and found.leaves_by is None
    assert found.verdict == found.spin.verdict == "not by spin"
    assert "by spin only" in found.notes[0] and "line_load" in found.notes[0]
    fast = shed_by(HOLLOW, LOAM, Running(rotation_speed=1e4), flexed=STIFF)
    assert fast.leaves_by == ("spin alone",) * 3 and fast.verdict == "spin alone"


def test_a_soil_that_says_too_little_is_told_what_is_missing() -> None:
    assert LOAM.soil is not None
    bare = LOAM.model_copy(update={"soil": LOAM.soil.model_copy(update={"modulus": None, "cohesion": None})})
    found = shed_by(HOLLOW, bare, SLOW, flexed=GIVES)
    assert found.leaves_by is None and "modulus, cohesion" in found.notes[0]
    assert bridging_of(HOLLOW, draw_profile(HOLLOW).section, soil_of(bare), SLOW) is None
    with pytest.raises(UsageError, match=r"no \[soil\]"):
        shed_by(HOLLOW, BULBS, SLOW)


def test_a_strength_that_is_not_given_is_mohr_coulombs() -> None:
    soil = soil_of(LOAM)
    assert soil.cohesion is not None and soil.friction_angle is not None
    mud = mud_of(soil)
    assert mud is not None
    ends = [tensile_strength(c, a) for c, a in zip(soil.cohesion, soil.friction_angle, strict=True)]
    assert mud.strength == (min(ends), max(ends))
    given_ = mud_of(soil.model_copy(update={"strength": (0.03, 0.05), "cohesion": None}))
    assert given_ is not None and given_.strength == (0.03, 0.05)


def test_what_the_flex_costs_needs_a_loss_factor_and_a_flex() -> None:
    drawn = draw_profile(HOLLOW)
    assert heat_of(drawn, SLOW, GIVES)[0] is None and "loss_factor" in heat_of(drawn, SLOW, GIVES)[1]
    lossy = HOLLOW.model_copy(update={"compound": HOLLOW.compound.model_copy(update={"loss_factor": 0.12})})
    drawn = draw_profile(lossy)
    assert heat_of(drawn, SLOW, None)[0] is None
    found, why = heat_of(drawn, SLOW, GIVES)
    assert found is not None and why == ""
    assert found.presses_per_turn == pytest.approx(6)  # one a chamber
    assert heat_of(drawn, SLOW, replace(GIVES, travel=0.0))[0] is None
    solid = SOLID.model_copy(update={"compound": SOLID.compound.model_copy(update={"loss_factor": 0.12})})
    rolled, _ = heat_of(draw_profile(solid), SLOW, STIFF)
    assert rolled is not None and rolled.presses_per_turn > 6


def test_the_slot_to_a_mate_is_its_gaps() -> None:
    found = bridging_of(HOLLOW, draw_profile(HOLLOW).section, soil_of(LOAM), SLOW)
    assert found is not None
    (slot,) = found.slots
    assert slot.slot_mm == pytest.approx((1.2, 9.2))


@given(waves=st.integers(1, 30), half_width=st.floats(0.01, 0.5), shift=st.floats(-3.0, 3.0))
def test_a_mean_over_a_wave_is_that_of_its_integral(waves: int, half_width: float, shift: float) -> None:
    angle = np.random.default_rng(3).permutation(np.linspace(-np.pi, np.pi, 5000, endpoint=False))
    found = greatest_mean(angle, np.cos(waves * (angle - shift)), half_width=half_width)
    reach = waves * half_width
    assert found == pytest.approx(abs(np.sin(reach)) / reach, abs=0.02)
    assert greatest_mean(angle, np.full_like(angle, -0.3), half_width=half_width) == pytest.approx(0.3)


@pytest.mark.slow
def test_a_roller_pressed_by_the_flex_study() -> None:
    """Twice the load stretches more; of one compound, thicker mud feels a solid roller several times less."""
    item = Presser(name="crop", radius=40.0)
    solid = draw_profile(HOLLOW.model_copy(update={"chambers": None}))
    once, twice = (surface_flex(solid, load, item, over=5.0, size=5.0) for load in (0.4, 0.8))
    assert once.line_load == 0.4 and 0 < once.travel < twice.travel
    assert 0 < once.strain < twice.strain and 0 < once.curvature_change < twice.curvature_change
    assert "between ribs" in once.where
    gives = surface_flex(draw_profile(HOLLOW), 0.4, item, over=5.0, size=5.0)
    assert gives.strain > 5 * once.strain and gives.travel > 5 * once.travel
