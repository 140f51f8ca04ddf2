"""What is cast: the cavity's own section, length and twist, the cores' draft, and the cast body as a Part.

Everything lies in the mould's frame: z = 0 is the part's z = 0 end, z = ``length`` its other end, both larger
than the part's by the shrinkage.  The base plate is below z = 0, so the large end of a core is there.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, inf, pi, tan, tau
from typing import Literal

import numpy as np

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.chambers import webs_of
from rollergen.shape.offset import inward
from rollergen.shape.outline import Arc, Line, Outline
from rollergen.shape.part import Part
from rollergen.shape.part_holes import clearance
from rollergen.shape.properties import greatest_radius
from rollergen.shape.section import Section, Thicknesses, thicknesses_of
from rollergen.shape.way_out import largest_that_fits
from rollergen.spec.profile import Profile
from rollergen.tooling.marks import Glyph
from rollergen.tooling.mould_tool import Fits, NominalEnd
from rollergen.tooling.shrinkage import Shrinkage, cavity_section, cavity_turn
from rollergen.tooling.skin import LEAST_METAL, Levels, Skin, rising

Cut = tuple[float, float]  # across and along the axis, mm
LEAST_DRAFT = 0.01  # deg, what is worth asking for
ChamferIn = Literal["plate", "sleeve", "none"]  # sleeve: where there is one, else the plate


@dataclass(frozen=True, slots=True, kw_only=True)
class Cavity:
    """The hollow and its cores (mm, rad, mould frame).

    ``chamfer`` and ``lead_in``: (across, along), unlike where shrinkage is.  ``chamber_offsets`` and
    ``bore_offsets``: inward of the outlines at z = 0 and z = ``length``, straight between.  ``rib_angles``:
    rib centres at z = 0, empty without ribs.  ``chamfer_in``: what forms the chamfer at z = 0 and at the other end.
    """

    name: str
    section: Section
    body_radius: float
    tip_radius: float
    length: float
    turn_per_mm: float
    chamfer: Cut
    lead_in: Cut
    chamber_offsets: tuple[float, float]
    bore_offsets: tuple[float, float]
    rib_angles: tuple[float, ...]
    colour: str
    axial_scale: float = 1.0
    chamfer_in: tuple[ChamferIn, ChamferIn] = ("plate", "sleeve")

    @property
    def chamfers(self) -> tuple[Cut, Cut]:
        """(across, along) at z = 0 and at the other end; 0 where the edge is cast sharp."""
        low, high = ((0.0, 0.0) if place == "none" else self.chamfer for place in self.chamfer_in)
        return (low, high)

    @property
    def twist(self) -> float:
        """Angle from end to end (rad), the same as the part's."""
        return self.turn_per_mm * self.length


def cavity_of(
    profile: Profile,
    section: Section,
    shrinkage: Shrinkage,
    *,
    core_draft: float = 0.0,
    mandrel_draft: float = 0.0,
    nominal_end: NominalEnd = "large",
    fits: Fits | None = None,
) -> Cavity:
    """The cavity for a profile; drafts are angles of the part (rad).

    ``nominal_end``: where a drafted chamber has the size of the profile: at its ``large`` end (the walls are
    then nowhere thinner), half way, or at its ``small`` end (the mass is then nowhere larger).  The bore is
    nominal at its thin end always, or the shaft would not pass.

    ``fits``: of feet and spigots, whose pockets must leave metal between them; the usual ones by default.

    Raises ProfileError when a draft eats up a corner radius, a wall or the metal between two feet, with the draft
    that works.
    """
    across, along = shrinkage.radial_scale, shrinkage.axial_scale
    length = profile.body.free_length
    scaled = cavity_section(section, shrinkage)
    room = _Room(profile=profile, section=section, scale=across, fits=fits or Fits())
    _refuse_draft(room, core_draft, mandrel_draft, nominal_end)
    low, high = draft_offsets(length, core_draft, nominal_end)
    ribs = profile.ribs
    return Cavity(
        name=profile.name,
        section=scaled,
        body_radius=profile.body_radius * across,
        tip_radius=profile.tip_radius * across,
        length=length * along,
        turn_per_mm=cavity_turn(profile.turn_per_mm, shrinkage),
        chamfer=(profile.body.edge_chamfer * across, profile.body.edge_chamfer * along),
        lead_in=(profile.bore.lead_in * across, profile.bore.lead_in * along),
        chamber_offsets=(low * across, high * across),
        bore_offsets=(-length * tan(mandrel_draft) * across, 0.0),
        rib_angles=tuple(ribs.start + tau * rib / ribs.count for rib in range(ribs.count)) if ribs else (),
        colour=profile.compound.colour,
        axial_scale=along,
    )


