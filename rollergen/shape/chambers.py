"""The air chambers as outlines: sectors with parallel-sided webs, or round holes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import asin, cos, pi, sin, sqrt, tan, tau

from rollergen.errors import Complaint
from rollergen.shape.outline import (
    Arc,
    Edge,
    Line,
    Outline,
    Point,
    circle,
    mirrored_edges,
    normal_at,
    turned,
)
from rollergen.shape.part_holes import clearance
from rollergen.shape.properties import greatest_radius, least_distance
from rollergen.shape.way_out import largest_that_fits
from rollergen.spec.amounts import at_most, mm
from rollergen.spec.profile import Chambers

TINY = 1e-9  # mm or rad
EXACT = 1e-10  # mm, how near the asked hub wall is met
STEPS = 80  # halvings and secant steps the hub wall search may take


@dataclass(frozen=True, slots=True, kw_only=True)
class Sector:
    """One chamber in its own frame, its middle on +x, before rounding (mm, rad)."""

    outer: float  # radius of the arc under the wall
    inner: float  # radius of the arc over the hub
    half_web: float
    half_angle: float  # between the chamber's middle and the webs' middle lines
    round: float  # corner radius

    def at_outer(self) -> float:
        """Angle of the outer corner round's centre; negative when both rounds overlap."""
        return self._angle(self.outer - self.round)

    def at_inner(self) -> float:
        """Angle of the inner corner round's centre; negative when the webs meet above the hub arc."""
        return self._angle(self.inner + self.round)

    def _angle(self, radius: float) -> float:
        away = self.half_web + self.round
        if radius <= away:
            return -1.0
        return self.half_angle - asin(away / radius)

    def side(self) -> tuple[float, float]:
        """Where the straight side along the web starts and stops, measured along the web from the axis."""
        away = self.half_web + self.round
        outer = sqrt(max((self.outer - self.round) ** 2 - away**2, 0.0))
        if self.at_inner() < 0:
            return (away / tan(self.half_angle), outer)
        return (sqrt((self.inner + self.round) ** 2 - away**2), outer)

    def fits(self) -> bool:
        start, stop = self.side()
        return self.outer - self.round > 0 and self.at_outer() > 0 and stop - start > TINY


def sector_outline(sector: Sector) -> Outline:
    """The rounded sector, counter-clockwise, inside = air; edges named wall, web, hub, corner.

    Where the webs meet before they reach the hub arc, one round on the middle line closes the chamber.
    """
    r, beta, away = sector.round, sector.half_angle, sector.half_web + sector.round
    start, stop = sector.side()
    outer_at, inner_at = sector.at_outer(), sector.at_inner()
    along = (cos(beta), sin(beta))
    normal = (-sin(beta), cos(beta))  # of the upper side, pointing into the web

    def beside(distance: float, off: float) -> Point:
        return (distance * along[0] + off * normal[0], distance * along[1] + off * normal[1])

    half: list[Edge] = []
    if r > 0:
        centre = _polar(sector.outer - r, outer_at)
        half.append(Arc(centre, r, outer_at, beta + pi / 2 - outer_at, "corner"))
    half.append(Line(beside(stop, -sector.half_web), beside(start, -sector.half_web), "web"))
    if inner_at < 0:
        return _closed_at_the_middle(half, sector, away)
    if r > 0:
        centre = _polar(sector.inner + r, inner_at)
        half.append(Arc(centre, r, beta + pi / 2, inner_at + pi / 2 - beta, "corner"))
    wall = Arc((0.0, 0.0), sector.outer, -outer_at, 2 * outer_at, "wall")
    hub = Arc((0.0, 0.0), sector.inner, inner_at, -2 * inner_at, "hub")
    return Outline((wall, *half, hub, *mirrored_edges(half)))


def _closed_at_the_middle(half: list[Edge], sector: Sector, away: float) -> Outline:
    beta, r = sector.half_angle, sector.round
    wall = Arc((0.0, 0.0), sector.outer, -sector.at_outer(), 2 * sector.at_outer(), "wall")
    closing = [Arc((away / sin(beta), 0.0), r, beta + pi / 2, pi - 2 * beta, "corner")] if r > 0 else []
    return Outline((wall, *half, *closing, *mirrored_edges(half)))


