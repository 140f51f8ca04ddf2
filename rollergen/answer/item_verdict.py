"""Grip of a pair with the items of a duty: both sides of the roller, and what becomes of each item."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rollergen.shape.outline import Floats
from rollergen.shape.touching_hold import least_of
from rollergen.shape.touching_mate import Pair, drop_size, open_share, states_of
from rollergen.study.grip import (
    Band,
    Item,
    SideReport,
    Sizes,
    check_friction,
    friction_of,
    number,
    side_of,
    sizes_of,
)
from rollergen.study.harm import (
    breaking_force,
    bruise_spot,
    chance,
    froude_number,
    share_below,
    squeeze_force,
)

ELONGATED = 1.05  # length ratio from which the short diameter is only an estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemOnSide:
    """One item on one side; pairs are (smallest, largest) diameter unless said otherwise.

    ``grip_size_mm`` is (at lowest, at highest friction).  ``kind`` is "falls", "rib", "nip", "rides" or
    "not judged", for crop at its highest, for debris at its lowest friction; "nip" is held by the body at
    any rotation, "rib" only where a rib comes.  ``chances_per_s`` counts rib passings that seize: 0 for a
    sleeve, and not needed by what is nipped.  ``margin``: diameter over
    grip size at that friction, None where nothing is seized.  ``friction_needed``: None: none seizes.
    ``force_n``: (least, most) newtons on the largest diameter seized, given a stiffness; ``torque_nm``
    on our shaft in newton metres.  ``breaks``: "yes", "no" or "maybe".  ``bruise_spot_mm``: (least, most)
    diameter.
    """

    side: str
    grip_size_mm: Band
    kind: tuple[str, str]
    margin: tuple[float | None, float | None]
    friction_needed: tuple[float | None, float | None]
    chances_per_s: Band
    force_n: Band | None
    torque_nm: Band | None
    breaks: str | None
    bruise_spot_mm: Band | None
    share_at_risk: Band | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemVerdict:
    """What becomes of one item.

    ``ok``: crop stays (its short diameters exceed the grip size at the highest friction), debris is
    taken (its diameters are below it at the lowest); None when not judged.  ``kind`` and ``grip_size_mm``
    are those of the side that seizes more, ``kind`` for the smallest crop and the largest debris.
    ``open_share`` and ``axial_window_mm`` are for the (smallest, largest) diameter; straight ribs have no
    axial window (None).  ``breaking_force_n``: (least, most) at the smallest and largest diameter.
    """

    name: str
    keep: bool
    ok: bool | None
    kind: str
    grip_size_mm: Band
    margin: float | None
    open_share: Band
    axial_window_mm: tuple[float | None, float | None]
    breaking_force_n: tuple[Band, Band] | None
    sides: tuple[ItemOnSide, ItemOnSide]
    trusted: bool
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GripReport:
    """What a roller and its smooth mate seize (mm, 1/s)."""

    tip_gap_mm: float
    body_gap_mm: float
    drop_size_mm: float
    froude: float
    rib_passings_per_s: float
    descending: SideReport
    rising: SideReport
    items: tuple[ItemVerdict, ...]


def grip(
    pair: Pair,
    items: Sequence[Item] = (),
    *,
    speed_rpm: float,
    friction: Band = (0.3, 0.7),
    stiffness: float | None = None,
) -> GripReport:
    """Both sides of the roller and a verdict for every item.

    ``friction`` is the range of the side reports when there are no items; with items it is theirs.
    ``speed_rpm`` turns per minute, its sign does not matter here.  ``stiffness``: N per mm that roller,
    item and mate give together.  Raises ValueError for a speed of 0 and friction outside (0, 2].
    """
    if not abs(speed_rpm) > 0.0:
        raise ValueError(
            "rotation speed 0 rpm: a standing roller seizes nothing; give its speed (the mate may stand still"
            " with a speed ratio of 0)"
        )
    if stiffness is not None and not stiffness > 0.0:
        raise ValueError(f"stiffness {stiffness:g} N/mm must be above 0; leave it out when not known")
    if items:
        friction = (min(i.governing[0] for i in items), max(i.governing[1] for i in items))
    for value in friction:
        check_friction(value, "grip")
    froude = froude_number(speed_rpm, pair.tip_radius)
    sizes = sizes_of(pair, sorted({*friction, *(f for i in items for f in i.governing)}))
    sides = [side_of(pair, rising, friction, sizes, froude) for rising in (False, True)]
    passings = pair.count * abs(speed_rpm) / 60
    drop = drop_size(pair)
    verdicts = _verdicts(
        pair, items, sizes, sides, passings=passings, froude=froude, drop=drop, stiffness=stiffness
    )
    return GripReport(
        tip_gap_mm=pair.tip_gap,
        body_gap_mm=pair.body_gap,
        drop_size_mm=drop,
        froude=froude,
        rib_passings_per_s=passings,
        descending=sides[0],
        rising=sides[1],
        items=verdicts,
    )


def _verdicts(
    pair: Pair,
    items: Sequence[Item],
    sizes: Sizes,
    sides: list[SideReport],
    *,
    passings: float,
    froude: float,
    drop: float,
    stiffness: float | None,
) -> tuple[ItemVerdict, ...]:
    if not items:
        return ()
    ends = np.array([d for item in items for d in (item.smallest, item.largest)])
    shares = open_share(pair, ends)
    states = states_of(pair, ends)
    least = [least_of(states, rising=rising) for rising in (False, True)]
    verdicts = []
    for n, item in enumerate(items):
        on_sides = tuple(
            _item_on_side(
                pair,
                item,
                sizes,
                rising,
                friction_of(least[rising].half[2 * n : 2 * n + 2]),
                passings=passings,
                froude=froude,
                drop=drop,
                stiffness=stiffness,
            )
            for rising in (False, True)
        )
        assert len(on_sides) == 2
        window = (float(shares[2 * n]), float(shares[2 * n + 1]))
        verdicts.append(_verdict(pair, item, (on_sides[0], on_sides[1]), sides, window))
    return tuple(verdicts)


def _item_on_side(
    pair: Pair,
    item: Item,
    sizes: Sizes,
    rising: bool,
    needed: Floats,
    *,
    passings: float,
    froude: float,
    drop: float,
    stiffness: float | None,
) -> ItemOnSide:
    low, high = item.governing
    # what is sure at the lowest friction, what is possible at the highest
    band = (sizes.corner[rising, low], sizes.grip[rising, high])
    counts = band[1] if item.keep else band[0]
    nip = sizes.nip[rising, high if item.keep else low]
    friction = high if item.keep else low
    ends = (item.smallest, item.largest)
    kinds = tuple(
        _kind(d, counts, nip, drop, pair.tip_gap, bool(f <= friction) and d <= counts * (1 + 1e-9))
        for d, f in zip(ends, needed, strict=True)
    )
    if item.shape == "across":
        kinds = ("not judged", "not judged")
    force = torque = spot = breaks = None
    seized = min(item.largest, band[1])
    if stiffness is not None and band[1] > 0.0 and seized >= item.smallest and item.shape != "across":
        force, torque = _force(pair, seized, rising, drop, stiffness)
        if item.strength is not None:
            breaks = _breaks(force, breaking_force(item.strength, seized))
        if item.bruise_pressure is not None:
            pressure = item.bruise_pressure
            spot = (bruise_spot(force[0], pressure), bruise_spot(force[1], pressure))
    return ItemOnSide(
        side="rising" if rising else "descending",
        grip_size_mm=band,
        kind=(kinds[0], kinds[1]),
        margin=(_margin(ends[0], counts), _margin(ends[1], counts)),
        friction_needed=(number(needed[0]), number(needed[1])),
        chances_per_s=(
            _chances(ends[0], counts, pair.tip_gap, passings, froude),
            _chances(ends[1], counts, pair.tip_gap, passings, froude),
        ),
        force_n=force,
        torque_nm=torque,
        breaks=breaks,
        bruise_spot_mm=spot,
        share_at_risk=(share_below(item.sieve, band[0]), share_below(item.sieve, band[1]))
        if item.sieve
        else None,
    )


def _kind(diameter: float, size: float, nip: float, drop: float, tip_gap: float, held: bool) -> str:
    if diameter <= tip_gap:
        return "falls"
    if held:
        return "nip" if drop < diameter <= nip * (1 + 1e-9) or size == nip else "rib"
    return "falls" if diameter <= drop else "rides"


def _force(pair: Pair, diameter: float, rising: bool, drop: float, stiffness: float) -> tuple[Band, Band]:
    """(force N, torque N m) on a seized ball: the groove's opening and that at the contact are the band."""
    at = np.array([diameter * (1 - 1e-9)])
    least = least_of(states_of(pair, at), rising=rising)
    if not np.isfinite(least.half[0]):
        return (0.0, 0.0), (0.0, 0.0)
    at_contact = pair.tip_gap + pair.tip_radius - float(least.reach[0])
    force = squeeze_force(
        diameter, stiffness=stiffness, narrow=max(min(at_contact, drop), 0.0), wide=max(at_contact, drop)
    )
    arm = float(least.arm[0]) * 1e-3
    return force, (force[0] * arm, force[1] * arm)


