"""What every command takes: options, texts with units, one way to end."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from rollergen.cli.showing import as_dict, print_complaints, print_json
from rollergen.errors import RollergenError, UsageError

if TYPE_CHECKING:
    from rollergen.answer.fitted import Assumed
    from rollergen.answer.report import Verdict

Units = Literal["mm", "in"]
# the same words as spec.tolerances, told to the command line without loading it
MouldClass = Literal["M1", "M2", "M3", "M4"]
Bar = Literal["hot-rolled", "bright-h9", "bright-h11"]
LIMIT_NOT_MET = 3  # exit code: it ran, and a stated limit is not met

ProfileFile = Annotated[Path, typer.Argument(metavar="PROFILE", help="A profile file (.toml).")]
ProfileFiles = Annotated[
    list[Path], typer.Argument(metavar="PROFILE...", help="One or more profile files (.toml).")
]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON object on stdout, numbers never rounded.")]
Strict = Annotated[bool, typer.Option("--strict", help="The as-fitted worst case counts for the exit code.")]
WarmBy = Annotated[str | None, typer.Option(help='How much warmer than at casting, e.g. "20 K".')]
Swell = Annotated[
    str | None, typer.Option(help='Linear swell by water, e.g. "0.5 %"; default the profile\'s.')
]
CastClass = Annotated[
    MouldClass, typer.Option(help="M1 to M4: class of ISO 3302-1 the castings are held to.")
]
AcrossParting = Annotated[
    bool, typer.Option("--across-parting", help="The cavity is split lengthwise: closure tolerances.")
]
ShaftBar = Annotated[
    Bar | None,
    typer.Option(help="hot-rolled, bright-h9 or bright-h11 square bar; default what the profile says."),
]
MateTolerance = Annotated[
    str | None, typer.Option(help='Tolerance of a smooth mate\'s diameter, e.g. "0.5 mm".')
]
UnitChoice = Annotated[Units, typer.Option("--units", help="mm or in, for what people read.")]


def assumed(
    *,
    warm_by: str | None,
    swell: str | None,
    cast_class: MouldClass,
    across_parting: bool,
    shaft_bar: Bar | None,
    mate_tolerance: str | None,
) -> Assumed:
    """What the command line says of how closely things are made and how they run."""
    from rollergen.answer.fitted import Assumed
    from rollergen.spec.units import parse_length, parse_share

    return Assumed(
        grade=cast_class,
        dimension="closure" if across_parting else "fixed",
        bar=shaft_bar,
        mate_diameter_tolerance=None
        if mate_tolerance is None
        else parsed(parse_length, mate_tolerance, "--mate-tolerance"),
        warm_by=kelvin(warm_by),
        swell=None if swell is None else parsed(parse_share, swell, "--swell"),
    )


def deliver(file: Path | None, text: str) -> None:
    from rollergen.export.files import write_aside

    if file is None:
        print(text, end="")
    else:
        write_aside(file, text.encode())
        print(f"wrote {file}", file=sys.stderr)


def answer(work: Callable[[], int], *, as_json: bool = False) -> None:
    """Carry out one command; complaints go to stderr, or to the JSON object; always ends in an exit code."""
    try:
        code = work()
    except RollergenError as wrong:
        if as_json:
            print_json({"schema": 1, "errors": [as_dict(c) for c in wrong.complaints]})
        print_complaints(wrong.complaints)
        code = wrong.exit_code
    raise typer.Exit(code)


def parsed(parse: Callable[[str, str], float], text: str, what: str) -> float:
    try:
        return parse(text, what)
    except ValueError as wrong:
        raise UsageError(str(wrong)) from wrong


def warn_fitted(verdicts: Sequence[Verdict]) -> None:
    for verdict in verdicts:
        for reason in verdict.fitted.reasons:
            print(f"warning: {reason}", file=sys.stderr)


def kelvin(text: str | None) -> float | None:
    """A temperature rise such as "20 K"; None stays None."""
    if text is None:
        return None
    number, _, unit = text.strip().partition(" ")
    try:
        rise = float(number)
    except ValueError:
        rise = float("nan")
    if unit.strip() != "K" or not -200 <= rise <= 200:
        raise UsageError(f'--warm-by "{text}" is not a temperature rise; write e.g. "20 K"')
    return rise


def one_of(option: str, value: object, allowed: Sequence[object]) -> None:
    if value not in allowed:
        raise UsageError(f"{option} {value}: choose from {', '.join(str(a) for a in allowed)}")


def form_of(picture: Path) -> Literal["png", "svg"]:
    """The form a picture's file name asks for; UsageError for any other ending."""
    one_of("--picture", picture.suffix, (".png", ".svg"))
    return "svg" if picture.suffix == ".svg" else "png"
