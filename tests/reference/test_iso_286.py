"""ISO 286-1/-2 over 18 to 80 mm: two public tables, an extract of DIN ISO 286-2 and an open package agree."""

from __future__ import annotations

from math import sqrt

import pytest

from rollergen.spec.tolerances import FitClass, fit_deviations, standard_tolerance


@pytest.mark.parametrize(
    ("size", "widths"),
    [
        (30, (0.013, 0.021, 0.033, 0.052, 0.084, 0.130)),
        (30.01, (0.016, 0.025, 0.039, 0.062, 0.100, 0.160)),
        (50, (0.016, 0.025, 0.039, 0.062, 0.100, 0.160)),
        (80, (0.019, 0.030, 0.046, 0.074, 0.120, 0.190)),
    ],
)
def test_grades_and_the_band_rule(size: float, widths: tuple[float, ...]):
    # over a, up to AND INCLUDING b: 30 mm is in 18-30, 30.01 mm is not
    assert tuple(standard_tolerance(size, g) for g in ("6", "7", "8", "9", "10", "11")) == pytest.approx(
        widths
    )


@pytest.mark.parametrize(("low", "high"), [(18, 30), (30, 50), (50, 80)])
def test_grades_follow_the_standard_factor(low: float, high: float):
    # i = 0.45 D^(1/3) + 0.001 D um at D = sqrt(a b); IT9 = 40 i, IT11 = 100 i
    # (the standard rounds in its own way)
    D = sqrt(low * high)
    i = 0.45 * D ** (1 / 3) + 0.001 * D
    assert standard_tolerance(high, "9") * 1000 == pytest.approx(40 * i, rel=0.01)
    assert standard_tolerance(high, "11") * 1000 == pytest.approx(100 * i, rel=0.03)


def clearance(size: float, hole: FitClass, shaft: FitClass) -> tuple[float, float]:
    (hole_low, hole_high), (shaft_low, shaft_high) = fit_deviations(size, hole), fit_deviations(size, shaft)
    return round((hole_low - shaft_high) * 1000), round((hole_high - shaft_low) * 1000)


@pytest.mark.parametrize(
    ("size", "hole", "shaft", "least", "most"),
    [
        (35, "H11", "h9", 0, 222),
        (35, "H11", "h11", 0, 320),
        (35, "H11", "c11", 120, 440),
        (35, "H11", "d9", 80, 302),
        (36, "H7", "g6", 9, 50),
    ],
)
def test_fits(size: float, hole: FitClass, shaft: FitClass, least: int, most: int):
    assert clearance(size, hole, shaft) == (least, most)


def test_c11_changes_inside_the_bands():
    assert fit_deviations(40, "c11")[1] == pytest.approx(-0.120)
    assert fit_deviations(40.01, "c11")[1] == pytest.approx(-0.130)
    assert fit_deviations(65, "c11")[1] == pytest.approx(-0.140)
    assert fit_deviations(65.01, "c11")[1] == pytest.approx(-0.150)


def test_a_shaft_of_class_h_is_never_larger_than_nominal():
    # one public table prints h8 of 30-50 as "0.039/+0" (sign lost): not taken
    for fit in ("h9", "h11"):
        low, high = fit_deviations(40, fit)
        assert low < 0 and high == 0.0


@pytest.mark.parametrize("size", [18, 80.01, 0, -1, float("nan")])
def test_outside_the_table_is_refused(size: float):
    with pytest.raises(ValueError, match="ISO 286 has no row"):
        fit_deviations(size, "h9")
