"""Drive and drift: what the motor must give, how fast surfaces run, and which way the helix carries.

Power is an estimate: friction of crop and bearings, torque on the ribs, and lifting, each from an input the
reader can see and change.  The helix's axial speed is that of the pattern; crop rests on top and slips, so
it is the most a bed can carry sideways, not what it does.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import atan2, inf, tau
from typing import Literal

from rollergen.spec.kinds import GRAVITY
from rollergen.spec.trace import Figure

Hand = Literal["right", "left"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveLoad:
    """What one roller works against; every field is an input of the estimate.

    ``crop_load`` N per mm on ``length`` mm with ``crop_friction`` at ``surface_radius`` mm, sliding all the time;
    ``bearing_load`` N on both bearings together, ``bearing_friction`` at ``bearing_radius`` mm; ``rib_force``
    N, mean force along the surface at ``tip_radius`` mm (clods, haulm); ``throughput_kg_s`` lifted by
    ``lift`` mm, this roller's share.
    """

    length: float
    surface_radius: float
    crop_load: float = 0.5
    crop_friction: float = 0.5
    bearing_load: float = 0.0
    bearing_radius: float = 20.0
    bearing_friction: float = 0.005
    rib_force: float = 0.0
    tip_radius: float = 0.0
    throughput_kg_s: float = 0.0
    lift: float = 0.0

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            if not (-inf if name == "lift" else 0) <= value < inf:
                raise ValueError(f"{name} {value:g} must be 0 or more")
        if self.rib_force and not self.tip_radius:
            raise ValueError(f"rib_force {self.rib_force:g} N needs tip_radius, the mm it works at")


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveReport:
    """Torque and power of one roller, and of the motor that turns ``rollers`` of them; see FIGURES."""

    load: DriveLoad
    rollers: int
    efficiency: float
    service_factor: float
    driven_at_rpm: float
    crop_torque_n_mm: float
    bearing_torque_n_mm: float
    rib_torque_n_mm: float
    lift_torque_n_mm: float
    roller_torque_n_mm: float
    friction_power_w: float
    rib_power_w: float
    lift_power_w: float
    roller_power_w: float
    motor_power_w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Turning:
    """One roller of a bed as it turns: rad/s, positive counter-clockwise seen from +z; lead mm or None, straight."""

    rotation_speed: float
    lead: float | None = None
    hand: Hand = "right"


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftReport:
    """Which way a bed's helices carry along the rollers, mm/s, positive towards +z.

    ``bed_drift_mm_s``: mean over the rollers.  ``words`` says what that means.
    """

    axial_speeds_mm_s: tuple[float, ...]
    bed_drift_mm_s: float
    most_axial_mm_s: float
    drift_words: str


def drive(
    load: DriveLoad,
    *,
    rotation_speed: float,
    rollers: int = 1,
    efficiency: float = 0.85,
    service_factor: float = 1.5,
) -> DriveReport:
    """Estimate of the motor's power for ``rollers`` alike at ``rotation_speed`` rad/s.

    ``efficiency`` of chain and gear and ``service_factor`` for starting and clods: common practice, no source.
    Lowering (``lift`` below 0) is not counted as a gain.  Raises ValueError for a speed of 0, no rollers, an
    efficiency outside 0 to 1 or a service factor below 1.
    """
    omega = abs(rotation_speed)
    _must(0 < omega < inf, f"rotation speed {rotation_speed:g} rad/s must not be 0")
    _must(rollers >= 1, f"{rollers} rollers: a bed has 1 or more")
    _must(0 < efficiency <= 1, f"efficiency {efficiency:g} must be above 0 and at most 1")
    _must(1 <= service_factor < inf, f"service factor {service_factor:g} must be 1 or more")
    crop = load.crop_load * load.length * load.crop_friction * load.surface_radius
    bearing = load.bearing_load * load.bearing_friction * load.bearing_radius
    rib = load.rib_force * load.tip_radius
    lift_mw = max(0.0, load.throughput_kg_s * GRAVITY * load.lift)  # N mm/s
    lift = lift_mw / omega
    torque = crop + bearing + rib + lift
    watts = omega / 1000
    return DriveReport(
        load=load,
        rollers=rollers,
        efficiency=efficiency,
        service_factor=service_factor,
        driven_at_rpm=omega * 60 / tau,
        crop_torque_n_mm=crop,
        bearing_torque_n_mm=bearing,
        rib_torque_n_mm=rib,
        lift_torque_n_mm=lift,
        roller_torque_n_mm=torque,
        friction_power_w=(crop + bearing) * watts,
        rib_power_w=rib * watts,
        lift_power_w=lift_mw / 1000,
        roller_power_w=torque * watts,
        motor_power_w=rollers * torque * watts * service_factor / efficiency,
    )


def surface_speed(radius: float, rotation_speed: float) -> float:
    """Speed of a point of the surface, mm/s: R omega, sign of the rotation."""
    return radius * rotation_speed


def lead_of(starts: int, rib_spacing: float) -> float:
    """Helix pitch in the sense used here, mm per full turn of one rib: ribs times axial distance rib to rib.

    The usual mistake is to take the distance from rib to rib for it, which is ``starts`` times too slow.
    """
    _must(starts >= 1, f"{starts} ribs make no helix")
    return starts * rib_spacing


def helix_angle(lead: float, radius: float) -> float:
    """Angle between a rib and the circumference at a radius, rad; tip and root differ.  tan = lead/(2 pi R)."""
    return atan2(lead, tau * radius)


def axial_speed(turning: Turning) -> float:
    """Speed at which the rib pattern travels along the roller, mm/s, positive towards +z; 0 for straight ribs.

    lead x turns per second.  A right-hand helix climbs counter-clockwise, so turning counter-clockwise (seen
    from +z) sends its pattern to -z, as a screw goes; the other hand or the other way round reverses it.
    """
    if turning.lead is None:
        return 0.0
    _must(0 < turning.lead < inf, f"helix pitch {turning.lead:g} mm must be above 0")
    away = -1.0 if turning.hand == "right" else 1.0
    return away * turning.lead * turning.rotation_speed / tau


def drift(rollers: Iterable[Turning]) -> DriftReport:
    """Axial speed of every roller of a bed and their mean.  Raises ValueError without rollers."""
    speeds = tuple(axial_speed(roller) for roller in rollers)
    _must(bool(speeds), "a bed without rollers does not drift")
    mean, most = sum(speeds) / len(speeds), max(abs(speed) for speed in speeds)
    return DriftReport(
        axial_speeds_mm_s=speeds,
        bed_drift_mm_s=mean,
        most_axial_mm_s=most,
        drift_words=_drift_words(mean, most),
    )


def _drift_words(mean: float, most: float) -> str:
    if most == 0:
        return "no helix turns: nothing is carried along the rollers"
    if abs(mean) <= 1e-9 * most:
        return "the rollers carry to and fro alike: no net drift, crop is shuffled by up to the single speeds"
    side = "+z" if mean > 0 else "-z"
    return (
        f"the bed carries towards {side} at up to {abs(mean):.3g} mm/s; where that is not wanted, give every"
        " other roller the other hand if all turn alike, or the same hand if they turn against each other"
    )


def _must(holds: bool, message: str) -> None:
    if not holds:
        raise ValueError(message)


_ESTIMATE = "estimate: as good as the inputs shown beside it; starting and jams only by the service factor"
_PATTERN = "speed of the rib pattern, which crop resting on top does not reach"


def _entry(key: str, unit: str, words: str, formula: str, source: str, limits: str = _ESTIMATE) -> Figure:
    return Figure(key=key, words=words, formula=formula, source=source, limits=limits, unit=unit)


_MECHANICS = "mechanics"
_GIVEN = "as given, or the default"
FIGURES = (
    _entry("load", "-", "what one roller works against", "input", _GIVEN),
    *(
        _entry(key, unit, words, "input", source)
        for key, unit, words, source in (
            ("length", "mm", "length of the roller under crop", "the caller"),
            ("surface_radius", "mm", "radius at which crop slides", "the caller"),
            ("crop_load", "N/mm", "crop's weight on the roller", "default 0.5: common practice, no source"),
            ("crop_friction", "1", "friction of crop on the roller", "default 0.5: middle of what duties state"),
            ("bearing_load", "N", "load on both bearings together", "the caller"),
            ("bearing_radius", "mm", "radius at which the bearings rub", "the caller; default 20"),
            ("bearing_friction", "1", "friction of the bearings", "default 0.005: value from memory"),
            ("rib_force", "N", "mean force along the surface on the ribs", "the caller"),
            ("tip_radius", "mm", "radius of the rib tips", "the caller"),
            ("throughput_kg_s", "kg/s", "crop this roller lifts", "the caller"),
            ("lift", "mm", "height it is lifted by", "the caller"),
        )
    ),
    _entry("rollers", "1", "rollers on one motor", "input", _GIVEN, "all alike"),
    _entry("efficiency", "1", "share of the motor's power that reaches the rollers", "input",
           "default 0.85: common practice, no source"),
    _entry("service_factor", "1", "reserve for starting and clods", "input", "default 1.5: common practice, no source"),
    _entry("driven_at_rpm", "rpm", "rotation speed the drive is worked out for", "input", "the caller", "without its sign"),
    _entry("crop_torque_n_mm", "N mm", "torque against crop sliding on the roller", "load x length x friction x radius",
           "Coulomb friction", "crop slides all the time, the most it can take"),
    _entry("bearing_torque_n_mm", "N mm", "torque of the bearings", "load x friction x radius", "Coulomb friction",
           "default friction 0.005: value from memory; seals not counted"),
    _entry("rib_torque_n_mm", "N mm", "torque of what the ribs push", "rib force x tip radius", _MECHANICS),
    _entry("lift_torque_n_mm", "N mm", "torque that lifts crop", "throughput x g x lift / omega", _MECHANICS,
           "lowering is not counted as a gain"),
    _entry("roller_torque_n_mm", "N mm", "torque of one roller", "sum of the four", _MECHANICS),
    _entry("friction_power_w", "W", "power lost to crop and bearings", "torque x omega", _MECHANICS),
    _entry("rib_power_w", "W", "power of the ribs", "torque x omega", _MECHANICS),
    _entry("lift_power_w", "W", "power of lifting", "throughput x g x lift", _MECHANICS),
    _entry("roller_power_w", "W", "power of one roller", "torque x omega", _MECHANICS),
    _entry("motor_power_w", "W", "power the motor should have", "rollers x power x service factor / efficiency",
           _MECHANICS),
    _entry("axial_speeds_mm_s", "mm/s", "speed of each roller's rib pattern along it, positive towards +z",
           "helix pitch (full turn) x turns per second; right hand counter-clockwise goes to -z", "screw", _PATTERN),
    _entry("bed_drift_mm_s", "mm/s", "net drift of the bed along its rollers", "mean of the axial speeds",
           "rollers share the crop evenly", _PATTERN),
    _entry("most_axial_mm_s", "mm/s", "greatest axial speed of any roller", "greatest of the axial speeds",
           "screw", _PATTERN),
    _entry("drift_words", "-", "what the drift means", "from the above", "definition", _PATTERN),
)  # fmt: skip
