"""What a scan shows of a part that its features as measured do not explain: patches, lumps, holes that are closed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot, tau

import numpy as np

from rollergen.shape.distance import Flags
from rollergen.shape.outline import Floats
from rollergen.shape.properties import area_of, perimeter_of
from rollergen.shape.section import Section
from rollergen.tooling.scan_ends import End, Ends
from rollergen.tooling.scan_foam import IN_HOLE, SQUARELY, mouth_areas
from rollergen.tooling.scan_surfaces import BORE, OUTER, SURFACES, Look, Surfaces, look_at
from rollergen.tooling.section_fit import Measured

ENVELOPE = 2.0  # mm about the part: points beyond are its stand, not the part, unless joined to it
LUMP = 25.0  # mm about the part that something joined to it is followed
LINK = 1.7  # spacings between points that are still one surface
LEAST_LINK = 1.5  # mm
CELL = 4.0  # mm, side of the cells in which strays are gathered
CELL_SPACINGS = 2.6  # and at least so many spacings of the points
LEAST_IN_CELL = 3  # points
FORM_CUT = 1.0  # mm: further off is damage, not form
LEAST_FORM = 0.05  # mm: form below this is left as it is
AT_END = 1.0  # mm about an end's plane
UNSEEN_WALL = 0.02  # share of a hole's wall off the ends below which it is taken for unseen: a few mm of its mouth are more


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """The largest connected place of one surface that fits no feature as measured: its area and its middle."""

    surface: str
    patch_mm2: float
    patch_z_mm: float
    patch_angle_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Covered:
    """Share of the mouths of the bore or of the chambers at one end where the scan shows rubber."""

    end: str
    hole: str
    covered_share: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """Slow change of the radius over a surface, as coefficients of ``waves_at`` (mm): oval, taper, barrel and bow, and
    what is left of size and place."""

    waves: Floats
    half: float

    def at(self, angle: Floats, z: Floats) -> Floats:
        found: Floats = waves_at(angle, z, self.half) @ self.waves
        return found


def on_axis(q: Floats, m: Measured, half: float) -> Floats:
    """Points as seen from a fitted surface's own axis."""
    v, up = m.value, q[:, 2] - half
    return np.column_stack(
        [q[:, 0] - v["x"] - v["tilt_x"] * up, q[:, 1] - v["y"] - v["tilt_y"] * up, q[:, 2]]
    )


def shape_of(q: Floats, look: Look, half: float) -> Shape:
    """Oval, taper, barrel and bow of a surface from what its points see of it as fitted; damage weighs nothing.

    Least squares with weights (1 + (r/c)^2)^-2, c from 3 mm down to 1 mm, as in ``aligning``.
    """
    angle = np.arctan2(q[:, 1], q[:, 0])
    along = look.normal[:, 0] * np.cos(angle) + look.normal[:, 1] * np.sin(angle)
    return Shape(
        waves=slow_change(waves_at(angle, q[:, 2], half) * along[:, None], look.deviation)[0], half=half
    )


def slow_change(matrix: Floats, off: Floats) -> tuple[Floats, Floats]:
    """(coefficients, their covariance) of what is slow in ``off`` (n,) mm by the columns of ``matrix`` (n, k).

    The covariance holds for point errors independent of each other, and grows without bound for a column that the
    points do not fix, though its coefficient stays small.
    """
    found: Floats = np.zeros(matrix.shape[1])
    few = 1e-3 * len(off) * np.eye(len(found))  # a wave that the points do not fix stays small
    weighed = matrix
    for cut in (3.0, 2.0, 1.5, FORM_CUT, FORM_CUT, FORM_CUT):
        trust = 1 / (1 + ((off - matrix @ found) / cut) ** 2) ** 2
        weighed = matrix * trust[:, None]
        found = np.asarray(np.linalg.solve(weighed.T @ matrix + few, weighed.T @ off))
    spread = 1.4826 * float(np.median(np.abs(off - matrix @ found)))
    covariance = spread**2 * np.linalg.inv(weighed.T @ matrix + 1e-6 * few)
    return found, np.asarray(covariance)


def without_shape(q: Floats, look: Look, shape: Shape) -> Look:
    """What points see of a surface once its slow change of form is taken off."""
    if float(np.abs(shape.waves).max()) < LEAST_FORM:
        return look
    angle = np.arctan2(q[:, 1], q[:, 0])
    along = look.normal[:, 0] * np.cos(angle) + look.normal[:, 1] * np.sin(angle)
    return replace(look, deviation=look.deviation - along * shape.at(angle, q[:, 2]))


def waves_at(angle: Floats, z: Floats, half: float) -> Floats:
    """(n, 13) size, taper and barrel; shift, tilt and bow; oval and its twist from end to end."""
    t = (z - half) / half
    c, s, c2, s2 = np.cos(angle), np.sin(angle), np.cos(2 * angle), np.sin(2 * angle)
    one, bend = np.ones_like(t), t * t - 1 / 3
    return np.stack([one, t, bend, c, s, t * c, t * s, bend * c, bend * s, c2, s2, t * c2, t * s2], axis=1)


