"""The joint between two printed pieces: a step round the bore that sits in a recess and cannot turn.

Round a square, hexagon or keyed bore the step is the bore's own outline moved outwards.  Round a round bore that
would turn, so a rounded polygon is sought that fits between bore and chambers.  One corner of it is cut flat, so that
the pieces go together in one turn only, the one in which the ribs run on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from math import acos, ceil, cos, degrees, inf, pi, radians, sin

import numpy as np

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.bore import rounded_polygon
from rollergen.shape.distance import signed_distance
from rollergen.shape.offset import inward
from rollergen.shape.outline import Arc, Outline, is_circle, turned
from rollergen.shape.part_holes import backwards, clearance
from rollergen.shape.properties import greatest_radius, least_distance
from rollergen.shape.section import Section
from rollergen.shape.way_out import largest_that_fits
from rollergen.spec.amounts import at_least, at_most, mm
from rollergen.tooling.print_key import SURE, corner_cut, depth_of, key_depth, needed_depth, sides_of

USUAL_RIM = 3.0  # mm of rubber that makes the step where the hub wall has room for it
LINES = 2  # printed lines at least, in the step and round the recess; three design guides
CORNER = 1.0  # mm, least corner radius of a polygon round a round bore
POLYGONS = (4, 5, 6, 8)
MOST_PLAY = 5.0  # deg: a step that can turn further does not clock
FINEST = 0.05  # mm, least clearance worth asking of a printer (common practice, no source)
FLAT = ", one corner cut flat"
PLAYS = (1.0, 2.0, 3.5, MOST_PLAY)  # deg, asked of a polygon one after the other


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """The step (mm): ``rim`` round the bore, None for 3 mm or half the room; clearances ``around`` and ``above``."""

    rim: float | None = None
    height: float = 5.0
    around: float = 0.15
    above: float = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """Step and recess as outlines; what is left (mm), and how far a centred step can turn (deg).

    ``rim``: thinnest rubber of the step; ``flat``: how deep one corner is cut flat (mm, 0 for none); ``ways``: turns in
    which the pieces go together; ``one_way_rim``: the rim that would leave room for a flat, None where there is none.
    """

    step: Outline
    recess: Outline
    rim: float
    left: float
    ledge: float
    play_deg: float
    form: str
    flat: float
    ways: int
    one_way_rim: float | None


def seat_of(section: Section, joint: Joint, *, body_radius: float, line: float) -> Seat:
    """The joint of a section, checked: enough rubber inside and outside, and no free turning.

    Raises ProfileError with the number that works.
    """
    try:
        return _seat_of(section, joint, body_radius, line)
    except ProfileError as refused:
        if joint.rim is not None and _fits(section, replace(joint, rim=None), body_radius, line):
            raise  # the rim is what does not fit
        works = _most_around(section, joint, body_radius, line)
        if works is None:
            raise
        reason = refused.complaints[0].message
        raise wrong(
            "--joint-around", f"{joint.around:g} mm is too much, {works:g} mm works: {reason}"
        ) from None


def _most_around(section: Section, joint: Joint, body_radius: float, line: float) -> float | None:
    """The largest clearance less than the joint's with which it fits, in hundredths (mm); None below ``FINEST``."""
    low, high = round(FINEST * 100), ceil(joint.around * 100)
    if low >= high or not _fits(section, replace(joint, around=FINEST), body_radius, line):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        fits = _fits(section, replace(joint, around=middle / 100), body_radius, line)
        low, high = (middle, high) if fits else (low, middle)
    return low / 100


def _fits(section: Section, joint: Joint, body_radius: float, line: float) -> bool:
    try:
        _seat_of(section, joint, body_radius, line)
    except ProfileError:
        return False
    return True


