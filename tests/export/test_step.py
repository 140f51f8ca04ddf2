"""STEP files: what a reader finds, and the same bytes every time."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
from math import pi, tau
from pathlib import Path
from typing import Any

import pytest

from rollergen.export.step import encoded, rgb_of, step_bytes
from rollergen.shape.outline import Arc, Line, Outline, circle, polygon
from rollergen.shape.part import Cap, Part, Side
from rollergen.shape.part_volume import centroid_of_part, surface_of, volume_of
from rollergen.shape.solid import build_solid
from rollergen.shape.solid_check import kernel_volume, pieces_of

HEAD = re.compile(rb"^ISO-10303-21;\nHEADER;\n.*ENDSEC;\nDATA;\n.*ENDSEC;\nEND-ISO-10303-21;\s*$", re.DOTALL)
COLOUR = "#3a7bd8"
DENSITY = 1130.0


def twisted_block() -> Part:
    """Rounded square 60 mm, r 5, a turn per 400 mm, chamfered below, eccentric round bore 20."""
    edges: list[Line | Arc] = []
    for turn in range(4):
        c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[turn]
        corners = [(c * x - s * y, s * x + c * y) for x, y in ((30.0, -25.0), (30.0, 25.0), (25.0, 25.0))]
        edges += [Line(corners[0], corners[1]), Arc(corners[2], 5.0, turn * pi / 2, pi / 2)]
    straight = ((0.0, 0.0), (80.0, 0.0))
    body = Side(
        outline=Outline(tuple(edges)), levels=((0.0, 1.0), (1.0, 0.0), (80.0, 0.0)), turn_per_mm=tau / 400
    )
    bore = Side(outline=circle(10, "bore", centre=(2, 1)), levels=straight, material_inside=False)
    return Part(
        name="block",
        sides=(body, bore),
        caps=(
            Cap(z=0.0, up=False, outer=(0, "low"), holes=((1, "low"),)),
            Cap(z=80.0, up=True, outer=(0, "high"), holes=((1, "high"),)),
        ),
    )


def written(part: Part, *, degree: int = 5, **changes: Any) -> bytes:
    wanted: dict[str, Any] = {
        "name": "beet-autumn",
        "part_name": "segment",
        "colour": COLOUR,
        "compound": "cast elastomer 75",
        "density_kg_m3": DENSITY,
        "volume_mm3": volume_of(part),
        "area_mm2": surface_of(part),
        "centroid_mm": centroid_of_part(part),
    }
    return step_bytes(build_solid(part, degree=degree), **(wanted | changes))


class ReadBack:
    """What the kernel's own reader finds in a file."""

    def __init__(self, path: Path) -> None:
        from OCP.STEPCAFControl import STEPCAFControl_Reader
        from OCP.TCollection import TCollection_ExtendedString
        from OCP.TDF import TDF_LabelSequence
        from OCP.TDocStd import TDocStd_Document
        from OCP.XCAFApp import XCAFApp_Application
        from OCP.XCAFDoc import XCAFDoc_DocumentTool

        self.document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
        XCAFApp_Application.GetApplication_s().InitDocument(self.document)
        reader = STEPCAFControl_Reader()
        for switch in (reader.SetNameMode, reader.SetColorMode, reader.SetPropsMode, reader.SetMatMode):
            switch(True)
        reader.ReadFile(str(path))
        assert reader.Transfer(self.document)
        tool, labels = XCAFDoc_DocumentTool.ShapeTool_s(self.document.Main()), TDF_LabelSequence()
        tool.GetFreeShapes(labels)
        assert labels.Length() == 1
        self.label = labels.Value(1)
        self.shape = tool.GetShape_s(self.label)

    @property
    def name(self) -> str:
        from OCP.TDataStd import TDataStd_Name

        found = TDataStd_Name()
        assert self.label.FindAttribute(TDataStd_Name.GetID_s(), found)
        return str(found.Get().ToExtString())

    def figure(self, kind: Any) -> Any:
        found = kind()
        assert self.label.FindAttribute(kind.GetID_s(), found)
        return found.Get()

    @property
    def colour(self) -> tuple[float, float, float]:
        from OCP.Quantity import Quantity_Color, Quantity_TOC_sRGB
        from OCP.XCAFDoc import XCAFDoc_ColorGen, XCAFDoc_ColorSurf, XCAFDoc_DocumentTool

        tool, found = XCAFDoc_DocumentTool.ColorTool_s(self.document.Main()), Quantity_Color()
        assert any(tool.GetColor_s(self.label, kind, found) for kind in (XCAFDoc_ColorGen, XCAFDoc_ColorSurf))
        red, green, blue = found.Values(Quantity_TOC_sRGB)
        return (red, green, blue)


