"""Is a mesh sound?  Checked where it is born, on indices alone: edges, fans, genus, volume."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rollergen.errors import BirthError
from rollergen.shape.mesh_plan import Ints
from rollergen.shape.outline import Floats
from rollergen.shape.part import Part
from rollergen.shape.part_volume import surface_of, volume_of


def check_mesh(
    part: Part, vertices: Floats, triangles: NDArray[np.int32], deviation: float, asked: float
) -> None:
    """Raise BirthError unless the mesh is closed, manifold, outward, of the right genus and volume.

    Volume may differ from the closed form by the part's surface times the measured deviation.
    """
    if not deviation <= asked:
        raise BirthError(f"mesh of {part.name} strays {deviation:.6g} mm, asked {asked:.6g} mm")
    if not np.all(np.isfinite(vertices)):
        raise BirthError(f"mesh of {part.name} has vertices that are no numbers")
    check_manifold(len(vertices), triangles, name=part.name)
    edges = 3 * len(triangles) // 2
    euler, expected = len(vertices) - edges + len(triangles), sum(1 - len(cap.holes) for cap in part.caps)
    if euler != expected:
        raise BirthError(f"mesh of {part.name} has Euler number {euler}, its caps and holes give {expected}")
    volume, exact = mesh_volume(vertices, triangles), volume_of(part)
    if not volume > 0:
        raise BirthError(f"mesh of {part.name} is inside out: volume {volume:.6g} mm3")
    allowed = surface_of(part) * deviation + 1e-9 * abs(exact)
    if not abs(volume - exact) <= allowed:
        raise BirthError(
            f"mesh of {part.name} holds {volume:.8g} mm3, its closed form {exact:.8g}: "
            f"{abs(volume - exact):.3g} off, {allowed:.3g} allowed at {deviation:.3g} mm deviation"
        )


def mesh_volume(vertices: Floats, triangles: NDArray[np.int32]) -> float:
    """Volume a closed mesh encloses (mm^3), positive when it faces outward (divergence theorem)."""
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6


def check_manifold(count: int, triangles: NDArray[np.int32], *, name: str = "mesh") -> None:
    """Raise BirthError unless every edge joins two opposed facets and every vertex has one fan."""
    tri = triangles.astype(np.int64)
    start, end = tri.ravel(), tri[:, [1, 2, 0]].ravel()
    if len(start) == 0 or tri.min() < 0 or tri.max() >= count:
        raise BirthError(f"{name}: vertex numbers outside 0..{count - 1}, or no facet at all")
    if np.any(start == end):
        raise BirthError(f"{name}: a facet uses one vertex twice")
    low, high = np.minimum(start, end), np.maximum(start, end)
    order = np.argsort(low * count + high, kind="stable")
    key = (low * count + high)[order]
    paired = len(key) % 2 == 0 and bool(np.all(key[0::2] == key[1::2]) and np.all(key[1:-1:2] != key[2::2]))
    if not paired:
        raise BirthError(f"{name}: {_odd_edges(key)} edges do not join exactly two facets")
    one, other = order[0::2], order[1::2]
    wrong = np.count_nonzero(start[one] != end[other])
    if wrong:
        raise BirthError(f"{name}: {wrong} edges join facets that face opposite ways")
    twin = np.empty_like(order)
    twin[one], twin[other] = other, one
    fans = _fans(twin)
    used = int(np.count_nonzero(np.bincount(start, minlength=count)))
    if used != count:
        raise BirthError(f"{name}: {count - used} vertices belong to no facet")
    if fans != count:
        raise BirthError(f"{name}: {count} vertices carry {fans} fans of facets, one each is needed")


def _odd_edges(key: Ints) -> int:
    _, times = np.unique(key, return_counts=True)
    return int(np.count_nonzero(times != 2))


def _fans(twin: Ints) -> int:
    """Cycles of facets round vertices: half-edge -> twin of the one before it in its facet."""
    half = np.arange(len(twin))
    before = np.where(half % 3 == 0, half + 2, half - 1)
    jump = twin[before]
    label = half.copy()
    while True:  # pointer doubling: after k rounds a label has seen 2^k neighbours
        lower = np.minimum(label, label[jump])
        if np.array_equal(lower, label):
            return int(np.count_nonzero(label == half))
        label, jump = lower, jump[jump]