def _seat_of(section: Section, joint: Joint, body_radius: float, line: float) -> Seat:
    if is_circle(section.bore):
        return _round_seat(section, joint, body_radius, line)
    least = LINES * line

    @cache
    def left(rim: float) -> float:
        try:
            return _left(section, inward(section.bore, -rim - joint.around), body_radius)
        except ValueError:
            return -inf

    def most() -> float:
        return largest_that_fits(lambda rim: left(rim) >= least, 0.0, body_radius)

    rim = USUAL_RIM if joint.rim is None else joint.rim
    one_way = _one_way_rim(section.bore, joint.around, least)
    if rim < least or left(rim) < (least if joint.rim else max(least, rim)):
        rim = _other_rim(joint, most(), least, line, left(0.0), one_way)
    whole = inward(section.bore, -rim)
    step, depth = whole, 0.0
    if sides_of(whole):
        depth = depth_of(whole, section.bore, around=joint.around, least=least)
        step = corner_cut(whole, depth) if depth else whole
    else:
        _check_key(section.bore, joint.around)
    wider = one_way if sides_of(whole) and not depth and rim < one_way <= most() else None
    form = "the bore's outline, moved outwards" + (FLAT if depth else "")
    return _seat(section, whole, step, depth, joint, body_radius, form, wider)


def _one_way_rim(bore: Outline, around: float, least: float) -> float:
    """The thinnest rim that leaves ``least`` of rubber behind a flat deep enough (mm); 0 for a bore with a key."""
    sides = sides_of(bore)
    if not sides:
        return 0.0
    rubber = least + needed_depth(sides, around)
    # a sharp corner is moved outwards along its middle: farther than the sides are
    return rubber if any(isinstance(edge, Arc) for edge in bore.edges) else rubber * cos(pi / sides)


def _check_key(bore: Outline, around: float) -> None:
    """A key that stands out too little lets the step in beside its slot."""
    deep, aside = key_depth(bore)
    if deep < (1 + aside) * around + SURE:
        raise wrong(
            "--joint-around",
            f"{around:g} mm: the key stands out {deep:.2f} mm, too little to find its slot with so much room;"
            f" {at_most((deep - SURE) / (1 + aside))} at most",
        )


def _other_rim(joint: Joint, most: float, least: float, line: float, hub: float, one_way: float) -> float:
    """Half the room where there is less than usual; refuses a rim asked for that does not fit.

    ``most``: thickest rim that leaves ``least`` round its recess; ``hub``: rubber round the bore less the clearance;
    ``one_way``: the rim a corner cut flat needs, taken where there is room.
    """
    if most < least:
        raise wrong(
            "--joint-rim",
            f"{mm(hub + joint.around)} of hub wall cannot hold a joint: {LINES} lines of {line:g} mm in the step, as"
            f" many round its recess and {joint.around:g} mm between take {at_least(2 * least + joint.around)}; scale"
            " up, use a finer line, or --cuts none",
        )
    if joint.rim is None:
        return min(USUAL_RIM, max((most + least) / 2, least, one_way), most)
    raise wrong(
        "--joint-rim",
        f"{joint.rim:g} mm: {at_least(least)} ({LINES} lines) to {at_most(most)} fits, so that {LINES} lines of rubber"
        " stay round the recess",
    )


