"""The proto command: print checks, pieces that fit the printer, 3MF files."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import LIMIT_NOT_MET, AsJson, ProfileFile, answer, parsed
from rollergen.cli.duty_asking import drawn_from_file
from rollergen.cli.showing import json_text, print_cautions, print_json, print_rows
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from rollergen.answer.prototype import PrintAsked, Prototype
    from rollergen.shape.mesh import Mesh

FILAMENT = "filament of the print, not the cast compound"


@app.command(
    epilog='Example:  rollergen proto beet.toml --printer "220x220x250 mm" --shaft "30 mm" --out prints'
)
def proto(
    profile: ProfileFile,
    printer: Annotated[str, typer.Option(help='Plate and height, e.g. "220x220x250 mm".')],
    scale: Annotated[float, typer.Option(help="Size of the print over the casting.")] = 1.0,
    cuts: Annotated[
        str | None,
        typer.Option(help='Heights to cut at, e.g. "50 mm, 100 mm"; default evenly as needed, "none".'),
    ] = None,
    shaft: Annotated[
        str | None, typer.Option(help="Shaft to test on, across; default the profile's.")
    ] = None,
    nozzle_line: Annotated[str, typer.Option(help="Width of a printed line.")] = "0.45 mm",
    layer: Annotated[str, typer.Option(help="Height of a layer.")] = "0.2 mm",
    shells: Annotated[int, typer.Option(min=1, max=50, help="Lines along every edge.")] = 3,
    infill: Annotated[str, typer.Option(help="Share of the inside that is filled.")] = "20 %",
    filament_density: Annotated[str, typer.Option(help="Density of the filament.")] = "1.22 g/cm^3",
    filament_diameter: Annotated[str, typer.Option(help="Diameter of the filament.")] = "1.75 mm",
    elephant_foot: Annotated[str, typer.Option(help="Relief of the edges on the plate, 45 deg.")] = "0.4 mm",
    joint_rim: Annotated[
        str, typer.Option(help="Rubber round the bore that makes the step of a joint.")
    ] = "3 mm",
    chord_error: Annotated[str, typer.Option(help="Largest deviation of the meshes.")] = "0.05 mm",
    out: Annotated[Path, typer.Option(help="Folder; files go to <out>/<name>-proto/.")] = Path("out"),
    as_json: AsJson = False,
) -> None:
    """Whether and how it prints, cut into pieces that clock themselves; one 3MF a piece and one of all."""

    def work() -> int:
        from rollergen.answer.prototype import CAUTIONS, PrintAsked, prototype_of
        from rollergen.export.files import write_aside
        from rollergen.spec.units import parse_density, parse_length, parse_positive_length, parse_share
        from rollergen.tooling.print_checks import Printer
        from rollergen.tooling.print_split import Joint

        plate_x, plate_y, height = _printer(printer)
        asked = PrintAsked(
            printer=Printer(
                plate=(plate_x, plate_y),
                height=height,
                line=parsed(parse_positive_length, nozzle_line, "--nozzle-line"),
                layer=parsed(parse_positive_length, layer, "--layer"),
                shells=shells,
                infill=parsed(parse_share, infill, "--infill"),
                filament_density=parsed(parse_density, filament_density, "--filament-density") / 1000,
                filament_diameter=parsed(parse_positive_length, filament_diameter, "--filament-diameter"),
            ),
            scale=scale,
            cuts=_cuts(cuts),
            joint=Joint(rim=parsed(parse_positive_length, joint_rim, "--joint-rim")),
            foot=parsed(parse_length, elephant_foot, "--elephant-foot"),
            shaft=None if shaft is None else parsed(parse_positive_length, shaft, "--shaft"),
        )
        found = prototype_of(drawn_from_file(profile), asked)
        error = parsed(parse_positive_length, chord_error, "--chord-error")
        page = page_of(found, asked)
        files = _files(found, asked, out / f"{found.profile}-proto", error)
        page["files"] = [{"path": str(path), "bytes": len(data)} for path, data in files]
        for path, data in files:
            write_aside(path, data)
        write_aside(out / f"{found.profile}-proto" / f"{found.profile}.proto.json", json_text(page).encode())
        if as_json:
            print_json(page)
        else:
            _print(found, files)
            print_cautions(CAUTIONS)
        return 0 if found.report.printable else LIMIT_NOT_MET

    answer(work, as_json=as_json)


def _printer(text: str) -> tuple[float, float, float]:
    from rollergen.spec.units import parse_positive_length

    number, _, unit = text.strip().rpartition(" ")
    sides = [side.strip() for side in (number or unit).lower().split("x")]
    if len(sides) != 3 or not number:
        raise UsageError(f'--printer "{text}" is not a plate and a height; write e.g. "220x220x250 mm"')
    x, y, z = (parsed(parse_positive_length, f"{side} {unit}", "--printer") for side in sides)
    return x, y, z


def _cuts(text: str | None) -> tuple[float, ...] | None:
    from rollergen.spec.units import parse_positive_length

    if text is None:
        return None
    if text.strip() == "none":
        return ()
    return tuple(parsed(parse_positive_length, part.strip(), "--cuts") for part in text.split(","))


def page_of(found: Prototype, asked: PrintAsked) -> dict[str, Any]:
    """What the report says, numbers never rounded."""
    from rollergen.answer.prototype import CAUTIONS

    pieces = found.pieces
    return {
        "schema": 1,
        "profile": found.profile,
        "scale": found.scale,
        **asdict(found.report),
        "cuts_mm": list(pieces.cuts_mm),
        "joint_lost_mm3": pieces.joint_lost_mm3,
        "foot_lost_mm3": pieces.foot_lost_mm3,
        "part_volumes_mm3": list(found.part_volumes_mm3),
        "whole_volume_mm3": found.whole_volume_mm3,
        "cautions": list(CAUTIONS),
    }


def _files(found: Prototype, asked: PrintAsked, folder: Path, error: float) -> list[tuple[Path, bytes]]:
    """One 3MF a piece, each standing on the plate, and one of all side by side."""
    from dataclasses import replace

    import numpy as np

    from rollergen.export.threemf import threemf_bytes
    from rollergen.shape.mesh import build_mesh

    meshes: list[tuple[str, Mesh, str]] = []
    for part in found.pieces.parts:
        mesh = build_mesh(part, chord_error=error)
        low = float(mesh.vertices[:, 2].min())
        meshes.append((part.name, replace(mesh, vertices=mesh.vertices - [0.0, 0.0, low]), part.colour))
    density = asked.printer.filament_density * 1000

    def written(items: list[tuple[str, Mesh, str]], title: str) -> bytes:
        return threemf_bytes(items, title=title, compound=FILAMENT, density_kg_m3=density)

    stem = f"{found.profile}.piece" if len(meshes) > 1 else f"{found.profile}.print"
    files = [
        (folder / f"{stem}{f'-{n}' if len(meshes) > 1 else ''}.3mf", written([item], item[0]))
        for n, item in enumerate(meshes, start=1)
    ]
    if len(meshes) > 1:
        apart = found.report.tip_circle_mm * 1.1
        beside = [
            (name, replace(mesh, vertices=mesh.vertices + np.array([n * apart, 0.0, 0.0])), colour)
            for n, (name, mesh, colour) in enumerate(meshes)
        ]
        files.append((folder / f"{found.profile}.all.3mf", written(beside, f"{found.profile}, all pieces")))
    return files


def _print(found: Prototype, files: list[tuple[Path, bytes]]) -> None:
    r = found.report
    roofs = (
        "no holes"
        if r.bridge_lying_mm is None
        else f"{r.bridge_lying_mm[0]:.1f} to {r.bridge_lying_mm[1]:.1f} mm"
    )
    rows = [
        ("verdict", "can be printed" if r.printable else "NOT AS ASKED"),
        ("stand it", r.orientation),
        ("pieces", f"{len(found.pieces.parts)}, the highest {r.print_height_mm:.1f} mm"),
        ("circle on the plate", f"{r.tip_circle_mm:.1f} mm"),
        ("first layer", f"{r.first_layer_cm2:.2f} cm2"),
        ("thinnest rubber", f"{r.least_rubber_mm:.2f} mm, {r.lines_across} lines"),
        ("lean from upright", f"{r.upright_lean_deg:.1f} deg"),
        ("roofs lying down", roofs),
        ("filament", f"{r.filament_cm3:.0f} cm3, {r.filament_g:.0f} g, {r.filament_m:.1f} m"),
        *(("", warning) for warning in r.warnings),
        *(("file", str(path)) for path, _ in files),
    ]
    print_rows(f"{found.profile}, printed at {found.scale:g}", rows)
