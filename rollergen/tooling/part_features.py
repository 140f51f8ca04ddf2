"""The features of a segment that can be measured, what was asked of each, and whether a measured one keeps it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import degrees, hypot, inf
from typing import Literal

from rollergen.shape.outline import Line
from rollergen.shape.section import Section, thicknesses_of
from rollergen.spec.profile import Profile
from rollergen.spec.tolerances import Dimension, MouldClass, moulding_tolerance

Verdict = Literal["pass", "fail", "not seen", "no limit"]
UNSURE = 0.25  # of the tolerance: a standard error above this does not decide anything
SLACK = 1e-9  # mm or deg: what is on its limit keeps it, whatever binary fractions make of 8.3 - 8
CORED = ("bore.", "chambers.")  # made by cores in one piece: never across a parting line


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a profile asks of one feature: ``nominal`` in ``unit`` (mm or deg); ``length`` is what an angle acts over."""

    nominal: float
    unit: Literal["mm", "deg"] = "mm"
    length: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One measured feature in its unit: value, standard error, number of points or readings.

    ``worst``: the one reading by hand furthest from nominal, which must hold too; so must ``least`` and ``greatest``,
    what a scan shows from place to place.  ``where`` begins what is said of the worst.
    """

    value: float
    error: float
    points: int
    worst: float | None = None
    by_hand: bool = False
    least: float | None = None
    greatest: float | None = None
    where: str = "one of them is"


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """A feature held against its tolerance; lengths in mm, angles in deg as ``unit`` says.

    ``tolerance`` plus-minus, None where no class has one.  ``sure`` is False where the limit lies within two
    standard errors of what was measured.  ``why`` says why there is no verdict.  ``least``, ``greatest``: what a scan
    shows of it from place to place, None where it is read as a whole.
    """

    key: str
    unit: str
    nominal: float
    measured: float | None
    deviation: float | None
    standard_error: float | None
    tolerance: float | None
    points: int
    verdict: Verdict
    sure: bool
    why: str
    least: float | None = None
    greatest: float | None = None


def asked_of(profile: Profile, section: Section) -> dict[str, Asked]:
    """Every feature of a profile that a scan or a caliper can measure, in the order they are told."""
    found = {"body.diameter": Asked(nominal=profile.body.diameter)}
    ribs = profile.ribs
    if ribs is not None:
        flank = max(
            (_length(e) for e in section.outer.edges if e.feature == "flank" and isinstance(e, Line)),
            default=ribs.height,
        )
        found |= {
            "tip diameter": Asked(nominal=2 * profile.tip_radius),
            "ribs.height": Asked(nominal=ribs.height),
            "ribs.tip_width": Asked(nominal=ribs.tip_width),
            "ribs.flank_angle_ahead": Asked(
                nominal=degrees(ribs.flank_angle_ahead), unit="deg", length=flank
            ),
            "ribs.flank_angle_behind": Asked(
                nominal=degrees(ribs.flank_angle_behind), unit="deg", length=flank
            ),
        }
        for key in ("tip_radius", "root_radius"):
            if getattr(ribs, key) > 0:
                found[f"ribs.{key}"] = Asked(nominal=getattr(ribs, key))
        if ribs.helix_pitch < inf:
            found["ribs.helix_pitch"] = Asked(nominal=ribs.helix_pitch)
    bore = profile.bore
    found["bore.width"] = Asked(nominal=bore.width)
    if bore.section != "round" and bore.corner_radius > 0:
        found["bore.corner_radius"] = Asked(nominal=bore.corner_radius)
    if bore.section == "keyed" and bore.key_width is not None and bore.key_depth is not None:
        found |= {
            "bore.key_width": Asked(nominal=bore.key_width),
            "bore.key_depth": Asked(nominal=bore.key_depth),
        }
    found |= _of_chambers(profile, section)
    found["body.free_length"] = Asked(nominal=profile.body.free_length)
    return found


def _of_chambers(profile: Profile, section: Section) -> dict[str, Asked]:
    """Wall, web and hub wall as they really come out, not as written, where the two differ."""
    chambers = profile.chambers
    if chambers is None or not section.chambers:
        return {}
    real = thicknesses_of(section, profile.body_radius)
    found = {}
    for key, value in (("wall", real.wall), ("web", real.web), ("hub_wall", real.hub_wall)):
        if value is not None:
            found[f"chambers.{key}"] = Asked(nominal=value)
    if chambers.section == "sector" and chambers.corner_radius > 0:
        found["chambers.corner_radius"] = Asked(nominal=chambers.corner_radius)
    return found


def tolerance_of(key: str, asked: Asked, grade: MouldClass, dimension: Dimension) -> float:
    """Plus-minus of a feature in its unit, by its size and the class the castings are held to.

    An angle has no class of its own: over the length of the flank it may lean by what that length may be off.
    """
    kind: Dimension = "fixed" if key.startswith(CORED) else dimension
    if asked.unit == "deg":
        length = asked.length or 1.0
        return degrees(moulding_tolerance(length, grade, kind) / length)
    return moulding_tolerance(asked.nominal, grade, kind)


def judged(
    asked: Mapping[str, Asked],
    readings: Mapping[str, Reading],
    *,
    grade: MouldClass,
    dimension: Dimension,
    unseen: Mapping[str, str],
) -> tuple[Feature, ...]:
    """Every feature with its verdict; one that was not seen, or not well enough, never passes.

    ``unseen`` says per feature why there is no reading.
    """
    return tuple(
        _judged(key, each, readings.get(key), tolerance_of(key, each, grade, dimension), unseen.get(key, ""))
        for key, each in asked.items()
    )


def keeps(off: float, limit: float) -> bool:
    """Whether something that is ``off`` by so much keeps its limit (both mm or deg): on the limit it does."""
    return off <= limit + SLACK


def _judged(key: str, asked: Asked, reading: Reading | None, tolerance: float, why: str) -> Feature:
    # readings by hand are judged one by one, whatever their mean is worth
    if reading is not None and not reading.by_hand and not reading.error <= UNSURE * tolerance:
        why = (
            f"seen too little of: the standard error is {reading.error:.3g} {asked.unit}, a quarter of the tolerance "
            f"is {UNSURE * tolerance:.3g} {asked.unit}"
        )
        points, reading = reading.points, None
    else:
        points = 0 if reading is None else reading.points
    if reading is None:
        return Feature(
            key=key, unit=asked.unit, nominal=asked.nominal, measured=None, deviation=None, standard_error=None,
            tolerance=tolerance, points=points, verdict="not seen", sure=False, why=why or "the scan does not show it",
        )  # fmt: skip
    off = reading.value - asked.nominal
    places = (reading.value, reading.worst, reading.least, reading.greatest)
    worst = max((each - asked.nominal for each in places if each is not None), key=abs)
    held = keeps(max(abs(off), abs(worst)), tolerance)
    return Feature(
        key=key, unit=asked.unit, nominal=asked.nominal, measured=reading.value, deviation=off,
        standard_error=reading.error, tolerance=tolerance, points=reading.points, verdict="pass" if held else "fail",
        sure=abs(max(abs(off), abs(worst)) - tolerance) > 2 * reading.error,
        why="" if held or not keeps(abs(off), tolerance) else f"{reading.where} {worst:+.3g} {asked.unit} off",
        least=reading.least, greatest=reading.greatest,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class NextPour:
    """What the part says of its mould: measured over nominal size, and the shrinkage that hits nominal next time.

    ``shrinkage_used``: what the mould was made with, None where not told; ``shrinkage_next`` what to make it with;
    ``standard_error`` of the ratio, and near enough of the shrinkage.  ``mould_factor``: by how much every dimension of the
    mould as it stands must grow.
    """

    along: Literal["across", "along"]
    rests_on: str
    size_ratio: float
    standard_error: float
    shrinkage_used: float | None
    shrinkage_next: float | None
    mould_factor: float


def next_pour(
    scale: float, error: float, *, used: float | None, along: Literal["across", "along"], rests_on: str
) -> NextPour:
    """A mould made with shrinkage s is nominal / (1 - s); its part came out at scale times nominal, so the compound
    really keeps (1 - s) scale of the mould, and the shrinkage to use is 1 - (1 - s) scale.
    """
    return NextPour(
        along=along, rests_on=rests_on, size_ratio=scale, standard_error=error, shrinkage_used=used,
        shrinkage_next=None if used is None else next_shrinkage(used, scale), mould_factor=1 / scale,
    )  # fmt: skip


def next_shrinkage(used: float, scale: float) -> float:
    """Shrinkage that brings the next pour to nominal, from the one used and measured over nominal size."""
    return 1 - (1 - used) * scale


def _length(line: Line) -> float:
    return hypot(line.end[0] - line.start[0], line.end[1] - line.start[1])
