"""The outer surface of a measured part unrolled: how far it lies off nominal, cell by cell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollergen.tooling.inspecting import Laid
from rollergen.tooling.scan_measuring import Taken
from rollergen.tooling.scan_surfaces import OUTER

Floats = NDArray[np.float64]
MAPS = (
    (144, 60),
    (96, 40),
    (72, 30),
    (48, 20),
    (36, 15),
)  # cells of the coloured map round and along, finest first
FULL = 0.995  # share of what the coarsest map shows filled that a finer one must show too


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DeviationMap:
    """Mean deviation of the outer surface over angle (deg) and height (mm): (heights, angles), NaN where not seen."""

    angle: Floats
    z: Floats
    deviation: Floats


def deviation_map(taken: Taken, laid: Laid) -> DeviationMap:
    """The outer surface unrolled into cells, each the mean of the points in it.

    As fine as the points allow: an empty cell among full ones would look like surface not seen.
    """
    mine = taken.kind == OUTER
    angle = np.mod(np.degrees(np.arctan2(taken.q[mine, 1], taken.q[mine, 0])) / 360.0, 1.0)
    height = taken.q[mine, 2] / laid.surfaces.length
    inside = (height >= 0) & (height < 1)
    places = angle[inside], height[inside], taken.deviation[mine][inside]
    *finer, coarsest = (_cells(*places, *size) for size in MAPS)
    most = np.isfinite(coarsest).mean()
    mean = next((cells for cells in finer if np.isfinite(cells).mean() >= FULL * most), coarsest)
    rows, columns = mean.shape
    return DeviationMap(
        angle=(np.arange(columns) + 0.5) * 360 / columns,
        z=(np.arange(rows) + 0.5) * laid.surfaces.length / rows,
        deviation=mean,
    )


def _cells(turn: Floats, height: Floats, deviation: Floats, columns: int, rows: int) -> Floats:
    """(rows, columns) mean of the points in each cell, NaN where there are none; places as shares of the whole."""
    cell = (height * rows).astype(np.int64) * columns + np.minimum(
        (turn * columns).astype(np.int64), columns - 1
    )
    count = np.bincount(cell, minlength=rows * columns)
    total = np.bincount(cell, deviation, rows * columns)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan).reshape(rows, columns)
