"""3MF: mesh with unit, name, material and colour, for slicers that know more than triangles.

Source: 3MF Core Specification 1.4.0 (3MF Consortium), sections 2.1, 3.4, 4.1 and 5.1: ids from 1, unit
"millimeter", manifold by vertex number, well-known metadata names or a declared namespace.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from xml.sax.saxutils import quoteattr

import numpy as np

from rollergen.errors import BirthError
from rollergen.shape.mesh import Mesh
from rollergen.shape.outline import Floats

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
OWN = "urn:rollergen:3mf:2026"  # declared, so that readers accept the density beside the well-known names
MODEL = "3D/3dmodel.model"
DECIMALS = 6  # mm: 1 nm, below the single precision readers keep
DATE = (1980, 1, 1, 0, 0, 0)  # the earliest a zip can say: same input, same bytes

CONTENT_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>'
    "</Types>\n"
)
RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    f'<Relationship Target="/{MODEL}" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>'
    "</Relationships>\n"
)


def threemf_bytes(
    meshes: Mesh | Sequence[tuple[str, Mesh, str]],
    *,
    title: str,
    compound: str,
    density_kg_m3: float,
    colour: str = "#d8743a",
    designer: str = "rollergen",
) -> bytes:
    """3MF package of one mesh, or of several as (name, mesh, colour), all of one ``compound``.

    Coordinates are in mm and SHIFTED as a whole so that the least x, y and z are 0 (the format wants
    the positive octant); the shift is written out as metadata ``own:shift_mm`` (add it to our
    coordinates to get the file's).  ``colour``: "#rrggbb", used when a single mesh is given.
    Errors: BirthError when two vertices fall together at 1 nm, which would break the manifold.
    """
    items = [(title, meshes, colour)] if isinstance(meshes, Mesh) else list(meshes)
    if not items:
        raise ValueError("a 3MF file needs at least one mesh")
    shift = -np.min([mesh.vertices.min(axis=0) for _, mesh, _ in items], axis=0)
    text = _model(items, shift, title=title, compound=compound, density=density_kg_m3, designer=designer)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as package:
        for name, content in (
            ("[Content_Types].xml", CONTENT_TYPES),
            ("_rels/.rels", RELATIONS),
            (MODEL, text),
        ):
            entry = zipfile.ZipInfo(name, DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 3
            entry.external_attr = 0o644 << 16
            package.writestr(entry, content.encode("utf-8"), compresslevel=6)
    return packed.getvalue()


def _model(
    items: Sequence[tuple[str, Mesh, str]],
    shift: Floats,
    *,
    title: str,
    compound: str,
    density: float,
    designer: str,
) -> str:
    said = {
        "Title": title,
        "Designer": designer,
        "Application": "rollergen",
        "own:compound": compound,
        "own:density_kg_m3": f"{density:.10g}",
        "own:shift_mm": " ".join(f"{s:.6f}" for s in shift),
    }
    metadata = "".join(f"<metadata name={quoteattr(k)}>{_text(v)}</metadata>\n" for k, v in said.items())
    bases = "".join(
        f"<base name={quoteattr(compound)} displaycolor={quoteattr(c.upper())}/>" for _, _, c in items
    )
    objects = "".join(
        f'<object id="{number + 2}" type="model" name={quoteattr(name)} pid="1" pindex="{number}">\n'
        f"{_mesh(name, mesh, shift)}</object>\n"
        for number, (name, mesh, _) in enumerate(items)
    )
    build = "".join(f'<item objectid="{number + 2}"/>' for number in range(len(items)))
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<model unit="millimeter" xml:lang="en-US" xmlns="{CORE}" xmlns:own="{OWN}">\n'
        f'{metadata}<resources>\n<basematerials id="1">{bases}</basematerials>\n'
        f"{objects}</resources>\n<build>{build}</build>\n</model>\n"
    )


def _text(value: str) -> str:
    return value.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _mesh(name: str, mesh: Mesh, shift: Floats) -> str:
    points = np.round(mesh.vertices + shift, DECIMALS) + 0.0  # + 0.0: never "-0.0"
    if len(np.unique(points, axis=0)) != len(points):
        raise BirthError(f"vertices of {name} fall together at {10.0**-DECIMALS:g} mm")
    vertices = ('<vertex x="%r" y="%r" z="%r"/>\n' * len(points)) % tuple(points.ravel().tolist())
    triangles = ('<triangle v1="%d" v2="%d" v3="%d"/>\n' * len(mesh.triangles)) % tuple(
        mesh.triangles.ravel().tolist()
    )
    return f"<mesh>\n<vertices>\n{vertices}</vertices>\n<triangles>\n{triangles}</triangles>\n</mesh>\n"
