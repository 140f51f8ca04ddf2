"""The files of a prototype as bytes: 3MF a piece and of all, and the picture of how it stands."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from rollergen.cli.writing import identity

if TYPE_CHECKING:
    from rollergen.answer.prototype import PrintAsked, Prototype
    from rollergen.export.print_picture import JointDrawn
    from rollergen.shape.mesh import Mesh
    from rollergen.shape.outline import Floats, Outline
    from rollergen.tooling.print_joint import Seat

FILAMENT = "filament of the print, not the cast compound"
BESIDE = 1.1  # tip circles between two pieces of one file
FINENESS = 0.05  # mm, facets of the picture
APART = 0.35  # of a piece's height between two in the picture
Made = tuple[str, bytes, dict[str, Any]]  # file name, bytes, what the report says of it


def threemf_files(found: Prototype, asked: PrintAsked, error: float) -> list[Made]:
    """One 3MF a piece, each standing on the plate, and where there are several one of all side by side."""
    from rollergen.export.threemf import threemf_bytes
    from rollergen.shape.mesh import build_mesh

    parts = [piece.part for piece in found.pieces.pieces]
    items = [(part.name, _grounded(build_mesh(part, chord_error=error)), part.colour) for part in parts]

    def made(name: str, title: str, shown: list[tuple[str, Mesh, str]]) -> Made:
        density = asked.printer.filament_density * 1000
        data = threemf_bytes(shown, title=title, compound=FILAMENT, density_kg_m3=density)
        strays = max(mesh.deviation_mm for _, mesh, _ in shown)
        return (name, data, {**identity("3mf", data), "deviation_mm": strays})

    if len(items) == 1:
        return [made(f"{found.profile}.print.3mf", parts[0].name, items)]
    one_each = [
        made(f"{found.profile}.piece-{n}.3mf", item[0], [item]) for n, item in enumerate(items, start=1)
    ]
    apart = found.report.tip_circle_mm * BESIDE
    beside = [
        (name, replace(mesh, vertices=mesh.vertices + np.array([n * apart, 0.0, 0.0])), colour)
        for n, (name, mesh, colour) in enumerate(items)
    ]
    return [*one_each, made(f"{found.profile}.all.3mf", f"{found.profile}, all pieces", beside)]


def _grounded(mesh: Mesh) -> Mesh:
    low = float(mesh.vertices[:, 2].min())
    return replace(mesh, vertices=mesh.vertices - np.array([0.0, 0.0, low]))


def standing_page(found: Prototype, form: Literal["png", "svg"]) -> bytes:
    """The pieces upright and apart, coloured by lean, with the joint."""
    from rollergen.export.print_picture import Leaning, print_picture
    from rollergen.shape.mesh import build_mesh

    r = found.report
    shown, lift = [], 0.0
    for number, piece in enumerate(found.pieces.pieces, start=1):
        mesh = build_mesh(piece.part, chord_error=FINENESS, check=False)
        shown.append(
            Leaning(
                vertices=mesh.vertices + np.array([0.0, 0.0, lift]),
                triangles=mesh.triangles,
                surface=mesh.surface,
                lean_deg=_leans(mesh),
                name=f"piece {number}",
            )
        )
        lift += APART * (piece.high - piece.low) + (piece.top - piece.high)
    words = [
        r.orientation,
        f"lean {r.upright_lean_deg:.1f} deg; thinnest rubber {r.least_rubber_mm:.2f} mm, {r.lines_across} lines across",
        f"first layer {r.first_layer_cm2:.1f} cm2; filament {r.filament_g:.0f} g, {r.filament_m:.1f} m",
        "a stand-in for shape and fit: not the cast compound, not for service",
    ]
    return print_picture(
        shown,
        outer=_line(found.section.outer),
        holes=[_line(hole) for hole in found.section.holes],
        joint=_joint_drawn(found),
        title=f"{found.profile}: {'can be printed' if r.printable else 'not printable as asked'}, scale {found.scale:g}",
        words=words,
        form=form,
    )


def _leans(mesh: Mesh) -> Floats:
    """Lean from upright of every facet that faces down (deg); 0 for the rest and for flat ends on the plate."""
    a, b, c = (mesh.vertices[mesh.triangles[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    down = np.degrees(np.arctan2(np.maximum(-normal[:, 2], 0.0), np.hypot(normal[:, 0], normal[:, 1])))
    on_plate = np.maximum(np.maximum(a[:, 2], b[:, 2]), c[:, 2]) <= mesh.vertices[:, 2].min() + 1e-9
    found: Floats = np.where(on_plate, 0.0, down)
    return found


def _line(outline: Outline) -> Floats:
    """A closed line of points, fine enough to look round (n, 2)."""
    from rollergen.shape.outline import Arc

    points: list[tuple[float, float]] = []
    for edge in outline.edges:
        if isinstance(edge, Arc):
            count = max(2, int(abs(edge.sweep) / 0.05) + 1)
            points += [edge.at(n / count) for n in range(count)]
        else:
            points.append(edge.start)
    return np.array(points)


def _joint_drawn(found: Prototype) -> JointDrawn | None:
    from rollergen.export.print_picture import JointDrawn

    seat, joint = found.seat, found.joint
    if seat is None or joint is None:
        return None
    bore, step, recess = (_along_x(o) for o in (found.section.bore, seat.step, seat.recess))
    return JointDrawn(
        step=_line(seat.step),
        recess=_line(seat.recess),
        bore_at=bore,
        step_at=step,
        recess_at=recess,
        hub_at=recess + joint.joint_left_mm,
        height=joint.joint_height_mm,
        above=joint.joint_above_mm,
        flat_at=_flat_at(seat),
    )


def _flat_at(seat: Seat) -> tuple[float, float] | None:
    """Middle of the corner that is cut flat; None for a step without."""
    from rollergen.tooling.print_key import flat_middle

    return flat_middle(seat.step) if seat.flat else None


def _along_x(outline: Outline) -> float:
    """Where an outline about the axis crosses +x (mm)."""
    from rollergen.shape.distance import signed_distance
    from rollergen.shape.properties import greatest_radius
    from rollergen.shape.way_out import largest_that_fits

    def inside(x: float) -> bool:
        return float(signed_distance(outline, np.array([[x, 0.0]]))[0]) < 0

    return largest_that_fits(inside, 0.0, greatest_radius(outline) * 1.01)
