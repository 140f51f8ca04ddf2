"""The flex that breaks the bond: energy stored in a mud layer stretched and bent by its wall, against its bond.

A layer of thickness t on a surface that stretches by De and bends by Dk is stretched by e(y) = De + Dk y at a
height y in it.  It peels when the energy it would set free is at least the bond's energy:

    G = E'/2 (t e_m^2 + t^3 Dk^2 / 12) >= Gamma,    e_m = De + Dk t / 2,    E' = E / (1 - nu^2)

No fibre carries more than the mud's own strength s: where E' e passes s it cracks or smears, and stores s^2/(2 E')
from there on.  Spin, weight and inertia are not in this balance.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, isfinite, pi, sqrt

import numpy as np

from rollergen.spec.trace import Figure

Band = tuple[float, float]
Ends = tuple[float, float, float]  # where the mud lets go most easily, in the middle, where it holds hardest
POISSON = 0.4  # of wet soil; value from memory, 0.5 when it is saturated
THICKEST = 200.0  # mm: the thickest layer a duty can name
SCAN = 33  # muds tried from the softest to the stiffest
J_PER_M2 = 1000.0  # in one N/mm

ASSUMPTIONS = (
    "taken for the flex: mud elastic until it fails at its own strength, stiff mud strong and soft mud weak; stretch and"
    " bending averaged along the surface over the mud's thickness to each side, the greatest of both at one place; one"
    " press, on rubber far thicker than the mud",
    "left out for the flex: shear along the bond, which makes it tougher; water, which heals it; repeated presses and"
    " edges to start from, which help",
    "modulus and bond energy of wet soil on polyurethane are assumed, none was found measured: enter your own",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceFlex:
    """How the roller's surface moves under what presses on it.

    ``strain``: greatest change of the hoop strain of the surface, share, 0 or more; ``curvature_change``: of its
    curvature, 1/mm, 0 or more, taken to stretch the mud the same way; both as the mud feels them, averaged over
    about its thickness.  ``travel`` mm under ``line_load`` N/mm.  ``where`` says which place was pressed.
    """

    strain: float
    curvature_change: float
    travel: float
    line_load: float
    where: str

    def __post_init__(self) -> None:
        said = (self.strain, self.curvature_change, self.travel, self.line_load)
        if not all(isfinite(value) and value >= 0 for value in said):
            raise ValueError(
                f"flex of {self.strain:g}, {self.curvature_change:g} 1/mm, {self.travel:g} mm under"
                f" {self.line_load:g} N/mm: all must be 0 or more; give sizes of changes, not their signs"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Mud:
    """What the flex half must know of a soil, each lowest and highest: MPa, N/mm, MPa (tensile strength)."""

    modulus: Band
    bond_energy: Band
    strength: Band


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """The rubber over one chamber as a mass on a spring: ``thickness`` and ``width`` mm, its density."""

    thickness: float
    width: float
    density_kg_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BondReport:
    """Whether the flex breaks the bond; threes are (mud that lets go easily, in the middle, that holds hard).

    ``own_strain`` and ``bare_strain`` are for the mud in the middle.  ``flex_layer_mm``: thinnest layer that
    peels, for the first and the last mud; None where none up to 200 mm does.  ``inertial_kpa``, an upper bound,
    and ``wall_frequency_hz`` are None without chambers.
    """

    flex_strain: float
    flex_curvature_1_mm: float
    flex_travel_mm: float
    line_load_n_mm: float
    flex_where: str
    mud_energy_j_m2: Ends
    bond_energy_j_m2: Ends
    bond_broken: tuple[bool, bool, bool]
    bare_strain: float
    own_strain: float
    flex_layer_mm: tuple[float | None, float | None]
    inertial_kpa: float | None
    wall_frequency_hz: float | None


def plane_modulus(modulus: float, poisson: float = POISSON) -> float:
    """Modulus of a layer held along the roller (same unit): E / (1 - nu^2)."""
    return modulus / (1 - poisson**2)


def released_energy(
    *,
    strain: float,
    curvature_change: float,
    layer: float,
    modulus: float,
    strength: float = inf,
    poisson: float = POISSON,
) -> float:
    """Energy a strained layer sets free when it leaves, N/mm (1 N/mm = 1000 J/m^2).

    ``strain`` at the surface and ``curvature_change`` (1/mm), of one sign where both stretch; ``layer`` mm;
    ``modulus`` (Young's) and ``strength`` MPa.  Exact for fibres that carry min(E' |e|, strength).
    Raises ValueError unless layer and modulus are above 0, the strength 0 or more, Poisson's ratio 0 to 0.5.
    """
    if not (0 < layer < inf and 0 < modulus < inf and strength >= 0 and 0 <= poisson <= 0.5):
        raise ValueError(
            f"a layer of {layer:g} mm with modulus {modulus:g} MPa, strength {strength:g} MPa and Poisson's ratio"
            f" {poisson:g}: layer and modulus must be above 0, strength 0 or more, the ratio from 0 to 0.5"
        )
    E = plane_modulus(modulus, poisson)
    fails_at = strength / E

    def summed(e: float) -> float:
        """Integral of min(|x|, fails_at)^2 from 0 to e."""
        inner = min(abs(e), fails_at)
        outer = fails_at**2 * (abs(e) - fails_at) if abs(e) > fails_at else 0.0
        return (inner**3 / 3 + outer) * (1 if e >= 0 else -1)

    top = strain + curvature_change * layer
    middle = (strain + top) / 2
    if abs(top - strain) <= 1e-6 * abs(middle):  # the difference of two sums would lose its digits
        return E / 2 * layer * min(abs(middle), fails_at) ** 2
    return E / 2 * layer * (summed(top) - summed(strain)) / (top - strain)


def critical_strain(*, bond_energy: float, layer: float, modulus: float, poisson: float = POISSON) -> float:
    """Stretch of a surface that peels a layer it does not bend: e_c = sqrt(2 Gamma / (E' t)), share."""
    return sqrt(2 * bond_energy / (plane_modulus(modulus, poisson) * layer))


def film_energy(*, stress: float, layer: float, modulus: float, poisson: float = POISSON) -> float:
    """Steady release of a film under an even stress (MPa), N/mm: G = (1 - nu^2) s^2 h / (2 E).

    Source: J. W. Hutchinson, Z. Suo 1992, Mixed mode cracking in layered materials (from memory).
    """
    return (1 - poisson**2) * stress**2 * layer / (2 * modulus)


def inertial_bound(
    flexed: SurfaceFlex, *, layer: float, density_kg_m3: float, wall: Wall
) -> tuple[float, float] | None:
    """(pull MPa, frequency Hz) on mud as a pressed wall springs back free and undamped: an UPPER bound only.

    omega^2 = k / (m_wall + m_mud), pull = rho t omega^2 d, k = line load / travel.  A wall that leaves a nip is
    let go as fast as the roller turns, not at once.  None without travel.
    """
    if not flexed.travel > 0:
        return None
    k = flexed.line_load / flexed.travel * 1e6  # N/m per m of roller
    wall_kg_m = wall.density_kg_m3 * wall.thickness * wall.width * 1e-6
    mud_kg_m = density_kg_m3 * layer * wall.width * 1e-6
    omega = sqrt(k / (wall_kg_m + mud_kg_m))
    return density_kg_m3 * layer * omega**2 * flexed.travel * 1e-12, omega / (2 * pi)


def middle_of(band: Band) -> float:
    """The middle of a range that spans orders of magnitude: geometric, arithmetic where it starts at 0."""
    low, high = band
    return sqrt(low * high) if low > 0 else (low + high) / 2


def stored_ends(flexed: SurfaceFlex, mud: Mud, layer: float) -> Ends:
    """Energy the mud can set free (N/mm): most over all muds of the soil, that of the middle one, least."""

    def of(modulus: float, strength: float) -> float:
        return released_energy(
            strain=flexed.strain,
            curvature_change=flexed.curvature_change,
            layer=layer,
            modulus=modulus,
            strength=strength,
        )

    stiff = np.geomspace(*mud.modulus, SCAN)
    weakest = max(mud.strength[0], 1e-12)  # a geometric row cannot start at 0
    strong = np.geomspace(weakest, max(mud.strength[1], weakest), SCAN)
    tried = [of(float(E), float(s)) for E, s in zip(stiff, strong, strict=True)]
    return max(tried), of(middle_of(mud.modulus), middle_of(mud.strength)), min(tried)


def break_bond(
    flexed: SurfaceFlex, mud: Mud, *, layer: float, density_kg_m3: float, wall: Wall | None
) -> BondReport:
    """Whether a flexing surface peels a layer (mm) of mud.  ``wall`` is None without chambers.

    Errors as ``released_energy``.
    """
    stored = stored_ends(flexed, mud, layer)
    asked = (mud.bond_energy[0], middle_of(mud.bond_energy), mud.bond_energy[1])
    modulus = middle_of(mud.modulus)
    bound = (
        None if wall is None else inertial_bound(flexed, layer=layer, density_kg_m3=density_kg_m3, wall=wall)
    )
    return BondReport(
        flex_strain=flexed.strain,
        flex_curvature_1_mm=flexed.curvature_change,
        flex_travel_mm=flexed.travel,
        line_load_n_mm=flexed.line_load,
        flex_where=flexed.where,
        mud_energy_j_m2=(stored[0] * J_PER_M2, stored[1] * J_PER_M2, stored[2] * J_PER_M2),
        bond_energy_j_m2=(asked[0] * J_PER_M2, asked[1] * J_PER_M2, asked[2] * J_PER_M2),
        bond_broken=(stored[0] >= asked[0], stored[1] >= asked[1], stored[2] >= asked[2]),
        bare_strain=critical_strain(bond_energy=asked[1], layer=layer, modulus=modulus),
        own_strain=middle_of(mud.strength) / plane_modulus(modulus),
        flex_layer_mm=(
            _thinnest(lambda t: stored_ends(flexed, mud, t)[0] >= asked[0]),
            _thinnest(lambda t: stored_ends(flexed, mud, t)[2] >= asked[2]),
        ),
        inertial_kpa=None if bound is None else bound[0] * 1e3,
        wall_frequency_hz=None if bound is None else bound[1],
    )


def _thinnest(peels: Callable[[float], bool]) -> float | None:
    """Thinnest layer (mm) that peels, to 0.1 %; what is stored grows with the layer.  None beyond 200 mm."""
    low, high = 0.01, THICKEST
    if not peels(high):
        return None
    if peels(low):
        return low
    while high > 1.001 * low:
        middle = sqrt(low * high)
        low, high = (low, middle) if peels(middle) else (middle, high)
    return high


_WEAK = "elastic, brittle mud and weak soil data: an order of magnitude"
_ENERGY = "energy balance of a thin layer, worked out for this project; film form: Hutchinson and Suo 1992 (from memory)"
FIGURES = (
    Figure(key="flex_strain", words="greatest change of the surface's hoop strain, as the mud feels it",
           formula="mean over the mud's thickness to each side, greatest all round",
           source="flex study", limits="at the line load and place told", unit="1"),
    Figure(key="flex_curvature_1_mm", words="greatest change of the surface's curvature, as the mud feels it",
           formula="mean over the mud's thickness to each side, greatest all round",
           source="flex study", limits="taken to lie where the strain is greatest", unit="1/mm"),
    Figure(key="flex_travel_mm", words="how far the surface is pressed in", formula="input",
           source="flex study", limits="at the line load told", unit="mm"),
    Figure(key="line_load_n_mm", words="what presses on the roller, per mm of its length", formula="input",
           source="the duty or the command", limits="steady", unit="N/mm"),
    Figure(key="flex_where", words="which place was pressed", formula="input from the flex study", source="flex study",
           limits="the place that stretches most", unit="-"),
    Figure(key="mud_energy_j_m2", words="energy the stretched mud sets free: most, middle, least over the soil's range",
           formula="integral over the layer of min(E' |e|, s)^2 / (2 E'), e = De + Dk y, E' = E / (1 - 0.4^2)",
           source=_ENERGY, limits=_WEAK, unit="J/m2"),
    Figure(key="bond_energy_j_m2", words="energy that peels the mud off: lowest, middle, highest", formula="input",
           source="the duty or its preset, with its mark", limits="none was found measured on polyurethane", unit="J/m2"),
    Figure(key="bond_broken", words="whether the flex peels the mud: let go easily, middle, hold hard",
           formula="mud_energy_j_m2 >= bond_energy_j_m2", source=_ENERGY, limits=_WEAK, unit="-"),
    Figure(key="bare_strain", words="stretch that peels the middle mud without bending and without a limit of strength",
           formula="e_c = sqrt(2 Gamma / (E' t))", source=_ENERGY, limits=_WEAK, unit="1"),
    Figure(key="own_strain", words="stretch at which the middle mud itself cracks or smears", formula="s / E'",
           source="the mud's own tensile strength", limits=_WEAK, unit="1"),
    Figure(key="flex_layer_mm", words="thinnest layer the flex peels: where it lets go easily, where it holds hard",
           formula="smallest t with mud energy >= bond energy", source=_ENERGY, limits="null beyond 200 mm; " + _WEAK,
           unit="mm"),
    Figure(key="inertial_kpa", words="UPPER bound of the pull as a pressed wall springs back",
           formula="rho t omega^2 d, omega^2 = k / (m_wall + m_mud), k = line load / travel",
           source="free undamped mass on a spring", limits="never reached: the nip opens only as fast as the roller turns",
           unit="kPa"),
    Figure(key="wall_frequency_hz", words="frequency of the wall over a chamber with its mud",
           formula="sqrt(k / (m_wall + m_mud)) / (2 pi)", source="mass on a spring",
           limits="line load over travel as spring", unit="Hz"),
)  # fmt: skip
