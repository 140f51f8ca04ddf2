"""What a piece covers of the plate: exact from arcs and lines, over its twist, axis upright."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, ceil, cos, hypot, pi, sin, tau

from rollergen.shape.outline import Arc, Edge, Outline, Point
from rollergen.tooling.print_refusal import Offer, refused, thousandths_below

SAME = 1e-9  # mm
Plate = tuple[float, float]


def footprint(outer: Outline, turn_per_mm: float, low: float, high: float) -> Plate:
    """Width along x and along y (mm) of a piece from ``low`` to ``high`` (mm), as it stands; reliefs not counted."""
    turns = sorted((turn_per_mm * low, turn_per_mm * high))
    # the outline turned by phi reaches along a as far as the outline itself along a - phi
    east, north, west, south = (_reach(outer, n * pi / 2 - turns[1], n * pi / 2 - turns[0]) for n in range(4))
    return (east + west, north + south)


def room_on(plate: Plate, covered: Plate) -> float:
    """What the plate is larger than that, either way round, on its tighter side (mm); negative where too small."""
    return max(_room(plate, covered), _room(plate, covered[::-1]))


def widest(plate: Plate, pieces: Sequence[Plate]) -> Plate:
    """The piece that leaves the least room on the plate."""
    return min(pieces, key=lambda covered: room_on(plate, covered))


def check_plate(pieces: Sequence[Plate], plate: Plate, scale: float) -> None:
    """Raises Refused for a plate too small for a piece either way round, with the scale and the plate to be tried."""
    covered = widest(plate, pieces)
    if room_on(plate, covered) >= -SAME:
        return
    (x, y), (wide, deep) = covered, plate
    fits = thousandths_below(scale * max(min(wide / x, deep / y), min(wide / y, deep / x)))
    side = ceil((max(max(piece) for piece in pieces) - SAME) * 100) / 100
    raise refused(
        "--printer",
        f"as it stands it covers {x:.2f} x {y:.2f} mm, the plate has {wide:g} x {deep:g} mm (turned by a right angle"
        " too; other turns about the axis are not looked at)",
        offers=lambda: [
            Offer(changes={"scale": fits}, words="fits"),
            Offer(changes={"plate": (side, side)}, words="fits"),
        ],
    )


def _room(plate: Plate, covered: Plate) -> float:
    return min(plate[0] - covered[0], plate[1] - covered[1])


def _reach(outer: Outline, first: float, last: float) -> float:
    """Farthest the outline reaches along any direction from ``first`` to ``last`` (rad), last >= first (mm)."""
    passed = [
        r for edge in outer.edges for r, angle in _crests(edge) if (angle - first) % tau <= last - first
    ]
    return max([_support(outer, first), _support(outer, last), *passed])


def _crests(edge: Edge) -> list[tuple[float, float]]:
    """Points of an edge that may be farthest from the axis: distance (mm) and polar angle (rad)."""
    found = [(hypot(*edge.start), atan2(edge.start[1], edge.start[0]))]
    if isinstance(edge, Arc):
        towards, away = atan2(edge.centre[1], edge.centre[0]), hypot(*edge.centre)
        if away > SAME and edge.sweep > 0 and (towards - edge.angle) % tau <= edge.sweep:
            found.append((away + edge.radius, towards))
    return found


def _support(outer: Outline, along: float) -> float:
    """How far the outline reaches in one direction (mm)."""
    u = (cos(along), sin(along))
    return max(_edge_support(edge, along, u) for edge in outer.edges)


def _edge_support(edge: Edge, along: float, u: Point) -> float:
    reach = edge.start[0] * u[0] + edge.start[1] * u[1]
    if isinstance(edge, Arc) and edge.sweep > 0 and (along - edge.angle) % tau <= edge.sweep:
        reach = edge.centre[0] * u[0] + edge.centre[1] * u[1] + edge.radius
    return reach
