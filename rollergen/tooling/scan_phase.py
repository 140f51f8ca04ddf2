"""The angle at which bore and chambers stand to the ribs, against the angle they were drawn at."""

from __future__ import annotations

from dataclasses import replace
from math import degrees, hypot, lcm, remainder

from rollergen.shape.bore import SIDES
from rollergen.spec.profile import Profile
from rollergen.tooling.part_features import Reading
from rollergen.tooling.scan_ends import Ends
from rollergen.tooling.scan_fitted import Fitted

ALIKE = 1e-6  # rad between both flanks
Turn = tuple[float, float]  # how far a surface stands turned from where it was drawn, and its error (rad)
NO_END = "no end is seen, and the ribs turn with the height"


def phases_asked(profile: Profile) -> tuple[str, ...]:
    """The phases a profile has: a round bore has none, and without ribs the chambers stand to the bore."""
    ribs, turned = profile.ribs is not None, profile.bore.section != "round"
    return (
        *(("bore.phase",) if ribs and turned else ()),
        *(("chambers.phase",) if profile.chambers is not None and (ribs or turned) else ()),
    )


def period_of(key: str, profile: Profile) -> float:
    """After how many degrees a phase is the same again: both surfaces repeat."""
    ribs = 1 if profile.ribs is None else profile.ribs.count
    steps = SIDES.get(profile.bore.section, 1)
    if key == "bore.phase" or profile.chambers is None:
        return 360 / lcm(ribs, steps)
    return 360 / lcm(profile.chambers.count, steps if profile.ribs is None else ribs)


def phases_of(fitted: Fitted, ends: Ends, profile: Profile) -> tuple[dict[str, Reading], dict[str, str]]:
    """(phases in deg, why others are not seen): how far bore and chambers stand ahead of where they were drawn.

    Ahead is counter-clockwise seen from the high end.  Ribs of a helix are compared at the middle of the part, as a part
    that shrinks along keeps its turns; where one end only is seen, the middle lies as many turns from it as were drawn.
    The errors are those of the fits, that of the pitch among them where one end is seen.  Where only a phase could tell
    one end from the other, the end is taken for the low one with which the part lies closer to the drawn angles: turned
    so it does no harm.
    """
    found: dict[str, Reading] = {}
    unseen: dict[str, str] = {}
    for key in phases_asked(profile):
        inner = fitted.bore if key == "bore.phase" else fitted.chambers
        turn = None if inner is None else (inner.value["turn"], inner.error["turn"])
        datum: Turn | None
        if profile.ribs is not None:
            datum, why = _turn_of_ribs(fitted, ends, profile)
        else:
            bore = fitted.bore
            datum, why = (None, "") if bore is None else ((bore.value["turn"], bore.error["turn"]), "")
        if inner is None or turn is None or datum is None:
            unseen[key] = why if inner is not None and why else f"it takes {_both(key, profile)}"
            continue
        value = remainder(degrees(turn[0] - datum[0]), period_of(key, profile))
        found[key] = Reading(value=value, error=degrees(hypot(turn[1], datum[1])), points=inner.points)
    over = _turned_over(found, profile)
    return min(found, over, key=_off) if ends_are_alike(profile) else found, unseen


def ends_are_alike(profile: Profile) -> bool:
    """Whether nothing but a phase tells which end is which: a helix is the same with either end up."""
    ribs = profile.ribs
    return ribs is None or abs(ribs.flank_angle_ahead - ribs.flank_angle_behind) < ALIKE


def _turned_over(phases: dict[str, Reading], profile: Profile) -> dict[str, Reading]:
    """The phases of the same part with its other end taken for the low one: every angle is seen from the other side."""
    ribs = 0.0
    if profile.ribs is not None:
        ribs = profile.ribs.start + profile.turn_per_mm * profile.body.free_length / 2
    found = {}
    for key, reading in phases.items():
        inner = 0.0 if key == "bore.phase" or profile.chambers is None else profile.chambers.start
        value = remainder(-2 * degrees(inner - ribs) - reading.value, period_of(key, profile))
        found[key] = replace(reading, value=value)
    return found


def _off(phases: dict[str, Reading]) -> list[float]:
    """How far off phases are, the bore first, to a tenth of a degree."""
    return [round(abs(reading.value), 1) for reading in phases.values()]


def _turn_of_ribs(fitted: Fitted, ends: Ends, profile: Profile) -> tuple[Turn | None, str]:
    """How far the ribs stand turned at the middle of the part, or why that is not known."""
    outer = fitted.outer
    if outer is None:
        return None, ""
    twist = outer.value.get("twist", 0.0)
    turn, error = outer.value["turn"], outer.error["turn"]
    if profile.turn_per_mm == 0:
        return (turn, error), ""
    half = profile.body.free_length / 2
    seen = [(end, sign) for end, sign in zip(ends, (-1, 1), strict=True) if end is not None]
    if not seen:
        return None, NO_END
    up = sum(end.height for end, _ in seen) / len(seen) - half
    doubt = twist * hypot(*(end.error for end, _ in seen)) / len(seen)
    if len(seen) == 2:
        return (turn + twist * up, hypot(error, doubt)), ""
    # the length it was laid with tells nothing here: along a helix it gives way to whatever the core is turned by
    drawn = seen[0][1] * profile.turn_per_mm * half
    return (turn + twist * up - drawn, hypot(error, doubt, outer.error["twist"] * half)), ""


def _both(key: str, profile: Profile) -> str:
    datum = "bore" if profile.ribs is None else "ribs"
    return f"{key.split('.')[0]} and {datum}"
