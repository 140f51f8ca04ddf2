"""The end view: what one sees of a segment from +z, with the bore's sizes and the overall diameter."""

from __future__ import annotations

from math import cos, pi, sin, tau

import numpy as np
from numpy.typing import NDArray

from rollergen.answer.drawing_clips import points_of
from rollergen.answer.drawing_stated import Held, amount, best_slope_first, stated
from rollergen.shape.distance import signed_distance
from rollergen.shape.offset import inward
from rollergen.shape.outline import Arc, Floats, Line, Outline, Point, turned, turned_edges
from rollergen.shape.rib import flank_of
from rollergen.shape.section import Section
from rollergen.shape.views import Dim, LengthDim, RoundDim, Stroke, Trace, View
from rollergen.spec.profile import Bore, Profile

OVERRUN = 1.07  # of the tip radius: how far centre lines run
FLATS = {"square": "□", "hexagon": "", "round": "⌀", "keyed": "⌀"}


def end_view(profile: Profile, section: Section, held: Held) -> View:
    """The end at z = length, seen from +z: chamfer, bore mouth, and the ribs that turn away behind it."""
    length, cut, lead = profile.body.free_length, profile.body.edge_chamfer, profile.bore.lead_in
    turn = profile.turn_per_mm
    full = turned(section.outer, turn * (length - cut))
    strokes: list[Stroke | Trace] = [Stroke(edges=full.edges)]
    if cut > 0:
        strokes.append(Stroke(edges=turned(inward(section.outer, cut), turn * length).edges, beside=cut))
    strokes += [Stroke(edges=hole.edges) for hole in section.holes]
    if lead > 0:
        strokes.append(Stroke(edges=inward(section.bore, -lead).edges, beside=lead))
    strokes += _behind(profile, section)
    reach = OVERRUN * profile.tip_radius
    strokes += [_centre((-reach, 0.0), (reach, 0.0)), _centre((0.0, -reach), (0.0, reach))]
    return View(
        name="end",
        title="",
        strokes=tuple(strokes),
        dims=_end_dims(profile, held),
        alone=f"End at z = {amount(length)}, from +z",
    )


def _behind(profile: Profile, section: Section) -> list[Stroke | Trace]:
    """Tip circle swept by the ribs behind the end face, and the far flanks that are not covered."""
    ribs = profile.ribs
    if ribs is None or profile.turn_per_mm == 0:
        return []
    ahead = flank_of(ribs, profile.body_radius, ribs.flank_angle_ahead)
    behind = flank_of(ribs, profile.body_radius, ribs.flank_angle_behind)
    assert ahead is not None and behind is not None
    cut, length = profile.body.edge_chamfer, profile.body.free_length
    near, far = profile.turn_per_mm * (length - cut), profile.turn_per_mm * cut
    step = tau / ribs.count
    swept = min(abs(near - far), step - ahead.chi - behind.chi)
    lines: list[Stroke | Trace] = []
    for number in range(ribs.count):
        middle = ribs.start + number * step + near
        start = middle - behind.chi - swept if near > far else middle + ahead.chi
        lines.append(Stroke(edges=(Arc((0.0, 0.0), profile.tip_radius, start, swept),)))
    return lines + _far_flanks(section.outer, ribs.count, far, near)


