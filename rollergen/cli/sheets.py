"""The sheet command: the dimensioned drawing of a segment as DXF, PDF and SVG."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import AcrossParting, AsJson, CastClass, ProfileFile, answer, one_of
from rollergen.cli.duty_asking import drawn_from_file
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
NOT_GIVEN = "-"


@app.command(
    epilog='Example:  rollergen sheet beet.toml --number 100-234 --revision A --date 2026-03-02 --creator "A. Weber"'
)
def sheet(
    profile: ProfileFile,
    out: Annotated[Path, typer.Option(help="Folder; the sheets go to <out>/<name>/.")] = Path("out"),
    formats: Annotated[str, typer.Option(help="Any of dxf,pdf,svg.")] = "dxf,pdf,svg",
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
    """Dimensioned drawing of a segment: section, side and end view, details, tolerances, title block."""

    def work() -> int:
        from rollergen.answer.drawing_stated import Held
        from rollergen.answer.drawing_views import drawing_of
        from rollergen.export.drawing_sheet import Asked, pages_of
        from rollergen.export.files import write_aside
        from rollergen.export.sheet_frame import TitleBlock

        kinds = _kinds(formats)
        drawn = drawn_from_file(profile)
        name = drawn.profile.name
        held = Held(grade=cast_class, dimension="closure" if across_parting else "fixed")
        block = TitleBlock(
            title=title or f"Segment {name}",
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
        pages = pages_of(drawing_of(drawn, held), block, Asked(size=size, scale=scale))
        files = drawing_files(out / name / f"{name}.drawing", pages, kinds)
        for path, data in files:
            write_aside(path, data)
        _tell(name, pages, files, as_json=as_json)
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


def _tell(name: str, pages: Sequence[Page], files: Sequence[tuple[Path, bytes]], *, as_json: bool) -> None:
    from rollergen.cli.writing import identity

    if as_json:
        entries = [
            {"path": str(path), **identity(path.suffix.removeprefix("."), data)} for path, data in files
        ]
        sheets = [{"size": page.size, "scale": page.scale} for page in pages]
        print_json({"schema": 1, "profile": name, "sheets": sheets, "files": entries})
        return
    rows = [(f"sheet {number}", f"{page.size}, {page.scale}") for number, page in enumerate(pages, start=1)]
    print_rows(name, [*rows, *(("drawing", str(path)) for path, _ in files)])
