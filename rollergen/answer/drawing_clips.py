"""Parts of outlines for details: what lies between two angles, wavy break lines, the nearest two points."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, cos, hypot, pi, sin, tau

from rollergen.shape.outline import Arc, Edge, Line, Outline, Point

CHORD = 0.01  # mm, of curves that are cut off and so become chains of points


def between(outline: Outline, start: float, end: float) -> tuple[Edge, ...]:
    """The edges seen from the axis between two angles (rad, ``start`` < ``end`` < ``start`` + one turn).

    The outline must run counter-clockwise round the axis without turning back, as outer curves and bores do.
    """
    found: list[Edge] = []
    for edge in outline.edges:
        first = atan2(edge.start[1], edge.start[0])
        over = (
            edge.sweep
            if isinstance(edge, Arc) and _about_axis(edge)
            else _small(atan2(edge.end[1], edge.end[0]) - first)
        )
        for turn in (-2, -1, 0, 1, 2):
            low = first + turn * tau
            a, b = max(low, start), min(low + over, end)
            if b - a > 1e-12:
                piece = _piece(edge, _share(edge, a, low, over), _share(edge, b, low, over))
                found.append(piece)
    return tuple(sorted(found, key=lambda e: _from(start, e)))


def _about_axis(edge: Edge) -> bool:
    return isinstance(edge, Arc) and hypot(*edge.centre) < 1e-12


def _from(start: float, edge: Edge) -> float:
    p = _at(edge, 0.5)
    return (atan2(p[1], p[0]) - start) % tau


def _small(angle: float) -> float:
    return (angle + pi) % tau - pi


def _at(edge: Edge, share: float) -> Point:
    if isinstance(edge, Arc):
        return edge.at(share)
    (ax, ay), (bx, by) = edge.start, edge.end
    return (ax + share * (bx - ax), ay + share * (by - ay))


def _share(edge: Edge, angle: float, low: float, over: float) -> float:
    """Where along the edge the ray at ``angle`` meets it; the angle rises along the edge."""
    if angle <= low + 1e-12:
        return 0.0
    if angle >= low + over - 1e-12:
        return 1.0
    if _about_axis(edge):
        return (angle - low) / over
    left, right = 0.0, 1.0
    for _ in range(60):
        middle = (left + right) / 2
        p = _at(edge, middle)
        if _small(atan2(p[1], p[0]) - low) < angle - low:
            left = middle
        else:
            right = middle
    return (left + right) / 2


def _piece(edge: Edge, a: float, b: float) -> Edge:
    if isinstance(edge, Arc):
        return Arc(edge.centre, edge.radius, edge.angle + a * edge.sweep, (b - a) * edge.sweep, edge.feature)
    return Line(_at(edge, a), _at(edge, b), edge.feature)


def points_of(edges: Sequence[Edge], chord: float = CHORD) -> list[Point]:
    """A chain of edges as points, arcs with a chord error of ``chord`` mm."""
    points = [edges[0].start]
    for edge in edges:
        steps = 1
        if isinstance(edge, Arc):
            step = (8 * chord / max(edge.radius, chord)) ** 0.5
            steps = max(2, int(abs(edge.sweep) / step) + 1)
        points += [_at(edge, n / steps) for n in range(1, steps + 1)]
    return points


def loop_of(points: Sequence[Point]) -> Outline:
    """A closed loop of straight pieces through points; two that coincide count once."""
    kept = [
        p
        for p, q in zip(points, (*points[1:], points[0]), strict=True)
        if hypot(p[0] - q[0], p[1] - q[1]) > 1e-9
    ]
    return Outline(tuple(Line(a, b) for a, b in zip(kept, (*kept[1:], kept[0]), strict=True)))


def kept_side(points: Sequence[Point], angle: float, side: int) -> list[Point]:
    """The part of a closed polygon clockwise (``side`` -1) or counter-clockwise (+1) of the ray at ``angle``."""
    n = (-sin(angle) * side, cos(angle) * side)
    found: list[Point] = []
    for p, q in zip(points, (*points[1:], points[0]), strict=True):
        at_p, at_q = p[0] * n[0] + p[1] * n[1], q[0] * n[0] + q[1] * n[1]
        if at_p >= 0:
            found.append(p)
        if at_p * at_q < 0:
            t = at_p / (at_p - at_q)
            found.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
    return found


def wave_along(a: Point, b: Point, height: float) -> list[Point]:
    """A break line from ``a`` to ``b``: straight on the whole, drawn as by a free hand."""
    length = hypot(b[0] - a[0], b[1] - a[1])
    n = (-(b[1] - a[1]) / length, (b[0] - a[0]) / length)
    points = []
    for k in range(49):
        u = k / 48
        off = height * sin(3 * tau * u) * min(1.0, 6 * u, 6 * (1 - u))
        points.append((a[0] + u * (b[0] - a[0]) + off * n[0], a[1] + u * (b[1] - a[1]) + off * n[1]))
    return points


def wave_under(radius: float, depth: float, start: float, end: float) -> list[Point]:
    """A break line under a rib, from the body at angle ``start`` down by ``depth`` and up to ``end``."""
    points = []
    for k in range(97):
        u = k / 96
        dip = depth * (1 - (2 * u - 1) ** 8) * (1 + 0.06 * sin(7 * tau * u))
        angle = start + u * (end - start)
        points.append(((radius - dip) * cos(angle), (radius - dip) * sin(angle)))
    return points


def nearest_pair(a: Outline, b: Outline) -> tuple[Point, Point]:
    """The two points, one on each outline, that lie nearest to each other (to 1e-9 mm of their distance)."""
    samples = [_at(e, k / 12) for e in a.edges for k in range(12)]
    ranked = sorted(samples, key=lambda p: _apart(p, foot_on(b, p)))[:3]
    pairs = []
    for p in ranked:
        q = foot_on(b, p)
        for _ in range(200):
            before = p
            p = foot_on(a, q)
            q = foot_on(b, p)
            if _apart(before, p) < 1e-12:
                break
        pairs.append((p, q))
    return min(pairs, key=lambda pair: _apart(*pair))


def foot_on(outline: Outline, p: Point) -> Point:
    """The point of an outline that lies nearest to ``p``."""
    return min((_foot(e, p) for e in outline.edges), key=lambda q: _apart(p, q))


def _apart(p: Point, q: Point) -> float:
    return hypot(p[0] - q[0], p[1] - q[1])


def _foot(edge: Edge, p: Point) -> Point:
    if isinstance(edge, Line):
        (ax, ay), (bx, by) = edge.start, edge.end
        dx, dy = bx - ax, by - ay
        t = ((p[0] - ax) * dx + (p[1] - ay) * dy) / (dx * dx + dy * dy)
        return _at(edge, min(1.0, max(0.0, t)))
    angle = atan2(p[1] - edge.centre[1], p[0] - edge.centre[0])
    sense = 1.0 if edge.sweep > 0 else -1.0
    along = (sense * (angle - edge.angle)) % tau
    if along <= abs(edge.sweep):
        return edge.at(along / abs(edge.sweep))
    return min((edge.start, edge.end), key=lambda q: _apart(p, q))
