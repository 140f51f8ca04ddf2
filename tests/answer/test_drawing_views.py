"""What the drawing says: every profile value once, every dimension true, every line of the side view seen."""

from __future__ import annotations

from collections import Counter
from functools import cache
from math import acos, atan2, cos, degrees, hypot, inf, pi, radians, sin, tau
from pathlib import Path

import numpy as np
import pytest
from shapely import LineString, MultiLineString, Point, Polygon

from rollergen.answer.drawing_clips import between, nearest_pair
from rollergen.answer.drawing_details import shown_chamber
from rollergen.answer.drawing_side import reach_at, rounds_of
from rollergen.answer.drawing_stated import Held, amount, angle_amount
from rollergen.answer.drawing_views import drawing_of
from rollergen.answer.report import Drawn, draw, draw_profile
from rollergen.shape.distance import boundary_points
from rollergen.shape.properties import least_distance, moments_of
from rollergen.shape.section import net_moments, thicknesses_of
from rollergen.shape.views import (
    AngleDim,
    ArcDim,
    DrawingContent,
    LengthDim,
    Pointer,
    RoundDim,
    Stroke,
    Trace,
    View,
)
from rollergen.spec.profile import Profile
from rollergen.spec.reading import read_source
from rollergen.spec.tolerances import moulding_tolerance

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
# stated on the drawing only under another name, or no size at all (each with its reason)
ELSEWHERE = {
    "chambers.section",  # seen
    "chambers.foam_modulus",  # no size
    "bore.section",  # seen, and named with the shaft
    *(
        f"compound.{key}"
        for key in ("modulus", "stress_strain", "loss_factor", "shrinkage", "axial_shrinkage")
    ),
    *(f"compound.{key}" for key in ("price", "colour", "expansion", "swell")),
}


@cache
def drawn_of(name: str) -> Drawn:
    return draw(read_source(next(p for p in PROFILES if p.stem == name)))


@cache
def content_of(name: str) -> DrawingContent:
    return drawing_of(drawn_of(name))


ALIKE = ("beet-general", "beet-left", "beet-short")  # near to the others: with the long tests
NAMES = [pytest.param(p.stem, marks=pytest.mark.slow) if p.stem in ALIKE else p.stem for p in PROFILES]


def changed(name: str, **tables: dict[str, object]) -> Drawn:
    """A shipped profile with some values changed."""
    profile = drawn_of(name).profile
    parts = {table: getattr(profile, table).model_copy(update=values) for table, values in tables.items()}
    return draw_profile(profile.model_copy(update=parts))


def keys_of(content: DrawingContent) -> Counter[str]:
    found: Counter[str] = Counter()
    for view in content.views:
        for dim in view.dims:
            found.update(dim.keys if isinstance(dim, Pointer) else dim.stated.keys)
    for fact in content.facts:
        found.update(fact.keys)
    return found


def expected_keys(profile: Profile) -> set[str]:
    """Every value the profile has, by its own model."""
    keys = set()
    for table in ("body", "ribs", "bore", "chambers", "compound"):
        part = getattr(profile, table)
        if part is None:
            continue
        for field, info in type(part).model_fields.items():
            if getattr(part, field) is not None:
                keys.add(f"{table}.{info.alias or field}")
    if profile.chambers is None or not profile.chambers.foamed:
        keys -= {"chambers.foamed", "chambers.foam_density"}
    else:
        keys -= {"chambers.fill"}
    if profile.bore.section in ("round", "keyed"):  # without effect there, and warned of
        keys -= {"bore.corner_radius", "bore.shaft_corner_radius"}
    if profile.chambers is not None and profile.chambers.section == "round":
        keys -= {"chambers.corner_radius"}
    return keys - ELSEWHERE


