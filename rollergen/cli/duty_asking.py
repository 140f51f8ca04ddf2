"""What the commands about a duty take: options, and the values they stand for."""

from __future__ import annotations

import sys
from dataclasses import fields
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from rollergen.cli.asking import one_of, parsed
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from rollergen.answer.grip_verdict import GripVerdict
    from rollergen.answer.rank import Weights
    from rollergen.answer.report import Drawn
    from rollergen.spec.duty import Duty

DutyFile = Annotated[Path, typer.Option("--duty", help="A duty file (.toml): crop, debris, soil, run.")]
DutyIfAny = Annotated[Path | None, typer.Option("--duty", help="A duty file (.toml).")]
Speed = Annotated[
    str | None, typer.Option(help='Rotation speed of our roller, e.g. "60 rpm"; default the duty\'s.')
]
Turns = Annotated[
    str, typer.Option(help="clockwise or counter-clockwise, seen from +z; matters for unlike flanks.")
]
Picture = Annotated[Path | None, typer.Option(help="Where the picture goes (.png or .svg).")]
WeightsText = Annotated[
    str | None, typer.Option(help="crop=40,debris=4,windows=1,chances=1,plenty=10,crumb=5 (the defaults).")
]


def duty_if_any(path: Path | None) -> Duty | None:
    return needed_duty(path) if path is not None else None


def needed_duty(path: Path) -> Duty:
    from rollergen.spec.reading import read_duty_source, warnings_for

    source = read_duty_source(path)
    for warning in warnings_for(source):
        print(f"warning: {warning}", file=sys.stderr)
    for key, (value, why) in sorted(source.defaults.items()):
        if why.startswith("duty presets"):
            print(f"preset: {key} = {value}  ({why})", file=sys.stderr)
    return source.duty


def drawn_from_file(path: Path) -> Drawn:
    from rollergen.answer.report import draw
    from rollergen.spec.reading import read_source

    return draw(read_source(path))


def speed_of(text: str | None) -> float | None:
    from rollergen.spec.units import parse_rotation_speed

    return None if text is None else parsed(parse_rotation_speed, text, "--speed")


def sense_of(turns: str) -> Literal["clockwise", "counter-clockwise"]:
    one_of("--turns", turns, ("clockwise", "counter-clockwise"))
    return "clockwise" if turns == "clockwise" else "counter-clockwise"


def weights_of(text: str | None) -> Weights:
    from rollergen.answer.rank import Weights

    names = [field.name for field in fields(Weights)]
    given: dict[str, float] = {}
    for part in (text or "").split(","):
        name, _, value = part.partition("=")
        if not part.strip():
            continue
        try:
            given[name.strip()] = float(value)
        except ValueError:
            raise UsageError(f'--weights "{part.strip()}" is not a weight; write e.g. crop=10') from None
        if name.strip() not in names or not isfinite(given[name.strip()]):
            raise UsageError(
                f"--weights {part.strip()}: weights are {', '.join(names)}, numbers of 0 or more"
            )
    return Weights(**given)


def grip_of(drawn: Drawn, path: Path | None) -> GripVerdict | None:
    """The grip verdict of a profile for the duty in a file, None without one."""
    from rollergen.answer.duty_items import running_of
    from rollergen.answer.grip_verdict import judge_grip

    if path is None:
        return None
    duty = needed_duty(path)
    return judge_grip(drawn, duty, running_of(duty))
