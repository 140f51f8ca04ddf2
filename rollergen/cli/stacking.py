"""The files of a whole roller: every kind of segment made once, placed as often as it is threaded on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rollergen.cli.writing import identity
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from rollergen.answer.report import Drawn
    from rollergen.answer.roller import RollerAnswer
    from rollergen.shape.mesh import Mesh

STACK_FORMATS = ("step", "stl", "3mf", "glb")


def write_stack(
    found: RollerAnswer, drawn: Sequence[Drawn], out: Path, formats: Sequence[str], chord_error: float
) -> list[dict[str, Any]]:
    """Write the whole roller under ``out``; nothing for a width that cannot be filled (UsageError)."""
    from rollergen.export.files import write_together

    if not found.filled:
        raise UsageError(f"nothing to build: {found.stack.words}")
    name = f"{found.profile}-roller"
    made = stack_files(found, drawn, formats, chord_error=chord_error, degree=5)
    write_together([(out / name / f"{name}.{kind}", data) for kind, data, _ in made])
    return [{**entry, "path": f"{name}/{name}.{kind}"} for kind, _, entry in made]


def stack_files(
    answer: RollerAnswer, drawn: Sequence[Drawn], formats: Sequence[str], *, chord_error: float, degree: int
) -> list[tuple[str, bytes, dict[str, Any]]]:
    """(kind, bytes, what the report says of it) of the roller as it is squeezed on its shaft."""
    from rollergen.answer.report import draw_profile
    from rollergen.answer.roller import squeezed

    kinds = {d.profile.name: draw_profile(squeezed(d.profile, answer.squeeze)) for d in drawn}
    used = {name: kinds[name] for name in dict.fromkeys(answer.names)}
    made: list[tuple[str, bytes, dict[str, Any]]] = []
    if "step" in formats:
        made.append(_step(answer, used, degree))
    if set(formats) & {"stl", "3mf", "glb"}:
        made += _meshed(answer, used, formats, chord_error)
    return [(kind, data, {**entry, **identity(kind, data)}) for kind, data, entry in made]


def _step(answer: RollerAnswer, used: dict[str, Drawn], degree: int) -> tuple[str, bytes, dict[str, Any]]:
    from rollergen.export.step import Piece, assembly_bytes
    from rollergen.shape.part_volume import centroid_of_part, surface_of, volume_of
    from rollergen.shape.solid import checked_solid

    pieces, worst = [], 0.0
    for name, one in used.items():
        solid, error = checked_solid(one.part, degree=degree)
        worst = max(worst, abs(error))
        pieces.append(
            Piece(
                solid=solid,
                name=f"{name} segment, squeezed",
                colour=one.part.colour,
                volume_mm3=volume_of(one.part),
                area_mm2=surface_of(one.part),
                centroid_mm=centroid_of_part(one.part),
            )
        )
    order = list(used)
    compound = next(iter(used.values())).profile.compound
    data = assembly_bytes(
        pieces,
        [(order.index(name), at.matrix) for name, at in zip(answer.names, answer.places, strict=True)],
        name=f"{answer.profile} roller",
        compound=compound.name,
        density_kg_m3=compound.density_kg_m3,
    )
    return ("step", data, {"deviation_mm": None, "volume_error": worst})


def _meshed(
    answer: RollerAnswer, used: dict[str, Drawn], formats: Sequence[str], chord_error: float
) -> list[tuple[str, bytes, dict[str, Any]]]:
    from rollergen.export.glb import glb_bytes
    from rollergen.export.stl import stl_bytes
    from rollergen.export.threemf import threemf_bytes
    from rollergen.shape.mesh import build_mesh
    from rollergen.shape.mesh_check import mesh_volume
    from rollergen.shape.part_volume import volume_of
    from rollergen.shape.placing import joined_mesh, placed_mesh

    single = {name: build_mesh(one.part, chord_error=chord_error) for name, one in used.items()}
    placed = [placed_mesh(single[n], at) for n, at in zip(answer.names, answer.places, strict=True)]
    whole = joined_mesh(placed)
    exact = sum(volume_of(used[name].part) for name in answer.names)
    one = next(iter(used.values()))
    title, colour, compound = f"{answer.profile} roller", one.part.colour, one.profile.compound
    entry = {
        "deviation_mm": whole.deviation_mm,
        "volume_error": mesh_volume(whole.vertices, whole.triangles) / exact - 1,
        "triangles": len(whole.triangles),
    }
    made: list[tuple[str, bytes, dict[str, Any]]] = []
    if "stl" in formats:
        made.append(("stl", stl_bytes(whole, title), entry))
    if "3mf" in formats:
        named: list[tuple[str, Mesh, str]] = [
            (f"{number} {name}", mesh, colour)
            for number, (name, mesh) in enumerate(zip(answer.names, placed, strict=True), start=1)
        ]
        data = threemf_bytes(named, title=title, compound=compound.name, density_kg_m3=compound.density_kg_m3)
        made.append(("3mf", data, entry))
    if "glb" in formats:
        made.append(("glb", glb_bytes(whole, name=title, colour=colour), entry))
    return made
