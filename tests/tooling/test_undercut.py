"""Depth of undercut: closed form per pull against brute force, limits, maps, and the share that hooks."""

from __future__ import annotations

import importlib.util
import time
from math import degrees, pi, radians, tau
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from rollergen.shape.distance import signed_distance
from rollergen.shape.outline import Line, Outline, circle, polygon
from rollergen.shape.section import section_of
from rollergen.tooling.release_section import lean_of, ribs_of
from rollergen.tooling.undercut import (
    Curve,
    Cut,
    curve_of,
    cuts_of,
    deepest,
    hook_depth,
    mirrored_curves,
    pulls_of,
    radius_at,
    rim_of,
    share_of_parts,
    skew_of,
)
from rollergen.tooling.undercut_map import map_words, undercut_map


def _neighbour(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


demo, valid_outlines = _neighbour("test_release").demo, _neighbour("test_release_random").valid_outlines
LOOSE = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)


def brute_depth(curve: Curve, pull: float, width: float, many: int = 4001) -> float:
    """Running maximum of s less s, over many angles."""
    beta = np.linspace(0, width, many)
    across = radius_at(curve, pull + beta) * np.sin(beta)
    return float((np.maximum.accumulate(across) - across).max())


def split(outline: Outline, parts: int, turns: tuple[float, float]) -> Cut:
    ribs = ribs_of(outline)
    assert ribs is not None
    (cut,) = cuts_of(
        mirrored_curves(outline), (parts,), lean=lean_of(outline), step=ribs.step, turns=turns,
        first=ribs.centre,
    )  # fmt: skip
    return cut


@LOOSE
@given(outline=valid_outlines(), angle=st.floats(0, 20))
def test_the_radius_at_an_angle_lies_on_the_curve(outline: Outline, angle: float) -> None:
    assume(lean_of(outline).greatest < pi / 2 - 1e-6)
    radius = radius_at(curve_of(outline), np.array([angle]))
    point = radius[:, None] * [[np.cos(angle), np.sin(angle)]]
    assert abs(signed_distance(outline, point)[0]) < 1e-8


@LOOSE
@given(outline=valid_outlines(), pull=st.floats(-7, 7), parts=st.integers(2, 12), mirror=st.booleans())
def test_depth_of_one_pull_against_brute_force(
    outline: Outline, pull: float, parts: int, mirror: bool
) -> None:
    assume(lean_of(outline).greatest < pi / 2 - 1e-6)
    curve = mirrored_curves(outline)[int(mirror)]
    exact = float(hook_depth(curve, np.array([pull]), np.array([pi / parts]))[0])
    brute = brute_depth(curve, pull, pi / parts)
    assert exact >= brute - 1e-9
    assert exact == pytest.approx(brute, abs=0.06)  # samples 0.02 mm apart on a steep flank at worst


@LOOSE
@given(outline=valid_outlines(), parts=st.integers(2, 10))
def test_depth_over_a_step_against_many_pulls_and_the_bound(outline: Outline, parts: int) -> None:
    lean, ribs = lean_of(outline), ribs_of(outline)
    assert ribs is not None
    assume(lean.greatest < pi / 2 - 0.02)
    cut, skew, curves = split(outline, parts, (0.0, tau)), skew_of(lean, parts), mirrored_curves(outline)
    pulls = np.arange(0, ribs.step, radians(0.1))
    half = pi / parts
    tried = max(
        float(hook_depth(curves[0], pulls, half - skew).max()),
        float(hook_depth(curves[1], pulls, half + skew).max()),
    )
    assert cut.depth >= 0.985 * tried - 5e-3
    bound = pi / (pi / 2 - lean.mean)
    if parts >= bound:
        assert cut.depth == 0 == tried
    if parts < bound - 0.2:
        assert cut.depth > 0


