"""Commands about a duty: grip, rank, advise, trial."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rollergen.cli.app import app
from rollergen.cli.asking import (
    LIMIT_NOT_MET,
    AsJson,
    ProfileFile,
    ProfileFiles,
    UnitChoice,
    answer,
    one_of,
    parsed,
)
from rollergen.cli.duty_asking import (
    DutyFile,
    DutyIfAny,
    Picture,
    Speed,
    Turns,
    WeightsText,
    drawn_from_file,
    duty_if_any,
    needed_duty,
    sense_of,
    speed_of,
    weights_of,
)
from rollergen.cli.duty_drawing import draw_curves, draw_grip, draw_trade_off, draw_trial
from rollergen.cli.duty_showing import print_advice, print_grip, print_ranking, print_trial
from rollergen.cli.progress import progress, share_done
from rollergen.cli.showing import finite, print_json

if TYPE_CHECKING:
    from rollergen.answer.advise import Advice
    from rollergen.spec.duty import Duty

FRAMES_PER_SECOND = 12.0


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
        asked = duty_if_any(duty)
        running = running_of(asked, rotation_speed=speed_of(speed), turning=sense_of(turns))
        drawn = drawn_from_file(profile)
        given = None if stiffness is None else parsed(parse_stiffness, stiffness, "--stiffness")
        verdict = judge_grip(drawn, asked, running, mate=mate, stiffness=given)
        if picture is not None:
            pair = pair_for(drawn, *smooth_mate_of(drawn.profile, mate), running)
            draw_grip(picture, show, pair, drawn, asked, verdict, friction)
        if as_json:
            page = asdict(verdict)
            print_json(finite({"schema": 1, **page.pop("report"), **page}))
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

        asked = needed_duty(duty)
        running = running_of(asked, rotation_speed=speed_of(speed), turning=sense_of(turns))
        drawn = [drawn_from_file(path) for path in profiles]
        gap = None if tip_gap is None else parsed(parse_positive_length, tip_gap, "--tip-gap")
        ranking = ranked(drawn, asked, running, weights=weights_of(weights), tip_gap=gap)
        if picture is not None:
            draw_curves(picture, drawn, asked, running, gap)
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

        asked = needed_duty(duty)
        running = running_of(asked, rotation_speed=speed_of(speed), turning=sense_of(turns))
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
            advice = advised(first, asked, running, limits=limits, weights=weights_of(weights), progress=step)
        return _advised(advice, asked, out, picture, units, as_json)

    answer(work, as_json=as_json)


def _advised(
    advice: Advice, duty: Duty, out: Path | None, picture: Path | None, units: Any, as_json: bool
) -> int:
    from rollergen.cli.asking import deliver
    from rollergen.spec.profile_text import profile_text

    text = profile_text(advice.profile, remarks=advice.words) if advice.profile is not None else None
    if picture is not None:
        draw_trade_off(picture, advice, duty)
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
        laid, asked = read_bed(bed), needed_duty(duty)
        running = running_of(asked, rotation_speed=speed_of(speed))
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
            draw_trial(picture, laid, running, asked, report)
        if as_json:
            page = asdict(report)
            for single in page["reports"]:
                single.pop("track")
            print_json({"schema": 1, "bed": laid.name, "duty": asked.name, **page})
        else:
            print_trial(laid.name, asked.name, report)
        return 0

    answer(work, as_json=as_json)


def _start(start: Path | None, bed: Path | None) -> Any:
    """The profile to start from: named, or the bed's first ribbed roller beside its smooth neighbour."""
    from rollergen.answer.bed_start import start_in
    from rollergen.spec.reading import profile_from_text, read_bed, read_profile
    from rollergen.spec.schema import starting_profile

    profile = read_profile(start) if start is not None else None
    if bed is not None:
        return start_in(read_bed(bed), profile)
    return profile if profile is not None else profile_from_text(starting_profile())
