"""The check every solid passes where it is born: valid, one solid, the volume its description says."""

from __future__ import annotations

from typing import Any

from rollergen.errors import BirthError
from rollergen.shape.part import Part
from rollergen.shape.part_volume import volume_of
from rollergen.shape.solid_volume import volume_by_faces

VOLUME_ERROR = 1e-6  # relative; fits of 1 nm are off by 1e-9, a wrong or missing face by far more


def check_solid(solid: Any, part: Part) -> float:
    """Raise BirthError, with the part's name and the numbers, unless the solid is what the part says.

    Returns the share by which the solid's volume is off.  ``valid`` of the kernel says nothing of the size,
    so the volume is compared with the closed form too.
    """
    from OCP.BRep import BRep_Tool
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.TopAbs import TopAbs_SHELL, TopAbs_SOLID

    count = len(pieces_of(solid, TopAbs_SOLID))
    if count != 1:
        raise BirthError(f"{part.name}: {count} solids where one was described")
    if not all(BRep_Tool.IsClosed_s(shell) for shell in pieces_of(solid, TopAbs_SHELL)):
        raise BirthError(f"{part.name}: the skin has free edges, a face is missing")
    if not BRepCheck_Analyzer(solid).IsValid():
        raise BirthError(
            f"{part.name}: the kernel's checker calls the solid invalid (edges or loops that cross)"
        )
    volume, expected = volume_by_faces(solid), volume_of(part)
    error = volume / expected - 1
    if not abs(error) <= VOLUME_ERROR:
        raise BirthError(
            f"{part.name}: the solid has {volume:.9g} mm^3, its description {expected:.9g} mm^3:"
            f" off by {error:.3g}, allowed {VOLUME_ERROR:.0e}"
        )
    return error


def pieces_of(shape: Any, kind: Any) -> list[Any]:
    """The sub-shapes of one kind (``TopAbs_SOLID``, ``TopAbs_SHELL`` ...) in a shape of the kernel."""
    from OCP.TopExp import TopExp_Explorer

    explorer, found = TopExp_Explorer(shape, kind), []
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


def kernel_volume(shape: Any) -> float:
    """Volume of any shape by the kernel's own adaptive integration (mm^3), to about 1e-9.

    Fit for what booleans or readers made; 30 ms to seconds, so the birth check uses ``volume_by_faces``.
    """
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found, 1e-9)
    return float(found.Mass())
