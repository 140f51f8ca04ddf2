"""How a segment resists turning, and how far it is out of balance, as cast and with its foam."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, hypot

from rollergen.shape.outline import Floats
from rollergen.shape.part import Part, Side
from rollergen.shape.part_inertia import (
    SpaceMoments,
    inertia_about_centre,
    moments_of_part,
    moments_of_side,
)
from rollergen.shape.section import Section
from rollergen.spec.profile import Profile
from rollergen.spec.trace import Figure

MM3_PER_M3 = 1e9
Row = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class InertiaReport:
    """One segment as cast, foam included (kg, mm).

    ``inertia_kg_mm2`` about the centre of mass, axes of the profile's datum, off-diagonals -integral xy dm.
    ``spin_inertia_kg_mm2`` about the roller axis.  ``unbalance_kg_mm``: mass times the centre's distance
    from the axis.  ``couple_kg_mm2``: (integral xz dm, integral yz dm) about mid length: what a perfectly
    centred segment still shakes its bearings with.
    """

    centre_mm: Row
    inertia_kg_mm2: tuple[Row, Row, Row]
    spin_inertia_kg_mm2: float
    unbalance_kg_mm: float
    couple_kg_mm2: tuple[float, float]


def inertia_of(profile: Profile, section: Section, part: Part) -> InertiaReport:
    """Inertia tensor and unbalance of the twisted segment, exact to rounding.

    Valid for even density; what casting scatters (voids, a bore off centre) comes on top.
    """
    weighed = _with_foam(profile, section, part)
    length = profile.body.free_length
    x, y, z = weighed.centre.tolist()
    mass = weighed.volume
    couple = weighed.second[:2, 2] - length / 2 * weighed.first[:2]
    return InertiaReport(
        centre_mm=(x, y, z),
        inertia_kg_mm2=_rows(inertia_about_centre(weighed)),
        spin_inertia_kg_mm2=float(weighed.second[0, 0] + weighed.second[1, 1]),
        unbalance_kg_mm=mass * hypot(x, y),
        couple_kg_mm2=(float(couple[0]), float(couple[1])),
    )


def pieces_for(length: float, fitted_length: float) -> tuple[float, int, int]:
    """Segments a shaft of ``length`` takes: not rounded, whole ones that fit, whole ones that cover it.

    A count within 1e-9 of a whole number is that number.  Raises ValueError unless both are positive.
    """
    if not (length > 0 and fitted_length > 0):
        raise ValueError(f"length {length:g} mm and fitted length {fitted_length:g} mm must be above 0")
    count = length / fitted_length
    return count, floor(count + 1e-9), ceil(count - 1e-9)


def _with_foam(profile: Profile, section: Section, part: Part) -> SpaceMoments:
    """Moments weighted by density (kg, kg mm, kg mm2): rubber, and foam in the chambers that hold it."""
    total = _scaled(moments_of_part(part), profile.compound.density_kg_m3 / MM3_PER_M3)
    chambers = profile.chambers
    if chambers is None or not chambers.foam_density_kg_m3:
        return total
    levels = ((0.0, 0.0), (profile.body.free_length, 0.0))
    for number in chambers.foamed:
        foam = moments_of_side(Side(outline=section.chambers[number - 1], levels=levels))
        weighed = _scaled(foam, chambers.foam_density_kg_m3 / MM3_PER_M3)
        total = SpaceMoments(
            volume=total.volume + weighed.volume,
            first=total.first + weighed.first,
            second=total.second + weighed.second,
        )
    return total


def _scaled(moments: SpaceMoments, density: float) -> SpaceMoments:
    return SpaceMoments(
        volume=moments.volume * density, first=moments.first * density, second=moments.second * density
    )


def _rows(tensor: Floats) -> tuple[Row, Row, Row]:
    rows = [(float(row[0]), float(row[1]), float(row[2])) for row in tensor]
    return (rows[0], rows[1], rows[2])


_SLICES = "integrals over slices of the exact section, each turned by the twist at its height"
_EVEN = "even density; voids and a bore off centre are not in it"
FIGURES = (
    Figure(
        key="inertia_kg_mm2",
        words="inertia tensor about the centre of mass, axes of the datum, foam included",
        formula=f"{_SLICES}; I = trace(C) 1 - C, C = integral r r^T dm less the centre's share",
        source="parallel axis theorem, any mechanics book",
        limits=f"segment as cast; {_EVEN}",
        unit="kg mm2",
    ),
    Figure(
        key="spin_inertia_kg_mm2",
        words="inertia about the roller axis",
        formula="integral (x2 + y2) dm",
        source="definition",
        limits=f"segment as cast, without its shaft; {_EVEN}",
        unit="kg mm2",
    ),
    Figure(
        key="unbalance_kg_mm",
        words="static unbalance: mass times the distance of its centre from the axis",
        formula="m sqrt(x2 + y2)",
        source="ISO 21940-11, definition of unbalance (value from memory)",
        limits=_EVEN,
        unit="kg mm",
    ),
    Figure(
        key="couple_kg_mm2",
        words="couple unbalance about mid length",
        formula="(integral x (z - L/2) dm, integral y (z - L/2) dm)",
        source="definition of the products of inertia",
        limits=f"0 for two or more equal ribs and chambers; {_EVEN}",
        unit="kg mm2",
    ),
)
