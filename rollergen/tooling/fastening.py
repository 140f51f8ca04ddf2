"""What holds the cores down and what opens the mould: core screws, jack screws, threads to pull by, and their holes.

Sizes of bought screws are values from memory (ISO 4762 heads, ISO 273 through holes, DIN 974-1 counterbores,
ISO 4026 set screws, ISO 8735 pulling threads); walls about threads are common practice without source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, hypot, sin, tau

import numpy as np

from rollergen.shape.chambers import least_radius
from rollergen.shape.distance import signed_distance
from rollergen.shape.offset import inward
from rollergen.shape.outline import Outline, Point, circle
from rollergen.shape.part import Part
from rollergen.shape.properties import centroid_of, greatest_radius
from rollergen.tooling.cavity import Cavity, bore_levels
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.skin import End, Skin, drilled

UNDER = 0.1  # mm a screw is drawn under its thread, so that the two do not share a surface
ENGAGED = 1.5  # diameters of thread in a core's foot
RUN_OUT = 2.0  # mm a thread's hole is deeper than its screw
OVER_HOLE = 1.0  # mm of foot left above it
MOST_FLOOR = 12.0  # mm of plate under a core: a deeper counterbore keeps screws short
LENGTHS = (8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0)  # mm, of bought screws
SET_SCREWS = (6.0, 8.0, 10.0, 12.0, 16.0, 20.0)
SET_LONG = 1.6  # diameters of a jack screw at most
SET_BACK = 1.0  # mm a jack screw stands back from what it will press on
MOST_JACK = 10.0  # mm: its end stands on the jacket's 12 mm wall
LIFT = 6.0  # mm, threads in jacket and pieces to lift or draw them by
LIFT_DEPTH = 12.0  # mm
ROUNDING = 1e-9  # mm
SCREW, SET = "#3b4248", "#20262b"
PULLING = ((6.0, 4.0), (8.0, 5.0), (10.0, 6.0), (16.0, 8.0), (20.0, 10.0))  # pin from, thread in its end (mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrewSize:
    """A socket head screw and its holes (mm): thread, head, hole it passes, counterbore and how deep that is."""

    thread: float
    head: float
    through: float
    counterbore: float
    deep: float


SIZES = (  # the largest first
    ScrewSize(thread=8.0, head=13.0, through=9.0, counterbore=15.0, deep=8.6),
    ScrewSize(thread=6.0, head=10.0, through=6.6, counterbore=11.0, deep=6.4),
    ScrewSize(thread=5.0, head=8.5, through=5.5, counterbore=10.0, deep=5.4),
    ScrewSize(thread=4.0, head=7.0, through=4.5, counterbore=8.0, deep=4.4),
)
LEAST = SIZES[-1]
LEAST_FLOOR = LEAST.deep + LEAST.thread / 2  # mm of plate behind a foot that the least screw needs


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchor:
    """A screw from below into a core's foot (mm, mould frame): ``seat`` is where its head stops, ``end`` its tip."""

    size: ScrewSize
    at: Point
    length: float
    seat: float

    @property
    def end(self) -> float:
        return self.seat + self.length

    @property
    def words(self) -> str:
        return f"M{self.size.thread:g} x {self.length:g}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchors:
    """Screws of the chamber cores, in order, and of the mandrel; None where a foot is too small for the least."""

    cores: tuple[Anchor | None, ...]
    mandrel: Anchor | None


def anchors_of(cavity: Cavity, tool: Tool) -> Anchors:
    """The largest screw each foot and the plate under it can take; like cores have like screws, turned."""
    count = len(cavity.section.chambers)
    cores: tuple[Anchor | None, ...] = ()
    if count:
        at, room = roomiest(inward(cavity.section.chambers[0], cavity.chamber_offsets[0]))
        first = _anchor(at, room, tool)
        cores = tuple(
            first if first is None else replace(first, at=_turned(at, tau * number / count))
            for number in range(count)
        )
    room = least_radius(inward(cavity.section.bore, bore_levels(cavity)[0][1]))
    return Anchors(cores=cores, mandrel=_anchor((0.0, 0.0), room, tool))


def roomiest(outline: Outline) -> tuple[Point, float]:
    """Where a chamber has most metal about it on the ray through its middle, and how much (mm).

    On that ray because it is the chamber's line of symmetry: along a wide chamber many places are as good.
    """
    x, y = centroid_of(outline)
    away = hypot(x, y)
    way = np.array([x, y]) / away if away > 1e-9 else np.array([1.0, 0.0])
    low, high = 0.0, greatest_radius(outline)
    for _ in range(3):
        reach = np.linspace(low, high, 65)
        free = -signed_distance(outline, reach[:, None] * way)
        best, step = int(free.argmax()), float(reach[1] - reach[0])
        low, high = float(reach[best]) - step, float(reach[best]) + step
    px, py = (reach[best] * way).tolist()
    return (px, py), float(free[best])


