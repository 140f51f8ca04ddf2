"""A ball on the body under one rib: the corner that decides the grip of straight ribs, in closed form."""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, atan, atan2, cos, hypot, pi, sin

import numpy as np

from rollergen.shape.touching import Branches

UP_THE_FLANK = (
    1e-5,
    1e-3,
    *(n / 12 for n in range(13)),
)  # where a ball may need less friction than in the corner
UP_THE_TIP = (1e-5, 1e-3, *(n / 24 for n in range(25)))


@dataclass(frozen=True, slots=True, kw_only=True)
class RibSide:
    """One side of a rib as a ball in the groove meets it (mm, rad).

    Angles are taken from one line of the rib, growing away from the rib on this side.  ``nu`` and ``p``:
    direction of the flank's normal and the flank line's distance from the axis; ``chi`` and
    ``tip_distance``: where the tip round's centre is seen and how far; ``foot`` and ``top``: the flank's
    ends, measured along its line from the point nearest the axis; ``root_radius`` 0 where it is sharp.
    """

    nu: float
    p: float
    chi: float
    tip_distance: float
    tip_radius: float
    foot: float
    top: float
    root_radius: float


def rib_sides(branches: Branches) -> tuple[RibSide, RibSide] | None:
    """The clockwise and the counter-clockwise side of a rib; None unless it has one flank on each side."""
    lines = [row for row in range(len(branches)) if np.any(branches.along[row] != 0.0)]
    if len(lines) != 2:
        return None
    low, high = lines
    before, after = _side(branches, low, 1), _side(branches, high, -1)
    return (before, after) if before is not None and after is not None else None


def angle_under_rib(side: RibSide, body_radius: float, radius: float) -> tuple[float, float] | None:
    """Where a ball that touches body and rib is seen, and where the rib's normal points there (rad).

    Both from the rib's line, growing away from the rib.  None where no ball of this ``radius`` can touch
    both: it fits into the root fillet, or meets the flank beyond its ends.
    """
    if not radius > side.root_radius:
        return None
    A, B, G = side.tip_distance, body_radius + radius, side.tip_radius + radius
    across = (A * A + B * B - G * G) / (2 * A * B)
    if abs(across) <= 1.0:
        th = side.chi + acos(across)
        u = atan2(B * sin(th) - A * sin(side.chi), B * cos(th) - A * cos(side.chi))
        if u <= side.nu:
            return th, u
    if side.p + radius > B:
        return None
    off = acos((side.p + radius) / B)
    along = B * sin(off)
    slack = 1e-9
    return (side.nu - off, side.nu) if side.foot - slack <= along <= side.top + slack else None


def closed_form_size(
    driving: RibSide,
    trailing: RibSide,
    *,
    count: int,
    body_radius: float,
    mate_radius: float,
    axis_distance: float,
    friction: float,
    speed_ratio: float = 1.0,
) -> float | None:
    """Largest ball seized by a descending straight rib (mm), one equation in the diameter.

    The ball touches body, rib and mate at once: alpha + gamma - (u - th) = 2 atan(friction), with alpha
    and gamma the angles of its centre at both axes, th its angle from the rib, u the direction of the
    rib's normal.  ``driving`` is the flank that comes down on the ball (clockwise side of a rib with the
    mate on +x), ``trailing`` the other one (``rib_sides``).  friction 0 gives the frictionless size.

    None where the limit is another state: the groove is too narrow for the ball to reach the body, the
    root fillet holds it, a place further up the rib holds better (shallow flanks), or the wedge does not
    close at this speed ratio.  Error: rounding.
    Source: plane geometry of three tangent circles, derived here.
    """
    step = 2 * pi / count

    def excess(diameter: float) -> float | None:
        r = diameter / 2
        here, there = (angle_under_rib(s, body_radius, r) for s in (driving, trailing))
        if here is None or there is None or here[0] + there[0] > step:
            return None
        alpha, gamma = _angles(body_radius + r, mate_radius + r, axis_distance)
        return alpha + gamma - (here[1] - here[0]) - 2 * atan(friction)

    low = max(axis_distance - body_radius - mate_radius, 2 * driving.root_radius, 2 * trailing.root_radius)
    low *= 1 + 1e-12
    first = excess(low)
    if first is None or first > 0.0:
        return None
    high = 2 * low
    while (value := excess(high)) is not None and value <= 0.0:
        high *= 2
    for _ in range(64):
        middle = (low + high) / 2
        value = excess(middle)
        low, high = (middle, high) if value is not None and value <= 0.0 else (low, middle)
    last = excess(high)
    if last is None or abs(last) > 1e-9:
        return None
    if _eases_further_up(driving, low, body_radius, mate_radius, axis_distance):
        return None
    return low if _corner_closes(driving, low, body_radius, mate_radius, axis_distance, speed_ratio) else None


