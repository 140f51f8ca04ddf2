"""The flex that breaks the bond: worked values, limits, integrals, and what helps."""

from __future__ import annotations

from dataclasses import replace
from math import inf, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollergen.study.bond import (
    FIGURES,
    THICKEST,
    BondReport,
    Mud,
    SurfaceFlex,
    Wall,
    break_bond,
    critical_strain,
    film_energy,
    inertial_bound,
    middle_of,
    plane_modulus,
    released_energy,
    stored_ends,
)

FLEX = SurfaceFlex(strain=0.02, curvature_change=0.01, travel=1.5, line_load=0.5, where="over a chamber")
MUD = Mud(modulus=(0.5, 4.0), bond_energy=(5e-5, 2e-4), strength=(0.005, 0.02))
strains = st.floats(-0.1, 0.1)
bends = st.floats(-0.03, 0.03)


@pytest.mark.parametrize(
    ("layer", "modulus", "bond_energy", "percent"),
    [(2.0, 1.0, 2e-4, 1.3), (5.0, 1.0, 2e-4, 0.82), (10.0, 1.0, 2e-4, 0.58), (5.0, 0.1, 2e-4, 2.6), (5.0, 1.0, 1e-3, 1.8)],
)  # fmt: skip
def test_worked_critical_strains(layer: float, modulus: float, bond_energy: float, percent: float) -> None:
    """Worked by hand: nu 0.4, 0.2 and 1 J/m2 on 2, 5 and 10 mm."""
    found = critical_strain(bond_energy=bond_energy, layer=layer, modulus=modulus)
    assert found * 100 == pytest.approx(percent, abs=0.05)


def test_at_the_critical_strain_a_layer_releases_just_its_bond() -> None:
    strain = critical_strain(bond_energy=2e-4, layer=5.0, modulus=1.0)
    at = released_energy(strain=strain, curvature_change=0.0, layer=5.0, modulus=1.0)
    assert at == pytest.approx(2e-4, rel=1e-12)


@given(strain=strains, bend=bends, layer=st.floats(0.5, 20.0), modulus=st.floats(0.1, 10.0))
def test_without_a_limit_of_strength_it_is_the_closed_form(
    strain: float, bend: float, layer: float, modulus: float
) -> None:
    middle = strain + bend * layer / 2
    wanted = plane_modulus(modulus) / 2 * (layer * middle**2 + layer**3 * bend**2 / 12)
    found = released_energy(strain=strain, curvature_change=bend, layer=layer, modulus=modulus)
    assert found == pytest.approx(wanted, rel=1e-6, abs=1e-15)


@given(strain=strains, bend=bends, layer=st.floats(0.5, 20.0), strength=st.floats(0.0, 0.05))
def test_with_one_it_is_the_integral_over_the_fibres(
    strain: float, bend: float, layer: float, strength: float
) -> None:
    E = plane_modulus(1.3)
    y = (np.arange(20000) + 0.5) * layer / 20000
    stress = np.minimum(E * np.abs(strain + bend * y), strength)
    wanted = float(np.mean(stress**2) * layer / (2 * E))
    found = released_energy(strain=strain, curvature_change=bend, layer=layer, modulus=1.3, strength=strength)
    assert found == pytest.approx(wanted, rel=1e-4, abs=1e-12)


def test_far_beyond_its_strength_mud_stores_no_more() -> None:
    most = 0.01**2 * 5.0 / (2 * plane_modulus(1.0))
    for strain in (0.05, 0.5):
        found = released_energy(strain=strain, curvature_change=0.0, layer=5.0, modulus=1.0, strength=0.01)
        assert found == pytest.approx(most, rel=1e-12)


@given(strain=st.floats(1e-4, 0.1), layer=st.floats(0.5, 20.0))
def test_the_steady_film_form_says_the_same(strain: float, layer: float) -> None:
    """Hutchinson and Suo 1992: G = (1 - nu^2) s^2 h / (2 E), with the stress of a film held along the roller."""
    stress = plane_modulus(2.0) * strain
    wanted = film_energy(stress=stress, layer=layer, modulus=2.0)
    found = released_energy(strain=strain, curvature_change=0.0, layer=layer, modulus=2.0)
    assert found == pytest.approx(wanted, rel=1e-9)


