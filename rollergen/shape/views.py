"""What a dimensioned drawing shows, as plain data in mm of the part: views, their strokes, their dimensions.

Where a dimension's text goes on the paper is not said here: a view knows the part, a sheet knows the paper.
Every view has a frame of its own, x to the right and y up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rollergen.shape.outline import Edge, Outline, Point

# visible: edges and contours; narrow: edges without a corner; hidden; centre; phantom: what is not there;
# broken: where a detail is broken off
Style = Literal["visible", "narrow", "hidden", "centre", "phantom", "broken"]
Side = Literal["above", "below", "left", "right", "leader"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A chain of exact edges (mm) drawn in one style.

    ``beside``: how near it follows another edge (mm); a sheet leaves it out where both would run together.
    """

    edges: tuple[Edge, ...]
    style: Style = "visible"
    beside: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """A sampled curve through ``points`` (mm), for what is neither arc nor line (a helix seen from the side)."""

    points: tuple[Point, ...]
    style: Style = "visible"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What a dimension says: the profile ``keys`` it states, ``value`` in mm or rad, its plus-minus.

    ``plus_minus`` is None where the stated class has none; ``reference`` puts the whole in brackets (it
    follows from other dimensions and is not to be checked).  ``before`` and ``after`` stand round the number.
    """

    keys: tuple[str, ...]
    value: float
    plus_minus: float | None = None
    before: str = ""
    after: str = ""
    reference: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthDim:
    """Distance from ``a`` to ``b`` measured along the unit vector ``along``.

    ``side`` says on which side of the view the dimension line lies; "leader" writes beside the view what is
    measured in the middle of it.
    """

    stated: Stated
    a: Point
    b: Point
    along: Point
    side: Side
    towards: Point = (1.0, 0.0)  # of the leader


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundDim:
    """Radius or diameter of an arc about ``centre``: ``angles`` are where it may be touched, best first."""

    stated: Stated
    centre: Point
    radius: float
    angles: tuple[float, ...]
    diameter: bool
    from_centre: bool = (
        False  # the leader comes from the centre's side: a fillet, whose centre lies in the air
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class AngleDim:
    """Angle from ``start`` over ``sweep`` > 0 (rad) about ``vertex``.

    The part's own lines end ``reach`` mm from there; the arms begin at ``arms_from``, None: at ``reach``.
    """

    stated: Stated
    vertex: Point
    start: float
    sweep: float
    reach: float
    arms_from: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ArcDim:
    """Length along an arc about ``centre`` from ``start`` over ``sweep`` > 0 (rad)."""

    stated: Stated
    centre: Point
    radius: float
    start: float
    sweep: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pointer:
    """Words with a leader to a place that has no measure of its own."""

    keys: tuple[str, ...]
    at: tuple[Point, ...]
    words: str
    towards: Point


Dim = LengthDim | RoundDim | AngleDim | ArcDim | Pointer


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A letter or short word at a place, moved off it along ``away`` (unit vector) by the sheet."""

    at: Point
    words: str
    away: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """A narrow circle round what a detail shows larger, with its letter."""

    centre: Point
    radius: float
    letter: str
    away: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class CutMark:
    """Trace of a cutting plane across the whole view at ``x``; one looks along +x or -x of the paper."""

    x: float
    letter: str
    looks: Literal[1, -1]


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One view: ``regions`` are hatched by the even-odd rule; ``enlarged``: drawn larger than the sheet's scale.

    ``alone`` is its title where it does not stand on one axis with its neighbour.
    """

    name: str
    title: str
    strokes: tuple[Stroke | Trace, ...]
    regions: tuple[tuple[Outline, ...], ...] = ()
    dims: tuple[Dim, ...] = ()
    marks: tuple[Mark, ...] = ()
    rings: tuple[Ring, ...] = ()
    cuts: tuple[CutMark, ...] = ()
    enlarged: bool = False
    alone: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One row of the sheet's table: what cannot be measured on a view, with the profile ``keys`` it states."""

    keys: tuple[str, ...]
    label: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawingContent:
    """All a drawing of one segment says: views that stand side by side on one axis, then the others."""

    name: str
    in_line: tuple[View, ...]
    others: tuple[View, ...]
    facts: tuple[Fact, ...]
    notes: tuple[str, ...]
    tolerance_class: str
    material: str
    mass: str

    @property
    def views(self) -> tuple[View, ...]:
        return (*self.in_line, *self.others)
