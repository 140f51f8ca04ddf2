"""The flex command: how profiles give, alone or side by side."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import AsJson, ProfileFiles, answer, form_of, parsed
from rollergen.cli.duty_asking import drawn_from_file
from rollergen.cli.progress import share_done
from rollergen.cli.showing import finite, print_cautions, print_json, print_rows
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from rollergen.answer.flexing import FlexAnswer
    from rollergen.study.flex import Curve, Presser

WIDEST = 4  # profiles side by side in a table that still fits a page
ROWS = 9  # of a force-travel table


@app.command(epilog='Example:  rollergen flex beet.toml --presser thumb --travel "6 mm" --picture flex.png')
def flex(
    profiles: ProfileFiles,
    presser: Annotated[str, typer.Option(help='thumb, plate, mate, or a radius, e.g. "25 mm".')] = "thumb",
    travel: Annotated[
        str | None,
        typer.Option(help="How far to press after first touch; default 8 mm or half the chamber."),
    ] = None,
    steps: Annotated[int, typer.Option(min=1, max=200, help="States on the way.")] = 16,
    positions: Annotated[int, typer.Option(min=4, max=720, help="Rotations round the roller.")] = 72,
    at: Annotated[
        list[str] | None,
        typer.Option(help='Press here instead of over chamber, web and rib, e.g. "12 deg"; repeat.'),
    ] = None,
    z: Annotated[str, typer.Option(help="Height along the segment: ribs turn with it.")] = "0 mm",
    mesh: Annotated[str, typer.Option(help="Size of the triangles.")] = "3 mm",
    modulus: Annotated[
        str | None, typer.Option(help="Young's modulus instead of the profile's, e.g. \"5.5 MPa\".")
    ] = None,
    past_collapse: Annotated[
        bool, typer.Option("--past-collapse", help="Follow a web beyond its collapse: rough, and slow.")
    ] = False,
    picture: Annotated[
        Path | None, typer.Option(help="Deformed sections, curves, stiffness all round (.png or .svg).")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Stiffness round the roller, force over travel, strain, collapse; several profiles side by side."""

    def work() -> int:
        from rollergen.answer.flexing import CAUTIONS, FlexAsked, flex_of
        from rollergen.spec.units import parse_angle, parse_length, parse_positive_length, parse_pressure

        if picture is not None:
            form_of(picture)
        stiff = None if modulus is None else parsed(parse_pressure, modulus, "--modulus")
        found = []
        for path in profiles:
            drawn = drawn_from_file(path)
            if stiff is not None:
                drawn = _of_modulus(drawn, stiff)
            asked = FlexAsked(
                presser=_presser(presser, drawn),
                travel=None if travel is None else parsed(parse_positive_length, travel, "--travel"),
                steps=steps,
                positions=positions,
                size=parsed(parse_positive_length, mesh, "--mesh"),
                z=parsed(parse_length, z, "--z"),
                past_collapse=past_collapse,
                at=tuple(parsed(parse_angle, text, "--at") for text in at or ()),
            )
            with share_done(f"pressing {drawn.profile.name}") as told:
                found.append(flex_of(drawn, asked, told=told))
        if picture is not None:
            _draw(picture, found)
        if as_json:
            pages = [page_of(one) for one in found]
            print_json({"schema": 1, **pages[0]} if len(pages) == 1 else {"schema": 1, "profiles": pages})
            return 0
        for one in found:
            _print(one)
        if len(found) > 1:
            _print_beside(found)
        print_cautions(CAUTIONS)
        return 0

    answer(work, as_json=as_json)


def _presser(text: str, drawn: Any) -> Presser:
    from rollergen.answer.flexing import PLATE, THUMB
    from rollergen.spec.units import parse_positive_length
    from rollergen.study.flex import Presser

    named = {"thumb": THUMB, "plate": PLATE}
    if text in named:
        return named[text]
    if text == "mate":
        smooth = [mate for mate in drawn.profile.mates if mate.diameter is not None]
        if not smooth:
            raise UsageError(
                f'--presser mate: {drawn.profile.name} has no smooth mate; write a radius, e.g. "45 mm"'
            )
        return Presser(name=smooth[0].name, radius=smooth[0].diameter / 2)
    radius = parsed(parse_positive_length, text, "--presser (thumb, plate, mate or a radius)")
    return Presser(name=f"cylinder of radius {radius:g} mm", radius=radius)


