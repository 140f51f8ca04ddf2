"""The ribbed outer outline: body, root fillets, flanks, tip rounds and tip lands as exact arcs and lines.

All corners of one flank follow from four numbers (rib centre at angle 0, ahead = counter-clockwise side):
the flank line has the outward normal at ``nu`` and lies ``p`` from the axis; the tip round touches the tip
arc at angle ``chi``; the root fillet touches the body at angle ``psi``.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, cos, pi, sin, sqrt, tau

from rollergen.errors import Complaint
from rollergen.shape.outline import Arc, Edge, Line, Outline, Point, circle, mirrored_edges, turned_edges
from rollergen.shape.way_out import largest_that_fits
from rollergen.spec.amounts import at_most, deg, mm, most_deg
from rollergen.spec.profile import Profile, Ribs

TINY = 1e-9  # mm or rad: an edge shorter than this is left out


@dataclass(frozen=True, slots=True, kw_only=True)
class Flank:
    """One side of a rib in its own frame (rib centre on +x, this side counter-clockwise of it); mm, rad."""

    nu: float  # angle of the flank's outward normal
    p: float  # distance of the flank line from the axis
    chi: float  # angle where tip land and tip round meet
    psi: float  # angle where root fillet and body meet
    length: float  # straight flank left between both rounds; negative when they overlap
    tip_centre: Point
    root_centre: Point


def flank_of(ribs: Ribs, body_radius: float, flank_angle: float) -> Flank | None:
    """The corners of one flank, or None when the flank line never meets the body.

    Angles below zero (chi) or a negative length mean the rounds do not fit; ``rib_complaints`` says so.
    """
    R, Rt, t, q = body_radius, body_radius + ribs.height, ribs.tip_radius, ribs.root_radius
    nu = pi / 2 - flank_angle
    p = Rt * cos(nu - ribs.tip_width / (2 * Rt))
    if p >= R or t >= Rt or p + q >= R + q:
        return None
    across_tip, across_root = (p - t) / (Rt - t), (p + q) / (R + q)
    if abs(across_tip) > 1:
        return None
    chi, psi = nu - acos(across_tip), nu - acos(across_root)
    along_tip = sqrt(max((Rt - t) ** 2 - (p - t) ** 2, 0.0))
    along_root = sqrt(max((R + q) ** 2 - (p + q) ** 2, 0.0))
    return Flank(
        nu=nu,
        p=p,
        chi=chi,
        psi=psi,
        length=along_tip - along_root,
        tip_centre=((Rt - t) * cos(chi), (Rt - t) * sin(chi)),
        root_centre=((R + q) * cos(psi), (R + q) * sin(psi)),
    )


def outer_outline(profile: Profile) -> Outline:
    """The segment's outer curve at z = 0, counter-clockwise; edges named body, root, flank, tip round, tip.

    The profile must have no ``rib_complaints``.
    """
    R, ribs = profile.body_radius, profile.ribs
    if ribs is None:
        return circle(R, "body")
    ahead = flank_of(ribs, R, ribs.flank_angle_ahead)
    behind = flank_of(ribs, R, ribs.flank_angle_behind)
    assert ahead is not None and behind is not None  # rib_complaints refuses such profiles
    step = tau / ribs.count
    rib = (
        *mirrored_edges(_down_the_flank(ribs, ahead=behind)),
        *_land(profile.tip_radius, -behind.chi, ahead.chi),
        *_down_the_flank(ribs, ahead=ahead),
        *_groove_floor(R, ahead.psi, step - behind.psi),
    )
    edges: list[Edge] = []
    for number in range(ribs.count):
        edges += turned_edges(rib, ribs.start + number * step)
    return Outline(tuple(edges))


def _land(radius: float, start: float, end: float) -> tuple[Edge, ...]:
    return (Arc((0.0, 0.0), radius, start, end - start, "tip"),) if end - start > TINY else ()


def _groove_floor(radius: float, start: float, end: float) -> tuple[Edge, ...]:
    return (Arc((0.0, 0.0), radius, start, end - start, "body"),) if end - start > TINY else ()


def _down_the_flank(ribs: Ribs, *, ahead: Flank) -> tuple[Edge, ...]:
    """Tip round, flank and root fillet of the counter-clockwise side, from the tip down to the body."""
    t, q = ribs.tip_radius, ribs.root_radius
    n = (cos(ahead.nu), sin(ahead.nu))
    top = (ahead.tip_centre[0] + t * n[0], ahead.tip_centre[1] + t * n[1])
    foot = (ahead.root_centre[0] - q * n[0], ahead.root_centre[1] - q * n[1])
    edges: list[Edge] = []
    if t > 0:
        edges.append(Arc(ahead.tip_centre, t, ahead.chi, ahead.nu - ahead.chi, "tip round"))
    edges.append(Line(top, foot, "flank"))
    if q > 0:
        edges.append(Arc(ahead.root_centre, q, ahead.nu + pi, ahead.psi - ahead.nu, "root"))
    return tuple(edges)


def rib_complaints(profile: Profile) -> list[Complaint]:
    """Everything about the ribs that only geometry can know, with the number that would work."""
    ribs, R = profile.ribs, profile.body_radius
    if ribs is None:
        return []
    sharp = ribs.model_copy(update={"root_radius": 0.0, "tip_radius": 0.0})
    missing = [
        Complaint(
            key=f"ribs.flank_angle_{side}",
            message=f"{deg(angle)}: the flank line never reaches the body of radius {mm(R)}; use "
            f"{most_deg(largest_that_fits(lambda a: _reaches(sharp, R, a), 0.0, angle))} or less, "
            "or a narrower tip",
        )
        for side, angle in (("ahead", ribs.flank_angle_ahead), ("behind", ribs.flank_angle_behind))
        if not _reaches(sharp, R, angle)
    ]
    if missing:
        return missing
    return [*_tip_complaints(ribs, R), *_flank_complaints(ribs, R), *_root_complaints(ribs, R)]


def _reaches(ribs: Ribs, body_radius: float, angle: float) -> bool:
    return flank_of(ribs, body_radius, angle) is not None


def _flanks(ribs: Ribs, body_radius: float) -> tuple[Flank, Flank] | None:
    ahead = flank_of(ribs, body_radius, ribs.flank_angle_ahead)
    behind = flank_of(ribs, body_radius, ribs.flank_angle_behind)
    return (ahead, behind) if ahead and behind else None


def _tip_fits(ribs: Ribs, body_radius: float) -> bool:
    flanks = _flanks(ribs, body_radius)
    return flanks is not None and flanks[0].chi + flanks[1].chi >= 0


def _flanks_fit(ribs: Ribs, body_radius: float) -> bool:
    flanks = _flanks(ribs, body_radius)
    return flanks is not None and min(flank.length for flank in flanks) > TINY


def _roots_fit(ribs: Ribs, body_radius: float) -> bool:
    flanks = _flanks(ribs, body_radius)
    return flanks is not None and flanks[0].psi + flanks[1].psi <= tau / ribs.count


def _tip_complaints(ribs: Ribs, R: float) -> list[Complaint]:
    if _tip_fits(ribs, R):
        return []
    works = largest_that_fits(
        lambda t: _tip_fits(ribs.model_copy(update={"tip_radius": t}), R), 0.0, ribs.tip_radius
    )
    return [
        Complaint(
            key="ribs.tip_radius",
            message=f"{ribs.tip_radius:g} mm is too large for a tip {ribs.tip_width:g} mm wide: both rounds "
            f"would eat the land; use {at_most(works)} or less, or a wider tip",
        )
    ]


def _flank_complaints(ribs: Ribs, R: float) -> list[Complaint]:
    if not _tip_fits(ribs, R) or _flanks_fit(ribs, R):
        return []

    def fits(root: float) -> bool:
        return _flanks_fit(ribs.model_copy(update={"root_radius": root}), R)

    if fits(0.0):
        works = at_most(largest_that_fits(fits, 0.0, ribs.root_radius))
        return [
            Complaint(
                key="ribs.root_radius",
                message=f"{ribs.root_radius:g} mm and tip radius {ribs.tip_radius:g} mm leave no straight flank "
                f"on a rib {ribs.height:g} mm high; use {works} or less",
            )
        ]
    works = at_most(
        largest_that_fits(
            lambda t: _flanks_fit(ribs.model_copy(update={"tip_radius": t, "root_radius": 0.0}), R),
            0.0,
            ribs.tip_radius,
        )
    )
    return [
        Complaint(
            key="ribs.tip_radius",
            message=f"{ribs.tip_radius:g} mm is more than a rib {ribs.height:g} mm high can carry; "
            f"use {works} or less and a root radius to suit",
        )
    ]


def _root_complaints(ribs: Ribs, R: float) -> list[Complaint]:
    if _flanks(ribs, R) is None or _roots_fit(ribs, R):
        return []

    def fits(root: float) -> bool:
        return _roots_fit(ribs.model_copy(update={"root_radius": root}), R)

    if ribs.root_radius > 0 and fits(0.0):
        works = at_most(largest_that_fits(fits, 0.0, ribs.root_radius))
        return [
            Complaint(
                key="ribs.root_radius",
                message=f"{ribs.root_radius:g} mm: neighbouring ribs overlap at the root after rounding; "
                f"use {works} or less, or fewer ribs",
            )
        ]
    sharp = ribs.model_copy(update={"root_radius": 0.0})
    counts = [n for n in range(1, ribs.count) if _roots_fit(sharp.model_copy(update={"count": n}), R)]
    room = f"at most {max(counts)} ribs fit" if counts else "not even one rib fits"
    return [
        Complaint(
            key="ribs.count",
            message=f"{ribs.count} ribs overlap at the root even without rounding; {room} at this tip width "
            "and flank angle",
        )
    ]
