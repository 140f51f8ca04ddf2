"""The data sheet's files: what was studied of each profile, its pictures, and the pages they make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from rollergen.cli.duty_asking import needed_duty

if TYPE_CHECKING:
    from rollergen.answer.datasheet import Fact, Studied
    from rollergen.answer.flexing import FlexAnswer
    from rollergen.answer.report import Drawn
    from rollergen.export.datasheet_html import Figured
    from rollergen.spec.duty import Duty
    from rollergen.spec.reading import Source

PICTURE_SIZE = (900, 800)  # pixels; it is shown 6 cm wide


@dataclass(frozen=True, slots=True, kw_only=True)
class DataAsked:
    """What the data sheet shall tell beyond the segment itself; None leaves it out."""

    duty: Path | None = None
    width: float | None = None
    flex: bool = False


def data_files(profiles: Sequence[Path], stem: Path, asked: DataAsked) -> list[tuple[Path, bytes]]:
    """HTML and PDF of one profile, or of several side by side."""
    from rollergen.answer.datasheet import datasheet
    from rollergen.export.datasheet_html import datasheet_html
    from rollergen.export.datasheet_pdf import datasheet_pdf

    duty = needed_duty(asked.duty) if asked.duty is not None else None
    studied, pictures = [], []
    for path in profiles:
        one, shown = _studied(path, asked, duty, alone=len(profiles) == 1)
        studied.append(one)
        pictures += shown
    page = asdict(datasheet(studied))
    return [
        (stem.with_name(f"{stem.name}.html"), datasheet_html(page, pictures)),
        (stem.with_name(f"{stem.name}.pdf"), datasheet_pdf(page, pictures)),
    ]


def _studied(
    path: Path, asked: DataAsked, duty: Duty | None, *, alone: bool
) -> tuple[Studied, list[Figured]]:
    from rollergen.answer.datasheet import Studied
    from rollergen.answer.duty_items import running_of
    from rollergen.answer.grip_verdict import judge_grip
    from rollergen.answer.report import draw, verdicts_of
    from rollergen.answer.roller import roller
    from rollergen.spec.reading import read_source

    source: Source = read_source(path)
    drawn = draw(source)
    pressed = _flexed(drawn) if asked.flex else None
    facts = [] if pressed is None else _flex_facts(pressed)
    if duty is not None and duty.soil is not None:
        facts += _shed_facts(drawn, duty)
    grips = duty is not None and bool(drawn.profile.mates)
    found = Studied(
        drawn=drawn,
        verdicts=verdicts_of(drawn, source),
        grip=judge_grip(drawn, duty, running_of(duty)) if duty is not None and grips else None,
        roller=roller([drawn], asked.width) if asked.width is not None else None,
        more=tuple(facts),
        cautions=_flex_cautions() if pressed is not None else (),
    )
    return found, _pictures(drawn, pressed, alone=alone)


def _flexed(drawn: Drawn) -> FlexAnswer:
    from rollergen.answer.flexing import FlexAsked, flex_of

    return flex_of(drawn, FlexAsked(travel=None))


def _flex_cautions() -> tuple[str, ...]:
    from rollergen.answer.flexing import CAUTIONS

    return CAUTIONS


def _flex_facts(found: FlexAnswer) -> list[Fact]:
    from rollergen.answer.datasheet import Fact

    report, (low, high) = found.report, found.band
    block = f"Flex, pressed by a {report.presser}"

    def say(label: str, value: str, key: str) -> Fact:
        return Fact(block=block, label=label, value=value, key=key)

    k = report.stiffness_n_mm2
    facts = [
        say("modulus used", f"{found.rubber.used:.3g} MPa", "modulus_used_mpa"),
        say("every force times", f"{low:.2f} to {high:.2f}", "force_band"),
        say("stiffness all round", f"{min(k):.3f} to {max(k):.3f} N/mm per mm", "stiffness_n_mm2"),
    ]
    for curve in report.curves:
        half = len(curve.travel_mm) // 2
        told = f"{curve.force_n_mm[half]:.2f} N/mm at {curve.travel_mm[half]:.1f} mm"
        facts.append(say(curve.at, told, "force_n_mm"))
        if curve.collapse_n_mm is not None:
            facts.append(say(f"{curve.at}, collapses", f"{curve.collapse_n_mm:.2f} N/mm", "collapse_n_mm"))
    if found.point is not None:
        facts.append(
            say("a point load", f"{found.point.point_stiffness_n_mm:.1f} N/mm", "point_stiffness_n_mm")
        )
    return facts


def _shed_facts(drawn: Drawn, duty: Duty) -> list[Fact]:
    from rollergen.answer.datasheet import Fact
    from rollergen.answer.duty_items import running_of
    from rollergen.answer.shedding import shed_by

    found = shed_by(drawn.profile, duty, running_of(duty))
    low, high = found.spin.spin_speed_rpm
    block = f"Soil, duty {duty.name}"
    return [
        Fact(
            block=block,
            label="leaves all round at",
            value=f"{low:.0f} to {high:.0f} rpm",
            key="spin_speed_rpm",
        ),
        Fact(
            block=block,
            label="turns at",
            value=f"{found.spin.working_speed_rpm:.0f} rpm",
            key="working_speed_rpm",
        ),
    ]


def _pictures(drawn: Drawn, pressed: FlexAnswer | None, *, alone: bool) -> list[Figured]:
    """Segment, section and the map of the gap; only the segment where several stand side by side."""
    from rollergen.cli.gaps import gap_page
    from rollergen.cli.pictures import solid_page
    from rollergen.export.datasheet_html import Figured
    from rollergen.export.section_svg import section_svg
    from rollergen.export.shading import Eye

    name, section = drawn.profile.name, drawn.section
    shown = [Figured(caption=name, data=solid_page(drawn, Eye(), PICTURE_SIZE), kind="png")]
    if not alone:
        return shown
    svg = section_svg(section.outer, section.holes, title="section at z = 0", colour=drawn.part.colour)
    shown.append(Figured(caption="section at z = 0, seen from +z", data=svg, kind="svg"))
    if drawn.profile.mates:
        mate = drawn.profile.mates[0]
        shown.append(Figured(caption=f"gap to {mate.name}", data=gap_page(drawn, mate), kind="png"))
    if pressed is not None:
        from rollergen.cli.flex_drawing import flex_page

        shown.append(Figured(caption="how it gives", data=flex_page([pressed], "png"), kind="png"))
    return shown