VARIED = {
    "sharp": (
        "beet-general",
        {"ribs": {"tip_radius": 0.0, "root_radius": 0.0}, "body": {"edge_chamfer": 0.0}},
    ),
    "one rib": ("beet-general", {"ribs": {"count": 1}}),
    "one chamber": ("beet-general", {"chambers": {"count": 1}}),
    "two chambers": ("beet-general", {"chambers": {"count": 2}}),
    "sharp bore": (
        "beet-general",
        {"bore": {"corner_radius": 0.0, "shaft_corner_radius": 0.0, "lead_in": 0.0}},
    ),
    "straight": ("beet-general", {"ribs": {"helix_pitch": inf}}),
    "no chambers": ("beet-general", {"chambers": {"count": 0, "foamed": ()}}),
    "foamed": ("plain-sleeve", {"chambers": {"fill": "foam"}}),
}


@pytest.mark.parametrize("name", NAMES)
def test_every_profile_value_is_stated_exactly_once(name: str) -> None:
    found = keys_of(content_of(name))
    found.pop("bore.width")  # the hole itself, which follows from shaft and clearance
    assert {key for key, times in found.items() if times != 1} == set()
    assert set(found) == expected_keys(drawn_of(name).profile)


@pytest.mark.parametrize("case", VARIED)
def test_odd_profiles_state_every_value_once(case: str) -> None:
    name, tables = VARIED[case]
    drawn = changed(name, **tables)  # type: ignore[arg-type]
    found = keys_of(drawing_of(drawn))
    found.pop("bore.width")
    expected = expected_keys(drawn.profile)
    if case == "no chambers":
        expected = {k for k in expected if not k.startswith("chambers.")} | {"chambers.count"}
    assert {key for key, times in found.items() if times != 1} == set()
    assert set(found) == expected


def measured(dim: LengthDim | RoundDim | AngleDim | ArcDim) -> float:
    """What the dimension's own points measure, by plain geometry."""
    if isinstance(dim, LengthDim):
        return abs((dim.b[0] - dim.a[0]) * dim.along[0] + (dim.b[1] - dim.a[1]) * dim.along[1])
    if isinstance(dim, RoundDim):
        return dim.radius * (2 if dim.diameter else 1)
    return dim.sweep * (dim.radius if isinstance(dim, ArcDim) else 1)


@pytest.mark.parametrize("name", NAMES)
def test_every_dimension_measures_the_model_value(name: str) -> None:
    profile = drawn_of(name).profile
    seen = 0
    for view in content_of(name).views:
        for dim in view.dims:
            if isinstance(dim, Pointer):
                continue
            assert measured(dim) == pytest.approx(dim.stated.value, abs=1e-6), dim
            for key in dim.stated.keys:
                table, _, field = key.partition(".")
                value = getattr(getattr(profile, table), field)
                if field == "count":
                    assert (
                        dim.stated.value == pytest.approx(tau / value) and f"{value}× " in dim.stated.before
                    )
                else:
                    assert dim.stated.value == pytest.approx(value, abs=1e-9)
                seen += 1
    assert seen > 4


@pytest.mark.parametrize("name", NAMES)
def test_round_dimensions_touch_edges_that_are_there(name: str) -> None:
    """A radius or diameter names an arc of some outline with that centre and radius, at the angles given."""
    for view in content_of(name).views:
        edges = [e for s in view.strokes if isinstance(s, Stroke) for e in s.edges]
        for dim in view.dims:
            if not isinstance(dim, RoundDim):
                continue
            for angle in dim.angles[:1]:
                at = (dim.centre[0] + dim.radius * cos(angle), dim.centre[1] + dim.radius * sin(angle))
                near = min(np.min(np.hypot(*(np.array(_dense(e)) - at).T)) for e in edges)
                assert near < 0.15, (view.name, dim)


def _dense(edge: object) -> list[tuple[float, float]]:
    from rollergen.shape.outline import Arc

    if isinstance(edge, Arc):
        return [edge.at(s) for s in np.linspace(0, 1, 721)]
    (ax, ay), (bx, by) = edge.start, edge.end  # type: ignore[attr-defined]
    return [(ax + s * (bx - ax), ay + s * (by - ay)) for s in np.linspace(0, 1, 200)]


