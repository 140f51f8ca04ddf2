"""A bore held from place to place: what its mean width hides, in closed form and without noise."""

from __future__ import annotations

from collections.abc import Callable
from math import cos, pi, sin

import numpy as np
import pytest
from numpy.typing import NDArray
from scan_case import profile_with, swept

from rollergen.shape.bore import bore_outline
from rollergen.shape.section import section_of
from rollergen.spec.profile import Profile
from rollergen.tooling.part_features import Reading
from rollergen.tooling.scan_bore import STRAIGHT_SHAFT, hold_bore
from rollergen.tooling.scan_strays import shape_of
from rollergen.tooling.scan_surfaces import surfaces_of
from rollergen.tooling.section_fit import fit_bore, look_bore

Floats = NDArray[np.float64]
LENGTH, WIDTH = 152.0, 38.3
ROUND = ('section = "square"', 'section = "round"'), ('corner_radius = "1.5 mm"\n[ch', "[ch")
KEYED = (
    ('section = "square"', 'section = "keyed"\nkey_width = "10 mm"\nkey_depth = "3.3 mm"'),
    ('corner_radius = "1.5 mm"\n[ch', 'corner_radius = "0.5 mm"\n[ch'),
)
HEXAGON = (('section = "square"', 'section = "hexagon"'),)
KINDS: dict[str, Profile] = {
    "square": profile_with(),
    "hexagon": profile_with(*HEXAGON),
    "round": profile_with(*ROUND),
    "keyed": profile_with(*KEYED),
}


def held(
    kind: str, change: Callable[[Floats, Floats], Floats], *, turn: float = 0.07, seen: float = 1.0
) -> Reading:
    """The bore's reading when its points are shifted by ``change(points, t)``; t is -1 to 1 from end to end."""
    profile = KINDS[kind]
    points, _ = swept(bore_outline(profile.bore), LENGTH, 0.0, 3.0, hole=True)
    points = points[(points[:, 2] > 1) & (points[:, 2] < LENGTH - 1)]
    points = points[points[:, 2] < seen * LENGTH]
    off = change(points, points[:, 2] / (LENGTH / 2) - 1)
    points = points + np.column_stack([off, np.zeros(len(off))])
    c, s = cos(turn), sin(turn)
    points = points @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]) + [0.3, -0.2, 0.0]
    m = fit_bore(points, profile)
    look = look_bore(points, profile, m.value)
    assert look is not None
    readings = {"bore.width": Reading(value=m.value["width"], error=m.error["width"], points=m.points)}
    surfaces = surfaces_of(profile, section_of(profile))
    hold_bore(readings, points, look, m, shape_of(points, look, LENGTH / 2), profile, surfaces, (None, None))
    return readings["bore.width"]


def between(reading: Reading) -> tuple[float, float]:
    assert reading.least is not None and reading.greatest is not None
    return reading.least, reading.greatest


def stretched(points: Floats, by: Floats) -> Floats:
    """Shift that makes the bore wider by ``by`` along its own x and y (mm, one row a point)."""
    return points[:, :2] / (WIDTH / 2) * by / 2


@pytest.mark.parametrize("kind", KINDS)
def test_a_true_bore_has_one_width_everywhere(kind: str) -> None:
    reading = held(kind, lambda p, t: np.zeros((len(p), 2)))
    assert between(reading) == pytest.approx((WIDTH, WIDTH), abs=0.003)


@pytest.mark.parametrize("kind", ["square", "round"])
def test_a_bore_wider_one_way_than_the_other_is_held_by_both(kind: str) -> None:
    """1 mm wider along x and 1 mm narrower along y: the mean is as asked, neither width is."""
    reading = held(kind, lambda p, t: stretched(p, np.array([[1.0, -1.0]])))
    assert reading.value == pytest.approx(WIDTH, abs=0.1)
    tight = 0.02 if kind == "square" else 0.12  # a round one by medians over sectors of 30 deg
    assert between(reading) == pytest.approx((WIDTH - 1, WIDTH + 1), abs=tight)


@pytest.mark.parametrize("kind", ["square", "hexagon", "round", "keyed"])
def test_a_bore_that_tapers_is_held_by_its_ends(kind: str) -> None:
    reading = held(kind, lambda p, t: stretched(p, np.column_stack([t, t])))
    assert between(reading) == pytest.approx((WIDTH - 1, WIDTH + 1), abs=0.06)


def test_a_bore_narrow_in_the_middle_is_held_by_it() -> None:
    reading = held("square", lambda p, t: stretched(p, np.column_stack([t * t - 1, t * t - 1])))
    assert between(reading) == pytest.approx((WIDTH - 1, WIDTH), abs=0.12)


@pytest.mark.parametrize("kind", ["square", "round"])
def test_a_bow_leaves_a_straight_shaft_less_than_any_width(kind: str) -> None:
    """The outermost hundredth of the length is left out: 0.07 mm of the bow.

    Bowed by 0.9 mm along x: a straight shaft finds 0.9 mm less, and no width is less than asked.
    """
    reading = held(kind, lambda p, t: np.column_stack([0.9 * (1 - t * t), 0 * t]))
    assert reading.where == STRAIGHT_SHAFT
    assert between(reading)[0] == pytest.approx(WIDTH - 0.9, abs=0.12)
    assert between(reading)[1] == pytest.approx(WIDTH, abs=0.12)


def test_half_a_bore_is_held_by_what_is_seen() -> None:
    reading = held("square", lambda p, t: stretched(p, np.array([[1.0, -1.0]])), seen=0.5)
    assert between(reading) == pytest.approx((WIDTH - 1, WIDTH + 1), abs=0.05)


def test_a_keyway_is_no_place_of_the_round() -> None:
    """A key 0.9 mm deeper does not widen the bore."""

    def deeper(p: Floats, t: Floats) -> Floats:
        return np.column_stack([np.where(p[:, 0] > WIDTH / 2 + 1, 0.9, 0.0), 0 * t])

    assert between(held("keyed", deeper, turn=pi / 30)) == pytest.approx((WIDTH, WIDTH), abs=0.05)
