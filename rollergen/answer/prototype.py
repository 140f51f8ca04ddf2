"""A profile as a printed stand-in: scaled, its bore for a test shaft, checked, and cut to fit the printer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from math import ceil, floor, radians

from rollergen.answer.report import Drawn
from rollergen.errors import UsageError
from rollergen.shape.bore import bore_outline
from rollergen.shape.offset import inward
from rollergen.shape.outline import Outline
from rollergen.shape.part_holes import backwards, clearance
from rollergen.shape.part_volume import volume_of
from rollergen.shape.properties import greatest_radius
from rollergen.shape.section import Section
from rollergen.shape.way_out import largest_that_fits
from rollergen.spec.amounts import at_least, at_most, mm
from rollergen.spec.profile import Bore
from rollergen.spec.trace import Figure
from rollergen.tooling.print_checks import (
    FEWEST_LINES,
    Printer,
    PrintReport,
    better_end,
    check_print,
    filament_shares,
    thinnest_of,
)
from rollergen.tooling.print_cuts import SMALLEST_SCALE, Cutting, check_cuts, even_cuts
from rollergen.tooling.print_joint import Joint, Seat, seat_of, wrong
from rollergen.tooling.print_lean import turned_over
from rollergen.tooling.print_split import Ends, Pieces, split
from rollergen.tooling.shrinkage import scaled_outline

CAUTIONS = (
    "a printed prototype is not the cast compound: it shows shape and fit, not grip, give or wear; not for service",
    "heated plastics emit fumes and hot parts burn: ventilate, follow the supplier's sheets and local codes",
    "fitted on a turning shaft it can burst or come loose: guard it, keep hands out, turn slowly",
)
LARGEST_SCALE = 10.0
LOOSE = 1.0  # mm at the rib tip that a joint may be turned before it is worth a word


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintAsked:
    """How to print (mm).

    ``cuts`` from the z = 0 end at the printed scale; None cuts evenly as needed.  ``shaft`` across, of a real bar,
    takes the place of the scaled bore's; ``shaft_clearance`` and ``shaft_corner`` go with it (None: the profile's).
    """

    printer: Printer
    scale: float = 1.0
    cuts: tuple[float, ...] | None = None
    joint: Joint = Joint()  # noqa: RUF009  frozen
    foot: float = 0.4
    shaft: float | None = None
    shaft_clearance: float | None = None
    shaft_corner: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """One piece as the report tells it; heights from the segment's z = 0 end at the printed scale."""

    name: str
    from_mm: float
    to_mm: float
    piece_height_mm: float
    first_layer_cm2: float
    piece_volume_mm3: float
    filament_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JointReport:
    """The joints; None of it without cuts."""

    joint_form: str
    joint_rim_mm: float
    joint_left_mm: float
    joint_height_mm: float
    joint_around_mm: float
    joint_above_mm: float
    joint_ledge_mm: float
    joint_play_deg: float
    joint_play_tip_mm: float
    joint_flat_mm: float
    joint_ways: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Prototype:
    """What to print and how it went: the numbers, the pieces themselves, the section as it stands on the plate."""

    profile: str
    scale: float
    bore_mm: float
    shaft_mm: float
    report: PrintReport
    printed: tuple[Printed, ...]
    joint: JointReport | None
    seat: Seat | None
    pieces: Pieces
    section: Section
    turn_per_mm: float
    upside_down: bool


