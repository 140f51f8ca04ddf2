"""The picture command: the segment shaded, its section, its gap, its roller taken apart."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import AsJson, ProfileFile, answer, one_of
from rollergen.cli.duty_asking import drawn_from_file
from rollergen.cli.showing import print_json, print_rows
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from rollergen.answer.report import Drawn
    from rollergen.export.shading import Eye, Shown

LYING = 68.0  # deg: a roller lies in its bed, and so shown its length reads best
ENDING = {"section": "svg"}
KINDS = ("solid", "section", "gap", "stack")
FINENESS = 0.05  # mm, chord error of a mesh that is only looked at

FEWEST_PIXELS, MOST_PIXELS = 64, 6000


@app.command(epilog="Example:  rollergen picture beet.toml --show solid,stack --pieces 4 --out pictures")
def picture(
    profile: ProfileFile,
    show: Annotated[
        str | None, typer.Option(help="Any of solid,section,gap,stack; default all that the profile has.")
    ] = None,
    out: Annotated[Path, typer.Option(help="Folder; the pictures go to <out>/<name>/.")] = Path("out"),
    size: Annotated[str, typer.Option(help="Pixels of the shaded ones.")] = "1200x900",
    azimuth: Annotated[float, typer.Option(help="From where one looks, deg round the axis from +x.")] = -60.0,
    elevation: Annotated[float, typer.Option(min=-90, max=90, help="Deg above the section.")] = 28.0,
    pieces: Annotated[int, typer.Option(min=2, max=40, help="Segments on the shaft of the stack.")] = 3,
    as_json: AsJson = False,
) -> None:
    """Shaded segment, exact section, gap map and the stack taken apart."""

    def work() -> int:
        from rollergen.export.files import write_together
        from rollergen.export.shading import Eye

        sides = _pixels(size)
        drawn = drawn_from_file(profile)
        eye = Eye(azimuth_deg=azimuth, elevation_deg=elevation)
        folder, name = out / drawn.profile.name, drawn.profile.name
        made = [
            (folder / f"{name}.{kind}.{ENDING.get(kind, 'png')}", _page(kind, drawn, eye, sides, pieces))
            for kind in _kinds(show, drawn)
        ]
        write_together(made)
        if as_json:
            print_json({"schema": 1, "profile": name, "files": [{"path": str(path)} for path, _ in made]})
        else:
            print_rows(name, [("picture", str(path)) for path, _ in made])
        return 0

    answer(work, as_json=as_json)


def _kinds(show: str | None, drawn: Drawn) -> list[str]:
    if show is None:
        return [kind for kind in KINDS if kind != "gap" or drawn.profile.mates]
    asked = [word.strip() for word in show.split(",") if word.strip()]
    if not asked:
        raise UsageError(f"--show names nothing: any of {','.join(KINDS)}")
    for word in asked:
        one_of("--show", word, KINDS)
    if "gap" in asked and not drawn.profile.mates:
        raise UsageError(f"--show gap: {drawn.profile.name} has no mates; write [[mates]] or leave it out")
    return [kind for kind in KINDS if kind in asked]


def _pixels(text: str) -> tuple[int, int]:
    width, _, height = text.lower().partition("x")
    try:
        sides = int(width), int(height)
    except ValueError:
        raise UsageError(f'--size "{text}" is not a size in pixels; write e.g. 1200x900') from None
    if not all(FEWEST_PIXELS <= side <= MOST_PIXELS for side in sides):
        raise UsageError(f"--size {text}: {FEWEST_PIXELS} to {MOST_PIXELS} pixels a side")
    return sides


def _page(kind: str, drawn: Drawn, eye: Eye, sides: tuple[int, int], pieces: int) -> bytes:
    from rollergen.export.shading import shaded_png

    if kind == "section":
        from rollergen.export.section_svg import section_svg

        section = drawn.section
        title = f"{drawn.profile.name}: section at z = 0, seen from +z"
        return section_svg(section.outer, section.holes, title=title, colour=drawn.part.colour)
    if kind == "gap":
        from rollergen.cli.gaps import gap_page

        return gap_page(drawn, drawn.profile.mates[0])
    if kind == "stack":
        lying = replace(eye, roll_deg=LYING)
        return shaded_png(_taken_apart(drawn, pieces), eye=lying, width=sides[0], height=sides[1])
    return solid_page(drawn, eye, sides)


def solid_page(drawn: Drawn, eye: Eye, sides: tuple[int, int]) -> bytes:
    """The segment shaded, PNG bytes of ``sides`` pixels."""
    from rollergen.export.shading import shaded_png

    return shaded_png([_segment(drawn)], eye=eye, width=sides[0], height=sides[1])


def _segment(drawn: Drawn) -> Shown:
    from rollergen.export.shading import Shown
    from rollergen.shape.mesh import build_mesh

    mesh = build_mesh(drawn.part, chord_error=FINENESS, check=False)
    return Shown(
        vertices=mesh.vertices, triangles=mesh.triangles, surface=mesh.surface, colour=drawn.part.colour
    )


def _taken_apart(drawn: Drawn, pieces: int) -> list[Shown]:
    """Segments as they are threaded on, a third of their length apart, with the shaft standing out."""
    from rollergen.answer.exploded import exploded, shaft_part
    from rollergen.export.shading import Shown
    from rollergen.shape.mesh import build_mesh
    from rollergen.shape.placing import placed_mesh

    one = _segment(drawn)
    mesh = build_mesh(drawn.part, chord_error=FINENESS, check=False)
    places = exploded(drawn, pieces)
    bar_part = shaft_part(drawn.profile, places)
    bar = build_mesh(bar_part, chord_error=FINENESS, check=False)
    steel = Shown(vertices=bar.vertices, triangles=bar.triangles, surface=bar.surface, colour=bar_part.colour)
    return [replace(one, vertices=placed_mesh(mesh, place).vertices) for place in places] + [steel]
