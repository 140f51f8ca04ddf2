"""A roller taken apart for the eye: segments as they are threaded on, drawn apart, on a shaft that stands out."""

from __future__ import annotations

from collections.abc import Sequence
from math import radians

from rollergen.answer.report import Drawn
from rollergen.answer.roller import joints_of
from rollergen.shape.bore import bore_outline
from rollergen.shape.part import Cap, Part, Side
from rollergen.shape.placing import Placing
from rollergen.spec.profile import Profile

APART = 0.35  # of a segment's length between two
STANDS_OUT = 0.5  # of a segment's length, at both ends


def exploded(drawn: Drawn, pieces: int) -> tuple[Placing, ...]:
    """Where ``pieces`` equal segments stand, each indexed as the stack indexes it, with air between."""
    length = drawn.profile.body.free_length
    seats = joints_of(drawn.profile, [length] * pieces).seats
    return tuple(
        Placing(
            z=number * length * (1 + APART),
            rotation=radians(seat.turn_deg),
            flipped=seat.turned,
            length=length,
        )
        for number, seat in enumerate(seats)
    )


def shaft_part(profile: Profile, places: Sequence[Placing]) -> Part:
    """The bare bar through all of them: the bore's form at the shaft's own size."""
    bore = profile.bore
    bare = bore.model_copy(update={"clearance": 0.0, "corner_radius": bore.shaft_corner_radius})
    out = STANDS_OUT * places[0].length
    low, high = places[0].z - out, places[-1].z + places[-1].length + out
    side = Side(outline=bore_outline(bare), levels=((low, 0.0), (high, 0.0)))
    return Part(
        name="shaft",
        sides=(side,),
        caps=(Cap(z=low, up=False, outer=(0, "low")), Cap(z=high, up=True, outer=(0, "high"))),
        colour="#8f99a3",
    )
