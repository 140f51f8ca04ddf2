"""Chambers that a profile fills with foam: which of a scan's they are, and which a scan shows closed by it."""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, remainder

import numpy as np

from rollergen.shape.bore import SIDES
from rollergen.shape.distance import Flags, Ints
from rollergen.shape.outline import Floats
from rollergen.shape.properties import area_of, perimeter_of
from rollergen.shape.section import Section
from rollergen.spec.profile import Profile
from rollergen.tooling.scan_fitted import Fitted
from rollergen.tooling.scan_phase import ends_are_alike
from rollergen.tooling.scan_surfaces import Surfaces, look_at

IN_HOLE = 1.0  # mm off its wall that a point lies in a hole, not on its mouth
SQUARELY = 0.6  # cosine between a point's facing and the end's
CLOSED = 0.5  # share of a chamber's mouth, at either end
SAME = 1.0  # deg: a part turned by so little lies as well


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Foam:
    """What a scan shows of foam.  ``asked``: chambers, from 0 as the part lies, that are to hold it.

    ``closed``: numbers in the profile, from 1, of those it closes; ``points`` (n,) lie on its faces.
    """

    asked: tuple[int, ...]
    closed: tuple[int, ...]
    points: Flags


def foam_of(
    shrunk: Floats,
    facing: Floats | None,
    area: Floats,
    profile: Profile,
    section: Section,
    surfaces: Surfaces,
) -> Foam:
    """Foam in the chambers that are to hold it, flush with the ends, sunk or standing out.

    A part that is the same when turned, or turned end for end, lies either way: the way is taken in which the fewest
    chambers are closed that should be open.  Points without a facing do not tell a face from a wall.
    """
    asked = () if profile.chambers is None else tuple(number - 1 for number in profile.chambers.foamed)
    nothing = np.zeros(len(shrunk), dtype=bool)
    if not asked or surfaces.chambers is None or facing is None:
        return Foam(asked=asked, closed=(), points=nothing)
    look = look_at(surfaces.chambers, shrunk)
    face = (look.deviation > IN_HOLE) & (np.hypot(shrunk[:, 0], shrunk[:, 1]) < surfaces.radius)
    count = surfaces.chambers.count
    filled = np.zeros(count, dtype=bool)
    mouths = mouth_areas(section, IN_HOLE)
    for sign in (-1.0, 1.0):
        mine = face & (sign * facing[:, 2] > SQUARELY)
        filled |= np.bincount(look.number[mine], area[mine], count) > CLOSED * mouths
    lies = min(ways_it_lies(profile), key=lambda way: int(np.delete(filled, way[list(asked)]).sum()))
    there = tuple(int(lies[n]) for n in asked)
    return Foam(
        asked=there,
        closed=tuple(n + 1 for n, place in zip(asked, there, strict=True) if filled[place]),
        points=face & (np.abs(facing[:, 2]) > SQUARELY) & np.isin(look.number, there),
    )


def behind_foam(foam: Foam, fitted: Fitted) -> dict[str, str]:
    """Why features of the chambers have no reading where foam closes all that could show them."""
    if not foam.closed or fitted.chambers is not None:
        return {}
    keys = ("wall", "web", "hub_wall", "corner_radius", "phase")
    return {f"chambers.{key}": "closed by foam as the profile asks" for key in keys}


def mouth_areas(section: Section, rim: float) -> Floats:
    """Area of each chamber's mouth (mm2), ``rim`` mm along its wall left out."""
    return np.array([max(area_of(one) - rim * perimeter_of(one), 0.0) for one in section.chambers])


def ways_it_lies(profile: Profile) -> list[Ints]:
    """For each way in which the part lies alike: the place of every chamber, as drawn first.

    Turned about its axis ribs, bore and chambers must all meet themselves; with the other end down, where both flanks
    are alike, they are mirrored about a line through the axis.
    """
    chambers, ribs = profile.chambers, profile.ribs
    if chambers is None:
        return []
    count, step = chambers.count, 360 / chambers.count
    steps = [0.0 if ribs is None else 360 / ribs.count, 360 / SIDES.get(profile.bore.section, 1)]
    middle = degrees(chambers.start) + step / 2
    angles = [0.0, 0.0]
    if ribs is not None:
        angles[0] = degrees(ribs.start + profile.turn_per_mm * profile.body.free_length / 2)
    if profile.bore.section == "round":
        steps[1] = 0.0
    numbers = np.arange(count)

    def meets(turn: float, doubled: float) -> bool:
        """Whether ribs and bore meet themselves turned by ``turn``, or mirrored where ``doubled`` is 2."""
        return all(
            period == 0 or abs(remainder(turn - doubled * angle, period)) < SAME
            for angle, period in zip(angles, steps, strict=True)
        )

    ways = [(numbers + n) % count for n in range(count) if meets(n * step, 0.0)]
    if ends_are_alike(profile):
        ways += [(n - numbers) % count for n in range(count) if meets(2 * middle + n * step, 2.0)]
    return ways
