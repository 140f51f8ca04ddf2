"""What seizing does: chances, forces, broken clods, bruises, and the share of a crop that is small enough."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

import numpy as np

from rollergen.spec.kinds import GRAVITY
from rollergen.spec.ranges import rising_share

Band = tuple[float, float]

# Share of rib passings that seize a ball, over diameter / grip size, at four Froude numbers.
# Source: disc simulation made for this project (4 ribs of 9 mm, friction 0.5, mate at -0.6; 16 trials each).
CHANCE_SIZES = (0.5, 0.7, 0.85, 0.95, 1.05)
CHANCE_FROUDES = (0.27, 1.06, 2.39, 4.25)
CHANCES = (
    (1.0, 1.0, 1.0, 1.0, 0.0),
    (1.0, 0.55, 0.27, 0.11, 0.0),
    (0.71, 0.53, 0.17, 0.04, 0.0),
    (0.54, 0.19, 0.06, 0.02, 0.0),
)


def froude_number(speed_rpm: float, tip_radius: float) -> float:
    """Centrifugal over own weight at the rib tip (1); ``tip_radius`` in mm."""
    omega = speed_rpm * pi / 30
    return omega * omega * tip_radius * 1e-3 / GRAVITY


def chance(froude: float, size: float) -> float:
    """Share of rib passings that seize a ball of ``size`` = diameter / grip size, 0 to 1.

    Linear in a small simulated table, held at its ends.  Validity: one roller, one friction, 16 trials a
    cell: good for ranking, not to better than 0.1.
    """
    rows = [float(np.interp(size, CHANCE_SIZES, row)) for row in CHANCES]
    return float(np.interp(froude, CHANCE_FROUDES, rows))


def breaking_force(strength: Band, diameter: float) -> Band:
    """Force (N) that breaks a clod of ``diameter`` (mm) and tensile ``strength`` (MPa), least and most.

    Source: Y = 0.576 F / d^2, Dexter and Kroesbergen 1985, J. Agric. Eng. Res. 31 (value from memory).
    """
    return (strength[0] * diameter**2 / 0.576, strength[1] * diameter**2 / 0.576)


def bruise_spot(force: float, pressure: float) -> float:
    """Diameter (mm) of the flat spot where crop yields at ``pressure`` (MPa) under ``force`` (N).

    Source: plateau of contact stress 0.9 MPa for potato, Int. Agrophysics 36 (2022) 115-122; a round
    spot at constant pressure.  Needs no modulus of the crop.
    """
    spot: float = 2 * (force / (pi * pressure)) ** 0.5
    return spot


def squeeze_force(diameter: float, *, stiffness: float, narrow: float, wide: float) -> Band:
    """Force band k (d - opening) in N for an opening between ``narrow`` and ``wide`` (mm), never below 0."""
    return (max(stiffness * (diameter - wide), 0.0), max(stiffness * (diameter - narrow), 0.0))


def share_below(sieve: Sequence[tuple[float, float]], diameter: float) -> float:
    """Share of a sieve table below ``diameter`` (mm), straight lines between the sieves, 0 to 1."""
    return 0.0 if diameter < sieve[0][0] else rising_share(tuple(sieve), diameter)
