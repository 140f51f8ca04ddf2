"""The proto command: print checks, pieces that fit the printer, 3MF files."""

from __future__ import annotations

import sys
from pathlib import Path
from string import ascii_letters
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import (
    LIMIT_NOT_MET,
    AsJson,
    ProfileFile,
    UnitChoice,
    Units,
    answer,
    form_of,
    parsed,
)
from rollergen.cli.duty_asking import Picture, drawn_from_file
from rollergen.cli.showing import json_text, print_cautions, print_json, print_rows
from rollergen.cli.writing import write_set
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from rollergen.answer.prototype import PrintAsked, Prototype
    from rollergen.tooling.print_checks import Printer

FOOT = 0.3048  # m


@app.command(
    epilog='Example:  rollergen proto beet.toml --printer "220x220x250 mm" --shaft "30 mm" --out prints'
)
def proto(
    profile: ProfileFile,
    printer: Annotated[str, typer.Option(help='Plate and height, e.g. "220x220x250 mm".')],
    scale: Annotated[float, typer.Option(help="Size of the print over the casting.")] = 1.0,
    cuts: Annotated[
        str | None,
        typer.Option(
            help='Heights to cut at from the z = 0 end of the print, e.g. "50 mm, 100 mm"; "none"; default as needed.'
        ),
    ] = None,
    shaft: Annotated[
        str | None, typer.Option(help="Shaft to test on, across, not scaled; default the profile's, scaled.")
    ] = None,
    shaft_clearance: Annotated[
        str | None, typer.Option(help="The bore is wider than that shaft by this; default the profile's.")
    ] = None,
    shaft_corner: Annotated[
        str | None,
        typer.Option(
            help="Corner radius of the bore for that shaft; default the profile's, scaled, of a keyway not scaled."
        ),
    ] = None,
    shaft_key: Annotated[
        str | None,
        typer.Option(
            help='Keyway for that shaft, width and depth, e.g. "10x3.3 mm"; default the profile\'s, not scaled.'
        ),
    ] = None,
    nozzle_line: Annotated[str, typer.Option(help="Width of a printed line.")] = "0.45 mm",
    layer: Annotated[str, typer.Option(help="Height of a layer.")] = "0.2 mm",
    shells: Annotated[int, typer.Option(min=1, max=50, help="Lines along every edge.")] = 3,
    solid_layers: Annotated[
        int, typer.Option(min=0, max=1000, help="Solid layers at the lower and upper end of every piece.")
    ] = 4,
    infill: Annotated[str, typer.Option(help="Share of the inside that is filled.")] = "20 %",
    filament_density: Annotated[str, typer.Option(help="Density of the filament.")] = "1.22 g/cm^3",
    filament_diameter: Annotated[str, typer.Option(help="Diameter of the filament.")] = "1.75 mm",
    elephant_foot: Annotated[
        str, typer.Option(help="Relief of the edges on the plate, 45 deg; 0 mm for none.")
    ] = "0.4 mm",
    joint_rim: Annotated[
        str | None,
        typer.Option(
            help="Rubber round the bore that makes the step of a joint; default 3 mm or half the room."
        ),
    ] = None,
    joint_height: Annotated[str, typer.Option(help="Height of the step.")] = "5 mm",
    joint_around: Annotated[str, typer.Option(help="Clearance round the step.")] = "0.15 mm",
    joint_above: Annotated[str, typer.Option(help="Clearance above the step.")] = "0.2 mm",
    chord_error: Annotated[str, typer.Option(help="Largest deviation of the meshes.")] = "0.05 mm",
    picture: Picture = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder for 3MF files and report; none are written without.")
    ] = None,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """Whether and how it prints, cut into pieces that clock themselves; one 3MF a piece and one of all."""

    def work() -> int:
        from rollergen.answer.prototype import CAUTIONS, PrintAsked, prototype_of
        from rollergen.spec.units import parse_length, parse_positive_length
        from rollergen.tooling.print_joint import Joint

        if picture is not None:
            form_of(picture)
            _refuse_one_name(picture, out)

        def given(text: str | None, option: str, parse: Any = parse_positive_length) -> float | None:
            return None if text is None else parsed(parse, text, option)

        asked = PrintAsked(
            printer=_printer(
                printer, nozzle_line=nozzle_line, layer=layer, shells=shells, solid_layers=solid_layers, infill=infill,
                filament_density=filament_density, filament_diameter=filament_diameter,
            ),
            scale=scale,
            cuts=_cuts(cuts),
            joint=Joint(
                rim=given(joint_rim, "--joint-rim"),
                height=parsed(parse_positive_length, joint_height, "--joint-height"),
                around=parsed(parse_positive_length, joint_around, "--joint-around"),
                above=parsed(parse_positive_length, joint_above, "--joint-above"),
            ),
            foot=parsed(parse_length, elephant_foot, "--elephant-foot"),
            shaft=given(shaft, "--shaft"),
            shaft_clearance=given(shaft_clearance, "--shaft-clearance", parse_length),
            shaft_corner=given(shaft_corner, "--shaft-corner", parse_length),
            shaft_key=_keyway(shaft_key),
        )  # fmt: skip
        error = _chord_error(chord_error, asked.printer)
        found = prototype_of(drawn_from_file(profile), asked)
        page, files = _files(found, asked, out, picture, error)
        write_set(files, None if out is None else _folder(out, found.profile), _report(found.profile))
        if as_json:
            print_json(page)
        else:
            _tell(found, units)
            print_cautions(CAUTIONS)
            for path, _ in files:
                print(f"wrote {path}", file=sys.stderr)
        return 0 if found.report.printable else LIMIT_NOT_MET

    answer(work, as_json=as_json)


