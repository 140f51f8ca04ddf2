"""What the rubber does: a law with one to three constants and a bulk modulus, in plane strain.

    W = mu/2 (I1bar - 3) + c2 (I1bar - 3)^2 + c3 (I1bar - 3)^3 + bulk/2 (J - 1)^2

with I1bar = J^(-2/3) I1, J = det F and F33 = 1: neo-Hooke with c2 = c3 = 0, Yeoh else.  In plane strain and
at constant volume I1 = I2, so a second invariant would add nothing (Mooney-Rivlin is neo-Hooke here).
A gradient F is four numbers in the order F11, F12, F21, F22.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

USUAL_BULK_RATIO = 50.0  # bulk over mu: 2 % stiffer at 1000, and far easier to solve
# the cofactor of F is linear in F: cof = TURNED F
TURNED = np.array([[0, 0, 0, 1], [0, 0, -1, 0], [0, -1, 0, 0], [1, 0, 0, 0]], dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """Constants in MPa: shear modulus ``mu``, ``bulk`` modulus, and Yeoh's ``c2`` and ``c3``.

    Raises ValueError for mu or bulk not above 0.
    """

    mu: float
    bulk: float
    c2: float = 0.0
    c3: float = 0.0

    def __post_init__(self) -> None:
        if not (0 < self.mu < inf and 0 < self.bulk < inf):
            raise ValueError(f"mu {self.mu:g} and bulk {self.bulk:g} MPa must be above 0")


def rubber_law(modulus: float, *, bulk_ratio: float = USUAL_BULK_RATIO, c2: float = 0.0) -> Law:
    """Nearly incompressible rubber of Young's ``modulus`` (MPa): mu = E/3, bulk = ``bulk_ratio`` mu."""
    return Law(mu=modulus / 3, bulk=bulk_ratio * modulus / 3, c2=c2)


def elastic_law(modulus: float, poisson: float) -> Law:
    """Any Young's ``modulus`` (MPa) and Poisson's ratio from 0 to below 0.5; foam is about 0.2."""
    if not 0 <= poisson < 0.5:
        raise ValueError(f"Poisson's ratio {poisson:g} must be from 0 to below 0.5")
    return Law(mu=modulus / (2 * (1 + poisson)), bulk=modulus / (3 * (1 - 2 * poisson)))


def shape_stress(law: Law, F: Floats) -> tuple[Floats, Floats, Floats]:
    """Stress (n, 4) and tangent (n, 4, 4) of the part of W without bulk, and J (n,), at gradients F (n, 4).

    The stress is the first Piola-Kirchhoff dW/dF in MPa, the tangent d2W/dF2.  Valid for J > 0.
    """
    J = F[:, 0] * F[:, 3] - F[:, 1] * F[:, 2]
    cof = F @ TURNED
    I1 = np.einsum("nk,nk->n", F, F) + 1.0
    a = np.cbrt(J) ** -2
    g = a[:, None] * (2 * F - (2 / 3 * I1 / J)[:, None] * cof)
    mixed = F[:, :, None] * cof[:, None, :]
    H = -(4 / 3 / J)[:, None, None] * (mixed + mixed.transpose(0, 2, 1))
    H += (10 / 9 * I1 / J**2)[:, None, None] * (cof[:, :, None] * cof[:, None, :])
    H -= (2 / 3 * I1 / J)[:, None, None] * TURNED
    H[:, range(4), range(4)] += 2.0
    H *= a[:, None, None]
    x = a * I1 - 3
    first = law.mu / 2 + 2 * law.c2 * x + 3 * law.c3 * x**2
    second = 2 * law.c2 + 6 * law.c3 * x
    tangent = first[:, None, None] * H
    if law.c2 or law.c3:
        tangent += second[:, None, None] * (g[:, :, None] * g[:, None, :])
    return first[:, None] * g, tangent, J


def shape_energy(law: Law, F: Floats) -> Floats:
    """W (n,) in MPa without its bulk part, at gradients F (n, 4); valid for J > 0."""
    J = F[:, 0] * F[:, 3] - F[:, 1] * F[:, 2]
    x = np.cbrt(J) ** -2 * (np.einsum("nk,nk->n", F, F) + 1.0) - 3
    found: Floats = law.mu / 2 * x + law.c2 * x**2 + law.c3 * x**3
    return found


def energy(law: Law, F: Floats) -> Floats:
    """W (n,) in MPa at gradients F (n, 4), bulk part included; valid for J > 0."""
    J = F[:, 0] * F[:, 3] - F[:, 1] * F[:, 2]
    found: Floats = shape_energy(law, F) + law.bulk / 2 * (J - 1) ** 2
    return found