def _breaks(force: Band, needed: Band) -> str:
    if force[0] >= needed[1]:
        return "yes"
    return "no" if force[1] < needed[0] else "maybe"


def _chances(diameter: float, size: float, tip_gap: float, passings: float, froude: float) -> float:
    if size == 0.0 or diameter <= tip_gap:
        return 0.0
    return passings * chance(froude, diameter / size)


def _verdict(
    pair: Pair,
    item: Item,
    on_sides: tuple[ItemOnSide, ItemOnSide],
    sides: list[SideReport],
    shares: Band,
) -> ItemVerdict:
    which = 1 if item.keep else 0
    worse = int(on_sides[1].grip_size_mm[which] > on_sides[0].grip_size_mm[which])
    governs, end = on_sides[worse], 0 if item.keep else 1
    judged = item.shape != "across"
    words = [*_item_words(pair, item), *sides[worse].words[: None if not sides[worse].trusted else 0]]
    counts = governs.grip_size_mm[which]
    if not judged:
        ok = None
    elif item.keep:
        ok = item.smallest > counts
        words.insert(0, _crop_words(item, counts, ok))
    else:
        ok = item.largest < counts or item.largest <= pair.tip_gap
        words.insert(0, _debris_words(item, counts, ok))
    axial = _axial_windows(pair, shares)
    strength = item.strength
    return ItemVerdict(
        name=item.name,
        keep=item.keep,
        ok=ok,
        kind=governs.kind[end],
        grip_size_mm=governs.grip_size_mm,
        margin=governs.margin[end] if judged else None,
        open_share=shares,
        axial_window_mm=axial,
        breaking_force_n=(breaking_force(strength, item.smallest), breaking_force(strength, item.largest))
        if strength
        else None,
        sides=on_sides,
        trusted=judged and sides[worse].trusted and not _shape_doubt(pair, item),
        words=tuple(words),
    )


