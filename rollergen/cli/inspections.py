"""The inspect command: a measured part against its profile, or a profile recovered from a scan."""

from __future__ import annotations

import sys
from dataclasses import asdict
from math import degrees
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import (
    LIMIT_NOT_MET,
    AcrossParting,
    AsJson,
    CastClass,
    UnitChoice,
    answer,
    form_of,
    parsed,
)
from rollergen.cli.duty_asking import Picture, drawn_from_file
from rollergen.cli.inspection_rows import tell_inspection, verdict_line
from rollergen.cli.showing import print_cautions, print_json, print_rows
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from rollergen.answer.deviation_map import DeviationMap
    from rollergen.answer.inspection import Held, Inspection
    from rollergen.answer.recovery import Recovered
    from rollergen.answer.report import Drawn

ScanUnits = Literal["mm", "inch", "cm", "m"]
CAUTIONS = (
    "a scan tells size, not strength: it does not see voids, soft spots or a wrong compound",
    "measure at room temperature, at the age your drawing or contract says; cast polyurethane goes on shrinking for days",
)


@app.command(
    epilog='Example:  rollergen inspect beet.toml --scan part.stl --cast-with "1.4 %" --picture part.png   |   '
    "rollergen inspect --recover --scan unknown.ply --out unknown.toml"
)
def inspect(
    profile: Annotated[
        Path | None, typer.Argument(metavar="[PROFILE]", help="A profile file (.toml); none with --recover.")
    ] = None,
    scan: Annotated[
        Path | None,
        typer.Option(help="A scan: .stl .ply .obj .off .3mf mesh, or a table of points (.csv .xyz .txt)."),
    ] = None,
    caliper: Annotated[
        Path | None,
        typer.Option(help='Readings by hand (.csv), lines such as "body.diameter, 118.3 mm, 118.1 mm".'),
    ] = None,
    scan_units: Annotated[
        ScanUnits | None,
        typer.Option(help="mm, inch, cm or m; default what the file says, else by its size."),
    ] = None,
    cast_class: CastClass = "M3",
    across_parting: AcrossParting = False,
    cast_with: Annotated[
        str | None,
        typer.Option(help='Shrinkage across the mould was made with, e.g. "1.4 %"; default the profile\'s.'),
    ] = None,
    cast_with_axial: Annotated[
        str | None, typer.Option(help="The same along the axis; default as across, or the profile's.")
    ] = None,
    most_runout: Annotated[
        str | None,
        typer.Option(help='Most runout of the body about the bore, e.g. "0.5 mm"; default no limit.'),
    ] = None,
    most_phase: Annotated[
        str | None,
        typer.Option(
            help='Most that bore and chambers may stand off their angle to the ribs, e.g. "1 deg"; default no limit.'
        ),
    ] = None,
    strict: Annotated[
        bool, typer.Option("--strict", help="A feature that is not seen counts as failed.")
    ] = False,
    picture: Picture = None,
    recover: Annotated[
        bool, typer.Option("--recover", help="Write a profile from the scan of an unknown segment.")
    ] = False,
    compound: Annotated[
        str | None, typer.Option(help="With --recover: compound of the table; a scan cannot see it.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            help="With --recover: the profile file to write; its confidences go beside it as .json."
        ),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite a profile that is there.")] = False,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """A measured part against its profile: pass or fail by feature, and the shrinkage for the next pour.

    With --recover it ends in 3 where a value had to be left open (the compound apart) or cannot be trusted.
    """

    def work() -> int:
        if recover:
            _refuse_beside_recover(profile, caliper, picture)
            held_to = {
                "--cast-class": cast_class != "M3", "--across-parting": across_parting, "--units": units != "mm",
                "--cast-with": cast_with, "--cast-with-axial": cast_with_axial, "--most-runout": most_runout,
                "--most-phase": most_phase, "--strict": strict,
            }  # fmt: skip
            _refuse_without_effect([option for option, given in held_to.items() if given], "--recover")
            return _recovered(scan, scan_units, compound, out, force, as_json)
        if profile is None:
            raise UsageError("inspect needs a PROFILE to hold the part against; without one use --recover")
        if (scan is None) == (caliper is None):
            raise UsageError("inspect takes either --scan FILE or --caliper FILE")
        if out is not None or compound is not None or force:
            raise UsageError("--out, --compound and --force go with --recover")
        if caliper is not None:
            of_a_scan = {"--scan-units": scan_units, "--most-runout": most_runout, "--most-phase": most_phase}
            _refuse_without_effect(
                [name for name, given in of_a_scan.items() if given is not None], "--caliper"
            )
        if picture is not None:
            form_of(picture)
            if scan is None:
                raise UsageError("--picture needs --scan: readings by hand have no map")
        drawn = drawn_from_file(profile)
        held = _held(drawn, cast_class, across_parting, cast_with, cast_with_axial, most_runout, most_phase)
        found, shown = _inspected(drawn, scan, caliper, held, scan_units)
        if picture is not None and shown is not None:
            _draw(picture, drawn, found, shown)
        if as_json:
            print_json({"schema": 1, "profile": drawn.profile.name, **asdict(found)})
        else:
            tell_inspection(drawn, found, held, units)
            print_cautions(CAUTIONS if found.scan is not None else CAUTIONS[1:])
        return 0 if found.ok and (found.complete or not strict) else LIMIT_NOT_MET

    answer(work, as_json=as_json)


def _refuse_beside_recover(profile: Path | None, caliper: Path | None, picture: Path | None) -> None:
    if profile is not None:
        raise UsageError(f"--recover takes no profile, and got {profile}: it writes one; name it with --out")
    if caliper is not None or picture is not None:
        raise UsageError(
            "--recover takes --scan only; inspect the part against the recovered profile afterwards"
        )


def _refuse_without_effect(options: list[str], beside: str) -> None:
    if not options:
        return
    if beside == "--recover":
        why = "the profile it writes is in mm and is held to nothing; inspect the part against it afterwards"
    elif options == ["--scan-units"]:
        why = "every reading names its own unit"
    else:
        why = "a caliper reads no angle between surfaces and no runout; leave it out, or give --scan"
    raise UsageError(f"{' and '.join(options)} beside {beside} has no effect: {why}")


def _held(
    drawn: Drawn,
    grade: Literal["M1", "M2", "M3", "M4"],
    across_parting: bool,
    cast_with: str | None,
    cast_with_axial: str | None,
    most_runout: str | None,
    most_phase: str | None,
) -> Held:
    from rollergen.answer.inspection import Held
    from rollergen.spec.units import parse_length, parse_share
    from rollergen.tooling.shrinkage import checked_shrinkage

    compound = drawn.profile.compound
    radial = compound.shrinkage if cast_with is None else parsed(parse_share, cast_with, "--cast-with")
    axial = None if cast_with is not None else compound.axial_shrinkage
    if cast_with_axial is not None:
        axial = parsed(parse_share, cast_with_axial, "--cast-with-axial")
        if radial is None:
            raise UsageError("--cast-with-axial needs --cast-with, the shrinkage across")
    where = "as told" if cast_with is not None else f"{drawn.profile.name}: compound.shrinkage"
    keys = (
        "compound.shrinkage" if cast_with is None else "--cast-with",
        "compound.axial_shrinkage" if cast_with_axial is None else "--cast-with-axial",
    )
    used = None if radial is None else checked_shrinkage(radial, axial, where, keys=keys)
    return Held(
        grade=grade,
        dimension="closure" if across_parting else "fixed",
        most_runout=None if most_runout is None else parsed(parse_length, most_runout, "--most-runout"),
        most_phase=None if most_phase is None else _most_phase(drawn, most_phase),
        radial_used=None if used is None else used.radial,
        axial_used=None if used is None else used.axial,
        used_from="" if used is None else used.source,
    )


def _most_phase(drawn: Drawn, text: str) -> float:
    """The limit of a phase (deg), refused where no phase can be off by more, or where the part has none."""
    from rollergen.spec.units import parse_angle
    from rollergen.tooling.scan_phase import period_of, phases_asked

    limit, keys = degrees(parsed(parse_angle, text, "--most-phase")), phases_asked(drawn.profile)
    if not keys:
        raise UsageError(
            "--most-phase has no effect: bore, ribs and chambers of this profile have no angle to one another"
        )
    half = min(period_of(key, drawn.profile) for key in keys) / 2
    if not 0 <= limit < half:
        raise UsageError(
            f"--most-phase {limit:g} deg is no limit: {' and '.join(keys)} come again every {2 * half:g} deg, so that "
            f"nothing is off by more than {half:g} deg; give 0 deg or more, and less than that"
        )
    return limit


def _inspected(
    drawn: Drawn, scan: Path | None, caliper: Path | None, held: Held, unit: str | None
) -> tuple[Inspection, DeviationMap | None]:
    from rollergen.answer.inspection import inspect_readings, inspect_scan

    if scan is not None:
        return inspect_scan(drawn, scan, held, unit=unit)
    assert caliper is not None  # the command asks for one of both
    return inspect_readings(drawn, caliper, held), None


def _draw(picture: Path, drawn: Drawn, found: Inspection, shown: DeviationMap) -> None:
    from rollergen.export.files import write_aside
    from rollergen.export.inspect_picture import FeatureBar, inspect_picture

    def share(value: float | None, limit: float | None) -> float | None:
        return None if value is None or not limit else value / limit

    bars = [
        FeatureBar(
            name=f.key,
            words="not seen"
            if f.measured is None
            else f"{f.measured:.2f} {f.unit}"
            if f.tolerance is None or f.key == "runout"
            else f"{f.measured:.2f}, asked {f.nominal:.2f} ±{f.tolerance:.2f} {f.unit}",
            verdict=f.verdict,
            share=share(f.deviation, f.tolerance),
            error=share(f.standard_error, f.tolerance),
        )
        for f in found.features
    ]
    page = inspect_picture(
        angle=shown.angle, z=shown.z, deviation=shown.deviation, bars=bars,
        title=f"{drawn.profile.name} as measured: {found.scan.file if found.scan else ''}",
        verdict=_headline(found), least_range=_least_range(found), form=form_of(picture),
    )  # fmt: skip
    write_aside(picture, page)
    print(f"wrote {picture}", file=sys.stderr)


def _headline(found: Inspection) -> str:
    """The verdict for a picture, with the first reason where it failed."""
    from textwrap import shorten

    if found.ok:
        return f"PASS: {verdict_line(found)}"
    return f"FAIL: {verdict_line(found)}\n{shorten(found.reasons[0], 140)}"


def _least_range(found: Inspection) -> float:
    """Half of what the body's surface may stray by its tolerance (mm); 0 for a body without one."""
    body = next((f for f in found.features if f.key == "body.diameter"), None)
    return 0.0 if body is None or body.tolerance is None else body.tolerance / 4


def _recovered(
    scan: Path | None, unit: str | None, compound: str | None, out: Path | None, force: bool, as_json: bool
) -> int:
    from rollergen.answer.recovery import confidence_page, recover_profile
    from rollergen.cli.showing import json_text
    from rollergen.export.files import write_together

    if scan is None:
        raise UsageError("--recover needs --scan FILE")
    if out is not None:
        _refuse_to_overwrite(out, scan, force)
    name = out.stem if out is not None else scan.stem
    found = recover_profile(scan, name=name, unit=unit, compound=compound)
    page = confidence_page(found)
    if out is not None:
        write_together([(out, found.text.encode()), (_beside(out), json_text(page).encode())])
    if as_json:
        print_json(page)
    elif out is None:
        print(found.text, end="")
    else:
        _tell_recovered(found)
    # a profile that goes to stdout is kept clean of what stands against it
    for reason in () if as_json else found.reasons:
        print(f"not met: {reason}", file=sys.stderr if out is None else sys.stdout)
    if not as_json:
        for note in found.notes:
            print(f"note: {note}", file=sys.stderr)
        if out is not None:
            print(f"wrote {out} and {_beside(out)}", file=sys.stderr)
    return 0 if found.ok else LIMIT_NOT_MET


def _beside(out: Path) -> Path:
    return out.with_suffix(".confidence.json")


def _refuse_to_overwrite(out: Path, scan: Path, force: bool) -> None:
    """A profile never takes the place of its scan, and of another file only with --force."""
    if out.exists() and scan.exists() and out.samefile(scan):
        raise UsageError(f"--out {out} would overwrite the scan {scan}; write e.g. --out {_as_toml(out)}")
    if out.suffix != ".toml":
        raise UsageError(
            f"--out {out}: the file of a profile ends in .toml; write e.g. --out {_as_toml(out)}"
        )
    there = [str(file) for file in (out, _beside(out)) if file.is_file()]
    if there and not force:
        raise UsageError(f"{' and '.join(there)} already there; name another file or add --force")


def _as_toml(out: Path) -> Path:
    return out.with_suffix(".toml") if out.name.strip(".") else out / "recovered.toml"


def _tell_recovered(found: Recovered) -> None:
    print_rows(
        f"{found.name}: recovered", [(v.key, f"{v.text}  ({v.confidence}: {v.why})") for v in found.values]
    )
    for missing in found.asked_for:
        print(f"asked for: {missing}")
