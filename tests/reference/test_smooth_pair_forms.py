"""Published forms for smooth roll pairs, through the ribbed study with a plain outline.

Sources: roll-crusher theory as taught (two teaching texts agree): cos(a) = (R + g/2)/(R + r), grip while
friction >= tan(a); Coulson and Richardson, Chemical Engineering vol. 2, Example 2.2 (title and number from
memory, numbers read in a companion file).  Unequal rolls and the flat wall: plane geometry.
"""

from __future__ import annotations

from math import acos, asin, atan, cos, degrees, radians, sin, sqrt, tan

import numpy as np
import pytest

from rollergen.shape.outline import circle
from rollergen.shape.touching_mate import Pair, centre_angles, closing, states_of
from rollergen.study.grip import friction_needed, grip_size


def smooth(radius: float, mate: float, gap: float, ratio: float = 1.0) -> Pair:
    return Pair(
        outline=circle(radius, "body"),
        count=0,
        turn_per_mm=0.0,
        body_radius=radius,
        tip_radius=radius,
        mate_radius=mate,
        axis_distance=radius + mate + gap,
        speed_ratio=ratio,
    )


def test_textbook_example_of_a_crusher():
    """1 m rolls 12.5 mm apart, angle of nip 31 deg: 25.357 mm, a RADIUS (printed rounded as 25 mm)."""
    size = grip_size(smooth(500.0, 500.0, 12.5), tan(radians(15.5)))
    assert size / 2 == pytest.approx(0.50625e3 / cos(radians(15.5)) - 500.0, rel=1e-9)
    assert size / 2 == pytest.approx(25.356995842, rel=1e-9)


def test_equal_rolls():
    size = grip_size(smooth(50.0, 50.0, 4.0), 0.3)
    assert size / 2 == pytest.approx(52.0 / cos(atan(0.3)) - 50.0, rel=1e-9)
    assert size / 2 == pytest.approx(4.2895938, abs=1e-7)
    states = states_of(smooth(50.0, 50.0, 4.0), np.array([size]))
    assert np.degrees(states.wedge.half.max()) == pytest.approx(16.6992, abs=1e-4)


@pytest.mark.parametrize("radius", [3.0, 8.0, 15.0])
def test_a_body_is_held_exactly_when_friction_reaches_the_tangent(radius: float):
    need = float(friction_needed(smooth(50.0, 50.0, 4.0), np.array([2 * radius]))[0])
    assert need == pytest.approx(tan(acos(52.0 / (50.0 + radius))), rel=1e-9)


@pytest.mark.parametrize(
    ("r", "first", "second"), [(10, 24.5570, 40.2772), (20, 34.1325, 54.7020), (30, 40.1716, 63.2765)]
)
def test_unequal_rolls_contact_angles(r: float, first: float, second: float):
    alpha, gamma, _ = centre_angles(np.array([60.0 + r]), np.array([35.0 + r]), 98.0)
    assert (degrees(alpha[0]), degrees(gamma[0])) == pytest.approx((first, second), abs=5e-5)


@pytest.mark.parametrize(("friction", "radius"), [(0.3, 3.5199), (0.4, 5.0372), (0.6, 9.149)])
def test_unequal_rolls_largest_body(friction: float, radius: float):
    size = grip_size(smooth(60.0, 35.0, 3.0), friction)
    assert size / 2 == pytest.approx(radius, abs=6e-5 if radius < 9 else 6e-4)
    assert grip_size(smooth(35.0, 60.0, 3.0), friction) == pytest.approx(size, rel=1e-9)


def test_unequal_rolls_lie_between_the_equal_ones():
    small, mixed, large = (grip_size(smooth(*p, 3.0), 0.4) / 2 for p in ((35, 35), (60, 35), (60, 60)))
    assert (small, large) == pytest.approx((4.3117, 6.2375), abs=5e-5)
    assert small < mixed < large


def test_roll_against_a_flat_wall():
    """Mate radius without end: cos t = (R + g - r)/(R + r), the wall's own angle vanishes."""
    exact = degrees(acos((60.0 + 3.0 - 10.0) / (60.0 + 10.0)))
    alpha, gamma, _ = centre_angles(np.array([70.0]), np.array([1e7 + 10.0]), 60.0 + 1e7 + 3.0)
    assert exact == pytest.approx(40.7870, abs=1e-4)
    assert degrees(alpha[0]) == pytest.approx(exact, abs=3e-4)
    assert degrees(gamma[0]) < 3e-4


@pytest.mark.parametrize(("shape", "across"), [(0.5, 4.1547), (1.0, 4.2896), (2.0, 4.7915)])
def test_an_aligned_ellipse_between_equal_rolls(shape: float, across: float):
    """b^2 cos(al)/h + R cos(al) = R + g/2, h^2 = b^2 cos^2 + c^2 sin^2, c = shape * b (own calculation).

    At shape 1 it is the study's own size; for others the size of a round body of that SHORT diameter
    is within the 10 per cent the report states, for this attitude.
    """
    al, b = atan(0.3), across
    h = sqrt((b * cos(al)) ** 2 + (shape * b * sin(al)) ** 2)
    assert b * b * cos(al) / h + 50 * cos(al) == pytest.approx(52.0, abs=1e-4)
    short = min(b, shape * b)
    round_size = grip_size(smooth(50.0, 50.0, 4.0), 0.3) / 2
    if shape == 1.0:
        assert round_size == pytest.approx(b, abs=5e-5)
    elif shape > 1.0:
        assert round_size == pytest.approx(short, rel=0.12)


def test_same_sense_neighbours_draw_in_only_while_the_inward_side_is_faster():
    """At equal speeds nothing closes, whatever the friction; the crusher form must not be used there."""
    for ratio, sign in ((-1.0, 0), (-0.95, 1), (-1.05, -1)):
        pair = smooth(50.0, 50.0, 4.0, ratio)
        closes = closing(states_of(pair, np.array([8.0])).wedge, ratio, False)
        assert (np.sign(np.round(closes, 9)) == sign).all()
    assert grip_size(smooth(50.0, 50.0, 4.0, -1.0), 1.5) == 0.0


def test_both_contacts_slipping_lift_a_light_body_at_equal_speeds():
    """2 (1 + mu^2) sin cos/(cos - mu sin) > 0: +0.43343 at 10 deg, 0.4; inward pair -0.44055 (own calculation)."""
    al, mu = radians(10.0), 0.4
    lifted = 2 * (1 + mu * mu) * sin(al) * cos(al) / (cos(al) - mu * sin(al))
    assert lifted == pytest.approx(0.43343, abs=1e-4)
    assert 2 * (sin(al) - mu * cos(al)) == pytest.approx(-0.44055, abs=1e-5)
    body = np.array([2 * (52.0 / cos(al) - 50.0)])  # a body that sits at 10 deg
    assert friction_needed(smooth(50.0, 50.0, 4.0), body)[0] == pytest.approx(tan(al), rel=1e-9)
    assert friction_needed(smooth(50.0, 50.0, 4.0, -1.0), body)[0] == np.inf


def test_forms_in_circulation_that_are_wrong_are_not_ours():
    """Seen in machine-written pages: theta = acos(r/2D), d = 2R sin(theta/2), theta = 2 asin(r/R)."""
    r, R = 10.0, 50.0
    half = float(states_of(smooth(R, R, 4.0), np.array([2 * r])).wedge.half.max())
    for wrong in (acos(r / (4 * R)) / 2, asin(r / R), asin(2 * r / (2 * R)) / 2):
        assert abs(half - wrong) > 0.05
