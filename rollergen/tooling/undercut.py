"""How deep a part hooks behind mould parts that are drawn straight outwards, closed form on the section.

A mould part spans a sector at every height and leaves along one direction e.  Going round the curve from e towards
the parting, the distance s across the pull must grow; where it falls back, the rubber outside has to give way by
the greatest s before less the s here.  s turns round only where the normal is square to e, so on every arc there is
one such point at most, and the depth needs those points and the cut at the parting.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import atan2, ceil, cos, lcm, pi, sin, tau

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.outline import Arc, Floats, Line, Outline, mirrored_edges
from rollergen.tooling.release_section import Lean, lean_of, nu_at, wrapped

FEW = 13  # tries in every narrowing
DOWN_THE_FLANK = (0.03, 0.12, 0.25)  # where a flank may be cut by the parting and hook least
GRID = 96  # places of a pull over a rib's step, for where the planes go
PHASE = pi / 90  # between directions of pull tried, the best then narrowed down
NARROWER = 3  # times
NO_DEPTH = 1e-9  # mm
SHARP = 1e-7  # rad between two normals that make a corner
SEEN = 1e-4  # mm of undercut that counts as one where it is sampled
SHARE_PHASES = 32  # directions of pull the share is averaged over
RIM = 600  # samples round the curve for the share
FINE = 720  # samples of a step its length is taken from


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """An outline that goes once round the axis, as arrays: corners by polar angle, and where s can turn round.

    ``polar`` rises through the edges from ``polar[0]``; edge rows follow it.  ``turn_*``: arcs, and sharp corners
    as arcs of radius 0, with the normal angle where they begin, how far it runs, and the polar angles they lie
    in (middle and half width).
    """

    polar: Floats
    is_arc: NDArray[np.bool_]
    centre: Floats
    radius: Floats
    side: Floats
    nu: Floats
    away: Floats
    turn_centre: Floats
    turn_radius: Floats
    turn_side: Floats
    turn_from: Floats
    turn_over: Floats
    turn_polar: Floats
    turn_half: Floats


def curve_of(outline: Outline) -> Curve:
    """Lay the outline out.  Raises ValueError where it does not go round the axis without turning back."""
    edges = outline.edges
    if lean_of(outline).greatest >= pi / 2:
        raise ValueError("the curve turns back as seen from the axis")
    first = atan2(edges[0].start[1], edges[0].start[0])
    polar = [first]
    for edge in edges[:-1]:
        polar.append(polar[-1] + (atan2(edge.end[1], edge.end[0]) - polar[-1]) % tau)
    if len(edges) == 1 and not isinstance(edges[0], Arc):
        raise ValueError("one line is no closed curve")
    turns = _turns(outline)
    table = np.array(turns, dtype=np.float64).reshape(-1, 7)
    centres = [e.centre if isinstance(e, Arc) else (0.0, 0.0) for e in edges]
    nus = [nu_at(e, 0.0) for e in edges]
    return Curve(
        polar=np.array(polar),
        is_arc=np.array([isinstance(e, Arc) for e in edges]),
        centre=np.array(centres),
        radius=np.array([e.radius if isinstance(e, Arc) else 0.0 for e in edges]),
        side=np.array([1.0 if isinstance(e, Line) or e.sweep > 0 else -1.0 for e in edges]),
        nu=np.array(nus),
        away=np.array(
            [e.start[0] * cos(nu) + e.start[1] * sin(nu) for e, nu in zip(edges, nus, strict=True)]
        ),
        turn_centre=table[:, :2],
        turn_radius=table[:, 2],
        turn_side=np.where(table[:, 4] > 0, 1.0, -1.0),
        turn_from=table[:, 3],
        turn_over=np.abs(table[:, 4]),
        turn_polar=table[:, 5],
        turn_half=table[:, 6],
    )


def _turns(outline: Outline) -> list[tuple[float, ...]]:
    """(centre x, y, radius, normal angle, how far it runs, middle and half width in polar angle) in travel order."""
    found: list[tuple[float, ...]] = []
    edges = outline.edges
    for before, edge in zip((edges[-1], *edges[:-1]), edges, strict=True):
        nu = nu_at(before, 1.0)
        jump = wrapped(nu_at(edge, 0.0) - nu)
        begin = atan2(edge.start[1], edge.start[0])
        if abs(jump) > SHARP:
            found.append((*edge.start, 0.0, nu, jump, begin, 0.0))
        if isinstance(edge, Arc):
            over = (atan2(edge.end[1], edge.end[0]) - begin) % tau if len(edges) > 1 else tau
            found.append(
                (*edge.centre, edge.radius, nu_at(edge, 0.0), edge.sweep, begin + over / 2, over / 2)
            )
    return found


def radius_at(curve: Curve, polar: Floats) -> Floats:
    """Distance of the curve from the axis at polar angles (rad), any shape, exact (mm)."""
    polar = np.asarray(polar, dtype=np.float64)
    within = curve.polar[0] + (polar - curve.polar[0]) % tau
    row = np.searchsorted(curve.polar, within, side="right") - 1
    c, s = np.cos(polar), np.sin(polar)
    centre = curve.centre[row]
    along, off = centre[..., 0] * c + centre[..., 1] * s, centre[..., 1] * c - centre[..., 0] * s
    arc = along + curve.side[row] * np.sqrt(np.maximum(curve.radius[row] ** 2 - off**2, 0.0))
    slope = np.where(curve.is_arc[row], 1.0, np.cos(polar - curve.nu[row]))
    found: Floats = np.where(curve.is_arc[row], arc, curve.away[row] / slope)
    return found


def hook_depth(curve: Curve, pull: Floats, width: Floats) -> Floats:
    """Depth by which the curve from direction ``pull`` counter-clockwise over ``width`` (rad) hooks, (n,), mm."""
    pull, width = np.broadcast_arrays(np.asarray(pull, float), np.asarray(width, float))
    row, middle = _met(curve, float(pull.min()), float(pull.max() + width.max()))
    square = pull[:, None] + pi / 2  # the normal where s turns round
    side = curve.turn_side[row]
    run = side * (square - curve.turn_from[row]) % tau
    c, s = np.cos(square), np.sin(square)
    reach = side * curve.turn_radius[row]
    x, y = curve.turn_centre[row, 0] + reach * c, curve.turn_centre[row, 1] + reach * s
    beta = middle + (np.arctan2(y, x) - middle + pi) % tau - pi - pull[:, None]
    within = (run <= curve.turn_over[row]) & (beta >= 0) & (beta <= width[:, None])
    across = c * x + s * y
    highest = np.maximum.accumulate(np.where(within, across, 0.0), axis=1)
    fallen = np.where(within, highest - across, 0.0).max(axis=1, initial=0.0)
    cut = radius_at(curve, pull + width) * np.sin(width)
    found: Floats = np.maximum(fallen, highest.max(axis=1, initial=0.0) - cut)
    return np.where(found < NO_DEPTH, 0.0, found)


def _met(curve: Curve, low: float, high: float) -> tuple[NDArray[np.int64], Floats]:
    """Turns met between two polar angles in their order, and the polar angle each lies about."""
    end = (curve.turn_polar + curve.turn_half - low) % tau
    order = np.argsort(end, kind="stable")
    begin = end[order] - 2 * curve.turn_half[order]
    laps = range(int((high - low) // tau) + 2)
    rows = [order[begin + lap * tau <= high - low] for lap in laps]
    row = np.concatenate(rows)
    lap_of = np.repeat(np.array(laps, dtype=np.float64), [len(r) for r in rows])
    return row, low + end[row] - curve.turn_half[row] + lap_of * tau


def deepest(curve: Curve, width: Floats, low: Floats, high: Floats, step: float) -> Floats:
    """Greatest depth over ``width`` ahead of any pull from ``low`` to ``high`` (rad), (n,) each, mm.

    The curve repeats after ``step``.  Tried every ``PHASE``, and where the end or the middle of an edge lies at the
    parting, for there the depth has its corners; then narrowed down about the best.
    """
    shift = step * np.floor(low / step)
    first, last = low - shift, high - shift
    begin = np.append(curve.polar, curve.polar[0] + tau)[: len(curve.polar) // round(tau / step) + 1]
    over, line = np.diff(begin), ~curve.is_arc[: len(begin) - 1]
    tops = [begin[:-1][line] + share * over[line] for share in DOWN_THE_FLANK]
    kinks = np.concatenate([begin[:-1], begin[:-1] + over / 2, *tops]) - width[:, None]
    kinks = first[:, None] + np.minimum((kinks - first[:, None]) % step, (last - first)[:, None])
    tries = ceil(float((last - first).max()) / PHASE) + 1
    pulls = np.hstack([first[:, None] + (last - first)[:, None] * np.linspace(0.0, 1.0, tries), kinks])
    cell = (last - first) / max(1, tries - 1)
    best = np.zeros(len(width))
    for _ in range(NARROWER):
        depth = hook_depth(curve, pulls.ravel(), np.repeat(width, pulls.shape[1])).reshape(pulls.shape)
        best = np.maximum(best, depth.max(axis=1))
        if not best.any() or not cell.any():
            break
        top = pulls[np.arange(len(pulls)), depth.argmax(axis=1)]
        left, right = np.maximum(first, top - cell), np.minimum(last, top + cell)
        pulls = left[:, None] + (right - left)[:, None] * np.linspace(0.0, 1.0, FEW)
        cell = (right - left) / (FEW - 1)
    return best


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """A split into equal parts by planes through the axis: the first plane's angle at z = 0 and how it hooks.

    ``skew``: turn of each pull off the middle of its part.  rad and mm.
    """

    parts: int
    first: float
    skew: float
    depth: float


def cuts_of(
    curves: tuple[Curve, Curve],
    counts: Sequence[int],
    *,
    lean: Lean,
    step: float,
    turns: tuple[float, float],
    first: float,
) -> tuple[Cut, ...]:
    """The least depth of a split into each of ``counts`` parts, over every place of the parting.

    ``curves``: the outline and its mirror image, ``lean`` of it.  ``turns``: (least, greatest) angle of the section
    over the length; ``step``: from rib to rib; ``first``: a rib's centre.
    Once twist and parts between them sweep a whole step every place is alike.
    """
    skews = {parts: skew_of(lean, parts) for parts in counts}
    loose = [parts for parts in counts if not sweeps(parts, step, turns)]
    places = dict.fromkeys(counts, first)
    places |= _best_places(curves, loose, skews, step, turns, first) if loose else {}
    spans = [(parts, 0.0, step) for parts in counts if parts not in loose] + [
        (parts, pull - turns[1], pull - turns[0])
        for parts in loose
        for pull in pulls_of(parts, step, places[parts], skews[parts])
    ]
    width = np.array([pi / parts for parts, _, _ in spans])
    skew = np.array([skews[parts] for parts, _, _ in spans])
    low, high = np.array([s[1] for s in spans]), np.array([s[2] for s in spans])
    depth = np.maximum(
        deepest(curves[0], width - skew, low, high, step), deepest(curves[1], width + skew, -high, -low, step)
    )
    owner = np.array([parts for parts, _, _ in spans])
    worst = {parts: float(depth[owner == parts].max()) for parts in counts}
    return tuple(
        Cut(parts=parts, first=places[parts], skew=skews[parts], depth=worst[parts]) for parts in counts
    )


def sweeps(parts: int, step: float, turns: tuple[float, float]) -> bool:
    """True once the parts between them meet the ribs in every way: the twist covers what lies between their pulls."""
    return turns[1] - turns[0] >= tau / lcm(round(tau / step), parts)


def pulls_of(parts: int, step: float, first: float, skew: float) -> list[float]:
    """Pulls of the parts at z = 0 that meet the ribs differently: they repeat after a rib's step (rad)."""
    ribs = round(tau / step)
    apart = tau / lcm(ribs, parts)
    return [first + pi / parts + skew + number * apart for number in range(lcm(ribs, parts) // ribs)]


def _best_places(
    curves: tuple[Curve, Curve],
    counts: Sequence[int],
    skews: Mapping[int, float],
    step: float,
    turns: tuple[float, float],
    first: float,
) -> dict[int, float]:
    """Where to put the first plane for each number of parts: the depth over a grid of pulls, all in one go."""
    ribs = round(tau / step)
    middle = first + (turns[0] + turns[1]) / 2
    kinds = {parts: lcm(ribs, parts) // ribs for parts in counts}
    sizes = {parts: kinds[parts] * max(2, 2 * round(GRID / kinds[parts] / 2)) for parts in counts}
    # as the section sees them at half length, where it is turned by the mean of its turns
    grids = {
        parts: first + pi / parts + skews[parts] + step / sizes[parts] * np.arange(sizes[parts])
        for parts in counts
    }
    pulls = np.concatenate([grids[parts] for parts in counts])
    half = np.concatenate([np.full(sizes[parts], pi / parts) for parts in counts])
    skew = np.concatenate([np.full(sizes[parts], skews[parts]) for parts in counts])
    there = pulls % step
    depth = np.maximum(
        hook_depth(curves[0], there, half - skew), hook_depth(curves[1], step - there, half + skew)
    )
    found, begin = {}, 0
    for parts in counts:
        size, kind = sizes[parts], kinds[parts]
        own, begin = depth[begin : begin + size], begin + size
        cell = step / size
        half_window = ceil((turns[1] - turns[0]) / 2 / cell - 1e-9)
        shifts = np.arange(-half_window, half_window + 1)
        worst = own[(np.arange(size)[:, None] - shifts) % size].max(axis=1)
        by_place = worst.reshape(kind, size // kind).max(axis=0)
        # among equals the one with the best neighbours: the middle of what is free, not its edge
        about = np.roll(by_place, 1) + np.roll(by_place, -1)
        place = int(np.lexsort((about, by_place))[0])
        found[parts] = middle + cell * place
    return found


def share_hooking(rim: Floats, width: float, pulls: Floats) -> float:
    """Share of the curve, sampled as ``rim_of`` does, that hooks over ``width`` ahead of the pulls, per full turn.

    ``rim``: rows (polar angle, distance, length) over two turns.
    """
    low, high = np.searchsorted(rim[:, 0], (pulls.min(), pulls.max() + width))
    rows = rim[low : high + 1]
    beta = rows[:, 0] - pulls[:, None]
    within = (beta >= 0) & (beta <= width)
    across = np.where(within, rows[:, 1] * np.sin(beta), 0.0)
    hooks = within & (np.maximum.accumulate(across, axis=1) - across > SEEN)
    return float((hooks * rows[:, 2]).sum(axis=1).mean())


def rim_of(curve: Curve, step: float) -> Floats:
    """The curve sampled evenly in length over two turns from angle 0: (polar angle, distance, share of a turn)."""
    count = round(tau / step)
    fine = np.linspace(0.0, step, FINE + 1)
    radius = radius_at(curve, fine)
    x, y = radius * np.cos(fine), radius * np.sin(fine)
    length = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    samples = max(24, RIM // count)
    polar = np.interp((np.arange(samples) + 0.5) / samples * length[-1], length, fine)
    polar = (polar + step * np.arange(2 * count)[:, None]).ravel()
    return np.stack([polar, radius_at(curve, polar), np.full(len(polar), 1 / (samples * count))], axis=1)


def share_of_parts(
    rims: tuple[Floats, Floats], cut: Cut, *, step: float, turns: tuple[float, float]
) -> float:
    """Share of the surface that hooks when it is split like this, sampled."""
    if sweeps(cut.parts, step, turns):
        low, over = np.zeros(1), step
    else:
        low, over = np.array(pulls_of(cut.parts, step, cut.first, cut.skew)) - turns[1], turns[1] - turns[0]
    each = max(2, ceil(SHARE_PHASES / len(low)))
    pulls = (low[:, None] + over * (np.arange(each) + 0.5) / each).ravel()
    ahead = share_hooking(rims[0], pi / cut.parts - cut.skew, pulls % tau)
    behind = share_hooking(rims[1], pi / cut.parts + cut.skew, -pulls % tau)
    return cut.parts * (ahead + behind)


def mirrored_curves(outline: Outline) -> tuple[Curve, Curve]:
    """The outline and its mirror image in the x axis, for ``deepest``."""
    return curve_of(outline), curve_of(Outline(mirrored_edges(outline.edges)))


def skew_of(lean: Lean, parts: int) -> float:
    """Turn of the pull off a part's middle that frees both kinds of flank alike (rad); 0 for like flanks.

    Never out of the part itself, which loses nothing: from the parting on, that flank is free at any gamma.
    """
    half = pi / parts
    return max(-half, min(half, (lean.ahead - lean.behind) / 2))
