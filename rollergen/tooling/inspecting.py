"""Inspection of a measured part: laid on its profile, read feature by feature, and refused where it cannot be."""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees

import numpy as np

from rollergen.errors import UsageError
from rollergen.shape.distance import Ints
from rollergen.shape.outline import Floats
from rollergen.shape.section import Section, section_of
from rollergen.spec.profile import Profile
from rollergen.tooling.aligning import Fit, align, placed_points, turned_over
from rollergen.tooling.scan import Scan, every_nth, in_mm, inside_out, turned_facets
from rollergen.tooling.scan_core import freed
from rollergen.tooling.scan_measuring import Taken, measure
from rollergen.tooling.scan_phase import ends_are_alike
from rollergen.tooling.scan_surfaces import OUTER, Look, Surfaces, nearest_surface, surfaces_of

UNITS = {"mm": 1.0, "inch": 25.4, "cm": 10.0, "m": 1000.0}
SMALLEST, LARGEST = 0.25, 1.5  # of the nominal size: what a scan in the right unit may measure
WITH_MORE = 3.0  # of it: what one with something beside the part may
ON_SURFACE = 0.012  # of the body's diameter: how near a point must lie to count as on the part
LEAST_ON = 0.6  # share of the points that must
MOST_TILT, MOST_SHIFT = 0.004, 0.25  # rad, mm: standard errors of an axis that is still known
JUDGED_POINTS = 20000
CLEARLY = 1.3  # times: a fit that much worse is the wrong one
FLOOR = 0.01  # mm, below this two fits are alike
FAR_OFF = 2.0  # mm: a point farther off the outside is another surface or a rib that is not there


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """A scan laid on its profile.  ``unit``: the word for its unit, ``unit_from`` how that is known.

    ``hand``: "as asked", "wrong" or "not told apart"; ``end`` "known" or "both ends fit alike".
    ``profile``, ``section`` are those it was laid on: mirrored where the hand is wrong.
    """

    scan: Scan
    fit: Fit
    profile: Profile
    section: Section
    surfaces: Surfaces
    unit: str
    unit_from: str
    hand: str
    end: str
    on_part: float


def lay(scan: Scan, profile: Profile, section: Section, *, unit: str | None = None) -> Laid:
    """Find the unit, the axis, the phase, the end and the hand of a scan.

    Raises UsageError where the scan is of another size in every unit, is no such part, or shows too little of it
    to fix the axis.
    """
    if inside_out(scan):
        scan = turned_facets(scan)
    mirror = mirrored_profile(profile)
    mirror_section = section_of(mirror)
    both = {1: surfaces_of(profile, section)}
    if profile.turn_per_mm:
        both[-1] = surfaces_of(mirror, mirror_section)
    best: tuple[float, str, Scan, list[Fit]] | None = None
    for name, size in _units(scan, both[1], unit):
        sized = in_mm(scan, size)
        fits = align(sized, both)
        if fits and (best is None or fits[0].cost < best[0]):
            best = (fits[0].cost, name, sized, fits)
        if best is not None and best[0] < 0.15 * both[1].radius / 60:
            break
    if best is None:
        raise UsageError(
            "the scan shows no axis: too few of its points lie on smooth surfaces that run along one; scan more of the "
            "outside, or finer"
        )
    _, name, sized, fits = best
    fits = [freed(sized, fit, both[fit.hand]) for fit in fits]
    fit, hand = _handed(fits, sized, both, profile)
    on_part = _on_part(sized, fit, both[fit.hand], profile)
    turned = _turned_out(sized, both) if on_part < LEAST_ON else None
    if turned is not None:
        fit_out, hand_out = _handed(turned[1], turned[0], both, profile)
        on_part_out = _on_part(turned[0], fit_out, both[fit_out.hand], profile)
        if on_part_out > on_part:
            (sized, fits), fit, hand, on_part = turned, fit_out, hand_out, on_part_out
    _refuse_unlike(on_part, profile)
    _refuse_loose(fit)
    alike = _ends_fit_alike(fit, fits, sized, both[fit.hand], profile)
    wrong = fit.hand == -1
    return Laid(
        scan=sized, fit=fit, profile=mirror if wrong else profile, section=mirror_section if wrong else section,
        surfaces=both[fit.hand], unit=name,
        unit_from="as told" if unit else "as the file states" if scan.unit else "by size",
        hand=hand if profile.turn_per_mm else "no hand", end="both ends fit alike" if alike else "known",
        on_part=on_part,
    )  # fmt: skip


