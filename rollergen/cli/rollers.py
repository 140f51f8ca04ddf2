"""The roller command: segments on a shaft, their joints, the bar that carries them, and the whole as files."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import (
    LIMIT_NOT_MET,
    AsJson,
    ProfileFile,
    Strict,
    UnitChoice,
    answer,
    form_of,
    parsed,
)
from rollergen.cli.duty_asking import Speed, drawn_from_file, speed_of
from rollergen.cli.roller_showing import print_roller, print_widths
from rollergen.cli.showing import finite, print_json
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from rollergen.answer.report import Drawn
    from rollergen.answer.roller import Asked, RollerAnswer


@app.command(
    epilog='Example:  rollergen roller beet.toml --width "1.6 m" --lengths beet-short.toml --speed "70 rpm"'
)
def roller(
    profile: ProfileFile,
    width: Annotated[str, typer.Option(help='Clear shaft length between the end plates, e.g. "1.6 m".')],
    lengths: Annotated[
        list[Path] | None, typer.Option(help="Shorter sections of the same segment (profile files); repeat.")
    ] = None,
    squeeze: Annotated[str, typer.Option(help="Least and most squeeze of the free length.")] = "0.8 %, 2.5 %",
    spacers: Annotated[
        str | None, typer.Option(help='Stiff rings that may be used, e.g. "2 mm, 5 mm".')
    ] = None,
    crop_load: Annotated[float, typer.Option(min=0.0, help="Crop on the roller, N per mm.")] = 0.5,
    rib_force: Annotated[float, typer.Option(min=0.0, help="Force on a rib at mid span, N.")] = 0.0,
    rib_drag: Annotated[
        float, typer.Option(min=0.0, help="Mean force along the rib tips, N, for the drive.")
    ] = 0.0,
    bow: Annotated[str, typer.Option(help="Bow of the bare shaft at mid span, for the balance.")] = "0 mm",
    span: Annotated[str | None, typer.Option(help="Between the bearings; default the width.")] = None,
    most_sag: Annotated[float, typer.Option(min=1.0, help="Deflection at most span over this.")] = 400.0,
    rollers: Annotated[int, typer.Option(min=1, help="Rollers alike on one motor.")] = 1,
    speed: Speed = None,
    table: Annotated[
        bool, typer.Option("--table", help="The smallest standard bar for widths from 0.6 to 3.2 m.")
    ] = False,
    picture: Annotated[
        Path | None, typer.Option(help="Bars over widths from 0.6 to 3.2 m (.png or .svg).")
    ] = None,
    out: Annotated[Path | None, typer.Option(help="Build the whole roller into this folder.")] = None,
    formats: Annotated[str, typer.Option(help="Any of step,stl,3mf,glb for --out.")] = "step,stl,3mf,glb",
    chord_error: Annotated[str, typer.Option(help="Largest deviation of the meshes.")] = "0.1 mm",
    strict: Strict = False,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """Stack, joints, shaft, balance and drive of one roller."""

    def work() -> int:
        from rollergen.answer.roller import roller as rolled
        from rollergen.spec.units import parse_positive_length

        asked = _asked(
            squeeze=squeeze, spacers=spacers, crop_load=crop_load, rib_force=rib_force,
            rib_drag=rib_drag, bow=bow, span=span,
            most_sag=most_sag, rollers=rollers, speed=speed,
        )  # fmt: skip
        drawn = [drawn_from_file(path) for path in (profile, *(lengths or ()))]
        length = parsed(parse_positive_length, width, "--width")
        found = rolled(drawn, length, asked)
        files = _build(found, drawn, out, formats, chord_error) if out is not None else []
        if picture is not None:
            draw_bars(picture, found, drawn, asked)
        for gap in found.fitted:
            for reason in gap.reasons:
                print(f"warning: {reason}", file=sys.stderr)
        if as_json:
            print_json(_page(found, files))
        else:
            print_roller(found, asked, files, units)
            if table:
                print_widths(found, units)
        met = found.ok and (not strict or all(gap.ok_fitted for gap in found.fitted))
        return 0 if met else LIMIT_NOT_MET

    answer(work, as_json=as_json)


def _asked(
    *,
    squeeze: str,
    spacers: str | None,
    crop_load: float,
    rib_force: float,
    rib_drag: float,
    bow: str,
    span: str | None,
    most_sag: float,
    rollers: int,
    speed: str | None,
) -> Asked:
    from rollergen.answer.roller import Asked
    from rollergen.spec.units import parse_length, parse_positive_length, parse_share
    from rollergen.study.shaft import ShaftLimits

    shares = [parsed(parse_share, part.strip(), "--squeeze") for part in squeeze.split(",")]
    if len(shares) != 2 or shares[0] > shares[1]:
        raise UsageError(f'--squeeze "{squeeze}": write the least and the most, e.g. "0.8 %, 2.5 %"')
    return Asked(
        squeeze_band=(shares[0], shares[1]),
        spacers=tuple(
            parsed(parse_positive_length, part.strip(), "--spacers")
            for part in (spacers or "").split(",")
            if part.strip()
        ),
        crop_load=crop_load,
        rib_force=rib_force,
        rib_drag=rib_drag,
        bow=parsed(parse_length, bow, "--bow"),
        span=None if span is None else parsed(parse_positive_length, span, "--span"),
        limits=ShaftLimits(span_per_sag=most_sag),
        rotation_speed=speed_of(speed),
        rollers=rollers,
    )


def _build(
    found: RollerAnswer, drawn: Sequence[Drawn], out: Path, formats: str, chord_error: str
) -> list[dict[str, Any]]:
    """Write the whole roller; nothing is written for a width that cannot be filled."""
    from rollergen.cli.stacking import STACK_FORMATS, write_stack
    from rollergen.spec.units import parse_positive_length

    kinds = [kind.strip() for kind in formats.split(",") if kind.strip()]
    unknown = [kind for kind in kinds if kind not in STACK_FORMATS]
    if unknown or not kinds:
        raise UsageError(f"--formats {formats}: choose from {', '.join(STACK_FORMATS)}")
    error = parsed(parse_positive_length, chord_error, "--chord-error")
    return write_stack(found, drawn, out, kinds, error)


def _page(found: RollerAnswer, files: list[dict[str, Any]]) -> dict[str, Any]:
    page = asdict(found)
    jointed = page.pop("joints")
    seats = jointed.pop("seats")
    entries = [{**joint, **seat} for joint, seat in zip(jointed.pop("joints"), seats[1:], strict=True)]
    page.pop("stack")
    listed = {
        "fillings": [{**asdict(f), "words": f.words} for f in found.stack.fillings],
        "more": found.stack.more,
        "words": found.stack.words,
    }
    smallest = {
        "bar": found.smallest.bar.words if found.smallest.bar else None,
        "rejected": [{"bar": r.bar.words, "reasons": list(r.reasons)} for r in found.smallest.rejected],
    }
    page.update(
        {"schema": 1, "joints": entries, "joint_figures": jointed, "first_seat": seats[0], "stack": listed,
         "smallest": smallest, "files": files}
    )  # fmt: skip
    clean: dict[str, Any] = finite(page)
    return clean


def draw_bars(picture: Path, found: RollerAnswer, drawn: Sequence[Drawn], asked: Asked) -> None:
    """Span over deflection of the standard bars near the roller's own, over widths."""
    from rollergen.export.files import write_aside
    from rollergen.export.shaft_picture import shaft_picture
    from rollergen.spec.standard_bars import standard_bars
    from rollergen.study.shaft import WIDTHS, Loads, bar_of, ratios_over_widths

    form = form_of(picture)
    loads = Loads(
        rubber_kg_per_mm=found.segments_kg / found.width_mm,
        crop_load=asked.crop_load,
        rib_force=asked.rib_force,
    )
    near = sorted(
        standard_bars(found.shaft.section),
        key=lambda b: abs(b.across - found.shaft.across_mm),
    )[:6]
    near = sorted(near, key=lambda b: b.across)
    ratios = ratios_over_widths(near, loads=loads, widths=WIDTHS)
    page = shaft_picture(
        widths=WIDTHS,
        ratios=ratios,
        bars=[bar_of(bar).words for bar in near],
        limit=asked.limits.span_per_sag or 400.0,
        title=f"{found.profile}: shafts over width",
        note=f"rubber {loads.rubber_kg_per_mm * 1000:.2f} kg/m, crop {asked.crop_load:g} N/mm",
        form=form,
    )
    write_aside(picture, page)
