"""Can it be printed?  What the section alone decides, exact on arcs and lines where it can be, and the verdict."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, degrees, hypot, pi, radians, tan

from rollergen.shape.outline import Line, Outline
from rollergen.shape.section import Section, thicknesses_of
from rollergen.spec.amounts import at_most, mm
from rollergen.spec.trace import Figure
from rollergen.tooling.filament import filled_of, used_of
from rollergen.tooling.print_lean import hanging, turned_over, widest_roofs
from rollergen.tooling.print_plate import footprint, room_on, widest
from rollergen.tooling.print_split import Ends, Piece

STEEPEST = 45.0  # deg from upright that needs no support; two design guides
LONGEST_BRIDGE = 10.0  # mm, one design guide
FEWEST_LINES = 2  # across a wall; three design guides
WORTH_TURNING = 1.0  # deg: a segment is stood on its other end when it leans less there by this much
SAME = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Printer:
    """Plate and height in mm, line width, layer, shells, solid layers at flat ends, infill as a share, filament
    (g/cm3 and mm)."""

    plate: tuple[float, float]
    height: float
    line: float = 0.45
    layer: float = 0.2
    shells: int = 3
    solid_layers: int = 4
    infill: float = 0.2
    filament_density: float = 1.22
    filament_diameter: float = 1.75

    @property
    def shell_depth(self) -> float:
        return self.shells * self.line

    @property
    def flat_depth(self) -> float:
        return self.solid_layers * self.layer


@dataclass(frozen=True, slots=True, kw_only=True)
class Thinnest:
    """The thinnest rubber of a section and where it is (mm)."""

    least: float
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintReport:
    """One segment on one printer, axis upright; lengths in mm at the printed scale.

    ``turned_lean_deg``: the lean on the other end.  ``bridge_lying_mm``: (least, most) over rotations, None
    without holes.  ``foot_lean_deg``: the relief on the plate with the twist, None without relief.
    """

    printable: bool
    orientation: str
    reasons: tuple[str, ...]
    warnings: tuple[str, ...]
    upright_lean_deg: float
    turned_lean_deg: float
    foot_lean_deg: float | None
    bridge_lying_mm: tuple[float, float] | None
    least_rubber_mm: float
    thinnest_at: str
    lines_across: int
    tip_circle_mm: float
    footprint_mm: tuple[float, float]
    plate_left_mm: float
    print_height_mm: float
    height_left_mm: float
    layers: int
    first_layer_cm2: float
    solid_cm3: float
    shell_cm3: float
    flats_cm3: float
    shells_exact: bool
    filament_cm3: float
    filament_g: float
    filament_m: float


def thinnest_of(section: Section, body_radius: float) -> Thinnest:
    """The least of wall, web, hub wall and rib, exact; true at every height: holes run straight, ribs only add."""
    thick = thicknesses_of(section, body_radius)
    places = [
        ("wall", thick.wall),
        ("web", thick.web),
        ("hub wall", thick.hub_wall),
        ("rib", rib_width(section.outer)),
    ]
    if not section.chambers:
        places.append(("between bore and body", thick.solid))
    least, at = min((value, name) for name, value in places if value is not None)
    return Thinnest(least=least, at=at)


def lines_across(thinnest: Thinnest, printer: Printer) -> int:
    """Whole lines across the thinnest rubber."""
    return int(thinnest.least / printer.line + SAME)


def rib_width(outer: Outline) -> float | None:
    """Width of the narrowest rib across its flanks' tip ends (mm); None without ribs."""
    flanks = [edge for edge in outer.edges if isinstance(edge, Line) and edge.feature == "flank"]
    pairs = zip(flanks[0::2], flanks[1::2], strict=False)
    widths = [hypot(up.end[0] - down.start[0], up.end[1] - down.start[1]) for up, down in pairs]
    return min(widths, default=None)


def better_end(section: Section, turn_per_mm: float, length: float) -> tuple[bool, float, float]:
    """Whether to stand it on its other end, its lean as it stands, and its lean on the other end (rad).

    Unlike flanks hang by different amounts on either end; little is gained by less than a degree, but for the one that
    spares the support.
    """
    over = turned_over(section, turn_per_mm, length)
    stands, other = hanging(section.outer, turn_per_mm), hanging(over.outer, turn_per_mm)
    spares_support = degrees(stands) > STEEPEST + SAME >= degrees(other)
    return (spares_support or degrees(stands - other) > WORTH_TURNING, stands, other)


