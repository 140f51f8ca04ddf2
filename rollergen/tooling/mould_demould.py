"""The order in which a mould is opened and the part taken out, a sentence a step."""

from __future__ import annotations

from math import degrees

from rollergen.tooling.mould import Mould


def demould_order(mould: Mould) -> tuple[str, ...]:
    """The steps, each a sentence."""
    twist = abs(degrees(mould.cavity.twist))
    hand = "counter-clockwise" if mould.cavity.turn_per_mm > 0 else "clockwise"
    first = (
        "let the mould cool to the temperature the compound's supplier states for demoulding",
        "take out the bolts",
        "draw the dowels upwards by the threads in their ends",
        "lift the top plate straight up along the axis, evenly all round, by turning in its two jack screws",
    )
    last = (
        "draw the part off the cores and the mandrel along the axis, away from the base plate",
        _last(mould),
    )
    if mould.split is not None:
        return (
            *first,
            "press the jacket up evenly with the two jack screws from below, and lift it off by the threads in its top",
            "stand the base plate on bars and draw the pins of the pieces downwards by the threads in their ends",
            *piece_order(mould),
            *last,
        )
    if mould.way == "strip":
        return (
            *first,
            "hold the base plate and press the sleeve straight up with the two jack screws from below, then pull it off: "
            "the ribs give way to it",
            *last,
        )
    if mould.way == "push":
        return (
            *first,
            "hold the base plate, press the sleeve straight up with the two jack screws from below, then draw it off the "
            "part",
            *last,
        )
    return (
        *first,
        f"hold the base plate and screw the sleeve up off the part: {twist:.1f} deg over {mould.cavity.length:.1f} mm, "
        f"turning it {hand} seen from above, by bars stood in two of its bolt holes; "
        "the cores and the mandrel hold the part against turning",
        *last,
    )


def _last(mould: Mould) -> str:
    """What is left to do where the part does not come, or brings a core along."""
    if all((*mould.anchors.cores, mould.anchors.mandrel)):
        return "if it does not come, take the screws of the cores out from below and draw the cores out of it one by one"
    return "draw out last what came away with the part: a core without a screw, or one whose press fit or weld gave way"


def piece_order(mould: Mould) -> tuple[str, ...]:
    """How the pieces leave: one after another where the twist lets them, else all together or not at all."""
    assert mould.split is not None
    split = mould.split
    if mould.way == "strip":
        return (
            f"pull the {split.pieces} pieces straight outwards one after another: the ribs give way to them",
        )
    half, share = abs(degrees(mould.cavity.twist)) / 2, 180 / split.pieces
    alone = half <= share if split.alone is None else split.alone
    if alone or split.on == "planes":
        where = "" if split.on == "planes" else " half way up"
        return (
            f"move the {split.pieces} pieces straight outwards one after another, each along the middle of its "
            f"opening{where}",
        )
    return (
        f"move all {split.pieces} pieces straight outwards at the same time and at the same rate: half the twist, "
        f"{half:.1f} deg, is more than the {share:.1f} deg up to which one can leave before its neighbours",
    )
