"""Chambers closed by foam: where the profile asks for it nothing is wrong, anywhere else rubber closes a chamber."""

from __future__ import annotations

from functools import cache
from math import cos, radians, sin

import numpy as np
import pytest
from numpy.typing import NDArray
from scan_case import TEXT, profile_with

from rollergen.shape.distance import signed_distance
from rollergen.shape.section import section_of
from rollergen.spec.profile import Profile
from rollergen.tooling.inspecting import mirrored_profile
from rollergen.tooling.scan_ends import End
from rollergen.tooling.scan_fitted import Fitted
from rollergen.tooling.scan_foam import Foam, behind_foam, foam_of, ways_it_lies
from rollergen.tooling.scan_strays import covered_holes
from rollergen.tooling.scan_surfaces import surfaces_of

Floats = NDArray[np.float64]
LENGTH, STEP = 152.0, 1.0
FOAM = 'count = 6\nfill = "foam"\nfoam_density = "90 kg/m^3"\nfoamed = '
NO_RIBS = (TEXT[TEXT.index("[ribs]") : TEXT.index("[bore]")], "")
ROUND = (('section = "square"', 'section = "round"'), ('corner_radius = "1.5 mm"\n', ""))


@cache
def foamed(*numbers: int) -> Profile:
    return profile_with(("count = 6\n", f"{FOAM}{list(numbers)}\n"))


@cache
def faces(profile: Profile, closed: tuple[int, ...], sunk: float) -> tuple[Floats, Floats]:
    """(points, their facing) of flat faces ``sunk`` mm into the chambers ``closed`` (from 1), at both ends."""
    grid = np.arange(-60, 60, STEP)
    x, y = (g.ravel() for g in np.meshgrid(grid, grid))
    flat = np.column_stack([x, y])
    outlines = [section_of(profile).chambers[number - 1] for number in closed]
    inside = np.min([signed_distance(one, flat) for one in outlines], axis=0) < 0 if outlines else x > 99
    flat = flat[inside]
    points = [np.column_stack([flat, np.full(len(flat), z)]) for z in (sunk, LENGTH - sunk)]
    facing = np.zeros((2 * len(flat), 3))
    facing[:, 2] = np.repeat([-1.0, 1.0], len(flat))
    return np.concatenate(points), facing


def seen(
    profile: Profile, closed: tuple[int, ...], *, sunk: float = 0.0, turned: float = 0.0, over: bool = False
) -> tuple[Foam, float]:
    """(foam, greatest share of the other chambers' mouths that is closed) of faces in these chambers."""
    q, facing = faces(profile, closed, sunk)
    if over:  # end for end, about +x
        q = np.column_stack([q[:, 0], -q[:, 1], LENGTH - q[:, 2]])
        facing = facing * [1.0, -1.0, -1.0]
    c, s = cos(radians(turned)), sin(radians(turned))
    q = q @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    section = section_of(profile)
    surfaces, area = surfaces_of(profile, section), np.full(len(q), STEP**2)
    foam = foam_of(q, facing, area, profile, section, surfaces)
    low, high = (End(height=z, error=0.0, slope_x=0.0, slope_y=0.0, points=99) for z in (0.0, LENGTH))
    covered = covered_holes(q, q, facing, area, (low, high), surfaces, section, {}, foam.asked)
    return foam, max((each.covered_share for each in covered if each.hole == "chambers"), default=0.0)


@pytest.mark.parametrize("sunk", [0.0, 4.0, -2.0])
def test_foam_where_it_is_asked_closes_no_mouth(sunk: float) -> None:
    foam, share = seen(foamed(1, 4), (1, 4), sunk=sunk)
    assert foam.closed == (1, 4) and share == 0.0
    assert foam.points.mean() > 0.8  # all but a rim of 1 mm: no stray, and nothing to fit
    everywhere, share = seen(foamed(1, 2, 3, 4, 5, 6), (1, 2, 3, 4, 5, 6), sunk=sunk)
    assert everywhere.closed == (1, 2, 3, 4, 5, 6) and share == 0.0


def test_a_chamber_that_should_be_open_and_is_closed_counts_as_a_quarter_of_the_open_ones() -> None:
    foam, share = seen(foamed(1, 4), (1, 2, 4))
    assert foam.closed == (1, 4) and share == pytest.approx(0.25, abs=0.01)
    swapped, share = seen(foamed(1, 4), (2, 5))
    assert swapped.closed == () and share == pytest.approx(0.5, abs=0.01)
    nobody, share = seen(profile_with(), (1, 4))
    assert nobody.closed == () and share == pytest.approx(2 / 6, abs=0.01)


def test_open_chambers_hold_no_foam_yet() -> None:
    foam, share = seen(foamed(1, 4), ())
    assert foam.closed == () and share == 0.0 and not foam.points.any()


def alike_all_round(*numbers: int) -> Profile:
    """A plain sleeve with a round bore: nothing but the foam tells one chamber from another."""
    return profile_with(NO_RIBS, *ROUND, ("count = 6\n", f"{FOAM}{list(numbers)}\n"))


def test_chambers_are_told_apart_by_ribs_and_bore_and_else_by_what_suits() -> None:
    assert [way.tolist() for way in ways_it_lies(foamed(1, 4))] == [[0, 1, 2, 3, 4, 5]]
    plain = alike_all_round(1, 2, 4)
    assert len(ways_it_lies(plain)) == 12  # 6 turns, either end up
    for turned in (0.0, 60.0, 180.0):
        for over in (False, True):
            foam, share = seen(plain, (1, 2, 4), turned=turned, over=over)
            assert foam.closed == (1, 2, 4) and share == 0.0, (turned, over)
    assert seen(plain, (1, 2, 3), turned=60.0)[1] == pytest.approx(1 / 3, abs=0.01)
    square = profile_with(NO_RIBS, ("count = 6\n", f"{FOAM}[1]\n"))
    assert len(ways_it_lies(square)) == 4  # half a turn, and both ends


def test_the_mirror_image_has_its_foam_mirrored() -> None:
    """Chamber 1 lies ahead of web 1; in a mirror behind it, which is the last."""
    mirrored = mirrored_profile(foamed(1, 2)).chambers
    assert mirrored is not None and mirrored.foamed == (6, 5)


def test_what_foam_hides_is_said_only_where_nothing_else_shows_it() -> None:
    unseen = Fitted(outer=None, bore=None, chambers=None, shape=None)
    foam = Foam(asked=(0,), closed=(1,), points=np.zeros(0, dtype=bool))
    assert behind_foam(foam, unseen)["chambers.wall"] == "closed by foam as the profile asks"
    assert behind_foam(Foam(asked=(0,), closed=(), points=foam.points), unseen) == {}
