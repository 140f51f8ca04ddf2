"""The exact surfaces of a segment, looked at from a point: how far, on which feature, which way it faces.

The outer surface is a section carried along z with a twist, so a point turned back by the twist at its height
is compared with a plane curve of arcs and lines; bore and chambers run straight.  Ribs and chambers repeat, so
a point is first turned into the one that is drawn.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi, tau

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.distance import INTERIOR, EdgeTable, Ints, edge_table, kept, nearest
from rollergen.shape.outline import Floats, Outline, turned
from rollergen.shape.rib import outer_outline
from rollergen.shape.section import Section
from rollergen.spec.profile import Profile

OUTER, BORE, CHAMBER, LOW_END, HIGH_END = 0, 1, 2, 3, 4
SURFACES = ("outer", "bore", "chambers", "low end", "high end")
FACING = 2.0  # mm that a surface facing away counts as further off


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ring:
    """One outline that repeats ``count`` times about the axis; the drawn one has its middle on +x.

    ``start``: angle of the first (rad); ``twist``: rad per mm; ``side`` +1 where the outline holds rubber, -1
    for a hole; ``features`` names the rows of ``table``.
    """

    table: EdgeTable
    features: tuple[str, ...]
    count: int
    start: float
    twist: float
    side: float

    def names(self, edge: Ints) -> NDArray[np.str_]:
        """The feature of each row; one past the last is taken for the last."""
        found: NDArray[np.str_] = np.array(self.features)[edge.clip(0, len(self.features) - 1)]
        return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """What points see of one surface: signed distance (mm, + is too much rubber), row of the nearest edge,
    which repeat, and the unit normal out of the rubber there (n, 3)."""

    deviation: Floats
    edge: Ints
    number: Ints
    normal: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surfaces:
    """All surfaces of one segment; a ring is None where there is no such surface."""

    outer: Ring
    bore: Ring
    chambers: Ring | None
    length: float
    edge_chamfer: float
    lead_in: float
    radius: float

    @property
    def rings(self) -> tuple[tuple[int, Ring], ...]:
        both = ((OUTER, self.outer), (BORE, self.bore))
        return both if self.chambers is None else (*both, (CHAMBER, self.chambers))

    def turned(self, bore: float, chambers: float, *, outer: float = 0.0) -> Surfaces:
        """The same with its surfaces turned about the axis, each by so much (rad)."""
        inner = self.chambers
        return replace(
            self,
            outer=replace(self.outer, start=self.outer.start + outer),
            bore=replace(self.bore, start=self.bore.start + bore),
            chambers=None if inner is None else replace(inner, start=inner.start + chambers),
        )


def direction_of(angle: Floats, count: int) -> Ints:
    """Which of ``count`` equal sectors about the axis each angle (rad) lies in, the first from +x on."""
    found: Ints = np.minimum(((angle / tau) % 1.0 * count).astype(np.int64), count - 1)
    return found


def surfaces_of(profile: Profile, section: Section) -> Surfaces:
    """The surfaces a profile asks for."""
    return Surfaces(
        outer=outer_ring(profile),
        bore=hole_ring(section.bore, count=1, start=0.0),
        chambers=None
        if profile.chambers is None or not section.chambers
        else chamber_ring(section.chambers[0], profile.chambers.count, profile.chambers.start),
        length=profile.body.free_length,
        edge_chamfer=profile.body.edge_chamfer,
        lead_in=profile.bore.lead_in,
        radius=profile.tip_radius,
    )


def outer_ring(profile: Profile) -> Ring:
    """One rib with the groove floors on either side of it."""
    ribs = profile.ribs
    if ribs is None:
        return _ring(outer_outline(profile), range(1), count=1, start=0.0, twist=0.0, side=1.0)
    outline = outer_outline(profile.model_copy(update={"ribs": ribs.model_copy(update={"start": 0.0})}))
    whole, each = len(outline.edges), len(outline.edges) // ribs.count
    rows = range(whole) if ribs.count == 1 else sorted({n % whole for n in range(-3, each + 3)})
    return _ring(outline, rows, count=ribs.count, start=ribs.start, twist=profile.turn_per_mm, side=1.0)


def hole_ring(outline: Outline, *, count: int, start: float) -> Ring:
    """A straight hole drawn with its middle on +x."""
    return _ring(outline, range(len(outline.edges)), count=count, start=start, twist=0.0, side=-1.0)


def chamber_ring(first: Outline, count: int, start: float) -> Ring:
    """Chambers from the outline of chamber 1, half a step after web 1 at ``start``."""
    middle = start + pi / count
    return hole_ring(turned(first, -middle), count=count, start=middle)


def _ring(
    outline: Outline, rows: range | list[int], *, count: int, start: float, twist: float, side: float
) -> Ring:
    chosen = np.array(list(rows), dtype=np.int64)
    return Ring(
        table=kept(edge_table(outline), chosen),
        features=tuple(outline.edges[row].feature for row in chosen),
        count=count, start=start, twist=twist, side=side,
    )  # fmt: skip


def look_at(ring: Ring, points: Floats, *, twist_angle: Floats | None = None) -> Look:
    """What points (n, 3) in the part's frame see of a ring.

    ``twist_angle``: how far the section is turned at each point where that is not twist times z.  The distance in
    the section times the cosine of the surface's lean is the distance in space, exact to first order: at 1 mm off a
    surface of 4 mm radius leaning 30 deg the two differ by under 0.04 mm.
    """
    turn = ring.start + (ring.twist * points[:, 2] if twist_angle is None else twist_angle)
    step = tau / ring.count
    at = np.arctan2(points[:, 1], points[:, 0]) - turn
    number = np.rint(at / step).astype(np.int64)
    turn = turn + number * step
    c, s = np.cos(turn), np.sin(turn)
    flat = np.stack([c * points[:, 0] + s * points[:, 1], c * points[:, 1] - s * points[:, 0]], axis=1)
    distance, edge, place = nearest(ring.table, flat)
    n = _section_normal(ring.table, flat, distance, edge, place)
    climb = -ring.twist * (flat[:, 0] * n[:, 1] - flat[:, 1] * n[:, 0])
    length = np.sqrt(1 + climb * climb)
    normal = np.stack([c * n[:, 0] - s * n[:, 1], s * n[:, 0] + c * n[:, 1], climb], axis=1)
    return Look(
        deviation=ring.side * distance / length,
        edge=edge,
        number=number % ring.count,
        normal=ring.side * normal / length[:, None],
    )


def _section_normal(table: EdgeTable, flat: Floats, distance: Floats, edge: Ints, place: Ints) -> Floats:
    """Unit gradient of the signed distance in the section, (n, 2)."""
    from_centre = flat - table.centre[edge]
    size = np.sqrt((from_centre * from_centre).sum(axis=1))
    radial = table.side[edge, None] * from_centre / np.maximum(size, 1e-12)[:, None]
    n = np.where(table.is_arc[edge, None], radial, table.normal[edge])
    corner = np.flatnonzero((place != INTERIOR) & (np.abs(distance) > 1e-6))
    if len(corner):
        ends = np.where((place[corner] == 1)[:, None], table.start[edge[corner]], table.end[edge[corner]])
        n[corner] = (flat[corner] - ends) / distance[corner, None]
    return n


def nearest_surface(
    surfaces: Surfaces,
    points: Floats,
    normals: Floats | None,
    *,
    turn_ratio: float = 1.0,
    axial: float = 1.0,
    ends: tuple[float, float] | None = None,
) -> tuple[Ints, Look]:
    """(which surface, look) of every point: the nearest that faces the same way.

    ``turn_ratio`` multiplies the twist and ``axial`` the height, both about mid length.  ``normals`` with a sign
    only; where there are none, the nearest alone decides.  ``ends``:
    measured heights of the ends (mm) where they are not those of the profile.
    """
    half = surfaces.length / 2
    z = half + (points[:, 2] - half) / axial
    bottom, top = (0.0, surfaces.length) if ends is None else (half + (e - half) / axial for e in ends)
    looks = [_end(z, bottom, low=True), _end(z, top, low=False)]
    kinds = [LOW_END, HIGH_END]
    for kind, ring in surfaces.rings:
        angle = ring.twist * (half + turn_ratio * (points[:, 2] - half))
        looks.append(look_at(replace(ring, twist=ring.twist * turn_ratio), points, twist_angle=angle))
        kinds.append(kind)
    off = np.stack([np.abs(look.deviation) for look in looks])
    beyond = np.maximum(np.maximum(bottom - z, z - top), 0.0)
    off[2:] += beyond
    # ends reach as far as the rubber does: not past the outer surface, not into a hole
    off[:2] += np.maximum(np.max([look.deviation for look in looks[2:]], axis=0), 0.0)
    if normals is not None:
        off += FACING * np.stack([1 - np.einsum("ij,ij->i", look.normal, normals) for look in looks])
    best = off.argmin(axis=0)
    row = np.arange(len(points))

    def chosen(name: str) -> Floats:
        found: Floats = np.stack([getattr(look, name) for look in looks])[best, row]
        return found

    return np.array(kinds)[best], Look(
        deviation=chosen("deviation"),
        edge=chosen("edge").astype(np.int64),
        number=chosen("number").astype(np.int64),
        normal=chosen("normal"),
    )


def _end(z: Floats, level: float, *, low: bool) -> Look:
    nothing = np.zeros(len(z), dtype=np.int64)
    normal = np.zeros((len(z), 3))
    normal[:, 2] = -1.0 if low else 1.0
    return Look(deviation=level - z if low else z - level, edge=nothing, number=nothing, normal=normal)
