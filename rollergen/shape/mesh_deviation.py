"""How far facets stray from the exact edges, in the transverse section: measured, not estimated."""

from __future__ import annotations

import numpy as np

from rollergen.shape.mesh_plan import Complex, Edges, Flags, Ints
from rollergen.shape.outline import Floats


def _grid(n: int) -> Floats:
    """Barycentric points of a triangle, n steps to a side, corners left out."""
    points = [(i, j, n - i - j) for i in range(n + 1) for j in range(n + 1 - i)]
    return np.array([p for p in points if max(p) < n], dtype=np.float64) / n


SAMPLES = _grid(8)  # 42 per facet, edge mid-points among them
MIDDLES = _grid(2)
CLOSER = (1 / 24, 1 / 120)  # steps of 5 x 5 samples round the worst one, then round the worst of those
UPPER = np.array([0.0, 0.0, 1.0, 1.0])  # which corners of a quad (low, low next, high next, high) lie on top
# corners of the two facets of a quad, [rising diagonal][facet]
HALVES = np.array([[(0, 1, 3), (1, 2, 3)], [(0, 1, 2), (0, 2, 3)]])
NEARLY = 0.985  # coarse samples miss a peak by about 1 %


def choose_diagonals(
    edges: Edges, edge: Ints, corner: Complex, d: Floats, step: float, error: Floats
) -> Flags:
    """Which diagonal strays less, True for rising, (layers, quads); raises ``error`` per edge (mm).

    ``corner``: low, low next, high next, high of every quad (4, layers, quads) in a frame that does not
    turn within a layer; ``step``: turn of a layer (rad); ``d``: inward offset at every level (mm).
    """
    tried = {way: _deviation(edges, edge, corner, d, step, way) for way in (True, False)}
    rising = tried[True][0].max(axis=0) <= tried[False][0].max(axis=0) * (1 + 1e-9)
    off = np.where(rising, tried[True][0], tried[False][0])
    # the nearly worst facets of an edge are looked at closer; the others cannot set its deviation
    coarse = np.zeros(len(error))
    np.maximum.at(coarse, np.broadcast_to(edge, off.shape), off)
    half, layer, quad = np.nonzero(off >= NEARLY * coarse[edge])
    way = rising[layer, quad]
    peak = np.where(way, tried[True][1][half, :, layer, quad].T, tried[False][1][half, :, layer, quad].T)
    chosen = HALVES[way.astype(int), half].T
    found = _polish(
        edges, edge[quad], corner[chosen, layer, quad], d[[layer, layer + 1]], step, UPPER[chosen], peak
    )
    np.maximum.at(error, edge[quad], found)
    return np.asarray(rising)


def _deviation(
    edges: Edges, edge: Ints, corner: Complex, d: Floats, step: float, rising: bool
) -> tuple[Floats, Floats]:
    """Greatest sampled transverse distance (mm) of the two facets of every quad to their edge.

    (2, layers, quads), and the barycentric place of the worst sample (2, 3, layers, quads).
    """
    # upright and straight, a facet is a chord: its greatest distance is at the middle, exactly
    samples = MIDDLES if step == 0 and np.all(d == d[0]) else SAMPLES
    off, peak = [], []
    for half in HALVES[int(rising)]:
        found = _distances(edges, edge, corner[half], d, step, UPPER[half], samples)
        off.append(np.max(found, axis=0))
        peak.append(np.moveaxis(samples[np.argmax(found, axis=0)], -1, 0))
    return np.stack(off), np.stack(peak)


def _polish(
    edges: Edges, edge: Ints, three: Complex, ends: Floats, step: float, upper: Floats, peak: Floats
) -> Floats:
    """Deviation of facets (3, n) sampled twice more round their worst sample: the peak within 1e-4 of it."""
    share = peak[None]
    for reach in CLOSER:
        share = np.concatenate([share, _around(share, reach)])
        up = np.einsum("scn,cn->sn", share, upper)
        point = np.einsum("scn,cn->sn", share, three) * np.exp(-1j * step * up)
        off = _off(edges, edge, point, ends[0] + up * (ends[1] - ends[0]))
        share = np.take_along_axis(share, np.argmax(off, axis=0)[None, None], axis=0)
    found: Floats = np.max(off, axis=0)
    return found


def _around(peak: Floats, reach: float) -> Floats:
    """Barycentric points (25, 3, n) round ``peak`` (1, 3, n), kept inside their facet."""
    way = np.arange(-2, 3) * reach
    a, b = (w.ravel()[:, None] for w in np.meshgrid(way, way))
    first = np.clip(peak[:, 0] + a, 0.0, 1.0)
    second = np.clip(peak[:, 1] + b, 0.0, 1.0 - first)
    return np.stack([first, second, 1.0 - first - second], axis=1)


def _distances(
    edges: Edges, edge: Ints, three: Complex, d: Floats, step: float, upper: Floats, samples: Floats
) -> Floats:
    """Transverse distance (mm) of facet points to their own edge, (samples, layers, quads)."""
    up = (samples @ upper)[:, None, None]
    point = np.tensordot(samples, three, axes=1) * np.exp(-1j * step * up)
    return _off(edges, edge, point, d[:-1, None] + up * np.diff(d)[:, None])


def _off(edges: Edges, edge: Ints, point: Complex, offset: Floats) -> Floats:
    """Distance of points (..., quads) to the arc or line of each quad, moved inward by ``offset``."""
    arc, line = edges.arc[edge], ~edges.arc[edge]
    offset = np.broadcast_to(offset, point.shape)
    off = np.empty(point.shape)
    j, k = edge[arc], edge[line]
    away = point[..., arc] - edges.centre[j]
    off[..., arc] = (
        np.sqrt(away.real**2 + away.imag**2) - edges.radius[j] + edges.convex[j] * offset[..., arc]
    )
    off[..., line] = ((point[..., line] - edges.start[k]) * np.conj(edges.normal[k])).real + offset[..., line]
    return np.abs(off)
