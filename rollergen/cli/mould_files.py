"""The files of a mould as bytes: STEP assembly, one STEP a shape, parts list, exploded picture.

Everything is made before the first file is written.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal

from rollergen.cli.writing import identity

if TYPE_CHECKING:
    from rollergen.answer.moulding import MouldAnswer
    from rollergen.answer.report import Drawn
    from rollergen.export.mould_picture import Named
    from rollergen.tooling.mould import Mould
    from rollergen.tooling.mould_body import Body
    from rollergen.tooling.mould_numbers import PartLine

MOST_MAPPED = 12  # parts; a map of more says nothing
FINENESS = 0.15  # mm, facets of the picture
Made = tuple[str, str, bytes, dict[str, Any]]  # file name, kind, bytes, what the report says of it


def step_files(found: MouldAnswer) -> list[Made]:
    """The assembly and one file a shape, each solid checked where it is born."""
    from rollergen.export.step import step_bytes

    mould, name = found.mould, found.mould.cavity.name
    shapes = [body for body in mould.bodies if not body.copy_of]
    solids = {body.name: _solid(mould, body) for body in shapes}
    assembly = _assembly(mould, {key: solid for key, (solid, _) in solids.items()})
    worst = max((error for _, error in solids.values()), key=abs)
    made: list[Made] = [_file(f"{name}-mould.step", "step assembly", assembly, worst)]
    for body in shapes:
        solid, error = solids[body.name]
        volume, area, centre = _figures(mould, body, solid)
        data = step_bytes(
            solid,
            name=f"{name} {body.name}",
            colour=body.part.colour,
            compound=body.material,
            density_kg_m3=body.density_kg_m3,
            volume_mm3=volume,
            area_mm2=area,
            centroid_mm=centre,
            material_kind="cast elastomer" if body.role == "reference" else "tool material",
        )
        made.append(_file(f"{body.name}.step", "step", data, error))
    return made


def _solid(mould: Mould, body: Body) -> tuple[Any, float]:
    """The body as a checked solid, and by which share its volume is off; cut by the kernel where it is a sector."""
    from rollergen.shape.solid import checked_solid

    solid, error = checked_solid(body.part)
    if body.sector is None:
        return solid, error
    from rollergen.shape.solid_cut import cut_to_sector
    from rollergen.tooling.mould_numbers import body_volume

    layout = mould.layout
    return cut_to_sector(
        solid,
        start=body.sector[0],
        sweep=body.sector[1],
        radius=layout.block_radius,
        low=layout.low,
        high=layout.high,
        volume=body_volume(mould, body),
        name=body.name,
    )


def _figures(mould: Mould, body: Body, solid: Any) -> tuple[float, float, tuple[float, float, float]]:
    """Volume, area and centre a reader can check, in closed form; of a cut sector area and centre are the kernel's."""
    from rollergen.shape.part_volume import centroid_of_part, surface_of, volume_of

    if body.sector is None:
        return volume_of(body.part), surface_of(body.part), centroid_of_part(body.part)
    from rollergen.shape.solid_cut import kernel_area_and_centre
    from rollergen.tooling.mould_numbers import body_volume

    return (body_volume(mould, body), *kernel_area_and_centre(solid))


def _file(name: str, kind: str, data: bytes, error: float | None) -> Made:
    return (name, kind, data, {**identity(kind, data), "volume_error": error})


def _assembly(mould: Mould, solids: dict[str, Any]) -> bytes:
    """Every shape once; like bodies are the same shape turned about the axis."""
    from rollergen.export.step import Piece, assembly_bytes
    from rollergen.shape.placing import Placing
    from rollergen.tooling.mould_numbers import tool_mass

    shapes = [body for body in mould.bodies if not body.copy_of]
    number = {body.name: i for i, body in enumerate(shapes)}
    figures = [_figures(mould, body, solids[body.name]) for body in shapes]
    pieces = [
        Piece(
            solid=solids[body.name],
            name=body.name,
            colour=body.part.colour,
            volume_mm3=volume,
            area_mm2=area,
            centroid_mm=centre,
            material=body.material,
            density_kg_m3=body.density_kg_m3,
            note=body.note,
        )
        for body, (volume, area, centre) in zip(shapes, figures, strict=True)
    ]
    places = [
        (number[body.copy_of or body.name], Placing(z=0.0, rotation=body.turned, length=0.0).matrix)
        for body in mould.bodies
    ]
    casting = next(body for body in mould.bodies if body.role == "reference")
    kilos = tool_mass(mould)
    return assembly_bytes(
        pieces,
        places,
        name=f"{mould.cavity.name} mould",
        compound=casting.material,
        density_kg_m3=casting.density_kg_m3,
        place_names=[body.name for body in mould.bodies],
        what="assembly of a casting mould, B-rep in mm",
        description=f"{len(mould.bodies)} bodies, {kilos:.6g} kg of tool",
    )


