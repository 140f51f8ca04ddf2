"""No two bodies of a closed mould share room; and where one is moved into another, that is found."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import radians, sin
from pathlib import Path

import numpy as np
import pytest
import shapely
from mould_case import GENERAL, HALF, RUBBER, SOME, TEXTS, UNEVEN, mould_at, mould_from

from rollergen.shape.outline import Arc, Outline, circle, turned
from rollergen.shape.part import Cap, Part, Side
from rollergen.shape.part_slice import heights, loops_at
from rollergen.shape.properties import area_of
from rollergen.shape.section import section_of
from rollergen.spec.reading import read_profile
from rollergen.tooling.cavity import cavity_of
from rollergen.tooling.mould import Mould, mould_of
from rollergen.tooling.mould_meeting import Meeting, meetings
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.pieces import Split


def as_polygon(loops: tuple[Outline, ...]) -> shapely.Geometry:
    """Even-odd area of the loops, arcs at 60 points."""
    area: shapely.Geometry = shapely.Polygon()
    for loop in loops:
        shares = [k / 60 for k in range(60)]
        points = [p for e in loop.edges for p in (map(e.at, shares) if isinstance(e, Arc) else (e.start,))]
        area = area.symmetric_difference(shapely.Polygon(points).buffer(0))
    return area


def moved(mould: Mould, name: str, by: float = 0.0, *, turn: float = 0.0) -> Mould:
    """The mould with one body grown outwards by ``by`` (mm), or turned about the axis (rad)."""

    def change(side: Side) -> Side:
        levels = tuple((z, offset - by) for z, offset in side.levels)
        return replace(side, outline=turned(side.outline, turn), levels=levels)

    bodies = [
        b if b.name != name else replace(b, part=replace(b.part, sides=tuple(map(change, b.part.sides))))
        for b in mould.bodies
    ]
    return replace(mould, bodies=tuple(bodies))


@pytest.mark.parametrize("path", SOME, ids=lambda p: getattr(p, "stem", ""))
@pytest.mark.parametrize("split", ["", "tips"])
def test_no_two_bodies_of_a_shipped_mould_share_room(path: Path, split: str) -> None:
    mould = mould_at(path, split=split, marks=TEXTS if not split else ())
    found = meetings(mould)
    assert found.pairs == len(mould.bodies) * (len(mould.bodies) - 1) // 2
    assert not found.shared
    gaps = {(m.a, m.b): m.gap_mm for m in found.near}
    cavity = [b.name for b in mould.bodies if b.name.startswith("cavity_")]
    assert all(gaps[(name, "cast_segment")] == 0.0 for name in cavity)
    assert gaps[("bore_mandrel", "cast_segment")] == 0.0
    if len(cavity) > 1:
        assert all(gaps[(a, b)] == 0.0 for a, b in zip(cavity, cavity[1:], strict=False))
    assert gaps[("base_plate", "bore_mandrel")] == pytest.approx(mould.tool.fits.foot, abs=1e-9)
    assert gaps[("top_plate", "dowel_1")] == pytest.approx(mould.tool.fits.dowel, abs=1e-9)


def test_fits_found_between_whole_bodies_are_the_fits_asked_for() -> None:
    mould = mould_at(GENERAL)
    gaps = {(m.a, m.b): m.gap_mm for m in meetings(mould).near}
    fits = mould.tool.fits
    for number in range(1, len(mould.cavity.section.chambers) + 1):
        core = f"chamber_core_{number}"
        assert gaps[("base_plate", core)] == pytest.approx(fits.foot, abs=1e-9)
        assert gaps[("top_plate", core)] == pytest.approx(fits.spigot, abs=1e-9)
        assert gaps[(core, "cast_segment")] == 0.0
    bolts = [gap for (a, b), gap in gaps.items() if a == "cavity_sleeve" and b.startswith("bolt")]
    assert len(bolts) == mould.tool.bolts and max(bolts) - min(bolts) < 1e-9


def test_a_sleeve_turned_by_one_degree_cuts_into_the_casting() -> None:
    """As deep as shapely finds at mid height."""
    mould = moved(mould_at(GENERAL), "cavity_sleeve", turn=radians(1))
    shared = {(m.a, m.b): m.overlap_mm for m in meetings(mould).shared}
    deep = shared[("cavity_sleeve", "cast_segment")]
    parts = {b.name: b.part for b in mould.bodies}
    z = mould.cavity.length / 2
    sleeve, cast = (as_polygon(loops_at(parts[n], z)) for n in ("cavity_sleeve", "cast_segment"))
    common = np.array(
        [p for piece in sleeve.intersection(cast).geoms for p in getattr(piece, "exterior", piece).coords]
    )
    inside = shapely.points(common)
    by_polygon = max(
        float(shapely.distance(inside, cast.boundary).max()),
        float(shapely.distance(inside, sleeve.boundary).max()),
    )
    assert deep == pytest.approx(by_polygon, abs=0.02)


@pytest.mark.parametrize("by", [0.031, 0.1, 0.5])
def test_a_core_thicker_than_its_seat_is_found_by_as_much(by: float) -> None:
    """Grown by more than the foot's fit it stands that much deeper in the plate; the casting it enters by all of it."""
    found = meetings(moved(mould_at(GENERAL), "chamber_core_2", by))
    shared = {(m.a, m.b): m.overlap_mm for m in found.shared}
    fit = mould_at(GENERAL).tool.fits.foot
    assert shared[("base_plate", "chamber_core_2")] == pytest.approx(by - fit, abs=1e-6)
    assert shared[("chamber_core_2", "cast_segment")] == pytest.approx(by, abs=1e-6)
    assert {pair for pair in shared if "chamber_core_2" not in pair} == set()


