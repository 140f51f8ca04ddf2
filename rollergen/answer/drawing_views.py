"""Which views, dimensions, table rows and notes a drawing of one segment has: every profile value once.

Left out on purpose, and said on the sheet where it matters: the mates (they are other parts), the price and
the moduli of the compound (they are no sizes), foam modulus and note.
"""

from __future__ import annotations

from math import cos, hypot, pi, sin, tau

import numpy as np

from rollergen.answer.drawing_details import angle_to, chamber_detail, rib_detail, shown_chamber
from rollergen.answer.drawing_end import OVERRUN, end_view
from rollergen.answer.drawing_facts import facts_of, notes_of
from rollergen.answer.drawing_side_view import side_view
from rollergen.answer.drawing_stated import Held, amount, best_slope_first, stated
from rollergen.answer.report import Drawn
from rollergen.shape.distance import boundary_points
from rollergen.shape.outline import Arc, Line, Point
from rollergen.shape.section import Section
from rollergen.shape.views import (
    AngleDim,
    Dim,
    DrawingContent,
    Mark,
    Ring,
    RoundDim,
    Stroke,
    View,
)
from rollergen.spec.profile import Profile
from rollergen.study.mass import weigh

USUAL_HELD = Held()


def drawing_of(drawn: Drawn, held: Held = USUAL_HELD) -> DrawingContent:
    """Everything the drawing of a segment says, without a word on where it stands on the paper."""
    profile, section = drawn.profile, drawn.section
    weight = weigh(profile, section, drawn.part)
    letters = iter("XY")
    details = []
    if profile.ribs is not None:
        details.append(rib_detail(profile, section, held, next(letters)))
    if section.chambers:
        details.append(chamber_detail(profile, section, held, next(letters)))
    return DrawingContent(
        name=profile.name,
        in_line=(side_view(profile, section, held), end_view(profile, section, held)),
        others=(section_view(profile, section, held, details), *details),
        facts=facts_of(profile, section, weight),
        notes=notes_of(profile, held),
        tolerance_class=f"ISO 3302-1 {held.grade}",
        material=profile.compound.name,
        mass=f"{amount(weight.total_kg)} kg",
    )


# The section


def section_view(profile: Profile, section: Section, held: Held, details: list[View]) -> View:
    """The exact section at z = 0 with the body's diameter and both pitches."""
    reach = OVERRUN * profile.tip_radius
    outlines = (section.outer, *section.holes)
    strokes = [Stroke(edges=o.edges) for o in outlines]
    strokes += [_centre((-reach, 0.0), (reach, 0.0)), _centre((0.0, -reach), (0.0, reach))]
    dims: list[Dim] = [_body_diameter(profile, section, held)]
    marks = [Mark(at=(reach, 0.0), words="+x", away=(0.5, -1.0))]
    ribs = profile.ribs
    if ribs is not None:
        dims += _pitch_dim("ribs.count", ribs.count, ribs.start, profile.tip_radius)
        strokes += [_ray(ribs.start + n * tau / ribs.count, reach) for n in range(min(2, ribs.count))]
    strokes += _chamber_rays(profile, section, dims)
    if profile.chambers is not None and section.chambers and profile.chambers.section == "round":
        dims.append(_pitch_circle(section))
        centre = section.chambers[0].edges[0]
        assert isinstance(centre, Arc)
        around = hypot(*centre.centre)
        strokes.append(Stroke(edges=(Arc((0.0, 0.0), around, 0.0, tau),), style="centre"))
    return View(
        name="section",
        title="A–A",
        strokes=tuple(strokes),
        regions=(outlines,),
        dims=tuple(dims),
        marks=tuple(marks),
        rings=_rings(profile, section, details),
    )


def _centre(a: Point, b: Point) -> Stroke:
    return Stroke(edges=(Line(a, b),), style="centre")


def _ray(angle: float, reach: float) -> Stroke:
    return _centre((0.0, 0.0), (reach * cos(angle), reach * sin(angle)))


def _body_diameter(profile: Profile, section: Section, held: Held) -> RoundDim:
    floors = [e for e in section.outer.edges if isinstance(e, Arc) and e.feature == "body"]
    if profile.ribs is None or not floors:
        angles: tuple[float, ...] = tuple(a * pi / 12 for a in (4, 8, 16, 20))
    else:
        angles = tuple(e.angle + e.sweep * share for share in (0.5, 0.3, 0.7) for e in floors)
    diameter = profile.body.diameter
    return RoundDim(
        stated=stated(diameter, "body.diameter", held=held.within(diameter), before="⌀"),
        centre=(0.0, 0.0),
        radius=diameter / 2,
        angles=best_slope_first(angles),
        diameter=True,
    )


def _pitch_dim(key: str, count: int, first: float, reach: float) -> list[AngleDim]:
    """The equal spacing all round: count and angle of one step; one alone has none (the table says 1)."""
    if count < 2:
        return []
    step = tau / count
    spoken = stated(step, key, times=count, after=" (= 360°)")
    return [AngleDim(stated=spoken, vertex=(0.0, 0.0), start=first, sweep=step, reach=OVERRUN * reach)]


def _chamber_rays(profile: Profile, section: Section, dims: list[Dim]) -> list[Stroke]:
    """Centre lines of two neighbouring webs, on the far side from rib 1, and the step between them."""
    chambers = profile.chambers
    if chambers is None or chambers.count < 2 or not section.chambers:
        return []
    step = tau / chambers.count
    away = (profile.ribs.start if profile.ribs is not None else 0.0) + 1.15 * pi
    number = min(range(chambers.count), key=lambda n: abs(_turns_to(chambers.start + (n + 0.5) * step, away)))
    first = chambers.start + number * step
    dims += _pitch_dim("chambers.count", chambers.count, first, profile.tip_radius)
    return [_ray(first + n * step, OVERRUN * profile.tip_radius) for n in (0, 1)]


def _turns_to(a: float, b: float) -> float:
    return (a - b + pi) % tau - pi


def _pitch_circle(section: Section) -> RoundDim:
    hole = section.chambers[0].edges[0]
    assert isinstance(hole, Arc)
    around = hypot(*hole.centre)
    return RoundDim(
        stated=stated(2 * around, before="⌀", reference=True),
        centre=(0.0, 0.0),
        radius=around,
        angles=tuple(a * pi / 12 for a in (8, 4, 20, 16, 9)),
        diameter=True,
    )


def _rings(profile: Profile, section: Section, details: list[View]) -> tuple[Ring, ...]:
    rings = []
    for view in details:
        if view.name == "rib":
            assert profile.ribs is not None
            middle = profile.body_radius + profile.ribs.height / 2
            half = max(profile.ribs.height, profile.ribs.tip_width) * 0.85
            angle = profile.ribs.start
        else:
            assert profile.chambers is not None
            number = shown_chamber(section)
            points = boundary_points(section.chambers[number], 1.0)
            low, high = points.min(axis=0), points.max(axis=0)
            at = ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2)
            middle, angle = hypot(*at), angle_to((float(at[0]), float(at[1])))
            half = float(np.max(np.hypot(points[:, 0] - at[0], points[:, 1] - at[1]))) * 1.04
        towards = angle + (0.7 if view.name == "rib" else 0.0)
        rings.append(
            Ring(
                centre=(middle * cos(angle), middle * sin(angle)),
                radius=half,
                letter=view.title,
                away=(cos(towards), sin(towards)),
            )
        )
    return tuple(rings)
