"""Hatching: narrow lines at 45 degrees over a cut surface, holes left out (even-odd rule)."""

from __future__ import annotations

from math import sqrt

import numpy as np

from rollergen.export.drawing import Hatching
from rollergen.export.drawing_room import points_of_edge
from rollergen.shape.outline import Outline, Point


def hatched(loops: tuple[Outline, ...], spacing: float) -> Hatching:
    """Lines rising to the right, ``spacing`` mm apart, counted from the frame's origin: views that are moved
    keep theirs.

    Loops are taken as closed chains of short straight pieces, each of them half open, so that a line through a
    corner is counted once.
    """
    pieces = np.array(
        [(a, b) for loop in loops for edge in loop.edges for a, b in _steps(points_of_edge(edge))],
        dtype=float,
    )
    # across: distance from the line y = x; along: distance along it
    across = (pieces[:, :, 1] - pieces[:, :, 0]) / sqrt(2)
    along = (pieces[:, :, 1] + pieces[:, :, 0]) / sqrt(2)
    first, last = int(np.ceil(across.min() / spacing)), int(np.floor(across.max() / spacing))
    lines: list[tuple[Point, Point]] = []
    for number in range(first, last + 1):
        level = number * spacing
        hit = (across[:, 0] <= level) != (across[:, 1] <= level)
        share = (level - across[hit, 0]) / (across[hit, 1] - across[hit, 0])
        where = np.sort(along[hit, 0] + share * (along[hit, 1] - along[hit, 0]))
        for a, b in zip(where[0::2], where[1::2], strict=True):
            if b - a > 0.05:
                lines.append((_back(level, a), _back(level, b)))
    return Hatching(loops=loops, lines=tuple(lines), spacing=spacing)


def _steps(points: list[Point]) -> list[tuple[Point, Point]]:
    return list(zip(points, points[1:], strict=False))


def _back(across: float, along: float) -> Point:
    return (float(along - across) / sqrt(2), float(along + across) / sqrt(2))
