"""Scans as they come: every format, and what is no scan."""

from __future__ import annotations

import zipfile
from pathlib import Path

import numpy as np
import pytest
import trimesh
from scan_case import part_mesh, profile_with

from rollergen.errors import FileTrouble, UsageError
from rollergen.tooling.point_table import Unfitting, points_of_table
from rollergen.tooling.scan import every_nth, scan_of_mesh, smooth_patches
from rollergen.tooling.scan_files import read_scan
from rollergen.tooling.threemf_mesh import read_3mf

POINTS, FACETS = part_mesh(profile_with(), spacing=6.0, chambers=False)
USED = len(np.unique(FACETS))


@pytest.mark.parametrize("ending", ["stl", "ply", "obj", "off"])
def test_every_mesh_format_gives_the_same_points(tmp_path: Path, ending: str) -> None:
    file = tmp_path / f"part.{ending}"
    trimesh.Trimesh(POINTS, FACETS, process=False).export(file)
    scan = read_scan(file)
    assert (scan.triangles, scan.unit) == (len(FACETS), None)
    area = trimesh.Trimesh(POINTS, FACETS, process=False).area
    assert scan.weights.sum() == pytest.approx(area, rel=0.1)
    assert np.ptp(scan.points, axis=0) == pytest.approx(np.ptp(POINTS[np.unique(FACETS)], axis=0), abs=1e-4)


def test_text_stl_reads_as_binary(tmp_path: Path) -> None:
    mesh = trimesh.Trimesh(POINTS, FACETS, process=False)
    (tmp_path / "a.stl").write_text(mesh.export(file_type="stl_ascii"))
    (tmp_path / "b.stl").write_bytes(mesh.export(file_type="stl"))
    a, b = read_scan(tmp_path / "a.stl"), read_scan(tmp_path / "b.stl")
    assert len(a.points) == len(b.points) and np.allclose(
        np.sort(a.points, 0), np.sort(b.points, 0), atol=1e-4
    )


def model(objects: str, build: str = "", unit: str = "millimeter") -> str:
    core = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
    split = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
    return (
        f'<?xml version="1.0"?><model unit="{unit}" xmlns="{core}" xmlns:p="{split}"><resources>{objects}</resources>'
        f"<build>{build}</build></model>"
    )


def mesh_object(number: int, points: np.ndarray) -> str:
    vertices = "".join(f'<vertex x="{x:.5f}" y="{y:.5f}" z="{z:.5f}"/>' for x, y, z in points)
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in FACETS)
    return f'<object id="{number}"><mesh><vertices>{vertices}</vertices><triangles>{triangles}</triangles></mesh></object>'


ITEM = '<item objectid="1"/>'


def made_of(components: str) -> str:
    return f'<object id="1"><components>{components}</components></object>'


def package(path: Path, **parts: str) -> Path:
    """A 3MF whose main model is ``top``; another part lies in a folder of its own, as slicers write them."""
    with zipfile.ZipFile(path, "w") as archive:
        for name, text in parts.items():
            archive.writestr("3D/3dmodel.model" if name == "top" else f"3D/Objects/{name}.model", text)
    return path


def test_3mf_brings_its_unit(tmp_path: Path) -> None:
    """Without a build every object is read as it lies."""
    scan = read_scan(package(tmp_path / "part.3mf", top=model(mesh_object(1, POINTS / 25.4), unit="inch")))
    assert scan.unit == 25.4 and scan.triangles == len(FACETS)


def test_3mf_meshes_lie_where_the_build_places_them(tmp_path: Path) -> None:
    """In another model part, through a component, turned by 90 deg and scaled: the same points as moved by hand."""
    component = '<component objectid="1" p:path="/3D/Objects/a.model" transform="2 0 0 0 2 0 0 0 2 10 0 0"/>'
    top = model(
        f'<object id="7"><components>{component}</components></object>',
        '<item objectid="7" transform="0 1 0 -1 0 0 0 0 1 0 0 5"/>',
    )
    scan = read_scan(package(tmp_path / "part.3mf", top=top, a=model(mesh_object(1, POINTS))))
    x, y, z = 2 * POINTS[np.unique(FACETS)].T + np.array([[10.0], [0.0], [0.0]])
    by_hand = np.column_stack([-y, x, z + 5])
    assert scan.triangles == len(FACETS)
    assert np.ptp(scan.points, axis=0) == pytest.approx(np.ptp(by_hand, axis=0), abs=1e-3)
    assert scan.points.min(axis=0) == pytest.approx(by_hand.min(axis=0), abs=1e-3)


def test_a_mirrored_3mf_mesh_keeps_its_outside(tmp_path: Path) -> None:
    def read(item: str) -> tuple[np.ndarray, np.ndarray, float]:
        file = package(tmp_path / "a.3mf", top=model(mesh_object(1, POINTS), item))
        return read_3mf(file, file.read_bytes(), most_bytes=10**9)

    def volume(corners: np.ndarray, facets: np.ndarray, _: float) -> float:
        a, b, c = (corners[facets[:, i]] for i in range(3))
        return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)

    plain = read('<item objectid="1"/>')
    mirrored = read('<item objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/>')
    assert volume(*plain) == pytest.approx(volume(*mirrored), rel=1e-9) and volume(*plain) != 0.0


