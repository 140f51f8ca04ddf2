"""ISO 3302-1:2014, Table 1: tolerances of mouldings (numbers agree in four public pages)."""

from __future__ import annotations

from itertools import pairwise
from typing import get_args

import pytest

from rollergen.spec.tolerances import Dimension, MouldClass, moulding_tolerance

SIZES = [0.5, 4, 4.01, 6.3, 10, 16, 25, 40, 63, 100, 100.01, 130, 160]


@pytest.mark.parametrize(
    ("size", "grade", "dimension", "value"),
    [
        (4, "M1", "fixed", 0.08),
        (4, "M2", "fixed", 0.10),  # one page prints .20 here: not taken
        (6.3, "M2", "closure", 0.20),
        (16, "M3", "closure", 0.60),
        (25, "M1", "closure", 0.20),
        (63, "M2", "closure", 0.50),
        (63.01, "M2", "closure", 0.70),
        (112, "M3", "fixed", 1.30),
        (160, "M3", "fixed", 1.30),
        (160, "M4", "closure", 2.50),
        (160.01, "M3", "fixed", 1.28008),  # 0.8 %: the table steps DOWN at 160
        (200, "M1", "closure", 0.8),
        (1000, "M4", "fixed", 15.0),
    ],
)
def test_values(size: float, grade: MouldClass, dimension: Dimension, value: float):
    assert moulding_tolerance(size, grade, dimension) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("dimension", get_args(Dimension))
def test_tolerance_grows_with_size_up_to_160_and_with_class(dimension: Dimension):
    for grade in get_args(MouldClass):
        row = [moulding_tolerance(size, grade, dimension) for size in SIZES]
        assert all(small <= large for small, large in pairwise(row))
    for size in [*SIZES, 161, 300]:
        column = [moulding_tolerance(size, grade, dimension) for grade in get_args(MouldClass)]
        assert all(fine < coarse for fine, coarse in pairwise(column))


def test_closure_is_never_finer_than_fixed():
    for size in [*SIZES, 200]:
        for grade in get_args(MouldClass):
            assert moulding_tolerance(size, grade, "closure") >= moulding_tolerance(size, grade, "fixed")


@pytest.mark.parametrize("size", [0.0, -1.0, float("nan")])
def test_no_size_no_tolerance(size: float):
    with pytest.raises(ValueError, match="ISO 3302-1 has no row"):
        moulding_tolerance(size, "M3", "fixed")
