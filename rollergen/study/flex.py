"""How a segment gives: stiffness all round, force over travel, strains, chambers closing, webs collapsing.

Plane strain on the exact section, large strains, nearly incompressible rubber, bore held by a stiff shaft, no
friction, no time: what a line load meets in the middle of a long segment, quasi-statically.  A thumb or a
stone is narrower than that; see ``point_load``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import degrees, inf, radians

import numpy as np
from numpy.typing import NDArray

from rollergen.rubber.compliance import small_stiffness
from rollergen.rubber.contact import skin_of
from rollergen.rubber.elements import Assembly, assembled
from rollergen.rubber.law import Law
from rollergen.rubber.measures import (
    CREASES_AT,
    chamber_closing,
    chamber_gaps,
    rubber_strain,
    surface_of,
    touched_width,
)
from rollergen.rubber.mesher import mesh_section
from rollergen.rubber.obstacle import Obstacle
from rollergen.rubber.press import Pressed, Step, first_peak, press
from rollergen.shape.section import Section

Floats = NDArray[np.float64]

OFF_SYMMETRY = radians(1.0)  # an exactly symmetric press can stay on a shape no web would keep
SMALL_TRAVEL = 0.5  # mm, for the stiffness all round
MEETS_AT = 0.3  # mm between two sides of a chamber: what is pressed on is not followed beyond


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where one presses: ``name`` for people, ``angle`` (rad from +x, counter-clockwise seen from +z)."""

    name: str
    angle: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Presser:
    """What presses: ``name`` for people, ``radius`` mm (inf for a plate)."""

    name: str
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One place pressed, a value per state; the first is at rest.

    ``force_n_mm``: N per mm of roller.  ``strain``: stretch that 99.5 % of the rubber stays below.
    ``surface_strain``: (least, greatest) hoop strain of the body's surface, ``flattening_1_mm`` the greatest
    loss of its curvature.  ``chamber_closing``: of the chamber that closes most; ``chamber_gap_mm`` the
    nearest two sides of one have come.  ``contact_pressure_mpa``: mean over ``contact_width_mm``.
    ``collapse_mm`` and ``collapse_n_mm``: first peak of the load, None without one.  ``stopped``: why the
    curve ends early, or "".  ``mesh_dependent``: the surface is pressed beyond where it creases, so its
    strains depend on the mesh.
    """

    at: str
    at_deg: float
    travel_mm: tuple[float, ...]
    force_n_mm: tuple[float, ...]
    strain: tuple[float, ...]
    surface_strain: tuple[tuple[float, float], ...]
    flattening_1_mm: tuple[float, ...]
    chamber_closing: tuple[float, ...]
    chamber_gap_mm: tuple[float, ...]
    contact_width_mm: tuple[float, ...]
    contact_pressure_mpa: tuple[float, ...]
    collapse_mm: float | None
    collapse_n_mm: float | None
    stopped: str
    mesh_dependent: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FlexReport:
    """What the study found, for the modulus it used; without foam every force grows as the modulus does.

    ``rotation_deg`` and ``stiffness_n_mm2`` run once round; ``unevenness`` is greatest over least stiffness.
    """

    presser: str
    presser_radius_mm: float
    rotation_deg: tuple[float, ...]
    stiffness_n_mm2: tuple[float, ...]
    unevenness: float
    curves: tuple[Curve, ...]
    triangles: int
    mesh_size_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pressing:
    """A section made ready to press, kept so that pictures can be drawn of what was solved."""

    assembly: Assembly
    body_radius: float
    size: float


def ready(
    section: Section, *, body_radius: float, law: Law, foam: Law | None, foamed: Sequence[int], size: float
) -> Pressing:
    """Mesh the section (``size`` mm) and put its elements together.  Errors as ``mesh_section``."""
    mesh = mesh_section(section, size=size, foamed=foamed if foam is not None else ())
    return Pressing(assembly=assembled(mesh, law, foam=foam), body_radius=body_radius, size=size)


def stiffness_round(pressing: Pressing, presser: Presser, angles: Sequence[float]) -> tuple[float, ...]:
    """Stiffness (N/mm per mm of roller) at every angle (rad), over the first half millimetre of travel."""
    obstacles = [Obstacle(angle=angle, radius=presser.radius) for angle in angles]
    found = small_stiffness(pressing.assembly, obstacles, travel=SMALL_TRAVEL)
    return tuple(float(k) for k in found)


def press_at(
    pressing: Pressing,
    presser: Presser,
    angle: float,
    travels: Sequence[float],
    *,
    past_collapse: bool = False,
    told: Callable[[float], None] | None = None,
) -> Pressed:
    """Press at ``angle`` + 1 deg, off any symmetry, so that a web may buckle as it would in life."""
    obstacle = Obstacle(angle=angle + OFF_SYMMETRY, radius=presser.radius)
    return press(pressing.assembly, obstacle, travels, past_collapse=past_collapse, told=told)


def curve_of(pressing: Pressing, place: Place, pressed: Pressed) -> Curve:
    """The numbers of one press, up to where two sides of a chamber meet."""
    mesh = pressing.assembly.mesh
    steps, stopped = _before_sides_meet(pressing, pressed)
    surfaces = [surface_of(mesh, step.u, pressing.body_radius) for step in steps]
    on_body = surfaces[0].body if surfaces[0].body.any() else np.ones_like(surfaces[0].body)
    strains = [(float(s.stretched[on_body].min()), float(s.stretched[on_body].max())) for s in surfaces]
    closing = [chamber_closing(mesh, step.u) for step in steps]
    length = skin_of(mesh).length
    widths = [touched_width(step.pressure, length) for step in steps]
    forces = [step.force for step in steps]
    peak = first_peak(forces)
    return Curve(
        at=place.name,
        at_deg=degrees(place.angle),
        travel_mm=tuple(step.travel for step in steps),
        force_n_mm=tuple(forces),
        strain=tuple(rubber_strain(pressing.assembly, step.u) for step in steps),
        surface_strain=tuple(strains),
        flattening_1_mm=tuple(float(max(0.0, -s.bent[on_body].min())) for s in surfaces),
        chamber_closing=tuple(float(c.max(initial=0.0)) for c in closing),
        chamber_gap_mm=tuple(float(chamber_gaps(mesh, s.u).min(initial=inf)) for s in steps)
        if mesh.chambers
        else (),
        contact_width_mm=tuple(widths),
        contact_pressure_mpa=tuple(f / w if w > 0 else 0.0 for f, w in zip(forces, widths, strict=True)),
        collapse_mm=None if peak is None else steps[peak].travel,
        collapse_n_mm=None if peak is None else forces[peak],
        stopped=stopped,
        mesh_dependent=any(low < CREASES_AT for low, _ in strains),
    )


def _before_sides_meet(pressing: Pressing, pressed: Pressed) -> tuple[tuple[Step, ...], str]:
    mesh = pressing.assembly.mesh
    open_chambers = [n for n in range(len(mesh.chambers)) if not (mesh.filled == n + 1).any()]
    for number, step in enumerate(pressed.steps):
        gaps = chamber_gaps(mesh, step.u)[open_chambers]
        if len(gaps) and gaps.min() < MEETS_AT:
            why = f"stopped at {step.travel:.3g} mm: two sides of a chamber meet there, which is not followed"
            return pressed.steps[: max(1, number)], why
    return pressed.steps, pressed.reason
