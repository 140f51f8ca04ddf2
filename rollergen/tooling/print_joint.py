"""The joint between two printed pieces: a step round the bore that sits in a recess and cannot turn.

Round a square, hexagon or keyed bore the step is the bore's own outline moved outwards.  Round a round bore that
would turn, so a rounded polygon is sought that fits between bore and chambers.  One corner of it is cut flat, so that
the pieces go together in one turn only, the one in which the ribs run on.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from math import acos, ceil, cos, degrees, inf, pi, radians, sin

import numpy as np

from rollergen.errors import ProfileError
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
from rollergen.tooling.print_refusal import Refused, nearest_that_fits, refused, wrong

USUAL_RIM = 3.0  # mm of rubber that makes the step where the hub wall has room for it
LINES = 2  # printed lines at least, in the step and round the recess; three design guides
CORNER = 1.0  # mm, least corner radius of a polygon round a round bore
POLYGONS = (4, 5, 6, 8)
MOST_PLAY = 5.0  # deg: a step that can turn further does not clock
FINEST = 0.05  # mm, least clearance worth asking of a printer (common practice, no source)
LONGEST_LEDGE = 5.0  # mm, a level roof held at one side: half of what bridges (common practice, no source)
SAME = 1e-9  # mm
FLAT = ", one corner cut flat"
PLAYS = (1.0, 2.0, 3.5, MOST_PLAY)  # deg, asked of a polygon one after the other


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """The step (mm): ``rim`` round the bore, None for 3 mm or half the room; clearances ``around`` and ``above``.

    ``mouth``: the relief of the recess's mouth on the plate, which no edge of it may vanish in.
    """

    rim: float | None = None
    height: float = 5.0
    around: float = 0.15
    above: float = 0.2
    mouth: float = 0.0


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
    """The joint of a section, checked: enough rubber inside and outside, no roof too wide, and no free turning.

    Raises ProfileError with the number that works, Refused where no joint fits this section and line.
    """
    try:
        return _seat_of(section, joint, body_radius, line)
    except ProfileError as no:
        if joint.rim is not None and seat_fits(section, replace(joint, rim=None), body_radius, line):
            raise  # the rim is what does not fit
        works = _most_around(section, joint, body_radius, line)
        if works is None:
            raise
        reason = no.complaints[0].message
        raise refused(
            "--joint-around",
            f"{joint.around:g} mm is too much, {works:g} mm works: {reason}",
            past={"around": works},
        ) from None


def _most_around(section: Section, joint: Joint, body_radius: float, line: float) -> float | None:
    """The largest clearance less than the joint's with which it fits, in hundredths (mm); None below ``FINEST``."""
    low, high = round(FINEST * 100), ceil(joint.around * 100)
    if low >= high or not seat_fits(section, replace(joint, around=FINEST), body_radius, line):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        fits = seat_fits(section, replace(joint, around=middle / 100), body_radius, line)
        low, high = (middle, high) if fits else (low, middle)
    return low / 100


def seat_fits(section: Section, joint: Joint, body_radius: float, line: float) -> bool:
    """Whether ``seat_of`` finds a joint as asked."""
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
    def room(rim: float) -> tuple[float, float]:
        """Ledge over the recess, and rubber left round it where that ledge prints, else nothing."""
        try:
            recess = inward(section.bore, -rim - joint.around)
            inward(recess, -joint.mouth)
        except ValueError:
            return (inf, -inf)
        ledge = _ledge(section.bore, recess)
        return (ledge, _left(section, recess, body_radius) if ledge <= LONGEST_LEDGE + SAME else -inf)

    def fits(rim: float, left: float = least) -> bool:
        return rim >= least - SAME and room(rim)[1] >= left

    def most() -> float:
        """Thickest rim that fits, in thousandths (mm); the least one does."""
        highest, lowest = ceil(LONGEST_LEDGE * 1000), ceil((least - SAME) * 1000)
        found = nearest_that_fits(lambda n: fits(n / 1000), highest, lowest) if highest > lowest else None
        return least if found is None else found / 1000

    rim = USUAL_RIM if joint.rim is None else joint.rim
    one_way = _one_way_rim(section.bore, joint.around, least)
    if not fits(rim, least if joint.rim else max(least, rim)):
        if not fits(least):
            raise _no_rim(joint, line, _left(section, section.bore, body_radius), room(least))
        rim = _other_rim(joint, most(), least, one_way)
    whole = inward(section.bore, -rim)
    step, depth = whole, 0.0
    if sides_of(whole):
        depth = depth_of(whole, section.bore, around=joint.around, least=least)
        step = corner_cut(whole, depth) if depth else whole
    else:
        _check_key(section.bore, joint.around)
    wider = one_way if sides_of(whole) and not depth and rim < one_way and fits(one_way) else None
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


