"""First guess of an unknown segment from its scan: frame, which points are what, ribs, helix, bore, chambers."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, tau

import numpy as np

from rollergen.errors import UsageError
from rollergen.shape.distance import Flags
from rollergen.shape.outline import Floats
from rollergen.tooling.aligning import PATCH, Pose, placed_points
from rollergen.tooling.scan import Scan, every_nth, smooth_patches
from rollergen.tooling.scan_axis import Axis, across_axes, end_heights, likely_axes

STEEPEST = tau / 90.0  # rad per mm: a helix of 90 mm pitch, steeper than any rib is cast
HISTOGRAM = 360
LEAST_HEIGHT = 0.8  # mm: a lower rib is taken for a wavy body
LEAST_PATCHES = 60
LEAST_COUNTED = 3  # of what repeats: two that are seen may have any number between them
SECTORS = 36
LOOKED_AT = 30000  # points


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patches:
    """Points in the part's frame with which way they face.

    ``r``, ``angle``, ``z``: where; ``out``: cosine between facing and straight away from the axis; ``along``: cosine
    to the axis.
    """

    r: Floats
    angle: Floats
    z: Floats
    out: Floats
    along: Floats

    def only(self, rows: Flags) -> Patches:
        return Patches(
            r=self.r[rows], angle=self.angle[rows], z=self.z[rows], out=self.out[rows], along=self.along[rows]
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Radii (mm) that tell surfaces apart; None where nothing of the kind is seen.

    ``outer``: everything outside of it is the outer surface.  ``split``: bore inside, chambers outside of it.
    """

    tip: float
    body: float
    outer: float
    split: float | None
    bore_seen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RibGuess:
    """Ribs as counted: ``count`` None where too few are seen, ``start`` their angle at z = 0, ``width`` of the tip (mm).

    ``drawn``: how many to draw while the rest is fitted, counted or not.
    """

    count: int | None
    drawn: int
    seen: int
    start: float
    twist: float
    width: float


def laid_on_axis(scan: Scan) -> tuple[Pose, float | None, float | None, Patches]:
    """(frame with +z along the axis, lower end, upper end, points in it) of an unknown part in mm.

    Raises UsageError where no axis is found.
    """
    diagonal = float(np.linalg.norm(np.ptp(scan.points, axis=0)))
    points, normals, weights = smooth_patches(scan, PATCH * diagonal)
    near = 0.004 * diagonal
    axes = likely_axes(points, normals, weights, near=near) if len(points) >= 50 else []
    if not axes:
        raise UsageError(
            "the scan shows no axis: too few of its points lie on smooth surfaces; scan more of the outside"
        )
    axis = max(axes, key=lambda a: _swept_about(a, points, normals, near))
    x, y = across_axes(axis.direction)
    height = points @ axis.direction
    low, high = end_heights(height, normals @ axis.direction, weights, signed=True)
    origin = axis.through - (axis.through @ axis.direction) * axis.direction
    bottom = low if low is not None else float(height.min())
    pose = Pose(rotation=np.column_stack([x, y, axis.direction]), origin=origin + bottom * axis.direction)
    low_z = None if low is None else 0.0
    high_z = None if high is None else high - bottom
    # a smoothed patch bridges narrow tips and corners: from here on the points themselves are looked at
    assert scan.normals is not None
    rows = every_nth(scan.weights, LOOKED_AT)
    return pose, low_z, high_z, patches_of(scan.points[rows], scan.normals[rows], pose)


def patches_of(points: Floats, normals: Floats, pose: Pose) -> Patches:
    q, n = placed_points(points, pose), normals @ pose.rotation
    r = np.hypot(q[:, 0], q[:, 1])
    out = (n[:, 0] * q[:, 0] + n[:, 1] * q[:, 1]) / np.maximum(r, 1e-9)
    return Patches(r=r, angle=np.arctan2(q[:, 1], q[:, 0]), z=q[:, 2], out=out, along=n[:, 2])


def _swept_about(axis: Axis, points: Floats, normals: Floats, near: float) -> float:
    """Share of the surface that faces across the axis and of that which faces straight away from it, multiplied."""
    side = np.abs(normals @ axis.direction) < 0.1
    arm = np.cross(points - axis.through, axis.direction)
    miss = np.abs(np.einsum("ij,ij->i", normals, arm))
    return axis.share * float((side & (miss < near)).mean())


