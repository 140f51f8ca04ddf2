"""The sheet command: the dimensioned drawing as DXF, PDF and SVG, and the data sheet as PDF and HTML."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import AcrossParting, AsJson, CastClass, ProfileFiles, answer, one_of, parsed
from rollergen.cli.datasheets import DataAsked, data_files
from rollergen.cli.duty_asking import DutyIfAny, drawn_from_file
from rollergen.cli.showing import print_json, print_rows
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rollergen.export.drawing import Page

DRAWING_FORMATS = ("dxf", "pdf", "svg")
# the same words as export.sheet_frame and export.drawing_sheet, told to the command line without loading them
Size = Literal["A4", "A3", "A2", "A1", "A0"]
Scale = Literal[
    "50:1", "20:1", "10:1", "5:1", "2:1", "1:1", "1:2", "1:5", "1:10", "1:20", "1:50", "1:100"
]  # fmt: skip
What = Literal["drawing", "data", "both"]
NOT_GIVEN = "-"


@app.command(
    epilog='Example:  rollergen sheet beet.toml --number 100-234 --revision A --date 2026-03-02 --creator "A. Weber"'
)
def sheet(
    profiles: ProfileFiles,
    out: Annotated[Path, typer.Option(help="Folder; the sheets go to <out>/<name>/.")] = Path("out"),
    formats: Annotated[str, typer.Option(help="Of the drawing: any of dxf,pdf,svg.")] = "dxf,pdf,svg",
    what: Annotated[
        What, typer.Option(help="drawing, data (the data sheet) or both; several profiles: one data sheet.")
    ] = "both",
    duty: DutyIfAny = None,
    width: Annotated[
        str | None, typer.Option(help='Data sheet: the roller that fills this width, e.g. "1.5 m".')
    ] = None,
    flex: Annotated[bool, typer.Option("--flex", help="Data sheet: press the segment too; slow.")] = False,
    size: Annotated[
        Size | None, typer.Option(help="Sheet; default the smallest that reads well, else several.")
    ] = None,
    scale: Annotated[Scale | None, typer.Option(help="Scale of the views; default the largest.")] = None,
    cast_class: CastClass = "M3",
    across_parting: AcrossParting = False,
    title: Annotated[
        str | None, typer.Option(help='Title block: title; default "Segment" and the name.')
    ] = None,
    supplement: Annotated[str, typer.Option(help="Title block: second line of the title.")] = NOT_GIVEN,
    owner: Annotated[str, typer.Option(help="Title block: legal owner.")] = NOT_GIVEN,
    number: Annotated[str, typer.Option(help="Title block: identification number.")] = NOT_GIVEN,
    revision: Annotated[str, typer.Option(help="Title block: revision index.")] = NOT_GIVEN,
    date: Annotated[str, typer.Option(help="Title block: date of issue; never the clock's.")] = NOT_GIVEN,
    creator: Annotated[str, typer.Option(help="Title block: created by.")] = NOT_GIVEN,
    approval: Annotated[str, typer.Option(help="Title block: approved by.")] = NOT_GIVEN,
    department: Annotated[str, typer.Option(help="Title block: responsible department.")] = NOT_GIVEN,
    reference: Annotated[str, typer.Option(help="Title block: technical reference.")] = NOT_GIVEN,
    status: Annotated[str, typer.Option(help="Title block: document status.")] = NOT_GIVEN,
    language: Annotated[str, typer.Option(help="Title block: language code.")] = "en",
    as_json: AsJson = False,
) -> None:
    """Dimensioned drawing with tolerances and title block, and a data sheet with sources; several side by side."""

    def work() -> int:
        from dataclasses import replace

        from rollergen.answer.drawing_stated import Held
        from rollergen.answer.drawing_views import drawing_of
        from rollergen.export.drawing_sheet import Asked, pages_of
        from rollergen.export.files import write_together
        from rollergen.export.sheet_frame import TitleBlock
        from rollergen.spec.units import parse_positive_length

        kinds = _kinds(formats)
        held = Held(grade=cast_class, dimension="closure" if across_parting else "fixed")
        block = TitleBlock(
            title=title or "",
            supplement=supplement or NOT_GIVEN,
            owner=owner or NOT_GIVEN,
            number=number or NOT_GIVEN,
            revision=revision or NOT_GIVEN,
            date=date or NOT_GIVEN,
            creator=creator or NOT_GIVEN,
            approval=approval or NOT_GIVEN,
            department=department or NOT_GIVEN,
            reference=reference or NOT_GIVEN,
            status=status or NOT_GIVEN,
            language=language or NOT_GIVEN,
        )
        files, told = [], []
        names = [drawn_from_file(path).profile.name for path in profiles]
        for path, name in zip(profiles, names, strict=True):
            if what == "data":
                continue
            named = replace(block, title=block.title or f"Segment {name}")
            pages = pages_of(drawing_of(drawn_from_file(path), held), named, Asked(size=size, scale=scale))
            files += drawing_files(out / name / f"{name}.drawing", pages, kinds)
            told += [(name, page) for page in pages]
        if what != "drawing":
            asked = DataAsked(
                duty=duty, flex=flex,
                width=None if width is None else parsed(parse_positive_length, width, "--width"),
            )  # fmt: skip
            stem = out / names[0] / f"{names[0]}.sheet" if len(names) == 1 else out / "comparison.sheet"
            files += data_files(profiles, stem, asked)
        write_together(files)
        _tell(names, told, files, as_json=as_json)
        return 0

    answer(work, as_json=as_json)


def _kinds(formats: str) -> list[str]:
    asked = [word.strip() for word in formats.split(",") if word.strip()]
    if not asked:
        raise UsageError(f"--formats names nothing: any of {','.join(DRAWING_FORMATS)}")
    for word in asked:
        one_of("--formats", word, DRAWING_FORMATS)
    return [kind for kind in DRAWING_FORMATS if kind in asked]


def drawing_files(stem: Path, pages: Sequence[Page], kinds: Sequence[str]) -> list[tuple[Path, bytes]]:
    """Path and bytes of every file: one PDF for all sheets; DXF and SVG one per sheet, numbered when several."""
    files: list[tuple[Path, bytes]] = []
    for kind in kinds:
        if kind == "pdf":
            from rollergen.export.drawing_pdf import drawing_pdf

            files.append((stem.with_name(f"{stem.name}.pdf"), drawing_pdf(pages)))
            continue
        for number, page in enumerate(pages, start=1):
            which = f".{number}" if len(pages) > 1 else ""
            files.append((stem.with_name(f"{stem.name}{which}.{kind}"), _one(page, kind)))
    return files


def _one(page: Page, kind: str) -> bytes:
    if kind == "dxf":
        from rollergen.export.drawing_dxf import drawing_dxf

        return drawing_dxf(page)
    from rollergen.export.drawing_svg import drawing_svg

    return drawing_svg(page)


def _tell(
    names: Sequence[str],
    sheets: Sequence[tuple[str, Page]],
    files: Sequence[tuple[Path, bytes]],
    *,
    as_json: bool,
) -> None:
    from rollergen.cli.writing import identity

    if as_json:
        entries = [
            {"path": str(path), **identity(path.suffix.removeprefix("."), data)} for path, data in files
        ]
        told = [{"profile": name, "size": page.size, "scale": page.scale} for name, page in sheets]
        page = {"schema": 1, "sheets": told, "files": entries}
        print_json({**page, "profile": names[0]} if len(names) == 1 else {**page, "profiles": list(names)})
        return
    rows = [
        (f"sheet {number} of {name}", f"{page.size}, {page.scale}")
        for number, (name, page) in enumerate(sheets, start=1)
    ]
    print_rows(", ".join(names), [*rows, *(("file", str(path)) for path, _ in files)])
