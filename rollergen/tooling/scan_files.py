"""Reads a scan: STL, PLY, OBJ, OFF or 3MF meshes, or a plain table of points."""

from __future__ import annotations

import codecs
import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollergen.errors import FileTrouble, UsageError
from rollergen.shape.outline import Floats
from rollergen.tooling.point_table import Unfitting, points_of_table
from rollergen.tooling.scan import Scan, scan_of_mesh, scan_of_points
from rollergen.tooling.threemf_mesh import read_3mf

LEAST_POINTS = 200
MOST_BYTES = 2_000_000_000
RECORD = np.dtype([("normal", "<f4", (3,)), ("corner", "<f4", (3, 3)), ("attribute", "<u2")])
STL_HEAD = 84

Mesh = tuple[Floats, NDArray[np.int64], float | None]  # corners, facets, mm per unit where stated


def read_scan(path: Path) -> Scan:
    """The scan in a file, by its ending: .stl .ply .obj .off .3mf meshes, .csv .xyz .txt .asc .pts points.

    Raises UsageError for another ending, FileTrouble for a file that cannot be read, is no mesh, or holds fewer
    than 200 points.
    """
    ending = path.suffix.lower()
    if ending not in (*_MESHES, *_TABLES):
        raise UsageError(
            f"{path}: a scan is a mesh ({', '.join(_MESHES)}) or a table of points ({', '.join(_TABLES)}); "
            "save it as one of these"
        )
    try:
        if path.stat().st_size > MOST_BYTES:
            raise FileTrouble(f"{path} is larger than {MOST_BYTES / 1e9:g} GB; thin the scan out first")
        data = path.read_bytes()
    except OSError as trouble:
        raise FileTrouble(f"{path} cannot be read: {trouble.strerror or trouble}") from trouble
    if ending in _TABLES:
        return _scan_of_table(path, data)
    corners, facets, unit = _MESHES[ending](path, data)
    return _checked_mesh(path, corners, facets, unit)


def _checked_mesh(path: Path, corners: Floats, facets: NDArray[np.int64], unit: float | None) -> Scan:
    if len(facets) == 0 and len(corners) >= LEAST_POINTS:
        return scan_of_points(*_finite_points(path, corners))
    if len(facets) and (facets.min() < 0 or facets.max() >= len(corners)):
        raise FileTrouble(f"{path} is damaged: a facet names a vertex that is not there")
    notes: tuple[str, ...] = ()
    sound: NDArray[np.bool_] = np.asarray(np.isfinite(corners).all(axis=1))
    if not sound.all():
        kept = sound[facets].all(axis=1) if len(facets) else np.zeros(0, dtype=bool)
        notes = (f"{int((~sound).sum())} vertices are no numbers and were left out",)
        facets, corners = facets[kept], np.where(sound[:, None], corners, 0.0)
    if len(facets) < LEAST_POINTS // 2:
        raise FileTrouble(
            f"{path} is no scan: {len(facets)} facets, at least {LEAST_POINTS // 2} are needed; is the file empty or "
            "cut short?"
        )
    scan = scan_of_mesh(corners, facets, unit=unit, notes=notes)
    if len(scan.points) < LEAST_POINTS:
        raise FileTrouble(
            f"{path} is no scan: {len(scan.points)} different points, at least {LEAST_POINTS} are needed"
        )
    return scan


def _finite_points(path: Path, points: Floats) -> tuple[Floats]:
    sound = points[np.isfinite(points).all(axis=1)]
    if len(sound) < LEAST_POINTS:
        raise FileTrouble(
            f"{path} is no scan: {len(sound)} points, at least {LEAST_POINTS} are needed for an alignment"
        )
    return (sound,)


def _stl(path: Path, data: bytes) -> Mesh:
    if len(data) >= STL_HEAD:
        count = int.from_bytes(data[80:84], "little")
        if len(data) == STL_HEAD + 50 * count:
            corner = np.frombuffer(data, dtype=RECORD, offset=STL_HEAD)["corner"].reshape(-1, 3)
            return corner.astype(np.float64), np.arange(3 * count).reshape(-1, 3), None
    if data.lstrip()[:5].lower() != b"solid":
        raise FileTrouble(
            f"{path} is no STL: neither the text form nor {STL_HEAD} + 50 bytes a facet; is it cut short?"
        )
    return _text_stl(path, data.lower())


