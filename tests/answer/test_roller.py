"""A roller put together: joints measured on the mesh, masses that add up, trade facts, what cannot be."""

from __future__ import annotations

from dataclasses import asdict
from math import degrees, pi, tau
from pathlib import Path

import numpy as np
import pytest
import trimesh

from rollergen.answer.explain import unexplained
from rollergen.answer.report import Drawn, draw_profile
from rollergen.answer.roller import Asked, RollerAnswer, roller, squeezed
from rollergen.errors import ProfileError, UsageError
from rollergen.shape.mesh import build_mesh
from rollergen.shape.placing import joined_mesh, placed_mesh
from rollergen.spec.profile import Profile
from rollergen.spec.reading import profile_from_text, read_profile
from rollergen.spec.schema import starting_profile
from rollergen.study.mass import weigh

FOLDER = Path(__file__).parents[2] / "profiles"


def beet(**changes: str) -> Profile:
    text = starting_profile()
    for old, new in changes.items():
        text = text.replace(old, new)
    return profile_from_text(text)


@pytest.fixture(scope="module")
def drawn() -> list[Drawn]:
    return [draw_profile(read_profile(FOLDER / f"{name}.toml")) for name in ("beet-general", "beet-short")]


@pytest.fixture(scope="module")
def found(drawn: list[Drawn]) -> RollerAnswer:
    return roller(drawn, 1600.0, Asked(rotation_speed=7.0))


def phase_at(mesh: trimesh.Trimesh, z: float, tip: float) -> float:
    cut = mesh.section(plane_origin=[0, 0, z], plane_normal=[0, 0, 1])
    outside = max((np.asarray(loop)[:, :2] for loop in cut.discrete), key=lambda loop: np.abs(loop).max())
    # evenly along the loop, so that facets' ends do not weigh more than their middles
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(outside, axis=0).T))])
    even = np.linspace(0.0, along[-1], 20_000, endpoint=False)
    outside = np.stack([np.interp(even, along, outside[:, k]) for k in (0, 1)], axis=1)
    radius, angle = np.hypot(*outside.T), np.arctan2(*outside.T[::-1])
    high = radius > tip - 4.0
    return float(np.angle(np.sum((radius[high] - tip + 4.0) * np.exp(5j * angle[high]))) / 5)


def test_joints_are_what_the_mesh_of_the_assembly_shows(drawn: list[Drawn], found: RollerAnswer) -> None:
    kinds = {d.profile.name: draw_profile(squeezed(d.profile, found.squeeze)) for d in drawn}
    meshes = {name: build_mesh(one.part, chord_error=0.05) for name, one in kinds.items()}
    placed = [placed_mesh(meshes[name], at) for name, at in zip(found.names, found.places, strict=True)]
    pitch = next(iter(kinds.values())).profile.ribs
    assert pitch is not None
    before = after = 2.0  # clear of the end chamfers
    for number, joint in enumerate(found.joints.joints):
        z = found.places[number + 1].z
        low, high = (
            trimesh.Trimesh(m.vertices, m.triangles, process=False) for m in placed[number : number + 2]
        )
        step = phase_at(high, z + after, 64.0) - phase_at(low, z - before, 64.0)
        step -= tau * (before + after) / pitch.helix_pitch  # what the helix turns between the two slices
        measured = abs((step + pi / 5) % (tau / 5) - pi / 5)
        assert degrees(measured) == pytest.approx(joint.mismatch_deg, abs=0.1)


def test_the_squeezed_stack_fills_the_width_without_a_gap(drawn: list[Drawn], found: RollerAnswer) -> None:
    ends = [at.z + at.length for at in found.places]
    assert np.allclose(ends[:-1], [at.z for at in found.places[1:]])
    assert ends[-1] == pytest.approx(1600.0)
    whole = joined_mesh(
        [
            placed_mesh(
                build_mesh(draw_profile(squeezed(d.profile, found.squeeze)).part, chord_error=0.3), at
            )
            for name, at in zip(found.names, found.places, strict=True)
            for d in drawn
            if d.profile.name == name
        ]
    )
    assert (whole.vertices[:, 2].min(), whole.vertices[:, 2].max()) == pytest.approx((0.0, 1600.0))


