"""Grip: what a ribbed roller and its smooth mate can seize.

A ball is seized when three things hold: the wedge between both contacts is no wider than friction holds
(half angle up to atan of the friction), the wedge closes as the rollers turn, and the ball can get there.
Both sides are told: ribs DESCENDING at the mate draw in; where ribs RISE only body and tip land are left.
The grip size is the largest ball that is seized.  Friction counts at both contacts alike, so the lower
of the two governs, exactly.

The mate lies on +x, so descending ribs turn clockwise and the flank behind the rib drives; turn the
outline round (``touching.mirrored``) for a segment threaded the other way.

Not in the model: ribbed mates (refused), haulm lying across (never judged), rough or soft soil, wet
films, crowding, ribs that bend.  Simulation of single discs and balls agrees within 4 % where a report
says ``trusted``; above a Froude number of 1 the model ranks, it does not predict one body.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, degrees, inf, isfinite, pi, tan

import numpy as np

from rollergen.shape.outline import Floats
from rollergen.shape.touching_hold import Least, largest_held, least_of, squeeze_before_loss
from rollergen.shape.touching_mate import Pair, States, states_of
from rollergen.shape.touching_rib import closed_form_size, rib_sides

Band = tuple[float, float]
LARGEST_FRICTION = 2.0  # rubber on rubber stays below; more is a slip of the pen
CURVE_POINTS = 60
TILT_TRIED = 25.0  # deg: simulated up to here, the size moved by 0.5 mm at most; at 35 deg balls roll away


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One kind of loose thing on the bed (mm, MPa).

    ``keep`` True for crop, False for debris.  ``smallest`` and ``largest`` are SHORT diameters.
    ``friction`` is (lowest, highest) against our roller, ``mate_friction`` against the mate, default the
    same.  ``shape``: "round", "along" (long axis along the roller) or "across".  ``length_ratio``: length
    over short diameter.  ``sieve``: (diameter, share below it) rising, for the share at risk.
    ``strength``: lowest and highest (None: does not break).  ``bruise_pressure``: for crop.

    Raises ValueError for friction outside (0, 2], empty or reversed ranges.
    """

    name: str
    keep: bool
    smallest: float
    largest: float
    friction: Band
    mate_friction: Band | None = None
    shape: str = "round"
    length_ratio: float = 1.0
    sieve: tuple[tuple[float, float], ...] = ()
    strength: Band | None = None
    bruise_pressure: float | None = None

    def __post_init__(self) -> None:
        if not 0.0 < self.smallest <= self.largest:
            raise ValueError(
                f"{self.name}: diameters {self.smallest:g} to {self.largest:g} mm are no range; give the"
                " smallest first, both above 0"
            )
        for friction in (self.friction, self.mate_friction or self.friction):
            check_friction(friction[0], self.name)
            check_friction(friction[1], self.name)
            if friction[0] > friction[1]:
                raise ValueError(
                    f"{self.name}: friction {friction[0]:g} to {friction[1]:g} is reversed; lowest first"
                )
        if self.shape not in ("round", "along", "across"):
            raise ValueError(f"{self.name}: shape {self.shape!r}; use 'round', 'along' or 'across'")
        if not self.length_ratio >= 1.0:
            raise ValueError(
                f"{self.name}: length ratio {self.length_ratio:g} is below 1; it is length over SHORT diameter"
            )

    @property
    def governing(self) -> Band:
        """(lowest, highest) friction that counts: the lower of both contacts."""
        mate = self.mate_friction or self.friction
        return (min(self.friction[0], mate[0]), min(self.friction[1], mate[1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class SideReport:
    """One side of our roller against the mate (mm); bands are (at lowest, at highest friction).

    ``grip_size_mm``: largest ball seized, 0 where nothing is.  For helical ribs pushes between two
    contacts are uncertain: ``corner_size_mm`` leaves them out, both agree where ``trusted``.
    ``closed_form_mm``: the same by one equation, None where that is not valid.
    ``nip_size_mm``: largest ball seized without any rib.  ``frictionless_size_mm``: largest pushed down
    without friction (0: none).  ``limit_region``: what the largest ball touches.  ``torque_arm_mm``:
    force times this is the torque on our shaft.  ``squeeze_mm``: for each friction, how far a ball 1 %
    and 10 % below the limit is squeezed before grip is lost (inf: never lost).  ``need``: (diameter,
    friction needed) pairs; None where no friction seizes.
    """

    side: str
    driving_flank: str
    friction: Band
    grip_size_mm: Band
    corner_size_mm: Band
    closed_form_mm: tuple[float | None, float | None]
    nip_size_mm: Band
    frictionless_size_mm: float
    limit_region: tuple[str, str]
    torque_arm_mm: tuple[float | None, float | None]
    squeeze_mm: tuple[Band, Band]
    need: tuple[tuple[float, float | None], ...]
    trusted: bool
    words: tuple[str, ...]


def grip_size(pair: Pair, friction: float, *, rising: bool = False, fans: bool = True) -> float:
    """Largest ball seized at one friction (mm), 0 if none; the general study, any outline."""
    check_friction(friction, "grip size")
    return float(largest_held(pair, np.array([atan(friction)]), rising=rising, fans=fans)[0])


def quick_size(pair: Pair, friction: float) -> float:
    """Grip size where ribs descend (mm): the closed form where it is valid (0.2 ms), the study elsewhere."""
    check_friction(friction, "grip size")
    size = _closed_form(pair, friction)
    return grip_size(pair, friction) if size is None else size


def friction_needed(
    pair: Pair, diameter: Floats, *, rising: bool = False, fans: bool = True, nip_only: bool = False
) -> Floats:
    """Least friction that seizes a ball of ``diameter`` (n,), mm; inf where none does."""
    half = least_of(states_of(pair, diameter), rising=rising, fans=fans, nip_only=nip_only).half
    return friction_of(half)


def check_friction(friction: float, name: str) -> None:
    """Raises ValueError unless friction is above 0 and at most 2."""
    if not 0.0 < friction <= LARGEST_FRICTION:
        raise ValueError(
            f"{name}: friction {friction:g} must be above 0 and at most {LARGEST_FRICTION:g}; a dry crop on"
            " rubber lies between 0.3 and 0.7"
        )


# the report, step by step


def _closed_form(pair: Pair, friction: float) -> float | None:
    """Grip size by the closed form; None for helical ribs, sleeves and limits it does not know."""
    sides = rib_sides(pair.branches) if pair.count and not pair.twist else None
    if sides is None:
        return None
    return closed_form_size(
        *sides,
        count=pair.count,
        body_radius=pair.body_radius,
        mate_radius=pair.mate_radius,
        axis_distance=pair.axis_distance,
        friction=friction,
        speed_ratio=pair.speed_ratio,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """Sizes by friction for (descending, rising): with fans, without, and the nip alone."""

    grip: dict[tuple[bool, float], float]
    corner: dict[tuple[bool, float], float]
    nip: dict[tuple[bool, float], float]
    frictionless: dict[bool, float]


def sizes_of(pair: Pair, frictions: Sequence[float]) -> Sizes:
    """All sizes at the given frictions in one go: one scan of the pair serves them all."""
    straight = pair.twist == 0.0
    asked = [
        (rising, fans, nip, f)
        for f in (*frictions, *((0.0,) if straight else ()))
        for rising, fans, nip in (
            (False, True, False),
            (False, False, False),
            (False, False, True),
            (True, False, False),
        )
        if not (straight and not fans and not nip and not rising)  # a straight rib's fan ends in its corner
    ]
    rising, fans, nip, f = (np.array(column) for column in zip(*asked, strict=True))
    found = largest_held(pair, np.arctan(f), rising=rising, fans=fans, nip_only=nip)
    by = {key: float(size) for key, size in zip(asked, found, strict=True)}
    grip_by, corner, nips = {}, {}, {}
    for value in frictions:
        grip_by[False, value] = by[False, True, False, value]
        corner[False, value] = by.get((False, False, False, value), grip_by[False, value])
        nips[False, value] = by[False, False, True, value]
        grip_by[True, value] = corner[True, value] = nips[True, value] = by[True, False, False, value]
    return Sizes(
        grip=grip_by,
        corner=corner,
        nip=nips,
        frictionless={
            False: by.get((False, True, False, 0.0), 0.0),
            True: by.get((True, False, False, 0.0), 0.0),
        },
    )


def side_of(pair: Pair, rising: bool, friction: Band, sizes: Sizes, froude: float) -> SideReport:
    """One side of the roller at the (lowest, highest) ``friction``, which ``sizes`` must hold."""
    low, high = friction
    grip_size_mm = (sizes.grip[rising, low], sizes.grip[rising, high])
    corner = (sizes.corner[rising, low], sizes.corner[rising, high])
    nip = (sizes.nip[rising, low], sizes.nip[rising, high])
    at = np.array([max(g * (1 - 1e-9), 1e-3) for g in grip_size_mm])
    top = max(1.3 * grip_size_mm[1], 2 * pair.body_gap)
    bottom = max(pair.tip_gap * (1 + 1e-6), 1e-3 * pair.axis_distance)
    scan = np.geomspace(bottom, max(top, 2 * bottom), CURVE_POINTS)
    states = states_of(pair, np.concatenate([at, scan]))
    least = least_of(states, rising=rising)
    needed = friction_of(least.half)
    words = _doubts(pair, rising, friction, grip_size_mm, corner, froude)
    return SideReport(
        side="rising" if rising else "descending",
        driving_flank="none" if rising or not pair.count else "behind",
        friction=friction,
        grip_size_mm=grip_size_mm,
        corner_size_mm=corner,
        closed_form_mm=(None, None) if rising else (_closed_form(pair, low), _closed_form(pair, high)),
        nip_size_mm=nip,
        frictionless_size_mm=sizes.frictionless[rising],
        limit_region=(_region(states, least, 0), _region(states, least, 1)),
        torque_arm_mm=(number(least.arm[0]), number(least.arm[1])),
        squeeze_mm=(
            _squeezes(pair, rising, grip_size_mm[0], nip[0], low),
            _squeezes(pair, rising, grip_size_mm[1], nip[1], high),
        ),
        need=tuple(
            (float(d), float(f) if isfinite(f) else None) for d, f in zip(scan, needed[2:], strict=True)
        ),
        trusted=not words,
        words=tuple(words) + _asides(pair, rising, grip_size_mm),
    )


def _squeezes(pair: Pair, rising: bool, size: float, nip: float, friction: float) -> Band:
    if size == 0.0:
        return (0.0, 0.0)
    if rising or size <= nip * (1 + 1e-9):
        return (inf, inf)
    near, far = squeeze_before_loss(pair, np.array([0.99, 0.9]) * size, atan(friction))
    return (float(near), inf if 0.9 * size <= nip else float(far))


def _region(states: States, least: Least, ball: int) -> str:
    row = int(least.row[ball])
    if row < 0:
        return "none"
    names = states.contour.branches.feature
    if not least.in_corner[ball]:
        return names[row]
    return f"{names[row]} and {names[int(states.contour.next_row[ball, row])]}"


def _doubts(pair: Pair, rising: bool, friction: Band, sizes: Band, corner: Band, froude: float) -> list[str]:
    words = []
    if froude > 1.0:
        words.append(
            f"Froude number {froude:.2f} is above 1: bodies are thrown and skip ribs; sizes rank rollers, they"
            " do not predict one body"
        )
    faster = -pair.speed_ratio * pair.mate_radius / pair.tip_radius
    if not rising and faster > 1.0 + 1e-9:
        words.append(
            f"the mate runs up at {faster:.2f} times the speed of the tips: simulated sizes are up to 17 %"
            " smaller, this is an upper bound"
        )
    if abs(degrees(pair.tilt)) > TILT_TRIED:
        words.append(
            f"the line of centres is tilted {degrees(pair.tilt):.0f} deg, more than the {TILT_TRIED:g} deg tried:"
            " bodies roll off before a rib comes"
        )
    if pair.twist and not rising:
        lean = flank_lean(pair)
        if friction[0] < tan(lean / 2):
            words.append(
                f"friction {friction[0]:g} is below {tan(lean / 2):.2f}, what flanks leaning {degrees(lean):.0f} deg"
                " along the axis need: such bodies travel along the rollers, and there is no sharp limit"
            )
        apart = max((g - c for g, c in zip(sizes, corner, strict=True)), default=0.0)
        if apart > 0.01 * max(sizes[1], 1.0):
            words.append(
                f"a body pushed by flank and body at once could slide along the axis: the size lies between"
                f" {corner[0]:.1f} and {sizes[0]:.1f} mm at the lowest friction, {corner[1]:.1f} and"
                f" {sizes[1]:.1f} mm at the highest"
            )
    return words


def _asides(pair: Pair, rising: bool, sizes: Band) -> tuple[str, ...]:
    """What a reader should know that is no reason for doubt."""
    words = []
    if sizes[1] == 0.0:
        words.append("nothing is seized here: the surfaces do not draw in")
    elif rising and pair.count:
        words.append("rising ribs lift bodies out of the way; only body and tip lands can nip")
    if pair.tip_gap <= 0.0:
        words.append(f"tip gap {pair.tip_gap:.2f} mm: the ribs run into the mate, sizes leave that out")
    return tuple(words)


def flank_lean(pair: Pair) -> float:
    """Steepest angle of a flank's normal out of the plane (rad), 0 for straight ribs and sleeves."""
    b = pair.branches
    psi = b.normal
    lines = np.any(b.along != 0.0, axis=1)
    if not pair.twist or not lines.any():
        return 0.0
    ends = [b.base[lines], b.base[lines] + b.along[lines]]
    moments = [np.abs(p[:, 0] * np.sin(psi[lines]) - p[:, 1] * np.cos(psi[lines])).max() for p in ends]
    return atan(abs(pair.twist) * float(max(moments)))


def number(value: float) -> float | None:
    """The value, None where there is none (inf or NaN)."""
    return float(value) if isfinite(value) else None


def friction_of(half: Floats) -> Floats:
    """Friction that holds a wedge of half angle ``half`` (rad): its tangent, inf from a right angle on."""
    friction: Floats = np.where(half < pi / 2, np.tan(np.minimum(half, pi / 2 - 1e-9)), inf)
    return friction