def _of_modulus(drawn: Any, modulus: float) -> Any:
    from dataclasses import replace

    compound = drawn.profile.compound.model_copy(update={"modulus": modulus, "stress_strain": None})
    return replace(drawn, profile=drawn.profile.model_copy(update={"compound": compound}))


def page_of(found: FlexAnswer) -> dict[str, Any]:
    """What the report says of one profile; an infinite radius is null."""
    from rollergen.answer.flexing import CAUTIONS

    rubber = found.rubber
    page = {
        "profile": found.profile,
        "modulus_mpa": [rubber.low, rubber.high],
        "modulus_used_mpa": rubber.used,
        "modulus_source": rubber.source,
        "force_band": list(found.band),
        "words": list(rubber.words),
        **asdict(found.report),
        **({} if found.point is None else asdict(found.point)),
        "cautions": list(CAUTIONS),
    }
    clean: dict[str, Any] = finite(page)
    return clean


def _print(found: FlexAnswer) -> None:
    rubber, report = found.rubber, found.report
    low, high = found.band
    rows = [
        (
            "modulus",
            f"{rubber.used:.3g} MPa, from {rubber.low:.3g} to {rubber.high:.3g} MPa ({rubber.source})",
        ),
        *(("", word) for word in rubber.words),
        ("so every force", f"times {low:.2f} to {high:.2f}"),
        ("pressed by", report.presser),
        (
            "stiffness all round",
            f"{min(report.stiffness_n_mm2):.3f} to {max(report.stiffness_n_mm2):.3f} N/mm per mm, uneven by"
            f" {report.unevenness:.1f}",
        ),
    ]
    if found.point is not None:
        p = found.point
        rows += [
            (
                "a point load",
                f"{p.point_stiffness_n_mm:.1f} N/mm, at an end {p.end_point_stiffness_n_mm:.1f} N/mm",
            ),
            ("", p.point_load_words),
        ]
    print_rows(found.profile, rows)
    for curve in report.curves:
        _print_curve(curve)


def _print_curve(curve: Curve) -> None:
    count = len(curve.travel_mm)
    picked = sorted({round(n * (count - 1) / (ROWS - 1)) for n in range(ROWS)} - {0})
    print(f"  {curve.at}, {curve.at_deg:.1f} deg")
    print("    travel mm   N/mm   strain   surface strain   chamber   pressure MPa")
    for n in picked:
        low, high = curve.surface_strain[n]
        print(
            f"    {curve.travel_mm[n]:9.2f} {curve.force_n_mm[n]:6.2f} {curve.strain[n]:8.1%}"
            f" {low:7.1%} {high:+7.1%} {-curve.chamber_closing[n]:9.1%} {curve.contact_pressure_mpa[n]:12.3f}"
        )
    if curve.collapse_mm is not None and curve.collapse_n_mm is not None:
        print(
            f"    collapses at {curve.collapse_mm:.2f} mm under {curve.collapse_n_mm:.2f} N/mm; rough beyond"
        )
    if curve.mesh_dependent:
        print("    the surface creases: strains depend on the mesh from there on")
    if curve.stopped:
        print(f"    {curve.stopped}")


def _print_beside(found: list[FlexAnswer]) -> None:
    """One line a profile: what a thumb would say of it."""
    print("side by side, N/mm per mm over the first half millimetre, softest first")
    width = max(len(one.profile) for one in found)
    for one in sorted(found, key=lambda f: min(f.report.stiffness_n_mm2)):
        k = one.report.stiffness_n_mm2
        collapse = [
            f"{c.at} collapses at {c.collapse_n_mm:.2f} N/mm" for c in one.report.curves if c.collapse_n_mm
        ]
        told = "; ".join([f"{min(k):7.3f} to {max(k):7.3f}", f"uneven by {max(k) / min(k):.1f}", *collapse])
        print(f"  {one.profile:<{width}}  {told}")


def _draw(picture: Path, found: list[FlexAnswer]) -> None:
    from rollergen.cli.flex_drawing import flex_page
    from rollergen.export.files import write_aside

    if len(found) > WIDEST:
        print(f"the picture shows the first {WIDEST} profiles", file=sys.stderr)
    write_aside(picture, flex_page(found[:WIDEST], form_of(picture)))
