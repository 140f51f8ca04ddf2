"""The rule of the release in sentences, each with its number, and the ways out where nothing works."""

from __future__ import annotations

from math import ceil, degrees, floor, inf, pi

from rollergen.tooling.release_lines import (
    HelicalLine,
    PlanesLine,
    ReleaseReport,
    ScrewLine,
    StripLine,
    Way,
)
from rollergen.tooling.release_ways import Moulded

ON = {"tips": "on the rib tips", "grooves": "in the grooves"}
CHAMFER_OUT = (
    "leave --base-chamfer out, so that the base plate holds the exit end's chamfer where it can, else none"
)
HELD = {"tips": "groove", "grooves": "rib"}


def push_words(part: Moulded, screw: ScrewLine) -> str:
    if part.twist > 0:
        return f"push: no, the ribs twist by {degrees(part.twist):.2f} deg from end to end"
    what = "straight ribs" if part.ribs else "no ribs"
    if not screw.end_ok:
        return f"push: {what}, but {_obstacle(screw)}"
    return f"push: {what}, a sleeve is pushed off along the axis"


def screw_words(part: Moulded, screw: ScrewLine) -> str:
    if part.twist == 0:
        return "screw: no twist, nothing to screw"
    free, length = screw.screw_free_length_mm, part.length
    torque = "no modulus given, so no torque"
    if screw.torque_bound_n_m is not None:
        origin = f", {screw.torque_modulus_from}" if screw.torque_modulus_from else ""
        torque = f"at most {screw.torque_bound_n_m:.2f} N m beside friction (E {screw.torque_modulus_mpa:.3g} MPa{origin})"
    if not screw.end_ok:
        return f"screw: no, {_obstacle(screw)}"
    if free is None:
        return "screw: yes, without axial shrinkage the part keeps the cavity's pitch at any length"
    play = f"mismatch {screw.twist_mismatch_deg:.3f} deg, free play {screw.free_play_deg or 0.0:.3f} deg"
    if length <= free:
        wrong = screw.wrong_hand_travel_mm or 0.0
        other = f"turned the other way it jams after {wrong:.2f} mm"
        return f"screw: yes, {length:g} mm is within the free length of {free:.1f} mm ({play}); {other}"
    jams = (
        f"the shrunk part jams beyond {free:.1f} mm and is {length:g} mm long ({play})"
        if free > 0
        else f"without shrinkage across the part has no play in its cavity and jams at any length ({play})"
    )
    needs = f"{jams} unless it twists: shear {screw.twist_shear:.2%}, {torque}"
    if screw.most_twist_shear is None:
        return f"screw: not chosen, {needs}; no limit of shear stated (2 % is a suggestion, no source)"
    if screw.screw_ok:
        return f"screw: yes, {needs}; {screw.most_twist_shear:.2%} allowed"
    return f"screw: no, {needs}; only {screw.most_twist_shear:.2%} allowed"


def _obstacle(screw: ScrewLine) -> str:
    return (
        f"the sleeve holds a chamfer of {screw.exit_chamfer_mm:g} mm at the end the part leaves by, an undercut "
        "as deep"
    )


def helical_words(part: Moulded, line: HelicalLine) -> str:
    held = f"{line.per_piece} {HELD[line.on]}{'s' if line.per_piece > 1 else ''} a piece"
    head = f"helical pieces {ON[line.on]}, {held}"
    if line.limit_deg < 0:
        return f"{head}: never (limit {line.limit_deg:.1f} deg)"
    count = (
        f"{line.piece_count} pieces" if line.like else f"{line.piece_count} pieces, not all alike: not built"
    )
    numbers = f"twist {degrees(part.twist):.2f} deg, limit {line.limit_deg:.2f} deg; {count}"
    if not line.helical_ok:
        return f"{head}: no, {numbers}"
    alone = "one at a time" if line.one_at_a_time else _all_at_once(line)
    return f"{head}: yes, {numbers}; they leave {alone}"


def _all_at_once(line: HelicalLine) -> str:
    how = "all at once" if line.together else "neither one at a time nor all at once"
    return f"{how} (one at a time up to a twist of {line.one_at_a_time_limit_deg:.1f} deg)"


def rings_words(part: Moulded, rings: int | None) -> str:
    if part.ribs is None or part.twist == 0:
        return f"axial rings: not needed, {'no twist' if part.ribs else 'no ribs'}"
    if rings is None:
        return "axial rings: no number of rings makes helical pieces leave"
    if rings <= 1:
        return "axial rings: not needed, the pieces leave over the whole length"
    return f"axial rings: {rings} would do, each of helical pieces; not built"


