"""The same mould as a plain cadquery script makes it: twist-extrude, cut, assemble, export.

Run: python plain_mould.py OUT.step

Left out against ours: draft, chamfers, fits, marks, every check and every closed-form figure.
"""

from __future__ import annotations

import sys
from math import cos, sin, tau

from reference_part import reference_part

from rollergen.shape.outline import Arc, Line, Outline
from rollergen.tooling.shrinkage import scaled_outline

SCALE = 1 / (1 - 0.014)


def wire_of(outline: Outline):
    import cadquery as cq

    edges = []
    for edge in outline.edges:
        if isinstance(edge, Line):
            edges.append(cq.Edge.makeLine(cq.Vector(*edge.start, 0), cq.Vector(*edge.end, 0)))
        elif isinstance(edge, Arc) and len(outline.edges) == 1:
            edges.append(cq.Edge.makeCircle(edge.radius, cq.Vector(*edge.centre, 0)))
        else:
            edges.append(
                cq.Edge.makeThreePointArc(*(cq.Vector(*edge.at(share), 0) for share in (0.0, 0.5, 1.0)))
            )
    return cq.Wire.assembleEdges(edges)


def plain_mould(twist_deg: float, file: str) -> None:
    import cadquery as cq

    part = reference_part(twist_deg)
    outer, *holes = (scaled_outline(side.outline, SCALE) for side in part.sides)
    length = max(z for z, _ in part.sides[0].levels) * SCALE
    block = 95.0 * SCALE
    up = cq.Vector(0, 0, length)
    body = cq.Solid.extrudeLinearWithRotation(wire_of(outer), [], cq.Vector(), up, twist_deg)
    sleeve = cq.Workplane(cq.Solid.makeCylinder(block, length)).cut(cq.Workplane(body)).val()
    cores = [cq.Solid.extrudeLinear(wire_of(hole), [], cq.Vector(0, 0, length + 26)) for hole in holes]
    cores = [core.moved(cq.Location(cq.Vector(0, 0, -16))) for core in cores]
    cast = body
    base = cq.Solid.makeCylinder(block, 28, cq.Vector(0, 0, -28))
    top = cq.Solid.makeCylinder(block, 20, up)
    for core in cores:
        cast, base, top = cast.cut(core), base.cut(core), top.cut(core)
    for number in range(6):
        angle = tau * number / 6
        place = cq.Vector(82 * SCALE * cos(angle), 82 * SCALE * sin(angle), -30)
        drill = cq.Solid.makeCylinder(5.5, length + 60, place)
        sleeve, base, top = sleeve.cut(drill), base.cut(drill), top.cut(drill)
    whole = cq.Assembly(name="mould")
    for name, solid in (("sleeve", sleeve), ("base", base), ("top", top), ("cast", cast)):
        whole.add(solid, name=name)
    for number, core in enumerate(cores):
        whole.add(core, name=f"core_{number}")
    whole.export(file)


if __name__ == "__main__":
    plain_mould(83.0, sys.argv[1])
