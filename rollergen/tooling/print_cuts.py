"""Where a segment is cut across, so that every piece fits the printer and holds its recess and its step."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

from rollergen.shape.way_out import largest_that_fits
from rollergen.spec.amounts import hundredths_above, hundredths_below, mm
from rollergen.tooling.print_joint import Joint
from rollergen.tooling.print_refusal import Offer, refused, thousandths_below, wrong
from rollergen.tooling.print_split import Ends

STEPS_HIGH = 3  # a piece is at least this many steps high: it holds a recess, a step and something between
LAYERS = 2  # a step is at least this many layers high
SAME = 1e-9  # mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """What is to be cut (mm): its ``length``, the ``joint``, the ``layer``, ``flat`` solid layers, its ``ends``."""

    length: float
    joint: Joint
    layer: float
    flat: float
    ends: Ends

    @property
    def least(self) -> float:
        """The shortest piece: recess, solid layers over it, and a step's height more, or the upper end's cut."""
        deep = self.joint.height + self.joint.above
        over = max(self.joint.height, self.ends.lead_in, self.ends.chamfer)
        return max(STEPS_HIGH * self.joint.height, deep + self.flat + over, self.ends.bore_foot + SAME)

    @property
    def lowest_step(self) -> float:
        """The lowest step that prints: two layers, the relief of the recess's mouth, the room left above it."""
        return max(LAYERS * self.layer, self.ends.foot, self.joint.above)

    def stepped(self, height: float) -> Cutting:
        return replace(self, joint=replace(self.joint, height=height))


def check_step(cutting: Cutting) -> None:
    """Raises ProfileError for a step too low to print, or lower than the room left above it."""
    joint = cutting.joint
    layers, foot = LAYERS * cutting.layer, cutting.ends.foot
    if joint.height < max(layers, foot) - SAME:
        why = (
            f"{LAYERS} layers of {cutting.layer:g} mm"
            if layers >= foot
            else f"the relief of the recess's mouth (--elephant-foot {foot:g} mm)"
        )
        raise wrong(
            "--joint-height", f"{mm(joint.height)} is too low for {why}: {mm(cutting.lowest_step)} at least"
        )
    if joint.above > joint.height:
        raise wrong(
            "--joint-above",
            f"{mm(joint.above)} is more than the step is high: {mm(joint.height)} (--joint-height) at most",
        )


def even_cuts(cutting: Cutting, most: float, *, scale: float) -> tuple[float, ...]:
    """Heights at which to cut so that every piece, its step counted, is at most ``most`` mm high, on whole layers.

    Raises Refused, with the numbers to be tried, when a piece would be too short to hold its joint.
    """
    if cutting.length <= most + SAME:
        return ()
    check_step(cutting)
    cuts = _fitting(cutting, most)
    if cuts is not None:
        return cuts
    raise refused(
        "--printer",
        f"{most:g} mm of height is too little for pieces of at least {mm(cutting.least)} with a step of"
        f" {cutting.joint.height:g} mm",
        offers=partial(_ways_to_cut, cutting, most, scale),
    )


def _ways_to_cut(cutting: Cutting, most: float, scale: float) -> Iterator[Offer]:
    """A lower step, a higher printer, a scale that needs no cut."""

    def fits(step: float) -> bool:
        return _fitting(cutting.stepped(step), most) is not None

    if fits(cutting.lowest_step):
        highest = largest_that_fits(fits, cutting.lowest_step, cutting.joint.height)
        yield Offer(changes={"step": _offered_step(highest, cutting)})
    yield Offer(changes={"height": hundredths_above(_least_height(cutting))})
    yield Offer(changes={"scale": thousandths_below(scale * most / cutting.length)}, words="needs no cut")


def check_cuts(cuts: Sequence[float], cutting: Cutting) -> None:
    """Raises ProfileError for cuts outside the segment, out of order, or too near each other to hold a joint."""
    length = cutting.length
    outside = [cut for cut in cuts if not 0 < cut < length]
    if outside:
        raise wrong("--cuts", f"{outside[0]:g} mm lies outside the print of 0 to {length:g} mm")
    for before, after in pairwise(cuts):
        if after <= before:
            rising = ", ".join(f"{cut:g} mm" for cut in sorted(set(cuts)))
            raise wrong(
                "--cuts", f'{after:g} mm comes after {before:g} mm: rising heights are meant, "{rising}"'
            )
    if not cuts:
        return
    check_step(cutting)
    for low, high in zip((0.0, *cuts), (*cuts, length), strict=True):
        if high - low < cutting.least - SAME:
            least = min(b - a for a, b in zip((0.0, *cuts), (*cuts, length), strict=True))
            raise wrong(
                "--cuts",
                f"from {low:g} to {high:g} mm a piece would be {mm(high - low)} high, {mm(cutting.least)} at least hold"
                f" a recess, {cutting.flat:g} mm of solid layers and a step of {cutting.joint.height:g} mm: farther"
                f" apart{_lower_step(cutting, least)}",
            )


def _fitting(cutting: Cutting, most: float) -> tuple[float, ...] | None:
    """The fewest even cuts whose pieces are high enough for their joint and fit ``most``; None where there are none."""
    length, step = cutting.length, cutting.joint.height
    if most <= step:
        return None
    for count in range(max(2, int(length / most)), int(length / cutting.least + SAME) + 1):
        cuts = _on_layers(cutting, count)
        if _shortest(cutting, cuts) >= cutting.least - SAME and _highest(cutting, cuts) <= most + SAME:
            return cuts
    return None


def _on_layers(cutting: Cutting, count: int) -> tuple[float, ...]:
    length, layer = cutting.length, cutting.layer
    return tuple(round(length * n / count / layer) * layer for n in range(1, count))


def _shortest(cutting: Cutting, cuts: tuple[float, ...]) -> float:
    return min(high - low for low, high in pairwise((0.0, *cuts, cutting.length)))


def _highest(cutting: Cutting, cuts: tuple[float, ...]) -> float:
    """Height of the highest piece, its step counted; the last one has none."""
    steps = [high - low for low, high in pairwise((0.0, *cuts))]
    return max(max(steps, default=0.0) + cutting.joint.height, cutting.length - (cuts[-1] if cuts else 0.0))


def _least_height(cutting: Cutting) -> float:
    """Lowest printer that takes the pieces with this joint; the whole segment where it cannot be cut evenly."""
    for count in range(int(cutting.length / cutting.least + SAME), 1, -1):
        cuts = _on_layers(cutting, count)
        if _shortest(cutting, cuts) >= cutting.least - SAME:
            return _highest(cutting, cuts)
    return cutting.length


def _lower_step(cutting: Cutting, piece: float) -> str:
    def fits(step: float) -> bool:
        return cutting.stepped(step).least <= piece + SAME

    if not fits(cutting.lowest_step):
        return ""
    highest = largest_that_fits(fits, cutting.lowest_step, cutting.joint.height)
    return f', or --joint-height "{_offered_step(highest, cutting):g} mm"'


def _offered_step(highest: float, cutting: Cutting) -> float:
    """A step just below ``highest``, and not below what prints."""
    return max(hundredths_below(highest), cutting.lowest_step)
