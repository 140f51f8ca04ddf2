"""Limits of body and ribs: each rule one function, in plain words, with the number that works."""

from __future__ import annotations

from collections.abc import Iterator
from math import asin, ceil, inf, pi, radians, sin, tau

from rollergen.errors import Complaint
from rollergen.spec.amounts import at_least, at_most, deg, mm, most_deg
from rollergen.spec.profile import Profile, Ribs

LEAST_ROUNDING = 0.01  # mm: below it an edge is sharp to every machine and print; write 0
MOST_SQUEEZE = 0.10  # of the free length; common practice, no source
STEEPEST_FLANK = radians(80)
LEAST_PITCH = 20.0  # mm, and at least a quarter of the body diameter
MOST_TURNS = 40.0  # of one rib along one segment
LARGEST_BODY = 2000.0  # mm; beyond these two nothing here was checked
LONGEST_SEGMENT = 5000.0  # mm


def body_in_range(profile: Profile) -> Iterator[Complaint]:
    body = profile.body
    if body.diameter > LARGEST_BODY:
        yield Complaint(key="body.diameter", message=f"{mm(body.diameter)} is above {mm(LARGEST_BODY)}")
    if body.free_length > LONGEST_SEGMENT:
        yield Complaint(
            key="body.free_length", message=f"{mm(body.free_length)} is above {mm(LONGEST_SEGMENT)}"
        )


def fitted_is_squeezed(profile: Profile) -> Iterator[Complaint]:
    free, fitted = profile.body.free_length, profile.body.fitted_length
    key = "body.fitted_length"
    if fitted > free:
        yield Complaint(
            key=key,
            message=f"{mm(fitted)} is longer than the free length {mm(free)}: a stack squeezes, it never "
            f"stretches; write at most {at_most(free + 1e-9)}",
        )
    elif fitted < free * (1 - MOST_SQUEEZE):
        yield Complaint(
            key=key,
            message=f"{mm(fitted)} squeezes the segment by {1 - fitted / free:.1%}, limit "
            f"{MOST_SQUEEZE:.0%}; write at least {at_least(free * (1 - MOST_SQUEEZE))}",
        )


def chamfer_fits_length(profile: Profile) -> Iterator[Complaint]:
    body = profile.body
    if 2 * body.edge_chamfer >= body.free_length:
        yield Complaint(
            key="body.edge_chamfer",
            message=f"{mm(body.edge_chamfer)} at both ends leaves nothing of {mm(body.free_length)} free "
            f"length; write at most {at_most(body.free_length / 2)}",
        )


def chamfer_fits_tip_rounding(profile: Profile) -> Iterator[Complaint]:
    ribs, chamfer = profile.ribs, profile.body.edge_chamfer
    if ribs and 0 < ribs.tip_radius <= chamfer:
        yield Complaint(
            key="body.edge_chamfer",
            message=f"{mm(chamfer)} eats the tip radius {mm(ribs.tip_radius)}; write at most "
            f"{at_most(ribs.tip_radius)}, or ribs.tip_radius of at least {at_least(chamfer)}",
        )


def flanks_in_range(profile: Profile) -> Iterator[Complaint]:
    ribs = profile.ribs
    for side in ("ahead", "behind") if ribs else ():
        angle = getattr(ribs, f"flank_angle_{side}")
        if not 0 <= angle < STEEPEST_FLANK:
            why = "undercuts the rib" if angle < 0 else "is no flank any more"
            yield Complaint(
                key=f"ribs.flank_angle_{side}",
                message=f"{deg(angle)} {why}; write 0 deg or more and less than {deg(STEEPEST_FLANK)}",
            )


def _tip_half_angle(profile: Profile, ribs: Ribs) -> float:
    """Half the angle the tip arc takes about the axis before rounding."""
    return ribs.tip_width / 2 / profile.tip_radius


def tip_fits_circle(profile: Profile) -> Iterator[Complaint]:
    ribs = profile.ribs
    if ribs is None:
        return
    share = tau * profile.tip_radius / ribs.count
    if ribs.tip_width >= share:
        yield Complaint(
            key="ribs.tip_width",
            message=f"{mm(ribs.tip_width)} leaves no groove: {ribs.count} ribs share a tip circle of "
            f"{mm(tau * profile.tip_radius)}; {_narrower(profile, ribs)}",
        )


def flanks_reach_body(profile: Profile) -> Iterator[Complaint]:
    ribs = profile.ribs
    if ribs is None or not _sound_flanks(profile, ribs):
        return
    for side in ("ahead", "behind"):
        angle = getattr(ribs, f"flank_angle_{side}")
        if _root_angle(profile, ribs, angle) is None:
            most = asin(profile.body_radius / profile.tip_radius) - _tip_half_angle(profile, ribs)
            flatter = f"write at most {most_deg(most)}, or " if most > 0 else ""
            yield Complaint(
                key=f"ribs.flank_angle_{side}",
                message=f"{deg(angle)} is so flat that the flank passes over the body; "
                f"{flatter}{_narrower(profile, ribs)}",
            )


