"""Where the compound goes in and the air goes out: gate at the widest rubber, vents at the rib ends.

Both lie in the top end of the cavity, whose section is turned by the whole twist against the bottom's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, cos, floor, hypot, inf, pi, sin, tau

import numpy as np

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.distance import EdgeTable, edge_table, joined, signed_distance
from rollergen.shape.offset import inward
from rollergen.shape.outline import Floats, Outline, Point, circle, turned
from rollergen.shape.part_holes import backwards
from rollergen.tooling.cavity import Cavity
from rollergen.tooling.skin import LEAST_METAL

EDGE = 1.0  # mm of rubber face kept between a gate's edge and the next edge
VENT_EDGE = 0.4
ROUNDING = 1e-9  # mm
LARGEST_GATE, SMALLEST_GATE = 12.0, 3.0  # mm, common practice, no source
GRID, SEEDS, HALVINGS = 45, 12, 30
PARENT = (np.arange(2 * GRID + 1) + 1) // 3  # the third grid line nearest to each
PLAIN_VENTS = 4  # of a segment without ribs


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A round opening in the top end (mm): ``free`` is the radius of the largest circle of rubber about it."""

    at: Point
    diameter: float
    free: float


def top_face(cavity: Cavity) -> tuple[Outline, tuple[Outline, ...]]:
    """Outer curve and holes of the part's top end, as they lie in the mould."""
    across, _ = cavity.chamfers[1]
    outer = inward(cavity.section.outer, across) if across else cavity.section.outer
    bore = inward(cavity.section.bore, cavity.bore_offsets[1] - cavity.lead_in[0])
    offset = cavity.chamber_offsets[1]
    return turned(outer, cavity.twist), (bore, *(inward(c, offset) for c in cavity.section.chambers))


def gate_of(cavity: Cavity, vents: Sequence[Opening], *, diameter: float | None, at: Point | None) -> Opening:
    """The gate: at the widest rubber of the top end clear of the vents, unless ``at`` says where.

    As large as it may be up to ``LARGEST_GATE`` by default.

    Raises ProfileError, with the diameter or the place that works, when it would cut a chamber, the bore, the outer
    curve or a vent.
    """
    outer, holes = top_face(cavity)
    if at is None:
        place, free = _widest_place(cavity, outer, holes, vents)
        clear = inf  # vents are in ``free``
    else:
        place, free = at, float(_free(face_table(outer, holes), np.array([at]))[0])
        clear = min(2 * (_between(at, vent.at) - LEAST_METAL) - vent.diameter for vent in vents)
    most = min(2 * (free - EDGE), clear)
    wanted = min(LARGEST_GATE, most) if diameter is None else diameter
    if SMALLEST_GATE - ROUNDING <= wanted <= most + ROUNDING:
        return Opening(at=place, diameter=wanted, free=free)
    if most >= SMALLEST_GATE:
        raise ProfileError([_wrong_size(place, free, wanted, most, at is None)])
    if at is None:
        raise ProfileError(
            [
                Complaint(
                    key="--gate",
                    message=f"the widest rubber of the top end has {free:.2f} mm about it, no room for a gate of "
                    f"{SMALLEST_GATE:g} mm, the least that pours, and {EDGE:g} mm at its edge; make chambers.wall, "
                    f"chambers.web or chambers.hub_wall {2 * (EDGE - free) + SMALLEST_GATE:.2f} mm thicker",
                )
            ]
        )
    raise ProfileError([_wrong_place(cavity, vents, at, (free, clear))])


def _wrong_size(place: Point, free: float, wanted: float, most: float, widest_place: bool) -> Complaint:
    where = "the widest rubber" if widest_place else "the place asked for"
    return Complaint(
        key="--gate",
        message=f"{wanted:.2f} mm at {where}, ({place[0]:.2f}, {place[1]:.2f}) mm: there are {free:.2f} mm of rubber about "
        f"it, {EDGE:g} mm stay at the edge and {LEAST_METAL:g} mm to a vent, {SMALLEST_GATE:g} mm is the least that pours; "
        f"use {SMALLEST_GATE:g} mm to {floor(100 * most + ROUNDING) / 100:.2f} mm",
    )


def _wrong_place(cavity: Cavity, vents: Sequence[Opening], at: Point, room: tuple[float, float]) -> Complaint:
    """Says in what a place lies or what it is too near to, and names the widest rubber."""
    free, clear = room
    outer, holes = top_face(cavity)
    names = ["the bore", *(f"chamber {number}" for number in range(1, len(holes)))]
    inside = [-float(signed_distance(hole, np.array([at]))[0]) for hole in holes]
    outside = float(signed_distance(outer, np.array([at]))[0])
    deepest = max(range(len(holes)), key=lambda i: inside[i])
    if inside[deepest] > 0:
        fault = f"lies {inside[deepest]:.2f} mm inside {names[deepest]}"
    elif outside > 0:
        fault = f"lies {outside:.2f} mm outside the part"
    elif clear < 2 * (free - EDGE):
        nearest = min(range(len(vents)), key=lambda i: _between(at, vents[i].at))
        fault = f"lies {_between(at, vents[nearest].at):.2f} mm from the middle of vent {nearest + 1}"
    else:
        fault = f"has {free:.2f} mm of rubber about it"
    place, widest_free = _widest_place(cavity, outer, holes, vents)
    angle = round(atan2(place[1], place[0]) * 180 / pi, 2) + 0.0  # never -0.00
    way = f'"{hypot(*place):.2f} mm, {angle:.2f} deg"'
    return Complaint(
        key="--gate-at",
        message=f"({at[0]:.2f}, {at[1]:.2f}) mm {fault}: a gate of {SMALLEST_GATE:g} mm, the least that pours, with "
        f"{EDGE:g} mm of rubber at its edge does not fit; the widest rubber is at {way} with {widest_free:.2f} mm about it",
    )


