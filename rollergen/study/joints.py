"""Where two segments meet: how far the ribs miss each other, and how to put the segments on so they do not.

The ribs repeat every 360/count, and a bore goes onto its shaft only in steps (square 90 deg).  So the rib of
the next segment can be set against the last one only in steps of 360/lcm(count, steps), and half of that
is the most a joint need ever be off.  A segment of free length L turns its ribs by 360 L/pitch; the squeeze
shortens it and leaves that angle as it is.

Turned end for end (about the x axis, which every bore maps onto itself) a helix keeps its hand; what was
rib 1's place at the far end comes near, mirrored.  Chambers and unlike flanks do not keep: the caller says.

Counter-clockwise seen from +z is positive.  Inside this file angles are in whole turns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import ceil, floor, gcd, inf, isfinite, lcm, pi, remainder

from rollergen.spec.trace import Figure

STEPS: dict[str, int | None] = {"square": 4, "hexagon": 6, "keyed": 1, "round": None}  # per turn; None: any
PER_MM = 1000  # lengths are read to the micrometre where a common measure of several is asked for
SAME = 1e-12  # turns; angles nearer than this are the same
States = tuple[bool, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """How one segment goes onto the shaft.

    ``index``: bore steps counter-clockwise from the first flat (0 for a round bore).  ``turn_deg``: the same
    as an angle.  ``turned``: end for end.
    """

    index: int
    turn_deg: float
    turned: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """One joint: unsigned angle between the ribs that meet, and the step it makes at the rib tip (mm)."""

    mismatch_deg: float
    step_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ExactLength:
    """A free length (mm) and the nearest that run through at this pitch; ``below`` None: there is none."""

    free_length_mm: float
    below_mm: float | None
    above_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JointsReport:
    """Every joint of a stack with each segment in its best seat.

    ``as_threaded_deg``: the worst joint were all put on alike, without looking.  ``bound_deg``: no joint need
    be worse.  ``exact_pitch_*_mm``: nearest helix pitches for which every joint of these lengths, in any
    order and none turned end for end, runs through; ``inf`` is straight, and all are None without ribs and
    for a round bore, where any pitch does.
    """

    joints: tuple[Joint, ...]
    seats: tuple[Seat, ...]
    worst_mismatch_deg: float
    worst_step_mm: float
    as_threaded_deg: float
    bound_deg: float
    exact_pitch_below_mm: float | None
    exact_pitch_above_mm: float | None
    exact_lengths: tuple[ExactLength, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ribs:
    """What repeats, in turns: ``twists`` one per segment, signed; ``start`` of rib 1; steps of the bore."""

    count: int
    steps: int | None
    start: float
    twists: tuple[float, ...]

    def near(self, segment: int, turned: bool) -> float:
        """Where a rib is at the segment's near end, bore at index 0."""
        return -self.start - self.twists[segment] if turned else self.start

    def far(self, segment: int, turned: bool) -> float:
        """Where a rib is at the segment's far end, bore at index 0."""
        return -self.start if turned else self.start + self.twists[segment]

    def miss(self, joint: int, turned: bool, next_turned: bool) -> float:
        """Least mismatch over all indices (turns, unsigned) of the joint after segment ``joint``."""
        if self.count == 0 or self.steps is None:
            return 0.0
        apart = self.far(joint, turned) - self.near(joint + 1, next_turned)
        return abs(remainder(apart, 1 / lcm(self.count, self.steps)))


def joints(
    free_lengths: Sequence[float],
    *,
    count: int,
    helix_pitch: float,
    bore_section: str,
    tip_radius: float,
    hand: int = 1,
    start: float = 0.0,
    may_turn: bool = True,
) -> JointsReport:
    """Best seat of each segment and what is left at the joints; segments in order along +z, mm and rad.

    ``count`` 0: no ribs.  ``helix_pitch``: ``inf`` for straight ribs.  ``bore_section``: a key of ``STEPS``.
    ``hand``: +1 right, -1 left.  ``start``: rib 1's centre at z = 0 (rad).  ``may_turn``: segments may be
    turned end for end; say False for unlike flanks or chambers that are not their own mirror image.

    The worst joint is made as small as any choice of seats allows (exact); among such choices the sum of
    the mismatches, then the segments turned, then the indices are least.

    Raises ValueError for no segments, a length, pitch or tip radius not above 0, a negative count, an
    unknown bore section or hand.
    """
    _check(free_lengths, count, helix_pitch, bore_section, tip_radius, hand)
    steps = STEPS[bore_section]
    ribs = _Ribs(
        count=count,
        steps=steps,
        start=start / (2 * pi),
        twists=tuple(hand * length / helix_pitch for length in free_lengths),
    )
    turned = _best_turning(ribs, may_turn)
    seats, misses = _seated(ribs, turned)
    worst = max(misses, default=0.0)
    below, above = _exact_pitches(ribs, free_lengths, helix_pitch)
    return JointsReport(
        joints=tuple(Joint(mismatch_deg=miss * 360, step_mm=miss * 2 * pi * tip_radius) for miss in misses),
        seats=seats,
        worst_mismatch_deg=worst * 360,
        worst_step_mm=worst * 2 * pi * tip_radius,
        as_threaded_deg=_as_threaded(ribs) * 360,
        bound_deg=mismatch_bound_deg(count, bore_section),
        exact_pitch_below_mm=below,
        exact_pitch_above_mm=above,
        exact_lengths=_exact_lengths(ribs, free_lengths, helix_pitch),
    )


