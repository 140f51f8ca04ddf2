"""The bore of a print: the profile's at the printed scale, or one for a real shaft to test on, which is not scaled."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from math import ceil, inf

from rollergen.shape.bore import bore_outline
from rollergen.shape.chambers import webs_of
from rollergen.shape.offset import inward
from rollergen.shape.outline import Outline
from rollergen.shape.part_holes import backwards, clearance
from rollergen.shape.properties import greatest_radius
from rollergen.shape.section import Section
from rollergen.shape.way_out import largest_that_fits
from rollergen.spec.amounts import at_most, hundredths_below, mm
from rollergen.spec.profile import Bore
from rollergen.tooling.print_checks import FEWEST_LINES
from rollergen.tooling.print_refusal import Offer, nearest_that_fits, refused, wrong
from rollergen.tooling.print_split import Ends

SHARP = {"square": 2**0.5, "hexagon": 2 / 3**0.5}  # a sharp corner's distance from the axis, in half widths
LEAST_FOOT = 0.01  # mm, finer than any printer


@dataclass(frozen=True, slots=True, kw_only=True)
class BarAsked:
    """A real shaft: ``across``, and what the bore has for it where that is not the profile's: ``clearance``, ``corner``
    radius, ``key``way as (width, depth) (mm)."""

    across: float
    clearance: float | None = None
    corner: float | None = None
    key: tuple[float, float] | None = None


def bore_as_printed(bore: Bore, scale: float, shaft: BarAsked | None) -> Bore:
    """The bore at the printed scale, or for the test shaft: a real shaft's key is not scaled either.

    Raises ProfileError for corners or a keyway that such a bore does not have or cannot carry.
    """
    scaled: dict[str, float | None] = {
        "corner_radius": bore.corner_radius * scale,
        "lead_in": bore.lead_in * scale,
    }
    if shaft is None:
        keyway = {
            key: None if (v := getattr(bore, key)) is None else v * scale
            for key in ("key_width", "key_depth")
        }
        sizes = {"across": bore.across * scale, "clearance": bore.clearance * scale}
        return bore.model_copy(update={**scaled, **keyway, **sizes})
    _refuse_absent(bore, shaft)
    clear = bore.clearance if shaft.clearance is None else shaft.clearance
    if bore.section == "keyed":
        width, depth = shaft.key or (bore.key_width, bore.key_depth)
        scaled |= {"key_width": width, "key_depth": depth, "corner_radius": bore.corner_radius}
    if shaft.corner is not None:
        scaled["corner_radius"] = shaft.corner
    made = bore.model_copy(update={**scaled, "across": shaft.across, "clearance": clear})
    limit = made.width / 2 if made.key_width is None else min(made.key_width / 2, made.key_depth or 0.0)
    if made.section != "round" and made.corner_radius >= limit:
        what = (
            f"a bore {mm(made.width)} across"
            if made.key_width is None
            else f"a keyway of {keyway_text(made)}"
        )
        raise wrong(
            "--shaft-corner", f"{mm(made.corner_radius)} does not fit {what}; at most {at_most(limit)}"
        )
    if made.key_width is not None and made.key_width >= made.width:
        raise wrong(
            "--shaft",
            f"{mm(shaft.across)} is no wider than its key of {mm(made.key_width)}; a larger shaft, or its own"
            " --shaft-key",
        )
    return made


def _refuse_absent(bore: Bore, shaft: BarAsked) -> None:
    if shaft.corner is not None and bore.section == "round":
        raise wrong("--shaft-corner", "has no effect on a round bore; leave it out")
    if shaft.key is not None and bore.section != "keyed":
        raise wrong("--shaft-key", f"a {bore.section} bore has no keyway; leave it out")


def keyway_text(bore: Bore) -> str:
    return f"{bore.key_width or 0.0:.5g} x {bore.key_depth or 0.0:.5g} mm"


def sharpest_corner(bore: Bore) -> float:
    """Least corner radius of a shaft that goes into a square or hexagon bore (mm); 0 where a sharp one does.

    A rounded corner reaches sharp a - (sharp - 1) r from the axis, a half the width; the shaft's may not reach farther
    than the bore's.
    """
    sharp = SHARP[bore.section]
    return max((sharp * bore.across / 2 - bore.reach) / (sharp - 1), 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hub:
    """What surrounds a bore: ``chambers`` as printed, the ``body``'s radius (mm)."""

    chambers: tuple[Outline, ...]
    body: float

    def wall(self, hole: Outline) -> float:
        return min([self.body - greatest_radius(hole), *(clearance(hole, c) for c in self.chambers)])


def check_shaft(bore: Bore, hub: Hub, *, line: float, ends: Ends, scale: float) -> None:
    """A test shaft's bore must leave two lines of hub wall, one at its mouth; raises Refused with the shaft to try."""

    def fits(across: float) -> bool:
        hole = bore_for(bore, across)
        return hub.wall(hole) >= FEWEST_LINES * line and hub.wall(inward(hole, -ends.bore_foot)) >= line

    if fits(bore.across):
        return
    raise refused(
        "--shaft",
        f"{mm(bore.across)} across: a bore of {mm(bore.width)} leaves {max(hub.wall(bore_outline(bore)), 0):.2f} mm of"
        f" hub wall at scale {scale:g}, {FEWEST_LINES} lines of {line:g} mm and one at its mouth must stay",
        offers=lambda: [Offer(changes={"shaft": most})] if (most := largest_shaft(bore, fits)) else [],
    )


def bore_for(bore: Bore, across: float) -> Outline:
    """The same bore for another shaft."""
    return bore_outline(bore.model_copy(update={"across": across}))


def largest_shaft(bore: Bore, fits: Callable[[float], bool]) -> float | None:
    """Largest shaft below the bore's own that fits, in hundredths (mm); None where none does.

    From a bore that can just carry its corners or its key.
    """
    least = 2 * bore.corner_radius - bore.clearance if bore.key_width is None else bore.key_width
    low, high = ceil((max(least, 0.0) + 0.01) * 100), ceil(bore.across * 100)
    found = nearest_that_fits(lambda n: fits(n / 100), high, low) if low < high else None
    return None if found is None else found / 100


def check_foot(section: Section, ends: Ends) -> None:
    """Edges on the plate must not vanish, nor meet, once the relief has moved them into the rubber.

    Raises Refused with the relief that works.
    """

    def fits(foot: float) -> bool:
        try:
            outer = inward(section.outer, foot)
            bore = inward(section.bore, -max(foot, ends.lead_in))
            holes = [bore, *(inward(chamber, -foot) for chamber in section.chambers)]
        except ValueError:
            return False
        loops = [Outline(backwards(outer.edges)), *holes]
        apart = all(clearance(a, b) > 0 for a, b in combinations(loops, 2))
        return apart and min(webs_of(holes[1:]), default=inf) > 0

    if ends.foot > 0 and not fits(ends.foot):
        most = largest_that_fits(fits, 0.0, ends.foot)
        works = hundredths_below(most) if most > 2 * LEAST_FOOT else 0.0
        less = f"{works:g} mm or less, " if works else ""
        raise refused(
            "--elephant-foot",
            f"{ends.foot:g} mm eats up an edge of the section, or the rubber between two; {less}0 mm for none",
            past={"foot": works},
        )
