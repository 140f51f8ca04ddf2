"""A Part cut flat at one height: its loops as they lie there, exact arcs and lines."""

from __future__ import annotations

from bisect import bisect_right

from rollergen.shape.offset import inward
from rollergen.shape.outline import Outline, turned
from rollergen.shape.part import Part, Side
from rollergen.shape.part_holes import backwards


def loops_at(part: Part, z: float) -> tuple[Outline, ...]:
    """Every loop at height ``z`` (mm), material on its left: bodies counter-clockwise, holes clockwise.

    Empty above and below the part.  Where a side ends at ``z`` itself, the one that begins there counts.
    """
    return tuple(_loop(side, z) for side in part.sides if side.levels[0][0] <= z < side.levels[-1][0])


def heights(part: Part) -> tuple[float, ...]:
    """Every height at which a side begins, ends or changes its slope (mm), rising."""
    return tuple(sorted({z for side in part.sides for z, _ in side.levels}))


def _loop(side: Side, z: float) -> Outline:
    row = bisect_right([level for level, _ in side.levels], z) - 1
    (low, at_low), (high, at_high) = side.levels[row : row + 2]
    offset = at_low + (at_high - at_low) * (z - low) / (high - low)
    outline = inward(side.outline, offset) if offset else side.outline
    outline = turned(outline, side.turn_per_mm * z) if side.turn_per_mm else outline
    return outline if side.material_inside else Outline(backwards(outline.edges))
