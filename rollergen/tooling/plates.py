"""Base plate and top plate: pockets for the cores, the part's end faces, gate, vents, fixings."""

from __future__ import annotations

from math import hypot

from rollergen.shape.outline import Point, circle
from rollergen.shape.part import Part
from rollergen.tooling.cavity import Cavity, bore_levels
from rollergen.tooling.cores import spigot_radius
from rollergen.tooling.fastening import Anchor, Anchors, jack_size, screw_seat
from rollergen.tooling.gate import SMALLEST_GATE, Opening
from rollergen.tooling.layout import END_GAP, LEAST_VENT, SPARE, THINNEST_DOWEL, Layout
from rollergen.tooling.marks import Glyph
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.skin import End, Sized, Skin, drilled

PLATE, TOP = "#7d8791", "#aab3bb"
FUNNEL_DEPTH, FUNNEL_WIDER = 8.0, 5.0  # mm: the gate opens outward so that it can be poured into
BESIDE_FUNNEL = 0.8  # mm of plate between it and a vent
LEAST_FIT = 0.01  # mm
UNDER_FUNNEL = 1.0  # mm of plate between the pockets of the cores and where it begins to widen


def base_plate(
    cavity: Cavity,
    layout: Layout,
    tool: Tool,
    anchors: Anchors,
    marks: tuple[Glyph, ...] = (),
    pins: tuple[tuple[Point, float], ...] = (),
    *,
    jacked: bool = False,
) -> Part:
    """The lower plate: holds the cores' feet, forms the part's z = 0 end with its chamfer and the marks.

    ``jacked``: with the threads of jack screws that press sleeve or jacket off it.
    """
    skin = Skin(f"{cavity.name} base plate")
    edge = skin.wall(
        "plate edge", circle(layout.plate_radius, "plate"), ((layout.bottom, 0.0), (layout.low, 0.0))
    )
    through = _through(skin, layout, tool, layout.bottom, layout.low, bolt=tool.bolt)
    through += [
        drilled(
            skin, f"pin hole {number}", at, diameter, layout.bottom, layout.low,
            sized=Sized("--dowel", tool.dowel, THINNEST_DOWEL),
        )
        for number, (at, diameter) in enumerate(pins, start=1)
    ]  # fmt: skip
    if jacked:
        through += _jacks(skin, layout, tool, layout.bottom, layout.low)
    feet, sinks = _feet(skin, cavity, tool, anchors, layout.bottom)
    inside: list[End] = [(hole, "high") for hole in feet]
    inside += [(pocket, "high") for pocket in _engraved(skin, marks, tool.mark_depth)]
    holes: list[End] = [(hole, "high") for hole in through]
    if layout.low > 0:
        levels = ((0.0, cavity.chamfers[0][0]), (layout.low, 0.0))
        recess = skin.hole("chamfer recess", cavity.section.outer, levels, cavity.turn_per_mm)
        skin.face(0.0, True, (recess, "low"), inside)
        skin.face(layout.low, True, (edge, "high"), [(recess, "high"), *holes])
    else:
        skin.face(0.0, True, (edge, "high"), [*inside, *holes])
    skin.face(layout.bottom, False, (edge, "low"), [*((hole, "low") for hole in through), *sinks])
    return skin.part(PLATE)


def top_plate(cavity: Cavity, layout: Layout, tool: Tool, gate: Opening, vents: tuple[Opening, ...]) -> Part:
    """The upper plate: centres the cores, forms the part's upper end, lets compound in and air out."""
    skin = Skin(f"{cavity.name} top plate")
    edge = skin.wall(
        "plate edge", circle(layout.plate_radius, "plate"), ((layout.high, 0.0), (layout.top, 0.0))
    )
    through = _through(skin, layout, tool, layout.high, layout.top, bolt=tool.bolt + SPARE)
    through += _jacks(skin, layout, tool, layout.high, layout.top)
    inside = [
        skin.hole(
            "gate",
            circle(gate.diameter / 2, "gate", centre=gate.at),
            _funnel(cavity, layout, tool, gate, vents),
            sized=Sized("--gate", gate.diameter, SMALLEST_GATE),
        )
    ]
    inside += [
        drilled(
            skin, f"vent {number}", vent.at, vent.diameter, cavity.length, layout.top,
            sized=Sized("--vent", vent.diameter, LEAST_VENT),
        )
        for number, vent in enumerate(vents, start=1)
    ]  # fmt: skip
    opened = [*through, *inside]
    below: list[End] = [(hole, "low") for hole in [*inside, *_spigots(skin, cavity, tool)]]
    below.append(_bore_end(skin, cavity, tool))
    holes: list[End] = [(hole, "low") for hole in through]
    if layout.high < cavity.length:
        levels = ((layout.high, 0.0), (cavity.length, cavity.chamfers[1][0]))
        recess = skin.hole("chamfer recess", cavity.section.outer, levels, cavity.turn_per_mm)
        skin.face(cavity.length, False, (recess, "high"), below)
        skin.face(layout.high, False, (edge, "low"), [(recess, "low"), *holes])
    else:
        skin.face(cavity.length, False, (edge, "low"), [*below, *holes])
    skin.face(layout.top, True, (edge, "high"), [(hole, "high") for hole in opened])
    return skin.part(TOP)


