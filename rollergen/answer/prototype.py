"""A profile as a printed stand-in: scaled, its bore for a test shaft, checked, and cut to fit the printer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from math import radians

from rollergen.answer.proto_ways import SMALLEST_SCALE, joint_offers, lower_pieces, with_ways
from rollergen.answer.report import Drawn
from rollergen.errors import UsageError
from rollergen.shape.bore import bore_outline
from rollergen.shape.part_volume import volume_of
from rollergen.shape.section import Section
from rollergen.spec.amounts import at_least, mm
from rollergen.spec.profile import Bore
from rollergen.spec.trace import Figure
from rollergen.tooling.print_bore import (
    SHARP,
    BarAsked,
    Hub,
    bore_as_printed,
    check_foot,
    check_shaft,
    keyway_text,
    sharpest_corner,
)
from rollergen.tooling.print_checks import (
    FEWEST_LINES,
    SAME,
    Printer,
    PrintReport,
    better_end,
    check_print,
    filament_shares,
    lines_across,
    thinnest_of,
)
from rollergen.tooling.print_cuts import Cutting, check_cuts, even_cuts
from rollergen.tooling.print_joint import Joint, Seat, seat_of
from rollergen.tooling.print_lean import turned_over
from rollergen.tooling.print_plate import check_plate, footprint
from rollergen.tooling.print_refusal import Refused, refused
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
    takes the place of the scaled bore's; ``shaft_clearance``, ``shaft_corner`` and ``shaft_key``, the keyway's (width,
    depth), go with it (None: the profile's, a key unscaled like the shaft).
    """

    printer: Printer
    scale: float = 1.0
    cuts: tuple[float, ...] | None = None
    joint: Joint = Joint()  # noqa: RUF009  frozen
    foot: float = 0.4
    shaft: float | None = None
    shaft_clearance: float | None = None
    shaft_corner: float | None = None
    shaft_key: tuple[float, float] | None = None

    @property
    def bar(self) -> BarAsked | None:
        if self.shaft is None:
            return None
        return BarAsked(
            across=self.shaft, clearance=self.shaft_clearance, corner=self.shaft_corner, key=self.shaft_key
        )


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
    keyway_mm: tuple[float, float] | None
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

    Raises UsageError for a number that makes no sense, ProfileError for a plate too small for any split, a shaft the
    hub cannot take, cuts out of place, or a joint that does not fit, each with ways out that were tried.
    """
    plan = partial(_planned, drawn)
    try:
        planned = plan(asked)
    except Refused as no:
        raise with_ways(no, asked, plan) from None
    return _made(drawn, asked, planned, lower=lambda: lower_pieces(asked, plan, planned.length))


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How it stands and where it is cut, nothing refused (mm, rad): the ``section`` as it stands, ``over`` where it is
    turned over, its lean on the ``other`` end, ``cuts`` from the plate up."""

    section: Section
    bore: Bore
    ends: Ends
    length: float
    body: float
    turn_per_mm: float
    over: bool
    other: float
    cuts: tuple[float, ...]
    seat: Seat | None
    highest: float
    height: float
    lines: int

    @property
    def too_high(self) -> str:
        """What does not fit the printer's height; "" where all does."""
        return f"a piece would stand {self.highest:.1f} mm high" if self.highest > self.height + SAME else ""

    @property
    def short_of(self) -> str:
        """The same, or too few lines across the thinnest rubber."""
        few = f"{self.lines} lines would go across its thinnest rubber" if self.lines < FEWEST_LINES else ""
        return self.too_high or few


