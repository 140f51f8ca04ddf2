"""A mould for a profile: how the part is released, the bodies that follow, their numbers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import degrees, radians
from typing import Any

from rollergen.answer.report import Drawn
from rollergen.shape.part_volume import volume_of
from rollergen.shape.section import part_of, thicknesses_of
from rollergen.spec import profile as spec
from rollergen.spec.compound import compound_rows
from rollergen.spec.hardness import LOG_RANGE, OUTSIDE_FACTOR, REFUSED_FROM, modulus_range
from rollergen.tooling.cavity import Cavity, cavity_of, end_thicknesses
from rollergen.tooling.chamfers import Asked, ChamferLine, chamfer_cautions, with_chamfers
from rollergen.tooling.mould import Compound, Mould, mould_of
from rollergen.tooling.mould_cautions import cautions_of
from rollergen.tooling.mould_demould import holders
from rollergen.tooling.mould_numbers import MouldReport, mould_report
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.pieces import Split
from rollergen.tooling.release import best_helical, helical_taken, release, split_taken
from rollergen.tooling.release_lines import ReleaseLimits, ReleaseReport, Way
from rollergen.tooling.shrinkage import (
    Metal,
    Shrinkage,
    checked_shrinkage,
    no_shrinkage_words,
    on_other_metal,
)

ANY = ReleaseLimits()
AXIAL = "--axial-shrinkage"


@dataclass(frozen=True, slots=True, kw_only=True)
class MouldAnswer:
    """A mould with its numbers, and the ways it could be released with theirs; ``way`` in words, and what forms the
    chamfer of each end."""

    mould: Mould
    report: MouldReport
    release: ReleaseReport
    chamfers: tuple[ChamferLine, ...]
    way: str


def shrinkage_of(drawn: Drawn, *, radial: float | None, axial: float | None, source: str | None) -> Shrinkage:
    """The shrinkage to use: what is given here, else what the profile says, else a complaint.

    A value the profile took from the compound table keeps that table's source.
    """
    compound = drawn.profile.compound
    if radial is not None:
        words = source if source is not None else "given on the command line, no source named"
        return checked_shrinkage(radial, axial, words, keys=("--shrinkage", AXIAL))
    keys = ("compound.shrinkage", "compound.axial_shrinkage" if axial is None else AXIAL)
    axial = compound.axial_shrinkage if axial is None else axial
    words = source if source is not None else _profile_source(drawn)
    return checked_shrinkage(compound.shrinkage, axial, words, keys=keys)


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
    chamfer_in: tuple[Asked, Asked] = ("auto", "auto"),
) -> MouldAnswer:
    """The mould of a profile.

    ``measured_on``: metal of the tool the shrinkage was measured on; with ``tool.cure_rise`` the value is carried
    over to the metal of this one.  ``limits``: what the user allows the rubber to be strained by as it leaves.
    ``chamfer_in``: what is to form the chamfer at z = 0 and at the other end.

    Raises ProfileError where the way asked for does not release the part, or a part cannot be made, with numbers.
    """
    if measured_on is not None and tool.cure_rise is not None:
        shrinkage = on_other_metal(shrinkage, measured=measured_on, used=tool.metal, rise=tool.cure_rise)
    profile = drawn.profile
    if limits.modulus is None:
        limits = replace(limits, **_modulus_of(profile.compound))
    found = release(
        drawn.section,
        turn_per_mm=profile.turn_per_mm,
        length=profile.body.free_length,
        shrinkage=shrinkage,
        way=way,
        limits=limits,
        exit_end_chamfer=profile.body.edge_chamfer if chamfer_in[0] == "sleeve" else 0.0,
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
    split = _way_of(found)
    cavity, chamfers = with_chamfers(cavity, asked=chamfer_in, sleeve=split is None)
    compound = Compound(name=profile.compound.name, density_kg_m3=profile.compound.density_kg_m3)
    made = mould_of(cavity, tool, compound, split=split, way=_leaves(found))
    return MouldAnswer(
        mould=made,
        report=mould_report(
            made,
            shrinkage,
            compound,
            part_nominal_mm3=volume_of(part_of(profile, drawn.section)),
            drafts=(tool.core_draft, tool.mandrel_draft),
            cautions=(
                *_turning_caution(made, found),
                *chamfer_cautions(chamfers),
                *_cautions(drawn, cavity, shrinkage, tool, made),
            ),
        ),
        release=found,
        chamfers=chamfers,
        way=_words(made),
    )


def _modulus_of(compound: spec.Compound) -> dict[str, Any]:
    """Young's modulus for the torque that unscrews (MPa), and where it is from; nothing where there is none.

    From a hardness the upper end of the published fits, for the torque is told as a bound: an estimate.
    """
    if compound.stress_strain is not None:
        from rollergen.rubber.law_fit import fitted_law

        return {
            "modulus": fitted_law(compound.stress_strain).modulus,
            "modulus_from": "compound.stress_strain",
        }
    if compound.modulus is not None:
        return {"modulus": compound.modulus, "modulus_from": "compound.modulus"}
    if compound.hardness is None or not LOG_RANGE[0] <= compound.hardness < REFUSED_FROM:
        return {}
    found = modulus_range(compound.hardness)
    fits = "Gent 1958 and Qi, Joyce, Boyce 2003"
    if compound.hardness > LOG_RANGE[1]:
        fits = f"Gent 1958 divided and multiplied by {OUTSIDE_FACTOR:g}, outside the fits"
    return {
        "modulus": found.high,
        "modulus_from": f"an estimate, the upper end of what {compound.hardness:g} ShoreA gives: {found.low:.3g} to "
        f"{found.high:.3g} MPa by {fits} (from memory)",
    }


def _way_of(found: ReleaseReport) -> Split | None:
    """How the cavity is divided and where its pieces go; None: an undivided sleeve."""
    pull = radians(found.pulls[0].direction_deg) if found.pulls else None
    line = helical_taken(found)
    if line is not None:
        return Split(
            pieces=line.piece_count,
            on=line.on,
            first=radians(line.parting_deg),
            pull=pull,
            alone=line.one_at_a_time,
            alone_limit=radians(line.one_at_a_time_limit_deg),
        )
    parted = split_taken(found)
    if parted is None:
        return None
    first = None if parted.first_plane_deg is None else radians(parted.first_plane_deg)
    return Split(pieces=parted.parts, on="planes", first=first, pull=pull)


def _leaves(found: ReleaseReport) -> str:
    """``Mould.way``: where nothing hooks, what was chosen to be stripped is pushed off, or its parts just move out."""
    split = found.strip.split
    if found.choice != "strip" or split is None or split.undercut_mm > 0:
        return found.choice
    return "push" if split.parts == 1 else "planes"


def _words(made: Mould) -> str:
    """The way in words for a heading."""
    if made.split is None:
        sleeve = {"push": "drawn off along the axis", "strip": "pulled off, the ribs giving way"}
        return f"sleeve, {sleeve.get(made.way, 'screwed off')}"
    where = {"tips": "helices on the rib tips", "grooves": "helices in the grooves", "planes": "axial planes"}
    stripped = ", the ribs giving way" if made.way == "strip" else ""
    return f"{made.split.pieces} pieces, parted along {where[made.split.on]}{stripped}"


def _turning_caution(made: Mould, found: ReleaseReport) -> tuple[str, ...]:
    """Where a sleeve is screwed off and the part may turn with it: what else would release the part."""
    if found.choice != "screw" or holders(made):
        return ()
    ways = ["a bore that is not round (bore.section)", "chambers"]
    pieces, least = best_helical(found), found.planes.least_parts
    if pieces is not None:
        ways.insert(0, f"--release helical, {pieces.piece_count} pieces")
    if least is not None:
        ways.insert(1 if pieces else 0, f"--release planes, {least} parts")
    return (
        "nothing in the mould holds the part against turning, for its bore is round and it has no chambers: it may turn "
        "with the sleeve and stay in it; hold it by other means while the sleeve is screwed off, or use "
        f"{', or '.join(ways)}",
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
    special = cautions_of(
        marked=bool(made.marks),
        mixed=tool.metal.name != tool.core_metal.name,
        draft_deg=degrees(tool.core_draft),
        has_chambers=bool(cavity.section.chambers),
        least=least,
        loose_cores=None in made.anchors.cores,
        loose_mandrel=made.anchors.mandrel is None,
        foam=bool(profile.chambers and profile.chambers.foamed),
    )
    return (*no_shrinkage_words(shrinkage), *special)
