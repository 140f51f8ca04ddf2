"""How a roller's surface moves under a line load: what the shed study asks of the flex study."""

from __future__ import annotations

from collections.abc import Callable
from math import isinf, pi, tau

import numpy as np
from numpy.typing import NDArray

from rollergen.answer.flexing import (
    USUAL_SHARE,
    USUAL_SIZE,
    USUAL_TRAVEL,
    FlexAnswer,
    FlexAsked,
    chamber_depth,
    flex_of,
    usual_places,
)
from rollergen.answer.report import Drawn
from rollergen.errors import UsageError
from rollergen.rubber.measures import surface_of
from rollergen.study.bond import SurfaceFlex
from rollergen.study.flex import Presser

Floats = NDArray[np.float64]

PROBE = 0.3  # mm: enough to see how stiff it is
STEPS, TRIES = 4, 3
OVERSHOOT = 1.3
PLACES = 7200  # round the roller, where means are taken
HOPELESS = 10.0  # times the load a straight line would give at the farthest travel: no use in pressing


def surface_flex(
    drawn: Drawn,
    line_load: float,
    presser: Presser,
    *,
    over: float,
    size: float = USUAL_SIZE,
    told: Callable[[float], None] | None = None,
) -> SurfaceFlex:
    """Press a profile with ``line_load`` (N/mm) where it is softest: over a chamber, or between ribs of a solid one.

    ``over`` (mm): thickness of the mud.  A layer cannot follow what happens within less than its own thickness, so
    strain and bending are averaged along the surface over that much to each side; then the greatest sizes of
    either sign count.  ``size`` (mm) of the triangles.  Seconds of work.

    Raises UsageError for a load the roller does not carry within the usual travel.
    """
    place = usual_places(drawn.profile, 0.0)[0]
    depth = chamber_depth(drawn)
    room = (drawn.profile.body_radius - drawn.profile.bore.reach) / 2 if depth is None else depth
    farthest = min(USUAL_TRAVEL, USUAL_SHARE * room)

    def pressed(travel: float, steps: int) -> FlexAnswer:
        asked = FlexAsked(
            presser=presser, travel=travel, steps=steps, positions=4, size=size, at=(place.angle,)
        )
        return flex_of(drawn, asked, told=told)

    found = pressed(min(PROBE, farthest), 1)
    curve = found.report.curves[0]
    hopeless = line_load > HOPELESS * farthest * curve.force_n_mm[-1] / curve.travel_mm[-1]
    for _ in range(0 if hopeless else TRIES):
        wanted = OVERSHOOT * curve.travel_mm[-1] * line_load / curve.force_n_mm[-1]
        found = pressed(min(farthest, wanted), STEPS)
        curve = found.report.curves[0]
        if max(curve.force_n_mm) >= line_load or curve.stopped or wanted >= farthest:
            break
    if max(curve.force_n_mm) < line_load:
        raise UsageError(
            f"line load {line_load:g} N/mm is more than {drawn.profile.name} carries {place.name} within"
            f" {farthest:.1f} mm: {max(curve.force_n_mm):.3g} N/mm at {curve.travel_mm[-1]:.2f} mm; ask for less"
        )
    return _at_load(found, line_load, over, f"{place.name}, by {_named(presser)}")


def _at_load(found: FlexAnswer, line_load: float, over: float, where: str) -> SurfaceFlex:
    """Between the two states on either side of the load, straight."""
    force, steps = np.array(found.report.curves[0].force_n_mm), found.pressed[0].steps
    after = int(np.argmax(force >= line_load))
    share = float((line_load - force[after - 1]) / (force[after] - force[after - 1]))
    mesh, radius = found.pressing.assembly.mesh, found.pressing.body_radius
    ends = []
    for step in steps[after - 1 : after + 1]:
        surface = surface_of(mesh, step.u, radius)
        on_body = surface.body if surface.body.any() else np.ones_like(surface.body)
        angle = surface.angle[on_body]
        greatest = [
            greatest_mean(angle, values[on_body], half_width=over / radius)
            for values in (surface.stretched, surface.bent)
        ]
        ends.append((*greatest, step.travel))
    strain, bent, travel = (a + share * (b - a) for a, b in zip(*ends, strict=True))
    return SurfaceFlex(strain=strain, curvature_change=bent, travel=travel, line_load=line_load, where=where)


def greatest_mean(angle: Floats, values: Floats, *, half_width: float) -> float:
    """Greatest size of ``values`` (n,) averaged over ``half_width`` (rad, above 0) to each side of every place.

    ``angle`` (n,) rad, in any order; straight between places, also across ribs.
    """
    round_about = np.linspace(-pi, pi, PLACES, endpoint=False)
    even = np.interp(round_about, *_sorted(angle, values), period=tau)
    reach = min(PLACES // 2 - 1, max(1, round(half_width / (tau / PLACES))))
    summed = np.concatenate([[0.0], np.cumsum(np.concatenate([even, even[: 2 * reach]]))])
    means = (summed[2 * reach + 1 :] - summed[: len(summed) - 2 * reach - 1]) / (2 * reach + 1)
    return float(np.abs(means).max())


def _sorted(angle: Floats, values: Floats) -> tuple[Floats, Floats]:
    order = np.argsort(angle, kind="stable")
    return angle[order], values[order]


def _named(presser: Presser) -> str:
    return presser.name if isinf(presser.radius) else f"{presser.name} of radius {presser.radius:g} mm"
