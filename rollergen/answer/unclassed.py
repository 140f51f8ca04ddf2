"""Features that no class has a limit for: judged by the user's own limit, or told without a verdict."""

from __future__ import annotations

from collections.abc import Mapping
from math import degrees, pi, radians, tan

from rollergen.shape.bore import SIDES
from rollergen.spec.profile import Bore, Profile
from rollergen.tooling.part_features import UNSURE, Feature, Reading, Verdict, keeps
from rollergen.tooling.scan_phase import period_of, phases_asked

SURELY = 3.0  # standard errors


def runout_feature(reading: Reading | None, limit: float | None) -> Feature:
    """Total runout of the body when the part turns about its bore, in mm."""
    return _held("runout", "mm", "--most-runout", reading, limit, "it takes bore and body")


def phase_features(
    profile: Profile, phases: Mapping[str, Reading], unseen: Mapping[str, str], limit: float | None
) -> tuple[Feature, ...]:
    """The angles of bore and chambers to the ribs, in deg off the drawn one, either way."""
    return tuple(
        _held(key, "deg", "--most-phase", phases.get(key), limit, unseen.get(key, ""))
        for key in phases_asked(profile)
    )


def phase_notes(features: tuple[Feature, ...], profile: Profile) -> tuple[str, ...]:
    """What a phase without a limit does to the roller, where it is surely more than the part hides anyway."""
    by_key = {feature.key: feature for feature in features}
    said = []
    for key in phases_asked(profile):
        phase = by_key[key]
        if phase.measured is not None and phase.standard_error is not None and phase.tolerance is None:
            tell = _bore_note if key == "bore.phase" else _chambers_note
            sure = abs(phase.measured) - SURELY * phase.standard_error
            note = tell(phase.measured, sure, by_key, profile)
            again = f"(the same again after {period_of(key, profile):.4g} deg); --most-phase sets a limit"
            said += [f"{key}: {note} {again}"] if note else []
    return tuple(said)


def _bore_note(off: float, sure: float, by_key: Mapping[str, Feature], profile: Profile) -> str:
    play, step = _play(profile.bore), _tip_tolerance(by_key, profile)
    if sure <= max(play, step):
        return ""
    hidden = f"its play on the shaft ({play:.2f} deg)"
    if step > play:
        hidden = f"the tolerance of a tip ({step:.2f} deg)"
    return (
        f"the bore stands {off:+.2f} deg off its angle to the ribs, more than {hidden} hides; beside a segment as drawn on "
        f"the same shaft the ribs step by {radians(abs(off)) * profile.tip_radius:.1f} mm at the tips"
    )


def _chambers_note(off: float, sure: float, by_key: Mapping[str, Feature], profile: Profile) -> str:
    web, wall = by_key.get("chambers.web"), by_key.get("chambers.wall")
    if web is None or wall is None:
        return ""
    radius = profile.body_radius - wall.nominal
    if radians(sure) * radius <= web.nominal / 2:
        return ""
    datum = "ribs" if profile.ribs is not None else "bore"
    return (
        f"the chambers stand {off:+.2f} deg off their angle to the {datum}, {radians(abs(off)) * radius:.1f} mm at their "
        f"outer wall and more than half a web ({web.nominal / 2:.1f} mm): webs bear the body in other places than drawn, "
        "and it gives otherwise"
    )


def _play(bore: Bore) -> float:
    """How far a segment turns on its shaft until the flats hold it (deg), either way.

    A flat reaches f from its middle to its corner's round; there it meets the bore's after half the clearance over f.
    First order: 2 % short at 10 deg.  A keyway's own play is not in the profile: half the clearance over the radius.
    """
    reach = bore.across / 2
    if bore.section in SIDES:
        reach = (bore.across / 2 - bore.shaft_corner_radius) * tan(pi / SIDES[bore.section])
    return degrees(bore.clearance / 2 / max(reach, 1e-9))


def _tip_tolerance(by_key: Mapping[str, Feature], profile: Profile) -> float:
    """The angle by which a rib's tip may be wider (deg)."""
    width = by_key.get("ribs.tip_width")
    return 0.0 if width is None or width.tolerance is None else degrees(width.tolerance / profile.tip_radius)


def _held(
    key: str, unit: str, option: str, reading: Reading | None, limit: float | None, why: str
) -> Feature:
    """Judged by the user's limit, either way; one that is not known well enough never passes."""
    if reading is None:
        return _unlimited(key, unit, limit, None, "not seen", why)
    if limit is None:
        return _unlimited(key, unit, limit, reading, "no limit", f"no limit given; {option} sets one")
    verdict: Verdict = "pass" if keeps(abs(reading.value), limit) else "fail"
    if verdict == "pass" and reading.error > UNSURE * limit:
        why = (
            f"seen too little of: the standard error is {reading.error:.3g} {unit}, a quarter of the limit is "
            f"{UNSURE * limit:.3g} {unit}"
        )
        return _unlimited(key, unit, limit, None, "not seen", why)
    return _unlimited(key, unit, limit, reading, verdict, "")


def _unlimited(
    key: str, unit: str, limit: float | None, reading: Reading | None, verdict: Verdict, why: str
) -> Feature:
    """A feature that no class has a limit for: ``limit`` is the user's own, None for none; nominal is 0."""
    value = None if reading is None else reading.value
    error = None if reading is None else reading.error
    sure = reading is not None and (limit is None or abs(abs(reading.value) - limit) > 2 * reading.error)
    return Feature(
        key=key, unit=unit, nominal=0.0, measured=value, deviation=value, standard_error=error, tolerance=limit,
        points=0 if reading is None else reading.points, verdict=verdict, sure=sure, why=why,
    )  # fmt: skip