def _widest_place(
    cavity: Cavity, outer: Outline, holes: Sequence[Outline], vents: Sequence[Opening]
) -> tuple[Point, float]:
    air = [circle(vent.diameter / 2, "vent", centre=vent.at) for vent in vents]
    return widest(face_table(outer, [*holes, *air]), cavity.tip_radius)


def _between(a: Point, b: Point) -> float:
    return hypot(a[0] - b[0], a[1] - b[1])


def vents_of(cavity: Cavity, *, diameter: float) -> tuple[Opening, ...]:
    """One vent at the top end of every rib, as near to the tip as the face allows; four round a plain sleeve."""
    face = face_table(*top_face(cavity))
    angles = [angle + cavity.twist for angle in cavity.rib_angles]
    if not angles:
        angles = [pi / 4 + tau * number / PLAIN_VENTS for number in range(PLAIN_VENTS)]
    whole = np.linspace(0.3, 1.0, 1401) * cavity.tip_radius
    vents, need = [], diameter / 2 + VENT_EDGE
    for angle in angles:
        way = np.array([cos(angle), sin(angle)])
        reach = _hopeful(face, whole, way, need)
        free = _free(face, reach[:, None] * way)
        fits = np.flatnonzero(free >= need)
        if not len(fits):
            raise ProfileError(
                [
                    Complaint(
                        key="--vent",
                        message=f"{diameter:g} mm does not fit the rib end at {angle % tau * 180 / pi:.1f} deg: there are "
                        f"{free.max():.2f} mm of rubber; use {max(2 * (float(free.max()) - VENT_EDGE), 0):.2f} mm or less",
                    )
                ]
            )
        # the outermost place that fits; without ribs the middle of the wall, where most is left
        best = int(fits[-1]) if cavity.rib_angles else int(np.argmax(free))
        x, y = (reach[best] * way).tolist()
        vents.append(Opening(at=(x, y), diameter=diameter, free=float(free[best])))
    return tuple(vents)


def _hopeful(face: EdgeTable, reach: Floats, way: Floats, need: float) -> Floats:
    """Those of the evenly spaced ``reach`` that can be as free as ``need`` or are the freest, told from every tenth.

    Room changes by no more than one moves.
    """
    coarse = _free(face, reach[::10, None] * way)
    stride = 5.001 * float(reach[1] - reach[0])
    hopeful = coarse + stride >= min(need, float(coarse.max()))
    return reach[hopeful[(np.arange(len(reach)) + 5) // 10]]


def face_table(outer: Outline, holes: Sequence[Outline]) -> EdgeTable:
    """Every edge of a flat face in one table: ``signed_distance`` to it is negative on the rubber."""
    return joined([edge_table(outer), *(edge_table(Outline(backwards(hole.edges))) for hole in holes)])


def _free(face: EdgeTable, points: Floats) -> Floats:
    """Distance of points (n, 2) to the nearest edge of the face, negative off the rubber."""
    return -signed_distance(face, points)


def widest(face: EdgeTable, reach: float) -> tuple[Point, float]:
    """Centre and radius (mm) of the largest circle of rubber; of equal ones the first counter-clockwise from +x.

    Exact distances on a grid, its best places refined until the step is under a nanometre.
    """
    line = np.linspace(-reach, reach, 2 * GRID + 1)
    x, y = np.meshgrid(line, line)
    step = reach / GRID
    # every third point first: no point is freer than its neighbour by more than the way between them
    free = _free(face, np.stack([x[::3, ::3].ravel(), y[::3, ::3].ravel()], axis=1))
    hopeful = (free + 1.5 * step >= np.sort(free)[-SEEDS]).reshape(2 * (GRID // 3) + 1, -1)
    near = hopeful[np.ix_(PARENT, PARENT)]
    points = np.stack([x[near], y[near]], axis=1)
    best = points[np.argsort(-_free(face, points), kind="stable")[:SEEDS]]
    star = np.array([(i, j) for i in range(-2, 3) for j in range(-2, 3)]) / 2
    for _ in range(HALVINGS):
        around = best[:, None] + step * star
        free = _free(face, around.reshape(-1, 2)).reshape(len(best), -1)
        best = around[np.arange(len(best)), free.argmax(axis=1)]
        step *= 0.5
    free = _free(face, best)
    equal = best[free >= free.max() - 1e-6]
    angle = [round(atan2(py, px), 6) % tau for px, py in equal.tolist()]
    px, py = equal[min(range(len(equal)), key=lambda i: (angle[i], -hypot(*equal[i].tolist())))].tolist()
    return (px, py), float(free.max())
