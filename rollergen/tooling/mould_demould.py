"""The order in which a mould is opened and the part taken out, a sentence a step."""

from __future__ import annotations

from math import degrees, tau

from rollergen.shape.outline import is_circle
from rollergen.tooling.mould import Mould
from rollergen.tooling.pieces import piece_middles, piece_pulls


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
        f"draw the part off the {_cores(mould)} along the axis, away from the base plate",
        _last(mould),
    )
    bars = "stand the base plate on bars, clear of its two jack screws and of the cores' screws"
    if mould.split is not None:
        return (
            *first,
            "stand the base plate on bars, clear of its two jack screws, of the pins and of the cores' screws",
            "press the jacket up evenly with the two jack screws from below, and lift it off by the threads in its top",
            "turn both jack screws back under the base plate's upper face, for the pieces slide out over it",
            "draw the pins of the pieces downwards by the threads in their ends",
            piece_order(mould),
            *last,
        )
    if mould.way == "strip":
        return (
            *first,
            bars,
            "hold the base plate and press the sleeve straight up with the two jack screws from below, then pull it off: "
            "the ribs give way to it",
            *last,
        )
    if mould.way == "push":
        return (
            *first,
            bars,
            "hold the base plate, press the sleeve straight up with the two jack screws from below, then draw it off the "
            "part",
            *last,
        )
    return (
        *first,
        f"hold the base plate and screw the sleeve up off the part: {twist:.1f} deg over {mould.cavity.length:.1f} mm, "
        f"turning it {hand} seen from above, by bars stood in two of its bolt holes; {_held(mould)}",
        *last,
    )


def _last(mould: Mould) -> str:
    """What is left to do where the part does not come, or brings a core along."""
    several = bool(mould.cavity.section.chambers)
    if all((*mould.anchors.cores, mould.anchors.mandrel)):
        if several:
            return "if it does not come, take the cores' screws out from below and draw the cores out of it one by one"
        return (
            "if it does not come, take the screw of the mandrel out from below and draw the mandrel out of it"
        )
    if several:
        return "draw out last what came away with the part: a core without a screw whose press fit or weld gave way"
    return "draw the mandrel out last, if it came away with the part: it has no screw"


def holders(mould: Mould) -> tuple[str, ...]:
    """What keeps the part from turning with a sleeve that is screwed off: cores off the axis, a bore not round."""
    section = mould.cavity.section
    found = ["chamber cores"] if section.chambers else []
    if not is_circle(section.bore):
        found.append("mandrel")
    return tuple(found)


def _cores(mould: Mould) -> str:
    return "chamber cores and the mandrel" if mould.cavity.section.chambers else "mandrel"


def _held(mould: Mould) -> str:
    what = holders(mould)
    if not what:
        return "nothing in the mould holds the part against turning, for its bore is round and it has no chambers"
    several = len(what) > 1 or what[0].endswith("s")
    return f"the {' and the '.join(what)} {'hold' if several else 'holds'} the part against turning"


def piece_order(mould: Mould) -> str:
    """How the pieces leave: one after another where the twist lets them, else all together; and where each goes."""
    assert mould.split is not None
    split = mould.split
    if mould.way == "strip":
        how = f"pull the {split.pieces} pieces straight outwards one after another, for the ribs give way to them"
        return f"{how}; {_directions(mould)}"
    twist = abs(mould.cavity.twist)
    limit = tau / split.pieces if split.alone_limit is None else split.alone_limit
    alone = twist <= limit if split.alone is None else split.alone
    if alone or split.on == "planes":
        how = f"move the {split.pieces} pieces straight outwards one after another"
    else:
        how = (
            f"move all {split.pieces} pieces straight outwards at the same time and at the same rate, for the twist of "
            f"{degrees(twist):.1f} deg is more than the {degrees(limit):.1f} deg up to which one can leave before its "
            "neighbours"
        )
    return f"{how}; {_directions(mould)}"


def _directions(mould: Mould) -> str:
    """The direction of every piece in degrees, and how far it is off the piece's middle."""
    assert mould.split is not None
    pulls, middles = piece_pulls(mould.cavity, mould.split), piece_middles(mould.cavity, mould.split)
    each = ", ".join(
        f"cavity_piece_{number} at {degrees(pull) % 360:.1f} deg"
        for number, pull in enumerate(pulls, start=1)
    )
    off = degrees(pulls[0] - middles[0])
    off -= 360 * round(off / 360)
    half_way = "" if mould.split.on == "planes" else ", half way up"
    along = f"each along the middle of its piece{half_way}"
    if abs(off) >= 0.05:
        sense = "counter-clockwise" if off > 0 else "clockwise"
        along = f"each {abs(off):.1f} deg {sense} off the middle of its piece{half_way}, for the flanks are unlike"
    return f"directions from +x, counter-clockwise seen from above: {each}; {along}"