def mismatch_bound_deg(count: int, bore_section: str) -> float:
    """The most a joint need be off: half of 360/lcm(count, steps); 0 without ribs and for a round bore."""
    steps = STEPS[bore_section]
    return 0.0 if count == 0 or steps is None else 180 / lcm(count, steps)


def _best_turning(ribs: _Ribs, may_turn: bool) -> States:
    """Which segments go end for end.  Two passes: the least worst joint, then the least sum within it."""
    choices = (False, True) if may_turn else (False,)
    number = len(ribs.twists)
    worst = dict.fromkeys(choices, 0.0)
    for joint in range(number - 1):
        worst = {b: min(max(worst[a], ribs.miss(joint, a, b)) for a in choices) for b in choices}
    limit = min(worst.values()) + SAME

    best: dict[bool, tuple[float, int, States]] = {a: (0.0, int(a), (a,)) for a in choices}
    for joint in range(number - 1):
        longer: dict[bool, tuple[float, int, States]] = {}
        for a, b in product(choices, choices):
            miss = ribs.miss(joint, a, b)
            if a not in best or miss > limit:
                continue
            total, flips, states = best[a]
            # rounded, so that equal sums tie and the fewer turned win
            option = (round(total + miss, 12), flips + b, (*states, b))
            longer[b] = min(longer.get(b, option), option)
        best = longer
    return min(best.values())[2]


def _seated(ribs: _Ribs, turned: States) -> tuple[tuple[Seat, ...], list[float]]:
    """Seats from the near end on, the first at index 0, and the mismatch (turns) at every joint."""
    turn, seats, misses = 0.0, [Seat(index=0, turn_deg=0.0, turned=turned[0])], []
    for joint, after in enumerate(turned[1:]):
        apart = turn + ribs.far(joint, turned[joint]) - ribs.near(joint + 1, after)
        index, turn, miss = _best_index(ribs, apart)
        seats.append(Seat(index=index, turn_deg=turn * 360, turned=after))
        misses.append(miss)
    return tuple(seats), misses


def _best_index(ribs: _Ribs, apart: float) -> tuple[int, float, float]:
    """(index, turn, mismatch) that best closes an angle of ``apart`` turns; the lowest of equal ones."""
    if ribs.count == 0:
        return 0, 0.0, 0.0
    period = 1 / ribs.count
    if ribs.steps is None:
        turn = apart % period
        return 0, 0.0 if period - turn < SAME else turn, 0.0
    misses = [abs(remainder(apart - index / ribs.steps, period)) for index in range(ribs.steps)]
    least = min(misses) + SAME
    index = next(i for i, miss in enumerate(misses) if miss <= least)
    return index, index / ribs.steps, misses[index]


def _as_threaded(ribs: _Ribs) -> float:
    if ribs.count == 0:
        return 0.0
    return max((abs(remainder(twist, 1 / ribs.count)) for twist in ribs.twists[:-1]), default=0.0)


def _exact_pitches(ribs: _Ribs, lengths: Sequence[float], pitch: float) -> tuple[float | None, float | None]:
    """Nearest pitches at which every length turns by whole steps of 1/lcm: N G / k, G their common measure."""
    if ribs.count == 0 or ribs.steps is None:
        return None, None
    measure = gcd(*(round(length * PER_MM) for length in lengths)) / PER_MM
    least_turn = lcm(ribs.count, ribs.steps) * measure
    k = least_turn / pitch
    if abs(k - round(k)) < 1e-9:  # already exact
        return pitch, pitch
    return least_turn / ceil(k), least_turn / floor(k) if k > 1 else inf


def _exact_lengths(ribs: _Ribs, lengths: Sequence[float], pitch: float) -> tuple[ExactLength, ...]:
    """One entry per length that occurs, longest first: whole multiples of pitch / lcm(count, steps)."""
    if ribs.count == 0 or ribs.steps is None or not isfinite(pitch):
        return ()
    step = pitch / lcm(ribs.count, ribs.steps)
    return tuple(_exact_length(length, step) for length in sorted(set(lengths), reverse=True))


