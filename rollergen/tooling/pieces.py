"""A cavity in pieces that part along helices: each leaves straight outwards, held together by a jacket."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import atan2, ceil, cos, floor, hypot, pi, sin, sqrt, tau
from typing import Literal

import numpy as np

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.distance import signed_distance
from rollergen.shape.outline import Arc, Edge, Line, Outline, Point, circle, turned
from rollergen.shape.part import Part
from rollergen.shape.part_holes import backwards
from rollergen.shape.properties import area_of
from rollergen.shape.way_out import largest_that_fits
from rollergen.tooling.cavity import Cavity
from rollergen.tooling.fastening import LIFT, LIFT_DEPTH, blind_above
from rollergen.tooling.layout import JACKET_WALL, THINNEST_DOWEL, Layout
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.skin import End, Skin, drilled

PIECE, JACKET = "#9fb4c7", "#8a97a3"
PIN_DEPTH = 12.0  # mm a piece's pin stands in it
PIN_WALL = 1.5  # mm of metal round it
NEAR = 1e-9  # mm or rad
PANELS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """``pieces`` equal pieces, parting on the rib tips, in the middle of the grooves, or along axial planes.

    ``first``: angle of the first parting at z = 0 (rad); None: on rib 1, or in the groove ahead of it.
    ``pull``: direction the first piece leaves in (rad from +x); None: along its middle half way up.
    ``alone``: whether one piece can leave before its neighbours; None: not looked at.  ``alone_limit``: twist up to
    which it can (rad); None: not looked at.
    """

    pieces: int
    on: Literal["tips", "grooves", "planes"]
    first: float | None = None
    pull: float | None = None
    alone: bool | None = None
    alone_limit: float | None = None


def parting_angles(cavity: Cavity, split: Split) -> tuple[float, ...]:
    """Angles of the partings at z = 0 (rad); piece i lies from angle i to angle i + 1."""
    ribs = len(cavity.rib_angles)
    if split.on != "planes" and (ribs == 0 or ribs % split.pieces):
        raise ProfileError(
            [
                Complaint(
                    key="--release",
                    message=f"{ribs} ribs cannot be shared among {split.pieces} like pieces; "
                    "the pieces must divide the ribs",
                )
            ]
        )
    first = split.first
    if first is None:
        off = groove_middle(cavity) if split.on == "grooves" else 0.0
        first = off + (cavity.rib_angles[0] if ribs else 0.0)
    return tuple(first + tau * number / split.pieces for number in range(split.pieces))


def piece_middles(cavity: Cavity, split: Split) -> tuple[float, ...]:
    """Direction of each piece's middle half way up (rad from +x, counter-clockwise seen from +z)."""
    turn = 0.0 if split.on == "planes" else cavity.twist / 2
    return tuple(angle + pi / split.pieces + turn for angle in parting_angles(cavity, split))


def piece_pulls(cavity: Cavity, split: Split) -> tuple[float, ...]:
    """Direction each piece is moved in (rad from +x): off the middle where the flanks are unlike."""
    middles = piece_middles(cavity, split)
    off = 0.0 if split.pull is None else split.pull - middles[0]
    return tuple(middle + off for middle in middles)


def groove_middle(cavity: Cavity) -> float:
    """Angle from a rib's centre to the middle of the groove ahead of it; half a step for like flanks."""
    ribs = len(cavity.rib_angles)
    step = tau / ribs
    grooves = [
        e
        for e in cavity.section.outer.edges
        if isinstance(e, Arc)
        and e.sweep > 0
        and hypot(*e.centre) < NEAR
        and abs(e.radius - cavity.body_radius) < 1e-6
    ]
    if not grooves:
        return step / 2  # the root fillets meet
    middle = grooves[0].angle + grooves[0].sweep / 2
    return (middle - cavity.rib_angles[0]) % step


