"""The box of a body of the mould: closed forms, dense points, and the kernel's own box."""

from __future__ import annotations

from math import pi, radians, sqrt

import numpy as np
import pytest
from mould_case import GENERAL, RUBBER, USUAL, changed, mould_at, mould_from

from rollergen.shape.chambers import least_radius
from rollergen.shape.distance import boundary_points
from rollergen.shape.mesh import build_mesh
from rollergen.shape.mesh_cut import sector_of
from rollergen.shape.offset import inward
from rollergen.shape.outline import Arc, Line, Outline, circle
from rollergen.shape.reach import reach_towards
from rollergen.shape.section import section_of
from rollergen.shape.solid import checked_solid
from rollergen.tooling.mould import Mould, mould_of
from rollergen.tooling.mould_extent import size_of
from rollergen.tooling.mould_numbers import body_named, parts_lines
from rollergen.tooling.pieces import Split


def planes(pieces: int, first_deg: float) -> Mould:
    split = Split(pieces=pieces, on="planes", first=radians(first_deg))
    return mould_of(mould_at(GENERAL).cavity, USUAL, RUBBER, split=split)


def sizes(mould: Mould, name: str) -> tuple[float, float, float]:
    return size_of(body_named(mould, name))


def test_half_a_ring_is_half_as_wide_and_a_quarter_is_square() -> None:
    for pieces, across in ((2, (2.0, 1.0)), (4, (1.0, 1.0))):
        mould = planes(pieces, 0.0)
        radius, high = mould.layout.block_radius, mould.layout.high - mould.layout.low
        assert sizes(mould, "cavity_piece_1") == pytest.approx(
            (across[0] * radius, across[1] * radius, high), abs=1e-9
        )


def test_a_third_reaches_back_to_where_a_groove_passes_its_plane() -> None:
    """Sector of 120 deg about +x: from -r/2 of the groove's bottom to R, and R sqrt(3) wide; the twist passes it."""
    mould = planes(3, -60.0)
    radius, groove = mould.layout.block_radius, least_radius(mould.cavity.section.outer)
    x, y, _ = sizes(mould, "cavity_piece_1")
    assert (x, y) == pytest.approx((radius - groove / 2, radius * sqrt(3)), abs=1e-9)


@pytest.mark.parametrize("name", ["cavity_piece_1", "cast_segment", "chamber_core_2"])
def test_the_box_holds_dense_points_of_the_body_and_no_more(name: str) -> None:
    """Points every 0.2 mm at 300 heights: never outside the box, and within 0.005 mm of it."""
    mould = mould_at(GENERAL, split="tips")
    side = body_named(mould, name).part.sides[0]
    heights, offsets = zip(*side.levels, strict=True)
    rows = {d: boundary_points(inward(side.outline, d), 0.2) for d in offsets}
    reach = np.full(4, -np.inf)
    for z in np.linspace(heights[0], heights[-1], 300 if side.turn_per_mm else 2):
        x, y = rows[min(offsets, key=lambda d: abs(d - np.interp(z, heights, offsets)))].T
        c, s = np.cos(side.turn_per_mm * z), np.sin(side.turn_per_mm * z)
        u, v = c * x - s * y, s * x + c * y
        reach = np.maximum(reach, [u.max(), v.max(), -u.min(), -v.min()])
    dense = (reach[0] + reach[2], reach[1] + reach[3])
    assert all(
        0 <= told - seen + 1e-9 < 5e-3 for told, seen in zip(sizes(mould, name)[:2], dense, strict=True)
    )


def test_an_arc_reaches_to_its_middle_only_where_it_looks_that_way() -> None:
    half = Outline((Arc((3.0, 1.0), 2.0, 0.0, pi, "c"), Line((1.0, 1.0), (5.0, 1.0), "c")))
    ways = np.array([0.0, pi / 2, pi, 3 * pi / 2])
    assert reach_towards(half.edges, ways) == pytest.approx([5.0, 3.0, -1.0, -1.0], abs=1e-12)
    ring = circle(2.0, "c", centre=(3.0, 1.0))
    assert reach_towards(ring.edges, ways) == pytest.approx([5.0, 3.0, -1.0, 1.0], abs=1e-12)


def test_the_core_of_a_lone_chamber_fills_the_box_its_arcs_fill() -> None:
    """It goes nearly all round: its box is as wide as twice the outer wall's radius, but for the web's side."""
    profile = changed(("count = 6", "count = 1"))
    mould = mould_from(profile, tool=USUAL)
    line = next(line for line in parts_lines(mould) if line.part == "chamber_core_1")
    widest = max(e.radius for e in section_of(profile).chambers[0].edges if isinstance(e, Arc))
    scale = mould.cavity.tip_radius / profile.tip_radius
    assert line.size_mm[1] == pytest.approx(2 * widest * scale, abs=1e-9)


def kernel_box(shape: object) -> tuple[float, float, float]:
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, box, False, False)
    low, high = box.Get()[:3], box.Get()[3:]
    return (high[0] - low[0], high[1] - low[1], high[2] - low[2])


@pytest.mark.slow
@pytest.mark.parametrize("split", ["", "tips"])
def test_every_body_is_as_large_as_the_kernel_says(split: str) -> None:
    for body in (b for b in mould_at(GENERAL, split=split).bodies if not b.copy_of):
        assert size_of(body) == pytest.approx(kernel_box(checked_solid(body.part)[0]), abs=0.01), body.name


@pytest.mark.slow
def test_axial_pieces_are_as_large_as_their_meshes() -> None:
    """Facets lie inside the body by their chord error at most.

    The kernel's own box of a cut spline is up to 1 mm too large.
    """
    mould = planes(3, 10.0)
    for body in (b for b in mould.bodies if b.sector is not None):
        assert body.sector is not None
        points = sector_of(build_mesh(body.part, chord_error=0.005), *body.sector).vertices
        assert size_of(body) == pytest.approx(np.ptp(points, axis=0), abs=0.01), body.name