def test_an_object_placed_twice_is_two_parts(tmp_path: Path) -> None:
    items = '<item objectid="1"/><item objectid="1" transform="1 0 0 0 1 0 0 0 1 500 0 0"/>'
    scan = read_scan(package(tmp_path / "two.3mf", top=model(mesh_object(1, POINTS), items)))
    assert scan.triangles == 2 * len(FACETS)
    assert np.ptp(scan.points[:, 0]) == pytest.approx(500 + np.ptp(POINTS[np.unique(FACETS), 0]), abs=1e-3)


@pytest.mark.parametrize(
    ("top", "words"),
    [
        (model(made_of('<component objectid="1"/>'), ITEM), "component of itself"),
        (model("", '<item objectid="9"/>'), "object 9 is not in"),
        (model(made_of(""), ITEM), "objects of components; save the scan as STL"),
        (model(made_of('<component objectid="2" p:path="/3D/b.model"/>'), ITEM), "names 3D/b.model"),
        (model("", unit="ell"), 'unit "ell" is none of micron'),
    ],
)  # fmt: skip
def test_a_3mf_without_a_mesh_says_what_is_in_it(tmp_path: Path, top: str, words: str) -> None:
    with pytest.raises(FileTrouble, match=words):
        read_scan(package(tmp_path / "part.3mf", top=top))


@pytest.mark.parametrize("between", [", ", ";", " ", "\t"])
def test_points_from_a_table(tmp_path: Path, between: str) -> None:
    lines = ["x y z", *(between.join(f"{v:.4f}" for v in p) for p in POINTS[:500])]
    (tmp_path / "part.xyz").write_text("\n".join(lines))
    scan = read_scan(tmp_path / "part.xyz")
    assert scan.triangles == 0 and scan.normals is None and len(scan.points) == 500


@pytest.mark.parametrize(
    ("heading", "between", "shown"),
    [
        ("x;y;z", ";", "{x:.4f};{y:.4f};{z:.4f}"),
        ("", "\t", "{x:.4f}\t{y:.4f}\t{z:.4f}"),
        ("", " ", "{x:.4f} {y:.4f} {z:.4f}"),
        ("id,x,y,z", ",", "{n},{x:.4f},{y:.4f},{z:.4f}"),
        ("", ",", "{n},{x:.4f},{y:.4f},{z:.4f}"),
        ("Z [mm]; Y [mm]; X [mm]", ";", "{z:.4f};{y:.4f};{x:.4f}"),
        ("//X Y Z Nx Ny Nz", " ", "{x:.4f} {y:.4f} {z:.4f} 0 0 1"),
        ("", " ", "{x:.4f} {y:.4f} {z:.4f} 12 200 200 200"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("comma", [False, True])
def test_columns_are_found_by_heading_and_mark(heading: str, between: str, shown: str, comma: bool) -> None:
    """The same points come back with decimal points and, where commas are not needed between columns, with commas."""
    if comma and between == ",":
        pytest.skip("a comma cannot be both")
    points = POINTS[:50]
    lines = [shown.format(n=n + 1, x=x, y=y, z=z) for n, (x, y, z) in enumerate(points.tolist())]
    text = "\n".join([heading, *((line.replace(".", ",") if comma else line) for line in lines)])
    assert np.allclose(points_of_table(text).points, points, atol=1e-4)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("12,34,5,6,7,8\n12,35,5,6,7,8\n", "line 1 has 6 whole numbers with commas between"),
        ("x,y,z\n12,34,5,6,7,8\n", "names 3 columns and the first line of numbers has 6"),
        ("1.5,2,3\n1.5,2,3\n1,5,2,3\n", "line 3 has 4 numbers, and line 1, the first, 3"),
        ("x;y;z\n1;2;3\n\n1;2\n", "line 4 has 2 numbers, and line 2, the first, 3"),
        ("id,east,north,up\n1,2.5,3,4\n", "Call these columns x, y and z"),
    ],
)
def test_columns_that_do_not_fit_are_no_points(text: str, words: str) -> None:
    with pytest.raises(Unfitting, match=words):
        points_of_table(text)


def test_a_spreadsheets_unicode_text_is_read(tmp_path: Path) -> None:
    lines = "\n".join("\t".join(f"{v:.4f}" for v in p) for p in POINTS[:300])
    (tmp_path / "part.txt").write_text(lines, encoding="utf-16")
    assert len(read_scan(tmp_path / "part.txt").points) == 300


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.stl", b"hello world", "no STL"),
        ("a.stl", b"", "no STL"),
        ("a.stl", b"solid nothing\nendsolid", "no scan"),
        ("a.stl", b"\0" * 80 + (5000).to_bytes(4, "little") + b"\0" * 999, "cut short"),
        ("a.ply", b"hello", "no PLY mesh"),
        ("a.ply", b"ply\nformat ascii 1.0\nelement vertex 3\nend_header\n1 2", "no PLY mesh"),
        ("a.obj", b"hello", "no scan"),
        ("a.3mf", b"PK nothing", "no 3MF mesh"),
        ("a.csv", b"body.diameter, 118.3 mm\n", "--caliper"),
        ("a.xyz", b"1 2 3\n4 5 6\n", "at least 200"),
    ],
)  # fmt: skip
def test_what_is_no_scan_is_said_so(tmp_path: Path, name: str, content: bytes, words: str) -> None:
    (tmp_path / name).write_bytes(content)
    with pytest.raises(FileTrouble, match=words):
        read_scan(tmp_path / name)