def chain_between(outline: Outline, start: float, end: float) -> tuple[Edge, ...]:
    """The part of a curve round the axis from angle ``start`` counter-clockwise to ``end`` (rad), cut exactly."""
    edges = outline.edges
    first, at = _crossing(outline, start)
    last, stop = _crossing(outline, end)
    if first == last and at < stop:
        return (_between(edges[first], at, stop),)
    chain = [_between(edges[first], at, 1.0)]
    number = (first + 1) % len(edges)
    while number != last:
        chain.append(edges[number])
        number = (number + 1) % len(edges)
    chain.append(_between(edges[last], 0.0, stop))
    return tuple(edge for edge in chain if edge is not None)


def _crossing(outline: Outline, angle: float) -> tuple[int, float]:
    """Edge the ray at ``angle`` crosses, and the share of it before the crossing."""
    best: tuple[float, int, float] | None = None
    for number, edge in enumerate(outline.edges):
        for share in _shares(edge, angle):
            x, y = edge.at(share)
            miss = abs(-x * sin(angle) + y * cos(angle))
            if x * cos(angle) + y * sin(angle) > 0 and (best is None or miss < best[0] - 1e-12):
                best = (miss, number, share)
    if best is None:
        raise ValueError(f"the curve does not go round the axis: nothing at {angle:.6g} rad")
    return best[1], best[2]


def _shares(edge: Edge, angle: float) -> list[float]:
    """Shares 0..1 of an edge that lie on the line through the axis at ``angle``."""
    c, s = cos(angle), sin(angle)
    if isinstance(edge, Line):
        a, b = (-p[0] * s + p[1] * c for p in (edge.start, edge.end))
        if a == b or a * b > 0:
            return []
        return [a / (a - b)]
    off = -edge.centre[0] * s + edge.centre[1] * c
    if abs(off) > edge.radius:
        return []
    along = edge.centre[0] * c + edge.centre[1] * s
    half = sqrt(edge.radius**2 - off**2)
    found = []
    for reach in (along - half, along + half):
        towards = atan2(reach * s - edge.centre[1], reach * c - edge.centre[0])
        sense = 1.0 if edge.sweep > 0 else -1.0
        swept = (sense * (towards - edge.angle) + NEAR) % tau - NEAR
        if swept <= abs(edge.sweep) + NEAR:
            found.append(min(max(swept / abs(edge.sweep), 0.0), 1.0))
    return found


def _between(edge: Edge, start: float, stop: float) -> Edge:
    if isinstance(edge, Arc):
        return Arc(
            edge.centre,
            edge.radius,
            edge.angle + start * edge.sweep,
            (stop - start) * edge.sweep,
            edge.feature,
        )
    return Line(edge.at(start), edge.at(stop), edge.feature)


def piece_outline(cavity: Cavity, layout: Layout, split: Split, number: int) -> Outline:
    """Section of one piece at z = 0: the cavity's curve backwards, two radial partings, the outside."""
    start = parting_angles(cavity, split)[number]
    return between_partings(cavity.section.outer, layout.block_radius, start, tau / split.pieces)


def between_partings(hollow: Outline, radius: float, start: float, sweep: float) -> Outline:
    """What is between a hollow and a circle round it, and between two radial partings (rad)."""
    inner = backwards(chain_between(hollow, start, start + sweep))
    outside = Arc((0.0, 0.0), radius, start, sweep, "block")
    return Outline(
        (
            Line(inner[-1].end, outside.start, "parting"),
            outside,
            Line(outside.end, inner[0].start, "parting"),
            *inner,
        )
    )


