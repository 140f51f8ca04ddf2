"""Numbers as complaints print them, suggestions rounded towards the side that works."""

from __future__ import annotations

from math import ceil, degrees, floor


def at_most(limit: float) -> str:
    """A length just below ``limit`` (mm), two decimals."""
    return f"{floor((limit - 1e-9) * 100) / 100:g} mm"


def at_least(limit: float, *, itself: bool = False) -> str:
    """A length just above ``limit`` (mm), two decimals; the limit ``itself`` where that is allowed."""
    return f"{ceil((limit - 1e-9 if itself else limit + 1e-9) * 100) / 100:g} mm"


def mm(value: float) -> str:
    """A length as it is, five figures."""
    return f"{value:.5g} mm"


def deg(angle: float) -> str:
    """An angle given in rad, in degrees."""
    return f"{degrees(angle):.4g} deg"


def most_deg(angle: float) -> str:
    """An angle just below ``angle`` (rad), in degrees, one decimal."""
    return f"{floor(degrees(angle - 1e-9) * 10) / 10:g} deg"
