"""Scans that are coarser than a part's edges: what a facet reaches across is no fault of the part, and no measure of it."""

from __future__ import annotations

from math import tau

import numpy as np
import pytest
from numpy.typing import NDArray
from scan_case import profile_with, swept
from test_inspect_flanks import KINDS, between, held, rib_two
from test_inspect_foam import faces

from rollergen.shape.distance import boundary_points
from rollergen.shape.section import section_of
from rollergen.tooling.recovered_values import Value
from rollergen.tooling.recovering import _doubt_small_rounds
from rollergen.tooling.scan import facet_of, scan_of_mesh, scan_of_points
from rollergen.tooling.scan_axis import likely_axes
from rollergen.tooling.scan_ends import End
from rollergen.tooling.scan_form import seen_of
from rollergen.tooling.scan_strays import covered_holes, off_the_ends
from rollergen.tooling.scan_surfaces import nearest_surface, surfaces_of
from rollergen.tooling.section_fit import Grain

Floats = NDArray[np.float64]
LENGTH = 152.0
FACET = 2.4  # mm
FLANKS = ("ribs.flank_angle_ahead", "ribs.flank_angle_behind")


def test_facets_across_a_sharp_edge_are_no_lean_of_the_rib() -> None:
    """Points on facets across the edge ahead of rib 2, 2.2 mm high (2.33 mm of flank), in one third."""
    profile = KINDS["straight, sharp"]
    ring = boundary_points(section_of(profile).outer, 0.4)
    heights = np.linspace(3, 149, 24)
    points = np.column_stack([np.tile(ring, (len(heights), 1)), np.repeat(heights, len(ring))])
    r = np.hypot(points[:, 0], points[:, 1])
    off = np.angle(np.exp(1j * (np.arctan2(points[:, 1], points[:, 0]) - tau / 5)))
    across = (points[:, 2] < 152 / 3) & (off > 0) & (off < 0.3) & (r > 65.8) & (r < 67.99)
    turned = np.where(across, -(r - 65.8) / r, 0.0)
    leaning = held(profile, points, turned)
    assert between(leaning["ribs.flank_angle_ahead"])[1] > 16.5  # read as nearly 2 deg
    readings = held(profile, points, turned, facet=FACET)
    for key in FLANKS:
        assert between(readings[key]) == pytest.approx((15, 15), abs=0.05)
    assert between(readings["ribs.tip_width"]) == pytest.approx((11, 11), abs=0.05)


def test_a_flank_of_two_facets_has_a_width_and_no_lean() -> None:
    """9.3 mm of flank less 2.6 mm at each end leave just under a half of it, less 2 mm just over."""
    profile = KINDS["straight, sharp"]
    points, r, off, rib = rib_two(profile)
    narrow = np.where(rib, -0.8 * np.sign(off) / 2 / r, 0.0)
    readings = held(profile, points, narrow, facet=2.6)
    assert all(readings[key].least is None for key in FLANKS)
    assert between(readings["ribs.tip_width"])[0] == pytest.approx(10.2, abs=0.04)
    readings = held(profile, points, narrow, facet=2.0)
    assert all(readings[key].least is not None for key in FLANKS)


def test_a_round_that_facets_follow_leaves_the_flank_as_long_as_it_is() -> None:
    """1.4 times 2.5 mm of round are longer than a facet; a facet of 4 mm goes across it, as across an edge."""
    profile = KINDS["right"]
    points, _, off, _ = rib_two(profile)
    assert all(held(profile, points, 0 * off, facet=3.4)[key].least is not None for key in FLANKS)
    assert all(held(profile, points, 0 * off, facet=4.0)[key].least is None for key in FLANKS)
    drawn = held(
        profile, points, 0 * off, facet=6.0, chord=0.01
    )  # long facets of a drawing, narrow where it bends
    assert all(drawn[key].least is not None for key in FLANKS)
    assert all(held(profile, points, 0 * off, facet=6.0, chord=0.1)[key].least is None for key in FLANKS)


def test_the_width_of_a_facet_is_that_of_the_mean_one_and_of_points_their_spacing() -> None:
    step = np.sqrt(3) / 2
    corners = np.array([[i + j / 2, j * step, 0.0] for j in range(40) for i in range(40)])
    a = np.array([40 * j + i for j in range(39) for i in range(39)])
    facets = np.concatenate([np.stack([a, a + 1, a + 40], 1), np.stack([a + 1, a + 41, a + 40], 1)])
    assert facet_of(scan_of_mesh(2 * corners, facets), 0.7) == pytest.approx(2.0, rel=0.01)
    assert facet_of(scan_of_points(corners), 0.7) == 0.7


