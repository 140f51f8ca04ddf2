"""Rows of a side as faces of the kernel: shared edges, honest tolerances, no boolean and no sewing.

Every edge is made once and used by the two faces it separates.  Cap edges are true circles and lines;
corner paths are lines where they are straight, else the iso-curve both neighbours share.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import atan2, cos, hypot, sin
from typing import Any

import numpy as np

from rollergen.shape.outline import Arc, Edge, Floats
from rollergen.shape.solid_rows import Patch, Row
from rollergen.shape.spline_fit import Basis

TIGHT = 1e-7  # mm: the kernel's own confusion distance
UV = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Limb:
    """An edge of the kernel with the range of its parameter; pcurves must run over the same range."""

    edge: Any
    first: float
    last: float


@dataclass(slots=True)
class SideFaces:
    """Faces of one side, and the loops of edges where its caps begin."""

    faces: list[Any] = field(default_factory=list)
    ends: dict[str, list[Any]] = field(default_factory=dict)


def faces_of(rows: tuple[Row, ...], material_inside: bool) -> SideFaces:
    """All faces of a side, oriented so that normals leave the material."""
    from OCP.BRep import BRep_Builder

    builder = BRep_Builder()
    levels = [row.low for row in rows] + [rows[-1].high]
    heights = [row.z[0] for row in rows] + [rows[-1].z[1]]
    blur = _level_tolerance(rows)
    vertices = [
        [_vertex(builder, (*edge.start, z)) for edge in level.edges]
        for level, z in zip(levels, heights, strict=True)
    ]
    rings = [
        _ring(builder, level.edges, z, vertices[i], blur[i])
        for i, (level, z) in enumerate(zip(levels, heights, strict=True))
    ]
    made = SideFaces(
        ends={"low": [limb.edge for limb in rings[0]], "high": [limb.edge for limb in rings[-1]]}
    )
    for i, row in enumerate(rows):
        for face in _row_faces(builder, row, rings[i : i + 2], vertices[i : i + 2]):
            made.faces.append(face if material_inside else face.Reversed())
    return made


def _level_tolerance(rows: tuple[Row, ...]) -> Floats:
    """Tolerance of every cap edge, (level, edge): a true circle differs from the fitted face beside it."""
    blur = np.full((len(rows) + 1, len(rows[0].patches)), TIGHT)
    for i, row in enumerate(rows):
        own = np.array([2 * patch.round_error for patch in row.patches])
        blur[i], blur[i + 1] = np.maximum(blur[i], own), np.maximum(blur[i + 1], own)
    return blur


def _vertex(builder: Any, point: tuple[float, float, float]) -> Any:
    from OCP.gp import gp_Pnt
    from OCP.TopoDS import TopoDS_Vertex

    vertex = TopoDS_Vertex()
    builder.MakeVertex(vertex, gp_Pnt(*point), TIGHT)
    return vertex


def _limb(builder: Any, curve: Any, ends: tuple[Any, Any], reach: UV, tolerance: float) -> Limb:
    """An edge on ``curve`` from the first to the second vertex; vertices are never tighter than edges."""
    from OCP.TopAbs import TopAbs_FORWARD, TopAbs_REVERSED
    from OCP.TopoDS import TopoDS_Edge

    edge = TopoDS_Edge()
    builder.MakeEdge(edge, curve, tolerance)
    for vertex, sense in zip(ends, (TopAbs_FORWARD, TopAbs_REVERSED), strict=True):
        if tolerance > TIGHT:
            builder.UpdateVertex(vertex, tolerance)
        builder.Add(edge, vertex.Oriented(sense))
    builder.Range(edge, *reach)
    return Limb(edge, *reach)


def _ring(
    builder: Any, edges: tuple[Edge, ...], z: float, vertices: list[Any], tolerance: Floats
) -> list[Limb]:
    """The edges of one level, along the outline's travel, parameter from 0."""
    from OCP.Geom import Geom_Circle, Geom_Line
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    ring = []
    for j, edge in enumerate(edges):
        ends = (vertices[j], vertices[(j + 1) % len(vertices)])
        if isinstance(edge, Arc):
            axis = gp_Ax2(
                gp_Pnt(*edge.centre, z),
                gp_Dir(0, 0, 1 if edge.sweep > 0 else -1),
                gp_Dir(cos(edge.angle), sin(edge.angle), 0),
            )
            curve, length = Geom_Circle(axis, edge.radius), abs(edge.sweep)
        else:
            dx, dy = edge.end[0] - edge.start[0], edge.end[1] - edge.start[1]
            curve, length = Geom_Line(gp_Pnt(*edge.start, z), gp_Dir(dx, dy, 0)), hypot(dx, dy)
        ring.append(_limb(builder, curve, ends, (0.0, length), float(tolerance[j])))
    return ring


