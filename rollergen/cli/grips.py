"""Commands about a duty: grip, rank, advise, trial."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import asdict, fields
from math import inf, isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import AsJson, ProfileFile, ProfileFiles, UnitChoice, answer, one_of, parsed
from rollergen.cli.building import progress, share_done
from rollergen.cli.duty_showing import print_advice, print_grip, print_ranking, print_trial
from rollergen.cli.showing import print_json
from rollergen.errors import UsageError

if TYPE_CHECKING:
    from rollergen.answer.advise import Advice
    from rollergen.answer.duty_items import Running
    from rollergen.answer.rank import Weights
    from rollergen.answer.report import Drawn
    from rollergen.answer.trials import TrialsReport
    from rollergen.shape.touching_mate import Pair
    from rollergen.spec.bed import Bed
    from rollergen.spec.duty import Duty

LIMIT_NOT_MET = 3
CURVE_SIZES = 160
FRAMES_PER_SECOND = 12.0

DutyFile = Annotated[Path, typer.Option("--duty", help="A duty file (.toml): crop, debris, soil, run.")]
DutyIfAny = Annotated[Path | None, typer.Option("--duty", help="A duty file (.toml).")]
Speed = Annotated[
    str | None, typer.Option(help='Rotation speed of our roller, e.g. "60 rpm"; default the duty\'s.')
]
Turns = Annotated[
    str, typer.Option(help="clockwise or counter-clockwise, seen from +z; matters for unlike flanks.")
]
Picture = Annotated[Path | None, typer.Option(help="Where the picture goes (.png or .svg).")]
WeightsText = Annotated[
    str | None, typer.Option(help="crop=40,debris=4,windows=1,chances=1,plenty=10,crumb=5 (the defaults).")
]


@app.command(
    epilog="Example:  rollergen grip beet.toml --duty duties/beet-sandy-loam.toml --picture grip.png"
)
def grip(
    profile: ProfileFile,
    duty: DutyIfAny = None,
    mate: Annotated[str | None, typer.Option(help="Which smooth mate, by name; default the first.")] = None,
    stiffness: Annotated[
        str | None, typer.Option(help='N per mm that roller, body and mate give together, e.g. "80 N/mm".')
    ] = None,
    speed: Speed = None,
    turns: Turns = "clockwise",
    picture: Picture = None,
    show: Annotated[str, typer.Option(help="What the picture shows: map, curve or section.")] = "map",
    friction: Annotated[float, typer.Option(help="Friction of the section picture.")] = 0.5,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """What the roller and its smooth mate seize: crop, clods, stones, haulm."""

    def work() -> int:
        from rollergen.answer.duty_items import pair_for, running_of, smooth_mate_of
        from rollergen.answer.grip_verdict import judge_grip
        from rollergen.spec.units import parse_stiffness

        one_of("--show", show, ("map", "curve", "section"))
        asked = _duty(duty)
        running = running_of(asked, rotation_speed=_speed(speed), turning=_sense(turns))
        drawn = _drawn(profile)
        given = None if stiffness is None else parsed(parse_stiffness, stiffness, "--stiffness")
        verdict = judge_grip(drawn, asked, running, mate=mate, stiffness=given)
        if picture is not None:
            pair = pair_for(drawn, *smooth_mate_of(drawn.profile, mate), running)
            _draw_grip(picture, show, pair, drawn, asked, verdict, friction)
        if as_json:
            page = asdict(verdict)
            print_json(_finite({"schema": 1, **page.pop("report"), **page}))
        else:
            print_grip(verdict, units)
        return 0 if verdict.ok else LIMIT_NOT_MET

    answer(work, as_json=as_json)


@app.command(epilog="Example:  rollergen rank profiles/*.toml --duty duties/beet-sandy-loam.toml")
def rank(
    profiles: ProfileFiles,
    duty: DutyFile,
    weights: WeightsText = None,
    tip_gap: Annotated[
        str | None, typer.Option(help="Move every smooth mate to this tip gap, to compare the ribs alone.")
    ] = None,
    speed: Speed = None,
    turns: Turns = "clockwise",
    picture: Picture = None,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """Which profile suits a duty, and why: every weight printed and settable."""

    def work() -> int:
        from rollergen.answer.duty_items import running_of
        from rollergen.answer.rank import rank as ranked
        from rollergen.spec.units import parse_positive_length

        asked = _needed_duty(duty)
        running = running_of(asked, rotation_speed=_speed(speed), turning=_sense(turns))
        drawn = [_drawn(path) for path in profiles]
        gap = None if tip_gap is None else parsed(parse_positive_length, tip_gap, "--tip-gap")
        ranking = ranked(drawn, asked, running, weights=_weights(weights), tip_gap=gap)
        if picture is not None:
            _draw_curves(picture, drawn, asked, running, gap)
        if as_json:
            print_json({"schema": 1, **asdict(ranking)})
        else:
            print_ranking(ranking, units)
        return 0

    answer(work, as_json=as_json)


@app.command(
    epilog="Example:  rollergen advise --duty duties/beet-sandy-loam.toml --start beet.toml --out new.toml"
)
def advise(
    duty: DutyFile,
    start: Annotated[
        Path | None,
        typer.Option(
            help="A profile that gives bore, chambers, compound and mate; default the starting one."
        ),
    ] = None,
    bed: Annotated[
        Path | None,
        typer.Option(help="A bed file: its first ribbed roller is the start, its neighbour the mate."),
    ] = None,
    out: Annotated[Path | None, typer.Option(help="Where the proposed profile goes; default stdout.")] = None,
    tip_gaps: Annotated[str, typer.Option(help="Tip gaps to try.")] = "1 mm, 1.5 mm, 2 mm, 3 mm",
    most_body_gap: Annotated[str | None, typer.Option(help='Body gap at most, e.g. "14 mm".')] = None,
    most_at_risk: Annotated[str, typer.Option(help="Share of the crop at risk at most.")] = "0 %",
    weights: WeightsText = None,
    speed: Speed = None,
    turns: Turns = "clockwise",
    picture: Picture = None,
    units: UnitChoice = "mm",
    as_json: AsJson = False,
) -> None:
    """A profile proposed for a duty: ribs, body and gap that keep the crop and take the most debris."""

    def work() -> int:
        from rollergen.answer.advise import COUNTS, Limits
        from rollergen.answer.advise import advise as advised
        from rollergen.answer.duty_items import running_of
        from rollergen.spec.units import parse_positive_length, parse_share

        asked = _needed_duty(duty)
        running = running_of(asked, rotation_speed=_speed(speed), turning=_sense(turns))
        gaps = tuple(parsed(parse_positive_length, g.strip(), "--tip-gaps") for g in tip_gaps.split(","))
        limits = Limits(
            tip_gaps=gaps,
            most_body_gap=None
            if most_body_gap is None
            else parsed(parse_positive_length, most_body_gap, "--most-body-gap"),
            most_at_risk=parsed(parse_share, most_at_risk, "--most-at-risk"),
        )
        first = _start(start, bed)
        with progress(len(gaps) * len(COUNTS), "advise") as step:
            advice = advised(first, asked, running, limits=limits, weights=_weights(weights), progress=step)
        return _advised(advice, asked, out, picture, units, as_json)

    answer(work, as_json=as_json)


def _advised(
    advice: Advice, duty: Duty, out: Path | None, picture: Path | None, units: Any, as_json: bool
) -> int:
    from rollergen.cli.asking import deliver
    from rollergen.spec.profile_text import profile_text

    text = profile_text(advice.profile, remarks=advice.words) if advice.profile is not None else None
    if picture is not None:
        _draw_trade_off(picture, advice, duty)
    if text is not None and out is not None:
        deliver(out, text)
    if as_json:
        page = asdict(advice)
        page.pop("profile")
        print_json({"schema": 1, **page, "profile_text": text, "file": str(out) if text and out else None})
    elif text is not None and out is None:
        print(text, end="")
        print_advice(advice, units, file=sys.stderr)
    else:
        print_advice(advice, units, file=sys.stdout)
    return 0 if text is not None else LIMIT_NOT_MET


@app.command(
    epilog="Example:  rollergen trial beds/beet-line.toml --duty duties/beet-sandy-loam.toml --picture bed.gif"
)
def trial(
    bed: Annotated[Path, typer.Argument(metavar="BED", help="A bed file (.toml).")],
    duty: DutyFile,
    seconds: Annotated[float, typer.Option(min=0.1, max=600.0, help="How long the bed runs.")] = 10.0,
    seed: Annotated[int, typer.Option(min=0, help="Seed of the random feed.")] = 1,
    seeds: Annotated[int, typer.Option(min=1, max=100, help="How many feeds: seed, seed + 1, ...")] = 1,
    bodies: Annotated[int, typer.Option(min=1, max=5000, help="Bodies fed, half of them crop.")] = 200,
    speed: Speed = None,
    picture: Annotated[
        Path | None, typer.Option(help="Animation (.gif, .mp4) or bars of the counts (.png, .svg).")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """The bed run with loose bodies: what it does with them, where grip says what it can."""

    def work() -> int:
        from rollergen.answer.duty_items import running_of
        from rollergen.answer.trials import try_bed
        from rollergen.spec.reading import read_bed

        if picture is not None:
            one_of("--picture", picture.suffix, (".gif", ".mp4", ".png", ".svg"))
        laid, asked = read_bed(bed), _needed_duty(duty)
        running = running_of(asked, rotation_speed=_speed(speed))
        film = picture is not None and picture.suffix in (".gif", ".mp4")
        with share_done(f"trial of {laid.name}") as tell:
            report = try_bed(
                laid,
                asked,
                running,
                seconds=seconds,
                seeds=range(seed, seed + seeds),
                bodies=bodies,
                frames_per_second=FRAMES_PER_SECOND if film else None,
                progress=tell,
            )
        if picture is not None:
            _draw_trial(picture, laid, running, asked, report)
        if as_json:
            page = asdict(report)
            for single in page["reports"]:
                single.pop("track")
            print_json({"schema": 1, "bed": laid.name, "duty": asked.name, **page})
        else:
            print_trial(laid.name, asked.name, report)
        return 0

    answer(work, as_json=as_json)


def _duty(path: Path | None) -> Duty | None:
    return _needed_duty(path) if path is not None else None


def _needed_duty(path: Path) -> Duty:
    from rollergen.spec.reading import read_duty_source, warnings_for

    source = read_duty_source(path)
    for warning in warnings_for(source):
        print(f"warning: {warning}", file=sys.stderr)
    for key, (value, why) in sorted(source.defaults.items()):
        if why.startswith("duty presets"):
            print(f"preset: {key} = {value}  ({why})", file=sys.stderr)
    return source.duty


def _drawn(path: Path) -> Drawn:
    from rollergen.answer.report import draw
    from rollergen.spec.reading import read_source

    return draw(read_source(path))


def _speed(text: str | None) -> float | None:
    from rollergen.spec.units import parse_rotation_speed

    return None if text is None else parsed(parse_rotation_speed, text, "--speed")


def _sense(turns: str) -> Literal["clockwise", "counter-clockwise"]:
    one_of("--turns", turns, ("clockwise", "counter-clockwise"))
    return "clockwise" if turns == "clockwise" else "counter-clockwise"


def _weights(text: str | None) -> Weights:
    from rollergen.answer.rank import Weights

    names = [field.name for field in fields(Weights)]
    given: dict[str, float] = {}
    for part in (text or "").split(","):
        name, _, value = part.partition("=")
        if not part.strip():
            continue
        try:
            given[name.strip()] = float(value)
        except ValueError:
            raise UsageError(f'--weights "{part.strip()}" is not a weight; write e.g. crop=10') from None
        if name.strip() not in names or not isfinite(given[name.strip()]):
            raise UsageError(
                f"--weights {part.strip()}: weights are {', '.join(names)}, numbers of 0 or more"
            )
    return Weights(**given)


def _start(start: Path | None, bed: Path | None) -> Any:
    """The profile to start from: named, or the bed's first ribbed roller beside its smooth neighbour."""
    from rollergen.answer.bed_start import start_in
    from rollergen.spec.reading import profile_from_text, read_bed, read_profile
    from rollergen.spec.schema import starting_profile

    profile = read_profile(start) if start is not None else None
    if bed is not None:
        return start_in(read_bed(bed), profile)
    return profile if profile is not None else profile_from_text(starting_profile())


