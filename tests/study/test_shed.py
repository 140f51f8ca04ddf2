"""Shedding by spin: worked values, limits, and what helps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollergen.study.shed import FIGURES, PER_MINUTE, ShedReport, shed, spin_speed, throw_stress

SOIL = {"density_kg_m3": 1700.0, "radius": 56.0}


@pytest.mark.parametrize(
    ("layer", "rpm"),
    [
        (2.0, (143, 198, 250, 501, 697, 1539)),
        (5.0, (131, 156, 183, 327, 446, 966)),
        (10.0, (125, 138, 153, 242, 320, 674)),
    ],
)
def test_worked_values_all_round(layer: float, rpm: tuple[int, ...]) -> None:
    """Worked by hand from the layer's balance: R 56 mm, 1700 kg/m3, adhesion 10 to 5000 Pa."""
    adhesion = np.array([10.0, 50.0, 100.0, 500.0, 1000.0, 5000.0]) * 1e-6
    assert np.allclose(spin_speed(adhesion, layer=layer, **SOIL) * PER_MINUTE, rpm, atol=0.5)


def test_worked_case_with_ring_strength_and_at_the_bottom() -> None:
    def rpm(**more: float) -> float:
        return float(spin_speed(300e-6, layer=6.0, **SOIL, **more)) * PER_MINUTE  # type: ignore[arg-type]

    assert rpm() == pytest.approx(246, abs=0.5)
    assert rpm(tensile=2e-3) == pytest.approx(305, abs=0.5)
    assert rpm(bottom=True) == pytest.approx(174, abs=0.5)


def test_without_adhesion_it_takes_one_g_at_the_layer() -> None:
    omega = float(spin_speed(0.0, layer=6.0, **SOIL))
    assert omega**2 * (56.0 + 3.0) * 1e-3 == pytest.approx(9.80665)
    assert float(spin_speed(0.0, layer=6.0, **SOIL, bottom=True)) == 0.0


def test_centrifugal_stress_of_a_worked_case() -> None:
    """rho 1500, t 5 mm on r 60 mm at 300 rpm: 0.444 kPa by rho t omega^2 r, here at the layer's middle."""
    inner = throw_stress(layer=5.0, density_kg_m3=1500.0, radius=57.5, rotation_speed=300 / PER_MINUTE)
    assert inner * 1e3 == pytest.approx(0.444, abs=5e-4)


@given(
    adhesion=st.floats(1e-6, 0.02), layer=st.floats(0.5, 30.0), radius=st.floats(20.0, 120.0),
    density=st.floats(900.0, 2200.0),
)  # fmt: skip
def test_what_holds_and_what_helps(adhesion: float, layer: float, radius: float, density: float) -> None:
    def at(**changed: float) -> float:
        said = {"adhesion": adhesion, "layer": layer, "radius": radius, "density_kg_m3": density, **changed}
        return float(spin_speed(said.pop("adhesion"), **said))  # type: ignore[arg-type]

    assert at(adhesion=2 * adhesion) > at() > at(bottom=True)
    assert at(radius=1.5 * radius) < at() < at(tensile=0.01)
    omega = at()
    pull = throw_stress(layer=layer, density_kg_m3=density, radius=radius, rotation_speed=omega)
    assert pull * 1e6 == pytest.approx(adhesion * 1e6 + density * 9.80665 * layer * 1e-3, rel=1e-9)


@pytest.mark.parametrize(
    ("rpm", "verdict"), [(100, "not by spin"), (200, "spin where it sticks least"), (400, "spin alone")]
)
def test_higher_speed_sheds_more(rpm: float, verdict: str) -> None:  # common practice, no source
    report = shed(adhesion=(50e-6, 500e-6), layer=5.0, rotation_speed=rpm / PER_MINUTE, **SOIL)
    assert report.verdict == verdict
    assert report.spin_speed_rpm == pytest.approx((156, 327), abs=0.5)


def test_nonsense_is_refused_and_every_number_explained() -> None:
    with pytest.raises(ValueError, match="stands still"):
        shed(adhesion=(0.0, 1e-3), layer=5.0, rotation_speed=0.0, **SOIL)
    for wrong in ({"layer": 0.0}, {"density_kg_m3": 0.0}, {"radius": -1.0}, {"tensile": -1.0}):
        with pytest.raises(ValueError, match="must be above 0"):
            spin_speed(1e-3, **{"layer": 5.0, **SOIL, **wrong})
    with pytest.raises(ValueError, match="must be above 0"):
        spin_speed(-1e-3, layer=5.0, **SOIL)
    assert set(ShedReport.__dataclass_fields__) - {"words"} <= {figure.key for figure in FIGURES}


@given(
    low=st.floats(0.0, 0.005), spread=st.floats(0.0, 0.01), layer=st.floats(0.5, 20.0), rpm=st.floats(1.0, 3000.0),
    faster=st.floats(1.0, 5.0),
)  # fmt: skip
def test_higher_speed_never_sheds_less(
    low: float, spread: float, layer: float, rpm: float, faster: float
) -> None:  # common practice, no source
    def at(speed: float) -> ShedReport:
        return shed(adhesion=(low, low + spread), layer=layer, rotation_speed=speed / PER_MINUTE, **SOIL)

    order = ("not by spin", "spin where it sticks least", "spin alone")
    slow, fast = at(rpm), at(rpm * faster)
    assert order.index(fast.verdict) >= order.index(slow.verdict)
    assert fast.throw_kpa >= slow.throw_kpa and fast.spin_speed_rpm == slow.spin_speed_rpm


def test_the_bottom_of_the_turn_is_told_where_it_helps() -> None:
    held = shed(adhesion=(50e-6, 500e-6), layer=5.0, rotation_speed=100 / PER_MINUTE, **SOIL)
    assert any("bottom of the turn" in word and "sticks least" in word for word in held.words)
    stuck = shed(adhesion=(5e-3, 9e-3), layer=5.0, rotation_speed=100 / PER_MINUTE, **SOIL)
    assert not any("bottom of the turn" in word for word in stuck.words)
