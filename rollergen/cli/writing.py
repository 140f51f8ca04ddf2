"""The files of one profile as bytes, each with what the report says of it."""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rollergen.errors import FileTrouble

if TYPE_CHECKING:
    from rollergen.answer.report import Drawn

FORMATS = ("step", "stl", "3mf", "glb", "dxf")
Made = tuple[str, bytes, dict[str, Any]]


def write_formats(drawn: Drawn, formats: Sequence[str], *, chord_error: float, degree: int) -> list[Made]:
    """(kind, bytes, what the report says of it) for each format asked for."""
    made: list[Made] = []
    if "step" in formats:
        made.append(_step(drawn, degree))
    if set(formats) & {"stl", "3mf", "glb"}:
        made.extend(_meshed(drawn, formats, chord_error))
    if "dxf" in formats:
        made.append(_dxf(drawn))
    return [(kind, data, {**entry, **identity(kind, data)}) for kind, data, entry in made]


def identity(kind: str, data: bytes) -> dict[str, Any]:
    """What the report says of any file: its kind, size and hash."""
    return {"kind": kind, "bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}


def outdated(folder: Path, report: str, kept: Sequence[str]) -> list[Path]:
    """Files in ``folder`` that an earlier ``report`` there says we wrote and that are not among ``kept``.

    Only those that still are byte for byte what was written then: what somebody changed is theirs.
    """
    before = folder / report
    if not before.is_file():
        return []
    try:
        said = json.loads(before.read_bytes())["files"]
        named = {str(entry["path"]): str(entry["sha256"]) for entry in said}
    except (ValueError, KeyError, TypeError):  # not a report of ours
        return []
    gone = []
    for name, was in sorted(named.items()):
        path = folder / name
        if name in kept or Path(name).name != name or not path.is_file():
            continue
        if hashlib.sha256(path.read_bytes()).hexdigest() == was:
            gone.append(path)
    return gone


def write_set(files: Sequence[tuple[Path, bytes]], folder: Path | None, report: str) -> None:
    """Write a set of files that belong together, then take away what an earlier set left in their ``folder``.

    ``report``: the file there that names the set; ``folder`` None where only files elsewhere are written.  A sleeve
    beside the jacket of yesterday's pieces would be cut in steel.  What goes is told on stderr.

    Raises FileTrouble for what cannot be written or taken away.
    """
    from rollergen.export.files import write_together

    kept = [path.name for path, _ in files if path.parent == folder]
    gone = [] if folder is None else outdated(folder, report, kept)
    write_together(files)
    for path in gone:
        try:
            path.unlink()
        except OSError as trouble:
            raise FileTrouble(f"{path} cannot be removed: {trouble.strerror or trouble}") from trouble
        print(f"removed {path}: of an earlier run, not of this set", file=sys.stderr)


def _step(drawn: Drawn, degree: int) -> Made:
    from rollergen.export.step import step_bytes
    from rollergen.shape.part_volume import centroid_of_part, surface_of, volume_of
    from rollergen.shape.solid import checked_solid

    solid, volume_error = checked_solid(drawn.part, degree=degree)
    data = step_bytes(
        solid,
        name=drawn.profile.name,
        part_name=f"{drawn.profile.name} segment",
        colour=drawn.part.colour,
        compound=drawn.profile.compound.name,
        density_kg_m3=drawn.profile.compound.density_kg_m3,
        volume_mm3=volume_of(drawn.part),
        area_mm2=surface_of(drawn.part),
        centroid_mm=centroid_of_part(drawn.part),
    )
    return ("step", data, {"deviation_mm": None, "volume_error": volume_error})


def _meshed(drawn: Drawn, formats: Sequence[str], chord_error: float) -> list[Made]:
    from rollergen.export.glb import glb_bytes
    from rollergen.export.stl import stl_bytes
    from rollergen.export.threemf import threemf_bytes
    from rollergen.shape.mesh import build_mesh
    from rollergen.shape.mesh_check import mesh_volume
    from rollergen.shape.part_volume import volume_of

    mesh = build_mesh(drawn.part, chord_error=chord_error)
    name, compound = drawn.profile.name, drawn.profile.compound
    entry = {
        "deviation_mm": mesh.deviation_mm,
        "volume_error": mesh_volume(mesh.vertices, mesh.triangles) / volume_of(drawn.part) - 1,
        "triangles": len(mesh.triangles),
    }
    writers: dict[str, Callable[[], bytes]] = {
        "stl": lambda: stl_bytes(mesh, name),
        "3mf": lambda: threemf_bytes(
            [(name, mesh, drawn.part.colour)],
            title=name,
            compound=compound.name,
            density_kg_m3=compound.density_kg_m3,
        ),
        "glb": lambda: glb_bytes(mesh, name=name, colour=drawn.part.colour),
    }
    return [(kind, writers[kind](), entry) for kind in ("stl", "3mf", "glb") if kind in formats]


def _dxf(drawn: Drawn) -> Made:
    from rollergen.export.dxf import dxf_bytes

    section = drawn.section
    chambers = [(f"CHAMBER_{number}", c) for number, c in enumerate(section.chambers, start=1)]
    data = dxf_bytes([("OUTER", section.outer), ("BORE", section.bore), *chambers])
    return ("dxf", data, {"deviation_mm": 0.0, "volume_error": None})
