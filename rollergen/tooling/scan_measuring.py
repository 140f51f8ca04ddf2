"""Measures a scan that has been laid on its profile: every feature with its error, form, runout and scale."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rollergen.shape.distance import Flags, Ints
from rollergen.shape.outline import Floats
from rollergen.shape.section import Section
from rollergen.spec.profile import Profile
from rollergen.tooling.aligning import Fit, placed_points
from rollergen.tooling.part_features import Reading
from rollergen.tooling.scan import Scan, every_nth, spacing_of
from rollergen.tooling.scan_ends import LEAST_ON_SURFACE, End, ends_of, far_heights
from rollergen.tooling.scan_form import (
    Form,
    Offset,
    clear_of_edges,
    forms_of,
    offsets_of,
    rib_heights_of,
    seen_of,
    tilt_of,
)
from rollergen.tooling.scan_readings import (
    chamber_shape_of,
    read_bore,
    read_chambers,
    read_length,
    read_outer,
    scale_along,
)
from rollergen.tooling.scan_surfaces import (
    BORE,
    CHAMBER,
    HIGH_END,
    LOW_END,
    OUTER,
    Look,
    Surfaces,
    nearest_surface,
)
from rollergen.tooling.section_fit import (
    ChamberShape,
    Measured,
    fit_bore,
    fit_chambers,
    fit_outer,
    fit_scale,
    look_bore,
    look_chambers,
    look_outer,
)

FITTED_POINTS = 6000  # of one surface: more would not be any surer than the scanner is
MOST_OFF = 4.0  # mm from the shrunk surface: further off is something else
STRAY = 0.4  # mm off what was measured: a point there fits no feature
ALONGSIDE = 0.6  # cosine between the facing of a point and of the surface it is taken for
ENVELOPE = 2.0  # mm about the part: points beyond are its stand, not the part


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Taken:
    """Everything read off one scan.

    ``readings`` by feature; ``unseen`` says why others have none.  ``scales``: (across, error), (along, error) and
    what the last rests on, None where not seen.  ``seen``: share of each surface.  ``rib_heights`` in mm, rib by rib.
    ``stray``: share of what was seen of the part that fits no feature as measured.
    Arrays: ``q`` points in the part's frame, ``kind`` of surface, ``deviation`` from nominal.
    """

    readings: dict[str, Reading]
    unseen: dict[str, str]
    across: tuple[float, float] | None
    along: tuple[float, float, str] | None
    bore_scale: tuple[float, float] | None
    seen: dict[str, float]
    forms: tuple[Form, ...]
    offsets: tuple[Offset, ...]
    rib_heights: tuple[float | None, ...]
    end_tilt_mm: tuple[float | None, float | None]
    noise_mm: float
    stray: float
    q: Floats
    kind: Ints
    deviation: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """The surfaces as they were measured; None for one that was not seen."""

    outer: Measured | None
    bore: Measured | None
    chambers: Measured | None
    shape: ChamberShape | None


def measure(scan: Scan, fit: Fit, profile: Profile, section: Section, surfaces: Surfaces) -> Taken:
    """Reads every feature off a scan in mm.  ``profile`` has the hand of the part, see ``aligning``."""
    q = placed_points(scan.points, fit.pose)
    facing = None if scan.normals is None else scan.normals @ fit.pose.rotation
    shrunk = np.column_stack([q[:, :2] / fit.radial, q[:, 2]])
    kind, close = nearest_surface(surfaces, shrunk, facing, turn_ratio=fit.turn_ratio, axial=fit.axial)
    belongs = _belonging(close, facing)
    ends = ends_of(scan, fit, q, kind, belongs, surfaces, shrunk)
    heights = far_heights(ends, surfaces.length)
    if heights is not None:  # the points between a far end and where it should be are sides of the part
        kind, close = nearest_surface(
            surfaces, shrunk, facing, turn_ratio=fit.turn_ratio, axial=fit.axial, ends=heights
        )
        belongs = _belonging(close, facing)
    _, plain = nearest_surface(surfaces, q, facing, ends=heights)
    clear = belongs & clear_of_edges(q, kind, ends, surfaces)
    rows = _drawn(kind, clear, scan.weights)
    spacing = spacing_of(scan)
    fitted = _fitted_surfaces(q, rows, profile, section, surfaces, spacing)
    readings, unseen = _readings(fitted, ends, profile)
    unseen |= _too_fine(fitted, spacing)
    heights = rib_heights_of(plain, clear & (kind == OUTER), profile, surfaces)
    _hold_every_rib(readings, heights, profile)
    return Taken(
        readings=readings,
        unseen=unseen,
        across=_across(q, rows, surfaces),
        along=scale_along(readings, profile),
        bore_scale=_of_nominal(readings.get("bore.width"), profile.bore.width),
        seen=seen_of(q, kind, belongs, surfaces),
        forms=forms_of(kind, plain, clear, belongs, surfaces),
        offsets=offsets_of(fitted.outer, fitted.bore, fitted.chambers, surfaces.length),
        rib_heights=heights,
        end_tilt_mm=(tilt_of(ends[0], profile), tilt_of(ends[1], profile)),
        noise_mm=fit.spread,
        stray=_stray(q, kind, scan.weights, profile, surfaces, ends, fitted),
        q=q[belongs],
        kind=kind[belongs],
        deviation=plain.deviation[belongs],
    )


def _belonging(close: Look, facing: Floats | None) -> Flags:
    """Points near a surface of the profile that faces as they do."""
    belongs: Flags = np.abs(close.deviation) < MOST_OFF
    if facing is not None:
        belongs &= np.einsum("ij,ij->i", close.normal, facing) > ALONGSIDE
    return belongs


def _drawn(kind: Ints, clear: Flags, weights: Floats) -> dict[int, Ints]:
    """Rows of the points each surface is fitted to, drawn evenly over its area."""
    found = {}
    for which in (OUTER, BORE, CHAMBER):
        rows = np.flatnonzero(clear & (kind == which))
        if len(rows) >= LEAST_ON_SURFACE:
            found[which] = rows[every_nth(weights[rows], FITTED_POINTS)]
    return found


def _fitted_surfaces(
    q: Floats, rows: dict[int, Ints], profile: Profile, section: Section, surfaces: Surfaces, spacing: float
) -> Fitted:
    shape = chamber_shape_of(profile, section)
    seen = CHAMBER in rows and shape is not None
    return Fitted(
        outer=fit_outer(q[rows[OUTER]], profile, spacing=spacing) if OUTER in rows else None,
        bore=fit_bore(q[rows[BORE]], profile, spacing=spacing) if BORE in rows else None,
        chambers=fit_chambers(q[rows[CHAMBER]], shape, surfaces.length / 2, spacing=spacing)
        if seen and shape is not None
        else None,
        shape=shape,
    )


def _readings(
    fitted: Fitted, ends: tuple[End | None, End | None], profile: Profile
) -> tuple[dict[str, Reading], dict[str, str]]:
    readings: dict[str, Reading] = {}
    unseen: dict[str, str] = {}
    read_outer(readings, fitted.outer, profile)
    read_bore(readings, fitted.bore)
    read_chambers(readings, fitted.outer, fitted.bore, fitted.chambers, fitted.shape, profile)
    read_length(readings, unseen, ends)
    return readings, unseen


def _hold_every_rib(
    readings: dict[str, Reading], heights: tuple[float | None, ...], profile: Profile
) -> None:
    """The height of the ribs is held by the one furthest off too, not by their mean alone."""
    seen = [height for height in heights if height is not None]
    if profile.ribs is None or not seen or "ribs.height" not in readings:
        return
    nominal = profile.ribs.height
    worst = max(seen, key=lambda height: abs(height - nominal))
    readings["ribs.height"] = replace(readings["ribs.height"], worst=worst)


def _too_fine(fitted: Fitted, spacing: float) -> dict[str, str]:
    """Why a round of a surface that was seen has no reading."""
    why = f"too small for points {spacing:.2g} mm apart"
    found: dict[str, str] = {}
    for m, keys in (
        (fitted.outer, ("ribs.tip_radius", "ribs.root_radius")),
        (fitted.bore, ("bore.corner_radius",)),
        (fitted.chambers, ("chambers.corner_radius",)),
    ):
        if m is not None:
            found |= {key: why for key in keys if key.split(".")[1] not in m.value}
    return found


def _across(q: Floats, rows: dict[int, Ints], surfaces: Surfaces) -> tuple[float, float] | None:
    if OUTER not in rows:
        return None
    scaled = fit_scale(q[rows[OUTER]], surfaces.outer, surfaces.length / 2)
    return scaled.value["scale"], scaled.error["scale"]


def _of_nominal(reading: Reading | None, nominal: float) -> tuple[float, float] | None:
    return None if reading is None else (reading.value / nominal, reading.error / nominal)


def _stray(
    q: Floats,
    kind: Ints,
    weights: Floats,
    profile: Profile,
    surfaces: Surfaces,
    ends: tuple[End | None, End | None],
    fitted: Fitted,
) -> float:
    """Share of the scanned area within the part's reach, edges left out, that lies on no feature as it was measured."""
    low = 0.0 if ends[0] is None else ends[0].height
    high = surfaces.length if ends[1] is None else ends[1].height
    reach = (np.hypot(q[:, 0], q[:, 1]) < surfaces.radius + ENVELOPE) & (q[:, 2] > low - ENVELOPE)
    reach &= q[:, 2] < high + ENVELOPE
    sides = reach & clear_of_edges(q, kind, ends, surfaces)
    counted, strays = 0.0, 0.0
    for which in (OUTER, BORE, CHAMBER):
        rows = np.flatnonzero(sides & (kind == which))
        look, spread = _look_of(which, q[rows], fitted, profile, surfaces.length / 2)
        off = np.ones(len(rows), dtype=bool)
        if look is not None:
            off = np.abs(look.deviation) > max(STRAY, 6 * spread)
        counted += float(weights[rows].sum())
        strays += float(weights[rows][off].sum())
    for which, end in ((LOW_END, ends[0]), (HIGH_END, ends[1])):
        if end is not None:
            rows = np.flatnonzero(reach & (kind == which))
            height = end.height + end.slope_x * q[rows, 0] + end.slope_y * q[rows, 1]
            off = np.abs(q[rows, 2] - height) > max(STRAY, surfaces.edge_chamfer, surfaces.lead_in)
            counted += float(weights[rows].sum())
            strays += float(weights[rows][off].sum())
    return strays / counted if counted else 0.0