def test_tolerances_are_those_of_the_class_asked_for() -> None:
    profile = drawn_of("beet-general").profile
    for grade, parting in (("M1", "closure"), ("M4", "fixed")):
        content = drawing_of(drawn_of("beet-general"), Held(grade=grade, dimension=parting))  # type: ignore[arg-type]
        held = {
            key: dim.stated.plus_minus
            for view in content.views
            for dim in view.dims
            if not isinstance(dim, Pointer)
            for key in dim.stated.keys
        }
        assert held["body.diameter"] == moulding_tolerance(112, grade, parting)  # type: ignore[arg-type]
        assert held["body.free_length"] == moulding_tolerance(150, grade, "closure")  # type: ignore[arg-type]
        assert held["chambers.wall"] == moulding_tolerance(profile.chambers.wall, grade, "closure")  # type: ignore[arg-type, union-attr]
        assert held["bore.corner_radius"] == moulding_tolerance(2, grade, "fixed")  # type: ignore[arg-type]
        assert held["ribs.count"] is None and held["ribs.flank_angle_ahead"] is None
        assert content.tolerance_class == f"ISO 3302-1 {grade}"


# The section and the details


@pytest.mark.parametrize("name", NAMES)
def test_hatched_region_of_the_section_is_the_section(name: str) -> None:
    section = next(v for v in content_of(name).views if v.name == "section")
    outer, *holes = section.regions[0]
    area = moments_of(outer).area - sum(moments_of(hole).area for hole in holes)
    assert area == pytest.approx(net_moments(drawn_of(name).section).area, rel=1e-12)


@pytest.mark.parametrize("name", ["beet-general", "beet-flooded", "shallot-gentle", "plain-sleeve"])
def test_nearest_pair_is_as_near_as_the_exact_distance(name: str) -> None:
    section = drawn_of(name).section
    for chamber in section.chambers:
        (ax, ay), (bx, by) = nearest_pair(chamber, section.bore)
        assert hypot(ax - bx, ay - by) == pytest.approx(least_distance(chamber, section.bore), abs=1e-7)
    shown = section.chambers[shown_chamber(section)]
    least = thicknesses_of(section, drawn_of(name).profile.body_radius).hub_wall
    assert least_distance(shown, section.bore) == pytest.approx(least, abs=1e-6)


def test_between_keeps_every_edge_of_a_whole_turn() -> None:
    outer = drawn_of("beet-flooded").section.outer
    pieces = between(outer, 0.3, 0.3 + tau - 1e-9)
    total = sum(_length(e) for e in pieces)
    assert total == pytest.approx(sum(_length(e) for e in outer.edges), abs=1e-5)
    quarter = between(outer, 0.3, 0.3 + pi / 2)
    assert atan2(quarter[0].start[1], quarter[0].start[0]) == pytest.approx(0.3, abs=1e-9)
    assert atan2(quarter[-1].end[1], quarter[-1].end[0]) == pytest.approx(0.3 + pi / 2, abs=1e-9)
    for before, after in zip(quarter, quarter[1:], strict=False):
        assert hypot(before.end[0] - after.start[0], before.end[1] - after.start[1]) < 1e-9


def _length(edge: object) -> float:
    from rollergen.shape.outline import Arc

    if isinstance(edge, Arc):
        return edge.radius * abs(edge.sweep)
    return hypot(edge.end[0] - edge.start[0], edge.end[1] - edge.start[1])  # type: ignore[attr-defined]


def test_a_flank_dimension_lies_along_the_flank() -> None:
    """One arm of the angle is parallel to a flank line of the detail, the other to the rib's middle."""
    view = next(v for v in content_of("beet-flooded").views if v.name == "rib")
    flanks = [
        e for s in view.strokes if isinstance(s, Stroke) and s.style == "visible" for e in s.edges
        if getattr(e, "feature", "") == "flank"
    ]  # fmt: skip
    slopes = {round(degrees(atan2(e.end[1] - e.start[1], e.end[0] - e.start[0])) % 180, 6) for e in flanks}
    angles = [d for d in view.dims if isinstance(d, AngleDim)]
    assert sorted(round(degrees(d.stated.value), 6) for d in angles) == [10, 24]
    for dim in angles:
        ends = {round(degrees(dim.start) % 180, 6), round(degrees(dim.start + dim.sweep) % 180, 6)}
        assert 90.0 in ends and ends & slopes


