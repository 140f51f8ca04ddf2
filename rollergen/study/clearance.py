"""Clearance to a ribbed mate: true distance in space, at one phase and over everything the drive brings.

Two twisted rollers are nearest where a rib of one and a rib of the other pass at slightly different
heights, so the distance inside one section plane is only an upper bound.  With T(a, b) the distance of
the two sections turned by a and b (closed form), the clearance is

    least over z, z'  of  hypot( T(turn(z), mate turn(z')), z - z' )

T is a least value over smooth pairs of edges, so its local minima are smooth points: a coarse search
over sections finds their basins and Newton steps finish them.

Conventions.  Rotations and helices count counter-clockwise seen from +z.  ``speed_ratio`` is the mate's
angular speed over ours, positive when they turn in opposite senses: mate rotation = phase - ratio *
rotation.  ``phase`` is the mate's rotation when ours is 0.  A gap below 0 is interference: minus the
deepest that an edge point of one section lies inside the other section, straight across to the nearest
edge, over all heights.  The sign is exact (the sections' edges cross or they do not); end chamfers are
left out, which only opens the gap over their own width.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, inf, tau

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.outline import Floats
from rollergen.shape.roller_pair import (
    RollerPair,
    section_depth,
    section_distance,
    tip_span,
)

SECTIONS_PER_RIB = 32  # sections looked at per rib passing before any Newton step
MOST_SECTIONS = 6000  # for many turns in a long segment; the pattern repeats long before
LEVELS = np.array(
    [-0.8, -0.6, -0.4, -0.2, 0.0, 0.2, 0.4, 0.6, 0.8]
)  # heights apart, in shares of the best gap
MOST_SEEDS = 48
MOST_STEPS = 60
TOUCHING = 1e-9  # mm: a distance below this is contact
STOP_AT = 2e-5  # mm of travel; the distance is flat there, so it is exact to about 1e-9 mm
COARSE_DEPTH, FINE_DEPTH = 0.2, 0.01  # mm between edge points while looking for, and reporting, a depth
RATIO_LARGEST_TERM = 1000  # a ratio p/q with a larger q does not come back in practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """How both rollers stand after we have turned on by r: rotation + r, mate_rotation - ratio * r (rad)."""

    rotation: float = 0.0
    mate_rotation: float = 0.0
    ratio: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Closest:
    """Where two ribbed rollers come nearest: gap, z on each segment (mm), both rotations (rad)."""

    gap: float
    rotation: float
    mate_rotation: float
    z: float
    mate_z: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RibbedGap:
    """What stands between our roller and a ribbed mate (mm; where, in rad and mm).

    ``least`` and ``closest``: worst true clearance over every phase the ratio brings from the given
    phase on.  ``any_phase``: worst if the drive loses its timing (rib tip against rib tip).
    ``repeats``: our turns until the pattern comes back, inf for a ratio that never does.  ``greatest``
    at ``greatest_at`` (rotation, z): the widest opening between the two sections, about 0.01 mm.
    ``window_length``: its run along the length at that rotation down to half way between least and
    greatest, to one part in 400 of the length.  ``rib_period``: axial distance from rib to rib of ours.
    """

    least: float
    closest: Closest
    any_phase: float
    body_gap: float
    greatest: float
    greatest_at: tuple[float, float]
    repeats: float
    rib_passings_per_turn: int
    mate_rib_passings_per_turn: float
    rib_period: float
    window_height: float
    window_length: float


def clearance_at(pair: RollerPair, rotation: float, mate_rotation: float) -> Closest:
    """True clearance with both rollers standing at these rotations (mm, rad), negative if they interfere.

    Equals the least distance of the two unchamfered solids to about 1e-6 mm.
    """
    drive = Drive(rotation=rotation, mate_rotation=mate_rotation, ratio=0.0)
    first, last = _reach(pair)
    per_mm = max(abs(r.turn_per_mm) / r.period for r in (pair.ours, pair.mate))
    sections = min(MOST_SECTIONS, 3 + ceil(SECTIONS_PER_RIB * per_mm * (last - first)))
    z = np.linspace(first, last, sections)
    states = np.stack([np.zeros_like(z), z, np.zeros_like(z)], axis=1)[None]
    return _closest(pair, drive, states, turning=False)


def ribbed_gap(pair: RollerPair, *, phase: float = 0.0, speed_ratio: float = 1.0) -> RibbedGap:
    """Worst clearance, widest opening and windows over everything the ratio brings (mm, rad)."""
    drive = Drive(mate_rotation=phase, ratio=speed_ratio)
    lines = passings_until_repeat(pair, speed_ratio)
    closest = _worst_of_cycle(pair, drive, lines)
    stand, z, greatest = _widest(pair, drive, lines)
    ours = pair.ours
    return RibbedGap(
        least=closest.gap,
        closest=closest,
        any_phase=pair.tip_to_tip,
        body_gap=pair.body_gap,
        greatest=greatest,
        greatest_at=(stand.rotation, z),
        repeats=inf if lines is None else lines * ours.period / tau,
        rib_passings_per_turn=ours.count,
        mate_rib_passings_per_turn=pair.mate.count * abs(speed_ratio),
        rib_period=ours.period / abs(ours.turn_per_mm) if ours.count and ours.turn_per_mm else inf,
        window_height=greatest,
        window_length=_window_length(pair, stand, z, (closest.gap + greatest) / 2),
    )


def section_pattern(
    pair: RollerPair, *, z: Floats, rotation: Floats, phase: float = 0.0, speed_ratio: float = 1.0
) -> Floats:
    """Distance inside each section plane, shape (len(z), len(rotation)), mm; negative where they cross.

    An upper bound of the clearance: what a picture shows, never what a verdict uses.
    """
    drive = Drive(mate_rotation=phase, ratio=speed_ratio)
    heights, turns = np.meshgrid(z, rotation, indexing="ij")
    states = np.stack([turns.ravel(), heights.ravel(), np.zeros(heights.size)], axis=1)
    our_turn, mate_turn, _ = _turns(pair, drive, states)
    gap = section_distance(pair, our_turn, mate_turn)
    crossing = gap <= TOUCHING
    gap[crossing] = section_depth(pair, our_turn[crossing], mate_turn[crossing], COARSE_DEPTH * 2)
    return gap.reshape(heights.shape)


def passings_until_repeat(pair: RollerPair, speed_ratio: float) -> int | None:
    """Rib passings of ours after which both rib patterns stand as before; None if they never do."""
    if not pair.ours.count or not pair.mate.count:
        return 1
    ratio = Fraction(speed_ratio).limit_denominator(RATIO_LARGEST_TERM)
    if abs(float(ratio) - speed_ratio) > 1e-9:
        return None
    return (ratio * pair.mate.count / pair.ours.count).denominator


def _worst_of_cycle(pair: RollerPair, drive: Drive, lines: int | None) -> Closest:
    meeting = _tip_meeting(pair, drive, lines)
    if meeting is not None:
        return meeting  # no phase is worse than tip against tip, so nothing is left to search
    return _closest(pair, drive, _cycle_states(pair, drive, lines or 1), turning=True)


def _tip_meeting(pair: RollerPair, drive: Drive, lines: int | None) -> Closest | None:
    """A moment with a rib tip of each on the line of centres, if the drive ever brings one.

    Our tip sits there within its half width while the mate's turn, linear in our turn and in z, sweeps
    an interval: the question is whether that interval meets the mate's tip.  A ratio that never repeats
    comes as near as you like to every phase, so it always brings one.
    """
    ours, mate = pair.ours, pair.mate
    (our_tip, our_half), (mate_tip, mate_half) = tip_span(ours), tip_span(mate)
    first, last = pair.common
    middle, half_length = (first + last) / 2, (last - first) / 2
    drift = mate.turn_per_mm + drive.ratio * ours.turn_per_mm  # mate's turn per mm at a fixed turn of ours
    our_turn = pair.seen - our_tip + ours.period * np.arange(lines or 1)
    if not ours.count:
        our_turn = np.zeros(1)
    extra = our_turn - ours.turn_per_mm * middle - drive.rotation
    there = drive.mate_rotation - drive.ratio * extra + mate.turn_per_mm * (middle - pair.mate_from)
    wanted = pair.seen + np.pi - mate_tip
    miss = np.mod(there - wanted + mate.period / 2, mate.period) - mate.period / 2
    if not mate.count:
        miss = np.zeros_like(miss)
    best = int(np.abs(miss).argmin())
    left = float(miss[best])
    if lines is not None and abs(left) > abs(drift) * half_length + abs(drive.ratio) * our_half + mate_half:
        return None
    along = float(np.clip(-left / drift, -half_length, half_length)) if drift else 0.0
    left += drift * along
    our_shift = float(np.clip(left / drive.ratio, -our_half, our_half)) if drive.ratio and ours.count else 0.0
    z = middle + along
    turn = float(our_turn[best]) + our_shift - ours.turn_per_mm * z - drive.rotation
    return Closest(
        gap=pair.tip_to_tip,
        rotation=(drive.rotation + turn) % tau,
        mate_rotation=(drive.mate_rotation - drive.ratio * turn) % tau,
        z=z,
        mate_z=z - pair.mate_from,
    )


def _cycle_states(pair: RollerPair, drive: Drive, lines: int) -> Floats:
    """States (extra turn, z, 0), (turns, heights, 3): every pair of section turns the cycle brings."""
    ours, mate = pair.ours, pair.mate
    first, last = _reach(pair)
    drift = abs(mate.turn_per_mm + drive.ratio * ours.turn_per_mm)
    heights = 1 + min(ceil(SECTIONS_PER_RIB * drift * (last - first) / mate.period), 4 * SECTIONS_PER_RIB)
    z = np.linspace(first, last, heights) if heights > 1 else np.array([(first + last) / 2])
    fast = max(1.0, abs(drive.ratio) * ours.period / mate.period)  # ribs of a fast mate to one of ours
    our_turn = np.linspace(0.0, ours.period * lines, ceil(SECTIONS_PER_RIB * fast) * lines, endpoint=False)
    turns, zs = np.meshgrid(our_turn, z, indexing="ij")
    extra = turns - ours.turn_per_mm * zs - drive.rotation
    return np.stack([extra, zs, np.zeros_like(zs)], axis=-1)


def _reach(pair: RollerPair) -> tuple[float, float]:
    """First and last z of ours from which the mate can be nearest: the common length and a body gap more."""
    first, last = pair.common
    return max(0.0, first - pair.body_gap), min(pair.ours.length, last + pair.body_gap)


def _turns(pair: RollerPair, drive: Drive, states: Floats) -> tuple[Floats, Floats, Floats]:
    """Turn of our section, of the mate's, and how far apart in height they are kept, for states (r, z, d)."""
    extra, z = states[:, 0], states[:, 1]
    low, high = pair.mate_from, pair.mate_from + pair.mate.length
    apart = np.clip(z + states[:, 2], low, high) - z
    our_turn = drive.rotation + extra + pair.ours.turn_per_mm * z
    mate_turn = (
        drive.mate_rotation - drive.ratio * extra + pair.mate.turn_per_mm * (z + apart - pair.mate_from)
    )
    return our_turn, mate_turn, apart