def _bands(duty: Duty | None) -> list[Any]:
    from rollergen.answer.duty_items import items_for
    from rollergen.export.grip_picture import Band

    if duty is None:
        return []
    return [
        Band(name=i.name, smallest=i.smallest, largest=i.largest, friction=i.governing, keep=i.keep)
        for i in items_for(duty)
    ]


def _form(picture: Path) -> Literal["png", "svg"]:
    one_of("--picture", picture.suffix, (".png", ".svg"))
    return "svg" if picture.suffix == ".svg" else "png"


def _draw_grip(
    picture: Path, show: str, pair: Pair, drawn: Drawn, duty: Duty | None, verdict: Any, friction: float
) -> None:
    from rollergen.answer.grip_limit import limit_of
    from rollergen.answer.grip_verdict import chart_of, curve_of
    from rollergen.export import grip_picture as pictures
    from rollergen.export.files import write_aside

    form, name = _form(picture), drawn.profile.name
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


def _draw_curves(
    picture: Path, drawn: Sequence[Drawn], duty: Duty, running: Running, tip_gap: float | None
) -> None:
    from rollergen.answer.duty_items import pair_for, smooth_mate_of
    from rollergen.answer.grip_verdict import curve_of
    from rollergen.answer.rank import at_tip_gap
    from rollergen.export.files import write_aside
    from rollergen.export.grip_picture import grip_curves_picture

    form = _form(picture)
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


def _draw_trade_off(picture: Path, advice: Advice, duty: Duty) -> None:
    from rollergen.export.files import write_aside
    from rollergen.export.grip_picture import trade_off_picture

    chosen = advice.chosen
    page = trade_off_picture(
        [(t.row.crop_grip_mm, t.row.points["debris"], t.count, t.keeps) for t in advice.tried],
        chosen=(chosen.row.crop_grip_mm, chosen.row.points["debris"]) if chosen else None,
        title=f"what {duty.name} trades: every candidate that was tried",
        smallest_crop=duty.crop.smallest_diameter,
        form=_form(picture),
    )
    write_aside(picture, page)


def _draw_trial(picture: Path, bed: Bed, running: Running, duty: Duty, report: TrialsReport) -> None:
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
            form=_form(picture),
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


def _finite(value: Any) -> Any:
    """JSON knows no infinity: what never happens (squeeze that is never lost) is null."""
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return None if isinstance(value, float) and value in (inf, -inf) else value
