"""How wide a cut of 45 deg at an end is (chamfer, lead-in), from points about the edge it takes away.

Every point has a depth under the surface that is cut and a distance from the end.  Points of the surface have depth 0,
those of the end distance 0, and on the cut the two add up to its width.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from rollergen.shape.outline import Floats
from rollergen.tooling.scan_places import MEDIAN

END_ZONE = 5.0  # mm from an end in which cuts are looked for
OFF_EDGE = 0.2  # mm: a smaller cut is a broken edge
LEAST_ON_CUT = 40
OFF_BOTH = 2.5  # spreads that a point of the cut stays away from its two edges, where it could be of the surface or the end
MIDDLE = 0.5  # of a cut's width: a scanner rounds its two edges off
RESOLVED = 4.0  # spreads: a narrower cut has no points that are certainly its own
SMALL = 0.2  # of a cut: a surface that is rougher, or further from what was recovered, gives it badly
LEAST_WINDOW = 0.05  # mm
STARTS = np.geomspace(OFF_EDGE, END_ZONE, 16)
ROUNDS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """Width along surface and end alike (mm), its standard error, how many points it rests on, whether badly."""

    size: float
    error: float
    points: int
    weak: bool


def cut_of(depth: Floats, near_end: Floats, spread: float) -> Cut | None:
    """The cut that points (n,) show by themselves, else by the two rows its edges make; None where none is made out.

    ``spread``: of the points about the whole surface that is cut (mm); near the end it may be better, never taken so.
    """
    both = spread_of_edge(depth, near_end, spread)
    found = _by_points(depth, near_end, both) or _by_edges(depth, near_end, spread)
    if found is None or not max(OFF_EDGE, RESOLVED * both) <= found[0] <= END_ZONE:
        return None
    size, error, points = found
    return Cut(size=size, error=error, points=points, weak=both > SMALL * size)


def nothing_cut(depth: Floats, near_end: Floats, spread: float) -> str:
    """Why no cut is told, and what could be there all the same."""
    on = near_end[(np.abs(depth) < OFF_EDGE + spread) & (near_end < END_ZONE)]
    if len(on) < LEAST_ON_CUT:
        return "too few points near the ends to make out a cut"
    most = max(float(np.percentile(on, 2)), OFF_EDGE + RESOLVED * spread_of_edge(depth, near_end, spread))
    return f"no cut is made out; one up to {np.ceil(10 * most - 1e-9) / 10:.1f} mm would not show"


def spread_of_edge(depth: Floats, near_end: Floats, spread: float) -> float:
    """How far depth and distance of a point add up wrongly, as a rule (mm): surface and end are both rough."""
    return hypot(max(_rough(depth, near_end, spread), spread), _rough(near_end, depth, spread))


def _rough(across: Floats, along: Floats, otherwise: float) -> float:
    """Spread of the points of one of the two sides, past any cut."""
    on = across[(along > END_ZONE / 2) & (along < END_ZONE) & (np.abs(across) < END_ZONE / 2)]
    return _spread(on) if len(on) >= LEAST_ON_CUT else otherwise


def _spread(values: Floats) -> float:
    return 1.4826 * float(np.median(np.abs(values - np.median(values))))


def _by_points(depth: Floats, near_end: Floats, spread: float) -> tuple[float, float, int] | None:
    """(size, error, points) where points lie on the cut itself.

    They are chosen by where they lie along it, which noise does not drive to one side; what they lie off it then has
    its median at the cut.  Of several sizes that agree with their own points the one with most of them is taken.
    """
    across, along = depth + near_end, np.abs(depth - near_end)
    best: tuple[float, float, int] | None = None
    for start in STARTS:
        size = float(start)
        for _ in range(ROUNDS):
            inner = min(size - OFF_BOTH * spread, MIDDLE * size)
            on = across[(along < inner) & (across > size / 4) & (across < 2.5 * size)]
            if len(on) < LEAST_ON_CUT:
                break
            before, size = size, float(np.median(on))
            if abs(size - before) < 1e-3 * size:
                break
        if len(on) < LEAST_ON_CUT or _spread(on) > max(1.5 * spread, LEAST_WINDOW):
            continue
        if best is None or len(on) > best[2]:
            best = (size, MEDIAN * _spread(on) / sqrt(len(on)), len(on))
    return best


def _by_edges(depth: Floats, near_end: Floats, spread: float) -> tuple[float, float, int] | None:
    """The same from its two edges, where both stand at the same distance and rows of points lie on them."""
    edges = []
    for along, across in ((near_end, depth), (depth, near_end)):
        window = max(3 * min(spread, _rough(across, along, spread)), LEAST_WINDOW)
        on = along[(np.abs(across) < window) & (along < END_ZONE)]
        if len(on) < LEAST_ON_CUT:
            return None
        edge, row = float(np.percentile(on, 2)), on
        for _ in range(ROUNDS):
            row = on[np.abs(on - edge) < window]
            if len(row) < LEAST_ON_CUT:
                return None
            edge = float(np.median(row))
        if _spread(row) > window / 2:  # no row: the surface goes on evenly
            return None
        edges.append((edge, MEDIAN * _spread(row) / sqrt(len(row)), len(row)))
    (a, of_a, na), (b, of_b, nb) = edges
    size, error = (a + b) / 2, hypot(of_a, of_b) / 2
    between = (np.abs(depth - near_end) < size / 2) & (np.abs(depth + near_end - size) < size / 2)
    if between.sum() > 0.1 * (na + nb) or abs(a - b) > max(0.1 * size, 8 * error):
        return None  # points between the rows hide where they stand
    return size, hypot(error, (a - b) / 2), na + nb