def test_squeezing_keeps_the_twist() -> None:
    profile = beet()
    short = squeezed(profile, 0.02)
    assert short.body.free_length == pytest.approx(147.0)
    assert short.turn_per_mm * short.body.free_length == pytest.approx(profile.turn_per_mm * 150.0)
    assert squeezed(profile, 0.0).body.free_length == 150.0


def test_masses_add_up_and_the_fitted_gap_uses_the_squeeze_of_the_stack(
    drawn: list[Drawn], found: RollerAnswer
) -> None:
    each = {d.profile.name: weigh(d.profile, d.section, d.part).total_kg for d in drawn}
    assert found.segments_kg == pytest.approx(sum(each[name] for name in found.names))
    (gap,) = found.fitted
    growth = 1.2 - gap.tip_gap_band_mm[0]
    assert growth == pytest.approx(64.0 * ((1 - found.squeeze) ** -0.5 - 1), rel=1e-9)


def test_the_neighbour_that_sags_alike_keeps_its_gap(found: RollerAnswer) -> None:
    (bent,) = found.bent
    assert bent.mate_alike_mm == pytest.approx(1.2, abs=1e-9)
    # level axes: sag across the line of centres counts by e^2 / 2C only
    assert bent.mate_straight_mm == pytest.approx(1.2, abs=1e-9)


def test_a_rib_force_along_the_line_of_centres_counts_in_full(drawn: list[Drawn]) -> None:
    pushed = roller(drawn, 1600.0, Asked(rib_force=200.0))
    (bent,) = pushed.bent
    # straight away from the mate the gap only opens, so the least stays at the bearings
    assert bent.mate_alike_mm == pytest.approx(1.2, abs=1e-9)
    assert pushed.shaft.sag_rib_mm > 0.5
    # at the mate, from a body seized on our other side, it closes the gap by all it bends
    assert bent.pushed_mm == pytest.approx(1.2 - pushed.shaft.sag_rib_mm, abs=1e-3)
    assert roller(drawn, 1600.0).bent[0].pushed_mm == pytest.approx(1.2, abs=1e-9)
    assert pushed.shaft.deflection_mm > roller(drawn, 1600.0).shaft.deflection_mm


@pytest.mark.parametrize(
    ("across", "width", "ok", "ratio"), [(40, 1800, True, 860), (45, 2400, True, 560), (40, 2400, False, 360)]
)
def test_shafts_of_the_trade(across: int, width: int, ok: bool, ratio: float) -> None:
    """common practice, no source: a 40 mm square is used up to 1.8 m and a 45 mm one at 2.4 m."""
    profile = beet(**{
        'across = "36 mm"': f'across = "{across} mm"', 'diameter = "112 mm"': 'diameter = "124 mm"',
        'axis_distance = "110.2 mm"': 'axis_distance = "116.2 mm"',
        'shaft_tolerance = "0.6 mm"': 'shaft_tolerance = "0.8 mm"', 'clearance = "0.6 mm"': 'clearance = "0.8 mm"',
    })  # fmt: skip
    report = roller([draw_profile(profile)], float(width), Asked(squeeze_band=(0.0, 0.1))).shaft
    assert report.shaft_ok is ok
    assert report.span_per_deflection == pytest.approx(ratio, rel=0.05)


def test_sections_of_the_trade_are_stacked() -> None:
    """common practice, no source: sections of 171, 122 and 100 mm fitted length."""
    kinds = []
    for fitted in (171.0, 122.0, 100.0):
        changes = {
            'name = "beet-general"': f'name = "s{fitted:g}"',
            'free_length = "150 mm"': f'free_length = "{fitted * 1.016} mm"',
            'fitted_length = "148.5 mm"': f'fitted_length = "{fitted} mm"',
        }
        kinds.append(draw_profile(beet(**changes)))
    answer = roller(kinds, 171.0 * 7 + 122.0)
    assert answer.filled and answer.stack.best is not None
    assert sum(at.length for at in answer.places) == pytest.approx(171.0 * 7 + 122.0)


