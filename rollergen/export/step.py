"""A solid as a STEP file (AP242): names, colour, millimetres, material, and figures a reader can check.

The kernel writes shape and structure; what it gets wrong or lets depend on the run is set right in the
text: the header (time stamp, author), the solid's name, the density's unit, strings beyond ASCII.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from typing import Any

import numpy as np

from rollergen.errors import BirthError
from rollergen.shape.outline import Floats
from rollergen.shape.solid import load_kernel

Vector = tuple[float, float, float]
SCHEMA = "AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF {1 0 10303 442 1 1 4 }"
# ISO 10303-21 wants a time; one that says "not recorded" keeps the same input at the same bytes
NO_TIME = "1970-01-01T00:00:00"
# stand-ins the kernel carries through, replaced by encoded strings afterwards
PRODUCT, COMPOUND, WHOLE = "rollergen-product", "rollergen-compound", "rollergen-whole"


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
    material_kind: str = "cast elastomer",
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
    figures = (volume_mm3, area_mm2, centroid_mm)
    document = _document(solid, colour, density_kg_m3, figures, material_kind)
    text = _written(document)
    mass = volume_mm3 * 1e-9 * density_kg_m3
    description = f"{mass:.6g} kg of {compound or 'compound'} at {density_kg_m3:.6g} kg/m^3"
    return _corrected(
        text, name=name, part_name=part_name or name, compound=compound, description=description
    ).encode("ascii")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One solid of an assembly with its name and the closed-form figures a reader can check (mm).

    ``material`` and ``density_kg_m3`` where it is not the assembly's compound; ``note`` goes into its description.
    """

    solid: Any
    name: str
    colour: str
    volume_mm3: float
    area_mm2: float
    centroid_mm: Vector
    material: str = ""
    density_kg_m3: float | None = None
    note: str = ""


def assembly_bytes(
    pieces: Sequence[Piece],
    places: Sequence[tuple[int, Floats]],
    *,
    name: str,
    compound: str,
    density_kg_m3: float,
    place_names: Sequence[str] = (),
    what: str = "assembly of segments, B-rep in mm",
    description: str = "",
) -> bytes:
    """STEP assembly: every piece once, placed as often as wanted; the same bytes for the same input.

    ``places``: (number of the piece, (3, 4) rigid motion in mm); ``place_names`` one a place, else numbers;
    ``what`` stands in the header; ``description`` of the whole, else its count and mass.  Raises ValueError
    without pieces or places, for a place of a piece that is not there, and for names that are not one a place.
    """
    if not pieces or not places or not all(0 <= number < len(pieces) for number, _ in places):
        raise ValueError(f"{name}: an assembly needs pieces, and places of pieces that are there")
    if place_names and len(place_names) != len(places):
        raise ValueError(f"{name}: {len(place_names)} names for {len(places)} places")
    load_kernel()
    silence_kernel()
    text = _written(_assembled(pieces, places, density_kg_m3))
    body = text[text.index("DATA;") :]
    volume = sum(pieces[number].volume_mm3 for number, _ in places)
    mass = volume * 1e-9 * density_kg_m3
    said = description or f"{len(places)} pieces, {mass:.6g} kg of {compound or 'compound'}"
    body = _named(body, WHOLE, name, said)
    for number, piece in enumerate(pieces):
        density = density_kg_m3 if piece.density_kg_m3 is None else piece.density_kg_m3
        material = piece.material or compound or "compound"
        one = f"{piece.volume_mm3 * 1e-9 * density:.6g} kg of {material}"
        one = f"{one}; {piece.note}" if piece.note else one
        body = _named(body, f"{PRODUCT}-{number}-", piece.name, one)
        body = body.replace(
            f"DESCRIPTIVE_REPRESENTATION_ITEM('{COMPOUND}-{number}-'",
            f"DESCRIPTIVE_REPRESENTATION_ITEM({encoded(material)}",
        )
    body = _coloured(_numbered(body, len(places), place_names), pieces)
    return (_header(name, what) + _density_units(body)).encode("ascii")


