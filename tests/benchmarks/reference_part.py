"""The part every benchmark builds, and the plain cadquery script of the same part it is held against.

Body 112 mm, 5 ribs of 8 mm, rounded at tip and root, L 150, bore 36 mm square, 6 sector chambers, no
chamfer: 98 faces.  As a script of its own it writes the plain STEP or STL: reference_part.py 90 plain.step
"""

from __future__ import annotations

import sys
from math import degrees
from typing import Any

from rollergen.shape.outline import Line, Outline
from rollergen.shape.part import Part
from rollergen.shape.section import part_of, section_of
from rollergen.spec.reading import profile_from_text

PROFILE = """
name = "speed"
[body]
diameter = "112 mm"
free_length = "150 mm"
edge_chamfer = "0 mm"
[ribs]
count = 5
height = "8 mm"
tip_width = "10 mm"
flank_angle = "14 deg"
tip_radius = "2 mm"
root_radius = "2 mm"
helix_pitch = "{pitch}"
[bore]
section = "square"
across = "36 mm"
corner_radius = "2 mm"
shaft_tolerance = "0.6 mm"
[chambers]
count = 6
wall = "7 mm"
web = "6 mm"
hub_wall = "6 mm"
corner_radius = "2.5 mm"
[compound]
name = "speed"
density = "1120 kg/m^3"
"""


def reference_part(twist_deg: float) -> Part:
    pitch = f"{150 * 360 / twist_deg} mm" if twist_deg else "straight"
    profile = profile_from_text(PROFILE.format(pitch=pitch))
    return part_of(profile, section_of(profile))


def plain_solid(part: Part) -> Any:
    """What an engineer would script: twist the outline, cut the bore and each chamber."""
    import cadquery as cq

    def drawn(outline: Outline) -> Any:
        plane = cq.Workplane().moveTo(*outline.edges[0].start)
        for edge in outline.edges:
            if isinstance(edge, Line):
                plane = plane.lineTo(*edge.end)
            else:
                plane = plane.threePointArc(edge.at(0.5), edge.end)
        return plane.close()

    body, *holes = part.sides
    length = body.levels[-1][0]
    solid = drawn(body.outline).twistExtrude(length, degrees(body.turn_per_mm * length))
    for hole in holes:
        solid = solid.cut(drawn(hole.outline).extrude(length))
    return solid.val()


def write_plainly(part: Part, path: str) -> None:
    """Export as such a script would: STEP, or STL at 0.05 mm, the angle left wide so that it does not refine."""
    import cadquery as cq

    solid = plain_solid(part)
    if path.endswith(".stl"):
        if not solid.exportStl(path, 0.05, 0.8, False, False):
            raise OSError(f"{path} was not written")
    else:
        cq.exporters.export(cq.Workplane(solid), path)


if __name__ == "__main__":
    write_plainly(reference_part(float(sys.argv[1])), sys.argv[2])