def _printer(
    text: str,
    *,
    nozzle_line: str,
    layer: str,
    shells: int,
    solid_layers: int,
    infill: str,
    filament_density: str,
    filament_diameter: str,
) -> Printer:
    from rollergen.spec.units import parse_density, parse_positive_length, parse_share
    from rollergen.tooling.print_checks import Printer

    share = parsed(parse_share, infill, "--infill")
    if not 0 <= share <= 1:
        raise UsageError(f'--infill "{infill}": 0 to 100 % is meant')
    x, y, z = _sides(text, "--printer", 3, 'a plate and a height; write e.g. "220x220x250 mm"')
    return Printer(
        plate=(x, y),
        height=z,
        line=parsed(parse_positive_length, nozzle_line, "--nozzle-line"),
        layer=parsed(parse_positive_length, layer, "--layer"),
        shells=shells,
        solid_layers=solid_layers,
        infill=share,
        filament_density=parsed(parse_density, filament_density, "--filament-density") / 1000,
        filament_diameter=parsed(parse_positive_length, filament_diameter, "--filament-diameter"),
    )


def _refuse_one_name(picture: Path, out: Path | None) -> None:
    """A picture cannot take the name of the folder the files go into, nor of one above it."""
    if out is not None and picture.resolve() in (out.resolve(), *out.resolve().parents):
        raise UsageError(
            f"--picture {picture}: --out {out} makes a folder of that name; name the picture otherwise"
        )


def _chord_error(text: str, printer: Printer) -> float:
    from rollergen.spec.amounts import at_most, mm
    from rollergen.spec.units import parse_positive_length

    error, most = parsed(parse_positive_length, text, "--chord-error"), printer.line / 2
    if error > most:
        raise UsageError(
            f"--chord-error {mm(error)}: half a line ({printer.line:g} mm) at most, or facets show in the print:"
            f" {at_most(most)}"
        )
    return error


