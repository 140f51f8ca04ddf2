"""The files themselves: published rules read off the bytes, and the same bytes in any process."""

from __future__ import annotations

import io
import json
import os
import struct
import subprocess
import sys
import xml.etree.ElementTree as ET
import zipfile
from dataclasses import replace
from pathlib import Path

import ezdxf
import lib3mf
import numpy as np
import pytest
import trimesh
from ezdxf.entities import Circle, LWPolyline

from rollergen.errors import BirthError
from rollergen.export.dxf import dxf_bytes
from rollergen.export.glb import glb_bytes
from rollergen.export.stl import stl_bytes
from rollergen.export.threemf import CORE, MODEL, threemf_bytes
from rollergen.shape.mesh import Mesh, build_mesh
from rollergen.shape.outline import circle, polygon
from rollergen.shape.part import Cap, Part, Side
from rollergen.shape.properties import area_of
from rollergen.shape.section import Section, part_of, section_of
from rollergen.spec.reading import read_profile

GENERAL = Path(__file__).resolve().parents[2] / "profiles" / "beet-general.toml"


@pytest.fixture(scope="module")
def section() -> Section:
    return section_of(read_profile(GENERAL))


@pytest.fixture(scope="module")
def mesh(section: Section) -> Mesh:
    return build_mesh(part_of(read_profile(GENERAL), section), chord_error=0.1)


def box() -> Mesh:
    outline = polygon([(10, -5), (10, 5), (-10, 5), (-10, -5)], "side")
    caps = (Cap(z=0.0, up=False, outer=(0, "low")), Cap(z=30.0, up=True, outer=(0, "high")))
    return build_mesh(
        Part(name="box", sides=(Side(outline=outline, levels=((0.0, 0.0), (30.0, 0.0))),), caps=caps)
    )


def model_of(data: bytes) -> ET.Element:
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return ET.fromstring(package.read(MODEL))


def strict(data: bytes) -> tuple[int, list[bool]]:
    """Warnings of the consortium's own reader in strict mode, and its verdict on every mesh."""
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(data)
    meshes, sound = model.GetMeshObjects(), []
    while meshes.MoveNext():
        sound.append(meshes.GetCurrentMeshObject().IsManifoldAndOriented())
    return reader.GetWarningCount(), sound


def test_a_box_is_684_bytes_of_stl() -> None:
    """12 facets: 84 + 50 * 12, the size two other writers give for a box."""
    data = stl_bytes(box(), "box")
    assert len(data) == 684
    assert struct.unpack_from("<I", data, 80) == (12,)
    facet = np.frombuffer(data, dtype=[("v", "<f4", (4, 3)), ("a", "<u2")], offset=84)
    assert np.all(facet["a"] == 0)
    np.testing.assert_allclose(np.linalg.norm(facet["v"][:, 0], axis=1), 1.0, atol=1e-6)


@pytest.mark.parametrize("name", ["solid", "Walze für Sellerie", "x" * 300])
def test_the_stl_header_is_80_bytes_and_never_says_solid(name: str) -> None:
    data = stl_bytes(box(), name)
    assert len(data) == 684
    assert not data.lower().startswith(b"solid")


