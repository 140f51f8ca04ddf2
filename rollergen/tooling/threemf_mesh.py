"""Reads the meshes of a 3MF where its build places them, from all of its model parts."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from posixpath import normpath
from xml.etree import ElementTree

import numpy as np
from numpy.typing import NDArray

from rollergen.errors import FileTrouble
from rollergen.shape.outline import Floats

UNITS = {
    "micron": 1e-3,
    "millimeter": 1.0,
    "centimeter": 10.0,
    "inch": 25.4,
    "foot": 304.8,
    "meter": 1e3,
}
RELATIONS, MODEL = "_rels/.rels", "3dmodel"
UNSEEN = ("support", "solidsupport")  # kinds of object that are no part
DEEPEST = 20  # components within components; more is a loop

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """An object of a model part, and where it is put: row vectors (x y z 1) times ``matrix`` (4, 3)."""

    part: str
    number: str
    matrix: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """One model part of the package: its objects by number, mm per unit, namespace of its tags."""

    name: str
    root: ElementTree.Element
    objects: dict[str, ElementTree.Element]
    unit: float
    space: str


def read_3mf(path: Path, data: bytes, *, most_bytes: int) -> tuple[Floats, Ints, float]:
    """(corners, facets, mm per unit) of everything the build places, each mesh as often as it is placed.

    Transforms of items and components are applied; a mirrored mesh has its facets turned.  Without a build every
    object that is no component of another is read as it lies.  Raises FileTrouble for what is no 3MF, is larger than
    ``most_bytes``, names objects that are not there, or holds no mesh.

    Source: 3MF Core Specification 1.3, chapters 3 and 4 (units, build, components, transforms as row vectors); Production
    Extension 1.1 (``path`` of items and components); from memory.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            package = _Package(path=path, archive=archive, parts={}, most_bytes=most_bytes)
            top = package.part(_top_part(archive))
            corners, facets, first = [np.zeros((0, 3))], [np.zeros((0, 3), dtype=np.int64)], 0
            for placed in _build_of(top):
                for points, triangles in _meshes(package, placed, top.unit, 0):
                    corners.append(points)
                    facets.append(triangles + first)
                    first += len(points)
    except (zipfile.BadZipFile, ElementTree.ParseError, KeyError, ValueError, IndexError) as wrong:
        raise FileTrouble(f"{path} is no 3MF mesh: {wrong or 'it holds no model'}") from wrong
    if first == 0:
        kinds = sorted(
            {_bare(e) for part in package.parts.values() for o in part.objects.values() for e in o}
        )
        held = f"objects of {', '.join(kinds)}" if kinds else "no objects"
        raise FileTrouble(
            f"{path} holds no mesh where its build places it, but {held}; save the scan as STL or PLY"
        )
    return np.concatenate(corners), np.concatenate(facets), top.unit


@dataclass(frozen=True, slots=True, kw_only=True)
class _Package:
    path: Path
    archive: zipfile.ZipFile
    parts: dict[str, _Part]
    most_bytes: int

    def part(self, name: str) -> _Part:
        """A model part, read once."""
        name = normpath(name).lstrip("/")
        if name not in self.parts:
            there = {each.lower(): each for each in self.archive.namelist()}
            if name.lower() not in there:
                raise ValueError(f"it names {name}, which is not in it")
            if self.archive.getinfo(there[name.lower()]).file_size > self.most_bytes:
                raise FileTrouble(f"{self.path}: its {name} is larger than {self.most_bytes / 1e9:g} GB")
            root = ElementTree.fromstring(self.archive.read(there[name.lower()]))
            space = root.tag[: root.tag.rfind("}") + 1]
            word = root.attrib.get("unit", "millimeter")
            if word not in UNITS:
                raise ValueError(f'its unit "{word}" is none of {", ".join(UNITS)}')
            objects = {each.attrib["id"]: each for each in root.iterfind(f"{space}resources/{space}object")}
            self.parts[name] = _Part(name=name, root=root, objects=objects, unit=UNITS[word], space=space)
        return self.parts[name]


