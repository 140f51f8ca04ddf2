"""Where the parts of a mould stand: heights of the plates, radii of block, jacket and fixings, their angles."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin, tau
from typing import Literal

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.outline import Point
from rollergen.tooling.cavity import Cavity
from rollergen.tooling.mould_tool import Tool

Kind = Literal["sleeve", "helical"]
DOWELS = (radians(30), radians(200))  # not opposite: the plates go together one way only
JACKET_WALL = 12.0  # mm
HEAD = 1.6  # of a socket head over its thread, as drawn
SPARE = 1.0  # mm a bolt's hole is wider than the bolt
ROUND_HEAD = 3.0  # mm of plate left outside a bolt head
END_GAP = 1.0  # mm under a spigot
FLOOR = 4.0  # mm of plate left behind a pocket


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Heights and radii (mm, mould frame).

    ``low`` and ``high``: where the block (sleeve or pieces) starts and stops; the plates reach that far over
    the part's ends to hold its chamfers.  ``bottom`` and ``top``: outside of the plates.
    """

    kind: Kind
    low: float
    high: float
    bottom: float
    top: float
    block_radius: float
    plate_radius: float
    fixing_radius: float
    bolts: tuple[Point, ...]
    bolt_angles: tuple[float, ...]
    dowels: tuple[Point, ...]


def layout_of(cavity: Cavity, tool: Tool, kind: Kind) -> Layout:
    """Sleeve: bolts and dowels pass through its wall.  Pieces: a jacket holds them, fixings stand outside it.

    Raises ProfileError for plates thinner than what sits in them and a wall thinner than its bolts.
    """
    _refuse_thin(tool, kind)
    (_, below), (_, above) = cavity.chamfers
    held_by_sleeve = kind == "sleeve" and cavity.chamfer_in[1] == "sleeve"
    block = cavity.tip_radius + tool.block_wall
    if kind == "sleeve":
        fixing, plate = cavity.tip_radius + tool.block_wall / 2, block
    else:
        jacket = block + tool.fits.jacket + JACKET_WALL
        fixing = jacket + HEAD * tool.bolt / 2 + ROUND_HEAD
        plate = fixing + HEAD * tool.bolt / 2 + ROUND_HEAD
    angles = bolt_angles(tool.bolts)
    return Layout(
        kind=kind,
        low=below,
        # what the part leaves last may hold its chamfer; the end it leaves by may not
        high=cavity.length if held_by_sleeve else cavity.length - above,
        bottom=-tool.base_plate,
        top=cavity.length + tool.top_plate,
        block_radius=block,
        plate_radius=plate,
        fixing_radius=fixing,
        bolts=tuple(_polar(fixing, angle) for angle in angles),
        bolt_angles=angles,
        dowels=tuple(_polar(fixing, angle) for angle in DOWELS),
    )


def bolt_angles(count: int) -> tuple[float, ...]:
    """Evenly spaced, turned so that the nearest dowel is as far away as can be (whole degrees)."""
    step = tau / count

    def nearest(start: float) -> float:
        return min(
            abs((start + number * step - dowel + tau / 2) % tau - tau / 2)
            for number in range(count)
            for dowel in DOWELS
        )

    start = max((radians(degree) for degree in range(int(360 / count) + 1)), key=nearest)
    return tuple(start + number * step for number in range(count))


def _polar(radius: float, angle: float) -> Point:
    return (radius * cos(angle), radius * sin(angle))


def _refuse_thin(tool: Tool, kind: Kind) -> None:
    wall = HEAD * tool.bolt + 2 * ROUND_HEAD if kind == "sleeve" else 8.0
    limits = (
        ("--base-plate", tool.base_plate, tool.foot + FLOOR, f"a core's foot of {tool.foot:g} mm"),
        ("--top-plate", tool.top_plate, tool.spigot + END_GAP + FLOOR, f"a spigot of {tool.spigot:g} mm"),
        (
            "--block-wall",
            tool.block_wall,
            wall,
            f"bolts M{tool.bolt:g}" if kind == "sleeve" else "a clamped piece",
        ),
    )
    complaints = [
        Complaint(key=key, message=f"{value:g} mm is too thin for {what}; use {least:g} mm or more")
        for key, value, least, what in limits
        if value < least
    ]
    if tool.bolts < 2:
        complaints.append(
            Complaint(key="--bolts", message=f"{tool.bolts} cannot hold a plate; use 2 or more")
        )
    if complaints:
        raise ProfileError(complaints)
