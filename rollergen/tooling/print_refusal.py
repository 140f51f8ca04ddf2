"""A print that is refused: what is wrong, and what could be asked instead, which has to be tried before it is told."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from math import floor

from rollergen.errors import Complaint, ProfileError

# what may be asked instead: scale (1); shaft, foot, line, around and step of the joint, height and plate (mm); cuts ()
Changes = Mapping[str, float | tuple[float, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """What could be asked instead, and the words that say what for; to be tried before it is told."""

    changes: Changes
    words: str = "works"


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why, and the offers to be tried, found when they are asked for."""

    key: str
    reason: str
    offers: Callable[[], Iterable[Offer]] = tuple
    past: Changes | None = None

    @property
    def cure(self) -> Changes:
        """What gets a trial past this refusal: what the first offer changes, where nothing else was said; or nothing."""
        if self.past is not None:
            return self.past
        return next((offer.changes for offer in self.offers()), {})


class Refused(ProfileError):
    """A print that is refused, its offers not tried yet."""

    def __init__(self, refusal: Refusal) -> None:
        self.refusal = refusal
        super().__init__([Complaint(key=refusal.key, message=refusal.reason)])


def refused(
    key: str, reason: str, *, offers: Callable[[], Iterable[Offer]] = tuple, past: Changes | None = None
) -> Refused:  # fmt: skip
    return Refused(Refusal(key=key, reason=reason, offers=offers, past=past))


def wrong(key: str, message: str) -> ProfileError:
    """Refused with all that can be said, nothing to be tried."""
    return ProfileError([Complaint(key=key, message=message)])


def nearest_that_fits(fits: Callable[[int], bool], start: int, stop: int) -> int | None:
    """The whole number nearest to ``start``, which does not fit, on the way to ``stop`` that does; None up to there.

    Steps double until one fits and are halved from there: what fits need only do so near the limit, not all the way.
    """
    way = 1 if stop > start else -1
    no, step = start, 1
    while no != stop:
        yes = start + way * min(step, abs(stop - start))
        if fits(yes):
            break
        no, step = yes, 2 * step
    else:
        return None
    while abs(yes - no) > 1:
        middle = (yes + no) // 2
        yes, no = (middle, no) if fits(middle) else (yes, middle)
    return yes


def thousandths_below(limit: float) -> float:
    """A scale just below ``limit``, as it is offered."""
    return floor(limit * 1000 + 1e-9) / 1000
