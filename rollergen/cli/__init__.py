"""The front door: reads the command line, prints results, answers with an exit code."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

import typer

from rollergen.cli.asking import (
    AsJson,
    ProfileFile,
    Strict,
    UnitChoice,
    Units,
    WarmBy,
    answer,
    deliver,
    kelvin,
    one_of,
    parsed,
    warn_fitted,
)
from rollergen.cli.showing import (
    as_dict,
    flattened,
    json_text,
    print_complaints,
    print_gaps,
    print_json,
    print_report,
    print_rows,
    short,
)
from rollergen.errors import Complaint, RollergenError, UsageError

LIMIT_NOT_MET = 3
INTERRUPTED = 130
WORST_FIRST = (1, 5, 4, 2, 3, 0)  # which exit code many profiles answer with

app = typer.Typer(
    name="rollergen",
    help="From one profile file to exact solids, a gap verdict and a weight.",
    no_args_is_help=True,
    pretty_exceptions_show_locals=False,
    rich_markup_mode=None,
)


def run() -> None:
    """Entry point: carries out the command line and ends in an exit code."""
    try:
        app()
    except SystemExit as ended:
        if ended.code == INTERRUPTED:
            print("interrupted; files already written are whole", file=sys.stderr)
        raise


@app.command(epilog="Example:  rollergen build profiles/beet-general.toml --out out")
def build(
    profiles: Annotated[list[Path], typer.Argument(metavar="PROFILE...", help="One or more profile files.")],
    out: Annotated[Path, typer.Option(help="Folder for the files; each profile gets one inside.")] = Path(
        "out"
    ),
    formats: Annotated[str, typer.Option(help="Any of step,stl,3mf,glb,dxf.")] = "step,stl,3mf,glb",
    chord_error: Annotated[str, typer.Option(help="Largest deviation of the meshes.")] = "0.05 mm",
    detail: Annotated[str, typer.Option(help="full, or envelope: a light cylinder for layouts.")] = "full",
    degree: Annotated[int, typer.Option(help="5, or 3: cubic surfaces for old readers.")] = 5,
    verbose: Annotated[
        bool, typer.Option("--verbose", help="Print the defaults that were filled in.")
    ] = False,
    strict: Strict = False,
    warm_by: WarmBy = None,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """Solids, meshes and a report for each profile."""

    def work() -> int:
        from rollergen.answer.build import FORMATS
        from rollergen.spec.units import parse_positive_length

        kinds = [kind.strip() for kind in formats.split(",") if kind.strip()]
        unknown = [kind for kind in kinds if kind not in FORMATS]
        if unknown or not kinds:
            raise UsageError(f"--formats {formats}: choose from {', '.join(FORMATS)}")
        one_of("--detail", detail, ("full", "envelope"))
        one_of("--degree", degree, (3, 5))
        error = parsed(parse_positive_length, chord_error, "--chord-error")
        warmth = kelvin(warm_by)
        results = [
            _build_one(p, out, kinds, error, detail, degree, verbose, strict, warmth) for p in profiles
        ]
        reports = [report for report, _, _ in results if report]
        complaints = [c for _, _, found in results for c in found]
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
        codes = {code for _, code, _ in results}
        return next(code for code in WORST_FIRST if code in codes)

    answer(work, as_json=as_json)


def _build_one(
    path: Path,
    out: Path,
    kinds: Sequence[str],
    error: float,
    detail: str,
    degree: int,
    verbose: bool,
    strict: bool,
    warmth: float | None,
) -> tuple[dict[str, Any] | None, int, tuple[Complaint, ...]]:
    """Report, exit code and complaints of one profile; files are written only when all of them exist."""
    from rollergen.answer.build import draw, limits_met, report_of, verdicts_of, write_formats
    from rollergen.export.files import write_aside
    from rollergen.spec.reading import read_source, warnings_for

    try:
        source = read_source(path)
        for warning in warnings_for(source):
            print(f"warning: {warning}", file=sys.stderr)
        if verbose:
            for key, (value, why) in sorted(source.defaults.items()):
                print(f"default: {key} = {value}  ({why})", file=sys.stderr)
        drawn = draw(source, detail=detail)
        verdicts = verdicts_of(drawn, source, warm_by=warmth)
        warn_fitted(verdicts)
        made = write_formats(drawn, kinds, chord_error=error, degree=degree)
        name = source.profile.name
        folder = out / name
        files = [{**entry, "path": f"{name}.{kind}"} for kind, _, entry in made]
        report = report_of(drawn, verdicts, files)
        for kind, data, _ in made:
            write_aside(folder / f"{name}.{kind}", data)
        write_aside(folder / f"{name}.report.json", json_text(report).encode())
    except RollergenError as wrong:
        return None, wrong.exit_code, wrong.complaints
    return report, 0 if limits_met(verdicts, strict=strict) else LIMIT_NOT_MET, ()


@app.command(epilog='Example:  rollergen gap beet.toml --solve ribs.height --target "1 mm"')
def gap(
    profile: ProfileFile,
    picture: Annotated[
        Path | None, typer.Option(help="Draw gap over rotation and length (.png or .svg).")
    ] = None,
    data: Annotated[Path | None, typer.Option(help="Write the same as data (.csv or .json).")] = None,
    solve: Annotated[
        str | None, typer.Option(help="mates[0].axis_distance, ribs.height or body.diameter.")
    ] = None,
    target: Annotated[str | None, typer.Option(help="The tip gap to solve for.")] = None,
    mate: Annotated[
        str | None, typer.Option(help="Which mate, by name; default the first (or the nearest).")
    ] = None,
    strict: Strict = False,
    warm_by: WarmBy = None,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """Clearance to every mate over rotation and length."""

    def work() -> int:
        from rollergen.answer.build import draw, limits_met, verdicts_of
        from rollergen.spec.reading import read_source

        source = read_source(profile)
        drawn = draw(source)
        if solve is not None or target is not None:
            return _solve(source.profile, solve, target, mate, units, as_json)
        verdicts = verdicts_of(drawn, source, warm_by=kelvin(warm_by))
        warn_fitted(verdicts)
        if picture or data:
            _write_pattern(drawn, mate, picture, data)
        entries = [verdict.entry for verdict in verdicts]
        if as_json:
            print_json({"schema": 1, "profile": source.profile.name, "gaps": entries})
        else:
            print_gaps(entries, units)
        return 0 if limits_met(verdicts, strict=strict) else LIMIT_NOT_MET

    answer(work, as_json=as_json)


def _solve(
    profile: Any, key: str | None, target: str | None, mate: str | None, units: Units, as_json: bool
) -> int:
    from rollergen.answer.gap_verdict import solve_gap
    from rollergen.spec.units import length_text, parse_signed_length

    if key is None or target is None:
        raise UsageError('--solve and --target go together, e.g. --solve ribs.height --target "1 mm"')
    solution = solve_gap(profile, key, parsed(parse_signed_length, target, "--target"), mate=mate)
    if as_json:
        print_json({"schema": 1, "profile": profile.name, "solution": asdict(solution)})
    else:
        value = length_text(solution.value_mm, units, digits=4)
        gap_text = length_text(solution.tip_gap_mm, units, digits=4)
        print(f"{solution.key} = {value} gives a tip gap of {gap_text} to {solution.mate}")
    return 0


def _write_pattern(drawn: Any, mate: str | None, picture: Path | None, data: Path | None) -> None:
    from rollergen.answer.gap_verdict import map_gap
    from rollergen.export.files import write_aside
    from rollergen.export.gap_picture import gap_csv, gap_json, gap_picture

    profile = drawn.profile
    chosen = [m for m in profile.mates if mate is None or m.name == mate]
    if not chosen:
        known = ", ".join(m.name for m in profile.mates) or "none"
        raise UsageError(f"no mate {mate or ''} to draw; mates of {profile.name}: {known}")
    pattern = map_gap(profile, drawn.section, chosen[0])
    if data:
        one_of("--data", data.suffix, (".csv", ".json"))
        write_aside(
            data,
            gap_csv(z=pattern.z, rotation=pattern.rotation, gap=pattern.gap)
            if data.suffix == ".csv"
            else gap_json(
                z=pattern.z,
                rotation=pattern.rotation,
                gap=pattern.gap,
                mate=pattern.mate,
                meaning=pattern.meaning,
            ),
        )
    if picture:
        one_of("--picture", picture.suffix, (".png", ".svg"))
        page = gap_picture(
            z=pattern.z,
            rotation=pattern.rotation,
            gap=pattern.gap,
            title=f"{profile.name}: gap to {pattern.mate}",
            note=pattern.meaning,
            asked=chosen[0].least_tip_gap,
            form="svg" if picture.suffix == ".svg" else "png",
        )
        write_aside(picture, page)


@app.command(epilog='Example:  rollergen weigh beet.toml --length "1.5 m"')
def weigh(
    profile: ProfileFile,
    length: Annotated[str | None, typer.Option(help="Shaft length to fill, for a whole roller.")] = None,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """Volume, mass and cost."""

    def work() -> int:
        from rollergen.answer.build import draw
        from rollergen.spec.reading import read_source
        from rollergen.spec.units import length_text, parse_positive_length
        from rollergen.study.mass import weigh as weigh_segment

        source = read_source(profile)
        drawn = draw(source)
        shaft = parsed(parse_positive_length, length, "--length") if length is not None else None
        w = weigh_segment(source.profile, drawn.section, drawn.part, length=shaft)
        if as_json:
            print_json({"schema": 1, "profile": source.profile.name, **asdict(w)})
            return 0
        rows = [
            ("volume", f"{w.volume_mm3 / 1000:.2f} cm3"),
            ("section", f"{w.section_area_mm2:.2f} mm2"),
            ("density", f"{w.density_kg_m3:g} kg/m3"),
            ("mass", f"{w.mass_kg:.4f} kg"),
            ("foam", f"{w.foam_kg:.4f} kg"),
            ("total", f"{w.total_kg:.4f} kg"),
            ("centre z", length_text(w.centre_mm[2], units)),
            ("per metre of shaft", f"{w.kg_per_m:.4f} kg/m"),
        ]
        if w.roller_kg is not None and shaft is not None:
            rows.append((f"roller of {length_text(shaft, units)}", f"{w.roller_kg:.3f} kg"))
        if w.cost is not None and w.cost_per_m is not None:
            rows.append(("cost", f"{w.cost:.2f} {w.currency} each, {w.cost_per_m:.2f} {w.currency}/m"))
        print_rows(source.profile.name, rows)
        return 0

    answer(work, as_json=as_json)


@app.command(epilog="Example:  rollergen check beet.toml")
def check(
    profile: ProfileFile,
    strict: Strict = False,
    warm_by: WarmBy = None,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """Every study there is so far, one verdict table."""

    def work() -> int:
        from rollergen.answer.build import draw, limits_met, report_of, verdicts_of
        from rollergen.spec.reading import read_source, warnings_for

        source = read_source(profile)
        drawn = draw(source)
        verdicts = verdicts_of(drawn, source, warm_by=kelvin(warm_by))
        warnings = warnings_for(source)
        report = report_of(drawn, verdicts, ())
        met = limits_met(verdicts, strict=strict)
        if as_json:
            print_json({**report, "ok": met, "warnings": [as_dict(w) for w in warnings]})
        else:
            for warning in warnings:
                print(f"warning: {warning}", file=sys.stderr)
            warn_fitted(verdicts)
            print_report(report, units)
        return 0 if met else LIMIT_NOT_MET

    answer(work, as_json=as_json)


@app.command(epilog="Example:  rollergen diff old.toml new.toml")
def diff(
    a: Annotated[Path, typer.Argument(metavar="A")],
    b: Annotated[Path, typer.Argument(metavar="B")],
    as_json: AsJson = False,
) -> None:
    """Two profiles side by side over all studies there are so far."""

    def work() -> int:
        from rollergen.answer.build import draw, report_of, verdicts_of
        from rollergen.spec.reading import read_source

        flat = []
        for path in (a, b):
            source = read_source(path)
            drawn = draw(source)
            flat.append(flattened(report_of(drawn, verdicts_of(drawn, source), ())))
        keys = [key for key in {**flat[0], **flat[1]} if flat[0].get(key) != flat[1].get(key)]
        if as_json:
            print_json({"schema": 1, "differences": {k: [flat[0].get(k), flat[1].get(k)] for k in keys}})
        else:
            print_rows(
                "different", [(k, f"{short(flat[0].get(k))}  ->  {short(flat[1].get(k))}") for k in keys]
            )
        return 0

    answer(work, as_json=as_json)


@app.command(epilog="Example:  rollergen explain least_left_mm beet.toml")
def explain(
    key: Annotated[str, typer.Argument(metavar="KEY", help="A key of a report.")],
    profile: Annotated[Path | None, typer.Argument(metavar="[PROFILE]")] = None,
    as_json: AsJson = False,
) -> None:
    """Any number's formula, source and limits; with PROFILE its value too."""

    def work() -> int:
        from rollergen.answer.build import draw, report_of, verdicts_of
        from rollergen.answer.explain import explain as explained
        from rollergen.spec.reading import read_source

        report = None
        if profile is not None:
            source = read_source(profile)
            drawn = draw(source)
            report = report_of(drawn, verdicts_of(drawn, source), ())
        text = explained(key, report)
        if as_json:
            print_json({"schema": 1, "key": key, "text": text})
        else:
            print(text)
        return 0

    answer(work, as_json=as_json)


@app.command(epilog="Example:  rollergen schema profile.schema.json")
def schema(file: Annotated[Path | None, typer.Argument(metavar="[FILE]")] = None) -> None:
    """JSON schema of the profile file, for editors (stdout without FILE)."""

    def work() -> int:
        from rollergen.spec.schema import profile_schema

        deliver(file, json.dumps(profile_schema(), indent=2, sort_keys=True) + "\n")
        return 0

    answer(work)


@app.command(epilog="Example:  rollergen init beet.toml")
def init(
    file: Annotated[Path | None, typer.Argument(metavar="[FILE]")] = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite a file that is there.")] = False,
) -> None:
    """A commented profile to start from (stdout without FILE)."""

    def work() -> int:
        from rollergen.spec.schema import starting_profile

        if file is not None and file.exists() and not force:
            raise UsageError(f"{file} is already there; name another file or add --force")
        deliver(file, starting_profile())
        return 0

    answer(work)