def test_unknown_endings_and_missing_files(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="save it as one of these"):
        read_scan(tmp_path / "part.step")
    with pytest.raises(FileTrouble, match="cannot be read"):
        read_scan(tmp_path / "none.stl")


def test_vertices_that_are_no_numbers_are_left_out_and_told(tmp_path: Path) -> None:
    broken = POINTS.copy()
    broken[FACETS[7, 0]] = np.nan
    trimesh.Trimesh(broken, FACETS, process=False).export(tmp_path / "part.ply")
    scan = read_scan(tmp_path / "part.ply")
    assert np.isfinite(scan.points).all() and "no numbers" in scan.notes[0]


def test_an_open_mesh_counts_its_rim() -> None:
    cube = trimesh.creation.box((10, 10, 10)).subdivide().subdivide()
    facets = np.asarray(cube.faces, dtype=np.int64)
    assert scan_of_mesh(np.asarray(cube.vertices), facets).open_edges == 0
    assert scan_of_mesh(np.asarray(cube.vertices), facets[1:]).open_edges == 3


def test_large_facets_are_filled_with_their_own_area() -> None:
    cube = trimesh.creation.box((10, 10, 10))
    scan = scan_of_mesh(np.asarray(cube.vertices), np.asarray(cube.faces, dtype=np.int64))
    assert scan.filled == 1.0 and len(scan.points) > 1000
    assert scan.weights.sum() == pytest.approx(600.0, rel=1e-3)
    on_faces = np.abs(np.abs(scan.points).max(axis=1) - 5.0)
    assert on_faces.max() < 1e-12


def test_patches_smooth_the_noise_of_normals() -> None:
    rng = np.random.default_rng(3)
    x, y = (g.ravel() for g in np.meshgrid(np.arange(60) * 1.0, np.arange(60) * 1.0, indexing="ij"))
    a = (np.arange(59)[:, None] * 60 + np.arange(59)).ravel()
    facets = np.concatenate([np.stack([a, a + 60, a + 61], 1), np.stack([a, a + 61, a + 1], 1)])
    scan = scan_of_mesh(np.column_stack([x, y, rng.normal(0, 0.05, len(x))]), facets)
    _, normals, _ = smooth_patches(scan, 4.0)
    inside = np.degrees(np.arccos(np.clip(normals[:, 2], -1, 1)))
    assert np.median(inside) < 0.5 < np.median(np.degrees(np.arccos(scan.normals[:, 2])))


def test_points_are_drawn_over_area_and_the_same_every_time() -> None:
    weights = np.concatenate([np.full(5000, 1.0), np.full(5000, 3.0)])
    rows = every_nth(weights, 1000)
    assert np.array_equal(rows, every_nth(weights, 1000))
    assert (rows >= 5000).mean() == pytest.approx(0.75, abs=0.01)


@pytest.mark.parametrize("ending", ["ply", "off"])
@pytest.mark.parametrize("share", [0.5, 0.9, 0.99])
def test_a_mesh_cut_short_is_not_taken_for_a_scan(tmp_path: Path, ending: str, share: float) -> None:
    """The head says how much there is; a scan of half the part would be judged on what is left."""
    mesh, path = trimesh.Trimesh(POINTS, FACETS, process=False), tmp_path / f"part.{ending}"
    text = (
        mesh.export(file_type="ply", encoding="ascii").decode()
        if ending == "ply"
        else mesh.export(file_type="off")
    )
    path.write_text(text)
    assert read_scan(path).triangles == len(FACETS)
    path.write_text(text[: int(share * len(text))])
    with pytest.raises(FileTrouble):
        read_scan(path)


@pytest.mark.parametrize("share", [0.3, 0.999])
def test_a_text_stl_cut_short_is_told_by_its_end(tmp_path: Path, share: float) -> None:
    whole = trimesh.Trimesh(POINTS, FACETS, process=False).export(file_type="stl_ascii")
    path = tmp_path / "part.stl"
    path.write_text(whole.upper())
    assert read_scan(path).triangles == len(FACETS)
    path.write_text(whole[: int(share * len(whole))])
    with pytest.raises(FileTrouble, match="cut short"):
        read_scan(path)
    path.write_text(whole.replace("vertex", "wortex", 1))
    with pytest.raises(FileTrouble, match="damaged"):
        read_scan(path)
