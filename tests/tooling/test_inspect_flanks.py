"""Width and lean rib by rib, in closed form: one rib of five is narrow, or leans, and the mean of all says nothing."""

from __future__ import annotations

from math import asin, cos, degrees, pi, radians, tan

import numpy as np
import pytest
from numpy.typing import NDArray
from scan_case import profile_with, swept

from rollergen.shape.section import section_of
from rollergen.spec.profile import Profile
from rollergen.tooling.part_features import Reading
from rollergen.tooling.scan_flanks import hold_flanks
from rollergen.tooling.scan_strays import Shape
from rollergen.tooling.scan_surfaces import surfaces_of
from rollergen.tooling.section_fit import NOT_MOVED, RIB_KEYS, Grain, Measured, look_outer

Floats = NDArray[np.float64]
LENGTH = 152.0
KINDS: dict[str, Profile] = {
    "right": profile_with(),
    "left, unlike flanks": profile_with(
        (
            'flank_angle = "15 deg"',
            'flank_angle_ahead = "12 deg"\nflank_angle_behind = "24 deg"\nhand = "left"',
        )
    ),
    "straight, sharp": profile_with(
        ('helix_pitch = "700 mm"', 'helix_pitch = "straight"'),
        ('tip_radius = "2.5 mm"', 'tip_radius = "0 mm"'),
        ('root_radius = "4 mm"', 'root_radius = "0 mm"'),
    ),
}


def rib_two(profile: Profile) -> tuple[Floats, Floats, Floats, NDArray[np.bool_]]:
    """(points on the outer surface, radius, angle off the middle of rib 2, which are on it)."""
    points, _ = swept(section_of(profile).outer, LENGTH, profile.turn_per_mm, 1.0, hole=False)
    points = points[(points[:, 2] > 2) & (points[:, 2] < LENGTH - 2)][::3]
    turn = np.arctan2(points[:, 1], points[:, 0]) - profile.turn_per_mm * points[:, 2]
    off = np.angle(np.exp(1j * (turn - 2 * pi / 5)))
    r = np.hypot(points[:, 0], points[:, 1])
    return points, r, off, (np.abs(off) < 0.3) & (r > 59.01)


def held(
    profile: Profile, points: Floats, turned: Floats, *, facet: float = 0.0, chord: float = 0.0
) -> dict[str, Reading]:
    """Readings of points that were turned about the axis by so much each (rad)."""
    c, s = np.cos(turned), np.sin(turned)
    x, y = points[:, 0] * c - points[:, 1] * s, points[:, 0] * s + points[:, 1] * c
    q = np.column_stack([x, y, points[:, 2]])
    ribs = profile.ribs
    assert ribs is not None
    value = NOT_MOVED | {"radius": 59.0, "twist": profile.turn_per_mm}
    value |= {key: getattr(ribs, key) for key in RIB_KEYS}
    value = {key: v for key, v in value.items() if v or not key.endswith("_radius")}
    outer = Measured(value=value, error=dict.fromkeys(value, 1e-3), spread=1e-3, points=len(q))
    look = look_outer(q, profile, value)
    assert look is not None
    surfaces = surfaces_of(profile, section_of(profile))
    readings = {
        "ribs.tip_width": Reading(value=ribs.tip_width, error=0.001, points=1),
        "ribs.flank_angle_ahead": Reading(value=degrees(ribs.flank_angle_ahead), error=0.01, points=1),
        "ribs.flank_angle_behind": Reading(value=degrees(ribs.flank_angle_behind), error=0.01, points=1),
    }
    names = np.array(surfaces.outer.features)[look.edge]
    grain = Grain(spacing=1.0, chord=chord) if chord else None
    shape = Shape(waves=np.zeros(13), half=LENGTH / 2)
    hold_flanks(
        readings,
        q,
        look,
        names,
        outer,
        shape,
        profile,
        surfaces,
        (None, None),
        facet=facet,
        round_grain=grain,
    )
    return readings


def between(reading: Reading) -> tuple[float, float]:
    assert reading.least is not None and reading.greatest is not None
    return reading.least, reading.greatest


@pytest.mark.parametrize("kind", KINDS)
def test_ribs_as_drawn_are_all_alike(kind: str) -> None:
    points, _, off, _ = rib_two(KINDS[kind])
    for reading in held(KINDS[kind], points, 0 * off).values():
        assert between(reading) == pytest.approx((reading.value, reading.value), abs=0.02)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("by", [-0.8, 0.5])
def test_one_rib_narrower_or_wider_is_held_by_its_own_width(kind: str, by: float) -> None:
    """Both flanks turned towards or from each other by half of it, measured along the arc; no flank leans."""
    points, r, off, rib = rib_two(KINDS[kind])
    readings = held(KINDS[kind], points, np.where(rib, np.sign(off) * by / 2 / r, 0.0))
    assert between(readings["ribs.tip_width"]) == pytest.approx((11 + min(by, 0), 11 + max(by, 0)), abs=0.04)
    for side in ("ahead", "behind"):
        reading = readings[f"ribs.flank_angle_{side}"]
        assert between(reading) == pytest.approx((reading.value, reading.value), abs=0.6)


@pytest.mark.parametrize("kind", KINDS)
def test_one_rib_that_leans_is_held_by_both_its_flanks(kind: str) -> None:
    """Sheared ahead by tan 5 deg of the height: a flank at g to the radius turns by 5 deg cos^2 g, its width stays."""
    profile = KINDS[kind]
    points, r, _, rib = rib_two(profile)
    middle = 63.5
    readings = held(profile, points, np.where(rib, tan(radians(5)) * (r - middle) / r, 0.0))
    width = readings["ribs.tip_width"]
    assert between(width) == pytest.approx((11, 11), abs=0.1)
    for side, sign in (("ahead", -1.0), ("behind", 1.0)):
        reading = readings[f"ribs.flank_angle_{side}"]
        spread = (5.5 + (68 - middle) * tan(radians(reading.value))) / middle
        turned = sign * 5 * cos(radians(reading.value) + asin(spread)) ** 2
        worst = between(reading)[0 if turned < 0 else 1]
        assert worst - reading.value == pytest.approx(turned, abs=0.45)
        assert between(reading)[1 if turned < 0 else 0] == pytest.approx(reading.value, abs=0.05)


def test_a_rib_that_is_not_there_has_no_flank() -> None:
    """Its height tells it; the others keep theirs."""
    profile = KINDS["right"]
    points, _, off, rib = rib_two(profile)
    readings = held(profile, points[~rib], 0 * off[~rib])
    assert between(readings["ribs.tip_width"]) == pytest.approx((11, 11), abs=0.02)
