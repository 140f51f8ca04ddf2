"""A measured part as points: where they are, which way the surface faces there, how much surface each stands for."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.distance import Flags, Ints
from rollergen.shape.outline import Floats

LARGE_FACET = 1 / 40  # of the scan's diagonal: longer facets are filled with points of their own
SPIKES = (
    0.01  # share of the corners: so few of them far off all others are a scanner's spikes, and are left out
)
FAR_OFF = 0.25  # of the diagonal of the box that holds all but SPIKES of them
MOST_STEPS = 40  # along one edge of a large facet
SEARCH_POINTS, TREE_POINTS = 5000, 40000
NEIGHBOURS = 24
TURNED = "the mesh is inside out and was turned"
AGREES = 0.6  # cosine between a patch's plane and its facets: less is no plane of the surface
FEW_LARGE = 0.2  # of the area: fewer large facets close a hole of a scan, and tell nothing of its rounds
LEAST_BEND, MOST_BEND = 0.01, 0.8  # rad: facets that bend less are one plane, those that bend more an edge
FLAT = 0.25  # thickness over width of a patch of points that still has a direction


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scan:
    """Points (n, 3) in the scan's own units, outward unit ``normals`` (n, 3) or None, ``weights`` (n,) of area.

    ``triangles`` and ``open_edges`` count facets and edges with one facet only (0 and 0 for bare points);
    ``unit`` is mm per unit where the file states it.  ``filled``: share of the area read on large facets.
    ``chord`` is how far such facets cut across the curves they stand for, as a rule, in the scan's units.
    ``triangles`` 0 means the file holds points only.
    """

    points: Floats
    normals: Floats | None
    weights: Floats
    triangles: int
    open_edges: int
    unit: float | None
    filled: float
    chord: float = 0.0
    notes: tuple[str, ...] = ()


def scan_of_mesh(
    corners: Floats, facets: Ints, *, unit: float | None = None, notes: tuple[str, ...] = ()
) -> Scan:
    """A scan from vertices (n, 3) and facets (m, 3): every vertex a point, large facets filled with more.

    Vertices at the same place are one.  A facet longer than a fortieth of the scan's diagonal was not made by
    a scanner: it gets points of its own, and how far it cuts across a curve then counts as deviation.  A few
    vertices far off all others are left out.
    """
    corners, facets = _merged(corners, facets)
    facets, spikes = _without_spikes(corners, facets)
    corners, facets = _used(corners, facets)
    if spikes:
        notes = (*notes, f"{spikes} points far off all others left out, with the facets that reach for them")
    a, b, c = (corners[facets[:, i]] for i in range(3))
    cross = np.cross(b - a, c - a)
    double = np.sqrt(np.einsum("ij,ij->i", cross, cross))
    longest = np.sqrt(np.max([((p - q) ** 2).sum(axis=1) for p, q in ((a, b), (b, c), (c, a))], axis=0))
    limit = LARGE_FACET * float(np.linalg.norm(np.ptp(corners, axis=0)))
    large = longest > limit
    more, more_normals, more_weights = _filled(a, b, c, cross, double, longest, limit, large)
    normals, weights = np.zeros_like(corners), np.zeros(len(corners))
    for corner in range(3):
        for axis in range(3):
            normals[:, axis] += np.bincount(facets[:, corner], cross[:, axis], len(corners))
        share = np.where(large, 0.0, double / 6)
        weights += np.bincount(facets[:, corner], share, len(corners))
    size = np.sqrt(np.einsum("ij,ij->i", normals, normals))
    used = size > 0
    typical = float(np.median(weights[used])) if used.any() else 0.0
    weights = np.maximum(weights, 0.25 * typical)  # corners of large facets are points that were measured too
    points = np.concatenate([corners[used], more])
    filled = float(double[large].sum() / max(double.sum(), 1e-300))
    return Scan(
        points=points,
        normals=np.concatenate([normals[used] / size[used, None], more_normals]),
        weights=np.concatenate([weights[used], more_weights]),
        triangles=len(facets),
        open_edges=_open_edges(facets, len(corners)),
        unit=unit,
        filled=filled,
        chord=_chord(corners, facets, cross, double, large) if filled > FEW_LARGE else 0.0,
        notes=notes,
    )


def scan_of_points(points: Floats, *, normals: Floats | None = None, notes: tuple[str, ...] = ()) -> Scan:
    """A scan from bare points (n, 3): all count the same."""
    return Scan(
        points=points, normals=normals, weights=np.ones(len(points)), triangles=0, open_edges=0, unit=None,
        filled=0.0, notes=notes,
    )  # fmt: skip


def in_mm(scan: Scan, mm_per_unit: float) -> Scan:
    """The same scan in mm."""
    return replace(
        scan, points=scan.points * mm_per_unit, weights=scan.weights * mm_per_unit**2, chord=scan.chord * mm_per_unit,
        unit=1.0,
    )  # fmt: skip


def inside_out(scan: Scan) -> bool:
    """Whether facets face inwards: those furthest out must face away from the middle."""
    if scan.normals is None:
        return False
    middle = scan.points.mean(axis=0)
    votes = 0
    for direction in np.array(
        [[x, y, z] for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1) if x or y or z]
    ):
        unit = direction / np.linalg.norm(direction)
        reach = (scan.points - middle) @ unit
        far = reach >= np.percentile(reach, 99.7)
        votes += 1 if float((scan.normals[far] @ unit).mean()) > 0 else -1
    return votes < 0


def turned_facets(scan: Scan) -> Scan:
    """The scan with its facets the other way round, which a note tells; turned twice it is as it was."""
    assert scan.normals is not None
    kept = tuple(note for note in scan.notes if note != TURNED)
    notes = kept if len(kept) < len(scan.notes) else (*kept, TURNED)
    return replace(scan, normals=-scan.normals, notes=notes)


def every_nth(weights: Floats, count: int) -> Ints:
    """Rows of about ``count`` points, drawn evenly over the area, the same ones every time."""
    if len(weights) <= count:
        return np.arange(len(weights))
    grown = np.cumsum(weights)
    at = (np.arange(count) + 0.5) * grown[-1] / count
    return np.unique(np.searchsorted(grown, at))


def smooth_patches(scan: Scan, reach: float) -> tuple[Floats, Floats, Floats]:
    """(points, unit normals, weights) of a few thousand patches about ``reach`` (mm) wide.

    The normal of one facet of a noisy scan is useless; that of a plane through the points about it is good to a
    fraction of a degree.  Neighbours on the other side of a thin wall are left out by their own normals.
    A point file has no outside: its normals then have an arbitrary sign.
    """
    from scipy.spatial import cKDTree

    pool = every_nth(scan.weights, TREE_POINTS)
    chosen = pool[every_nth(scan.weights[pool], SEARCH_POINTS)]
    far, near = cKDTree(scan.points[pool]).query(
        scan.points[chosen], k=min(NEIGHBOURS, len(pool)), distance_upper_bound=reach
    )
    valid = np.isfinite(far)
    rows = pool[np.where(valid, near, 0)]
    if scan.normals is not None:
        valid &= np.einsum("ikj,ij->ik", scan.normals[rows], scan.normals[chosen]) > 0.2
    weight = valid.astype(np.float64)
    count = weight.sum(axis=1)
    local = scan.points[rows]
    middle = np.einsum("ik,ikj->ij", weight, local) / np.maximum(count, 1)[:, None]
    off = (local - middle[:, None]) * weight[:, :, None]
    sizes, directions = np.linalg.eigh(np.einsum("ikj,ikl->ijl", off, off))
    normal = directions[:, :, 0]
    if scan.normals is not None:
        outward = np.einsum("ikj,ik->ij", scan.normals[rows], weight)
        agree = np.einsum("ij,ij->i", normal, outward) / np.maximum(count, 1)
        normal = normal * np.where(agree < 0, -1.0, 1.0)[:, None]
        # points drawn on long facets lie in rows: the plane through them is none of the surface's, its facets' is
        in_rows = np.abs(agree) < AGREES
        size = np.linalg.norm(outward[in_rows], axis=1)
        normal[in_rows] = outward[in_rows] / np.maximum(size, 1e-12)[:, None]
    good: Flags = (count >= 6) & (sizes[:, 0] < FLAT**2 * sizes[:, 1])
    share = scan.weights.sum() / max(len(chosen), 1)
    return middle[good], normal[good], np.full(int(good.sum()), share)


def spacing_of(scan: Scan) -> float:
    """How far a point is from its nearest neighbour, as a rule (mm)."""
    from scipy.spatial import cKDTree

    chosen = every_nth(np.ones(len(scan.points)), 2000)
    far, _ = cKDTree(scan.points).query(scan.points[chosen], k=2)
    return float(np.median(far[:, 1]))


def facet_of(scan: Scan, spacing: float) -> float:
    """Edge of an equilateral facet of the mean area (mm); of bare points, their spacing."""
    if not scan.triangles:
        return spacing
    return float(np.sqrt(4 / np.sqrt(3) * scan.weights.sum() / scan.triangles))


def _merged(corners: Floats, facets: Ints) -> tuple[Floats, Ints]:
    """Vertices at exactly the same place made one; facets with two corners in one place left out."""
    order = np.lexsort(corners.T)
    ordered = corners[order]
    new = np.ones(len(ordered), dtype=bool)
    new[1:] = np.any(ordered[1:] != ordered[:-1], axis=1)
    name = np.empty(len(ordered), dtype=np.int64)
    name[order] = np.cumsum(new) - 1
    facets = name[facets]
    distinct = (
        (facets[:, 0] != facets[:, 1]) & (facets[:, 1] != facets[:, 2]) & (facets[:, 2] != facets[:, 0])
    )
    return ordered[new], facets[distinct]


def _without_spikes(corners: Floats, facets: Ints) -> tuple[Ints, int]:
    """The facets that do not reach for a vertex far off all others, and how many of those there are."""
    if len(corners) == 0:
        return facets, 0
    low, high = np.quantile(corners, (SPIKES / 2, 1 - SPIKES / 2), axis=0)
    room = FAR_OFF * float(np.linalg.norm(high - low))
    far = np.any((corners < low - room) | (corners > high + room), axis=1)
    if not 0 < far.mean() <= SPIKES:
        return facets, 0
    return facets[~far[facets].any(axis=1)], int(far.sum())


def _used(corners: Floats, facets: Ints) -> tuple[Floats, Ints]:
    """Only the vertices that a facet has."""
    used = np.zeros(len(corners), dtype=bool)
    used[facets.ravel()] = True
    return corners[used], (np.cumsum(used) - 1)[facets]


def _filled(
    a: Floats,
    b: Floats,
    c: Floats,
    cross: Floats,
    double: Floats,
    longest: Floats,
    limit: float,
    large: Flags,
) -> tuple[Floats, Floats, Floats]:
    """Points inside the large facets, about ``limit`` apart, with normals and area."""
    points: list[Floats] = [np.zeros((0, 3))]
    normals: list[Floats] = [np.zeros((0, 3))]
    weights: list[Floats] = [np.zeros(0)]
    # as many as the area asks for: a long thin facet has neighbours that do the rest
    steps = np.clip(np.ceil(1.5 * np.sqrt(double) / limit), 2, MOST_STEPS).astype(np.int64)
    for step in np.unique(steps[large]):
        rows = np.flatnonzero(large & (steps == step) & (double > 0))
        i, j = (grid.ravel() for grid in np.meshgrid(np.arange(step), np.arange(step), indexing="ij"))
        inside = i + j < step
        u, v = (i[inside] + 1 / 3) / step, (j[inside] + 1 / 3) / step
        lattice = (
            a[rows, None] * (1 - u - v)[None, :, None]
            + b[rows, None] * u[None, :, None]
            + c[rows, None] * v[None, :, None]
        )
        points.append(lattice.reshape(-1, 3))
        normals.append(np.repeat(cross[rows] / double[rows, None], len(u), axis=0))
        weights.append(np.repeat(double[rows] / 2 / len(u), len(u)))
    return np.concatenate(points), np.concatenate(normals), np.concatenate(weights)


def _chord(corners: Floats, facets: Ints, cross: Floats, double: Floats, large: Flags) -> float:
    """How far large facets cut across the curves they stand for: the height of their arcs, as a rule (0 with none).

    Two strips of width w that bend by a stand for an arc of radius w/a, w a/8 high above its chord.
    """
    rows = np.flatnonzero(large & (double > 0))
    if len(rows) == 0:
        return 0.0
    start, end = facets[rows].ravel(), facets[rows][:, [1, 2, 0]].ravel()
    key = np.minimum(start, end) * len(corners) + np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    pair = np.flatnonzero(key[order][1:] == key[order][:-1])
    one, other = order[pair], order[pair + 1]
    along = np.linalg.norm(corners[end[one]] - corners[start[one]], axis=1)
    first, second = rows[one // 3], rows[other // 3]
    cosine = np.einsum("ij,ij->i", cross[first], cross[second]) / (double[first] * double[second])
    bend = np.arccos(np.clip(cosine, -1.0, 1.0))
    curved = (bend > LEAST_BEND) & (bend < MOST_BEND)
    if not curved.any():
        return 0.0
    width = (double[first] + double[second])[curved] / (2 * along[curved])
    height = width * bend[curved] / 8
    heaviest = np.argsort(height)
    grown = np.cumsum(along[curved][heaviest])
    return float(height[heaviest][np.searchsorted(grown, grown[-1] / 2)])


def _open_edges(facets: Ints, count: int) -> int:
    """Edges that only one facet has."""
    start, end = facets.ravel(), facets[:, [1, 2, 0]].ravel()
    key = np.sort(np.minimum(start, end) * count + np.maximum(start, end))
    if len(key) == 0:
        return 0
    first = np.ones(len(key), dtype=bool)
    first[1:] = key[1:] != key[:-1]
    shared: NDArray[np.int64] = np.diff(np.append(np.flatnonzero(first), len(key)))
    return int((shared == 1).sum())
