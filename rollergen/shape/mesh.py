"""A triangle mesh of a Part, swept directly: no kernel, no boolean, as coarse as the asked error allows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from rollergen.errors import BirthError
from rollergen.shape.mesh_check import check_mesh
from rollergen.shape.mesh_plan import Edges, Ints, SidePlan, edges_of, plan_side
from rollergen.shape.mesh_side import Wall, build_wall
from rollergen.shape.outline import Floats
from rollergen.shape.part import Cap, Part, Side

CREEPS, MOST_STRETCH = 4, 64  # plans refined by the miss alone; layers more than a step's own plan
MOST_TRIES = 24  # plans per side; two or three are usual


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """Closed triangle mesh (mm): ``vertices`` (n, 3), ``triangles`` (m, 3) counter-clockwise from outside.

    ``deviation_mm``: greatest distance, in the transverse section, of facet points to the exact edge
    they stand for, measured.  ``asked_mm``: what was asked.  ``surface`` (m,) numbers the smooth
    surfaces (a change of number is a sharp edge).
    """

    vertices: Floats
    triangles: NDArray[np.int32]
    surface: NDArray[np.int32]
    deviation_mm: float
    asked_mm: float


def build_mesh(
    part: Part,
    *,
    chord_error: float = 0.05,
    check: bool = True,
    carriers: Mapping[int, Side] = MappingProxyType({}),
) -> Mesh:
    """Mesh a part so that no facet strays more than ``chord_error`` (mm) from the exact surface.

    The deviation is measured on every kind of facet and the plan refined until it holds.  Every vertex
    lies on the exact surface, so convex walls are approached from inside.  ``check``: the mesh is held
    against its closed forms where it is born.  ``carriers``: for some sides (by number) a longer side with the
    same outline and twist whose rows include theirs; the side is then cut exactly as that one, so that parts
    that touch (a casting and its mould) have the same facets there.
    Errors: ValueError for a chord error not above 0 or beyond reach, and for a carrier that does not carry;
    BirthError when the check fails.
    """
    if not 0 < chord_error < np.inf:
        raise ValueError(f"chord error {chord_error:.6g} mm: more than 0 is needed")
    walls = tuple(
        _carried_wall(side, carriers[number], chord_error)
        if number in carriers
        else _fitting_wall(side, chord_error)
        for number, side in enumerate(part.sides)
    )
    first = np.cumsum([0, *(len(wall.points) for wall in walls)])
    facets = [wall.facets + start for wall, start in zip(walls, first[:-1], strict=True)]
    groups = np.cumsum([0, *(int(wall.surface.max()) + 1 for wall in walls)])
    surface = [wall.surface + start for wall, start in zip(walls, groups[:-1], strict=True)]
    points = np.concatenate([wall.points for wall in walls])
    for number, cap in enumerate(part.caps):
        flat = _cap_facets(cap, walls, first, points)
        facets.append(flat)
        surface.append(np.full(len(flat), groups[-1] + number))
    mesh = Mesh(
        vertices=points,
        triangles=np.concatenate(facets).astype(np.int32),
        surface=np.concatenate(surface).astype(np.int32),
        deviation_mm=float(max(wall.error.max() for wall in walls)),
        asked_mm=chord_error,
    )
    if check:
        check_mesh(part, mesh.vertices, mesh.triangles, mesh.deviation_mm, chord_error)
    return mesh


def _fitting_wall(side: Side, asked: float) -> Wall:
    """The wall on the plan that keeps what was asked."""
    return _fitting_plan(side, asked)[1]


def _carried_wall(side: Side, carrier: Side, asked: float) -> Wall:
    """The wall on the rows its carrier's plan has for it."""
    rows = list(zip(carrier.levels, carrier.levels[1:], strict=False))
    own = list(zip(side.levels, side.levels[1:], strict=False))
    if (
        carrier.outline != side.outline
        or carrier.turn_per_mm != side.turn_per_mm
        or any(row not in rows for row in own)
    ):
        raise ValueError(f"a carrier needs the same outline, twist and rows: {own} are not all in {rows}")
    plan, _ = _fitting_plan(carrier, asked)
    which = [rows.index(row) for row in own]
    part = SidePlan(pieces=plan.pieces, layers=plan.layers[which], strip=plan.strip[which])
    return build_wall(side, edges_of(side.outline), part)


def _fitting_plan(side: Side, asked: float) -> tuple[SidePlan, Wall]:
    """Plan, build, measure; where an edge strays, plan that edge finer."""
    edges: Edges = edges_of(side.outline)
    tolerance = np.full(len(edges.arc), asked)
    stretch = np.ones(len(side.levels) - 1, dtype=np.int64)
    for number in range(MOST_TRIES):
        plan = plan_side(side, edges, tolerance, stretch)
        wall = build_wall(side, edges, plan)
        if wall.error.max() <= asked:
            return plan, wall
        worst = wall.error.max(axis=0)
        # what strays by a hair would creep towards what was asked: after a few plans it has to stride
        finer = np.minimum(asked / worst, 1.0) * (0.998 if number < CREEPS else 0.9)
        tolerance = np.where(worst > asked, tolerance * finer, tolerance)
        # a mitred corner between arcs runs on a curve while the offset grows: only layers help there
        steps = np.diff([d for _, d in side.levels]) != 0
        stretch = np.where(
            steps & (wall.error.max(axis=1) > asked), np.minimum(stretch * 2, MOST_STRETCH), stretch
        )
    raise BirthError(
        f"mesh of a side strays {wall.error.max():.4g} mm after {MOST_TRIES} plans, asked {asked:.4g}"
    )


def _cap_facets(cap: Cap, walls: tuple[Wall, ...], first: Ints, points: Floats) -> Ints:
    """Flat facets on the vertices the sides already have; none is added, none is left out."""
    from manifold3d import triangulate

    def ring(end: tuple[int, str]) -> Ints:
        index, which = end
        wall = walls[index]
        found: Ints = (wall.low if which == "low" else wall.high) + first[index]
        return found

    rings = [ring(cap.outer), *(ring(hole)[::-1] for hole in cap.holes)]
    order = np.concatenate(rings)
    flat = np.asarray(triangulate([points[r, :2] for r in rings]), dtype=np.int64)
    found: Ints = order[flat]
    return found if cap.up else found[:, ::-1]
