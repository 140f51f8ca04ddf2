"""Gap to a smooth mate on a parallel axis: exact, over a full rotation and along the length.

A smooth mate looks the same at every height, so the gap depends on one angle only: where the mate's
axis is seen from our un-twisted section.  ``gap(z, rotation) = g(seen - rotation - twist(z))`` with
``g`` the signed distance of the mate's axis to the outline, less the mate's radius.

Conventions.  Positive gap: clear; negative: interference.  ``axis_distance`` is the straight distance
between the two axes; ``height`` (mate axis above ours) only tilts the line of centres, so it changes
the rotation at which something happens and never the gap itself.  The end chamfer is left out: it
opens the gap over its own width and nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, tau

import numpy as np

from rollergen.shape.distance import (
    AT_START,
    INTERIOR,
    EdgeTable,
    Flags,
    Ints,
    angle_towards,
    edge_table,
    nearest,
)
from rollergen.shape.outline import Floats, Outline

SAMPLES_PER_RIB = 2048  # finds where the nearest edge changes; the change itself is then bisected
TABLE_ERROR = 2e-4  # mm, what linear look-up in a pattern's table may miss between two knots
BISECTIONS = 56  # 2048 samples of at most 2 pi, halved 56 times, is below the last bit of an angle


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GapCurve:
    """g over one rib: exact pieces between angles where the nearest edge or corner changes.

    ``angle`` (rad) is where the mate's axis is seen from the un-twisted section, counter-clockwise
    from +x.  ``breaks`` rises from 0 to ``period``; piece i runs from breaks[i] to breaks[i + 1] and
    ``turning`` holds the angles inside pieces at which the gap is stationary.  ``floor`` is the angle
    over which the body itself is nearest (gap constant and not at the tip).
    """

    table: EdgeTable
    axis_distance: float
    mate_radius: float
    period: float
    breaks: Floats
    turning: Floats
    floor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SmoothGap:
    """What stands between our roller and a smooth mate (mm; where, in rad and mm).

    ``least`` and ``greatest`` are over a full rotation and the whole length.  Each occurs at every
    height once per rib passing; ``least_at`` and ``greatest_at`` give (rotation, z) at mid length.
    ``window_*``: the opening between two ribs at the line of closest approach.  Its height is the
    greatest gap; its length is the run over which the gap is above half way between least and
    greatest, ``window_angle`` the rotation that run lasts.  ``floor_*`` is the part of it where the
    body is nearest and the gap is the body gap.  Along the length the angle is read through the helix;
    a run longer than the segment is cut to the segment, straight ribs open the whole length at once.
    ``rib_period`` is the axial distance from rib to rib (inf for straight ribs and for a sleeve).
    """

    tip_gap: float
    body_gap: float
    least: float
    least_at: tuple[float, float]
    greatest: float
    greatest_at: tuple[float, float]
    rib_passings_per_turn: int
    rib_period: float
    window_height: float
    window_length: float
    window_angle: float
    floor_length: float
    floor_angle: float


def smooth_gap(
    outline: Outline,
    *,
    count: int,
    turn_per_mm: float,
    length: float,
    body_radius: float,
    tip_radius: float,
    mate_radius: float,
    axis_distance: float,
    height: float = 0.0,
) -> SmoothGap:
    """Gap between a segment and a smooth mate on a parallel axis (mm, rad).

    ``count`` 0 is a plain sleeve.  Raises ValueError when the axis distance leaves no room for the
    two bodies or ``height`` exceeds it.

    Errors: rounding only (below 1e-9 mm).  Source: distance of a point to circles and lines.
    """
    if not axis_distance > body_radius + mate_radius:
        raise ValueError(
            f"axis distance {axis_distance:g} mm leaves no room: body radius {body_radius:g} mm and mate"
            f" radius {mate_radius:g} mm need more than {body_radius + mate_radius:g} mm"
        )
    curve = gap_curve(outline, count=count, axis_distance=axis_distance, mate_radius=mate_radius)
    (least, low_angle), (greatest, high_angle) = extremes(curve)
    seen = line_of_centres(axis_distance, height)
    middle = length / 2

    def at(angle: float) -> tuple[float, float]:
        return (float((seen - turn_per_mm * middle - angle) % curve.period), middle)

    angle = window_angle(curve, (least + greatest) / 2) if count else tau

    def run(part: float) -> float:
        if part <= 0.0:
            return 0.0
        return length if turn_per_mm == 0.0 or not count else min(length, part / abs(turn_per_mm))

    return SmoothGap(
        tip_gap=axis_distance - tip_radius - mate_radius,
        body_gap=axis_distance - body_radius - mate_radius,
        least=least,
        least_at=at(low_angle),
        greatest=greatest,
        greatest_at=at(high_angle),
        rib_passings_per_turn=count,
        rib_period=curve.period / abs(turn_per_mm) if count and turn_per_mm else inf,
        window_height=greatest,
        window_length=run(angle),
        window_angle=angle,
        floor_length=run(curve.floor),
        floor_angle=curve.floor,
    )


def line_of_centres(axis_distance: float, height: float) -> float:
    """Angle of the line from our axis to the mate's, from +x (rad); ValueError if height is too large."""
    if abs(height) > axis_distance:
        raise ValueError(
            f"the mate's axis is {abs(height):g} mm above or below ours, more than the axis distance"
            f" {axis_distance:g} mm; axis_distance is the straight distance between the axes"
        )
    return angle_towards(axis_distance, height)


