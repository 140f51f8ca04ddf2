"""The side view's lines, exact in every cross-section: helix edges, contours, and what the half section shows.

One looks along -x: z runs from right to left on the paper, y up.  The quarter x > 0, y < 0 is cut away, so the
upper half shows the outside and the lower half the cut through the axis, with what stands out behind it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import hypot, pi

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.offset import inward, is_smooth
from rollergen.shape.outline import Arc, Edge, Floats, Line, Outline, Point
from rollergen.shape.views import Stroke, Style, Trace
from rollergen.spec.profile import Profile

Flags = NDArray[np.bool_]
Curve = Callable[[Floats], tuple[Floats, Floats, Flags]]  # z -> x, y, whether it is there

STEPS = 120  # places along z, at least, and for each turn of a rib: 3 deg apart, chords good to 0.4 permille
MOST_STEPS = 1800
FINER = 24  # parts of a step in which a curve comes out or goes behind
MOST_TURNS = 90  # half turns of a rib along one segment, more than a profile may have
SLACK = 1e-9  # rad or mm
TOUCH = 1e-4  # mm: nearer hits are the point itself
CLEAR = 1e-6  # mm: an edge does not hide itself
CUT_DOWN = -pi / 2  # the half section's plane, seen from the axis


def places_along(profile: Profile) -> Floats:
    """Where the side view's curves are taken, along the full outline between both chamfers (mm)."""
    cut, length = profile.body.edge_chamfer, profile.body.free_length
    turns = abs(profile.turn_per_mm) * length / (2 * pi)
    return np.linspace(cut, length - cut, min(MOST_STEPS, int(STEPS * max(1.0, turns))) + 1)


def outside_lines(profile: Profile, outer: Outline) -> tuple[Stroke | Trace, ...]:
    """Everything outside: rib edges, contours, end faces and chamfers, hidden lines left out."""
    z, turn = places_along(profile), profile.turn_per_mm
    rounds = rounds_of(outer)
    lines: list[Stroke | Trace] = []
    for before, after in zip(outer.edges, (*outer.edges[1:], outer.edges[0]), strict=True):
        if len(outer.edges) > 1 and _bounds_a_rib(before, after):
            style: Style = "narrow" if is_smooth(before, after) else "visible"
            lines += _seen(rounds, z, turn, _corner_curve(after.start, turn), style)
    for edge in outer.edges:
        if isinstance(edge, Arc):
            for up in (1.0, -1.0):
                at = np.union1d(z, _ends_of_contour(edge, z, turn, up))
                lines += _seen(rounds, at, turn, _contour_curve(edge, turn, up), "visible")
    for face in (0.0, profile.body.free_length):
        lines += _end(profile, outer, face)
    return tuple(lines)


def _bounds_a_rib(before: Edge, after: Edge) -> bool:
    """Sharp corners, and of the rounded ones those where tip land or body begin: more lines only blur a rib."""
    features = {before.feature, after.feature}
    return not is_smooth(before, after) or bool(features & {"tip", "body"}) or len(features) == 1


def _corner_curve(corner: Point, turn: float) -> Curve:
    def curve(z: Floats) -> tuple[Floats, Floats, Flags]:
        x, y = _turned(np.array(corner), turn * z)
        return x, y, np.ones(len(z), bool)

    return curve


def _contour_curve(arc: Arc, turn: float, up: float) -> Curve:
    """Where an arc's surface turns away from the eye: its normal points straight up or down there."""
    sense = 1.0 if arc.sweep > 0 else -1.0

    def curve(z: Floats) -> tuple[Floats, Floats, Flags]:
        angle = _contour_angle(arc, turn * z, up)
        along = np.mod(sense * (angle - arc.angle) + SLACK, 2 * pi)
        p = np.array(arc.centre)[:, None] + arc.radius * np.array([np.cos(angle), np.sin(angle)])
        x, y = _turned(p, turn * z)
        return x, y, along <= abs(arc.sweep) + 2 * SLACK

    return curve


def _contour_angle(arc: Arc, turned: Floats, up: float) -> Floats:
    return up * pi / 2 - turned + (0.0 if arc.sweep > 0 else pi)


def _ends_of_contour(arc: Arc, z: Floats, turn: float, up: float) -> Floats:
    """Where along z a contour leaves its arc and the neighbour's takes over."""
    if turn == 0:
        return np.zeros(0)
    found = []
    for end in (arc.angle, arc.angle + arc.sweep):
        away = float(_contour_angle(arc, np.zeros(1), up)[0]) - end
        turns = np.arange(-MOST_TURNS, MOST_TURNS + 1)
        found.append((away + 2 * pi * turns) / turn)
    all_ends = np.concatenate(found)
    return np.asarray(all_ends[(all_ends > z[0]) & (all_ends < z[-1])])