def take(laid: Laid) -> Taken:
    """Every feature the scan shows."""
    return measure(laid.scan, laid.fit, laid.profile, laid.section, laid.surfaces)


def size_of(points: Floats) -> float:
    """Half the reach of a cloud of points: distance from its middle that 99.5 % of them keep."""
    middle = np.median(points, axis=0)
    return float(np.percentile(np.linalg.norm(points - middle, axis=1), 99.5))


def _units(scan: Scan, surfaces: Surfaces, told: str | None) -> list[tuple[str, float]]:
    """Units worth trying, the likeliest first."""
    if told is not None:
        return [(told, UNITS[told])]
    if scan.unit is not None:
        name = next((name for name, size in UNITS.items() if size == scan.unit), f"{scan.unit:g} mm")
        return [(name, scan.unit)]
    nominal = float(np.hypot(surfaces.length / 2, surfaces.radius))
    measured = size_of(scan.points)
    ratios = {name: measured * size / nominal for name, size in UNITS.items()}
    likely = [name for name, ratio in ratios.items() if SMALLEST < ratio < LARGEST]
    # with a clamp or a second part beside it a scan reaches farther: laying it on the part decides
    likely = likely or [name for name, ratio in ratios.items() if LARGEST <= ratio < WITH_MORE]
    if not likely:
        raise UsageError(
            f"the scan reaches {2 * measured:.4g} from end to end, the part {2 * nominal:.4g} mm: no such part in "
            f"{', '.join(UNITS)}; say the unit with --scan-units, cut away what is not the part, or check the profile"
        )
    return [(name, UNITS[name]) for name in sorted(likely, key=lambda name: abs(np.log(ratios[name])))]


def _handed(fits: list[Fit], scan: Scan, both: dict[int, Surfaces], profile: Profile) -> tuple[Fit, str]:
    """The fit to go on with, and what is known of the hand: a mirrored one must be clearly better to be believed.

    Only the outside has a hand: bore and chambers run straight and would water the difference down.
    """
    asked, mirror = (
        right_way_up([fit for fit in fits if fit.hand == hand], scan, both.get(hand), profile)
        for hand in (1, -1)
    )
    if asked is None or mirror is None:
        return asked or mirror or fits[0], "wrong" if asked is None else "as asked"
    off_asked, off_mirror = (_outside_off(scan, fit, both[fit.hand]) for fit in (asked, mirror))
    if off_asked > CLEARLY * off_mirror + FLOOR:
        return mirror, "wrong"
    return asked, "not told apart" if off_mirror < CLEARLY * off_asked + FLOOR else "as asked"


def right_way_up(fits: list[Fit], scan: Scan, surfaces: Surfaces | None, profile: Profile) -> Fit | None:
    """Of the fits of one hand, best first, that with the right end up: the flanks tell where they differ.

    The core tells only where they do not: it may have been cast turned, and would lay the ribs end for end.
    """
    over = next((fit for fit in fits if turned_over(fit, fits[0])), None)
    if over is None or surfaces is None or ends_are_alike(profile):
        return fits[0] if fits else None
    off, off_over = (_outside_off(scan, fit, surfaces) for fit in (fits[0], over))
    return over if off > CLEARLY * off_over + FLOOR else fits[0]


def _ends_fit_alike(fit: Fit, fits: list[Fit], scan: Scan, surfaces: Surfaces, profile: Profile) -> bool:
    """Whether the part would lie about as well with its other end up, by the flanks or by the whole."""
    over = next((other for other in fits if other.hand == fit.hand and turned_over(other, fit)), None)
    if over is None or over.cost >= CLEARLY * fit.cost + FLOOR / 2:
        return False
    if ends_are_alike(profile):
        return True
    off, off_over = (_outside_off(scan, each, surfaces) for each in (fit, over))
    return off_over <= CLEARLY * off + FLOOR