def test_a_core_below_its_fit_only_comes_nearer() -> None:
    found = meetings(moved(mould_at(GENERAL), "chamber_core_2", 0.02))
    gaps = {(m.a, m.b): m.gap_mm for m in found.near}
    assert gaps[("base_plate", "chamber_core_2")] == pytest.approx(
        mould_at(GENERAL).tool.fits.foot - 0.02, abs=1e-9
    )


def test_a_body_twice_in_one_place_is_found_though_its_skins_coincide() -> None:
    mould = mould_at(GENERAL)
    twin = replace(next(b for b in mould.bodies if b.name == "dowel_1"), name="dowel_1_again")
    found = meetings(replace(mould, bodies=(*mould.bodies, twin)))
    assert [(m.a, m.b, m.gap_mm) for m in found.shared] == [("dowel_1", "dowel_1_again", 0.0)]


def test_axial_pieces_meet_their_own_pins_and_their_neighbours() -> None:
    """Every pin stands in one piece with its fit; pieces touch the two beside them, and the casting."""
    profile = read_profile(GENERAL)
    cavity = cavity_of(profile, section_of(profile), UNEVEN)
    mould = mould_of(cavity, Tool(), RUBBER, split=Split(pieces=4, on="planes"))
    found = meetings(mould)
    assert not found.shared and found.pairs == len(mould.bodies) * (len(mould.bodies) - 1) // 2
    gaps = {(m.a, m.b): m.gap_mm for m in found.near}
    pieces = [f"cavity_piece_{number}" for number in range(1, 5)]
    pins = {pair for pair in gaps if pair[0] in pieces and pair[1].startswith("pin_")}
    assert pins == {(f"cavity_piece_{number}", f"pin_{number}") for number in range(1, 5)}
    assert all(gaps[pair] == pytest.approx(mould.tool.fits.dowel, abs=1e-9) for pair in pins)
    beside = {pair for pair in gaps if pair[0] in pieces and pair[1] in pieces}
    assert beside == {(a, b) for a, b in pairwise(pieces)} | {(pieces[0], pieces[-1])}
    assert all(gaps[pair] == 0.0 for pair in beside)
    assert all(gaps[(piece, "cast_segment")] == 0.0 for piece in pieces)


def test_an_axial_piece_cut_too_wide_enters_its_neighbour_by_as_much() -> None:
    """Its end plane turned by 0.5 deg: at the outside it lies R sin(0.5 deg) deep in the next one."""
    mould = mould_of(mould_at(GENERAL).cavity, Tool(), RUBBER, split=Split(pieces=4, on="planes"))
    first = next(b for b in mould.bodies if b.name == "cavity_piece_1")
    assert first.sector is not None
    wide = replace(first, sector=(first.sector[0], first.sector[1] + radians(0.5)))
    next_one = next(b for b in mould.bodies if b.name == "cavity_piece_2")
    (met,) = meetings(replace(mould, bodies=(wide, next_one))).shared
    assert met.overlap_mm == pytest.approx(mould.layout.block_radius * sin(radians(0.5)), abs=0.03)


def test_loops_of_a_cut_lie_as_the_part_does() -> None:
    """Area by shapely at three heights of a drafted, twisted casting: as the closed form says."""
    mould = mould_from(read_profile(GENERAL), tool=Tool(core_draft=HALF))
    cast = next(b for b in mould.bodies if b.name == "cast_segment").part
    assert heights(cast)[0] == 0.0 and loops_at(cast, -1.0) == () == loops_at(cast, heights(cast)[-1])
    for share in (0.1, 0.5, 0.9):
        loops = loops_at(cast, share * mould.cavity.length)
        assert as_polygon(loops).area == pytest.approx(sum(area_of(loop) for loop in loops), rel=1e-4)
        assert loops[0].edges[0].start == pytest.approx(
            turned(mould.cavity.section.outer, mould.cavity.turn_per_mm * share * mould.cavity.length)
            .edges[0]
            .start
        )


def test_far_bodies_are_not_listed_and_near_ones_are() -> None:
    """Two pins 0.9 and 1.1 mm apart."""

    def pin(name: str, x: float) -> Part:
        side = Side(outline=circle(2.0, name, centre=(x, 0.0)), levels=((0.0, 0.0), (10.0, 0.0)))
        caps = (Cap(z=0.0, up=False, outer=(0, "low")), Cap(z=10.0, up=True, outer=(0, "high")))
        return Part(name=name, sides=(side,), caps=caps)

    mould = mould_at(GENERAL)
    body = next(b for b in mould.bodies if b.name == "dowel_1")
    three = [replace(body, name=n, part=pin(n, x)) for n, x in (("a", 300.0), ("b", 304.9), ("c", 310.0))]
    found = meetings(replace(mould, bodies=tuple(three)))
    assert found.pairs == 3 and not found.shared
    (only,) = found.near
    assert only == Meeting(a="a", b="b", overlap_mm=0.0, gap_mm=only.gap_mm)
    assert only.gap_mm == pytest.approx(0.9, abs=1e-9)
