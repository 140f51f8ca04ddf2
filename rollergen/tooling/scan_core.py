"""Lets bore and chambers of a laid scan turn against the ribs, where a part was cast with its core turned.

Held together, ribs, bore and chambers would meet halfway, or the ribs would give way to the larger core.
"""

from __future__ import annotations

from dataclasses import replace
from math import radians

import numpy as np

from rollergen.shape.outline import Floats
from rollergen.tooling.aligning import CAP, FINE_POINTS, Fit, fine, moved_pose, placed_points
from rollergen.tooling.scan import Scan, every_nth
from rollergen.tooling.scan_surfaces import Surfaces, nearest_surface

TRIED_POINTS = 1000
TURNS = np.radians(np.arange(-10.0, 10.5, 1.0))  # tried for each surface; the fit then goes on from the best
BETTER = 0.97  # of the cost: a turn that gains less is noise
LEAST_TURN = radians(0.3)  # below this the core was held rightly


def freed(scan: Scan, fit: Fit, surfaces: Surfaces) -> Fit:
    """The fit with bore and chambers let turn, where that brings the scan clearly closer; else the fit as it is.

    Its ``cost`` stays that of the core held to the ribs: it tells one end from the other where the flanks do not.
    """
    if len(surfaces.outer.features) == 1:  # no ribs to turn against
        return fit
    outer, bore, chambers = _turns(scan, fit, surfaces)
    if outer == bore == chambers:
        return fit
    chosen = every_nth(scan.weights, FINE_POINTS)
    facing = None if scan.normals is None else scan.normals[chosen]
    pose = moved_pose(fit.pose, np.array([0.0, 0.0, -outer, 0.0, 0.0, 0.0]))
    found = fine(
        scan.points[chosen], facing, pose, surfaces, hand=fit.hand, rounds=10,
        start=replace(fit, axial=1.0, turn_ratio=1.0), core=(bore - outer, chambers - outer),
    )  # fmt: skip
    turned = max(abs(each) for each in found.core) > LEAST_TURN
    return replace(found, cost=fit.cost) if turned and found.cost < BETTER * fit.cost else fit


def _turns(scan: Scan, fit: Fit, surfaces: Surfaces) -> tuple[float, float, float]:
    """How far outside, bore and chambers turn, one after the other, to lie closest to the scan (rad)."""
    few = every_nth(scan.weights, TRIED_POINTS)
    q = placed_points(scan.points[few], fit.pose)
    shrunk = np.column_stack([q[:, :2] / fit.radial, q[:, 2]])
    facing = None if scan.normals is None else scan.normals[few] @ fit.pose.rotation

    def cost(turns: Floats) -> float:
        turned = surfaces.turned(turns[1], turns[2], outer=turns[0])
        look = nearest_surface(turned, shrunk, facing, turn_ratio=fit.turn_ratio, axial=fit.axial)[1]
        return float(np.minimum(np.abs(look.deviation), CAP).mean())

    turns = np.zeros(3)
    least = cost(turns)
    for which in range(3):
        tried = turns + TURNS[:, None] * np.eye(3)[which]
        costs = [cost(each) for each in tried]
        if min(costs) < BETTER * least:
            turns, least = tried[int(np.argmin(costs))], min(costs)
    return float(turns[0]), float(turns[1]), float(turns[2])