def test_walls_thicker_than_asked_are_drawn_as_they_are_and_asked_in_the_table() -> None:
    content = content_of("plain-sleeve")
    chamber = next(v for v in content.views if v.name == "chamber")
    least = thicknesses_of(drawn_of("plain-sleeve").section, 45.0)
    values = [d.stated.value for d in chamber.dims if isinstance(d, LengthDim)]
    assert least.web is not None and any(v == pytest.approx(least.web) for v in values)
    assert any(f.keys == ("chambers.web",) and f.value == "at least 5" for f in content.facts)


# The side view


def side_of(drawn: Drawn) -> View:
    return drawing_of(drawn).in_line[0]


def traces(view: View, style: str) -> list[np.ndarray]:  # type: ignore[type-arg]
    return [np.array(s.points) for s in view.strokes if isinstance(s, Trace) and s.style == style]


def test_rib_edges_of_the_side_view_are_helices() -> None:
    """Each narrow curve is r sin(angle + turn z) for one corner of the section: closed form."""
    drawn = drawn_of("beet-general")
    turn = drawn.profile.turn_per_mm
    corners = [(hypot(*e.start), atan2(e.start[1], e.start[0])) for e in drawn.section.outer.edges]
    curves = traces(side_of(drawn), "narrow")
    assert len(curves) >= 4
    for curve in curves:
        z, y = -curve[:, 0], curve[:, 1]
        error = min(float(np.max(np.abs(r * np.sin(a + turn * z) - y))) for r, a in corners)
        assert error < 1e-9


