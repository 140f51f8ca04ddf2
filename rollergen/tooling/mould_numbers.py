"""What a mould measures: volumes that must add up, shot, fits cold and hot, areas, masses, order of demoulding."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import degrees, pi

import numpy as np

from rollergen.shape.distance import signed_distance
from rollergen.shape.offset import inward
from rollergen.shape.part import Part, Side
from rollergen.shape.part_volume import area_of_side, volume_of
from rollergen.shape.properties import area_of
from rollergen.tooling.cavity import (
    Cavity,
    bore_levels,
    chamber_levels,
    drafted_section,
    end_thicknesses,
    recess_draft,
)
from rollergen.tooling.mould import Compound, Mould, body_named
from rollergen.tooling.mould_body import Body
from rollergen.tooling.mould_demould import demould_order
from rollergen.tooling.mould_extent import size_of
from rollergen.tooling.mould_fits import FitLine, closed_words, fit_lines
from rollergen.tooling.pieces import sector_volume
from rollergen.tooling.shrinkage import Shrinkage, tool_angle

PULL_REASON = (
    "left empty: no published formula for the force that draws a core from cast rubber was found that could be used; "
    "the only one found adds the draft's share where it has to be subtracted"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLine:
    """One line of the parts list; ``bodies`` are all of one shape.

    ``size_mm``: sides of the first one's box along x, y and z of the assembly.
    """

    part: str
    bodies: tuple[str, ...]
    role: str
    material: str
    count: int
    each_volume_mm3: float
    volume_mm3: float
    each_kg: float
    kg: float
    size_mm: tuple[float, float, float]
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MouldReport:
    """Numbers of a mould (mm, mm3, kg, deg).  Bands are (low, high); pairs are (core's foot, thin end).

    Everything about the mould is at mould size; what is named part is at part size, after shrinkage.
    """

    radial_shrinkage: float
    axial_shrinkage: float
    shrinkage_source: str
    scale_radial: float
    scale_axial: float
    cavity_twist_deg: float
    cavity_length_mm: float
    cavity_tip_diameter_mm: float
    cavity_mm3: float
    cores_mm3: float
    cast_mm3: float
    volume_residual: float
    part_mm3: float
    part_kg: float
    part_nominal_kg: float
    shot_kg: tuple[float, float]
    shot_mm3: tuple[float, float]
    overpour: float
    draft_deg: float
    tool_draft_deg: float
    mandrel_draft_deg: float
    nominal_end: str
    wall_ends_mm: tuple[float, float] | None
    web_ends_mm: tuple[float, float] | None
    hub_wall_ends_mm: tuple[float, float] | None
    kg_per_m_ends: tuple[float, float]
    least_bore_mm: float
    recess_draft_deg: float | None
    block_mm: tuple[float, float, float]
    mould_kg: float
    gate_mm: tuple[float, float]
    gate_diameter_mm: float
    gate_free_mm: float
    vents: int
    vent_diameter_mm: float
    fits: tuple[FitLine, ...]
    core_area_mm2: float
    mandrel_area_mm2: float
    core_pull_n: None
    core_pull_reason: str
    parts: tuple[PartLine, ...]
    demould: tuple[str, ...]
    cautions: tuple[str, ...]


def mould_report(
    mould: Mould,
    shrinkage: Shrinkage,
    compound: Compound,
    *,
    part_nominal_mm3: float,
    drafts: tuple[float, float],
    cautions: tuple[str, ...],
) -> MouldReport:
    """Numbers of a finished mould; ``drafts`` of chamber cores and mandrel as angles of the part (rad).

    ``part_nominal_mm3``: of the part without draft and marks.  ``cautions``: what comes after the fits that close.
    """
    cavity, tool = mould.cavity, mould.tool
    cast = volume_of(body_named(mould, "cast_segment").part)
    hollow, cores = cavity_volume(mould), cores_volume(cavity)
    small = (1 - shrinkage.radial) ** 2 * (1 - shrinkage.axial)
    part, kilo = cast * small, compound.density_kg_m3 * 1e-9
    lines = parts_lines(mould)
    ends = end_thicknesses(cavity, shrinkage)
    width = 2 * mould.layout.plate_radius
    return MouldReport(
        radial_shrinkage=shrinkage.radial,
        axial_shrinkage=shrinkage.axial,
        shrinkage_source=shrinkage.source,
        scale_radial=shrinkage.radial_scale,
        scale_axial=shrinkage.axial_scale,
        cavity_twist_deg=degrees(cavity.twist),
        cavity_length_mm=cavity.length,
        cavity_tip_diameter_mm=2 * cavity.tip_radius,
        cavity_mm3=hollow,
        cores_mm3=cores,
        cast_mm3=cast,
        volume_residual=(hollow - cores) / cast - 1,
        part_mm3=part,
        part_kg=part * kilo,
        part_nominal_kg=part_nominal_mm3 * kilo,
        shot_kg=(part * tool.overpour * kilo, cast * tool.overpour * kilo),
        shot_mm3=(part * tool.overpour, cast * tool.overpour),
        overpour=tool.overpour,
        draft_deg=degrees(drafts[0]),
        tool_draft_deg=degrees(tool_angle(drafts[0], shrinkage)),
        mandrel_draft_deg=degrees(drafts[1]),
        nominal_end=tool.nominal_end,
        wall_ends_mm=_pair(ends[0].wall, ends[1].wall),
        web_ends_mm=_pair(ends[0].web, ends[1].web),
        hub_wall_ends_mm=_pair(ends[0].hub_wall, ends[1].hub_wall),
        kg_per_m_ends=_per_metre(cavity, shrinkage, compound),
        least_bore_mm=least_bore(mould, shrinkage),
        recess_draft_deg=degrees(recess_draft(cavity)) if cavity.chamfer[1] else None,
        block_mm=(width, width, mould.layout.top - mould.layout.bottom),
        mould_kg=tool_mass(mould),
        gate_mm=mould.gate.at,
        gate_diameter_mm=mould.gate.diameter,
        gate_free_mm=mould.gate.free,
        vents=len(mould.vents),
        vent_diameter_mm=tool.vent,
        fits=fit_lines(mould),
        core_area_mm2=_wetted(mould, "chamber_core"),
        mandrel_area_mm2=_wetted(mould, "bore_mandrel"),
        core_pull_n=None,
        core_pull_reason=PULL_REASON,
        parts=lines,
        demould=demould_order(mould),
        cautions=(*closed_words(mould), *cautions),
    )


def least_bore(mould: Mould, shrinkage: Shrinkage) -> float:
    """Width of the part's bore where the mandrel is thinnest (mm), measured on the mandrel and shrunk."""
    side = body_named(mould, "bore_mandrel").part.sides[0]
    thinnest = max(offset for z, offset in side.levels if z >= 0)
    radius = -float(signed_distance(inward(side.outline, thinnest), np.zeros((1, 2)))[0])
    return 2 * radius * (1 - shrinkage.radial)


def body_volume(mould: Mould, body: Body) -> float:
    """Volume of one body (mm3), closed form; of a sector cut from a twisted ring to about 1e-8."""
    if body.sector is None:
        return volume_of(body.part)
    return sector_volume(mould.cavity, mould.layout, mould.tool, *body.sector)


def body_mass(mould: Mould, body: Body) -> float:
    """Mass of one body (kg)."""
    return body_volume(mould, body) * body.density_kg_m3 * 1e-9


def tool_mass(mould: Mould) -> float:
    """Mass of all that is made and bought (kg), the casting left out."""
    shapes = [body for body in mould.bodies if not body.copy_of and body.role != "reference"]
    return sum(body_mass(mould, body) * _count(mould, body) for body in shapes)


def _count(mould: Mould, body: Body) -> int:
    """Of bodies of its shape."""
    return sum(body.name in (other.name, other.copy_of) for other in mould.bodies)


def cavity_volume(mould: Mould) -> float:
    """The hollow between the plates, by what the metal leaves of full cylinders: block, lips, marks (mm3).

    The cores are not in it.  It is measured on the mould parts, not on the casting, so that both can be compared.
    """
    cavity, layout = mould.cavity, mould.layout
    blocks = [b for b in mould.bodies if b.name.startswith("cavity_")]
    if blocks[0].sector is not None:
        blocks = blocks[:1]  # each holds the whole ring, to be cut
    block = sum(volume_of(b.part) for b in blocks)
    drilled = 0.0
    for body in blocks:
        drilled += sum(_side_volume(side) for side in body.part.sides if _is_drilled(side))
    full = pi * layout.block_radius**2 * (layout.high - layout.low)
    lips = sum(
        _side_volume(side)
        for name in ("base_plate", "top_plate")
        for side in body_named(mould, name).part.sides
        if side.outline == cavity.section.outer
    )
    marked = sum(
        (-1 if side.material_inside else 1) * _side_volume(side)
        for side in body_named(mould, "base_plate").part.sides
        if side.outline.edges[0].feature in ("mark", "eye")
    )
    return full - block - drilled + lips + marked


def cores_volume(cavity: Cavity) -> float:
    """What the cores and the bore's mouths take up between the part's two ends (mm3)."""
    bore = Side(outline=cavity.section.bore, levels=bore_levels(cavity))
    return _side_volume(bore) + sum(
        _side_volume(Side(outline=c, levels=chamber_levels(cavity))) for c in cavity.section.chambers
    )


def _is_drilled(side: Side) -> bool:
    return not side.material_inside and side.outline.edges[0].feature == "hole"


def _side_volume(side: Side) -> float:
    return volume_of(Part(name="", sides=(replace(side, material_inside=True),), caps=()))


def _pair(a: float | None, b: float | None) -> tuple[float, float] | None:
    return None if a is None or b is None else (a, b)


def _per_metre(cavity: Cavity, shrinkage: Shrinkage, compound: Compound) -> tuple[float, float]:
    """Mass of the part per metre of its length near the core's foot and near its thin end, chamfers left out."""
    found = []
    for end in (0, 1):
        section = drafted_section(cavity.section, cavity.chamber_offsets[end], cavity.bore_offsets[end])
        area = area_of(section.outer) - sum(area_of(hole) for hole in section.holes)
        found.append(area * (1 - shrinkage.radial) ** 2 * compound.density_kg_m3 * 1e-6)
    return (found[0], found[1])


def _wetted(mould: Mould, name: str) -> float:
    """Area of the bodies of that name that rubber touches (mm2): their sides between the part's ends."""
    length = mould.cavity.length
    total = 0.0
    for body in mould.bodies:
        if body.name.startswith(name):
            side = body.part.sides[0]
            total += area_of_side(side, 0.0, min(length, side.levels[-1][0]))
    return total


def parts_lines(mould: Mould) -> tuple[PartLine, ...]:
    """One line a shape, in the order of the bodies."""
    lines = []
    for body in mould.bodies:
        if body.copy_of:
            continue
        alike = [b.name for b in mould.bodies if body.name in (b.name, b.copy_of)]
        volume, kg = body_volume(mould, body), body_mass(mould, body)
        lines.append(
            PartLine(
                part=body.name,
                bodies=tuple(alike),
                role=body.role,
                material=body.material,
                count=len(alike),
                each_volume_mm3=volume,
                volume_mm3=volume * len(alike),
                each_kg=kg,
                kg=kg * len(alike),
                size_mm=size_of(body),
                note=body.note,
            )
        )
    return tuple(lines)