def planes_words(planes: PlanesLine, gamma_max: float, stated: int | None) -> str:
    lean = f"flanks lean up to {degrees(gamma_max):.2f} deg off the radius"
    if planes.least_parts is None or planes.least_parts_bound is None:
        return f"planes through the axis: never, {lean}"
    depth = ", ".join(f"{p.parts}: {_depth(p.undercut_mm)}" for p in planes.depth_by_parts if p.parts > 1)
    most = (
        f"{planes.most_parts} allowed" if stated else f"more than {planes.most_parts} is unhandy (no source)"
    )
    return (
        f"planes through the axis: {'yes' if planes.planes_ok else 'no'}, {planes.least_parts} parts at least "
        f"({planes.least_parts_bound:.2f} at any twist), {lean}; {most}; undercut by parts: {depth}"
    )


def strip_words(part: Moulded, strip: StripLine) -> str:
    if strip.split is None:
        return "strip: no split to strip from"
    split = strip.split
    what = "an undivided sleeve" if split.parts == 1 else f"{split.parts} parts"
    numbers = (
        f"{what}, undercut {_depth(split.undercut_mm)}, strain {split.strip_strain:.2%} over the tip diameter"
        + (f", {split.undercut_to_rib_base:.0%} of a rib's base" if part.ribs else "")
    )
    if strip.most_strip is None:
        return f"strip: not chosen, {numbers}; no limit of strain stated"
    return f"strip: {'yes' if strip.strip_ok else 'no'}, {numbers}; {strip.most_strip:.2%} allowed"


def ways_out(part: Moulded, found: ReleaseReport, way: Way) -> str:
    """What would release the part the way asked for, with "auto" any way, each with the number that works.

    The chamfer a sleeve may hold at the exit is not looked at.
    """
    asked = {
        "screw": _screw_out(part, found.screw),
        "helical": _helical_out(part, found.helical),
        "planes": _planes_out(found.planes),
        "strip": _strip_out(found.strip),
    }
    ways = [out for one, outs in asked.items() if way in ("auto", one) for out in outs]
    return "; or ".join(dict.fromkeys(ways))


def _screw_out(part: Moulded, screw: ScrewLine) -> list[str]:
    free = screw.screw_free_length_mm
    if free is None or part.length <= free:
        return []
    shear = f"screw it out with a shear of {_up(screw.twist_shear * 100, 2):g} % allowed (--most-twist-shear)"
    if _down(free) <= 0:  # without shrinkage across there is no play, and no length or pitch helps
        return [
            shear,
            "a shrinkage across as measured, above 0 (--shrinkage), for that is what gives play",
        ]
    return [
        shear,
        f"body.free_length of {_down(free):g} mm",
        f"ribs.helix_pitch of {_up(_pitch(part) * part.length / free):g} mm",
    ]


def _helical_out(part: Moulded, lines: tuple[HelicalLine, ...]) -> list[str]:
    best = max((line.limit_deg for line in lines if line.like), default=-inf)
    twist, out = degrees(part.twist), []
    if best > 0 and twist > best:
        out.append(
            f"helical pieces from ribs.helix_pitch of {_up(_pitch(part) * twist / best):g} mm or "
            f"body.free_length of {_down(part.length * best / twist):g} mm"
        )
    if part.ribs is not None and part.ribs.count > 1 and twist > best:
        steepest = (twist - degrees(part.ribs.step)) / 2
        if twist <= 180 - degrees(part.ribs.step) and steepest < 80:
            out.append(f"flank angles of {_up(steepest, 2):g} deg on average")
    return out


def _planes_out(planes: PlanesLine) -> list[str]:
    if planes.least_parts is None or planes.planes_ok:
        return []
    return [f"{planes.least_parts} parts by planes through the axis (--most-parts {planes.least_parts})"]


def _strip_out(strip: StripLine) -> list[str]:
    if strip.split is None or strip.strip_ok:
        return []
    strain = _up(strip.split.strip_strain * 100, 2)
    return [f"a strain of {strain:g} % it may be stripped with (--most-strip)"]


def _depth(undercut: float) -> str:
    """With its unit, so that it is found and turned into inches; never as a power of ten."""
    return f"{undercut:.3g} mm" if undercut == 0 or undercut >= 1e-4 else "under 0.0001 mm"


def _pitch(part: Moulded) -> float:
    return 2 * pi / abs(part.turn_per_mm)


def _up(value: float, digits: int = 0) -> float:
    scale: float = 10.0**digits
    return ceil(value * scale - 1e-9) / scale


def _down(value: float) -> float:
    return floor(value * 10 + 1e-9) / 10
