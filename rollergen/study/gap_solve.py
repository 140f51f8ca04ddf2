"""The gap turned round: the one dimension that gives an asked tip gap.

Smooth mates are one subtraction.  Between ribbed rollers the worst phase can lie anywhere between "tips
meet" and "ribs mesh": the tips-meet answer is exact or on the safe side, and a bracketed search on the
true clearance goes from there to the answer.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

Dimension = Literal["axis_distance", "rib_height", "body_diameter"]

GAP_ERROR = 1e-6  # mm of gap at which the search stops
MOST_STEPS = 80


def solve_smooth(
    dimension: Dimension,
    target: float,
    *,
    body_radius: float,
    rib_height: float,
    mate_radius: float,
    axis_distance: float,
) -> float:
    """Axis distance, rib height or body diameter with which rib tip and mate stand ``target`` apart (mm).

    ``mate_radius`` is the smooth mate's radius, or the TIP radius of a ribbed one (then the answer holds
    for a drive that lets tip meet tip, and is on the safe side otherwise).  ValueError, with the number
    that stands in the way, when no positive dimension does it.
    """
    if dimension == "axis_distance":
        value = target + body_radius + rib_height + mate_radius
        floor = body_radius + mate_radius
        if value <= floor:
            raise ValueError(
                f"a tip gap of {target:g} mm would need the axes {value:g} mm apart, but the body and the"
                f" mate touch at {floor:g} mm; ask for more than {-rib_height:g} mm"
            )
        return value
    if dimension == "rib_height":
        room = axis_distance - body_radius - mate_radius
        if room - target <= 0.0:
            raise ValueError(
                f"a tip gap of {target:g} mm needs ribs {room - target:g} mm high: body to mate is only"
                f" {room:g} mm; ask for less than {room:g} mm or move the axes apart"
            )
        return room - target
    room = axis_distance - mate_radius - rib_height
    if room - target <= 0.0:
        raise ValueError(
            f"a tip gap of {target:g} mm needs a body radius of {room - target:g} mm: axis distance less mate"
            f" and rib height is only {room:g} mm; ask for less than {room:g} mm"
        )
    if target <= -rib_height:
        raise ValueError(
            f"a tip gap of {target:g} mm runs the body into the mate; ask for more than {-rib_height:g} mm"
        )
    return 2 * (room - target)


def solve_clearance(
    gap_of: Callable[[float], float | None], target: float, *, now: float, safe: float, limit: float
) -> float:
    """Dimension at which the true clearance is ``target`` (mm), searched from ``now`` outward.

    ``safe`` gives at least the target; at ``limit`` the bodies touch.  The clearance is monotonic from one
    to the other.  ``gap_of`` answers None for a dimension nobody can build; what lies this side of it is
    still searched.  Stops at 1e-6 mm of gap.  ValueError, with the nearest that can be had, when the
    target lies outside what can be built.
    """
    gap = gap_of(now)
    if gap is None:
        raise ValueError(f"the profile cannot be built as it stands, at {now:g} mm")
    end = limit if gap >= target else safe
    other, other_gap = _bracket(gap_of, target, now, gap, end)
    for step in range(MOST_STEPS):
        secant = now + (other - now) * (target - gap) / (other_gap - gap)
        middle = (now + other) / 2 if step % 3 == 2 else secant
        found = gap_of(middle)
        if found is None:
            raise ValueError(f"the profile cannot be built at {middle:g} mm, between two values that can")
        if abs(found - target) <= GAP_ERROR or abs(other - now) < 1e-9:
            return middle
        if (found > target) == (gap > target):
            now, gap = middle, found
        else:
            other, other_gap = middle, found
    return (now + other) / 2


def _bracket(
    gap_of: Callable[[float], float | None], target: float, now: float, gap: float, end: float
) -> tuple[float, float]:
    """A buildable dimension on the way to ``end`` with its gap past the target, and that gap."""
    last, last_gap = now, gap
    reached, step = 0.0, 0.125
    while step > 1e-3 and reached < 1.0:
        share = min(1.0, reached + step)
        there = now + share * (end - now)
        found = gap_of(there)
        if found is None:
            step /= 2  # too far to build: look for the crossing just this side of it
            continue
        if (found >= target) != (gap >= target) or abs(found - target) <= GAP_ERROR:
            return there, found
        reached, last, last_gap = share, there, found
    raise ValueError(
        f"{target:g} mm cannot be had: the last value that can be built on the way is {last:g} mm,"
        f" and it leaves {last_gap:g} mm"
    )