def _distance(pair: RollerPair, drive: Drive, states: Floats) -> Floats:
    our_turn, mate_turn, apart = _turns(pair, drive, states)
    return np.hypot(section_distance(pair, our_turn, mate_turn), apart)


def _closest(pair: RollerPair, drive: Drive, states: Floats, *, turning: bool) -> Closest:
    """Least distance from a grid of states (turns, heights, 3); ``turning`` lets the rotation move too."""
    grid, states = states, states.reshape(-1, 3)
    distance = _distance(pair, drive, states)
    if distance.min() > TOUCHING:
        seeds = _seeds(pair, drive, grid, distance.reshape(grid.shape[:2]))
        end, gap = _descend(pair, drive, seeds, turning=turning)
    else:
        end, gap = states[distance.argmin()], 0.0
    if gap <= TOUCHING:
        crossing = np.concatenate([states[distance <= TOUCHING], end[None]])
        end, gap = _deepest(pair, drive, crossing, turning=turning)
    _, _, apart = _turns(pair, drive, end[None])
    return Closest(
        gap=gap,
        rotation=(drive.rotation + float(end[0])) % tau,
        mate_rotation=(drive.mate_rotation - drive.ratio * float(end[0])) % tau,
        z=float(end[1]),
        mate_z=float(end[1] + apart[0] - pair.mate_from),
    )