def levels_of(p: Patches) -> Levels:
    """Radii of tips and body, and what lies inside.  Raises UsageError where no outer surface is seen."""
    side = p.only(np.abs(p.along) < 0.6)
    inward = side.r[side.out < -0.9]
    outward = side.r[side.out > 0.95]
    inside = float(np.percentile(inward, 98)) if len(inward) >= LEAST_PATCHES else 0.0
    outside = outward[outward > inside + 1.0]
    if len(outside) < LEAST_PATCHES:
        raise UsageError(
            "the scan shows nothing of the outer surface: without body and ribs no profile can be recovered"
        )
    tip, body = _levels(outside)
    hubs = side.r[(side.out > 0.7) & (side.r < inside - 1.0)]
    split = float(np.percentile(hubs, 4)) - 0.5 if len(hubs) >= LEAST_PATCHES else None
    limit = inside + 0.5 if split is None else split
    bore = (side.r < limit) & (side.out < 0.0) & (side.r < 0.9 * body)
    return Levels(
        tip=tip,
        body=body,
        outer=max(inside + 0.6, 0.0),
        split=split,
        bore_seen=bool(bore.sum() >= LEAST_PATCHES),
    )


def _levels(radii: Floats) -> tuple[float, float]:
    """(tips, body): the outermost radius of the outer surface, and the innermost that much of it lies at."""
    edges = np.arange(radii.min() - 0.5, radii.max() + 1.0, 0.4)
    count, _ = np.histogram(radii, bins=edges)
    count = np.convolve(count, [1, 1, 1], mode="same")
    strong = np.flatnonzero(count > 0.05 * len(radii))
    low = int(strong[0]) if len(strong) else 0
    near = np.abs(radii - (edges[low] + edges[low + 1]) / 2) < 0.8
    body = float(np.median(radii[near])) if near.any() else float(edges[low])
    return float(np.median(radii[radii >= np.percentile(radii, 98)])), body


def ribs_of(p: Patches, levels: Levels) -> RibGuess | None:
    """The ribs of an unknown part; None for a plain one."""
    if levels.tip - levels.body < LEAST_HEIGHT:
        return None
    rib = p.only((p.r > (levels.tip + levels.body) / 2) & (np.abs(p.along) < 0.8))
    twist = _twist_of(rib, levels.tip)
    turned = np.mod(rib.angle - twist * rib.z, tau)
    centres = _clusters(turned)
    seen = len(centres)
    count, centres = _count_of(centres)
    drawn = count or max(seen, 1)
    start = float(centres[0]) if len(centres) else 0.0
    if count is not None:
        step = tau / count
        start = float(np.angle(np.exp(1j * count * np.array(centres)).mean()) / count) % step
    around = _seen_round(p.only((p.r > max(levels.outer, 0.8 * levels.body)) & (p.out > 0.0)), twist)
    if around and seen == 1:
        count = drawn = 1
    elif len(centres) < LEAST_COUNTED and not (around and len(centres) == count):
        count = None
    land = p.only((p.r > levels.tip - 0.6) & (p.out > 0.96))
    if count is not None:  # a rib of which too little is seen for a middle of its own has points all the same
        centres = [start + rib * tau / count for rib in range(count)]
    return RibGuess(
        count=count, drawn=drawn, seen=seen, start=start, twist=twist,
        width=max(_width_of(np.mod(land.angle - twist * land.z, tau), centres) * levels.tip, 2.0),
    )  # fmt: skip


def _seen_round(p: Patches, twist: float) -> bool:
    """Whether a surface is seen in every direction, its twist taken out: then what repeats on it is seen as well."""
    cell = (np.mod(p.angle - twist * p.z, tau) / tau * SECTORS).astype(np.int64) % SECTORS
    count = np.bincount(cell, minlength=SECTORS)
    return bool((count > 0.1 * count.mean()).all())


def _twist_of(rib: Patches, radius: float) -> float:
    """The twist that gathers the points of the ribs into the fewest directions."""
    if len(rib.z) < LEAST_PATCHES or np.ptp(rib.z) < 5.0:
        return 0.0
    step = 0.6 / (max(float(np.ptp(rib.z)), 20.0) * radius)
    tried = np.arange(-STEEPEST, STEEPEST + step, step)
    z = rib.z - rib.z.mean()

    def gathered(twist: float) -> float:
        cell = (np.mod(rib.angle - twist * z, tau) / tau * HISTOGRAM).astype(np.int64) % HISTOGRAM
        count = np.bincount(cell, minlength=HISTOGRAM).astype(np.float64)
        count = count + 0.5 * (np.roll(count, 1) + np.roll(count, -1))
        return float((count * count).sum())

    scores = np.array([gathered(float(twist)) for twist in tried])
    # of twists that gather alike (ribs fall on their neighbours) the flattest helix is meant
    good = np.flatnonzero(scores > 0.9 * scores.max())
    flattest = good[np.argmin(np.abs(tried[good]))]
    beside = np.abs(tried - tried[flattest]) < 12 * step
    return float(tried[np.flatnonzero(beside)[np.argmax(scores[beside])]])


