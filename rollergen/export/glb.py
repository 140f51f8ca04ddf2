"""GLB: the shaded model for viewers and slides, in metres, Y up.

Source: glTF 2.0 Specification (Khronos, ISO/IEC 12113:2022), sections 3.6 (accessors, alignment),
3.9 (materials) and 4.4 (binary container).
"""

from __future__ import annotations

import json

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.mesh import Mesh
from rollergen.shape.outline import Floats

FLOAT, UNSIGNED_INT = 5126, 5125
VERTICES, INDICES = 34962, 34963
ROUGHNESS = 0.7  # how cast polyurethane looks to us: matt, with a soft highlight


def glb_bytes(mesh: Mesh, *, name: str, colour: str) -> bytes:
    """Binary glTF 2.0 of a mesh: x stays, our z (the axis) becomes Y, metres instead of mm.

    Vertices are split where smooth surfaces end, so ribs shade round and edges stay sharp; the
    normals are averages of the facets of one smooth surface.  ``colour``: "#rrggbb" (sRGB).
    """
    place, normal, index = _split(mesh)
    chunks = [place.tobytes(), normal.tobytes(), index.tobytes()]  # all multiples of 4 bytes: aligned
    starts = np.cumsum([0, *(len(c) for c in chunks)]).tolist()
    views = [
        {"buffer": 0, "byteOffset": start, "byteLength": len(chunk), "target": target}
        for start, chunk, target in zip(starts, chunks, (VERTICES, VERTICES, INDICES), strict=False)
    ]
    document = {
        "asset": {"version": "2.0", "generator": "rollergen"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0, "name": name}],
        "meshes": [
            {
                "name": name,
                "primitives": [
                    {"attributes": {"POSITION": 0, "NORMAL": 1}, "indices": 2, "material": 0, "mode": 4}
                ],
            }
        ],
        "materials": [
            {
                "name": name,
                "pbrMetallicRoughness": {
                    "baseColorFactor": [*_linear(colour), 1.0],
                    "metallicFactor": 0.0,
                    "roughnessFactor": ROUGHNESS,
                },
            }
        ],
        "accessors": [
            {
                "bufferView": 0,
                "componentType": FLOAT,
                "count": len(place),
                "type": "VEC3",
                "min": place.min(axis=0).tolist(),
                "max": place.max(axis=0).tolist(),
            },
            {"bufferView": 1, "componentType": FLOAT, "count": len(normal), "type": "VEC3"},
            {"bufferView": 2, "componentType": UNSIGNED_INT, "count": len(index), "type": "SCALAR"},
        ],
        "bufferViews": views,
        "buffers": [{"byteLength": starts[-1]}],
    }
    text = json.dumps(document, separators=(",", ":"), ensure_ascii=False).encode("utf-8")
    text += b" " * (-len(text) % 4)
    body = b"".join(chunks)
    parts = [(b"JSON", text), (b"BIN\0", body)]
    whole = b"".join(len(content).to_bytes(4, "little") + kind + content for kind, content in parts)
    return b"glTF" + (2).to_bytes(4, "little") + (12 + len(whole)).to_bytes(4, "little") + whole


def _split(mesh: Mesh) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.uint32]]:
    """Positions (m, Y up), unit normals, and vertex numbers, one vertex per smooth surface it is on."""
    triangles = mesh.triangles.astype(np.int64)
    groups = int(mesh.surface.max()) + 1
    key = triangles * groups + mesh.surface[:, None]
    found, index = np.unique(key.ravel(), return_inverse=True)
    corner = mesh.vertices[triangles]
    facet = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    weight = np.repeat(facet, 3, axis=0)
    normal: Floats = np.stack([np.bincount(index, weight[:, i], len(found)) for i in range(3)], axis=1)
    normal = normal / np.sqrt(np.einsum("ij,ij->i", normal, normal))[:, None]
    return _upright(mesh.vertices[found // groups] * 1e-3), _upright(normal), index.astype("<u4")


def _upright(vectors: NDArray[np.float64]) -> NDArray[np.float32]:
    turned = np.stack([vectors[:, 0], vectors[:, 2], -vectors[:, 1]], axis=1)
    return turned.astype("<f4")


def _linear(colour: str) -> list[float]:
    """sRGB "#rrggbb" as linear light, 0..1.  Source: IEC 61966-2-1, the transfer curve."""
    share = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    return [round(s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4, 6) for s in share]