def _seeds(pair: RollerPair, drive: Drive, grid: Floats, distance: Floats) -> Floats:
    """Starting points for the descent: every local low of the grid, also tried at heights apart.

    Turning a section by dz * turn_per_mm moves its points by at most radius * that, so a section
    distance T cannot lead to a clearance below T / sqrt(1 + slope^2); what stays above is dropped.
    """
    best = distance.min()
    slope = sum(r.tip_radius * abs(r.turn_per_mm) for r in (pair.ours, pair.mate))
    step = max(r.tip_radius * r.period for r in (pair.ours, pair.mate)) / SECTIONS_PER_RIB
    hopeful = (distance - step) / np.hypot(1.0, slope) <= best
    levels = LEVELS if slope else np.zeros(1)  # straight ribs are nearest at one height
    spread = np.repeat(grid[:, :, None, :], len(levels), axis=2)
    spread[..., 2] = levels * best
    tried = np.full(spread.shape[:3], np.inf)
    tried[hopeful] = _distance(pair, drive, spread[hopeful].reshape(-1, 3)).reshape(-1, len(levels))
    lows = _local_lows(np.round(tried, 9))
    lowest = np.argsort(tried[lows], kind="stable")[:MOST_SEEDS]
    return spread[lows][lowest]


def _local_lows(value: Floats) -> NDArray[np.bool_]:
    """Where a grid (turns, heights, levels) is no higher than its 26 neighbours; plateaus thinned."""
    rim = np.pad(value, ((0, 0), (1, 1), (1, 1)), constant_values=np.inf)
    rim = (
        np.concatenate([rim[-1:], rim, rim[:1]])
        if len(value) > 2
        else np.pad(rim, ((1, 1), (0, 0), (0, 0)), constant_values=np.inf)
    )
    low = np.isfinite(value)
    n, m, k = value.shape
    for place, (i, j, h) in enumerate(np.ndindex(3, 3, 3)):
        neighbour = rim[i : i + n, j : j + m, h : h + k]
        if place < 13:
            low &= value < neighbour
        elif place > 13:
            low &= value <= neighbour
    return low