def _seen(outer: Rounds, z: Floats, turn: float, curve: Curve, style: Style) -> list[Trace]:
    """The runs of a curve that the eye meets first, in the upper half or behind the cut."""
    _, _, shown = _shown(outer, z, turn, curve)
    if not shown.any():
        return []
    changes = np.flatnonzero(shown[1:] != shown[:-1])
    finer = [np.linspace(z[n], z[n + 1], FINER + 1)[1:-1] for n in changes]
    z = np.union1d(z, np.concatenate([*finer, z[:0]]))
    _, y, shown = _shown(outer, z, turn, curve)
    return [
        Trace(points=tuple((-float(a), float(b)) for a, b in zip(z[i:j], y[i:j], strict=True)), style=style)
        for i, j in _runs(shown)
    ]


def _shown(outer: Rounds, z: Floats, turn: float, curve: Curve) -> tuple[Floats, Floats, Flags]:
    x, y, there = curve(z)
    if not there.any():
        return x, y, there
    behind = there & (y < 0) & (x <= CLEAR)
    behind[behind] = -y[behind] >= reach_at(outer, CUT_DOWN - turn * z[behind]) - CLEAR
    shown = there & ((y >= 0) | behind)
    return x, y, shown & ~_hidden(outer, turn * z, x, y, shown)


def _runs(flags: Flags) -> list[tuple[int, int]]:
    padded = np.concatenate([[False], flags, [False]]).astype(int)
    starts, ends = np.flatnonzero(np.diff(padded) == 1), np.flatnonzero(np.diff(padded) == -1)
    return [(int(i), int(j)) for i, j in zip(starts, ends, strict=True) if j - i > 1]


def _hidden(outer: Rounds, turn: Floats, x: Floats, y: Floats, asked: Flags) -> Flags:
    """Whether something of the same cross-section lies between a point and the eye at +x.

    Below the axis only what is behind the cut (x < 0) is there to hide anything.
    """
    found = np.zeros(len(turn), bool)
    if not asked.any():
        return found
    turn, x, y = turn[asked], x[asked], y[asked]
    hidden = np.zeros(len(turn), bool)
    at_x, at_y = outer.turned(turn)
    near = (np.abs(y - at_y) <= outer.reach[:, None]) & (at_x + outer.reach[:, None] > x)
    for row in np.flatnonzero(near.any(axis=1)):
        at = near[row] & ~hidden
        hidden[at] = _edge_hides(outer.edges[row], turn[at], x[at], y[at])
    found[asked] = hidden
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Rounds:
    """Edges, each with a circle that holds it (middles (n, 2), reach (n,), mm): most are ruled out by it alone."""

    edges: tuple[Edge, ...]
    middle: Floats
    reach: Floats

    def turned(self, turn: Floats) -> tuple[Floats, Floats]:
        """x and y of every middle at every turn, (n, len(turn)) each."""
        c, s = np.cos(turn), np.sin(turn)
        x, y = self.middle[:, :1], self.middle[:, 1:]
        return x * c - y * s, x * s + y * c


def rounds_of(outline: Outline) -> Rounds:
    """The outline's edges with their circles."""
    found = [_round_about(edge) for edge in outline.edges]
    return Rounds(
        edges=outline.edges,
        middle=np.array([middle for middle, _ in found]),
        reach=np.array([reach for _, reach in found]),
    )


def _edge_hides(edge: Edge, turn: Floats, x: Floats, y: Floats) -> Flags:
    c, s = np.cos(turn), np.sin(turn)
    px, py = x * c + y * s, -x * s + y * c  # in the section's own frame
    hides = np.zeros(len(turn), bool)
    for t in _hits(edge, px, py, c, -s):
        with np.errstate(invalid="ignore"):
            hides |= (t > TOUCH) & ((y >= 0) | (x + t < -CLEAR))
    return hides


def _round_about(edge: Edge) -> tuple[Point, float]:
    """A circle that holds the whole edge: about the arc's own centre, or the line's middle."""
    if isinstance(edge, Arc) and abs(edge.sweep) > 1.0:
        return edge.centre, edge.radius + SLACK
    middle = ((edge.start[0] + edge.end[0]) / 2, (edge.start[1] + edge.end[1]) / 2)
    half = hypot(edge.end[0] - edge.start[0], edge.end[1] - edge.start[1]) / 2
    # an arc of up to 1 rad rises above its chord by less than a quarter of half the chord
    return middle, 1.1 * half + SLACK


