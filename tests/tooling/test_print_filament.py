"""Filament: shells round sharp corners and solid layers past a recess, against closed forms and shapely."""

from __future__ import annotations

from math import pi
from pathlib import Path

import pytest
from shapely.geometry import Polygon

from rollergen.answer.report import draw_profile
from rollergen.shape.distance import boundary_points
from rollergen.shape.outline import circle, polygon
from rollergen.shape.section import Section
from rollergen.spec.reading import profile_from_text, read_profile
from rollergen.tooling.filament import Filled, Span, band_area, counted_area, filled_of, net_area
from rollergen.tooling.print_joint import Joint, seat_of
from rollergen.tooling.print_split import Ends, split

GENERAL = Path(__file__).parents[2] / "profiles" / "beet-general.toml"
SQUARE = [(20.0, -20.0), (20.0, 20.0), (-20.0, 20.0), (-20.0, -20.0)]


def test_shells_go_round_the_corners_of_a_sharp_bore() -> None:
    """A square's Steiner formula, perimeter d + pi d^2: a mitre would make 4 d^2 of it."""
    section = Section(outer=circle(60.0, "body"), bore=polygon(SQUARE, "bore"), chambers=())
    band, exact = band_area(section, 1.35)
    ring = pi * (60.0**2 - 58.65**2)
    assert exact and band == pytest.approx(ring + 160 * 1.35 + pi * 1.35**2, rel=1e-12)


def test_a_sharp_corner_of_the_rubber_itself_is_mitred_by_its_nature() -> None:
    section = Section(outer=polygon(SQUARE, "body"), bore=circle(8.0, "bore"), chambers=())
    band, exact = band_area(section, 1.35)
    assert exact and band == pytest.approx(40**2 - 37.3**2 + pi * (9.35**2 - 8**2), rel=1e-12)


def test_shells_of_sharp_roots_and_chambers_are_shapely_s() -> None:
    """Flanks meet the body's arc in a sharp root, chambers and bore have sharp corners."""
    text = (
        GENERAL.read_text()
        .replace('"2.5 mm"', '"0 mm"')
        .replace('root_radius = "4 mm"', 'root_radius = "0 mm"')
    )
    text = text.replace('"2 mm"', '"0 mm"').replace('# edge_chamfer = "1 mm"', 'edge_chamfer = "1 mm"')
    section = draw_profile(profile_from_text(text)).section
    solid = Polygon(
        boundary_points(section.outer, 0.01), [boundary_points(hole, 0.01) for hole in section.holes]
    )
    band, exact = band_area(section, 1.35)
    core = solid.buffer(-1.35, quad_segs=200)
    assert exact and net_area(section) - band == pytest.approx(core.area, rel=3e-6)
    assert (
        net_area(section) - net_area(section, 1.35) - band > 10.0
    )  # what mitres would have counted as shell
    assert net_area(section) - band == pytest.approx(counted_area(section, 1.35), rel=1e-3)


def test_shells_that_meet_in_the_web_of_a_lone_chamber_are_counted_once() -> None:
    """2 mm between the chamber's own sides, 1.35 mm of shell on either: no closed form, shapely's area."""
    text = GENERAL.read_text().replace("count = 6", "count = 1").replace('web = "6 mm"', 'web = "2 mm"')
    section = draw_profile(profile_from_text(text)).section
    solid = Polygon(
        boundary_points(section.outer, 0.05), [boundary_points(hole, 0.05) for hole in section.holes]
    )
    band, exact = band_area(section, 1.35)
    assert not exact and band == pytest.approx(solid.area - solid.buffer(-1.35).area, rel=2e-3)
    band, exact = band_area(section, 0.9)
    assert exact and band == pytest.approx(solid.area - solid.buffer(-0.9).area, rel=2e-4)


def test_solid_layers_reach_beyond_a_recess() -> None:
    """25 layers of 0.2 mm over a recess of 2.2 mm: the 2.8 mm left fill the section above it."""
    section = draw_profile(read_profile(GENERAL)).section
    joint = Joint(height=2.0)
    seat = seat_of(section, joint, body_radius=56.0, line=0.45)
    pieces = split(
        section, name="x", colour="#ffffff", turn_per_mm=0.01, length=150.0, cuts=(75.0,), seat=seat, joint=joint,
        ends=Ends(foot=0.4, chamfer=1.0, lead_in=1.0),
    )  # fmt: skip
    upper = pieces.pieces[1]

    def flats(height: float) -> float:
        return filled_of(upper.spans, 1.35, height).flats

    bored = Section(outer=section.outer, bore=seat.recess, chambers=section.chambers)
    core, ring = (net_area(s) - band_area(s, 1.35)[0] for s in (section, bored))
    assert flats(5.0) == pytest.approx(5.0 * core + 2.2 * ring + 2.8 * core, rel=1e-12)
    assert flats(2.0) == pytest.approx(2.0 * core + 2.0 * ring, rel=1e-12)
    assert flats(100.0) == pytest.approx(72.8 * core + 2.2 * ring, rel=1e-12)  # no more than all of it


def test_a_stretch_between_two_flat_ends_is_filled_from_both() -> None:
    section = Section(outer=circle(60.0, "body"), bore=circle(10.0, "bore"), chambers=())
    inside = pi * (59.0**2 - 11.0**2)
    found = filled_of([Span(height=10.0, section=section, flats=(0.0, 3.0))], 1.0, 4.0)
    assert isinstance(found, Filled) and found.flats == pytest.approx((4.0 + 1.0) * inside, rel=1e-12)
