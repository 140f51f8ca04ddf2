"""Gaps between bodies that slide into one another, as drawn and at cure temperature."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, pi

import numpy as np

from rollergen.shape.offset import inward
from rollergen.shape.outline import Outline, circle
from rollergen.shape.part_holes import backwards, clearance
from rollergen.shape.reach import reach_towards
from rollergen.tooling.cavity import Cavity, bore_levels
from rollergen.tooling.cores import spigot_radius
from rollergen.tooling.mould import STEEL, Mould, body_named
from rollergen.tooling.shrinkage import Metal

DIRECTIONS, CLOSER = 181, 4
ROUNDING = 1e-7


@dataclass(frozen=True, slots=True, kw_only=True)
class FitLine:
    """Gap each side between two bodies (mm): as drawn and machined at room temperature, and at cure.

    Below 0 the body is too large for its hole by that at cure.
    """

    fit: str
    cold_mm: float
    hot_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """A body, the hole it slides into, the body's metal, and the option the gap is from ("": it has none)."""

    fit: str
    body: Outline
    hole: Outline
    metal: Metal
    option: str = ""


def fit_lines(mould: Mould) -> tuple[FitLine, ...]:
    """Gaps measured on the outlines of the bodies; hot where a cure rise is given.

    Both parts grow by their own metal, each about where it lies: a gap g beside a body of half width w becomes
    g (1 + a_hole dT) + w (a_hole - a_body) dT.  It is least where w is greatest if the body grows more, else where w
    is least.
    """
    return tuple(_fit_line(mould, pair) for pair in _pairs(mould))


def closed_words(mould: Mould) -> tuple[str, ...]:
    """A sentence for every fit that closes at cure, with the fit to ask for: one value does for all of an option."""
    if mould.tool.cure_rise is None:
        return ()
    closed = [
        (pair, line)
        for pair in _pairs(mould)
        if (line := _fit_line(mould, pair)).hot_mm is not None and line.hot_mm <= 0
    ]
    needed: dict[str, float] = {}
    for pair, _ in closed:
        needed[pair.option] = max(_needed(mould, pair), needed.get(pair.option, 0.0))
    plate = mould.tool.metal.name
    return tuple(
        f"{pair.fit}: the gap of {line.cold_mm:.3f} mm a side closes at cure and the metals press on one another by "
        f"{-(line.hot_mm or 0.0):.3f} mm a side, for {pair.metal.name} grows more than {plate}: use "
        + (
            f'{pair.option} "{needed[pair.option]:g} mm" or more, or one metal'
            if pair.option
            else "one metal"
        )
        for pair, line in closed
    )


def _needed(mould: Mould, pair: _Pair) -> float:
    """The least gap a side (mm, up to 0.01) that is still open at cure."""
    plate, rise = mould.tool.metal.expansion, mould.tool.cure_rise or 0.0
    closes = _half_width(pair.body, widest=True) * (pair.metal.expansion - plate) * rise
    return ceil(100 * closes / (1 + plate * rise) + ROUNDING) / 100


def _pairs(mould: Mould) -> tuple[_Pair, ...]:
    cavity, tool, layout = mould.cavity, mould.tool, mould.layout
    fits, section, core = tool.fits, cavity.section, tool.core_metal

    def foot(fit: str, body: Outline) -> _Pair:
        return _Pair(fit=fit, body=body, hole=inward(body, -fits.foot), metal=core, option="--foot-fit")

    def spigot(fit: str, body: Outline) -> _Pair:
        return _Pair(fit=fit, body=body, hole=inward(body, -fits.spigot), metal=core, option="--spigot-fit")

    end = circle(spigot_radius(cavity), "spigot") if cavity.lead_in[1] else _bore_top(cavity)
    pairs = [
        foot("mandrel foot in base plate", inward(section.bore, bore_levels(cavity)[0][1])),
        spigot("mandrel spigot in top plate", end),
    ]
    if section.chambers:
        one, (low, high) = section.chambers[0], cavity.chamber_offsets
        pairs += [
            foot("core foot in base plate", inward(one, low)),
            spigot("core spigot in top plate", inward(one, high)),
        ]
    dowel = body_named(mould, "dowel_1").part.sides[0].outline
    pairs.append(_Pair(fit="dowel in plate", body=dowel, hole=inward(dowel, -fits.dowel), metal=STEEL))
    if layout.kind == "helical":
        block = circle(layout.block_radius, "block")
        pairs.append(
            _Pair(fit="pieces in jacket", body=block, hole=inward(block, -fits.jacket), metal=tool.metal)
        )
    return tuple(pairs)


def _bore_top(cavity: Cavity) -> Outline:
    """The mandrel's own section at the top end, where it goes on into the plate: without a lead-in it is its spigot."""
    offset = bore_levels(cavity)[-1][1]
    return inward(cavity.section.bore, offset) if offset else cavity.section.bore


def _fit_line(mould: Mould, pair: _Pair) -> FitLine:
    gap, rise = clearance(pair.body, Outline(backwards(pair.hole.edges))), mould.tool.cure_rise
    if rise is None:
        return FitLine(fit=pair.fit, cold_mm=gap, hot_mm=None)
    plate, body = mould.tool.metal.expansion, pair.metal.expansion
    half = 0.0 if plate == body else _half_width(pair.body, widest=body > plate)
    return FitLine(fit=pair.fit, cold_mm=gap, hot_mm=gap * (1 + plate * rise) + half * (plate - body) * rise)


def _half_width(outline: Outline, *, widest: bool) -> float:
    """Half the body's greatest, or least, width between two parallel lines (mm): the same however it lies.

    Directions all round, the best looked at ever closer: to 1e-6 of the width.
    """
    low, high, sign = 0.0, pi, 1.0 if widest else -1.0
    for _ in range(CLOSER):
        ways = np.linspace(low, high, DIRECTIONS)
        across = reach_towards(outline.edges, ways) + reach_towards(outline.edges, ways + pi)
        best, step = int((sign * across).argmax()), (high - low) / (DIRECTIONS - 1)
        low, high = float(ways[best]) - step, float(ways[best]) + step
    return float(across[best]) / 2
