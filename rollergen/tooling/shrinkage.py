"""How much smaller the part is than the mould it was cast in, and what that makes of the parameters."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Shrinkage:
    """Linear shrinkage from cavity to part, across (``radial``) and along the axis (``axial``), as shares of the cavity.

    0.014 is 1.4 %.  ``source`` says where the number is from; it is never left to a default.
    """

    radial: float
    axial: float
    source: str
