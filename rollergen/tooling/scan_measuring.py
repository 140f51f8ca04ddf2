"""Measures a scan that has been laid on its profile: every feature with its error, form, runout and scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rollergen.shape.distance import Flags, Ints
from rollergen.shape.outline import Floats
from rollergen.shape.section import Section
from rollergen.spec.profile import Profile
from rollergen.tooling.aligning import Fit, placed_points
from rollergen.tooling.part_features import Reading
from rollergen.tooling.scan import Scan, every_nth, facet_of, spacing_of
from rollergen.tooling.scan_ends import LEAST_ON_SURFACE, Ends, ends_of, far_heights
from rollergen.tooling.scan_fitted import Fitted, fitted_surfaces, look_of, too_fine
from rollergen.tooling.scan_flanks import NEAR_A_FLANK, hold_flanks
from rollergen.tooling.scan_foam import Foam, behind_foam, foam_of
from rollergen.tooling.scan_form import (
    Form,
    Offset,
    clear_of_edges,
    forms_of,
    offsets_of,
    seen_of,
    tilt_of,
)
from rollergen.tooling.scan_holding import hold_places
from rollergen.tooling.scan_phase import phases_of
from rollergen.tooling.scan_places import (
    hold_ribs,
    on_lands,
    rib_heights_of,
)
from rollergen.tooling.scan_readings import (
    read_bore,
    read_chambers,
    read_length,
    read_outer,
    scale_along,
)
from rollergen.tooling.scan_runout import runout_of
from rollergen.tooling.scan_strays import (
    Covered,
    Patch,
    Shape,
    covered_holes,
    largest_patch,
    off_the_ends,
    on_axis,
    within_reach,
    without_shape,
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
    Grain,
    fit_scale,
)

FITTED_POINTS = 6000  # of one surface: more would not be any surer than the scanner is
FLANK_POINTS = 20000  # of all flanks
MOST_OFF = 4.0  # mm from the shrunk surface: further off is something else
STRAY = 0.4  # mm off what was measured: a point there fits no feature
ALONGSIDE = 0.6  # cosine between the facing of a point and of the surface it is taken for


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Taken:
    """Everything read off one scan.

    ``readings`` by feature; ``unseen`` says why others have none.  ``across``, ``along``, ``bore_scale``: (measured over
    nominal size, error), ``along`` with what it rests on, None where not seen.  ``seen``: share of each surface.
    ``rib_heights`` in mm, rib by rib;
    ``runout`` of the body about the bore in mm; ``phases`` of bore and chambers in deg.
    ``stray``: share of what was seen of the part that fits no feature as measured, ``patches`` the largest such place
    of each surface, ``covered`` what share of each hole is closed at the ends, chambers with ``foam`` apart.
    Arrays: ``q`` points on the part in its frame, ``kind`` of surface, ``deviation`` from nominal.
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
    runout: Reading | None
    phases: dict[str, Reading]
    noise_mm: float
    stray: float
    patches: tuple[Patch, ...]
    covered: tuple[Covered, ...]
    foam: Foam
    q: Floats
    kind: Ints
    deviation: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sorted:
    """The points of a scan in the part's frame, sorted to its surfaces.

    ``kind`` of surface, ``plain`` what a point sees of the nominal one, ``area`` it stands for (mm2).  ``clear``: on
    the part, no edge near; ``reach``: on the part or joined to it, however far off; ``sides``: those no edge is near.
    ``spacing`` of the points and width of a ``facet``, as a rule, in mm; ``round_grain`` where large facets are known to
    follow the rounds or not by their chord.
    """

    q: Floats
    facing: Floats | None
    kind: Ints
    plain: Look
    area: Floats
    clear: Flags
    reach: Flags
    sides: Flags
    spacing: float
    facet: float
    round_grain: Grain | None