def draft_offsets(length: float, draft: float, nominal_end: NominalEnd) -> tuple[float, float]:
    """Inward offsets of a drafted core's outline at its foot (z = 0) and its thin end, in part mm."""
    lost = length * tan(draft)
    share = {"large": 0.0, "middle": 0.5, "small": 1.0}[nominal_end]
    low = -share * lost
    return (low, low + lost)


def drafted_section(section: Section, chamber_offset: float, bore_offset: float) -> Section:
    """The section where chambers and bore are moved in by these offsets (mm)."""

    def moved(outline: Outline, d: float) -> Outline:
        return inward(outline, d) if d else outline

    return Section(
        outer=section.outer,
        bore=moved(section.bore, bore_offset),
        chambers=tuple(moved(c, chamber_offset) for c in section.chambers),
    )


def end_thicknesses(cavity: Cavity, shrinkage: Shrinkage) -> tuple[Thicknesses, Thicknesses]:
    """Wall, web and hub wall of the part at the core's foot and at its thin end (mm, shrunk)."""
    found = []
    for end in (0, 1):
        section = drafted_section(cavity.section, cavity.chamber_offsets[end], cavity.bore_offsets[end])
        t = thicknesses_of(section, cavity.body_radius)
        small = 1 - shrinkage.radial
        found.append(
            Thicknesses(
                wall=None if t.wall is None else t.wall * small,
                web=None if t.web is None else t.web * small,
                hub_wall=None if t.hub_wall is None else t.hub_wall * small,
                solid=t.solid * small,
            )
        )
    return (found[0], found[1])


def outer_levels(cavity: Cavity) -> Levels:
    """Both end chamfers of the outer curve over the whole length, as far as they are cast."""
    low, high = cavity.chamfers
    return rising((0.0, low[0]), (low[1], 0.0), (cavity.length - high[1], 0.0), (cavity.length, high[0]))


def bore_levels(cavity: Cavity) -> Levels:
    """Draft and lead-in at both mouths of the bore."""
    across, along = cavity.lead_in
    low, high = cavity.bore_offsets

    def draft(z: float) -> float:
        return low + (high - low) * z / cavity.length

    last = cavity.length - along
    return rising(
        (0.0, low - across), (along, draft(along)), (last, draft(last)), (cavity.length, high - across)
    )


def chamber_levels(cavity: Cavity) -> Levels:
    low, high = cavity.chamber_offsets
    return ((0.0, low), (cavity.length, high))


def cast_part(cavity: Cavity, marks: tuple[Glyph, ...] = (), mark_depth: float = 0.0) -> Part:
    """The casting as it lies in the mould: the reference body every mould part is checked against.

    ``marks`` stand out of the z = 0 end by ``mark_depth``.
    """
    skin = Skin(f"{cavity.name} cast segment")
    top = cavity.length
    outer = skin.wall("outer curve", cavity.section.outer, outer_levels(cavity), cavity.turn_per_mm)
    holes = [skin.hole("bore", cavity.section.bore, bore_levels(cavity))]
    holes += [
        skin.hole(f"chamber {number}", outline, chamber_levels(cavity))
        for number, outline in enumerate(cavity.section.chambers, start=1)
    ]
    raised = []
    for glyph in marks:
        body = skin.wall(f"mark {glyph.words}", glyph.outline, ((-mark_depth, 0.0), (0.0, 0.0)))
        eyes = [
            skin.hole(f"eye of mark {glyph.words}", eye, ((-mark_depth, 0.0), (0.0, 0.0)))
            for eye in glyph.eyes
        ]
        skin.face(-mark_depth, False, (body, "low"), [(eye, "low") for eye in eyes])
        for eye in eyes:
            skin.face(0.0, False, (eye, "high"))
        raised.append((body, "high"))
    skin.face(0.0, False, (outer, "low"), [*((hole, "low") for hole in holes), *raised])
    skin.face(top, True, (outer, "high"), [(hole, "high") for hole in holes])
    return skin.part(cavity.colour)


