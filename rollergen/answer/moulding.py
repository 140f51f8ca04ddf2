"""A mould for a profile: how the part is released, the bodies that follow, their numbers."""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, radians

from rollergen.answer.report import Drawn
from rollergen.errors import Complaint, ProfileError
from rollergen.shape.part_volume import volume_of
from rollergen.shape.section import part_of, thicknesses_of
from rollergen.spec.compound import compound_rows
from rollergen.tooling.cavity import Cavity, cavity_of, end_thicknesses, recess_draft
from rollergen.tooling.mould import Compound, Mould, mould_of
from rollergen.tooling.mould_cautions import cautions_of
from rollergen.tooling.mould_numbers import MouldReport, mould_report
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.pieces import Split
from rollergen.tooling.release import release
from rollergen.tooling.release_lines import ReleaseLimits, ReleaseReport, Way
from rollergen.tooling.shrinkage import Metal, Shrinkage, checked_shrinkage, on_other_metal

ANY = ReleaseLimits()


@dataclass(frozen=True, slots=True, kw_only=True)
class MouldAnswer:
    """A mould with its numbers, and the ways it could be released with theirs; ``way`` in words."""

    mould: Mould
    report: MouldReport
    release: ReleaseReport
    way: str


def shrinkage_of(drawn: Drawn, *, radial: float | None, axial: float | None, source: str | None) -> Shrinkage:
    """The shrinkage to use: what is given here, else what the profile says, else a complaint.

    A value the profile took from the compound table keeps that table's source.
    """
    compound = drawn.profile.compound
    if radial is not None:
        return checked_shrinkage(radial, axial, source or "given on the command line, no source named")
    axial = compound.axial_shrinkage if axial is None else axial
    return checked_shrinkage(compound.shrinkage, axial, source or _profile_source(drawn))


def _profile_source(drawn: Drawn) -> str:
    compound = drawn.profile.compound
    row = compound_rows().get(compound.name, {}).get("shrinkage")
    if row is not None and compound.shrinkage is not None:
        return f"compound table, {compound.name}: {row.source}"
    return f"compound.shrinkage of the profile {drawn.profile.name}"


def mould_for(
    drawn: Drawn,
    shrinkage: Shrinkage,
    tool: Tool,
    *,
    way: Way = "auto",
    measured_on: Metal | None = None,
    limits: ReleaseLimits = ANY,
) -> MouldAnswer:
    """The mould of a profile.

    ``measured_on``: metal of the tool the shrinkage was measured on; with ``tool.cure_rise`` the value is carried
    over to the metal of this one.  ``limits``: what the user allows the rubber to be strained by as it leaves.

    Raises ProfileError where the way asked for does not release the part, or a part cannot be made, with numbers.
    """
    if measured_on is not None and tool.cure_rise is not None:
        shrinkage = on_other_metal(shrinkage, measured=measured_on, used=tool.metal, rise=tool.cure_rise)
    profile = drawn.profile
    found = release(
        drawn.section,
        turn_per_mm=profile.turn_per_mm,
        length=profile.body.free_length,
        shrinkage=shrinkage,
        way=way,
        limits=limits,
    )
    cavity = cavity_of(
        profile,
        drawn.section,
        shrinkage,
        core_draft=tool.core_draft,
        mandrel_draft=tool.mandrel_draft,
        nominal_end=tool.nominal_end,
        fits=tool.fits,
    )
    _refuse_hooking(cavity)
    compound = Compound(name=profile.compound.name, density_kg_m3=profile.compound.density_kg_m3)
    made = mould_of(cavity, tool, compound, split=_way_of(found), way=found.choice)
    return MouldAnswer(
        mould=made,
        report=mould_report(
            made,
            shrinkage,
            compound,
            part_nominal_mm3=volume_of(part_of(profile, drawn.section)),
            drafts=(tool.core_draft, tool.mandrel_draft),
            cautions=_cautions(drawn, cavity, shrinkage, tool, made),
        ),
        release=found,
        way=_words(made),
    )


def _way_of(found: ReleaseReport) -> Split | None:
    """How the cavity is divided; None: an undivided sleeve."""
    if found.choice == "helical":
        line = next(
            x for x in found.helical if x.on == found.on and x.piece_count == found.outer_parts and x.like
        )
        return Split(
            pieces=line.piece_count, on=line.on, first=radians(line.parting_deg), alone=line.one_at_a_time
        )
    parted = None
    if found.choice == "planes":
        parted = next(x for x in found.planes.depth_by_parts if x.parts == found.outer_parts)
    if found.choice == "strip":
        parted = found.strip.split
    if parted is None or parted.parts == 1:
        return None
    first = None if parted.first_plane_deg is None else radians(parted.first_plane_deg)
    return Split(pieces=parted.parts, on="planes", first=first)


def _words(made: Mould) -> str:
    """The way in words for a heading."""
    if made.split is None:
        sleeve = {"push": "drawn off along the axis", "strip": "pulled off, the ribs giving way"}
        return f"sleeve, {sleeve.get(made.way, 'screwed off')}"
    where = {"tips": "helices on the rib tips", "grooves": "helices in the grooves", "planes": "axial planes"}
    stripped = ", the ribs giving way" if made.way == "strip" else ""
    return f"{made.split.pieces} pieces, parted along {where[made.split.on]}{stripped}"


def _refuse_hooking(cavity: Cavity) -> None:
    """A chamfer in a plate that leaves along the axis must not hook behind the twisted wall."""
    if cavity.chamfer[1] == 0 or recess_draft(cavity) > 0:
        return
    raise ProfileError(
        [
            Complaint(
                key="body.edge_chamfer",
                message="a plate that holds the 45 deg edge chamfer hooks on the twisted flank by "
                f"{-degrees(recess_draft(cavity)):.1f} deg when it is lifted along the axis; "
                "set body.edge_chamfer to 0 mm and break the edge afterwards, or make ribs.helix_pitch longer",
            )
        ]
    )


def _cautions(drawn: Drawn, cavity: Cavity, shrinkage: Shrinkage, tool: Tool, made: Mould) -> tuple[str, ...]:
    profile, ends = drawn.profile, end_thicknesses(cavity, shrinkage)
    own = thicknesses_of(drawn.section, profile.body_radius)
    least = {
        what.replace("_", " "): (
            min((t for t in (getattr(end, what) for end in ends) if t is not None), default=None),
            getattr(own, what),
        )
        for what in ("wall", "web", "hub_wall", *(() if drawn.section.chambers else ("solid",)))
    }
    return cautions_of(
        marked=bool(made.marks),
        mixed=tool.metal.name != tool.core_metal.name,
        draft_deg=degrees(tool.core_draft),
        has_chambers=bool(cavity.section.chambers),
        least=least,
        loose_cores=None in made.anchors.cores,
        loose_mandrel=made.anchors.mandrel is None,
        foam=bool(profile.chambers and profile.chambers.foamed),
    )
