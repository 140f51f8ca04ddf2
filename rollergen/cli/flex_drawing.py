"""What the flex study found, as the plain data its picture wants."""

from __future__ import annotations

from math import isfinite, radians
from typing import TYPE_CHECKING, Literal

import numpy as np

from rollergen.answer.flexing import FlexAnswer
from rollergen.export.flex_picture import Deformed, PressedCurve, RoundStiffness, flex_picture
from rollergen.rubber.contact import edge_points
from rollergen.rubber.measures import nodes_at, stretches
from rollergen.rubber.press import first_reach

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from rollergen.rubber.press import Pressed
    from rollergen.study.flex import Curve

LINE_SPOTS = np.linspace(-1, 1, 5)[:-1]
# each six-node triangle as four flat ones, so that curved edges show
QUARTERS = ((0, 3, 5), (3, 1, 4), (5, 4, 2), (3, 4, 5))


def flex_page(found: list[FlexAnswer], form: Literal["png", "svg"]) -> bytes:
    """One profile: its presses side by side; several: the softest press of each."""
    alone = len(found) == 1
    sections, curves = [], []
    for one in found:
        picked = range(len(one.pressed)) if alone else [0]
        for n in picked:
            curve = one.report.curves[n]
            name = curve.at if alone else f"{one.profile}, {curve.at}"
            sections.append(_deformed(one, one.pressed[n], curve, name))
        for curve in one.report.curves if alone else one.report.curves[:2]:
            peak = None
            if curve.collapse_mm is not None and curve.collapse_n_mm is not None:
                peak = (curve.collapse_mm, curve.collapse_n_mm)
            curves.append(
                PressedCurve(
                    name=curve.at if alone else f"{one.profile}, {curve.at}",
                    travel=np.array(curve.travel_mm),
                    force=np.array(curve.force_n_mm),
                    collapse=peak,
                )
            )
    around = [
        RoundStiffness(
            name=one.profile,
            angle=np.radians([*one.report.rotation_deg, one.report.rotation_deg[0] + 360]),
            stiffness=np.array([*one.report.stiffness_n_mm2, one.report.stiffness_n_mm2[0]]),
        )
        for one in found
    ]
    presser = found[0].report.presser
    title = f"{', '.join(one.profile for one in found)}: pressed by a {presser}"
    return flex_picture(deformed=sections, curves=curves, around=around, title=title, form=form)


def _deformed(found: FlexAnswer, pressed: Pressed, curve: Curve, name: str) -> Deformed:
    """The last state that the curve follows."""
    mesh = found.pressing.assembly.mesh
    step = pressed.steps[len(curve.travel_mm) - 1]
    rubber = mesh.triangles[mesh.filled == 0]
    strain = stretches(found.pressing.assembly, step.u).mean(axis=1)
    return Deformed(
        title=f"{name}, {step.travel:.1f} mm",
        points=nodes_at(mesh, step.u),
        triangles=np.concatenate([rubber[:, list(q)] for q in QUARTERS]),
        strain=np.tile(strain, len(QUARTERS)),
        before=[
            _closed(edge_points(mesh.nodes, edges, LINE_SPOTS).reshape(-1, 2))
            for edges in (mesh.outer, mesh.bore, *mesh.chambers)
        ],
        presser=_presser(found, pressed, step.travel),
    )


def _closed(line: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.concatenate([line, line[:1]])


def _presser(found: FlexAnswer, pressed: Pressed, travel: float) -> NDArray[np.float64]:
    obstacle = pressed.obstacle
    reach = first_reach(found.pressing.assembly.mesh, obstacle) - travel
    e = obstacle.towards
    across = np.array([-e[1], e[0]])
    if not isfinite(obstacle.radius):
        half = 0.6 * found.pressing.body_radius
        return np.stack([reach * e - half * across, reach * e + half * across])
    turn = radians(1) * np.linspace(-110, 110, 111) if obstacle.radius < 30 else np.linspace(-0.7, 0.7, 81)
    centre = (reach + obstacle.radius) * e
    arc: NDArray[np.float64] = centre + obstacle.radius * (
        -np.cos(turn)[:, None] * e + np.sin(turn)[:, None] * across
    )
    return arc
