"""Six-node triangles of rubber: their forces and stiffness, put together for a whole mesh.

Two elements for nearly incompressible rubber, one for anything softer:

    "TH"  displacement quadratic, pressure linear and continuous (Taylor and Hood): what is reported
    "P0"  displacement quadratic, one pressure a triangle (mean dilatation): symmetric, cheaper, softer
    "P2"  displacement alone: foam always, and rubber to show that it locks

"TH" and "P0" leave the volume at single points to itself, and under strong compression it strays: a web then
gives way too early, and at another load in every mesh.  So a part of the bulk modulus, ``pointwise``, holds
every point and only the rest goes by the pressures.  On a collapsing web both elements and "P2" on a fine
mesh then agree within 3 %; without it they were 25 to 40 % apart.  The price is 1 % of stiffness in a wall
of two triangles.  With ``pointwise`` 0 they are the elements of the books.

Unknowns are numbered 2 i, 2 i + 1 for node i, then one pressure for every corner node of the rubber ("TH").
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from rollergen.rubber.law import TURNED, Law, shape_energy, shape_stress
from rollergen.rubber.plane_mesh import PlaneMesh, shape_slopes

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Element = Literal["TH", "P0", "P2"]

GAUSS = np.array([[1, 1], [4, 1], [1, 4]], dtype=np.float64) / 6  # exact for quadratics
GAUSS_SHARE = 1 / 6  # of the unit triangle's own area scale
# shape functions of the pressure (q, 3) at those points
CORNERS = np.stack([1 - GAUSS[:, 0] - GAUSS[:, 1], GAUSS[:, 0], GAUSS[:, 1]], axis=1)
POINTWISE = 25.0  # times mu: Poisson's ratio 0.48, far from locking; 10 was too little on fine meshes
MOST_POINTWISE = 0.5  # of the law's bulk modulus


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Group:
    """Triangles of one material: gradients ``G`` (t, q, 4, 12), weights ``w`` (t, q) mm2, unknowns ``dofs``.

    ``local``: bulk modulus (MPa) that holds every point; the rest of the law's goes by the pressures.
    """

    law: Law
    local: float
    element: Element
    G: Floats
    w: Floats
    dofs: Ints

    @property
    def spots(self) -> int:
        return self.w.size


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assembly:
    """A mesh made ready: its groups, how many unknowns, and where every entry of a matrix goes.

    ``free``: unknowns that are not held.  ``place``: for all groups' element entries in turn, the place in the
    values of the free matrix, or one past its end for entries of held unknowns.
    """

    mesh: PlaneMesh
    groups: tuple[Group, ...]
    size: int
    free: Ints
    place: Ints
    indptr: NDArray[np.int32]
    indices: NDArray[np.int32]

    def matrix(self, entries: Floats) -> Any:
        """Sparse (free, free) matrix, columns first, of element entries as ``forces`` returns them."""
        from scipy.sparse import csc_matrix

        count = len(self.free)
        values = np.bincount(self.place, weights=entries, minlength=len(self.indices) + 1)[
            : len(self.indices)
        ]
        return csc_matrix((values, self.indices, self.indptr), shape=(count, count))


def assembled(
    mesh: PlaneMesh,
    law: Law,
    *,
    foam: Law | None = None,
    element: Element = "TH",
    held: Ints | None = None,
    pointwise: float = POINTWISE,
) -> Assembly:
    """Make a mesh ready for solving.  ``held``: unknowns that stay as they are; default those of the bore.

    Triangles whose ``filled`` is above 0 are ``foam``.  ``pointwise``: bulk modulus over mu that holds every
    point of "TH" and "P0", at most half of the law's.  Raises ValueError when they lack a law.
    """
    soft = mesh.filled > 0
    if soft.any() and foam is None:
        raise ValueError("chambers are filled and no law is given for the foam")
    corner = np.unique(mesh.triangles[~soft][:, :3])
    pressure = np.full(len(mesh.nodes), -1, dtype=np.int64)
    pressure[corner] = 2 * len(mesh.nodes) + np.arange(len(corner))
    groups = []
    for law_here, kind, which in ((law, element, ~soft), (foam, "P2", soft)):
        if law_here is not None and which.any():
            groups.append(_group(mesh, mesh.triangles[which], law_here, kind, pressure, pointwise))
    size = 2 * len(mesh.nodes) + (len(corner) if element == "TH" else 0)
    if held is None:
        held = np.concatenate([2 * np.unique(mesh.bore), 2 * np.unique(mesh.bore) + 1])
    still = np.zeros(size, dtype=bool)
    still[held] = True
    return _placed(mesh, tuple(groups), size, np.flatnonzero(~still))


def _group(mesh: PlaneMesh, triangles: Ints, law: Law, kind: str, pressure: Ints, pointwise: float) -> Group:
    slopes = shape_slopes(GAUSS)
    map_ = np.einsum("tnd,qne->tqde", mesh.nodes[triangles], slopes)
    scale = map_[..., 0, 0] * map_[..., 1, 1] - map_[..., 0, 1] * map_[..., 1, 0]
    if not scale.min() > 0:
        raise ValueError("a triangle is folded: its area scale is not above 0")
    inverse = np.empty_like(map_)
    inverse[..., 0, 0], inverse[..., 1, 1] = map_[..., 1, 1], map_[..., 0, 0]
    inverse[..., 0, 1], inverse[..., 1, 0] = -map_[..., 0, 1], -map_[..., 1, 0]
    inverse /= scale[..., None, None]
    along = np.einsum("qne,tqed->tqnd", slopes, inverse)  # slopes in mm: (t, q, node, x or y)
    G = np.zeros((*along.shape[:2], 4, 12))
    G[:, :, 0, 0::2], G[:, :, 1, 0::2] = along[..., 0], along[..., 1]
    G[:, :, 2, 1::2], G[:, :, 3, 1::2] = along[..., 0], along[..., 1]
    dofs = np.stack([2 * triangles, 2 * triangles + 1], axis=2).reshape(len(triangles), 12)
    if kind == "TH":
        dofs = np.concatenate([dofs, pressure[triangles[:, :3]]], axis=1)
    element: Element = "TH" if kind == "TH" else "P0" if kind == "P0" else "P2"
    local = law.bulk if element == "P2" else min(MOST_POINTWISE * law.bulk, pointwise * law.mu)
    return Group(law=law, local=local, element=element, G=G, w=scale * GAUSS_SHARE, dofs=dofs)


def _placed(mesh: PlaneMesh, groups: tuple[Group, ...], size: int, free: Ints) -> Assembly:
    number = np.full(size, -1, dtype=np.int64)
    number[free] = np.arange(len(free))
    rows, columns = [], []
    for group in groups:
        here = number[group.dofs]
        count = here.shape[1]
        rows.append(np.repeat(here, count, axis=1).ravel())
        columns.append(np.tile(here, (1, count)).ravel())
    row, column = np.concatenate(rows), np.concatenate(columns)
    kept = (row >= 0) & (column >= 0)
    codes, place = np.unique(column[kept] * len(free) + row[kept], return_inverse=True)
    everywhere = np.full(len(row), len(codes), dtype=np.int64)
    everywhere[kept] = place
    indptr = np.searchsorted(codes // len(free), np.arange(len(free) + 1)).astype(np.int32)
    return Assembly(
        mesh=mesh, groups=groups, size=size, free=free, place=everywhere, indptr=indptr,
        indices=(codes % len(free)).astype(np.int32),
    )  # fmt: skip


def gradients(group: Group, u: Floats) -> Floats:
    """Deformation gradients F (t, q, 4) of a group at unknowns ``u`` (size,)."""
    F = np.einsum("tqkm,tm->tqk", group.G, u[group.dofs[:, :12]], optimize=True)
    F[..., 0] += 1.0
    F[..., 3] += 1.0
    found: Floats = F
    return found


def forces(assembly: Assembly, u: Floats, *, stiff: bool = True) -> tuple[Floats, Floats, float]:
    """Inner forces (size,) N per mm, stiffness entries for ``Assembly.matrix`` (empty unless ``stiff``), least J.

    Where least J is not above 0 the rest is not to be used.
    """
    total = np.zeros(assembly.size)
    entries, least = [], np.inf
    for group in assembly.groups:
        F = gradients(group, u)
        J = F[..., 0] * F[..., 3] - F[..., 1] * F[..., 2]
        least = min(least, float(J.min()))
        if not least > 0:
            return total, np.zeros(0), least
        r, k = _element(group, F, J, u, stiff)
        total += np.bincount(group.dofs.ravel(), weights=r.ravel(), minlength=assembly.size)
        if stiff:
            entries.append(k.ravel())
    return total, np.concatenate(entries) if stiff else np.zeros(0), least


def _element(group: Group, F: Floats, J: Floats, u: Floats, stiff: bool) -> tuple[Floats, Floats]:
    """Forces (t, m) and stiffness (t, m, m) of every triangle."""
    t, q = group.w.shape
    stress, tangent, _ = shape_stress(group.law, F.reshape(-1, 4))
    stress, tangent = stress.reshape(t, q, 4), tangent.reshape(t, q, 4, 4)
    cof = F @ TURNED
    local, bulk, w, G, N = group.local, group.law.bulk - group.local, group.w, group.G, CORNERS
    p = local * (J - 1)
    if group.element == "TH":
        shared = np.einsum("qc,tc->tq", N, u[group.dofs[:, 12:]])
        p = p + shared
    elif group.element == "P0":
        area = w.sum(axis=1)
        p = p + (bulk * ((w * J).sum(axis=1) / area - 1))[:, None]
    P = (stress + p[..., None] * cof) * w[..., None]
    r_u = np.einsum("tqkm,tqk->tm", G, P, optimize=True)
    if stiff:
        A = (tangent + p[..., None, None] * TURNED) * w[..., None, None]
        A += (local * w)[..., None, None] * (cof[..., :, None] * cof[..., None, :])
        K = np.matmul(G.reshape(t, q * 4, 12).transpose(0, 2, 1), np.matmul(A, G).reshape(t, q * 4, 12))
    if group.element != "TH" and not stiff:
        return r_u, np.zeros(0)
    if group.element == "P2":
        return r_u, K
    b = np.einsum("tqkm,tqk->tqm", G, cof, optimize=True) * w[..., None]
    if group.element == "P0":
        whole = b.sum(axis=1)
        return r_u, K + (bulk / area)[:, None, None] * (whole[:, :, None] * whole[:, None, :])
    r_p = np.einsum("tq,qc->tc", w * (J - 1 - shared / bulk), N)
    r = np.concatenate([r_u, r_p], axis=1)
    if not stiff:
        return r, np.zeros(0)
    full = np.empty((t, 15, 15))
    full[:, :12, :12] = K
    full[:, :12, 12:] = np.einsum("tqm,qc->tmc", b, N, optimize=True)
    full[:, 12:, :12] = full[:, :12, 12:].transpose(0, 2, 1)
    full[:, 12:, 12:] = -np.einsum("tq,qc,qd->tcd", w / bulk, N, N, optimize=True)
    return r, full


def stored_energy(group: Group, F: Floats, J: Floats) -> float:
    """Energy of a group at gradients F (t, q, 4), N mm per mm, without what the pressures of "TH" add."""
    found = shape_energy(group.law, F.reshape(-1, 4)).reshape(J.shape) + group.local / 2 * (J - 1) ** 2
    total = float((found * group.w).sum())
    if group.element == "P0":
        swollen = (group.w * (J - 1)).sum(axis=1)
        total += (group.law.bulk - group.local) / 2 * float((swollen**2 / group.w.sum(axis=1)).sum())
    return total