def ribs_keep_apart(profile: Profile) -> Iterator[Complaint]:
    ribs = profile.ribs
    if ribs is None or not _sound_flanks(profile, ribs):
        return
    ahead = _root_angle(profile, ribs, ribs.flank_angle_ahead)
    behind = _root_angle(profile, ribs, ribs.flank_angle_behind)
    if ahead is None or behind is None:
        return
    if ahead + behind >= tau / ribs.count:
        fitting = ceil(tau / (ahead + behind)) - 1
        way_out = f"write at most {fitting} ribs, or" if fitting >= 1 else "write"
        yield Complaint(
            key="ribs.count",
            message=f"{ribs.count} ribs overlap at the root: each takes {deg(ahead + behind)} there before "
            f"rounding, {deg(tau / ribs.count)} is there; {way_out} a smaller tip_width or flank_angle",
        )


def _narrower(profile: Profile, ribs: Ribs) -> str:
    """The way out by tip width: the widest whose flanks meet the body clear of their neighbours."""

    def clear(width: float) -> bool:
        narrower = ribs.model_copy(update={"tip_width": width})
        if not _sound_flanks(profile, narrower):
            return False
        ahead = _root_angle(profile, narrower, ribs.flank_angle_ahead)
        behind = _root_angle(profile, narrower, ribs.flank_angle_behind)
        return ahead is not None and behind is not None and ahead + behind < tau / ribs.count

    low, high = 0.0, ribs.tip_width
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if clear(middle) else (low, middle)
    return f"tip_width at most {at_most(low)}" if low > LEAST_ROUNDING else "write fewer or lower ribs"


def _sound_flanks(profile: Profile, ribs: Ribs) -> bool:
    angles = (ribs.flank_angle_ahead, ribs.flank_angle_behind)
    return all(0 <= angle < STEEPEST_FLANK for angle in angles) and _tip_half_angle(profile, ribs) < pi / 2


def _root_angle(profile: Profile, ribs: Ribs, flank: float) -> float | None:
    """Angle about the axis from the rib's centre line to where the flank line meets the body.

    None when the line passes over the body: its foot, Rt sin(half + flank), lies outside.
    """
    inclined = _tip_half_angle(profile, ribs) + flank
    foot = profile.tip_radius * sin(inclined)
    if inclined >= pi / 2 or foot >= profile.body_radius:
        return None
    return asin(foot / profile.body_radius) - flank


def tip_rounding_fits_tip(profile: Profile) -> Iterator[Complaint]:
    ribs = profile.ribs
    if ribs is None or ribs.tip_radius == 0 or not _sound_flanks(profile, ribs):
        return
    most = _largest_tip_radius(profile, ribs)
    if ribs.tip_radius >= most:
        yield Complaint(
            key="ribs.tip_radius",
            message=f"{mm(ribs.tip_radius)} is too large for a tip {mm(ribs.tip_width)} wide; write at most "
            f"{at_most(most)}, or a wider tip_width",
        )


def _largest_tip_radius(profile: Profile, ribs: Ribs) -> float:
    """The tip radius at which the two roundings meet on the tip circle (mm).

    A rounding of radius r touches the tip circle where its centre's ray leaves: at angle
    asin((Rt sin(half + flank) - r) / (Rt - r)) - flank from the centre line. Own derivation.
    """
    Rt, half = profile.tip_radius, _tip_half_angle(profile, ribs)

    def left_over(r: float) -> float:
        return sum(
            asin(max(-1.0, (Rt * sin(min(half + flank, pi / 2)) - r) / (Rt - r))) - flank
            for flank in (ribs.flank_angle_ahead, ribs.flank_angle_behind)
        )

    low, high = 0.0, 0.99 * Rt
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if left_over(middle) > 0 else (low, middle)
    return low


def helix_is_buildable(profile: Profile) -> Iterator[Complaint]:
    ribs, body = profile.ribs, profile.body
    if ribs is None or ribs.helix_pitch == inf:
        return
    least = max(LEAST_PITCH, body.diameter / 4, body.free_length / MOST_TURNS)
    if ribs.helix_pitch < least:
        yield Complaint(
            key="ribs.helix_pitch",
            message=f"{mm(ribs.helix_pitch)} is below {mm(least)} (the largest of {mm(LEAST_PITCH)}, a "
            f"quarter of the body diameter and free_length/{MOST_TURNS:g}); "
            f"write at least {at_least(least, itself=True)}",
        )


def roundings_are_real(profile: Profile) -> Iterator[Complaint]:
    bore, ribs, chambers = profile.bore, profile.ribs, profile.chambers
    said = [("body.edge_chamfer", profile.body.edge_chamfer), ("bore.lead_in", bore.lead_in)]
    said += [("bore.corner_radius", bore.corner_radius)]
    said += [("ribs.tip_radius", ribs.tip_radius), ("ribs.root_radius", ribs.root_radius)] if ribs else []
    said += [("chambers.corner_radius", chambers.corner_radius)] if chambers else []
    for key, value in said:
        if 0 < value < LEAST_ROUNDING:
            yield Complaint(
                key=key,
                message=f"{mm(value)} is too small to make; write 0 mm or at least {mm(LEAST_ROUNDING)}",
            )
