"""What a mean hides: one wrong rib, a gouge, an oval, a lean, a bore off centre, an end too far away."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import cos, pi, tau
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scan_case import end_face, moved, noisy, only, part_mesh, profile_with, swept

from rollergen.answer import inspection
from rollergen.answer.report import Drawn
from rollergen.shape.section import section_of
from rollergen.spec.profile import Profile
from rollergen.tooling.part_features import Feature
from rollergen.tooling.scan import scan_of_mesh, scan_of_points
from rollergen.tooling.scan_strays import largest_patch
from rollergen.tooling.scan_surfaces import OUTER

Floats = NDArray[np.float64]
PROFILE = profile_with()
NOISE = 0.05
R, TIP, LENGTH = 59.0, 68.0, 152.0


@cache
def part() -> tuple[Floats, NDArray[np.int64]]:
    return part_mesh(PROFILE, spacing=2.2)


def polar(points: Floats) -> tuple[Floats, Floats, Floats]:
    """(radius, angle, angle turned back by the helix) of points in the part's frame."""
    angle = np.arctan2(points[:, 1], points[:, 0])
    back = np.angle(np.exp(1j * (angle - PROFILE.turn_per_mm * points[:, 2])))
    return np.hypot(points[:, 0], points[:, 1]), angle, back


def at_radius(points: Floats, mine: NDArray[np.bool_], radius: Floats | float) -> Floats:
    r = polar(points)[0]
    scale = np.where(mine, radius / np.maximum(r, 1e-9), 1.0)
    return points * np.column_stack([scale, scale, np.ones(len(r))])


class Drawing(Drawn):
    """Just what an inspection asks of a drawing."""


def judged(
    points: Floats,
    facets: NDArray[np.int64],
    monkeypatch: pytest.MonkeyPatch,
    *,
    profile: Profile = PROFILE,
    bare: bool = False,
    noise: float = NOISE,
) -> tuple[inspection.Inspection, dict[str, Feature]]:
    cloud = moved(noisy(points, facets, noise, 1), 3)
    scan = scan_of_points(cloud[np.unique(facets)]) if bare else scan_of_mesh(cloud, facets)
    monkeypatch.setattr(inspection, "read_scan", lambda path: scan)
    drawn = drawing_of(profile)
    found, _ = inspection.inspect_scan(drawn, Path("part.stl"), inspection.Held())
    return found, {feature.key: feature for feature in found.features}


def drawing_of(profile: Profile) -> Drawn:
    from types import SimpleNamespace
    from typing import Any

    drawn: Any = SimpleNamespace(profile=profile, section=section_of(profile))
    return drawn
