"""A segment cut across for a small printer: pieces that clock themselves, ribs that run on by construction.

Every piece is described at its own height of the whole segment, with absolute z, so the helix continues.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isclose

import numpy as np

from rollergen.shape.outline import Outline
from rollergen.shape.part import Cap, Part, Side
from rollergen.shape.properties import area_of
from rollergen.shape.section import Section
from rollergen.spec.trace import Figure
from rollergen.tooling.filament import Span, net_area
from rollergen.tooling.print_joint import Joint, Seat

CHAMFER_NODES = 8  # Gauss nodes over a 45 deg cut; the area is of degree 2 in it where no corner is sharp


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """What is done to edges (mm, 45 deg): ``foot`` on the plate, ``chamfer`` outside and ``lead_in`` of the bore as cast.

    The cast chamfer stays at the upper end only: on the plate it would hang over, the foot's relief takes its place.
    """

    foot: float
    chamfer: float
    lead_in: float

    @property
    def bore_foot(self) -> float:
        return max(self.foot, self.lead_in)


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece from ``low`` to ``high`` of the whole, its step reaching up to ``top`` (mm)."""

    part: Part
    low: float
    high: float
    top: float
    first_layer: float  # mm2
    spans: tuple[Span, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """Pieces from the plate end up, and what they lack against the plain segment without any chamfer (mm3)."""

    pieces: tuple[Piece, ...]
    cuts: tuple[float, ...]
    plain: float
    joints: float
    reliefs: float
    upper_end: float


def split(
    section: Section, *, name: str, colour: str, turn_per_mm: float, length: float, cuts: Sequence[float],
    seat: Seat | None, joint: Joint, ends: Ends,
) -> Pieces:  # fmt: skip
    """The pieces of one segment, one without cuts.  ``seat`` is needed where there are cuts."""
    bounds = [0.0, *cuts, length]
    pieces, joints, reliefs = [], 0.0, 0.0
    for number, (low, high) in enumerate(zip(bounds, bounds[1:], strict=False)):
        first, last = number == 0, number == len(bounds) - 2
        below, above = (None if first else seat), (None if last else seat)
        part = _part(
            section, name=f"{name} piece {number + 1}" if cuts else name, colour=colour, turn=turn_per_mm,
            low=low, high=high, below=below, above=above, joint=joint, ends=ends,
        )  # fmt: skip
        bored = section if below is None else _bored(section, below.recess)
        foot = ends.bore_foot if below is None else ends.foot

        def standing(moved: float, *, bored: Section = bored, foot: float = foot) -> float:
            widened = _bored(bored, _out(bored.bore, foot * moved))
            return net_area(_moved_but_bore(widened, ends.foot * moved))

        reliefs += _relief(section.outer, ends.foot) + sum(_relief(c, -ends.foot) for c in section.chambers)
        reliefs += _relief(bored.bore, -foot)
        if below is not None:
            deep = joint.height + joint.above
            joints += (area_of(below.recess) - area_of(section.bore)) * deep
            joints -= (area_of(below.step) - area_of(section.bore)) * joint.height
        pieces.append(
            Piece(
                part=part, low=low, high=high, top=high + (joint.height if above else 0.0),
                first_layer=standing(1.0), spans=_spans(section, low, high, below, above, joint),
            )
        )  # fmt: skip
    return Pieces(
        pieces=tuple(pieces), cuts=tuple(cuts), plain=net_area(section) * length, joints=joints, reliefs=reliefs,
        upper_end=_relief(section.outer, ends.chamfer) + _relief(section.bore, -ends.lead_in),
    )  # fmt: skip


def _part(
    section: Section, *, name: str, colour: str, turn: float, low: float, high: float, below: Seat | None,
    above: Seat | None, joint: Joint, ends: Ends,
) -> Part:  # fmt: skip
    """One piece as sides and caps: outer, bore, chambers, then recess and step where there are any."""
    deep = 0.0 if below is None else joint.height + joint.above
    tall = 0.0 if above is None else joint.height
    chamfer, lead_in = (0.0, 0.0) if above else (ends.chamfer, ends.lead_in)
    bore_foot = 0.0 if below else ends.bore_foot
    sides = [
        Side(outline=section.outer, levels=levels(low, high, ends.foot, chamfer), turn_per_mm=turn),
        _hole(section.bore, levels(low + deep, high + tall, -bore_foot, -lead_in)),
        *(_hole(chamber, levels(low, high, -ends.foot, 0.0)) for chamber in section.chambers),
    ]
    chambers = range(2, len(sides))
    floor, roof, caps = (1, "low"), (1, "high"), []
    if below is not None:
        sides.append(_hole(below.recess, levels(low, low + deep, -ends.foot, 0.0)))
        floor = (len(sides) - 1, "low")
        caps.append(Cap(z=low + deep, up=False, outer=(len(sides) - 1, "high"), holes=((1, "low"),)))
    if above is not None:
        sides.append(Side(outline=above.step, levels=((high, 0.0), (high + tall, 0.0))))
        roof = (len(sides) - 1, "low")
        caps.append(Cap(z=high + tall, up=True, outer=(len(sides) - 1, "high"), holes=((1, "high"),)))
    caps.append(Cap(z=low, up=False, outer=(0, "low"), holes=(floor, *((n, "low") for n in chambers))))
    caps.append(Cap(z=high, up=True, outer=(0, "high"), holes=(roof, *((n, "high") for n in chambers))))
    return Part(name=name, sides=tuple(sides), caps=tuple(caps), colour=colour)


def _hole(outline: Outline, rows: tuple[tuple[float, float], ...]) -> Side:
    return Side(outline=outline, levels=rows, material_inside=False)


def levels(low: float, high: float, foot: float, top: float) -> tuple[tuple[float, float], ...]:
    """Offsets of a side: ``foot`` at its low end and ``top`` at its high one, both at 45 deg, 0 between."""
    rows = [(low, foot), (low + abs(foot), 0.0)] if foot else [(low, 0.0)]
    rows += [(high - abs(top), 0.0), (high, top)] if top else [(high, 0.0)]
    return tuple(row for n, row in enumerate(rows) if n == 0 or not isclose(row[0], rows[n - 1][0]))


def _spans(
    section: Section, low: float, high: float, below: Seat | None, above: Seat | None, joint: Joint
) -> tuple[Span, ...]:
    """Stretches of one section each, chamfers left out; solid layers of the lower end may reach beyond a recess."""
    deep = 0.0 if below is None else joint.height + joint.above
    spans = [Span(height=high - low - deep, section=section, flats=(0.0, deep))]
    if below is not None:
        spans.append(Span(height=deep, section=_bored(section, below.recess), flats=(0.0,)))
    if above is not None:
        ring = Section(outer=above.step, bore=section.bore, chambers=())
        spans.append(Span(height=joint.height, section=ring))
    return tuple(spans)


def _bored(section: Section, bore: Outline) -> Section:
    return Section(outer=section.outer, bore=bore, chambers=section.chambers)


def _out(outline: Outline, by: float) -> Outline:
    from rollergen.shape.offset import inward

    return inward(outline, -by)


def _moved_but_bore(section: Section, moved: float) -> Section:
    return Section(
        outer=_out(section.outer, -moved),
        bore=section.bore,
        chambers=tuple(_out(c, moved) for c in section.chambers),
    )


def _relief(outline: Outline, cut: float) -> float:
    """Rubber a 45 deg cut of one edge takes (mm3): the area between the outline and the moved one, over its height."""
    if cut == 0:
        return 0.0
    node, weight = np.polynomial.legendre.leggauss(CHAMFER_NODES)
    area: Callable[[float], float] = lambda share: area_of(_out(outline, -cut * share))  # noqa: E731
    whole = area(0.0)
    return (
        abs(cut)
        / 2
        * float(sum(w * abs(whole - area((1 + x) / 2)) for x, w in zip(node, weight, strict=True)))
    )


def _figure(key: str, unit: str, words: str, formula: str, limits: str = "exact") -> Figure:
    return Figure(
        key=key, words=words, formula=formula, source="geometry of the pieces", limits=limits, unit=unit
    )


FIGURES = (
    _figure("cuts_mm", "mm", "heights at which the segment is cut, from its z = 0 end, at the printed scale",
            "even pieces on whole layers, or as given"),
    _figure("printed", "-", "the pieces, from the one on the plate end up", "one entry a piece"),
    _figure("from_mm", "mm", "where a piece begins, from the segment's z = 0 end, at the printed scale", "cuts"),
    _figure("to_mm", "mm", "where a piece ends, its step not counted", "cuts"),
    _figure("piece_height_mm", "mm", "height of a piece on the printer, its step counted", "to - from + step"),
    _figure("piece_volume_mm3", "mm3", "volume of a piece, solid", "closed form of sides and caps",
            "before infill; source of the rule: Cavalieri, Steiner for moved edges"),
    _figure("plain_volume_mm3", "mm3", "volume of the segment without any chamfer", "net area x length"),
    _figure("joint_lost_mm3", "mm3", "volume the joints lack against the plain segment",
            "(recess - bore)(h + above) - (step - bore) h a joint"),
    _figure("foot_lost_mm3", "mm3", "volume the reliefs on the plate take, of all pieces",
            "area between an edge and the moved edge, integrated over 45 deg"),
    _figure("upper_end_lost_mm3", "mm3", "volume the upper end's chamfer and lead-in take", "as the reliefs"),
)  # fmt: skip
