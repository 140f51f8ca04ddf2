"""Where the numbers of an inspection and of a recovered profile come from."""

from __future__ import annotations

from rollergen.spec.trace import Figure

_FIT = "least squares with weights that fall off outside the bulk; method from memory, checked on synthetic scans"
_NOISE = "holds for point errors independent of each other; the scanner's own scale error comes on top"


def _figure(
    key: str, words: str, formula: str, unit: str, *, source: str = _FIT, limits: str = _NOISE
) -> Figure:
    return Figure(key=key, words=words, formula=formula, source=source, limits=limits, unit=unit)


_COUNT = "a count"
_SCAN = "the scan file"
FIGURES = (
    _figure(
        "number",
        "a recovered value (mm, deg for angles, 1 for counts, as unit says)",
        "fit to the points",
        "mm",
    ),
    _figure(
        "nominal",
        "what the profile asks of a feature (mm or deg, as unit says)",
        "from the profile, wall, web and hub wall as they really come out",
        "mm",
        source="the profile",
        limits="as the profile",
    ),
    _figure(
        "measured",
        "what the part measures there",
        "the value of the profile that lies closest to the points; the mean of readings by hand",
        "mm",
    ),
    _figure("deviation", "measured less nominal", "measured - nominal", "mm"),
    _figure(
        "standard_error",
        "one standard deviation of what was measured",
        "spread of the points through the fit; readings by hand: spread / sqrt(n), at least step / sqrt(12)",
        "mm",
    ),
    _figure(
        "tolerance",
        "plus-minus the feature is held to",
        "by nominal size and class; an angle by what its flank's length may be off, over that length",
        "mm",
        source="ISO 3302-1:2014, Table 1",
        limits="made for vulcanised rubber, for cast PU by agreement only; runout has no class",
    ),
    _figure(
        "points",
        "points, or readings, a value rests on",
        _COUNT,
        "1",
        source=_SCAN,
        limits="drawn evenly over the area, 6000 of a surface at most",
    ),
    _figure(
        "sure",
        "whether the limit lies more than two standard errors away",
        "||deviation| - tolerance| > 2 standard errors",
        "-",
    ),
    _figure(
        "size_ratio",
        "measured over nominal size, across or along the axis",
        "all points of body and ribs together; along: length between the ends, else helix pitch",
        "1",
    ),
    _figure(
        "shrinkage_used",
        "shrinkage the mould was made with, as told",
        "from --cast-with or the profile",
        "1",
        source="the user",
        limits="as told",
    ),
    _figure(
        "shrinkage_next",
        "shrinkage that brings the next pour to nominal",
        "1 - (1 - shrinkage used) x size ratio",
        "1",
        source="cavity = nominal / (1 - s); the part keeps (1 - s_true) of it",
        limits="same compound, same cure, same mould; one part tells nothing of the scatter",
    ),
    _figure(
        "mould_factor",
        "by how much every dimension of this mould must grow",
        "1 / size ratio",
        "1",
        source="proportion",
        limits="as shrinkage_next",
    ),
    _figure(
        "mean_mm",
        "mean deviation of the points of one kind of place, + is too much rubber",
        "mean of signed distances to the nominal surface, part laid on by least squares",
        "mm",
    ),
    _figure("rms_mm", "root mean square of these deviations", "sqrt(mean of squares)", "mm"),
    _figure("lowest_mm", "deviation 2.5 % of the points lie below", "percentile", "mm"),
    _figure("highest_mm", "deviation 2.5 % of the points lie above", "percentile", "mm"),
    _figure(
        "offset_low_mm",
        "distance of a surface's axis from the body's at the z = 0 end",
        "both fitted on their own",
        "mm",
    ),
    _figure("offset_high_mm", "the same at the other end", "both fitted on their own", "mm"),
    _figure("offset_error_mm", "standard error of these distances", "from both fits", "mm"),
    _figure(
        "runout",
        "total runout of the body about the bore: what a dial reads on it in one turn, at the worst height",
        "greatest less least radius of the body (no ribs) about the bore's axis; radius = size, shift, tilt, bow, oval, "
        "taper and three lobes by least squares, and medians by 15 deg and a fifth of the length, whichever shows more",
        "mm",
        limits="lumps smaller than such a place are left out; where under two thirds of the turn is seen the rest counts "
        "as round; no class has a limit, --most-runout sets one",
    ),
    _figure(
        "bore.phase",
        "how far the bore stands turned against the ribs from the drawn angle, + ahead seen from the high end",
        "turn of the bore's flats or key less that of the ribs at mid length, modulo 360 deg / lcm(ribs, sides)",
        "deg",
        limits="not told of a round bore; a helix needs an end; a part that lies closer turned end for end counts so; "
        "no class has a limit, --most-phase sets one",
    ),
    _figure(
        "chambers.phase",
        "the same of the chambers against the ribs, or against the bore where there are no ribs",
        "turn of the chambers less that of the ribs at mid length, modulo 360 deg / lcm(ribs, chambers)",
        "deg",
        limits="as bore.phase",
    ),
    _figure(
        "rib_heights_mm",
        "height of each rib over the body, rib 1 first; null where its tip is not seen",
        "median radius where its tip land is asked, less that of the body beside it; 0 for a rib that is not there",
        "mm",
    ),
    _figure(
        "end_tilt_mm",
        "how far each end is out of square, over the body's diameter",
        "slope of the fitted plane x diameter",
        "mm",
    ),
    _figure(
        "points_read", "points of the scan", _COUNT, "1", source=_SCAN, limits="vertices at one place are one"
    ),
    _figure(
        "open_edges",
        "edges of the mesh with one facet only",
        _COUNT,
        "1",
        source=_SCAN,
        limits="0 for a closed mesh and for points",
    ),
    _figure(
        "large_facet_share",
        "share of the area in facets no scanner makes",
        "facets longer than 1/40 of the scan's diagonal",
        "1",
        source=_SCAN,
        limits="there chords count as deviation",
    ),
    _figure(
        "on_part_share",
        "share of the scanned area that lies on the part",
        "within 0.6 % of the body's diameter of the profile, its size left free",
        "1",
        limits="below 60 % the scan is refused",
    ),
    _figure(
        "stray_share",
        "share of what is seen of the part that fits no feature as measured",
        "more than 0.4 mm, or six spreads, off; edges left out",
        "1",
        limits="over 5 % fails",
    ),
    _figure(
        "noise_mm",
        "spread of the points about the fitted surfaces",
        "1.4826 x median of |distance|",
        "mm",
        limits="scanner noise and roughness together",
    ),
    _figure(
        "seen_share",
        "share of a surface the scan shows",
        "cells of angle and height with a point, of all",
        "1",
        source=_SCAN,
        limits="cells of 7.5 deg by a 24th of the length; ends by angle only",
    ),
    _figure(
        "readings",
        "single readings by hand",
        "as read",
        "mm",
        source="the table of readings",
        limits="as read",
    ),
    _figure("mean", "mean of the readings", "sum / n", "mm", source="any statistics text", limits="as read"),
    _figure(
        "spread",
        "sample standard deviation of the readings",
        "sqrt(sum (x - mean)^2 / (n - 1)); null of one reading",
        "mm",
        source="any statistics text",
        limits="as read",
    ),
    _figure(
        "least",
        "least reading by hand, or the least a scan shows of a feature from place to place",
        "minimum; of a scan: of medians by place, three standard errors nearer to the mean; hub wall with the bore off "
        "the chambers, length with the ends leaning, bore as a straight shaft finds it clear",
        "mm",
        source="the table of readings, or the scan",
        limits="places: 30 deg by a fifth of the length, ribs and their thirds, ninths of a chamber's wall; of a bore each "
        "pair of flats, or 30 deg, by a fifth of the length",
    ),
    _figure(
        "greatest",
        "greatest reading by hand, or the most a scan shows of a feature from place to place",
        "maximum, as least",
        "mm",
        source="the table of readings, or the scan",
        limits="as least",
    ),
    _figure(
        "patch_mm2",
        "area of the largest connected place of a surface that fits no feature as measured",
        "cells of 4 mm of which more than half strays, touching; oval, taper and bow taken off",
        "mm2",
        limits="over 200 mm2 fails: no source, sound scans show none, a lost rib 700 and more",
    ),
    _figure(
        "patch_z_mm",
        "height of the middle of that place",
        "mean of its cells",
        "mm",
        source=_SCAN,
        limits="to a cell",
    ),
    _figure(
        "patch_angle_deg",
        "angle of the middle of that place from +x, at its own height",
        "mean of its cells",
        "deg",
        source=_SCAN,
        limits="to a cell; says little of a place that goes all round",
    ),
    _figure(
        "covered_share",
        "share of the mouths of a hole that the scan shows closed by rubber, at one end",
        "area of points on the end more than 1 mm inside the hole, over the hole's there",
        "1",
        limits="over 10 % fails; a mesh program that closes holes does the same",
    ),
    _figure(
        "closed_by_foam",
        "numbers of the chambers closed by foam as the profile asks",
        "facets square to the axis over more than half of a chamber's mouth, at any height",
        "-",
        source=_SCAN,
        limits="foam and rubber look alike; numbered as drawn, or as suits best where the part lies alike in several ways",
    ),
    _figure(
        "step",
        "step of the readings' last digit",
        "from how they are written",
        "mm",
        source="the table of readings",
        limits="an instrument may be coarser than it is written",
    ),
    _figure(
        "complete",
        "whether every feature was seen",
        "no verdict is 'not seen'",
        "-",
        source=_SCAN,
        limits="what is not seen is not judged",
    ),
)
