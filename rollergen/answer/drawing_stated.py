"""Numbers as a drawing says them, and the tolerance each one gets from the stated class."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, degrees, radians, sin

from rollergen.shape.views import Stated
from rollergen.spec.tolerances import Dimension, MouldClass, moulding_tolerance


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """How closely the casting is held: class of ISO 3302-1, and whether the cavity is split lengthwise.

    Length, wall, web and hub wall always lie across mould parts: the lid, and the cores in the cavity.
    """

    grade: MouldClass = "M3"
    dimension: Dimension = "fixed"

    def within(self, size: float) -> float:
        """Plus-minus of a size formed by the cavity (mm)."""
        return moulding_tolerance(size, self.grade, self.dimension)

    def by_core(self, size: float) -> float:
        """Plus-minus of a size formed by one core alone, as bore and chamber corners are (mm)."""
        return moulding_tolerance(size, self.grade, "fixed")

    def across(self, size: float) -> float:
        """Plus-minus of a size between two mould parts (mm)."""
        return moulding_tolerance(size, self.grade, "closure")


def amount(value: float, decimals: int = 3) -> str:
    """A number as short as it may be: 36.6, 112, 139.7; at most ``decimals`` places."""
    text = f"{round(value, decimals) + 0.0:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def angle_amount(rad: float) -> str:
    """An angle as a drawing says it: 15°, 51.429°."""
    return f"{amount(degrees(rad))}°"


def stated(
    value: float,
    *keys: str,
    held: float | None = None,
    times: int = 1,
    before: str = "",
    after: str = "",
    reference: bool = False,
) -> Stated:
    """A dimension's words round its number; ``times`` > 1 writes "4× " in front."""
    repeated = f"{times}× " if times > 1 else ""
    return Stated(
        keys=keys,
        value=value,
        plus_minus=held,
        before=repeated + before,
        after=after,
        reference=reference,
    )


def best_slope_first(angles: tuple[float, ...]) -> tuple[float, ...]:
    """Directions of leaders (rad), those nearest to a slope of 50 degrees in any quarter first: they read best."""

    def off(angle: float) -> float:
        return round(abs(atan2(abs(sin(angle)), abs(cos(angle))) - radians(50)), 6)

    return tuple(sorted(angles, key=off))
