"""Bridging: whether wet soil can span the groove between two ribs, or the slot to a mate, and stay there.

A cohesive arch over a slot with parallel sides stands while its strength carries its weight:

    B = H f_c / (rho a),    f_c = 2 c cos(phi) / (1 - sin(phi)),    H = 1 for a parallel slot

(A. W. Jenike 1964, Storage and Flow of Solids, Bulletin 123, Utah Engineering Experiment Station; the strength is
Mohr-Coulomb's.)  Without friction within it is Terzaghi's B = 2 c / (rho g).  An arch also needs its ends held:
flanks that hold by adhesion s_a carry a plug of any height over no more than B = 2 s_a / (rho a).  The lesser
of the two spans counts.  a is gravity, and where the roller turns at the bottom of its turn gravity and spin.

Limits: a long straight slot, drained by its own weight only; strength of the soil as it lies, however it was
squeezed; shear hold of a flank taken as large as its pull-off adhesion (walls in clay carry about as much as
the cohesion up to 24 kPa, a geotechnical program manual); the thrust of the arch is not counted as holding,
for ribs lean away from it.  Moving sides, crop and clods break arches: not counted.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import atan, atan2, cos, hypot, inf, pi, sin, tau
from typing import Literal

from rollergen.shape.outline import Arc, Line, Outline, Point
from rollergen.spec.kinds import GRAVITY
from rollergen.spec.trace import Figure

Band = tuple[float, float]
Clogging = Literal["stays open", "keeps its root", "bridges"]
SLOT = 1.0  # H(0) of a plane-parallel slot


@dataclass(frozen=True, slots=True, kw_only=True)
class Groove:
    """The clear space between two ribs, mm, square to the ribs: between the tops of the straight flanks, along
    the body between the root fillets (0 where they meet), and how deep."""

    mouth: float
    floor: float
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """The slot to a mate, mm: narrowest at a rib tip (None where it hangs on the phase), widest body to body."""

    mate: str
    tip_gap: float | None
    body_gap: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotReport:
    """Whether soil at rest spans the slot to a mate, (soil that flows easily, soil that holds)."""

    mate: str
    slot_mm: tuple[float | None, float]
    slot_bridged: tuple[bool, bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class BridgeReport:
    """Spans are (lowest, highest) over the soil's ranges, mm; what a plain sleeve has no use for is None.

    ``arch_span_mm`` by the soil's own strength, ``held_span_mm`` by the hold of the flanks, both at rest;
    ``resting_span_mm`` the lesser of both, ``turning_span_mm`` the same at the bottom of the turn.
    ``mouth_over_span``: above 1 the soil does not span the groove; the larger the better, to compare rib forms
    in one soil.  ``filled_share``: of the groove's depth that the layer takes.
    """

    arch_strength_kpa: Band
    arch_span_mm: Band
    held_span_mm: Band
    resting_span_mm: Band
    turning_span_mm: Band
    pull_down_g: float
    groove_mouth_mm: float | None
    groove_floor_mm: float | None
    groove_depth_mm: float | None
    mouth_over_span: Band | None
    filled_share: float | None
    groove_verdict: tuple[Clogging, Clogging] | None
    slots: tuple[SlotReport, ...]


def unconfined_strength(cohesion: float, friction_angle: float) -> float:
    """Strength of a free face under pressure (unit of ``cohesion``): 2 c cos(phi) / (1 - sin(phi)), phi in rad.

    Mohr-Coulomb.  Raises ValueError for a cohesion below 0 or an angle outside 0 to below 90 deg.
    """
    _refuse(cohesion, friction_angle)
    return 2 * cohesion * cos(friction_angle) / (1 - sin(friction_angle))


def tensile_strength(cohesion: float, friction_angle: float) -> float:
    """Strength under pull (unit of ``cohesion``): 2 c cos(phi) / (1 + sin(phi)); an upper estimate.

    Mohr-Coulomb without a tension cut-off.  Errors as ``unconfined_strength``.
    """
    _refuse(cohesion, friction_angle)
    return 2 * cohesion * cos(friction_angle) / (1 + sin(friction_angle))


def arch_span(strength: float, *, density_kg_m3: float, pull_down: float = GRAVITY) -> float:
    """Widest slot (mm) an arch of unconfined ``strength`` (MPa) spans under ``pull_down`` (m/s^2)."""
    return SLOT * _span(strength, density_kg_m3, pull_down)


def held_span(adhesion: float, *, density_kg_m3: float, pull_down: float = GRAVITY) -> float:
    """Widest slot (mm) whose flanks hold a plug of soil by ``adhesion`` (MPa) on both sides."""
    return _span(2 * adhesion, density_kg_m3, pull_down)


def groove_of(outer: Outline, *, body_radius: float, depth: float, turn_per_mm: float = 0.0) -> Groove | None:
    """The groove of an exact outer outline; None without ribs.  ``turn_per_mm`` (rad/mm) of the helix."""
    flanks = [edge for edge in outer.edges if isinstance(edge, Line) and edge.feature == "flank"]
    if not flanks:
        return None
    # an outline starts with a rib: up its flank, over the tip, down the other, so grooves lie from the second on
    down, up = flanks[1], flanks[2 % len(flanks)]
    tops = (_farther(down), _farther(up))
    radius = (hypot(*tops[0]) + hypot(*tops[1])) / 2
    opening = (atan2(tops[1][1], tops[1][0]) - atan2(tops[0][1], tops[0][0])) % tau
    floors = [
        edge.sweep * edge.radius for edge in outer.edges if isinstance(edge, Arc) and edge.feature == "body"
    ]
    return Groove(
        mouth=radius * opening * _square(radius, turn_per_mm),
        floor=max(floors, default=0.0) * _square(body_radius, turn_per_mm),
        depth=depth,
    )


def bridge(
    *,
    cohesion: Band,
    friction_angle: Band,
    adhesion: Band,
    density_kg_m3: float,
    layer: float,
    groove: Groove | None,
    body_radius: float,
    rotation_speed: float,
    slots: tuple[Slot, ...] = (),
) -> BridgeReport:
    """Whether a soil spans grooves and slots (MPa, rad, mm, rad/s).  Errors as ``unconfined_strength``.

    Grooves empty at the bottom of the turn, under gravity and spin at half their depth; slots under gravity.
    """
    strength = _each(lambda n: unconfined_strength(cohesion[n], friction_angle[n]))
    middle = body_radius + (groove.depth / 2 if groove is not None else 0.0)
    turning = GRAVITY + rotation_speed**2 * middle * 1e-3

    def least(n: int, pull_down: float) -> float:
        arch = arch_span(strength[n], density_kg_m3=density_kg_m3, pull_down=pull_down)
        return min(arch, held_span(adhesion[n], density_kg_m3=density_kg_m3, pull_down=pull_down))

    resting = _each(lambda n: least(n, GRAVITY))
    spans = _each(lambda n: least(n, turning))
    return BridgeReport(
        arch_strength_kpa=_each(lambda n: strength[n] * 1e3),
        arch_span_mm=_each(lambda n: arch_span(strength[n], density_kg_m3=density_kg_m3)),
        held_span_mm=_each(lambda n: held_span(adhesion[n], density_kg_m3=density_kg_m3)),
        resting_span_mm=resting,
        turning_span_mm=spans,
        pull_down_g=turning / GRAVITY,
        groove_mouth_mm=None if groove is None else groove.mouth,
        groove_floor_mm=None if groove is None else groove.floor,
        groove_depth_mm=None if groove is None else groove.depth,
        mouth_over_span=_over(groove, spans),
        filled_share=None if groove is None else min(1.0, layer / groove.depth),
        groove_verdict=None if groove is None else (clogging(groove, spans[0]), clogging(groove, spans[1])),
        slots=tuple(_slot(slot, resting) for slot in slots),
    )


def clogging(groove: Groove, span: float) -> Clogging:
    """What a soil of this ``span`` (mm) does in a groove: spans it, spans its floor only, or neither."""
    if span >= groove.mouth:
        return "bridges"
    return "keeps its root" if span > groove.floor else "stays open"


def _slot(slot: Slot, spans: Band) -> SlotReport:
    # the slot opens from the tip gap to the body gap as a groove comes by; soil that spans the widest stays
    return SlotReport(
        mate=slot.mate,
        slot_mm=(slot.tip_gap, slot.body_gap),
        slot_bridged=(spans[0] >= slot.body_gap, spans[1] >= slot.body_gap),
    )


def _over(groove: Groove | None, spans: Band) -> Band | None:
    """Mouth over span, (lowest, highest span); None without a groove or for a soil that spans nothing."""
    if groove is None or not spans[0] > 0:
        return None
    return groove.mouth / spans[0], groove.mouth / spans[1]


def _each(of: Callable[[int], float]) -> Band:
    return of(0), of(1)


def _span(strength: float, density_kg_m3: float, pull_down: float) -> float:
    if not (0 <= strength < inf and 0 < density_kg_m3 < inf and 0 < pull_down < inf):
        raise ValueError(
            f"a soil that holds {strength:g} MPa, {density_kg_m3:g} kg/m^3, under {pull_down:g} m/s^2: strength must be"
            " 0 or more, density and pull above 0"
        )
    return strength * 1e6 / (density_kg_m3 * pull_down) * 1e3


def _refuse(cohesion: float, friction_angle: float) -> None:
    if not (0 <= cohesion < inf and 0 <= friction_angle < pi / 2):
        raise ValueError(
            f"cohesion {cohesion:g} must be 0 or more and the angle of friction {friction_angle:g} rad from 0 to below"
            " 90 deg"
        )


def _farther(line: Line) -> Point:
    return max(line.start, line.end, key=lambda point: hypot(*point))


def _square(radius: float, turn_per_mm: float) -> float:
    """From a width along the circumference to one square to a helix."""
    return cos(atan(radius * turn_per_mm))


_ARCH = "A. W. Jenike 1964, Bulletin 123, parallel slot; Mohr-Coulomb strength"
_LIMITS = "long straight slot, own weight only, soil as it lies; moving sides and clods break arches and are not counted"


def _entry(
    key: str, unit: str, words: str, formula: str, source: str = _ARCH, limits: str = _LIMITS
) -> Figure:
    return Figure(key=key, words=words, formula=formula, source=source, limits=limits, unit=unit)


FIGURES = (
    _entry("arch_strength_kpa", "kPa", "unconfined strength of the soil, lowest and highest",
           "2 c cos(phi) / (1 - sin(phi))", "Mohr-Coulomb", "from weak soil data"),
    _entry("arch_span_mm", "mm", "widest slot the soil spans at rest by its own strength", "B = f_c / (rho g)"),
    _entry("held_span_mm", "mm", "widest slot whose flanks hold a plug of the soil at rest", "B = 2 s_a / (rho g)",
           "balance of a plug held on both sides", "shear hold taken as large as pull-off adhesion; no thrust"),
    _entry("resting_span_mm", "mm", "widest slot the soil spans at rest", "lesser of arch and held span"),
    _entry("turning_span_mm", "mm", "widest groove the soil spans at the bottom of the turn",
           "lesser of arch and held span, with g + omega^2 r at half the groove's depth"),
    _entry("pull_down_g", "1", "pull on the soil in a groove at the bottom of the turn, in g", "1 + omega^2 r / g",
           "gravity and spin", "r at half the groove's depth"),
    _entry("groove_mouth_mm", "mm", "clear width between the tops of two ribs' flanks, square to the ribs",
           "arc between the tops of the flanks x cos(helix angle)", "exact section", "as cast"),
    _entry("groove_floor_mm", "mm", "width of the body between two root fillets, square to the ribs",
           "arc of the body x cos(helix angle)", "exact section", "0 where the fillets meet"),
    _entry("groove_depth_mm", "mm", "depth of a groove", "rib height", "exact section", "as cast"),
    _entry("mouth_over_span", "1", "groove mouth over the soil's turning span, lowest and highest span",
           "groove_mouth_mm / turning_span_mm", limits="null for a soil that spans nothing; " + _LIMITS),
    _entry("filled_share", "1", "share of the groove's depth that the layer takes", "layer / rib height, at most 1",
           "comparison", "even layer on the body"),
    _entry("groove_verdict", "-", "what the soil does in a groove: flows easily, holds hard",
           "span against mouth and floor of the groove"),
    _entry("slot_mm", "mm", "slot to a mate: narrowest at a rib tip, widest body to body",
           "axis distance less both radii", "geometry", "null where the narrowest hangs on the phase"),
    _entry("slot_bridged", "-", "whether soil at rest spans even the widest slot", "resting span >= body gap",
           limits="every rib that passes breaks it: not counted"),
)  # fmt: skip