def _polar(radius: float, angle: float) -> Point:
    return (radius * cos(angle), radius * sin(angle))


def chamber_outlines(chambers: Chambers | None, body_radius: float, bore: Outline) -> tuple[Outline, ...]:
    """Every chamber's rounded outline, chamber 1 first.  Needs a profile without ``chamber_complaints``."""
    if chambers is None or chambers.count == 0:
        return ()
    if chambers.section == "round":
        return _round_chambers(chambers, body_radius, bore)
    inner = _inner_radius(chambers, body_radius, bore)
    return _all_around(chambers, sector_outline(_sector(chambers, body_radius, inner)))


def webs_of(outlines: Sequence[Outline]) -> tuple[float, ...]:
    """Rubber between each chamber and the next (mm, exact, after rounding); negative where they overlap.

    A lone sector is its own neighbour: its web lies between its own two straight sides.  A lone round chamber
    has none.
    """
    if len(outlines) > 1:
        after = (*outlines[1:], *outlines[:1])
        return tuple(clearance(a, b) for a, b in zip(outlines, after, strict=True))
    sides = [
        edge for one in outlines for edge in one.edges if isinstance(edge, Line) and edge.feature == "web"
    ]
    if len(sides) != 2:
        return ()
    across = normal_at(sides[0], 0.5)  # away from the air, across the web
    x, y = (b - a for a, b in zip(sides[0].start, sides[1].start, strict=True))
    return (across[0] * x + across[1] * y,)


def chamber_complaints(chambers: Chambers | None, body_radius: float, bore: Outline) -> list[Complaint]:
    """Why the chambers cannot exist as asked, each with the number that would work."""
    if chambers is None or chambers.count == 0:
        return []
    room = body_radius - greatest_radius(bore)
    asked = chambers.wall + chambers.hub_wall
    if asked >= room:
        return [_no_air(chambers, room)]
    if chambers.section == "round":
        return _round_complaints(chambers, body_radius, bore)
    return _sector_complaints(chambers, body_radius, bore)


def _no_air(chambers: Chambers, room: float) -> Complaint:
    largest = room - chambers.hub_wall
    way_out = (
        f"make the wall less than {at_most(largest)}"
        if largest > 0
        else f"make the hub wall less than {at_most(room - chambers.wall)}"
        if room > chambers.wall
        else "make the body larger or the bore smaller"
    )
    return Complaint(
        key="chambers.wall",
        message=f"{chambers.wall:g} mm leaves no air: from bore to body surface there are {mm(room)}, "
        f"wall and hub wall need {chambers.wall + chambers.hub_wall:g} mm; {way_out}",
    )


def _sector_complaints(chambers: Chambers, body_radius: float, bore: Outline) -> list[Complaint]:
    least_inner = greatest_radius(bore) + chambers.hub_wall  # never too small: the true one lies below

    def fits(**changed: float) -> bool:
        return _sector(chambers.model_copy(update=changed), body_radius, least_inner).fits()

    if not fits(corner_radius=0.0):
        web = largest_that_fits(lambda w: fits(corner_radius=0.0, web=w), 0.0, chambers.web)
        counts = [
            n
            for n in range(1, chambers.count)
            if _sector(
                chambers.model_copy(update={"count": n, "corner_radius": 0.0}), body_radius, least_inner
            ).fits()
        ]
        fewer = f"at most {max(counts)} chambers" if counts else "no chamber at all"
        return [
            Complaint(
                key="chambers.web",
                message=f"{chambers.web:g} mm with {chambers.count} chambers: the webs meet and leave no air; "
                f"use {at_most(web)} or less, or {fewer}",
            )
        ]
    if fits() and _hub_bracket(chambers, body_radius, bore) is not None:
        return []
    works = largest_that_fits(lambda r: fits(corner_radius=r), 0.0, chambers.corner_radius)
    return [
        Complaint(
            key="chambers.corner_radius",
            message=f"{chambers.corner_radius:g} mm is too large: the corner rounds of one chamber overlap; "
            f"use {at_most(works)} or less",
        )
    ]


def _sector(chambers: Chambers, body_radius: float, inner: float) -> Sector:
    return Sector(
        outer=body_radius - chambers.wall,
        inner=inner,
        half_web=chambers.web / 2,
        half_angle=pi / chambers.count,
        round=chambers.corner_radius,
    )