def _descend(pair: RollerPair, drive: Drive, states: Floats, *, turning: bool) -> tuple[Floats, float]:
    """Newton steps with a falling stencil from every seed at once; the best end and its distance.

    Runs in (turn, z, z') so that both segments' ends are plain bounds.  A stencil of second differences
    gives a quadratic model; the best of its steps (all free, or z, z' or both held, for a low that lies
    on an end) and of the stencil is taken, so the distance never rises.
    """
    first, last = pair.common
    scale = np.array([1.0 / pair.ours.tip_radius, 1.0, 1.0])
    low = np.array([-np.inf, 0.0, pair.mate_from])
    high = np.array([np.inf, pair.ours.length, pair.mate_from + pair.mate.length])
    if pair.ours.turn_per_mm == 0.0 and pair.mate.turn_per_mm == 0.0:
        low[1:], high[1:] = first, last  # nothing changes along z: stay where both are
    free = [0, 1, 2] if turning else [1, 2]
    k = len(free)
    unit = np.eye(3)[free]
    upper = [(i, j) for i in range(k) for j in range(i + 1, k)]
    offsets = np.concatenate([unit, -unit, [unit[i] + unit[j] for i, j in upper]])
    held = [set[int](), {1}, {2}, {1, 2}][: 4 if turning else 3]
    moves = np.array([[0.0 if axis in still else 1.0 for axis in free] for still in held])

    def distance(at: Floats) -> Floats:
        flat = at.reshape(-1, 3)
        apart = np.stack([flat[:, 0], flat[:, 1], flat[:, 2] - flat[:, 1]], axis=1)
        return _distance(pair, drive, apart).reshape(at.shape[:-1])

    x = np.clip(np.stack([states[:, 0], states[:, 1], states[:, 1] + states[:, 2]], axis=1), low, high)
    value, size = distance(x), np.full(len(x), 1.0)
    for _ in range(MOST_STEPS):
        live = np.flatnonzero((size > STOP_AT) & ((value < value.min() + 0.5) | (size > 0.02)))
        if not len(live) or value.min() <= TOUCHING:
            break
        here, h = x[live], size[live, None, None]
        stencil = np.clip(here[:, None, :] + h * scale * offsets, low, high)
        around, centre = distance(stencil), value[live, None]
        steps = _model_steps(around, centre, upper, moves)
        longest = np.abs(steps).max(axis=2)
        models = np.clip(here[:, None, :] + h * scale * (steps @ unit), low, high)
        # here comes first, so a point held on a bound that equals it counts as having stayed
        places = np.concatenate([here[:, None], stencil, models], axis=1)
        trial = np.concatenate([centre, around, distance(models)], axis=1)
        best, row = trial.argmin(axis=1), np.arange(len(live))
        x[live], value[live] = places[row, best], trial[row, best]
        model = best - 1 - around.shape[1]  # which model step won; negative: here or the stencil
        reach = np.clip(longest[row, np.maximum(model, 0)], 0.1, 1.5)
        size[live] *= np.where(best == 0, 0.2, np.where(model >= 0, reach, 1.0))
    winner = int(value.argmin())
    r, z, mate_z = x[winner]
    return np.array([r, z, mate_z - z]), float(value[winner])


