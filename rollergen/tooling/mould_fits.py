"""Gaps between bodies that slide into one another, as drawn and at cure temperature."""

from __future__ import annotations

from dataclasses import dataclass

from rollergen.shape.offset import inward
from rollergen.shape.outline import Arc, Outline, circle
from rollergen.shape.part_holes import backwards, clearance
from rollergen.shape.properties import greatest_radius
from rollergen.tooling.cavity import Cavity, bore_levels
from rollergen.tooling.cores import spigot_radius
from rollergen.tooling.mould import STEEL, Mould, body_named
from rollergen.tooling.shrinkage import Metal


@dataclass(frozen=True, slots=True, kw_only=True)
class FitLine:
    """Gap each side between two bodies (mm): as drawn and machined at room temperature, and at cure."""

    fit: str
    cold_mm: float
    hot_mm: float | None


def fit_lines(mould: Mould) -> tuple[FitLine, ...]:
    """Gaps measured on the outlines of the bodies; hot where a cure rise is given.

    Both parts grow by their own metal: a gap g beside a body of half width w becomes
    g (1 + a_hole dT) + w (a_hole - a_body) dT.
    """
    cavity, tool, layout = mould.cavity, mould.tool, mould.layout
    fits, section = tool.fits, cavity.section
    bore_foot = bore_levels(cavity)[0][1]
    core, steel = tool.core_metal, STEEL
    pairs: list[tuple[str, Outline, Outline, Metal]] = [
        (
            "mandrel foot in base plate",
            inward(section.bore, bore_foot),
            inward(section.bore, bore_foot - fits.foot),
            core,
        )
    ]
    spigot = circle(spigot_radius(cavity), "spigot") if cavity.lead_in[1] else _bore_top(cavity)
    pairs.append(("mandrel spigot in top plate", spigot, inward(spigot, -fits.spigot), core))
    if section.chambers:
        one, (low, high) = section.chambers[0], cavity.chamber_offsets
        pairs += [
            ("core foot in base plate", inward(one, low), inward(one, low - fits.foot), core),
            ("core spigot in top plate", inward(one, high), inward(one, high - fits.spigot), core),
        ]
    dowel = body_named(mould, "dowel_1").part.sides[0].outline
    pairs.append(("dowel in plate", dowel, inward(dowel, -fits.dowel), steel))
    if layout.kind == "helical":
        block = circle(layout.block_radius, "block")
        pairs.append(("pieces in jacket", block, inward(block, -fits.jacket), tool.metal))
    return tuple(_fit_line(mould, *pair) for pair in pairs)


def _bore_top(cavity: Cavity) -> Outline:
    """The mandrel's own section at the top end, where it goes on into the plate: without a lead-in it is its spigot."""
    offset = bore_levels(cavity)[-1][1]
    return inward(cavity.section.bore, offset) if offset else cavity.section.bore


def _fit_line(mould: Mould, fit: str, body: Outline, hole: Outline, metal: Metal) -> FitLine:
    gap, rise = clearance(body, Outline(backwards(hole.edges))), mould.tool.cure_rise
    if rise is None:
        return FitLine(fit=fit, cold_mm=gap, hot_mm=None)
    plate = mould.tool.metal.expansion
    return FitLine(
        fit=fit,
        cold_mm=gap,
        hot_mm=gap * (1 + plate * rise) + _half_width(body) * (plate - metal.expansion) * rise,
    )


def _half_width(outline: Outline) -> float:
    """Half the smaller extent along x and y of the outline's corners (mm): what a gap's growth goes with."""
    first = outline.edges[0]
    if len(outline.edges) == 1 and isinstance(first, Arc):
        return float(first.radius)
    xs = [edge.start[0] for edge in outline.edges]
    ys = [edge.start[1] for edge in outline.edges]
    return min(max(xs) - min(xs), max(ys) - min(ys)) / 2


def core_shift(mould: Mould) -> float | None:
    """How far a core's seat in the plate moves past the core's own place at cure, of mixed metals (mm)."""
    tool = mould.tool
    if tool.cure_rise is None or not mould.cavity.section.chambers:
        return None
    grow = (tool.metal.expansion - tool.core_metal.expansion) * tool.cure_rise
    return abs(grow) * max(greatest_radius(c) for c in mould.cavity.section.chambers)
