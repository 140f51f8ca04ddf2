"""What presses: a stiff plate or cylinder that comes towards the axis, and how far points are from it."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, inf, sin

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """Comes from ``angle`` (rad, counter-clockwise from +x) straight towards the axis, without friction.

    ``radius`` mm of a cylinder (thumb, stone, mating roller); infinite for a plate.  Its nearest point to
    the axis stands at ``reach`` mm from it.  Raises ValueError for a radius not above 0.
    """

    angle: float
    radius: float = inf

    def __post_init__(self) -> None:
        if not self.radius > 0:
            raise ValueError(f"radius {self.radius:g} mm must be above 0")

    @property
    def towards(self) -> Floats:
        """Unit vector from the axis to where it comes from."""
        return np.array([cos(self.angle), sin(self.angle)])

    def first_touch(self, points: Floats) -> float:
        """Reach (mm) at which it just touches points (n, 2); -inf when its way passes all of them by."""
        along = points @ self.towards
        if self.radius == inf:
            return float(along.max())
        across = points @ np.array([-self.towards[1], self.towards[0]])
        meets = np.abs(across) < self.radius
        if not meets.any():
            return -inf
        depth = self.radius - np.sqrt(self.radius**2 - across[meets] ** 2)
        return float((along[meets] - depth).max())

    def gap(self, points: Floats, reach: float) -> tuple[Floats, Floats, Floats, Floats]:
        """Gap (n,), its gradient (n, 2), second derivative (n, 2, 2) and change per mm of ``reach`` (n,).

        Negative inside the obstacle.
        """
        e = self.towards
        if self.radius == inf:
            flat = np.broadcast_to(-e, points.shape)
            return reach - points @ e, flat, np.zeros((len(points), 2, 2)), np.ones(len(points))
        inside, across = points @ e - reach, points @ np.array([-e[1], e[0]])
        distance = np.hypot(self.radius - inside, across)
        from_centre = points - (reach + self.radius) * e
        n = from_centre / distance[:, None]
        second = (np.eye(2) - n[:, :, None] * n[:, None, :]) / distance[:, None, None]
        # distance - radius, without the loss of digits a great radius brings
        gap = (inside * (inside - 2 * self.radius) + across**2) / (distance + self.radius)
        return gap, n, second, -(n @ e)
