"""The exact section of a segment, and the part it makes when carried along z.

The one description everything else is fed from: solid, mesh, gap, mass, drawing.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isclose

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.bore import bore_complaints, bore_outline
from rollergen.shape.chambers import chamber_complaints, chamber_outlines, webs_of
from rollergen.shape.offset import inward
from rollergen.shape.outline import Outline, circle
from rollergen.shape.part import Cap, Part, Side
from rollergen.shape.properties import (
    Moments,
    greatest_radius,
    least_distance,
    moments_of,
    reach_between,
)
from rollergen.shape.rib import outer_outline, rib_complaints
from rollergen.shape.way_out import largest_that_fits
from rollergen.spec.amounts import at_most
from rollergen.spec.profile import Profile


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A cut across the segment at z = 0: outer curve, bore and chambers, each an exact outline."""

    outer: Outline
    bore: Outline
    chambers: tuple[Outline, ...]

    @property
    def holes(self) -> tuple[Outline, ...]:
        return (self.bore, *self.chambers)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thicknesses:
    """Least rubber measured on the real rounded outlines (mm); None where there is no such place.

    ``wall`` chamber to body surface, ribs not counted; ``web`` chamber to chamber; ``hub_wall`` bore to
    chamber; ``solid`` bore to body surface (what a segment without chambers has).
    """

    wall: float | None
    web: float | None
    hub_wall: float | None
    solid: float


def section_of(profile: Profile) -> Section:
    """The exact section.  Raises ProfileError with every geometric complaint at once."""
    complaints = rib_complaints(profile)
    no_bore = bore_complaints(profile)
    if no_bore:
        raise ProfileError([*complaints, *no_bore])
    bore = bore_outline(profile.bore)
    no_hub = _hub_complaints(profile, bore)
    complaints += no_hub or chamber_complaints(profile.chambers, profile.body_radius, bore)
    if complaints:
        raise ProfileError(complaints)
    section = Section(
        outer=outer_outline(profile),
        bore=bore,
        chambers=chamber_outlines(profile.chambers, profile.body_radius, bore),
    )
    complaints = [*_chamfer_complaints(profile, section), *_lead_in_complaints(profile, section)]
    if complaints:
        raise ProfileError(complaints)
    return section


def thicknesses_of(section: Section, body_radius: float) -> Thicknesses:
    """Least wall, web and hub wall as they really are after rounding."""
    chambers = section.chambers
    return Thicknesses(
        wall=min((body_radius - greatest_radius(c) for c in chambers), default=None),
        web=min(webs_of(chambers), default=None),
        hub_wall=min((least_distance(c, section.bore) for c in chambers), default=None),
        solid=body_radius - greatest_radius(section.bore),
    )


def net_moments(section: Section) -> Moments:
    """Area, first and second moments of the rubber (holes taken out), about the axis."""
    net = moments_of(section.outer)
    for hole in section.holes:
        net = net - moments_of(hole)
    return net


def part_of(profile: Profile, section: Section) -> Part:
    """The segment as sides and caps: chamfered outer side, bore with its lead-in, straight chambers."""
    length = profile.body.free_length
    outer = Side(
        outline=section.outer,
        levels=_end_levels(length, profile.body.edge_chamfer, sign=1.0),
        turn_per_mm=profile.turn_per_mm,
    )
    bore = Side(
        outline=section.bore,
        levels=_end_levels(length, profile.bore.lead_in, sign=-1.0),
        material_inside=False,
    )
    chambers = tuple(
        Side(outline=outline, levels=((0.0, 0.0), (length, 0.0)), material_inside=False)
        for outline in section.chambers
    )
    return _capped(profile.name, (outer, bore, *chambers), length, profile.compound.colour)


def envelope_of(profile: Profile, section: Section) -> Part:
    """A light stand-in for layouts: a plain cylinder at the tip radius, with the real bore."""
    length = profile.body.free_length
    levels = ((0.0, 0.0), (length, 0.0))
    sides = (
        Side(outline=circle(profile.tip_radius, "tip"), levels=levels),
        Side(outline=section.bore, levels=levels, material_inside=False),
    )
    return _capped(profile.name, sides, length, profile.compound.colour)


def _capped(name: str, sides: tuple[Side, ...], length: float, colour: str) -> Part:
    holes = range(1, len(sides))
    caps = (
        Cap(z=0.0, up=False, outer=(0, "low"), holes=tuple((hole, "low") for hole in holes)),
        Cap(z=length, up=True, outer=(0, "high"), holes=tuple((hole, "high") for hole in holes)),
    )
    return Part(name=name, sides=sides, caps=caps, colour=colour)


def _end_levels(length: float, cut: float, *, sign: float) -> tuple[tuple[float, float], ...]:
    """Levels with a 45 deg cut at both ends; ``sign`` +1 takes the curve inwards, -1 outwards."""
    if cut == 0:
        return ((0.0, 0.0), (length, 0.0))
    if isclose(2 * cut, length):
        return ((0.0, sign * cut), (cut, 0.0), (length, sign * cut))
    return ((0.0, sign * cut), (cut, 0.0), (length - cut, 0.0), (length, sign * cut))


def _hub_complaints(profile: Profile, bore: Outline) -> list[Complaint]:
    reach = greatest_radius(bore)
    if reach < profile.body_radius:
        return []
    biggest = profile.bore.across * profile.body_radius / reach
    return [
        Complaint(
            key="bore.across",
            message=f"{profile.bore.across:g} mm: the bore reaches {reach:.2f} mm from the axis and eats through "
            f"the body of radius {profile.body_radius:g} mm; use less than {int(biggest * 10) / 10:g} mm",
        )
    ]


def _chamfer_complaints(profile: Profile, section: Section) -> list[Complaint]:
    cut = profile.body.edge_chamfer
    if _moves(section.outer, cut):
        return []
    works = largest_that_fits(lambda d: _moves(section.outer, d), 0.0, cut)
    return [
        Complaint(
            key="body.edge_chamfer",
            message=f"{cut:g} mm eats up an edge of the outer curve; use {at_most(works)} or less",
        )
    ]


def _lead_in_complaints(profile: Profile, section: Section) -> list[Complaint]:
    lead_in = profile.bore.lead_in
    if lead_in == 0:
        return []
    way_out = f"use less, for example {lead_in / 4:g} mm"
    if not _moves(section.bore, -lead_in):
        return [
            Complaint(key="bore.lead_in", message=f"{lead_in:g} mm eats up an edge of the bore; {way_out}")
        ]
    mouth = inward(section.bore, -lead_in)
    to_surface = profile.body_radius - profile.body.edge_chamfer - greatest_radius(mouth)
    left = min([to_surface, *(reach_between(mouth, chamber) for chamber in section.chambers)])
    if left > 0:
        return []
    return [
        Complaint(
            key="bore.lead_in",
            message=f"{lead_in:g} mm opens the bore mouth into a chamber or the body surface by {-left:.2f} mm; {way_out}",
        )
    ]


def _moves(outline: Outline, d: float) -> bool:
    try:
        inward(outline, d)
    except ValueError:
        return False
    return True