def _axial_windows(pair: Pair, shares: Band) -> tuple[float | None, float | None]:
    if not pair.twist:
        return (None, None)
    apart = pair.branches.period / abs(pair.twist)
    return (apart * shares[0], apart * shares[1])


def _crop_words(item: Item, size: float, safe: bool) -> str:
    if size == 0.0:
        return f"{item.name}: stays, nothing is seized"
    if safe:
        return (
            f"{item.name}: stays, {item.smallest:g} mm and up ride over a grip size of {size:.1f} mm at friction"
            f" {item.governing[1]:g}"
        )
    return (
        f"{item.name}: below {size:.1f} mm it can be seized at friction {item.governing[1]:g}, the smallest is"
        f" {item.smallest:g} mm"
    )


def _debris_words(item: Item, size: float, taken: bool) -> str:
    if taken:
        return f"{item.name}: taken, up to {size:.1f} mm is seized even at friction {item.governing[0]:g}"
    return (
        f"{item.name}: above {size:.1f} mm it rides over at friction {item.governing[0]:g}, the largest is"
        f" {item.largest:g} mm"
    )


def _shape_doubt(pair: Pair, item: Item) -> bool:
    return item.shape == "across" or (item.shape == "along" and bool(pair.twist))


def _item_words(pair: Pair, item: Item) -> list[str]:
    if item.shape == "across":
        return [
            f"{item.name}: lies across the rollers; it bends and wraps, which this model does not know: not judged"
        ]
    words = []
    if item.shape == "along" and pair.twist:
        words.append(
            f"{item.name}: lies along the roller; exact for straight ribs only, helical ribs take it as a ball of"
            " its short diameter"
        )
    if item.shape == "round" and item.length_ratio > ELONGATED:
        words.append(
            f"{item.name}: {item.length_ratio:g} times as long as thick; the short diameter governs to about 10 %"
        )
    return words


def _margin(diameter: float, size: float) -> float | None:
    return diameter / size if size > 0.0 else None
