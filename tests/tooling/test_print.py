"""Print checks and pieces against closed forms, meshes and other libraries; the demo numbers of a measured prototype."""

from __future__ import annotations

from functools import cache
from math import atan, degrees, tau
from pathlib import Path

import numpy as np
import pytest

from rollergen.answer.prototype import PrintAsked, Prototype, prototype_of
from rollergen.answer.report import Drawn, draw_profile
from rollergen.errors import ProfileError, UsageError
from rollergen.export.threemf import threemf_bytes
from rollergen.shape.mesh import Mesh, build_mesh
from rollergen.shape.outline import circle
from rollergen.spec.reading import profile_from_text, read_profile
from rollergen.tooling.print_checks import Printer, leaning, net_area, widest_roofs
from rollergen.tooling.print_split import Joint, even_cuts, split

PROFILES = Path(__file__).parents[2] / "profiles"
# measured on a prototype of the same method: body 118, 5 ribs x 9, pitch 700, length 152, bore 38.3 sq, 6 chambers
DEMO = """name = "demo"
[body]
diameter = "118 mm"
free_length = "152 mm"
edge_chamfer = "0 mm"
[ribs]
count = 5
height = "9 mm"
tip_width = "11 mm"
flank_angle = "15 deg"
tip_radius = "2.5 mm"
root_radius = "4 mm"
helix_pitch = "700 mm"
[bore]
section = "square"
across = "38 mm"
clearance = "0.3 mm"
corner_radius = "1.5 mm"
shaft_tolerance = "0.3 mm"
[chambers]
count = 6
section = "sector"
wall = "8 mm"
web = "8 mm"
hub_wall = "8 mm"
corner_radius = "3 mm"
[compound]
name = "cast ether PU 80A"
"""
PRINTER = Printer(plate=(220.0, 220.0), height=250.0)


@cache
def demo() -> Drawn:
    return draw_profile(profile_from_text(DEMO))


def printed(**more) -> Prototype:
    printer = more.pop("printer", PRINTER)
    return prototype_of(more.pop("drawn", demo()), PrintAsked(printer=printer, **more))


def test_the_measured_demo() -> None:
    report = printed(foot=0.0).report
    assert report.upright_lean_deg == pytest.approx(29.20, abs=0.01)
    assert report.first_layer_cm2 == pytest.approx(64.85, abs=0.01)
    assert report.least_rubber_mm == pytest.approx(8.0, abs=1e-9) and report.lines_across == 17
    assert report.tip_circle_mm == 136 and report.print_height_mm == 152
    assert report.filament_cm3 == pytest.approx(403, abs=1)
    assert report.filament_g == pytest.approx(492, abs=1) and report.filament_m == pytest.approx(
        167.6, abs=0.4
    )
    assert report.foot_lean_deg == pytest.approx(57, abs=0.5)
    low, high = report.bridge_lying_mm or (0, 0)
    assert high == pytest.approx(39.6, abs=0.3) and low > 30
    assert report.printable and any("lying down is refused" in w for w in report.warnings)


def test_a_circle_about_the_axis_does_not_lean_and_one_beside_it_leans_by_its_arm() -> None:
    k = tau / 300
    assert leaning(circle(30.0, "body"), k) == 0
    assert leaning(circle(5.0, "x", centre=(20.0, 0.0)), k) == pytest.approx(atan(k * 20))
    assert leaning(circle(5.0, "x", centre=(20.0, 0.0)), 0.0) == 0


