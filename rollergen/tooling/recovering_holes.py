"""Bore and chambers of an unknown segment: each kind is fitted, and the one that lies closest is taken."""

from __future__ import annotations

from math import pi, tau
from typing import Any

import numpy as np

from rollergen.shape.distance import Ints
from rollergen.shape.outline import Floats
from rollergen.spec.profile import Profile
from rollergen.tooling.recovering_start import ChamberGuess, Levels, RibGuess, bore_phase
from rollergen.tooling.scan import every_nth
from rollergen.tooling.scan_surfaces import Look
from rollergen.tooling.section_fit import (
    NOT_MOVED,
    ChamberShape,
    Measured,
    bore_profile,
    fit_bore,
    fit_chambers,
    look_bore,
    look_chambers,
)

POINTS = 6000
CAP = 1.0  # mm


def cost_of(look: Look | None) -> float:
    """Mean distance of the points from a fitted surface, each capped at 1 mm (mm); what cannot be drawn costs the cap."""
    return CAP if look is None else float(np.minimum(np.abs(look.deviation), CAP).mean())


def turned(q: Floats, angle: float) -> Floats:
    c, s = np.cos(angle), np.sin(angle)
    found: Floats = np.column_stack([c * q[:, 0] - s * q[:, 1], s * q[:, 0] + c * q[:, 1], q[:, 2]])
    return found


def place_turned(value: dict[str, float], angle: float) -> dict[str, float]:
    """Fitted values of a bore in a frame with its flat, or key, on +x: shift and tilt turned by ``angle``."""
    c, s = np.cos(angle), np.sin(angle)
    moved = {"turn": 0.0}
    for x, y in (("x", "y"), ("tilt_x", "tilt_y")):
        moved |= {x: c * value[x] - s * value[y], y: s * value[x] + c * value[y]}
    return {**value, **moved}


def _inner_rows(q: Floats, n: Floats, length: float, low: float, high: float) -> Ints:
    r = np.hypot(q[:, 0], q[:, 1])
    mine = (r > low) & (r < high) & (np.abs(n[:, 2]) < 0.5)
    found: Ints = np.flatnonzero(mine & (q[:, 2] > 3.0) & (q[:, 2] < length - 3.0))
    return found


def bore_fitted(
    q: Floats, n: Floats, weights: Floats, profile: Profile, levels: Levels, length: float
) -> tuple[str, Measured, Profile, float] | None:
    """(kind, fit, profile with that bore, angle of its datum) by the kind that fits best; the simplest of equals."""
    if not levels.bore_seen:
        return None
    rows = _inner_rows(q, n, length, 0.0, levels.outer if levels.split is None else levels.split)
    if len(rows) < 100:
        return None
    rows = rows[every_nth(weights[rows], POINTS // 2)]
    p = q[rows]
    r = np.hypot(p[:, 0], p[:, 1])
    flat = float(np.percentile(r, 2))
    best: tuple[float, str, Measured, Profile, float] | None = None
    for kind, sides in (("round", 0), ("hexagon", 6), ("square", 4), ("keyed", 0)):
        shape, datum = _bore_start(profile, kind, sides, p, r, flat)
        if (
            shape is None
            or look_bore(p[:1], shape, {**NOT_MOVED, "width": shape.bore.width, **_key_of(shape)}) is None
        ):
            continue
        m = fit_bore(turned(p, -datum), shape, loose=2.0)
        cost = cost_of(look_bore(turned(p, -datum), shape, m.value))
        if best is None or cost < 0.8 * best[0]:
            best = (cost, kind, m, shape, datum)
    if best is None:
        return None
    cost, kind, m, shape, datum = best
    return kind, m, bore_profile(shape, m.value), datum + m.value.get("turn", 0.0)


def best_flat(kind: str, datum: float, web: tuple[float, int] | None, guess: RibGuess | None) -> float:
    """Of the flats that could lie on +x, the one nearest a web, then nearest a rib: the numbers come out simplest."""
    rib = None if guess is None or guess.count is None else (guess.start, guess.count)
    near = [each for each in (web, rib) if each is not None]
    if kind == "round" and near:
        return near[0][0]  # a round bore has no flat: a web, or a rib, is the datum
    sides = {"square": 4, "hexagon": 6}.get(kind)
    if sides is None or not near:
        return datum

    def away(turn: float) -> list[float]:
        steps = [(angle - turn, tau / count) for angle, count in near]
        return [round(abs((off + step / 2) % step - step / 2), 2) for off, step in steps]

    return min((datum + number * tau / sides for number in range(sides)), key=away)


def web_of(guess: ChamberGuess | None) -> tuple[float, int] | None:
    """(angle of a web, how many) where chambers were counted."""
    return None if guess is None or guess.count is None else (guess.middle - pi / guess.count, guess.count)


def _bore_start(
    profile: Profile, kind: str, sides: int, p: Floats, r: Floats, flat: float
) -> tuple[Profile | None, float]:
    change: dict[str, Any] = {"section": kind, "across": 2 * flat, "corner_radius": 0.0}
    datum = 0.0
    if kind == "round":
        change["across"] = 2 * float(np.median(r))
    elif sides:
        change["corner_radius"] = 0.08 * flat
        datum = bore_phase(p, sides)
    else:
        circle = float(np.median(r))
        key = r > circle + 0.8
        if key.sum() < 20 or key.mean() > 0.4:
            return None, 0.0
        datum = float(np.angle(np.exp(1j * np.arctan2(p[key, 1], p[key, 0])).mean()))
        across = np.abs(turned(p[key], -datum)[:, 1])
        width, depth = 2 * float(np.percentile(across, 90)), float(np.percentile(r[key], 95)) - circle
        change |= {"across": 2 * circle, "key_width": width, "key_depth": depth}
        change["corner_radius"] = 0.2 * min(width / 2, depth)  # of the keyway's floor
    return profile.model_copy(update={"bore": profile.bore.model_copy(update=change)}), datum


def _key_of(shape: Profile) -> dict[str, float]:
    bore = shape.bore
    if bore.key_width is None or bore.key_depth is None:
        return {}
    return {"key_width": bore.key_width, "key_depth": bore.key_depth}


def chambers_fitted(
    q: Floats, n: Floats, weights: Floats, guess: ChamberGuess, levels: Levels, length: float
) -> tuple[ChamberShape, Measured] | None:
    """(shape, fit) by the kind of chamber that fits best."""
    assert guess.count is not None and levels.split is not None
    rows = _inner_rows(q, n, length, levels.split, levels.outer)
    if len(rows) < 100:
        return None
    rows = rows[every_nth(weights[rows], POINTS)]
    best: tuple[float, ChamberShape, Measured] | None = None
    start = guess.middle - pi / guess.count
    for section, corner in (("round", 0.0), ("sector", 2.5), ("sector", 5.0), ("sector", 0.8)):
        shape = ChamberShape(
            section=section, count=guess.count, start=start, outer=guess.outer, inner=guess.inner, web=guess.web,
            corner_radius=corner,
        )  # fmt: skip
        if look_chambers(q[rows[:1]], shape, NOT_MOVED, length / 2) is None:
            continue
        m = fit_chambers(q[rows], shape, length / 2, loose=2.0)
        cost = cost_of(look_chambers(q[rows], shape, m.value, length / 2))
        if best is None or cost < 0.8 * best[0]:
            best = (cost, shape, m)
    return None if best is None else (best[1], best[2])
