"""A core cast turned against the ribs: read so whatever is seen of the part, and the ribs read as they are."""

from __future__ import annotations

from dataclasses import replace
from math import degrees, radians

import numpy as np
import pytest
from scan_case import Floats, noisy, only, part_mesh, profile_with
from scipy.spatial.transform import Rotation

from rollergen.shape.section import section_of
from rollergen.tooling.aligning import Fit, Pose
from rollergen.tooling.inspecting import lay, right_way_up, take
from rollergen.tooling.scan import scan_of_mesh
from rollergen.tooling.scan_core import freed
from rollergen.tooling.scan_measuring import measure
from rollergen.tooling.scan_surfaces import surfaces_of

PROFILE = profile_with()
SECTION = section_of(PROFILE)
SURFACES = surfaces_of(PROFILE, SECTION)
BORE, CORE = (
    27.5,
    53.0,
)  # mm: the bore lies within the first, the chambers within the second, the ribs without
POINTS, FACETS = part_mesh(PROFILE, spacing=4.0)
STEEP = profile_with(
    ('flank_angle = "15 deg"', 'flank_angle_ahead = "10 deg"\nflank_angle_behind = "35 deg"')
)


def about_axis(points: Floats, by: float) -> Floats:
    c, s = np.cos(radians(by)), np.sin(radians(by))
    return np.column_stack([points[:, :2] @ np.array([[c, s], [-s, c]]), points[:, 2]])


def turned_core(bore: float, chambers: float | None = None, points: Floats = POINTS) -> Floats:
    """Noisy points of the part with bore and chambers turned by so many degrees."""
    r = np.hypot(points[:, 0], points[:, 1])
    found = noisy(points, FACETS, 0.03, seed=5)
    for inner, by in ((r < BORE, bore), ((r >= BORE) & (r < CORE), bore if chambers is None else chambers)):
        found[inner] = about_axis(found[inner], by)
    return found


def fit_at(origin_z: float = 0.0, *, axial: float = 1.0, cost: float = 0.03) -> Fit:
    return Fit(
        pose=Pose(rotation=np.eye(3), origin=np.array([0.0, 0.0, origin_z])),
        hand=1, radial=1.0, axial=axial, turn_ratio=1.0, spread=0.03, cost=cost, sigma=np.full(9, 1e-3),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("by", "lower", "axial"), [(3.0, True, 1.05), (-3.0, False, 0.96), (0.0, True, 1.03)]
)
def test_how_long_a_part_of_one_end_was_laid_does_not_turn_its_core(
    by: float, lower: bool, axial: float
) -> None:
    """With one end the length gives way to a core that is turned: the pitch tells where the drawn turn is."""
    keep = POINTS[:, 2] < 95 if lower else POINTS[:, 2] > 57
    points, facets = only(turned_core(by), FACETS, keep)
    fit = fit_at(76 * (1 - axial) * (-1 if lower else 1), axial=axial)
    taken = measure(scan_of_mesh(points, facets), fit, PROFILE, SECTION, SURFACES)
    for key in ("bore.phase", "chambers.phase"):
        reading = taken.phases[key]
        assert reading.value == pytest.approx(by, abs=max(4 * reading.error, 0.06))
        assert 0.001 < reading.error < 0.1


@pytest.mark.parametrize(
    ("bore", "chambers", "laid_at"), [(5.0, 5.0, 0.0), (5.0, 5.0, 3.5), (0.0, -4.0, -1.0), (-6.0, 3.0, 2.0)]
)
def test_a_core_that_was_held_to_the_ribs_is_let_turn_and_the_ribs_lie_as_drawn(
    bore: float, chambers: float, laid_at: float
) -> None:
    """Wherever between ribs and core the part was laid, the frame goes back to the ribs."""
    scan = scan_of_mesh(about_axis(turned_core(bore, chambers), laid_at), FACETS)
    found = freed(scan, fit_at(cost=0.5), SURFACES)
    assert np.degrees(found.core) == pytest.approx([bore, chambers], abs=0.1)
    ribs = degrees(np.arctan2(found.pose.rotation[1, 0], found.pose.rotation[0, 0]))
    assert ribs == pytest.approx(laid_at, abs=0.1)
    assert (found.cost, found.axial) == (0.5, pytest.approx(1.0, abs=1e-3))


def test_a_sound_part_keeps_the_fit_it_has() -> None:
    fit = fit_at()
    assert freed(scan_of_mesh(turned_core(0.0), FACETS), fit, SURFACES) is fit


def test_a_part_without_ribs_has_nothing_to_turn_against() -> None:
    plain = replace(SURFACES, outer=replace(SURFACES.outer, features=("body",)))
    fit = fit_at(cost=0.5)
    assert freed(scan_of_mesh(turned_core(5.0), FACETS), fit, plain) is fit


def end_for_end(cost: float) -> Fit:
    """The fit with the other end up at which the ribs meet, their flanks swapped: 78.17 deg on from end to end."""
    flip = np.diag([1.0, -1.0, -1.0]) @ Rotation.from_euler("z", -STEEP.turn_per_mm * 152).as_matrix()
    return replace(fit_at(cost=cost), pose=Pose(rotation=flip, origin=np.array([0.0, 0.0, 152.0])))


def test_flanks_that_differ_tell_the_end_whatever_the_core_says() -> None:
    points, facets = part_mesh(STEEP, spacing=4.0)
    scan = scan_of_mesh(turned_core(0.0, -3.0, points), facets)
    closer, right = end_for_end(0.1), fit_at(cost=0.3)
    surfaces = surfaces_of(STEEP, section_of(STEEP))
    assert right_way_up([closer, right], scan, surfaces, STEEP) is right
    assert right_way_up([right, closer], scan, surfaces, STEEP) is right
    # flanks that are alike tell nothing: that with which the whole lies closer goes
    alike = scan_of_mesh(turned_core(0.0, -3.0), FACETS)
    assert right_way_up([closer, right], alike, SURFACES, PROFILE) is closer


@pytest.mark.slow
@pytest.mark.parametrize(("bore", "chambers"), [(5.0, 5.0), (-5.0, 4.0)])
def test_a_part_with_a_turned_core_is_laid_by_its_ribs(bore: float, chambers: float) -> None:
    points, facets = part_mesh(STEEP, spacing=4.0)
    laid = lay(scan_of_mesh(turned_core(bore, chambers, points), facets), STEEP, section_of(STEEP))
    assert laid.end == "known" and laid.fit.pose.rotation[2, 2] > 0.999
    taken = take(laid)
    assert taken.phases["bore.phase"].value == pytest.approx(bore, abs=0.1)
    assert taken.phases["chambers.phase"].value == pytest.approx(chambers, abs=0.1)
    assert taken.readings["ribs.flank_angle_behind"].value == pytest.approx(35.0, abs=1.5)
    assert taken.readings["ribs.helix_pitch"].value == pytest.approx(700.0, abs=1.0)
