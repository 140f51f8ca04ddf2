"""The shed command: at what speed the soil leaves by spin alone."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import AsJson, ProfileFile, answer, form_of, parsed
from rollergen.cli.duty_asking import DutyFile, Picture, Speed, drawn_from_file, needed_duty, speed_of
from rollergen.cli.showing import print_json, print_rows

if TYPE_CHECKING:
    from rollergen.spec.duty import Duty
    from rollergen.spec.profile import Profile
    from rollergen.study.shed import ShedReport

MOST_LAYER, STEPS = 20.0, 81  # mm; points along each side of the map


@app.command(
    epilog="Example:  rollergen shed beet.toml --duty duties/beet-flooded-clay.toml --picture shed.png"
)
def shed(
    profile: ProfileFile,
    duty: DutyFile,
    speed: Speed = None,
    tensile: Annotated[
        str | None,
        typer.Option(help='Hoop strength of mud that forms a closed ring, e.g. "2 kPa"; default none.'),
    ] = None,
    picture: Picture = None,
    as_json: AsJson = False,
) -> None:
    """Speed at which the soil of a duty leaves by spin alone."""

    def work() -> int:
        from rollergen.answer.duty_items import running_of
        from rollergen.answer.shedding import shed_by
        from rollergen.spec.units import parse_pressure

        asked = needed_duty(duty)
        running = running_of(asked, rotation_speed=speed_of(speed))
        drawn = drawn_from_file(profile)
        ring = 0.0 if tensile is None else parsed(parse_pressure, tensile, "--tensile")
        found = shed_by(drawn.profile, asked, running, tensile=ring)
        if picture is not None:
            _draw(picture, drawn.profile, asked, found, ring)
        if as_json:
            print_json({"schema": 1, "profile": drawn.profile.name, "duty": asked.name, **asdict(found)})
            return 0
        low, high = found.spin_speed_rpm
        print_rows(
            f"{drawn.profile.name} with the soil of {asked.name}",
            [
                ("leaves all round at", f"{low:.0f} to {high:.0f} rpm"),
                (
                    "leaves at the bottom at",
                    f"{found.bottom_speed_rpm[0]:.0f} to {found.bottom_speed_rpm[1]:.0f} rpm",
                ),
                ("turns at", f"{found.working_speed_rpm:.0f} rpm, pulling with {found.throw_kpa:.3g} kPa"),
                ("the mud holds with", f"{found.adhesion_kpa[0]:.3g} to {found.adhesion_kpa[1]:.3g} kPa"),
                ("verdict", found.verdict),
                *(("", word) for word in found.words),
            ],
        )
        return 0

    answer(work, as_json=as_json)


def _draw(picture: Path, profile: Profile, duty: Duty, found: ShedReport, ring: float) -> None:
    import numpy as np

    from rollergen.export.files import write_aside
    from rollergen.export.shed_picture import shed_picture
    from rollergen.study.shed import PER_MINUTE, spin_speed

    form = form_of(picture)
    soil = duty.soil
    assert soil is not None  # shed_by refuses a duty without
    layer = np.linspace(0.5, max(MOST_LAYER, 1.2 * soil.layer), STEPS)
    adhesion = np.geomspace(0.005, max(20.0, 1.2 * found.adhesion_kpa[1]), STEPS)
    needed = spin_speed(
        adhesion[:, None] * 1e-3, layer=layer[None, :], density_kg_m3=soil.density_kg_m3,
        radius=profile.body_radius, tensile=ring,
    )  # fmt: skip
    page = shed_picture(
        layer=layer,
        adhesion=adhesion,
        speed_rpm=needed * PER_MINUTE,
        working_rpm=found.working_speed_rpm,
        soil=(soil.layer, found.adhesion_kpa),
        title=f"{profile.name}: speed at which mud leaves all round; works at {found.working_speed_rpm:.0f} rpm",
        form=form,
    )
    write_aside(picture, page)