def _model_steps(around: Floats, centre: Floats, upper: list[tuple[int, int]], moves: Floats) -> Floats:
    """Steps to the low of the quadratic through each stencil, (seeds, moves, k), in stencil sizes, at most 4.

    A direction with hardly any curvature (a screw motion that changes nothing) is held by a floor.
    """
    k = moves.shape[1]
    slope = (around[:, :k] - around[:, k : 2 * k]) / 2
    bend = np.zeros((len(around), k, k))
    bend[:, range(k), range(k)] = around[:, :k] + around[:, k : 2 * k] - 2 * centre
    for column, (i, j) in enumerate(upper):
        mixed = around[:, 2 * k + column] - around[:, i] - around[:, j] + centre[:, 0]
        bend[:, i, j] = bend[:, j, i] = mixed
    slopes = slope[:, None, :] * moves
    bends = bend[:, None] * moves[:, :, None] * moves[:, None, :]
    curvature, axes = np.linalg.eigh(bends)
    floor = 1e-6 * np.abs(curvature).max(axis=-1, keepdims=True) + 1e-30
    along = np.einsum("mcij,mci->mcj", axes, slopes) / np.maximum(np.abs(curvature), floor)
    step = -np.einsum("mcij,mcj->mci", axes, along) * moves
    longest = np.abs(step).max(axis=-1, keepdims=True)
    return np.asarray(step * np.minimum(1.0, 4.0 / np.maximum(longest, 1e-30)))