def _round_seat(section: Section, joint: Joint, body_radius: float, line: float) -> Seat:
    """A polygon with as much rubber inside as outside; the most of it that still clocks well."""
    r, least = greatest_radius(section.bore), LINES * line
    free = _free_radius(section, body_radius) - joint.around
    if joint.rim is not None and joint.rim < least:
        raise wrong("--joint-rim", f"{joint.rim:g} mm: {at_least(least)} ({LINES} lines) at least")

    def polygon(rim: float, most_play: float) -> Polygon | None:
        return polygon_round(r, rim, free - (least if joint.rim else rim), joint.around, most_play)

    def flat(one: Polygon) -> float:
        return depth_of(one.outline, section.bore, around=joint.around, least=least)

    rims = (joint.rim,) if joint.rim else (*np.arange(USUAL_RIM, least, -0.1).tolist(), least)
    tried = [one for play in PLAYS for rim in rims if (one := polygon(rim, play)) is not None]
    if not tried:
        rim = joint.rim or least
        less = largest_that_fits(
            lambda less: polygon_round(r, rim, 2 * free - less - least, joint.around, MOST_PLAY) is not None,
            0.0, free,
        )  # fmt: skip
        raise wrong(
            "--joint-rim",
            f"a round bore does not clock the pieces, and {mm(free + joint.around - r)} of rubber round it is too little"
            f" for a polygon that does: {at_least(2 * free - less + joint.around - r)} are needed; scale up, use a finer"
            " line, or --cuts none",
        )
    found = next((one for one in tried if flat(one)), tried[0])
    depth = flat(found)
    step = corner_cut(found.outline, depth) if depth else found.outline
    form = f"a rounded polygon of {found.sides} sides, where a round step would turn" + (
        FLAT if depth else ""
    )
    return _seat(section, found.outline, step, depth, joint, body_radius, form, None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Polygon:
    """A rounded polygon about the axis: half its width across flats (mm), and how far it turns in its recess (deg)."""

    sides: int
    flat: float
    outline: Outline
    play_deg: float


def polygon_round(r: float, rim: float, reach: float, around: float, most_play: float) -> Polygon | None:
    """The rounded polygon of fewest sides round a circle of radius ``r`` that turns ``most_play`` deg at most, or None.

    ``rim``: least rubber over the circle; ``reach``: greatest radius the corners may have; ``around``: clearance of
    the recess (mm).
    """
    for sides in POLYGONS:
        c = cos(pi / sides)
        flat = r + rim
        corner = max(CORNER, (flat - reach * c) / (1 - c))
        if corner >= flat or (flat - corner) / c + corner > reach + 1e-9:
            continue
        play = polygon_play(sides, (flat - corner) / c, around)
        if play <= most_play:
            tip = flat / c
            corners = [(tip * cos(a), tip * sin(a)) for a in ((2 * n - 1) * pi / sides for n in range(sides))]
            return Polygon(
                sides=sides, flat=flat, outline=rounded_polygon(corners, corner, "step"), play_deg=play
            )
    return None


def polygon_play(sides: int, corner_at: float, around: float) -> float:
    """How far a rounded polygon turns until its corners touch a recess ``around`` mm wider (deg).

    ``corner_at``: distance of the corner arcs' centres from the axis (mm).  A centre turned by f lies corner_at
    cos(pi/n - f) from the axis along the flat's normal, and may lie ``around`` mm farther than at first; infinite
    where it never does.
    """
    share = cos(pi / sides) + around / corner_at
    return inf if share >= 1 else degrees(pi / sides - acos(share))


def _seat(
    section: Section, whole: Outline, step: Outline, depth: float, joint: Joint, body_radius: float, form: str,
    one_way_rim: float | None,
) -> Seat:  # fmt: skip
    """``whole``: the step before one of its corners was cut."""
    recess = inward(step, -joint.around)
    play = play_of(step, recess)
    if play > MOST_PLAY:
        turns = f"{play:.1f} deg" if play < inf else "freely"
        raise wrong(
            "--joint-around",
            f"a step with {joint.around:g} mm round it turns {turns} in its recess, {MOST_PLAY:g} deg at most clocks;"
            " --cuts none prints it in one piece",
        )
    return Seat(
        step=step,
        recess=recess,
        rim=least_distance(step, section.bore),
        left=_left(section, recess, body_radius),
        ledge=_ledge(section.bore, recess),
        play_deg=play,
        form=form,
        flat=depth,
        ways=1 if depth else max(sides_of(whole), 1),
        one_way_rim=one_way_rim,
    )


def play_of(step: Outline, recess: Outline) -> float:
    """How far a centred step turns until it touches its recess (deg), outlines turned; inf beyond 10 deg."""
    around = Outline(backwards(recess.edges))

    def clear(angle: float) -> bool:
        return clearance(around, turned(step, angle)) >= 0

    angle = 0.0
    while clear(angle):
        angle += radians(0.25)
        if angle > radians(2 * MOST_PLAY):
            return inf
    return degrees(largest_that_fits(clear, max(angle - radians(0.25), 0.0), angle))


def _left(section: Section, recess: Outline, body_radius: float) -> float:
    """Rubber between a recess and the chambers, or the body where there are none (mm); negative for an overlap."""
    to_body = body_radius - greatest_radius(recess)
    return min([to_body, *(clearance(recess, chamber) for chamber in section.chambers)])


def _free_radius(section: Section, body_radius: float) -> float:
    axis = np.zeros((1, 2))
    return min([body_radius, *(float(signed_distance(c, axis)[0]) for c in section.chambers)])


def _ledge(bore: Outline, recess: Outline) -> float:
    """Widest place of the flat roof over the recess (mm): the farthest corner of the recess from the bore."""
    shares = np.linspace(0.0, 1.0, 9)
    points = [edge.at(float(share)) for edge in recess.edges for share in shares]
    return float(np.max(signed_distance(bore, np.array(points))))


def wrong(key: str, message: str) -> ProfileError:
    return ProfileError([Complaint(key=key, message=message)])
