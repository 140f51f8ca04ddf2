"""What releasing a part asks of its section: how far flanks lean off the radius, where ribs are, chains of normals.

A normal's angle is nu, a point's polar angle beta, and gamma = nu - beta: by how much the outward normal is turned
off the radius, counter-clockwise positive.  Flanks ahead (counter-clockwise of their rib) have gamma > 0, flanks
behind gamma < 0.  All of it follows from arcs and lines in closed form.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, atan2, cos, hypot, pi, sin, sqrt, tau

from rollergen.shape.outline import Arc, Edge, Line, Outline, Point, normal_at
from rollergen.shape.properties import greatest_radius

NEAR = 1e-9  # mm or rad


@dataclass(frozen=True, slots=True, kw_only=True)
class Lean:
    """Greatest gamma of the flanks ahead and behind (rad, both >= 0); 0 for a circle about the axis."""

    ahead: float
    behind: float

    @property
    def greatest(self) -> float:
        return max(self.ahead, self.behind)

    @property
    def mean(self) -> float:
        return (self.ahead + self.behind) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class RibPlaces:
    """Where the ribs of a section are (mm, rad): count, first rib's centre, the middle of the groove ahead of it.

    ``base_width``: along the body arc between both flanks carried on to the body, before rounding; a rib's centre
    is half way between its flanks carried on to the tip circle.
    """

    count: int
    centre: float
    groove: float
    base_width: float
    body_radius: float
    tip_radius: float

    @property
    def step(self) -> float:
        return tau / self.count


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """A piece of the outline from polar angle ``start`` to ``end``: its least and greatest normal angle (rad)."""

    start: float
    end: float
    least: float
    greatest: float

    @property
    def most_twist(self) -> float:
        """Twist up to which one straight pull clears the whole chain; below 0: not even without twist."""
        return pi - (self.greatest - self.least)


def lean_of(outline: Outline) -> Lean:
    """Greatest angle between outward normal and radius, both ways round, exact."""
    found = [(wrapped(nu - atan2(p[1], p[0]))) for p, nu in turning_points(outline)]
    return Lean(ahead=max(0.0, *found), behind=max(0.0, *(-gamma for gamma in found)))


def turning_points(outline: Outline) -> list[tuple[Point, float]]:
    """Points where gamma can be greatest, with their normal angle: ends, and on an arc where p stands square to
    its centre."""
    found = []
    for edge in outline.edges:
        if isinstance(edge, Line):
            nu = nu_at(edge, 0.0)
            found += [(edge.start, nu), (edge.end, nu)]
            continue
        shares = [0.0, 1.0, *_square_shares(edge)]
        found += [(edge.at(share), nu_at(edge, share)) for share in shares]
    return found


def _square_shares(arc: Arc) -> list[float]:
    away = hypot(*arc.centre)
    if not NEAR < away < arc.radius:
        return []
    towards, off = atan2(arc.centre[1], arc.centre[0]), acos(-away / arc.radius)
    sense = 1.0 if arc.sweep > 0 else -1.0
    swept = [(sense * (angle - arc.angle)) % tau for angle in (towards + off, towards - off)]
    return [s / abs(arc.sweep) for s in swept if s <= abs(arc.sweep)]


def nu_at(edge: Edge, share: float) -> float:
    n = normal_at(edge, share)
    return atan2(n[1], n[0])


def wrapped(angle: float) -> float:
    """The same direction within half a turn of 0."""
    return angle - tau * round(angle / tau)


def ribs_of(outline: Outline) -> RibPlaces | None:
    """The ribs of an outer curve made of them; None for a plain circle."""
    edges = outline.edges
    flanks = [number for number, edge in enumerate(edges) if edge.feature == "flank"]
    if not flanks:
        return None
    rising = [number for number in flanks if _rises(edges[number])]
    count, first = len(rising), rising[0]
    falling = flanks[(flanks.index(first) + 1) % len(flanks)]
    tip, body = greatest_radius(outline), least_radius(outline)
    behind, ahead = edges[first], edges[falling]
    at_tip, at_body = (
        [_flank_at(behind, radius), _flank_at(ahead, radius)] for radius in (tip, body)
    )  # polar angles, behind then ahead
    half = ((at_tip[1] - at_tip[0]) % tau) / 2
    return RibPlaces(
        count=count,
        centre=at_tip[0] + half,
        groove=_groove(edges, falling),
        base_width=body * ((at_body[1] - at_body[0]) % tau),
        body_radius=body,
        tip_radius=tip,
    )


def least_radius(outline: Outline) -> float:
    """Least distance of the curve from the axis (mm), exact."""
    reach = min(hypot(*edge.start) for edge in outline.edges)
    for edge in outline.edges:
        if isinstance(edge, Line):
            step = (edge.end[0] - edge.start[0], edge.end[1] - edge.start[1])
            share = -(edge.start[0] * step[0] + edge.start[1] * step[1]) / (step[0] ** 2 + step[1] ** 2)
            if 0 < share < 1:
                reach = min(reach, hypot(edge.start[0] + share * step[0], edge.start[1] + share * step[1]))
            continue
        away = hypot(*edge.centre)
        inwards = atan2(-edge.centre[1], -edge.centre[0])
        sense = 1.0 if edge.sweep > 0 else -1.0
        if away < NEAR or (sense * (inwards - edge.angle)) % tau <= abs(edge.sweep):
            reach = min(reach, abs(edge.radius - away))
    return reach


def _rises(edge: Edge) -> bool:
    return hypot(*edge.end) > hypot(*edge.start)


def _flank_at(edge: Edge, radius: float) -> float:
    """Polar angle where a flank, carried on, is ``radius`` from the axis."""
    n = normal_at(edge, 0.0)
    nu, away = atan2(n[1], n[0]), edge.start[0] * n[0] + edge.start[1] * n[1]
    off = acos(min(1.0, max(-1.0, away / radius)))
    return nu + off if _rises(edge) else nu - off


def _groove(edges: tuple[Edge, ...], falling: int) -> float:
    """Middle of the groove after a falling flank: half way along the body arc, else where the fillets meet."""
    number = (falling + 1) % len(edges)
    while not _rises(edges[number]) or edges[number].feature != "flank":
        edge = edges[number]
        if edge.feature == "body" and isinstance(edge, Arc):
            middle = edge.at(0.5)
            return atan2(middle[1], middle[0])
        number = (number + 1) % len(edges)
    number = (falling + 1) % len(edges)
    meeting = edges[number].end if edges[number].feature == "root" else edges[number].start
    return atan2(meeting[1], meeting[0])


def chain_of(outline: Outline, start: float, end: float) -> Chain:
    """Normals along the outline from polar angle ``start`` counter-clockwise to ``end`` (up to one turn).

    The normal angle runs on along arcs and jumps at sharp corners; its extremes are at the cuts and at the ends of
    edges.  At a cut right on a sharp corner both sides of the corner count.
    """
    edges = outline.edges
    first, share = crossing(outline, start)
    last, stop = crossing(outline, end)
    nu = start + wrapped(nu_at(edges[first], share) - start)
    seen = [nu]
    number, here = first, share
    whole_turn = end - start > tau - NEAR and (last, stop) <= (first, share + NEAR)
    while True:
        edge = edges[number]
        ends_here = number == last and stop >= here - NEAR and not (whole_turn and len(seen) == 1)
        until = stop if ends_here else 1.0
        if isinstance(edge, Arc):
            nu += (until - here) * edge.sweep
            seen.append(nu)
        if ends_here:
            break
        after = edges[(number + 1) % len(edges)]
        nu += wrapped(nu_at(after, 0.0) - nu)
        seen.append(nu)
        number, here = (number + 1) % len(edges), 0.0
        whole_turn = whole_turn and len(seen) == 1
    return Chain(start=start, end=end, least=min(seen), greatest=max(seen))


def crossing(outline: Outline, angle: float) -> tuple[int, float]:
    """Edge the ray at polar ``angle`` crosses, and the share of it before the crossing, exact.

    Raises ValueError for a curve that does not go round the axis.
    """
    c, s = cos(angle), sin(angle)
    for number, edge in enumerate(outline.edges):
        for share in _shares(edge, c, s):
            p = point_on(edge, share)
            if p[0] * c + p[1] * s > 0:
                return number, share
    raise ValueError(f"the curve does not go round the axis: nothing at {angle:.6g} rad")


def point_on(edge: Edge, share: float) -> Point:
    if isinstance(edge, Arc):
        return edge.at(share)
    return (
        edge.start[0] + share * (edge.end[0] - edge.start[0]),
        edge.start[1] + share * (edge.end[1] - edge.start[1]),
    )


def _shares(edge: Edge, c: float, s: float) -> list[float]:
    """Shares 0..1 of an edge on the line through the axis along (c, s)."""
    if isinstance(edge, Line):
        a, b = (-p[0] * s + p[1] * c for p in (edge.start, edge.end))
        if a == b:  # along the ray, or beside it
            return [0.0] if abs(a) < NEAR else []
        share = a / (a - b)
        return [min(max(share, 0.0), 1.0)] if -NEAR <= share <= 1 + NEAR else []
    off = -edge.centre[0] * s + edge.centre[1] * c
    if abs(off) > edge.radius:
        return []
    along, half = edge.centre[0] * c + edge.centre[1] * s, sqrt(edge.radius**2 - off**2)
    sense = 1.0 if edge.sweep > 0 else -1.0
    found = []
    for reach in (along - half, along + half):
        towards = atan2(reach * s - edge.centre[1], reach * c - edge.centre[0])
        swept = (sense * (towards - edge.angle) + NEAR) % tau - NEAR
        if swept <= abs(edge.sweep) + NEAR:
            found.append(min(max(swept / abs(edge.sweep), 0.0), 1.0))
    return found
