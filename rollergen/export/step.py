"""A solid as a STEP file (AP242): names, colour, millimetres, material, and figures a reader can check.

The kernel writes shape and structure; what it gets wrong or lets depend on the run is set right in the
text: the header (time stamp, author), the solid's name, the density's unit, strings beyond ASCII.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from typing import Any

from rollergen.errors import BirthError
from rollergen.shape.solid import load_kernel

Vector = tuple[float, float, float]
SCHEMA = "AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF {1 0 10303 442 1 1 4 }"
# ISO 10303-21 wants a time; one that says "not recorded" keeps the same input at the same bytes
NO_TIME = "1970-01-01T00:00:00"
# stand-ins the kernel carries through, replaced by encoded strings afterwards
PRODUCT, COMPOUND = "rollergen-product", "rollergen-compound"


def step_bytes(
    solid: Any,
    *,
    name: str,
    part_name: str = "",
    colour: str,
    compound: str,
    density_kg_m3: float,
    volume_mm3: float,
    area_mm2: float,
    centroid_mm: Vector,
) -> bytes:
    """The STEP file of one part; the same bytes for the same input, in any process.

    ``name`` is the product, ``part_name`` the solid (default: the product's name), ``colour`` ``#rrggbb``.
    Volume, area and centroid go in as geometric validation properties: give CLOSED-FORM values, so that
    whoever reads the file checks the shape against something the kernel did not make.  Material name and
    density (g/cm^3) are written as properties; many readers ignore them, so the mass stands in the
    product's description too.

    Source: ISO 10303-21 (text), ISO 10303-242 (schema); property names as checked by the NIST STEP File
    Analyzer 5.45, sfa-valprop.tcl (CAx-IF recommended practice, geometric validation properties).
    """
    load_kernel()
    silence_kernel()
    document = _document(solid, colour, density_kg_m3, (volume_mm3, area_mm2, centroid_mm))
    text = _written(document)
    mass = volume_mm3 * 1e-9 * density_kg_m3
    description = f"{mass:.6g} kg of {compound or 'compound'} at {density_kg_m3:.6g} kg/m^3"
    return _corrected(
        text, name=name, part_name=part_name or name, compound=compound, description=description
    ).encode("ascii")


def silence_kernel() -> None:
    """Keep the kernel's transfer statistics off stdout, where only results belong."""
    from OCP.Message import Message, Message_PrinterOStream

    Message.DefaultMessenger_s().RemovePrinters(Message_PrinterOStream.get_type_descriptor_s())


def _document(solid: Any, colour: str, density_kg_m3: float, figures: tuple[float, float, Vector]) -> Any:
    """One labelled shape with colour, material and validation properties."""
    from OCP.gp import gp_Pnt
    from OCP.Quantity import Quantity_Color, Quantity_TOC_sRGB
    from OCP.TCollection import TCollection_ExtendedString, TCollection_HAsciiString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFApp import XCAFApp_Application
    from OCP.XCAFDoc import (
        XCAFDoc_Area,
        XCAFDoc_Centroid,
        XCAFDoc_ColorGen,
        XCAFDoc_DocumentTool,
        XCAFDoc_Volume,
    )

    document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
    XCAFApp_Application.GetApplication_s().InitDocument(document)
    label = XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).AddShape(solid, False)
    TDataStd_Name.Set_s(label, TCollection_ExtendedString(PRODUCT))
    colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    colours.SetColor(label, Quantity_Color(*rgb_of(colour), Quantity_TOC_sRGB), XCAFDoc_ColorGen)
    materials = XCAFDoc_DocumentTool.MaterialTool_s(document.Main())
    texts = (COMPOUND, "cast elastomer", "density measure", "POSITIVE_RATIO_MEASURE")
    named, kind, measure, value_type = (TCollection_HAsciiString(text) for text in texts)
    materials.SetMaterial(label, named, kind, density_kg_m3 / 1000, measure, value_type)
    volume, area, centroid = figures
    XCAFDoc_Volume.Set_s(label, volume)
    XCAFDoc_Area.Set_s(label, area)
    XCAFDoc_Centroid.Set_s(label, gp_Pnt(*(round(c, 9) for c in centroid)))  # 1 pm: no -4.E-15
    return document


def rgb_of(colour: str) -> Vector:
    """``#rrggbb`` as red, green, blue in 0..1."""
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", colour):
        raise ValueError(f"colour {colour!r} is not of the form #rrggbb")
    red, green, blue = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    return (red, green, blue)


