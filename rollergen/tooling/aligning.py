"""Lays a scan on its profile: axis, phase and end, found coarsely and then by least squares.

Coarse: likely axes from the surface normals, then every phase, either end up and either hand against a map of
distances.  Fine: six freedoms of the pose, and with them the size across, the size along and the helix, so that
a part that shrank does not lie crooked; robust against what is no part of it (a stand, a burr).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import tau

import numpy as np

from rollergen.shape.distance import Ints
from rollergen.shape.outline import Floats
from rollergen.tooling.scan import Scan, every_nth, smooth_patches
from rollergen.tooling.scan_axis import Axis, across_axes, end_heights, likely_axes
from rollergen.tooling.scan_surfaces import (
    BORE,
    CHAMBER,
    LOW_END,
    Look,
    Ring,
    Surfaces,
    look_at,
    nearest_surface,
)

PATCH = 0.022  # of the scan's diagonal: how wide a patch is taken for its normal
PHASES = 360
SEARCH_POINTS = 1200
CAP = 2.5  # mm, further off counts the same in the search
TRIED = 8  # coarse poses that are refined
FINE_POINTS = 9000
PRIORS = (
    0.03,
    0.03,
    0.06,
)  # size across, along, helix: how far a casting may be off, as shares (3 %, 3 %, 6 %)
LOOSE = (1e3, 1e3, 1e3, 1e3, 1e3, 1e3)
CORE_PRIOR = (0.2, 0.2)  # rad: how far bore and chambers may stand turned to the ribs
LEAST_SPREAD = 0.03  # mm, below this the fit does not grow choosier


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pose:
    """Where the part's frame lies in the scan: part point = (scan point - ``origin``) @ ``rotation``."""

    rotation: Floats
    origin: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """A scan laid on surfaces.  ``hand`` -1 where the mirrored helix was laid on instead.

    ``radial``, ``axial``: measured over nominal size; ``turn_ratio``: measured over nominal twist per mm.
    ``spread``: robust standard deviation of what is left (mm).  ``cost``: mean of the capped distance (mm).
    ``sigma``: standard errors of rotation (rad), origin (mm), radial, axial, turn_ratio.
    ``core``: how far bore and chambers were let turn against the ribs (rad), 0 where they were held to them.
    """

    pose: Pose
    hand: int
    radial: float
    axial: float
    turn_ratio: float
    spread: float
    cost: float
    sigma: Floats
    core: tuple[float, float] = (0.0, 0.0)


def placed_points(points: Floats, pose: Pose) -> Floats:
    """Scan points in the part's frame."""
    found: Floats = (points - pose.origin) @ pose.rotation
    return found


def align(scan: Scan, both: Mapping[int, Surfaces]) -> list[Fit]:
    """Fits of a scan in mm, best first: each with its own hand, end and phase; empty where no axis is found.

    ``both``: the surfaces asked for under 1, and under -1 their mirror image where there is a hand to tell.
    """
    surfaces = both[1]
    diagonal = float(np.linalg.norm(np.ptp(scan.points, axis=0)))
    reach = PATCH * diagonal
    points, normals, weights = smooth_patches(scan, reach)
    signed = scan.normals is not None
    if len(points) < 50:
        return []
    maps = {hand: _maps(each) for hand, each in both.items()}
    starts: list[tuple[float, Pose, int]] = []
    for axis in likely_axes(points, normals, weights, near=0.012 * surfaces.radius):
        for pose, bottoms in _upright(axis, points, normals, weights, surfaces, signed):
            q = placed_points(points, pose)
            for hand in both:
                starts += _phases(q, pose, bottoms, hand, both[hand], maps[hand])
    starts.sort(key=lambda start: start[0])
    few = every_nth(weights, 1200)
    own = normals if signed else None
    rough = [
        fine(points[few], None if own is None else own[few], pose, both[hand], hand=hand, rounds=7)
        for _, pose, hand in _distinct(starts)
    ]
    rough.sort(key=lambda fit: fit.cost)
    chosen = every_nth(scan.weights, FINE_POINTS)
    facing = None if scan.normals is None else scan.normals[chosen]
    best = [
        fine(scan.points[chosen], facing, fit.pose, both[fit.hand], hand=fit.hand, rounds=8, start=fit)
        for fit in _one_of_each(rough)
    ]
    return sorted(best, key=lambda fit: fit.cost)


