"""The check every solid passes where it is born: valid, one solid, the volume its description says."""

from __future__ import annotations

from typing import Any

from rollergen.errors import BirthError
from rollergen.shape.part import Part
from rollergen.shape.part_volume import volume_of

VOLUME_ERROR = 1e-6  # relative; fits of 1 nm are off by 1e-9, a wrong or missing face by far more


def check_solid(solid: Any, part: Part) -> None:
    """Raise BirthError, with the part's name and the numbers, unless the solid is what the part says.

    ``valid`` of the kernel says nothing of the size, so the volume is compared with the closed form too.
    """
    from OCP.BRepCheck import BRepCheck_Analyzer

    count = count_solids(solid)
    if count != 1:
        raise BirthError(f"{part.name}: {count} solids where one was described")
    if not BRepCheck_Analyzer(solid).IsValid():
        raise BirthError(
            f"{part.name}: the kernel's checker calls the solid invalid (edges or loops that cross)"
        )
    expected = volume_of(part)
    volume = kernel_volume(solid)
    if abs(volume / expected - 1) > VOLUME_ERROR / 4:  # many turns a face: the quick rule is not enough
        volume = kernel_volume(solid, tight=True)
    error = volume / expected - 1
    if not abs(error) <= VOLUME_ERROR:
        raise BirthError(
            f"{part.name}: the solid has {volume:.9g} mm^3, its description {expected:.9g} mm^3:"
            f" off by {error:.3g}, allowed {VOLUME_ERROR:.0e}"
        )


def count_solids(shape: Any) -> int:
    """Number of solids in a shape of the kernel."""
    from OCP.TopAbs import TopAbs_SOLID
    from OCP.TopExp import TopExp_Explorer

    explorer, count = TopExp_Explorer(shape, TopAbs_SOLID), 0
    while explorer.More():
        count += 1
        explorer.Next()
    return count


def kernel_volume(shape: Any, *, tight: bool = False) -> float:
    """Volume by the kernel's own integration over the faces (mm^3).

    Quick: Gauss - Kronrod span by span, 5 ms, off by 1e-8 (2e-7 seen at a turn per 100 mm); ``tight``:
    adaptive, 50 to 200 ms, off by 1e-10.  The kernel's default takes 230 ms and is off by up to 2e-6.
    """
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    if tight:
        BRepGProp.VolumeProperties_s(shape, found, 1e-9)
    else:
        BRepGProp.VolumePropertiesGK_s(shape, found, 1e-4, False, True, False, False, False)
    return float(found.Mass())
