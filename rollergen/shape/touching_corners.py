"""All places where a ball touches a roller: which parts of the outline it reaches, and where it sits in corners.

Seen from the axis, the centres of touching balls form one closed curve: at every angle the outermost of
all branches.  Where two branches cross, the ball touches the roller in two places at once: a corner.
Each corner is solved to rounding, cuts both branches, hides what lies between, and carries a fan: the
directions a push by both contacts together can have.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rollergen.shape.distance import Flags, Ints
from rollergen.shape.outline import Floats
from rollergen.shape.touching import Branches, Touch, touch

SAMPLES = 12  # per branch, to find what crosses what; the crossing itself is then solved
GUESSES = 1  # rounds of closing in before Newton
NEWTON_STEPS = 12  # each squares the error; it stops as soon as both centres are one
STEP = 1e-6  # share, for the slopes of a Newton step
ON_TOP = 1e-5  # share of the ball's radius a crossing may lie below another branch and still count


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contour:
    """Every touch of balls of ``radius`` (n,) with one rib period of a roller.

    ``first`` and ``last`` (n, branches): the share of each branch the ball reaches; ``seen`` whether it
    reaches any.  ``corner`` marks a corner at the end of a branch; ``next_row`` and ``next_share`` are
    the branch and the share touched at the same time there.
    """

    branches: Branches
    turn_per_mm: float
    radius: Floats
    first: Floats
    last: Floats
    seen: Flags
    corner: Flags
    next_row: Ints
    next_share: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sampled:
    branches: Branches
    turn_per_mm: float
    radius: Floats
    share: Floats  # (samples,)
    rho: Floats  # (n, branches, samples)
    theta: Floats
    low: Ints  # (n, branches): first and last sample of the part that runs forward
    high: Ints
    alive: Flags


def contour_of(branches: Branches, radius: Floats, turn_per_mm: float = 0.0) -> Contour:
    """The contour for balls of ``radius`` (n,), mm. ``turn_per_mm`` rad per mm, 0 for straight ribs."""
    radius = np.atleast_1d(np.asarray(radius, dtype=np.float64))
    sampled = _sample(branches, radius, turn_per_mm)
    n, nb = len(radius), len(branches)
    first, last = sampled.share[sampled.low], sampled.share[sampled.high]
    seen = sampled.alive.copy()
    corner = np.zeros((n, nb), dtype=bool)
    next_row = np.zeros((n, nb), dtype=np.int64)
    next_share = np.zeros((n, nb))
    ball, left, right, share, shift = _corners(sampled)
    for b, i, j, (at_i, at_j), wraps in zip(ball, left, right, share, shift, strict=True):
        last[b, i] = min(last[b, i], at_i)
        first[b, j] = max(first[b, j], at_j)
        corner[b, i], next_row[b, i], next_share[b, i] = True, j, at_j
        between = np.arange(i + 1, j + (nb if wraps else 0)) % nb
        seen[b, between] = False
    seen &= last >= first
    return Contour(
        branches=branches,
        turn_per_mm=turn_per_mm,
        radius=radius,
        first=first,
        last=last,
        seen=seen,
        corner=corner & seen,
        next_row=next_row,
        next_share=next_share,
    )


def touches_along(contour: Contour, samples: int) -> Touch:
    """Touches on every branch from its first to its last reached place, arrays (n, branches, samples + 1)."""
    share = np.linspace(0.0, 1.0, samples + 1)
    spread = contour.first[..., None] + (contour.last - contour.first)[..., None] * share
    rows = np.arange(len(contour.branches))[None, :, None]
    return touch(contour.branches, rows, spread, contour.radius[:, None, None], contour.turn_per_mm)


def corner_ends(contour: Contour, ball: Ints, row: Ints) -> tuple[Touch, Touch]:
    """The two touches of a corner at the end of branch ``row`` for ``ball``: on it and on the next (k,)."""
    radius = contour.radius[ball]
    here = touch(contour.branches, row, contour.last[ball, row], radius, contour.turn_per_mm)
    there = touch(
        contour.branches,
        contour.next_row[ball, row],
        contour.next_share[ball, row],
        radius,
        contour.turn_per_mm,
    )
    return here, there


def fan(here: Touch, there: Touch, share: Floats) -> Touch:
    """Touches between both contacts of a corner: same centre, push turned ``share`` of the way (k, m).

    The direction runs along the shortest arc between both normals; with straight ribs that is a plain
    turn in the plane.  ``reach`` runs along with it.
    """
    a = _direction(here)
    b = _direction(there)
    angle = np.arccos(np.clip((a * b).sum(axis=-1), -1.0, 1.0))[:, None]
    wide = angle > 1e-9
    sine = np.where(wide, np.sin(angle), 1.0)
    weight_a = np.where(wide, np.sin((1.0 - share) * angle) / sine, 1.0 - share)
    weight_b = np.where(wide, np.sin(share * angle) / sine, share)
    v = weight_a[..., None] * a[:, None, :] + weight_b[..., None] * b[:, None, :]
    shape = weight_a.shape
    return Touch(
        rho=np.broadcast_to(here.rho[:, None], shape),
        theta=np.broadcast_to(here.theta[:, None], shape),
        delta=np.arctan2(v[..., 1], v[..., 0]),
        lean=np.arcsin(np.clip(v[..., 2], -1.0, 1.0)),
        reach=here.reach[:, None] + share * (there.reach - here.reach)[:, None],
    )


def _direction(t: Touch) -> Floats:
    flat = np.cos(t.lean)
    return np.stack([flat * np.cos(t.delta), flat * np.sin(t.delta), np.sin(t.lean)], axis=-1)


def _sample(branches: Branches, radius: Floats, turn_per_mm: float) -> _Sampled:
    share = np.linspace(0.0, 1.0, SAMPLES + 1)
    rows = np.arange(len(branches))[None, :, None]
    t = touch(branches, rows, share, radius[:, None, None], turn_per_mm)
    # a ball larger than a hollow it should touch runs backwards there: it never gets in
    forward = t.theta[..., 1:] > t.theta[..., :-1]
    low = forward.argmax(axis=-1)
    high = SAMPLES - forward[..., ::-1].argmax(axis=-1)
    return _Sampled(
        branches=branches,
        turn_per_mm=turn_per_mm,
        radius=radius,
        share=share,
        rho=t.rho,
        theta=t.theta,
        low=low,
        high=high,
        alive=np.asarray(forward.any(axis=-1)),
    )


def _corners(sampled: _Sampled) -> tuple[Ints, Ints, Ints, Floats, Flags]:
    """All corners: ball, branch before, branch after, both shares (k, 2), does the pair span the period."""
    nb, period = len(sampled.branches), sampled.branches.period
    i = np.repeat(np.arange(nb), nb - 1)
    step = np.tile(np.arange(1, nb), nb)
    j, wraps = (i + step) % nb, i + step >= nb
    shift = np.where(wraps, period, 0.0)
    start = np.take_along_axis(sampled.theta, sampled.low[..., None], axis=2)[..., 0]
    end = np.take_along_axis(sampled.theta, sampled.high[..., None], axis=2)[..., 0]
    lo = np.maximum(start[:, i], start[:, j] + shift)
    hi = np.minimum(end[:, i], end[:, j] + shift)
    ball, pair = np.nonzero((hi - lo > 1e-12) & sampled.alive[:, i] & sampled.alive[:, j])
    left, right, moved = i[pair], j[pair], shift[pair]
    lo, hi = lo[ball, pair], hi[ball, pair]

    def above(rows: Ints | slice, at: Floats) -> Floats:
        b, m = ball[rows], moved[rows]
        return _rho_at(sampled, b, left[rows], at)[0] - _rho_at(sampled, b, right[rows], at - m)[0]

    everything = slice(None)
    g_lo, g_hi = above(everything, lo), above(everything, hi)
    kept = np.flatnonzero((g_lo > 0.0) & (g_hi < 0.0))
    lo, hi, g_lo, g_hi = lo[kept], hi[kept], g_lo[kept], g_hi[kept]
    for _ in range(GUESSES):  # false position, then halving, in turn
        middle = lo + (hi - lo) * g_lo / (g_lo - g_hi)
        for at in (middle, None):
            at = (lo + hi) / 2 if at is None else at
            g = above(kept, at)
            up = g > 0.0
            lo, g_lo = np.where(up, at, lo), np.where(up, g, g_lo)
            hi, g_hi = np.where(up, hi, at), np.where(up, g_hi, g)
    ball, left, right, moved, wraps = ball[kept], left[kept], right[kept], moved[kept], wraps[pair][kept]
    at = lo + (hi - lo) * g_lo / np.where(g_lo > g_hi, g_lo - g_hi, 1.0)
    share = np.stack(
        [_rho_at(sampled, ball, left, at)[1], _rho_at(sampled, ball, right, at - moved)[1]], axis=1
    )
    share, at, height, settled = _solved(sampled, ball, left, right, moved, share)
    good = settled & _on_top(sampled, ball, left, right, moved, at, height)
    return ball[good], left[good], right[good], share[good], wraps[good]


def _rho_at(sampled: _Sampled, ball: Ints, row: Ints, theta: Floats) -> tuple[Floats, Floats]:
    """(rho, share) of a branch at ``theta``; second order exact: sampled place, then along its slope."""
    if not len(ball):
        return np.zeros(0), np.zeros(0)
    line = sampled.theta[ball, row]
    seat = (line <= theta[:, None]).sum(axis=1) - 1
    seat = np.clip(seat, sampled.low[ball, row], sampled.high[ball, row] - 1)
    t0, t1 = sampled.theta[ball, row, seat], sampled.theta[ball, row, seat + 1]
    run = np.where(t1 > t0, t1 - t0, 1.0)
    share = sampled.share[seat] + (theta - t0) / run / SAMPLES
    t = touch(sampled.branches, row, share, sampled.radius[ball], sampled.turn_per_mm)
    slope = (sampled.rho[ball, row, seat + 1] - sampled.rho[ball, row, seat]) / run
    return t.rho + slope * (theta - t.theta), share


def _solved(
    sampled: _Sampled, ball: Ints, left: Ints, right: Ints, moved: Floats, share: Floats
) -> tuple[Floats, Floats, Floats, Flags]:
    """Newton on both shares until both centres are one; (shares, theta, rho, did it settle)."""
    radius, kappa = sampled.radius[ball], sampled.turn_per_mm

    both = np.concatenate([left, right])
    rows, balls = np.concatenate([both, both]), np.tile(radius, 4)
    k = len(left)
    a, b = share[:, 0], share[:, 1]
    for step in range(NEWTON_STEPS):
        t = touch(sampled.branches, rows, np.concatenate([a, b, a + STEP, b + STEP]), balls, kappa)
        (ra, rb, ra1, rb1), (ta, tb, ta1, tb1) = t.rho.reshape(4, k), t.theta.reshape(4, k)
        f, g = ra - rb, ta - tb - moved
        apart = np.hypot(f, ra * g)
        if step == NEWTON_STEPS - 1 or (apart < 1e-12 * (1.0 + radius)).all():
            break
        fa, fb, ga, gb = (ra1 - ra) / STEP, (rb1 - rb) / STEP, (ta1 - ta) / STEP, (tb1 - tb) / STEP
        det = fb * ga - fa * gb
        det = np.where(np.abs(det) > 1e-300, det, 1e-300)
        a = np.clip(a + (f * gb - g * fb) / det, -0.5, 1.5)
        b = np.clip(b + (f * ga - g * fa) / det, -0.5, 1.5)
    settled = apart < 1e-8 * (1.0 + radius)
    slack = 1e-9
    settled &= (np.minimum(a, b) > -slack) & (np.maximum(a, b) < 1.0 + slack)
    return np.stack([np.clip(a, 0.0, 1.0), np.clip(b, 0.0, 1.0)], axis=1), ta, ra, settled


def _on_top(
    sampled: _Sampled, ball: Ints, left: Ints, right: Ints, moved: Floats, at: Floats, height: Floats
) -> Flags:
    """Which crossings no other branch (of this period or a neighbour's) reaches over."""
    nb, period = len(sampled.branches), sampled.branches.period
    start = np.take_along_axis(sampled.theta, sampled.low[..., None], axis=2)[..., 0][ball]
    end = np.take_along_axis(sampled.theta, sampled.high[..., None], axis=2)[..., 0][ball]
    clear = np.ones(len(ball), dtype=bool)
    for lap in (-1, 0, 1):
        theta = at - lap * period
        inside = (start < theta[:, None]) & (theta[:, None] < end) & sampled.alive[ball]
        inside[np.arange(len(ball)), left] &= lap != 0
        inside[np.arange(len(ball)), right] &= (moved > 0.0) != (lap == 1)
        k, row = np.nonzero(inside & (np.arange(nb) >= 0))
        rho, _ = _rho_at(sampled, ball[k], row, theta[k])
        over = rho > height[k] + ON_TOP * (1.0 + sampled.radius[ball[k]])
        clear[k[over]] = False
    return clear
