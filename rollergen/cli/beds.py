"""The bed command: every neighbour gap, the side view, the parts list."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import LIMIT_NOT_MET, AsJson, UnitChoice, answer, form_of, one_of
from rollergen.cli.duty_asking import drawn_from_file
from rollergen.cli.showing import finite, print_cautions, print_json, print_rows

if TYPE_CHECKING:
    from rollergen.answer.bed_filled import FilledBed
    from rollergen.answer.bed_overview import BedOverview
    from rollergen.answer.bed_part_rows import PartsList
    from rollergen.spec.bed import Bed
    from rollergen.spec.units import Units


@app.command(
    epilog="Example:  rollergen bed profiles/beds/beet-line.toml --picture bed.png --parts parts.csv"
)
def bed(
    file: Annotated[Path, typer.Argument(metavar="BED", help="A bed file (.toml).")],
    lengths: Annotated[
        list[Path] | None, typer.Option(help="Shorter sections of its segments (profile files); repeat.")
    ] = None,
    picture: Annotated[Path | None, typer.Option(help="Side view to scale (.png or .svg).")] = None,
    parts: Annotated[Path | None, typer.Option(help="Parts list (.csv or .json).")] = None,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """Every neighbour gap, nips, drift, side view and parts list of a bed."""

    def work() -> int:
        from rollergen.answer.bed_filled import filled_bed
        from rollergen.answer.bed_overview import overview
        from rollergen.answer.bed_parts import parts_of
        from rollergen.errors import ProfileError
        from rollergen.spec.reading import placed, read_bed_source, warnings_for

        source = read_bed_source(file)
        laid = source.bed
        for warning in warnings_for(source):
            print(f"warning: {warning}", file=sys.stderr)
        try:
            seen = overview(laid)
            filled = filled_bed(laid, [drawn_from_file(path) for path in lengths or ()])
            listed = parts_of(laid, filled.stacks)
        except ProfileError as wrong:
            raise ProfileError(placed(wrong.complaints, source)) from wrong
        if picture is not None:
            _draw(picture, laid, seen)
        if parts is not None:
            _write_parts(parts, listed)
        if as_json:
            page = {
                **seen.entry,
                "parts": listed.entry,
                "drift": asdict(filled.drift) if filled.drift else None,
                "rollers_filled": {
                    name: [asdict(p) for p in pieces] for name, pieces in filled.stacks.items()
                },
            }
            print_json(finite({"schema": 1, **page}))
        else:
            _print(seen, filled, listed, units)
        return 0 if seen.ok else LIMIT_NOT_MET

    answer(work, as_json=as_json)


def _print(seen: BedOverview, filled: FilledBed, listed: PartsList, units: Units) -> None:
    from rollergen.spec.units import length_text

    print_rows(
        f"gaps of {seen.bed}, worst first",
        [
            (f"{p.left} / {p.right}", f"tip {length_text(p.tip_gap_mm, units)}, body {length_text(p.body_gap_mm, units)},"
             f" {'ok' if p.ok else 'NOT MET'}")
            for p in seen.pairs
        ],
    )  # fmt: skip
    for pair in seen.pairs:
        for reason in pair.reasons:
            print(f"NOT MET: {reason}")
    print_rows("nips", [(f"{p.left} / {p.right}", n.words) for p in seen.pairs for n in p.nips or ()])
    speeds = [(r.name, r.rotation_speed_rpm, r.tip_speed_mm_s) for r in seen.rollers]
    print_rows(
        "speeds",
        [
            (n, f"{rpm:g} rpm, tips {abs(tip) / 1000:.3f} m/s")
            for n, rpm, tip in speeds
            if rpm is not None and tip is not None
        ],
    )
    if filled.drift is not None:
        print_rows("along the rollers", [("", filled.drift.drift_words)])
    for one in filled.answers:
        print_rows(f"filling of {one.profile}", [("", one.stack.words)])
    rows = []
    for line in listed.lines:
        kg = line.get("kg")
        said = [
            f"{line['count']} x" if line.get("count") else "",
            f"{kg:.3f} kg in all" if isinstance(kg, float) else "",
        ]
        rows.append((f"{line['part']} {_called(line, units)}", " ".join(word for word in said if word)))
    print_rows(f"parts, {listed.total_kg:.2f} kg weighed", rows)
    for remark in listed.remarks:
        print(f"note: {remark}")
    print_cautions(seen.cautions)


def _called(line: Mapping[str, Any], units: Units) -> str:
    """What a row of the parts list is called, with the size it is ordered by."""
    from rollergen.spec.units import length_text

    if line["part"] == "segment":
        return f"{line['profile']}, {length_text(line['free_length_mm'], units)} as cast"
    if line["part"] == "shaft":
        return f"{line['across_mm']:g} mm {line['section']}, {length_text(line['length_mm'], units)}"
    if line["part"] == "smooth roller":
        return f"{length_text(line['diameter_mm'], units)} diameter"
    return str(line["compound"])


def _draw(picture: Path, laid: Bed, seen: BedOverview) -> None:
    from rollergen.answer.report import draw_profile
    from rollergen.export.bed_picture import SeenGap, SeenRoller, bed_picture
    from rollergen.export.files import write_aside

    form = form_of(picture)
    rollers = []
    for one in laid.rollers:
        section = draw_profile(one.segment).section if one.segment is not None else None
        rollers.append(
            SeenRoller(
                name=one.name,
                outline=section.outer if section is not None else None,
                holes=section.holes if section is not None else (),
                radius=one.body_radius,
                tip_radius=one.tip_radius,
                x=one.x,
                y=one.y,
                phase=one.phase,
                rotation_speed=one.rotation_speed,
            )
        )
    gaps = [
        SeenGap(
            rollers=pair.numbers,
            tip_gap=pair.tip_gap_mm,
            ok=pair.ok,
            nips=None if pair.nips is None else tuple((n.side, n.surfaces == "both") for n in pair.nips),
        )
        for pair in seen.pairs
    ]
    page = bed_picture(
        rollers=rollers,
        gaps=gaps,
        title=f"{laid.name}, seen from +z",
        note="\n".join(seen.cautions),
        form=form,
    )
    write_aside(picture, page)


def _write_parts(parts: Path, listed: PartsList) -> None:
    from rollergen.export.files import write_aside
    from rollergen.export.parts_list import parts_csv, parts_json

    one_of("--parts", parts.suffix, (".csv", ".json"))
    write_aside(parts, parts_csv(listed.lines) if parts.suffix == ".csv" else parts_json(listed.entry))