@pytest.fixture(scope="module")
def block() -> Part:
    return twisted_block()


@pytest.fixture(scope="module")
def text(block: Part) -> bytes:
    return written(block)


@pytest.fixture(scope="module")
def read_back(text: bytes, tmp_path_factory: pytest.TempPathFactory) -> ReadBack:
    path = tmp_path_factory.mktemp("step") / "block.step"
    path.write_bytes(text)
    return ReadBack(path)


def test_the_file_is_ap242_in_millimetres_with_one_solid(text):
    """Strings of ISO 10303-21 and 10303-242 as a part 21 reader looks for them."""
    assert HEAD.match(text)
    assert b"FILE_SCHEMA(('AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF {1 0 10303 442 1 1 4 }'))" in text
    assert b"SI_UNIT(.MILLI.,.METRE.)" in text and b"UNCERTAINTY_MEASURE_WITH_UNIT" in text
    assert text.count(b"MANIFOLD_SOLID_BREP(") == 1 and b"MANIFOLD_SOLID_BREP('segment'" in text
    assert text.count(b"ADVANCED_BREP_SHAPE_REPRESENTATION(") == 1
    assert b"PRODUCT('beet-autumn','beet-autumn'," in text


def test_the_header_tells_nothing_of_the_run(text):
    header = text[: text.index(b"DATA;")]
    assert b"'rollergen'" in header and b"1970-01-01T00:00:00" in header
    assert b"(''),('')" in header and b"Open CASCADE" not in header


def test_the_solid_read_back_is_valid_with_the_volume_of_the_closed_form(block, read_back):
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.TopAbs import TopAbs_SOLID

    assert len(pieces_of(read_back.shape, TopAbs_SOLID)) == 1
    assert BRepCheck_Analyzer(read_back.shape).IsValid()
    assert kernel_volume(read_back.shape) == pytest.approx(volume_of(block), rel=1e-6)


def square(turn: float, *, taper: float = 0.0) -> Part:
    """Sharp 40 mm square, 90 mm long, twisted and tapered."""
    outline = polygon([(20, -20), (20, 20), (-20, 20), (-20, -20)], "body")
    return alone(Side(outline=outline, levels=((0.0, 0.0), (90.0, taper)), turn_per_mm=turn))


def alone(side: Side) -> Part:
    low, high = side.levels[0][0], side.levels[-1][0]
    caps = (Cap(z=low, up=False, outer=(0, "low")), Cap(z=high, up=True, outer=(0, "high")))
    return Part(name="alone", sides=(side,), caps=caps)


@pytest.mark.parametrize(
    ("part", "degree", "faces"),
    [
        (square(0.0), 5, 6),
        (square(-tau / 30), 5, 6),
        (square(tau / 30), 3, 6),
        (square(tau / 200, taper=3.0), 5, 6),
        (alone(Side(outline=circle(50, "body"), levels=((0.0, 1.0), (1.0, 0.0), (90.0, 0.0)))), 5, 4),
        (
            alone(
                Side(
                    outline=circle(5, "body", centre=(9, 0)),
                    levels=((0.0, 0.0), (90.0, 0.0)),
                    turn_per_mm=0.1,
                )
            ),
            3,
            3,
        ),
        (twisted_block(), 3, 19),
    ],
    ids=["prism", "three turns left", "cubic", "mitred taper", "seam faces", "spring", "cubic block"],
)
def test_every_kind_of_face_reads_back_valid(part, degree, faces, tmp_path):
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.TopAbs import TopAbs_FACE

    path = tmp_path / "kind.step"
    path.write_bytes(written(part, degree=degree))
    shape = ReadBack(path).shape
    assert BRepCheck_Analyzer(shape).IsValid()
    assert len(pieces_of(shape, TopAbs_FACE)) == faces
    assert kernel_volume(shape) == pytest.approx(volume_of(part), rel=1e-6)


def test_a_mesh_of_the_file_has_the_volume_too(block, read_back):
    """Divergence over flat triangles of the file's own shape: no surface integral of the kernel involved."""
    import cadquery
    import numpy as np

    vertices, triangles = cadquery.Solid(read_back.shape).tessellate(0.005, 0.05)
    points = np.array([v.toTuple() for v in vertices])
    a, b, c = points[np.array(triangles).T]
    volume = float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6
    assert volume == pytest.approx(volume_of(block), rel=0.005 * surface_of(block) / volume_of(block))


def test_name_and_colour_come_back(read_back):
    assert read_back.name == "beet-autumn"
    assert read_back.colour == pytest.approx(rgb_of(COLOUR), abs=1e-6)


