"""A solid bar's section in numbers: area, second moment, section modulus at the corner, torsion constant."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin, tan

from rollergen.spec.standard_bars import BarSection

SIDES = {"square": 4, "hexagon": 6}
MOST_ROUNDED = 0.25  # corner radius over across flats, up to which the torsion figures were fitted

# Torsion constant J = X across^4 and torsion modulus Q = X across^3, with X = X0 - p^3 (c3 + c4 p + c5 p^2)
# and p = corner radius / half across.  X0 square: Saint-Venant's series; X0 hexagon and all c: solved once by
# boundary collocation with harmonic polynomials, residual below 1e-5; the fit is within 5e-5 of that.
# Handbooks print 0.141 and 0.208 for the square; for the hexagon 1.04 side^4 (0.1156) and 0.188.
_J = {
    "square": (0.1405770, 0.022601, 0.086211, -0.079382),
    "hexagon": (0.1150510, 0.032824, -0.026832, 0.013298),
}
_Q = {
    "square": (0.2081653, 0.029300, 0.061309, -0.078893),
    "hexagon": (0.1876750, 0.021662, -0.029810, 0.012694),
}


def bar_area(section: str, across: float, corner_radius: float) -> float:
    """Area of a bar ``across`` flats with rounded corners, or of a round one of that diameter (mm2).

    A rounded corner of a regular polygon loses r2 (n tan(pi/n) - pi) over all n corners.
    """
    if section not in SIDES:
        return pi / 4 * across**2
    n, a, r = SIDES[section], across / 2, corner_radius
    t = tan(pi / n)
    return n * a**2 * t - (n * t - pi) * r**2


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A solid bar: "square", "hexagon" or "round"; across flats or diameter, and corner radius, mm.

    Raises ValueError for a size that is not above 0 or a corner radius outside 0 to a quarter of it.
    """

    section: BarSection
    across: float
    corner_radius: float = 0.0

    def __post_init__(self) -> None:
        if self.section not in ("square", "hexagon", "round"):
            raise ValueError(f'{self.section!r} is no section of a bar: "square", "hexagon" or "round"')
        if not 0 < self.across < float("inf"):
            raise ValueError(f"a bar {self.across:g} mm across is not one: write a size above 0")
        if not 0 <= self.corner_radius <= MOST_ROUNDED * self.across:
            raise ValueError(
                f"corner radius {self.corner_radius:g} mm of a {self.across:g} mm bar must be from 0 to"
                f" {MOST_ROUNDED * self.across:g} mm, a quarter of it"
            )

    @property
    def words(self) -> str:
        """The bar as people say it: "40 mm square"."""
        return f"{self.across:g} mm {self.section}"

    @property
    def area(self) -> float:
        """mm2."""
        return bar_area(self.section, self.across, self.corner_radius)

    @property
    def second_moment(self) -> float:
        """About any axis through the centre, mm4: a square and a hexagon bend alike in every direction.

        Source: half the polar moment, summed exactly over inner polygon, strips and corner sectors.
        """
        if self.section == "round":
            return pi * self.across**4 / 64
        n, r = SIDES[self.section], self.corner_radius
        h = self.across / 2 - r
        s = 2 * h * tan(pi / n)
        inner = s * h**3 / 4 + s**3 * h / 48
        strip = s * ((h + r) ** 3 - h**3) / 3 + s**3 * r / 12
        R, half = h / cos(pi / n), pi / n
        area, centroid = half * r**2, 2 * r * sin(half) / (3 * half)
        sector = half * r**4 / 2 + 2 * R * area * centroid + area * R**2
        return n * (inner + strip + sector) / 2

    @property
    def reach(self) -> float:
        """From the centre to the outermost fibre, over the corners, mm."""
        if self.section == "round":
            return self.across / 2
        return (self.across / 2 - self.corner_radius) / cos(pi / SIDES[self.section]) + self.corner_radius

    @property
    def corner_modulus(self) -> float:
        """Section modulus at the outermost fibre, mm3: what a bar sees that turns under a fixed load."""
        return self.second_moment / self.reach

    @property
    def flat_modulus(self) -> float:
        """Section modulus with the load square to a flat, mm3; 1.41 times the corner's for a sharp square."""
        return self.second_moment / (self.across / 2)

    @property
    def torsion_constant(self) -> float:
        """J of twist = T L / (G J), mm4."""
        return pi * self.across**4 / 32 if self.section == "round" else self._of(_J) * self.across**4

    @property
    def torsion_modulus(self) -> float:
        """Q of the greatest shear stress T / Q, at the middle of a flat, mm3."""
        return pi * self.across**3 / 16 if self.section == "round" else self._of(_Q) * self.across**3

    @property
    def flat(self) -> float:
        """Width of one flat between its corners, mm; 0 for a round bar."""
        if self.section == "round":
            return 0.0
        return 2 * (self.across / 2 - self.corner_radius) * tan(pi / SIDES[self.section])

    def _of(self, table: dict[str, tuple[float, float, float, float]]) -> float:
        sharp, c3, c4, c5 = table[self.section]
        p = 2 * self.corner_radius / self.across
        return sharp - p**3 * (c3 + c4 * p + c5 * p**2)

    def mass_per_mm(self, density_kg_m3: float) -> float:
        """kg per mm of bar."""
        return self.area * density_kg_m3 * 1e-9


def bore_pressure(bar: Bar, torque: float, length: float) -> tuple[float, float]:
    """(linear, uniform) pressure a torque puts on the flats of a bore, MPa, over ``length`` mm.

    Each flat bears on one half.  Linear: 0 in the middle rising to this at the corner, for a bore that is
    turned rigidly; uniform: the same all over the half.  Square with sharp corners: 3 T / (a2 L) and
    2 T / (a2 L).  Torque N mm.  Raises ValueError for a round bar, which has no flats to bear on.
    """
    if bar.section == "round":
        raise ValueError("a round bar has no flats: it carries torque by key or friction only")
    if not length > 0:
        raise ValueError(f"length {length:g} mm must be above 0")
    T, c, n = abs(torque), bar.flat / 2, SIDES[bar.section]
    return 3 * T / (n * c**2 * length), 2 * T / (n * c**2 * length)
