"""Rules on numbers, judged before any geometry."""

from __future__ import annotations

from collections.abc import Collection

from rollergen.errors import Complaint, ProfileError
from rollergen.spec.profile import Profile

ALL_TABLES = frozenset({"body", "ribs", "bore", "chambers", "compound", "mates"})


def check_limits(profile: Profile) -> None:
    """Raise ``ProfileError`` with every broken limit."""
    complaints = broken_limits(profile)
    if complaints:
        raise ProfileError(complaints)


def broken_limits(profile: Profile, *, tables: Collection[str] = ALL_TABLES) -> list[Complaint]:
    """Every limit the profile breaks."""
    return []


def warnings_of(profile: Profile) -> list[Complaint]:
    """What is legal but worth a second look."""
    return []