def gap_curve(outline: Outline, *, count: int, axis_distance: float, mate_radius: float) -> GapCurve:
    """Cut one rib period into pieces that have one nearest edge or corner each."""
    table = edge_table(outline)
    period = tau / count if count else tau
    angle = np.linspace(0.0, period, SAMPLES_PER_RIB + 1)
    codes = _nearest_code(table, axis_distance, angle)
    change = np.flatnonzero(codes[1:] != codes[:-1])
    left, right = angle[change], angle[change + 1]
    leave = _bisect_code(table, axis_distance, left, right, codes[change])
    reach = _bisect_code(table, axis_distance, right, left, codes[change + 1])
    breaks = np.unique(np.concatenate([[0.0, period], leave, reach]))

    mid = (breaks[1:] + breaks[:-1]) / 2
    pole, constant = _pole_of(table, _nearest_code(table, axis_distance, mid))
    turning = []
    for lo, hi, toward, flat in zip(breaks[:-1], breaks[1:], pole, constant, strict=True):
        if flat:
            turning.append((lo + hi) / 2)
            continue
        # the distance to a point or a line, seen from a circle about our axis, turns over exactly
        # where that point (or the line's normal) is straight ahead or straight behind
        ahead = toward + np.pi * np.ceil((lo - toward) / np.pi)
        turning.extend(float(x) for x in np.arange(ahead, hi, np.pi))
    body_radius = np.hypot(table.start[:, 0], table.start[:, 1]).min()
    distance, _, _ = nearest(table, axis_distance * np.stack([np.cos(mid), np.sin(mid)], axis=-1))
    on_body = constant & (np.abs(distance - (axis_distance - body_radius)) < 1e-9)
    return GapCurve(
        table=table,
        axis_distance=axis_distance,
        mate_radius=mate_radius,
        period=period,
        breaks=breaks,
        turning=np.array(turning, dtype=np.float64),
        floor=float((breaks[1:] - breaks[:-1])[on_body].sum()),
    )


def gap_at(curve: GapCurve, angle: Floats) -> Floats:
    """Exact gap (mm) with the mate's axis seen at ``angle`` (rad) from the un-twisted section."""
    angle = np.asarray(angle, dtype=np.float64)
    points = curve.axis_distance * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    distance, _, _ = nearest(curve.table, points.reshape(-1, 2))
    return distance.reshape(angle.shape) - curve.mate_radius


def extremes(
    curve: GapCurve, first: float = 0.0, last: float | None = None
) -> tuple[tuple[float, float], tuple[float, float]]:
    """((least gap, its angle), (greatest gap, its angle)) for angles from ``first`` to ``last`` (mm, rad).

    Without ``last``: one full rib, which is every phase there is.  A segment shorter than its rib
    period, standing still, sees only the phases from seen - rotation - twist to seen - rotation: give
    those two angles.  Exact: the gap turns over only at piece ends and stationary angles.
    """
    if last is None:
        last = first + curve.period
    first, last = min(first, last), max(first, last)
    knots = np.unique(np.concatenate([curve.breaks, curve.turning]))
    turns = np.arange(np.floor(first / curve.period), np.floor(last / curve.period) + 1) * curve.period
    angle = (knots + turns[:, None]).ravel()
    angle = np.concatenate([[first], angle[(angle > first) & (angle < last)], [last]])
    gap = gap_at(curve, angle)
    low, high = int(gap.argmin()), int(gap.argmax())
    # a tip arc is a whole run of equal gaps, equal up to rounding: name its middle, not its last bit
    low, high = _middle_of_tie(gap, low, curve, angle), _middle_of_tie(gap, high, curve, angle)
    return (float(gap[low]), float(angle[low])), (float(gap[high]), float(angle[high]))