def _written(document: Any) -> str:
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_AsIs

    with _settings(
        {"write.step.schema": "AP242DIS", "write.surfacecurve.mode": 0, "write.precision.mode": 1}
    ):
        writer = STEPCAFControl_Writer()
        for switch in (writer.SetNameMode, writer.SetColorMode, writer.SetPropsMode, writer.SetMaterialMode):
            switch(True)
        stream = BytesIO()
        if not writer.Transfer(document, STEPControl_AsIs) or writer.WriteStream(stream) != IFSelect_RetDone:
            raise BirthError("the kernel could not translate the solid to STEP")
    return stream.getvalue().decode("ascii")


@contextmanager
def _settings(wanted: dict[str, str | int]) -> Iterator[None]:
    """The kernel's writer is steered by process-wide settings: set them, and put the old ones back.

    pcurves are left out (surfacecurve.mode 0: a third smaller and faster, readers make their own); the
    stated uncertainty is the greatest tolerance of the solid (precision.mode 1).
    """
    from OCP.Interface import Interface_Static
    from OCP.STEPControl import STEPControl_Controller

    STEPControl_Controller.Init_s()  # the settings exist only after this
    before = {key: Interface_Static.CVal_s(key) for key in wanted}
    for key, value in wanted.items():
        Interface_Static.SetCVal_s(key, str(value))
    try:
        yield
    finally:
        for key, text in before.items():
            Interface_Static.SetCVal_s(key, text)


def _corrected(text: str, *, name: str, part_name: str, compound: str, description: str) -> str:
    """Own header, names and density unit; each correction must hit exactly as often as it should."""
    body = text[text.index("DATA;") :]
    product, solid, material = encoded(name), encoded(part_name), encoded(compound or "compound")
    body = _once(
        rf"PRODUCT\('{PRODUCT}',\s*'{PRODUCT}',\s*''",
        f"PRODUCT({product},{product},{encoded(description)}",
        body,
    )
    body = _once(r"MANIFOLD_SOLID_BREP\(''", f"MANIFOLD_SOLID_BREP({solid}", body)
    body = _once(
        rf"DESCRIPTIVE_REPRESENTATION_ITEM\('{COMPOUND}'", f"DESCRIPTIVE_REPRESENTATION_ITEM({material}", body
    )
    return _header(name) + _density_unit(body)


def _density_unit(body: str) -> str:
    """The kernel writes gram^3 cm^2 whatever the density: make it gram^1 cm^-3."""
    found = re.search(
        r"MEASURE_REPRESENTATION_ITEM\('density measure',\s*POSITIVE_RATIO_MEASURE\([^)]*\),\s*#(\d+)\)", body
    )
    if found is None:
        raise BirthError("the STEP text of the kernel has no density measure")
    elements = re.search(rf"#{found[1]} = DERIVED_UNIT\(\(#(\d+),\s*#(\d+)\)\)", body)
    if elements is None:
        raise BirthError("the STEP text of the kernel has no unit for the density")
    for number, exponent, unit in (
        (elements[1], "1.", r"MASS_UNIT\(\)"),
        (elements[2], "-3.", r"LENGTH_UNIT\(\)"),
    ):
        element = rf"(#{number} = DERIVED_UNIT_ELEMENT\(#(\d+),)[^)]*(\);\s*#\2 = \( {unit})"
        body = _once(element, rf"\g<1>{exponent}\g<3>", body)
    return body


def _once(pattern: str, replacement: str, text: str) -> str:
    literal = replacement if r"\g<" in replacement else replacement.replace("\\", "\\\\")
    changed, count = re.subn(pattern, literal, text)
    if count != 1:
        raise BirthError(f"the STEP text of the kernel has {count} places like {pattern}, expected one")
    return changed


def _header(name: str) -> str:
    return (
        "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION(('one part, B-rep in mm'),'2;1');\n"
        f"FILE_NAME({encoded(name + '.step')},'{NO_TIME}',(''),(''),'rollergen','rollergen','');\n"
        f"FILE_SCHEMA(('{SCHEMA}'));\nENDSEC;\n"
    )


def encoded(text: str) -> str:
    """A string of ISO 10303-21: quoted, quotes and backslashes doubled, the rest of Unicode as codes."""

    def code(character: str) -> str:
        number = ord(character)
        if character in "'\\":
            return character * 2
        if 32 <= number < 127:
            return character
        return f"\\X2\\{number:04X}\\X0\\" if number < 0x10000 else f"\\X4\\{number:08X}\\X0\\"

    return "'" + "".join(code(character) for character in text) + "'"
