"""EN 10059 hot-rolled square bars (industry association's article on Table 2) and EN 10278 bright bars."""

from __future__ import annotations

import pytest

from rollergen.spec.tolerances import LARGEST_TWIST_DEG, bright_square, fit_deviations, hot_rolled_square


@pytest.mark.parametrize(
    ("side", "plus_minus", "radius"),
    [
        (8, 0.4, 1.0), (12, 0.4, 1.0), (14, 0.4, 1.5), (15, 0.5, 1.5), (20, 0.5, 1.5), (25, 0.5, 2.0),
        (26, 0.6, 2.0), (30, 0.6, 2.0), (35, 0.6, 2.5), (40, 0.8, 2.5), (45, 0.8, 2.5), (50, 0.8, 2.5),
        (55, 1.0, 3.0), (90, 1.0, 3.0),
    ],
)  # fmt: skip
def test_hot_rolled(side: float, plus_minus: float, radius: float):
    # 40 and 45 mm squares are common practice for such shafts (no source); they must have a row
    bar = hot_rolled_square(side)
    assert (bar.side_tolerance, bar.corner_radius) == (plus_minus, radius)


@pytest.mark.parametrize("side", [7.9, 14.5, 36, 38, 52, 91, float("nan")])
def test_sizes_without_a_row_are_refused(side: float):
    with pytest.raises(ValueError, match="EN 10059 has no row"):
        hot_rolled_square(side)


def test_twist_is_stated_from_14_to_50():
    assert hot_rolled_square(14).twist_deg_per_m == 3.0
    assert hot_rolled_square(50).twist_deg_per_m == 3.0
    assert hot_rolled_square(12).twist_deg_per_m is None
    assert hot_rolled_square(55).twist_deg_per_m is None
    assert LARGEST_TWIST_DEG == 18.0


@pytest.mark.parametrize(
    ("side", "h9", "h11"),
    [(30, -0.052, -0.13), (40, -0.062, -0.16), (50, -0.062, -0.16), (60, -0.074, -0.19), (80, -0.074, -0.19)],
)
def test_bright_bar_is_iso_286_h(side: float, h9: float, h11: float):
    # EN 10278 through a steel stockist's table
    assert bright_square(side, "h9") == pytest.approx((h9, 0.0))
    assert bright_square(side, "h11") == pytest.approx((h11, 0.0))
    assert bright_square(side, "h9") == fit_deviations(side, "h9")
