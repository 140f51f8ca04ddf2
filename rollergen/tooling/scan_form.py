"""How a scanned part lies against its surfaces beyond its sizes: form, offsets, ribs one by one, what was seen."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, tau

import numpy as np

from rollergen.shape.distance import Flags, Ints
from rollergen.shape.outline import Floats
from rollergen.spec.profile import Profile
from rollergen.tooling.scan_ends import EDGE, End
from rollergen.tooling.scan_surfaces import (
    BORE,
    CHAMBER,
    HIGH_END,
    LOW_END,
    OUTER,
    SURFACES,
    Look,
    Ring,
    Surfaces,
    direction_of,
)
from rollergen.tooling.section_fit import Measured

CELLS = 48, 24  # round and along: how finely it is told what share of a surface was seen


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """How the points of one kind of place lie against the nominal surface (mm, + is too much rubber); 95 % of them
    lie between ``lowest_mm`` and ``highest_mm``."""

    place: str
    points: int
    mean_mm: float
    rms_mm: float
    lowest_mm: float
    highest_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """How far one surface's axis is off the body's at either end of the part (mm)."""

    surface: str
    offset_low_mm: float
    offset_high_mm: float
    offset_error_mm: float


def clear_of_edges(q: Floats, kind: Ints, ends: tuple[End | None, End | None], surfaces: Surfaces) -> Flags:
    """Points on sides that no end, chamfer or lead-in reaches."""
    low = 0.0 if ends[0] is None else ends[0].height
    high = surfaces.length if ends[1] is None else ends[1].height
    margin = (
        np.where(kind == OUTER, surfaces.edge_chamfer, np.where(kind == BORE, surfaces.lead_in, 0.0)) + EDGE
    )
    clear: Flags = (q[:, 2] > low + margin) & (q[:, 2] < high - margin)
    return clear


def offsets_of(
    outer: Measured | None, bore: Measured | None, chambers: Measured | None, length: float
) -> tuple[Offset, ...]:
    found = []
    for name, m in (("bore", bore), ("chambers", chambers)):
        if outer is None or m is None:
            continue
        dx, dy = m.value["x"] - outer.value["x"], m.value["y"] - outer.value["y"]
        tx, ty = m.value["tilt_x"] - outer.value["tilt_x"], m.value["tilt_y"] - outer.value["tilt_y"]
        half = length / 2
        each = [np.hypot(m.error[k], outer.error[k]) for k in ("x", "y", "tilt_x", "tilt_y")]
        found.append(
            Offset(
                surface=name,
                offset_low_mm=hypot(dx - half * tx, dy - half * ty),
                offset_high_mm=hypot(dx + half * tx, dy + half * ty),
                offset_error_mm=float(np.hypot(max(each[:2]), half * max(each[2:]))),
            )
        )
    return tuple(found)


def forms_of(kind: Ints, plain: Look, clear: Flags, belongs: Flags, surfaces: Surfaces) -> tuple[Form, ...]:
    found = []
    rings: dict[int, Ring] = dict(surfaces.rings)
    for which, ring in rings.items():
        names = ring.names(plain.edge)
        mine = clear & (kind == which)
        for feature in dict.fromkeys(ring.features):
            place = (
                feature
                if which == OUTER
                else SURFACES[which]
                if feature == SURFACES[which]
                else f"{SURFACES[which]}: {feature}"
            )
            found.append(_form(place, plain.deviation[mine & (names == feature)]))
    for which in (LOW_END, HIGH_END):
        found.append(_form(SURFACES[which], plain.deviation[belongs & (kind == which)]))
    return tuple(form for form in found if form is not None)


def _form(place: str, off: Floats) -> Form | None:
    if len(off) < 10:
        return None
    low, high = np.percentile(off, (2.5, 97.5))
    return Form(
        place=place, points=len(off), mean_mm=float(off.mean()), rms_mm=float(np.sqrt((off * off).mean())),
        lowest_mm=float(low), highest_mm=float(high),
    )  # fmt: skip


def seen_of(q: Floats, kind: Ints, belongs: Flags, surfaces: Surfaces) -> dict[str, float]:
    """Share of each surface with points on it, counted in cells of angle and height."""
    around, along = CELLS
    present = {OUTER, BORE} | ({CHAMBER} if surfaces.chambers is not None else set())
    found = {}
    for which in sorted(present):
        mine = belongs & (kind == which)
        column = direction_of(np.arctan2(q[mine, 1], q[mine, 0]), around)
        row = np.clip(q[mine, 2] / surfaces.length * along, 0, along - 1).astype(np.int64)
        cells = np.bincount(row * around + column, minlength=around * along) > 0
        possible = _possible(which, surfaces, around)
        found[SURFACES[which]] = float(cells.reshape(along, around)[:, possible].mean())
    for which in (LOW_END, HIGH_END):
        mine = belongs & (kind == which)
        column = direction_of(np.arctan2(q[mine, 1], q[mine, 0]), around)
        found[SURFACES[which]] = float((np.bincount(column, minlength=around) > 1).mean())
    return found


def _possible(which: int, surfaces: Surfaces, around: int) -> Flags:
    """Directions in which a surface is there at all: chambers leave out the webs."""
    if which != CHAMBER or surfaces.chambers is None:
        return np.ones(around, dtype=bool)
    angle = (np.arange(around) + 0.5) * tau / around
    step = tau / surfaces.chambers.count
    off = np.abs((angle - surfaces.chambers.start + step / 2) % step - step / 2)
    possible: Flags = off < 0.3 * step
    return possible


def tilt_of(end: End | None, profile: Profile) -> float | None:
    """How far an end is out of square over the body's diameter (mm)."""
    return None if end is None else hypot(end.slope_x, end.slope_y) * profile.body.diameter
