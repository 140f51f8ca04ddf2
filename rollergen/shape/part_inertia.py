"""Volume, first and second moments of a Part in space, from its description alone.

A slice of a twisted side is the same outline turned by k z, so its second moments turn with e^(2ikz)
and every integral along a straight row has a closed form that stays exact as k goes to 0.  Rows whose
offset grows (chamfer, lead-in) are integrated by Gauss-Legendre.
"""

from __future__ import annotations

from cmath import exp
from dataclasses import dataclass
from math import ceil, cos, pi, sin

import numpy as np

from rollergen.shape.offset import inward
from rollergen.shape.outline import Floats
from rollergen.shape.part import Part, Side
from rollergen.shape.properties import Moments, moments_of

NODES = 12  # a chamfered row is a polynomial of degree 6 in z times e^(2ikz): rounding is reached
SMALL = 1e-2  # below it j1(x) cancels; its series to x^5 is then exact to 1e-16


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpaceMoments:
    """Integrals over a volume: 1 (mm3), x y z (3,) mm4, and their products (3, 3) mm5, about the origin."""

    volume: float
    first: Floats
    second: Floats

    @property
    def centre(self) -> Floats:
        """Centre of volume, shape (3,), mm."""
        return self.first / self.volume


def moments_of_part(part: Part) -> SpaceMoments:
    """Moments of the material of a part: sides that bound material, less those that bound holes."""
    signs = [1 if side.material_inside else -1 for side in part.sides]
    each = [moments_of_side(side) for side in part.sides]
    return SpaceMoments(
        volume=sum(sign * m.volume for sign, m in zip(signs, each, strict=True)),
        first=sum((sign * m.first for sign, m in zip(signs, each, strict=True)), np.zeros(3)),
        second=sum((sign * m.second for sign, m in zip(signs, each, strict=True)), np.zeros((3, 3))),
    )


def moments_of_side(side: Side) -> SpaceMoments:
    """Moments of everything inside one side between its ends, whatever it bounds."""
    volume, first, second = 0.0, np.zeros(3), np.zeros((3, 3))
    for (z0, d0), (z1, d1) in zip(side.levels, side.levels[1:], strict=False):
        row = _straight(side, z0, z1, d0) if d0 == d1 else _sloped(side, (z0, d0), (z1, d1))
        volume += row.volume
        first = first + row.first
        second = second + row.second
    return SpaceMoments(volume=volume, first=first, second=second)


def inertia_about_centre(moments: SpaceMoments) -> Floats:
    """Inertia tensor for density 1 about the centre of volume, (3, 3), mm5; off-diagonals are -integral xy.

    Source: parallel axis theorem; any mechanics book.
    """
    spread = moments.second - np.outer(moments.first, moments.first) / moments.volume
    tensor: Floats = np.trace(spread) * np.eye(3) - spread
    return tensor


def _straight(side: Side, z0: float, z1: float, offset: float) -> SpaceMoments:
    """A row of constant section: integrals of e^(ikz), z e^(ikz) and e^(2ikz) in closed form."""
    m = _section(side, offset)
    k, middle, half = side.turn_per_mm, (z0 + z1) / 2, (z1 - z0) / 2
    place = exp(1j * k * middle)
    along = 2 * half * _sinc(k * half) * place
    along_z = middle * along + 2j * half**2 * _j1(k * half) * place
    twice = 2 * half * _sinc(2 * k * half) * place**2
    return _in_space(
        m,
        length=2 * half,
        z=2 * half * middle,
        zz=(z1**3 - z0**3) / 3,
        turn=along,
        turn_z=along_z,
        twice=twice,
    )


def _sloped(side: Side, low: tuple[float, float], high: tuple[float, float]) -> SpaceMoments:
    (z0, d0), (z1, d1) = low, high
    node, weight = np.polynomial.legendre.leggauss(NODES)
    panels = max(1, ceil(abs(side.turn_per_mm) * (z1 - z0) / (pi / 4)))
    width = (z1 - z0) / panels
    volume, first, second = 0.0, np.zeros(3), np.zeros((3, 3))
    for panel in range(panels):
        for t, w in zip(node.tolist(), weight.tolist(), strict=True):
            z, dz = z0 + width * (panel + (t + 1) / 2), w * width / 2
            turn = exp(1j * side.turn_per_mm * z)
            slice_ = _in_space(
                _section(side, d0 + (d1 - d0) * (z - z0) / (z1 - z0)),
                length=dz,
                z=z * dz,
                zz=z * z * dz,
                turn=turn * dz,
                turn_z=z * turn * dz,
                twice=turn**2 * dz,
            )
            volume += slice_.volume
            first = first + slice_.first
            second = second + slice_.second
    return SpaceMoments(volume=volume, first=first, second=second)


def _in_space(
    m: Moments, *, length: float, z: float, zz: float, turn: complex, turn_z: complex, twice: complex
) -> SpaceMoments:
    """Plane moments carried along z: x + iy turns once, (x + iy)^2 turns twice, x2 + y2 stays."""
    arm = complex(m.x, m.y)
    once, once_z = arm * turn, arm * turn_z
    double = complex(m.xx - m.yy, 2 * m.xy) * twice
    round_ = (m.xx + m.yy) * length
    xx, yy, xy = (round_ + double.real) / 2, (round_ - double.real) / 2, double.imag / 2
    return SpaceMoments(
        volume=m.area * length,
        first=np.array([once.real, once.imag, m.area * z]),
        second=np.array(
            [[xx, xy, once_z.real], [xy, yy, once_z.imag], [once_z.real, once_z.imag, m.area * zz]]
        ),
    )


def _section(side: Side, offset: float) -> Moments:
    return moments_of(inward(side.outline, offset) if offset else side.outline)


def _sinc(x: float) -> float:
    return float(np.sinc(x / pi))


def _j1(x: float) -> float:
    """(sin x - x cos x) / x^2, the spherical Bessel function of order 1."""
    return x / 3 - x**3 / 30 + x**5 / 840 if abs(x) < SMALL else (sin(x) - x * cos(x)) / x**2