def _outside_off(scan: Scan, fit: Fit, surfaces: Surfaces) -> float:
    """How far points lie off the outside as a rule (mm), those that are something else counted at ``FAR_OFF``."""
    kind, look = _look_of_few(scan, fit, surfaces)[:2]
    off = np.minimum(np.abs(look.deviation[kind == OUTER]), FAR_OFF)
    return float(off.mean()) if len(off) else FAR_OFF


def _turned_out(scan: Scan, both: dict[int, Surfaces]) -> tuple[Scan, list[Fit]] | None:
    """The scan with its facets the other way round, and its fits: ``inside_out`` may be mistaken in a part of a part."""
    if scan.normals is None:
        return None
    turned = turned_facets(scan)
    fits = [freed(turned, fit, both[fit.hand]) for fit in align(turned, both)]
    return (turned, fits) if fits else None


def _look_of_few(scan: Scan, fit: Fit, surfaces: Surfaces) -> tuple[Ints, Look, Floats | None]:
    """(surface, look, facing) of some points drawn evenly over the area, the part's size left free."""
    few = every_nth(scan.weights, JUDGED_POINTS)
    q = placed_points(scan.points[few], fit.pose)
    shrunk = np.column_stack([q[:, :2] / fit.radial, q[:, 2]])
    facing = None if scan.normals is None else scan.normals[few] @ fit.pose.rotation
    core = surfaces.turned(*fit.core)
    return *nearest_surface(core, shrunk, facing, turn_ratio=fit.turn_ratio, axial=fit.axial), facing


def _on_part(scan: Scan, fit: Fit, surfaces: Surfaces, profile: Profile) -> float:
    """Share of the scanned area that lies on the part."""
    _, look, facing = _look_of_few(scan, fit, surfaces)
    inside = np.abs(look.deviation) < ON_SURFACE * profile.body.diameter
    if facing is not None:
        inside &= np.einsum("ij,ij->i", look.normal, facing) > 0.5
    return float(inside.mean())


def _refuse_unlike(share: float, profile: Profile) -> None:
    if share < LEAST_ON:
        near = ON_SURFACE * profile.body.diameter
        raise UsageError(
            f"the scan is not this part, or was not found on it: laid as well as it goes, {share:.0%} of its surface "
            f"lies within {near:.2f} mm of the profile's, {LEAST_ON:.0%} is the least; check profile and --scan-units, "
            "cut away what is not the part, or recover a profile of its own with --recover"
        )


def _refuse_loose(fit: Fit) -> None:
    tilt, shift = float(fit.sigma[:2].max()), float(fit.sigma[3:5].max())
    if tilt > MOST_TILT or shift > MOST_SHIFT:
        raise UsageError(
            f"the scan shows too little to fix the axis: it is known to {degrees(tilt):.3g} deg and {shift:.3g} mm "
            f"(standard error), the limits are {degrees(MOST_TILT):.2g} deg and {MOST_SHIFT:g} mm; scan more of the "
            "outside, best a third of the way round and most of the length"
        )


def mirrored_profile(profile: Profile) -> Profile:
    """The segment in a mirror: the other hand, flanks swapped, starts the other way round."""
    ribs, chambers = profile.ribs, profile.chambers
    change: dict[str, object] = {}
    if ribs is not None:
        change["ribs"] = ribs.model_copy(
            update={
                "hand": "left" if ribs.hand == "right" else "right",
                "start": -ribs.start,
                "flank_angle_ahead": ribs.flank_angle_behind,
                "flank_angle_behind": ribs.flank_angle_ahead,
            }
        )
    if chambers is not None:
        foamed = tuple(chambers.count + 1 - number for number in chambers.foamed)
        change["chambers"] = chambers.model_copy(update={"start": -chambers.start, "foamed": foamed})
    return profile.model_copy(update=change)
