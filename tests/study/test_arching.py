"""Bridging of grooves and slots by wet soil: limits, exact groove sizes, and which rib form clogs least."""

from __future__ import annotations

from math import asin, atan, cos, pi, sin, tau
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollergen.shape.outline import circle
from rollergen.shape.rib import outer_outline
from rollergen.shape.section import section_of
from rollergen.spec.profile import Profile
from rollergen.spec.reading import read_profile
from rollergen.study.arching import (
    FIGURES,
    BridgeReport,
    Groove,
    Slot,
    SlotReport,
    arch_span,
    bridge,
    clogging,
    groove_of,
    held_span,
    tensile_strength,
    unconfined_strength,
)

GENERAL = Path(__file__).resolve().parents[2] / "profiles" / "beet-general.toml"
SOIL = {
    "cohesion": (0.001, 0.004),
    "friction_angle": (0.3, 0.5),
    "adhesion": (2e-4, 6e-4),
    "density_kg_m3": 1430.0,
}
RUN = {"layer": 5.0, "body_radius": 56.0, "rotation_speed": 9.0}


def ribbed(**ribs: object) -> Profile:
    profile = read_profile(GENERAL)
    assert profile.ribs is not None
    return profile.model_copy(update={"ribs": profile.ribs.model_copy(update=ribs)})


def groove(profile: Profile) -> Groove:
    depth = profile.tip_radius - profile.body_radius
    found = groove_of(
        outer_outline(profile), body_radius=profile.body_radius, depth=depth, turn_per_mm=profile.turn_per_mm
    )
    assert found is not None
    return found


def test_without_friction_the_span_is_that_over_a_trapdoor() -> None:
    """Terzaghi: cohesive ground without friction spans 2 c / (rho g)."""
    span = arch_span(unconfined_strength(0.003, 0.0), density_kg_m3=1500.0)
    assert span == pytest.approx(2 * 3000 / (1500 * 9.80665) * 1e3)
    assert span == held_span(0.003, density_kg_m3=1500.0)  # flanks that hold as the soil holds itself


@given(cohesion=st.floats(1e-5, 0.1), angle=st.floats(0.0, 1.2))
def test_strengths_are_those_of_mohr_and_coulomb(cohesion: float, angle: float) -> None:
    """A circle through zero stress that touches the line c + s tan(phi), on the side of push and of pull."""
    for strength, sign in (
        (unconfined_strength(cohesion, angle), 1),
        (tensile_strength(cohesion, angle), -1),
    ):
        middle, radius = sign * strength / 2, strength / 2
        distance = (cohesion + middle * sin(angle) / cos(angle)) * cos(angle)
        assert distance == pytest.approx(radius, rel=1e-9)


@given(strength=st.floats(0.0, 0.1), density=st.floats(500.0, 2500.0), more=st.floats(1.0, 5.0))
def test_weight_and_spin_shorten_and_strength_lengthens_a_span(
    strength: float, density: float, more: float
) -> None:
    plain = arch_span(strength, density_kg_m3=density)
    assert arch_span(strength, density_kg_m3=density, pull_down=9.80665 * more) == pytest.approx(plain / more)
    assert arch_span(strength * more, density_kg_m3=density) == pytest.approx(plain * more)


def test_a_sharp_straight_groove_measured_by_hand() -> None:
    sharp = ribbed(
        tip_radius=0.0,
        root_radius=0.0,
        flank_angle_ahead=0.0,
        flank_angle_behind=0.0,
        helix_pitch=float("inf"),
    )
    found = groove(sharp)
    R, Rt, w, n = 56.0, 64.0, 10.0, 5
    assert found.mouth == pytest.approx(tau * Rt / n - w, rel=1e-9)
    half = Rt * sin(w / (2 * Rt))  # half the rib, the same at tip and body
    assert found.floor == pytest.approx(R * (tau / n - 2 * asin(half / R)), rel=1e-9)
    assert found.depth == 8.0


def test_a_helix_narrows_a_groove_by_the_cosine_of_its_angle() -> None:
    straight, turned = groove(ribbed(helix_pitch=float("inf"))), groove(ribbed(helix_pitch=tau * 56.0))
    assert turned.floor == pytest.approx(straight.floor * cos(pi / 4), rel=1e-9)
    assert straight.mouth * cos(atan(64 / 56)) < turned.mouth < straight.mouth * cos(pi / 4)


