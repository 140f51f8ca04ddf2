"""One description for every solid and mesh we make: sides and flat caps.

A side is an outline carried along z with a twist, moved inward by an offset that is linear in z
between levels (draft, chamfer, recess).  A cap is a flat end, bounded by ends of sides.  ``solid`` and
``mesh`` are one function each over a Part; nobody needs a boolean.
"""

from __future__ import annotations

from dataclasses import dataclass

from rollergen.shape.outline import Outline


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """An outline carried along z.

    ``levels``: (z, offset) in mm, z strictly rising, offset measured from the outline towards the
    INSIDE OF THE OUTLINE (positive shrinks the curve, negative grows it), linear between levels.
    ``turn_per_mm``: rad per mm; the outline as written sits at z = 0, everything else is turned by
    ``turn_per_mm * z`` (absolute z, so pieces of one part continue each other).
    ``material_inside``: True for a wall whose material lies inside the curve (body), False for a hole.
    """

    outline: Outline
    levels: tuple[tuple[float, float], ...]
    turn_per_mm: float = 0.0
    material_inside: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Cap:
    """A flat face at height ``z``. ``up``: its outward normal is +z.

    ``outer`` and ``holes`` name ends of sides as (side index, "low" | "high").
    """

    z: float
    up: bool
    outer: tuple[int, str]
    holes: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A closed body: every end of every side is used by exactly one cap."""

    name: str
    sides: tuple[Side, ...]
    caps: tuple[Cap, ...]
    colour: str = "#d8743a"
