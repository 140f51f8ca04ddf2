"""The pictures of the commands about a duty: from an answer's numbers to a file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rollergen.cli.asking import form_of
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from rollergen.answer.advise import Advice
    from rollergen.answer.duty_items import Running
    from rollergen.answer.report import Drawn
    from rollergen.answer.trials import TrialsReport
    from rollergen.shape.touching_mate import Pair
    from rollergen.spec.bed import Bed
    from rollergen.spec.duty import Duty

CURVE_SIZES = 160


def _bands(duty: Duty | None) -> list[Any]:
    from rollergen.answer.duty_items import items_for
    from rollergen.export.grip_picture import Band

    if duty is None:
        return []
    return [
        Band(name=i.name, smallest=i.smallest, largest=i.largest, friction=i.governing, keep=i.keep)
        for i in items_for(duty)
    ]


def draw_grip(
    picture: Path, show: str, pair: Pair, drawn: Drawn, duty: Duty | None, verdict: Any, friction: float
) -> None:
    from rollergen.answer.grip_limit import limit_of
    from rollergen.answer.grip_verdict import chart_of, curve_of
    from rollergen.export import grip_picture as pictures
    from rollergen.export.files import write_aside

    form, name = form_of(picture), drawn.profile.name
    if show == "section":
        state = limit_of(pair, friction)
        limit = pictures.Limit(
            outline=state.outline,
            rotation=state.rotation,
            mate_radius=pair.mate_radius,
            axis_distance=pair.axis_distance,
            tilt=pair.tilt,
            centre=state.centre,
            radius=state.diameter / 2,
            ours=state.ours,
            mates=state.mates,
            friction=friction,
        )
        note = "our section is drawn at the height where it touches the body" if pair.twist else ""
        title = f"{name}: largest body seized at friction {friction:g} is {state.diameter:.1f} mm"
        page = pictures.grip_section_picture(limit, title=title, note=note, form=form)
    elif show == "curve":
        curve = curve_of(pair, name, _diameters([pair]))
        title = f"{name}: friction needed, ribs descending"
        page = pictures.grip_curves_picture(
            [(name, curve.diameter, curve.friction)], title=title, bands=_bands(duty), form=form
        )
    else:
        chart = chart_of(pair, verdict.report)
        page = pictures.grip_map_picture(
            rotation=chart.rotation,
            diameter=chart.diameter,
            friction=chart.friction,
            code=chart.code,
            title=f"{name} and {verdict.mate}: friction needed to seize, ribs descending",
            bands=_bands(duty),
            form=form,
        )
    write_aside(picture, page)


def _diameters(pairs: Sequence[Pair]) -> Any:
    import numpy as np

    from rollergen.study.grip import grip_size

    top = max(1.15 * grip_size(pair, 1.0) for pair in pairs)
    return np.linspace(max(min(pair.tip_gap for pair in pairs), 1e-3 * top), max(top, 10.0), CURVE_SIZES)


def draw_curves(
    picture: Path, drawn: Sequence[Drawn], duty: Duty, running: Running, tip_gap: float | None
) -> None:
    from rollergen.answer.duty_items import pair_for, smooth_mate_of
    from rollergen.answer.grip_verdict import curve_of
    from rollergen.answer.rank import at_tip_gap
    from rollergen.export.files import write_aside
    from rollergen.export.grip_picture import grip_curves_picture

    form = form_of(picture)
    at = drawn if tip_gap is None else [at_tip_gap(d, tip_gap) for d in drawn]
    pairs = [pair_for(d, *smooth_mate_of(d.profile), running) for d in at]
    sizes = _diameters(pairs)
    curves = [curve_of(pair, d.profile.name, sizes) for pair, d in zip(pairs, at, strict=True)]
    page = grip_curves_picture(
        [(c.name, c.diameter, c.friction) for c in curves],
        title=f"friction needed to seize, for {duty.name}",
        bands=_bands(duty),
        form=form,
    )
    write_aside(picture, page)


def draw_trade_off(picture: Path, advice: Advice, duty: Duty) -> None:
    from rollergen.export.files import write_aside
    from rollergen.export.grip_picture import trade_off_picture

    chosen = advice.chosen
    page = trade_off_picture(
        [(t.row.crop_grip_mm, t.row.points["debris"], t.count, t.keeps) for t in advice.tried],
        chosen=(chosen.row.crop_grip_mm, chosen.row.points["debris"]) if chosen else None,
        title=f"what {duty.name} trades: every candidate that was tried",
        smallest_crop=duty.crop.smallest_diameter,
        form=form_of(picture),
    )
    write_aside(picture, page)


def draw_trial(picture: Path, bed: Bed, running: Running, duty: Duty, report: TrialsReport) -> None:
    from rollergen.answer.trials import bodies_for, rollers_for
    from rollergen.export.files import write_aside
    from rollergen.export.trial_picture import DrawnRoller, mp4_possible, trial_animation, trial_bars

    title = f"{bed.name}, {duty.name}"
    if picture.suffix in (".png", ".svg"):
        rows = [(i.seized, i.fell, i.over, i.on_bed) for i in report.items]
        seized, fell, over, on_bed = (
            [spread.mean for spread in column] for column in zip(*rows, strict=True)
        )
        page = trial_bars(
            names=[i.name for i in report.items],
            seized=seized,
            fell=fell,
            over=over,
            on_bed=on_bed,
            errors=[[spread.error for spread in column] for column in zip(*rows, strict=True)],
            title=title,
            form=form_of(picture),
        )
        write_aside(picture, page)
        return
    if picture.suffix == ".mp4" and not mp4_possible():
        raise UsageError("an MP4 needs ffmpeg: apt-get install ffmpeg, or name a .gif")
    track = report.reports[0].track
    assert track is not None  # it was asked for with the picture
    rollers = [
        DrawnRoller(
            outline=r.outline, radius=r.radius, x=r.x, y=r.y, rotation_speed=r.rotation_speed, phase=r.phase
        )
        for r in rollers_for(bed, running)
    ]
    page = trial_animation(
        rollers=rollers,
        kinds=[item.kind for item in bodies_for(duty)],
        time=track.time,
        x=track.x,
        y=track.y,
        state=track.state,
        diameter=track.diameter,
        item=track.item,
        title=title,
        form="mp4" if picture.suffix == ".mp4" else "gif",
    )
    write_aside(picture, page)