def within_reach(q: Floats, ends: Ends, surfaces: Surfaces, spacing: float) -> Flags:
    """Points on the part: inside its outline and a little more, and beyond that what is joined to it."""
    low = 0.0 if ends[0] is None else ends[0].height
    high = surfaces.length if ends[1] is None else ends[1].height
    r = np.hypot(q[:, 0], q[:, 1])
    inside: Flags = (
        (r < surfaces.radius + ENVELOPE) & (q[:, 2] > low - ENVELOPE) & (q[:, 2] < high + ENVELOPE)
    )
    # a table under the part touches it at the ends: only what grows out of the sides is followed
    between = (q[:, 2] > low + ENVELOPE) & (q[:, 2] < high - ENVELOPE)
    beyond = np.flatnonzero(between & (r >= surfaces.radius + ENVELOPE) & (r < surfaces.radius + LUMP))
    if len(beyond) == 0:
        return inside
    rim = np.flatnonzero(between & inside & (r > surfaces.radius - ENVELOPE))
    rows = np.concatenate([beyond, rim])
    inside[beyond] = _joined(q[rows], len(beyond), max(LINK * spacing, LEAST_LINK))
    return inside


def _joined(points: Floats, first: int, link: float) -> Flags:
    """Which of the ``first`` points hang together with the others, by boxes ``link`` wide that touch."""
    from scipy.ndimage import label

    box = np.floor((points - points.min(axis=0)) / link).astype(np.int64)
    full = np.zeros(box.max(axis=0) + 1, dtype=bool)
    full[tuple(box.T)] = True
    names = label(full, structure=np.ones((3, 3, 3)))[0][tuple(box.T)]
    found: Flags = np.isin(names[:first], np.unique(names[first:]))
    return found


def largest_patch(
    which: int, q: Floats, area: Floats, off: Flags, length: float, spacing: float
) -> Patch | None:
    """The largest run of neighbouring cells of which more than half fits no feature; None where there is none."""
    from scipy.ndimage import label

    if not off.any():
        return None
    side = max(CELL, CELL_SPACINGS * spacing)
    around = int(np.clip(tau * float(np.median(np.hypot(q[:, 0], q[:, 1]))) / side, 8, 120))
    along = int(np.clip(length / side, 4, 200))
    turn = (np.arctan2(q[:, 1], q[:, 0]) / tau) % 1.0
    column = np.minimum((turn * around).astype(np.int64), around - 1)
    row = np.clip(q[:, 2] / length * along, 0, along - 1).astype(np.int64)
    cell, size = row * around + column, around * along
    count = np.bincount(cell, minlength=size)
    wrong = np.bincount(cell, off, size)
    stray = np.bincount(cell, area * off, size).reshape(along, around)
    bad = ((count >= LEAST_IN_CELL) & (wrong > 0.5 * count)).reshape(along, around)
    names, number = label(np.hstack([bad, bad]), structure=np.ones((3, 3)))  # twice round: no seam
    if number == 0:
        return None
    sizes = np.bincount(names.ravel(), np.hstack([stray, stray]).ravel(), number + 1)[1:]
    rows, columns = np.nonzero(names == int(sizes.argmax()) + 1)
    return Patch(
        surface=SURFACES[which],
        patch_mm2=float(min(sizes.max(), stray[bad].sum())),
        patch_z_mm=float((rows.mean() + 0.5) * length / along),
        patch_angle_deg=float((columns.mean() + 0.5) * 360 / around % 360),
    )


def covered_holes(
    q: Floats,
    shrunk: Floats,
    facing: Floats | None,
    area: Floats,
    ends: Ends,
    surfaces: Surfaces,
    section: Section,
    seen: dict[str, float],
    foamed: tuple[int, ...] = (),
) -> tuple[Covered, ...]:
    """Rubber in the end faces where the section has a hole, end by end; chambers ``foamed`` may be closed.

    Points without a facing do not tell an end from a table under it: they count only where the hole's wall is not
    seen either.  ``seen``: share of each wall seen ``off_the_ends``: a cap's own points lie on the wall's first mm.
    """
    found = []
    for name, sign, end, level in (
        ("low end", -1.0, ends[0], 0.0),
        ("high end", 1.0, ends[1], surfaces.length),
    ):
        if end is None:
            continue
        rows = np.flatnonzero(_at_end(q, end) & (np.hypot(q[:, 0], q[:, 1]) < surfaces.radius))
        if facing is not None:
            rows = rows[sign * facing[rows, 2] > SQUARELY]
        at = np.column_stack([shrunk[rows, :2], np.full(len(rows), level)])
        for which, ring in surfaces.rings:
            if which == OUTER or (facing is None and seen.get(SURFACES[which], 0.0) > UNSEEN_WALL):
                continue
            look = look_at(ring, at)
            if which == BORE:
                rim = IN_HOLE + surfaces.lead_in
                mouths = np.array([max(area_of(section.bore) - rim * perimeter_of(section.bore), 0.0)])
            else:
                rim, mouths = IN_HOLE, mouth_areas(section, IN_HOLE)
                mouths[list(foamed)] = 0.0
            deep = (look.deviation > rim) & (mouths[look.number] > 0)
            if mouths.sum() > 0:
                share = min(float(area[rows][deep].sum() / mouths.sum()), 1.0)
                found.append(Covered(end=name, hole=SURFACES[which], covered_share=share))
    return tuple(found)


def off_the_ends(q: Floats, ends: Ends) -> Flags:
    """Points that no face closing a hole at an end can be taken for: further from both than it and its rim reach."""
    off = np.ones(len(q), dtype=bool)
    for end in ends:
        if end is not None:
            off &= np.abs(q[:, 2] - _level(q, end)) > AT_END + IN_HOLE
    return off


def _level(q: Floats, end: End) -> Floats:
    """Height of an end's plane at each point."""
    level: Floats = end.height + end.slope_x * q[:, 0] + end.slope_y * q[:, 1]
    return level


def _at_end(q: Floats, end: End) -> Flags:
    near: Flags = np.abs(q[:, 2] - _level(q, end)) < AT_END * hypot(1.0, end.slope_x, end.slope_y)
    return near
