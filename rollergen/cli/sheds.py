"""The shed command: whether the soil leaves, by spin alone or with the flex, and what clogs."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import AsJson, ProfileFile, answer, form_of, parsed
from rollergen.cli.duty_asking import DutyFile, Picture, Speed, drawn_from_file, needed_duty, speed_of
from rollergen.cli.progress import share_done
from rollergen.cli.shed_showing import print_shedding
from rollergen.cli.showing import print_json

if TYPE_CHECKING:
    from rollergen.answer.report import Drawn
    from rollergen.answer.shedding import Shedding
    from rollergen.spec.duty import Duty
    from rollergen.study.bond import SurfaceFlex

MOST_LAYER, STEPS = 20.0, 81  # mm; points along each side of the map


@app.command(
    epilog="Example:  rollergen shed beet.toml --duty duties/beet-flooded-clay.toml --picture shed.png"
)
def shed(
    profile: ProfileFile,
    duty: DutyFile,
    speed: Speed = None,
    line_load: Annotated[
        str | None,
        typer.Option(
            help='What presses on each mm of roller, e.g. "0.5 N/mm"; default the duty\'s, else spin only.'
        ),
    ] = None,
    tensile: Annotated[
        str | None,
        typer.Option(help='Hoop strength of mud that forms a closed ring, e.g. "2 kPa"; default none.'),
    ] = None,
    picture: Picture = None,
    as_json: AsJson = False,
) -> None:
    """Whether the soil of a duty leaves: by spin, by spin and flex, or neither; what clogs; what flexing costs."""

    def work() -> int:
        from rollergen.answer.duty_items import running_of
        from rollergen.answer.shedding import bridging_of, heat_of, shed_by, soil_of, soils_compared
        from rollergen.spec.units import parse_line_load, parse_pressure

        if picture is not None:
            form_of(picture)
        asked = needed_duty(duty)
        soil = soil_of(asked)
        running = running_of(asked, rotation_speed=speed_of(speed))
        drawn = drawn_from_file(profile)
        ring = 0.0 if tensile is None else parsed(parse_pressure, tensile, "--tensile")
        pressed = asked.run.line_load if asked.run is not None else None
        if line_load is not None:
            pressed = parsed(parse_line_load, line_load, "--line-load")
        flexed = None if pressed is None else _flexed(drawn, asked, pressed)
        found = shed_by(drawn.profile, asked, running, tensile=ring, flexed=flexed)
        soils = soils_compared(
            drawn.profile, asked, running, tensile=ring, flexed=flexed, section=drawn.section
        )
        bridged = bridging_of(drawn.profile, drawn.section, soil, running)
        warmed, why = heat_of(drawn, running, flexed)
        if picture is not None:
            _draw(picture, drawn, asked, found, ring)
        if as_json:
            page = {
                "schema": 1,
                "profile": drawn.profile.name,
                "duty": asked.name,
                **asdict(found.spin),
                "verdict": found.verdict,
                "leaves_by": found.leaves_by,
                "bond": None if found.bond is None else asdict(found.bond),
                "soils": [asdict(row) for row in soils],
                "bridging": None if bridged is None else asdict(bridged),
                "heat": None if warmed is None else asdict(warmed),
                "notes": [*found.notes, *([f"heat: {why}"] if why else [])],
            }
            print_json(page)
            return 0
        title = f"{drawn.profile.name} with the soil of {asked.name}"
        print_shedding(title, found, soils, bridged, warmed, why)
        return 0

    answer(work, as_json=as_json)


def _flexed(drawn: Drawn, duty: Duty, line_load: float) -> SurfaceFlex:
    """How the surface moves where the smallest crop presses with ``line_load`` (N/mm): the one place it is asked for."""
    from rollergen.answer.shedding import soil_of
    from rollergen.answer.surface_flex import surface_flex
    from rollergen.study.flex import Presser

    presser = Presser(name=duty.crop.name, radius=duty.crop.smallest_diameter / 2)
    with share_done(f"pressing {drawn.profile.name}") as told:
        return surface_flex(drawn, line_load, presser, over=soil_of(duty).layer, told=told)


def _draw(picture: Path, drawn: Drawn, duty: Duty, found: Shedding, ring: float) -> None:
    import numpy as np

    from rollergen.answer.shedding import soil_of
    from rollergen.export.files import write_aside
    from rollergen.export.shed_picture import shed_picture
    from rollergen.study.shed import PER_MINUTE, spin_speed

    soil, spin = soil_of(duty), found.spin
    layer = np.linspace(0.5, max(MOST_LAYER, 1.2 * soil.layer), STEPS)
    adhesion = np.geomspace(0.005, max(20.0, 1.2 * spin.adhesion_kpa[1]), STEPS)
    needed, lowest = (
        spin_speed(
            adhesion[:, None] * 1e-3, layer=layer[None, :], density_kg_m3=soil.density_kg_m3,
            radius=drawn.profile.body_radius, tensile=ring, bottom=bottom,
        )
        for bottom in (False, True)
    )  # fmt: skip
    title = f"{drawn.profile.name}: speed at which mud leaves all round; works at {spin.working_speed_rpm:.0f} rpm"
    page = shed_picture(
        layer=layer,
        adhesion=adhesion,
        speed_rpm=needed * PER_MINUTE,
        working_rpm=spin.working_speed_rpm,
        soil=(soil.layer, spin.adhesion_kpa),
        title=title,
        bottom_rpm=lowest * PER_MINUTE,
        peeled=None if found.bond is None else found.bond.flex_layer_mm,
        form=form_of(picture),
    )
    write_aside(picture, page)
