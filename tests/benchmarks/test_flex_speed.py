"""Stiffness all round and a force-travel curve; run: pytest tests/benchmarks/test_flex_speed.py -m benchmark -s

Goals: 25 rotations 2.2 s cold and 1.2 s warm; 16 steps to 8 mm 5 s and at least twice as fast as the same Newton
rounds with another library's assembly; memory 400 MB.  No time is asserted, but that both do the same is.
"""

from __future__ import annotations

import subprocess
import sys
import time
from dataclasses import replace
from math import radians
from typing import Any

import numpy as np
import pytest

from rollergen.rubber.compliance import small_stiffness
from rollergen.rubber.contact import FOR_FORCE, skin_of, touch
from rollergen.rubber.elements import GAUSS, Assembly, assembled, forces
from rollergen.rubber.law import TURNED, Law, shape_stress
from rollergen.rubber.mesher import mesh_section
from rollergen.rubber.newton import factorised
from rollergen.rubber.obstacle import Obstacle
from rollergen.rubber.press import first_reach, press
from rollergen.shape.section import section_of
from rollergen.spec.reading import profile_from_text
from rollergen.spec.schema import starting_profile

pytestmark = pytest.mark.benchmark

LAW = Law(mu=1.84, bulk=92.0)
PLATE = Obstacle(angle=radians(30))
COLD = """
import resource, time; start = time.time()
import sys; sys.path.insert(0, "tests/benchmarks")
from test_flex_speed import *
small_stiffness(made(), [Obstacle(angle=radians(2.5 * n)) for n in range(25)], travel=0.5)
print(time.time() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def made(**more: float) -> Assembly:
    # the starting profile as a plain sleeve, six chambers
    text = starting_profile()
    head, tail = text.split("[ribs]")
    section = section_of(profile_from_text(head + "[bore]" + tail.split("[bore]", 1)[1]))
    return assembled(mesh_section(section, size=3.0), LAW, **more)


def test_mesh(benchmark):
    section = section_of(profile_from_text(starting_profile()))
    assert len(mesh_section(section, size=3.0).triangles) > 1500
    benchmark(mesh_section, section, size=3.0)


def test_round_warm(benchmark):
    assembly = made()
    obstacles = [Obstacle(angle=radians(2.5 * n)) for n in range(25)]
    assert benchmark(small_stiffness, assembly, obstacles, travel=0.5).min() > 0


def test_round_cold():
    told = subprocess.run(
        [sys.executable, "-c", COLD], capture_output=True, text=True, check=True
    ).stdout.split()
    print(f"\ncold, 25 rotations: {float(told[0]):.2f} s, {float(told[1]):.0f} MB")


def test_curve(benchmark):
    assembly = made()
    found = benchmark.pedantic(
        press, (assembly, PLATE, [0.5 * n for n in range(1, 17)]), rounds=3, iterations=1
    )
    assert found.reason == "" and len(found.steps) == 17
    print(f"\n{assembly.size} unknowns, {sum(s.rounds for s in found.steps)} rounds")


def test_same_rounds_with_another_library():
    """Ten Newton rounds at 2 mm of travel, ours and theirs, from the same start; forces agree in every round."""
    assembly = made(pointwise=0.0)  # the element of the books, as theirs is
    start = time.perf_counter()
    ours = _rounds(assembly, lambda u: forces(assembly, u)[:2], assembly.matrix)
    mine = time.perf_counter() - start
    inner, matrix = other_library(assembly)
    start = time.perf_counter()
    theirs = _rounds(assembly, inner, matrix)
    other = time.perf_counter() - start
    assert ours == pytest.approx(theirs, rel=1e-9)
    print(
        f"\nten rounds: {mine:.2f} s, with the other library's assembly {other:.2f} s, {other / mine:.1f} times"
    )


def _rounds(assembly: Assembly, inner: Any, matrix: Any) -> list[float]:
    skin, mesh = skin_of(assembly.mesh), assembly.mesh
    u, told = np.zeros(assembly.size), []
    reach = first_reach(mesh, PLATE)
    for number in range(10):
        f, entries = inner(u)
        nodes = mesh.nodes + u[: 2 * len(mesh.nodes)].reshape(-1, 2)
        # pressed in by a fifth of a millimetre a round: every round has work to do
        met = touch(skin, nodes, PLATE, reach - 0.2 * (number + 1), FOR_FORCE * LAW.mu, assembly.size)
        K = matrix(entries) + met.stiffness[assembly.free][:, assembly.free]
        u = u.copy()
        u[assembly.free] += factorised(K).solve(-(f + met.residual)[assembly.free])
        told.append(met.force)
    return told


def other_library(assembly: Assembly) -> tuple[Any, Any]:
    """Forces and free matrix by the other library, in our numbering."""
    from scipy.sparse import bmat
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

    mesh = assembly.mesh
    corners = int(mesh.triangles[:, :3].max()) + 1
    flat = MeshTri1(mesh.nodes[:corners].T.copy(), mesh.triangles[:, :3].T.copy())
    curved = MeshTri2.from_mesh(flat)
    ours = {
        tuple(sorted((t[k], t[(k + 1) % 3]))): t[3 + k] for t in mesh.triangles.tolist() for k in range(3)
    }
    middle = [ours[tuple(sorted(f))] for f in flat.facets.T.tolist()]
    number = np.concatenate([np.arange(corners), middle])
    where = curved.doflocs.copy()
    where[:, corners:] = mesh.nodes[middle].T
    curved = replace(curved, doflocs=where)
    rule = (GAUSS.T.copy(), np.full(3, 1 / 6))
    move = Basis(curved, ElementVector(ElementTriP2()), quadrature=rule)
    hold = Basis(curved, ElementTriP1(), quadrature=rule)
    at = np.concatenate([move.nodal_dofs, move.facet_dofs], axis=1)
    to_ours = np.concatenate([np.zeros(move.N, dtype=int), np.zeros(hold.N, dtype=int)])
    to_ours[at[0]], to_ours[at[1]] = 2 * number, 2 * number + 1
    to_ours[move.N + hold.nodal_dofs[0]] = 2 * len(mesh.nodes) + np.arange(corners)
    back = np.argsort(to_ours)

    def gradient(v: Any) -> Any:
        return np.stack([v.grad[0, 0], v.grad[0, 1], v.grad[1, 0], v.grad[1, 1]], axis=-1)

    @LinearForm
    def pull(v, w):
        return (w["P"] * gradient(v)).sum(axis=-1)

    @LinearForm
    def volume(q, w):
        return w["V"] * q

    @BilinearForm
    def stiff(a, v, w):
        return np.einsum("...i,...ij,...j->...", gradient(v), w["A"], gradient(a))

    @BilinearForm
    def joint(q, v, w):
        return (w["C"] * gradient(v)).sum(axis=-1) * q

    @BilinearForm
    def soft(p, q, w):
        return -p * q / LAW.bulk

    def inner(u):
        x = u[to_ours]
        du, p = move.interpolate(x[: move.N]).grad, np.asarray(hold.interpolate(x[move.N :]))
        F = np.stack([1 + du[0, 0], du[0, 1], du[1, 0], 1 + du[1, 1]], axis=-1)
        stress, tangent, J = shape_stress(LAW, F.reshape(-1, 4))
        cof = F @ TURNED
        P = stress.reshape(F.shape) + p[..., None] * cof
        A = tangent.reshape(*F.shape, 4) + p[..., None, None] * TURNED
        V = J.reshape(p.shape) - 1 - p / LAW.bulk
        f = np.concatenate([pull.assemble(move, P=P), volume.assemble(hold, V=V)])
        C = joint.assemble(hold, move, C=cof)
        K = bmat([[stiff.assemble(move, A=A), C], [C.T, soft.assemble(hold)]], format="csr")
        return f[back], K

    def matrix(K):
        return K[back][:, back][assembly.free][:, assembly.free].tocsc()

    return inner, matrix