def _row_faces(builder: Any, row: Row, rings: list[list[Limb]], vertices: list[list[Any]]) -> list[Any]:
    knots = _knots(row.basis, *row.z)
    paths = [_path(builder, row, j, knots, (vertices[0][j], vertices[1][j])) for j in range(len(row.patches))]
    faces = []
    for j, patch in enumerate(row.patches):
        around = (rings[0][j], paths[(j + 1) % len(paths)], rings[1][j], paths[j])
        low, high = row.low.edges[j], row.high.edges[j]
        if patch.kind == "spline":
            face = _spline_face(builder, patch, knots, around, row)
        elif patch.kind == "plane":
            face = _plane_face(builder, row, j)
        elif isinstance(low, Arc) and isinstance(high, Arc):
            face = _turned_face(builder, patch.kind == "cone", low, high, row, around)
        else:
            raise ValueError(f"a {patch.kind} face needs arcs, got {low}")
        builder.Add(face, _wire(builder, around))
        faces.append(face)
    return faces


def _path(builder: Any, row: Row, j: int, knots: _Knots, ends: tuple[Any, Any]) -> Limb:
    """Path of corner j through the row: a line, or the spline both neighbours have as iso-curve."""
    from OCP.Geom import Geom_BSplineCurve, Geom_Line
    from OCP.gp import gp_Dir, gp_Pnt
    from OCP.TColgp import TColgp_Array1OfPnt

    poles = row.corners[j].tolist()
    if row.straight[j]:
        (x0, y0, z0), (x1, y1, z1) = poles[0], poles[-1]
        length = float(np.linalg.norm((x1 - x0, y1 - y0, z1 - z0)))
        line = Geom_Line(gp_Pnt(x0, y0, z0), gp_Dir(x1 - x0, y1 - y0, z1 - z0))
        return _limb(builder, line, ends, (0.0, length), TIGHT)
    array = TColgp_Array1OfPnt(1, len(poles))
    for i, pole in enumerate(poles, 1):
        array.SetValue(i, gp_Pnt(*pole))
    curve = Geom_BSplineCurve(array, knots.values, knots.repeats, row.basis.degree)
    exact_beside = {row.patches[j].kind, row.patches[j - 1].kind} != {"spline"}
    tolerance = max(TIGHT, 2 * row.path_error) if exact_beside else TIGHT
    return _limb(builder, curve, ends, row.z, tolerance)


@dataclass(frozen=True, slots=True)
class _Knots:
    values: Any
    repeats: Any


def _knots(basis: Basis, first: float, last: float) -> _Knots:
    from OCP.TColStd import TColStd_Array1OfInteger, TColStd_Array1OfReal

    values = TColStd_Array1OfReal(1, basis.spans + 1)
    repeats = TColStd_Array1OfInteger(1, basis.spans + 1)
    for i in range(basis.spans + 1):
        values.SetValue(i + 1, first + (last - first) * i / basis.spans)
        repeats.SetValue(i + 1, basis.degree + 1 if i in (0, basis.spans) else 1)
    return _Knots(values, repeats)


def _spline_face(builder: Any, patch: Patch, along: _Knots, around: tuple[Limb, ...], row: Row) -> Any:
    """Face on a fitted surface: u runs like the low ring's edge, v is the height z."""
    from OCP.Geom import Geom_BSplineSurface
    from OCP.gp import gp_Pnt
    from OCP.TColgp import TColgp_Array2OfPnt

    from rollergen.shape.spline_fit import basis_of

    assert patch.net is not None
    array = TColgp_Array2OfPnt(1, patch.net.shape[0], 1, patch.net.shape[1])
    for i, line in enumerate(patch.net.tolist(), 1):
        for j, (x, y, z) in enumerate(line, 1):
            array.SetValue(i, j, gp_Pnt(x, y, z))
    width, (z0, z1) = around[0].last, row.z
    across = _knots(basis_of(patch.u_degree, patch.u_spans), 0.0, width)
    surface = Geom_BSplineSurface(
        array, across.values, along.values, across.repeats, along.repeats, patch.u_degree, row.basis.degree
    )
    corners = ((0.0, z0), (width, z0), (width, z1), (0.0, z1))
    return _face(builder, surface, around, corners)


def _plane_face(builder: Any, row: Row, j: int) -> Any:
    """Flat face of an untwisted line, upright or drafted; the kernel needs no pcurves on planes."""
    from OCP.Geom import Geom_Plane
    from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt

    low, high = row.low.edges[j], row.high.edges[j]
    dx, dy = low.end[0] - low.start[0], low.end[1] - low.start[1]
    length = hypot(dx, dy)
    nx, ny = dy / length, -dx / length
    # how far the line moves outward from low to high tilts the normal
    lean = (high.start[0] - low.start[0]) * nx + (high.start[1] - low.start[1]) * ny
    normal = gp_Dir(nx, ny, -lean / (row.z[1] - row.z[0]))
    plane = Geom_Plane(gp_Ax3(gp_Pnt(*low.start, row.z[0]), normal, gp_Dir(dx, dy, 0)))
    return _bare_face(builder, plane)


