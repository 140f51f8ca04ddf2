"""Which part of the mould forms the chamfer at each end, and where none can: that edge is broken after casting.

A chamfer is an undercut at the end the part leaves a sleeve by, so there the base plate holds it; at the end it leaves
last the sleeve may.  A plate leaves along the axis, and its recess hooks on a wall that twists more than the chamfer
slopes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import atan, ceil, degrees, pi
from typing import Literal

from rollergen.errors import Complaint, ProfileError
from rollergen.spec.trace import Figure
from rollergen.tooling.cavity import Cavity, ChamferIn, greatest_lever, recess_draft

Asked = Literal["auto", "plate", "sleeve", "none"]
ENDS = ("z = 0", "z = length")
OPTIONS = ("--base-chamfer", "--top-chamfer")
PLATES = ("base plate", "top plate")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChamferLine:
    """One end of the part: what forms its chamfer there.

    ``held_by``: "base plate", "top plate", "sleeve" or "none".  ``least_draft_deg``: of the chamfer against what holds
    it as that leaves; below 0 it would hook, and ``held_by`` is "none".  ``release_pitch_mm``: helix pitch of the part
    above which a plate releases it.
    """

    end: str
    held_by: str
    least_draft_deg: float
    release_pitch_mm: float
    words: str


def release_pitch(cavity: Cavity) -> float:
    """Pitch of the PART's helix (mm) above which a plate lifted along the axis releases the chamfer.

    Where the lean of the twisted wall, k p x n, is the chamfer's slope across/along: 2 pi lever along/across, in the
    mould; back at part size by the axial scale, which the ratio along/across tells with the radial one.
    """
    across, along = cavity.chamfer
    return 2 * pi * greatest_lever(cavity.section.outer) * along / across / cavity.axial_scale


def with_chamfers(
    cavity: Cavity, *, asked: tuple[Asked, Asked], sleeve: bool
) -> tuple[Cavity, tuple[ChamferLine, ...]]:
    """The cavity with every end's chamfer where it releases, and a line an end; no lines without a chamfer.

    ``asked``: at z = 0 and at the other end; "auto" is the base plate and, at the end the part leaves last, the sleeve
    if there is one, else the top plate; none where that hooks.

    Raises ProfileError where what is asked for would hook, or is not there.
    """
    if cavity.chamfer[1] == 0:
        return cavity, ()
    draft, pitch = degrees(recess_draft(cavity)), release_pitch(cavity)
    held: list[ChamferIn] = []
    lines, complaints = [], []
    for end in (0, 1):
        place = _place(asked[end], end, sleeve=sleeve, releases=draft > 0)
        wrong = _wrong(asked[end], end, cavity, sleeve=sleeve)
        if wrong:
            complaints.append(Complaint(key=OPTIONS[end], message=wrong))
        held.append(place)
        lines.append(
            ChamferLine(
                end=ENDS[end],
                held_by=PLATES[end] if place == "plate" else place,
                least_draft_deg=degrees(_sleeve_draft(cavity)) if place == "sleeve" else draft,
                release_pitch_mm=pitch,
                words=_words(place, asked[end], end, cavity),
            )
        )
    if complaints:
        raise ProfileError(complaints)
    return replace(cavity, chamfer_in=(held[0], held[1])), tuple(lines)


def _place(asked: Asked, end: int, *, sleeve: bool, releases: bool) -> ChamferIn:
    if asked != "auto":
        return asked
    if end == 1 and sleeve:
        return "sleeve"
    return "plate" if releases else "none"


def _sleeve_draft(cavity: Cavity) -> float:
    """Of a chamfer in what is screwed along the ribs: its slope alone, the twist does not count (rad)."""
    across, along = cavity.chamfer
    return atan(across / along)


def _wrong(asked: Asked, end: int, cavity: Cavity, *, sleeve: bool) -> str:
    """Why what is asked for cannot be, with the way out; empty where it can."""
    if asked == "sleeve" and not sleeve:
        return "there is no sleeve, the cavity is in pieces: use plate, none or auto"
    if asked == "sleeve" and end == 0:
        return exit_words(cavity.chamfer[1] / cavity.axial_scale)
    if asked == "plate" and recess_draft(cavity) <= 0:
        other = "sleeve" if end == 1 and sleeve else "none, and break the edge after casting"
        return f"{_hooks(cavity, end)}; use {other}, or {_pitch_words(cavity)}"
    return ""


def exit_words(chamfer_mm: float) -> str:
    """Why a sleeve holds no chamfer at the end the part leaves by."""
    return (
        f"the sleeve would hold a chamfer of {chamfer_mm:g} mm at the end the part leaves by, an undercut as deep: "
        "use plate, none or auto"
    )


def _hooks(cavity: Cavity, end: int) -> str:
    return (
        f"a {PLATES[end]} that holds the 45 deg edge chamfer hooks on the twisted flank by "
        f"{-degrees(recess_draft(cavity)):.1f} deg when it is lifted along the axis"
    )


def _pitch_words(cavity: Cavity) -> str:
    return f"ribs.helix_pitch of {ceil(release_pitch(cavity) + 1e-9):g} mm or more"


def _words(place: ChamferIn, asked: Asked, end: int, cavity: Cavity) -> str:
    if place == "sleeve":
        return "in the sleeve, for the part leaves it by its other end"
    if place == "plate":
        return f"in the {PLATES[end]}, which leaves along the axis with {degrees(recess_draft(cavity)):.1f} deg of draft"
    if asked == "none":
        return "not in the mould, as asked for: break the edge after casting"
    return f"not in the mould, for {_hooks(cavity, end)}: break the edge after casting, or {_pitch_words(cavity)}"


def chamfer_cautions(lines: tuple[ChamferLine, ...]) -> tuple[str, ...]:
    """A sentence for every end that leaves the mould with a sharp edge."""
    return tuple(
        f"the edge at {line.end} is cast sharp, its chamfer is {line.words}"
        for line in lines
        if line.held_by == "none"
    )


FIGURES = (
    Figure(
        key="held_by",
        words="what part of the mould forms the chamfer of an end; none: it is cast sharp",
        formula="base plate at z = 0; sleeve at the other end, else top plate; none where least_draft_deg <= 0",
        source="an undercut at the end the part leaves a sleeve by",
        limits="pieces hold no chamfer",
        unit="-",
    ),
    Figure(
        key="least_draft_deg",
        words="least draft of the chamfer against what would hold it as that leaves",
        formula="plate: atan(slope - k max(p x n)); sleeve screwed along the ribs: atan(slope)",
        source="a mould part clears where its velocity has no part into the rubber, v.N >= 0",
        limits="below 0 it hooks",
        unit="deg",
    ),
    Figure(
        key="release_pitch_mm",
        words="helix pitch of the part above which a plate releases the chamfer",
        formula="2 pi max(p x n) along / across",
        source="k max(p x n) = slope of the chamfer",
        limits="the same at any even shrinkage",
        unit="mm",
    ),
)
