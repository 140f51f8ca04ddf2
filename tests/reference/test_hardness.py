"""Shore A to Young's modulus: the two fits as tabled, how far they are apart, and where they stop."""

from __future__ import annotations

from math import exp

import pytest

from rollergen.errors import ProfileError
from rollergen.spec.hardness import gent_modulus, log_modulus, modulus_range


@pytest.mark.parametrize(
    ("hardness", "gent"),
    [(50, 2.456), (60, 3.605), (70, 5.521), (80, 9.351), (85, 13.182), (90, 20.844), (95, 43.829)],
)
def test_gent_as_tabled(hardness: float, gent: float):
    # Gent 1958, values worked out independently
    assert gent_modulus(hardness) == pytest.approx(gent, rel=2e-4)


@pytest.mark.parametrize(
    ("hardness", "log"),
    [(60, 5.884), (70, 10.109), (75, 13.250), (80, 17.366), (85, 22.761), (90, 29.833)],
)
def test_log_fit_as_tabled(hardness: float, log: float):
    # log10 E = 0.0235 S - 0.6403; values worked out independently
    assert log_modulus(hardness) == pytest.approx(log, rel=2e-4)


@pytest.mark.parametrize(
    ("hardness", "gent", "log"),
    [(50, 2.46, 3.43), (55, 2.97, 4.49), (60, 3.61, 5.88), (65, 4.43, 7.71), (70, 5.52, 10.11),
     (75, 7.05, 13.25), (80, 9.35, 17.37), (85, 13.18, 22.76), (90, 20.84, 29.83), (95, 43.83, 39.10)],
)  # fmt: skip
def test_both_fits_side_by_side(hardness: float, gent: float, log: float):
    assert gent_modulus(hardness) == pytest.approx(gent, abs=0.006)
    assert log_modulus(hardness) == pytest.approx(log, abs=0.006)


def test_gent_from_the_flat_punch():
    # E = (1 - nu^2) F / (2 a d), 2a = 1.03 mm: mean of the cone's 0.79 and 1.27 mm; A scale: F = 0.549 + 0.07516 S N
    # at depth d = 2.54 mm (100 - S) / 100 (spring of the A scale: value from memory)
    for hardness in (45.0, 60.0, 75.0):
        force, depth = 0.549 + 0.07516 * hardness, 2.54 * (100 - hardness) / 100
        assert gent_modulus(hardness) == pytest.approx(0.75 * force / (1.03 * depth), rel=0.03)


@pytest.mark.parametrize(("hardness", "ratio"), [(70, 1.83), (80, 1.86), (90, 1.43), (95, 0.89)])
def test_how_far_the_fits_are_apart(hardness: float, ratio: float):
    assert log_modulus(hardness) / gent_modulus(hardness) == pytest.approx(ratio, abs=0.006)


def test_a_measured_polyurethane_lies_between_the_fits():
    # 65 A: about 5 MPa, elastic to about 5 % (a supplier's page on cast polyurethane)
    asked = modulus_range(65.0)
    assert asked.low < 5.0 < asked.high and asked.inside


def test_the_log_fit_is_a_power_of_ten():
    # one how-to page takes e to the power instead: 2.7 MPa at 70 A
    assert exp(0.0235 * 70 - 0.6403) == pytest.approx(2.7, abs=0.05)
    assert log_modulus(70) > 3.5 * exp(0.0235 * 70 - 0.6403)


def test_above_80_gent_alone_and_marked():
    at, above = modulus_range(80.0), modulus_range(80.5)
    assert at.inside and at.high == log_modulus(80.0) and at.low == gent_modulus(80.0)
    assert not above.inside and "outside" in above.source
    assert above.low * 4 == pytest.approx(above.high)
    assert above.low * 2 == pytest.approx(gent_modulus(80.5))


def test_below_40_the_range_is_marked_and_still_sorted():
    soft = modulus_range(20.0)
    assert not soft.inside and soft.low == log_modulus(20.0) < soft.high == gent_modulus(20.0)


def test_a_measured_modulus_replaces_the_fits():
    given = modulus_range(97.0, measured=61.0)
    assert (given.low, given.high, given.inside) == (61.0, 61.0, True)


@pytest.mark.parametrize(
    ("hardness", "measured", "says"),
    [(95.0, None, "95 ShoreA"), (99.0, None, "below 95"), (19.0, None, "from 20"), (None, None, "modulus"),
     (70.0, 0.0, "above 0")],
)  # fmt: skip
def test_what_gives_no_modulus_says_why(hardness: float | None, measured: float | None, says: str):
    with pytest.raises(ProfileError, match=says):
        modulus_range(hardness, measured=measured)


@pytest.mark.parametrize("hardness", [0.0, 100.0, -3.0])
def test_off_the_scale(hardness: float):
    with pytest.raises(ValueError, match="Shore A scale"):
        gent_modulus(hardness)
