"""A thumb or a stone on the wall: a point load spread along the roller by the wall's own bending.

The plane study knows line loads only.  Along the roller the wall over a chamber acts as a beam on an elastic
bed whose stiffness is the plane study's; its bending carries a point load to both sides.  An estimate,
never checked against a solid model here.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from rollergen.spec.trace import Figure

SOURCE = "beam on an elastic foundation, M. Hetenyi 1946 (formula from memory)"


@dataclass(frozen=True, slots=True, kw_only=True)
class PointLoad:
    """What a point load meets: ``point_stiffness_n_mm`` far from the ends, ``end_point_stiffness_n_mm`` at one.

    ``spread_length_mm`` is how far to either side the load is felt; ``point_load_words`` says what it is worth.
    """

    point_stiffness_n_mm: float
    end_point_stiffness_n_mm: float
    spread_length_mm: float
    point_load_words: str


def point_load(
    *, line_stiffness: float, modulus: float, width: float, wall: float, length: float
) -> PointLoad:
    """Point stiffness K = 2 k / lambda, lambda = (k / (4 E I))^(1/4), I = width wall^3 / 12.

    ``line_stiffness`` k: N/mm per mm of roller, of the plane study over the chamber; ``modulus`` E in MPa;
    ``width`` of the wall strip between its webs and its ``wall`` thickness, ``length`` of the segment, mm.
    At a free end the same beam is half as long: k / (2 lambda).  Shear of the strip, its curvature and the
    ribs on it are left out.  Source: Hetenyi 1946, from memory.  Raises ValueError for numbers not above 0.
    """
    k, E = line_stiffness, modulus
    if not min(k, E, width, wall, length) > 0:
        raise ValueError("line stiffness, modulus, width, wall and length must be above 0")
    EI = E * width * wall**3 / 12
    lam = (k / (4 * EI)) ** 0.25
    words = "estimate by a beam on an elastic bed, not checked in three dimensions"
    if length < pi / lam:
        words += (
            f"; the segment is shorter than {pi / lam:.0f} mm, over which the load spreads, so the ends are felt"
            " everywhere and it gives more"
        )
    return PointLoad(
        point_stiffness_n_mm=2 * k / lam,
        end_point_stiffness_n_mm=k / (2 * lam),
        spread_length_mm=1 / lam,
        point_load_words=words,
    )


def _figure(key: str, words: str, formula: str, unit: str) -> Figure:
    return Figure(
        key=key, words=words, formula=formula, source=SOURCE, unit=unit,
        limits="small loads; shear of the strip, its curvature and the ribs left out; not checked in three dimensions",
    )  # fmt: skip


FIGURES = (
    _figure(
        "point_stiffness_n_mm",
        "force per mm of travel of a point load on the wall over a chamber, far from the ends",
        "2 k / lambda, lambda = (k / (4 E I))^(1/4), I = width wall^3 / 12, k = stiffness over the chamber",
        "N/mm",
    ),
    _figure(
        "end_point_stiffness_n_mm",
        "force per mm of travel of a point load on the wall over a chamber, at a free end",
        "k / (2 lambda)",
        "N/mm",
    ),
    _figure(
        "spread_length_mm", "how far to either side of a point load the wall carries it", "1 / lambda", "mm"
    ),
)
