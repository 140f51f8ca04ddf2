"""The law of the rubber: slopes against differences, limits, frame, and the fit to a table."""

from __future__ import annotations

import numpy as np
import pytest

from rollergen.errors import ProfileError
from rollergen.rubber.law import TURNED, Law, elastic_law, energy, rubber_law, shape_stress
from rollergen.rubber.law_fit import fitted_law

LAWS = [Law(mu=1.84, bulk=92.0), Law(mu=1.1, bulk=600.0, c2=0.3), Law(mu=2.0, bulk=3.0, c2=0.2, c3=0.05)]


def states(count: int = 40) -> np.ndarray:
    F = np.random.default_rng(3).normal(scale=0.25, size=(count, 4)) + [1, 0, 0, 1]
    return F[F[:, 0] * F[:, 3] - F[:, 1] * F[:, 2] > 0.3]


def whole_stress(law: Law, F: np.ndarray) -> np.ndarray:
    stress, _, J = shape_stress(law, F)
    return stress + law.bulk * (J - 1)[:, None] * (F @ TURNED)


@pytest.mark.parametrize("law", LAWS)
def test_the_stress_is_the_slope_of_the_energy(law: Law) -> None:
    F, h = states(), 1e-6
    slope = np.stack([(energy(law, F + h * e) - energy(law, F - h * e)) / (2 * h) for e in np.eye(4)], axis=1)
    assert np.abs(slope - whole_stress(law, F)).max() < 1e-7 * law.bulk


@pytest.mark.parametrize("law", LAWS)
def test_the_tangent_is_the_slope_of_the_stress_and_symmetric(law: Law) -> None:
    F, h = states(), 1e-6
    _, tangent, _ = shape_stress(law, F)
    for column, e in enumerate(np.eye(4)):
        slope = (shape_stress(law, F + h * e)[0] - shape_stress(law, F - h * e)[0]) / (2 * h)
        assert np.abs(slope - tangent[:, :, column]).max() < 1e-7 * np.abs(tangent).max()
    assert np.abs(tangent - tangent.transpose(0, 2, 1)).max() < 1e-13 * np.abs(tangent).max()


def test_turning_the_frame_turns_the_stress() -> None:
    F, c, s = states(), np.cos(0.7), np.sin(0.7)
    Q = np.array([[c, -s], [s, c]])
    turned = (Q @ F.reshape(-1, 2, 2)).reshape(-1, 4)
    wanted = (Q @ whole_stress(LAWS[1], F).reshape(-1, 2, 2)).reshape(-1, 4)
    assert np.abs(whole_stress(LAWS[1], turned) - wanted).max() < 1e-11


@pytest.mark.parametrize(("modulus", "poisson"), [(5.0, 0.2), (0.05, 0.0), (8.0, 0.49)])
def test_small_strain_is_hooke_s_law_in_plane_strain(modulus: float, poisson: float) -> None:
    law, e = elastic_law(modulus, poisson), 1e-6
    stress = whole_stress(law, np.array([[1 + e, 0.0, 0.0, 1.0]]))[0] / e
    lame = modulus * poisson / ((1 + poisson) * (1 - 2 * poisson))
    shear = modulus / (2 * (1 + poisson))
    # the isochoric part is three-dimensional, so this holds in plane strain too
    assert stress[0] == pytest.approx(lame + 2 * shear, rel=1e-4)
    assert stress[3] == pytest.approx(lame, rel=1e-4, abs=1e-5 * modulus)


def test_rubber_of_a_modulus() -> None:
    assert rubber_law(5.52) == Law(mu=5.52 / 3, bulk=50 * 5.52 / 3)


@pytest.mark.parametrize("mu", [0.0, -1.0, float("nan"), float("inf")])
def test_no_law_without_stiffness(mu: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        Law(mu=mu, bulk=1.0)
    with pytest.raises(ValueError, match="Poisson"):
        elastic_law(1.0, 0.5)


def table(mu: float, c2: float, strains: np.ndarray) -> list[tuple[float, float]]:
    stretch = 1 + strains
    stress = 2 * (stretch - stretch**-2) * (mu / 2 + 2 * c2 * (stretch**2 + 2 / stretch - 3))
    return list(zip(strains.tolist(), stress.tolist(), strict=True))


@pytest.mark.parametrize(("mu", "c2"), [(1.84, 0.0), (1.2, 0.08), (2.5, -0.01)])
def test_a_made_table_gives_its_constants_back(mu: float, c2: float) -> None:
    fit = fitted_law(table(mu, c2, np.linspace(0.05, 1.0, 12)))
    assert (fit.mu, fit.c2) == pytest.approx((mu, c2), rel=1e-9, abs=1e-12)
    assert fit.misfit < 1e-12 and fit.strain_to == 1.0 and fit.modulus == pytest.approx(3 * mu)


def test_noise_moves_the_fit_little_and_is_told() -> None:
    strains = np.linspace(0.05, 1.0, 30)
    noise = 1 + 0.02 * np.random.default_rng(1).normal(size=30)
    rough = [(e, s * n) for (e, s), n in zip(table(1.8, 0.05, strains), noise, strict=True)]
    fit = fitted_law(rough)
    assert fit.mu == pytest.approx(1.8, rel=0.03) and 0.005 < fit.misfit < 0.08


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ([(0.1, 0.5), (0.2, 0.9), (0.3, 1.2)], "3 rows are too few"),
        ([(0.05, 1.0), (0.5, 1.1), (1.0, 1.15), (1.5, 1.2), (3.0, 1.21)], "no rubber does that"),
        # so stiff an end over so soft a beginning that the best start is negative, or is missed by far
        ([(0.1, 0.001), (0.2, 0.02), (0.5, 0.8), (1.0, 9.0)], "shear modulus of -"),
        ([(0.1, 1e-4), (0.2, 2e-4), (0.9, 8.0), (1.0, 12.0)], "misses a row by"),
    ],
)
def test_a_table_that_is_no_rubber_is_refused(rows: list[tuple[float, float]], told: str) -> None:
    with pytest.raises(ProfileError, match=told):
        fitted_law(rows)