def _top_part(archive: zipfile.ZipFile) -> str:
    """The model part that holds the build: the one the package's relations name, else the uppermost."""
    if RELATIONS in archive.namelist():
        for relation in ElementTree.fromstring(archive.read(RELATIONS)):
            if relation.attrib.get("Type", "").endswith(MODEL):
                return relation.attrib["Target"]
    models = [name for name in archive.namelist() if name.lower().endswith(".model")]
    if not models:
        raise ValueError("it holds no model")
    return min(models, key=lambda name: (name.count("/"), name))


def _build_of(top: _Part) -> list[Placed]:
    """What the build places; without a build, every object that no other is made of, as it lies."""
    items = list(top.root.iterfind(f"{top.space}build/{top.space}item"))
    if items:
        return [
            Placed(part=_path_of(item, top.name), number=item.attrib["objectid"], matrix=_matrix_of(item))
            for item in items
        ]
    used = {each.attrib.get("objectid") for each in top.root.iter(f"{top.space}component")}
    whole = np.eye(4)[:, :3]
    return [
        Placed(part=top.name, number=number, matrix=whole) for number in top.objects if number not in used
    ]


def _meshes(package: _Package, placed: Placed, unit: float, depth: int) -> Iterator[tuple[Floats, Ints]]:
    """Corners in the build's unit and facets of a placed object and its components."""
    if depth > DEEPEST:
        raise ValueError(f"object {placed.number} is a component of itself")
    part = package.part(placed.part)
    if placed.number not in part.objects:
        raise ValueError(f"object {placed.number} is not in {part.name}")
    thing, space = part.objects[placed.number], part.space
    if thing.attrib.get("type") in UNSEEN:
        return
    for component in thing.iterfind(f"{space}components/{space}component"):
        inner = _matrix_of(component)
        matrix = np.vstack([inner[:3] @ placed.matrix[:3], inner[3] @ placed.matrix[:3] + placed.matrix[3]])
        below = Placed(
            part=_path_of(component, part.name), number=component.attrib["objectid"], matrix=matrix
        )
        yield from _meshes(package, below, unit, depth + 1)
    mesh = thing.find(f"{space}mesh")
    if mesh is None:
        return
    points = np.array(
        [float(v.attrib[k]) for v in mesh.iterfind(f"{space}vertices/{space}vertex") for k in "xyz"]
    ).reshape(-1, 3)
    triangles = np.array(
        [
            int(t.attrib[k])
            for t in mesh.iterfind(f"{space}triangles/{space}triangle")
            for k in ("v1", "v2", "v3")
        ],
        dtype=np.int64,
    ).reshape(-1, 3)
    if len(triangles) and (triangles.min() < 0 or triangles.max() >= len(points)):
        raise ValueError(f"a facet of object {placed.number} names a vertex that is not there")
    moved = part.unit / unit * points @ placed.matrix[:3] + placed.matrix[3]
    yield moved, triangles[:, ::-1] if np.linalg.det(placed.matrix[:3]) < 0 else triangles


def _matrix_of(element: ElementTree.Element) -> Floats:
    """Its transform (4, 3), the first three rows turn and scale, the last one shifts; unmoved where it has none."""
    said = element.attrib.get("transform")
    if said is None:
        return np.eye(4)[:, :3]
    numbers = np.array(said.split(), dtype=np.float64)
    if numbers.shape != (12,) or not np.isfinite(numbers).all():
        raise ValueError(f'its transform "{said}" is not 12 numbers')
    return numbers.reshape(4, 3)


def _path_of(element: ElementTree.Element, here: str) -> str:
    """The part an item or a component is in: another one where a ``path`` says so."""
    return next((value for key, value in element.attrib.items() if key.endswith("}path")), here)


def _bare(element: ElementTree.Element) -> str:
    return element.tag[element.tag.rfind("}") + 1 :]