def _no_rim(joint: Joint, line: float, hub: float, room: tuple[float, float]) -> Refused:
    """Not even the thinnest step fits; ``hub``: rubber round the bore, ``room``: its ledge and what it leaves."""
    least = LINES * line
    if room[0] == inf:
        return refused(
            "--joint-rim",
            f"{at_least(least, itself=True)} of rubber in a step ({LINES} lines) and {joint.around:g} mm round it leave"
            " nothing of the key's sides, it would not clock",
        )
    if room[0] > LONGEST_LEDGE + SAME:
        return refused(
            "--joint-rim",
            f"a step of {LINES} lines of {line:g} mm: the roof of its recess would hang over by {room[0]:.2f} mm,"
            f" {LONGEST_LEDGE:g} mm at most print unsupported",
        )
    return refused(
        "--joint-rim",
        f"{mm(hub)} of hub wall cannot hold a joint: {LINES} lines of {line:g} mm in the step, as many round its recess"
        f" and {joint.around:g} mm between take {at_least(2 * least + joint.around, itself=True)}",
    )


def _other_rim(joint: Joint, most: float, least: float, one_way: float) -> float:
    """Half the room where there is less than usual; refuses a rim asked for that does not fit.

    ``most``: thickest rim that leaves ``least`` round its recess and no ledge too wide; ``one_way``: the rim a corner
    cut flat needs, taken where there is room.
    """
    if joint.rim is None:
        return min(USUAL_RIM, max((most + least) / 2, least, one_way), most)
    raise wrong(
        "--joint-rim",
        f"{joint.rim:g} mm: {at_least(least, itself=True)} ({LINES} lines) to {at_most(most)} fits, so that {LINES} lines"
        f" of rubber stay round the recess, all its edges stay, and its roof hangs over by {LONGEST_LEDGE:g} mm at most",
    )


def _round_seat(section: Section, joint: Joint, body_radius: float, line: float) -> Seat:
    """A polygon with as much rubber inside as outside; the most of it that still clocks well."""
    r, least = greatest_radius(section.bore), LINES * line
    free = _free_radius(section, body_radius) - joint.around
    if joint.rim is not None and joint.rim < least:
        raise wrong(
            "--joint-rim", f"{joint.rim:g} mm: {at_least(least, itself=True)} ({LINES} lines) at least"
        )

    under_roof = r + LONGEST_LEDGE - joint.around  # how far corners reach under the widest ledge that prints

    def polygon(rim: float, most_play: float) -> Polygon | None:
        reach = min(free - (least if joint.rim else rim), under_roof)
        return polygon_round(r, rim, reach, joint.around, most_play)

    def flat(one: Polygon) -> float:
        return depth_of(one.outline, section.bore, around=joint.around, least=least)

    rims = (joint.rim,) if joint.rim else (*np.arange(USUAL_RIM, least, -0.1).tolist(), least)
    tried = [one for play in PLAYS for rim in rims if (one := polygon(rim, play)) is not None]
    if not tried:
        rim = joint.rim or least
        if polygon_round(r, rim, free - least, joint.around, MOST_PLAY) is not None:
            raise _wide_polygon(joint, least, polygon)
        less = largest_that_fits(
            lambda less: polygon_round(r, rim, 2 * free - less - least, joint.around, MOST_PLAY) is not None,
            0.0, free,
        )  # fmt: skip
        raise refused(
            "--joint-rim",
            f"a round bore does not clock the pieces, and {mm(free + joint.around - r)} of rubber round it is too little"
            f" for a polygon that does: {at_least(2 * free - less + joint.around - r)} are needed",
        )
    found = next((one for one in tried if flat(one)), tried[0])
    depth = flat(found)
    step = corner_cut(found.outline, depth) if depth else found.outline
    form = f"a rounded polygon of {found.sides} sides, where a round step would turn" + (
        FLAT if depth else ""
    )
    return _seat(section, found.outline, step, depth, joint, body_radius, form, None)


def _wide_polygon(joint: Joint, least: float, polygon: Callable[[float, float], object]) -> ProfileError:
    """A round bore's step that clocks, but whose recess would have too wide a roof."""

    def fits(rim: float) -> bool:
        return polygon(rim, MOST_PLAY) is not None

    rim = joint.rim or least
    wide = (
        f"{rim:g} mm round a round bore leaves no polygon that clocks and whose recess has a roof that hangs over by"
        f" {LONGEST_LEDGE:g} mm at most"
    )
    if joint.rim is None or not fits(least):
        return refused("--joint-rim", wide)
    return wrong("--joint-rim", f"{wide}; {at_most(largest_that_fits(fits, least, rim))} works")


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
        raise refused(
            "--joint-around",
            f"a step with {joint.around:g} mm round it turns {turns} in its recess, {MOST_PLAY:g} deg at most clocks",
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
