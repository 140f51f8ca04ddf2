"""Uniform clamped B-splines fitted by collocation: few numbers, one cached matrix per basis.

A basis is named by (degree, spans) on the unit interval.  Fitting at the Greville abscissae reproduces
both ends exactly, so faces that share a corner path share an iso-curve bit for bit.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import ceil

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.outline import Floats

Complex = NDArray[np.complex128]  # points of the plane, x + iy


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """Clamped uniform basis on 0..1; ``inverse`` is that of the collocation at ``greville``."""

    degree: int
    spans: int
    knots: Floats
    greville: Floats
    inverse: Floats

    def values(self, at: Floats) -> Floats:
        """Basis functions at ``at`` (0..1), shape (len(at), number of poles)."""
        return _basis_values(self.knots, self.degree, at)

    def slopes(self, at: Floats) -> Floats:
        """Derivatives of the basis functions at ``at``, per unit of the interval."""
        p, knots = self.degree, self.knots
        lower = _basis_values(knots, p - 1, at)
        width = knots[p:] - knots[:-p]
        scaled = np.divide(lower, width, out=np.zeros_like(lower), where=width > 0)
        return p * (scaled[:, :-1] - scaled[:, 1:])

    def poles(self, points: Complex) -> Complex:
        """Poles of the curve through ``points`` of the plane given at ``greville`` (first axis)."""
        found: Complex = np.tensordot(self.inverse, points, axes=1)
        return found


def _basis_values(knots: Floats, degree: int, at: Floats) -> Floats:
    """Cox - de Boor recursion, all functions at all points; the last span includes its right end.

    Source: L. Piegl, W. Tiller, The NURBS Book, 2nd ed. 1997, eq. 2.5.
    """
    last = np.nonzero(knots < knots[-1])[0][-1]
    x = at[:, None]
    value = ((x >= knots[:-1]) & (x < knots[1:])).astype(float)
    value[at >= knots[-1], last] = 1.0
    for p in range(1, degree + 1):
        left, right = knots[p:-1] - knots[: -p - 1], knots[p + 1 :] - knots[1:-p]
        up = np.divide(x - knots[: -p - 1], left, out=np.zeros((len(at), len(left))), where=left > 0)
        down = np.divide(knots[p + 1 :] - x, right, out=np.zeros((len(at), len(right))), where=right > 0)
        value = up * value[:, :-1] + down * value[:, 1:]
    return value


@lru_cache(maxsize=256)
def basis_of(degree: int, spans: int) -> Basis:
    """The basis with this degree and this many equal spans."""
    inner = np.arange(1, spans) / spans
    knots = np.concatenate([np.zeros(degree + 1), inner, np.ones(degree + 1)])
    poles = degree + spans
    greville = np.array([knots[i + 1 : i + degree + 1].mean() for i in range(poles)])
    greville[0], greville[-1] = 0.0, 1.0
    inverse = np.asarray(np.linalg.inv(_basis_values(knots, degree, greville)), dtype=np.float64)
    return Basis(degree=degree, spans=spans, knots=knots, greville=greville, inverse=inverse)


@lru_cache(maxsize=1024)
def turn_error(angle: float, degree: int, spans: int) -> float:
    """Greatest distance of a fitted circle (helix) of radius 1 from the true one, in radii.

    ``angle`` is the whole turn (rad) over ``spans``.  Beyond 24 spans the error per span no longer
    changes (the ends are the worst), so the first 24 stand for all.
    """
    seen = min(spans, 24)
    basis = basis_of(degree, seen)
    turn = angle * seen / spans
    poles = basis.poles(np.exp(1j * turn * basis.greville))
    at = np.linspace(0.0, 1.0, 8 * seen + 1)
    return float(np.max(np.abs(basis.values(at) @ poles - np.exp(1j * turn * at))))


@lru_cache(maxsize=1024)
def spans_for(angle: float, degree: int, *, radius: float, error: float, span: float) -> int:
    """Spans that fit ``angle`` at ``radius`` within ``error`` (mm), none wider than ``span`` (rad)."""
    spans = max(1, ceil(abs(angle) / span - 1e-9))
    while (off := radius * turn_error(abs(angle), degree, spans)) > error:
        spans = max(spans + 1, int(spans * (off / error) ** (1 / (degree + 1))))
    return spans
