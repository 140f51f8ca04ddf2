"""Commands that make and weigh segments: build, weigh."""

from __future__ import annotations

import sys
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import (
    LIMIT_NOT_MET,
    AcrossParting,
    AsJson,
    CastClass,
    MateTolerance,
    ProfileFile,
    ProfileFiles,
    ShaftBar,
    Strict,
    Swell,
    UnitChoice,
    Units,
    WarmBy,
    answer,
    assumed,
    one_of,
    parsed,
)
from rollergen.cli.showing import (
    as_dict,
    print_complaints,
    print_json,
    print_report,
    print_weight,
)
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from rollergen.cli.building import Built

WORST_FIRST = (1, 5, 4, 2, 3, 0)  # which exit code many profiles answer with


@app.command(epilog="Example:  rollergen build profiles/beet-general.toml --out out")
def build(
    profiles: ProfileFiles,
    out: Annotated[Path, typer.Option(help="Folder for the files; each profile gets one inside.")] = Path(
        "out"
    ),
    formats: Annotated[str, typer.Option(help="Any of step,stl,3mf,glb,dxf.")] = "step,stl,3mf,glb",
    chord_error: Annotated[str, typer.Option(help="Largest deviation of the meshes.")] = "0.05 mm",
    detail: Annotated[str, typer.Option(help="full, or envelope: a light cylinder for layouts.")] = "full",
    degree: Annotated[int, typer.Option(help="5, or 3: cubic surfaces for old readers.")] = 5,
    jobs: Annotated[int, typer.Option(min=0, help="Profiles at a time; 0 is as many as pays.")] = 0,
    again: Annotated[bool, typer.Option("--again", help="Make files anew even if nothing changed.")] = False,
    stack: Annotated[
        bool,
        typer.Option("--stack", help="The whole roller too: the first profile, others its shorter sections."),
    ] = False,
    width: Annotated[str | None, typer.Option(help="Shaft length to fill with --stack.")] = None,
    verbose: Annotated[
        bool, typer.Option("--verbose", help="Print the defaults that were filled in.")
    ] = False,
    strict: Strict = False,
    warm_by: WarmBy = None,
    swell: Swell = None,
    cast_class: CastClass = "M3",
    across_parting: AcrossParting = False,
    shaft_bar: ShaftBar = None,
    mate_tolerance: MateTolerance = None,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """Solids, meshes and a report for each profile; what did not change is kept."""

    def work() -> int:
        from rollergen.cli.building import Order, built, refuse_twins
        from rollergen.cli.progress import progress
        from rollergen.export.files import write_together
        from rollergen.spec.units import parse_positive_length

        first = Order(
            path=profiles[0],
            out=out,
            formats=_formats(formats),
            chord_error=parsed(parse_positive_length, chord_error, "--chord-error"),
            detail=detail,
            degree=degree,
            assumed=assumed(
                warm_by=warm_by,
                swell=swell,
                cast_class=cast_class,
                across_parting=across_parting,
                shaft_bar=shaft_bar,
                mate_tolerance=mate_tolerance,
            ),
            again=again,
        )
        one_of("--detail", detail, ("full", "envelope"))
        one_of("--degree", degree, (3, 5))
        if stack != (width is not None):
            raise UsageError('--stack and --width go together, e.g. --stack --width "1.6 m"')
        orders = [replace(first, path=path) for path in profiles]
        results: list[Built] = []
        with progress(len(orders), "build") as step:
            for result in built(orders, jobs=jobs):
                refuse_twins([*results, result])
                write_together(result.files)
                results.append(result)
                step(result.name)
        code = _told(results, verbose=verbose, strict=strict, units=units, as_json=as_json)
        if stack and code in (0, LIMIT_NOT_MET):
            for line in _stack(profiles, out, width, chord_error):
                print(line, file=sys.stderr)
        return code

    answer(work, as_json=as_json)


def _stack(profiles: list[Path], out: Path, width: str | None, chord_error: str) -> list[str]:
    """Build the whole roller beside its segments; what was written, a line a file."""
    from rollergen.answer.roller import roller
    from rollergen.cli.duty_asking import drawn_from_file
    from rollergen.cli.stacking import STACK_FORMATS, write_stack
    from rollergen.spec.units import parse_positive_length

    assert width is not None  # it goes with --stack
    drawn = [drawn_from_file(path) for path in profiles]
    found = roller(drawn, parsed(parse_positive_length, width, "--width"))
    error = parsed(parse_positive_length, chord_error, "--chord-error")
    files = write_stack(found, drawn, out, STACK_FORMATS, error)
    return [f"roller {file['kind']}: {file['path']}, {file['bytes']} bytes" for file in files]


def _formats(text: str) -> tuple[str, ...]:
    from rollergen.cli.writing import FORMATS

    kinds = tuple(kind.strip() for kind in text.split(",") if kind.strip())
    unknown = [kind for kind in kinds if kind not in FORMATS]
    if unknown or not kinds:
        raise UsageError(f"--formats {text}: choose from {', '.join(FORMATS)}")
    return kinds


def _told(results: list[Built], *, verbose: bool, strict: bool, units: Units, as_json: bool) -> int:
    """Print what came of every order; the exit code of them all."""
    for result in results:
        for note in result.notes:
            print(note, file=sys.stderr)
        if verbose:
            for default in result.defaults:
                print(f"default: {default}", file=sys.stderr)
        if result.kept:
            print(f"{result.name}: nothing changed, files kept (--again makes them anew)", file=sys.stderr)
    reports = [result.report for result in results if result.report]
    complaints = [c for result in results for c in result.complaints]
    if as_json:
        page: dict[str, Any] = {"schema": 1, "profiles": reports}
        if len(reports) == 1 and len(results) == 1:
            page = reports[0]
        if complaints:
            page = {**page, "errors": [as_dict(c) for c in complaints]}
        print_json(page)
    else:
        for report in reports:
            print_report(report, units)
    print_complaints(complaints)
    codes = {_code_of(result, strict) for result in results}
    return next(code for code in WORST_FIRST if code in codes)


def _code_of(result: Built, strict: bool) -> int:
    if result.report is None:
        return result.exit_code
    met = all(gap["ok"] and (gap["ok_fitted"] or not strict) for gap in result.report["gaps"])
    return 0 if met else LIMIT_NOT_MET


@app.command(epilog='Example:  rollergen weigh beet.toml --length "1.5 m"')
def weigh(
    profile: ProfileFile,
    length: Annotated[str | None, typer.Option(help="Shaft length to fill, for a whole roller.")] = None,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """Volume, mass, inertia and cost."""

    def work() -> int:
        from rollergen.answer.report import draw
        from rollergen.answer.weight import weight_of
        from rollergen.spec.reading import read_source
        from rollergen.spec.units import parse_positive_length

        source = read_source(profile)
        shaft = parsed(parse_positive_length, length, "--length") if length is not None else None
        weight = weight_of(draw(source), length=shaft)
        if as_json:
            page = asdict(weight)
            page = {**page.pop("inertia"), **page.pop("mass"), **page}
            page["total_centre_mm"] = list(weight.inertia.centre_mm)
            print_json({"schema": 1, "profile": source.profile.name, **page})
        else:
            print_weight(source.profile.name, weight, units)
        return 0

    answer(work, as_json=as_json)
