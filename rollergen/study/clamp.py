"""How hard a squeezed stack presses on its end plates, and what torque that passes on by friction.

The force is E A s: rubber in the section times squeeze, a range because a hardness only gives a range of
moduli.  End faces that slide (lubricated, or against a like face that bulges along with them, as at a joint)
add nothing.  End faces held all over (glued, or stuck to a rough end plate) stop the ends from bulging and
make a piece stiffer by 1 + 2 S^2; with a whole stack only the two outermost faces can be held, so this is an
upper bound.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, pi

from rollergen.spec.trace import Figure

Band = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClampReport:
    """How hard a squeezed stack presses and what torque its end faces pass on by friction, (low, high).

    ``force_free_ends_n``: end faces slide and bulge with the rest.  ``force_bonded_ends_n``: end faces held
    all over, the upper bound.  ``joint_torque_n_m``: one face, with sliding ends.  ``stack_torque_n_m``:
    both end plates together, when both turn with the shaft.
    """

    force_free_ends_n: Band
    force_bonded_ends_n: Band
    shape_factor: float
    bonded_factor: float
    friction_radius_mm: float
    joint_torque_n_m: Band
    stack_torque_n_m: Band


def clamp(
    squeeze: float,
    *,
    area: float,
    free_perimeter: float,
    length: float,
    modulus: Band,
    friction: Band,
    inner: float,
    outer: float,
) -> ClampReport:
    """Axial force and friction torque of a stack squeezed by the share ``squeeze``.

    ``area``: rubber in the section (mm2).  ``free_perimeter``: all the outlines that can bulge (mm): outside,
    chambers, and the bore where it does not touch the shaft.  ``length``: the shortest piece (mm), which
    ends that stick stiffen most.  ``modulus``: Young's, low and high (MPa).  ``friction``: low and high.
    ``inner``, ``outer``: ring of the end face that presses (mm).

    Valid for small squeeze (at 2.5 % the rubber's own curve adds about 2.5 %) and fresh rubber: it
    relaxes.  Raises ValueError for numbers out of range.
    """
    _check_clamp(squeeze, area, free_perimeter, length, modulus, friction)
    shape = area / (free_perimeter * length)
    held = bonded_factor(shape)
    force = (modulus[0] * area * squeeze, modulus[1] * area * squeeze)
    radius = friction_radius(inner, outer)
    torque = (friction[0] * force[0] * radius / 1000, friction[1] * force[1] * radius / 1000)
    return ClampReport(
        force_free_ends_n=force,
        force_bonded_ends_n=(force[0] * held, force[1] * held),
        shape_factor=shape,
        bonded_factor=held,
        friction_radius_mm=radius,
        joint_torque_n_m=torque,
        stack_torque_n_m=(2 * torque[0], 2 * torque[1]),
    )


def bonded_factor(shape_factor: float) -> float:
    """How many times stiffer a block is with both ends held: 1 + 2 S^2; 1 for ends that slide.

    S = loaded area / area free to bulge.  Source: Gent and Lindley 1959, Proc. Inst. Mech. Eng. 173 (from
    memory); the same form on a moulder's design page.  Made for solid blocks; with chambers a rough guide.
    """
    return 1 + 2 * shape_factor**2


def friction_radius(inner: float, outer: float) -> float:
    """Mean radius (mm) at which friction acts on a ring under even pressure: 2/3 (b^3 - a^3)/(b^2 - a^2).

    Source: disc clutch, any machine elements book.  Raises ValueError unless 0 <= inner < outer.
    """
    if not 0 <= inner < outer < inf:
        raise ValueError(f"face from {inner:g} to {outer:g} mm must rise from 0")
    a, b = inner, outer
    return 2 / 3 * (a * a + a * b + b * b) / (a + b)


def face_area(inner: float, outer: float) -> float:
    """Area (mm2) of the ring a face presses with, for a check against the section's."""
    return pi * (outer**2 - inner**2)


def _check_clamp(
    squeeze: float, area: float, free_perimeter: float, length: float, modulus: Band, friction: Band
) -> None:
    if not 0 <= squeeze < 1:
        raise ValueError(f"squeeze {squeeze:g} must be from 0 to below 1")
    sizes = {"area": area, "free perimeter": free_perimeter, "length": length, "modulus": modulus[0]}
    for name, size in sizes.items():
        if not 0 < size < inf:
            raise ValueError(f"{name} {size:g} must be above 0")
    if not modulus[0] <= modulus[1] < inf or not 0 <= friction[0] <= friction[1] < inf:
        raise ValueError(f"modulus {modulus} and friction {friction} must rise, friction from 0")


_FRESH = "small squeeze, fresh rubber at the temperature it was tested at; it relaxes and swells"


def _torque(key: str, words: str, formula: str, limits: str) -> Figure:
    return Figure(
        key=key,
        words=words,
        formula=formula,
        source="disc clutch under even pressure, any machine elements book",
        limits=f"{limits}; sliding ends' force, nothing passed on by the bore; {_FRESH}",
        unit="N m",
    )


FIGURES = (
    Figure(
        key="force_free_ends_n",
        words="axial force of the squeezed stack, end faces that slide, lowest and highest",
        formula="E A s",
        source="Hooke; E from the hardness by two fits, or as measured",
        limits=_FRESH,
        unit="N",
    ),
    Figure(
        key="force_bonded_ends_n",
        words="axial force of the squeezed stack, end faces held all over, lowest and highest",
        formula="E A s (1 + 2 S2), S of the shortest piece",
        source="Gent and Lindley 1959 (from memory)",
        limits=f"upper bound: like faces at a joint bulge together and hold nothing; {_FRESH}",
        unit="N",
    ),
    Figure(
        key="shape_factor",
        words="loaded area over area free to bulge",
        formula="S = A / (free perimeter x length)",
        source="definition; Gent and Lindley 1959 (from memory)",
        limits="with chambers a rough guide",
        unit="1",
    ),
    Figure(
        key="bonded_factor",
        words="how many times stiffer with end faces held than with ends that slide",
        formula="1 + 2 S2",
        source="Gent and Lindley 1959 (from memory); a moulder's design page",
        limits="made for solid blocks",
        unit="1",
    ),
    Figure(
        key="friction_radius_mm",
        words="radius at which friction on an end face acts",
        formula="2/3 (b3 - a3) / (b2 - a2)",
        source="disc clutch under even pressure, any machine elements book",
        limits="face taken as a full ring from inner to outer radius",
        unit="mm",
    ),
    _torque(
        "joint_torque_n_m", "torque one end face passes on, lowest and highest", "friction F r", "one face"
    ),
    _torque(
        "stack_torque_n_m",
        "torque the clamped stack takes from its end plates, lowest and highest",
        "2 friction F r",
        "both end plates turn with the shaft",
    ),
)