def fine(
    points: Floats,
    normals: Floats | None,
    pose: Pose,
    surfaces: Surfaces,
    *,
    hand: int = 1,
    rounds: int = 10,
    start: Fit | None = None,
    core: tuple[float, float] | None = None,
) -> Fit:
    """Gauss-Newton on the distance to the exact surfaces, with weights that fall off outside the bulk.

    ``core``: turns of bore and chambers against the ribs to start from (rad) where they are let turn; None holds them.

    Source: iteratively reweighted least squares, weight (1 + (r/c)^2)^-2 (Geman and McClure, 1985; from memory).
    """
    ratios = np.zeros(3) if start is None else np.log([start.radial, start.axial, start.turn_ratio])
    cut = CAP
    half = surfaces.length / 2
    free = core is not None
    turns = np.array(core or (0.0, 0.0))
    loose = np.array([*LOOSE, *PRIORS, *(CORE_PRIOR if free else ())])
    prior = np.diag(1 / loose**2)
    covariance: Floats = np.eye(len(loose))
    spread = cut
    for _ in range(rounds):
        q = placed_points(points, pose)
        kind, look = _compared(surfaces.turned(*turns), q, pose, normals, ratios)
        size = np.abs(look.deviation)
        spread = max(1.4826 * float(np.median(size)), LEAST_SPREAD)
        cut = min(max(3 * spread, 0.15), 2 * CAP)
        trust = 1 / (1 + (size / cut) ** 2) ** 2
        jacobian = _jacobian(q, look, kind, half)
        if free:
            of_core = kind[:, None] == np.array([BORE, CHAMBER])
            jacobian = np.column_stack([jacobian, -jacobian[:, 2, None] * of_core])
        information = (jacobian * trust[:, None]).T @ jacobian / spread**2
        gradient = jacobian.T @ (trust * look.deviation) / spread**2
        gradient[6:] += np.concatenate([ratios, turns[: len(loose) - 9]]) / loose[6:] ** 2
        covariance = np.asarray(np.linalg.inv(information + prior), dtype=np.float64)
        step = -covariance @ gradient
        pose = moved_pose(pose, step)
        ratios = ratios + np.clip(step[6:9], -0.02, 0.02)
        if free:
            turns = turns + np.clip(step[9:], -0.1, 0.1)
    _, look = _compared(surfaces.turned(*turns), placed_points(points, pose), pose, normals, ratios)
    size = np.abs(look.deviation)
    radial, axial, turn = (float(value) for value in np.exp(ratios))
    return Fit(
        pose=pose, hand=hand, radial=radial, axial=axial, turn_ratio=turn,
        spread=1.4826 * float(np.median(size)), cost=float(np.minimum(size, CAP).mean()),
        sigma=np.sqrt(np.diag(covariance))[:9], core=(float(turns[0]), float(turns[1])),
    )  # fmt: skip


def _compared(
    surfaces: Surfaces, q: Floats, pose: Pose, normals: Floats | None, ratios: Floats
) -> tuple[Ints, Look]:
    """What points see of surfaces of another size: the points are shrunk instead."""
    radial, axial, turn = np.exp(ratios)
    scaled = np.column_stack([q[:, :2] / radial, q[:, 2]])
    facing = None if normals is None else normals @ pose.rotation
    kind, look = nearest_surface(surfaces, scaled, facing, turn_ratio=float(turn), axial=float(axial))
    ends = kind >= LOW_END
    return kind, replace(look, deviation=look.deviation * np.where(ends, axial, radial))


def _jacobian(q: Floats, look: Look, kind: Ints, half: float) -> Floats:
    """Change of the distance with turning (about x, y, z), shifting, size across, size along and helix, (n, 9)."""
    n = look.normal
    ends = kind >= LOW_END
    from_middle = q[:, 2] - half
    sides = np.where(ends, 0.0, 1.0)
    across = -(n[:, 0] * q[:, 0] + n[:, 1] * q[:, 1]) * sides
    along = -n[:, 2] * from_middle * (1 - sides)
    helix = n[:, 2] * from_middle * sides
    return np.column_stack([np.cross(q, n), n, across, along, helix])


def moved_pose(pose: Pose, step: Floats) -> Pose:
    """The pose after the part's points have turned and shifted by ``step`` in its own frame."""
    from scipy.spatial.transform import Rotation

    turn = np.clip(step[:3], -0.2, 0.2)
    matrix = Rotation.from_rotvec(turn).as_matrix()
    # q' = R q + t with q = (p - o) M  ->  q' = (p - o) M R^T + t
    rotation = pose.rotation @ matrix.T
    return Pose(rotation=rotation, origin=pose.origin - rotation @ step[3:6])


def _upright(
    axis: Axis, points: Floats, normals: Floats, weights: Floats, surfaces: Surfaces, signed: bool
) -> list[tuple[Pose, list[float]]]:
    """Poses with either end up, and for each the heights at which its z = 0 may lie."""
    found = []
    for direction in (axis.direction, -axis.direction):
        x, y = across_axes(direction)
        height = points @ direction
        radius = np.linalg.norm(np.cross(points - axis.through, direction), axis=1)
        part = radius < 1.2 * surfaces.radius
        if part.sum() < 50:
            continue
        low, high = end_heights(height[part], (normals @ direction)[part], weights[part], signed=signed)
        pose = Pose(
            rotation=np.column_stack([x, y, direction]),
            origin=axis.through - (axis.through @ direction) * direction,
        )
        found.append((pose, _bottoms(low, high, height[part], surfaces.length)))
    return found


