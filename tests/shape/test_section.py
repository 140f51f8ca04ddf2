"""The exact section: closed forms, limit cases, invariances, an independent polygon library."""

from __future__ import annotations

from math import ceil, pi, tan

import numpy as np
import pytest
import shapely

from rollergen.errors import ProfileError
from rollergen.shape.chambers import webs_of
from rollergen.shape.distance import signed_distance
from rollergen.shape.offset import inward
from rollergen.shape.outline import Arc, Outline
from rollergen.shape.properties import area_of, moments_of, perimeter_of
from rollergen.shape.section import Section, net_moments, section_of, thicknesses_of
from rollergen.spec.reading import profile_from_text

BASE = """
name = "sample"
[body]
diameter = "108 mm"
free_length = "140 mm"
[ribs]
count = {ribs}
height = "7 mm"
tip_width = "9 mm"
flank_angle_ahead = "{ahead} deg"
flank_angle_behind = "{behind} deg"
tip_radius = "{tip} mm"
root_radius = "{root} mm"
helix_pitch = "620 mm"
[bore]
section = "{bore}"
across = "34 mm"
corner_radius = "1.5 mm"
shaft_tolerance = "0.2 mm"
[chambers]
count = {chambers}
section = "{form}"
wall = "7 mm"
web = "4 mm"
hub_wall = "6 mm"
corner_radius = "2 mm"
[compound]
name = "sample"
density = "1100 kg/m^3"
"""
USUAL = {
    "ribs": 5, "ahead": 15, "behind": 15, "tip": 2, "root": 3, "bore": "square", "chambers": 6, "form": "sector",
}  # fmt: skip


def section(**changed: object) -> Section:
    return section_of(profile_from_text(BASE.format(**{**USUAL, **changed})))


def as_polygon(outline: Outline) -> shapely.Polygon:
    points = []
    for edge in outline.edges:
        pieces = ceil(abs(edge.sweep) * 3000) if isinstance(edge, Arc) else 1
        points += [edge.at(i / pieces) for i in range(pieces)] if isinstance(edge, Arc) else [edge.start]
    return shapely.Polygon(points)


CASES = [
    {},
    {"ahead": 5, "behind": 28},
    {"tip": 0, "root": 0},
    {"ribs": 1},
    {"ribs": 11, "root": 2},
    {"bore": "hexagon"},
    {"form": "round"},
    {"chambers": 1},
    {"chambers": 2},
    {"chambers": 12},
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_moments_agree_with_an_independent_polygon_library(case: dict[str, object]) -> None:
    found = section(**case)
    for outline in (found.outer, *found.holes):
        polygon = as_polygon(outline)
        assert polygon.is_valid
        assert area_of(outline) == pytest.approx(polygon.area, rel=2e-6)
        assert perimeter_of(outline) == pytest.approx(polygon.length, rel=2e-6)
        m = moments_of(outline)
        assert (m.x / m.area, m.y / m.area) == pytest.approx(
            (polygon.centroid.x, polygon.centroid.y), abs=2e-4
        )


@pytest.mark.parametrize("case", CASES, ids=str)
def test_wall_web_and_hub_wall_are_what_was_asked(case: dict[str, object]) -> None:
    thick = thicknesses_of(section(**case), 54.0)
    assert thick.wall == pytest.approx(7.0, abs=1e-9)
    if case.get("form") == "round":
        assert thick.web is not None
        assert thick.hub_wall is not None
        assert min(thick.web - 4.0, thick.hub_wall - 6.0) == pytest.approx(0.0, abs=1e-8)
        assert max(thick.web - 4.0, thick.hub_wall - 6.0) >= -1e-8
    else:
        assert thick.web == pytest.approx(4.0, abs=1e-9)
        assert thick.hub_wall == pytest.approx(6.0, abs=1e-8)


def test_a_lone_sector_is_its_own_neighbour_and_a_lone_hole_has_none() -> None:
    """Its web lies between its own sides: moved by d they leave 4 - 2 d, negative once they cross."""
    (chamber,) = section(chambers=1).chambers
    assert webs_of((chamber,)) == pytest.approx((4.0,), abs=1e-9)
    for moved in (-1.5, -2.5, 1.0):
        assert webs_of((inward(chamber, moved),)) == pytest.approx((4.0 + 2 * moved,), abs=1e-9)
    assert webs_of(section(chambers=1, form="round").chambers) == webs_of(()) == ()


@pytest.mark.parametrize("case", CASES, ids=str)
def test_signed_distance_agrees_with_a_dense_polygon(case: dict[str, object]) -> None:
    outline = section(**case).outer
    polygon = as_polygon(outline)
    points = np.random.default_rng(3).uniform(-70, 70, (300, 2))
    ours = signed_distance(outline, points)
    theirs = np.array([polygon.exterior.distance(shapely.Point(p)) for p in points])
    inside = shapely.contains_xy(polygon, points)
    np.testing.assert_allclose(ours, np.where(inside, -theirs, theirs), atol=1e-3)


def test_moved_inwards_a_smooth_outline_follows_steiner() -> None:
    outline = section().outer
    moved = area_of(inward(outline, 0.8))
    assert moved == pytest.approx(area_of(outline) - 0.8 * perimeter_of(outline) + pi * 0.64, rel=1e-12)


def test_moved_inwards_a_square_is_mitred() -> None:
    square = section(bore="square").bore
    sharp = section_of(
        profile_from_text(BASE.format(**USUAL).replace('corner_radius = "1.5 mm"', 'corner_radius = "0 mm"'))
    ).bore
    assert area_of(inward(sharp, 2.0)) == pytest.approx(30.0**2, rel=1e-12)
    assert area_of(sharp) - area_of(square) == pytest.approx((4 - pi) * 1.5**2, rel=1e-9)


def test_hexagon_area_in_closed_form() -> None:
    rounding = (6 * tan(pi / 6) - pi) * 1.5**2
    assert area_of(section(bore="hexagon").bore) == pytest.approx(
        6 * 17**2 * tan(pi / 6) - rounding, rel=1e-12
    )


def test_no_ribs_no_chambers_round_bore_is_a_ring() -> None:
    text = """
name = "ring"
body = { diameter = "100 mm", free_length = "50 mm" }
bore = { section = "round", across = "40 mm", shaft_tolerance = "0.1 mm" }
compound = { name = "ring", density = "1100 kg/m^3" }
"""
    net = net_moments(section_of(profile_from_text(text)))
    assert net.area == pytest.approx(pi * (50**2 - 20**2), rel=1e-12)
    assert net.xx == pytest.approx(pi / 4 * (50**4 - 20**4), rel=1e-12)
    assert net.xy == pytest.approx(0, abs=1e-8)


@pytest.mark.parametrize("ribs", [2, 3, 5, 24])
def test_equal_ribs_and_chambers_balance_every_slice(ribs: int) -> None:
    narrow = BASE.replace("9 mm", "3 mm").format(**{**USUAL, "ribs": ribs, "tip": 1, "root": 1})
    net = net_moments(section_of(profile_from_text(narrow)))
    assert (net.x, net.y) == pytest.approx((0, 0), abs=1e-6)


@pytest.mark.parametrize(
    ("changed", "key"),
    [
        ({"ribs": 24, "ahead": 35, "behind": 35}, "ribs.count"),
        ({"root": 60}, "ribs.root_radius"),
    ],
)
def test_impossible_geometry_is_refused_under_its_key(changed: dict[str, object], key: str) -> None:
    with pytest.raises(ProfileError) as refused:
        section(**changed)
    assert key in {c.key for c in refused.value.complaints}
