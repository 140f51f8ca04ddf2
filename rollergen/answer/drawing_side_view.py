"""The side view: half of it outside, half cut through the axis, with length, chamfers and helix."""

from __future__ import annotations

from math import cos, pi, sin, tau

import numpy as np

from rollergen.answer.drawing_side import (
    crossings_down,
    cut_contour,
    height_of,
    outside_lines,
    reach_at,
    rounds_of,
)
from rollergen.answer.drawing_stated import Held, amount, stated
from rollergen.shape.offset import inward
from rollergen.shape.outline import Line, Outline, Point
from rollergen.shape.section import Section
from rollergen.shape.views import CutMark, Dim, LengthDim, Mark, Pointer, Stroke, Trace, View
from rollergen.spec.profile import Profile


def side_view(profile: Profile, section: Section, held: Held) -> View:
    """Seen along -x with z running to the left: the outside above the axis, the cut through it below."""
    length, lead = profile.body.free_length, profile.bore.lead_in
    contour = cut_contour(profile, section.outer)
    bands, edges = _cut_bands(profile, section, contour)
    top = profile.tip_radius
    strokes: list[Stroke | Trace] = [*outside_lines(profile, section.outer), Trace(points=contour), *edges]
    if lead > 0:
        low = _cut_at(section.bore)
        strokes += [Stroke(edges=(Line((-z, 0.0), (-z, low)),), beside=lead) for z in (lead, length - lead)]
    over = 0.04 * max(length, 2 * top)
    strokes.append(Stroke(edges=(Line((-length - over, 0.0), (over, 0.0)),), style="centre"))
    return View(
        name="side",
        title="",
        strokes=tuple(strokes),
        regions=tuple((band,) for band in bands),
        dims=_side_dims(profile, section, held),
        marks=(Mark(at=(0.0, -top), words="z = 0", away=(0.35, -1.0)),),
        cuts=(CutMark(x=0.0, letter="A", looks=1),),
    )


def _cut_at(outline: Outline) -> float:
    return float(-reach_at(rounds_of(outline), np.array([-pi / 2]))[0])


def _cut_bands(
    profile: Profile, section: Section, contour: tuple[Point, ...]
) -> tuple[list[Outline], list[Stroke | Trace]]:
    """The cut surfaces below the axis: from bore to chamber and on to the outside."""
    length, lead = profile.body.free_length, profile.bore.lead_in
    low = _cut_at(section.bore)
    mouth = _cut_at(inward(section.bore, -lead)) if lead > 0 else low
    inner = [(0.0, mouth), (-lead, low), (lead - length, low), (-length, mouth)]
    if lead == 0:
        inner = [(0.0, low), (-length, low)]
    levels = sorted((y for c in section.chambers for y in crossings_down(c)), reverse=True)
    edges: list[Stroke | Trace] = [Trace(points=tuple(inner))]
    edges += [Stroke(edges=(Line((0.0, y), (-length, y)),)) for y in levels]
    rims = [list(inner), *([(0.0, y), (-length, y)] for y in levels), list(contour)]
    bands = [_band(upper, lower) for upper, lower in zip(rims[0::2], rims[1::2], strict=True)]
    return bands, edges


def _band(upper: list[Point], lower: list[Point]) -> Outline:
    ring = [*upper, *reversed(lower)]
    return Outline(tuple(Line(a, b) for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)))


def _side_dims(profile: Profile, section: Section, held: Held) -> tuple[Dim, ...]:
    body, bore = profile.body, profile.bore
    length, cut = body.free_length, body.edge_chamfer
    low = -profile.tip_radius
    dims: list[Dim] = []
    if cut > 0:
        top = height_of(section.outer, profile.turn_per_mm * (length - cut), far_side=False)
        small = height_of(inward(section.outer, cut), profile.turn_per_mm * length, far_side=False)
        dims.append(
            LengthDim(
                stated=stated(cut, "body.edge_chamfer", held=held.within(cut), times=2, after=" × 45°"),
                a=(-length, (top + small) / 2),
                b=(cut - length, (top + small) / 2),
                along=(1.0, 0.0),
                side="leader",
                towards=(-0.8, 1.0),
            )
        )
    if bore.lead_in > 0:
        mouth = (_cut_at(section.bore) + _cut_at(inward(section.bore, -bore.lead_in))) / 2
        dims.append(
            LengthDim(
                stated=stated(
                    bore.lead_in, "bore.lead_in", held=held.by_core(bore.lead_in), times=2, after=" × 45°"
                ),
                a=(-length, mouth),
                b=(bore.lead_in - length, mouth),
                along=(1.0, 0.0),
                side="leader",
                towards=(-1.0, 0.25),
            )
        )
    dims.append(
        LengthDim(
            stated=stated(length, "body.free_length", held=held.across(length)),
            a=(-length, low),
            b=(0.0, low),
            along=(1.0, 0.0),
            side="below",
        )
    )
    return (*dims, *_helix_words(profile))


def _helix_words(profile: Profile) -> list[Pointer]:
    ribs = profile.ribs
    if ribs is None:
        return []
    if profile.turn_per_mm == 0:
        words = f"{ribs.count} straight ribs"
        keys: tuple[str, ...] = ("ribs.helix_pitch",)
    else:
        words = f"helix pitch {amount(ribs.helix_pitch)}, {ribs.hand}-hand"
        keys = ("ribs.helix_pitch", "ribs.hand")
    return [Pointer(keys=keys, at=_on_ribs(profile), words=words, towards=(0.3, 1.0))]


def _on_ribs(profile: Profile) -> tuple[Point, ...]:
    """Places on rib tips that the eye sees, near the upper edge of the side view first."""
    ribs, R = profile.ribs, profile.tip_radius
    assert ribs is not None
    places = []
    for z in np.linspace(0.25, 0.75, 11) * profile.body.free_length:
        for number in range(ribs.count):
            angle = ribs.start + number * tau / ribs.count + profile.turn_per_mm * z
            y = R * sin(angle)
            if cos(angle) > 0.3 and y > 0.1 * R:
                places.append((-float(z), float(y)))
    best = sorted(places, key=lambda p: (-p[1], p[0]))
    return tuple(best[:6]) or ((-profile.body.free_length / 2, R * 0.5),)