def _text_stl(path: Path, text: bytes) -> Mesh:
    """Corners from lines ``vertex x y z``; the file must come to its end."""
    if not text.rstrip().rpartition(b"\n")[2].lstrip().startswith(b"endsolid"):
        raise FileTrouble(
            f"{path} is a text STL cut short: its last line is no endsolid; save the scan again"
        )
    lines = [line.lstrip() for line in text.splitlines()]
    named = b"\n".join(line[6:] for line in lines if line.startswith(b"vertex"))
    try:
        corner = np.array(named.split(), dtype=np.float64).reshape(-1, 3)
    except ValueError as wrong:
        raise FileTrouble(f"{path} is a damaged text STL: {wrong}") from wrong
    if len(corner) != 3 * text.count(b"endfacet"):
        raise FileTrouble(
            f"{path} is a damaged text STL: {len(corner)} lines with a vertex, {text.count(b'endfacet')} facets"
        )
    return corner, np.arange(len(corner)).reshape(-1, 3), None


def _by_library(path: Path, data: bytes) -> Mesh:
    """PLY, OBJ and OFF through a mesh library; several bodies become one list of facets."""
    import trimesh

    try:
        loaded: Any = trimesh.load(
            io.BytesIO(data), file_type=path.suffix.lower()[1:], process=False, skip_materials=True
        )
        bodies = loaded.dump() if isinstance(loaded, trimesh.Scene) else [loaded]
        corners, facets, first = [np.zeros((0, 3))], [np.zeros((0, 3), dtype=np.int64)], 0
        for body in bodies:
            corners.append(np.asarray(body.vertices, dtype=np.float64).reshape(-1, 3))
            facets.append(np.asarray(getattr(body, "faces", []), dtype=np.int64).reshape(-1, 3) + first)
            first += len(corners[-1])
    except Exception as wrong:  # readers of foreign files raise anything; all of it means the same to a user
        raise FileTrouble(f"{path} is no {path.suffix.lower()[1:].upper()} mesh: {wrong}") from wrong
    made = np.concatenate(corners), np.concatenate(facets)
    _refuse_short(path, data, len(made[0]), len(made[1]))
    return *made, None


def _refuse_short(path: Path, data: bytes, corners: int, facets: int) -> None:
    """A PLY or OFF file says at its head how much it holds; a polygon becomes several facets."""
    if path.suffix.lower() == ".ply":
        said = {name: int(n) for name, n in re.findall(rb"element\s+(vertex|face)\s+(\d+)", data[:4096])}
        least = said.get(b"vertex", 0), said.get(b"face", 0)
    elif path.suffix.lower() == ".off":
        counts = re.match(rb"\s*OFF\s*(?:#[^\n]*\n\s*)*(\d+)\s+(\d+)", data[:4096])
        least = (int(counts[1]), int(counts[2])) if counts else (0, 0)
    else:
        return
    if corners < least[0] or facets < least[1]:
        raise FileTrouble(
            f"{path} is cut short: {corners} of {least[0]} vertices and {facets} of {least[1]} facets are there; "
            "save the scan again"
        )


def _threemf(path: Path, data: bytes) -> Mesh:
    return read_3mf(path, data, most_bytes=MOST_BYTES)


def _scan_of_table(path: Path, data: bytes) -> Scan:
    """Points from lines of x, y, z, as ``points_of_table`` reads them."""
    coding = "utf-16" if data[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE) else "utf-8-sig"
    try:
        table = points_of_table(data.decode(coding, errors="replace"))
    except Unfitting as wrong:
        raise FileTrouble(f"{path}: {wrong}") from wrong
    if len(table.points) < LEAST_POINTS:
        raise FileTrouble(
            f"{path} is no scan: {len(table.points)} lines of x, y, z, at least {LEAST_POINTS} are needed; a table of "
            "caliper readings goes to --caliper"
        )
    (points,) = _finite_points(path, table.points)
    return scan_of_points(points, notes=tuple(f"{path.name}: {note}" for note in table.notes))


_MESHES: dict[str, Callable[[Path, bytes], Mesh]] = {
    ".stl": _stl, ".ply": _by_library, ".obj": _by_library, ".off": _by_library, ".3mf": _threemf,
}  # fmt: skip
_TABLES = (".csv", ".xyz", ".txt", ".asc", ".pts")