def _exact_length(length: float, step: float) -> ExactLength:
    k = length / step
    if abs(k - round(k)) < 1e-9:
        return ExactLength(free_length_mm=length, below_mm=length, above_mm=length)
    below = floor(k) * step if k > 1 else None
    return ExactLength(free_length_mm=length, below_mm=below, above_mm=ceil(k) * step)


def _check(
    lengths: Sequence[float], count: int, pitch: float, bore: str, tip_radius: float, hand: int
) -> None:
    if not lengths:
        raise ValueError("a stack has at least one segment; none given")
    for length in lengths:
        if not PER_MM * length >= 1 or length == inf:
            raise ValueError(f"free length {length:g} mm must be at least 0.001 mm")
    if count < 0 or not pitch > 0 or not 0 < tip_radius < inf:
        raise ValueError(
            f"count {count} must not be below 0, helix pitch {pitch:g} mm and tip radius {tip_radius:g} mm"
            " must be above 0 (write a left hand as hand = -1)"
        )
    if bore not in STEPS:
        raise ValueError(f'bore section "{bore}" is none of {", ".join(STEPS)}')
    if hand not in (1, -1):
        raise ValueError(f"hand {hand} must be 1 (right) or -1 (left)")


_STEP = "360/lcm(count, steps), steps a turn: square 4, hexagon 6, keyed 1"
_GEOMETRY = "plane geometry of the helix, worked out for this project"
_LIMITS = "nominal; play of the bore on its shaft and the shaft's own twist come on top"
FIGURES = (
    Figure(
        key="mismatch_deg",
        words="angle between the ribs that meet at a joint, unsigned",
        formula=f"rest of the angle between them after whole steps of {_STEP}",
        source=_GEOMETRY,
        limits=f"twist 360 L / pitch by free length, kept by the squeeze; {_LIMITS}",
        unit="deg",
    ),
    Figure(
        key="step_mm",
        words="step at the rib tip where two segments meet, along the arc",
        formula="tip radius x mismatch in rad",
        source="definition",
        limits=f"end chamfers hide part of it; {_LIMITS}",
        unit="mm",
    ),
    Figure(
        key="index",
        words="bore steps a segment is turned by on the shaft, counter-clockwise from the first one's flat",
        formula="least worst joint over all indices and, where allowed, end for end; then least sum",
        source="exact search, worked out for this project",
        limits="round bore: 0, see turn_deg",
        unit="1",
    ),
    Figure(
        key="turn_deg",
        words="angle a segment is turned by on the shaft",
        formula="index x 360 / steps; round bore: as the ribs ask",
        source=_GEOMETRY,
        limits="seen from +z, counter-clockwise",
        unit="deg",
    ),
    Figure(
        key="turned",
        words="whether a segment goes on end for end",
        formula="turned about x: a rib at angle t, height z comes to -t, L - z",
        source=_GEOMETRY,
        limits="a helix keeps its hand; unlike flanks and chambers do not keep their place",
        unit="-",
    ),
    Figure(
        key="worst_mismatch_deg",
        words="largest angle between ribs at any joint",
        formula="max of mismatch_deg",
        source="definition",
        limits=_LIMITS,
        unit="deg",
    ),
    Figure(
        key="worst_step_mm",
        words="largest step at the rib tip at any joint",
        formula="max of step_mm",
        source="definition",
        limits=_LIMITS,
        unit="mm",
    ),
    Figure(
        key="as_threaded_deg",
        words="worst joint with all segments put on alike, without looking",
        formula="rest of 360 L / pitch after whole 360 / count",
        source=_GEOMETRY,
        limits=_LIMITS,
        unit="deg",
    ),
    Figure(
        key="bound_deg",
        words="no joint need be off by more than this",
        formula=f"half of {_STEP}; round bore or no ribs: 0",
        source=_GEOMETRY,
        limits=_LIMITS,
        unit="deg",
    ),
    *(
        Figure(
            key=f"exact_pitch_{side}_mm",
            words=f"nearest helix pitch {side} this one at which all joints of these lengths run through",
            formula="lcm(count, steps) x greatest common measure of the free lengths / k, k whole",
            source=_GEOMETRY,
            limits="lengths to 0.001 mm; any order, none end for end; inf is straight",
            unit="mm",
        )
        for side in ("below", "above")
    ),
    Figure(
        key="exact_lengths",
        words="for each free length the nearest ones at which joints run through at this pitch",
        formula="k x pitch / lcm(count, steps), k whole",
        source=_GEOMETRY,
        limits="any order, none end for end",
        unit="mm",
    ),
)
