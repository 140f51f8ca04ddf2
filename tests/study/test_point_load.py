"""The point load estimate against its closed form, its limits and a numerical beam."""

from __future__ import annotations

import numpy as np
import pytest

from rollergen.study.point_load import point_load

# strip 42 x 7, k 0.25, E 5.5: 1/lambda 18 mm, K 9 N/mm (worked by hand from Hetenyi's formula)
CASE = {"line_stiffness": 0.25, "modulus": 5.5, "width": 42.0, "wall": 7.0, "length": 150.0}


def test_the_worked_case() -> None:
    found = point_load(**CASE)
    assert found.spread_length_mm == pytest.approx(18.0, abs=0.1)
    assert found.point_stiffness_n_mm == pytest.approx(9.0, abs=0.05)
    assert found.end_point_stiffness_n_mm == pytest.approx(found.point_stiffness_n_mm / 4, rel=1e-12)
    assert "shorter" not in found.point_load_words


def _beam(*, at_end: bool) -> float:
    """Stiffness of a long beam of Hermite elements on the same bed: an independent solve."""
    k, EI, h, count = 0.25, 5.5 * 42 * 7**3 / 12, 1.0, 400
    bend = EI / h**3 * np.array(
        [[12, 6 * h, -12, 6 * h], [6 * h, 4 * h**2, -6 * h, 2 * h**2],
         [-12, -6 * h, 12, -6 * h], [6 * h, 2 * h**2, -6 * h, 4 * h**2]]
    )  # fmt: skip
    bed = k * h / 420 * np.array(
        [[156, 22 * h, 54, -13 * h], [22 * h, 4 * h**2, 13 * h, -3 * h**2],
         [54, 13 * h, 156, -22 * h], [-13 * h, -3 * h**2, -22 * h, 4 * h**2]]
    )  # fmt: skip
    K = np.zeros((2 * count + 2,) * 2)
    for element in range(count):
        here = slice(2 * element, 2 * element + 4)
        K[here, here] += bend + bed
    load = np.zeros(2 * count + 2)
    place = 0 if at_end else count
    load[place] = 1.0
    return float(1 / np.linalg.solve(K, load)[place])


@pytest.mark.parametrize("at_end", [False, True])
def test_a_beam_of_elements_on_the_same_bed_agrees(at_end: bool) -> None:
    found = point_load(**CASE)
    wanted = found.end_point_stiffness_n_mm if at_end else found.point_stiffness_n_mm
    assert _beam(at_end=at_end) == pytest.approx(wanted, rel=1e-4)


def test_stiffer_wall_and_bed_are_stiffer_and_power_laws_hold() -> None:
    one = point_load(**CASE)
    assert point_load(**CASE | {"modulus": 16 * 5.5}).point_stiffness_n_mm == pytest.approx(
        2 * one.point_stiffness_n_mm
    )
    assert point_load(**CASE | {"line_stiffness": 4.0}).point_stiffness_n_mm == pytest.approx(
        8 * one.point_stiffness_n_mm
    )
    assert "shorter than 57 mm" in point_load(**CASE | {"length": 50.0}).point_load_words


@pytest.mark.parametrize("key", list(CASE))
def test_nothing_at_or_below_zero(key: str) -> None:
    with pytest.raises(ValueError, match="above 0"):
        point_load(**CASE | {key: 0.0})
