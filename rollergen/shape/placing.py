"""Parts put in their places along one axis: turned, moved, or end for end; and their meshes joined."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import cos, sin

import numpy as np

from rollergen.shape.mesh import Mesh
from rollergen.shape.outline import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """Where a part of ``length`` stands: its low end at ``z`` (mm), turned by ``rotation`` about +z (rad).

    ``flipped``: first turned end for end about the x axis, so that its z = 0 end lies at ``z`` + length.
    A helix keeps its hand; the section is mirrored about x and then turned.
    """

    z: float
    rotation: float = 0.0
    flipped: bool = False
    length: float

    @property
    def matrix(self) -> Floats:
        """(3, 4) rigid motion from the part's own axes to the stack's."""
        c, s = cos(self.rotation), sin(self.rotation)
        if self.flipped:
            return np.array([[c, s, 0, 0], [s, -c, 0, 0], [0, 0, -1.0, self.z + self.length]])
        return np.array([[c, -s, 0, 0], [s, c, 0, 0], [0, 0, 1.0, self.z]])


def placed_mesh(mesh: Mesh, placing: Placing) -> Mesh:
    """The mesh in its place; a rigid motion, so facets keep their sense and their deviation."""
    matrix = placing.matrix
    return replace(mesh, vertices=mesh.vertices @ matrix[:, :3].T + matrix[:, 3])


def joined_mesh(meshes: Sequence[Mesh]) -> Mesh:
    """Several closed meshes as one: separate shells that may touch, none of them merged.

    Raises ValueError for none.
    """
    if not meshes:
        raise ValueError("no meshes to join: a stack has at least one piece")
    first = np.cumsum([0, *(len(m.vertices) for m in meshes)])
    groups = np.cumsum([0, *(int(m.surface.max()) + 1 for m in meshes)])
    return Mesh(
        vertices=np.concatenate([m.vertices for m in meshes]),
        triangles=np.concatenate([m.triangles + n for m, n in zip(meshes, first[:-1], strict=True)]).astype(
            np.int32
        ),
        surface=np.concatenate([m.surface + n for m, n in zip(meshes, groups[:-1], strict=True)]).astype(
            np.int32
        ),
        deviation_mm=max(m.deviation_mm for m in meshes),
        asked_mm=max(m.asked_mm for m in meshes),
    )
