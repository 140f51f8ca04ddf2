"""Inertia against closed forms, an independent mesh integral, and symmetry."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from rollergen.shape.outline import Outline, circle, polygon
from rollergen.shape.part import Part, Side
from rollergen.shape.part_inertia import inertia_about_centre, moments_of_part, moments_of_side
from rollergen.shape.part_volume import centroid_of_part, volume_of
from rollergen.shape.section import part_of, section_of
from rollergen.spec.reading import profile_from_text
from rollergen.study.inertia import InertiaReport, inertia_of, pieces_for

SEGMENT = """
name = "segment"
body = {{ diameter = "100 mm", free_length = "130 mm", edge_chamfer = "{chamfer} mm" }}
compound = {{ name = "cast", density = "1100 kg/m^3" }}
[bore]
section = "square"
across = "36 mm"
corner_radius = "1 mm"
shaft_tolerance = "0.1 mm"
lead_in = "{lead_in} mm"
[ribs]
count = {ribs}
height = "8 mm"
tip_width = "9 mm"
flank_angle = "15 deg"
tip_radius = "2 mm"
root_radius = "3 mm"
helix_pitch = "{pitch}"
hand = "{hand}"
[chambers]
count = {chambers}
wall = "6 mm"
web = "6 mm"
hub_wall = "6 mm"
corner_radius = "2 mm"
foamed = {foamed}
foam_density = "100 kg/m^3"
"""


def segment(**said: object) -> Part:
    profile = profile_from_text(_text(**said))
    return part_of(profile, section_of(profile))


def weighed(**said: object) -> InertiaReport:
    profile = profile_from_text(_text(**said))
    section = section_of(profile)
    return inertia_of(profile, section, part_of(profile, section))


def _text(**said: object) -> str:
    usual: dict[str, object] = {
        "chamfer": 1,
        "lead_in": 0.5,
        "ribs": 5,
        "pitch": "500 mm",
        "hand": "right",
        "chambers": 6,
        "foamed": [],
    }
    return SEGMENT.format(**{**usual, **said})


def tube(outer: Outline, hole: Outline, length: float, turn: float = 0.0) -> Part:
    levels = ((0.0, 0.0), (length, 0.0))
    sides = (
        Side(outline=outer, levels=levels, turn_per_mm=turn),
        Side(outline=hole, levels=levels, material_inside=False),
    )
    return Part(name="tube", sides=sides, caps=())


def test_a_tube_has_the_inertia_of_the_book() -> None:
    R, r, L = 50.0, 20.0, 140.0
    moments = moments_of_part(tube(circle(R, "body"), circle(r, "bore"), L, turn=0.013))
    m = pi * (R**2 - r**2) * L
    across = m * (3 * (R**2 + r**2) + L**2) / 12  # any mechanics book
    assert inertia_about_centre(moments) == pytest.approx(
        np.diag([across, across, m * (R**2 + r**2) / 2]), rel=1e-13, abs=1e-13 * across
    )


def test_a_cone_has_the_inertia_of_the_book() -> None:
    R, H = 40.0, 39.999  # an offset of almost R over H: a cone to 1e-3 mm at its tip
    cone = Side(outline=circle(R, "body"), levels=((0.0, 0.0), (H, H)))
    moments = moments_of_side(cone)
    tip = R - H
    assert moments.volume == pytest.approx(pi * H * (R**2 + R * tip + tip**2) / 3, rel=1e-13)
    spin = moments.second[0, 0] + moments.second[1, 1]
    assert spin == pytest.approx(pi / 10 * H * (R**5 - tip**5) / (R - tip), rel=1e-12)


@pytest.mark.parametrize("turn", [0.0, 1e-9, 1e-4, 2e-4, 0.01, -0.03])
def test_a_twisted_block_off_the_axis_matches_fine_slices(turn: float) -> None:
    block = polygon([(10.0, 5.0), (30.0, 5.0), (30.0, 12.0), (10.0, 12.0)], "block")
    moments = moments_of_side(Side(outline=block, levels=((20.0, 0.0), (120.0, 0.0)), turn_per_mm=turn))
    node, weight = np.polynomial.legendre.leggauss(60)
    z, w = 70 + 50 * node, 50 * weight
    x, y = np.meshgrid(*(c + h * np.polynomial.legendre.leggauss(3)[0] for c, h in ((20, 10), (8.5, 3.5))))
    wx, wy = np.meshgrid(*(h * np.polynomial.legendre.leggauss(3)[1] for h in (10, 3.5)))
    place = (x + 1j * y).ravel()[:, None] * np.exp(1j * turn * z)
    points = np.stack([place.real, place.imag, np.broadcast_to(z, place.shape)])
    mass = (wx * wy).ravel()[:, None] * w
    assert moments.first == pytest.approx(np.einsum("iab,ab->i", points, mass), rel=1e-12, abs=1e-6)
    second = np.einsum("iab,jab,ab->ij", points, points, mass)
    assert moments.second == pytest.approx(second, rel=1e-12, abs=1e-12 * float(np.max(second)))


def test_the_whole_segment_agrees_with_the_volume_study() -> None:
    part = segment(ribs=1, chambers=1)
    moments = moments_of_part(part)
    assert moments.volume == pytest.approx(volume_of(part), rel=1e-12)
    assert moments.centre == pytest.approx(centroid_of_part(part), abs=1e-10)


def test_the_kernel_agrees() -> None:
    """Independent library: a B-rep of the same part, integrated by the kernel with a tight setting."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    from rollergen.shape.solid import build_solid

    part = segment(ribs=1, chambers=3, pitch="400 mm")
    solid = build_solid(part)
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(getattr(solid, "wrapped", solid), properties, 1e-9)
    matrix = properties.MatrixOfInertia()
    theirs = np.array([[matrix.Value(i, j) for j in (1, 2, 3)] for i in (1, 2, 3)])
    moments = moments_of_part(part)
    assert properties.Mass() == pytest.approx(moments.volume, rel=1e-7)
    assert theirs == pytest.approx(inertia_about_centre(moments), rel=1e-6, abs=1e-6 * float(np.max(theirs)))
    assert abs(theirs[0, 2]) > 1e-3 * theirs[0, 0]  # a single rib couples, so the check sees signs


