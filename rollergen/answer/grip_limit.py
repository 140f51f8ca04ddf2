"""The body at the limit: the largest a pair seizes at one friction, with both places it is held at."""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, atan, cos, sin

import numpy as np

from rollergen.errors import UsageError
from rollergen.shape.distance import boundary_points, signed_distance
from rollergen.shape.outline import Floats
from rollergen.shape.touching_hold import least_of
from rollergen.shape.touching_mate import Pair, states_of
from rollergen.study.grip import grip_size

JUST_BELOW = 1 - 1e-7  # of the limit: at it the state is on the edge of being none


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LimitState:
    """Seen along the axes, the line of centres along +x (mm, rad).

    ``outline`` (n, 2) is our section at rotation 0, ``rotation`` how far it is turned where it touches the
    body: for a helix that is another height than where the mate does.  ``centre``, ``ours`` and ``mates``
    are the body's centre and its two contacts, seen along the axes.
    """

    diameter: float
    friction: float
    outline: Floats
    rotation: float
    centre: tuple[float, float]
    ours: tuple[float, float]
    mates: tuple[float, float]


def limit_of(pair: Pair, friction: float, *, spacing: float = 0.3) -> LimitState:
    """The largest body seized where ribs descend.  Raises UsageError when nothing is seized."""
    diameter = grip_size(pair, friction) * JUST_BELOW
    if diameter <= 0:
        raise UsageError(f"nothing is seized at friction {friction:g}, so there is no limit to draw")
    least = least_of(states_of(pair, np.array([diameter])))
    radius, gamma = diameter / 2, float(least.gamma[0])
    lean, half = float(least.lean[0]), min(float(least.half[0]), atan(friction))
    reach = pair.mate_radius + radius
    centre = (pair.axis_distance - reach * cos(gamma), reach * sin(gamma))
    mates = (centre[0] + radius * cos(gamma), centre[1] - radius * sin(gamma))
    # angle between both normals in the plane: a leaning normal widens the wedge
    apart = acos(max(-1.0, min(1.0, cos(2 * half) / cos(lean))))
    flat = radius * cos(lean)
    ours = (centre[0] - flat * cos(apart - gamma), centre[1] - flat * sin(apart - gamma))
    return LimitState(
        diameter=diameter,
        friction=friction,
        outline=boundary_points(pair.outline, spacing),
        rotation=_turned_at_contact(pair, float(least.phase[0]), radius * sin(lean), ours),
        centre=centre,
        ours=ours,
        mates=mates,
    )


def _turned_at_contact(pair: Pair, phase: float, aside: float, ours: tuple[float, float]) -> float:
    """Rotation of the section at the height of our contact, ``aside`` mm along the axis from the mate's."""
    turns = [phase, phase + pair.twist * aside, phase - pair.twist * aside]
    x, y = ours
    back = [complex(x, y) * complex(cos(-t), sin(-t)) for t in turns]
    off = np.abs(signed_distance(pair.outline, np.array([[p.real, p.imag] for p in back])))
    return turns[int(off.argmin())]
