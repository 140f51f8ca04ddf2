"""Mass against closed forms."""

from __future__ import annotations

from math import pi

import pytest

from rollergen.shape.section import part_of, section_of
from rollergen.spec.reading import profile_from_text
from rollergen.study.mass import MassReport, weigh

RING = """
name = "ring"
body = {{ diameter = "100 mm", free_length = "50 mm", fitted_length = "49 mm", edge_chamfer = "{chamfer} mm" }}
bore = {{ section = "round", across = "40 mm", shaft_tolerance = "0.1 mm" }}
compound = {{ name = "ring", density = "1100 kg/m^3", price = "5 EUR/kg" }}
"""
FOAMED = """
[chambers]
count = 4
section = "round"
wall = "6 mm"
web = "5 mm"
hub_wall = "6 mm"
corner_radius = "0 mm"
foamed = [2]
foam_density = "100 kg/m^3"
"""


def weighed(text: str, length: float | None = None) -> MassReport:
    profile = profile_from_text(text)
    section = section_of(profile)
    return weigh(profile, section, part_of(profile, section), length=length)


def test_a_ring_weighs_its_closed_form() -> None:
    report = weighed(RING.format(chamfer=0), length=1000.0)
    volume = pi * (50**2 - 20**2) * 50
    assert report.volume_mm3 == pytest.approx(volume, rel=1e-12)
    assert report.mass_kg == pytest.approx(volume * 1100e-9, rel=1e-12)
    assert report.cost == pytest.approx(5 * report.mass_kg)
    assert report.roller_kg == pytest.approx(report.mass_kg * 1000 / 49)
    assert report.centre_mm == pytest.approx((0, 0, 25), abs=1e-9)


def test_end_chamfers_take_their_closed_form_away() -> None:
    full, cut = weighed(RING.format(chamfer=0)), weighed(RING.format(chamfer=1))
    assert full.volume_mm3 - cut.volume_mm3 == pytest.approx(2 * (2 * pi * 50 / 2 - pi / 3), rel=1e-9)


def test_foam_stands_beside_the_rubber() -> None:
    report = weighed(RING.format(chamfer=0) + FOAMED)
    radius = (44 - 26) / 2  # from hub wall to wall, the bore being round
    assert report.foam_mm3 == pytest.approx(pi * radius**2 * 50, rel=1e-8)
    assert report.foam_kg == pytest.approx(report.foam_mm3 * 100e-9, rel=1e-12)
    assert report.total_kg == pytest.approx(report.mass_kg + report.foam_kg, rel=1e-12)
