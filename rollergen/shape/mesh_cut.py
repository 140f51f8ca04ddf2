"""A mesh cut to the wedge between two half-planes through the axis."""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, sin

import numpy as np

from rollergen.shape.mesh import Mesh


def sector_of(mesh: Mesh, start: float, sweep: float) -> Mesh:
    """The part of a closed mesh between the half-planes at ``start`` and ``start`` + ``sweep`` (rad, at most pi).

    Facets keep their surface's number; each cut is a surface of its own.
    """
    from manifold3d import Manifold, Mesh64

    if not 0 < sweep <= pi + 1e-9:
        raise ValueError(f"a sector of {sweep:.6g} rad: more than 0, at most pi")
    body = Manifold(
        Mesh64(mesh.vertices, mesh.triangles.astype(np.uint64), face_id=mesh.surface.astype(np.uint64))
    )
    end = start + sweep
    body = body.trim_by_plane((-sin(start), cos(start), 0.0), 0.0)
    if sweep < pi - 1e-9:
        body = body.trim_by_plane((sin(end), -cos(end), 0.0), 0.0)
    cut = body.to_mesh64()
    triangles = np.asarray(cut.tri_verts).astype(np.int32)
    vertices = np.asarray(cut.vert_properties)[:, :3]
    surface = np.asarray(cut.face_id).astype(np.int32)
    flat = _on_planes(vertices[triangles], start, end)
    surface = np.where(flat > 0, int(mesh.surface.max()) + flat, surface).astype(np.int32)
    return replace(mesh, vertices=vertices, triangles=triangles, surface=surface)


def _on_planes(corners: np.ndarray, start: float, end: float) -> np.ndarray:
    """1 where a facet lies on the first plane, 2 on the second, 0 elsewhere."""
    found = np.zeros(len(corners), dtype=np.int64)
    for number, angle in ((1, start), (2, end)):
        off = np.abs(-corners[..., 0] * sin(angle) + corners[..., 1] * cos(angle)).max(axis=1)
        found[off < 1e-9] = number
    return found
