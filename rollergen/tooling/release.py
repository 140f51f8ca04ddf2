"""How the part leaves its mould: every way with its number, one choice, or a refusal with the way out.

The rule, in this order:

    no twist                                sleeve, pushed off along the axis
    twist                                   sleeve, unscrewed, up to the free length or the shear allowed
    longer                                  pieces that part along the helix, in the grooves, else on the tips
    still more twist                        (axial rings: counted, not built)
    flat flanks                             parts by planes through the axis, where few are enough
    rubber may be strained                  the same with an undercut, stripped
    else                                    refused

Numbers are exact on the arcs and lines of the section; the end chamfers, the cores and the plates are not looked at.
"""

from __future__ import annotations

from dataclasses import replace
from math import degrees

from rollergen.errors import Complaint, LimitNotMet, ProfileError
from rollergen.shape.properties import greatest_radius
from rollergen.shape.section import Section
from rollergen.tooling.release_lines import (
    Choice,
    HelicalLine,
    PartsLine,
    PullLine,
    ReleaseLimits,
    ReleaseReport,
    Way,
)
from rollergen.tooling.release_section import lean_of, ribs_of
from rollergen.tooling.release_ways import (
    Moulded,
    helical_lines,
    planes_line,
    rings_needed,
    screw_line,
    strip_line,
)
from rollergen.tooling.release_words import (
    CHAMFER_OUT,
    helical_words,
    planes_words,
    push_words,
    rings_words,
    screw_words,
    strip_words,
    ways_out,
)
from rollergen.tooling.shrinkage import Shrinkage

NO_LIMITS = ReleaseLimits()
ROUNDING = 1e-9  # deg


def release(
    section: Section,
    *,
    turn_per_mm: float,
    length: float,
    shrinkage: Shrinkage,
    limits: ReleaseLimits = NO_LIMITS,
    exit_end_chamfer: float = 0.0,
    way: Way = "auto",
) -> ReleaseReport:
    """The release of a part: its own (shrunk) section, twist per mm (rad, right-hand positive) and length (mm).

    ``exit_end_chamfer``: chamfer the SLEEVE holds at the end the part leaves by (mm), 0 where the plate holds it.
    ``way`` forces one way.

    Raises ProfileError, with the numbers, the way out and every line of the rule, where the way asked for (or, with
    "auto", every way) jams; LimitNotMet where it is a limit the user stated that stands in the way.
    """
    report = release_report(
        section, turn_per_mm=turn_per_mm, length=length, shrinkage=shrinkage, limits=limits,
        exit_end_chamfer=exit_end_chamfer, way=way,
    )  # fmt: skip
    if report.choice == "none":
        lines = "\n".join(f"  {line}" for line in report.why)
        complaint = Complaint(key="--release", message=f"{report.refusal}\n{lines}")
        raise (LimitNotMet if _open_without(limits, report, way) else ProfileError)([complaint])
    return report


def _open_without(limits: ReleaseLimits, report: ReleaseReport, way: Way) -> bool:
    """True where a way asked for would be open, were it not for a limit that was stated."""
    shear = limits.most_twist_shear is not None and report.screw.end_ok
    parts = limits.most_parts is not None and report.planes.least_parts is not None
    strain = limits.most_strip is not None and report.strip.split is not None
    stated: dict[Way, bool] = {"screw": shear, "planes": parts, "strip": strain, "helical": False}
    return any(stated.values()) if way == "auto" else stated[way]


def release_report(
    section: Section,
    *,
    turn_per_mm: float,
    length: float,
    shrinkage: Shrinkage,
    limits: ReleaseLimits = NO_LIMITS,
    exit_end_chamfer: float = 0.0,
    way: Way = "auto",
) -> ReleaseReport:
    """As ``release``, but a part that nothing releases gets ``choice`` "none" and a ``refusal``."""
    part = Moulded(
        section=section,
        length=length,
        turn_per_mm=turn_per_mm,
        ribs=ribs_of(section.outer),
        lean=lean_of(section.outer),
        reach=greatest_radius(section.outer),
    )
    screw = screw_line(part, shrinkage, limits, exit_end_chamfer)
    helical = helical_lines(part)
    rings = rings_needed(part, helical)
    planes = planes_line(part, limits)
    strip = strip_line(planes, limits)
    found = ReleaseReport(
        twist_deg=degrees(part.twist),
        gamma_max_deg=degrees(part.lean.greatest),
        gamma_ahead_deg=degrees(part.lean.ahead),
        gamma_behind_deg=degrees(part.lean.behind),
        rib_count=part.ribs.count if part.ribs else 0,
        screw=screw,
        helical=helical,
        rings=rings,
        planes=planes,
        strip=strip,
        choice="none",
        outer_parts=0,
        on="",
        pulls=(),
        why=(
            push_words(part, screw),
            screw_words(part, screw),
            *(helical_words(part, line) for line in helical),
            rings_words(part, rings),
            planes_words(planes, part.lean.greatest, limits.most_parts),
            strip_words(part, strip),
        ),
        refusal="",
    )
    chosen = _chosen(found, part, way, limits)
    said = _said(chosen, way)
    if chosen.choice != "none":
        return replace(chosen, why=(*found.why, said))
    # what would do if the sleeve held no chamfer at the exit; where it holds none, what would do as asked
    plain = replace(found, screw=screw_line(part, shrinkage, limits, 0.0))
    wayout = _way_out(plain, part, way, limits)
    if not screw.end_ok:
        wayout = f"{CHAMFER_OUT}; and then {wayout}" if wayout else CHAMFER_OUT
    return replace(chosen, refusal=f"{said}; way out: {wayout}" if wayout else said)