def test_the_lean_is_what_the_mesh_s_normals_say() -> None:
    mesh = build_mesh(demo().part, chord_error=0.01)
    a, b, c = (mesh.vertices[mesh.triangles[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    on_side = np.abs(normal[:, 2]) < 0.999
    lean = np.degrees(np.arcsin(np.abs(normal[on_side, 2]))).max()
    assert printed().report.upright_lean_deg == pytest.approx(lean, abs=0.2)


def test_roofs_of_a_round_hole_are_a_chord() -> None:
    # flatter than 45 deg: a quarter of the circle, its chord sqrt(2) r
    found = widest_roofs([circle(10.0, "bore")])
    assert found is not None and found == pytest.approx((10 * 2**0.5, 10 * 2**0.5), rel=0.015)
    assert widest_roofs([]) is None


def test_the_moved_area_is_shapely_s() -> None:
    from shapely.geometry import Polygon

    from rollergen.shape.distance import boundary_points

    section = demo().section
    solid = Polygon(boundary_points(section.outer, 0.02), [boundary_points(h, 0.02) for h in section.holes])
    for moved in (0.4, 1.35):
        assert net_area(section, moved) == pytest.approx(solid.buffer(-moved, quad_segs=64).area, rel=2e-4)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_pieces_sum_to_the_whole_less_what_is_told(count: int) -> None:
    cuts = tuple(152 * n / count for n in range(1, count))
    found = printed(cuts=cuts)
    lost = found.pieces.joint_lost_mm3 + found.pieces.foot_lost_mm3
    assert sum(found.part_volumes_mm3) + lost == pytest.approx(found.whole_volume_mm3, rel=1e-9)
    assert found.pieces.foot_lost_mm3 > 0 and (found.pieces.joint_lost_mm3 > 0) == (count > 1)


def test_ribs_run_on_through_a_joint() -> None:
    parts = printed(cuts=(50.0, 100.0), foot=0.0).pieces.parts
    for below, above in zip(parts[:-1], parts[1:], strict=True):
        assert below.sides[0].outline == above.sides[0].outline == demo().section.outer
        assert below.sides[0].turn_per_mm == above.sides[0].turn_per_mm
        assert below.sides[0].levels[-1][0] == above.sides[0].levels[0][0]


def joined(parts) -> list:
    from manifold3d import Manifold
    from manifold3d import Mesh as Facets

    found = []
    for part in parts:
        mesh = build_mesh(part, chord_error=0.02)
        solid = Manifold(Facets(mesh.vertices.astype(np.float32), mesh.triangles.astype(np.uint32)))
        assert solid.status().name == "NoError"
        found.append(solid)
    return found


def test_pieces_are_sound_do_not_overlap_and_leave_the_asked_room() -> None:
    solids = joined(printed(cuts=(50.0, 100.0)).pieces.parts)
    assert [s.genus() for s in solids] == [7, 7, 7]
    for below, above in zip(solids[:-1], solids[1:], strict=True):
        assert (below ^ above).volume() < 1e-3
        # lifted so far that the faces part, the step still stands in the recess: round about, only its room is left
        lifted = above.translate([0, 0, 0.1])
        assert below.min_gap(lifted, 1.0) == pytest.approx(0.1, abs=0.02)
        turned = above.rotate([0, 0, 2.0])
        assert (below ^ turned).volume() > 1.0  # it cannot turn


def test_a_round_bore_gets_a_step_that_clocks() -> None:
    text = DEMO.replace('section = "square"\n', 'section = "round"\n').replace(
        'corner_radius = "1.5 mm"\n', "", 1
    )
    found = printed(drawn=draw_profile(profile_from_text(text)), cuts=(76.0,))
    step = found.pieces.parts[0].sides[-1].outline
    assert len(step.edges) == 8
    solids = joined(found.pieces.parts)
    assert (solids[0] ^ solids[1].rotate([0, 0, 4.0])).volume() > 1.0


@pytest.mark.parametrize("error", [0.05, 0.01])
def test_slices_have_the_section_s_area(error: float) -> None:
    import trimesh

    part = printed(cuts=(), foot=0.0).pieces.parts[0]
    mesh = build_mesh(part, chord_error=error)
    solid = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    exact = net_area(demo().section, 0.0)
    for z in (3.1, 50.0, 149.3):
        cut = solid.section(plane_origin=[0, 0, z], plane_normal=[0, 0, 1])
        assert cut is not None
        x, y = 0, 1
        loops = sorted(
            abs(np.sum(p[:-1, x] * p[1:, y] - p[1:, x] * p[:-1, y])) / 2
            for p in map(np.asarray, cut.discrete)
        )
        assert loops[-1] - sum(loops[:-1]) == pytest.approx(exact, rel=9e-3 * error / 0.05)


def test_files_read_strictly_and_are_manifold_and_oriented() -> None:
    lib3mf = pytest.importorskip("lib3mf")
    meshes: list[tuple[str, Mesh, str]] = [
        (part.name, build_mesh(part, chord_error=0.1), part.colour)
        for part in printed(cuts=(76.0,)).pieces.parts
    ]
    data = threemf_bytes(meshes, title="demo", compound="filament", density_kg_m3=1220.0)
    wrapper = lib3mf.get_wrapper() if hasattr(lib3mf, "get_wrapper") else lib3mf.Wrapper()
    model = wrapper.CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(data)
    assert reader.GetWarningCount() == 0
    objects = model.GetMeshObjects()
    sound = []
    while objects.MoveNext():
        sound.append(objects.GetCurrentMeshObject().IsManifoldAndOriented())
    assert sound == [True, True]


def test_scale_scales_and_a_shaft_rebores() -> None:
    half = printed(scale=0.5)
    assert half.whole_volume_mm3 == pytest.approx(printed().whole_volume_mm3 / 8, rel=1e-12)
    assert half.report.upright_lean_deg == pytest.approx(printed().report.upright_lean_deg, rel=1e-12)
    assert half.report.print_height_mm == 76
    small = printed(shaft=30.0)
    # only the bore is another: 38.3 by 38.3 becomes 30.3 by 30.3, corners alike, no lead-in
    lost = (38.3**2 - 30.3**2) * 152
    assert small.whole_volume_mm3 - printed().whole_volume_mm3 == pytest.approx(lost, rel=1e-9)


def test_cuts_are_even_and_enough() -> None:
    joint = Joint()
    assert even_cuts(152, 152, joint) == ()
    assert even_cuts(152, 100, joint) == (76.0,)
    assert even_cuts(152, 80, joint) == pytest.approx((152 / 3, 304 / 3))
    assert printed(printer=Printer(plate=(220, 220), height=100)).report.print_height_mm == 81


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"printer": Printer(plate=(120, 300), height=300)}, r"--scale 0\.882 fits"),
        ({"printer": Printer(plate=(220, 220), height=18)}, "too short for a joint"),
        ({"cuts": (200.0,)}, "out of order or outside"),
        ({"cuts": (100.0, 50.0)}, "out of order or outside"),
        ({"cuts": (5.0,)}, "shorter than 15 mm"),
        ({"cuts": (76.0,), "joint": Joint(rim=7.0)}, "leaves .* of rubber round its recess"),
        ({"scale": 0.0}, "--scale 0"),
        ({"foot": 0.5}, "0 to one line"),
        ({"foot": 0.45, "scale": 0.15}, "--elephant-foot: a relief of"),
        ({"foot": -0.1}, "0 to one line"),
        ({"shaft": 60.0}, "of rubber round the bore"),
    ],
)
def test_what_cannot_be_printed_is_refused_with_a_way_out(more: dict, told: str) -> None:
    with pytest.raises((ProfileError, UsageError), match=told):
        printed(**more)


