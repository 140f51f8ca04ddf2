"""What a pair holds: the easiest state of a ball, the largest ball held, the squeeze before it is lost.

Works on the states of ``touching_mate``; nothing here knows what the ball is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, inf, log

import numpy as np

from rollergen.shape.distance import Flags, Ints
from rollergen.shape.outline import Floats
from rollergen.shape.touching import Touch, touch
from rollergen.shape.touching_corners import fan
from rollergen.shape.touching_mate import Pair, States, Wedge, closing, picked, states_of, wedge_of

CLOSES = 1e-9  # mm per rad: less is rounding of a pair that runs level
ZOOM_SAMPLES = 9
ZOOMS = 20  # each narrows four times; where a ball just leaves the mate the angle goes with the square root


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Least:
    """The easiest state of each ball (n,): half angle (rad, inf where nothing seizes) and where it is.

    ``row`` is the branch, -1 where there is none; ``in_corner`` True when the ball also touches a second
    place of the roller.  ``reach`` is the contact's distance from our axis, ``arm`` the moment arm about
    it (mm, positive), ``lean`` the normal's angle out of the plane, ``phase`` the rotation, ``gamma`` the
    angle at the mate's axis between the line of centres and the ball.
    """

    half: Floats
    row: Ints
    in_corner: Flags
    reach: Floats
    arm: Floats
    lean: Floats
    phase: Floats
    gamma: Floats


def least_of(
    states: States,
    *,
    rising: Flags | bool = False,
    fans: Flags | bool = True,
    nip_only: Flags | bool = False,
    zooms: int = ZOOMS,
) -> Least:
    """The state that needs the least friction among those that close and can be reached, per ball.

    Each switch is one for all or one per ball (n,).  Ribs descending: every state in turn, as the resting
    ball meets body, flank and tip, and pushes by two contacts at once under the next rib (``fans``).
    ``rising``: a rib lifts the ball out of the way, so only body and tip land, which hold still, are left.
    ``nip_only``: body and tip land on either side.

    Validity: the reach rule is supported by simulation, not proved.  Minima between samples are closed
    in on to rounding of the place, its square root where a ball just leaves the mate.
    """
    n = len(states.diameter)
    rising, fans, nip_only = (np.broadcast_to(np.asarray(f), (n,)) for f in (rising, fans, nip_only))
    held = states.contour.branches.concentric
    allowed = states.contour.seen & (held[None, :] | ~(rising | nip_only)[:, None])
    ball, row = np.nonzero(allowed)
    best = _zoomed(
        states,
        ball,
        lambda share, k: _on_outline(states, ball[k], row[k], share),
        rising,
        wedge=_pick(states.wedge, ball, row),
        zooms=zooms,
    )
    chosen = _best_per_ball(n, ball, row, np.zeros(len(ball), dtype=bool), best)
    used = np.flatnonzero((fans & ~rising & ~nip_only)[states.fan_ball])
    if not len(used):
        return chosen
    fan_ball, (here, there) = states.fan_ball[used], states.fan_ends
    best = _zoomed(
        states,
        fan_ball,
        lambda share, k: fan(picked(here, used[k]), picked(there, used[k]), share),
        rising,
        wedge=_take(states.fan_wedge, used),
        zooms=zooms,
    )
    corner = np.ones(len(used), dtype=bool)
    in_fan = _best_per_ball(n, fan_ball, states.fan_row[used], corner, best)
    return _either(chosen, in_fan)


def largest_held(
    pair: Pair,
    half: Floats,
    *,
    rising: Flags | bool = False,
    fans: Flags | bool = True,
    nip_only: Flags | bool = False,
    within: float = 1e-10,
) -> Floats:
    """Largest ball whose easiest state has a half angle up to ``half`` (k,), diameters in mm; 0 if none.

    The switches are those of ``least_of``, one for all or one each (k,).  A scan in steps of 8 per cent
    from the tip gap up, the last crossing closed in on to ``within`` of itself.
    """
    half = np.atleast_1d(np.asarray(half, dtype=np.float64))
    k = len(half)
    rising, fans, nip_only = (np.broadcast_to(np.asarray(f), (k,)) for f in (rising, fans, nip_only))
    scan = _scan(pair)
    zooms = min(ZOOMS, ceil(log(1 / within, 4)) + 3)
    states = states_of(pair, scan)
    seen: dict[tuple[bool, bool, bool], Floats] = {}
    low, high, f_low, f_high = (np.zeros(k) for _ in range(4))
    for i in range(k):
        switches = bool(rising[i]), bool(fans[i]), bool(nip_only[i])
        if switches not in seen:
            r, f, o = switches
            seen[switches] = least_of(states, rising=r, fans=f, nip_only=o, zooms=zooms).half
        over = seen[switches] - half[i]
        holds = np.flatnonzero(over <= 0.0)
        if len(holds):
            last = min(int(holds[-1]), len(scan) - 2)
            low[i], high[i], f_low[i], f_high[i] = scan[last], scan[last + 1], over[last], over[last + 1]
    open_ends = np.flatnonzero(low > 0.0)
    if not len(open_ends):
        return low

    def over_at(d: Floats, rows: Ints) -> Floats:
        at = states_of(pair, d)
        least = least_of(at, rising=rising[rows], fans=fans[rows], nip_only=nip_only[rows], zooms=zooms)
        return least.half - half[rows]

    low[open_ends] = _last_crossing(
        over_at, open_ends, low[open_ends], high[open_ends], f_low[open_ends], f_high[open_ends], within
    )
    return low


def squeeze_before_loss(pair: Pair, diameter: Floats, half: float) -> Floats:
    """How far a descending rib squeezes seized balls (n,) before they slip out (mm).

    Closing summed over the rotations at which a ball is held under the driving flank by a friction of
    tan(``half``).  Real rollers give, so their grip size is where this times the stiffness reaches the
    force that matters.  A ball below the nip size is held by the body at any rotation; that is not
    counted here.  Error: 240 samples a branch, below 1e-3 of the result.
    """
    states = states_of(pair, diameter, samples=240)
    w = states.wedge
    close = closing(w, pair.speed_ratio, False)
    leading = states.contour.seen[..., None] & w.touching & (states.on.delta < 0.0)
    held = leading & (w.half < half) & (close > CLOSES)
    a, b = w.half[..., :-1], w.half[..., 1:]
    near, far = held[..., :-1], held[..., 1:]
    counts = leading[..., :-1] & leading[..., 1:] & (near | far)
    span = np.where(a != b, b - a, 1.0)
    crossing = np.clip((half - a) / span, 0.0, 1.0)
    start, stop = np.where(near, 0.0, crossing), np.where(far, 1.0, crossing)
    c0, c1 = np.maximum(close[..., :-1], 0.0), np.maximum(close[..., 1:], 0.0)
    turn = np.abs(np.diff(w.phase, axis=-1)) * np.maximum(stop - start, 0.0)
    mean = c0 + (c1 - c0) * (start + stop) / 2
    squeezed: Floats = np.where(counts, turn * mean, 0.0).sum(axis=(1, 2))
    return squeezed


def _scan(pair: Pair) -> Floats:
    smallest = max(pair.tip_gap * (1 + 1e-6), 1e-3 * pair.axis_distance)
    largest = 10.0 * pair.axis_distance  # half angle above 80 deg there: no friction holds it
    return np.geomspace(smallest, largest, int(np.ceil(np.log(largest / smallest) / 0.08)) + 1)


def _last_crossing(
    over_at: Callable[[Floats, Ints], Floats],
    rows: Ints,
    low: Floats,
    high: Floats,
    f_low: Floats,
    f_high: Floats,
    within: float,
) -> Floats:
    """Where each function leaves ``<= 0``: false position with halving (Illinois), all at once."""
    low, high, f_low, f_high = low.copy(), high.copy(), f_low.copy(), f_high.copy()
    moved = np.zeros(len(rows))  # which end moved last: -1 low, +1 high
    busy = np.arange(len(rows))
    for turn in range(80):
        a, b, fa, fb = low[busy], high[busy], f_low[busy], f_high[busy]
        straight = np.isfinite(fb) & (fa < fb) & (turn % 6 != 5)
        share = np.where(straight, fa / np.where(straight, fa - fb, 1.0), 0.5)
        at = a + (b - a) * share
        f = over_at(at, rows[busy])
        inside = f <= 0.0
        again = moved[busy] == np.where(inside, -1, 1)
        # an end that stays put twice counts half, so that it moves too
        low[busy], f_low[busy] = np.where(inside, at, a), np.where(inside, f, np.where(again, fa / 2, fa))
        high[busy], f_high[busy] = np.where(inside, b, at), np.where(inside, np.where(again, fb / 2, fb), f)
        moved[busy] = np.where(inside, -1, 1)
        hit = np.abs(f) < 1e-13
        low[busy[hit]] = at[hit]
        busy = busy[~hit & (high[busy] - low[busy] > within * high[busy])]
        if not len(busy):
            break
    return low


def _on_outline(states: States, ball: Ints, row: Ints, share: Floats) -> Touch:
    c = states.contour
    first, last = c.first[ball, row][:, None], c.last[ball, row][:, None]
    spread = first + (last - first) * share
    return touch(c.branches, row[:, None], spread, c.radius[ball][:, None], c.turn_per_mm)


def _zoomed(
    states: States,
    ball: Ints,
    touch_at: Callable[[Floats, Ints], Touch],
    rising: Flags,
    *,
    wedge: Wedge,
    zooms: int,
) -> tuple[Floats, Touch, Wedge]:
    """Least half angle of each curve of states (k, samples) that closes, with the state itself.

    ``touch_at(share, rows)`` gives the touches of some curves at shares (rows, m).
    """
    pair = states.pair
    k, m = wedge.half.shape
    share = np.broadcast_to(np.linspace(0.0, 1.0, m), (k, m))

    def values(w: Wedge, rows: Ints) -> Floats:
        closes = closing(w, pair.speed_ratio, rising[ball[rows]][:, None]) > CLOSES
        return np.where(w.touching & closes, w.half, inf)

    every = np.arange(k)
    value = values(wedge, every)
    low = value.argmin(axis=1)
    best = value[every, low]
    at = share[every, low]
    between = np.isfinite(best) & (low > 0) & (low < m - 1) & (np.ptp(wedge.half, axis=1) > 1e-14)
    # an end that does not close, next to one that does: the border lies between
    between |= np.isfinite(best) & ~np.isfinite(value).all(axis=1) & (np.ptp(wedge.half, axis=1) > 1e-14)
    todo = np.flatnonzero(between)
    if len(todo):
        step = 1.0 / (m - 1)
        left, right = np.maximum(at[todo] - step, 0.0), np.minimum(at[todo] + step, 1.0)
        inner = np.linspace(0.0, 1.0, ZOOM_SAMPLES)
        radius = states.contour.radius[ball[todo]][:, None]
        rows = np.arange(len(todo))
        for _ in range(zooms):
            s = left[:, None] + (right - left)[:, None] * inner
            v = values(wedge_of(pair, touch_at(s, todo), radius), todo)
            low = v.argmin(axis=1)
            better = v[rows, low] < best[todo]
            best[todo] = np.where(better, v[rows, low], best[todo])
            at[todo] = np.where(better, s[rows, low], at[todo])
            step = (right - left) / (ZOOM_SAMPLES - 1)
            left, right = np.maximum(at[todo] - step, 0.0), np.minimum(at[todo] + step, 1.0)
    t = touch_at(at[:, None], every)
    w = wedge_of(pair, t, states.contour.radius[ball][:, None])
    return best, t, w


def _best_per_ball(n: int, ball: Ints, row: Ints, corner: Flags, found: tuple[Floats, Touch, Wedge]) -> Least:
    """The best of all curves that belong to one ball, for every ball."""
    best, t, w = found
    half = np.full(n, inf)
    pick = np.full(n, -1, dtype=np.int64)
    order = np.lexsort((best, ball))
    lead = np.flatnonzero(np.diff(ball[order], prepend=-1))
    pick[ball[order][lead]] = order[lead]
    have = (pick >= 0) & np.isfinite(np.append(best, inf)[pick])
    half[have] = best[pick[have]]

    def of(values: Floats) -> Floats:
        out = np.full(n, np.nan)
        out[have] = values[pick[have], 0]
        return out

    rows = np.full(n, -1, dtype=np.int64)
    rows[have] = row[pick[have]]
    cornered = np.zeros(n, dtype=bool)
    cornered[have] = corner[pick[have]]
    return Least(
        half=half,
        row=rows,
        in_corner=cornered,
        reach=of(t.reach),
        arm=np.abs(of(w.arm)),
        lean=of(np.broadcast_to(t.lean, t.rho.shape)),
        phase=of(w.phase),
        gamma=of(w.gamma),
    )


def _either(a: Least, b: Least) -> Least:
    first = a.half < b.half - 1e-9  # a corner is named rather than the state on the outline that ends in it
    return Least(
        **{name: np.where(first, getattr(a, name), getattr(b, name)) for name in Least.__dataclass_fields__}
    )


def _take(w: Wedge, rows: Ints) -> Wedge:
    return Wedge(**{name: getattr(w, name)[rows] for name in Wedge.__dataclass_fields__})


def _pick(w: Wedge, ball: Ints, row: Ints) -> Wedge:
    return Wedge(**{name: getattr(w, name)[ball, row] for name in Wedge.__dataclass_fields__})
