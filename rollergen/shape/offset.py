"""An outline moved to its inside by a fixed distance: chamfers, draft, recesses all rest on it."""

from __future__ import annotations

from math import atan2, cos, hypot, sin, sqrt, tau

from rollergen.shape.outline import Arc, Edge, Line, Outline, Point, normal_at

SMOOTH = 1e-9  # two normals closer than this (rad, nearly) make one smooth corner


def inward(outline: Outline, d: float) -> Outline:
    """The outline moved ``d`` mm to its inside (negative: to its outside).

    Keeps the number, order and features of the edges: arcs keep their centre (radius -d when convex,
    +d when concave), lines move along their normal, smooth corners move along it too, sharp corners
    are mitred (the moved edges are extended or cut to where they meet).

    Raises ValueError, with the number, when an edge would vanish or a mitre does not exist.
    """
    if d == 0.0:
        return outline
    edges = outline.edges
    if len(edges) == 1:
        return Outline((_moved_circle(edges[0], d),))
    starts = [_corner(edges[i - 1], edges[i], d) for i in range(len(edges))]
    ends = [*starts[1:], starts[0]]
    return Outline(tuple(_moved(e, a, b, d) for e, a, b in zip(edges, starts, ends, strict=True)))


def is_smooth(before: Edge, after: Edge) -> bool:
    """True when two neighbouring edges share their tangent at the corner between them."""
    n, m = normal_at(before, 1.0), normal_at(after, 0.0)
    return hypot(n[0] - m[0], n[1] - m[1]) < SMOOTH


def _moved_circle(edge: Edge, d: float) -> Arc:
    assert isinstance(edge, Arc)  # a single line cannot close an outline
    return Arc(edge.centre, _moved_radius(edge, d), edge.angle, edge.sweep, edge.feature)


def _moved_radius(arc: Arc, d: float) -> float:
    radius = arc.radius - d if arc.sweep > 0 else arc.radius + d
    if radius <= 0:
        raise ValueError(f"{arc.feature or 'arc'} radius {arc.radius:.6g} mm vanishes when moved {d:.6g} mm")
    return radius


def _moved(edge: Edge, start: Point, end: Point, d: float) -> Edge:
    if isinstance(edge, Line):
        ux, uy = edge.end[0] - edge.start[0], edge.end[1] - edge.start[1]
        if (end[0] - start[0]) * ux + (end[1] - start[1]) * uy <= 0:
            raise ValueError(
                f"{edge.feature or 'line'} of {hypot(ux, uy):.6g} mm vanishes when moved {d:.6g} mm"
            )
        return Line(start, end, edge.feature)
    angle = _near(atan2(start[1] - edge.centre[1], start[0] - edge.centre[0]), edge.angle)
    last = edge.angle + edge.sweep
    sweep = _near(atan2(end[1] - edge.centre[1], end[0] - edge.centre[0]), last) - angle
    if sweep * edge.sweep <= 0:
        raise ValueError(
            f"{edge.feature or 'arc'} of radius {edge.radius:.6g} mm vanishes when moved {d:.6g} mm"
        )
    return Arc(edge.centre, _moved_radius(edge, d), angle, sweep, edge.feature)


def _near(angle: float, wanted: float) -> float:
    """The turn-equivalent of ``angle`` that lies nearest to ``wanted``."""
    return angle - tau * round((angle - wanted) / tau)


def _corner(before: Edge, after: Edge, d: float) -> Point:
    p = before.end
    n, m = normal_at(before, 1.0), normal_at(after, 0.0)
    if is_smooth(before, after):
        return (p[0] - d * n[0], p[1] - d * n[1])
    if isinstance(before, Line) and isinstance(after, Line):
        scale = d / (1 + n[0] * m[0] + n[1] * m[1])
        return (p[0] - scale * (n[0] + m[0]), p[1] - scale * (n[1] + m[1]))
    if isinstance(before, Arc) and isinstance(after, Arc):
        return _circles_meet(
            before.centre, _moved_radius(before, d), after.centre, _moved_radius(after, d), p
        )
    line, arc, normal = (before, after, n) if isinstance(before, Line) else (after, before, m)
    assert isinstance(arc, Arc)
    foot = (line.end[0] - d * normal[0], line.end[1] - d * normal[1])
    return _line_meets_circle(foot, normal, arc.centre, _moved_radius(arc, d), p)


def _line_meets_circle(on_line: Point, normal: Point, centre: Point, radius: float, near: Point) -> Point:
    gap = (on_line[0] - centre[0]) * normal[0] + (on_line[1] - centre[1]) * normal[1]
    if abs(gap) > radius:
        raise ValueError(
            f"a sharp corner has no mitre: the moved line misses the moved arc by {abs(gap) - radius:.6g} mm"
        )
    half = sqrt(radius**2 - gap**2)
    foot = (centre[0] + gap * normal[0], centre[1] + gap * normal[1])
    both = [(foot[0] - s * half * normal[1], foot[1] + s * half * normal[0]) for s in (1.0, -1.0)]
    return min(both, key=lambda q: hypot(q[0] - near[0], q[1] - near[1]))


def _circles_meet(a: Point, ra: float, b: Point, rb: float, near: Point) -> Point:
    dx, dy = b[0] - a[0], b[1] - a[1]
    apart = hypot(dx, dy)
    if apart > ra + rb or apart < abs(ra - rb) or apart == 0:
        raise ValueError("a sharp corner has no mitre: the moved arcs no longer meet")
    along = (apart**2 + ra**2 - rb**2) / (2 * apart)
    half = sqrt(max(ra**2 - along**2, 0.0))
    base, turn = atan2(dy, dx), atan2(half, along)
    both = [(a[0] + ra * cos(base + s * turn), a[1] + ra * sin(base + s * turn)) for s in (1.0, -1.0)]
    return min(both, key=lambda q: hypot(q[0] - near[0], q[1] - near[1]))