def piece(cavity: Cavity, layout: Layout, tool: Tool, split: Split, number: int) -> Part:
    """One piece: its section carried up the same helix as the ribs, with the hole of its pin."""
    skin = Skin(f"{cavity.name} cavity piece")
    outline = piece_outline(cavity, layout, split, number)
    side = skin.wall("piece", outline, ((layout.low, 0.0), (layout.high, 0.0)), cavity.turn_per_mm)
    at = pin_places(cavity, layout, split)[number]
    diameter = tool.dowel + 2 * tool.fits.dowel
    _refuse_pin(cavity, layout, split, number, outline, at, diameter, tool.dowel)
    hole = drilled(skin, "pin hole", at, diameter, layout.low, layout.low + PIN_DEPTH)
    skin.face(layout.low, False, (side, "low"), [(hole, "low")])
    skin.face(layout.low + PIN_DEPTH, False, (hole, "high"))
    skin.face(
        layout.high,
        True,
        (side, "high"),
        _grips(skin, layout, grip_places(cavity, layout, split)[number:][:1]),
    )
    return skin.part(PIECE)


def lift_depth(layout: Layout) -> float:
    """How deep the threads go that pieces and jacket are drawn by (mm); 0 where pins leave no room for any."""
    deep = min(LIFT_DEPTH, (layout.high - layout.low - PIN_DEPTH) / 2)
    return deep if deep >= LIFT else 0.0


def _grips(skin: Skin, layout: Layout, places: Sequence[Point]) -> list[End]:
    """Threads in an upper face, drawn at full size, their floors included."""
    deep = lift_depth(layout)
    if not deep:
        return []
    return [
        (blind_above(skin, f"lifting thread {n}", at, LIFT, layout.high - deep, layout.high), "high")
        for n, at in enumerate(places, start=1)
    ]


def pin_places(cavity: Cavity, layout: Layout, split: Split) -> tuple[Point, ...]:
    """One pin a piece, in the middle of its thickness half way up the pin, so that the twist misses it."""
    return _mid_pieces(cavity, layout, split, layout.low + PIN_DEPTH / 2)


def grip_places(cavity: Cavity, layout: Layout, split: Split) -> tuple[Point, ...]:
    """One thread a piece in its upper face to draw it by, in the middle of its thickness half way down the thread."""
    return _mid_pieces(cavity, layout, split, layout.high - lift_depth(layout) / 2)


def _mid_pieces(cavity: Cavity, layout: Layout, split: Split, z: float) -> tuple[Point, ...]:
    turn = 0.0 if split.on == "planes" else cavity.turn_per_mm * z
    radius = (cavity.tip_radius + layout.block_radius) / 2
    half = pi / split.pieces
    return tuple(
        (radius * cos(angle + half + turn), radius * sin(angle + half + turn))
        for angle in parting_angles(cavity, split)
    )


def _metal_about_pin(cavity: Cavity, layout: Layout, outline: Outline, at: Point) -> float:
    """Least distance from a pin's axis to the skin of its piece over the pin's height (mm)."""
    return min(
        -float(signed_distance(turned(outline, cavity.turn_per_mm * z), np.array([at]))[0])
        for z in np.linspace(layout.low, layout.low + PIN_DEPTH, 13).tolist()
    )


def _wall_for_pin(cavity: Cavity, layout: Layout, split: Split, number: int, diameter: float) -> float | None:
    """The least block wall, to 0.1 mm, that holds a pin; None where its neighbours are in the way however thick."""
    most = 100.0

    def holds(less: float) -> bool:
        tried = replace(layout, block_radius=cavity.tip_radius + most - less)
        outline, at = piece_outline(cavity, tried, split, number), pin_places(cavity, tried, split)[number]
        return _metal_about_pin(cavity, tried, outline, at) - diameter / 2 >= PIN_WALL

    if not holds(0.0):
        return None
    return ceil(10 * (most - largest_that_fits(holds, 0.0, most)) - 1e-9) / 10


