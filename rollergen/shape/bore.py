"""The shaft hole as an outline: square, hexagon, round or keyed, corners rounded."""

from __future__ import annotations

from math import asin, atan2, cos, hypot, pi, sin, tan, tau

from rollergen.errors import Complaint
from rollergen.shape.outline import Arc, Edge, Line, Outline, Point, circle
from rollergen.spec.profile import Bore, Profile

SIDES = {"square": 4, "hexagon": 6}


def bore_outline(bore: Bore) -> Outline:
    """The hole at z = 0: a flat's normal (or the key) on +x, counter-clockwise, inside = hole."""
    if bore.section == "round":
        return circle(bore.width / 2, "bore")
    if bore.section == "keyed":
        return _keyed(bore)
    sides = SIDES[bore.section]
    reach = bore.width / 2 / cos(pi / sides)
    corners = [_polar(reach, (number - 0.5) * tau / sides) for number in range(sides)]
    return rounded_polygon(corners, bore.corner_radius, "bore")


def bore_complaints(profile: Profile) -> list[Complaint]:
    """Corner radii that the hole cannot carry."""
    bore = profile.bore
    if bore.section in SIDES and bore.corner_radius >= bore.width / 2:
        limit = bore.width / 2
        return [
            Complaint(
                key="bore.corner_radius",
                message=f"{bore.corner_radius:g} mm leaves no flat on a hole {bore.width:g} mm across; "
                f'stay under {limit:g} mm or use section = "round"',
            )
        ]
    if bore.section == "keyed" and bore.key_width and bore.key_depth:
        limit = min(bore.key_width / 2, bore.key_depth)
        if bore.corner_radius >= limit:
            return [
                Complaint(
                    key="bore.corner_radius",
                    message=f"{bore.corner_radius:g} mm does not fit a keyway {bore.key_width:g} x "
                    f"{bore.key_depth:g} mm; stay under {limit:g} mm",
                )
            ]
    return []


def _polar(radius: float, angle: float) -> Point:
    return (radius * cos(angle), radius * sin(angle))


def _keyed(bore: Bore) -> Outline:
    """A round hole with a keyway on +x; ``key_depth`` is measured from the round hole on the key's centre line."""
    assert bore.key_width is not None and bore.key_depth is not None  # spec.limits asks for both
    r, half, floor = bore.width / 2, bore.key_width / 2, bore.width / 2 + bore.key_depth
    opening = asin(half / r)
    lip = r * cos(opening)
    corners = [(lip, -half), (floor, -half), (floor, half), (lip, half)]
    chain = rounded_chain(corners, bore.corner_radius, "key")
    return Outline((*chain, Arc((0.0, 0.0), r, opening, tau - 2 * opening, "bore")))


def rounded_polygon(corners: list[Point], radius: float, feature: str) -> Outline:
    """Convex polygon with every corner rounded to ``radius`` (0 = sharp)."""
    (ax, ay), (bx, by) = corners[-1], corners[0]
    middle = ((ax + bx) / 2, (ay + by) / 2)
    first, *rest, last = rounded_chain([middle, *corners, middle], radius, feature)
    return Outline((*rest, Line(last.start, first.end, feature)))


def rounded_chain(points: list[Point], radius: float, feature: str) -> list[Edge]:
    """Open chain of lines through ``points``, its inner corners rounded (left turns only)."""
    edges: list[Edge] = []
    here = points[0]
    for before, corner, after in zip(points, points[1:], points[2:], strict=False):
        a = _unit(before, corner)
        b = _unit(corner, after)
        turn = atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1])
        cut = radius * tan(turn / 2)
        stop = (corner[0] - cut * a[0], corner[1] - cut * a[1])
        edges.append(Line(here, stop, feature))
        here = (corner[0] + cut * b[0], corner[1] + cut * b[1])
        if radius > 0:
            centre = (stop[0] - radius * a[1], stop[1] + radius * a[0])
            edges.append(Arc(centre, radius, atan2(-a[0], a[1]), turn, feature))
    edges.append(Line(here, points[-1], feature))
    return edges


def _unit(a: Point, b: Point) -> Point:
    length = hypot(b[0] - a[0], b[1] - a[1])
    return ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
