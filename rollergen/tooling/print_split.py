"""A segment cut across for a small printer: pieces that clock themselves, ribs that run on by construction.

Every piece is described at its own height of the whole segment, with absolute z, so the helix continues.  A
step round the bore of each piece sits in a recess of the next; a step that is not round cannot turn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, isclose

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.bore import rounded_polygon
from rollergen.shape.offset import inward
from rollergen.shape.outline import Outline, is_circle
from rollergen.shape.part import Cap, Part, Side
from rollergen.shape.properties import area_of, greatest_radius, least_distance
from rollergen.shape.section import Section
from rollergen.spec.trace import Figure

LEAST_LEFT = 1.2  # mm of rubber left round the recess; three lines of a usual nozzle
LEAST_PIECE = 15.0  # mm: a piece must hold its recess and a step


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """The step: ``rim`` mm round the bore, ``height``; clearance of the recess ``around`` and ``above``; mm."""

    rim: float = 3.0
    height: float = 5.0
    around: float = 0.15
    above: float = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """Parts from the lower end up, with the volume lost at the joints and to the foot relief (mm3)."""

    parts: tuple[Part, ...]
    cuts_mm: tuple[float, ...]
    joint_lost_mm3: float
    foot_lost_mm3: float


def even_cuts(length: float, most: float, joint: Joint) -> tuple[float, ...]:
    """Heights at which to cut a segment so that every piece, its step counted, is at most ``most`` mm high.

    Raises ProfileError when a piece would be too short to hold its joint.
    """
    if length <= most:
        return ()
    count = 2
    while length / count + joint.height > most:
        count += 1
        if length / count < LEAST_PIECE:
            raise _wrong(
                "--printer",
                f"{most:g} mm of height would leave pieces under {LEAST_PIECE:g} mm, too short for a joint: scale down,"
                f" or a printer of at least {LEAST_PIECE + joint.height:g} mm",
            )
    return tuple(length * n / count for n in range(1, count))


def split(
    section: Section, *, name: str, turn_per_mm: float, length: float, cuts: Sequence[float], joint: Joint,
    foot: float, chamfer: float, colour: str,
) -> Pieces:  # fmt: skip
    """The pieces of one segment (one without cuts).

    ``foot``: 45 deg relief (mm) of every edge on the plate; ``chamfer`` of the top end as cast.  Raises
    ProfileError for cuts out of order or too near each other, and for a joint the hub wall cannot hold.
    """
    _check_cuts(cuts, length)
    _check_foot(section, foot)
    step = recess = section.bore
    if cuts:
        step, recess = _step_outlines(section, joint)
    ends = [0.0, *cuts, length]
    parts, lost, feet = [], 0.0, 0.0
    for number, (low, high) in enumerate(zip(ends[:-1], ends[1:], strict=True)):
        first, last = number == 0, number == len(ends) - 2
        parts.append(
            _piece(
                section, f"{name} {number + 1}" if cuts else name, turn_per_mm, low, high, joint, foot,
                top=chamfer if last else 0.0, step=None if last else step, recess=None if first else recess,
                colour=colour,
            )
        )  # fmt: skip
        if not first:
            lost += (area_of(recess) - area_of(section.bore)) * (joint.height + joint.above)
            lost -= (area_of(step) - area_of(section.bore)) * joint.height
        feet += _foot_volume(section, foot, None if first else recess)
    return Pieces(parts=tuple(parts), cuts_mm=tuple(cuts), joint_lost_mm3=lost, foot_lost_mm3=feet)


def _piece(
    section: Section, name: str, turn_per_mm: float, low: float, high: float, joint: Joint, foot: float, *,
    top: float, step: Outline | None, recess: Outline | None, colour: str,
) -> Part:  # fmt: skip
    deep = 0.0 if recess is None else joint.height + joint.above
    tall = 0.0 if step is None else joint.height
    sides = [Side(outline=section.outer, levels=_levels(low, high, foot, top), turn_per_mm=turn_per_mm)]
    bore_low = low + deep
    bore_levels = _levels(bore_low, high + tall, -foot if recess is None else 0.0, 0.0)
    sides.append(Side(outline=section.bore, levels=bore_levels, material_inside=False))
    for chamber in section.chambers:
        sides.append(Side(outline=chamber, levels=_levels(low, high, -foot, 0.0), material_inside=False))
    holes = range(2, len(sides))
    lower: list[tuple[int, str]] = [(n, "low") for n in holes]
    upper: list[tuple[int, str]] = [(n, "high") for n in holes]
    caps = []
    if recess is None:
        lower.append((1, "low"))
    else:
        sides.append(Side(outline=recess, levels=_levels(low, bore_low, -foot, 0.0), material_inside=False))
        lower.append((len(sides) - 1, "low"))
        caps.append(Cap(z=bore_low, up=False, outer=(len(sides) - 1, "high"), holes=((1, "low"),)))
    if step is None:
        upper.append((1, "high"))
    else:
        sides.append(Side(outline=step, levels=((high, 0.0), (high + tall, 0.0))))
        upper.append((len(sides) - 1, "low"))
        caps.append(Cap(z=high + tall, up=True, outer=(len(sides) - 1, "high"), holes=((1, "high"),)))
    caps.append(Cap(z=low, up=False, outer=(0, "low"), holes=tuple(lower)))
    caps.append(Cap(z=high, up=True, outer=(0, "high"), holes=tuple(upper)))
    return Part(name=name, sides=tuple(sides), caps=tuple(caps), colour=colour)


def _levels(low: float, high: float, foot: float, top: float) -> tuple[tuple[float, float], ...]:
    """Offsets of a side: ``foot`` at its low end and ``top`` at its high one, both at 45 deg, 0 between."""
    rows = [(low, foot), (low + abs(foot), 0.0)] if foot else [(low, 0.0)]
    rows += [(high - abs(top), 0.0), (high, top)] if top else [(high, 0.0)]
    return tuple(row for n, row in enumerate(rows) if n == 0 or not isclose(row[0], rows[n - 1][0]))


def _step_outlines(section: Section, joint: Joint) -> tuple[Outline, Outline]:
    """The step's outline and the recess's; rounded square round a bore that would turn."""
    bore = section.bore
    if any(edge.feature == "keyway" for edge in bore.edges) or is_circle(bore):
        half = greatest_radius(bore) + joint.rim
        corners = [(half, -half), (half, half), (-half, half), (-half, -half)]
        step = rounded_polygon(corners, 0.7 * half, "step")
    else:
        step = inward(bore, -joint.rim)
    recess = inward(step, -joint.around)
    left = min(
        [least_distance(recess, chamber) for chamber in section.chambers]
        or [least_distance(recess, section.outer)]
    )
    reach = greatest_radius(recess)
    inside = min(
        (hypot(*p) for c in section.chambers for e in c.edges for p in (e.start, e.end)), default=reach + left
    )
    if left < LEAST_LEFT or inside < reach:
        raise _wrong(
            "--joint",
            f"a step of {joint.rim:g} mm round the bore leaves {max(left, 0.0):.2f} mm of rubber round its recess, at"
            f" least {LEAST_LEFT:g} mm are needed: a thinner rim, a thicker hub wall, or no cuts",
        )
    return step, recess


def _check_foot(section: Section, foot: float) -> None:
    try:
        inward(section.outer, foot)
        for hole in section.holes:
            inward(hole, -foot)
    except ValueError as wrong:
        raise _wrong(
            "--elephant-foot",
            f"a relief of {foot:g} mm does not fit this section ({wrong}): write less, or 0 mm",
        ) from wrong


def _check_cuts(cuts: Sequence[float], length: float) -> None:
    ends = [0.0, *cuts, length]
    for low, high in zip(ends[:-1], ends[1:], strict=True):
        if high - low < LEAST_PIECE:
            raise _wrong(
                "--cuts",
                f"a piece from {low:g} to {high:g} mm is shorter than {LEAST_PIECE:g} mm, or cuts are out of order or"
                f" outside 0 to {length:g} mm",
            )


def _foot_volume(section: Section, foot: float, recess: Outline | None) -> float:
    """Rubber the relief takes off one piece (mm3): each edge's band, linear in height, so the integral is exact
    by Simpson's rule on an area that is quadratic in the offset."""
    if foot == 0:
        return 0.0
    holes = (section.bore if recess is None else recess, *section.chambers)

    def net(moved: float) -> float:
        return area_of(inward(section.outer, moved)) - sum(area_of(inward(h, -moved)) for h in holes)

    return foot * (net(0.0) - (net(0.0) + 4 * net(foot / 2) + net(foot)) / 6)


def _wrong(key: str, message: str) -> ProfileError:
    return ProfileError([Complaint(key=key, message=message)])


def _figure(key: str, unit: str, words: str, formula: str) -> Figure:
    return Figure(
        key=key, words=words, formula=formula, source="geometry of the pieces", limits="exact", unit=unit
    )


FIGURES = (
    _figure("cuts_mm", "mm", "heights at which the segment is cut, scale counted", "even pieces, or as given"),
    _figure("joint_lost_mm3", "mm3", "volume missing at the joints", "(recess - bore) (h + above) - step's"),
    _figure("foot_lost_mm3", "mm3", "volume the lower edges' relief takes", "Simpson over the relief's height"),
)  # fmt: skip