def _planned(drawn: Drawn, asked: PrintAsked) -> Plan:
    _refuse_senseless(asked)
    profile, s, printer = drawn.profile, asked.scale, asked.printer
    length, body = profile.body.free_length * s, profile.body_radius * s
    bore = bore_as_printed(profile.bore, s, asked.bar)
    ends = Ends(foot=asked.foot, chamfer=profile.body.edge_chamfer * s, lead_in=bore.lead_in)
    section = _printed_section(drawn.section, bore, s)
    if asked.shaft is not None:
        check_shaft(bore, Hub(chambers=section.chambers, body=body), line=printer.line, ends=ends, scale=s)
    check_foot(section, ends)
    turn = profile.turn_per_mm / s
    over, lean, other = better_end(section, turn, length)
    if over:
        section, other = turned_over(section, turn, length), lean
    cuts = _cuts(asked, length, ends, over)
    bounds = tuple(pairwise((0.0, *cuts, length)))
    check_plate([footprint(section.outer, turn, low, high) for low, high in bounds], printer.plate, s)
    return Plan(
        section=section, bore=bore, ends=ends, length=length, body=body, turn_per_mm=turn, over=over, other=other,
        cuts=cuts, seat=_seat(section, bore, asked, body, length) if cuts else None,
        highest=max(high - low + (asked.joint.height if high < length else 0.0) for low, high in bounds),
        height=printer.height, lines=lines_across(thinnest_of(section, body), printer),
    )  # fmt: skip


def _made(drawn: Drawn, asked: PrintAsked, plan: Plan, *, lower: Callable[[], str]) -> Prototype:
    profile, printer, section, turn = drawn.profile, asked.printer, plan.section, plan.turn_per_mm
    tip, length, over = profile.tip_radius * asked.scale, plan.length, plan.over
    seat, bore = plan.seat, plan.bore
    pieces = split(
        section, name=profile.name, colour=profile.compound.colour, turn_per_mm=turn, length=length, cuts=plan.cuts,
        seat=seat, joint=asked.joint, ends=plan.ends,
    )  # fmt: skip
    volumes = tuple(volume_of(piece.part) for piece in pieces.pieces)
    report = check_print(
        section, pieces=pieces.pieces, volumes=volumes, turn_per_mm=turn, thinnest=thinnest_of(section, plan.body),
        tip_radius=tip, printer=printer, ends=plan.ends, end_down=f"z = {'length' if over else '0'}",
        other_lean=plan.other, lower=lower,
    )  # fmt: skip
    joint = None if seat is None else _joint_report(seat, asked.joint, tip)
    return Prototype(
        profile=profile.name, scale=asked.scale, bore_mm=bore.width, shaft_mm=bore.across, keyway_mm=_keyway(bore),
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
    if asked.shaft is None and (asked.shaft_clearance, asked.shaft_corner, asked.shaft_key) != (None,) * 3:
        raise UsageError("--shaft-clearance, --shaft-corner and --shaft-key go with --shaft")


def _printed_section(section: Section, bore: Bore, scale: float) -> Section:
    return Section(
        outer=scaled_outline(section.outer, scale),
        bore=bore_outline(bore),
        chambers=tuple(scaled_outline(c, scale) for c in section.chambers),
    )


def _keyway(bore: Bore) -> tuple[float, float] | None:
    return None if bore.key_width is None or bore.key_depth is None else (bore.key_width, bore.key_depth)


def _seat(section: Section, bore: Bore, asked: PrintAsked, body: float, length: float) -> Seat:
    """The joint; where none fits, Refused with what may be asked instead, to be tried."""
    joint, line = replace(asked.joint, mouth=asked.foot), asked.printer.line
    try:
        return seat_of(section, joint, body_radius=body, line=line)
    except Refused as no:
        if no.refusal.past:
            raise
        offers = partial(joint_offers, section, bore, asked, body, length)
        raise refused(no.refusal.key, no.refusal.reason, offers=offers) from None


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
    if asked.shaft is not None and bore.section in SHARP and (sharpest := sharpest_corner(bore)) > 0:
        found.append(
            f"the bore's corners are rounded to {mm(bore.corner_radius)}: shaft corners under {at_least(sharpest)} of"
            " radius do not go in (--shaft-corner)"
        )
    if asked.shaft is not None and asked.shaft_key is None and bore.section == "keyed":
        found.append(
            f"the keyway is the profile's, {keyway_text(bore)}, not scaled, as the shaft is not: --shaft-key for another"
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
    _figure("keyway_mm", "mm", "keyway of the printed bore, width and depth, null without a key",
            "the profile's at the printed scale; with a test shaft input, or the profile's unscaled"),
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