def test_3mf_package_and_model_follow_the_core_rules(mesh: Mesh) -> None:
    """3MF Core Specification 1.4.0, sections 1.1, 2.1, 3.1 to 3.4, 4.1 and 5.1."""
    data = threemf_bytes(
        [("one", mesh, "#d8743a"), ("two", mesh, "#4466aa")],
        title="a <b> & c",
        compound="PU 75",
        density_kg_m3=1120.0,
    )
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        assert {entry.compress_type for entry in package.infolist()} == {zipfile.ZIP_DEFLATED}
        assert [entry.filename for entry in package.infolist()] == [
            "[Content_Types].xml",
            "_rels/.rels",
            MODEL,
        ]
    model = model_of(data)
    ns = f"{{{CORE}}}"
    assert model.get("unit") == "millimeter"
    ids = [int(e.get("id", "0")) for e in model.find(f"{ns}resources") or []]
    assert ids == [1, 2, 3]  # positive and unique: id 0 fails the published schema
    assert [i.get("objectid") for i in model.iter(f"{ns}item")] == ["2", "3"]
    assert [b.get("displaycolor") for b in model.iter(f"{ns}base")] == ["#D8743A", "#4466AA"]
    said = {e.get("name"): e.text for e in model.iter(f"{ns}metadata")}
    assert said["Title"] == "a <b> & c"
    assert said["own:density_kg_m3"] == "1120"
    corners = np.array([[float(v.get(k, "nan")) for k in "xyz"] for v in model.iter(f"{ns}vertex")])
    np.testing.assert_allclose(corners.min(axis=0), 0.0, atol=1e-9)  # positive octant
    shift = np.array([float(s) for s in (said["own:shift_mm"] or "").split()])
    np.testing.assert_allclose(corners[: len(mesh.vertices)] - shift, mesh.vertices, atol=2e-6)
    assert strict(data) == (0, [True, True])


def test_the_strict_reader_sees_a_flipped_facet(mesh: Mesh) -> None:
    """It reads without a warning: only the question for orientation tells.  So we ask it above."""
    flipped = mesh.triangles.copy()
    flipped[3] = flipped[3, ::-1]
    data = threemf_bytes(replace(mesh, triangles=flipped), title="t", compound="c", density_kg_m3=1.0)
    assert strict(data) == (0, [False])


def test_the_strict_reader_refuses_id_0(mesh: Mesh) -> None:
    good = threemf_bytes(mesh, title="t", compound="c", density_kg_m3=1.0)
    packed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(good)) as old, zipfile.ZipFile(packed, "w") as new:
        for entry in old.namelist():
            text = old.read(entry)
            if entry == MODEL:
                text = text.replace(b'<object id="2"', b'<object id="0"')
                text = text.replace(b'objectid="2"', b'objectid="0"')
            new.writestr(entry, text)
    with pytest.raises(lib3mf.ELib3MFException):
        strict(packed.getvalue())


def test_3mf_refuses_vertices_that_fall_together(mesh: Mesh) -> None:
    points = mesh.vertices.copy()
    points[5] = points[6] + 1e-8
    with pytest.raises(BirthError, match="fall together"):
        threemf_bytes(replace(mesh, vertices=points), title="t", compound="c", density_kg_m3=1.0)


def test_glb_container_accessors_and_normals(mesh: Mesh) -> None:
    """glTF 2.0, 3.6.2.4 (alignment), 3.6.2.5 (min and max), 4.4 (container)."""
    data = glb_bytes(mesh, name="sample", colour="#d8743a")
    magic, version, size = struct.unpack_from("<4sII", data)
    assert (magic, version, size) == (b"glTF", 2, len(data))
    length, kind = struct.unpack_from("<I4s", data, 12)
    assert kind == b"JSON"
    assert length % 4 == 0
    document = json.loads(data[20 : 20 + length])
    assert document["asset"]["version"] == "2.0"
    assert all(view["byteOffset"] % 4 == 0 for view in document["bufferViews"])
    body_size, kind = struct.unpack_from("<I4s", data, 20 + length)
    assert kind == b"BIN\0"
    assert body_size == document["buffers"][0]["byteLength"] == len(data) - 28 - length
    body = data[28 + length :]
    count = document["accessors"][0]["count"]
    place = np.frombuffer(body, "<f4", 3 * count).reshape(-1, 3)
    normal = np.frombuffer(body, "<f4", 3 * count, document["bufferViews"][1]["byteOffset"]).reshape(-1, 3)
    index = np.frombuffer(body, "<u4", offset=document["bufferViews"][2]["byteOffset"]).reshape(-1, 3)
    assert document["accessors"][0]["min"] == place.min(axis=0).tolist()
    assert document["accessors"][0]["max"] == place.max(axis=0).tolist()
    np.testing.assert_allclose(np.linalg.norm(normal, axis=1), 1.0, atol=1e-5)
    a, b, c = (place[index[:, i]].astype(float) for i in range(3))
    facet = np.cross(b - a, c - a)
    facet /= np.linalg.norm(facet, axis=1)[:, None]
    for i in range(3):  # smooth shading leans to the side the facet faces, everywhere
        assert np.einsum("ij,ij->i", facet, normal[index[:, i]]).min() > 0.5
    read = trimesh.load(io.BytesIO(data), file_type="glb").to_mesh()
    read.merge_vertices(merge_norm=True, merge_tex=True)
    assert read.is_watertight
    expected = np.stack([mesh.vertices[:, 0], mesh.vertices[:, 2], -mesh.vertices[:, 1]], axis=1) * 1e-3
    np.testing.assert_allclose(read.bounds, [expected.min(axis=0), expected.max(axis=0)], atol=1e-8)


