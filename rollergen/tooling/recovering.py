"""Recovers the profile of an unknown segment from its scan: every value with how well it is known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi, tau
from typing import Any

import numpy as np

from rollergen.errors import UsageError
from rollergen.shape.distance import Ints
from rollergen.shape.outline import Floats
from rollergen.spec.profile import Body, Bore, Compound, Profile, Ribs
from rollergen.tooling.aligning import Pose, placed_points
from rollergen.tooling.recovered_values import (
    Value,
    ask,
    doubt_other_shapes,
    ends_of,
    start_at_low_end,
    tell_bore,
    tell_chambers,
    tell_chamfer,
    tell_lead_in,
    tell_length,
    tell_outer,
)
from rollergen.tooling.recovering_holes import (
    POINTS,
    best_flat,
    bore_fitted,
    chambers_fitted,
    cost_of,
    place_turned,
    turned,
    web_of,
)
from rollergen.tooling.recovering_start import (
    ChamberGuess,
    Levels,
    RibGuess,
    chambers_of,
    laid_on_axis,
    levels_of,
    ribs_of,
)
from rollergen.tooling.scan import Scan, every_nth, inside_out, spacing_of, turned_facets
from rollergen.tooling.scan_alone import part_alone
from rollergen.tooling.section_fit import (
    Grain,
    Measured,
    can_be_drawn,
    fit_outer,
    look_outer,
    outer_profile,
    round_is_touched,
)

FLANKS = (15.0, 30.0, 45.0, 5.0)  # deg, tried in turn
NARROWER = (0.4, 0.15)  # of the tip width that was guessed, tried where no flank fits
GOOD_FIT = 0.3  # mm: mean capped distance of a shape that is right
ROUNDS = 3
SURELY_ROUND = 4.0  # standard errors: a smaller round may as well be a sharp edge that noise has worn
ORDER = (
    "body.diameter", "body.free_length", "body.edge_chamfer", "ribs.count", "ribs.height", "ribs.tip_width",
    "ribs.flank_angle_ahead", "ribs.flank_angle_behind", "ribs.tip_radius", "ribs.root_radius", "ribs.helix_pitch",
    "ribs.hand", "ribs.start", "bore.section", "bore.across", "bore.clearance", "bore.corner_radius", "bore.key_width",
    "bore.key_depth", "bore.lead_in", "chambers.count", "chambers.section", "chambers.wall", "chambers.web",
    "chambers.hub_wall", "chambers.corner_radius", "chambers.start", "compound.name",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """Everything recovered: ``values`` by key, ``fit_mm`` the spread of the points about each fitted surface."""

    values: dict[str, Value]
    spreads: dict[str, float]
    stray: float
    length_seen: float
    notes: tuple[str, ...]


def recover(scan: Scan) -> Found:
    """Body, ribs, bore, chambers and length of a scan in mm.

    Raises UsageError for bare points (they do not tell rubber from air), without an axis, or without an outer surface.
    """
    if scan.normals is None:
        raise UsageError(
            "--recover needs a mesh: points alone do not tell rubber from air; mesh them, or inspect them against a profile"
        )
    if inside_out(scan):
        scan = turned_facets(scan)
    notes = list(scan.notes)
    whole, scan = scan, part_alone(scan)
    notes += scan.notes[len(whole.notes) :]
    pose, low, high, patches = laid_on_axis(scan)
    levels = levels_of(patches)
    guess = ribs_of(patches, levels)
    assert scan.normals is not None
    q, n = placed_points(scan.points, pose), scan.normals @ pose.rotation
    length = high if high is not None else float(np.percentile(q[:, 2], 99.9))
    profile = _first_profile(levels, guess, length)
    q, n, outer, profile = _outer_fitted(q, n, scan.weights, profile, levels, length)
    values: dict[str, Value] = {}
    spreads = {"outer": outer.spread}
    stray = _stray(q, scan.weights, profile, outer, levels)
    tell_chamfer(values, q, profile, outer, ends_of(q, n, low, high))
    bore = bore_fitted(q, n, scan.weights, profile, levels, length)
    datum = 0.0
    if bore is not None:
        kind, m, shape, datum = bore
        spreads["bore"] = m.spread
        fitted_at = datum - m.value.get("turn", 0.0)
        datum = best_flat(kind, datum, web_of(chambers_of(patches, levels)), guess)
        q, n = turned(q, -datum), turned(n, -datum)
        profile = shape
        tell_bore(values, kind, m, profile)
        there = replace(m, value=place_turned(m.value, fitted_at - datum))
        limit = levels.outer if levels.split is None else levels.split
        tell_lead_in(values, q, profile, there, ends_of(q, n, low, high), limit)
    else:
        ask(values, ("bore.section", "bore.across"), "the bore is not seen")
    guess_chambers = chambers_of(patches, levels)
    chambers = None
    if guess_chambers is not None and guess_chambers.count is not None:
        guessed = ChamberGuess(
            count=guess_chambers.count, middle=guess_chambers.middle - datum, outer=guess_chambers.outer,
            inner=guess_chambers.inner, web=guess_chambers.web,
        )  # fmt: skip
        chambers = chambers_fitted(q, n, scan.weights, guessed, levels, length)
    tell_outer(values, outer, profile, guess, datum, length, None if bore is None else bore[1])
    tell_length(values, ends_of(q, n, low, high))
    tell_chambers(values, q, n, chambers, guess_chambers, outer, bore, profile, levels, length)
    if chambers is not None:
        spreads["chambers"] = chambers[1].spread
    ask(values, ("compound.name",), "a scan does not see the compound")
    doubt_other_shapes(values, stray, spreads)
    _doubt_small_rounds(values, Grain(spacing=spacing_of(scan), chord=scan.chord))
    return Found(
        values={key: values[key] for key in ORDER if key in values},
        spreads=spreads,
        stray=stray,
        length_seen=length,
        notes=tuple(notes),
    )


def _doubt_small_rounds(values: dict[str, Value], grain: Grain) -> None:
    """A round without points of its own is a guess, whatever its error says; one of few errors may be a sharp edge."""
    for key in ("ribs.tip_radius", "ribs.root_radius", "bore.corner_radius", "chambers.corner_radius"):
        value = values.get(key)
        if value is None or value.number is None or value.standard_error is None:
            continue
        if value.number < grain.spacing or not round_is_touched(value.number, grain):
            values[key] = replace(value, confidence="weak", why=f"small for {grain.words}")
        elif value.number < SURELY_ROUND * value.standard_error:
            why = f"may be a sharp edge: standard error {value.standard_error:.2g} mm"
            values[key] = replace(value, confidence="weak", why=why)


def _first_profile(levels: Levels, guess: RibGuess | None, length: float) -> Profile:
    """A drawable profile near the scan; what is not known of it yet is harmless."""
    ribs = None
    if guess is not None:
        height = max(levels.tip - levels.body, 0.5)
        ribs = Ribs.model_construct(
            count=guess.drawn, height=height, tip_width=guess.width,
            flank_angle_ahead=0.26, flank_angle_behind=0.26, tip_radius=0.25 * height, root_radius=0.3 * height,
            helix_pitch=tau / abs(guess.twist) if guess.twist else float("inf"),
            hand="left" if guess.twist < 0 else "right", start=guess.start,
        )  # fmt: skip
    return Profile.model_construct(
        name="recovered", note="", ribs=ribs, chambers=None, mates=(),
        body=Body.model_construct(
            diameter=2 * levels.body, free_length=length, fitted_length=length, edge_chamfer=0.0
        ),
        bore=Bore.model_construct(
            section="round", across=0.5 * levels.body, clearance=0.0, corner_radius=0.0, shaft_corner_radius=0.0,
            lead_in=0.0, key_width=None, key_depth=None, shaft_tolerance=None,
        ),
        compound=Compound.model_construct(name="unknown", density_kg_m3=1100.0, colour="#d8c39a"),
    )  # fmt: skip


def _outer_fitted(
    q: Floats, n: Floats, weights: Floats, profile: Profile, levels: Levels, length: float
) -> tuple[Floats, Floats, Measured, Profile]:
    """Outer surface by the best of several flanks, the frame moved onto its own axis: (points, normals, fit, profile)."""
    best: tuple[float, Measured, Profile] | None = None
    rows = _outer_rows(q, n, weights, levels, length)
    for start in _rib_starts(profile):
        if best is not None and best[0] < (GOOD_FIT if start.narrowed else GOOD_FIT / 4):
            break
        drawn = _drawable(start.profile, start.flank)
        if drawn is None:
            continue
        m = fit_outer(q[rows], drawn, loose=2.0)
        cost = cost_of(look_outer(q[rows], drawn, m.value))
        if best is None or cost < 0.97 * best[0]:
            best = (cost, m, drawn)
    if best is None:
        raise UsageError(
            f"the outer surface is no body with ribs that this program can draw: it lies {levels.body:.4g} to "
            f"{levels.tip:.4g} mm from the axis; cut away what is not the part (stand, clamp, stray points), or say the "
            "unit with --scan-units"
        )
    _, m, profile = best
    for _ in range(ROUNDS - 1):
        q, n = _onto_axis(q, n, m, length)
        before, profile = profile, outer_profile(profile, m.value)
        if profile.ribs is not None:
            change: dict[str, Any] = {"start": start_at_low_end(before, m, length)}
            profile = profile.model_copy(update={"ribs": profile.ribs.model_copy(update=change)})
        rows = _outer_rows(q, n, weights, levels, length)
        m = fit_outer(q[rows], profile, loose=1.0)
    return q, n, m, profile


@dataclass(frozen=True, slots=True, kw_only=True)
class _RibStart:
    """A profile to fit from, with the flank angle (deg) to try; ``narrowed``: its tip is not as wide as was guessed."""

    profile: Profile
    flank: float
    narrowed: bool = False


def _rib_starts(profile: Profile) -> list[_RibStart]:
    """Ribs to fit from, the likely ones first: flanks in turn, and then with a narrower tip.

    A tip is guessed too wide where what lies round it is taken for tip: of a rib that is half seen, or worn.
    """
    if profile.ribs is None:
        return [_RibStart(profile=profile, flank=FLANKS[0])]
    starts = [_RibStart(profile=profile, flank=flank) for flank in FLANKS]
    for share in NARROWER:
        ribs = profile.ribs.model_copy(update={"tip_width": share * profile.ribs.tip_width})
        narrow = profile.model_copy(update={"ribs": ribs})
        starts += [_RibStart(profile=narrow, flank=flank, narrowed=True) for flank in FLANKS[:2]]
    return starts


def _outer_rows(q: Floats, n: Floats, weights: Floats, levels: Levels, length: float) -> Ints:
    r = np.hypot(q[:, 0], q[:, 1])
    out = (n[:, 0] * q[:, 0] + n[:, 1] * q[:, 1]) / np.maximum(r, 1e-9)
    edge = max(3.0, 0.02 * length)
    mine = (
        (r > max(levels.outer, 0.8 * levels.body))
        & (r < levels.tip + 3)
        & (out > -0.3)
        & (np.abs(n[:, 2]) < 0.75)
    )
    rows = np.flatnonzero(mine & (q[:, 2] > edge) & (q[:, 2] < length - edge))
    found: Ints = rows[every_nth(weights[rows], POINTS)]
    return found


def _drawable(profile: Profile, flank: float) -> Profile | None:
    """The profile with this flank angle (deg), its rounds and its tip made smaller until it can be drawn."""
    if profile.ribs is None:
        return profile if can_be_drawn(profile) else None
    for share in (1.0, 0.6, 0.3, 0.1):
        for narrow in (1.0, 0.8, 0.6, 0.4):
            change = {
                "flank_angle_ahead": flank * pi / 180, "flank_angle_behind": flank * pi / 180,
                "tip_radius": share * profile.ribs.tip_radius, "root_radius": share * profile.ribs.root_radius,
                "tip_width": narrow * profile.ribs.tip_width,
            }  # fmt: skip
            tried = profile.model_copy(update={"ribs": profile.ribs.model_copy(update=change)})
            if can_be_drawn(tried):
                return tried
    return None


def _onto_axis(q: Floats, n: Floats, m: Measured, length: float) -> tuple[Floats, Floats]:
    """Points and normals in the frame whose axis is the fitted surface's own."""
    direction = np.array([m.value["tilt_x"], m.value["tilt_y"], 1.0])
    direction /= np.linalg.norm(direction)
    x = np.array([1.0, 0.0, 0.0]) - direction[0] * direction
    x /= np.linalg.norm(x)
    rotation = np.column_stack([x, np.cross(direction, x), direction])
    middle = np.array([m.value["x"], m.value["y"], length / 2])
    return placed_points(q, Pose(rotation=rotation, origin=middle)) + np.array(
        [0, 0, length / 2]
    ), n @ rotation


def _stray(q: Floats, weights: Floats, profile: Profile, outer: Measured, levels: Levels) -> float:
    """Share of the outer surface that the recovered one does not fit."""
    length = profile.body.free_length
    r = np.hypot(q[:, 0], q[:, 1])
    rows = np.flatnonzero((r > max(levels.outer, 0.8 * levels.body)) & (q[:, 2] > 4) & (q[:, 2] < length - 4))
    rows = rows[every_nth(weights[rows], 2 * POINTS)]
    look = look_outer(q[rows], profile, outer.value)
    return 1.0 if look is None else float((np.abs(look.deviation) > max(0.4, 6 * outer.spread)).mean())
