"""Bed trial: loose spheres on turning rollers, step by step, in three dimensions.

The grip study says in closed form what a pair CAN seize.  A trial says what one random feed DOES on a bed
of one length: bodies push each other, skip chances, are carried over, and some are still there at the end.

Model.  Spheres with mass, linear spring and dashpot at every contact, tangential spring with Coulomb
friction (Cundall and Strack, "A discrete numerical model for granular assemblies", Geotechnique 29 (1979)
47-65; value from memory).  The stiffness is mass times a fixed rate squared, so every contact lasts equally
long and the step suits a pebble and a potato alike; what is seized does not hang on stiffness, the
forces do, and are therefore not reported.  Rollers are stiff.  x runs along the bed, y up, z along the
rollers; z is periodic over a multiple of every roller's rib period.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, isfinite, pi, sqrt
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.outline import Floats
from rollergen.shape.roller_row import RollerRow, Side, meet_rollers, row_of, side_of
from rollergen.shape.roller_row import TrialRoller as TrialRoller

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Kind = Literal["crop", "debris"]

STEP = 1.5e-4  # s
CONTACT_RATE = 0.25 / STEP  # 1/s; rate times step 0.25 stays well inside the 2 of a spring stepped like this
DAMPING = 0.4  # share of critical: bodies bounce back with about a quarter of their speed
TANGENTIAL = 0.4  # tangential over normal stiffness
GRAVITY = 9810.0  # mm/s2
SQUEEZED = 0.2  # mm into both rollers at once; 60 times what a body's own weight presses
LASTING = 0.015  # s; an impact is over in 2 ms
LOOK_EVERY = 5  # steps between two looks at who is seized, gone or fed
SKIN = 4.0  # mm: pairs nearer than this are watched until somebody has moved half of it
UNSEEN = 1.0  # mm of that half kept for what moves between two looks (a body falling from 90 mm)
FEED_SHARE = 0.6  # of the seconds; the rest lets the last bodies reach the end
CLEAR = 10.0  # mm between a body being fed and whatever is below it

WAITING, ON_BED, SEIZED, FELL, OVER = range(5)
CAN_AND_DOES = (
    "this is what one random feed does within the length of this bed; the grip study says what the pair can"
    " seize, whatever the bed's length: a body that can be seized may still be carried over",
    "a crowd also presses bodies in: on three demonstration beds the largest body seized was up to 6 % larger"
    " than the pair can seize of bodies that come alone, and 2 to 5 % smaller when they did come alone",
    "rollers are stiff: a body counts as seized once both rollers press it "
    f"{SQUEEZED:g} mm deep for {LASTING * 1000:g} ms, and is then taken off the bed",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialItem:
    """What is fed: spheres with diameters evenly spread from ``smallest`` to ``largest`` (mm).

    ``count`` bodies, or a ``share`` of those that no count claims.  Friction against rollers and bodies is
    drawn evenly from the range, one value a body.  ``strength`` (MPa, lowest and highest) only gives the
    force at which a seized body breaks; nothing breaks in the trial.
    """

    name: str
    kind: Kind
    smallest: float
    largest: float
    count: int | None = None
    share: float | None = None
    friction: tuple[float, float]
    density_kg_m3: float
    strength: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemCount:
    """What became of one item: ``count`` = seized + fell + over + on_bed + waiting.

    ``fell`` went through between two rollers without being seized; ``waiting`` found no room to be fed.
    Diameters in mm, None when nothing was seized; ``breaks_at`` is the force (N) that breaks the largest
    seized body, at the lowest and at the highest strength.
    """

    name: str
    kind: Kind
    count: int
    seized: int
    fell: int
    over: int
    on_bed: int
    waiting: int
    smallest_seized: float | None
    largest_seized: float | None
    breaks_at: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PairCount:
    """What went on between two neighbours; rollers are numbered from 0 in the order of x."""

    left: int
    right: int
    side: Side
    seized: int
    fell: int
    largest_seized: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrialTrack:
    """Where everybody was: frames by bodies, mm; ``state`` 0 waiting, 1 on the bed, 2 seized, 3 fell, 4 over."""

    time: Floats
    x: NDArray[np.float32]
    y: NDArray[np.float32]
    z: NDArray[np.float32]
    state: NDArray[np.int8]
    diameter: Floats
    item: Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialReport:
    """One feed over one bed.  ``width`` is the periodic length of roller that was looked at (mm)."""

    seconds: float
    seed: int
    width: float
    items: tuple[ItemCount, ...]
    pairs: tuple[PairCount, ...]
    largest_seized: float | None
    notes: tuple[str, ...]
    track: TrialTrack | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Bodies:
    """All bodies, those waiting and gone too; arrays are written in place."""

    radius: Floats
    mass: Floats
    friction: Floats
    item: Ints
    place: Floats  # (3, n)
    velocity: Floats
    spin: Floats
    state: Ints
    since: Floats  # how long squeezed, s
    pair: Ints  # lower roller number of the pair it was seized or fell at, -1 otherwise


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Watch:
    """Contacts near enough to matter until the next search: rollers first, then pairs of bodies."""

    body: Ints
    roller: Ints
    smooth: int  # contacts before this one are with smooth rollers
    one: Ints
    other: Ints
    key: Ints
    stiffness: Floats
    damping: Floats
    slip_damping: Floats
    friction: Floats
    reach: Floats  # r of the body, or sum of both
    slots: Ints  # flat places of forces in (6, n), for bincount
    spring: Floats  # (3, contacts), written in place


def trial(
    rollers: Sequence[TrialRoller],
    items: Sequence[TrialItem],
    *,
    seconds: float,
    seed: int,
    bodies: int = 200,
    frames_per_second: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> TrialReport:
    """Feed ``bodies`` spheres on a bed and count what it does with them.

    ``frames_per_second`` records a track for an animation; ``progress`` is called with the share done.
    Same input and ``seed``, same report.  200 bodies on 8 rollers take about 2 s of computing per second.

    Valid for stiff rollers, round bodies, no soil, no haulm.  Raises ValueError, with the number that is
    wrong, for fewer than two rollers, rollers that overlap, empty or reversed ranges, friction outside
    0..2, and no bodies to feed.
    """
    _refuse(items, seconds, bodies)
    rng = np.random.Generator(np.random.PCG64(seed))
    population = _population(items, bodies, rng)
    bed = row_of(rollers, 2.0 * float(population.radius.max()), margin=2 * SKIN)
    feed_at = np.linspace(0.0, FEED_SHARE * seconds, len(population.radius), endpoint=False)
    watch = _watch(bed, population, None)
    left, fed, frames = 0.0, 0, []
    steps = ceil(seconds / STEP)
    every = max(1, round(1.0 / (frames_per_second * STEP))) if frames_per_second else 0
    for step in range(steps + 1):
        if step % LOOK_EVERY == 0:
            moved = _look(bed, population, watch, step * STEP)
            while fed < len(feed_at) and feed_at[fed] <= step * STEP and _fed(bed, population, fed, rng):
                fed, moved = fed + 1, True
            left -= LOOK_EVERY * STEP * sqrt(float((population.velocity**2).sum(axis=0).max()))
            if moved or left < 0.0:
                watch, left = _watch(bed, population, watch), SKIN / 2 - UNSEEN
        if every and step % every == 0:
            frames.append(
                (step * STEP, population.place.astype(np.float32), population.state.astype(np.int8))
            )
        if progress is not None and step % 500 == 0:
            progress(step / steps)
        _advance(bed, population, watch, step * STEP)
    return TrialReport(
        seconds=seconds,
        seed=seed,
        width=bed.width,
        items=_item_counts(items, population),
        pairs=_pair_counts(rollers, population),
        largest_seized=_largest(population, population.state == SEIZED),
        notes=(*CAN_AND_DOES, *bed.notes),
        track=_track(frames, population) if frames else None,
    )


def _refuse(items: Sequence[TrialItem], seconds: float, bodies: int) -> None:
    if not (seconds > 0.0 and isfinite(seconds)):
        raise ValueError(f"seconds {seconds:g} must be more than 0")
    for item in items:
        if not 0.0 < item.smallest <= item.largest:
            raise ValueError(
                f"{item.name}: diameters {item.smallest:g} to {item.largest:g} mm must rise from above 0"
            )
        if not 0.0 < item.friction[0] <= item.friction[1] <= 2.0:
            raise ValueError(
                f"{item.name}: friction {item.friction[0]:g} to {item.friction[1]:g} must rise, above 0, 2 at most"
            )
        if not item.density_kg_m3 > 0.0:
            raise ValueError(f"{item.name}: density {item.density_kg_m3:g} kg/m^3 must be more than 0")
        if (item.count is None) == (item.share is None) or (item.count or 0) < 0 or (item.share or 0.0) < 0.0:
            raise ValueError(f"{item.name}: give either a count or a share, and none below 0")
    if not sum(_numbers(items, bodies)):
        raise ValueError("no bodies to feed: every item's count or share comes to 0")


def _numbers(items: Sequence[TrialItem], bodies: int) -> list[int]:
    """Bodies per item: counts as they are, the rest of ``bodies`` by share, largest remainders first."""
    rest = max(0, bodies - sum(item.count or 0 for item in items))
    total = sum(item.share or 0.0 for item in items)
    exact = [rest * (item.share or 0.0) / total if total else 0.0 for item in items]
    whole = [int(e) for e in exact]
    missing = (rest if total else 0) - sum(whole)
    for k in sorted(range(len(items)), key=lambda k: (whole[k] - exact[k], k))[:missing]:
        whole[k] += 1
    return [item.count if item.count is not None else n for item, n in zip(items, whole, strict=True)]


def _population(items: Sequence[TrialItem], bodies: int, rng: np.random.Generator) -> _Bodies:
    item = rng.permutation(np.repeat(np.arange(len(items)), _numbers(items, bodies)))
    number = len(item)

    def drawn(low: list[float], high: list[float]) -> Floats:
        least, most = np.array(low)[item], np.array(high)[item]
        values: Floats = least + rng.random(number) * (most - least)
        return values

    radius = drawn([i.smallest / 2 for i in items], [i.largest / 2 for i in items])
    density = np.array([i.density_kg_m3 * 1e-9 for i in items])[item]
    return _Bodies(
        radius=radius,
        mass=density * 4 / 3 * pi * radius**3,
        friction=drawn([i.friction[0] for i in items], [i.friction[1] for i in items]),
        item=item,
        place=np.zeros((3, number)),
        velocity=np.zeros((3, number)),
        spin=np.zeros((3, number)),
        state=np.full(number, WAITING, dtype=np.int64),
        since=np.zeros(number),
        pair=np.full(number, -1, dtype=np.int64),
    )


def _fed(bed: RollerRow, bodies: _Bodies, number: int, rng: np.random.Generator) -> bool:
    """Put one body above the first roller, where there is room; False when there is none yet."""
    feed = int(np.flatnonzero(bed.order == (0 if bed.onward > 0 else bed.order.max()))[0])
    r, here = bodies.radius[number], bodies.state == ON_BED
    for layer in range(12):
        x = bed.x[feed] + bed.onward * (r + 1.0 + rng.random() * bed.radius[feed])
        y = bed.y[feed] + bed.radius[feed] + r + CLEAR + 20.0 * layer
        z = rng.random() * bed.width
        dz = bodies.place[2, here] - z
        dz -= bed.width * np.round(dz / bed.width)
        apart2 = (bodies.place[0, here] - x) ** 2 + (bodies.place[1, here] - y) ** 2 + dz**2
        if (apart2 > (bodies.radius[here] + r + 1.0) ** 2).all():
            bodies.place[:, number] = x, y, z
            bodies.state[number] = ON_BED
            return True
    return False


def _look(bed: RollerRow, bodies: _Bodies, watch: _Watch, now: float) -> bool:
    """Who is seized, fell or went over since the last look; True when somebody left."""
    squeezed = _squeezed(bed, bodies, watch, now)
    held = np.bincount(watch.body[squeezed], minlength=len(bodies.radius)) >= 2
    np.copyto(bodies.since, np.where(held, bodies.since + LOOK_EVERY * STEP, 0.0))
    here = bodies.state == ON_BED
    seized = here & (bodies.since >= LASTING)
    rank = np.argsort(bed.order)[1:]  # rows in the order of x, the wall left out
    x, y, radius = bed.x[rank], bed.y[rank], bed.radius[rank]
    gap = np.clip(np.searchsorted(x, bodies.place[0]) - 1, 0, len(x) - 2)
    lower = np.minimum(y[:-1], y[1:]) - np.minimum(radius[:-1], radius[1:])
    last = x[-1] + radius[-1] / 2 if bed.onward > 0 else x[0] - radius[0] / 2
    over = here & ~seized & (bed.onward * (bodies.place[0] - last) > 0.0)
    fell = here & ~seized & ~over & (bodies.place[1] < lower[gap])
    for flags, state in ((seized, SEIZED), (fell, FELL), (over, OVER)):
        bodies.state[flags] = state
    for number in np.flatnonzero(seized):
        bodies.pair[number] = bed.order[watch.roller[squeezed & (watch.body == number)]].min()
    bodies.pair[fell] = gap[fell]
    gone = seized | fell | over
    bodies.velocity[:, gone] = 0.0
    bodies.spin[:, gone] = 0.0
    return bool(gone.any())


def _squeezed(bed: RollerRow, bodies: _Bodies, watch: _Watch, now: float) -> Flags:
    overlap, _ = _met(bed, bodies, watch, now)
    deep: Flags = (overlap > SQUEEZED) & (watch.roller != bed.wall)
    return deep


def _watch(bed: RollerRow, bodies: _Bodies, before: _Watch | None) -> _Watch:
    """All contacts that can come about before somebody has moved half the skin; springs are kept."""
    here = np.flatnonzero(bodies.state == ON_BED)
    apart = np.hypot(
        bodies.place[0, here, None] - bed.x[None, :], bodies.place[1, here, None] - bed.y[None, :]
    )
    near, roller = np.nonzero(apart - bed.radius[None, :] < bodies.radius[here, None] + SKIN)
    first = np.argsort(roller, kind="stable")
    body, roller = here[near[first]], roller[first]
    one, other = _neighbours(bodies, here, bed.width)
    number, rollers = len(bodies.radius), len(bed.x)
    key = np.concatenate([number * number + body * rollers + roller, one * number + other])
    mass = np.concatenate(
        [
            bodies.mass[body],
            bodies.mass[one] * bodies.mass[other] / (bodies.mass[one] + bodies.mass[other]),
        ]
    )
    slots = np.concatenate([body, one, other])
    watch = _Watch(
        body=body,
        roller=roller,
        smooth=int(np.searchsorted(roller, bed.smooth)),
        one=one,
        other=other,
        key=key,
        stiffness=mass * CONTACT_RATE**2,
        damping=2 * DAMPING * mass * CONTACT_RATE,
        slip_damping=0.5 * DAMPING * mass * CONTACT_RATE,
        friction=np.concatenate(
            [bodies.friction[body], np.minimum(bodies.friction[one], bodies.friction[other])]
        ),
        reach=np.concatenate([bodies.radius[body], bodies.radius[one] + bodies.radius[other]]),
        slots=(np.arange(3)[:, None] * number + slots[None, :]).ravel(),
        spring=np.zeros((3, len(key))),
    )
    if before is not None and len(before.key) and len(key):
        order = np.argsort(before.key)
        found = np.minimum(np.searchsorted(before.key[order], key), len(order) - 1)
        same = before.key[order][found] == key
        watch.spring[:, same] = before.spring[:, order[found[same]]]
    return watch


def _neighbours(bodies: _Bodies, here: Ints, width: float) -> tuple[Ints, Ints]:
    """Pairs of bodies closer than the skin: sorted into cells along the bed, own and next cell compared."""
    if len(here) < 2:
        return here[:0], here[:0]
    cell = 2.0 * float(bodies.radius[here].max()) + SKIN
    where = np.floor(bodies.place[0, here] / cell).astype(np.int64)
    order = np.argsort(where, kind="stable")
    here, where = here[order], where[order]
    upto = np.searchsorted(where, where + 1, side="right")  # the end of the next cell
    many = upto - np.arange(len(here)) - 1
    one = np.repeat(np.arange(len(here)), many)
    other = np.arange(len(one)) - np.repeat(np.cumsum(many) - many, many) + one + 1
    one, other = here[one], here[other]
    dx, dy, dz = bodies.place[:, one] - bodies.place[:, other]
    dz = dz - width * np.round(dz / width)
    near = dx * dx + dy * dy + dz * dz < (bodies.radius[one] + bodies.radius[other] + SKIN) ** 2
    one, other = one[near], other[near]
    return np.minimum(one, other), np.maximum(one, other)


def _met(bed: RollerRow, bodies: _Bodies, watch: _Watch, now: float) -> tuple[Floats, Floats]:
    """Overlap (mm) and normal (3, n), from the roller to the body, of every watched roller contact."""
    distance, normal = meet_rollers(bed, bodies.place[:, watch.body], watch.roller, watch.smooth, now)
    return watch.reach[: len(distance)] - distance, normal


def _advance(bed: RollerRow, bodies: _Bodies, watch: _Watch, now: float) -> None:
    """One step of ``STEP``: forces at all contacts, then velocities, then places."""
    push, turning = _loads(bed, bodies, watch, now)
    here = bodies.state == ON_BED
    place, velocity, spin = bodies.place, bodies.velocity, bodies.spin
    velocity += (STEP * here / bodies.mass) * push
    velocity[1] -= (STEP * GRAVITY) * here
    spin += (STEP * here / (0.4 * bodies.mass * bodies.radius)) * turning
    place += STEP * velocity


def _loads(bed: RollerRow, bodies: _Bodies, watch: _Watch, now: float) -> tuple[Floats, Floats]:
    """Force on each body and torque over its radius, (3, n) each, in kg mm/s2."""
    count, number = len(watch.body), len(bodies.radius)
    normal, slip, overlap = np.empty_like(watch.spring), np.empty_like(watch.spring), np.empty(len(watch.key))
    overlap[:count], normal[:, :count] = _met(bed, bodies, watch, now)
    place, r = bodies.place[:, watch.body], watch.reach[:count]
    slip[:, :count] = bodies.velocity[:, watch.body] + _cross(
        normal[:, :count], r * bodies.spin[:, watch.body]
    )
    speed = bed.speed[watch.roller]
    slip[0, :count] += speed * (place[1] - r * normal[1, :count] - bed.y[watch.roller])
    slip[1, :count] -= speed * (place[0] - r * normal[0, :count] - bed.x[watch.roller])

    between = bodies.place[:, watch.one] - bodies.place[:, watch.other]
    between[2] -= bed.width * np.round(between[2] / bed.width)
    apart = np.sqrt((between * between).sum(axis=0))
    normal[:, count:] = between / apart
    overlap[count:] = watch.reach[count:] - apart
    rolling = bodies.radius * bodies.spin
    slip[:, count:] = (
        bodies.velocity[:, watch.one]
        - bodies.velocity[:, watch.other]
        + _cross(normal[:, count:], rolling[:, watch.one] + rolling[:, watch.other])
    )
    press, pull = _contact_forces(watch, normal, slip, overlap)
    force, torque = press * normal + pull, -_cross(normal, pull)
    between_bodies = slice(count, None)
    push = np.concatenate([force, -force[:, between_bodies]], axis=1)
    turning = np.concatenate([torque, torque[:, between_bodies]], axis=1)
    return _summed(watch.slots, push, number), _summed(watch.slots, turning, number)


def _summed(slots: Ints, parts: Floats, number: int) -> Floats:
    """Parts (3, contacts) added up by body, (3, n)."""
    total: NDArray[Any] = np.bincount(slots, parts.ravel(), 3 * number)
    return total.reshape(3, number)


def _contact_forces(watch: _Watch, normal: Floats, slip: Floats, overlap: Floats) -> tuple[Floats, Floats]:
    """Size of the normal force (n,) and the friction (3, n); the tangential springs move on in place."""
    touching = overlap > 0.0
    along = (slip * normal).sum(axis=0)
    press = np.maximum(watch.stiffness * overlap - watch.damping * along, 0.0) * touching
    slip = slip - along * normal
    spring = watch.spring + STEP * slip
    spring -= (spring * normal).sum(axis=0) * normal
    stiffness = TANGENTIAL * watch.stiffness
    pull = -stiffness * spring - watch.slip_damping * slip
    size = np.sqrt((pull * pull).sum(axis=0))
    most = watch.friction * press
    sliding = size > most
    pull *= np.where(sliding, most / np.maximum(size, 1e-300), 1.0)
    np.copyto(watch.spring, np.where(sliding, -pull / stiffness, spring) * touching)
    return press, pull


def _cross(a: Floats, b: Floats) -> Floats:
    out = np.empty_like(a)
    out[0] = a[1] * b[2] - a[2] * b[1]
    out[1] = a[2] * b[0] - a[0] * b[2]
    out[2] = a[0] * b[1] - a[1] * b[0]
    return out


def _item_counts(items: Sequence[TrialItem], bodies: _Bodies) -> tuple[ItemCount, ...]:
    counts = []
    for k, item in enumerate(items):
        mine = bodies.item == k
        seized = mine & (bodies.state == SEIZED)
        became = np.bincount(bodies.state[mine], minlength=5)
        largest = _largest(bodies, seized)
        counts.append(
            ItemCount(
                name=item.name,
                kind=item.kind,
                count=int(mine.sum()),
                seized=int(became[SEIZED]),
                fell=int(became[FELL]),
                over=int(became[OVER]),
                on_bed=int(became[ON_BED]),
                waiting=int(became[WAITING]),
                smallest_seized=2 * float(bodies.radius[seized].min()) if seized.any() else None,
                largest_seized=largest,
                breaks_at=_breaking(item.strength, largest),
            )
        )
    return tuple(counts)


def _breaking(strength: tuple[float, float] | None, diameter: float | None) -> tuple[float, float] | None:
    """F = Y d^2 / 0.576, tensile strength of a clod from crushing it between plates (N, MPa, mm)."""
    if strength is None or diameter is None:
        return None
    return strength[0] * diameter**2 / 0.576, strength[1] * diameter**2 / 0.576


def _largest(bodies: _Bodies, which: Flags) -> float | None:
    return 2 * float(bodies.radius[which].max()) if which.any() else None


def _pair_counts(rollers: Sequence[TrialRoller], bodies: _Bodies) -> tuple[PairCount, ...]:
    ordered = sorted(rollers, key=lambda r: r.x)
    pairs = []
    for k, (left, right) in enumerate(zip(ordered[:-1], ordered[1:], strict=True)):
        mine = bodies.pair == k
        seized = mine & (bodies.state == SEIZED)
        pairs.append(
            PairCount(
                left=k,
                right=k + 1,
                side=side_of(left, right),
                seized=int(seized.sum()),
                fell=int((mine & (bodies.state == FELL)).sum()),
                largest_seized=_largest(bodies, seized),
            )
        )
    return tuple(pairs)


def _track(frames: list[tuple[float, NDArray[np.float32], NDArray[np.int8]]], bodies: _Bodies) -> TrialTrack:
    time, place, state = zip(*frames, strict=True)
    x, y, z = np.stack(place, axis=1)
    return TrialTrack(
        time=np.array(time),
        x=x,
        y=y,
        z=z,
        state=np.stack(state),
        diameter=2 * bodies.radius,
        item=bodies.item.copy(),
    )
