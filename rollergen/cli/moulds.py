"""The mould command: how the part leaves, every part of the tool, its numbers, STEP, picture, parts list."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import LIMIT_NOT_MET, AsJson, ProfileFile, UnitChoice, answer, form_of, parsed
from rollergen.cli.duty_asking import Picture, drawn_from_file
from rollergen.cli.showing import finite, in_words, json_text, print_cautions, print_json, print_rows
from rollergen.cli.writing import write_set
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from rollergen.answer.drafted_flex import GiveOfPlace
    from rollergen.answer.moulding import MouldAnswer
    from rollergen.answer.report import Drawn
    from rollergen.cli.mould_files import Made
    from rollergen.shape.outline import Point
    from rollergen.spec.units import Units
    from rollergen.tooling.mould_meeting import Meetings
    from rollergen.tooling.mould_tool import Tool
    from rollergen.tooling.shrinkage import Metal

Way = Literal["auto", "screw", "helical", "planes", "strip"]
End = Literal["large", "middle", "small"]
ChamferPlace = Literal["auto", "plate", "sleeve", "none"]
MetalName = Literal["steel", "aluminium"]


@app.command(epilog='Example:  rollergen mould beet.toml --shrinkage "1.4 %" --draft "0.5 deg" --out out')
def mould(
    profile: ProfileFile,
    shrinkage: Annotated[
        str | None,
        typer.Option(help='Linear shrinkage across the axis, e.g. "1.4 %"; default the profile\'s.'),
    ] = None,
    axial_shrinkage: Annotated[
        str | None, typer.Option(help="Linear shrinkage along the axis; default as across.")
    ] = None,
    shrinkage_source: Annotated[
        str | None, typer.Option(help="Where the shrinkage is from, in your words; goes into the report.")
    ] = None,
    release: Annotated[
        Way, typer.Option(help="How the part leaves: auto, screw, helical, planes, strip.")
    ] = "auto",
    draft: Annotated[str, typer.Option(help='Draft of the chamber cores, e.g. "0.5 deg".')] = "0 deg",
    nominal_end: Annotated[
        End, typer.Option(help="Where a drafted chamber has the profile's size: large, middle or small end.")
    ] = "large",
    mandrel_draft: Annotated[
        str, typer.Option(help="Draft of the bore's core; its thin end is nominal.")
    ] = "0 deg",
    metal: Annotated[MetalName, typer.Option(help="What plates and cavity are made of.")] = "steel",
    core_metal: Annotated[
        MetalName | None, typer.Option(help="What cores are made of; default as the plates.")
    ] = None,
    cure_rise: Annotated[
        str | None, typer.Option(help='From room to cure temperature, e.g. "80 K": fits hot too.')
    ] = None,
    measured_on: Annotated[
        MetalName | None,
        typer.Option(
            help="Metal of the tool the shrinkage was measured on, where it was another; needs --cure-rise."
        ),
    ] = None,
    block_wall: Annotated[str, typer.Option(help="Metal outside the rib tips.")] = "25 mm",
    base_plate: Annotated[str, typer.Option(help="Thickness of the lower plate.")] = "28 mm",
    top_plate: Annotated[str, typer.Option(help="Thickness of the upper plate.")] = "20 mm",
    bolts: Annotated[int, typer.Option(help="Bolts that close it.")] = 4,
    bolt: Annotated[str, typer.Option(help="Thread of the bolts: 5, 6, 8, 10, 12 or 16 mm.")] = "10 mm",
    dowel: Annotated[str, typer.Option(help="Diameter of dowels and pins.")] = "10 mm",
    foot: Annotated[str, typer.Option(help="How deep cores stand in the base plate.")] = "16 mm",
    spigot: Annotated[str, typer.Option(help="How deep cores stand in the top plate.")] = "10 mm",
    foot_fit: Annotated[str, typer.Option(help="Gap each side of a core's foot.")] = "0.03 mm",
    spigot_fit: Annotated[str, typer.Option(help="Gap each side of a core's spigot.")] = "0.08 mm",
    vent: Annotated[str, typer.Option(help="Diameter of an air vent.")] = "1.5 mm",
    gate: Annotated[str | None, typer.Option(help="Gate diameter; default what fits, 12 mm at most.")] = None,
    gate_at: Annotated[
        str | None,
        typer.Option(help='Gate place on the top end, "radius, angle"; default the widest rubber.'),
    ] = None,
    overpour: Annotated[str, typer.Option(help='Poured over what the part takes, e.g. "5 %".')] = "5 %",
    part_number: Annotated[str | None, typer.Option(help="Raised on the part's z = 0 end.")] = None,
    compound_mark: Annotated[
        str | None, typer.Option(help="Compound as marked; default its name, when anything is marked.")
    ] = None,
    mark_depth: Annotated[str, typer.Option(help="How far marks stand out of the part.")] = "0.4 mm",
    date: Annotated[
        str | None, typer.Option(help="Date as marked, in your words; the clock is never asked.")
    ] = None,
    most_twist_shear: Annotated[
        str | None, typer.Option(help='Shear the part may take while it is screwed out, e.g. "2 %".')
    ] = None,
    most_strip: Annotated[
        str | None,
        typer.Option(help='Strain the part may take while it is pulled over an undercut, e.g. "5 %".'),
    ] = None,
    most_parts: Annotated[
        int | None, typer.Option(min=2, help="Most parts of a cavity split by planes through the axis.")
    ] = None,
    base_chamfer: Annotated[
        ChamferPlace,
        typer.Option(
            help="What forms the edge chamfer at z = 0: auto, plate, sleeve, none (broken after casting)."
        ),
    ] = "auto",
    top_chamfer: Annotated[
        ChamferPlace, typer.Option(help="The same at the other end, which a sleeve leaves last.")
    ] = "auto",
    picture: Picture = None,
    undercut: Annotated[
        Path | None,
        typer.Option(help="Where the picture of undercut depth over the part goes (.png or .svg)."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for STEP files, parts list and report; none are written without."),
    ] = None,
    flex: Annotated[
        bool, typer.Option("--flex", help="Press the drafted part at both ends of its chambers too.")
    ] = False,
    interference: Annotated[
        bool,
        typer.Option("--interference", help="Hold every two bodies of the closed mould against one another."),
    ] = False,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """A casting mould: shrinkage, release, parts as exact solids, numbers.

    Answers 3 and makes nothing where the part leaves only beyond a limit you stated (shear, strain, parts).
    """

    def work() -> int:
        from rollergen.answer.moulding import mould_for, shrinkage_of
        from rollergen.tooling.release_lines import ReleaseLimits
        from rollergen.tooling.shrinkage import METALS

        if measured_on is not None and cure_rise is None:
            raise UsageError('--measured-on needs --cure-rise, e.g. --cure-rise "80 K"')
        drawn = drawn_from_file(profile)
        texts = _marks(drawn, part_number, compound_mark, date)
        tool = _tool(
            draft=draft, mandrel_draft=mandrel_draft, nominal_end=nominal_end,
            metals=(METALS[metal], METALS[core_metal or metal]), cure_rise=cure_rise, gate=gate, gate_at=gate_at,
            overpour=overpour, marks=texts, bolts=bolts, fits={"foot": foot_fit, "spigot": spigot_fit},
            sizes={
                "block_wall": block_wall, "base_plate": base_plate, "top_plate": top_plate, "bolt": bolt, "dowel": dowel,
                "foot": foot, "spigot": spigot, "vent": vent, "mark_depth": mark_depth,
            },
        )  # fmt: skip
        share = shrinkage_of(
            drawn,
            radial=_share(shrinkage, "--shrinkage"),
            axial=_share(axial_shrinkage, "--axial-shrinkage"),
            source=shrinkage_source,
        )
        found = mould_for(
            drawn, share, tool, way=release, chamfer_in=(base_chamfer, top_chamfer),
            measured_on=METALS[measured_on] if measured_on else None,
            limits=ReleaseLimits(
                most_twist_shear=_share(most_twist_shear, "--most-twist-shear"),
                most_strip=_share(most_strip, "--most-strip"), most_parts=most_parts,
            ),
        )  # fmt: skip
        gives: tuple[GiveOfPlace, ...] = ()
        if flex:
            from rollergen.answer.drafted_flex import drafted_give

            gives = drafted_give(drawn, found.mould.cavity, share)
        met = None
        if interference:
            from rollergen.tooling.mould_meeting import meetings

            met = meetings(found.mould)
        page, files = _files(drawn, found, gives, met, picture, undercut, out)
        name = drawn.profile.name
        write_set(files, None if out is None else _folder(out, name), _report(name))
        if as_json:
            print_json(page)
        else:
            _tell(drawn, found, gives, met, [path for path, _ in files], units)
        return LIMIT_NOT_MET if met is not None and met.shared else 0

    answer(work, as_json=as_json)


def _share(text: str | None, option: str) -> float | None:
    from rollergen.spec.units import parse_share

    return None if text is None else parsed(parse_share, text, option)


def _marks(
    drawn: Drawn, number: str | None, compound: str | None, date: str | None
) -> tuple[tuple[str, str], ...]:
    """What is marked, and the option it is from: nothing unless one is given; the compound then goes with it."""
    if not any((number, compound, date)):
        return ()
    texts = {
        "--part-number": number,
        "--compound-mark": compound or drawn.profile.compound.name,
        "--date": date,
    }
    return tuple((text, option) for option, text in texts.items() if text)


def _tool(
    *,
    draft: str,
    mandrel_draft: str,
    nominal_end: End,
    metals: tuple[Metal, Metal],
    cure_rise: str | None,
    gate: str | None,
    gate_at: str | None,
    overpour: str,
    marks: tuple[tuple[str, str], ...],
    bolts: int,
    fits: Mapping[str, str],
    sizes: Mapping[str, str],
) -> Tool:
    """``fits`` and ``sizes`` as texts by the names they have in ``Fits`` and ``Tool``."""
    from rollergen.spec.units import parse_positive_length, parse_share
    from rollergen.tooling.mould_tool import Fits, Tool

    def length(name: str, text: str) -> float:
        return parsed(parse_positive_length, text, f"--{name.replace('_', '-')}")

    return Tool(
        metal=metals[0],
        core_metal=metals[1],
        cure_rise=None if cure_rise is None else _rise(cure_rise),
        **{name: length(name, text) for name, text in sizes.items()},
        fits=Fits(**{name: length(f"{name}_fit", text) for name, text in fits.items()}),
        bolts=bolts,
        core_draft=_draft(draft, "--draft"),
        mandrel_draft=_draft(mandrel_draft, "--mandrel-draft"),
        nominal_end=nominal_end,
        gate=None if gate is None else parsed(parse_positive_length, gate, "--gate"),
        gate_at=None if gate_at is None else _place(gate_at),
        overpour=1 + parsed(parse_share, overpour, "--overpour"),
        marks=tuple(text for text, _ in marks),
        mark_options=tuple(option for _, option in marks),
    )


def _draft(text: str, option: str) -> float:
    from rollergen.spec.units import parse_angle

    angle = parsed(parse_angle, text, option)
    if not 0 <= angle < 0.35:
        raise UsageError(f'{option} "{text}": a draft is 0 to under 20 deg; write e.g. "0.5 deg"')
    return angle


def _rise(text: str) -> float:
    number, _, unit = text.strip().partition(" ")
    try:
        rise = float(number)
    except ValueError:
        rise = float("nan")
    if unit.strip() != "K" or not 0 <= rise <= 250:
        raise UsageError(f'--cure-rise "{text}": 0 to 250 K over room temperature; write e.g. "80 K"')
    return rise


def _place(text: str) -> Point:
    from math import cos, sin

    from rollergen.spec.units import parse_angle, parse_length

    radius, comma, angle = text.partition(",")
    if not comma:
        raise UsageError(f'--gate-at "{text}" is no place; write radius and angle, e.g. "45 mm, 30 deg"')
    r = parsed(parse_length, radius.strip(), "--gate-at radius")
    a = parsed(parse_angle, angle.strip(), "--gate-at angle")
    return (r * cos(a), r * sin(a))


def _files(
    drawn: Drawn,
    found: MouldAnswer,
    gives: Sequence[GiveOfPlace],
    met: Meetings | None,
    picture: Path | None,
    undercut: Path | None,
    out: Path | None,
) -> tuple[dict[str, Any], list[tuple[Path, bytes]]]:
    """The page and every file, all made before the first is written."""
    files: list[tuple[Path, bytes]] = []
    entries: list[dict[str, Any]] = []
    name = drawn.profile.name
    if picture is not None:
        from rollergen.cli.mould_files import exploded_page

        files.append((picture, exploded_page(found, form_of(picture))))
    if undercut is not None:
        from rollergen.cli.mould_files import undercut_page

        files.append((undercut, undercut_page(drawn, found, form_of(undercut))))
    if out is not None:
        from rollergen.cli.mould_files import list_file, step_files

        made: list[Made] = [*step_files(found), list_file(found.report.parts, name)]
        folder = _folder(out, name)
        files += [(folder / file, data) for file, _, data, _ in made]
        entries = [{**entry, "path": file} for file, _, _, entry in made]
    page = finite(
        {
            "schema": 1,
            "profile": name,
            "way": found.way,
            **asdict(found.report),
            "release": asdict(found.release),
            "chamfers": [asdict(one) for one in found.chamfers],
            "give": [asdict(one) for one in gives],
            "interference": None if met is None else asdict(met),
            "files": entries,
        }
    )
    if out is not None:
        files.append((_folder(out, name) / _report(name), json_text(page).encode()))
    return page, files


def _folder(out: Path, name: str) -> Path:
    return out / f"{name}-mould"


def _report(name: str) -> str:
    return f"{name}-mould.report.json"


def _tell(
    drawn: Drawn,
    found: MouldAnswer,
    gives: Sequence[GiveOfPlace],
    met: Meetings | None,
    paths: list[Path],
    units: Units,
) -> None:
    from rollergen.cli.mould_rows import cast_rows, met_rows, shrunk_rows, tool_rows

    r = found.report
    print_rows(
        f"{drawn.profile.name}: mould, {found.way}",
        [
            *shrunk_rows(r),
            *(("release", in_words(line, units)) for line in found.release.why),
            *cast_rows(r, units),
            *((f"chamfer at {one.end}", in_words(one.words, units)) for one in found.chamfers),
            *(
                (
                    f"give {one.at}",
                    "{:.3f} N/mm per mm at the core's foot, {:.3f} at its thin end".format(*ends),
                )
                for one in gives
                for ends in [one.stiffness_ends_n_mm2]
            ),
            *tool_rows(r, units),
            *(
                (
                    f"pull cavity_piece_{one.piece}",
                    f"{one.direction_deg:.1f} deg from +x, counter-clockwise seen from above; "
                    f"{one.off_middle_deg + 0.0:.1f} deg off the piece's middle",
                )
                for one in found.release.pulls
            ),
            *(() if met is None else met_rows(met, units)),
            *((f"demould {number}", in_words(step, units)) for number, step in enumerate(r.demould, start=1)),
        ],
    )
    print_cautions([in_words(caution, units) for caution in r.cautions])
    for path in paths:
        print(f"wrote {path}", file=sys.stderr)
