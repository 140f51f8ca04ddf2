"""The bed run with a duty's items: which rollers, which bodies, how often each thing happens over several seeds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import sqrt

from rollergen.answer.duty_items import Running
from rollergen.answer.report import draw_profile
from rollergen.errors import Complaint, ProfileError
from rollergen.spec.bed import Bed, BedRoller
from rollergen.spec.duty import Crop, Debris, Duty
from rollergen.spec.trace import Figure
from rollergen.study.trial import ItemCount, Kind, TrialItem, TrialReport, TrialRoller, trial

CROP_SHARE = 0.5  # of the bodies fed; the debris shares the rest evenly
CROP_DENSITY, DEBRIS_DENSITY = 1050.0, 2000.0  # kg/m^3 where the duty does not say; weight hardly matters


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Mean of a count over the seeds and its standard error; from one seed the error is the binomial one."""

    mean: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemSpread:
    """One item over all seeds; counts of bodies."""

    name: str
    kind: Kind
    count: int
    seized: Spread
    fell: Spread
    over: Spread
    on_bed: Spread
    largest_seized: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialsReport:
    """Several feeds over one bed: what is luck of one feed shows as the error."""

    seeds: tuple[int, ...]
    items: tuple[ItemSpread, ...]
    largest_seized: float | None
    notes: tuple[str, ...]
    reports: tuple[TrialReport, ...]


def rollers_for(bed: Bed, running: Running) -> tuple[TrialRoller, ...]:
    """The bed's rollers as the trial needs them.

    A roller whose speed the bed does not give turns as the duty says: ribbed ones so that their tops carry
    the crop towards +x, smooth ones by the mate's speed ratio.  Raises ProfileError from geometry.
    """
    return tuple(_roller(roller, running) for roller in bed.rollers)


def _roller(roller: BedRoller, running: Running) -> TrialRoller:
    speed = roller.rotation_speed
    if speed is None:
        ratio = 1.0 if running.mate_speed_ratio is None else running.mate_speed_ratio
        ribbed = roller.kind == "ribbed"
        speed = -running.rotation_speed if ribbed else ratio * running.rotation_speed
    segment = roller.segment
    if segment is None or segment.ribs is None:
        return TrialRoller(radius=roller.body_radius, x=roller.x, y=roller.y, rotation_speed=speed)
    return TrialRoller(
        outline=draw_profile(segment).section.outer,
        radius=segment.tip_radius,
        count=segment.ribs.count,
        turn_per_mm=segment.turn_per_mm,
        x=roller.x,
        y=roller.y,
        rotation_speed=speed,
        phase=roller.phase,
    )


def bodies_for(duty: Duty) -> tuple[TrialItem, ...]:
    """Half of the bodies crop, the rest shared evenly by the debris; haulm is left out, it is no sphere."""
    solid = [d for d in duty.debris if d.shape == "round"]
    crop_share = CROP_SHARE if solid else 1.0
    return (
        _crop(duty.crop, crop_share),
        *(_debris(d, (1 - crop_share) / len(solid)) for d in solid),
    )


def _crop(crop: Crop, share: float) -> TrialItem:
    return TrialItem(
        name=crop.name,
        kind="crop",
        smallest=crop.smallest_diameter,
        largest=crop.largest_diameter,
        share=share,
        friction=crop.friction,
        density_kg_m3=crop.density_kg_m3 or CROP_DENSITY,
    )


def _debris(debris: Debris, share: float) -> TrialItem:
    return TrialItem(
        name=debris.name,
        kind="debris",
        smallest=debris.smallest_diameter,
        largest=debris.largest_diameter,
        share=share,
        friction=debris.friction,
        density_kg_m3=debris.density_kg_m3 or DEBRIS_DENSITY,
        strength=debris.strength,
    )


def try_bed(
    bed: Bed,
    duty: Duty,
    running: Running,
    *,
    seconds: float,
    seeds: Sequence[int],
    bodies: int,
    frames_per_second: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> TrialsReport:
    """Feed the duty's items over the bed, once per seed.  Raises ProfileError when the bed can't be tried."""
    try:
        return trials(
            rollers_for(bed, running),
            bodies_for(duty),
            seconds=seconds,
            seeds=seeds,
            bodies=bodies,
            frames_per_second=frames_per_second,
            progress=progress,
        )
    except ValueError as wrong:
        raise ProfileError([Complaint(key="rollers", message=str(wrong))]) from wrong


def trials(
    rollers: Sequence[TrialRoller],
    items: Sequence[TrialItem],
    *,
    seconds: float,
    seeds: Sequence[int],
    bodies: int = 200,
    frames_per_second: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> TrialsReport:
    """The same bed and items fed once per seed: mean counts with their standard error.

    Only the first seed records a track.  Several seeds: standard deviation over the seeds by the root of
    their number.  One seed: sqrt(n p (1 - p)) with p = (k + 1) / (n + 2), which does not call 0 of n sure.
    """
    if not seeds or len(set(seeds)) != len(seeds):
        raise ValueError(f"seeds {list(seeds)} must be given and differ; a seed fed twice tells nothing new")

    def share_of(number: int) -> Callable[[float], None] | None:
        return None if progress is None else lambda share: progress((number + share) / len(seeds))

    reports = tuple(
        trial(
            rollers,
            items,
            seconds=seconds,
            seed=seed,
            bodies=bodies,
            frames_per_second=frames_per_second if number == 0 else None,
            progress=share_of(number),
        )
        for number, seed in enumerate(seeds)
    )
    found = [report.largest_seized for report in reports if report.largest_seized is not None]
    return TrialsReport(
        seeds=tuple(seeds),
        items=tuple(_spread_of([report.items[k] for report in reports]) for k in range(len(items))),
        largest_seized=max(found, default=None),
        notes=reports[0].notes,
        reports=reports,
    )


def spread(counts: Sequence[int], of: int) -> Spread:
    """Mean and standard error of a count out of ``of`` bodies, one count per seed."""
    mean = sum(counts) / len(counts)
    if len(counts) > 1:
        variance = sum((k - mean) ** 2 for k in counts) / (len(counts) - 1)
        return Spread(mean=mean, error=sqrt(variance / len(counts)))
    p = (counts[0] + 1) / (of + 2)
    return Spread(mean=mean, error=sqrt(of * p * (1 - p)))


def _spread_of(counts: list[ItemCount]) -> ItemSpread:
    first = counts[0]
    found = [c.largest_seized for c in counts if c.largest_seized is not None]
    return ItemSpread(
        name=first.name,
        kind=first.kind,
        count=first.count,
        seized=spread([c.seized for c in counts], first.count),
        fell=spread([c.fell for c in counts], first.count),
        over=spread([c.over for c in counts], first.count),
        on_bed=spread([c.on_bed + c.waiting for c in counts], first.count),
        largest_seized=max(found, default=None),
    )


FIGURES = (
    Figure(
        key="error",
        words="standard error of a mean count",
        formula="s / sqrt(seeds); one seed: sqrt(n p (1 - p)), p = (k + 1) / (n + 2)",
        source="any textbook of statistics",
        limits="one seed: bodies taken as independent, which a crowd is not",
        unit="1",
    ),
)
