"""What a piece covers of the plate: exact from arcs and lines, over its twist, axis upright."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

from rollergen.shape.outline import Outline
from rollergen.shape.reach import swept_reach
from rollergen.spec.amounts import hundredths_above
from rollergen.tooling.print_refusal import Offer, refused, thousandths_below

SAME = 1e-9  # mm
Plate = tuple[float, float]


def footprint(outer: Outline, turn_per_mm: float, low: float, high: float) -> Plate:
    """Width along x and along y (mm) of a piece from ``low`` to ``high`` (mm), as it stands; reliefs not counted."""
    first, last = turn_per_mm * low, turn_per_mm * high
    # the outline turned by phi reaches along a as far as the outline itself along a - phi
    east, north, west, south = (
        swept_reach(outer.edges, n * pi / 2 - first, n * pi / 2 - last) for n in range(4)
    )
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
    side = hundredths_above(max(max(piece) for piece in pieces))
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