@given(start=st.floats(-3.0, 3.0), ahead=st.floats(0.1, 0.4))
def test_turning_or_mirroring_a_roller_changes_no_groove(start: float, ahead: float) -> None:
    plain = groove(ribbed(flank_angle_ahead=ahead, flank_angle_behind=0.25))
    for other in (
        groove(ribbed(flank_angle_ahead=ahead, flank_angle_behind=0.25, start=start)),
        groove(ribbed(flank_angle_ahead=0.25, flank_angle_behind=ahead, hand="left")),
    ):
        assert (other.mouth, other.floor) == pytest.approx((plain.mouth, plain.floor), rel=1e-9)


def test_one_rib_has_one_groove_and_a_sleeve_none() -> None:
    one = groove(ribbed(count=1))
    assert one.mouth > pi * 56 * 0.8
    assert groove_of(circle(50.0, "body"), body_radius=50.0, depth=0.0) is None


def test_few_tall_ribs_bridge_least() -> None:  # common practice, no source
    """4 ribs 6 high, 6 ribs 10 high, 3 ribs 15 high, in one wet soil."""
    margins, filled = [], []
    for count, height in ((4, 6.0), (6, 10.0), (3, 15.0)):
        profile = ribbed(count=count, height=height)
        section_of(profile)  # it can be built
        report = bridge(**SOIL, **RUN, groove=groove(profile))  # type: ignore[arg-type]
        assert report.mouth_over_span is not None and report.filled_share is not None
        margins.append(report.mouth_over_span)
        filled.append(report.filled_share)
    assert margins[2] > max(margins[:2]) and filled[2] < min(filled[:2])


def test_the_lesser_span_counts_and_the_verdict_follows_it() -> None:
    groove_40, slot = Groove(mouth=40.0, floor=20.0, depth=8.0), Slot(mate="m", tip_gap=1.0, body_gap=9.0)
    found = bridge(**SOIL, **RUN, groove=groove_40, slots=(slot,))  # type: ignore[arg-type]
    for n in (0, 1):
        assert found.resting_span_mm[n] == min(found.arch_span_mm[n], found.held_span_mm[n])
        assert found.turning_span_mm[n] == pytest.approx(found.resting_span_mm[n] / found.pull_down_g)
    assert found.pull_down_g == pytest.approx(1 + 9.0**2 * 0.060 / 9.80665)
    assert found.slots == (SlotReport(mate="m", slot_mm=(1.0, 9.0), slot_bridged=(True, True)),)
    assert [clogging(groove_40, span) for span in (10.0, 20.0, 30.0, 40.0)] == [
        "stays open", "stays open", "keeps its root", "bridges"]  # fmt: skip
    assert set(BridgeReport.__dataclass_fields__) - {"slots"} <= {figure.key for figure in FIGURES}


def test_soil_that_holds_nothing_spans_nothing_and_a_sleeve_has_no_verdict() -> None:
    dry = bridge(**{**SOIL, "cohesion": (0.0, 0.0)}, **RUN, groove=Groove(mouth=40.0, floor=20.0, depth=8.0))  # type: ignore[arg-type]
    assert dry.turning_span_mm == (0.0, 0.0)
    assert dry.mouth_over_span is None and dry.groove_verdict == ("stays open", "stays open")
    bare = bridge(**SOIL, **RUN, groove=None)  # type: ignore[arg-type]
    assert bare.groove_verdict is None and bare.groove_mouth_mm is None and bare.filled_share is None


def test_nonsense_is_refused() -> None:
    for cohesion, angle in ((-1.0, 0.3), (0.001, -0.1), (0.001, pi / 2)):
        for strength in (unconfined_strength, tensile_strength):
            with pytest.raises(ValueError, match="cohesion"):
                strength(cohesion, angle)
    for wrong in ({"density_kg_m3": 0.0}, {"pull_down": 0.0}):
        with pytest.raises(ValueError, match="above 0"):
            arch_span(0.001, **{"density_kg_m3": 1500.0, **wrong})
    with pytest.raises(ValueError, match="0 or more"):
        held_span(-0.001, density_kg_m3=1500.0)
