"""What keeps rubber out: chamber cores and the bore mandrel, foot in the base plate, spigot in the top plate."""

from __future__ import annotations

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.chambers import least_radius
from rollergen.shape.offset import inward
from rollergen.shape.outline import circle
from rollergen.shape.part import Part
from rollergen.tooling.cavity import Cavity, bore_levels
from rollergen.tooling.fastening import Anchor, foot_thread
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.skin import Skin, rising

SHOULDER = 3.0  # mm, ring on which the top plate's bore mouth stands
THINNEST = 3.0  # mm radius of a mandrel's spigot
CORE, MANDREL = "#e08a2c", "#c0392b"


def chamber_core(cavity: Cavity, tool: Tool, number: int, anchor: Anchor | None = None) -> Part:
    """Core of one chamber (from 0): straight foot with the thread of its screw, drafted over the part, straight spigot."""
    low, high = cavity.chamber_offsets
    top = cavity.length
    skin = Skin(f"{cavity.name} chamber core")
    levels = rising((-tool.foot, low), (0.0, low), (top, high), (top + tool.spigot, high))
    side = skin.wall("core", cavity.section.chambers[number], levels)
    skin.face(-tool.foot, False, (side, "low"), foot_thread(skin, anchor, tool.foot))
    skin.face(top + tool.spigot, True, (side, "high"))
    return skin.part(CORE)


def bore_mandrel(cavity: Cavity, tool: Tool, anchor: Anchor | None = None) -> Part:
    """The bore's core; a lead-in at its foot is its own, the one at the top belongs to the top plate.

    A mandrel with the top lead-in on it could not leave the part, so it ends in a shoulder where that begins.
    """
    skin = Skin(f"{cavity.name} bore mandrel")
    levels = bore_levels(cavity)
    foot = (-tool.foot, levels[0][1])
    end = cavity.length + tool.spigot
    if not cavity.lead_in[1]:
        side = skin.wall("mandrel", cavity.section.bore, rising(foot, *levels, (end, levels[-1][1])))
        skin.face(-tool.foot, False, (side, "low"), foot_thread(skin, anchor, tool.foot))
        skin.face(end, True, (side, "high"))
        return skin.part(MANDREL)
    side = skin.wall("mandrel", cavity.section.bore, rising(foot, *levels[:-1]))
    shoulder = levels[-2][0]
    spigot = skin.wall("spigot", circle(spigot_radius(cavity), "spigot"), ((shoulder, 0.0), (end, 0.0)))
    skin.face(-tool.foot, False, (side, "low"), foot_thread(skin, anchor, tool.foot))
    skin.face(shoulder, True, (side, "high"), [(spigot, "low")])
    skin.face(end, True, (spigot, "high"))
    return skin.part(MANDREL)


def spigot_radius(cavity: Cavity) -> float:
    """Radius of a stepped mandrel's round spigot (mm).  ProfileError when the bore leaves no room for one."""
    radius = least_radius(inward(cavity.section.bore, cavity.bore_offsets[1])) - SHOULDER
    if radius < THINNEST:
        raise ProfileError(
            [
                Complaint(
                    key="bore.lead_in",
                    message="the mandrel steps down where the top lead-in begins, and a bore "
                    f"{2 * (radius + SHOULDER):.1f} mm wide in the mould leaves a spigot of {max(2 * radius, 0):.1f} mm; "
                    f"at least {2 * THINNEST:g} mm: set bore.lead_in to 0 mm and cut the lead-in afterwards",
                )
            ]
        )
    return radius
