"""What forms the chamfer at each end: where the recess hooks it is left out, and the numbers are of the part as cast."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import pytest
from mould_case import GENERAL, changed
from shapely.geometry import Polygon

from rollergen.answer.moulding import MouldAnswer, mould_for
from rollergen.answer.report import draw_profile
from rollergen.errors import ProfileError
from rollergen.shape.distance import boundary_points
from rollergen.shape.part_volume import volume_of
from rollergen.shape.section import part_of, section_of
from rollergen.shape.solid import checked_solid
from rollergen.spec.profile import Profile
from rollergen.spec.reading import read_profile
from rollergen.tooling.mould_meeting import meetings
from rollergen.tooling.mould_numbers import body_named
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.release_lines import ReleaseLimits
from rollergen.tooling.shrinkage import Shrinkage

UNEVEN = Shrinkage(radial=0.016, axial=0.011, source="test")
FORGIVING = ReleaseLimits(most_twist_shear=0.05)


def pitched(pitch: float) -> Profile:
    return changed(('helix_pitch = "650 mm"', f'helix_pitch = "{pitch!r} mm"'))


def made(profile: Profile, way: Any = "screw", **asked: Any) -> MouldAnswer:
    return mould_for(draw_profile(profile), UNEVEN, Tool(), way=way, limits=FORGIVING, **asked)


def held(found: MouldAnswer) -> list[str]:
    return [line.held_by for line in found.chamfers]


def ring(profile: Profile) -> float:
    """What one end's chamfer takes off (mm3), by a polygon library: area lost at depth d, over d from 0 to 1 mm."""
    whole = Polygon(boundary_points(section_of(profile).outer, 0.02))
    depth = (np.arange(40) + 0.5) / 40 * profile.body.edge_chamfer
    lost = [whole.area - whole.buffer(-d, quad_segs=32).area for d in depth]
    return float(np.mean(lost)) * profile.body.edge_chamfer


STEEP = pitched(250.0)


def test_a_chamfer_that_hooks_is_left_out_and_the_other_stays() -> None:
    found = made(STEEP)
    assert held(found) == ["none", "sleeve"]
    assert found.chamfers[0].least_draft_deg == pytest.approx(-25.2, abs=0.5)
    assert found.chamfers[1].least_draft_deg > 40  # what is screwed knows no twist
    first = found.report.cautions[0]
    assert "edge at z = 0 is cast sharp" in first and "break the edge after casting" in first
    assert "ribs.helix_pitch of" in first
    base = body_named(found.mould, "base_plate").part
    assert all(side.outline != found.mould.cavity.section.outer for side in base.sides)
    assert held(made(STEEP, "planes")) == ["none", "none"]
    assert held(made(read_profile(GENERAL))) == ["base plate", "sleeve"]


@pytest.mark.parametrize(("way", "ends"), [("screw", 1), ("planes", 2)])
def test_volume_and_mass_are_of_the_part_as_cast(way: str, ends: int) -> None:
    """Nominal plus the rings that are not chamfered off, those by a polygon library."""
    found = made(STEEP, way)
    nominal = volume_of(part_of(STEEP, section_of(STEEP)))
    assert found.report.part_mm3 - nominal == pytest.approx(ends * ring(STEEP), rel=2e-3)
    assert found.report.part_kg == pytest.approx(
        found.report.part_mm3 * STEEP.compound.density_kg_m3 * 1e-9, rel=1e-12
    )
    assert abs(found.report.volume_residual) <= 1e-9  # cavity less cores, measured on the mould parts


def test_the_pitch_told_is_where_it_releases() -> None:
    """2 pi max(p x n) of the part, whatever the shrinkage; p x n by differences along many points of the outline."""
    found = made(STEEP)
    pitch = found.chamfers[0].release_pitch_mm
    points = boundary_points(section_of(STEEP).outer, 0.01)
    along = np.roll(points, -1, axis=0) - points
    middle = points + along / 2
    lever = np.abs((middle * along).sum(axis=1)) / np.hypot(*along.T)  # p x n = p . t
    assert pitch == pytest.approx(2 * pi * lever.max(), rel=1e-3)
    assert held(made(pitched(pitch * 1.0001)))[0] == "base plate"
    assert held(made(pitched(pitch * 0.9999)))[0] == "none"


def test_a_chamfer_at_the_exit_end_of_the_sleeve_is_refused_with_its_size() -> None:
    profile = read_profile(GENERAL)
    with pytest.raises(
        ProfileError, match=r"chamfer of 1 mm at the end the part leaves by.*leave --base-chamfer out"
    ):
        made(profile, chamfer_in=("sleeve", "auto"))
    with pytest.raises(ProfileError, match="there is no sleeve"):
        made(profile, "helical", chamfer_in=("sleeve", "auto"))
    with pytest.raises(ProfileError, match="--top-chamfer: there is no sleeve"):
        made(profile, "helical", chamfer_in=("auto", "sleeve"))


def test_a_plate_asked_for_that_hooks_is_refused_with_what_works() -> None:
    with pytest.raises(ProfileError) as wrong:
        made(STEEP, chamfer_in=("plate", "plate"))
    base, top = (complaint.message for complaint in wrong.value.complaints)
    assert "hooks on the twisted flank by 2" in base and "use none" in base and "use sleeve" in top
    assert held(made(STEEP, chamfer_in=("none", "sleeve"))) == ["none", "sleeve"]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (("auto", "plate"), ["base plate", "top plate"]),
        (("none", "none"), ["none", "none"]),
        (("plate", "none"), ["base plate", "none"]),
    ],
)
def test_every_choice_makes_a_mould_whose_bodies_are_solid_and_apart(asked: Any, words: list[str]) -> None:
    found = made(read_profile(GENERAL), chamfer_in=asked)
    assert held(found) == words
    assert abs(found.report.volume_residual) <= 1e-9
    assert meetings(found.mould).shared == ()
    for name in ("cavity_sleeve", "base_plate", "top_plate", "cast_segment"):
        assert abs(checked_solid(body_named(found.mould, name).part)[1]) <= 1e-8, name
    sharp = sum("is cast sharp" in caution for caution in found.report.cautions)
    assert sharp == words.count("none")


def test_no_chamfer_no_lines() -> None:
    blunt = changed(("# edge_chamfer", 'edge_chamfer = "0 mm" #'))
    assert made(blunt).chamfers == ()