def _through(skin: Skin, layout: Layout, tool: Tool, low: float, high: float, *, bolt: float) -> list[int]:
    """Holes of bolts and dowels; in the base plate a bolt's hole is its thread, drawn at full size."""
    dowel, dowel_size = tool.dowel + 2 * tool.fits.dowel, Sized("--dowel", tool.dowel, THINNEST_DOWEL)
    return [
        *(drilled(skin, f"bolt hole {n}", at, bolt, low, high) for n, at in enumerate(layout.bolts, start=1)),
        *(
            drilled(skin, f"dowel hole {n}", at, dowel, low, high, sized=dowel_size)
            for n, at in enumerate(layout.dowels, start=1)
        ),
    ]


def _jacks(skin: Skin, layout: Layout, tool: Tool, low: float, high: float) -> list[int]:
    """Threads of the jack screws, drawn at full size."""
    return [
        drilled(skin, f"jack thread {n}", at, jack_size(tool), low, high)
        for n, at in enumerate(layout.jacks, start=1)
    ]


def _feet(
    skin: Skin, cavity: Cavity, tool: Tool, anchors: Anchors, bottom: float
) -> tuple[list[int], list[End]]:
    """Pockets the cores stand in, floors and screw holes included; then what those leave in the underside."""
    fit, low = tool.fits.foot, -tool.foot
    sized = Sized("--foot-fit", fit, LEAST_FIT, 1.0)
    offset = cavity.chamber_offsets[0] - fit
    pockets = [
        skin.hole(f"foot of core {number}", outline, ((low, offset), (0.0, offset)), sized=sized)
        for number, outline in enumerate(cavity.section.chambers, start=1)
    ]
    offset = bore_levels(cavity)[0][1] - fit
    pockets.append(
        skin.hole("foot of the mandrel", cavity.section.bore, ((low, offset), (0.0, offset)), sized=sized)
    )
    sinks: list[End] = []
    screws: list[Anchor | None] = [*anchors.cores, anchors.mandrel]
    for pocket, anchor in zip(pockets, screws, strict=True):
        opened: list[End] = []
        if anchor is not None:
            sink, hole = screw_seat(skin, skin.words[pocket], anchor, bottom, tool.foot)
            sinks.append(sink)
            opened.append(hole)
        skin.face(low, True, (pocket, "low"), opened)
    return pockets, sinks


def _spigots(skin: Skin, cavity: Cavity, tool: Tool) -> list[int]:
    """Pockets the chamber cores' thin ends are centred in, their ceilings included."""
    end = cavity.length + tool.spigot + END_GAP
    offset, sized = cavity.chamber_offsets[1] - tool.fits.spigot, _spigot_size(tool)
    pockets = [
        skin.hole(f"spigot of core {number}", outline, ((cavity.length, offset), (end, offset)), sized=sized)
        for number, outline in enumerate(cavity.section.chambers, start=1)
    ]
    for pocket in pockets:
        skin.face(end, False, (pocket, "high"))
    return pockets


def _spigot_size(tool: Tool) -> Sized:
    return Sized("--spigot-fit", tool.fits.spigot, LEAST_FIT, 1.0)


def _bore_end(skin: Skin, cavity: Cavity, tool: Tool) -> End:
    """The mandrel's pocket, or with a lead-in the cone that forms it, standing on the mandrel's shoulder."""
    fit, end = tool.fits.spigot, cavity.length + tool.spigot + END_GAP
    levels = bore_levels(cavity)
    if not cavity.lead_in[1]:
        offset = levels[-1][1] - fit
        pocket = skin.hole(
            "spigot of the mandrel",
            cavity.section.bore,
            ((cavity.length, offset), (end, offset)),
            sized=_spigot_size(tool),
        )
        skin.face(end, False, (pocket, "high"))
        return (pocket, "low")
    shoulder = levels[-2][0]
    cone = skin.wall("bore mouth", cavity.section.bore, levels[-2:])
    pocket = skin.hole(
        "spigot of the mandrel",
        circle(spigot_radius(cavity) + fit, "spigot"),
        ((shoulder, 0.0), (end, 0.0)),
        sized=_spigot_size(tool),
    )
    skin.face(shoulder, False, (cone, "low"), [(pocket, "low")])
    skin.face(end, False, (pocket, "high"))
    return (cone, "high")


def _engraved(skin: Skin, marks: tuple[Glyph, ...], depth: float) -> list[int]:
    """Letters as pockets, the eyes in them left standing."""
    levels = ((-depth, 0.0), (0.0, 0.0))
    pockets = []
    for glyph in marks:
        pocket = skin.hole(f"mark {glyph.words}", glyph.outline, levels)
        eyes = [skin.wall(f"eye of mark {glyph.words}", eye, levels) for eye in glyph.eyes]
        skin.face(-depth, True, (pocket, "low"), [(eye, "low") for eye in eyes])
        for eye in eyes:
            skin.face(0.0, True, (eye, "high"))
        pockets.append(pocket)
    return pockets


def _funnel(
    cavity: Cavity, layout: Layout, tool: Tool, gate: Opening, vents: tuple[Opening, ...]
) -> tuple[tuple[float, float], ...]:
    """Levels of the gate: a pipe that opens outward above the cores' pockets, as far as the vents beside it allow."""
    beside = [
        hypot(v.at[0] - gate.at[0], v.at[1] - gate.at[1]) - (v.diameter + gate.diameter) / 2 for v in vents
    ]
    wider = min([FUNNEL_WIDER, *(room - BESIDE_FUNNEL for room in beside)])
    if wider <= 0:
        return ((cavity.length, 0.0), (layout.top, 0.0))
    above_pockets = tool.top_plate - tool.spigot - END_GAP - UNDER_FUNNEL
    deep = min(FUNNEL_DEPTH, (layout.top - cavity.length) / 2, above_pockets)
    return ((cavity.length, 0.0), (layout.top - deep, 0.0), (layout.top, -wider))
