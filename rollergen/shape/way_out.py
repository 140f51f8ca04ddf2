"""The number that would work: how far a value may go before the geometry no longer fits."""

from __future__ import annotations

from collections.abc import Callable

HALVINGS = 60  # takes any length of a profile to rounding


def largest_that_fits(fits: Callable[[float], bool], low: float, high: float) -> float:
    """Largest value in [low, high] for which ``fits`` holds, ``fits`` being true up to one limit.

    ``low`` itself when nothing above it fits.
    """
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low
