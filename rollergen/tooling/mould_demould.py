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
        "draw the dowels upwards",
        "lift the top plate straight up along the axis, evenly all round",
    )
    last = (
        "draw the part off the cores and the mandrel along the axis, away from the base plate",
        "draw the mandrel last, if it came away with the part",
    )
    if mould.split is not None:
        return (
            *first,
            "slide the jacket up and off",
            "draw the pins of the pieces downwards",
            *piece_order(mould),
            *last,
        )
    if mould.way == "strip":
        return (*first, "hold the base plate and pull the sleeve straight up: the ribs give way to it", *last)
    if mould.way == "push":
        return (*first, "hold the base plate and draw the sleeve straight up off the part", *last)
    return (
        *first,
        f"hold the base plate and screw the sleeve up off the part: {twist:.1f} deg over {mould.cavity.length:.1f} mm, "
        f"turning it {hand} seen from above; the cores and the mandrel hold the part against turning",
        *last,
    )


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
