"""A solid cut to the wedge between two half-planes through the axis: the one boolean of the house.

A part that twists and is parted along flat axial planes has edges where a plane crosses fitted flanks; no
side and no cap describes them, so the kernel cuts.
"""

from __future__ import annotations

from math import cos, pi, sin
from typing import Any

from rollergen.errors import BirthError
from rollergen.shape.outline import polygon
from rollergen.shape.part import Cap, Part, Side
from rollergen.shape.solid import build_solid
from rollergen.shape.solid_check import kernel_volume, pieces_of

VOLUME_ERROR = 1e-6  # relative


def cut_to_sector(
    solid: Any,
    *,
    start: float,
    sweep: float,
    radius: float,
    low: float,
    high: float,
    volume: float,
    name: str,
) -> tuple[Any, float]:
    """The part of a solid between the half-planes at ``start`` and ``start`` + ``sweep`` (rad, at most pi).

    ``radius``, ``low`` and ``high`` hold the whole solid (mm); ``volume`` is what must be left (mm3).  Returns
    the piece and the share by which its volume is off.  BirthError when it is invalid, not one, or off by 1e-6.
    """
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.TopAbs import TopAbs_SOLID

    if not 0 < sweep <= pi + 1e-9:
        raise ValueError(f"a sector of {sweep:.6g} rad: more than 0, at most pi")
    common = BRepAlgoAPI_Common(solid, build_solid(wedge(start, sweep, radius, low - 1.0, high + 1.0)))
    found = pieces_of(common.Shape(), TopAbs_SOLID)
    if not common.IsDone() or len(found) != 1 or not BRepCheck_Analyzer(found[0]).IsValid():
        raise BirthError(f"{name}: the kernel could not cut it along the axial planes ({len(found)} solids)")
    error = kernel_volume(found[0]) / volume - 1
    if not abs(error) <= VOLUME_ERROR:
        raise BirthError(f"{name}: cut to {error:.3g} off its closed form, allowed {VOLUME_ERROR:.0e}")
    return found[0], error


def wedge(start: float, sweep: float, radius: float, low: float, high: float) -> Part:
    """A prism over the sector, reaching past ``radius`` everywhere (mm, rad)."""
    half = sweep / 2
    far = 1.1 * radius / cos(min(half, pi / 4))
    # corners outside the circle: on both planes, and beyond the middle so that a half-turn is a rectangle
    ways = [start, start + half / 2, start + half, start + 1.5 * half, start + sweep]
    reach = [far, 1.5 * far, 1.5 * far, 1.5 * far, far]
    corners = [(r * cos(a), r * sin(a)) for a, r in zip(ways, reach, strict=True)]
    if sweep < pi - 1e-9:
        corners = [(0.0, 0.0), *corners]
    side = Side(outline=polygon(corners, "wedge"), levels=((low, 0.0), (high, 0.0)))
    caps = (Cap(z=low, up=False, outer=(0, "low")), Cap(z=high, up=True, outer=(0, "high")))
    return Part(name="wedge", sides=(side,), caps=caps)


def kernel_area_and_centre(solid: Any) -> tuple[float, tuple[float, float, float]]:
    """Surface (mm2) and centre of volume (mm) by the kernel's own integration, for what no Part describes."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    area, volume = GProp_GProps(), GProp_GProps()
    BRepGProp.SurfaceProperties_s(solid, area, 1e-7)
    BRepGProp.VolumeProperties_s(solid, volume, 1e-7)
    centre = volume.CentreOfMass()
    return float(area.Mass()), (centre.X(), centre.Y(), centre.Z())
