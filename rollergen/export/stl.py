"""Binary STL: the mesh every slicer reads."""

from __future__ import annotations

import numpy as np

from rollergen.shape.mesh import Mesh

HEADER = 80
FACET = np.dtype([("normal", "<f4", (3,)), ("corner", "<f4", (3, 3)), ("attribute", "<u2")])


def stl_bytes(mesh: Mesh, name: str) -> bytes:
    """Binary STL of a mesh, in mm (the format itself has no unit); 84 + 50 bytes per facet.

    The header says program and ``name``, cut to 80 bytes, never a time; it cannot begin with "solid",
    which readers take for the text form.  Coordinates are single precision (0.004 um at 64 mm).
    """
    corner = mesh.vertices[mesh.triangles]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    size = np.sqrt(np.einsum("ij,ij->i", normal, normal))[:, None]
    record = np.zeros(len(corner), dtype=FACET)
    record["normal"] = np.divide(normal, size, out=np.zeros_like(normal), where=size > 0)
    record["corner"] = corner
    header = f"rollergen, mm: {name}".encode("ascii", "replace")[:HEADER].ljust(HEADER, b" ")
    return header + len(record).to_bytes(4, "little") + record.tobytes()
