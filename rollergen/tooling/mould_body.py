"""One body of the mould: its Part in place, what it is made of, and where else the same body is used."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rollergen.shape.part import Part

Role = Literal["make", "buy", "reference"]
Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """``name`` as in the parts list; ``part`` lies where it belongs in the closed mould.

    ``role``: "make", "buy", or "reference" (the casting: not to be machined).  ``copy_of``: name of a body of the
    same shape and ``turned`` the angle about +z that carries that one here (rad), so that a file holds the shape
    once.  ``sector``: (start, sweep) in rad when the body is only the part of ``part`` between two half-planes through
    the axis, which the kernel has to cut.  ``apart``: which way it is moved in an exploded picture, in steps.
    """

    name: str
    part: Part
    role: Role
    material: str
    density_kg_m3: float
    copy_of: str = ""
    turned: float = 0.0
    sector: tuple[float, float] | None = None
    apart: Vector = (0.0, 0.0, 0.0)
    note: str = ""