def greatest_lever(outline: Outline) -> float:
    """Greatest size of p x n round the outline (mm): times the twist per mm, the lean of a twisted wall."""
    greatest = 0.0
    for edge in outline.edges:
        if isinstance(edge, Line):
            step = np.array(edge.end) - np.array(edge.start)
            along = step / np.hypot(*step)
            greatest = max(greatest, *(abs(float(np.dot(p, along))) for p in (edge.start, edge.end)))
        else:
            greatest = max(greatest, _arc_lever(edge))
    return greatest


def _arc_lever(arc: Arc) -> float:
    """|centre x n| where n sweeps over the arc: greatest at an end, or where n is square to the centre."""
    away, towards = float(np.hypot(*arc.centre)), float(np.arctan2(arc.centre[1], arc.centre[0]))
    sense = 1.0 if arc.sweep > 0 else -1.0
    angles = [arc.angle, arc.angle + arc.sweep]
    for square in (towards + pi / 2, towards - pi / 2):
        if (sense * (square - arc.angle)) % tau <= abs(arc.sweep):
            angles.append(square)
    return max(away * abs(float(np.sin(angle - towards))) for angle in angles)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Room:
    """What a draft has to leave: rubber in the part, and metal between the pockets of both plates."""

    profile: Profile
    section: Section
    scale: float
    fits: Fits

    @property
    def length(self) -> float:
        return self.profile.body.free_length

    def core_fault(self, draft: float, nominal_end: NominalEnd) -> str:
        """What a draft of the chambers does not leave at either end; "" when it can be drawn."""
        offsets = draft_offsets(self.length, draft, nominal_end)
        lead_in = self.profile.bore.lead_in
        try:
            if min(self._rubber(d, 0.0) for d in offsets) <= 0:
                return "the rubber of a wall or a web"
            metal = (
                self._metal(offsets[0], -lead_in, (self.fits.foot, self.fits.foot)),
                self._metal(offsets[1], -lead_in, (self.fits.spigot, 0.0)),
            )
        except ValueError:
            return f"its corner radius of {_least_corner(self.section.chambers[0]):g} mm"
        if min(metal) < LEAST_METAL:
            return f"{LEAST_METAL:g} mm of metal beside a core's pocket in a plate"
        return ""

    def mandrel_fault(self, draft: float, core: float, nominal_end: NominalEnd) -> str:
        """What a draft of the bore does not leave beside chambers drafted by ``core``, both widest at their feet."""
        lost = self.length * tan(draft) + self.profile.bore.lead_in
        low, _ = draft_offsets(self.length, core, nominal_end)
        try:
            if self._rubber(low, -lost) <= 0:
                return "the rubber of the hub wall"
            metal = self._metal(low, -lost, (self.fits.foot, self.fits.foot))
        except ValueError:
            return "an edge of the bore or of a chamber"
        return (
            f"{LEAST_METAL:g} mm of metal between the pockets of the base plate"
            if metal < LEAST_METAL
            else ""
        )

    def _rubber(self, chamber_offset: float, bore_offset: float) -> float:
        return _least_rubber(self.profile, drafted_section(self.section, chamber_offset, bore_offset))

    def _metal(self, chamber_offset: float, bore_offset: float, fits: tuple[float, float]) -> float:
        """Least metal between two pockets of a plate, and between one and the chamfer's recess, at mould size (mm).

        ``fits``: of the chambers' pockets and of the bore's.
        """
        pockets = drafted_section(
            self.section, chamber_offset - fits[0] / self.scale, bore_offset - fits[1] / self.scale
        )
        chambers = pockets.chambers
        left = [*webs_of(chambers), *(clearance(chamber, pockets.bore) for chamber in chambers)]
        chamfer = self.profile.body.edge_chamfer
        if chamfer:
            left += [self.profile.body_radius - chamfer - greatest_radius(c) for c in chambers]
        return self.scale * min(left, default=inf)