def _clusters(angles: Floats) -> list[float]:
    """Middles of the runs of directions with points in them (rad), smoothed over 5 deg."""
    cell = (angles / tau * HISTOGRAM).astype(np.int64) % HISTOGRAM
    count = np.bincount(cell, minlength=HISTOGRAM)
    window = np.ones(5) / 5
    smooth = np.convolve(np.concatenate([count[-2:], count, count[:2]]), window, mode="valid")
    full = smooth > 0.25 * np.percentile(smooth, 97)
    if full.all() or not full.any():
        return []
    first = int(np.flatnonzero(~full)[0])
    row = np.roll(full, -first)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(np.int64), [0]])))
    middles = []
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        if end - begin < 2:
            continue
        middles.append(((begin + end) / 2 + first) * tau / HISTOGRAM % tau)
    return middles


def _count_of(centres: list[float]) -> tuple[int | None, list[float]]:
    """How many go round, from the steps between those that are seen, and those it rests on; None where not certain.

    Those beside a stretch that was not seen may be cut off, and are left out where they do not fit.
    """
    ordered = sorted(centres)
    while len(ordered) >= 2:
        steps = np.diff([*ordered, ordered[0] + tau])
        step = float(np.median(np.sort(steps)[: max(1, len(steps) - 1)]))
        count = int(round(tau / step))
        spare = np.abs(steps / (tau / count) - np.rint(steps / (tau / count)))
        if 1 <= count <= 24 and float(spare.max()) < 0.12:
            return count, ordered
        gap = int(np.argmax(steps))
        beside = {gap, (gap + 1) % len(ordered)}
        ordered = [centre for number, centre in enumerate(ordered) if number not in beside]
    return None, list(centres)


def _width_of(angles: Floats, centres: list[float]) -> float:
    """Typical width of a cluster of directions (rad): half of what is spread evenly over it lies within a quarter of it."""
    if not centres or len(angles) < LEAST_PATCHES:
        return 0.0
    off = np.angle(np.exp(1j * (angles[:, None] - np.array(centres))))
    return 4 * float(np.median(np.abs(off).min(axis=1)))


def bore_phase(q: Floats, sides: int) -> float:
    """Angle of a flat's normal of a polygon seen from its points: its corners are furthest out."""
    r, angle = np.hypot(q[:, 0], q[:, 1]), np.arctan2(q[:, 1], q[:, 0])
    corner = float(np.angle(np.sum((r - r.mean()) * np.exp(1j * sides * angle))) / sides)
    return corner + pi / sides


@dataclass(frozen=True, slots=True, kw_only=True)
class ChamberGuess:
    """Chambers as counted: ``count`` None where too few are seen; ``middle`` the angle of one (rad); radii in mm."""

    count: int | None
    middle: float
    outer: float
    inner: float
    web: float


def chambers_of(p: Patches, levels: Levels) -> ChamberGuess | None:
    """The chambers of an unknown part; None where none is seen."""
    if levels.split is None:
        return None
    split = levels.split
    inside = p.only((p.r > split) & (p.r < levels.outer) & (np.abs(p.along) < 0.4))
    walls = inside.only((inside.out < -0.75) & (inside.r > (split + levels.outer) / 2))
    if len(walls.r) < LEAST_PATCHES:
        return None
    centres = _clusters(np.mod(walls.angle, tau))
    count, centres = _count_of(centres)
    if count is not None and len(centres) < LEAST_COUNTED:
        all_seen = len(centres) == count and _seen_round(walls, 0.0)
        # two so wide that no other fits between them are neighbours
        neighbours = len(centres) == 2 and _width_of(walls.angle, centres) > tau / count / 2
        count = count if all_seen or neighbours else None
    middle = 0.0
    web = 5.0
    if count is not None:
        middle = float(np.angle(np.exp(1j * count * np.array(centres)).mean()) / count)
        step = tau / count
        beside = inside.only(np.abs(inside.out) < 0.35)
        off = np.abs(np.mod(beside.angle - middle, step) - step / 2)  # from the web's middle
        away = beside.r * np.sin(off)
        close = away[off < 0.35 * step]
        if len(close) >= 10:
            web = float(2 * np.percentile(close, 30))
    return ChamberGuess(
        count=count,
        middle=middle,
        outer=float(np.percentile(walls.r, 80)),
        inner=split + 0.5,
        web=max(web, 1.0),
    )
