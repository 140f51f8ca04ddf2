"""Smallest sizes that standards let through, as presets; each with its mark.

UNECE FFV-25 onions (exporter page quoting it), FFV-10 carrots and FFV-52 potatoes (values from memory),
South Africa R364 part II no. 4 beetroot (law text), USA 7 CFR 51.3410 processing potatoes (law text).
"""

from __future__ import annotations

import pytest

from rollergen.spec.duty_presets import preset_rows
from rollergen.spec.units import parse_length, parse_pressure


@pytest.mark.parametrize(
    ("name", "least", "mark"),
    [
        ("onion", 10.0, "T"),
        ("early carrot", 10.0, "M"),
        ("main crop carrot", 20.0, "M"),
        ("early potato", 28.0, "M"),
        ("ware potato", 35.0, "M"),
        ("beetroot", 40.0, "T"),
        ("processing potato No. 1", 50.8, "T2"),
        ("processing potato No. 2", 38.1, "T2"),
    ],
)
def test_least_permitted_sizes(name: str, least: float, mark: str) -> None:
    row = preset_rows("crop")[name]["least_permitted"]
    assert parse_length(row.value) == pytest.approx(least)
    assert row.mark == mark


def test_air_dry_clods_by_shape() -> None:
    """Seben et al. 2013, Soil Science 178: means 58.4 (irregular), 56.9 (sphere), 42.1 kPa (flattened)."""
    low, high = preset_rows("debris")["air-dry clods"]["strength"].value
    assert (low, high) == ("42 kPa", "58 kPa")


# data set potatoes of the R package doBy: mass g, length mm, width mm of 20 tubers
TUBERS = (
    (22, 38, 29), (41, 46, 34), (24, 40, 31), (16, 33, 28), (7, 25, 21), (40, 48, 35), (18, 35, 28),
    (26, 39, 31), (4, 23, 12), (11, 34, 23), (9, 31, 21), (29, 48, 30), (46, 53, 34), (40, 48, 35),
    (3, 20, 15), (23, 36, 33), (6, 24, 19), (12, 33, 24), (26, 41, 30), (7, 26, 22),
)  # fmt: skip


def test_potato_proportions_are_the_mean_of_the_open_data() -> None:
    assert sum(mass for mass, _, _ in TUBERS) == 410
    mean = sum(length / width for _, length, width in TUBERS) / len(TUBERS)
    assert mean == pytest.approx(1.361, abs=5e-4)
    for name, row in preset_rows("crop").items():
        if "potato" in name:
            assert (
                row["length_ratio"].value == pytest.approx(mean, abs=5e-3) and row["length_ratio"].mark == "P"
            )


def test_potato_bruise_pressure() -> None:
    """Int. Agrophysics 36 (2022) 115-122: contact stress of falling potatoes levels off at 0.9 MPa."""
    value = preset_rows("crop")["ware potato"]["bruise_pressure"]
    assert (parse_pressure(value.value), value.mark) == (pytest.approx(0.9), "T")


def test_soil_friction() -> None:
    """Manuwa and Afolabi 2007, Manuwa 2012: sandy clay loam on rubber 0.28 to 0.43, all soils 0.13 to 0.85."""
    debris = preset_rows("debris")
    assert debris["air-dry clods"]["friction"].value == [0.28, 0.43]
    assert debris["clods of any soil"]["friction"].value == [0.13, 0.85]
