"""What pressing the rubber costs as it turns: work lost in it per turn, power, and how fast it can warm at most.

What presses runs once round the roller each turn, so every part of the circumference is pressed in and let go
once a turn.  One press of a part as long as ``patch`` stores F d / 2 (per mm of roller); press and release taken
as one half of a sine swing of height d, rubber with a loss factor tan(delta) keeps

    W = pi tan(delta) F d / 2,    at most F d / 2,    times 2 pi R / patch parts a turn.

Taken as a swing about half its depth a press loses half of that: an estimate by a factor of two, and the loss
factor, which moves with temperature and speed, adds to it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite, pi, sqrt, tau

from rollergen.spec.trace import Figure

HEAT_CAPACITY = 1800.0  # J/(kg K) of polyurethane; property page citing Cardarelli, CRC Handbook, Howatson
WARM_LIMIT = 70.0  # C: dynamic use recommended up to here; a moulder's design page
WARNS_FROM = 10.0  # K an hour, without any heat leaving; ours: below it a roller in air stays near the air

CAUTION = (
    f"polyurethane: dynamic use up to {WARM_LIMIT:g} C recommended, about half its stiffness left at 93 C, water above"
    " 50 C attacks it over time (a moulder's design page)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatReport:
    """Per metre of roller.  ``warming_k_h``: with no heat leaving, an upper bound."""

    loss_factor: float
    press_energy_mj_mm: float
    lost_share: float
    presses_per_turn: float
    loss_per_turn_j_m: float
    loss_power_w_m: float
    rolling_torque_n: float
    warming_k_h: float


def lost_share(loss_factor: float) -> float:
    """Share of a press's stored work that is not given back: pi tan(delta), at most all of it.

    Raises ValueError for a loss factor below 0.
    """
    if not 0 <= loss_factor < inf:
        raise ValueError(f"loss factor {loss_factor:g} must be 0 or more; write e.g. 0.15")
    return min(1.0, pi * loss_factor)


def smooth_patch(*, radius: float, travel: float) -> float:
    """Length of circumference (mm) one press of a solid roller on a flat takes with it: 4/3 sqrt(2 R d).

    Of a bed of springs pressed flat: half its contact is sqrt(2 R d) and its force k d 4/3 of that.
    Valid for travel well below the radius.
    """
    return 4 / 3 * sqrt(2 * radius * travel)


def heat(
    *,
    loss_factor: float,
    line_load: float,
    travel: float,
    patch: float,
    radius: float,
    rotation_speed: float,
    rubber_kg_m: float,
) -> HeatReport:
    """Loss per turn of a roller pressed by ``line_load`` (N/mm) through ``travel`` (mm); ``rotation_speed`` rad/s.

    ``patch``: length of circumference one press takes with it (mm), with chambers the wall from web to web.
    ``rubber_kg_m``: kg of rubber a metre.  Raises ValueError for a size not above 0 or a load or travel below 0.
    """
    sizes = (patch, radius, rubber_kg_m)
    if not (
        all(0 < size < inf for size in sizes) and line_load >= 0 and travel >= 0 and isfinite(rotation_speed)
    ):
        raise ValueError(
            f"patch {patch:g} mm, radius {radius:g} mm, {rubber_kg_m:g} kg/m must be above 0, load {line_load:g} N/mm and"
            f" travel {travel:g} mm 0 or more"
        )
    share = lost_share(loss_factor)
    stored = line_load * travel / 2  # N mm per mm of roller, that is mJ/mm or J/m
    presses = tau * radius / patch
    per_turn = share * stored * presses
    power = per_turn * abs(rotation_speed) / tau
    return HeatReport(
        loss_factor=loss_factor,
        press_energy_mj_mm=stored,
        lost_share=share,
        presses_per_turn=presses,
        loss_per_turn_j_m=per_turn,
        loss_power_w_m=power,
        rolling_torque_n=per_turn / tau,
        warming_k_h=power * 3600 / (rubber_kg_m * HEAT_CAPACITY),
    )


_ROUGH = "estimate by a factor of two; loss factor at working temperature and speed; one line of load, steady"
_LOSS = "loss per half sine swing of a linear viscoelastic solid (Ferry, Viscoelastic Properties of Polymers; from memory)"
FIGURES = (
    Figure(key="loss_factor", words="loss factor tan(delta) of the rubber", formula="input", source="compound.loss_factor",
           limits="moves with temperature and speed", unit="1"),
    Figure(key="press_energy_mj_mm", words="work stored by one press, per mm of roller", formula="F d / 2",
           source="straight force over travel", limits="line load and travel of the flex", unit="mJ/mm"),
    Figure(key="lost_share", words="share of a press's work not given back", formula="pi tan(delta), at most 1",
           source=_LOSS, limits="as a swing about half its depth it is half of that", unit="1"),
    Figure(key="presses_per_turn", words="parts of the circumference pressed in and let go, one by one, each turn",
           formula="2 pi R / patch; patch = circumference / chambers, or 4/3 sqrt(2 R d) of a solid roller",
           source="every part of the circumference is pressed once a turn", limits=_ROUGH, unit="1"),
    Figure(key="loss_per_turn_j_m", words="work lost in the rubber each turn, per metre of roller",
           formula="lost share x press energy x presses per turn", source=_LOSS, limits=_ROUGH, unit="J/m"),
    Figure(key="loss_power_w_m", words="power lost in the rubber, per metre of roller",
           formula="loss per turn x turns a second", source=_LOSS, limits=_ROUGH, unit="W/m"),
    Figure(key="rolling_torque_n", words="torque that loss asks of the shaft, N m per metre of roller",
           formula="loss per turn / (2 pi)", source=_LOSS, limits=_ROUGH, unit="N m/m"),
    Figure(key="warming_k_h", words="UPPER bound of how fast the rubber warms", formula="power / (mass x 1800 J/(kg K))",
           source="no heat leaves; heat capacity: property page citing Cardarelli, CRC Handbook, Howatson",
           limits="air and mud carry heat away; hot spots in thick webs are not seen", unit="K/h"),
)  # fmt: skip