def _keyway(text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    width, depth = _sides(text, "--shaft-key", 2, 'a width and a depth; write e.g. "10x3.3 mm"')
    return width, depth


def _sides(text: str, option: str, count: int, meant: str) -> tuple[float, ...]:
    """Lengths with an x between them and one unit at the end."""
    from rollergen.spec.units import parse_positive_length

    # the unit is what follows the last digit, with or without a blank
    number = text.strip().rstrip(ascii_letters + "\"'")
    unit = text.strip()[len(number) :]
    sides = [side.strip() for side in number.lower().split("x")]
    if len(sides) != count or not unit:
        raise UsageError(f'{option} "{text}" is not {meant}')
    return tuple(parsed(parse_positive_length, f"{side} {unit}", option) for side in sides)


def _cuts(text: str | None) -> tuple[float, ...] | None:
    from rollergen.spec.units import parse_signed_length

    if text is None:
        return None
    if text.strip() == "none":
        return ()
    return tuple(parsed(parse_signed_length, part.strip(), "--cuts") for part in text.split(","))


def page_of(found: Prototype) -> dict[str, Any]:
    """What the report says, numbers never rounded."""
    from dataclasses import asdict

    from rollergen.answer.prototype import CAUTIONS

    pieces = found.pieces
    high = pieces.pieces[-1].high
    return {
        "schema": 1,
        "profile": found.profile,
        "scale": found.scale,
        "bore_mm": found.bore_mm,
        "shaft_mm": found.shaft_mm,
        "keyway_mm": found.keyway_mm,
        **asdict(found.report),
        "cuts_mm": sorted(high - cut for cut in pieces.cuts) if found.upside_down else list(pieces.cuts),
        "printed": [asdict(piece) for piece in found.printed],
        "joint": None if found.joint is None else asdict(found.joint),
        "plain_volume_mm3": pieces.plain,
        "joint_lost_mm3": pieces.joints,
        "foot_lost_mm3": pieces.reliefs,
        "upper_end_lost_mm3": pieces.upper_end,
        "cautions": list(CAUTIONS),
    }


def _files(
    found: Prototype, asked: PrintAsked, out: Path | None, picture: Path | None, error: float
) -> tuple[dict[str, Any], list[tuple[Path, bytes]]]:
    """The page and every file, all made before the first is written."""
    files: list[tuple[Path, bytes]] = []
    page = {**page_of(found), "files": []}
    if picture is not None:
        from rollergen.cli.proto_files import standing_page

        files.append((picture, standing_page(found, form_of(picture))))
    if out is not None:
        from rollergen.cli.proto_files import threemf_files

        folder = _folder(out, found.profile)
        made = threemf_files(found, asked, error)
        files += [(folder / name, data) for name, data, _ in made]
        page["files"] = [{**entry, "path": name} for name, _, entry in made]
        files.append((folder / _report(found.profile), json_text(page).encode()))
    return page, files


def _folder(out: Path, name: str) -> Path:
    return out / f"{name}-proto"


def _report(name: str) -> str:
    return f"{name}.proto.json"


def _tell(found: Prototype, units: Units) -> None:
    from rollergen.spec.units import length_text

    r = found.report

    def size(value: float, digits: int = 1) -> str:
        return length_text(value, units, digits=digits)

    x, y = r.footprint_mm
    length = f"{r.filament_m / FOOT:.1f} ft" if units == "in" else f"{r.filament_m:.1f} m"
    rows = [
        ("verdict", "can be printed" if r.printable else "NOT AS ASKED"),
        *(("", reason) for reason in r.reasons),
        ("stand it" if r.printable else "it would stand", r.orientation),
        (
            "on the plate",
            f"{size(x).removesuffix(f' {units}')} x {size(y)} as it stands, {size(r.plate_left_mm)} to spare;"
            f" tip circle {size(r.tip_circle_mm)}",
        ),
        ("height", f"{size(r.print_height_mm)}, {size(r.height_left_mm)} to spare; {r.layers} layers in all"),
        (
            "bore",
            f"{size(found.bore_mm, 2)} for a shaft of {size(found.shaft_mm, 2)}{_keyway_words(found, units)}",
        ),
        ("thinnest rubber", f"{size(r.least_rubber_mm, 2)}, {r.thinnest_at}: {r.lines_across} lines across"),
        ("lean from upright", f"{r.upright_lean_deg:.1f} deg; {r.turned_lean_deg:.1f} deg on the other end"),
        ("first layer", f"{r.first_layer_cm2:.2f} cm2"),
        ("filament", f"{r.filament_cm3:.0f} of {r.solid_cm3:.0f} cm3, {r.filament_g:.0f} g, {length}"),
        *_piece_rows(found, units),
        *(("note", warning) for warning in r.warnings),
    ]
    print_rows(f"{found.profile}, printed at scale {found.scale:g}", rows)


def _keyway_words(found: Prototype, units: Units) -> str:
    from rollergen.spec.units import length_text

    if found.keyway_mm is None:
        return ""
    width, depth = (length_text(side, units, digits=2) for side in found.keyway_mm)
    return f", keyway {width} wide and {depth} deep"


def _piece_rows(found: Prototype, units: Units) -> list[tuple[str, str]]:
    if found.joint is None:
        return [("pieces", "one")]
    from rollergen.spec.units import length_text

    def size(value: float, digits: int = 1) -> str:
        return length_text(value, units, digits=digits)

    rows = [
        (
            piece.name.removeprefix(found.profile).strip(),
            f"z {size(piece.from_mm).removesuffix(f' {units}')} to {size(piece.to_mm)}, {size(piece.piece_height_mm)}"
            f" high, first layer {piece.first_layer_cm2:.2f} cm2, {piece.filament_g:.0f} g",
        )
        for piece in found.printed
    ]
    j = found.joint
    ways = "one way only" if j.joint_ways == 1 else f"{j.joint_ways} ways, one of them right"
    rows.append(
        (
            "joint",
            f"{j.joint_form}: {size(j.joint_rim_mm, 2)} of rubber at its thinnest, {size(j.joint_height_mm, 2)} high,"
            f" {size(j.joint_left_mm, 2)} of rubber round the recess, goes together {ways}, turns"
            f" {j.joint_play_deg:.2f} deg",
        )
    )
    return rows