def check_print(
    section: Section, *, pieces: Sequence[Piece], volumes: Sequence[float], turn_per_mm: float,
    thinnest: Thinnest, tip_radius: float, printer: Printer, ends: Ends, end_down: str, other_lean: float,
    lower: Callable[[], str],
) -> PrintReport:  # fmt: skip
    """What printing the pieces upright takes, why not lying down, and the verdict.

    ``section`` stands as it is printed, ``volumes`` (mm3) are the pieces' own, ``other_lean`` (rad) is the lean on
    the other end, ``lower`` says how pieces that are too high for the printer can be lower.
    """
    lean = degrees(hanging(section.outer, turn_per_mm))
    foot_lean = degrees(hanging(section.outer, turn_per_mm, slope=1.0)) if ends.foot else None
    highest = max(piece.top - piece.low for piece in pieces)
    lines = lines_across(thinnest, printer)
    spans = [span for piece in pieces for span in piece.spans]
    filled = filled_of(spans, printer.shell_depth, printer.flat_depth)
    solid = sum(volumes)
    used = sum(_used(pieces, volumes, printer))
    roofs = widest_roofs(section.holes)
    covered = widest(printer.plate, [footprint(section.outer, turn_per_mm, p.low, p.high) for p in pieces])
    reasons = _reasons(lean, lines, thinnest, highest, printer, lower)
    return PrintReport(
        printable=not reasons,
        orientation=_orientation(end_down, lean, roofs),
        reasons=reasons,
        warnings=_warnings(foot_lean, roofs, ends, exact=filled.exact),
        upright_lean_deg=lean,
        turned_lean_deg=degrees(other_lean),
        foot_lean_deg=foot_lean,
        bridge_lying_mm=roofs,
        least_rubber_mm=thinnest.least,
        thinnest_at=thinnest.at,
        lines_across=lines,
        tip_circle_mm=2 * tip_radius,
        footprint_mm=covered,
        plate_left_mm=room_on(printer.plate, covered),
        print_height_mm=highest,
        height_left_mm=printer.height - highest,
        layers=sum(ceil((piece.top - piece.low) / printer.layer - 1e-6) for piece in pieces),
        first_layer_cm2=pieces[0].first_layer / 100,
        solid_cm3=solid / 1000,
        shell_cm3=min(filled.shells, solid) / 1000,
        flats_cm3=filled.flats / 1000,
        shells_exact=filled.exact,
        filament_cm3=used,
        filament_g=used * printer.filament_density,
        filament_m=used / (pi / 4 * printer.filament_diameter**2),
    )  # fmt: skip


def filament_shares(pieces: Sequence[Piece], volumes: Sequence[float], printer: Printer) -> tuple[float, ...]:
    """Filament of every piece (g)."""
    return tuple(used * printer.filament_density for used in _used(pieces, volumes, printer))


def _used(pieces: Sequence[Piece], volumes: Sequence[float], printer: Printer) -> list[float]:
    """Filament of every piece (cm3): one may be all shell where another has room for infill."""
    filled = [filled_of(piece.spans, printer.shell_depth, printer.flat_depth) for piece in pieces]
    return [
        used_of(volume, fill, printer.infill) / 1000 for volume, fill in zip(volumes, filled, strict=True)
    ]


def _reasons(
    lean: float, lines: int, thinnest: Thinnest, highest: float, printer: Printer, lower: Callable[[], str]
) -> tuple[str, ...]:
    found = []
    if lines < FEWEST_LINES:
        finer = at_most(thinnest.least / FEWEST_LINES)
        up = ceil(FEWEST_LINES * printer.line / max(thinnest.least, SAME) * 100 - SAME) / 100
        found.append(
            f"{lines} lines of {printer.line:g} mm across the thinnest rubber ({thinnest.least:.2f} mm, {thinnest.at}),"
            f" {FEWEST_LINES} at least are wanted: a line of {finer}, or {up:.2f} times the scale"
        )
    if lean > STEEPEST + SAME:
        longer = ceil(tan(radians(lean)) / tan(radians(STEEPEST)) * 100 - SAME) / 100
        found.append(
            f"rib flanks lean {lean:.1f} deg from upright, beyond {STEEPEST:g} deg they need support: a longer helix"
            f" pitch ({longer:g} times) or lower ribs lean less"
        )
    if highest > printer.height + SAME:
        found.append(
            f"the highest piece stands {highest:.1f} mm, the printer has {printer.height:g} mm: {lower()}"
        )
    return tuple(found)


def _orientation(end_down: str, lean: float, roofs: tuple[float, float] | None) -> str:
    """How it stands, and what the roofs of its holes say of lying down; ``lean`` in deg."""
    found = f"upright: axis vertical, the end at {end_down} on the plate"
    if lean > STEEPEST + SAME:
        found += ", with support under the rib flanks"
    if roofs is None or roofs[1] <= LONGEST_BRIDGE:
        return f"{found}; lying down its holes would bridge, but it would stand on a line"
    if roofs[0] <= LONGEST_BRIDGE:
        return f"{found}; lying down its holes bridge in some rotations only"
    return f"{found}; lying down is refused"