def _look_of(
    which: int, points: Floats, fitted: Fitted, profile: Profile, half: float
) -> tuple[Look | None, float]:
    """What points see of a surface as it was measured, and its spread; None for one that was not."""
    if len(points) == 0:
        return None, 0.0
    if which == OUTER and fitted.outer is not None:
        return look_outer(points, profile, fitted.outer.value), fitted.outer.spread
    if which == BORE and fitted.bore is not None:
        return look_bore(points, profile, fitted.bore.value), fitted.bore.spread
    if which == CHAMBER and fitted.chambers is not None and fitted.shape is not None:
        return look_chambers(points, fitted.shape, fitted.chambers.value, half), fitted.chambers.spread
    return None, 0.0


def mirrored_profile(profile: Profile) -> Profile:
    """The segment in a mirror: the other hand, flanks swapped, starts the other way round."""
    ribs, chambers = profile.ribs, profile.chambers
    change: dict[str, object] = {}
    if ribs is not None:
        change["ribs"] = ribs.model_copy(
            update={
                "hand": "left" if ribs.hand == "right" else "right",
                "start": -ribs.start,
                "flank_angle_ahead": ribs.flank_angle_behind,
                "flank_angle_behind": ribs.flank_angle_ahead,
            }
        )
    if chambers is not None:
        change["chambers"] = chambers.model_copy(update={"start": -chambers.start})
    return profile.model_copy(update=change)