def _refuse_pin(
    cavity: Cavity,
    layout: Layout,
    split: Split,
    number: int,
    outline: Outline,
    at: Point,
    diameter: float,
    dowel: float,
) -> None:
    """The piece twists past its straight pin: metal must stay round it at every height."""
    left = _metal_about_pin(cavity, layout, outline, at)
    if left - diameter / 2 < PIN_WALL:
        thinner = floor(10 * (2 * (left - PIN_WALL) - (diameter - dowel))) / 10
        thicker = _wall_for_pin(cavity, layout, split, number, diameter)
        ways = [f"a block wall of {thicker:.1f} mm or more"] if thicker else []
        if thinner >= THINNEST_DOWEL:
            ways.append(f'--dowel "{thinner:g} mm" or less')
        raise ProfileError(
            [
                Complaint(
                    key="--block-wall",
                    message=f"a pin of {diameter:g} mm leaves {left - diameter / 2:.2f} mm of metal in its piece, "
                    f"{PIN_WALL:g} mm at least is needed; use {' or '.join(ways) or 'fewer pieces'}",
                )
            ]
        )


def jacket(cavity: Cavity, layout: Layout, tool: Tool) -> Part:
    """The ring that holds the pieces together; it slides off upwards once the top plate is gone."""
    skin = Skin(f"{cavity.name} jacket")
    ends = ((layout.low, 0.0), (layout.high, 0.0))
    inner = layout.block_radius + tool.fits.jacket
    outside = skin.wall("jacket", circle(inner + JACKET_WALL, "jacket"), ends)
    inside = skin.hole("jacket's bore", circle(inner, "jacket"), ends)
    skin.face(layout.low, False, (outside, "low"), [(inside, "low")])
    skin.face(layout.high, True, (outside, "high"), [(inside, "high"), *_grips(skin, layout, layout.lifts)])
    return skin.part(JACKET)


def whole_ring(cavity: Cavity, layout: Layout, tool: Tool, split: Split) -> Part:
    """What axial planes cut into pieces: the block in one, with the holes of all pins."""
    skin = Skin(f"{cavity.name} cavity block")
    ends = ((layout.low, 0.0), (layout.high, 0.0))
    outside = skin.wall("block", circle(layout.block_radius, "block"), ends)
    hollow = skin.hole("cavity", cavity.section.outer, ends, cavity.turn_per_mm)
    high, diameter = layout.low + PIN_DEPTH, tool.dowel + 2 * tool.fits.dowel
    pins = [
        drilled(skin, f"pin hole {number}", at, diameter, layout.low, high)
        for number, at in enumerate(pin_places(cavity, layout, split), start=1)
    ]
    for pin in pins:
        skin.face(high, False, (pin, "high"))
    skin.face(layout.low, False, (outside, "low"), [(hole, "low") for hole in (hollow, *pins)])
    grips = _grips(skin, layout, grip_places(cavity, layout, split))
    skin.face(layout.high, True, (outside, "high"), [(hollow, "high"), *grips])
    return skin.part(PIECE)


@lru_cache(maxsize=64)  # asked for mass, parts list and the check of the solid
def sector_volume(cavity: Cavity, layout: Layout, tool: Tool, start: float, sweep: float) -> float:
    """Volume of one axially parted piece (mm3), the holes of its pin and of the thread in its top taken out.

    The hollow's area between the planes is exact at every height and integrated by Gauss - Legendre in panels;
    it has kinks where an edge's corner passes a plane, which leaves about 1e-8 of the volume.
    """
    node, weight = np.polynomial.legendre.leggauss(4)
    height = layout.high - layout.low
    width = height / PANELS
    hollow = 0.0
    for panel in range(PANELS):
        for t, w in zip(node.tolist(), weight.tolist(), strict=True):
            turn = cavity.turn_per_mm * (layout.low + width * (panel + (t + 1) / 2))
            hollow += w * width / 2 * _sector_area(cavity.section.outer, start - turn, sweep)
    holes = pi * ((tool.dowel / 2 + tool.fits.dowel) ** 2 * PIN_DEPTH + (LIFT / 2) ** 2 * lift_depth(layout))
    return layout.block_radius**2 * sweep / 2 * height - hollow - holes


def _sector_area(outline: Outline, start: float, sweep: float) -> float:
    chain = chain_between(outline, start, start + sweep)
    axis = (0.0, 0.0)
    return area_of(Outline((Line(axis, chain[0].start), *chain, Line(chain[-1].end, axis))))
