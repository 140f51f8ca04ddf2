"""Where the parts of a mould stand: heights of the plates, radii of block, jacket and fixings, their angles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, cos, inf, radians, sin, tau
from typing import Literal

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.outline import Point
from rollergen.tooling.cavity import Cavity
from rollergen.tooling.fastening import LEAST_FLOOR, PULLING, jack_size
from rollergen.tooling.mould_tool import Tool

Kind = Literal["sleeve", "helical"]
DOWELS = (radians(30), radians(200))  # not opposite: the plates go together one way only
JACKET_WALL = 12.0  # mm
HEAD = 1.6  # of a socket head over its thread, as drawn
SPARE = 1.0  # mm a bolt's hole is wider than the bolt
ROUND_HEAD = 3.0  # mm of plate left outside a bolt head
BESIDE = 1.0  # mm between a bolt head, a dowel and a jack screw
END_GAP = 1.0  # mm under a spigot
FLOOR = 4.0  # mm of plate left behind a spigot's pocket
BOLTS = (5.0, 6.0, 8.0, 10.0, 12.0, 16.0)  # threads that are bought
THINNEST_DOWEL = PULLING[0][0]
LEAST_VENT = 0.3  # mm, common practice, no source: what is drilled through a plate
SEATED = 3.0  # mm a core stands in a plate at least, common practice, no source
WIDEST_FIT, DEEPEST_MARK = 1.0, 2.0  # mm, common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Heights and radii (mm, mould frame).

    ``low`` and ``high``: where the block (sleeve or pieces) starts and stops; the plates reach that far over
    the part's ends to hold its chamfers.  ``bottom`` and ``top``: outside of the plates.  ``jacks``: where jack
    screws stand, over the sleeve's wall or the jacket's; ``lifts``: a quarter turn from them.
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
    jacks: tuple[Point, ...]
    lifts: tuple[Point, ...]


def layout_of(cavity: Cavity, tool: Tool, kind: Kind) -> Layout:
    """Sleeve: bolts and dowels pass through its wall.  Pieces: a jacket holds them, fixings stand outside it.

    Raises ProfileError for plates thinner than what sits in them, a wall thinner than its bolts, and more bolts
    than stand beside one another.
    """
    _refuse_sizes(tool)
    _refuse_thin(tool, kind)
    (_, below), (_, above) = cavity.chamfers
    held_by_sleeve = kind == "sleeve" and cavity.chamfer_in[1] == "sleeve"
    block = cavity.tip_radius + tool.block_wall
    fixing, plate, jacked = _circles(cavity, tool, kind)
    found = _angles(tool, fixing, kind)
    if found is None:
        raise ProfileError([_crowded(cavity, tool, kind)])
    angles, jack = found
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
        jacks=tuple(_polar(jacked, jack + turn) for turn in (0.0, tau / 2)),
        lifts=tuple(_polar(jacked, jack + turn) for turn in (tau / 4, 3 * tau / 4)),
    )


def bolt_angles(count: int) -> tuple[float, ...]:
    """Evenly spaced, turned so that the nearest dowel is as far away as can be (whole degrees)."""
    step = tau / count
    start = max(
        (radians(degree) for degree in range(int(360 / count) + 1)),
        key=lambda start: min(_apart(start + number * step, DOWELS) for number in range(count)),
    )
    return tuple(start + number * step for number in range(count))


def jack_angle(bolts: Sequence[float]) -> float:
    """Of two jack screws opposite one another the first, as far from bolts and dowels as can be (whole degrees)."""
    others = (*bolts, *DOWELS)
    return max(
        (radians(degree) for degree in range(180)),
        key=lambda at: min(_apart(at, others), _apart(at + tau / 2, others)),
    )


def _apart(angle: float, others: Sequence[float]) -> float:
    """Least angle to any of the others (rad)."""
    return min(abs((angle - other + tau / 2) % tau - tau / 2) for other in others)


def _angles(tool: Tool, radius: float, kind: Kind) -> tuple[tuple[float, ...], float] | None:
    """Angles of the bolts and of the first jack screw; None where two of them would meet on their circle."""
    bolts = bolt_angles(tool.bolts)
    jack = jack_angle(bolts)
    wide = [(angle, HEAD * tool.bolt) for angle in bolts] + [(angle, tool.dowel) for angle in DOWELS]
    if kind == "sleeve":  # with a jacket they stand on another circle
        wide += [(jack + turn, jack_size(tool)) for turn in (0.0, tau / 2)]
    for number, (one, width) in enumerate(wide):
        for other, beside in wide[number + 1 :]:
            if 2 * radius * sin(_apart(one, [other]) / 2) < (width + beside) / 2 + BESIDE:
                return None
    return bolts, jack


def _polar(radius: float, angle: float) -> Point:
    return (radius * cos(angle), radius * sin(angle))


def _circles(cavity: Cavity, tool: Tool, kind: Kind) -> tuple[float, float, float]:
    """Radii of bolts and dowels, of the plates and of the jack screws (mm)."""
    block = cavity.tip_radius + tool.block_wall
    if kind == "sleeve":
        middle = cavity.tip_radius + tool.block_wall / 2
        return middle, block, middle
    jacket = block + tool.fits.jacket + JACKET_WALL
    half = max(HEAD * tool.bolt, tool.dowel) / 2 + ROUND_HEAD
    return jacket + half, jacket + 2 * half, jacket - JACKET_WALL / 2


def _crowded(cavity: Cavity, tool: Tool, kind: Kind) -> Complaint:
    """Says how many bolts, or which thinner ones, stand clear of one another, of dowels and of jack screws."""

    def stands(**change: float) -> bool:
        tried = replace(tool, **change)  # type: ignore[arg-type]
        return _angles(tried, _circles(cavity, tried, kind)[0], kind) is not None

    fewer = next((count for count in range(tool.bolts - 1, 1, -1) if stands(bolts=count)), None)
    thinner = next((bolt for bolt in reversed(BOLTS) if bolt < tool.bolt and stands(bolt=bolt)), None)
    ways = [f"{fewer}"] if fewer else []
    ways += [f'--bolt "{thinner:g} mm"'] if thinner else []
    return Complaint(
        key="--bolts",
        message=f"{tool.bolts} bolts M{tool.bolt:g} do not stand clear of one another, of the dowels of {tool.dowel:g} mm "
        f"and of the jack screws on a circle of {2 * _circles(cavity, tool, kind)[0]:.1f} mm; use "
        + (" or ".join(ways) or "a thinner --dowel or a thicker --block-wall"),
    )


def _refuse_sizes(tool: Tool) -> None:
    complaints = []
    if tool.bolts < 2:
        complaints.append(
            Complaint(key="--bolts", message=f"{tool.bolts} cannot hold a plate; use 2 or more")
        )
    if tool.bolt not in BOLTS:
        nearest = min(BOLTS, key=lambda bolt: abs(bolt - tool.bolt))
        known = ", ".join(f"{bolt:g}" for bolt in BOLTS)
        complaints.append(
            Complaint(
                key="--bolt",
                message=f"{tool.bolt:g} mm is no thread that is known here ({known} mm); use {nearest:g} mm",
            )
        )
    if tool.dowel < THINNEST_DOWEL:
        complaints.append(
            Complaint(
                key="--dowel",
                message=f"{tool.dowel:g} mm is too thin for a thread in its end to pull it out by; use "
                f"{THINNEST_DOWEL:g} mm or more",
            )
        )
    for key, value, low, high in (
        ("--foot", tool.foot, SEATED, inf),
        ("--spigot", tool.spigot, SEATED, inf),
        ("--vent", tool.vent, LEAST_VENT, inf),
        ("--foot-fit", tool.fits.foot, 0.0, WIDEST_FIT),
        ("--spigot-fit", tool.fits.spigot, 0.0, WIDEST_FIT),
        ("--mark-depth", tool.mark_depth, 0.0, DEEPEST_MARK),
    ):
        if not low <= value <= high:
            use = f"{low:g} mm or more" if high == inf else f"{low:g} to {high:g} mm"
            complaints.append(Complaint(key=key, message=f"{value:g} mm cannot be made; use {use}"))
    if complaints:
        raise ProfileError(complaints)


def _refuse_thin(tool: Tool, kind: Kind) -> None:
    fixing = max(HEAD * tool.bolt, tool.dowel)
    wall = fixing + 2 * ROUND_HEAD if kind == "sleeve" else 8.0
    held = f"bolts M{tool.bolt:g}" if fixing > tool.dowel else f"dowels of {tool.dowel:g} mm"
    limits = (
        (
            "--base-plate",
            tool.base_plate,
            tool.foot + LEAST_FLOOR,
            f"a core's foot of {tool.foot:g} mm and its screw",
        ),
        ("--top-plate", tool.top_plate, tool.spigot + END_GAP + FLOOR, f"a spigot of {tool.spigot:g} mm"),
        ("--block-wall", tool.block_wall, wall, held if kind == "sleeve" else "a clamped piece"),
    )
    complaints = [
        Complaint(
            key=key,
            message=f"{value:g} mm is too thin for {what}; use {ceil(least * 100 - 1e-6) / 100:g} mm or more",
        )
        for key, value, least, what in limits
        if value < least
    ]
    if complaints:
        raise ProfileError(complaints)
