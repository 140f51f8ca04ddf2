"""Smallest sizes that standards let through, as presets; each with its mark.

UNECE FFV-25 onions (exporter page quoting it), FFV-10 carrots and FFV-52 potatoes (values from memory),
South Africa R364 part II no. 4 beetroot (law text), USA 7 CFR 51.3410 processing potatoes (law text).
"""

from __future__ import annotations

import pytest

from rollergen.spec.duty_presets import preset_rows
from rollergen.spec.units import parse_length


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