def _way_out(found: ReleaseReport, part: Moulded, way: Way, limits: ReleaseLimits) -> str:
    """What releases the part beside or instead of the way asked for; empty where that way does."""
    if _chosen(found, part, way, limits).choice != "none":
        return ""
    wayout, open_way = ways_out(part, found, way), _chosen(found, part, "auto", limits)
    if open_way.choice != "none":
        out = f"leave --release out, for then it is {_what(open_way)}"
        return f"{out}; or {wayout}" if wayout else out
    # the way asked for never will
    return wayout or f"leave --release out, and {ways_out(part, found, 'auto')}"


def best_helical(report: ReleaseReport) -> HelicalLine | None:
    """Pieces that are built: all alike, in the grooves where they come free, else on the tips; fewest pieces.

    Grooves first, since a parting there keeps the flash off the tips that work.
    """
    fitting = [line for line in report.helical if line.helical_ok and line.like and line.piece_count > 1]
    for on in ("grooves", "tips"):
        rows = [line for line in fitting if line.on == on and (line.one_at_a_time or line.together)]
        if rows:
            return min(rows, key=lambda line: line.piece_count)
    return None


def _chosen(report: ReleaseReport, part: Moulded, way: Way, limits: ReleaseLimits) -> ReleaseReport:
    pieces = best_helical(report)
    planes, strip = report.planes, report.strip
    # who asks for planes and states no number gets as many as it takes
    few = planes.planes_ok or (
        way == "planes" and limits.most_parts is None and planes.least_parts is not None
    )
    sleeve: Choice = "push" if part.twist == 0 else "screw"
    works: list[tuple[Choice, bool, int, str]] = [
        (sleeve, report.screw.screw_ok, 1, ""),
        ("helical", pieces is not None, pieces.piece_count if pieces else 0, pieces.on if pieces else ""),
        ("planes", few, planes.least_parts or 0, ""),
        ("strip", strip.strip_ok, strip.split.parts if strip.split else 0, ""),
    ]
    for choice, works_so, parts, on in works:
        asked = way == "auto" or choice == way or (choice == "push" and way == "screw")
        if asked and works_so:
            chosen = replace(report, choice=choice, outer_parts=parts, on=on)
            return replace(chosen, pulls=_pulls(chosen, part))
    return report


def helical_taken(report: ReleaseReport) -> HelicalLine | None:
    """The line of the helical pieces chosen; None for another way."""
    if report.choice != "helical":
        return None
    return next(
        x for x in report.helical if x.on == report.on and x.piece_count == report.outer_parts and x.like
    )


def split_taken(report: ReleaseReport) -> PartsLine | None:
    """The line of the planes chosen, stripped or not; None for another way and for an undivided sleeve."""
    if report.choice == "planes":
        return next(x for x in report.planes.depth_by_parts if x.parts == report.outer_parts)
    if report.choice == "strip" and report.strip.split is not None and report.strip.split.parts > 1:
        return report.strip.split
    return None


def _pulls(report: ReleaseReport, part: Moulded) -> tuple[PullLine, ...]:
    """Where each outer piece goes: the middle of what frees it, off its own middle where the flanks are unlike."""
    share = 360 / report.outer_parts
    helical, split = helical_taken(report), split_taken(report)
    if helical is not None and helical.pull_deg is not None:
        middle = helical.parting_deg + share / 2 + degrees(part.turn_per_mm * part.length) / 2
        off = helical.pull_deg - middle
    elif split is not None:
        middle, off = (split.first_plane_deg or 0.0) + share / 2, split.pull_skew_deg
    else:
        return ()
    off = 0.0 if abs(off) < ROUNDING else off
    return tuple(
        PullLine(piece=number + 1, direction_deg=(middle + off + number * share) % 360, off_middle_deg=off)
        for number in range(report.outer_parts)
    )


def _said(report: ReleaseReport, way: Way) -> str:
    forced = "" if way == "auto" else f" (--release {way})"
    if report.choice == "none":
        return "nothing releases this part" if way == "auto" else _forced_no(report, way)
    return f"chosen{forced}: {_what(report)}"


def _what(report: ReleaseReport) -> str:
    parts = f"{report.outer_parts} parts by planes through the axis"
    where = "in the grooves, off the tips that work" if report.on == "grooves" else "on the rib tips"
    return {
        "push": "one sleeve, pushed off along the axis",
        "screw": f"one sleeve, unscrewed with the {report.screw.screw_hand} hand of the ribs",
        "helical": f"{report.outer_parts} helical pieces parted {where}",
        "planes": parts,
        "strip": "an undivided sleeve, stripped along the axis"
        if report.outer_parts == 1
        else f"{parts}, stripped",
    }[report.choice]


def _forced_no(report: ReleaseReport, way: Way) -> str:
    start = {"screw": "screw:", "helical": "helical", "planes": "planes", "strip": "strip:"}[way]
    if way == "screw" and report.twist_deg == 0:
        start = "push:"
    none = "no ribs to part on" if report.rib_count == 0 else "one rib, and two or more are needed to part on"
    reason = next((line for line in report.why if line.startswith(start)), none)
    return f"{way} does not release this part: {reason.removeprefix(f'{start} ')}"
