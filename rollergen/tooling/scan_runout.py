"""Total runout: what a dial reads on the body while the part turns about its bore, at the worst height."""

from __future__ import annotations

from math import hypot, tau

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.outline import Floats
from rollergen.tooling.part_features import Reading
from rollergen.tooling.scan_ends import LEAST_ON_SURFACE, Ends
from rollergen.tooling.scan_places import ALONG, SURELY, places, slice_of
from rollergen.tooling.scan_strays import on_axis, slow_change, waves_at
from rollergen.tooling.scan_surfaces import Surfaces, direction_of
from rollergen.tooling.section_fit import Measured

DIRECTIONS = 24  # in which the body is looked at
LEAST_IN_DIRECTION = 3  # points, for a direction that was seen
FINER = 3  # times as many are asked of its slow change
HEIGHTS = 4  # of each slice of the length
ALL_ROUND = 2 / 3  # of the directions: where fewer are seen, the rest is taken for round


def runout_of(
    q: Floats, names: NDArray[np.str_], outer: Measured, bore: Measured, surfaces: Surfaces, ends: Ends
) -> Reading | None:
    """Greatest less least radius of the body about the bore's axis (mm), at the height where that is most.

    ``q`` on the outer surface, ``names`` the feature of each: only the body counts, as a dial skips the ribs.  Its
    radius is taken as slow change of form (shift, tilt, bow, oval, taper, three lobes) and by places, whichever shows
    more; so a lump that is small against 15 deg by a fifth of the length is left out.  None where it is not seen.
    """
    half = surfaces.length / 2
    about = on_axis(q[names == "body"], bore, half)
    if len(about) < LEAST_ON_SURFACE:
        return None
    angle = np.arctan2(about[:, 1], about[:, 0])
    r = np.hypot(about[:, 0], about[:, 1]) - outer.value["radius"]
    row = slice_of(about, surfaces, ends, ALONG)
    column = direction_of(angle, DIRECTIONS)
    place = row * DIRECTIONS + column
    seen = np.bincount(place, minlength=ALONG * DIRECTIONS).reshape(ALONG, DIRECTIONS) >= LEAST_IN_DIRECTION
    found, covariance = slow_change(_waves(angle, about[:, 2], half), r)
    size, error = _slow(found, covariance, seen, _range(about[:, 2], ends), half)
    size = max(size, _by_places(*places(r, place, ALONG * DIRECTIONS)))
    axis = _axis_error(bore, half)
    if seen.any(axis=0).mean() < ALL_ROUND:
        offset, doubt = _offset(outer, bore, half)
        if offset > size:
            size, error = offset, doubt
    return Reading(value=size, error=hypot(error, 2 * axis), points=len(about))


def _slow(
    found: Floats, covariance: Floats, seen: NDArray[np.bool_], between: tuple[float, float], half: float
) -> tuple[float, float]:
    """(greatest less least radius by its slow change, standard error) at the worst height, in directions seen there."""
    worst, error = 0.0, 0.0
    angles = np.arange(FINER * DIRECTIONS) * tau / (FINER * DIRECTIONS)
    seen = np.repeat(seen, FINER, axis=1)
    count = ALONG * HEIGHTS
    for step, height in enumerate(np.linspace(*between, count + 1).tolist()):
        at = angles[seen[min(step // HEIGHTS, ALONG - 1)]]
        if len(at) < 2:
            continue
        waves = _waves(at, np.full(len(at), height), half)
        r = waves @ found
        apart = waves[int(r.argmax())] - waves[int(r.argmin())]
        if float(apart @ found) >= worst:
            worst, error = float(apart @ found), float(np.sqrt(apart @ covariance @ apart))
    return worst, error


def _waves(angle: Floats, z: Floats, half: float) -> Floats:
    """Slow change of the radius, with the three lobes of a chuck."""
    lobes = np.stack([np.cos(3 * angle), np.sin(3 * angle)], axis=1)
    return np.concatenate([waves_at(angle, z, half), lobes], axis=1)


def _by_places(median: Floats, error: Floats) -> float:
    """The same by medians of places, each surely so far out or in."""
    worst = 0.0
    for r, doubt in zip(median.reshape(ALONG, -1), error.reshape(ALONG, -1), strict=True):
        known = np.isfinite(r)
        if known.any():
            high, low = (r - SURELY * doubt)[known].max(), (r + SURELY * doubt)[known].min()
            worst = max(worst, float(high - low))
    return worst


def _offset(outer: Measured, bore: Measured, half: float) -> tuple[float, float]:
    """Twice the distance of both axes at the worse end, and its error: the runout of a round and straight body."""
    x, y, tilt_x, tilt_y = (outer.value[key] - bore.value[key] for key in ("x", "y", "tilt_x", "tilt_y"))
    worst = max(hypot(x + up * tilt_x, y + up * tilt_y) for up in (-half, half))
    return 2 * worst, 2 * _axis_error(outer, half)


def _axis_error(m: Measured, half: float) -> float:
    """Standard error of an axis at the ends (mm)."""
    return hypot(max(m.error["x"], m.error["y"]), half * max(m.error["tilt_x"], m.error["tilt_y"]))


def _range(z: Floats, ends: Ends) -> tuple[float, float]:
    """Heights between which the body is looked at: its ends, or as far as it is seen."""
    low, high = ends
    return (
        float(z.min()) if low is None else low.height,
        float(z.max()) if high is None else high.height,
    )
