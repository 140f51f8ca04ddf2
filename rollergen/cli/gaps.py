"""The gap command: clearance to every mate, its picture and data, and solving for a gap."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

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
    Units,
    WarmBy,
    answer,
    assumed,
    form_of,
    one_of,
    parsed,
    warn_fitted,
)
from rollergen.cli.showing import print_gaps, print_json
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from rollergen.answer.report import Drawn
    from rollergen.spec.profile import Mate


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
    budget: Annotated[bool, typer.Option("--budget", help="List every contribution to the gap.")] = False,
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
    """Clearance to every mate over rotation and length."""

    def work() -> int:
        from rollergen.answer.report import draw, limits_met, verdicts_of
        from rollergen.spec.reading import read_source

        how = assumed(
            warm_by=warm_by,
            swell=swell,
            cast_class=cast_class,
            across_parting=across_parting,
            shaft_bar=shaft_bar,
            mate_tolerance=mate_tolerance,
        )
        source = read_source(profile)
        drawn = draw(source)
        if solve is not None or target is not None:
            return _solve(source.profile, solve, target, mate, units, as_json)
        verdicts = verdicts_of(drawn, source, how)
        warn_fitted(verdicts)
        if picture or data:
            _write_pattern(drawn, mate, picture, data)
        entries = [verdict.entry for verdict in verdicts]
        if as_json:
            print_json({"schema": 1, "profile": source.profile.name, "gaps": entries})
        else:
            print_gaps(entries, units, budget=budget)
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
    from rollergen.export.gap_picture import gap_csv, gap_json

    profile = drawn.profile
    chosen = [m for m in profile.mates if mate is None or m.name == mate]
    if not chosen:
        known = ", ".join(m.name for m in profile.mates) or "none"
        raise UsageError(f"no mate {mate or ''} to draw; mates of {profile.name}: {known}")
    if data:
        one_of("--data", data.suffix, (".csv", ".json"))
        pattern = map_gap(profile, drawn.section, chosen[0])
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
        write_aside(picture, gap_page(drawn, chosen[0], form=form_of(picture)))


def gap_page(drawn: Drawn, mate: Mate, *, form: Literal["png", "svg"] = "png") -> bytes:
    """The map of the gap to one mate, as picture bytes."""
    from rollergen.answer.gap_verdict import map_gap
    from rollergen.export.gap_picture import gap_picture

    pattern = map_gap(drawn.profile, drawn.section, mate)
    return gap_picture(
        z=pattern.z,
        rotation=pattern.rotation,
        gap=pattern.gap,
        title=f"{drawn.profile.name}: gap to {pattern.mate}",
        note=pattern.meaning,
        asked=mate.least_tip_gap,
        form=form,
    )
