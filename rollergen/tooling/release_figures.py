"""Where every number of a release report comes from."""

from __future__ import annotations

from rollergen.spec.trace import Figure

_EXACT = "exact on arcs and lines of the section"
_RULE = "a mould part clears where its velocity has no part into the rubber, v.N >= 0"
_SHAPE = "end chamfers, cores and plates not looked at; rigid part but where said"
_INPUT = "the caller"


def _figure(
    key: str, words: str, formula: str, unit: str, source: str = _EXACT, limits: str = _SHAPE
) -> Figure:
    return Figure(key=key, words=words, formula=formula, source=source, limits=limits, unit=unit)


FIGURES = (
    _figure(
        "twist_deg", "twist of the part from end to end", "360 deg length / helix pitch", "deg", "definition"
    ),
    _figure(
        "gamma_max_deg",
        "greatest angle between outward normal and radius",
        "the greater of gamma ahead and behind",
        "deg",
    ),
    _figure(
        "gamma_ahead_deg",
        "greatest turn of the normal off the radius, counter-clockwise: flanks ahead",
        "angle of normal - polar angle",
        "deg",
    ),
    _figure(
        "gamma_behind_deg",
        "greatest turn of the normal off the radius, clockwise: flanks behind",
        "polar angle - angle of normal",
        "deg",
    ),
    _figure("rib_count", "ribs found on the section", "rising flanks counted", "1"),
    _figure("screw", "out of a one-piece sleeve: its numbers", "see its keys", "-"),
    _figure("screw_hand", "hand the sleeve is unscrewed with", "that of the ribs; none without twist", "-"),
    _figure(
        "twist_mismatch_deg",
        "by how much more the shrunk part is twisted than the cavity it lies in",
        "twist x axial shrinkage",
        "deg",
        "pitch shrinks, twist angle stays",
        "even shrinkage",
    ),
    _figure(
        "free_play_deg",
        "angle the shrunk part can turn in its cavity before both flanks touch",
        "s/(1-s) (cot gamma ahead + cot gamma behind), s across the axis",
        "deg",
        _EXACT,
        "first order in shrinkage; null without ribs",
    ),
    _figure(
        "screw_free_length_mm",
        "longest part that is unscrewed without being twisted",
        "s_r (cot gamma ahead + cot gamma behind) / (k s_z); like flanks: pitch/pi cot gamma max s_r/s_z",
        "mm",
        "free play against mismatch",
        "first order in shrinkage, short by the share s; null where no length jams",
    ),
    _figure(
        "flank_gap_mm",
        "least gap between part and cavity where they lie alike",
        "s/(1-s) least p.n",
        "mm",
        _EXACT,
        "first order in shrinkage",
    ),
    _figure(
        "end_gap_mm",
        "the same at both ends of a part that lies in the middle of its play; negative: pressed in",
        "least of s/(1-s) p.n - half mismatch |p x n|",
        "mm",
        _EXACT,
        "first order in shrinkage and turn",
    ),
    _figure(
        "twist_needed_deg",
        "how far the part must twist from end to end to follow the cavity, beyond its play",
        "mismatch - free play, 0 within the free length",
        "deg",
        "free play against mismatch",
        "rigid sections",
    ),
    _figure(
        "twist_shear",
        "shear at the rib tips of a part that follows the cavity's twist wholly",
        "k s_z tip radius",
        "1",
        "torsion of a bar",
        "small strain",
    ),
    _figure(
        "most_twist_shear",
        "shear allowed while it is unscrewed",
        "input; null: not stated",
        "1",
        _INPUT,
        "no default: the compound decides",
    ),
    _figure(
        "torque_bound_n_m",
        "torque that twists the part to the cavity's pitch, at most",
        "E/3 J k s_z, J polar second moment of the rubber",
        "N m",
        "torsion; no section is stiffer than its polar moment says",
        "friction and adhesion not in it; null without a modulus",
    ),
    _figure(
        "wrong_hand_travel_mm",
        "how far a sleeve goes that is turned with the wrong hand",
        "half the free play / (2 k)",
        "mm",
        "free play against mismatch",
        "null without twist or ribs",
    ),
    _figure(
        "exit_chamfer_mm",
        "chamfer the sleeve holds at the end the part leaves by",
        "input",
        "mm",
        _INPUT,
        "an undercut as deep; 0 where the plate holds it",
    ),
    _figure(
        "end_ok",
        "whether nothing stands in the way at the exit end",
        "exit chamfer = 0",
        "-",
        _RULE,
        "a flange or step is not known here",
    ),
    _figure(
        "screw_ok",
        "whether the sleeve way is open",
        "exit end clear, and within the free length or the shear allowed",
        "-",
        _RULE,
    ),
    _figure("helical", "pieces that part along the ribs' helix: a line each", "see its keys", "-"),
    _figure("on", "where pieces part", "rib tips or middle of the grooves", "-"),
    _figure(
        "per_piece",
        "grooves (parted on tips) or ribs (parted in grooves) a piece holds",
        "1, 2 ... until a piece never comes free",
        "1",
    ),
    _figure("piece_count", "pieces round the part", "ribs / per_piece, rounded up", "1"),
    _figure(
        "like",
        "whether all pieces are alike",
        "per_piece divides the ribs",
        "-",
        limits="unlike pieces are not built",
    ),
    _figure(
        "limit_deg",
        "twist up to which a piece leaves straight outwards; below 0: never",
        "180 - (greatest - least angle of its normals), parting to parting",
        "deg",
        _RULE,
        "cavity as cut, before shrinkage loosens it",
    ),
    _figure(
        "one_at_a_time_limit_deg",
        "twist up to which a piece leaves while its neighbours stay",
        "least of limit_deg, the piece's own angle, and from either parting to the far normal + 90",
        "deg",
        _RULE,
        "radial partings",
    ),
    _figure("helical_ok", "whether a piece comes free of the rubber", "twist <= limit_deg", "-", _RULE),
    _figure(
        "one_at_a_time",
        "whether pieces can leave one after another",
        "twist <= one_at_a_time_limit_deg",
        "-",
        _RULE,
    ),
    _figure(
        "together",
        "whether all pieces can leave at once, each along its own pull",
        "parting within 90 deg of the middle of two pulls at every height",
        "-",
        _RULE,
    ),
    _figure(
        "parting_deg", "angle of the first parting at z = 0", "rib centre or middle of the groove", "deg"
    ),
    _figure(
        "pull_deg",
        "direction the first piece leaves in",
        "middle of the directions that clear it",
        "deg",
        _RULE,
        "null where it does not leave",
    ),
    _figure(
        "rings",
        "axial rings of helical pieces that would do",
        "twist / best limit of like pieces, rounded up",
        "1",
        _RULE,
        "not built; null where no number will do",
    ),
    _figure("planes", "equal parts by planes through the axis: their numbers", "see its keys", "-"),
    _figure(
        "least_parts",
        "least number of equal parts without undercut",
        "least M >= least_parts_bound; with less twist than ribs and parts sweep, tried for every place of the parting",
        "1",
        _RULE,
        "null where gamma reaches 90 deg; tried places by fine steps, an undercut of some 0.01 mm may be missed",
    ),
    _figure(
        "least_parts_bound",
        "the same before rounding, good at any twist",
        "180 / (90 - mean of gamma ahead and behind)",
        "1",
        _RULE,
        "pull turned off the middle by half the difference of both",
    ),
    _figure(
        "most_parts",
        "parts one is ready to handle",
        "input, else 4",
        "1",
        _INPUT,
        "4 is common practice, no source",
    ),
    _figure(
        "depth_by_parts", "one line for an undivided sleeve (1) and each number of parts", "see its keys", "-"
    ),
    _figure(
        "parts",
        "equal parts; 1 is an undivided sleeve pulled along the axis",
        "1, 2 ... to 12, and least_parts",
        "1",
    ),
    _figure(
        "undercut_mm",
        "how far rubber must give way sideways for a part to pass",
        "running maximum of |s| less |s|, s across the pull, from pull to parting; along the axis: what the twist "
        "brings before it",
        "mm",
        _EXACT,
        "each pull exact, greatest over pulls by fine steps; 1 part sampled on the section",
    ),
    _figure(
        "undercut_share",
        "share of the outer surface that hooks",
        "length of curve with depth over 0.0001 mm / length of curve",
        "1",
        "sampled",
        "some 0.003 off; null for an undivided sleeve that hooks: not looked at",
    ),
    _figure(
        "strip_strain",
        "mean strain of a part pulled over the undercut",
        "undercut / tip diameter",
        "1",
        "common practice, no source",
        "local strain at the rib is far higher",
    ),
    _figure(
        "undercut_to_rib_base",
        "undercut against the width of a rib at its foot",
        "undercut / base width along the body, before rounding",
        "1",
        "definition",
        "0 without ribs",
    ),
    _figure(
        "first_plane_deg",
        "angle of the first plane",
        "where the split hooks least",
        "deg",
        "tried",
        "null for an undivided sleeve",
    ),
    _figure(
        "pull_skew_deg",
        "turn of each pull off the middle of its part",
        "(gamma ahead - gamma behind) / 2, within the part",
        "deg",
    ),
    _figure("planes_ok", "whether few enough parts do", "least_parts <= most_parts", "-", "definition"),
    _figure("strip", "pulled over what hooks: its numbers", "see its keys", "-"),
    _figure(
        "split",
        "the split that is stripped",
        "fewest parts within the strain allowed, else the one that hooks least",
        "-",
        "definition",
    ),
    _figure(
        "most_strip",
        "strain allowed while it is stripped",
        "input; null: not stated",
        "1",
        _INPUT,
        "no default: the compound decides",
    ),
    _figure(
        "strip_ok",
        "whether stripping stays within the strain allowed",
        "strip_strain <= most_strip",
        "-",
        "definition",
    ),
    _figure(
        "choice",
        "the way taken",
        "push, screw, helical, planes, strip, in this order; none: refused",
        "-",
        "order of cost, common practice, no source",
    ),
    _figure("outer_parts", "outer parts of the way taken", "1 for a sleeve", "1"),
    _figure("why", "every line of the rule with its number", "see the other keys", "-"),
    _figure("refusal", "why nothing releases the part and what would", "see the other keys", "-"),
)