def prototype_of(drawn: Drawn, asked: PrintAsked) -> Prototype:
    """Check a segment against a printer and cut it to fit.

    Raises UsageError for a number that makes no sense, ProfileError for a plate too small for any split (with the
    scale that would fit), a shaft the hub cannot take, cuts out of place, or a joint that does not fit.
    """
    _refuse_senseless(asked)
    profile, s, printer = drawn.profile, asked.scale, asked.printer
    length, tip, body = profile.body.free_length * s, profile.tip_radius * s, profile.body_radius * s
    _refuse_small_plate(2 * tip, s, printer)
    bore = _bore_as_printed(profile.bore, asked)
    ends = Ends(foot=asked.foot, chamfer=profile.body.edge_chamfer * s, lead_in=bore.lead_in)
    section = _printed_section(drawn.section, bore, asked, body, ends)
    _refuse_large_foot(section, ends)
    turn = profile.turn_per_mm / s
    over, lean, other = better_end(section, turn, length)
    if over:
        section, lean, other = turned_over(section, turn, length), other, lean
    cuts = _cuts(asked, length, ends, over)
    seat = seat_of(section, asked.joint, body_radius=body, line=printer.line) if cuts else None
    pieces = split(
        section, name=profile.name, colour=profile.compound.colour, turn_per_mm=turn, length=length, cuts=cuts,
        seat=seat, joint=asked.joint, ends=ends,
    )  # fmt: skip
    volumes = tuple(volume_of(piece.part) for piece in pieces.pieces)
    report = check_print(
        section, pieces=pieces.pieces, volumes=volumes, turn_per_mm=turn, thinnest=thinnest_of(section, body),
        tip_radius=tip, printer=printer, ends=ends, end_down=f"z = {'length' if over else '0'}", other_lean=other,
    )  # fmt: skip
    joint = None if seat is None else _joint_report(seat, asked.joint, tip)
    return Prototype(
        profile=profile.name, scale=s, bore_mm=bore.width, shaft_mm=bore.across,
        report=replace(report, warnings=(*report.warnings, *_more_warnings(drawn, asked, joint, seat, bore))),
        printed=_printed(pieces, volumes, printer, length, over),
        joint=joint, seat=seat, pieces=pieces, section=section, turn_per_mm=turn, upside_down=over,
    )  # fmt: skip


def _refuse_senseless(asked: PrintAsked) -> None:
    printer = asked.printer
    if not SMALLEST_SCALE <= asked.scale <= LARGEST_SCALE:
        raise UsageError(
            f"--scale {asked.scale:g}: {SMALLEST_SCALE:g} to {LARGEST_SCALE:g} is meant, 1 is as cast"
        )
    if not 0 <= asked.foot <= printer.line:
        raise UsageError(
            f"--elephant-foot {asked.foot:g} mm: 0 to one line, {printer.line:g} mm; what spreads on the plate is less"
        )
    if printer.layer > printer.line:
        raise UsageError(
            f"--layer {printer.layer:g} mm: at most one line, {printer.line:g} mm, or it does not hold"
        )
    if asked.shaft is None and (asked.shaft_clearance, asked.shaft_corner) != (None, None):
        raise UsageError("--shaft-clearance and --shaft-corner go with --shaft")


def _refuse_small_plate(circle: float, scale: float, printer: Printer) -> None:
    plate = min(printer.plate)
    if circle <= plate:
        return
    fits = floor(scale * plate / circle * 1000) / 1000
    raise wrong(
        "--printer",
        f"the tip circle of {circle:.2f} mm is wider than the plate of {plate:g} mm, cuts across do not help:"
        + (
            f" --scale {fits:g} fits"
            if fits >= SMALLEST_SCALE
            else f" a plate of {ceil(circle / scale * SMALLEST_SCALE * 100) / 100:g} mm and more takes --scale"
            f" {SMALLEST_SCALE:g}"
        ),
    )


def _bore_as_printed(bore: Bore, asked: PrintAsked) -> Bore:
    """The bore at the printed scale, or for the test shaft."""
    s = asked.scale
    scaled = {
        "corner_radius": bore.corner_radius * s,
        "lead_in": bore.lead_in * s,
        "key_width": None if bore.key_width is None else bore.key_width * s,
        "key_depth": None if bore.key_depth is None else bore.key_depth * s,
    }
    if asked.shaft is None:
        return bore.model_copy(update={**scaled, "across": bore.across * s, "clearance": bore.clearance * s})
    clear = bore.clearance if asked.shaft_clearance is None else asked.shaft_clearance
    if asked.shaft_corner is not None:
        scaled["corner_radius"] = asked.shaft_corner
    made = bore.model_copy(update={**scaled, "across": asked.shaft, "clearance": clear})
    limit = made.width / 2 if made.key_width is None else min(made.key_width / 2, made.key_depth or 0.0)
    if made.corner_radius >= limit and made.section != "round":
        raise wrong(
            "--shaft-corner",
            f"{mm(made.corner_radius)} does not fit a bore {mm(made.width)} across; at most {at_most(limit)}",
        )
    if made.key_width is not None and made.key_width >= made.width:
        raise wrong(
            "--shaft", f"{mm(asked.shaft)} is no wider than its key of {mm(made.key_width)}; a larger shaft"
        )
    return made