@pytest.mark.parametrize(
    ("parts", "depth", "slack"),
    [(2, 8.52, 0.01), (3, 4.44, 0.01), (4, 2.45, 0.06), (6, 0.79, 0.01), (8, 0.074, 0.005), (9, 0, 0)],
)
def test_depth_by_parts_of_the_demo_segment(parts: int, depth: float, slack: float) -> None:
    """First measured on samples of angle and height, which miss up to 0.05 mm; brute force below says which is right."""
    outline = section_of(demo()).outer
    cut = split(outline, parts, (0.0, 1.4))
    assert cut.depth == pytest.approx(depth, abs=slack + 1e-12)
    curve = curve_of(outline)
    brute = max(brute_depth(curve, pull, pi / parts, 2001) for pull in np.linspace(0, tau / 5, 361))
    assert cut.depth == pytest.approx(brute, abs=0.02)


def test_shares_of_the_demo_segment() -> None:
    """15, 8, 5.5 and 2.3 % of the curve, as measured on samples."""
    outline = section_of(demo()).outer
    curves = mirrored_curves(outline)
    rims = (rim_of(curves[0], tau / 5), rim_of(curves[1], tau / 5))
    for parts, share in ((2, 0.15), (3, 0.08), (4, 0.055), (6, 0.023), (9, 0.0)):
        cut = Cut(parts=parts, first=0.0, skew=0.0, depth=1.0)
        found = share_of_parts(rims, cut, step=tau / 5, turns=(0.0, 1.4))
        assert found == pytest.approx(share, abs=0.004)
        assert undercut_map(outline, turn_per_mm=tau / 700, length=140, parts=parts).share == pytest.approx(
            found, abs=0.006
        )


def test_two_parts_hook_by_almost_the_rib() -> None:
    """The limit case of a sharp high flank: never more than the rib is high over the body."""
    outline = section_of(demo(ahead=0, behind=0, tip=0, root=0)).outer
    assert 8.5 < split(outline, 2, (0.0, tau)).depth <= 9.0 + 1e-9


def test_a_circle_never_hooks() -> None:
    curve = curve_of(circle(59, "body"))
    pulls = np.linspace(-9, 9, 50)
    assert hook_depth(curve, pulls, np.full(50, pi / 2)).max() == 0
    assert radius_at(curve, pulls) == pytest.approx(np.full(50, 59.0))


def test_a_square_in_closed_form() -> None:
    """Pulled along a flat or a diagonal it is clear; 40 deg off, its far corner is wider than the parting."""
    curve = curve_of(polygon([(10, -10), (10, 10), (-10, 10), (-10, -10)], "bore"))
    right = np.array([pi / 2])
    assert (
        hook_depth(curve, np.array([0.0]), right)[0] == 0 == hook_depth(curve, np.array([pi / 4]), right)[0]
    )
    corner, cut = 10 * np.sqrt(2) * np.sin(radians(85)), 10 / np.sin(radians(50))
    assert hook_depth(curve, np.array([radians(-40)]), right)[0] == pytest.approx(corner - cut, rel=1e-12)


def test_less_twist_lets_the_parting_be_placed() -> None:
    """Straight: two halves of six ribs; and the place found is no worse than any of many others."""
    outline = section_of(demo(count=4, ahead=30, behind=30, pitch="straight")).outer
    curves, step = mirrored_curves(outline), tau / 4
    cut = split(outline, 4, (0.0, 0.0))
    assert cut.depth == 0
    for parts in (2, 3):
        cut = split(outline, parts, (0.0, 0.1))
        width = np.full(1, pi / parts)
        worst = []
        for first in np.linspace(0, tau, 120):
            depth = 0.0
            for pull in pulls_of(parts, step, float(first), 0.0):
                low, high = np.array([pull - 0.1]), np.array([pull])
                depth = max(
                    depth,
                    float(deepest(curves[0], width, low, high, step)[0]),
                    float(deepest(curves[1], width, -high, -low, step)[0]),
                )
            worst.append(depth)
        assert cut.depth <= min(worst) + 0.05 < max(worst)