def _warnings(
    foot_lean: float | None, roofs: tuple[float, float] | None, ends: Ends, *, exact: bool
) -> tuple[str, ...]:
    lying = "lying down it would stand on rib tips or a line of the body"
    if roofs is not None:
        verdict = (
            "beyond" if roofs[0] > LONGEST_BRIDGE else "within" if roofs[1] <= LONGEST_BRIDGE else "astride"
        )
        lying += (
            f", with roofs of {roofs[0]:.1f} to {roofs[1]:.1f} mm over its holes, {verdict} the"
            f" {LONGEST_BRIDGE:g} mm that bridge"
        )
    found = [lying]
    if foot_lean is not None and foot_lean > STEEPEST + SAME:
        found.append(
            f"with the twist the 45 deg relief on the plate leans {foot_lean:.1f} deg: {ends.foot:g} mm of it prints,"
            " a larger chamfer there would need support"
        )
    if ends.chamfer:
        takes = f"the relief of {ends.foot:g} mm takes its place" if ends.foot else "the edge there is sharp"
        found.append(
            f"the cast chamfer of {mm(ends.chamfer)} is kept at the upper end only: on the plate {takes}"
        )
    if not exact:
        found.append(
            "somewhere shells meet, or an edge is rounder than they are deep: their area is counted on a grid"
        )
    return tuple(found)


def _figure(key: str, unit: str, words: str, formula: str, limits: str = "exact on arcs and lines") -> Figure:
    return Figure(
        key=key, words=words, formula=formula, source="geometry of the section", limits=limits, unit=unit
    )


FIGURES = (
    _figure("upright_lean_deg", "deg", "greatest lean from upright of what hangs over, as it stands",
            "atan(max k (p x n)), k the twist a mm, p x n the arm of the outward normal",
            f"{STEEPEST:g} deg need no support"),
    _figure("turned_lean_deg", "deg", "the same, stood on the other end", "atan(max -k (p x n))"),
    _figure("foot_lean_deg", "deg", "lean of the relief on the plate with the twist", "atan(1 + max k (p x n))"),
    _figure("bridge_lying_mm", "mm", "widest roof of a hole lying down, least and most over rotations",
            "runs of edge flatter than 45 deg", f"widths exact, rotations 4 deg apart; {LONGEST_BRIDGE:g} mm bridge"),
    _figure("least_rubber_mm", "mm", "thinnest of wall, web, hub wall and rib as printed", "distances of arcs and lines"),
    _figure("thinnest_at", "-", "where the rubber is thinnest", "least of wall, web, hub wall, rib"),
    _figure("lines_across", "1", "whole lines across the thinnest rubber", "floor(thickness / line width)",
            f"{FEWEST_LINES} at least, three design guides"),
    _figure("tip_circle_mm", "mm", "circle the segment fits in however it is turned", "tip diameter x scale"),
    _figure("footprint_mm", "mm", "what the widest piece covers of the plate along x and y, as it stands",
            "farthest reach of the outline over the piece's twist", "exact; reliefs not counted"),
    _figure("plate_left_mm", "mm", "what the plate is larger than that, on its tighter side", "side - footprint",
            "turned by a right angle too, no other turn looked at; no brim, no skirt"),
    _figure("print_height_mm", "mm", "height of the highest piece, its step counted", "to - from + step"),
    _figure("height_left_mm", "mm", "what the printer is higher than that", "printer height - piece height"),
    _figure("layers", "1", "layers of all pieces", "sum of height / layer, rounded up"),
    _figure("first_layer_cm2", "cm2", "area on the plate of a piece, of the first piece on top of the report",
            "section moved in by the relief, Steiner"),
    _figure("solid_cm3", "cm3", "volume of all pieces, solid", "closed form of sides and caps"),
    _figure("shell_cm3", "cm3", "volume of the shells", "area within shells x line width of any edge, times height",
            "reliefs and chamfers not counted"),
    _figure("flats_cm3", "cm3", "volume of solid layers inside the shells, at the flat ends of every piece",
            "solid layers x layer height x area inside the shells", "ledges of joints not counted"),
    _figure("shells_exact", "-", "whether the shells' area is a closed form", "Steiner until edges meet or vanish",
            "else counted on a grid, good to about 0.1 %"),
    _figure("filament_cm3", "cm3", "volume of filament", "shells + solid layers + infill x the rest",
            "no supports, no skirt"),
    _figure("filament_g", "g", "mass of filament", "volume x filament density", "as the volume"),
    _figure("filament_m", "m", "length of filament", "volume / (pi/4 d^2)", "as the volume"),
)  # fmt: skip
