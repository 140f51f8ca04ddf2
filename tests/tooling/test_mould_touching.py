"""Walls, fits, openings and marks of a mould; no two bodies share room."""

from __future__ import annotations

from dataclasses import replace
from math import cos, degrees, hypot, pi, radians, sin, tan, tau

import manifold3d
import numpy as np
import pytest
from mould_case import (
    GENERAL,
    HALF,
    TEXTS,
    UNEVEN,
    VARIANTS,
    as_manifold,
    changed,
    mould_at,
    mould_from,
    numbers,
)

from rollergen.shape.distance import boundary_points, signed_distance
from rollergen.shape.mesh import build_mesh
from rollergen.shape.offset import inward
from rollergen.shape.outline import turned
from rollergen.shape.part import Side
from rollergen.shape.part_holes import clearance
from rollergen.shape.part_volume import volume_of
from rollergen.shape.properties import area_of, least_distance
from rollergen.spec.reading import read_profile
from rollergen.tooling.cavity import (
    end_thicknesses,
    outer_levels,
)
from rollergen.tooling.mould import Mould
from rollergen.tooling.mould_fits import closed_words, fit_lines
from rollergen.tooling.mould_numbers import body_named
from rollergen.tooling.mould_tool import Fits, Tool
from rollergen.tooling.shrinkage import METALS

# walls, fits, touching


@pytest.mark.parametrize("end", ["large", "middle", "small"])
def test_walls_at_both_ends_follow_the_draft(end: str) -> None:
    """Wall and hub wall change by L tan, a web by twice that; the nominal end is where it was asked."""
    profile = read_profile(GENERAL)
    mould = mould_from(profile, tool=Tool(core_draft=HALF, nominal_end=end))
    report = numbers(mould, profile)
    asked, lost = profile.chambers, profile.body.free_length * tan(HALF)
    share = {"large": 0.0, "middle": 0.5, "small": 1.0}[end]
    assert asked is not None
    for found, nominal, factor in (
        (report.wall_ends_mm, asked.wall, 1),
        (report.web_ends_mm, asked.web, 2),
        (report.hub_wall_ends_mm, asked.hub_wall, 1),
    ):  # fmt: skip
        expected = [nominal - factor * share * lost, nominal + factor * (1 - share) * lost]
        assert found == pytest.approx(expected, abs=1e-3)
    low, high = report.kg_per_m_ends
    assert low < high
    assert (report.part_kg > report.part_nominal_kg) == (end == "large")


def test_walls_by_slicing_a_mesh() -> None:
    """Web and wall measured on cuts of the cast body's mesh, at both ends and the middle, shrunk back."""
    import trimesh

    mould = mould_at(GENERAL)
    cavity, error = mould.cavity, 0.01
    mesh = build_mesh(body_named(mould, "cast_segment").part, chord_error=error)
    body = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    ends = end_thicknesses(cavity, UNEVEN)
    for share in (0.02, 0.5, 0.98):
        z = share * cavity.length
        path = body.section(plane_origin=[0, 0, z], plane_normal=[0, 0, 1])
        loops = sorted(
            (np.asarray(loop)[:, :2] for loop in path.discrete), key=lambda p: -np.hypot(*p.T).max()
        )
        chambers = [loop for loop in loops[1:] if np.hypot(*loop.mean(axis=0)) > 1.0]
        assert len(chambers) == 6
        reach = max(np.hypot(*loop.T).max() for loop in chambers)
        wall = (cavity.body_radius - reach) * (1 - UNEVEN.radial)
        assert ends[0].wall is not None and ends[1].wall is not None
        assert wall == pytest.approx(ends[0].wall + share * (ends[1].wall - ends[0].wall), abs=error)


def test_fits_are_what_was_asked() -> None:
    mould = mould_at(GENERAL)
    fits = {line.fit: line.cold_mm for line in numbers(mould, read_profile(GENERAL)).fits}
    assert fits["core foot in base plate"] == pytest.approx(0.03, abs=1e-3)
    assert fits["core spigot in top plate"] == pytest.approx(0.08, abs=1e-3)
    assert fits["dowel in plate"] == pytest.approx(0.01, abs=1e-3)
    plate = body_named(mould, "base_plate").part
    foot = next(s for s in plate.sides if s.outline == mould.cavity.section.chambers[0])
    core = body_named(mould, "chamber_core_1").part.sides[0]
    gap = least_distance(inward(foot.outline, foot.levels[0][1]), inward(core.outline, core.levels[0][1]))
    assert gap == pytest.approx(0.03, abs=1e-9)


@pytest.mark.parametrize("stem", ["celeriac-transfer", "plain-sleeve"])
def test_a_mandrel_without_a_lead_in_has_a_spigot_fit_too(stem: str) -> None:
    """Measured between the two bodies themselves as well."""
    path = GENERAL.with_name(f"{stem}.toml")
    mould = mould_at(path)
    assert mould.cavity.lead_in[1] == 0
    fits = {line.fit: line.cold_mm for line in numbers(mould, read_profile(path)).fits}
    assert fits["mandrel spigot in top plate"] == pytest.approx(0.08, abs=1e-9)
    pocket, spigot = (body_named(mould, name).part for name in ("top_plate", "bore_mandrel"))
    hole = next(
        s
        for s in pocket.sides
        if s.outline == mould.cavity.section.bore and s.levels[0][0] >= mould.cavity.length
    )
    here = inward(spigot.sides[0].outline, spigot.sides[0].levels[-1][1])
    assert least_distance(inward(hole.outline, hole.levels[0][1]), here) == pytest.approx(0.08, abs=1e-9)


