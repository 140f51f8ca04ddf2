"""Commands that read, compare and explain: check, diff, explain, schema, init."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import (
    LIMIT_NOT_MET,
    AcrossParting,
    AsJson,
    CastClass,
    MateTolerance,
    ProfileFile,
    ShaftBar,
    Strict,
    Swell,
    UnitChoice,
    WarmBy,
    answer,
    assumed,
    deliver,
    one_of,
    warn_fitted,
)
from rollergen.cli.duty_asking import DutyIfAny, grip_of
from rollergen.cli.duty_showing import print_grip
from rollergen.cli.showing import as_dict, finite, flattened, print_json, print_report, print_rows, short
from rollergen.errors import UsageError


@app.command(epilog="Example:  rollergen check beet.toml")
def check(
    profile: ProfileFile,
    duty: DutyIfAny = None,
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
    """Every study there is so far, one verdict table."""

    def work() -> int:
        from rollergen.answer.report import draw, limits_met, report_of, verdicts_of
        from rollergen.spec.reading import read_source, warnings_for

        source = read_source(profile)
        drawn = draw(source)
        how = assumed(
            warm_by=warm_by,
            swell=swell,
            cast_class=cast_class,
            across_parting=across_parting,
            shaft_bar=shaft_bar,
            mate_tolerance=mate_tolerance,
        )
        verdicts = verdicts_of(drawn, source, how)
        warnings = warnings_for(source)
        report = report_of(drawn, verdicts, ())
        met = limits_met(verdicts, strict=strict)
        grips = grip_of(drawn, duty)
        met = met and (grips is None or grips.ok)
        if as_json:
            page = {**report, "ok": met, "warnings": [as_dict(w) for w in warnings]}
            print_json(page if grips is None else {**page, "grip": finite(asdict(grips))})
        else:
            for warning in warnings:
                print(f"warning: {warning}", file=sys.stderr)
            warn_fitted(verdicts)
            print_report(report, units)
            if grips is not None:
                print_grip(grips, units)
        return 0 if met else LIMIT_NOT_MET

    answer(work, as_json=as_json)


@app.command(epilog="Example:  rollergen diff old.toml new.toml")
def diff(
    a: Annotated[Path, typer.Argument(metavar="A")],
    b: Annotated[Path, typer.Argument(metavar="B")],
    duty: DutyIfAny = None,
    as_json: AsJson = False,
) -> None:
    """Two profiles side by side over all studies there are so far."""

    def work() -> int:
        from rollergen.answer.report import draw, report_of, verdicts_of
        from rollergen.spec.reading import read_source

        flat = []
        for path in (a, b):
            source = read_source(path)
            drawn = draw(source)
            page = report_of(drawn, verdicts_of(drawn, source), ())
            grips = grip_of(drawn, duty)
            flat.append(flattened(page if grips is None else {**page, "grip": finite(asdict(grips))}))
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
    """Any number's formula, source and limits; with PROFILE its inputs and value too."""

    def work() -> int:
        from rollergen.answer.explain import explain as explained
        from rollergen.answer.report import draw, report_of, verdicts_of
        from rollergen.spec.reading import read_source

        report = said = None
        if profile is not None:
            source = read_source(profile)
            drawn = draw(source)
            report, said = report_of(drawn, verdicts_of(drawn, source), ()), source.profile
        text = explained(key, report, said)
        if as_json:
            print_json({"schema": 1, "key": key, "text": text})
        else:
            print(text)
        return 0

    answer(work, as_json=as_json)


def _stdout_for_dash(file: Path | None) -> Path | None:
    """A lone dash means stdout, as everywhere; no file is ever named so."""
    return None if file == Path("-") else file


ToFile = Annotated[
    Path | None,
    typer.Argument(
        metavar="[FILE]", callback=_stdout_for_dash, help="Where it goes; stdout without, or for -."
    ),
]


@app.command(epilog="Example:  rollergen schema profile.schema.json")
def schema(
    file: ToFile = None,
    of: Annotated[str, typer.Option(help="profile, duty or bed.")] = "profile",
    as_json: AsJson = False,
) -> None:
    """JSON schema of a profile, duty or bed file, for editors (stdout without FILE)."""

    def work() -> int:
        from rollergen.spec.duty_schema import bed_schema, duty_schema
        from rollergen.spec.schema import profile_schema

        one_of("--of", of, ("profile", "duty", "bed"))
        made = {"profile": profile_schema, "duty": duty_schema, "bed": bed_schema}[of]()
        text = json.dumps(made, indent=2, sort_keys=True) + "\n"
        if as_json:
            _tell_delivered(file, text)
        else:
            deliver(file, text)
        return 0

    answer(work, as_json=as_json)


def _tell_delivered(file: Path | None, text: str) -> None:
    """The text as one JSON object: inside it, or in ``file`` and named by it."""
    if file is not None:
        deliver(file, text)
        print_json({"schema": 1, "file": str(file)})
    else:
        print_json({"schema": 1, "text": text})


@app.command(epilog="Example:  rollergen init beet.toml")
def init(
    file: ToFile = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite a file that is there.")] = False,
    as_json: AsJson = False,
) -> None:
    """A commented profile to start from (stdout without FILE)."""

    def work() -> int:
        from rollergen.spec.schema import starting_profile

        if file is not None and file.exists() and not force:
            raise UsageError(f"{file} is already there; name another file or add --force")
        if as_json:
            _tell_delivered(file, starting_profile())
        else:
            deliver(file, starting_profile())
        return 0

    answer(work, as_json=as_json)
