"""Where the axis of a scan may lie, found from which way its surface faces: no profile needed.

Body, tips, bore and chambers all face across the axis, and body, tips and the walls of chambers face straight
away from it or towards it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rollergen.shape.outline import Floats

DIRECTIONS = 1200  # over half a sphere: about 4.5 deg apart
ACROSS = 0.10  # sine of the angle to the cross-plane that still counts in the search
CLOSE = 0.06  # the same once refined
PAIRS = 600
TURNED = 0.02  # rad that a patch's normal may be turned: it misses the axis by more the further off it lies
SEED = 20240501
END_FACES = 0.97  # cosine to the axis
BIN = 0.5  # mm, height of a slice in which end faces are looked for


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Axis:
    """A line: unit ``direction``, a point ``through`` on it, and the share of the area that faces across it."""

    direction: Floats
    through: Floats
    share: float


def likely_axes(
    points: Floats, normals: Floats, weights: Floats, *, most: int = 3, near: float = 1.0
) -> list[Axis]:
    """The lines that most of the surface may be swept along, best first; ``near`` mm is how well normals meet."""
    total = float(weights.sum())
    directions = _half_sphere(DIRECTIONS)
    across = (np.abs(normals @ directions.T) < ACROSS).T @ weights
    found: list[Axis] = []
    for row in np.argsort(-across, kind="stable")[:60]:
        direction = _refined(directions[row], normals, weights)
        if any(abs(float(direction @ axis.direction)) > 0.98 for axis in found):
            continue
        side = np.abs(normals @ direction) < CLOSE
        if side.sum() < 20:
            continue
        through = _meeting(points[side], normals[side], direction, near)
        found.append(Axis(direction=direction, through=through, share=float(weights[side].sum()) / total))
        if len(found) == most:
            break
    return found


def end_heights(
    height: Floats, facing: Floats, weights: Floats, *, signed: bool
) -> tuple[float | None, float | None]:
    """(lower, upper) height of flat ends across the axis, None where none is seen.

    ``facing``: cosine between normal and axis.  Without signs a face in the lower half of the scan is the lower.
    """
    total = float(weights.sum())
    middle = float(height.min() + height.max()) / 2
    found: list[float | None] = []
    for sign in (-1.0, 1.0):
        flat = (
            sign * facing > END_FACES
            if signed
            else (np.abs(facing) > END_FACES) & (sign * (height - middle) > 0)
        )
        if weights[flat].sum() < 0.004 * total:
            found.append(None)
            continue
        edges = np.arange(height[flat].min() - BIN, height[flat].max() + 2 * BIN, BIN)
        slices, _ = np.histogram(height[flat], bins=edges, weights=weights[flat])
        both = slices[:-1] + slices[1:] if len(slices) > 1 else slices
        top = int(both.argmax())
        near = flat & (np.abs(height - edges[top + 1]) < 1.5 * BIN)
        enough = weights[near].sum() > 0.003 * total
        found.append(float(np.median(height[near])) if enough else None)
    return found[0], found[1]


def across_axes(direction: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors across a direction that make a right-handed frame with it."""
    least = np.zeros(3)
    least[int(np.argmin(np.abs(direction)))] = 1.0
    x = np.cross(least, direction)
    x /= np.linalg.norm(x)
    return x, np.cross(direction, x)


def _half_sphere(count: int) -> Floats:
    """Directions spread evenly over the upper half sphere (spiral of the golden angle)."""
    n = np.arange(count) + 0.5
    z = n / count
    turn = n * np.pi * (3 - np.sqrt(5.0))
    r = np.sqrt(1 - z * z)
    return np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1)


def _refined(direction: Floats, normals: Floats, weights: Floats) -> Floats:
    """The direction least along the normals that face across it, step by step with a narrower gate."""
    for gate in (0.25, 0.2, 0.15, 0.1, 0.08, CLOSE, CLOSE, CLOSE):
        near = np.abs(normals @ direction) < gate
        if near.sum() < 20:
            return direction
        scatter = (normals[near] * weights[near, None]).T @ normals[near]
        found = np.linalg.eigh(scatter)[1][:, 0]
        direction = found if found @ direction > 0 else -found
    return direction


def _meeting(points: Floats, normals: Floats, direction: Floats, near: float) -> Floats:
    """The point across the axis through which most normals pass: by pairs, then by least squares on those that do.

    With the same room for all of them the middle of one round chamber, a few mm from its wall, would outdo the axis.
    """
    x, y = across_axes(direction)
    p = np.stack([points @ x, points @ y], axis=1)
    n = np.stack([normals @ x, normals @ y], axis=1)
    n /= np.sqrt((n * n).sum(axis=1))[:, None]
    rng = np.random.default_rng(SEED)
    i, j = rng.integers(0, len(p), PAIRS), rng.integers(0, len(p), PAIRS)
    turn = n[i, 0] * n[j, 1] - n[i, 1] * n[j, 0]
    apart = np.abs(turn) > 0.2
    i, j, turn = i[apart], j[apart], turn[apart]
    d = p[j] - p[i]
    along = (d[:, 0] * n[j, 1] - d[:, 1] * n[j, 0]) / turn
    tried = np.concatenate([p[i] + along[:, None] * n[i], p.mean(axis=0, keepdims=True)])
    offset = p[:, 0] * n[:, 1] - p[:, 1] * n[:, 0]
    miss = np.abs(tried[:, :1] * n[:, 1] - tried[:, 1:] * n[:, 0] - offset)
    distance = np.abs(tried[:, :1] * n[:, 0] + tried[:, 1:] * n[:, 1] - (p * n).sum(axis=1))
    centre = tried[int((miss < near + TURNED * distance).sum(axis=1).argmax())]
    lines = np.stack([n[:, 1], -n[:, 0]], axis=1)
    for _ in range(6):
        close = np.abs(lines @ centre - offset) < near
        if close.sum() < 10:
            break
        centre = np.linalg.lstsq(lines[close], offset[close], rcond=None)[0]
    found: Floats = centre[0] * x + centre[1] * y
    return found