def test_equal_ribs_and_chambers_leave_nothing_out_of_balance() -> None:
    report = weighed(ribs=2, chambers=2)
    scale = report.spin_inertia_kg_mm2
    assert report.unbalance_kg_mm < 1e-12 * scale
    assert report.couple_kg_mm2 == pytest.approx((0, 0), abs=1e-10 * scale)
    assert report.inertia_kg_mm2[0][2] == pytest.approx(0, abs=1e-10 * scale)


def test_a_single_rib_shakes() -> None:
    report = weighed(ribs=1, pitch="130 mm", chamfer=0)
    assert report.unbalance_kg_mm < 1e-9  # one whole turn: its centre is back on the axis
    assert max(map(abs, report.couple_kg_mm2)) > 1.0  # and still a couple


def test_the_other_hand_mirrors_the_tensor() -> None:
    right, left = weighed(ribs=1), weighed(ribs=1, hand="left")
    mirrored = np.array(right.inertia_kg_mm2) * np.array([[1, -1, 1], [-1, 1, -1], [1, -1, 1]])
    assert np.array(left.inertia_kg_mm2) == pytest.approx(mirrored, rel=1e-10, abs=1e-7)


def test_foam_in_one_chamber_pulls_the_centre_over() -> None:
    empty, filled = weighed(), weighed(foamed=[2])
    assert empty.unbalance_kg_mm < 1e-9 < 1e-3 < filled.unbalance_kg_mm
    assert filled.spin_inertia_kg_mm2 > empty.spin_inertia_kg_mm2


def test_the_couple_is_taken_about_mid_length() -> None:
    report = weighed(foamed=[2], pitch="straight", ribs=5)
    assert report.unbalance_kg_mm > 1e-3  # out of balance, but evenly along the length
    assert report.couple_kg_mm2 == pytest.approx((0, 0), abs=1e-9 * report.spin_inertia_kg_mm2)


def test_pieces_are_counted_whole_only_beside_the_plain_number() -> None:
    assert pieces_for(1000.0, 100.0) == (10.0, 10, 10)
    assert pieces_for(1050.0, 100.0) == (10.5, 10, 11)
    assert pieces_for(0.3, 0.1)[1:] == (3, 3)  # 2.9999999999999996
    with pytest.raises(ValueError, match="above 0"):
        pieces_for(1000.0, 0.0)