def closed_by_points(q: Floats) -> float:
    """Greatest share of the chambers' mouths that bare points are taken to close."""
    profile = profile_with()
    section = section_of(profile)
    surfaces = surfaces_of(profile, section)
    kind, _ = nearest_surface(surfaces, q, None)
    low, high = (End(height=z, error=0.0, slope_x=0.0, slope_y=0.0, points=99) for z in (0.0, LENGTH))
    on_part = np.ones(len(q), dtype=bool)
    seen = seen_of(q, kind, on_part & off_the_ends(q, (low, high)), surfaces)
    found = covered_holes(q, q, None, np.ones(len(q)), (low, high), surfaces, section, seen)
    return max((each.covered_share for each in found if each.hole == "chambers"), default=0.0)


def capped() -> Floats:
    return faces(profile_with(), (1, 2, 3, 4, 5, 6), 0.0)[0]


def test_bare_points_close_the_chambers_of_a_solid_part() -> None:
    """The points beside the wall of a chamber that is not there are nearest to that wall: they do not show it."""
    noise = np.random.default_rng(1).normal(0, 0.1, (len(capped()), 3))
    assert closed_by_points(capped() + noise) == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize("deep", [4.0, 12.0])
def test_a_table_under_a_part_of_which_the_upper_mouths_are_seen_closes_nothing(deep: float) -> None:
    table = capped()[capped()[:, 2] < 1]
    walls = [swept(one, LENGTH, 0.0, 1.5, hole=True)[0] for one in section_of(profile_with()).chambers]
    mouths = np.concatenate(walls)
    mouths = mouths[mouths[:, 2] > LENGTH - deep]
    assert closed_by_points(np.concatenate([table, mouths])) == 0.0
    assert closed_by_points(mouths) == 0.0


def test_a_part_seen_from_outside_only_is_not_closed() -> None:
    outside = swept(section_of(profile_with()).outer, LENGTH, profile_with().turn_per_mm, 2.0, hole=False)[0]
    assert closed_by_points(outside) == 0.0


@pytest.mark.parametrize(
    ("radius", "error", "spacing", "confidence"),
    [
        (0.202, 0.054, 0.12, "weak"),  # as read off sharp edges with 0.03 to 0.05 mm of noise
        (0.104, 0.037, 0.09, "weak"),
        (0.114, 0.066, 0.12, "weak"),
        (0.41, 0.1, 0.3, "measured"),  # just over four errors
        (0.39, 0.1, 0.3, "weak"),
        (0.5, 0.01, 0.55, "weak"),  # no larger than the points are apart
        (0.6, 0.01, 0.55, "measured"),
        (2.5, 0.02, 0.12, "measured"),
    ],
)
def test_a_round_that_may_be_a_sharp_edge_is_weak(
    radius: float, error: float, spacing: float, confidence: str
) -> None:
    key = "ribs.root_radius"
    values = {
        key: Value(
            key=key, number=radius, word=None, unit="mm", standard_error=error, points=900, confidence="measured",
            why="from the points",
        )
    }  # fmt: skip
    _doubt_small_rounds(values, Grain(spacing=spacing, chord=0.0))
    assert values[key].confidence == confidence
    assert (values[key].why == "from the points") == (confidence == "measured")


@pytest.mark.parametrize("seed", range(4))
def test_the_middle_of_a_round_chamber_is_not_taken_for_the_axis(seed: int) -> None:
    """Few patches of the body, their normals turned by 0.02 rad (0.8 mm at the axis), against six smooth chambers."""
    rng = np.random.default_rng(seed)
    body = rng.uniform(0, tau, 100)
    walls, number = rng.uniform(0, tau, 360), np.repeat(np.arange(6), 60) * tau / 6
    angle = np.concatenate([body + rng.normal(0, 0.02, 100), walls])
    across = np.concatenate(
        [
            42 * np.exp(1j * body),
            25 * np.exp(1j * number) + 6 * np.exp(1j * walls),
        ]
    )
    facing = np.exp(1j * angle) * np.where(np.arange(460) < 100, 1, -1)
    points = np.column_stack([across.real, across.imag, rng.uniform(0, 90, 460)])
    normals = np.column_stack([facing.real, facing.imag, np.zeros(460)])
    axis = likely_axes(points, normals, np.ones(460), near=0.5)[0]
    assert abs(axis.direction[2]) == pytest.approx(1.0, abs=1e-6)
    assert np.hypot(*axis.through[:2]) < 1.0  # a start; the middles are 25 mm off