def _printed_section(section: Section, bore: Bore, asked: PrintAsked, body: float, ends: Ends) -> Section:
    """Everything at the printed scale; a test shaft's bore must leave two lines of hub wall, one at its mouth."""
    outer = scaled_outline(section.outer, asked.scale)
    chambers = tuple(scaled_outline(c, asked.scale) for c in section.chambers)
    made = Section(outer=outer, bore=bore_outline(bore), chambers=chambers)
    if asked.shaft is None:
        return made
    line = asked.printer.line

    def fits(across: float) -> bool:
        hole = bore_outline(bore.model_copy(update={"across": across}))
        if _hub(hole, chambers, body) < FEWEST_LINES * line:
            return False
        return _hub(inward(hole, -ends.bore_foot), chambers, body) >= line

    if not fits(asked.shaft):
        # from a bore that can just carry its corners or key up to the shaft asked for
        least = 2 * bore.corner_radius - bore.clearance if bore.key_width is None else bore.key_width
        most = largest_that_fits(fits, max(least, 0.0) + 0.01, asked.shaft)
        raise wrong(
            "--shaft",
            f"{mm(asked.shaft)} across: a bore of {mm(bore.width)} leaves {max(_hub(made.bore, chambers, body), 0):.2f} mm"
            f" of hub wall at scale {asked.scale:g}, {FEWEST_LINES} lines of {line:g} mm and one at its mouth must stay:"
            f" at most {at_most(most)}",
        )
    return made


def _hub(bore: Outline, chambers: tuple[Outline, ...], body: float) -> float:
    return min([body - greatest_radius(bore), *(clearance(bore, c) for c in chambers)])


def _refuse_large_foot(section: Section, ends: Ends) -> None:
    """Edges on the plate must not vanish, nor meet, once the relief has moved them into the rubber."""

    def fits(foot: float) -> bool:
        try:
            outer = inward(section.outer, foot)
            bore = inward(section.bore, -max(foot, ends.lead_in))
            holes = [bore, *(inward(chamber, -foot) for chamber in section.chambers)]
        except ValueError:
            return False
        loops = [Outline(backwards(outer.edges)), *holes]
        return all(clearance(a, b) > 0 for a, b in combinations(loops, 2))

    if ends.foot > 0 and not fits(ends.foot):
        works = at_most(largest_that_fits(fits, 0.0, ends.foot))
        raise wrong(
            "--elephant-foot",
            f"{ends.foot:g} mm eats up an edge of the section, or the rubber between two; {works} or less, 0 mm for none",
        )


def _cuts(asked: PrintAsked, length: float, ends: Ends, over: bool) -> tuple[float, ...]:
    """Cuts from the plate up."""
    printer = asked.printer
    cutting = Cutting(
        length=length, joint=asked.joint, layer=printer.layer, flat=printer.flat_depth, ends=ends
    )
    if asked.cuts is None:
        return even_cuts(cutting, printer.height, scale=asked.scale)
    check_cuts(asked.cuts, cutting)
    return tuple(length - cut for cut in reversed(asked.cuts)) if over else asked.cuts


def _printed(
    pieces: Pieces, volumes: tuple[float, ...], printer: Printer, length: float, over: bool
) -> tuple[Printed, ...]:
    grams = filament_shares(pieces.pieces, volumes, printer)
    return tuple(
        Printed(
            name=piece.part.name,
            from_mm=length - piece.high if over else piece.low,
            to_mm=length - piece.low if over else piece.high,
            piece_height_mm=piece.top - piece.low,
            first_layer_cm2=piece.first_layer / 100,
            piece_volume_mm3=volume,
            filament_g=gram,
        )
        for piece, volume, gram in zip(pieces.pieces, volumes, grams, strict=True)
    )