def _named(body: str, stand_in: str, name: str, description: str) -> str:
    said = encoded(name)
    return _once(
        rf"PRODUCT\('{stand_in}',\s*'{stand_in}',\s*''", f"PRODUCT({said},{said},{encoded(description)}", body
    )


def _numbered(body: str, places: int, names: Sequence[str] = ()) -> str:
    """Own numbers and names for the places: the kernel counts on from one file to the next in a process."""
    count = iter(range(1, places + 1))

    def placed(old: re.Match[str]) -> str:
        number = next(count, 0)
        called = encoded(names[number - 1]) if names and 0 < number <= places else f"'place {number}'"
        # the kernel broke the line where its own, longer number made it too long
        rest = "".join(old[1].split())
        return f"NEXT_ASSEMBLY_USAGE_OCCURRENCE('{number}',{called},{rest});"

    changed, found = re.subn(r"NEXT_ASSEMBLY_USAGE_OCCURRENCE\('[^']*',\s*'[^']*',([^;]*)\);", placed, body)
    if found != places:
        raise BirthError(f"the STEP text of the kernel has {found} places, expected {places}")
    return changed


STYLE = re.compile(
    r"(MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION\('',\(\s*#\d+\),#)(\d+)"
    r"(\);\s*#\d+ = STYLED_ITEM\('color',\(#\d+\),#)(\d+)"
    r"(\);(?:(?!MECHANICAL_DESIGN).)*?COLOUR_RGB\(''),([^)]*)(\);)",
    re.DOTALL,
)
SHADES = 12  # steps of red, green and blue of stand-in colours: one of its own for every piece


def _stand_in_colour(number: int) -> Vector:
    """A colour no other piece has, far from all others: the kernel would share near ones, as memory has it.

    Raises ValueError for more than SHADES^3 pieces.
    """
    if number >= SHADES**3:
        raise ValueError(f"an assembly of more than {SHADES**3} different pieces")
    red, green, blue = number % SHADES, number // SHADES % SHADES, number // SHADES**2
    return ((red + 1) / (SHADES + 2), (green + 1) / (SHADES + 2), (blue + 1) / (SHADES + 2))


def _number_of(colour: str) -> int:
    """The piece a stand-in colour ("r,g,b" as the kernel wrote it) stands for."""
    red, green, blue = (round(float(value) * (SHADES + 2)) - 1 for value in colour.split(","))
    return red + SHADES * (green + SHADES * blue)


def _coloured(body: str, pieces: Sequence[Piece]) -> str:
    """The pieces' own colours, in the order of the pieces: the kernel walks styles by their place in memory.

    All styles are built alike, so only what they point at (representation, shape) and the colour are exchanged.
    """
    found = [(_number_of(style[6]), style[2], style[4]) for style in STYLE.finditer(body)]
    if sorted(number for number, _, _ in found) != list(range(len(pieces))):
        raise BirthError(f"the STEP text of the kernel has {len(found)} colours, expected {len(pieces)}")
    told = iter(sorted(found))

    def exchanged(style: re.Match[str]) -> str:
        number, whole, shape = next(told)
        colour = ",".join(_real(value) for value in rgb_of(pieces[number].colour))
        return f"{style[1]}{whole}{style[3]}{shape}{style[5]},{colour}{style[7]}"

    return STYLE.sub(exchanged, body)


def _real(value: float) -> str:
    """A number as ISO 10303-21 wants it, with its point."""
    return f"{value:.9f}".rstrip("0")


def _assembled(pieces: Sequence[Piece], places: Sequence[tuple[int, Floats]], density_kg_m3: float) -> Any:
    from OCP.gp import gp_Trsf
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFApp import XCAFApp_Application
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
    XCAFApp_Application.GetApplication_s().InitDocument(document)
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    labels = [
        _labelled(
            document, piece.solid, f"{PRODUCT}-{number}-", _stand_in_colour(number),
            density_kg_m3 if piece.density_kg_m3 is None else piece.density_kg_m3,
            (piece.volume_mm3, piece.area_mm2, piece.centroid_mm), f"{COMPOUND}-{number}-",
            "cast elastomer" if piece.density_kg_m3 is None else "tool material",
        )
        for number, piece in enumerate(pieces)
    ]  # fmt: skip
    whole = shapes.NewShape()
    TDataStd_Name.Set_s(whole, TCollection_ExtendedString(WHOLE))
    for number, matrix in places:
        motion = gp_Trsf()
        motion.SetValues(*(float(value) for value in np.asarray(matrix).ravel()))
        shapes.AddComponent(whole, labels[number], TopLoc_Location(motion))
    shapes.UpdateAssemblies()
    return document


