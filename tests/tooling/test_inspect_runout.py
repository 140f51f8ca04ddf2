"""Total runout as a dial reads it: of an oval, a bow, a shift, a tilt and lobes, each in closed form."""

from __future__ import annotations

from collections.abc import Callable
from math import pi, tau

import numpy as np
import pytest
from numpy.typing import NDArray
from scan_case import profile_with

from rollergen.answer.unclassed import runout_feature
from rollergen.shape.section import section_of
from rollergen.tooling.part_features import Reading
from rollergen.tooling.scan_runout import runout_of
from rollergen.tooling.scan_surfaces import surfaces_of
from rollergen.tooling.section_fit import PLACE, Measured

Floats = NDArray[np.float64]
PROFILE = profile_with()
SURFACES = surfaces_of(PROFILE, section_of(PROFILE))
R, HALF = 59.0, 76.0


def axis(x: float = 0.0, tilt_x: float = 0.0) -> Measured:
    value = dict.fromkeys(PLACE, 0.0) | {"radius": R, "x": x, "tilt_x": tilt_x}
    return Measured(value=value, error=dict.fromkeys(value, 1e-5), spread=1e-3, points=5000)


def read(
    change: Callable[[Floats, Floats], Floats],
    *,
    outer: Measured | None = None,
    bore: Measured | None = None,
    turn: float = 0.0,
    seen: float = tau,
) -> Reading:
    """The runout of a body of radius R + ``change(angle, t)`` mm, t from -1 to 1 along the length."""
    angle, z = (g.ravel() for g in np.meshgrid(np.arange(0, seen, tau / 180), np.linspace(0, 2 * HALF, 77)))
    r = R + change(angle, z / HALF - 1)
    q = np.column_stack([r * np.cos(angle + turn), r * np.sin(angle + turn), z])
    found = runout_of(q, np.full(len(q), "body"), outer or axis(), bore or axis(), SURFACES, (None, None))
    assert found is not None
    return found


@pytest.mark.parametrize("turn", [0.0, 0.7])
@pytest.mark.parametrize(
    ("change", "size", "within"),
    [
        (lambda a, t: 0 * a, 0.0, 1e-6),
        (lambda a, t: 0.5 * np.cos(2 * a), 1.0, 0.01),  # oval about a good bore
        (lambda a, t: 0.5 * np.cos(a) * (1 - t * t), 1.0, 0.01),  # bowed, most at mid length
        (lambda a, t: 0.4 * np.cos(a), 0.8, 0.01),
        (lambda a, t: 0.4 * np.cos(a) * t, 0.8, 0.01),
        (lambda a, t: 0.6 * t, 0.0, 0.001),  # a taper runs true
        (lambda a, t: 0.5 * np.cos(3 * a), 1.0, 0.01),  # three lobes, of a chuck
        (
            lambda a, t: 0.3 * np.cos(a) + 0.3 * np.cos(2 * a),
            0.9375,
            0.01,
        ),  # from 0.6 at 0 deg to -0.3375 where cos a = -1/4
    ],
)
def test_runout_is_greatest_less_least_radius(
    change: Callable[[Floats, Floats], Floats], size: float, within: float, turn: float
) -> None:
    assert read(change, turn=turn).value == pytest.approx(size, abs=within)


def test_a_bore_off_or_aslant_runs_out_by_twice_as_much_at_its_worse_end() -> None:
    assert read(lambda a, t: 0 * a, bore=axis(x=0.3)).value == pytest.approx(0.6, abs=0.01)
    tilted = read(lambda a, t: 0 * a, bore=axis(x=0.1, tilt_x=0.4 / HALF))
    assert tilted.value == pytest.approx(1.0, abs=0.015)


def test_half_a_turn_counts_the_rest_as_round() -> None:
    """Across +y only 0.4 mm of a shift along x would be seen as 0.8; along x it is twice the offset."""
    half = read(lambda a, t: 0 * a, bore=axis(x=0.4), turn=-pi / 2, seen=pi)
    assert half.value == pytest.approx(0.8, abs=0.01)


def test_ribs_do_not_count() -> None:
    angle, z = (g.ravel() for g in np.meshgrid(np.arange(0, tau, tau / 180), np.linspace(0, 152, 77)))
    rib = np.cos(5 * angle) > 0.8
    r = np.where(rib, R + 9, R)
    q = np.column_stack([r * np.cos(angle), r * np.sin(angle), z])
    names = np.where(rib, "tip", "body")
    found = runout_of(q, names, axis(), axis(), SURFACES, (None, None))
    assert found is not None and found.value == pytest.approx(0.0, abs=1e-6)
    assert runout_of(q, np.full(len(q), "tip"), axis(), axis(), SURFACES, (None, None)) is None


@pytest.mark.parametrize(
    ("value", "error", "limit", "verdict"),
    [
        (0.5, 0.01, 0.5, "pass"),
        (0.3 + 0.2 + 1e-12, 0.01, 0.5, "pass"),
        (0.51, 0.01, 0.5, "fail"),
        (0.2, 0.2, 0.5, "not seen"),
        (0.7, 0.2, 0.5, "fail"),
        (0.7, 0.2, None, "no limit"),
    ],
)
def test_a_runout_passes_only_where_it_is_known(
    value: float, error: float, limit: float | None, verdict: str
) -> None:
    assert runout_feature(Reading(value=value, error=error, points=1), limit).verdict == verdict
    assert runout_feature(None, limit).verdict == "not seen"
