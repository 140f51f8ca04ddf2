"""A profile as a printed stand-in: scaled, its bore for a test shaft, checked, and cut to fit the printer."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rollergen.answer.report import Drawn
from rollergen.errors import Complaint, ProfileError, UsageError
from rollergen.shape.bore import bore_outline
from rollergen.shape.distance import boundary_points
from rollergen.shape.part_volume import volume_of
from rollergen.shape.properties import greatest_radius, least_distance
from rollergen.shape.section import Section, part_of, thicknesses_of
from rollergen.spec.trace import Figure
from rollergen.tooling.print_checks import Printer, PrintReport, check_print
from rollergen.tooling.print_split import LEAST_LEFT, Joint, Pieces, even_cuts, split
from rollergen.tooling.shrinkage import scaled_outline

CAUTIONS = (
    "a printed prototype is not the cast compound: it shows shape and fit, not grip, give or wear; not for service",
    "heated plastics emit fumes and hot parts burn: follow the supplier's sheets and local codes",
    "fitted on a turning shaft it can burst or come loose: guard it, keep hands out, turn slowly",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintAsked:
    """How to print: ``cuts`` None cuts evenly as needed; ``shaft`` (mm across) replaces the bore's shaft."""

    printer: Printer
    scale: float = 1.0
    cuts: tuple[float, ...] | None = None
    joint: Joint = Joint()  # noqa: RUF009  frozen
    foot: float = 0.4
    shaft: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Prototype:
    """What to print and how it went; ``part_volumes_mm3`` one a piece, ``whole_volume_mm3`` uncut and unrelieved."""

    profile: str
    scale: float
    report: PrintReport
    pieces: Pieces
    part_volumes_mm3: tuple[float, ...]
    whole_volume_mm3: float


def prototype_of(drawn: Drawn, asked: PrintAsked) -> Prototype:
    """Check a segment against a printer and cut it to fit.

    Raises UsageError for a scale or relief that makes no sense, ProfileError for a printer too small for any split
    (with the scale that would fit), a shaft the hub cannot take, or a joint that does not fit.
    """
    if not 0.05 <= asked.scale <= 10:
        raise UsageError(f"--scale {asked.scale:g}: 0.05 to 10 is meant, 1 is as cast")
    if not 0 <= asked.foot <= asked.printer.line:
        raise UsageError(f"--elephant-foot {asked.foot:g} mm: 0 to one line, {asked.printer.line:g} mm")
    whole = drawn if asked.shaft is None else _on_shaft(drawn, asked.shaft)
    profile, s = whole.profile, asked.scale
    section = Section(
        outer=scaled_outline(whole.section.outer, s),
        bore=scaled_outline(whole.section.bore, s),
        chambers=tuple(scaled_outline(c, s) for c in whole.section.chambers),
    )
    length, tip = profile.body.free_length * s, profile.tip_radius * s
    if 2 * tip > min(asked.printer.plate):
        fits = s * min(asked.printer.plate) / (2 * tip)
        raise ProfileError(
            [
                Complaint(
                    key="--printer",
                    message=f"the tip circle of {2 * tip:.1f} mm is wider than the plate of"
                    f" {min(asked.printer.plate):g} mm, cuts do not help: --scale {int(fits * 1000) / 1000:g} fits",
                )
            ]
        )
    thick = thicknesses_of(whole.section, profile.body_radius)
    least = s * min(t for t in (thick.wall, thick.web, thick.hub_wall, thick.solid) if t is not None)
    turn = profile.turn_per_mm / s
    cuts = even_cuts(length, asked.printer.height, asked.joint) if asked.cuts is None else asked.cuts
    pieces = split(
        section, name=profile.name, turn_per_mm=turn, length=length, cuts=cuts, joint=asked.joint, foot=asked.foot,
        chamfer=profile.body.edge_chamfer * s, colour=whole.part.colour,
    )  # fmt: skip
    highest = max(b - a for a, b in zip((0.0, *cuts), (*cuts, length), strict=True))
    highest += asked.joint.height if cuts else 0.0
    report = check_print(
        section, turn_per_mm=turn, length=length, least_rubber=least, tip_radius=tip, printer=asked.printer,
        foot=asked.foot,
    )  # fmt: skip
    fits_high = highest <= asked.printer.height + 1e-9
    warnings = report.warnings
    if not fits_high:
        warnings += (
            f"the highest piece stands {highest:.1f} mm, the printer has {asked.printer.height:g} mm: cut it more",
        )
    report = replace(
        report, height_ok=fits_high, print_height_mm=highest, warnings=warnings,
        printable=report.plate_ok and fits_high and report.lines_across >= 2 and report.upright_lean_deg <= 45 + 1e-9,
    )  # fmt: skip
    return Prototype(
        profile=profile.name,
        scale=s,
        report=report,
        pieces=pieces,
        part_volumes_mm3=tuple(volume_of(part) for part in pieces.parts),
        whole_volume_mm3=volume_of(whole.part) * s**3,
    )


def _on_shaft(drawn: Drawn, across: float) -> Drawn:
    """The same segment bored for another shaft; chambers, clearance and corners stay."""
    profile = drawn.profile
    bore = profile.bore.model_copy(update={"across": across})
    if bore.corner_radius >= bore.width / 2:
        raise UsageError(f"--shaft {across:g} mm is smaller than the corners of its bore")
    changed = profile.model_copy(update={"bore": bore})
    outline = bore_outline(bore)
    others = drawn.section.chambers or (drawn.section.outer,)
    inner = min(float(np.linalg.norm(boundary_points(o, 0.5), axis=1).min()) for o in others)
    left = min(least_distance(outline, other) for other in others)
    if left < LEAST_LEFT or greatest_radius(outline) > inner:
        raise ProfileError(
            [
                Complaint(
                    key="--shaft",
                    message=f"{across:g} mm leaves {left:.2f} mm of rubber round the bore, at least {LEAST_LEFT:g} mm are"
                    " needed: a thinner shaft",
                )
            ]
        )
    section = Section(outer=drawn.section.outer, bore=outline, chambers=drawn.section.chambers)
    return Drawn(profile=changed, section=section, part=part_of(changed, section))


FIGURES = (
    Figure(
        key="scale", words="size of the print over the casting", formula="input", source="input",
        limits="walls, lines and clearances are judged as printed", unit="1",
    ),
    Figure(
        key="part_volumes_mm3", words="volume of each piece", formula="closed form of sides and caps",
        source="Cavalieri; Steiner for offsets", limits="solid, before infill", unit="mm3",
    ),
    Figure(
        key="whole_volume_mm3", words="volume of the segment uncut, at the printed scale",
        formula="closed form of sides and caps", source="Cavalieri; Steiner for offsets", limits="solid", unit="mm3",
    ),
)  # fmt: skip
