"""The bore from place to place: between each pair of flats, or in each direction, along the length."""

from __future__ import annotations

from math import cos, pi, sin, tau

import numpy as np

from rollergen.shape.bore import SIDES
from rollergen.shape.distance import Flags
from rollergen.shape.outline import Floats
from rollergen.spec.profile import Profile
from rollergen.tooling.part_features import Reading
from rollergen.tooling.scan_ends import Ends
from rollergen.tooling.scan_places import (
    ALONG,
    AROUND,
    SURELY,
    places,
    put_between,
    slice_of,
    surely_between,
)
from rollergen.tooling.scan_strays import Shape, on_axis, slow_change
from rollergen.tooling.scan_surfaces import Look, Surfaces, direction_of
from rollergen.tooling.section_fit import Measured

ON_FLAT = 0.999  # cosine between the normal seen and the flat's own: on a corner's round it turns away
LEAST_ON_FLAT = 40  # points, for its slow change along the length
STRAIGHT_SHAFT = "for a straight shaft it is"
KEY_SIDE = 2.0  # half key widths either side of its middle: a keyed bore is round only beyond


def hold_bore(
    readings: dict[str, Reading],
    q: Floats,
    look: Look,
    bore: Measured,
    shape: Shape,
    profile: Profile,
    surfaces: Surfaces,
    ends: Ends,
) -> None:
    """Puts the least and the greatest width beside the mean one, and what a straight shaft finds clear.

    ``q`` on the bore, ``look`` what they see of it as fitted, ``shape`` its slow change of form.
    """
    if "bore.width" not in readings:
        return
    if profile.bore.section in SIDES:
        _hold_flats(readings, q, look, bore, SIDES[profile.bore.section], surfaces, ends)
    else:
        _hold_round(readings, q, look, bore, shape, profile, surfaces, ends)


