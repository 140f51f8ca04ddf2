"""A ball touching a roller's outline: where its centre lies, without looking for it.

Every edge of an outline is one branch: a base point that may move along a line, plus a signed radius
along a normal that may turn.  A ball of radius r that touches a branch at a known place has its centre
there plus r along the normal, in closed form; nothing is searched.  Sharp convex corners are branches of
their own whose normal turns about one point.

Helical ribs: the normal leans along the axis, and a turn about the axis with the matching shift along
it (a screw) brings the centre back into the plane of the outline, so one plane describes all of it.

Angles are measured at the roller's axis, counter-clockwise.  ``theta`` is where the ball's centre is
seen, ``delta`` how far the contact normal turns away from that radius, ``lean`` its angle out of the
plane.  Outlines must be seen whole from the axis (every ray leaves once), as all ribs without undercut are;
a ball's centre can then be no nearer than the outermost branch at its ``theta``.

Source: offset curves of lines and arcs, plane geometry; screw surfaces: the normal of a helical surface
is at right angles to the screw's velocity, any text on screw motion (form derived here).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, hypot, pi, tau

import numpy as np

from rollergen.shape.distance import Ints
from rollergen.shape.outline import Arc, Edge, Floats, Line, Outline, mirrored_edges, normal_at

SMOOTH = 1e-7  # rad: edges whose normals differ by less join smoothly


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Branches:
    """The branches of one rib period in the order of travel, counter-clockwise (mm, rad).

    Place on a branch at ``share`` 0..1: base + share * along + bulge * u(normal), with the outward
    normal u at ``normal`` + share * ``turn``.  ``bulge`` is positive on a convex arc, negative on a
    concave one, 0 on a line and at a sharp corner.  ``concentric`` marks arcs about the axis, where
    the ball stays put while the roller turns.  The period starts at the bottom of a groove, so a rib
    is never cut in two: its clockwise side comes first.
    """

    base: Floats
    along: Floats
    bulge: Floats
    normal: Floats
    turn: Floats
    concentric: np.ndarray[tuple[int], np.dtype[np.bool_]]
    feature: tuple[str, ...]
    period: float

    def __len__(self) -> int:
        return len(self.bulge)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Touch:
    """Where a touching ball's centre lies and how it is touched; arrays of one shape (mm, rad).

    ``lean`` is the signed angle of the contact normal out of the plane, 0 for straight ribs.
    ``reach`` is the distance of the contact itself from the axis.
    """

    rho: Floats
    theta: Floats
    delta: Floats
    lean: Floats
    reach: Floats


def branches_of(outline: Outline, count: int) -> Branches:
    """The branches of one rib period; ``count`` 0 or 1: of the whole outline.

    Raises ValueError when the edges do not repeat ``count`` times, or where an edge turns its back to
    the axis (an undercut: a ray from the axis would leave the roller twice).
    """
    edges = outline.edges
    repeats = max(count, 1)
    if len(edges) % repeats:
        raise ValueError(f"outline of {len(edges)} edges does not repeat {count} times; check the rib count")
    first = _bottom(edges)
    one = (edges[first:] + edges[:first])[: len(edges) // repeats]
    after = edges[(first + len(one)) % len(edges)]
    rows: list[tuple[tuple[float, float], tuple[float, float], float, float, float, str]] = []
    ends_at = None
    for edge in one:
        starts_at = _direction(edge, 0.0)
        if ends_at is not None:
            starts_at = ends_at + _turned_by(ends_at, starts_at)
            if starts_at - ends_at > SMOOTH:
                rows.append((edge.start, (0.0, 0.0), 0.0, ends_at, starts_at - ends_at, "corner"))
        row = _row(edge, starts_at)
        rows.append(row)
        ends_at = starts_at + row[4]
    assert ends_at is not None
    jump = _turned_by(ends_at, _direction(after, 0.0))
    if jump > SMOOTH:
        rows.append((one[-1].end, (0.0, 0.0), 0.0, ends_at, jump, "corner"))
    base, along, bulge, normal, turn, feature = zip(*rows, strict=True)
    branches = Branches(
        base=np.array(base, dtype=np.float64),
        along=np.array(along, dtype=np.float64),
        bulge=np.array(bulge, dtype=np.float64),
        normal=np.array(normal, dtype=np.float64),
        turn=np.array(turn, dtype=np.float64),
        concentric=np.array(
            [np.hypot(*b) < 1e-9 and g > 0 and abs(t) > 0 for b, g, t in zip(base, bulge, turn, strict=True)]
        ),
        feature=tuple(feature),
        period=tau / repeats,
    )
    _check_seen_whole(branches)
    return branches


def touch(
    branches: Branches, rows: Ints | slice, share: Floats, radius: Floats, turn_per_mm: float = 0.0
) -> Touch:
    """A ball of ``radius`` touching branch ``rows`` at ``share`` of it; all three broadcast (mm).

    ``turn_per_mm`` (rad per mm) is the helix, 0 for straight ribs.  Whether other parts of the roller
    are in the way is not asked here, see ``touching_corners``.
    """
    psi = branches.normal[rows] + share * branches.turn[rows]
    c, s = np.cos(psi), np.sin(psi)
    x = branches.base[rows, 0] + share * branches.along[rows, 0]
    y = branches.base[rows, 1] + share * branches.along[rows, 1]
    # seen in the frame of the normal: the axis is M aside of the normal's line and D behind the centre
    M = x * s - y * c
    to_place = x * c + y * s + branches.bulge[rows]
    if turn_per_mm == 0.0:
        D = to_place + radius
        lean = np.zeros(np.broadcast_shapes(M.shape, np.shape(radius)))
        delta = np.arctan2(M, D)
        theta = psi - delta
    else:
        slope = turn_per_mm * M
        flat = 1.0 / np.sqrt(1.0 + slope * slope)
        D = to_place + radius * flat
        lean = np.broadcast_to(-np.arctan(slope), np.broadcast_shapes(M.shape, np.shape(radius)))
        delta = np.arctan2(M, D)
        theta = psi - delta + turn_per_mm * radius * slope * flat
    reach = np.broadcast_to(np.hypot(M, to_place), delta.shape)
    return Touch(rho=np.hypot(M, D), theta=theta, delta=delta, lean=lean, reach=reach)


def mirrored(outline: Outline) -> Outline:
    """The outline seen from the other end: what lay counter-clockwise of a rib lies clockwise now."""
    return Outline(mirrored_edges(outline.edges))


def _row(
    edge: Edge, starts_at: float
) -> tuple[tuple[float, float], tuple[float, float], float, float, float, str]:
    if isinstance(edge, Line):
        along = (edge.end[0] - edge.start[0], edge.end[1] - edge.start[1])
        return edge.start, along, 0.0, starts_at, 0.0, edge.feature
    bulge = edge.radius if edge.sweep > 0 else -edge.radius
    return edge.centre, (0.0, 0.0), bulge, starts_at, edge.sweep, edge.feature


def _direction(edge: Edge, share: float) -> float:
    n = normal_at(edge, share)
    return atan2(n[1], n[0])


def _turned_by(before: float, after: float) -> float:
    """Turn from one direction to the next, -pi to pi."""
    return (after - before + pi) % tau - pi


def _bottom(edges: tuple[Edge, ...]) -> int:
    """The edge that first climbs out of a groove (a plain circle: its only edge)."""
    climbing = [
        (round(hypot(*e.start), 6), i)
        for i, e in enumerate(edges)
        if not (isinstance(e, Arc) and hypot(*e.centre) < 1e-9)
    ]
    return min(climbing)[1] if climbing else 0


def _check_seen_whole(branches: Branches) -> None:
    for share in (0.0, 0.5, 1.0):
        psi = branches.normal + share * branches.turn
        place = branches.base + share * branches.along
        facing = place[:, 0] * np.cos(psi) + place[:, 1] * np.sin(psi) + branches.bulge
        if not facing.min() > 0.0:
            row = int(facing.argmin())
            raise ValueError(
                f"the {branches.feature[row] or 'edge'} is undercut: its surface turns {-facing[row]:.3g} mm"
                " past the axis, and a ball under it could be held from two sides; use a larger flank angle"
            )
