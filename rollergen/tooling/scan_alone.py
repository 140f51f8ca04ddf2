"""The part alone: what lies apart from it in a scan (a clamp, a second part, the bench) is left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from rollergen.shape.distance import Flags, Ints
from rollergen.shape.outline import Floats
from rollergen.tooling.aligning import placed_points
from rollergen.tooling.recovering_start import laid_on_axis
from rollergen.tooling.scan import Scan, every_nth

POOL = 60000  # points looked at
GAP = 2.5  # times the typical distance of these points: what is further apart does not hang together
ROOM = 1.0  # mm that something may stick out of the largest piece and still lie within it
FACES_AWAY = 0.9  # cosine between facing and straight away from the axis
LEAST_ABOUT = 0.7  # share of a piece that must face away from the axis to belong to the part


def part_alone(scan: Scan) -> Scan:
    """The largest piece of a meshed scan in mm, and every piece inside it or about the same axis.

    Bore, chambers and ends hang together with the outside only where their edges are scanned, so a piece is kept
    for where it lies, not for what it touches.  Raises UsageError where the largest piece shows no axis.
    """
    assert scan.normals is not None
    pool = every_nth(scan.weights, POOL)
    points = scan.points[pool]
    reach = GAP * float(np.sqrt(scan.weights.sum() / len(pool)))
    piece = _pieces(points, reach)
    size = np.bincount(piece)
    if len(size) == 1:
        return scan
    largest = pool[piece == int(size.argmax())]
    pose, *_ = laid_on_axis(_only(scan, largest))
    q, n = placed_points(points, pose), scan.normals[pool] @ pose.rotation
    r = np.hypot(q[:, 0], q[:, 1])
    mine = piece == int(size.argmax())
    low, high = q[mine, 2].min() - ROOM, q[mine, 2].max() + ROOM
    inside = (r < r[mine].max() + ROOM) & (q[:, 2] > low) & (q[:, 2] < high)
    out = (n[:, 0] * q[:, 0] + n[:, 1] * q[:, 1]) / np.maximum(r, 1e-9)
    kept = (np.bincount(piece, inside) > 0.5 * size) | (
        np.bincount(piece, out > FACES_AWAY) > LEAST_ABOUT * size
    )
    if kept.all():
        return scan
    note = f"{1 - float(size[kept].sum() / size.sum()):.1%} of the scan lies apart from the part and was left out"
    return replace(_only(scan, _near(scan.points, points, kept[piece])), notes=(*scan.notes, note))


def _pieces(points: Floats, reach: float) -> Ints:
    """Which piece each point is of: those within ``reach`` of each other hang together."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    a, b = cKDTree(points).query_pairs(reach, output_type="ndarray").T
    links = coo_array((np.ones(len(a), dtype=bool), (a, b)), shape=(len(points), len(points)))
    found: Ints = connected_components(links, directed=False)[1].astype(np.int64)
    return found


def _near(points: Floats, pool: Floats, kept: Flags) -> Ints:
    """Rows of the points whose nearest of the pool is kept."""
    from scipy.spatial import cKDTree

    found: Ints = np.flatnonzero(kept[cKDTree(pool).query(points)[1]])
    return found


def _only(scan: Scan, rows: Ints) -> Scan:
    assert scan.normals is not None
    return replace(scan, points=scan.points[rows], normals=scan.normals[rows], weights=scan.weights[rows])