def window_angle(curve: GapCurve, level: float) -> float:
    """Longest run of angles over which the gap stays at or above ``level`` (rad), the period at most."""
    knots = np.unique(np.concatenate([curve.breaks, curve.turning]))
    gap = gap_at(curve, knots) - level
    change = np.flatnonzero((gap[1:] >= 0) != (gap[:-1] >= 0))
    if not len(change):
        return curve.period if gap[0] >= 0 else 0.0
    low, high = knots[change].copy(), knots[change + 1].copy()
    rising = gap[change + 1] >= 0
    for _ in range(BISECTIONS):
        mid = (low + high) / 2
        to_high = (gap_at(curve, mid) >= level) == rising
        high, low = np.where(to_high, mid, high), np.where(to_high, low, mid)
    crossing = (low + high) / 2
    opens, closes = crossing[rising], crossing[~rising]
    following = [np.min((closes - start) % curve.period) for start in opens]
    return float(max(following))


def gap_pattern(
    outline: Outline,
    *,
    count: int,
    turn_per_mm: float,
    axis_distance: float,
    mate_radius: float,
    z: Floats,
    rotation: Floats,
    height: float = 0.0,
) -> Floats:
    """Gap at every height and rotation, shape (len(z), len(rotation)), mm.

    Linear look-up in an exact table of one rib that has every change of nearest edge among its knots.
    Error at most 0.2 um: the step is chosen from step^2/8 times the largest second derivative a smooth
    piece can have, C d / (C - d) for a point at radius d <= tip radius (C: axis distance).
    """
    seen = line_of_centres(axis_distance, height)
    if count == 0:
        curve = gap_curve(outline, count=0, axis_distance=axis_distance, mate_radius=mate_radius)
        return np.full((len(z), len(rotation)), float(gap_at(curve, np.zeros(1))[0]))
    curve = gap_curve(outline, count=count, axis_distance=axis_distance, mate_radius=mate_radius)
    radius = np.hypot(curve.table.start[:, 0], curve.table.start[:, 1]).max()
    bend = axis_distance * radius / max(axis_distance - radius, mate_radius / 4)
    steps = int(np.ceil(curve.period / np.sqrt(8 * TABLE_ERROR / bend)))
    knots = np.union1d(np.linspace(0.0, curve.period, steps + 1), curve.breaks)
    gap = gap_at(curve, knots)
    # each part is folded into one rib on its own, so their sum stays inside two ribs of table and the
    # million samples need no division
    along = np.mod(seen - turn_per_mm * np.asarray(z, dtype=np.float64), curve.period)
    around = np.mod(-np.asarray(rotation, dtype=np.float64), curve.period)
    two_knots = np.concatenate([knots, knots[1:] + curve.period])
    two_gaps = np.concatenate([gap, gap[1:]])
    sums = along[:, None] + around[None, :]
    gaps: Floats = np.interp(sums.ravel(), two_knots, two_gaps).reshape(sums.shape)
    return gaps


def _nearest_code(table: EdgeTable, axis_distance: float, angle: Floats) -> Ints:
    """One number for 'which edge, or which corner, is nearest': corners count once, not per edge."""
    points = axis_distance * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    _, edge, place = nearest(table, points)
    corner = np.where(place == AT_START, edge, (edge + 1) % len(table))
    return np.where(place == INTERIOR, edge, len(table) + corner).astype(np.int64)


def _bisect_code(table: EdgeTable, axis_distance: float, own: Floats, other: Floats, code: Ints) -> Floats:
    """The last angle from ``own`` towards ``other`` at which ``code`` is still nearest."""
    own, other = own.copy(), other.copy()
    for _ in range(BISECTIONS if len(own) else 0):
        mid = (own + other) / 2
        same = _nearest_code(table, axis_distance, mid) == code
        own, other = np.where(same, mid, own), np.where(same, other, mid)
    return (own + other) / 2


def _pole_of(table: EdgeTable, code: Ints) -> tuple[Floats, Flags]:
    """Angle straight ahead of which each code's distance turns over, and whether it never changes."""
    corner = code >= len(table)
    edge = np.where(corner, code - len(table), code)
    fixed = np.where(corner[:, None], table.start[edge], table.centre[edge])
    straight = ~corner & ~table.is_arc[edge]
    aim = np.where(straight[:, None], table.normal[edge], fixed)
    return np.arctan2(aim[:, 1], aim[:, 0]), np.hypot(aim[:, 0], aim[:, 1]) < 1e-9


def _middle_of_tie(gap: Floats, best: int, curve: GapCurve, angle: Floats) -> int:
    tied = np.flatnonzero(np.abs(gap - gap[best]) < 1e-10)
    middles = [i for i in tied if np.isclose(angle[i] % curve.period, curve.turning, atol=1e-12).any()]
    return int(middles[0]) if middles else best
