"""Rollers in a row as a loose body meets them: distance and normal to each, turned to any moment.

The length along the axes is endless: a width that is whole rib periods of every helix repeats itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, hypot, inf, tau
from typing import Literal

import numpy as np

from rollergen.shape.distance import Ints
from rollergen.shape.outline import Floats, Outline
from rollergen.shape.screw_table import ScrewStack, ScrewTable, look_up, screw_table, stacked

Side = Literal["ribs descending", "ribs rising", "smooth", "ribs on both"]

TABLE_SPACING = 0.3  # mm
LEAST_WIDTH = 300.0  # mm of roller, before it is rounded up to whole rib periods
MOST_PITCH_CHANGE = 0.02  # by which another roller's helix may be stretched to fit the same width
WALL_RADIUS = 1e5  # mm


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialRoller:
    """One roller of the bed (mm, rad, rad/s; counter-clockwise seen from +z is positive).

    ``outline`` None is a smooth roller of ``radius``; a ribbed one has ``radius`` = its tip radius and
    ``count`` ribs.  ``turn_per_mm`` is positive for a right-hand helix; ``phase`` turns it at the start.
    """

    outline: Outline | None = None
    radius: float
    count: int = 0
    turn_per_mm: float = 0.0
    x: float
    y: float = 0.0
    rotation_speed: float
    phase: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RollerRow:
    """Rollers side by side as arrays, smooth ones (the wall last among them) before ribbed ones.

    ``wall`` is a standing plane over the crest of the first roller, as a roller of huge radius: nothing
    gets behind the feed.  ``width`` is the periodic length along the axes (mm).
    """

    x: Floats
    y: Floats
    radius: Floats
    speed: Floats
    phase: Floats
    smooth: int  # rows before this one are smooth
    wall: int
    order: Ints  # row -> number of the roller in the order of x; the wall has -1
    stack: ScrewStack
    table: Ints  # row -> its table in the stack; 0 for smooth rows
    width: float
    onward: float  # +1 when bodies travel to +x
    notes: tuple[str, ...]


def row_of(rollers: Sequence[TrialRoller], largest: float, *, margin: float) -> RollerRow:
    """Lay rollers out for bodies up to ``largest`` (mm) across, met from ``margin`` (mm) away.

    Raises ValueError for fewer than two rollers, rollers that overlap, and helices that share no width.
    """
    _refuse(rollers)
    ordered = sorted(range(len(rollers)), key=lambda k: rollers[k].x)
    width, stretch, notes = _common_width(rollers, largest)
    onward = 1.0 if sum(-r.rotation_speed * r.radius for r in rollers) >= 0.0 else -1.0
    first = rollers[ordered[0] if onward > 0 else ordered[-1]]
    wall_x = first.x - onward * WALL_RADIUS  # it stands on the crest: nothing gets behind the first roller
    smooth = [k for k in ordered if rollers[k].outline is None]
    ribbed = [k for k in ordered if rollers[k].outline is not None]
    made: dict[tuple[int, float], int] = {}
    tables: list[ScrewTable] = []
    table = [0] * (len(smooth) + 1)
    for k in ribbed:
        roller, outline = rollers[k], rollers[k].outline
        assert outline is not None
        turn = roller.turn_per_mm * stretch[k]
        if (id(outline), turn) not in made:
            made[id(outline), turn] = len(tables)
            outer = roller.radius + largest / 2 + margin
            tables.append(
                screw_table(outline, count=roller.count, turn_per_mm=turn, outer=outer, spacing=TABLE_SPACING)
            )
        table.append(made[id(outline), turn])
    rows = [*smooth, -1, *ribbed]

    def column(name: str, wall: float) -> Floats:
        return np.array([wall if k < 0 else getattr(rollers[k], name) for k in rows], dtype=np.float64)

    return RollerRow(
        x=column("x", wall_x),
        y=column("y", first.y),
        radius=column("radius", WALL_RADIUS),
        speed=column("rotation_speed", 0.0),
        phase=column("phase", 0.0),
        smooth=len(smooth) + 1,
        wall=len(smooth),
        order=np.array([-1 if k < 0 else ordered.index(k) for k in rows], dtype=np.int64),
        stack=stacked(tables) if tables else _NO_TABLES,
        table=np.array(table, dtype=np.int64),
        width=width,
        onward=onward,
        notes=notes,
    )


def meet_rollers(
    row: RollerRow, place: Floats, roller: Ints, smooth: int, now: float
) -> tuple[Floats, Floats]:
    """Distance (n,) of places (3, n) to the rollers named for each (rows), and unit normals (3, n).

    The first ``smooth`` rows are of smooth rollers, all after them of ribbed ones; ``now`` (s) turns them.
    """
    dx, dy = place[0] - row.x[roller], place[1] - row.y[roller]
    rho = np.sqrt(dx * dx + dy * dy)
    normal = np.zeros((3, len(rho)))
    normal[0], normal[1] = dx / rho, dy / rho
    distance = rho - row.radius[roller]
    if smooth < len(rho):
        ribbed = slice(smooth, len(rho))
        rows = roller[ribbed]
        table = row.table[rows]
        turn = row.phase[rows] + row.speed[rows] * now + row.stack.turn_per_mm[table] * place[2, ribbed]
        found, (radial, around, axial) = look_up(
            row.stack, table, rho[ribbed], np.arctan2(dy[ribbed], dx[ribbed]) - turn
        )
        c, s = normal[0, ribbed].copy(), normal[1, ribbed].copy()
        normal[0, ribbed] = radial * c - around * s
        normal[1, ribbed] = radial * s + around * c
        normal[2, ribbed] = axial
        distance[ribbed] = found
    return distance, normal


def side_of(left: TrialRoller, right: TrialRoller) -> Side:
    """What the ribs of the ribbed one of two neighbours do in the gap between them."""
    if left.outline is not None and right.outline is not None:
        return "ribs on both"
    if left.outline is None and right.outline is None:
        return "smooth"
    falling = left.rotation_speed < 0.0 if left.outline is not None else right.rotation_speed > 0.0
    return "ribs descending" if falling else "ribs rising"


def _refuse(rollers: Sequence[TrialRoller]) -> None:
    if len(rollers) < 2:
        raise ValueError(f"{len(rollers)} roller makes no gap; a trial needs two or more")
    ordered = sorted(rollers, key=lambda r: r.x)
    for left, right in zip(ordered[:-1], ordered[1:], strict=True):
        apart = hypot(right.x - left.x, right.y - left.y)
        if not apart > left.radius + right.radius:
            raise ValueError(
                f"rollers at x {left.x:g} and {right.x:g} mm overlap: {apart:g} mm apart, radii"
                f" {left.radius:g} + {right.radius:g} mm need more"
            )


_NO_TABLES = ScrewStack(
    inner=np.zeros(1),
    per_row=np.ones(1),
    last_row=np.zeros(1, dtype=np.int64),
    per_turn=np.ones(1),
    columns=np.ones(1, dtype=np.int64),
    first=np.zeros(1, dtype=np.int64),
    turn_per_mm=np.zeros(1),
    values=np.zeros((4, 3)),
)


def _common_width(
    rollers: Sequence[TrialRoller], largest: float
) -> tuple[float, dict[int, float], tuple[str, ...]]:
    """A width that is whole rib periods of every helix, and by how much each helix must turn faster."""
    least = max(LEAST_WIDTH, 4 * largest)
    helical = {
        k: tau / (max(r.count, 1) * abs(r.turn_per_mm))
        for k, r in enumerate(rollers)
        if r.outline is not None and r.turn_per_mm != 0.0
    }
    stretch = {k: 1.0 for k, r in enumerate(rollers) if r.outline is not None}
    if not helical:
        return least, stretch, ()
    longest = max(helical.values())
    best, width = inf, 0.0
    for periods in range(ceil(least / longest), ceil(3 * least / longest) + 1):
        tried = periods * longest
        off = max(abs(max(1, round(tried / p)) * p / tried - 1.0) for p in helical.values())
        if off < best - 1e-9:
            best, width = off, tried
    if best > MOST_PITCH_CHANGE:
        raise ValueError(
            f"rib periods {', '.join(f'{p:g}' for p in sorted(set(helical.values())))} mm share no width up to"
            f" {3 * least:g} mm within {MOST_PITCH_CHANGE:.0%}; give the rollers pitches in a simple ratio"
        )
    for k, period in helical.items():
        stretch[k] = max(1, round(width / period)) * period / width
    note = (f"helix pitches were changed by up to {best:.2%} to close over {width:g} mm",)
    return width, stretch, note if best > 1e-9 else ()