def _all_around(chambers: Chambers, one: Outline) -> tuple[Outline, ...]:
    step = tau / chambers.count
    return tuple(turned(one, chambers.start + (number + 0.5) * step) for number in range(chambers.count))


def _hub_bracket(chambers: Chambers, body_radius: float, bore: Outline) -> tuple[float, float] | None:
    """Inner radii below and above the one sought, both with a drawable chamber; None if there is none."""
    high = greatest_radius(bore) + chambers.hub_wall
    low = min(high, least_radius(bore) + chambers.hub_wall)
    if not _sector(chambers, body_radius, high).fits():
        return None
    return (low, high)


def _inner_radius(chambers: Chambers, body_radius: float, bore: Outline) -> float:
    """Radius of the hub arc that leaves exactly ``hub_wall`` between rounded bore and rounded chambers.

    The distance grows steadily with the radius, with a slope near one, so a guarded secant needs about
    five steps.  Where the webs meet above the hub arc the distance no longer depends on it: the hub wall
    is then thicker than asked and the arc is not there.
    """
    bracket = _hub_bracket(chambers, body_radius, bore)
    assert bracket is not None  # chamber_complaints refuses such profiles

    def surplus(inner: float) -> float:
        outlines = _all_around(chambers, sector_outline(_sector(chambers, body_radius, inner)))
        return min(least_distance(outline, bore) for outline in outlines) - chambers.hub_wall

    return _rising_root(surplus, *bracket)


def _round_chambers(chambers: Chambers, body_radius: float, bore: Outline) -> tuple[Outline, ...]:
    return _all_around(
        chambers, _hole(body_radius - chambers.wall, _round_radius(chambers, body_radius, bore))
    )


def _hole(outer: float, radius: float) -> Outline:
    return circle(radius, "chamber", centre=(outer - radius, 0.0))


def _round_radius(chambers: Chambers, body_radius: float, bore: Outline) -> float:
    """Radius of the largest round chambers that touch the wall exactly and keep web and hub wall."""
    outer = body_radius - chambers.wall
    by_web = _radius_by_web(chambers, outer)

    def missing(radius: float) -> float:
        holes = _all_around(chambers, _hole(outer, radius))
        return chambers.hub_wall - min(least_distance(hole, bore) for hole in holes)

    widest = (outer - least_radius(bore) - chambers.hub_wall) / 2
    least = (outer - greatest_radius(bore) - chambers.hub_wall) / 2
    return min(by_web, _rising_root(missing, least, widest))


def _radius_by_web(chambers: Chambers, outer: float) -> float:
    if chambers.count == 1:
        return outer
    s = sin(pi / chambers.count)
    return (2 * outer * s - chambers.web) / (2 * (1 + s))


def _round_complaints(chambers: Chambers, body_radius: float, bore: Outline) -> list[Complaint]:
    outer = body_radius - chambers.wall
    if _radius_by_web(chambers, outer) > TINY:
        return []
    web = 2 * outer * sin(pi / chambers.count)
    return [
        Complaint(
            key="chambers.web",
            message=f"{chambers.web:g} mm with {chambers.count} round chambers leaves no air; stay under "
            f"{at_most(web)} or use fewer chambers",
        )
    ]


def least_radius(outline: Outline) -> float:
    """Least distance of a curve around the axis from the axis (mm), exact."""
    return least_distance(outline, circle(TINY, "axis"))


def _rising_root(f: Callable[[float], float], low: float, high: float) -> float:
    """Root of a rising function by the guarded secant (Illinois) method; ``low`` or ``high`` if none between.

    Source: Dahlquist and Bjorck, Numerical Methods, 6.2 (value of the halving factor from memory).
    """
    f_low, f_high = f(low), f(high)
    if f_low >= 0:
        return low
    if f_high <= EXACT:
        return high
    side = 0
    for _ in range(STEPS):
        x = high - f_high * (high - low) / (f_high - f_low)
        value = f(x)
        if abs(value) < EXACT or high - low < EXACT:
            return x
        if value > 0:
            high, f_high = x, value
            f_low, side = (f_low / 2, 1) if side == 1 else (f_low, 1)
        else:
            low, f_low = x, value
            f_high, side = (f_high / 2, -1) if side == -1 else (f_high, -1)
    return x
