"""Ways out of a refused print: what could be asked instead, tried as a whole before it is told."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from math import ceil
from typing import TYPE_CHECKING, Any

from rollergen.errors import ProfileError, UsageError
from rollergen.shape.section import Section
from rollergen.spec.amounts import at_least
from rollergen.spec.profile import Bore
from rollergen.tooling.print_bore import bore_for, largest_shaft
from rollergen.tooling.print_joint import LINES, seat_fits
from rollergen.tooling.print_refusal import Changes, Offer, Refused, nearest_that_fits, wrong
from rollergen.tooling.shrinkage import scaled_outline

if TYPE_CHECKING:
    from rollergen.answer.prototype import Plan, PrintAsked

SMALLEST_SCALE = 0.05  # least size of a print over the casting
MOST_CHANGES = 8  # a trial is given up after so many
LARGER = 4.0  # times the scale, looked at for a joint with more room
OPTIONS = {
    "scale": "--scale {:g}",
    "shaft": '--shaft "{:g} mm"',
    "foot": '--elephant-foot "{:g} mm"',
    "line": '--nozzle-line "{:g} mm"',
    "around": '--joint-around "{:g} mm"',
    "step": '--joint-height "{:g} mm"',
    "height": "a height of {:g} mm",
    "plate": "a plate of {:g} x {:g} mm",
    "cuts": "--cuts none",
}

Planning = Callable[["PrintAsked"], "Plan"]  # raises what prototype_of would, its offers untried


def with_ways(refused: Refused, asked: PrintAsked, plan: Planning) -> ProfileError:
    """The same refusal with its ways out; an offer only with all it takes, and where the print then is as asked.

    Where no offer holds, what stands in the way of the first.
    """
    refusal = refused.refusal
    tried = [(offer, worked_out(asked, offer.changes, plan)) for offer in refusal.offers()]
    ways = [f"{words_of(found)} {offer.words}" for offer, found in tried if not isinstance(found, str)]
    stops = [
        f"{words_of(offer.changes)} alone does not do, {found}"
        for offer, found in tried
        if isinstance(found, str)
    ]
    said = ", or ".join(ways) or "".join(stops[:1])
    return wrong(refusal.key, f"{refusal.reason}: {said}" if said else refusal.reason)


def lower_pieces(asked: PrintAsked, plan: Planning, length: float) -> str:
    """How pieces too high for the printer can be lower: by leaving the cuts out, where that works."""
    changes = worked_out(replace(asked, cuts=None), {}, plan, short=lambda found: found.too_high)
    if isinstance(changes, str):
        return f"no even cut fits either, a printer of {at_least(length, itself=True)} takes it in one piece"
    if changes:
        return f"leave --cuts out, which cuts evenly, with {words_of(changes)}"
    return "more --cuts, or leave --cuts out, which cuts evenly"


def worked_out(
    asked: PrintAsked,
    changes: Changes,
    plan: Planning,
    *,
    short: Callable[[Plan], str] = lambda found: found.short_of,
) -> Changes | str:
    """The changes and what else they take, for a print that is as asked; or what stands in their way.

    ``short``: what a print must not be short of, in words, "" where it is not.
    Every refusal met on the way says what gets past it; what it says may only grow less, or it runs in a circle.  The
    lean of the ribs is none of what these changes touch.
    """
    taken: dict[str, Any] = dict(changes)
    for _ in range(MOST_CHANGES):
        try:
            found = plan(changed(asked, taken))
        except Refused as no:
            step = no.refusal.cure
            if not step or any(key in taken and not value < taken[key] for key, value in step.items()):
                return str(no)
            taken |= step
        except (ProfileError, UsageError) as no:
            return str(no)
        else:
            return short(found) or taken
    return f"nor do {words_of(taken)}"


def changed(asked: PrintAsked, changes: Changes) -> PrintAsked:
    new: dict[str, Any] = dict(changes)
    printer = {key: new.pop(key) for key in ("line", "height", "plate") if key in new}
    joint = {name: new.pop(key) for key, name in (("around", "around"), ("step", "height")) if key in new}
    return replace(
        asked, printer=replace(asked.printer, **printer), joint=replace(asked.joint, **joint), **new
    )


def words_of(changes: Changes) -> str:
    """The options as they are typed."""
    first, *more = (
        OPTIONS[key].format(*(value if isinstance(value, tuple) else (value,)))
        for key, value in changes.items()
    )
    return f"{first} with {' and '.join(more)}" if more else first


def joint_offers(
    section: Section, bore: Bore, asked: PrintAsked, body: float, length: float
) -> Iterator[Offer]:
    """What could make room for a joint: one piece, a thinner shaft, a finer line, a larger scale."""
    line, scale = asked.printer.line, asked.scale

    def joins(hub: Section, *, body: float = body, line: float = line) -> bool:
        # the thinnest step says as much as the usual one, and is found sooner
        rim = asked.joint.rim or LINES * line
        return seat_fits(hub, replace(asked.joint, rim=rim, mouth=asked.foot), body, line)

    if length <= asked.printer.height:
        yield Offer(changes={"cuts": ()}, words="prints it in one piece")
    if asked.shaft is not None:
        shaft = largest_shaft(bore, lambda across: joins(replace(section, bore=bore_for(bore, across))))
        if shaft is not None:
            yield Offer(changes={"shaft": shaft})
    finer = nearest_that_fits(
        lambda hundredths: joins(section, line=hundredths / 100),
        ceil(line * 100), ceil(max(asked.printer.layer, asked.foot) * 100),
    )  # fmt: skip
    if finer is not None:
        yield Offer(changes={"line": finer / 100})

    def joins_larger(thousandths: int) -> bool:
        times = thousandths / 1000 / scale
        larger = Section(
            outer=scaled_outline(section.outer, times),
            bore=section.bore if asked.shaft is not None else scaled_outline(section.bore, times),
            chambers=tuple(scaled_outline(c, times) for c in section.chambers),
        )
        return joins(larger, body=body * times)

    larger = nearest_that_fits(joins_larger, int(scale * 1000), ceil(LARGER * scale * 1000))
    if larger is not None:
        yield Offer(changes={"scale": larger / 1000})