def test_thin_walls_and_steep_ribs_are_told() -> None:
    coarse = printed(printer=Printer(plate=(220, 220), height=250, line=5.0), foot=0.0).report
    assert coarse.lines_across == 1 and not coarse.printable and "at least 2 are wanted" in coarse.warnings[0]
    assert coarse.filament_cm3 == pytest.approx(coarse.shell_cm3)
    steep = draw_profile(profile_from_text(DEMO.replace("700 mm", "300 mm")))
    report = printed(drawn=steep).report
    assert report.upright_lean_deg > 45 and not report.printable
    assert any("longer" in w and "helix pitch" in w for w in report.warnings)


def test_lean_reaches_45_where_it_was_measured() -> None:
    k = tau / 391
    assert degrees(leaning(demo().section.outer, k)) == pytest.approx(45, abs=0.1)


@pytest.mark.parametrize("path", sorted(PROFILES.glob("*.toml")), ids=lambda p: p.stem)
def test_every_profile_is_split_soundly(path: Path) -> None:
    drawn = draw_profile(read_profile(path))
    found = printed(drawn=drawn, cuts=(drawn.profile.body.free_length / 2,), joint=Joint(rim=2.0))
    joined(found.pieces.parts)
    lost = found.pieces.joint_lost_mm3 + found.pieces.foot_lost_mm3
    assert sum(found.part_volumes_mm3) + lost > found.whole_volume_mm3 * (1 - 1e-9)


def test_split_needs_no_cut() -> None:
    section = demo().section
    found = split(
        section,
        name="x",
        turn_per_mm=0.0,
        length=152,
        cuts=(),
        joint=Joint(),
        foot=0.0,
        chamfer=0.0,
        colour="#fff",
    )
    assert len(found.parts) == 1 and found.joint_lost_mm3 == found.foot_lost_mm3 == 0
