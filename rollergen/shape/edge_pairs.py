"""Least distance between two outlines in one plane, closed form over pairs of edges.

The nearest points of two curves of arcs and lines are either two interiors with a common normal (arc
and arc: on the line of centres; arc and line: on the perpendicular), or a corner of one and the nearest
point of the other.  Every such pair has a closed form, so the distance carries no tessellation and two
curves that cross give exactly 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rollergen.shape.distance import EdgeTable, Flags, Ints
from rollergen.shape.outline import Floats

PAIRS_PER_BLOCK = 200_000  # (samples x edges x edges) kept in cache
SLACK = 1e-12  # cosine and share slack: a foot on the very end of an edge counts


@dataclass(frozen=True, slots=True, eq=False)
class _Edges:
    """A flat list of edges, each already turned and placed; vectors are (m, 2)."""

    start: Floats
    end: Floats
    centre: Floats
    toward: Floats
    radius: Floats
    cos_half: Floats
    is_arc: Flags

    def at(self, rows: Flags) -> _Edges:
        return _Edges(
            self.start[rows],
            self.end[rows],
            self.centre[rows],
            self.toward[rows],
            self.radius[rows],
            self.cos_half[rows],
            self.is_arc[rows],
        )


def facing_edges(table: EdgeTable, *, centre: Floats, within: float, period: float) -> Ints:
    """Rows of the edges that come ``within`` (mm) of ``centre`` at some turn from 0 to ``period`` (rad)."""
    radius = np.hypot(table.middle[:, 0], table.middle[:, 1])
    polar = np.arctan2(table.middle[:, 1], table.middle[:, 0])
    far = float(np.hypot(*centre))
    ahead = np.mod(np.arctan2(centre[1], centre[0]) - polar, 2 * np.pi)  # turn that points it at the centre
    off = np.where(ahead <= period, 0.0, np.minimum(ahead - period, 2 * np.pi - ahead))
    distance = np.sqrt(np.maximum(radius**2 + far**2 - 2 * radius * far * np.cos(off), 0.0))
    return np.flatnonzero(distance - table.reach <= within).astype(np.int64)


def least_between(
    ours: EdgeTable, our_turn: Floats, theirs: EdgeTable, their_turn: Floats, centre: Floats
) -> Floats:
    """Distance between two outlines, (n,), mm: ours turned about the origin, theirs about ``centre``.

    ``our_turn`` and ``their_turn`` (n,) in rad, counter-clockwise.  Unsigned: 0 where the curves cross.
    One lying wholly inside the other is not seen as a crossing (two rollers cannot do that).
    """
    block = max(1, PAIRS_PER_BLOCK // max(1, len(ours) * len(theirs)))
    parts = [
        _least_block(ours, our_turn[i : i + block], theirs, their_turn[i : i + block], centre)
        for i in range(0, len(our_turn), block)
    ]
    return np.concatenate(parts) if parts else np.zeros(0)


def _least_block(
    ours: EdgeTable, our_turn: Floats, theirs: EdgeTable, their_turn: Floats, centre: Floats
) -> Floats:
    c1, s1, c2, s2 = np.cos(our_turn), np.sin(our_turn), np.cos(their_turn), np.sin(their_turn)
    ax = c1[:, None] * ours.middle[:, 0] - s1[:, None] * ours.middle[:, 1]
    ay = s1[:, None] * ours.middle[:, 0] + c1[:, None] * ours.middle[:, 1]
    bx = c2[:, None] * theirs.middle[:, 0] - s2[:, None] * theirs.middle[:, 1] + centre[0]
    by = s2[:, None] * theirs.middle[:, 0] + c2[:, None] * theirs.middle[:, 1] + centre[1]
    dx, dy = ax[:, :, None] - bx[:, None, :], ay[:, :, None] - by[:, None, :]
    apart = np.sqrt(dx * dx + dy * dy)
    # the middles are points of the edges: their distance bounds the answer from above, and less both
    # reaches each pair from below
    worst: Floats = apart.min(axis=(1, 2))
    hopeful = apart - ours.reach[:, None] - theirs.reach <= worst[:, None, None]
    sample, i, j = np.nonzero(hopeful)
    a = _placed(ours, i, c1[sample], s1[sample], np.zeros(2))
    b = _placed(theirs, j, c2[sample], s2[sample], centre)
    least = worst
    np.minimum.at(least, sample, _pair_distance(a, b))
    return least


def _placed(table: EdgeTable, rows: Ints, c: Floats, s: Floats, centre: Floats) -> _Edges:
    def turn(v: Floats) -> Floats:
        x, y = v[rows, 0], v[rows, 1]
        return np.stack([c * x - s * y, s * x + c * y], axis=1)

    return _Edges(
        turn(table.start) + centre,
        turn(table.end) + centre,
        turn(table.centre) + centre,
        turn(table.toward),
        table.radius[rows],
        table.cos_half[rows],
        table.is_arc[rows],
    )


def _pair_distance(a: _Edges, b: _Edges) -> Floats:
    """Distance of each pair of edges, (m,), 0 where they cross."""
    least = np.empty(len(a.radius))
    for rows, distance in (
        (a.is_arc & b.is_arc, _arc_to_arc),
        (a.is_arc & ~b.is_arc, _arc_to_line),
        (~a.is_arc & b.is_arc, _line_to_arc),
        (~a.is_arc & ~b.is_arc, _line_to_line),
    ):
        if rows.any():
            least[rows] = distance(a.at(rows), b.at(rows))
    return least


def _arc_to_arc(a: _Edges, b: _Edges) -> Floats:
    best = _least(_to_arc(a.start, b), _to_arc(a.end, b), _to_arc(b.start, a), _to_arc(b.end, a))
    span = b.centre - a.centre
    length = np.maximum(np.hypot(span[:, 0], span[:, 1]), 1e-300)
    u = span / length[:, None]
    on_a, on_b = _dot(u, a.toward), _dot(u, b.toward)
    for sa in (1.0, -1.0):
        for sb in (1.0, -1.0):
            both = (sa * on_a >= a.cos_half - SLACK) & (sb * on_b >= b.cos_half - SLACK)
            best = np.where(both, np.minimum(best, np.abs(length + sb * b.radius - sa * a.radius)), best)
    # where the two full circles cross, and whether both arcs hold that point
    along = (length**2 + a.radius**2 - b.radius**2) / (2 * length)
    rise2 = a.radius**2 - along**2
    rise = np.sqrt(np.maximum(rise2, 0.0))
    side = np.stack([-u[:, 1], u[:, 0]], axis=1)
    for sign in (1.0, -1.0):
        point = a.centre + along[:, None] * u + (sign * rise)[:, None] * side
        best = np.where((rise2 >= 0.0) & _on_arc(point, a) & _on_arc(point, b), 0.0, best)
    return best


def _line_to_arc(a: _Edges, b: _Edges) -> Floats:
    return _arc_to_line(b, a)


def _arc_to_line(a: _Edges, b: _Edges) -> Floats:
    best = _least(_to_line(a.start, b), _to_line(a.end, b), _to_arc(b.start, a), _to_arc(b.end, a))
    chord = b.end - b.start
    length = np.hypot(chord[:, 0], chord[:, 1])
    u = chord / length[:, None]
    n = np.stack([u[:, 1], -u[:, 0]], axis=1)
    away = b.start - a.centre
    height, share = _dot(away, n), -_dot(away, u) / length  # from the arc's centre to the line and its foot
    over = (share >= -SLACK) & (share <= 1 + SLACK)
    facing = _dot(n, a.toward)
    for sign in (1.0, -1.0):
        both = over & (sign * facing >= a.cos_half - SLACK)
        best = np.where(both, np.minimum(best, np.abs(height - sign * a.radius)), best)
    rise2 = a.radius**2 - height**2
    rise = np.sqrt(np.maximum(rise2, 0.0))
    foot = a.centre + height[:, None] * n
    for sign in (1.0, -1.0):
        at = share + sign * rise / length
        point = foot + (sign * rise)[:, None] * u
        crosses = (rise2 >= 0.0) & (at >= -SLACK) & (at <= 1 + SLACK) & _on_arc(point, a)
        best = np.where(crosses, 0.0, best)
    return best


def _line_to_line(a: _Edges, b: _Edges) -> Floats:
    best = _least(_to_line(a.start, b), _to_line(a.end, b), _to_line(b.start, a), _to_line(b.end, a))
    p, q, w = a.end - a.start, b.end - b.start, b.start - a.start
    det = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    safe = np.where(det == 0.0, 1.0, det)
    s = (w[:, 0] * q[:, 1] - w[:, 1] * q[:, 0]) / safe
    t = (w[:, 0] * p[:, 1] - w[:, 1] * p[:, 0]) / safe
    crosses = (det != 0.0) & (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    return np.where(crosses, 0.0, best)


def _to_line(point: Floats, line: _Edges) -> Floats:
    chord, w = line.end - line.start, point - line.start
    share = np.clip(_dot(w, chord) / _dot(chord, chord), 0.0, 1.0)
    rest = w - share[:, None] * chord
    return np.hypot(rest[:, 0], rest[:, 1])


def _to_arc(point: Floats, arc: _Edges) -> Floats:
    v, s, e = point - arc.centre, point - arc.start, point - arc.end
    rho = np.hypot(v[:, 0], v[:, 1])
    ends = np.sqrt(np.minimum(_dot(s, s), _dot(e, e)))
    return np.where(_dot(v, arc.toward) >= (arc.cos_half - SLACK) * rho, np.abs(rho - arc.radius), ends)


def _on_arc(point: Floats, arc: _Edges) -> Flags:
    v = point - arc.centre
    return np.asarray(_dot(v, arc.toward) >= (arc.cos_half - SLACK) * arc.radius)


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1])


def _least(*values: Floats) -> Floats:
    least: Floats = np.minimum.reduce(values)
    return least