@pytest.mark.parametrize("name", ["beet-flooded", "celeriac-transfer"])
def test_nothing_hides_what_is_drawn_above_the_axis(name: str) -> None:
    """An independent library: from a drawn point of the contour, no rubber lies towards the eye."""
    drawn = drawn_of(name)
    outer = drawn.section.outer
    polygon = Polygon(boundary_points(outer, 0.1)).buffer(-0.03)
    turn, checked = drawn.profile.turn_per_mm, 0
    for style in ("narrow", "visible"):
        for curve in traces(side_of(drawn), style):
            for x, y in curve[:: max(1, len(curve) // 5)]:
                if y <= 0.5 or not 1.5 < -x < drawn.profile.body.free_length - 1.5:
                    continue
                at = _highest_point_towards_the_eye(polygon, -x * turn, y)
                corners = _points_at(outer, -x * turn, y)
                assert corners.size and np.max(corners) >= at - 0.35, (style, x, y)
                checked += 1
    assert checked > (30 if turn else 8)


def _highest_point_towards_the_eye(polygon: Polygon, turned: float, y: float) -> float:
    """Largest x of the rubber at height y, once the section is turned; -inf where there is none."""
    c, s = cos(turned), sin(turned)
    ends = [(x * c + y * s, -x * s + y * c) for x in (-500.0, 500.0)]
    cut = polygon.intersection(LineString(ends))
    if cut.is_empty:
        return -inf
    points = np.array([p for g in getattr(cut, "geoms", [cut]) for p in g.coords])
    return float(np.max(points[:, 0] * c - points[:, 1] * s))


def _points_at(outer: object, turned: float, y: float) -> np.ndarray:  # type: ignore[type-arg]
    points = boundary_points(outer, 0.05)  # type: ignore[arg-type]
    c, s = cos(turned), sin(turned)
    x_now, y_now = points[:, 0] * c - points[:, 1] * s, points[:, 0] * s + points[:, 1] * c
    return np.asarray(x_now[np.abs(y_now - y) < 0.08])


def test_the_upper_edge_of_the_side_view_is_the_highest_rubber() -> None:
    drawn = drawn_of("beet-flooded")
    curves = traces(side_of(drawn), "visible")
    cloud = np.concatenate(curves)
    points = boundary_points(drawn.section.outer, 0.02)
    for z in np.linspace(5, 145, 29):
        angle = drawn.profile.turn_per_mm * z
        highest = np.max(points[:, 0] * sin(angle) + points[:, 1] * cos(angle))
        near = cloud[np.abs(cloud[:, 0] + z) < 1.0]
        assert np.max(near[:, 1]) == pytest.approx(highest, abs=0.35)


def test_a_plain_sleeve_is_a_rectangle_from_the_side() -> None:
    """Limit case: no ribs, so the only contours are two lines, one at each end of a diameter."""
    drawn = drawn_of("plain-sleeve")
    ys = {round(float(y), 6) for curve in traces(side_of(drawn), "visible") for y in curve[:, 1]}
    assert {45.0} <= ys and min(ys) == -45.0 and all(y in (45.0, -45.0) or abs(y) < 45 for y in ys)


def test_the_other_hand_started_where_this_one_ends_is_its_mirror_image() -> None:
    """Section of the left-hand one at z = section of the right-hand one at length - z."""
    right = drawn_of("beet-general")
    length = right.profile.body.free_length
    left = changed("beet-general", ribs={"hand": "left", "start": right.profile.turn_per_mm * length})
    for style in ("narrow", "visible"):
        here, there = traces(side_of(right), style), traces(side_of(left), style)
        mirrored = MultiLineString([np.column_stack([-length - c[:, 0], c[:, 1]]) for c in there])
        points = np.concatenate([c[::3] for c in here])
        above = [Point(p) for p in points if p[1] > 0.2]
        assert len(above) > 50 and max(mirrored.distance(p) for p in above) < 0.05


def test_reach_is_the_outline_s_radius_at_an_angle() -> None:
    outer = drawn_of("beet-general").section.outer
    points = boundary_points(outer, 0.01)
    angles = np.arctan2(points[:, 1], points[:, 0])
    reach = reach_at(rounds_of(outer), angles[::37])
    assert np.allclose(reach, np.hypot(points[::37, 0], points[::37, 1]), atol=2e-2)
    assert np.isfinite(reach_at(rounds_of(outer), np.linspace(0, tau, 5001))).all()


def test_half_section_hatches_the_rubber_of_the_cut_plane() -> None:
    """Area of the cut below the axis, by the plane's crossing lengths times z: trapezium rule."""
    drawn = drawn_of("beet-general")
    bands = side_of(drawn).regions
    total = sum(moments_of(band[0]).area for band in bands)
    z = np.linspace(0, 150, 76)
    lengths = []
    holes = [Polygon(boundary_points(h, 0.02)) for h in drawn.section.holes]
    for at in z:
        outer = Polygon(_turned_points(drawn.section.outer, drawn.profile.turn_per_mm * at))
        down = LineString([(0, 0), (0, -100)])
        lengths.append(down.intersection(outer).length - sum(down.intersection(h).length for h in holes))
    assert total == pytest.approx(float(np.trapezoid(lengths, z)), rel=2e-3)


def _turned_points(outer: object, angle: float) -> np.ndarray:  # type: ignore[type-arg]
    points = boundary_points(outer, 0.2)  # type: ignore[arg-type]
    c, s = cos(angle), sin(angle)
    return np.asarray(points @ np.array([[c, s], [-s, c]]))


# Words


def test_numbers_are_as_short_as_they_may_be() -> None:
    assert [amount(v) for v in (112.0, 36.6, 139.7, 1 / 3, 0.0, -0.0, 1e-9, 100.0)] == [
        "112", "36.6", "139.7", "0.333", "0", "0", "0", "100",
    ]  # fmt: skip
    assert angle_amount(radians(15)) == "15°" and angle_amount(tau / 7) == "51.429°"


def test_helix_words_and_reference_values() -> None:
    content = content_of("beet-general")
    words = [d.words for v in content.views for d in v.dims if isinstance(d, Pointer)]
    assert words == ["helix pitch 650, right-hand"]
    facts = {f.label: f.value for f in content.facts}
    assert facts["Twist over the length"] == "(83.08°)"  # 150 / 650 of a turn = 83.077 deg
    slope = degrees(acos(1 / hypot(1.0, tau * 64 / 650)))
    assert facts["Helix angle at the tip, to the axis"] == f"({slope:.2f}°)"
    assert content_of("celeriac-transfer").facts[1].value == "none: straight"