@pytest.mark.parametrize("name", ["", "round bore", "hexagon", "keyed", "no lead-in"])
@pytest.mark.parametrize("degree", [0.0, 0.3])
def test_the_least_bore_is_the_mandrel_s(name: str, degree: float) -> None:
    """At its thin end the profile's width; a lead-in of 1 mm takes the last millimetre of the mandrel."""
    profile = changed(*VARIANTS[name]) if name else read_profile(GENERAL)
    mould = mould_from(profile, tool=Tool(mandrel_draft=radians(degree)))
    more = 2 * profile.bore.lead_in * tan(radians(degree))
    found = numbers(mould, profile).least_bore_mm
    assert found == pytest.approx(profile.bore.width + more, abs=1e-9)


def test_hot_fits_of_one_metal_hardly_change_and_of_two_open() -> None:
    """15 mm half width, steel in aluminium at 80 K: 0.013 mm; a seat at 80 mm is off by 0.070 mm."""
    growth = (METALS["aluminium"].expansion - METALS["steel"].expansion) * 80
    assert 15 * growth == pytest.approx(0.0132, abs=1e-4) and 80 * growth == pytest.approx(0.0704, abs=1e-4)
    profile = read_profile(GENERAL)
    one = numbers(mould_from(profile, tool=Tool(core_draft=HALF, cure_rise=80.0)), profile)
    two = numbers(
        mould_from(profile, tool=Tool(core_draft=HALF, cure_rise=80.0, metal=METALS["aluminium"])), profile
    )
    mandrel = profile.bore.width / (1 - UNEVEN.radial) / 2
    for line in one.fits:
        assert line.hot_mm == pytest.approx(line.cold_mm, rel=1e-2)
    opened = next(line for line in two.fits if line.fit == "mandrel foot in base plate")
    assert opened.hot_mm is not None
    assert opened.hot_mm - opened.cold_mm == pytest.approx((mandrel + 1) * growth, rel=0.1)


@pytest.mark.parametrize("start", ["0 deg", "17 deg"])
def test_an_aluminium_core_in_a_steel_plate_closes_at_its_long_ends_however_it_lies(start: str) -> None:
    """0.03 (1 + 12e-6 150) - w 11e-6 150 at the foot, w half the greatest distance of two of its points."""
    profile = changed(('corner_radius = "2.5 mm"', f'corner_radius = "2.5 mm"\nstart = "{start}"'))
    tool = Tool(core_metal=METALS["aluminium"], cure_rise=150.0)
    mould = mould_from(profile, tool=tool)
    points = boundary_points(mould.cavity.section.chambers[0], 0.05)
    w = float(np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1)).max()) / 2
    line = next(line for line in fit_lines(mould) if line.fit == "core foot in base plate")
    closed = 0.03 * (1 + 12e-6 * 150) - w * 11e-6 * 150
    assert line.hot_mm == pytest.approx(closed, abs=1e-6) and closed < 0
    (said,) = (one for one in closed_words(mould) if one.startswith("core foot in base plate"))
    needed = float(said.split('--foot-fit "')[1].split(" mm")[0])
    assert needed == 0.05  # the mandrel's: one value for both
    assert said in numbers(mould, profile).cautions
    assert closed_words(mould_from(profile, tool=replace(tool, fits=Fits(foot=needed)))) == ()


def meshes(mould: Mould, *, turned_by: dict[str, float] | None = None) -> dict[str, manifold3d.Manifold]:
    """Every body as a manifold; sides on the casting's outer curve are cut as the casting's are."""
    carrier = Side(
        outline=mould.cavity.section.outer,
        levels=outer_levels(mould.cavity),
        turn_per_mm=mould.cavity.turn_per_mm,
    )
    found = {}
    for body in mould.bodies:
        carriers = {n: carrier for n, s in enumerate(body.part.sides) if s.outline == carrier.outline}
        mesh = build_mesh(body.part, chord_error=0.05, carriers=carriers)
        found[body.name] = as_manifold(mesh, (turned_by or {}).get(body.name, 0.0))
    return found


@pytest.mark.parametrize(
    "draft", [pytest.param(0.0, marks=pytest.mark.slow), HALF], ids=["straight", "drafted"]
)
def test_no_two_bodies_share_room(draft: float) -> None:
    """On the same facets where they touch nothing is left but sheets; turned by 1 deg the sleeve cuts in.

    A sheet has no thickness; its volume is rounding of areas times heights: 2.4e-11 mm3 at most was seen.
    """
    mould = mould_at(GENERAL, draft=draft)
    solids = list(meshes(mould).items())
    pairs = [(a, b) for i, a in enumerate(solids) for b in solids[i + 1 :]]
    assert len(pairs) == 26 * 25 / 2
    for (one, a), (other, b) in pairs:
        assert abs((a ^ b).volume()) < 1e-9, (one, other)
    wrong = meshes(mould, turned_by={"cavity_sleeve": radians(1)})
    assert (wrong["cavity_sleeve"] ^ wrong["cast_segment"]).volume() > 1000


