"""The bed's ribbed rollers filled with segments: what the parts list counts, and where the helices carry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rollergen.answer.bed_parts import Piece
from rollergen.answer.report import Drawn, draw_profile
from rollergen.answer.roller import RollerAnswer, roller
from rollergen.spec.bed import Bed
from rollergen.spec.profile import Profile
from rollergen.study.drive import DriftReport, Turning, drift


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledBed:
    """``answers``: one per kind of ribbed roller.  ``stacks``: pieces by roller name, only where filled.

    ``drift`` None: no ribbed roller turns, or a speed is not given.
    """

    answers: tuple[RollerAnswer, ...]
    stacks: dict[str, tuple[Piece, ...]]
    drift: DriftReport | None


def filled_bed(bed: Bed, shorter: Sequence[Drawn] = ()) -> FilledBed:
    """Fill every ribbed roller over the bed's width with its segment and those ``shorter`` that belong to it."""
    found: dict[str, RollerAnswer] = {}
    stacks: dict[str, tuple[Piece, ...]] = {}
    for one in bed.rollers:
        if one.segment is None:
            continue
        name = one.segment.name
        if name not in found:
            found[name] = roller([draw_profile(one.segment), *_belonging(one.segment, shorter)], bed.width)
        if found[name].filled:
            stacks[one.name] = _pieces(found[name], [one.segment, *(d.profile for d in shorter)])
    return FilledBed(answers=tuple(found.values()), stacks=stacks, drift=_drift(bed))


def _belonging(segment: Profile, shorter: Sequence[Drawn]) -> list[Drawn]:
    """The shorter sections with this segment's ribs, bore, chambers and body."""

    def same(other: Profile) -> bool:
        tables = ("ribs", "bore", "chambers")
        return other.name != segment.name and other.body.diameter == segment.body.diameter and all(
            getattr(other, table) == getattr(segment, table) for table in tables
        )  # fmt: skip

    return [d for d in shorter if same(d.profile)]


def _pieces(answer: RollerAnswer, profiles: Sequence[Profile]) -> tuple[Piece, ...]:
    free = {p.name: p.body.free_length for p in profiles}
    return tuple(
        Piece(
            free_length=free[name],
            fitted_length=free[name] * (1 - answer.squeeze),
            count=answer.names.count(name),
        )
        for name in dict.fromkeys(answer.names)
    )


def _drift(bed: Bed) -> DriftReport | None:
    turning = []
    for one in bed.rollers:
        ribs = one.segment.ribs if one.segment is not None else None
        if ribs is None:
            continue
        if one.rotation_speed is None:
            return None
        straight = ribs.helix_pitch == float("inf")
        turning.append(
            Turning(
                rotation_speed=one.rotation_speed, lead=None if straight else ribs.helix_pitch, hand=ribs.hand
            )
        )
    return drift(turning) if turning else None
