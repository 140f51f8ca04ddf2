"""Lengths in which bolts and pins are sold, and which of them a hole takes.

Steps are values from memory (ISO 4762 bolts, ISO 8735 and ISO 2338 pins; bolts above 160 mm as dealers keep them).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor

BOLTS = (8, 10, 12, 16, *range(20, 75, 5), *range(80, 510, 10))  # mm under the head
PINS = (*range(8, 34, 2), *range(35, 105, 5), *range(120, 520, 20))  # mm
LONGEST_BOLT = {5: 100, 6: 150, 8: 200, 10: 300, 12: 300, 16: 300}  # mm by thread, as dealers keep them
LONGEST_PIN = 10.0  # diameters: 6 mm to 60, 10 mm to about 100, 20 mm to 200
PIN_HELD = 6.0  # mm a pin stands in its piece at least
ROUNDING = 1e-9  # mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Sold:
    """A length as drawn (mm), and what to ask for in words; cut to length where no sold one does."""

    length: float
    words: str


def sold_bolt(thread: float, *, grip: float, wanted: float, most: float) -> Sold:
    """A bolt for plates ``grip`` mm thick: ``wanted`` long or the next longer up to ``most``.

    Else the longest that still holds by one diameter of thread, else a longer one cut.
    """
    longer = [length for length in BOLTS if wanted - ROUNDING <= length <= most + ROUNDING]
    shorter = [length for length in BOLTS if grip + thread - ROUNDING <= length < wanted]
    if longer or shorter:
        length = min(longer) if longer else max(shorter)
        words = f"M{thread:g} x {length}"
        longest = LONGEST_BOLT.get(round(thread))
        if longest is not None and length > longest:
            words += f" (sold to about {longest} mm: take a stud and nuts, or a thicker --bolt)"
        return Sold(length=float(length), words=words)
    return _cut(f"M{thread:g} x", BOLTS, wanted)


def sold_dowel(diameter: float, *, whole: float, least: float) -> Sold:
    """A dowel that stands on the underside of a hole ``whole`` mm long: as long as that holds, ``least`` at least.

    Else the next longer, which stands out above.  Longer than pins are sold, it is cut to the hole from ground bar.
    """
    inside = [length for length in PINS if least - ROUNDING <= length <= whole + ROUNDING]
    above = [length for length in PINS if length > whole]
    if not inside and not above:
        return _cut(f"diameter {diameter:g} mm x", PINS, whole)
    length = max(inside) if inside else min(above)
    out = "" if inside else f", {length - whole:.1f} mm of it above the top plate"
    if length > LONGEST_PIN * diameter:
        return _of_bar(diameter, whole)
    return Sold(length=float(length), words=f"diameter {diameter:g} mm x {length} mm{out}")


def sold_pin(diameter: float, *, whole: float, plate: float) -> Sold:
    """A pin through a plate into a piece, ``whole`` mm to the ceiling of its hole: the longest that goes in."""
    inside = [length for length in PINS if plate + PIN_HELD - ROUNDING <= length <= whole + ROUNDING]
    if not inside:
        return _cut(f"diameter {diameter:g} mm x", PINS, whole)
    length = max(inside)
    if length > LONGEST_PIN * diameter:
        return _of_bar(diameter, whole)
    return Sold(length=float(length), words=f"diameter {diameter:g} mm x {length} mm")


def _of_bar(diameter: float, length: float) -> Sold:
    """Longer than pins are sold: ground bar, as long as its hole to a tenth of a millimetre below."""
    down = floor(length * 10 + ROUNDING) / 10
    return Sold(length=down, words=f"diameter {diameter:g} mm x {down:.1f} mm of ground bar: cut the thread")


def _cut(start: str, lengths: tuple[int, ...], to: float) -> Sold:
    bought = next((length for length in lengths if length >= to), None)
    words = f"{start} {to:.1f} mm, of bar" if bought is None else f"{start} {bought} cut to {to:.1f} mm"
    return Sold(length=to, words=words)