def _hits(edge: Arc | Line, px: Floats, py: Floats, ux: Floats, uy: Floats) -> list[Floats]:
    """Distances along rays to an edge, NaN where a ray misses it."""
    nowhere = np.full(len(px), np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        if isinstance(edge, Line):
            dx, dy = edge.end[0] - edge.start[0], edge.end[1] - edge.start[1]
            det = ux * dy - uy * dx
            qx, qy = edge.start[0] - px, edge.start[1] - py
            t, share = (qx * dy - qy * dx) / det, (qx * uy - qy * ux) / det
            return [np.where((np.abs(det) > 1e-12) & (share >= -SLACK) & (share <= 1 + SLACK), t, nowhere)]
        mx, my = px - edge.centre[0], py - edge.centre[1]
        b, c = mx * ux + my * uy, mx * mx + my * my - edge.radius**2
        root = np.sqrt(b * b - c)
        found = []
        for t in (-b - root, -b + root):
            angle = np.arctan2(my + t * uy, mx + t * ux)
            along = np.mod((angle - edge.angle) * (1.0 if edge.sweep > 0 else -1.0), 2 * pi)
            on_arc = (along <= abs(edge.sweep) + SLACK) | (along >= 2 * pi - SLACK)
            found.append(np.where(on_arc, t, nowhere))
        return found


def reach_at(outer: Rounds, angles: Floats) -> Floats:
    """How far the outline reaches from the axis along each angle of its own frame (mm)."""
    angles = np.atleast_1d(np.asarray(angles, dtype=float))
    ux, uy = np.cos(angles), np.sin(angles)
    across = np.abs(outer.middle[:, :1] * uy - outer.middle[:, 1:] * ux)
    near = across <= outer.reach[:, None]
    found = np.full(len(angles), -np.inf)
    zero = np.zeros(len(angles))
    for row in np.flatnonzero(near.any(axis=1)):
        at = near[row]
        for t in _hits(outer.edges[row], zero[at], zero[at], ux[at], uy[at]):
            found[at] = np.fmax(found[at], t)
    return found


def _turned(point: Floats, turn: Floats) -> tuple[Floats, Floats]:
    return (
        point[0] * np.cos(turn) - point[1] * np.sin(turn),
        point[0] * np.sin(turn) + point[1] * np.cos(turn),
    )


def height_of(outline: Outline, turn: float, *, far_side: bool) -> float:
    """Largest y of the outline turned by ``turn`` (mm); ``far_side``: largest -y among x <= 0."""
    points = _dense(outline)
    x, y = points @ np.array([np.cos(turn), -np.sin(turn)]), points @ np.array([np.sin(turn), np.cos(turn)])
    return float(np.max(-y[x <= 1e-9]) if far_side else np.max(y))


def _dense(outline: Outline, per_edge: int = 181) -> Floats:
    share = np.linspace(0, 1, per_edge)
    rows = []
    for e in outline.edges:
        if isinstance(e, Arc):
            angle = e.angle + share * e.sweep
            rows.append(np.array(e.centre) + e.radius * np.stack([np.cos(angle), np.sin(angle)], axis=1))
        else:
            rows.append(np.array(e.start) + share[:, None] * (np.array(e.end) - np.array(e.start)))
    return np.concatenate(rows)


def _end(profile: Profile, outer: Outline, face: float) -> list[Stroke | Trace]:
    """An end face, its chamfer's edge, and the short contours between the two."""
    cut = profile.body.edge_chamfer
    inside = cut if face == 0.0 else face - cut
    turn = profile.turn_per_mm * face
    full = profile.turn_per_mm * inside
    small = inward(outer, cut)
    top, low = height_of(small, turn, far_side=False), -height_of(small, turn, far_side=True)
    lines: list[Stroke | Trace] = [_line((-face, low), (-face, top))]
    if cut > 0:
        wide_top = height_of(outer, full, far_side=False)
        wide_low = -height_of(outer, full, far_side=True)
        lines += [
            _line((-inside, 0.0), (-inside, wide_top), cut),
            _line((-face, top), (-inside, wide_top)),
            _line((-face, low), (-inside, wide_low)),
        ]
        cut_edge = float(reach_at(rounds_of(outer), np.array([CUT_DOWN - full]))[0])
        if -wide_low - cut_edge > CLEAR:  # a rib stands out behind the cut: its own chamfer edge
            lines.append(_line((-inside, -cut_edge), (-inside, wide_low), cut))
    return lines


def _line(a: Point, b: Point, beside: float | None = None) -> Stroke:
    return Stroke(edges=(Line(a, b),), beside=beside)


def cut_contour(profile: Profile, outer: Outline) -> tuple[Point, ...]:
    """The cut's outer edge from the end at z = 0 to the other end, chamfers included, as (-z, y) points."""
    cut, length = profile.body.edge_chamfer, profile.body.free_length
    z = places_along(profile)
    y = -reach_at(rounds_of(outer), CUT_DOWN - profile.turn_per_mm * z)
    points = [(-float(a), float(b)) for a, b in zip(z, y, strict=True)]
    if cut > 0:
        small = rounds_of(inward(outer, cut))
        ends = [
            -float(reach_at(small, np.array([CUT_DOWN - profile.turn_per_mm * at]))[0])
            for at in (0.0, length)
        ]
        points = [(0.0, ends[0]), *points, (-length, ends[1])]
    return tuple(points)


def crossings_down(outline: Outline) -> tuple[float, ...]:
    """Where the half section's plane crosses an outline below the axis, as y, from the axis outwards."""
    zero = np.zeros(1)
    found = {
        round(float(t[0]), 9)
        for e in outline.edges
        for t in _hits(e, zero, zero, np.zeros(1), -np.ones(1))
        if t[0] > 1e-9
    }
    return tuple(-y for y in sorted(found))
