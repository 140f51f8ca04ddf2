"""A profile, its mate and a duty in the terms of the grip study."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rollergen.answer.report import Drawn
from rollergen.errors import Complaint, ProfileError, UsageError
from rollergen.shape.touching import mirrored
from rollergen.shape.touching_mate import Pair
from rollergen.spec.duty import Crop, Debris, Duty, rpm
from rollergen.spec.profile import Mate, Profile
from rollergen.study.grip import Item

Turning = Literal["clockwise", "counter-clockwise"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """How our roller turns: rad/s, the mate's ratio (None: as the profile's mate says), and the sense.

    ``turning``: as seen from +z with the mate on the right.  Ribs then descend at the mate, or on its
    other side for "counter-clockwise": that is where ``ahead`` flanks drive.  It matters for unlike flanks.
    """

    rotation_speed: float
    mate_speed_ratio: float | None = None
    turning: Turning = "clockwise"

    @property
    def speed_rpm(self) -> float:
        return rpm(self.rotation_speed)


def running_of(
    duty: Duty | None, *, rotation_speed: float | None = None, turning: Turning = "clockwise"
) -> Running:
    """What the duty says of the run; ``rotation_speed`` (rad/s) overrides it.

    Raises UsageError when neither says how fast our roller turns.
    """
    run = duty.run if duty is not None else None
    speed = rotation_speed if rotation_speed is not None else run.rotation_speed if run else None
    if speed is None:
        raise UsageError('how fast does our roller turn? write [run] rotation_speed, or --speed "60 rpm"')
    return Running(
        rotation_speed=speed, mate_speed_ratio=run.mate_speed_ratio if run else None, turning=turning
    )


def smooth_mate_of(profile: Profile, name: str | None = None) -> tuple[int, Mate]:
    """(number, mate) that grip is worked out for: the one named, else the first smooth one.

    Raises UsageError with the names there are; grip between two ribbed rollers is refused.
    """
    known = ", ".join(f"{m.name} ({m.kind})" for m in profile.mates) or "none"
    if not profile.mates:
        raise UsageError(f"{profile.name} has no mate: nothing is seized by one roller alone; add [[mates]]")
    for number, mate in enumerate(profile.mates):
        if name is None and mate.kind == "smooth":
            return number, mate
        if name is not None and mate.name == name:
            if mate.kind == "ribbed":
                raise UsageError(_ribbed(profile, mate))
            return number, mate
    if name is not None:
        raise UsageError(f'no mate "{name}" in {profile.name}; mates: {known}')
    raise UsageError(_ribbed(profile, profile.mates[0]))


def _ribbed(profile: Profile, mate: Mate) -> str:
    return (
        f"{mate.name}, mate of {profile.name}, has ribs; what two ribbed rollers seize depends on the phase"
        " between them, which this study does not know: name a smooth mate, or give the mate's body or tip"
        " circle as a smooth diameter for the widest or tightest case"
    )


def pair_for(drawn: Drawn, number: int, mate: Mate, running: Running) -> Pair:
    """The roller and its smooth mate as the grip study needs them.

    Raises ProfileError when the axes leave no room or the mate stands too high.
    """
    profile, assumed = drawn.profile, running.mate_speed_ratio
    outline = drawn.section.outer
    assert mate.diameter is not None  # smooth_mate_of gives no other
    turned = running.turning == "counter-clockwise"
    try:
        return Pair(
            outline=mirrored(outline) if turned else outline,
            count=profile.ribs.count if profile.ribs else 0,
            turn_per_mm=-profile.turn_per_mm if turned else profile.turn_per_mm,
            body_radius=profile.body_radius,
            tip_radius=profile.tip_radius,
            mate_radius=mate.diameter / 2,
            axis_distance=mate.axis_distance,
            height=mate.height,
            speed_ratio=mate.speed_ratio if assumed is None else assumed,
        )
    except ValueError as wrong:
        raise ProfileError([Complaint(key=f"mates[{number}].axis_distance", message=str(wrong))]) from wrong


def items_for(duty: Duty) -> tuple[Item, ...]:
    """Crop first, then the debris in the order of the file."""
    return (_crop(duty.crop), *map(_debris, duty.debris))


def _crop(crop: Crop) -> Item:
    return Item(
        name=crop.name,
        keep=True,
        smallest=crop.smallest_diameter,
        largest=crop.largest_diameter,
        friction=crop.friction,
        mate_friction=crop.mate_friction,
        length_ratio=crop.length_ratio,
        sieve=crop.points,
        bruise_pressure=crop.bruise_pressure,
    )


def _debris(debris: Debris) -> Item:
    return Item(
        name=debris.name,
        keep=False,
        smallest=debris.smallest_diameter,
        largest=debris.largest_diameter,
        friction=debris.friction,
        mate_friction=debris.mate_friction,
        shape=debris.shape,
        strength=debris.strength,
    )
