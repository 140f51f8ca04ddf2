"""A core cast turned against the ribs: read so whatever is seen of the part, and the ribs read as they are."""

from __future__ import annotations

from math import radians

import numpy as np
import pytest
from scan_case import Floats, noisy, only, part_mesh, profile_with

from rollergen.shape.section import section_of
from rollergen.tooling.aligning import Fit, Pose
from rollergen.tooling.scan import scan_of_mesh
from rollergen.tooling.scan_measuring import measure
from rollergen.tooling.scan_surfaces import surfaces_of

PROFILE = profile_with()
SECTION = section_of(PROFILE)
SURFACES = surfaces_of(PROFILE, SECTION)
CORE = 53.0  # mm: bore and chambers lie within, the ribs without
POINTS, FACETS = part_mesh(PROFILE, spacing=4.0)


def turned_core(by: float) -> Floats:
    """The part's points with everything within ``CORE`` turned by so many degrees."""
    points = noisy(POINTS, FACETS, 0.03, seed=5)
    inner = np.hypot(points[:, 0], points[:, 1]) < CORE
    c, s = np.cos(radians(by)), np.sin(radians(by))
    points[inner, :2] = points[inner, :2] @ np.array([[c, s], [-s, c]])
    return points


@pytest.mark.parametrize(
    ("by", "lower", "axial"), [(3.0, True, 1.05), (-3.0, False, 0.96), (0.0, True, 1.03)]
)
def test_how_long_a_part_of_one_end_was_laid_does_not_turn_its_core(
    by: float, lower: bool, axial: float
) -> None:
    """With one end the length gives way to a core that is turned: the pitch tells where the drawn turn is."""
    keep = POINTS[:, 2] < 95 if lower else POINTS[:, 2] > 57
    points, facets = only(turned_core(by), FACETS, keep)
    fit = Fit(
        pose=Pose(rotation=np.eye(3), origin=np.array([0.0, 0.0, 76 * (1 - axial) * (-1 if lower else 1)])),
        hand=1, radial=1.0, axial=axial, turn_ratio=1.0, spread=0.03, cost=0.03, sigma=np.full(9, 1e-3),
    )  # fmt: skip
    taken = measure(scan_of_mesh(points, facets), fit, PROFILE, SECTION, SURFACES)
    for key in ("bore.phase", "chambers.phase"):
        reading = taken.phases[key]
        assert reading.value == pytest.approx(by, abs=max(4 * reading.error, 0.06))
        assert 0.001 < reading.error < 0.1