def test_a_width_that_cannot_be_filled_says_what_can(drawn: list[Drawn]) -> None:
    answer = roller(drawn[:1], 1600.0, Asked(squeeze_band=(0.008, 0.01)))
    assert not answer.filled and not answer.ok
    assert "cannot be filled" in answer.reasons[0] and "1488 mm" in answer.reasons[0]
    assert len(answer.joints.joints) == len(answer.names) - 1
    tiny = roller(drawn[:1], 60.0)
    assert not tiny.filled and tiny.names


def test_what_is_no_shorter_section_is_refused(drawn: list[Drawn]) -> None:
    other = draw_profile(read_profile(FOLDER / "shallot-gentle.toml"))
    with pytest.raises(UsageError, match="no shorter section"):
        roller([drawn[0], other], 1600.0)
    with pytest.raises(UsageError, match="same"):
        roller([drawn[0], drawn[0]], 1600.0)


def test_a_compound_without_hardness_has_no_force_and_a_senseless_one_is_refused() -> None:
    plain = beet(**{'name = "cast ether PU 80A"': 'density = "1100 kg/m^3"'})
    answer = roller([draw_profile(plain)], 1600.0)
    assert answer.clamp is None and "neither modulus nor hardness" in answer.notes[0]
    hard = beet(**{'name = "cast ether PU 80A"': 'density = "1100 kg/m^3"\nhardness = "97 ShoreA"'})
    with pytest.raises(ProfileError, match="gives no modulus"):
        roller([draw_profile(hard)], 1600.0)


def test_a_speed_near_the_critical_one_is_told(drawn: list[Drawn]) -> None:
    slow, fast = (roller(drawn, 1600.0, Asked(rotation_speed=w)) for w in (7.0, 150.0))
    assert slow.ok and not fast.ok
    assert any("critical speed" in reason for reason in fast.reasons)


def test_drive_torque_reaches_shaft_and_bores(found: RollerAnswer, drawn: list[Drawn]) -> None:
    assert found.drive is not None and found.shaft.bore_pressure_mpa is not None
    torque, pieces = found.drive.roller_torque_n_mm, len(found.names)
    length = 96.0 * (1 - found.squeeze)
    assert found.shaft.bore_pressure_mpa[1] == pytest.approx(
        2 * torque / pieces / (32**2 * length)  # 36 mm square, corners of 2 mm: flats of 32 mm
    )
    assert found.shaft.torsion_stress_mpa == pytest.approx(torque / (0.208 * 36**3), rel=0.01)
    still = roller(drawn, 1600.0)
    assert still.drive is None and still.axial_speed_mm_s is None
    # right-hand ribs, turning clockwise: the pattern runs to +z, one pitch a turn
    assert found.axial_speed_mm_s == pytest.approx(650.0 * 7.0 / tau)


def test_no_figure_is_without_an_entry(found: RollerAnswer) -> None:
    page = asdict(found)
    words = {
        "names",
        "places",
        "z",
        "rotation",
        "flipped",
        "length",
        "widths",
        "smallest",
        "rejected",
        "seats",
        "joints",
    }
    words |= {
        "counts",
        "fillings",
        "more",
        "below",
        "above",
        "below_mm",
        "above_mm",
        "low",
        "high",
        "inside",
        "clamp",
    }
    assert set(unexplained(page)) <= words | set(PLAIN_OF_A_ROLLER)


PLAIN_OF_A_ROLLER = (
    "section supports bar bent drive balance load unbalances shaft stack modulus reasons notes across"
    " corner_radius span_mm statement squeeze_band shaft_ok balance_governs grade efficiency service_factor"
    " rollers spacers_mm"
).split()