def _turned_face(builder: Any, cone: bool, low: Arc, high: Arc, row: Row, around: tuple[Limb, ...]) -> Any:
    """True cylinder or cone: u from the arc's start along travel, v along the ruling."""
    from OCP.Geom import Geom_ConicalSurface, Geom_CylindricalSurface
    from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt

    sense = 1.0 if low.sweep > 0 else -1.0
    height = row.z[1] - row.z[0]
    axes = gp_Ax3(gp_Pnt(*low.centre, row.z[0]), gp_Dir(0, 0, 1), gp_Dir(cos(low.angle), sin(low.angle), 0))
    if sense < 0:
        axes.YReverse()  # u then runs clockwise, like the arc, and the natural normal points to the centre
    widening = high.radius - low.radius
    if cone:
        surface = Geom_ConicalSurface(axes, atan2(widening, height), low.radius)
        reach = hypot(widening, height)
    else:
        surface, reach = Geom_CylindricalSurface(axes, low.radius), height
    width, drift = abs(low.sweep), sense * row.turn * height
    corners = ((0.0, 0.0), (width, 0.0), (width + drift, reach), (drift, reach))
    return _face(builder, surface, around, corners)


def _bare_face(builder: Any, surface: Any) -> Any:
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS_Face

    face = TopoDS_Face()
    builder.MakeFace(face, surface, TopLoc_Location(), TIGHT)
    return face


def _face(builder: Any, surface: Any, around: tuple[Limb, ...], corners: tuple[UV, UV, UV, UV]) -> Any:
    """Face with pcurves on its four limbs (low, right, high, left); ``corners`` in u, v counter-clockwise."""
    low, right, high, left = around
    a, b, c, d = corners
    face = _bare_face(builder, surface)
    builder.UpdateEdge(low.edge, _straight(a, b, low), face, TIGHT)
    builder.UpdateEdge(high.edge, _straight(d, c, high), face, TIGHT)
    if right.edge.IsSame(left.edge):  # one closed face: its seam lies on both sides
        from OCP.GeomAbs import GeomAbs_CN

        builder.UpdateEdge(left.edge, _straight(b, c, left), _straight(a, d, left), face, TIGHT)
        builder.Continuity(left.edge, face, face, GeomAbs_CN)
    else:
        builder.UpdateEdge(right.edge, _straight(b, c, right), face, TIGHT)
        builder.UpdateEdge(left.edge, _straight(a, d, left), face, TIGHT)
    return face


def _straight(start: UV, end: UV, limb: Limb) -> Any:
    """Straight pcurve from ``start`` to ``end`` over the parameter range of its edge."""
    from OCP.Geom2d import Geom2d_BSplineCurve, Geom2d_Line
    from OCP.gp import gp_Dir2d, gp_Pnt2d
    from OCP.TColgp import TColgp_Array1OfPnt2d

    du, dv = end[0] - start[0], end[1] - start[1]
    length = hypot(du, dv)
    if abs(length - (limb.last - limb.first)) < 1e-12 * length:
        du, dv = du / length, dv / length
        origin = gp_Pnt2d(start[0] - limb.first * du, start[1] - limb.first * dv)
        return Geom2d_Line(origin, gp_Dir2d(du, dv))
    from OCP.TColStd import TColStd_Array1OfInteger, TColStd_Array1OfReal

    poles, knots, repeats = (
        TColgp_Array1OfPnt2d(1, 2),
        TColStd_Array1OfReal(1, 2),
        TColStd_Array1OfInteger(1, 2),
    )
    for i, (point, knot) in enumerate(((start, limb.first), (end, limb.last)), 1):
        poles.SetValue(i, gp_Pnt2d(*point))
        knots.SetValue(i, knot)
        repeats.SetValue(i, 2)
    return Geom2d_BSplineCurve(poles, knots, repeats, 1)


def _wire(builder: Any, around: tuple[Limb, ...]) -> Any:
    low, right, high, left = (limb.edge for limb in around)
    return wire_of(builder, [low, right, high.Reversed(), left.Reversed()])


def wire_of(builder: Any, edges: list[Any]) -> Any:
    """Closed wire over edges that already follow each other."""
    from OCP.TopoDS import TopoDS_Wire

    wire = TopoDS_Wire()
    builder.MakeWire(wire)
    for edge in edges:
        builder.Add(wire, edge)
    wire.Closed(True)
    return wire


def cap_face(z: float, up: bool, outer: list[Any], holes: list[list[Any]]) -> Any:
    """Flat face at height z: outer loop along its travel, holes against theirs; normal +z when ``up``."""
    from OCP.BRep import BRep_Builder
    from OCP.Geom import Geom_Plane
    from OCP.gp import gp_Dir, gp_Pnt

    builder = BRep_Builder()
    face = _bare_face(builder, Geom_Plane(gp_Pnt(0, 0, z), gp_Dir(0, 0, 1)))
    builder.Add(face, wire_of(builder, outer))
    for hole in holes:
        builder.Add(face, wire_of(builder, [edge.Reversed() for edge in reversed(hole)]))
    return face if up else face.Reversed()
