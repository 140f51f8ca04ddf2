"""What a bed is put together from: segments, shafts, smooth rollers, compound; counted, weighed, priced."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import pi

from rollergen.answer.bed_part_rows import (
    CompoundRow,
    FilledRoller,
    PartsList,
    SegmentRow,
    ShaftRow,
    SmoothRow,
)
from rollergen.answer.report import draw_profile
from rollergen.errors import Complaint, ProfileError
from rollergen.shape.bar import bar_area
from rollergen.spec.amounts import mm
from rollergen.spec.bed import Bed, BedRoller
from rollergen.spec.profile import Bore, Profile
from rollergen.study.inertia import pieces_for
from rollergen.study.mass import MM3_PER_M3, MassReport, weigh
from rollergen.study.shaft import Steel

LENGTH_SLACK = 1e-6  # mm: pieces that add up to the width but for rounding fit

COLOUR_REMARK = (
    "colour is a free choice; blue pieces are the easiest for optical sorters to find in the crop"
    " (common practice, no source)"
)
SHAFT_REMARK = "shaft lengths are the clear length between the end plates and what was asked for at the ends"
COST_REMARK = "cost is the compound only: no casting, waste, foam, steel or work"
SMOOTH_REMARK = "smooth rollers without a wall thickness are counted, not weighed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """So many segments of one length on a roller (mm); ``free_length`` as cast, ``fitted_length`` on the shaft."""

    free_length: float
    fitted_length: float
    count: int


def parts_of(
    bed: Bed,
    stacks: Mapping[str, Sequence[Piece]] | None = None,
    *,
    shaft_ends: float = 0.0,
    smooth_wall: float | None = None,
) -> PartsList:
    """Count and weigh what the bed is made of.

    ``stacks`` gives the pieces of a roller by the roller's name; a roller it leaves out gets as many
    whole segments of its own fitted length as the bed's width takes.  ``shaft_ends`` (mm) is added to
    every shaft beyond the width; ``smooth_wall`` (mm) weighs smooth rollers as steel tubes.  Raises
    ProfileError, gathered and with numbers, for a stack of no roller, a stack that does not fit, a wall
    thicker than a smooth roller, and a profile that has no section.
    """
    stacks = stacks or {}
    complaints = [*_stack_complaints(bed, stacks), *_extra_complaints(bed, shaft_ends, smooth_wall)]
    if complaints:
        raise ProfileError(complaints)
    counts: dict[tuple[Profile, float, float], int] = {}
    filled = []
    for roller in bed.rollers:
        if roller.segment is None:
            continue
        pieces = stacks.get(roller.name, (_whole_segments(bed, roller.segment),))
        for piece in pieces:
            key = (
                roller.segment.model_copy(update={"mates": (), "note": ""}),
                piece.free_length,
                piece.fitted_length,
            )
            counts[key] = counts.get(key, 0) + piece.count
        filled.append(_filled(bed, roller.name, roller.segment.name, pieces))
    weighed = [(key, count, _weight(*key)) for key, count in counts.items() if count]
    segments = tuple(_segment_row(*key, count, weight) for key, count, weight in weighed)
    shafts = _shaft_rows(bed, shaft_ends)
    smooth = _smooth_rows(bed, smooth_wall)
    masses = [*(row.kg for row in segments), *(row.kg for row in shafts), *(row.kg or 0.0 for row in smooth)]
    return PartsList(
        bed=bed.name,
        width_mm=bed.width,
        segments=segments,
        shafts=shafts,
        smooth=smooth,
        compounds=_compound_rows((key[0], count, weight) for key, count, weight in weighed),
        filled=tuple(filled),
        total_kg=sum(masses),
        remarks=_remarks(segments, shafts, smooth),
    )


def _whole_segments(bed: Bed, segment: Profile) -> Piece:
    free, fitted = segment.body.free_length, segment.body.fitted_length
    return Piece(free_length=free, fitted_length=fitted, count=pieces_for(bed.width, fitted)[1])


def _filled(bed: Bed, name: str, profile: str, pieces: Iterable[Piece]) -> FilledRoller:
    pieces = tuple(pieces)
    length = sum(piece.fitted_length * piece.count for piece in pieces)
    return FilledRoller(
        name=name,
        profile=profile,
        pieces=sum(piece.count for piece in pieces),
        filled_mm=length,
        left_mm=bed.width - length,
    )


def _weight(profile: Profile, free: float, fitted: float) -> MassReport:
    body = profile.body.model_copy(update={"free_length": free, "fitted_length": fitted})
    drawn = draw_profile(profile.model_copy(update={"body": body}))
    return weigh(drawn.profile, drawn.section, drawn.part)


def _segment_row(profile: Profile, free: float, fitted: float, count: int, weight: MassReport) -> SegmentRow:
    return SegmentRow(
        profile=profile.name,
        compound=profile.compound.name,
        colour=profile.compound.colour,
        free_length_mm=free,
        fitted_length_mm=fitted,
        count=count,
        each_kg=weight.total_kg,
        kg=count * weight.total_kg,
        each_volume_mm3=weight.volume_mm3,
        volume_mm3=count * weight.volume_mm3,
        each_cost=weight.cost,
        cost=None if weight.cost is None else count * weight.cost,
        currency=weight.currency,
    )


def _shaft_rows(bed: Bed, ends: float) -> tuple[ShaftRow, ...]:
    counts: dict[tuple[str, float, float], int] = {}
    for roller in bed.rollers:
        if roller.segment is not None:
            key = _bar(roller.segment.bore)
            counts[key] = counts.get(key, 0) + 1
    length = bed.width + ends
    rows = []
    for (section, across, corner), count in counts.items():
        each = bar_area(section, across, corner) * length * Steel().density_kg_m3 / MM3_PER_M3
        rows.append(
            ShaftRow(
                section=section,
                across_mm=across,
                corner_radius_mm=corner,
                length_mm=length,
                count=count,
                each_kg=each,
                kg=count * each,
            )
        )
    return tuple(rows)


def _bar(bore: Bore) -> tuple[str, float, float]:
    cornered = bore.section in ("square", "hexagon")
    return bore.section, bore.across, bore.shaft_corner_radius if cornered else 0.0


def _smooth_rows(bed: Bed, wall: float | None) -> tuple[SmoothRow, ...]:
    counts: dict[float, int] = {}
    for roller in bed.rollers:
        if roller.segment is None:
            counts[2 * roller.body_radius] = counts.get(2 * roller.body_radius, 0) + 1
    rows = []
    for diameter, count in counts.items():
        each = None
        if wall is not None:
            each = pi * wall * (diameter - wall) * bed.width * Steel().density_kg_m3 / MM3_PER_M3
        rows.append(
            SmoothRow(
                diameter_mm=diameter,
                length_mm=bed.width,
                count=count,
                wall_mm=wall,
                each_kg=each,
                kg=None if each is None else count * each,
            )
        )
    return tuple(rows)


def _compound_rows(parts: Iterable[tuple[Profile, int, MassReport]]) -> tuple[CompoundRow, ...]:
    """Rubber by compound; the same name with another density or price is another compound."""
    gathered: dict[tuple[str, float, str | None, float | None], list[float]] = {}
    for profile, count, weight in parts:
        price = profile.compound.price
        key = (
            profile.compound.name,
            weight.density_kg_m3,
            weight.currency,
            price.amount if price is not None else None,
        )
        volume, kg, cost = gathered.setdefault(key, [0.0, 0.0, 0.0])
        gathered[key] = [
            volume + count * weight.volume_mm3,
            kg + count * weight.mass_kg,
            cost + count * (weight.cost or 0.0),
        ]
    return tuple(
        CompoundRow(
            compound=name,
            density_kg_m3=density,
            volume_mm3=volume,
            kg=kg,
            cost=None if price is None else cost,
            currency=currency,
        )
        for (name, density, currency, price), (volume, kg, cost) in gathered.items()
    )


def _remarks(
    segments: Sequence[SegmentRow], shafts: Sequence[ShaftRow], smooth: Sequence[SmoothRow]
) -> tuple[str, ...]:
    said = []
    if shafts:
        said.append(SHAFT_REMARK)
    if any(row.kg is None for row in smooth):
        said.append(SMOOTH_REMARK)
    if any(row.cost is not None for row in segments):
        said.append(COST_REMARK)
    unpriced = sorted({row.compound for row in segments if row.cost is None})
    if unpriced:
        said.append(
            f'no price, so no cost, for {", ".join(unpriced)}; write e.g. compound.price = "6.4 EUR/kg"'
        )
    if segments:
        said.append(COLOUR_REMARK)
    return tuple(said)


def _stack_complaints(bed: Bed, stacks: Mapping[str, Sequence[Piece]]) -> list[Complaint]:
    found = []
    by_name = {roller.name: (number, roller) for number, roller in enumerate(bed.rollers)}
    for name, pieces in stacks.items():
        if name not in by_name:
            known = ", ".join(roller.name for roller in bed.rollers if roller.segment is not None) or "none"
            found.append(
                Complaint(key="stacks", message=f"no roller {name} in {bed.name}; with segments: {known}")
            )
            continue
        number, roller = by_name[name]
        trouble = _stack_trouble(bed, roller, pieces)
        if trouble:
            found.append(Complaint(key=f"rollers[{number}]", message=trouble))
    return found


def _stack_trouble(bed: Bed, roller: BedRoller, pieces: Sequence[Piece]) -> str:
    if roller.segment is None:
        return f"{roller.name} is a smooth roller of one piece, no segments go on it; leave its stack out"
    for piece in pieces:
        if piece.count < 0 or not piece.free_length >= piece.fitted_length > 0:
            return (
                f"{piece.count} pieces {mm(piece.free_length)} free and {mm(piece.fitted_length)} fitted are no"
                " stack; a piece is at least as long free as fitted, both above 0"
            )
    length = sum(piece.fitted_length * piece.count for piece in pieces)
    if length > bed.width + LENGTH_SLACK:
        return (
            f"the stack of {roller.name} takes {mm(length)} of shaft, the bed's width is {mm(bed.width)};"
            f" take out {mm(length - bed.width)}"
        )
    return ""


def _extra_complaints(bed: Bed, ends: float, wall: float | None) -> list[Complaint]:
    found = []
    if not 0.0 <= ends < float("inf"):
        found.append(Complaint(key="shaft_ends", message=f"{mm(ends)} must be 0 or more"))
    if wall is None:
        return found
    for number, roller in enumerate(bed.rollers):
        if roller.segment is None and not 0.0 < wall <= roller.body_radius:
            found.append(
                Complaint(
                    key=f"rollers[{number}].diameter",
                    message=f"a wall of {mm(wall)} does not go into {roller.name} of radius"
                    f" {mm(roller.body_radius)}; use above 0, at most the radius (a solid bar)",
                )
            )
    return found
