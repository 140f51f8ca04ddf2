"""A whole mould as bodies in place: cavity, plates, cores, fixings and the casting they hold.  No boolean."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, pi, sin, tau

from rollergen.shape.chambers import least_radius
from rollergen.shape.offset import inward
from rollergen.shape.part import Part
from rollergen.shape.properties import greatest_radius
from rollergen.tooling.cavity import Cavity, bore_levels, cast_part
from rollergen.tooling.cavity_block import bolt, bolt_bought, dowel_bought, pin, pin_bought, sleeve
from rollergen.tooling.cores import bore_mandrel, chamber_core
from rollergen.tooling.fastening import (
    LEAST,
    LIFT,
    SET_BACK,
    Anchor,
    Anchors,
    anchors_of,
    core_screw,
    jack_length,
    jack_screw,
    jack_size,
    pulling_thread,
)
from rollergen.tooling.gate import Opening, gate_of, vents_of
from rollergen.tooling.layout import DOWELS, Layout, layout_of
from rollergen.tooling.marks import Glyph, lettering
from rollergen.tooling.mould_body import Body, Vector
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.pieces import (
    PIN_DEPTH,
    Split,
    jacket,
    lift_depth,
    parting_angles,
    piece,
    piece_pulls,
    pin_places,
    whole_ring,
)
from rollergen.tooling.plates import base_plate, top_plate
from rollergen.tooling.shrinkage import METALS

CAST = "#6aa84f"
STEEL = METALS["steel"]  # of bought pins and bolts


@dataclass(frozen=True, slots=True, kw_only=True)
class Compound:
    """What is poured: its name and the density of the cured part (kg/m^3)."""

    name: str
    density_kg_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mould:
    """Every body in place, and what they were made from.  ``split`` None: a sleeve.

    ``way``: how the part leaves: "push" or "screw" out of a sleeve, "helical" or "planes" out of pieces, "strip"
    pulled over what hooks.
    """

    cavity: Cavity
    layout: Layout
    tool: Tool
    split: Split | None
    way: str
    gate: Opening
    vents: tuple[Opening, ...]
    marks: tuple[Glyph, ...]
    anchors: Anchors
    bodies: tuple[Body, ...]


def mould_of(
    cavity: Cavity, tool: Tool, compound: Compound, *, split: Split | None = None, way: str = ""
) -> Mould:
    """The mould as a sleeve, or in pieces where ``split`` says so; ``way`` as in ``Mould``, what the split needs if "".

    Raises ProfileError where parts do not fit (holes that meet, walls too thin, a mark too large, a chamfer
    that hooks), with numbers and a way out.
    """
    layout = layout_of(cavity, tool, "sleeve" if split is None else "helical")
    vents = vents_of(cavity, diameter=tool.vent)
    gate = gate_of(cavity, vents, diameter=tool.gate, at=tool.gate_at)
    marks = _marks(cavity, tool)
    anchors = anchors_of(cavity, tool)
    way = way or _usual_way(cavity, split)
    jacked = way != "screw"  # what is screwed off is turned, not pressed
    bodies = [
        *_block(cavity, layout, tool, split),
        *_plates(cavity, layout, tool, split, gate, vents, marks, anchors, jacked=jacked),
        *_cores(cavity, tool, anchors),
        *_fixings(cavity, layout, tool, split, way),
        *_screws(cavity, layout, tool, anchors, jacked=jacked, pieces=split is not None),
        _casting(cavity, tool, compound, marks),
    ]
    return Mould(
        cavity=cavity,
        layout=layout,
        tool=tool,
        split=split,
        way=way,
        gate=gate,
        vents=vents,
        marks=marks,
        anchors=anchors,
        bodies=tuple(bodies),
    )


def body_named(mould: Mould, name: str) -> Body:
    return next(body for body in mould.bodies if body.name == name)


def _usual_way(cavity: Cavity, split: Split | None) -> str:
    if split is not None:
        return "planes" if split.on == "planes" else "helical"
    return "screw" if cavity.turn_per_mm else "push"


def _marks(cavity: Cavity, tool: Tool) -> tuple[Glyph, ...]:
    """The texts in the ring between chambers (or bore) and groove of the z = 0 end."""
    if not any(text.strip() for text in tool.marks):
        return ()
    across, _ = cavity.chamfers[0]
    outer = least_radius(inward(cavity.section.outer, across) if across else cavity.section.outer)
    low = cavity.chamber_offsets[0] - tool.fits.foot
    inner = max(
        [
            greatest_radius(inward(cavity.section.bore, bore_levels(cavity)[0][1] - tool.fits.foot)),
            *(greatest_radius(inward(c, low)) for c in cavity.section.chambers),
        ]
    )
    return lettering(tool.marks, inner=inner, outer=outer, options=tool.mark_options)


def _block(cavity: Cavity, layout: Layout, tool: Tool, split: Split | None) -> list[Body]:
    if split is None:
        up = (0.0, 0.0, 1.4 * cavity.length)
        return [_metal(tool, "cavity_sleeve", sleeve(cavity, layout, tool), apart=up)]
    if split.on == "planes":
        return [*_sectors(cavity, layout, tool, split), _jacket(cavity, layout, tool)]
    one = piece(cavity, layout, tool, split, 0)
    out = 0.9 * cavity.tip_radius
    bodies = []
    for number, pull in enumerate(piece_pulls(cavity, split)):
        turned = tau * number / split.pieces
        bodies.append(
            _metal(
                tool,
                f"cavity_piece_{number + 1}",
                one if number == 0 else piece(cavity, layout, tool, split, number),
                apart=(out * cos(pull), out * sin(pull), 0.0),
                copy_of="cavity_piece_1" if number else "",
                turned=turned,
                note=_grip(layout),
            )
        )
    return [*bodies, _jacket(cavity, layout, tool)]


def _grip(layout: Layout) -> str:
    return f"thread M{LIFT:g} in its upper face to draw it by" if lift_depth(layout) else ""


def _jacket(cavity: Cavity, layout: Layout, tool: Tool) -> Body:
    return _metal(
        tool,
        "jacket",
        jacket(cavity, layout, tool),
        apart=(0.0, 0.0, 2.0 * cavity.length),
        note=f"2 threads M{LIFT:g} in its upper face to lift it by" if lift_depth(layout) else "",
    )


def _sectors(cavity: Cavity, layout: Layout, tool: Tool, split: Split) -> list[Body]:
    """Pieces between axial planes: no two alike where the ribs pass the planes."""
    ring, sweep, out = whole_ring(cavity, layout, tool, split), tau / split.pieces, 0.9 * cavity.tip_radius
    return [
        replace(
            _metal(
                tool,
                f"cavity_piece_{number}",
                ring,
                apart=(out * cos(pull), out * sin(pull), 0.0),
                note=_grip(layout),
            ),
            sector=(start, sweep),
        )
        for number, (start, pull) in enumerate(
            zip(parting_angles(cavity, split), piece_pulls(cavity, split), strict=True), start=1
        )
    ]


def _plates(
    cavity: Cavity,
    layout: Layout,
    tool: Tool,
    split: Split | None,
    gate: Opening,
    vents: tuple[Opening, ...],
    marks: tuple[Glyph, ...],
    anchors: Anchors,
    *,
    jacked: bool,
) -> list[Body]:
    pins = pin_places(cavity, layout, split) if split is not None else ()
    hole = tool.dowel + 2 * tool.fits.dowel
    base = base_plate(cavity, layout, tool, anchors, marks, tuple((at, hole) for at in pins), jacked=jacked)
    top = top_plate(cavity, layout, tool, gate, vents)
    down, up = -2.1 * cavity.length, (2.55 if split is None else 3.2) * cavity.length
    jacks = f"2 jack threads M{jack_size(tool):g}"
    threads = "; ".join([f"threads M{tool.bolt:g}", *([jacks] if jacked else [])])
    return [
        _metal(tool, "base_plate", base, apart=(0.0, 0.0, down), note=threads),
        _metal(tool, "top_plate", top, apart=(0.0, 0.0, up), note=jacks),
    ]


def _held(anchor: Anchor | None) -> str:
    """How a core is held in the base plate."""
    if anchor is None:
        return f"no screw: its foot is too small for M{LEAST.thread:g}; press fit or weld into the base plate, your choice"
    return f"thread M{anchor.size.thread:g} in its foot"


def _cores(cavity: Cavity, tool: Tool, anchors: Anchors) -> list[Body]:
    count = len(cavity.section.chambers)
    apart = (0.0, 0.0, -1.45 * cavity.length)
    made = [
        Body(
            name=f"chamber_core_{number + 1}",
            part=chamber_core(cavity, tool, number, anchors.cores[number]),
            role="make",
            material=tool.core_metal.name,
            density_kg_m3=tool.core_metal.density_kg_m3,
            copy_of="chamber_core_1" if number else "",
            turned=tau * number / count,
            apart=apart,
            note=_held(anchors.cores[number]),
        )
        for number in range(count)
    ]
    mandrel = Body(
        name="bore_mandrel",
        part=bore_mandrel(cavity, tool, anchors.mandrel),
        role="make",
        material=tool.core_metal.name,
        density_kg_m3=tool.core_metal.density_kg_m3,
        apart=apart,
        note=_held(anchors.mandrel),
    )
    return [*made, mandrel]


def _screws(
    cavity: Cavity, layout: Layout, tool: Tool, anchors: Anchors, *, jacked: bool, pieces: bool
) -> list[Body]:
    """Screws from below that hold the cores, and set screws that press the plates apart when turned in."""
    down, up = -2.6 * cavity.length, (2.85 if not pieces else 3.5) * cavity.length
    count, made = len(anchors.cores), []
    held = [
        *((f"core_screw_{number + 1}", number, anchor) for number, anchor in enumerate(anchors.cores)),
        ("mandrel_screw", 0, anchors.mandrel),
    ]
    for name, number, anchor in held:
        if anchor is not None:
            made.append(
                _bought(
                    name,
                    core_screw(f"{cavity.name} core screw", anchor),
                    apart=(0.0, 0.0, down),
                    copy_of="core_screw_1" if number else "",
                    turned=tau * number / count if number else 0.0,
                    note=f"{anchor.words} socket head, from below",
                )
            )
    thread = f"M{jack_size(tool):g}"
    long = jack_length(tool, layout.top - layout.high)
    low = layout.high + SET_BACK
    sets = [("jack_screw", low, low + long, up, "turned in it lifts the top plate")]
    if jacked:
        long, high = jack_length(tool, layout.low - layout.bottom), layout.low - SET_BACK
        what = "jacket" if pieces else "sleeve"
        sets.append(("base_jack", high - long, high, down, f"turned in from below it presses the {what} off"))
    for name, low, high, apart, does in sets:
        made += [
            _bought(
                f"{name}_{number}",
                jack_screw(f"{cavity.name} jack screw", at, tool, low, high),
                apart=(0.0, 0.0, apart),
                copy_of=f"{name}_1" if number > 1 else "",
                turned=pi * (number - 1),
                note=f"set screw {thread} x {high - low:g}; {does}",
            )
            for number, at in enumerate(layout.jacks, start=1)
        ]
    return made


def _fixings(cavity: Cavity, layout: Layout, tool: Tool, split: Split | None, way: str) -> list[Body]:
    up = (0.0, 0.0, (3.0 if split is None else 3.7) * cavity.length)
    first = layout.bolt_angles[0]
    thread = f"an M{pulling_thread(tool.dowel):g} thread"
    before = "the sleeve is screwed off" if way == "screw" else "the plates are parted"
    dowel, foot = dowel_bought(layout, tool), layout.bottom
    made = [
        _bought(
            f"dowel_{number}",
            pin(f"{cavity.name} dowel", at, tool.dowel, foot, foot + dowel.length, pulled="up"),
            apart=up,
            copy_of="dowel_1" if number > 1 else "",
            turned=DOWELS[number - 1] - DOWELS[0],
            note=f"{dowel.words}; drawn upwards by {thread} in its end before {before}",
        )
        for number, at in enumerate(layout.dowels, start=1)
    ]
    made += [
        _bought(
            f"bolt_{number}",
            bolt(f"{cavity.name} bolt", at, layout, tool),
            apart=(0.0, 0.0, up[2] + 0.35 * cavity.length),
            copy_of="bolt_1" if number > 1 else "",
            turned=angle - first,
            note=f"{bolt_bought(layout, tool).words} socket head",
        )
        for number, (at, angle) in enumerate(zip(layout.bolts, layout.bolt_angles, strict=True), start=1)
    ]
    if split is not None:
        bought = pin_bought(layout, tool, PIN_DEPTH)
        made += [
            _bought(
                f"pin_{number}",
                pin(f"{cavity.name} pin", at, tool.dowel, foot, foot + bought.length, pulled="down"),
                apart=(0.0, 0.0, -2.7 * cavity.length),
                copy_of="pin_1" if number > 1 else "",
                turned=tau * (number - 1) / split.pieces,
                note=f"{bought.words}; drawn downwards by {thread} in its end before its piece moves out",
            )
            for number, at in enumerate(pin_places(cavity, layout, split), start=1)
        ]
    return made


def _casting(cavity: Cavity, tool: Tool, compound: Compound, marks: tuple[Glyph, ...]) -> Body:
    return Body(
        name="cast_segment",
        part=replace(cast_part(cavity, marks, tool.mark_depth), colour=CAST),
        role="reference",
        material=compound.name,
        density_kg_m3=compound.density_kg_m3,
        note="the casting, hot and unshrunk: reference, do not machine",
    )


def _metal(
    tool: Tool,
    name: str,
    part: Part,
    *,
    apart: Vector,
    copy_of: str = "",
    turned: float = 0.0,
    note: str = "",
) -> Body:
    return Body(
        name=name,
        part=part,
        role="make",
        material=tool.metal.name,
        density_kg_m3=tool.metal.density_kg_m3,
        copy_of=copy_of,
        turned=turned,
        apart=apart,
        note=note,
    )


def _bought(name: str, part: Part, *, apart: Vector, copy_of: str, turned: float, note: str) -> Body:
    return Body(
        name=name,
        part=part,
        role="buy",
        material=STEEL.name,
        density_kg_m3=STEEL.density_kg_m3,
        copy_of=copy_of,
        turned=turned,
        apart=apart,
        note=note,
    )
