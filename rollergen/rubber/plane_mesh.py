"""A plane mesh of six-node triangles, and the names of its edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneMesh:
    """Six-node triangles over a section; every mid-node of a boundary edge lies on the true curve.

    ``nodes``: (n, 2), mm.  ``triangles``: (t, 6), corners counter-clockwise, then the mid-nodes of the edges
    0-1, 1-2, 2-0.  ``filled``: (t,), 0 for rubber, i for the foam in chamber i (counted from 1).
    Edges are (e, 3) as start, mid-node, end, in order: ``outer`` counter-clockwise round the section,
    ``bore`` and each of ``chambers`` counter-clockwise seen from +z too.
    """

    nodes: Points
    triangles: Numbers
    filled: Numbers
    outer: Numbers
    bore: Numbers
    chambers: tuple[Numbers, ...]
