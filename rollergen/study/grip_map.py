"""Friction needed to seize, over rotation and diameter: the picture of what a pair does.

Every touch of a ball with roller and mate happens at one rotation, known in closed form; the map only
draws these states into a grid.  The limit itself is a narrow window of rotation (0.1 to 2 deg just below
it), so sizes come from the grip study, never from a map.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, tau

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.distance import Flags
from rollergen.shape.outline import Floats
from rollergen.shape.touching_hold import CLOSES
from rollergen.shape.touching_mate import Pair, States, closing, half_angle, states_of

SEIZES, FALLS, NOT_CLOSING = 0, 1, 2
SAMPLES = 16  # per branch; the map follows the states linearly in between


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GripMap:
    """Least friction that seizes a ball of ``diameter`` (n,), mm, at ``rotation`` (m,), rad.

    ``friction`` (n, m): what is needed; negative where a rib pushes the ball down by itself, inf where the
    wedge is open to 90 deg, NaN where ``code`` is not SEIZES.  ``code`` (n, m): FALLS, the ball finds no
    hold and drops through; NOT_CLOSING, it lies there but the surfaces do not draw in (or a rising rib
    lifts it out of the way).
    """

    rotation: Floats
    diameter: Floats
    friction: Floats
    code: NDArray[np.int8]


def grip_map(
    pair: Pair,
    diameter: Floats,
    *,
    rotations: int = 360,
    rising: bool = False,
    samples: int = SAMPLES,
) -> GripMap:
    """The map for balls of ``diameter`` (n,) over one full turn in ``rotations`` equal steps from 0.

    Where several states share a rotation (a ball on the body and one under the flank) the one that needs
    least counts.  A finer grid of rotations has the same values where both have one.

    Raises ValueError for diameters that are not positive or fewer than 1 rotation.
    """
    diameter = np.atleast_1d(np.asarray(diameter, dtype=np.float64))
    if not (diameter > 0.0).all():
        raise ValueError(f"diameter {diameter.min():g} mm must be above 0")
    if rotations < 1:
        raise ValueError(f"{rotations} rotations make no map; use at least 1, 360 for one each degree")
    states = states_of(pair, diameter, samples)
    branches, wedge = states.contour.branches, states.wedge
    seen = np.broadcast_to(states.contour.seen[..., None], wedge.half.shape)
    reached = branches.concentric[None, :, None] if rising else np.True_
    closes = (closing(wedge, pair.speed_ratio, rising) > CLOSES) & reached
    # a branch that lifts off the mate part way: the state where it does is the last one that counts
    phase, half = _to_the_edge(wedge.phase, wedge.half, states, seen)
    rotation = tau * np.arange(rotations) / rotations
    place, back = np.unique(np.mod(rotation - pair.tilt, branches.period), return_inverse=True)
    lowest, touched = _drawn(place, branches.period, phase, half, closes, wedge.touching & seen)
    angle = lowest[:, back]
    friction = np.where(angle < pi / 2, np.tan(np.minimum(angle, pi / 2)), np.inf)
    code = np.where(np.isfinite(angle), SEIZES, np.where(touched[:, back], NOT_CLOSING, FALLS))
    friction[code != SEIZES] = np.nan
    return GripMap(rotation=rotation, diameter=diameter, friction=friction, code=code.astype(np.int8))


def exposed_share(chart: GripMap, friction: float) -> Floats:
    """Share of a turn in which ``friction`` is enough to seize, per diameter (n,), to one grid step."""
    with np.errstate(invalid="ignore"):
        share: Floats = (chart.friction <= friction).mean(axis=1)
    return share


def _to_the_edge(phase: Floats, half: Floats, states: States, seen: Flags) -> tuple[Floats, Floats]:
    """Phases and halves with states just off the mate moved to where the ball leaves it."""
    touching = states.wedge.touching
    if touching[seen].all():
        return phase, half
    phase, half = phase.copy(), half.copy()
    free = states.pair.axis_distance - states.pair.mate_radius - states.diameter[:, None, None] / 2
    rho, theta, delta, lean = states.on.rho, states.on.theta, states.on.delta, states.on.lean
    for near, far in (
        (slice(None, -1), slice(1, None)),
        (slice(1, None), slice(None, -1)),
    ):  # near: off the mate, far: on it
        leaves = ~touching[..., near] & touching[..., far] & seen[..., near]
        span = rho[..., far] - rho[..., near]
        share = np.where(leaves, (free - rho[..., near]) / np.where(span != 0.0, span, 1.0), 0.0)
        at_theta = theta[..., near] + share * (theta[..., far] - theta[..., near])
        at_delta = delta[..., near] + share * (delta[..., far] - delta[..., near])
        at_lean = lean[..., near] + share * (lean[..., far] - lean[..., near])
        phase[..., near] = np.where(leaves, -at_theta, phase[..., near])
        half[..., near] = np.where(leaves, half_angle(at_delta, at_lean), half[..., near])
    return phase, half


def _drawn(
    place: Floats, period: float, phase: Floats, half: Floats, closes: Flags, touching: Flags
) -> tuple[Floats, Flags]:
    """Lowest half angle at each grid place (n, m), inf where none closes; and whether anything touches."""
    n, m = len(phase), len(place)
    counts = touching[..., :-1] | touching[..., 1:]
    ball, row, seat = np.nonzero(counts)
    p0, p1 = phase[ball, row, seat], phase[ball, row, seat + 1]
    h0, h1 = half[ball, row, seat], half[ball, row, seat + 1]
    good = closes[ball, row, seat] & closes[ball, row, seat + 1]
    laps = np.floor(np.minimum(p0, p1) / period) * period
    p0, p1 = p0 - laps, p1 - laps
    low, high = np.minimum(p0, p1), np.maximum(p0, p1)
    turns = int(np.ceil(high.max() / period)) if len(high) else 1
    grid = (place[None, :] + period * np.arange(turns + 1)[:, None]).ravel()
    first, after = np.searchsorted(grid, low, "left"), np.searchsorted(grid, high, "right")
    many = after - first
    which = np.repeat(np.arange(len(many)), many)
    seat = np.arange(len(which)) - np.repeat(np.cumsum(many) - many, many) + first[which]
    run = p1 - p0
    share = (grid[seat] - p0[which]) / np.where(run != 0.0, run, 1.0)[which]
    value = np.where(good[which], h0[which] + share * (h1 - h0)[which], np.inf)
    cell = ball[which] * m + seat % m
    lowest = np.full(n * m, np.inf)
    np.minimum.at(lowest, cell, value)
    touched = np.zeros(n * m, dtype=bool)
    touched[cell] = True
    return lowest.reshape(n, m), touched.reshape(n, m)
