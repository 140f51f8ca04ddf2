"""A law from a measured stress-strain table: two constants, least squares, and an honest remainder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rollergen.errors import Complaint, ProfileError

FEWEST_ROWS = 4
MOST_MISFIT = 0.25  # of the greatest stress; a law that misses by more says nothing
STEPS = 400  # strains at which the fitted curve is looked at for rising


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedLaw:
    """mu and c2 (MPa) of a table pulled in one direction; ``misfit``: greatest miss over the greatest stress.

    ``strain_to``: the table's last strain; beyond it the law is a guess.
    """

    mu: float
    c2: float
    misfit: float
    strain_to: float

    @property
    def modulus(self) -> float:
        """Young's modulus at small strain, 3 mu, MPa."""
        return 3 * self.mu


def fitted_law(table: Sequence[tuple[float, float]]) -> FittedLaw:
    """Fit s = 2 (l - l^-2) (mu/2 + 2 c2 (I1 - 3)) to (strain, stress MPa) rows, l = 1 + strain.

    Engineering stress of an incompressible bar in simple tension; every row is weighted by its own stress, so
    that the soft beginning counts as much as the stiff end.  Source: Yeoh 1993, first two terms (from memory).

    Raises ProfileError (compound.stress_strain) for fewer than four rows, or when the best fit is no rubber:
    mu not above 0, a curve that falls within the table, or a miss of more than a quarter of the greatest stress.
    """
    if len(table) < FEWEST_ROWS:
        raise _wrong(f"{len(table)} rows are too few: two constants need {FEWEST_ROWS} or more")
    strain, stress = np.array(table, dtype=np.float64).T
    columns = _columns(strain)
    (mu, c2), *_ = np.linalg.lstsq(columns / stress[:, None], np.ones_like(stress), rcond=None)
    if not mu > 0:
        raise _wrong(f"the best fit has a shear modulus of {mu:.3g} MPa: check units and the first rows")
    between = np.linspace(0.0, strain[-1], STEPS)
    if np.any(np.diff(_columns(between) @ np.array([mu, c2])) <= 0):
        raise _wrong(
            f"the best fit (mu {mu:.3g} MPa, c2 {c2:.3g} MPa) falls within the table: no rubber does that in"
            " tension; end the table before it yields, or give a modulus instead"
        )
    misfit = float(np.abs(columns @ np.array([mu, c2]) - stress).max() / stress.max())
    if misfit > MOST_MISFIT:
        raise _wrong(
            f"the best fit (mu {mu:.3g} MPa, c2 {c2:.3g} MPa) misses a row by {misfit:.0%} of the greatest stress, at"
            f" most {MOST_MISFIT:.0%} is taken: check the rows, or end the table earlier"
        )
    return FittedLaw(mu=float(mu), c2=float(c2), misfit=misfit, strain_to=float(strain[-1]))


def _columns(strain: np.ndarray) -> np.ndarray:
    """Stress per unit of mu and of c2."""
    stretch = 1 + strain
    pull = 2 * (stretch - stretch**-2)
    return np.stack([pull / 2, pull * 2 * (stretch**2 + 2 / stretch - 3)], axis=1)


def _wrong(message: str) -> ProfileError:
    return ProfileError([Complaint(key="compound.stress_strain", message=message)])