def _anchor(at: Point, room: float, tool: Tool) -> Anchor | None:
    """Half a diameter of metal about the thread, half a diameter of plate under the foot, as much as there is."""
    for size in SIZES:
        most = min(tool.base_plate - tool.foot - size.deep, MOST_FLOOR)
        fits: list[tuple[float, float]] = []
        for length in LENGTHS:
            floor = min(most, length - ENGAGED * size.thread)
            inside = length - floor + RUN_OUT + OVER_HOLE
            if floor >= size.thread / 2 - ROUNDING and inside <= tool.foot + ROUNDING:
                fits.append((floor, -length))
        if room >= size.thread - ROUNDING and fits:
            floor, length = max(fits)
            return Anchor(size=size, at=at, length=-length, seat=-tool.foot - floor)
    return None


def foot_thread(skin: Skin, anchor: Anchor | None, foot: float) -> list[End]:
    """The thread's hole in a core's foot, drawn at full size, its ceiling included; nothing without a screw."""
    if anchor is None:
        return []
    return [
        (blind(skin, "screw's thread", anchor.at, anchor.size.thread, -foot, anchor.end + RUN_OUT), "low")
    ]


def blind(skin: Skin, words: str, at: Point, diameter: float, low: float, high: float) -> int:
    """A hole that opens downwards at ``low``, its ceiling included; its number."""
    hole = drilled(skin, words, at, diameter, low, high)
    skin.face(high, False, (hole, "high"))
    return hole


def blind_above(skin: Skin, words: str, at: Point, diameter: float, low: float, high: float) -> int:
    """A hole that opens upwards at ``high``, its floor included; its number."""
    hole = drilled(skin, words, at, diameter, low, high)
    skin.face(low, True, (hole, "low"))
    return hole


def screw_seat(skin: Skin, words: str, anchor: Anchor, bottom: float, foot: float) -> tuple[End, End]:
    """Counterbore from below and hole into a core's pocket: the ends in the plate's underside and the pocket's floor."""
    sink = drilled(skin, f"counterbore of {words}", anchor.at, anchor.size.counterbore, bottom, anchor.seat)
    hole = drilled(skin, f"screw hole of {words}", anchor.at, anchor.size.through, anchor.seat, -foot)
    skin.face(anchor.seat, False, (sink, "high"), [(hole, "low")])
    return (sink, "low"), (hole, "high")


def core_screw(name: str, anchor: Anchor) -> Part:
    """A socket head screw, head down."""
    skin, size = Skin(name), anchor.size
    under = anchor.seat - size.thread  # a socket head is as high as its thread is thick
    shank = skin.wall(
        "shank",
        circle((size.thread - UNDER) / 2, "bolt", centre=anchor.at),
        ((anchor.seat, 0.0), (anchor.end, 0.0)),
    )
    head = skin.wall(
        "head", circle(size.head / 2, "bolt", centre=anchor.at), ((under, 0.0), (anchor.seat, 0.0))
    )
    skin.face(under, False, (head, "low"))
    skin.face(anchor.seat, True, (head, "high"), [(shank, "low")])
    skin.face(anchor.end, True, (shank, "high"))
    return skin.part(SCREW)


def jack_size(tool: Tool) -> float:
    """Thread of the jack screws (mm): the bolts' own, 10 mm at most."""
    return min(tool.bolt, MOST_JACK)


def jack_length(tool: Tool, plate: float) -> float:
    """The longest bought set screw that goes into a plate and stays back from both its faces (mm)."""
    most = min(SET_LONG * jack_size(tool), plate - 2 * SET_BACK)
    return max((length for length in SET_SCREWS if length <= most), default=most)


def jack_screw(name: str, at: Point, tool: Tool, low: float, high: float) -> Part:
    """A set screw in its thread."""
    skin = Skin(name)
    side = skin.wall(
        "set screw", circle((jack_size(tool) - UNDER) / 2, "bolt", centre=at), ((low, 0.0), (high, 0.0))
    )
    skin.face(low, False, (side, "low"))
    skin.face(high, True, (side, "high"))
    return skin.part(SET)


def pulling_thread(pin: float) -> float:
    """Thread in the end of a pin to pull it out by (mm)."""
    return max(thread for least, thread in PULLING if least <= pin + 1e-9)


def _turned(at: Point, angle: float) -> Point:
    c, s = cos(angle), sin(angle)
    return (at[0] * c - at[1] * s, at[0] * s + at[1] * c)
