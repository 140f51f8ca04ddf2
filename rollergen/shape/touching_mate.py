"""A ball between a ribbed roller and its smooth mate: the wedge it sits in, and what closes on it.

Seen along the axes: our axis at the origin, the mate's on +x at the axis distance, the ball above the
line of centres.  A smooth mate looks the same all round, so a touch with the outline gives exactly one
rotation at which the ball also touches the mate, and one wedge: nothing is searched.

    half    half the angle between both contact normals' faces (a): friction needed to hold is tan(a);
            negative where a rib lies above the ball and pushes it down without any friction
    closing how fast the line between both contacts shortens when neither slips (mm per rad of our
            roller); only a wedge that closes seizes.  With the mate standing still it is the distance of
            that line from our axis, hence also the arm of the torque.

``descending``: our surface moves down at the mate (clockwise with the mate on +x), ``rising``: up.
The speed ratio is the mate's angular speed over ours, positive for the opposite sense of rotation.

Height of the mate's axis only turns all of this about our axis.  Source: triangle of the three centres;
rolling of two stuck contacts (derived here).  Checked against simulation by the project's slow tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import inf

import numpy as np

from rollergen.shape.distance import Flags, Ints
from rollergen.shape.outline import Floats, Outline
from rollergen.shape.touching import Branches, Touch, branches_of
from rollergen.shape.touching_corners import Contour, contour_of, corner_ends, fan, touches_along

SAMPLES = 16  # per branch; minima between samples are closed in on afterwards
DROP_SAMPLES = 400  # per branch: the furthest hold to about 1e-4 mm
PUSHES_DOWN = 1e-9  # rad: the next rib's normal leans back over the ball by at least this


@dataclass(frozen=True, kw_only=True, eq=False)
class Pair:
    """Our roller and a smooth mate on a parallel axis (mm, rad per mm).

    ``count`` 0 is a sleeve.  ``axis_distance`` is the straight distance between the axes, ``height`` how
    much higher the mate's is.  ``speed_ratio``: angular speed of the mate over ours; positive = opposite
    sense of rotation, negative = same sense, 0 = the mate stands still.  ``mate_ribs`` other than 0 is
    refused: two ribbed rollers have a phase between them that this model does not know.

    Raises ValueError with number, limit and way out.
    """

    outline: Outline
    count: int
    turn_per_mm: float
    body_radius: float
    tip_radius: float
    mate_radius: float
    axis_distance: float
    height: float = 0.0
    speed_ratio: float = 1.0
    mate_ribs: int = 0

    def __post_init__(self) -> None:
        if self.mate_ribs:
            raise ValueError(
                f"the mate has {self.mate_ribs} ribs, grip is worked out for smooth mates only: what is"
                " seized between two ribbed rollers depends on the phase between them; give the mate"
                " without ribs (body for the widest, tips for the tightest case)"
            )
        bodies = self.body_radius + self.mate_radius
        if not self.axis_distance > bodies:
            raise ValueError(
                f"axis distance {self.axis_distance:g} mm leaves no room: body radius"
                f" {self.body_radius:g} mm and mate radius {self.mate_radius:g} mm need more than {bodies:g} mm"
            )
        if not abs(self.height) < self.axis_distance:
            raise ValueError(
                f"the mate's axis is {abs(self.height):g} mm above or below ours, the axis distance is only"
                f" {self.axis_distance:g} mm; axis_distance is the straight distance between the axes"
            )
        if not np.isfinite(self.speed_ratio):
            raise ValueError(f"speed ratio {self.speed_ratio:g} must be a finite number; 0 stands still")

    @property
    def tip_gap(self) -> float:
        return self.axis_distance - self.tip_radius - self.mate_radius

    @property
    def body_gap(self) -> float:
        return self.axis_distance - self.body_radius - self.mate_radius

    @property
    def tilt(self) -> float:
        """Rise of the line of centres towards the mate (rad)."""
        return float(np.arcsin(self.height / self.axis_distance))

    @cached_property
    def branches(self) -> Branches:
        return branches_of(self.outline, self.count)

    @property
    def twist(self) -> float:
        """The helix as touching needs it (rad per mm): none for straight ribs and for a sleeve."""
        return self.turn_per_mm if self.count else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wedge:
    """How balls sit between roller and mate; arrays of one shape (rad, mm).

    ``touching`` is False where the ball hangs free of the mate (it falls at that rotation).  ``phase``:
    rotation of our roller from the datum, line of centres along +x.  ``arm`` and ``mate_arm`` are the
    moments of the line between both contacts about our axis and the mate's (mm, counter-clockwise).
    """

    touching: Flags
    alpha: Floats
    gamma: Floats
    half: Floats
    arm: Floats
    mate_arm: Floats
    phase: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class States:
    """All touches of balls of ``diameter`` (n,) with roller and mate: on the outline and in corners.

    ``on`` and ``wedge`` have shape (n, branches, samples); fans have one row per corner whose next
    contact lies above the ball: ``fan_ball``, ``fan_row`` (k,), ``fans`` and ``fan_wedge`` (k, samples).
    """

    pair: Pair
    diameter: Floats
    contour: Contour
    on: Touch
    wedge: Wedge
    fan_ball: Ints
    fan_row: Ints
    fan_ends: tuple[Touch, Touch]
    fans: Touch
    fan_wedge: Wedge


def centre_angles(rho: Floats, reach: Floats, distance: float) -> tuple[Floats, Floats, Flags]:
    """Angles at both axes between the line of centres and the ball's centre (rad), and do the three meet.

    ``rho`` from our axis, ``reach`` from the mate's axis to the ball's centre, ``distance`` between the
    axes (mm).  Where the ball is too small to touch both, both angles are 0.

    Source: half-angle form of the law of cosines, exact for needle-thin triangles too.
    """
    s = (rho + reach + distance) / 2
    over = (rho + reach - distance) / 2
    meets = over >= 0.0
    over = np.where(meets, over, 0.0)
    alpha = 2 * np.arctan2(np.sqrt((s - rho) * over), np.sqrt(s * np.maximum(s - reach, 0.0)))
    gamma = 2 * np.arctan2(np.sqrt(np.maximum(s - reach, 0.0) * over), np.sqrt(s * (s - rho)))
    return alpha, gamma, meets


def wedge_of(pair: Pair, t: Touch, radius: Floats) -> Wedge:
    """The wedge of balls of ``radius`` touched as ``t`` says (shapes broadcast)."""
    C, Rm = pair.axis_distance, pair.mate_radius
    alpha, gamma, meets = centre_angles(t.rho, Rm + radius, C)
    x = alpha + t.delta + gamma
    flat = np.cos(t.lean)
    chord = np.sqrt(np.maximum(2.0 + 2.0 * flat * np.cos(x), 1e-24))  # in units of the ball's radius
    sine = flat * np.sin(x)
    return Wedge(
        touching=meets,
        alpha=alpha,
        gamma=gamma,
        half=half_angle(x, t.lean),
        arm=(t.rho * (flat * np.sin(t.delta) - np.sin(alpha + gamma)) + radius * sine) / chord,
        mate_arm=-Rm * sine / chord,
        phase=alpha - t.theta,
    )


def half_angle(x: Floats, lean: Floats) -> Floats:
    """Half the wedge's angle (rad) for normals ``x`` apart in the plane, one of them leaning by ``lean``.

    Signed for a normal in the plane.  A leaning one leaves a wedge along the axis even where the rib is
    above the ball (x < 0) and pushes it down: never below half the lean.
    """
    if not np.any(lean):
        return x / 2
    wide = np.arccos(np.clip(np.cos(lean) * np.cos(np.maximum(x, 0.0)), -1.0, 1.0)) / 2
    return np.where(lean == 0.0, x / 2, wide)


def closing(wedge: Wedge, speed_ratio: float, rising: Flags | bool) -> Floats:
    """How fast the line between both contacts shortens (mm per rad of our roller), same shape."""
    turning = np.where(rising, 1.0, -1.0)
    return turning * (wedge.arm + speed_ratio * wedge.mate_arm)


def states_of(pair: Pair, diameter: Floats, samples: int = SAMPLES) -> States:
    """Every way balls of ``diameter`` (n,), mm, touch roller and mate together."""
    diameter = np.atleast_1d(np.asarray(diameter, dtype=np.float64))
    contour = contour_of(pair.branches, diameter / 2, pair.twist)
    on = touches_along(contour, samples)
    radius = contour.radius
    ball, row = np.nonzero(contour.corner)
    here, there = corner_ends(contour, ball, row)
    above = there.delta < -PUSHES_DOWN
    ball, row, here, there = ball[above], row[above], picked(here, above), picked(there, above)
    fans = fan(here, there, np.linspace(0.0, 1.0, samples + 1)[None, :])
    return States(
        pair=pair,
        diameter=diameter,
        contour=contour,
        on=on,
        wedge=wedge_of(pair, on, radius[:, None, None]),
        fan_ball=ball,
        fan_row=row,
        fan_ends=(here, there),
        fans=fans,
        fan_wedge=wedge_of(pair, fans, radius[ball, None]),
    )


def open_share(pair: Pair, diameter: Floats, samples: int = 48) -> Floats:
    """Share of a turn in which a ball of ``diameter`` (n,) can pass the standing pair, 0 to 1.

    A rib blocks the way from the first to the last rotation at which some part of it, above or below
    the line of centres, touches a ball that follows the mate round.  For helical ribs it is also the
    share of the length that is open at one instant.
    """
    return np.clip(1.0 - _blocked(pair, diameter, samples), 0.0, 1.0)


def drop_size(pair: Pair) -> float:
    """Diameter of the largest ball that passes the standing pair at its best rotation (mm).

    The body gap, unless the groove is too narrow: a ball that fits on the line of centres between two
    ribs can still not get in from above, so the size is where no rotation lets it through.  Error: none
    for a wide groove, below 1e-3 mm for a narrow one.
    """

    def blocked(diameter: Floats) -> Floats:
        return _blocked(pair, diameter, DROP_SAMPLES)

    if blocked(np.array([pair.body_gap * (1 - 1e-9)]))[0] < 1.0:
        return pair.body_gap
    low, high = max(pair.tip_gap, 0.0), pair.body_gap
    while high - low > 1e-9 * pair.body_gap:
        grid = np.linspace(low, high, 17)
        passes = int(np.count_nonzero(blocked(grid[1:-1]) < 1.0))  # it only ever gets tighter
        low, high = float(grid[passes]), float(grid[passes + 1])
    return low


def _blocked(pair: Pair, diameter: Floats, samples: int) -> Floats:
    """Share of a turn from one rib's first to its last hold on a ball (n,); above 1 where ribs overlap."""
    states = states_of(pair, diameter, samples)
    touching = states.wedge.touching & states.contour.seen[..., None]
    alpha, theta = states.wedge.alpha, states.on.theta

    def furthest(values: Floats) -> Floats:
        most: Floats = np.where(touching, values, -inf).max(axis=(1, 2))
        return most

    anywhere = touching.any(axis=(1, 2))
    turn = np.where(anywhere, furthest(alpha - theta) + furthest(alpha + theta), 0.0)
    return turn / states.contour.branches.period


def picked(t: Touch, rows: Flags | Ints) -> Touch:
    """Some rows of a set of touches."""
    return Touch(**{name: getattr(t, name)[rows] for name in Touch.__dataclass_fields__})