def _bottoms(low: float | None, high: float | None, height: Floats, length: float) -> list[float]:
    """Heights at which z = 0 may lie."""
    if low is not None and high is not None:
        if abs(high - low - length) < 0.06 * length:
            return [(low + high - length) / 2]
        return [low, high - length]
    if low is not None:
        return [low]
    if high is not None:
        return [high - length]
    least, most = np.percentile(height, (0.5, 99.5))
    room = length - float(most - least)
    if room <= 4.0:
        return [float(least) - room / 2]
    return [
        float(bottom) for bottom in np.linspace(float(least) - room, float(least), min(int(room / 4) + 2, 40))
    ]


def _maps(surfaces: Surfaces) -> list[tuple[Ring, Floats, float]]:
    """Per ring: its distance over radius and angle within one repeat, and the step in radius (mm)."""
    radii = np.linspace(0.0, 1.25 * surfaces.radius, 150)
    found = []
    for _, ring in surfaces.rings:
        step = tau / ring.count
        angles = ring.start + (np.arange(180) / 180 - 0.5) * step
        r, a = (grid.ravel() for grid in np.meshgrid(radii, angles, indexing="ij"))
        points = np.stack([r * np.cos(a), r * np.sin(a), np.zeros_like(r)], axis=1)
        size = np.abs(look_at(ring, points).deviation)
        found.append((ring, size.reshape(len(radii), -1), float(radii[1])))
    return found


def _phases(
    q: Floats,
    pose: Pose,
    bottoms: list[float],
    hand: int,
    surfaces: Surfaces,
    maps: Sequence[tuple[Ring, Floats, float]],
) -> list[tuple[float, Pose, int]]:
    """The best few phases of one pose at each height of its z = 0, each with its mean capped distance."""
    few = every_nth(np.ones(len(q)), SEARCH_POINTS)
    q = q[few]
    r, at = np.hypot(q[:, 0], q[:, 1]), np.arctan2(q[:, 1], q[:, 0])
    phase = np.arange(PHASES) * tau / PHASES
    twisted = np.full((len(q), PHASES), CAP)
    straight = np.full((len(q), PHASES), CAP)
    for ring, table, dr in maps:
        row = np.minimum((r / dr + 0.5).astype(np.int64), len(table) - 1)
        angle = at - ring.start - ring.twist * (q[:, 2] - bottoms[0])
        share = (angle[:, None] - phase) / (tau / ring.count) + 0.5
        share -= np.floor(share)
        column = np.minimum((share * table.shape[1]).astype(np.int64), table.shape[1] - 1)
        into = twisted if ring.twist else straight
        np.minimum(into, table[row[:, None], column], out=into)
    in_reach = r <= surfaces.radius + 1
    found = []
    for bottom in bottoms:
        # another height only turns the twisted surface against the straight ones
        turn = int(np.rint(surfaces.outer.twist * (bottom - bottoms[0]) / (tau / PHASES)))
        z = q[:, 2] - bottom
        end = np.minimum(np.abs(z), np.abs(z - surfaces.length))
        beyond = np.maximum(np.abs(z - surfaces.length / 2) - surfaces.length / 2, 0.0)
        off = np.minimum(np.roll(twisted, turn, axis=1), straight) + beyond[:, None]
        score = np.minimum(off, np.where(in_reach, end, CAP)[:, None]).mean(axis=0)
        origin = pose.origin + bottom * pose.rotation[:, 2]
        for dip in _dips(score):
            c, s = np.cos(phase[dip]), np.sin(phase[dip])
            about = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
            found.append((float(score[dip]), Pose(rotation=pose.rotation @ about, origin=origin), hand))
    return found


def _dips(score: Floats) -> list[int]:
    """Where a periodic row has its lowest local minima, four at most."""
    low = np.flatnonzero((score <= np.roll(score, 1)) & (score <= np.roll(score, -1)))
    return [int(n) for n in low[np.argsort(score[low], kind="stable")][:4]]


def _distinct(starts: list[tuple[float, Pose, int]]) -> list[tuple[float, Pose, int]]:
    """The best starts, with the best of each hand and of each end among them."""
    kept: list[tuple[float, Pose, int]] = starts[:TRIED]
    seen: set[tuple[int, int]] = set()
    for start in starts:
        axis = start[1].rotation[:, 2]
        key = (start[2], int(np.sign(axis @ starts[0][1].rotation[:, 2])))
        if key not in seen:
            seen.add(key)
            if not any(start is other for other in kept):
                kept.append(start)
    return kept


def _one_of_each(fits: list[Fit]) -> list[Fit]:
    """The best fit of each hand and end."""
    found: dict[tuple[int, bool], Fit] = {}
    for fit in fits:
        up = bool(fit.pose.rotation[:, 2] @ fits[0].pose.rotation[:, 2] > 0) if fits else True
        found.setdefault((fit.hand, up), fit)
    return list(found.values())


def turned_over(a: Fit, b: Fit) -> bool:
    """Whether two fits have opposite ends up."""
    return bool(a.pose.rotation[:, 2] @ b.pose.rotation[:, 2] < 0)