@given(strain=strains, bend=bends, strength=st.floats(1e-4, 0.05))
def test_mirroring_the_flex_and_pressing_harder(strain: float, bend: float, strength: float) -> None:
    def of(factor: float) -> float:
        return released_energy(
            strain=factor * strain, curvature_change=factor * bend, layer=4.0, modulus=1.0, strength=strength
        )

    assert of(-1) == pytest.approx(of(1), rel=1e-9, abs=1e-18)
    assert of(1.5) >= of(1) * (1 - 1e-9)


def test_a_free_wall_springs_back_as_worked() -> None:
    """k 0.25 N/mm per mm, wall 42 x 7 at 1130 kg/m3, 6 mm mud at 1700: 91 Hz, 6.7 kPa at 2 mm."""
    flexed = replace(FLEX, travel=2.0, line_load=0.5)
    wall = Wall(thickness=7.0, width=42.0, density_kg_m3=1130.0)
    found = inertial_bound(flexed, layer=6.0, density_kg_m3=1700.0, wall=wall)
    assert found is not None
    assert found[0] * 1e3 == pytest.approx(6.7, abs=0.05) and found[1] == pytest.approx(91, abs=0.5)
    assert inertial_bound(replace(flexed, travel=0.0), layer=6.0, density_kg_m3=1700.0, wall=wall) is None


def test_a_report_holds_together() -> None:
    report = break_bond(FLEX, MUD, layer=5.0, density_kg_m3=1430.0, wall=None)
    easy, middle, hard = report.mud_energy_j_m2
    assert easy >= middle >= hard > 0
    assert report.bond_broken == tuple(
        g >= b for g, b in zip(report.mud_energy_j_m2, report.bond_energy_j_m2, strict=True)
    )
    assert report.bond_energy_j_m2 == pytest.approx((0.05, 0.1, 0.2))
    assert report.own_strain == pytest.approx(0.01 / plane_modulus(sqrt(2.0)))
    assert report.inertial_kpa is None and report.wall_frequency_hz is None
    assert set(BondReport.__dataclass_fields__) <= {figure.key for figure in FIGURES}


def test_the_thinnest_layer_that_peels_just_peels() -> None:
    report = break_bond(FLEX, MUD, layer=5.0, density_kg_m3=1430.0, wall=None)
    for thin, end in ((report.flex_layer_mm[0], 0), (report.flex_layer_mm[1], 1)):
        assert thin is not None
        asked, stored = MUD.bond_energy[end], stored_ends(FLEX, MUD, thin)[2 * end]
        assert asked <= stored <= 1.01 * asked
    still = replace(FLEX, strain=0.0, curvature_change=0.0)
    assert break_bond(still, MUD, layer=5.0, density_kg_m3=1430.0, wall=None).flex_layer_mm == (None, None)
    free = replace(MUD, bond_energy=(0.0, 1.0))
    assert break_bond(FLEX, free, layer=5.0, density_kg_m3=1430.0, wall=None).flex_layer_mm[0] == 0.01
    assert stored_ends(FLEX, free, THICKEST)[2] < 1.0


@given(strain=st.floats(0.0, 0.05), more=st.floats(1.0, 4.0), layer=st.floats(0.5, 20.0))
def test_more_flex_and_thicker_mud_peel_no_less(strain: float, more: float, layer: float) -> None:
    def stored(share: float, thick: float) -> tuple[float, float, float]:
        return stored_ends(replace(FLEX, strain=strain * share, curvature_change=0.01 * share), MUD, thick)

    pairs = zip(stored(1.0, layer), stored(more, layer), stored(1.0, more * layer), strict=True)
    assert all(
        stretched >= plain * (1 - 1e-9) and thick >= plain * (1 - 1e-9) for plain, stretched, thick in pairs
    )


def test_the_middle_of_a_range() -> None:
    assert middle_of((1.0, 100.0)) == pytest.approx(10.0)
    assert middle_of((0.0, 4.0)) == 2.0


def test_nonsense_is_refused() -> None:
    good = {"strain": 0.01, "curvature_change": 0.0, "layer": 5.0, "modulus": 1.0}
    for wrong in ({"layer": 0.0}, {"modulus": 0.0}, {"strength": -1.0}, {"poisson": 0.6}, {"layer": inf}):
        with pytest.raises(ValueError, match="above 0"):
            released_energy(**{**good, **wrong})
    for key in ("strain", "curvature_change", "travel", "line_load"):
        for value in (-0.1, float("nan"), inf):
            with pytest.raises(ValueError, match="0 or more"):
                replace(FLEX, **{key: value})
