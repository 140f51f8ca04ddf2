"""Can it be printed?  Everything that the section alone decides, exact on arcs and lines where it can be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, atan2, cos, degrees, hypot, pi, radians, sin, tau

import numpy as np

from rollergen.shape.offset import inward
from rollergen.shape.outline import Arc, Edge, Outline, normal_at
from rollergen.shape.properties import area_of, perimeter_of
from rollergen.shape.section import Section
from rollergen.spec.trace import Figure

STEEPEST = 45.0  # deg from upright that needs no support; two design guides
LONGEST_BRIDGE = 10.0  # mm, one design guide
FEWEST_LINES = 2  # across a wall; three design guides
ROTATIONS = 72  # lying down, at which bridges are looked at
SPACING = 0.1  # mm, of the places on an edge


@dataclass(frozen=True, slots=True, kw_only=True)
class Printer:
    """Plate and height, line width and layer in mm; shells; infill as a share; filament (g/cm3 and mm).

    ``solid_layers`` are filled whole at the lower and at the upper end.
    """

    plate: tuple[float, float]
    height: float
    line: float = 0.45
    layer: float = 0.2
    shells: int = 3
    infill: float = 0.2
    solid_layers: int = 4
    filament_density: float = 1.22
    filament_diameter: float = 1.75


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintReport:
    """One segment on one printer; lengths in mm, "upright" has the axis vertical.

    ``bridge_lying_mm``: (least, most) over rotations of the widest flat roof, None without holes.
    ``foot_lean_deg``: what a 45 deg chamfer at the lower end leans to, with the twist.
    """

    upright_lean_deg: float
    foot_lean_deg: float
    bridge_lying_mm: tuple[float, float] | None
    least_rubber_mm: float
    lines_across: int
    first_layer_cm2: float
    tip_circle_mm: float
    print_height_mm: float
    plate_ok: bool
    height_ok: bool
    shell_cm3: float
    filament_cm3: float
    filament_g: float
    filament_m: float
    printable: bool
    orientation: str
    warnings: tuple[str, ...]


def leaning(outline: Outline, turn_per_mm: float) -> float:
    """Greatest lean from upright of a side carried along z with a twist (rad): atan(k max |p x n|), exact.

    p x n is the arm of the normal about the axis: along an arc |c| sin(angle from c), along a line the place on it.
    """
    if turn_per_mm == 0:
        return 0.0
    return atan(abs(turn_per_mm) * max(_arm(edge) for edge in outline.edges))


def _arm(edge: Edge) -> float:
    """Greatest |p x n| along an edge, mm."""
    if not isinstance(edge, Arc):
        n = normal_at(edge, 0.5)
        return max(abs(p[0] * n[1] - p[1] * n[0]) for p in (edge.start, edge.end))
    reach = hypot(*edge.centre)
    if reach == 0:
        return 0.0
    towards = atan2(edge.centre[1], edge.centre[0])
    ends = [abs(sin(edge.angle + share * edge.sweep - towards)) for share in (0.0, 1.0)]
    low, high = sorted((edge.angle, edge.angle + edge.sweep))
    crests = (towards + pi / 2 + pi * k for k in range(-8, 9))
    return reach * (1.0 if any(low <= crest <= high for crest in crests) else max(ends))


def widest_roofs(holes: Sequence[Outline]) -> tuple[float, float] | None:
    """(least, most) over rotations of the widest roof of any hole flatter than 45 deg, lying down, mm.

    A roof is a run of the edge whose rubber hangs over air; found at places 0.1 mm apart, so to about that.
    """
    if not holes:
        return None
    runs = [_edge_places(hole) for hole in holes]
    found = []
    for turn in np.linspace(0, tau, ROTATIONS, endpoint=False):
        c, s = cos(turn), sin(turn)
        widest = 0.0
        for points, normals in runs:
            # rubber lies on the outside of a hole; it hangs where the hole's outward normal points up
            across, up = c * points[:, 0] - s * points[:, 1], s * normals[:, 0] + c * normals[:, 1]
            widest = max(widest, _widest_run(across, up > cos(radians(STEEPEST))))
        found.append(widest)
    return (min(found), max(found))


def _edge_places(hole: Outline) -> tuple[np.ndarray, np.ndarray]:
    points, normals = [], []
    for edge in hole.edges:
        length = edge.radius * abs(edge.sweep) if isinstance(edge, Arc) else hypot(
            edge.end[0] - edge.start[0], edge.end[1] - edge.start[1]
        )  # fmt: skip
        count = max(2, int(length / SPACING))
        for share in (np.arange(count) + 0.5) / count:
            normals.append(normal_at(edge, float(share)))
            if isinstance(edge, Arc):
                points.append(edge.at(float(share)))
            else:
                points.append(tuple(a + share * (b - a) for a, b in zip(edge.start, edge.end, strict=True)))
    return np.array(points), np.array(normals)


def _widest_run(across: np.ndarray, hangs: np.ndarray) -> float:
    """Greatest extent of a run of hanging places round the closed edge."""
    if not hangs.any():
        return 0.0
    if hangs.all():
        return float(np.ptp(across))
    first = int(np.flatnonzero(~hangs)[0])
    across, hangs = np.roll(across, -first), np.roll(hangs, -first)
    steps = np.diff(np.concatenate([[0], hangs.astype(int), [0]]))
    runs = zip(np.flatnonzero(steps == 1), np.flatnonzero(steps == -1), strict=True)
    return max(float(np.ptp(across[a:b])) for a, b in runs)


def net_area(section: Section, moved: float) -> float:
    """Area of the section with every edge moved ``moved`` mm into the rubber (mm2); ValueError where an edge vanishes."""
    return area_of(inward(section.outer, moved)) - sum(area_of(inward(h, -moved)) for h in section.holes)


def check_print(
    section: Section, *, turn_per_mm: float, length: float, least_rubber: float, tip_radius: float,
    printer: Printer, foot: float,
) -> PrintReport:  # fmt: skip
    """What printing this segment upright takes, and why not lying down.

    ``least_rubber``: thinnest of wall, web and hub wall (mm), true at every height because holes run straight
    and ribs only add.  ``foot``: elephant-foot relief of the first layers (mm).
    """
    lean = leaning(section.outer, turn_per_mm)
    foot_lean = atan(1 + np.tan(lean))
    roofs = widest_roofs(section.holes)
    lines = int(least_rubber / printer.line + 1e-9)
    tip = 2 * tip_radius
    area = net_area(section, 0.0)
    shell = _shell_area(section, printer, least_rubber, area) * length / 1000
    whole = area * length / 1000
    solid = min(1.0, 2 * printer.solid_layers * printer.layer / length)
    used = shell + (printer.infill + (1 - printer.infill) * solid) * (whole - shell)
    plate_ok, height_ok = tip <= min(printer.plate), length <= printer.height
    warnings = _warnings(lean, foot_lean, roofs, lines, printer, foot)
    return PrintReport(
        upright_lean_deg=degrees(lean), foot_lean_deg=degrees(foot_lean), bridge_lying_mm=roofs,
        least_rubber_mm=least_rubber, lines_across=lines,
        first_layer_cm2=net_area(section, foot) / 100, tip_circle_mm=tip, print_height_mm=length,
        plate_ok=plate_ok, height_ok=height_ok, shell_cm3=shell, filament_cm3=used,
        filament_g=used * printer.filament_density,
        filament_m=used / (pi / 4 * printer.filament_diameter**2),
        printable=plate_ok and height_ok and lines >= FEWEST_LINES and lean <= radians(STEEPEST) + 1e-12,
        orientation="upright: axis vertical, ends on the plate", warnings=warnings,
    )  # fmt: skip


def _shell_area(section: Section, printer: Printer, least_rubber: float, area: float) -> float:
    """Area taken by the shells (mm2): everything where the thinnest rubber is no wider than its shells.

    Where a rounding is smaller than the shells, Steiner's formula stands for the band: a little too much.
    """
    depth = printer.shells * printer.line
    if 2 * depth >= least_rubber:
        return area
    try:
        return area - net_area(section, depth)
    except ValueError:
        edges = perimeter_of(section.outer) + sum(perimeter_of(hole) for hole in section.holes)
        return edges * depth + pi * depth**2 * (len(section.holes) - 1)


def _warnings(
    lean: float,
    foot_lean: float,
    roofs: tuple[float, float] | None,
    lines: int,
    printer: Printer,
    foot: float,
) -> tuple[str, ...]:
    found = []
    if lines < FEWEST_LINES:
        found.append(
            f"{lines} lines of {printer.line:g} mm across the thinnest rubber, at least {FEWEST_LINES} are wanted: scale"
            " up or use a finer nozzle"
        )
    if lean > radians(STEEPEST) + 1e-12:
        found.append(
            f"rib flanks lean {degrees(lean):.1f} deg from upright, beyond {STEEPEST:g} deg they need support: a longer"
            " helix pitch leans less"
        )
    if foot > 0 and foot_lean > radians(STEEPEST):
        found.append(
            f"the lower edge's relief leans {degrees(foot_lean):.1f} deg with the twist: over {foot:g} mm that prints"
        )
    if roofs is not None and roofs[1] > LONGEST_BRIDGE:
        found.append(
            f"lying down is refused: roofs bridge {roofs[0]:.1f} to {roofs[1]:.1f} mm, at most {LONGEST_BRIDGE:g} mm holds"
        )
    return tuple(found)


def _figure(key: str, unit: str, words: str, formula: str, limits: str = "exact on arcs and lines") -> Figure:
    return Figure(
        key=key, words=words, formula=formula, source="geometry of the section", limits=limits, unit=unit
    )


FIGURES = (
    _figure("upright_lean_deg", "deg", "greatest lean of a side from upright, axis vertical", "atan(k max |p x n|)"),
    _figure("foot_lean_deg", "deg", "lean of the lower edge's relief with the twist", "atan(1 + k max |p x n|)"),
    _figure("bridge_lying_mm", "mm", "widest flat roof of a hole lying down, least and most over rotations",
            "runs of edge flatter than 45 deg", "to 0.1 mm, 72 rotations"),
    _figure("least_rubber_mm", "mm", "thinnest of wall, web and hub wall as printed", "exact distances x scale"),
    _figure("lines_across", "1", "whole lines across the thinnest rubber", "floor(thickness / line width)"),
    _figure("first_layer_cm2", "cm2", "area on the plate", "section moved in by the relief, Steiner"),
    _figure("tip_circle_mm", "mm", "circle the segment needs on the plate", "tip diameter x scale"),
    _figure("print_height_mm", "mm", "height upright", "length x scale"),
    _figure("plate_ok", "-", "whether the tip circle fits the plate", "tip circle <= shorter side"),
    _figure("height_ok", "-", "whether it fits in one piece", "height <= printer's"),
    _figure("shell_cm3", "cm3", "volume of the shells", "band of shells x line width along every edge, times height",
            "all of it where the thinnest rubber is no wider than its shells; bound where a rounding is smaller"),
    _figure("filament_cm3", "cm3", "volume of filament", "shells + infill x rest + solid layers", "no supports, no skirt"),
    _figure("filament_g", "g", "mass of filament", "volume x filament density", "no supports, no skirt"),
    _figure("filament_m", "m", "length of filament", "volume / (pi/4 d2)", "no supports, no skirt"),
    _figure("printable", "-", "whether it can be printed upright in one piece", "plate, height, lines and lean are met"),
)  # fmt: skip