def _refuse_draft(room: _Room, core: float, mandrel: float, nominal_end: NominalEnd) -> None:
    """A place too narrow without any draft is for the plates to name, not for a draft."""
    length, chambers = room.length, room.section.chambers
    complaints = []
    if chambers and core and room.core_fault(core, nominal_end) and not room.core_fault(0.0, nominal_end):
        works = largest_that_fits(lambda a: not room.core_fault(a, nominal_end), 0.0, core)
        fault, moved = room.core_fault(works + 1e-9, nominal_end), length * tan(core)
        way = f", or chambers.corner_radius above {moved:.2f} mm" if fault.startswith("its corner") else ""
        complaints.append(
            Complaint(
                key="--draft",
                message=f"{_deg(core)} over {length:g} mm moves the chamber's outline by {moved:.2f} mm, which does not "
                f"leave {fault}; use {_deg(works, down=True)} or less{way}",
            )
        )

    def beside(draft: float, beside: float) -> bool:
        return not room.mandrel_fault(draft, beside, nominal_end)

    if mandrel and not beside(mandrel, 0.0) and beside(0.0, 0.0):
        works = largest_that_fits(lambda a: beside(a, 0.0), 0.0, mandrel)
        fault = room.mandrel_fault(mandrel, 0.0, nominal_end)
        way = f"use {_deg(works, down=True)} or less"
        if works * 180 / pi < LEAST_DRAFT:
            way = "none does with this --foot-fit, a smaller one leaves room for it"
        complaints.append(
            Complaint(
                key="--mandrel-draft",
                message=f"{_deg(mandrel)} over {length:g} mm widens the bore by {length * tan(mandrel):.2f} mm a side, "
                f"which does not leave {fault}; {way}",
            )
        )
    if not complaints and mandrel and chambers and not beside(mandrel, core) and beside(0.0, 0.0):
        widens = (length * tan(mandrel), -draft_offsets(length, core, nominal_end)[0])
        ways = [
            text.format(_deg(works, down=True))
            for text, works in (
                ("{} or less", largest_that_fits(lambda a: beside(a, core), 0.0, mandrel)),
                ('--draft "{}" or less', largest_that_fits(lambda a: beside(mandrel, a), 0.0, core)),
            )
            if works * 180 / pi >= LEAST_DRAFT
        ]
        complaints.append(
            Complaint(
                key="--mandrel-draft",
                message=f"{_deg(mandrel)} over {length:g} mm widens the bore by {widens[0]:.2f} mm a side, beside chambers "
                f"that --draft {_deg(core)} widens by {widens[1]:.2f} mm at the same end: their pockets in the base plate "
                f"do not leave {LEAST_METAL:g} mm of metal; use {', or '.join(ways) or 'one of the two drafts only'}",
            )
        )
    if complaints:
        raise ProfileError(complaints)


def _least_rubber(profile: Profile, section: Section) -> float:
    """Least wall, web and hub wall, negative where holes overlap (``thicknesses_of`` cannot tell)."""
    chambers = section.chambers
    return min(
        [
            profile.body_radius - greatest_radius(section.bore),
            *(profile.body_radius - greatest_radius(c) for c in chambers),
            *(clearance(c, section.bore) for c in chambers),
            *webs_of(chambers),
        ]
    )


def _least_corner(outline: Outline) -> float:
    return min((e.radius for e in outline.edges if isinstance(e, Arc) and e.sweep > 0), default=0.0)


def _deg(angle: float, *, down: bool = False) -> str:
    degrees = angle * 180 / pi
    return f"{int(degrees * 100) / 100:g} deg" if down else f"{degrees:g} deg"


def recess_draft(cavity: Cavity) -> float:
    """Least draft (rad) of a chamfer cut into a plate that leaves along the axis; negative: it hooks.

    Slope of the chamfer less the lean of the twisted wall, d' - k (p x n) at its worst.
    """
    across, along = cavity.chamfer
    return atan(across / along - abs(cavity.turn_per_mm) * greatest_lever(cavity.section.outer))
