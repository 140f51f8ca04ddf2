"""Elements alone: patch, tangent, frame, locking, and another library's assembly of the same mesh."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from rollergen.rubber.elements import GAUSS, POINTWISE, Element, assembled, forces, gradients
from rollergen.rubber.law import TURNED, Law, elastic_law, shape_stress
from rollergen.rubber.plane_mesh import PlaneMesh

NONE = np.zeros((0, 3), dtype=np.int64)
ELEMENTS: list[Element] = ["TH", "P0", "P2"]


def six_node(points: np.ndarray, triangles: np.ndarray) -> PlaneMesh:
    """Straight six-node triangles, no edges named."""
    sides = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    pairs, place = np.unique(sides, axis=0, return_inverse=True)
    nodes = np.concatenate([points, points[pairs].mean(axis=1)])
    return PlaneMesh(
        nodes=nodes, triangles=np.concatenate([triangles, len(points) + place.reshape(-1, 3)], axis=1),
        filled=np.zeros(len(triangles), dtype=np.int64), outer=NONE, bore=NONE, chambers=(),
    )  # fmt: skip


def random_patch(seed: int = 1) -> PlaneMesh:
    from scipy.spatial import Delaunay

    rng = np.random.default_rng(seed)
    x, y = np.meshgrid(np.linspace(0, 4, 6), np.linspace(0, 3, 5))
    points = np.stack([x.ravel(), y.ravel()], axis=1)
    inner = (points[:, 0] > 0) & (points[:, 0] < 4) & (points[:, 1] > 0) & (points[:, 1] < 3)
    points[inner] += rng.uniform(-0.2, 0.2, (int(inner.sum()), 2))
    triangles = Delaunay(points).simplices.astype(np.int64)
    a, b, c = (points[triangles[:, k]] for k in range(3))
    turn = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    return six_node(points, np.where((turn < 0)[:, None], triangles[:, ::-1], triangles)[np.abs(turn) > 1e-9])


def rim(mesh: PlaneMesh) -> np.ndarray:
    x, y = mesh.nodes.T
    return np.flatnonzero((x < 1e-9) | (x > 4 - 1e-9) | (y < 1e-9) | (y > 3 - 1e-9))


def curved(mesh: PlaneMesh) -> PlaneMesh:
    """The same mesh with mid-nodes inside moved, so that sides are parabolas."""
    middles = np.unique(mesh.triangles[:, 3:])
    inside = np.setdiff1d(middles, rim(mesh))
    nodes = mesh.nodes.copy()
    nodes[inside] += np.random.default_rng(2).uniform(-0.03, 0.03, (len(inside), 2))
    return replace(mesh, nodes=nodes)


def balanced(assembly: Any, u: np.ndarray, rounds: int = 12) -> np.ndarray:
    from scipy.sparse.linalg import spsolve

    for _ in range(rounds):
        inner, entries, _ = forces(assembly, u)
        move = spsolve(assembly.matrix(entries), -inner[assembly.free])
        u = u.copy()
        u[assembly.free] += move
        if np.abs(move).max() < 1e-13:
            break
    return u


@pytest.mark.parametrize("element", ELEMENTS)
@pytest.mark.parametrize("poisson", [0.3, 0.45, 0.4999])
@pytest.mark.parametrize("bent", [False, True])
def test_patch_under_any_even_stretch_stays_even(element: Element, poisson: float, bent: bool) -> None:
    mesh = curved(random_patch()) if bent else random_patch()
    G = np.array([[0.2, 0.15], [-0.1, -0.12]])  # a large, even gradient
    held = rim(mesh)
    assembly = assembled(
        mesh, elastic_law(6.0, poisson), element=element, held=np.sort(np.r_[2 * held, 2 * held + 1])
    )
    u = np.zeros(assembly.size)
    u[: 2 * len(mesh.nodes)] = (mesh.nodes @ G.T).ravel()
    far = 0.04 if poisson < 0.49 else 0.002  # within Newton's reach; the rim is where it belongs
    u[assembly.free] += np.random.default_rng(6).uniform(-far, far, len(assembly.free))
    found = balanced(assembly, u)
    nodes = found[: 2 * len(mesh.nodes)].reshape(-1, 2)
    assert np.abs(nodes - mesh.nodes @ G.T).max() < 1e-10
    F = gradients(assembly.groups[0], found)
    assert np.abs(F - (np.array([1, 0, 0, 1]) + G.ravel())).max() < 1e-10


@pytest.mark.parametrize("element", ELEMENTS)
def test_a_quadratic_field_has_its_exact_gradients(element: Element) -> None:
    # catches a wrong slope of a single shape function, which an even stretch does not show
    mesh = random_patch()
    x, y = mesh.nodes.T
    assembly = assembled(mesh, Law(mu=1, bulk=9), element=element, held=np.array([0]))
    u = np.zeros(assembly.size)
    u[: 2 * len(x) : 2] = 0.01 * (x**2 + 3 * x * y - 2 * y**2 + x)
    u[1 : 2 * len(x) : 2] = 0.01 * (y**2 - x * y + 4 * x**2 - y)
    F = gradients(assembly.groups[0], u)
    t = mesh.triangles[:, :3]
    N = np.stack([1 - GAUSS.sum(axis=1), GAUSS[:, 0], GAUSS[:, 1]], axis=1)
    X, Y = np.einsum("qc,tcd->dtq", N, mesh.nodes[t])
    wanted = np.stack(
        [
            1 + 0.01 * (2 * X + 3 * Y + 1),
            0.01 * (3 * X - 4 * Y),
            0.01 * (8 * X - Y),
            1 + 0.01 * (2 * Y - X - 1),
        ],
        axis=2,
    )
    assert np.abs(F - wanted).max() < 1e-13


@pytest.mark.parametrize("element", ELEMENTS)
def test_the_stiffness_is_the_slope_of_the_forces(element: Element) -> None:
    mesh = curved(random_patch(4))
    assembly = assembled(
        mesh, Law(mu=1.5, bulk=40, c2=0.2), element=element, held=np.array([], dtype=np.int64)
    )
    rng = np.random.default_rng(5)
    u = rng.normal(scale=0.02, size=assembly.size)
    _, entries, _ = forces(assembly, u)
    K = assembly.matrix(entries).toarray()
    h = 1e-6
    for column in rng.choice(assembly.size, 25, replace=False):
        e = np.zeros(assembly.size)
        e[column] = h
        slope = (forces(assembly, u + e)[0] - forces(assembly, u - e)[0]) / (2 * h)
        assert np.abs(slope - K[:, column]).max() < 1e-7 * np.abs(K).max()
    assert np.abs(K - K.T).max() < 1e-12 * np.abs(K).max()
    assert np.array_equal(forces(assembly, u, stiff=False)[0], forces(assembly, u)[0])


@pytest.mark.parametrize("element", ELEMENTS)
def test_moving_and_turning_the_whole_makes_no_force(element: Element) -> None:
    mesh = curved(random_patch())
    assembly = assembled(mesh, Law(mu=1.5, bulk=400), element=element, held=np.array([0]))
    c, s = np.cos(0.8), np.sin(0.8)
    u = np.zeros(assembly.size)
    u[: 2 * len(mesh.nodes)] = (mesh.nodes @ np.array([[c, s], [-s, c]]) + [3, -7] - mesh.nodes).ravel()
    assert np.abs(forces(assembly, u)[0]).max() < 1e-11


def test_a_triangle_inside_out_is_told_not_used() -> None:
    mesh = random_patch()
    assembly = assembled(mesh, Law(mu=1, bulk=9), held=np.array([0]))
    u = np.zeros(assembly.size)
    u[: 2 * len(mesh.nodes) : 2] = -2 * mesh.nodes[:, 0]
    assert forces(assembly, u)[2] < 0


def test_foam_needs_a_law() -> None:
    mesh = random_patch()
    with pytest.raises(ValueError, match="no law is given for the foam"):
        assembled(replace(mesh, filled=np.ones(len(mesh.triangles), dtype=np.int64)), Law(mu=1, bulk=9))


def test_foam_of_the_same_stuff_is_the_same_stuff() -> None:
    mesh = random_patch()
    law = elastic_law(3.0, 0.2)
    half = np.where(mesh.nodes[mesh.triangles[:, :3]].mean(axis=1)[:, 0] > 2, 1, 0)
    one = assembled(mesh, law, element="P2", held=np.array([0]))
    two = assembled(replace(mesh, filled=half), law, foam=law, element="P2", held=np.array([0]))
    u = np.random.default_rng(0).normal(scale=0.02, size=one.size)
    assert np.abs(forces(one, u)[0] - forces(two, u)[0]).max() < 1e-13
    assert abs(one.matrix(forces(one, u)[1]) - two.matrix(forces(two, u)[1])).max() < 1e-12


@pytest.mark.parametrize("pointwise", [0.0, POINTWISE])
def test_another_library_puts_the_same_mesh_together_alike(pointwise: float) -> None:
    from skfem import (
        Basis,
        BilinearForm,
        ElementTriP1,
        ElementTriP2,
        ElementVector,
        LinearForm,
        MeshTri1,
        MeshTri2,
    )
    from skfem import asm as put_together

    mesh, law = curved(random_patch(7)), Law(mu=1.84, bulk=92.0, c2=0.1)
    corners = int(mesh.triangles[:, :3].max()) + 1
    flat = MeshTri1(mesh.nodes[:corners].T.copy(), mesh.triangles[:, :3].T.copy())
    theirs = MeshTri2.from_mesh(flat)
    where = theirs.doflocs.copy()
    ours = {
        tuple(sorted((t[k], t[(k + 1) % 3]))): t[3 + k] for t in mesh.triangles.tolist() for k in range(3)
    }
    middle = [ours[tuple(sorted(f))] for f in flat.facets.T.tolist()]
    number = np.concatenate([np.arange(corners), middle])
    where[:, corners:] = mesh.nodes[middle].T
    theirs = replace(theirs, doflocs=where)
    rule = (GAUSS.T.copy(), np.full(3, 1 / 6))
    move, press = (
        Basis(theirs, ElementVector(ElementTriP2()), quadrature=rule),
        Basis(theirs, ElementTriP1(), quadrature=rule),
    )
    assembly = assembled(mesh, law, held=np.array([], dtype=np.int64), pointwise=pointwise)
    local = pointwise * law.mu
    rng = np.random.default_rng(9)
    u = rng.normal(scale=0.03, size=assembly.size)
    nodes = u[: 2 * len(mesh.nodes)].reshape(-1, 2)
    p = u[2 * len(mesh.nodes) :]
    x = np.zeros(move.N)
    at = np.concatenate([move.nodal_dofs, move.facet_dofs], axis=1)  # (2, nodes) in their numbering
    x[at] = nodes[number].T
    y = np.zeros(press.N)
    y[press.nodal_dofs[0]] = p

    def state(w: Any) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        du = w["x"].grad
        F = np.stack([1 + du[0, 0], du[0, 1], du[1, 0], 1 + du[1, 1]], axis=-1)
        stress, tangent, J = shape_stress(law, F.reshape(-1, 4))
        cof, J = F @ TURNED, J.reshape(F.shape[:-1])
        stress = stress.reshape(F.shape) + local * (J - 1)[..., None] * cof
        tangent = tangent.reshape(*F.shape, 4) + local * (J - 1)[..., None, None] * TURNED
        return stress, tangent + local * cof[..., :, None] * cof[..., None, :], cof, J

    def slope(v: Any) -> np.ndarray:
        return np.stack([v.grad[0, 0], v.grad[0, 1], v.grad[1, 0], v.grad[1, 1]], axis=-1)

    @LinearForm
    def pull(v, w):
        stress, _, cof, _ = state(w)
        return ((stress + w["y"][..., None] * cof) * slope(v)).sum(axis=-1)

    @LinearForm
    def volume(q, w):
        return (state(w)[3] - 1 - w["y"] / (law.bulk - local)) * q

    @BilinearForm
    def stiff(a, v, w):
        _, tangent, _, _ = state(w)
        A = tangent + np.asarray(w["y"])[..., None, None] * TURNED
        return np.einsum("...i,...ij,...j->...", slope(v), A, slope(a))

    @BilinearForm
    def joint(q, v, w):
        return (state(w)[2] * slope(v)).sum(axis=-1) * q

    with_state = {"x": move.interpolate(x), "y": press.interpolate(y)}
    inner, entries, _ = forces(assembly, u)
    r_u, r_p = put_together(pull, move, **with_state), put_together(volume, press, **with_state)
    got_u = inner[: 2 * len(mesh.nodes)].reshape(-1, 2)[number].T
    assert np.abs(r_u[at] - got_u).max() < 1e-9 * np.abs(r_u).max()
    assert np.abs(r_p[press.nodal_dofs[0]] - inner[2 * len(mesh.nodes) :]).max() < 1e-9 * np.abs(r_p).max()
    K = assembly.matrix(entries).toarray()
    dofs = np.stack([2 * number, 2 * number + 1])
    K_uu = put_together(stiff, move, **with_state).toarray()
    K_up = put_together(joint, press, move, **with_state).toarray()
    mine_uu = K[np.ix_(dofs.ravel(), dofs.ravel())]
    assert np.abs(K_uu[np.ix_(at.ravel(), at.ravel())] - mine_uu).max() < 1e-9 * np.abs(K_uu).max()
    mine_up = K[np.ix_(dofs.ravel(), 2 * len(mesh.nodes) + np.arange(corners))]
    assert np.abs(K_up[np.ix_(at.ravel(), press.nodal_dofs[0])] - mine_up).max() < 1e-9 * np.abs(K_up).max()