def _eases_further_up(side: RibSide, diameter: float, body: float, mate: float, distance: float) -> bool:
    """Does the same ball need less friction somewhere from the corner up to the rib's tip?"""
    r = diameter / 2
    seat = angle_under_rib(side, body, r)
    assert seat is not None
    th, u = seat
    along = (body + r) * sin(side.nu - th)  # where on the flank, if it is the flank that touches
    if u < side.nu:
        places = []
    else:
        places = [(side.p + r, along + share * (side.top - along)) for share in UP_THE_FLANK]
    # in the frame of the normal: the tip round's centre lies M aside of it
    for share in UP_THE_TIP:
        v = min(u, side.nu) + share * (side.chi - min(u, side.nu))
        off = side.tip_distance
        places.append((off * cos(v - side.chi) + side.tip_radius + r, off * sin(v - side.chi)))

    def wedge(D: float, M: float) -> float:
        alpha, gamma = _angles(hypot(D, M), mate + r, distance)
        return alpha + gamma - atan2(M, D)

    here = _angles(body + r, mate + r, distance)
    return min(wedge(*place) for place in places) < here[0] + here[1] - (u - th) - 1e-9


def _side(branches: Branches, flank: int, inwards: int) -> RibSide | None:
    """Side whose flank is row ``flank`` and whose tip follows in direction ``inwards`` (+1 or -1)."""
    tip, root = flank + inwards, flank - inwards
    if not 0 <= tip < len(branches) or branches.concentric[tip] or branches.bulge[tip] < 0.0:
        return None
    out = -float(inwards)  # counter-clockwise grows away from the rib on its counter-clockwise side
    nu = float(branches.normal[flank])
    n = (cos(nu), sin(nu))
    start = branches.base[flank]
    ends = [abs(float(p[0] * n[1] - p[1] * n[0])) for p in (start, start + branches.along[flank])]
    cx, cy = (float(v) for v in branches.base[tip])
    hollow = 0 <= root < len(branches) and branches.bulge[root] < 0.0
    # polar angle next to the normal, so that no full turn slips in between
    toward = nu + (atan2(cy, cx) - nu + np.pi) % (2 * np.pi) - np.pi
    return RibSide(
        nu=out * nu,
        p=float(start[0] * n[0] + start[1] * n[1]),
        chi=out * float(toward),
        tip_distance=hypot(cx, cy),
        tip_radius=float(branches.bulge[tip]),
        foot=min(ends),
        top=max(ends),
        root_radius=-float(branches.bulge[root]) if hollow else 0.0,
    )


def _angles(rho: float, reach: float, distance: float) -> tuple[float, float]:
    alpha = (rho * rho + distance * distance - reach * reach) / (2 * rho * distance)
    gamma = (reach * reach + distance * distance - rho * rho) / (2 * reach * distance)
    return acos(min(1.0, alpha)), acos(min(1.0, gamma))


def _corner_closes(
    side: RibSide, diameter: float, body: float, mate: float, distance: float, speed_ratio: float
) -> bool:
    """Does the wedge of a ball under the rib's corner close, ribs descending?"""
    r = diameter / 2
    seat = angle_under_rib(side, body, r)
    assert seat is not None
    B, Q = body + r, mate + r
    alpha, gamma = _angles(B, Q, distance)
    normal = alpha - (seat[1] - seat[0])
    chord = (r * (cos(normal) + cos(gamma)), r * (sin(normal) - sin(gamma)))  # roller contact to mate contact
    length = hypot(*chord)
    P = (B * cos(alpha) - r * cos(normal), B * sin(alpha) - r * sin(normal))
    M = (-mate * cos(gamma), mate * sin(gamma))  # from the mate's axis
    ours = (P[0] * chord[1] - P[1] * chord[0]) / length
    mates = (M[0] * chord[1] - M[1] * chord[0]) / length
    return -(ours + speed_ratio * mates) > 1e-9