def _far_flanks(outer: Outline, count: int, far: float, near: float) -> list[Stroke | Trace]:
    """What of the outline at the far end no cross-section nearer to the eye covers; one rib stands for all."""
    one = points_of(turned_edges(outer.edges[: len(outer.edges) // count], far), 0.02)
    points = np.array(one)
    free = np.ones(len(points), bool)
    for turn in np.linspace(far, near, 97)[1:]:
        c, s = cos(turn), sin(turn)
        back = points[free] @ np.array([[c, -s], [s, c]])
        free[free] = signed_distance(outer, back) > -1e-6
    # the body's own circle stays on every cross-section: it is drawn with the end's outline
    from_axis = np.hypot(points[:, 0], points[:, 1])
    free &= from_axis > np.min(from_axis) + 1e-6
    lines: list[Stroke | Trace] = []
    for number in range(count):
        c, s = cos(number * tau / count), sin(number * tau / count)
        lines += [Trace(points=run) for run in _chains(points @ np.array([[c, s], [-s, c]]), free)]
    return lines


def _chains(points: Floats, free: NDArray[np.bool_]) -> list[tuple[Point, ...]]:
    runs: list[list[Point]] = [[]]
    for (x, y), shown in zip(points, free, strict=True):
        if shown:
            runs[-1].append((float(x), float(y)))
        elif runs[-1]:
            runs.append([])
    return [tuple(run) for run in runs if len(run) > 1]


def _end_dims(profile: Profile, held: Held) -> tuple[Dim, ...]:
    bore, r = profile.bore, profile.bore.width / 2
    dims: list[Dim] = []
    spoken = stated(bore.width, "bore.width", held=held.by_core(bore.width), before=FLATS[bore.section])
    if bore.section in ("round", "keyed"):
        angles = tuple(a * pi / 12 for a in (20, 16, 8, 14, 10))
        dims.append(RoundDim(stated=spoken, centre=(0.0, 0.0), radius=r, angles=angles, diameter=True))
    elif bore.section == "square":
        flat = r - bore.corner_radius
        dims.append(LengthDim(stated=spoken, a=(flat, -r), b=(flat, r), along=(0.0, 1.0), side="right"))
    else:
        flat = -(r - bore.corner_radius) / 3**0.5  # lower end of the flats that face +x and -x
        dims.append(LengthDim(stated=spoken, a=(-r, flat), b=(r, flat), along=(1.0, 0.0), side="below"))
    dims += _key_dims(bore, held)
    if bore.section in ("square", "hexagon") and bore.corner_radius > 0:
        dims.append(_bore_corner(bore, held))
    if profile.ribs is not None:
        dims.append(_tip_diameter(profile))
    return tuple(dims)


def _key_dims(bore: Bore, held: Held) -> list[Dim]:
    if bore.section != "keyed" or bore.key_width is None or bore.key_depth is None:
        return []
    floor, half = bore.width / 2 + bore.key_depth, bore.key_width / 2
    return [
        LengthDim(
            stated=stated(bore.key_width, "bore.key_width", held=held.by_core(bore.key_width)),
            a=(floor, -half),
            b=(floor, half),
            along=(0.0, 1.0),
            side="right",
        ),
        LengthDim(
            stated=stated(bore.key_depth, "bore.key_depth", held=held.by_core(bore.key_depth)),
            a=(bore.width / 2, 0.0),
            b=(floor, half),
            along=(1.0, 0.0),
            side="below",
        ),
    ]


def _bore_corner(bore: Bore, held: Held) -> RoundDim:
    sides = 4 if bore.section == "square" else 6
    q = bore.corner_radius
    out = (bore.width / 2 - q) / cos(pi / sides)
    angle = -0.5 * tau / sides - (tau / 4 if sides == 4 else tau / 3)  # lower left
    return RoundDim(
        stated=stated(q, "bore.corner_radius", held=held.by_core(q), times=sides, before="R"),
        centre=(out * cos(angle), out * sin(angle)),
        radius=q,
        angles=tuple(angle + off for off in (0.0, 0.2, -0.2, 0.35, -0.35)),
        diameter=False,
    )


def _tip_diameter(profile: Profile) -> RoundDim:
    ribs = profile.ribs
    assert ribs is not None
    turn = profile.turn_per_mm * (profile.body.free_length - profile.body.edge_chamfer)
    tips = (ribs.start + turn + n * tau / ribs.count for n in range(ribs.count))
    return RoundDim(
        stated=stated(2 * profile.tip_radius, before="⌀", reference=True),
        centre=(0.0, 0.0),
        radius=profile.tip_radius,
        angles=best_slope_first(tuple(tips)),
        diameter=True,
    )


def _centre(a: Point, b: Point) -> Stroke:
    return Stroke(edges=(Line(a, b),), style="centre")