def silence_kernel() -> None:
    """Keep the kernel's transfer statistics off stdout, where only results belong."""
    from OCP.Message import Message, Message_PrinterOStream

    Message.DefaultMessenger_s().RemovePrinters(Message_PrinterOStream.get_type_descriptor_s())


def _document(
    solid: Any, colour: str, density_kg_m3: float, figures: tuple[float, float, Vector], material_kind: str
) -> Any:
    """One labelled shape with colour, material and validation properties."""
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFApp import XCAFApp_Application

    document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
    XCAFApp_Application.GetApplication_s().InitDocument(document)
    _labelled(document, solid, PRODUCT, rgb_of(colour), density_kg_m3, figures, material_kind=material_kind)
    return document


def _labelled(
    document: Any,
    solid: Any,
    stand_in: str,
    colour: Vector,
    density_kg_m3: float,
    figures: tuple[float, float, Vector],
    material: str = COMPOUND,
    material_kind: str = "cast elastomer",
) -> Any:
    from OCP.gp import gp_Pnt
    from OCP.Quantity import Quantity_Color, Quantity_TOC_sRGB
    from OCP.TCollection import TCollection_ExtendedString, TCollection_HAsciiString
    from OCP.TDataStd import TDataStd_Name
    from OCP.XCAFDoc import (
        XCAFDoc_Area,
        XCAFDoc_Centroid,
        XCAFDoc_ColorGen,
        XCAFDoc_DocumentTool,
        XCAFDoc_Volume,
    )

    label = XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).AddShape(solid, False)
    TDataStd_Name.Set_s(label, TCollection_ExtendedString(stand_in))
    colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    colours.SetColor(label, Quantity_Color(*colour, Quantity_TOC_sRGB), XCAFDoc_ColorGen)
    materials = XCAFDoc_DocumentTool.MaterialTool_s(document.Main())
    texts = (material, material_kind, "density measure", "POSITIVE_RATIO_MEASURE")
    named, kind, measure, value_type = (TCollection_HAsciiString(text) for text in texts)
    materials.SetMaterial(label, named, kind, density_kg_m3 / 1000, measure, value_type)
    volume, area, centroid = figures
    XCAFDoc_Volume.Set_s(label, volume)
    XCAFDoc_Area.Set_s(label, area)
    XCAFDoc_Centroid.Set_s(label, gp_Pnt(*(round(c, 9) for c in centroid)))  # 1 pm: no -4.E-15
    return label


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
    solid, material = encoded(part_name), encoded(compound or "compound")
    body = _named(body, PRODUCT, name, description)
    body = _once(r"MANIFOLD_SOLID_BREP\(''", f"MANIFOLD_SOLID_BREP({solid}", body)
    body = _once(
        rf"DESCRIPTIVE_REPRESENTATION_ITEM\('{COMPOUND}'", f"DESCRIPTIVE_REPRESENTATION_ITEM({material}", body
    )
    return _header(name, "one part, B-rep in mm") + _density_units(body)


def _density_units(body: str) -> str:
    """The kernel writes gram^3 cm^2 whatever the density: make it gram^1 cm^-3, for every part."""
    found = re.findall(
        r"MEASURE_REPRESENTATION_ITEM\('density measure',\s*POSITIVE_RATIO_MEASURE\([^)]*\),\s*#(\d+)\)", body
    )
    if not found:
        raise BirthError("the STEP text of the kernel has no density measure")
    for unit_number in dict.fromkeys(found):
        elements = re.search(rf"#{unit_number} = DERIVED_UNIT\(\(#(\d+),\s*#(\d+)\)\)", body)
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


def _header(name: str, what: str) -> str:
    return (
        f"ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION(('{what}'),'2;1');\n"
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
