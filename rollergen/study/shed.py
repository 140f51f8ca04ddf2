"""Shedding by spin: the rotation speed at which a layer of mud leaves a roller without any help.

An even layer of thickness t on radius R, just holding: adhesion, the layer's own hoop strength where it forms a
closed ring, and its weight pull it in, the spin throws it out.

    omega^2 = (s_a + s_t t / R + rho g t) / (rho t (R + t / 2))     all round: it must leave at the top too
    omega^2 = (s_a + s_t t / R - rho g t) / (rho t (R + t / 2))     at the bottom, where its weight helps

Left out: peeling from an edge, water draining, flexing walls and neighbours that wipe, which all help; roots
and haulm that bind, which do not.  Adhesion is the weak number: none was found measured for wet soil on
cast polyurethane.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, pi

import numpy as np
from numpy.typing import NDArray

from rollergen.spec.kinds import GRAVITY
from rollergen.spec.trace import Figure

Floats = NDArray[np.float64]
Band = tuple[float, float]
PER_MINUTE = 30 / pi


@dataclass(frozen=True, slots=True, kw_only=True)
class ShedReport:
    """Spin speeds are (at lowest, at highest adhesion), rpm; stresses in kPa.

    ``spin_speed_rpm`` all round, ``bottom_speed_rpm`` at the bottom only; ``working_speed_rpm`` as it turns.
    ``throw_kpa``: pull of the spin on the layer at the working speed.  ``verdict``: "spin alone", "spin where it
    sticks least", or "not by spin".
    """

    spin_speed_rpm: Band
    bottom_speed_rpm: Band
    working_speed_rpm: float
    throw_kpa: float
    adhesion_kpa: Band
    layer_mm: float
    verdict: str
    words: tuple[str, ...]


def spin_speed(
    adhesion: Floats | float,
    *,
    layer: Floats | float,
    density_kg_m3: float,
    radius: float,
    tensile: float = 0.0,
    bottom: bool = False,
) -> Floats:
    """Speed (rad/s) at which a layer leaves; ``adhesion`` and ``tensile`` in MPa, ``layer`` and ``radius`` in mm.

    Arrays broadcast.  ``tensile``: hoop strength of a closed ring of mud, 0 for a cracked one.  0 where its own
    weight is enough (bottom only).  Raises ValueError unless layer, density and radius are above 0 and the
    stresses 0 or more.
    """
    s_a, t = np.asarray(adhesion, dtype=np.float64) * 1e6, np.asarray(layer, dtype=np.float64) * 1e-3
    R, rho = radius * 1e-3, density_kg_m3
    if not (np.all(t > 0) and 0 < R < inf and 0 < rho < inf and np.all(s_a >= 0) and tensile >= 0):
        raise ValueError(
            f"a layer of {np.min(layer):g} mm on radius {radius:g} mm, {rho:g} kg/m^3, adhesion {np.min(adhesion):g} and"
            f" strength {tensile:g} MPa: layer, radius and density must be above 0, stresses 0 or more"
        )
    weight = rho * GRAVITY * t
    hold = s_a + tensile * 1e6 * t / R + (-weight if bottom else weight)
    speed: Floats = np.sqrt(np.maximum(hold, 0.0) / (rho * t * (R + t / 2)))
    return speed


def throw_stress(*, layer: float, density_kg_m3: float, radius: float, rotation_speed: float) -> float:
    """Pull of the spin on a layer (MPa): rho t (R + t/2) omega^2."""
    t, R = layer * 1e-3, radius * 1e-3
    return density_kg_m3 * t * (R + t / 2) * rotation_speed**2 * 1e-6


def shed(
    *,
    adhesion: Band,
    layer: float,
    density_kg_m3: float,
    radius: float,
    rotation_speed: float,
    tensile: float = 0.0,
) -> ShedReport:
    """Whether spin alone sheds a soil at a working speed (rad/s); ``radius`` of the body, where mud lies (mm).

    Raises ValueError as ``spin_speed``, and for a rotation speed of 0.
    """
    if not abs(rotation_speed) > 0:
        raise ValueError("a roller that stands still throws nothing off; give its rotation speed")
    held = np.array(adhesion)

    def speeds(bottom: bool) -> Band:
        found = spin_speed(
            held, layer=layer, density_kg_m3=density_kg_m3, radius=radius, tensile=tensile, bottom=bottom
        )
        return float(found[0]), float(found[1])

    low, high = speeds(bottom=False)
    lowest = speeds(bottom=True)
    working = abs(rotation_speed)
    throw = throw_stress(layer=layer, density_kg_m3=density_kg_m3, radius=radius, rotation_speed=working)
    verdict = (
        "spin alone" if working >= high else "spin where it sticks least" if working >= low else "not by spin"
    )
    return ShedReport(
        spin_speed_rpm=(low * PER_MINUTE, high * PER_MINUTE),
        bottom_speed_rpm=(lowest[0] * PER_MINUTE, lowest[1] * PER_MINUTE),
        working_speed_rpm=working * PER_MINUTE,
        throw_kpa=throw * 1e3,
        adhesion_kpa=(adhesion[0] * 1e3, adhesion[1] * 1e3),
        layer_mm=layer,
        verdict=verdict,
        words=(
            _words(verdict, low * PER_MINUTE, high * PER_MINUTE, working * PER_MINUTE, throw * 1e3, adhesion),
            *_at_the_bottom(verdict, lowest, working),
            "adhesion is the weak number: none was found measured for wet soil on cast polyurethane; enter your own",
        ),
    )


def _words(verdict: str, low: float, high: float, working: float, throw_kpa: float, adhesion: Band) -> str:
    held = f"{adhesion[0] * 1e3:.3g} to {adhesion[1] * 1e3:.3g} kPa"
    return {
        "spin alone": f"at {working:.0f} rpm the layer leaves by spin alone, even where it sticks most ({high:.0f} rpm)",
        "spin where it sticks least": (
            f"at {working:.0f} rpm the layer leaves where it sticks least; where it sticks most it takes {high:.0f} rpm"
        ),
        "not by spin": (
            f"at {working:.0f} rpm spin pulls with {throw_kpa:.3g} kPa, the mud holds with {held}: it takes {low:.0f} to"
            f" {high:.0f} rpm, or flexing walls and a neighbour that wipes"
        ),
    }[verdict]


def _at_the_bottom(verdict: str, lowest: Band, working: float) -> tuple[str, ...]:
    """What its weight adds to a verdict that spin alone does not reach all round."""
    if verdict == "spin alone" or working < lowest[0]:
        return ()
    where = "" if working >= lowest[1] else " where it sticks least"
    return (f"at the bottom of the turn, where its weight helps, it leaves already{where}",)


def _speed(key: str, where: str, sign: str) -> Figure:
    return Figure(
        key=key,
        words=f"speed at which the layer leaves {where}, at lowest and highest adhesion",
        formula=f"omega^2 = (s_a + s_t t / R {sign} rho g t) / (rho t (R + t / 2)), R = body radius",
        source="balance of an even layer on a spinning cylinder, worked out for this project",
        limits="spin alone: no peeling, draining, flexing or wiping; no roots that bind",
        unit="1/min",
    )


FIGURES = (
    _speed("spin_speed_rpm", "all round", "+"),
    _speed("bottom_speed_rpm", "at the bottom only", "-"),
    Figure(key="working_speed_rpm", words="rotation speed of the roller", formula="input", source="the duty",
           limits="sign does not matter", unit="1/min"),
    Figure(key="throw_kpa", words="pull of the spin on the layer at the working speed",
           formula="rho t (R + t/2) omega^2", source="centrifugal stress", limits="even layer", unit="kPa"),
    Figure(key="adhesion_kpa", words="pull with which the mud holds, lowest and highest", formula="input",
           source="the duty or its preset, with its mark", limits="the weakest number of all", unit="kPa"),
    Figure(key="layer_mm", words="thickness of the mud", formula="input", source="the duty", limits="even all round",
           unit="mm"),
    Figure(key="verdict", words="whether spin alone sheds the layer", formula="working speed against both spin speeds",
           source="comparison", limits="spin only; flexing and wiping help", unit="-"),
)  # fmt: skip