def test_even_ribs_can_be_halved_through_their_middle_without_twist() -> None:
    """Parting through ribs: six ribs of 30 deg flanks, straight."""
    outline = section_of(demo(count=6, height=6, tip_width=6, ahead=30, behind=30, root=2, tip=1)).outer
    assert split(outline, 2, (0.0, 0.0)).depth == pytest.approx(0, abs=1e-9)
    assert split(outline, 2, (0.0, 0.5)).depth > 1.0


def test_curves_that_turn_back_are_refused() -> None:
    dovetail = [(10, -2), (20, -6), (20, 6), (10, 2), (10, 10), (-10, 10), (-10, -10), (10, -10)]
    with pytest.raises(ValueError, match="turns back"):
        curve_of(polygon(dovetail, "flank"))


# maps


def test_the_map_shows_the_depth_where_it_is() -> None:
    outline = section_of(demo()).outer
    found = undercut_map(outline, turn_per_mm=tau / 700, length=152, parts=2)
    assert found.depth.shape == (len(found.z), len(found.angle))
    assert (np.diff(found.angle) > 0).all() and found.angle[-1] - found.angle[0] < tau
    assert found.depth.min() == 0 and found.depth.max() == pytest.approx(found.deepest, abs=0.05)
    assert found.planes == pytest.approx((found.planes[0], found.planes[0] + pi))
    # the same point of the curve half a turn and any height on hooks alike in the other half: ribs of even number
    even = undercut_map(section_of(demo(count=6)).outer, turn_per_mm=tau / 700, length=152, parts=2)
    half = even.depth.shape[1] // 2
    assert even.depth[:, :half] == pytest.approx(even.depth[:, half:], abs=1e-9)


def test_the_map_follows_the_helix() -> None:
    """A step of the ribs further up the map repeats itself, shifted by nothing: same pull, same section."""
    outline = section_of(demo()).outer
    found = undercut_map(outline, turn_per_mm=tau / 700, length=280, parts=3, rows=141)
    assert found.z[70] - found.z[0] == pytest.approx(140)  # 700 / 5
    assert found.depth[0] == pytest.approx(found.depth[70], abs=1e-9)


def test_maps_of_both_hands_are_mirror_images() -> None:
    right = undercut_map(section_of(demo()).outer, turn_per_mm=tau / 700, length=152, parts=3)
    left = undercut_map(section_of(demo()).outer, turn_per_mm=-tau / 700, length=152, parts=3)
    assert right.depth == pytest.approx(left.depth[:, ::-1], abs=1e-9)
    assert right.deepest == pytest.approx(left.deepest, rel=1e-6)


def test_a_map_without_undercut_and_one_of_unlike_flanks_say_so() -> None:
    outline = section_of(demo()).outer
    assert (
        map_words(undercut_map(outline, turn_per_mm=tau / 700, length=152, parts=9)) == "9 parts: no undercut"
    )
    unlike = section_of(demo(ahead=10, behind=35)).outer
    found = undercut_map(unlike, turn_per_mm=tau / 700, length=152, parts=3)
    lean = lean_of(unlike)
    assert degrees(found.pull_skew) == pytest.approx(degrees(lean.ahead - lean.behind) / 2)
    assert "off the middle" in map_words(found)
    plain = undercut_map(circle(59, "body"), turn_per_mm=0.0, length=100, parts=2)
    assert plain.deepest == 0 and plain.share == 0 and plain.depth.max() < 1e-12


def test_one_part_has_no_map() -> None:
    with pytest.raises(ValueError, match="2 at least"):
        undercut_map(circle(59, "body"), turn_per_mm=0.0, length=100, parts=1)


def test_flanks_are_lines_so_the_oracle_above_has_something_to_find() -> None:
    outline = section_of(demo()).outer
    assert sum(isinstance(edge, Line) for edge in outline.edges) == 10


@pytest.mark.benchmark
def test_a_map_takes_150_ms_at_most() -> None:
    outline = section_of(demo()).outer

    def once() -> float:
        start = time.perf_counter()
        undercut_map(outline, turn_per_mm=tau / 700, length=152, parts=4)
        return time.perf_counter() - start

    assert min(once() for _ in range(5)) <= 0.15