def _joint_report(seat: Seat, joint: Joint, tip: float) -> JointReport:
    return JointReport(
        joint_form=seat.form, joint_rim_mm=seat.rim, joint_left_mm=seat.left, joint_height_mm=joint.height,
        joint_around_mm=joint.around, joint_above_mm=joint.above, joint_ledge_mm=seat.ledge,
        joint_play_deg=seat.play_deg, joint_play_tip_mm=radians(seat.play_deg) * tip,
        joint_flat_mm=seat.flat, joint_ways=seat.ways,
    )  # fmt: skip


def _more_warnings(
    drawn: Drawn, asked: PrintAsked, joint: JointReport | None, seat: Seat | None, bore: Bore
) -> tuple[str, ...]:
    found = []
    if joint is not None and seat is not None:
        found.append(
            f"the roof of each recess hangs over by up to {joint.joint_ledge_mm:.2f} mm: scrape it where it sags more than"
            f" the {joint.joint_above_mm:g} mm left for it"
        )
        if joint.joint_play_tip_mm > LOOSE:
            found.append(
                f"a joint can turn {joint.joint_play_deg:.2f} deg, {joint.joint_play_tip_mm:.2f} mm at the rib tip:"
                " line the ribs up before it is glued"
            )
        if seat.ways > 1:
            found.append(_many_ways(seat))
    if asked.shaft is not None and bore.section in ("square", "hexagon"):
        found.append(
            f"the bore's corners are rounded to {bore.corner_radius:g} mm: sharper shaft corners do not go in"
            " (--shaft-corner)"
        )
    if drawn.profile.chambers is not None and drawn.profile.chambers.foamed:
        found.append("chambers meant for foam stay empty")
    return tuple(found)


def _many_ways(seat: Seat) -> str:
    way_out = (
        ""
        if seat.one_way_rim is None
        else f'; --joint-rim "{at_least(seat.one_way_rim)}" cuts a corner flat for that'
    )
    return (
        f"the pieces go together {seat.ways} ways, and only where the ribs run on is right: draw a line across the joint"
        f" before it is glued{way_out}"
    )


def _figure(key: str, unit: str, words: str, formula: str, limits: str = "exact") -> Figure:
    return Figure(
        key=key, words=words, formula=formula, source="geometry of the print", limits=limits, unit=unit
    )


FIGURES = (
    Figure(
        key="scale", words="size of the print over the casting", formula="input", source="input",
        limits="walls, lines and clearances are judged as printed", unit="1",
    ),
    _figure("bore_mm", "mm", "width of the printed bore, across flats or its diameter", "shaft + clearance"),
    _figure("shaft_mm", "mm", "shaft the printed bore is for", "input, or the profile's at the printed scale"),
    _figure("joint", "-", "the joints between pieces, null for a print in one piece", "one form for all"),
    _figure("joint_form", "-", "what the step round the bore looks like", "the bore's outline moved out, or a polygon"),
    _figure("joint_rim_mm", "mm", "thinnest rubber of a step, its flat corner counted", "distance of step and bore"),
    _figure("joint_left_mm", "mm", "thinnest rubber round a recess", "distance of recess and chambers, or the body"),
    _figure("joint_height_mm", "mm", "height of a step", "input"),
    _figure("joint_around_mm", "mm", "radial clearance of a step in its recess", "input",
            "a printer lays lines to about 0.1 mm (common practice, no source)"),
    _figure("joint_above_mm", "mm", "axial clearance of a step in its recess", "input"),
    _figure("joint_ledge_mm", "mm", "widest place of the flat roof over a recess", "greatest distance of recess and bore"),
    _figure("joint_play_deg", "deg", "how far a centred step turns until it touches", "outlines turned until they meet"),
    _figure("joint_play_tip_mm", "mm", "the same at the rib tip", "play x tip radius"),
    _figure("joint_flat_mm", "mm", "how deep one corner of step and recess is cut flat, so that it fits in one turn only",
            "1.5 mm or half the rubber at that corner; 0 for none", "at least 2 to 2.4 clearances and 0.2 mm"),
    _figure("joint_ways", "1", "turns in which two pieces go together; in one of them the ribs run on",
            "1 with a flat or a key, else the sides of the step"),
)  # fmt: skip
