"""From Shore A hardness to Young's modulus: two published fits, and the range between them.

A hardness is a poor stand-in for a modulus: the two fits differ by a factor of up to 1.9 between 60 and 80 A,
so both are always reported.  A measured modulus replaces them.
"""

from __future__ import annotations

from dataclasses import dataclass

from rollergen.errors import Complaint, ProfileError

GENT_FROM = 40.0  # Shore A; Gent's theory is apt above 60 and as good from 40 to 60 (abstract of the paper)
LOG_RANGE = (20.0, 80.0)  # Shore A, as stated with the log fit
REFUSED_FROM = 95.0  # Shore A; Gent's modulus runs to infinity at 100
OUTSIDE_FACTOR = 2.0  # above the log fit: Gent times and divided by this; ours, the spread seen at 70 to 80 A

GENT_SOURCE = (
    "A. N. Gent 1958, On the relation between indentation hardness and Young's modulus (from memory)"
)
LOG_SOURCE = (
    "log E = 0.0235 S - 0.6403, given to H. J. Qi, K. Joyce, M. C. Boyce 2003 (from memory) and to Ruess"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ModulusRange:
    """Young's modulus (MPa) for small strain, lowest and highest, and where it is from.

    ``inside`` is False where a fit is used outside the hardness it was made for.
    """

    low: float
    high: float
    inside: bool
    source: str


def gent_modulus(hardness: float) -> float:
    """Young's modulus (MPa) by Gent's fit for a Shore A ``hardness``.

    E = 0.0981 (56 + 7.62336 S) / (0.137505 (254 - 2.54 S)).  Apt from 40 A; grows without bound towards 100.
    Source: Gent 1958 (constants from memory, seen in two public codes).  Raises ValueError outside 0 to 100.
    """
    S = _on_scale(hardness)
    return 0.0981 * (56 + 7.62336 * S) / (0.137505 * (254 - 2.54 * S))


def log_modulus(hardness: float) -> float:
    """Young's modulus (MPa) by the log fit for a Shore A ``hardness``: a power of TEN, not of e.

    log10 E = 0.0235 S - 0.6403, stated for 20 to 80 A.
    Source: Qi, Joyce, Boyce 2003 (from memory); a page names Ruess.  Raises ValueError outside 0 to 100.
    """
    S = _on_scale(hardness)
    return float(10 ** (0.0235 * S - 0.6403))


def modulus_range(hardness: float | None, *, measured: float | None = None) -> ModulusRange:
    """Young's modulus of a compound (MPa): the measured one alone, or the range over both fits.

    20 to 80 A: from one fit to the other, outside Gent's range below 40.  Above 80 and below 95 the log fit
    has left its range: Gent divided by 2 to Gent times 2, marked outside.

    Raises ProfileError without either number, for a modulus not above 0, below 20 A and from 95 A on.
    """
    if measured is not None:
        if not measured > 0:
            raise _wrong("modulus", f"{measured:g} MPa must be above 0")
        return ModulusRange(low=measured, high=measured, inside=True, source="compound.modulus, as given")
    if hardness is None:
        raise _wrong("hardness", 'needed for a force; write it or a measured modulus, e.g. "5.5 MPa"')
    if not LOG_RANGE[0] <= hardness < REFUSED_FROM:
        raise _wrong(
            "hardness",
            f"{hardness:g} ShoreA gives no modulus: the fits hold from {LOG_RANGE[0]:g} to below"
            f' {REFUSED_FROM:g} ShoreA; write a measured one as compound.modulus, e.g. "60 MPa"',
        )
    gent = gent_modulus(hardness)
    if hardness > LOG_RANGE[1]:
        return ModulusRange(
            low=gent / OUTSIDE_FACTOR,
            high=gent * OUTSIDE_FACTOR,
            inside=False,
            source=f"{GENT_SOURCE}, divided and multiplied by {OUTSIDE_FACTOR:g}: outside the fits",
        )
    low, high = sorted((gent, log_modulus(hardness)))
    return ModulusRange(
        low=low, high=high, inside=hardness >= GENT_FROM, source=f"{GENT_SOURCE}; {LOG_SOURCE}"
    )


def _on_scale(hardness: float) -> float:
    if not 0 < hardness < 100:
        raise ValueError(f"hardness {hardness:g} is outside the Shore A scale, 0 to 100")
    return hardness


def _wrong(key: str, message: str) -> ProfileError:
    return ProfileError([Complaint(key=f"compound.{key}", message=message)])