def _deepest(pair: RollerPair, drive: Drive, states: Floats, *, turning: bool) -> tuple[Floats, float]:
    """The state of deepest interference and its depth (negative mm), from states whose sections cross."""
    few = states[:: max(1, len(states) // 60)]
    our_turn, mate_turn, _ = _turns(pair, drive, few)
    depth = section_depth(pair, our_turn, mate_turn, 2 * COARSE_DEPTH)
    x = np.array([few[depth.argmin()][0], few[depth.argmin()][1], 0.0])
    first, last = pair.common
    unit = np.eye(3)[[0, 1] if turning else [1]] * np.array([1.0 / pair.ours.tip_radius, 1.0, 1.0])
    size, value = 2.0, float(depth.min())
    while size > 0.005:
        around = np.concatenate([x + size * unit, x - size * unit])
        around[:, 1] = np.clip(around[:, 1], first, last)
        our_turn, mate_turn, _ = _turns(pair, drive, around)
        tried = section_depth(pair, our_turn, mate_turn, COARSE_DEPTH)
        if tried.min() < value - 1e-9:
            x, value = around[tried.argmin()], float(tried.min())
        else:
            size /= 2
    our_turn, mate_turn, _ = _turns(pair, drive, x[None])
    return x, float(section_depth(pair, our_turn, mate_turn, FINE_DEPTH)[0])


def _widest(pair: RollerPair, drive: Drive, lines: int | None) -> tuple[Drive, float, float]:
    """How both stand, z and size (mm) at the widest opening between the sections over the cycle."""
    first, last = pair.common
    middle = (first + last) / 2
    star = np.array([[1, 0], [-1, 0], [0, 1], [0, -1], [1, 1], [-1, -1], [1, -1], [-1, 1]], dtype=np.float64)
    if lines is None or lines > SECTIONS_PER_RIB:
        # the cycle passes as near as a section to every pair of turns, so the two turns are free
        share = np.linspace(0.0, 1.0, SECTIONS_PER_RIB, endpoint=False)
        both = np.meshgrid(share * pair.ours.period, share * pair.mate.period)
        grid = np.stack(both, axis=-1).reshape(-1, 2)
        radii = np.array([pair.ours.tip_radius, pair.mate.tip_radius])
        (a, b), gap = _climb(lambda x: section_distance(pair, x[:, 0], x[:, 1]), grid, star / radii)
        stand = Drive(
            rotation=(a - pair.ours.turn_per_mm * middle) % tau,
            mate_rotation=(b - pair.mate.turn_per_mm * (middle - pair.mate_from)) % tau,
        )
        return stand, middle, gap

    def distance(x: Floats) -> Floats:
        held = np.stack([x[:, 0], np.clip(x[:, 1], first, last), np.zeros(len(x))], axis=1)
        return section_distance(pair, *_turns(pair, drive, held)[:2])

    grid = _cycle_states(pair, drive, lines)[..., :2].reshape(-1, 2)
    (extra, z), gap = _climb(distance, grid, star / np.array([pair.ours.tip_radius, 1.0]))
    stand = Drive(
        rotation=(drive.rotation + extra) % tau,
        mate_rotation=(drive.mate_rotation - drive.ratio * extra) % tau,
    )
    return stand, min(max(z, first), last), gap


def _climb(
    distance: Callable[[Floats], Floats], grid: Floats, star: Floats
) -> tuple[tuple[float, float], float]:
    """Highest value near the best of a grid, by a star that halves when no arm of it is higher."""
    start = distance(grid)
    x, value, size = grid[start.argmax()], float(start.max()), 1.0
    while size > 1e-3:
        around = x + size * star
        tried = distance(around)
        if tried.max() > value + 1e-9:
            x, value = around[tried.argmax()], float(tried.max())
        else:
            size /= 2
    return (float(x[0]), float(x[1])), value


def _window_length(pair: RollerPair, stand: Drive, z: float, level: float) -> float:
    """Axial run around z, standing still, over which the sections stay further apart than ``level`` (mm)."""
    first, last = pair.common
    along = np.linspace(first, last, 401)
    states = np.stack([np.zeros_like(along), along, np.zeros_like(along)], axis=1)
    wide = section_distance(pair, *_turns(pair, stand, states)[:2]) >= level
    here = int(np.abs(along - z).argmin())
    shut = np.flatnonzero(~wide)
    below, above = shut[shut < here], shut[shut > here]
    start = along[below[-1]] if len(below) else first
    stop = along[above[0]] if len(above) else last
    return float(stop - start)