def test_pieces_share_no_room_with_the_casting_nor_with_each_other() -> None:
    """The section of the pieces turns with the casting's: one height stands for all, and there they only touch."""
    mould = mould_at(GENERAL, split="tips")
    outer = mould.cavity.section.outer
    pieces = [b.part.sides[0].outline for b in mould.bodies if b.name.startswith("cavity_piece")]
    for number, piece in enumerate(pieces):
        assert abs(clearance(piece, outer)) < 1e-9
        after = pieces[(number + 1) % len(pieces)]
        assert abs(clearance(piece, after)) < 1e-9
    total = sum(area_of(piece) for piece in pieces) + area_of(outer)
    assert total == pytest.approx(pi * mould.layout.block_radius**2, rel=1e-12)
    off = turned(outer, radians(1))
    assert min(clearance(piece, off) for piece in pieces) < -0.1


def test_gate_lies_at_the_widest_rubber_and_clear_of_vents() -> None:
    """No point of a fine grid of the top face has more rubber about it."""
    from rollergen.tooling.gate import top_face

    mould = mould_at(GENERAL)
    outer, holes = top_face(mould.cavity)
    line = np.linspace(-70, 70, 281)
    grid = np.stack([a.ravel() for a in np.meshgrid(line, line)], axis=1)
    free = -signed_distance(outer, grid)
    for hole in holes:
        free = np.minimum(free, signed_distance(hole, grid))
    assert mould.gate.free >= free.max() - 1e-9
    assert mould.gate.free == pytest.approx(free.max(), abs=0.3)
    for vent in mould.vents:
        apart = hypot(vent.at[0] - mould.gate.at[0], vent.at[1] - mould.gate.at[1])
        assert apart > (vent.diameter + mould.gate.diameter) / 2 + 0.3


def test_vents_stand_at_the_rib_ends_of_the_turned_top() -> None:
    mould = mould_at(GENERAL)
    for vent, angle in zip(mould.vents, mould.cavity.rib_angles, strict=True):
        off = np.arctan2(vent.at[1], vent.at[0]) - angle - mould.cavity.twist
        assert (off + pi) % tau - pi == pytest.approx(0.0, abs=1e-12)
        assert mould.cavity.tip_radius - hypot(*vent.at) < 4.0


def test_the_plates_close_one_way_only() -> None:
    """No turn but 0 brings both dowels onto dowel holes."""
    dowels = mould_at(GENERAL).layout.dowels
    for degree in range(1, 360):
        a = radians(degree)
        moved = [(x * cos(a) - y * sin(a), x * sin(a) + y * cos(a)) for x, y in dowels]
        assert max(min(hypot(m[0] - d[0], m[1] - d[1]) for d in dowels) for m in moved) > 0.5


def test_marks_are_pockets_in_the_plate_and_stand_out_of_the_part() -> None:
    plain, marked = mould_at(GENERAL), mould_at(GENERAL, marks=TEXTS)
    more = volume_of(body_named(marked, "cast_segment").part) - volume_of(
        body_named(plain, "cast_segment").part
    )
    less = volume_of(body_named(plain, "base_plate").part) - volume_of(body_named(marked, "base_plate").part)
    letters = sum(area_of(g.outline) - sum(area_of(e) for e in g.eyes) for g in marked.marks)
    assert len(marked.marks) == sum(c != " " for c in "".join(TEXTS))
    assert more == pytest.approx(0.4 * letters, rel=1e-9) and less == pytest.approx(more, rel=1e-9)


def test_mixed_order_of_demoulding_names_the_hand() -> None:
    left = changed(*VARIANTS["left hand"])
    words = " ".join(numbers(mould_from(left), left).demould)
    assert "clockwise" in words and "counter-clockwise" not in words
    profile = read_profile(GENERAL)
    assert "counter-clockwise" in " ".join(numbers(mould_at(GENERAL), profile).demould)
    twist = degrees(mould_at(GENERAL).cavity.twist)
    assert twist == pytest.approx(degrees(profile.turn_per_mm * profile.body.free_length), rel=1e-12)


def test_the_sleeve_screws_off_with_the_hand_of_the_ribs_only() -> None:
    """Lifted by 10 mm: turned with the helix it stays on the casting's own flanks, against it it cuts in."""
    mould = mould_at(GENERAL)
    solids = meshes(mould)
    sleeve, casting = solids["cavity_sleeve"], solids["cast_segment"]
    turn = degrees(mould.cavity.turn_per_mm * 10.0)
    right, wrong = (sleeve.rotate((0, 0, way * turn)).translate((0, 0, 10.0)) ^ casting for way in (1, -1))
    assert right.volume() < 0.02 * wrong.volume()  # facets of unlike layers: chord errors only
    assert wrong.volume() > 1000
