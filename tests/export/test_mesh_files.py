"""STL, 3MF, GLB and DXF read back by independent readers."""

from __future__ import annotations

import io
from math import isclose
from pathlib import Path

import ezdxf
import lib3mf
import numpy as np
import pytest
import trimesh

from rollergen.export.dxf import dxf_bytes
from rollergen.export.glb import glb_bytes
from rollergen.export.stl import stl_bytes
from rollergen.export.threemf import threemf_bytes
from rollergen.shape.mesh import Mesh, build_mesh
from rollergen.shape.part_volume import volume_of
from rollergen.shape.section import part_of, section_of
from rollergen.spec.reading import read_profile

GENERAL = Path(__file__).resolve().parents[2] / "profiles" / "beet-general.toml"
PROFILE = read_profile(GENERAL)
SECTION = section_of(PROFILE)
PART = part_of(PROFILE, SECTION)


@pytest.fixture(scope="module")
def mesh() -> Mesh:
    return build_mesh(PART, chord_error=0.1)


def test_stl_is_84_plus_50_a_facet_and_does_not_start_with_solid(mesh: Mesh) -> None:
    data = stl_bytes(mesh, "sample")
    assert len(data) == 84 + 50 * len(mesh.triangles)  # STL binary layout, five public descriptions agree
    assert not data.startswith(b"solid")
    read = trimesh.load(io.BytesIO(data), file_type="stl")
    assert read.is_watertight
    assert read.volume == pytest.approx(volume_of(PART), rel=3e-3)


def test_3mf_passes_strict_reading_and_is_manifold_and_oriented(mesh: Mesh) -> None:
    """3MF Core 1.4.0, 4.1, read by the consortium's own library."""
    data = threemf_bytes([("sample", mesh, "#d8743a")], title="sample", compound="PU", density_kg_m3=1100.0)
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(data)
    assert reader.GetWarningCount() == 0
    objects = model.GetMeshObjects()
    assert objects.MoveNext()
    body = objects.GetCurrentMeshObject()
    assert body.IsManifoldAndOriented()
    assert body.GetTriangleCount() == len(mesh.triangles)


def test_glb_stands_upright_in_metres(mesh: Mesh) -> None:
    scene = trimesh.load(io.BytesIO(glb_bytes(mesh, name="sample", colour="#d8743a")), file_type="glb")
    low, high = scene.bounds
    np.testing.assert_allclose(high - low, [0.128, 0.150, 0.128], atol=3e-3)
    assert high[1] - low[1] == pytest.approx(0.150, abs=1e-6)


def test_dxf_holds_the_section_in_full_size() -> None:
    text = dxf_bytes([("OUTER", SECTION.outer), ("BORE", SECTION.bore)]).decode()
    document = ezdxf.read(io.StringIO(text))
    assert document.audit().errors == []
    assert document.header["$INSUNITS"] == 4  # millimetre
    radius = max(np.hypot(x, y) for e in document.modelspace().query("LWPOLYLINE") for x, y, *_ in e)
    assert isclose(radius, 64.0, abs_tol=0.2)
