"""Numbers as complaints print them, suggestions rounded towards the side that works."""

from __future__ import annotations

from math import ceil, degrees, floor


def hundredths_below(limit: float) -> float:
    """A length just below ``limit``, two decimals."""
    return floor((limit - 1e-9) * 100) / 100


def hundredths_above(limit: float) -> float:
    """The ``limit`` itself or a length just above it, two decimals."""
    return ceil((limit - 1e-9) * 100) / 100


def at_most(limit: float) -> str:
    """A length just below ``limit`` (mm), two decimals."""
    return f"{hundredths_below(limit):g} mm"


def at_least(limit: float, *, itself: bool = False) -> str:
    """A length just above ``limit`` (mm), two decimals; the limit ``itself`` where that is allowed."""
    return f"{hundredths_above(limit if itself else limit + 2e-9):g} mm"


def mm(value: float) -> str:
    """A length as it is, five figures."""
    return f"{value:.5g} mm"


def deg(angle: float) -> str:
    """An angle given in rad, in degrees."""
    return f"{degrees(angle):.4g} deg"


def most_deg(angle: float) -> str:
    """An angle just below ``angle`` (rad), in degrees, one decimal."""
    return f"{floor(degrees(angle - 1e-9) * 10) / 10:g} deg"
