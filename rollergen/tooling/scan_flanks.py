"""Width and lean rib by rib: a mean over all ribs hides one that is narrow, and one whose flanks lean."""

from __future__ import annotations

from math import asin, cos, degrees, sqrt

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.distance import Flags
from rollergen.shape.outline import Floats
from rollergen.shape.rib import Flank, flank_of
from rollergen.spec.profile import Profile
from rollergen.tooling.part_features import Reading
from rollergen.tooling.scan_ends import Ends
from rollergen.tooling.scan_places import ONE_RIB, THIRDS, places, put_between, slice_of, surely_between
from rollergen.tooling.scan_strays import Shape, on_axis, slow_change, without_shape
from rollergen.tooling.scan_surfaces import Look, Surfaces
from rollergen.tooling.section_fit import Grain, Measured, outer_profile, round_is_touched

LEAST_ON_FLANK = 24  # points, for its lean
AT_A_CORNER = 0.2  # half flanks beside a sharp corner that are left out, or a facet's width: a scan rounds it
LEAST_OF_FLANK = 0.5  # of it left between the corners, for its lean
INTO_A_ROUND = 0.05  # half flanks that a round runs on straight, near enough: facets have their corners there
NEAR_A_FLANK = ("flank", "tip round", "root")
AHEAD, BEHIND = 0, 1


def hold_flanks(
    readings: dict[str, Reading],
    q: Floats,
    look: Look,
    names: NDArray[np.str_],
    outer: Measured,
    shape: Shape,
    profile: Profile,
    surfaces: Surfaces,
    ends: Ends,
    *,
    facet: float = 0.0,
    round_grain: Grain | None = None,
) -> None:
    """Puts least and greatest beside the ribs' tip width and both flank angles, by ribs and by thirds of each.

    ``q`` on the outer surface, ``look`` what they see of it as fitted, ``names`` the feature of each; ``shape`` is taken
    off.  A flank that lies out makes its rib wider by as much, measured along the tip; one that lies out more at the tip
    than at its foot has a lesser angle.  ``facet`` (mm): how far a facet across a sharp edge reaches into the flank; a
    flank of which that leaves too little has no lean, and its width is a median that such facets hardly move.  A round
    that is too small for ``round_grain`` (else for the facet) counts as a sharp edge.
    """
    if profile.ribs is None:
        return
    made = outer_profile(profile, outer.value)
    assert made.ribs is not None
    flank_ahead = flank_of(made.ribs, made.body_radius, made.ribs.flank_angle_ahead)
    flank_behind = flank_of(made.ribs, made.body_radius, made.ribs.flank_angle_behind)
    grain = round_grain or Grain(spacing=facet, chord=0.0)
    if flank_ahead is None or flank_behind is None:
        return
    about = on_axis(q, outer, surfaces.length / 2)
    bare = without_shape(q, look, shape)
    across = np.hypot(look.normal[:, 0], look.normal[:, 1])
    out = bare.deviation / np.maximum(across, 1e-9)  # in the section, where widths and angles are meant
    ahead = about[:, 0] * look.normal[:, 1] - about[:, 1] * look.normal[:, 0] > 0
    r = np.hypot(about[:, 0], about[:, 1])
    third, count = slice_of(q, surfaces, ends, THIRDS), profile.ribs.count
    wider, doubt = [], []
    for side, flank in ((AHEAD, flank_ahead), (BEHIND, flank_behind)):
        up, straight, clear = _up_the_flank(r, flank, made, facet, grain)
        mine = np.isin(names, NEAR_A_FLANK) & (ahead == (side == AHEAD)) & straight
        by_third = places(out[mine], (look.number * THIRDS + third)[mine], count * THIRDS)
        whole = places(out[mine], look.number[mine], count)
        along_tip = cos(_tip_lean(made, side))
        wider.append(np.concatenate([by_third[0], whole[0]]) / along_tip)
        doubt.append(np.concatenate([by_third[1], whole[1]]) / along_tip)
        key = "ribs.flank_angle_ahead" if side == AHEAD else "ribs.flank_angle_behind"
        if key in readings:
            leans = _leans(out, up, mine & clear, look.number, third, count, flank.length / 2)
            value = readings[key].value
            put_between(readings, key, surely_between(value - leans[0], leans[1], value), where=ONE_RIB)
    if "ribs.tip_width" in readings:
        value = readings["ribs.tip_width"].value
        between = surely_between(value + wider[0] + wider[1], np.hypot(doubt[0], doubt[1]), value)
        put_between(readings, "ribs.tip_width", between, where=ONE_RIB)


def _up_the_flank(
    r: Floats, flank: Flank, made: Profile, facet: float, grain: Grain
) -> tuple[Floats, Flags, Flags]:
    """(place of points along a flank, -1 at its foot and 1 at its head; which lie on its straight part; which of them
    no facet across a corner reaches, none where too little of the flank is left)."""
    assert made.ribs is not None
    rounds = made.ribs.root_radius, made.ribs.tip_radius
    foot_at, tip_at = made.body_radius + rounds[0], made.tip_radius - rounds[1]
    foot = sqrt(max(foot_at**2 - (flank.p + rounds[0]) ** 2, 0.0))
    head = sqrt(max(tip_at**2 - (flank.p - rounds[1]) ** 2, 0.0))
    along = np.sqrt(np.maximum(r * r - flank.p**2, 0.0))
    half = max(head - foot, 1e-9) / 2
    up = (along - foot) / half - 1
    at_foot, at_head = (-AT_A_CORNER if radius == 0 else INTO_A_ROUND for radius in rounds)
    clear_foot, clear_head = (
        at if round_is_touched(radius, grain) else -max(AT_A_CORNER, facet / half)
        for at, radius in zip((at_foot, at_head), rounds, strict=True)
    )
    straight: Flags = (up > -1 - at_foot) & (up < 1 + at_head)
    enough = 2 + clear_foot + clear_head >= 2 * LEAST_OF_FLANK
    clear: Flags = (up > -1 - clear_foot) & (up < 1 + clear_head) & enough
    return up, straight, clear


def _tip_lean(made: Profile, side: int) -> float:
    """Angle between a flank's normal and the tip arc where both would meet (rad)."""
    assert made.ribs is not None
    angle = made.ribs.flank_angle_ahead if side == AHEAD else made.ribs.flank_angle_behind
    return angle + asin(min(made.ribs.tip_width / (2 * made.tip_radius), 1.0))


def _leans(
    out: Floats,
    up: Floats,
    mine: Flags,
    number: NDArray[np.int64],
    third: NDArray[np.int64],
    count: int,
    half: float,
) -> tuple[Floats, Floats]:
    """(deg by which each flank leans out towards its head, standard error), by ribs and their thirds; NaN where unknown.

    ``up`` runs from -1 to 1 over 2 ``half`` mm of flank.
    """
    lean, error = [], []
    for rib in range(count):
        of_rib = mine & (number == rib)
        for part in (of_rib, *(of_rib & (third == n) for n in range(THIRDS))):
            if part.sum() < LEAST_ON_FLANK or half <= 0:
                lean.append(np.nan)
                error.append(np.nan)
                continue
            found, covariance = slow_change(np.stack([np.ones(int(part.sum())), up[part]], axis=1), out[part])
            lean.append(degrees(float(found[1]) / half))
            error.append(degrees(float(np.sqrt(covariance[1, 1])) / half))
    return np.array(lean), np.array(error)