def list_file(lines: Sequence[PartLine], name: str) -> Made:
    """The parts list as a table."""
    from rollergen.export.mould_list import mould_csv

    rows = [
        {
            "part": line.part,
            "role": line.role,
            "material": line.material,
            "count": line.count,
            "each_volume_mm3": line.each_volume_mm3,
            "volume_mm3": line.volume_mm3,
            "each_kg": line.each_kg,
            "kg": line.kg,
            "size_x_mm": line.size_mm[0],
            "size_y_mm": line.size_mm[1],
            "size_z_mm": line.size_mm[2],
            "file": f"{line.part}.step",
            "note": line.note,
        }
        for line in lines
    ]
    data = mould_csv(rows)
    return (f"{name}-mould.parts.csv", "csv", data, identity("csv", data))


def exploded_page(found: MouldAnswer, form: Literal["png", "svg"]) -> bytes:
    """The mould taken apart; bodies of one shape that stay together carry one name."""
    from rollergen.export.mould_picture import mould_picture

    return mould_picture(
        _taken_apart(found.mould), title=f"{found.mould.cavity.name}: mould as {found.way}", form=form
    )


def _taken_apart(mould: Mould) -> list[Named]:
    from rollergen.export.mould_picture import Named
    from rollergen.export.shading import Shown
    from rollergen.shape.mesh import build_mesh
    from rollergen.shape.mesh_cut import sector_of
    from rollergen.tooling.mould_apart import taken_apart

    shown = []
    for body, moved in zip(mould.bodies, taken_apart(mould.bodies, mould.cavity.length), strict=True):
        mesh = build_mesh(body.part, chord_error=FINENESS, check=False)
        if body.sector is not None:
            mesh = sector_of(mesh, *body.sector)
        shown.append(
            Named(
                shown=Shown(
                    vertices=mesh.vertices + moved,
                    triangles=mesh.triangles,
                    surface=mesh.surface,
                    colour=body.part.colour,
                ),
                name=_name(mould, body),
            )
        )
    return shown


def _name(mould: Mould, body: Body) -> str:
    """Bodies of one shape have one name, with their number; a number of its own only where others are unlike."""
    first = body.copy_of or body.name
    count = sum(first in (b.name, b.copy_of) for b in mould.bodies)
    stem = first.rstrip("0123456789")
    alike = count == sum(b.name.startswith(stem) for b in mould.bodies)
    name = (stem.rstrip("_") if alike else first).replace("_", " ")
    return f"{count} x {name}" if count > 1 else name


def undercut_page(drawn: Drawn, found: MouldAnswer, form: Literal["png", "svg"]) -> bytes:
    """How deep the part hooks behind 2 parts, 4 parts, and the fewest that do not hook."""
    from math import degrees

    import numpy as np

    from rollergen.export.undercut_picture import DepthMap, undercut_picture
    from rollergen.tooling.undercut_map import map_words, undercut_map

    profile = drawn.profile
    least = found.release.planes.least_parts
    counts = sorted({2, 4, *((least,) if least is not None and 2 <= least <= MOST_MAPPED else ())})
    maps = [
        undercut_map(
            drawn.section.outer,
            turn_per_mm=profile.turn_per_mm,
            length=profile.body.free_length,
            parts=parts,
        )
        for parts in counts
    ]
    shown = [
        DepthMap(
            angle=np.maximum.accumulate(np.degrees(one.angle)),  # columns meet at the partings
            z=one.z,
            depth=one.depth,
            planes=tuple(degrees(plane) for plane in one.planes),
            words=map_words(one),
        )
        for one in maps
    ]
    title = f"{profile.name}: undercut of parts drawn outwards from planes through the axis"
    return undercut_picture(shown, title=title, form=form)