def _hold_flats(
    readings: dict[str, Reading],
    q: Floats,
    look: Look,
    bore: Measured,
    sides: int,
    surfaces: Surfaces,
    ends: Ends,
) -> None:
    """Widths between opposite flats, by slices of the length and as each flat's slow change along it has them."""
    value, half = readings["bore.width"].value, surfaces.length / 2
    out = -look.normal[:, :2]  # a hole's rubber lies outside: this points at the flat
    turn = np.arctan2(out[:, 1], out[:, 0]) - bore.value.get("turn", 0.0)
    number = np.rint(turn / (tau / sides)).astype(np.int64)
    on_flat: Flags = np.cos(turn - number * (tau / sides)) > ON_FLAT
    row, t = slice_of(q, surfaces, ends, ALONG), (q[:, 2] - half) / half
    wider, error = places(-look.deviation[on_flat], ((number % sides) * ALONG + row)[on_flat], sides * ALONG)
    wider, error = wider.reshape(sides, ALONG), error.reshape(sides, ALONG)
    at = np.linspace(float(np.percentile(t, 1)), float(np.percentile(t, 99)), 11)
    slow = [_slow_flat(t, at, -look.deviation, on_flat & (number % sides == flat)) for flat in range(sides)]
    least, greatest, clear = value, value, value
    for flat in range(sides // 2):
        other = flat + sides // 2
        between = surely_between(
            value + wider[flat] + wider[other], np.hypot(error[flat], error[other]), value
        )
        between = between or (value, value)
        along = slow[flat], slow[other]
        if along[0] is not None and along[1] is not None:
            waves, doubt = along[0][0] + along[1][0], SURELY * np.hypot(along[0][1], along[1][1])
            between = (
                min(between[0], value + float((waves + doubt).min())),
                max(between[1], value + float((waves - doubt).max())),
            )
            straight = sum(float((each[0] + SURELY * each[1]).min()) for each in along if each is not None)
            clear = min(clear, value + straight)
        least, greatest = min(least, between[0]), max(greatest, between[1])
        clear = min(clear, value + _nearest(wider[flat], error[flat]) + _nearest(wider[other], error[other]))
    _put(readings, least, greatest, clear)


def _slow_flat(t: Floats, at: Floats, wider: Floats, mine: Flags) -> tuple[Floats, Floats] | None:
    """(how far a flat lies out, standard error) at heights ``at``: its lean and barrel; None where it is not seen."""
    if mine.sum() < LEAST_ON_FLAT:
        return None
    found, covariance = slow_change(_lean_and_barrel(t[mine]), wider[mine])
    matrix = _lean_and_barrel(at)
    return matrix @ found, np.sqrt(np.einsum("ij,jk,ik->i", matrix, covariance, matrix))


def _lean_and_barrel(t: Floats) -> Floats:
    return np.stack([np.ones_like(t), t, t * t - 1 / 3], axis=1)


def _nearest(wider: Floats, error: Floats) -> float:
    """How far out a flat surely lies where it lies least far out (mm); 0 for one that was not seen."""
    known = np.isfinite(wider)
    return float(np.min(wider[known] + SURELY * error[known])) if known.any() else 0.0


def _hold_round(
    readings: dict[str, Reading],
    q: Floats,
    look: Look,
    bore: Measured,
    shape: Shape,
    profile: Profile,
    surfaces: Surfaces,
    ends: Ends,
) -> None:
    """Widths across the axis and twice the radius about it, by directions and slices; the keyway apart."""
    value = readings["bore.width"].value
    about = on_axis(q, bore, surfaces.length / 2)
    angle = np.arctan2(about[:, 1], about[:, 0])
    mine = _beside_the_key(angle, bore, profile)
    if not mine.any():
        return
    sector = direction_of(angle, AROUND)
    row = slice_of(q, surfaces, ends, ALONG)
    wider, error = places(-look.deviation[mine], (row * AROUND + sector)[mine], AROUND * ALONG)
    wider, error = wider.reshape(ALONG, AROUND), error.reshape(ALONG, AROUND)
    across = value + wider + np.roll(wider, AROUND // 2, axis=1)
    both = np.hypot(error, np.roll(error, AROUND // 2, axis=1))
    least, greatest = surely_between(across.ravel(), both.ravel(), value) or (value, value)
    form = _form_of(shape, q[mine, 2])
    slow = form + np.roll(form, AROUND, axis=1)
    nearest = form.min(axis=0)
    clear = value + min(
        float((nearest + np.roll(nearest, AROUND)).min()), 2 * _nearest(wider.ravel(), error.ravel()), 0.0
    )
    _put(readings, min(least, value + float(slow.min())), max(greatest, value + float(slow.max())), clear)


def _form_of(shape: Shape, z: Floats) -> Floats:
    """(heights, twice AROUND directions) slow change of the radius over what is seen of the length (mm)."""
    heights = np.linspace(float(np.percentile(z, 1)), float(np.percentile(z, 99)), 11)
    height, angle = (
        grid.ravel() for grid in np.meshgrid(heights, np.arange(2 * AROUND) * pi / AROUND, indexing="ij")
    )
    return shape.at(angle, height).reshape(len(heights), 2 * AROUND)


def _beside_the_key(angle: Floats, bore: Measured, profile: Profile) -> Flags:
    found: Flags = np.ones(len(angle), dtype=bool)
    if profile.bore.section == "keyed" and profile.bore.key_width is not None:
        half = bore.value.get("key_width", profile.bore.key_width) / 2
        turn = bore.value.get("turn", 0.0)
        reach = min(KEY_SIDE * half / (bore.value["width"] / 2), pi / 2)
        found = np.cos(angle) * cos(turn) + np.sin(angle) * sin(turn) < cos(reach)
    return found


def _put(readings: dict[str, Reading], least: float, greatest: float, clear: float) -> None:
    """The least is what a straight shaft finds clear, where a bow leaves less than any width."""
    value = readings["bore.width"].value
    if clear < least and value - clear > greatest - value:
        put_between(readings, "bore.width", (clear, greatest), where=STRAIGHT_SHAFT)
    else:
        put_between(readings, "bore.width", (min(least, clear), greatest))
