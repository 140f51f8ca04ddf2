"""Nodes along the edges of a section: fine where it curves or is thin, and graded between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, pi

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.outline import Arc, Edge, Outline

Floats = NDArray[np.float64]

PER_QUARTER = 3.0  # edges of triangles round a quarter turn of a fillet
THROUGH = 2.5  # sizes across the thinnest rubber: two triangles at least
GRADING = 0.3  # by how much the size may grow per mm of distance
SAMPLE = 0.25  # of the asked size, between the places where the size is looked at
LEAST_SAMPLES = 3  # of each edge
CLASS = 0.85  # sizes within this ratio are taken together


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """One triangle's edge on an outline: from ``begin`` to ``end`` (shares) of its exact ``edge``."""

    edge: Edge
    begin: float
    end: float

    def at(self, share: float) -> tuple[float, float]:
        """The point of the true curve at ``share`` of the segment, by arc length (mm)."""
        t = self.begin + share * (self.end - self.begin)
        if isinstance(self.edge, Arc):
            return self.edge.at(t)
        (x0, y0), (x1, y1) = self.edge.start, self.edge.end
        return (x0 + t * (x1 - x0), y0 + t * (y1 - y0))

    def halves(self) -> tuple[Segment, Segment]:
        middle = (self.begin + self.end) / 2
        return (
            Segment(edge=self.edge, begin=self.begin, end=middle),
            Segment(edge=self.edge, begin=middle, end=self.end),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizeField:
    """How large a triangle may be, on a square grid: ``size`` (rows, columns) every ``step`` mm from ``corner``.

    ``least``: the least size anywhere, mm.
    """

    corner: Floats
    step: float
    size: Floats
    least: float

    def at(self, places: Floats) -> Floats:
        """Size (m,) at ``places`` (m, 2), mm; straight between the grid's points."""
        across = (places - self.corner) / self.step
        rows, columns = self.size.shape
        i = np.clip(across[:, 0].astype(np.int64), 0, columns - 2)
        j = np.clip(across[:, 1].astype(np.int64), 0, rows - 2)
        u, v = np.clip(across[:, 0] - i, 0, 1), np.clip(across[:, 1] - j, 0, 1)
        low = (1 - u) * self.size[j, i] + u * self.size[j, i + 1]
        high = (1 - u) * self.size[j + 1, i] + u * self.size[j + 1, i + 1]
        found: Floats = (1 - v) * low + v * high
        return found


def size_field(outlines: Sequence[Outline], size: float) -> SizeField:
    """Sizes asked for: ``size``, less in fillets and where another outline is near, graded between (mm)."""
    from scipy.spatial import cKDTree

    samples = [_samples(outline, SAMPLE * size) for outline in outlines]
    points = np.concatenate([p for p, _ in samples])
    wanted = []
    for number, (mine, allowed) in enumerate(samples):
        thin, _ = cKDTree(np.concatenate([p for n, (p, _) in enumerate(samples) if n != number])).query(mine)
        wanted.append(np.minimum(np.minimum(size, allowed), np.maximum(thin, 1e-3) / THROUGH))
    sizes = np.concatenate(wanted)
    step, reach = size / 2, float(np.abs(points).max()) + size
    line = np.arange(-reach, reach + step, step)
    grid = np.stack(np.meshgrid(line, line), axis=-1).reshape(-1, 2)
    found = np.full(len(grid), size)
    floor = size
    while floor > sizes.min():  # classes of like size: each allows its own least plus what distance adds
        here = (sizes <= floor) & (sizes > floor * CLASS)
        if here.any():
            away, _ = cKDTree(points[here]).query(grid, distance_upper_bound=size / GRADING)
            found = np.minimum(found, sizes[here].min() + GRADING * np.maximum(away - step / 2, 0.0))
        floor *= CLASS
    return SizeField(
        corner=np.array([-reach, -reach]),
        step=step,
        size=found.reshape(len(line), len(line)),
        least=float(sizes.min()),
    )


def segments_of(outline: Outline, field: SizeField) -> list[Segment]:
    """The outline cut into segments of the field's size; every joint of its edges stays a node."""
    found: list[Segment] = []
    for edge in outline.edges:
        count = max(LEAST_SAMPLES, int(np.ceil(_length(edge) / field.least)) + 1)
        share = np.linspace(0, 1, count)
        whole = Segment(edge=edge, begin=0.0, end=1.0)
        size = field.at(np.array([whole.at(float(s)) for s in share]))
        step = np.diff(share) * _length(edge) * (0.5 / size[1:] + 0.5 / size[:-1])
        worth = np.concatenate([[0.0], np.cumsum(step)])
        pieces = max(1, round(float(worth[-1])), 3 if len(outline.edges) == 1 else 1)
        cuts = np.interp(np.linspace(0, worth[-1], pieces + 1), worth, share)
        found += [
            Segment(edge=edge, begin=float(a), end=float(b)) for a, b in zip(cuts[:-1], cuts[1:], strict=True)
        ]
    return found


def _samples(outline: Outline, spacing: float) -> tuple[Floats, Floats]:
    """Points (n, 2) along an outline and the size its own curvature allows there."""
    points, sizes = [], []
    for edge in outline.edges:
        count = max(LEAST_SAMPLES, int(np.ceil(_length(edge) / spacing)))
        whole = Segment(edge=edge, begin=0.0, end=1.0)
        points += [whole.at(float(s)) for s in np.linspace(0, 1, count, endpoint=False)]
        # the bore is held by its shaft: its corners carry little and need no fine triangles
        fine = isinstance(edge, Arc) and edge.feature != "bore"
        allowed = edge.radius * pi / 2 / PER_QUARTER if isinstance(edge, Arc) and fine else np.inf
        sizes += [allowed] * count
    return np.array(points), np.array(sizes)


def _length(edge: Edge) -> float:
    if isinstance(edge, Arc):
        return edge.radius * abs(edge.sweep)
    return hypot(edge.end[0] - edge.start[0], edge.end[1] - edge.start[1])
