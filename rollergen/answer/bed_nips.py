"""Where two turning rollers draw in: which side of the gap their surfaces run into."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt
from typing import Literal

from rollergen.spec.bed import BedRoller
from rollergen.spec.trace import Figure

STEEP = sqrt(0.5)  # a line of centres steeper than 45 deg has its nips left and right, not above and below

Side = Literal["above", "below", "left", "right"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Nip:
    """One side of a gap that a surface runs into; ``surfaces`` says whether both do or only one."""

    side: Side
    surfaces: Literal["both", "one"]
    words: str


def nips_between(left: BedRoller, right: BedRoller) -> tuple[Nip, ...] | None:
    """The sides of the gap that a surface runs into; empty where both stand, None where a speed is not given.

    Counter-clockwise is positive, so the left roller's facing surface rises with its speed and the right
    one's falls.  Two rollers that turn towards each other make one nip into which both surfaces run; two
    that turn in the same sense make two, above and below, with one surface each: a rib on that surface
    still draws in, so such a pair has its nips too.
    """
    if left.rotation_speed is None or right.rotation_speed is None:
        return None
    up, down = _sides(left, right)
    rising = {
        left.name: left.rotation_speed * left.tip_radius,
        right.name: -right.rotation_speed * right.tip_radius,
    }
    found = []
    for side, sign in ((up, -1.0), (down, 1.0)):
        running_in = [name for name, speed in rising.items() if sign * speed > 0]
        if not running_in:
            continue
        if len(running_in) == 2:
            words = f"in-running nip from {side}: the surfaces of {left.name} and {right.name} both run into the gap"
        else:
            other = right.name if running_in[0] == left.name else left.name
            does = "runs out of it" if rising[other] else "stands still"
            words = f"in-running nip from {side}: the surface of {running_in[0]} runs into the gap, that of {other} {does}"
        found.append(Nip(side=side, surfaces="both" if len(running_in) == 2 else "one", words=words))
    return tuple(found)


def _sides(left: BedRoller, right: BedRoller) -> tuple[Side, Side]:
    """Names of the two sides of a gap: the one a rising surface of the left roller goes to, and the other."""
    rise = (right.y - left.y) / hypot(right.x - left.x, right.y - left.y)
    if abs(rise) <= STEEP:
        return "above", "below"
    return ("left", "right") if rise > 0 else ("right", "left")


FIGURES = (
    Figure(
        key="nips",
        words="sides of a gap that a surface runs into, by both rollers or by one",
        formula="signs of w1 R1 and -w2 R2 across the line of centres",
        source="velocity of a point on a turning roller",
        limits="a caution, not a risk assessment; steeper than 45 deg the sides are left and right",
        unit="-",
    ),
)
