"""What forms the ribbed outside: one sleeve the part is screwed out of.  And the pins and bolts that close it."""

from __future__ import annotations

from typing import Literal

from rollergen.shape.outline import Point, circle
from rollergen.shape.part import Part
from rollergen.tooling.cavity import Cavity, outer_levels
from rollergen.tooling.fastening import UNDER, blind, blind_above, pulling_thread
from rollergen.tooling.layout import HEAD, SPARE, Layout
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.skin import End, Skin, drilled
from rollergen.tooling.sold import Sold, sold_bolt, sold_dowel, sold_pin

SLEEVE, PIN, BOLT = "#9fb4c7", "#55606a", "#3b4248"
PULL_DEPTH = 2.0  # diameters of the thread in a pin's end


def sleeve(cavity: Cavity, layout: Layout, tool: Tool) -> Part:
    """One piece round the whole part.  The chamfer at its lower end, where the part leaves, is the plate's."""
    skin = Skin(f"{cavity.name} cavity sleeve")
    ends = ((layout.low, 0.0), (layout.high, 0.0))
    edge = skin.wall("sleeve outside", circle(layout.block_radius, "block"), ends)
    levels = tuple(
        level for level in outer_levels(cavity) if layout.low - 1e-9 <= level[0] <= layout.high + 1e-9
    )
    hollow = skin.hole("cavity", cavity.section.outer, levels, cavity.turn_per_mm)
    bolt, dowel = tool.bolt + SPARE, tool.dowel + 2 * tool.fits.dowel
    holes = [
        hollow,
        *(
            drilled(skin, f"bolt hole {n}", at, bolt, *_ends(layout))
            for n, at in enumerate(layout.bolts, start=1)
        ),
        *(
            drilled(skin, f"dowel hole {n}", at, dowel, *_ends(layout))
            for n, at in enumerate(layout.dowels, start=1)
        ),
    ]
    skin.face(layout.low, False, (edge, "low"), [(hole, "low") for hole in holes])
    skin.face(layout.high, True, (edge, "high"), [(hole, "high") for hole in holes])
    return skin.part(SLEEVE)


def _ends(layout: Layout) -> tuple[float, float]:
    return (layout.low, layout.high)


def pin(
    name: str, at: Point, diameter: float, low: float, high: float, *, pulled: Literal["up", "down"]
) -> Part:
    """A cylinder along the axis; in the end it is ``pulled`` out by it has a thread, drawn as its hole."""
    skin = Skin(name)
    side = skin.wall("pin", circle(diameter / 2, "pin", centre=at), ((low, 0.0), (high, 0.0)))
    thread, words = pulling_thread(diameter), "pulling thread"
    deep = min(PULL_DEPTH * thread, (high - low) / 2)
    above: list[End] = []
    below: list[End] = []
    if pulled == "up":
        above.append((blind_above(skin, words, at, thread, high - deep, high), "high"))
    else:
        below.append((blind(skin, words, at, thread, low, low + deep), "low"))
    skin.face(low, False, (side, "low"), below)
    skin.face(high, True, (side, "high"), above)
    return skin.part(PIN)


def bolt_bought(layout: Layout, tool: Tool) -> Sold:
    """1.5 diameters of thread in the base plate, as far as that is thick, or the next longer that is sold."""
    grip = layout.top - layout.low
    engaged = min(1.5 * tool.bolt, layout.low - layout.bottom - 1.0)
    return sold_bolt(tool.bolt, grip=grip, wanted=grip + engaged, most=layout.top - layout.bottom)


def dowel_bought(layout: Layout, tool: Tool) -> Sold:
    """Through base plate and block into the top plate by its own diameter at least, half that plate if it is thinner."""
    whole = layout.top - layout.bottom
    held = min(tool.dowel, (layout.top - layout.high) / 2)
    return sold_dowel(tool.dowel, whole=whole, least=layout.high - layout.bottom + held)


def pin_bought(layout: Layout, tool: Tool, deep: float) -> Sold:
    """Through the base plate into a hole ``deep`` mm in the piece."""
    plate = layout.low - layout.bottom
    return sold_pin(tool.dowel, whole=plate + deep, plate=plate)


def bolt(name: str, at: Point, layout: Layout, tool: Tool) -> Part:
    """A socket head bolt as two cylinders: head on the top plate, its end in the base plate."""
    skin = Skin(name)
    low = layout.top - bolt_bought(layout, tool).length
    head = layout.top + tool.bolt
    shank = skin.wall(
        "shank", circle((tool.bolt - UNDER) / 2, "bolt", centre=at), ((low, 0.0), (layout.top, 0.0))
    )
    top = skin.wall("head", circle(HEAD * tool.bolt / 2, "bolt", centre=at), ((layout.top, 0.0), (head, 0.0)))
    skin.face(low, False, (shank, "low"))
    skin.face(layout.top, False, (top, "low"), [(shank, "high")])
    skin.face(head, True, (top, "high"))
    return skin.part(BOLT)