def measure(scan: Scan, fit: Fit, profile: Profile, section: Section, surfaces: Surfaces) -> Taken:
    """Reads every feature off a scan in mm.  ``profile`` has the hand of the part, see ``aligning``."""
    q = placed_points(scan.points, fit.pose)
    facing = None if scan.normals is None else scan.normals @ fit.pose.rotation
    shrunk = np.column_stack([q[:, :2] / fit.radial, q[:, 2]])
    lying = surfaces.turned(*fit.core)  # where the surfaces are; what they are held to is ``surfaces``
    kind, close = nearest_surface(lying, shrunk, facing, turn_ratio=fit.turn_ratio, axial=fit.axial)
    belongs = _belonging(close, facing)
    ends = ends_of(scan, fit, q, kind, belongs, lying, shrunk)
    levels = far_heights(ends, surfaces.length)
    if levels is not None:  # the points between a far end and where it should be are sides of the part
        kind, close = nearest_surface(
            lying, shrunk, facing, turn_ratio=fit.turn_ratio, axial=fit.axial, ends=levels
        )
        belongs = _belonging(close, facing)
    _, plain = nearest_surface(surfaces, q, facing, ends=levels)
    spacing = spacing_of(scan)
    area = scan.weights if scan.triangles else scan.weights * spacing**2
    foam = foam_of(shrunk, facing, area, profile, section, surfaces)
    clear = belongs & clear_of_edges(q, kind, ends, surfaces) & ~foam.points
    rows = _drawn(kind, clear, scan.weights)
    grain = Grain(spacing=spacing, chord=scan.chord)
    fitted = fitted_surfaces(q, rows, profile, section, surfaces, grain, chambers_turned=fit.core[1])
    readings, unseen = _readings(fitted, ends, profile)
    unseen |= too_fine(fitted, grain)
    phases, not_told = phases_of(fitted, ends, profile)
    unseen |= not_told | behind_foam(foam, fitted)
    shapes = hold_places(readings, q, rows, profile, surfaces, ends, fitted)
    reach = within_reach(q, ends, lying, spacing) & ~foam.points
    points = Sorted(
        q=q, facing=facing, kind=kind, plain=plain, area=area, clear=clear, reach=reach,
        sides=reach & clear_of_edges(q, kind, ends, surfaces), spacing=spacing,
        facet=facet_of(scan, spacing), round_grain=grain if scan.chord > 0 else None,
    )  # fmt: skip
    heights, over_thirds = _ribs(points, profile, surfaces, ends, fitted, shapes.get(OUTER), fit.turn_ratio)
    hold_ribs(readings, heights, over_thirds, profile)
    _flanks(readings, points, profile, surfaces, ends, fitted, shapes.get(OUTER))
    seen = seen_of(q, kind, belongs, surfaces)
    walls = seen_of(q, kind, belongs & off_the_ends(q, ends), surfaces)
    stray, patches = _strays(points, profile, surfaces, ends, fitted, shapes)
    shown = belongs | (points.sides & (kind == OUTER) & _outward(q, facing))
    return Taken(
        readings=readings,
        unseen=unseen,
        across=_across(q, rows, surfaces),
        along=scale_along(readings, profile),
        bore_scale=_of_nominal(readings.get("bore.width"), profile.bore.width),
        seen=seen,
        forms=forms_of(kind, plain, clear, belongs, surfaces),
        offsets=offsets_of(fitted.outer, fitted.bore, fitted.chambers, surfaces.length),
        rib_heights=heights,
        end_tilt_mm=(tilt_of(ends[0], profile), tilt_of(ends[1], profile)),
        runout=_runout(q, rows, profile, surfaces, ends, fitted),
        phases=phases,
        noise_mm=fit.spread,
        stray=stray,
        patches=patches,
        covered=covered_holes(q, shrunk, facing, area, ends, lying, section, walls, foam.asked),
        foam=foam,
        q=q[shown],
        kind=kind[shown],
        deviation=plain.deviation[shown],
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


def _readings(fitted: Fitted, ends: Ends, profile: Profile) -> tuple[dict[str, Reading], dict[str, str]]:
    readings: dict[str, Reading] = {}
    unseen: dict[str, str] = {}
    read_outer(readings, fitted.outer, profile)
    read_bore(readings, fitted.bore)
    read_chambers(readings, fitted.outer, fitted.bore, fitted.chambers, fitted.shape, profile)
    read_length(readings, unseen, ends)
    return readings, unseen


def _ribs(
    points: Sorted,
    profile: Profile,
    surfaces: Surfaces,
    ends: Ends,
    fitted: Fitted,
    shape: Shape | None,
    turn_ratio: float,
) -> tuple[tuple[float | None, ...], tuple[float, float] | None]:
    """Rib heights about the body's own axis, whether a rib is there or not."""
    if profile.ribs is None or fitted.outer is None or shape is None:
        return (None,) * (0 if profile.ribs is None else profile.ribs.count), None
    outer, names = points.kind == OUTER, surfaces.outer.names(points.plain.edge)
    about = on_axis(points.q, fitted.outer, surfaces.length / 2)
    tips, number = on_lands(about, points.facing, outer & points.sides, surfaces, turn_ratio)
    floors = outer & points.clear & (names == "body")
    return rib_heights_of(about, shape, tips, floors, number, profile, surfaces, ends)


def _flanks(
    readings: dict[str, Reading],
    points: Sorted,
    profile: Profile,
    surfaces: Surfaces,
    ends: Ends,
    fitted: Fitted,
    shape: Shape | None,
) -> None:
    """Ribs one by one take more points than the fit of all: those near a flank, as many as there are."""
    near = np.isin(surfaces.outer.names(points.plain.edge), NEAR_A_FLANK)
    rows = np.flatnonzero(points.clear & (points.kind == OUTER) & near)
    if fitted.outer is None or shape is None or len(rows) == 0:
        return
    rows = rows[every_nth(points.area[rows], FLANK_POINTS)]
    look = look_of(OUTER, points.q[rows], fitted, profile, surfaces.length / 2)[0]
    if look is not None:
        hold_flanks(
            readings, points.q[rows], look, surfaces.outer.names(look.edge), fitted.outer, shape, profile, surfaces, ends,
            facet=points.facet, round_grain=points.round_grain,
        )  # fmt: skip


def _runout(
    q: Floats, rows: dict[int, Ints], profile: Profile, surfaces: Surfaces, ends: Ends, fitted: Fitted
) -> Reading | None:
    if fitted.outer is None or fitted.bore is None:
        return None
    look = look_of(OUTER, q[rows[OUTER]], fitted, profile, surfaces.length / 2)[0]
    if look is None:
        return None
    names = surfaces.outer.names(look.edge)
    return runout_of(q[rows[OUTER]], names, fitted.outer, fitted.bore, surfaces, ends)


def _outward(q: Floats, facing: Floats | None) -> Flags:
    """Points that face away from the axis, all of them where that is not known."""
    if facing is None:
        return np.ones(len(q), dtype=bool)
    found: Flags = facing[:, 0] * q[:, 0] + facing[:, 1] * q[:, 1] > 0
    return found


def _across(q: Floats, rows: dict[int, Ints], surfaces: Surfaces) -> tuple[float, float] | None:
    if OUTER not in rows:
        return None
    scaled = fit_scale(q[rows[OUTER]], surfaces.outer, surfaces.length / 2)
    return scaled.value["scale"], scaled.error["scale"]


def _of_nominal(reading: Reading | None, nominal: float) -> tuple[float, float] | None:
    return None if reading is None else (reading.value / nominal, reading.error / nominal)


def _strays(
    points: Sorted,
    profile: Profile,
    surfaces: Surfaces,
    ends: Ends,
    fitted: Fitted,
    shapes: dict[int, Shape],
) -> tuple[float, tuple[Patch, ...]]:
    """Share of the scanned area within the part's reach, edges left out, that lies on no feature as it was measured,
    and the largest place of each surface that does not."""
    counted, strays = 0.0, 0.0
    patches = []
    q, area, kind = points.q, points.area, points.kind
    for which in (OUTER, BORE, CHAMBER):
        rows = np.flatnonzero(points.sides & (kind == which))
        look, spread = look_of(which, q[rows], fitted, profile, surfaces.length / 2)
        off = np.ones(len(rows), dtype=bool)
        if look is not None:
            if which in shapes:
                look = without_shape(q[rows], look, shapes[which])
            off = np.abs(look.deviation) > max(STRAY, 6 * spread)
        counted += float(area[rows].sum())
        strays += float(area[rows][off].sum())
        patches.append(largest_patch(which, q[rows], area[rows], off, surfaces.length, points.spacing))
    for which, end in ((LOW_END, ends[0]), (HIGH_END, ends[1])):
        if end is not None:
            rows = np.flatnonzero(points.reach & (kind == which))
            height = end.height + end.slope_x * q[rows, 0] + end.slope_y * q[rows, 1]
            off = np.abs(q[rows, 2] - height) > max(STRAY, surfaces.edge_chamfer, surfaces.lead_in)
            counted += float(area[rows].sum())
            strays += float(area[rows][off].sum())
    return strays / counted if counted else 0.0, tuple(patch for patch in patches if patch is not None)
