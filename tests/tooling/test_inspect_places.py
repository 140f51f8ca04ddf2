"""What a mean hides: one wrong rib, a gouge, an oval, a lean, a bore off centre, an end too far away."""

from __future__ import annotations

from functools import cache
from math import tau
from pathlib import Path

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray
from scan_case import moved, noisy, only, part_mesh, profile_with

from rollergen.answer import inspection
from rollergen.answer.report import draw_profile
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
    found, _ = inspection.inspect_scan(draw_profile(profile), Path("part.stl"), inspection.Held())
    return found, {feature.key: feature for feature in found.features}


def test_a_sound_part_passes_and_shows_no_patch(monkeypatch: pytest.MonkeyPatch) -> None:
    found, features = judged(*part(), monkeypatch)
    assert found.ok and found.complete and found.scan is not None
    assert found.scan.stray_patches == ()
    assert max(each.covered_share for each in found.scan.covered) < 0.01
    for key in ("body.diameter", "chambers.wall", "chambers.hub_wall", "body.free_length"):
        feature = features[key]
        assert feature.least == pytest.approx(feature.measured, abs=0.03), key
        assert feature.greatest == pytest.approx(feature.measured, abs=0.03), key


@pytest.mark.parametrize(
    ("bare", "length"),
    [
        (False, 140.0),
        (True, 167.0),
        pytest.param(False, 167.0, marks=pytest.mark.slow),
        pytest.param(True, 140.0, marks=pytest.mark.slow),
    ],
)
def test_a_part_far_too_long_or_short_fails(
    length: float, bare: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = profile_with(('free_length = "152 mm"', f'free_length = "{length} mm"'))
    found, features = judged(*part_mesh(made, spacing=2.2), monkeypatch, bare=bare)
    assert features["body.free_length"].measured == pytest.approx(length, abs=0.05)
    assert features["body.free_length"].verdict == "fail" and not found.ok


def test_a_cut_part_still_has_one_end(monkeypatch: pytest.MonkeyPatch) -> None:
    points, facets = part()
    _, features = judged(*only(points, facets, points[:, 2] < 60), monkeypatch)
    assert features["body.free_length"].verdict == "not seen"
    assert features["body.free_length"].why == "only one end is seen"


@pytest.mark.parametrize("share", [pytest.param(1.0, marks=pytest.mark.slow), 0.5])
def test_a_rib_that_is_not_there_fails(share: float, monkeypatch: pytest.MonkeyPatch) -> None:
    points, facets = part()
    r, _, back = polar(points)
    gone = (np.abs(back) < 0.3) & (r > R + 0.1) & (points[:, 2] < share * LENGTH)
    found, features = judged(at_radius(points, gone, R), facets, monkeypatch)
    height = features["ribs.height"]
    assert height.verdict == "fail" and height.least == pytest.approx(0.0, abs=0.1)
    assert None not in found.rib_heights_mm
    assert found.scan is not None and found.scan.stray_share < inspection.MOST_STRAY
    patch = next(each for each in found.scan.stray_patches if each.surface == "outer")
    assert patch.patch_mm2 > inspection.MOST_PATCH


@pytest.mark.parametrize(("half_width", "half_height", "radius"), [(0.2, 12.0, R - 3), (0.09, 99.0, R + 4)])
def test_a_gouge_and_a_lump_fail_by_their_area(
    half_width: float, half_height: float, radius: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    points, facets = part()
    r, _, back = polar(points)
    mine = (np.abs(back - tau / 10) < half_width) & (np.abs(points[:, 2] - 76) < half_height)
    found, _ = judged(at_radius(points, mine & (np.abs(r - R) < 1), radius), facets, monkeypatch)
    assert any("mm2 of the outside" in reason for reason in found.reasons)


def test_a_rib_on_a_plain_body_is_joined_to_it_and_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    from scan_case import TEXT

    start, stop = TEXT.index("[ribs]"), TEXT.index("[bore]")
    plain = profile_with((TEXT[start:stop], ""))
    points, facets = part_mesh(plain, spacing=2.2)
    r, angle, _ = polar(points)
    side = np.abs(angle)
    bump = R + np.clip((0.15 - side) / 0.08, 0, 1) * 8.0
    mine = (r > R - 0.5) & (side < 0.15)
    found, _ = judged(at_radius(points, mine, bump), facets, monkeypatch, profile=plain)
    assert any("mm2 of the outside" in reason for reason in found.reasons)


@pytest.mark.parametrize(
    ("key", "low", "high"), [("chambers.wall", 25.0, 51.5), ("chambers.hub_wall", 0.0, 27.2)]
)
def test_cores_off_centre_fail_by_the_thin_side(
    key: str, low: float, high: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Wall and hub wall keep their mean; 1.5 mm of offset go out of one side."""
    points, facets = part()
    r = polar(points)[0]
    off = points + np.where((r > low) & (r < high), 1.5, 0.0)[:, None] * [1.0, 0.0, 0.0]
    _, features = judged(off, facets, monkeypatch)
    assert features[key].verdict == "fail"
    assert features[key].measured == pytest.approx(8.0, abs=0.1)
    assert features[key].least is not None and 6.4 < features[key].least < 7.3


def test_an_end_out_of_square_fails_by_its_lean(monkeypatch: pytest.MonkeyPatch) -> None:
    """2 mm at the body's radius: 2 x 68/59 mm at the tips."""
    points, facets = part()
    lean = np.where(points[:, 2] > LENGTH - 0.1, points[:, 0] / R * 2.0, 0.0)
    found, features = judged(points + lean[:, None] * [0.0, 0.0, 1.0], facets, monkeypatch)
    length = features["body.free_length"]
    assert length.verdict == "fail" and length.measured == pytest.approx(LENGTH, abs=0.05)
    assert length.greatest == pytest.approx(LENGTH + 2 * TIP / R, abs=0.08)
    assert found.end_tilt_mm[1] == pytest.approx(4.0, abs=0.1)


@pytest.mark.parametrize(
    ("form", "size", "verdict"),
    [
        ("oval", 1.5, "fail"),
        ("taper", 0.4, "pass"),
        pytest.param("oval", 0.4, "pass", marks=pytest.mark.slow),
        pytest.param("taper", 1.5, "fail", marks=pytest.mark.slow),
    ],
)
def test_an_oval_or_a_taper_fails_by_its_diameter_and_only_beyond_the_tolerance(
    form: str, size: float, verdict: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Radius 59 -+ size, so diameters 118 -+ 2 size, asked 118 -+ 1.3; no place of it is damage."""
    points, facets = part()
    t = (points[:, 2] - LENGTH / 2) / (LENGTH / 2)
    grown = np.ones((len(points), 3))
    grown[:, 0] += size / R * (t if form == "taper" else 1.0)
    grown[:, 1] += size / R * (t if form == "taper" else -1.0)
    found, features = judged(points * grown, facets, monkeypatch)
    body = features["body.diameter"]
    assert body.verdict == verdict
    assert body.least == pytest.approx(118 - 2 * size, abs=0.35)
    assert body.greatest == pytest.approx(118 + 2 * size, abs=0.35)
    assert not any("lie on no feature" in reason for reason in found.reasons)


def test_rubber_where_chambers_are_asked_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    from scan_case import TEXT

    start, stop = TEXT.index("[chambers]"), TEXT.index("[compound]")
    solid = profile_with((TEXT[start:stop], ""))
    found, _ = judged(*part_mesh(solid, spacing=2.2), monkeypatch)
    assert any("chambers' mouths" in reason for reason in found.reasons)


def test_a_patch_is_as_large_as_it_was_made() -> None:
    """A square of 20 x 20 mm on a cylinder, over the seam: 400 mm2 in one piece, its middle where it was put."""
    angle, z = (g.ravel() for g in np.meshgrid(np.arange(0, tau, 1 / 50), np.arange(0.5, 150, 1.0)))
    q = np.column_stack([50 * np.cos(angle), 50 * np.sin(angle), z])
    off = (np.abs(np.angle(np.exp(1j * angle))) * 50 < 10) & (np.abs(z - 75) < 10)
    patch = largest_patch(OUTER, q, np.ones(len(q)), off, 150.0, 1.0)
    assert patch is not None and patch.patch_mm2 == pytest.approx(400, rel=0.25)
    assert patch.patch_z_mm == pytest.approx(75, abs=4)
    assert min(patch.patch_angle_deg, 360 - patch.patch_angle_deg) < 6


def test_a_mirrored_part_is_told_by_its_ribs_though_its_chambers_are_off_too(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Bore and chambers run straight, whichever hand: they must not water the ribs down."""
    points, facets = part()
    r = polar(points)[0]
    inner = (r > 28.0) & (r < 51.5)
    off = points + inner[:, None] * np.array([1.5, 0.0, 0.0])
    found, features = judged(off * [1.0, -1.0, 1.0], facets[:, ::-1], monkeypatch)
    assert found.scan is not None and found.scan.hand == "wrong"
    assert any("wrong hand" in reason for reason in found.reasons)
    assert features["chambers.wall"].verdict == "fail"


def test_a_clamp_beside_the_part_does_not_hide_its_unit(monkeypatch: pytest.MonkeyPatch) -> None:
    """The scan reaches 1.7 times as far as the part; a clamp of 60 x 200 x 40 mm stands 50 mm off."""
    box = trimesh.creation.box([60.0, 200.0, 40.0]).subdivide_to_size(6.0)
    points, facets = part()
    both = np.concatenate([points, np.asarray(box.vertices) + [150.0, 0.0, 75.0]])
    found, _ = judged(both, np.concatenate([facets, np.asarray(box.faces) + len(points)]), monkeypatch)
    assert found.ok and found.scan is not None and found.scan.scan_unit == "mm"


@pytest.mark.slow
@pytest.mark.parametrize(("filled", "sound"), [((1, 4), True), ((2, 4), False)])
def test_a_finished_part_with_foam_passes_where_the_profile_asks_for_it(
    filled: tuple[int, int], sound: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Foam sunk by 3 mm at either end is no stray and no rubber; in another chamber it is one that is closed."""
    from scan_case import TEXT, end_face

    from rollergen.shape.distance import signed_distance
    from rollergen.shape.section import section_of

    asked = profile_with(
        ("count = 6\n", 'count = 6\nfill = "foam"\nfoam_density = "90 kg/m^3"\nfoamed = [1, 4]\n')
    )
    solid = section_of(profile_with((TEXT[TEXT.index("[chambers]") : TEXT.index("[compound]")], "")))
    points, facets = part()
    for z, up in ((3.0 if sound else 0.0, False), (LENGTH - (3.0 if sound else 0.0), True)):
        more, between = end_face(solid, z, 0.0, 2.0, up=up)
        inside = np.min(
            [signed_distance(section_of(asked).chambers[n - 1], more[:, :2]) for n in filled], axis=0
        )
        facets = np.concatenate([facets, between[(inside < 0)[between].all(axis=1)] + len(points)])
        points = np.concatenate([points, more])
    used = np.unique(facets)
    found, features = judged(points[used], np.searchsorted(used, facets), monkeypatch, profile=asked)
    assert found.ok == sound and found.scan is not None
    assert features["chambers.wall"].verdict == "pass"  # four chambers show it
    assert found.scan.closed_by_foam == ((1, 4) if sound else (4,))
    assert any("closed by foam as the profile asks" in note for note in found.notes)
    assert sound or any("chambers' mouths" in reason for reason in found.reasons)