def bulged_area(polyline: LWPolyline) -> float:
    """Shoelace plus the circular segments: r^2 (a - sin a) / 2 for a bulge tan(a/4)."""
    rows = np.array(list(polyline.get_points("xyb")))
    x, y, bulge = rows.T
    nx, ny = np.roll(x, -1), np.roll(y, -1)
    angle = 4 * np.arctan(bulge)
    chord = np.hypot(nx - x, ny - y)
    curved = angle != 0
    radius = np.divide(chord, 2 * np.sin(angle / 2), out=np.zeros_like(chord), where=curved)
    return float(np.sum(x * ny - nx * y) / 2 + np.sum(radius**2 * (angle - np.sin(angle)) / 2))


def test_dxf_holds_the_exact_area_of_every_outline(section: Section) -> None:
    named = [("OUTER", section.outer), ("BORE", section.bore)]
    named += [("CHAMBERS", chamber) for chamber in section.chambers]
    document = ezdxf.read(io.StringIO(dxf_bytes(named).decode()))
    assert document.dxfversion == "AC1032"
    assert document.audit().errors == []
    polylines = list(document.modelspace().query("LWPOLYLINE"))
    assert len(polylines) == len(named)
    for (layer, outline), polyline in zip(named, polylines, strict=True):
        assert isinstance(polyline, LWPolyline)
        assert polyline.closed
        assert polyline.dxf.layer == layer
        assert bulged_area(polyline) == pytest.approx(area_of(outline), rel=1e-9)


def test_dxf_of_a_full_circle_is_a_circle() -> None:
    document = ezdxf.read(io.StringIO(dxf_bytes([("BORE", circle(18.0, "bore"))]).decode()))
    (found,) = document.modelspace()
    assert isinstance(found, Circle)
    assert found.dxf.radius == 18.0


SCRIPT = """
import hashlib, sys
from rollergen.export.dxf import dxf_bytes
from rollergen.export.glb import glb_bytes
from rollergen.export.stl import stl_bytes
from rollergen.export.threemf import threemf_bytes
from rollergen.shape.mesh import build_mesh
from rollergen.shape.section import part_of, section_of
from rollergen.spec.reading import read_profile
profile = read_profile(sys.argv[1])
section = section_of(profile)
mesh = build_mesh(part_of(profile, section), chord_error=0.1)
heavy = [m for m in ("OCP", "trimesh", "scipy", "matplotlib", "ezdxf") if m in sys.modules]
assert not heavy, heavy
for data in (
    stl_bytes(mesh, "sample"),
    threemf_bytes(mesh, title="sample", compound="PU", density_kg_m3=1100.0),
    glb_bytes(mesh, name="sample", colour="#d8743a"),
    dxf_bytes([("OUTER", section.outer), ("BORE", section.bore)]),
):
    print(hashlib.sha256(data).hexdigest())
"""


def test_same_bytes_in_every_process_whatever_the_hash_seed() -> None:
    seen = set()
    for seed in ("0", "1", "7", "4711"):
        done = subprocess.run(
            [sys.executable, "-c", SCRIPT, str(GENERAL)],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        )
        seen.add(done.stdout)
    assert len(seen) == 1
    assert len(seen.pop().split()) == 4