def test_the_validation_properties_are_the_closed_forms(block, read_back):
    from OCP.XCAFDoc import XCAFDoc_Area, XCAFDoc_Centroid, XCAFDoc_Volume

    centre = read_back.figure(XCAFDoc_Centroid)
    assert read_back.figure(XCAFDoc_Volume) == pytest.approx(volume_of(block), rel=1e-9)
    assert read_back.figure(XCAFDoc_Area) == pytest.approx(surface_of(block), rel=1e-9)
    assert (centre.X(), centre.Y(), centre.Z()) == pytest.approx(centroid_of_part(block), rel=1e-9, abs=1e-8)


@pytest.mark.parametrize(
    ("group", "item"),
    [("volume", "volume measure"), ("surface area", "surface area measure"), ("centroid", "centre point")],
)
def test_validation_properties_bear_the_names_analysers_look_for(text, group, item):
    """Lower-case names of NIST STEP File Analyzer 5.45, sfa-valprop.tcl (CAx-IF recommended practice)."""
    flat = re.sub(r"\s+", "", text.decode())
    group, item = group.replace(" ", ""), item.replace(" ", "")
    assert f"PROPERTY_DEFINITION('geometricvalidationproperty','{group}'" in flat
    assert f"REPRESENTATION('{group}',(#" in flat and f"('{item}'," in flat


def test_material_and_density_are_sound(text, read_back):
    """1.13 in gram^1 centimetre^-3: the kernel left alone writes gram^3 centimetre^2."""
    from OCP.XCAFDoc import XCAFDoc_MaterialTool

    flat = re.sub(r"\s+", "", text.decode())
    assert "DESCRIPTIVE_REPRESENTATION_ITEM('castelastomer75'" in flat
    unit = re.search(r"'densitymeasure',POSITIVE_RATIO_MEASURE\(1\.13\),#(\d+)\)", flat)
    assert unit is not None
    elements = re.search(rf"#{unit[1]}=DERIVED_UNIT\(\(#(\d+),#(\d+)\)\)", flat)
    assert elements is not None
    mass = re.search(rf"#{elements[1]}=DERIVED_UNIT_ELEMENT\(#(\d+),1\.\)", flat)
    length = re.search(rf"#{elements[2]}=DERIVED_UNIT_ELEMENT\(#(\d+),-3\.\)", flat)
    assert mass is not None and length is not None
    assert f"#{mass[1]}=(MASS_UNIT()NAMED_UNIT(*)SI_UNIT($,.GRAM.))" in flat
    assert f"#{length[1]}=(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.CENTI.,.METRE.))" in flat
    # the reader turns it into gram per cubic millimetre
    assert XCAFDoc_MaterialTool.GetDensityForShape_s(read_back.label) == pytest.approx(1.13e-3, rel=1e-9)


def test_the_mass_stands_where_every_reader_shows_it(block, text):
    grams = volume_of(block) * DENSITY * 1e-9
    assert f"{grams:.6g} kg of cast elastomer 75 at 1130 kg/m^3".encode() in re.sub(rb"\n *", b"", text)


def test_names_beyond_ascii_survive(block, tmp_path):
    path = tmp_path / "named.step"
    path.write_bytes(written(block, name="rübe d'été", part_name="Länge \\", compound="PU Ⅳ"))
    assert ReadBack(path).name == "rübe d'été"
    assert encoded("a'b\\ü𝄞") == "'a''b\\\\\\X2\\00FC\\X0\\\\X4\\0001D11E\\X0\\'"


def test_a_wrong_colour_is_refused(block):
    with pytest.raises(ValueError, match="#rrggbb"):
        written(block, colour="orange")


def test_writing_twice_gives_the_same_bytes_and_leaves_the_kernels_settings_alone(block, text):
    from OCP.Interface import Interface_Static

    before = Interface_Static.CVal_s("write.step.schema")
    try:
        Interface_Static.SetCVal_s("write.step.schema", "AP214IS")
        assert written(block) == text
        assert Interface_Static.CVal_s("write.step.schema") == "AP214IS"
    finally:
        Interface_Static.SetCVal_s("write.step.schema", before)


def test_another_process_writes_the_same_bytes_and_stdout_stays_clean(text):
    """The kernel prints statistics to file descriptor 1; a result there would be spoilt."""
    script = (
        "import hashlib, sys, test_step as t;"
        "sys.stdout.write(hashlib.sha256(t.written(t.twisted_block())).hexdigest())"
    )
    for seed in ("1", "4242"):
        environment = os.environ | {
            "PYTHONHASHSEED": seed,
            "PYTHONPATH": os.pathsep.join([str(Path(__file__).parent), *sys.path]),
        }
        run = subprocess.run(
            [sys.executable, "-c", script], env=environment, capture_output=True, text=True, check=True
        )
        assert run.stdout == hashlib.sha256(text).hexdigest()
