"""What a piece covers of the plate: closed forms, and the mesh that stands on it."""

from __future__ import annotations

from math import cos, pi, radians, sin, sqrt, tau
from pathlib import Path

import numpy as np
import pytest

from rollergen.answer.prototype import PrintAsked, Prototype, prototype_of
from rollergen.answer.report import draw_profile
from rollergen.errors import ProfileError
from rollergen.shape.mesh import build_mesh
from rollergen.shape.outline import circle, polygon, turned
from rollergen.spec.reading import profile_from_text
from rollergen.tooling.print_checks import Printer
from rollergen.tooling.print_plate import footprint, room_on, widest

GENERAL = (Path(__file__).parents[2] / "profiles" / "beet-general.toml").read_text()
OBLONG = polygon([(-30.0, -10.0), (30.0, -10.0), (30.0, 10.0), (-30.0, 10.0)], "body")


def printed(pitch: str, plate: tuple[float, float], ribs: int = 1, **more) -> Prototype:
    text = GENERAL.replace('helix_pitch = "650 mm"', f'helix_pitch = "{pitch}"').replace(
        "count = 5", f"count = {ribs}"
    )
    asked = PrintAsked(printer=Printer(plate=plate, height=more.pop("height", 250.0)), **more)
    return prototype_of(draw_profile(profile_from_text(text)), asked)


def test_a_rectangle_covers_itself_and_with_a_twist_what_its_corners_pass() -> None:
    assert footprint(OBLONG, 0.0, 0.0, 100.0) == pytest.approx((60, 20), rel=1e-12)
    assert footprint(turned(OBLONG, pi / 2), 0.0, 0.0, 100.0) == pytest.approx((20, 60), rel=1e-12)
    assert footprint(OBLONG, tau / 100, 0.0, 100.0) == pytest.approx((2 * sqrt(1000),) * 2, rel=1e-12)
    for way in (1, -1):  # 10 deg either way: the long side's corner has passed +x, the short one's not +y
        x, y = footprint(OBLONG, way * radians(10) / 50, 0.0, 50.0)
        assert x == pytest.approx(2 * (30 * cos(radians(10)) + 10 * sin(radians(10))), rel=1e-12)
        assert y == pytest.approx(2 * (10 * cos(radians(10)) + 30 * sin(radians(10))), rel=1e-12)
    x, _ = footprint(OBLONG, radians(40) / 50, 0.0, 50.0)
    assert x == pytest.approx(2 * sqrt(1000), rel=1e-12)  # 18.4 deg bring the corner onto the axis
    part, whole = (footprint(OBLONG, radians(40) / 50, low, 50.0) for low in (40.0, 0.0))
    assert part[0] < whole[0]


def test_circles_cover_their_width_wherever_they_are_turned() -> None:
    for turn in (0.0, 0.1):
        assert footprint(circle(25.0, "body"), turn, 0.0, 77.0) == pytest.approx((50, 50), rel=1e-12)


@pytest.mark.parametrize("pitch", ["straight", "3000 mm", "650 mm"])
def test_the_mesh_stands_within_what_is_told_and_reaches_it(pitch: str) -> None:
    found = printed(pitch, (220.0, 220.0), foot=0.0)
    points = build_mesh(found.pieces.pieces[0].part, chord_error=0.02).vertices
    covered = found.report.footprint_mm
    assert np.ptp(points[:, :2], axis=0) == pytest.approx(covered, abs=0.15)
    assert (np.ptp(points[:, :2], axis=0) <= np.array(covered) + 1e-9).all()


def test_one_straight_rib_fits_a_plate_narrower_than_its_tip_circle() -> None:
    report = printed("straight", (121.0, 121.0)).report
    assert report.printable and report.tip_circle_mm == 128
    assert report.footprint_mm == pytest.approx(
        (64 + 56, 56 + 56), rel=1e-12
    )  # the rib's tip to +x, else the body
    assert report.plate_left_mm == pytest.approx(1.0, rel=1e-9)
    with pytest.raises(ProfileError, match="other turns about the axis are not looked at"):
        printed("650 mm", (121.0, 121.0), ribs=5)
    long, short = report.footprint_mm
    for plate in ((long + 0.01, short + 0.01), (short + 0.01, long + 0.01)):
        assert printed("straight", plate).report.plate_left_mm == pytest.approx(0.01, abs=1e-9)
    with pytest.raises(ProfileError, match=r"--scale 0\.999 fits"):
        printed("straight", (short + 0.01, long - 0.01))


def test_every_piece_is_judged_by_itself() -> None:
    """The twist of half a segment covers less than that of the whole."""
    whole, half = printed("650 mm", (220.0, 220.0)), printed("650 mm", (220.0, 220.0), height=100.0)
    assert len(half.printed) == 2 and min(half.report.footprint_mm) < min(whole.report.footprint_mm)


def test_a_plate_is_taken_either_way_round() -> None:
    assert room_on((100.0, 50.0), (45.0, 90.0)) == pytest.approx(5.0)
    assert room_on((100.0, 50.0), (60.0, 60.0)) == pytest.approx(-10.0)
    assert widest((100.0, 50.0), [(45.0, 90.0), (99.0, 20.0), (60.0, 60.0)]) == (60.0, 60.0)
