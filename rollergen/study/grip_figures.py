"""Where every number of a grip report comes from."""

from __future__ import annotations

from rollergen.spec.trace import Figure

_GEOMETRY = "three tangent circles and the rolling of two stuck contacts, derived in shape/touching_mate"
_LIMITS = (
    "single round bodies, stiff rollers, smooth mate; simulation agrees within 4 % where trusted; friction is"
    " the weakest input"
)
_SIMULATED = "disc simulation made for this project, one seed set, 16 trials a cell"


def _size(key: str, words: str, formula: str, limits: str = _LIMITS) -> Figure:
    return Figure(key=key, words=words, formula=formula, source=_GEOMETRY, limits=limits, unit="mm")


FIGURES = (
    _size(
        "drop_size_mm",
        "largest ball that passes the standing pair",
        "least distance of a ball's centre from our axis + mate radius + d/2 = axis distance",
        "the body gap unless the groove is too narrow for the ball",
    ),
    Figure(
        key="froude",
        words="centrifugal over own weight at the rib tip",
        formula="omega^2 tip radius / g",
        source="definition; g = 9.80665 m/s2",
        limits="below 1 sizes predict bodies, above they only rank rollers",
        unit="1",
    ),
    Figure(
        key="rib_passings_per_s",
        words="ribs that pass the mate each second: as many chances",
        formula="rib count * rotation speed / 60",
        source="counting",
        limits="0 for a sleeve",
        unit="1/s",
    ),
    Figure(
        key="friction",
        words="lowest and highest friction the sizes are told for",
        formula="lower of roller's and mate's friction, over all items",
        source="both contacts of a round body share one angle, so the lower governs",
        limits="above 0 to 2",
        unit="1",
    ),
    _size(
        "grip_size_mm",
        "largest body seized, at lowest and at highest friction",
        "largest d whose easiest state has tan(a) <= friction and a closing wedge",
    ),
    _size(
        "corner_size_mm",
        "grip size without pushes by two contacts at once",
        "as grip_size_mm, corner states only",
        "equal to grip_size_mm for straight ribs; with it a bracket for helical ones",
    ),
    _size(
        "closed_form_mm",
        "grip size by one equation: ball on body, rib and mate at once",
        "alpha + gamma - (u - th) = 2 atan(friction)",
        "straight ribs whose groove lets the ball reach the body; not shown elsewhere",
    ),
    _size("nip_size_mm", "largest body seized without any rib", "as grip_size_mm, body and tip land only"),
    _size(
        "frictionless_size_mm",
        "largest body a rib pushes down without friction",
        "as grip_size_mm at friction 0",
        "0 for helical ribs, which push along the axis as well",
    ),
    Figure(
        key="limit_region",
        words="what the largest seized body touches",
        formula="branch or corner of the easiest state",
        source=_GEOMETRY,
        limits="names of the outline's edges",
        unit="-",
    ),
    _size(
        "torque_arm_mm",
        "force on a seized body times this is the torque on our shaft",
        "distance of the line between both contacts from our axis",
    ),
    _size(
        "squeeze_mm",
        "how far a body 1 % and 10 % below the limit is squeezed before grip is lost",
        "integral of closing over the rotations that hold it",
        "stiff bodies; straight and helical ribs, descending side",
    ),
    Figure(
        key="need",
        words="friction needed to seize, against diameter",
        formula="tan of the least half angle among states that close and can be reached",
        source=_GEOMETRY,
        limits=_LIMITS,
        unit="1",
    ),
    Figure(
        key="trusted",
        words="whether nothing in the question lies outside what was tried",
        formula="Froude <= 1, mate not faster than the tips, tilt <= 25 deg, friction >= tan(lean/2)",
        source="comparison with simulation, see the slow tests",
        limits="a list of known doubts, not a proof",
        unit="-",
    ),
    Figure(
        key="kind",
        words="falls, rib (seized by a rib), nip (by the body), rides, or not judged",
        formula="crop at its highest, debris at its lowest friction",
        source=_GEOMETRY,
        limits="the short diameter governs to about 10 % for long bodies",
        unit="-",
    ),
    Figure(
        key="margin",
        words="diameter over grip size",
        formula="d / grip size at the friction that counts",
        source="definition",
        limits="crop stays above 1, debris taken below 1",
        unit="1",
    ),
    Figure(
        key="friction_needed",
        words="friction needed to seize the smallest and the largest",
        formula="as need",
        source=_GEOMETRY,
        limits=_LIMITS,
        unit="1",
    ),
    Figure(
        key="open_share",
        words="share of a turn in which a body can pass the standing pair",
        formula="1 - (count / 2 pi) (max(alpha - theta) + max(alpha + theta)) over touching states",
        source="plane geometry",
        limits="both sides of the line of centres; a rib below it blocks too",
        unit="1",
    ),
    Figure(
        key="axial_window_mm",
        words="length of the opening between two ribs for this body",
        formula="helix pitch / count * open share",
        source="plane geometry",
        limits="helical ribs; straight ones open their whole length at once",
        unit="mm",
    ),
    Figure(
        key="chances_per_s",
        words="rib passings that seize a body, each second",
        formula="rib passings * P(Froude, d / grip size)",
        source=_SIMULATED,
        limits="ranks; not better than 0.1 in P",
        unit="1/s",
    ),
    Figure(
        key="force_n",
        words="force on a seized body",
        formula="k (d - opening), opening from that at the contact to that of the groove",
        source="spring in series, given stiffness",
        limits="upper end counts the wall as rigid in position; never below 0",
        unit="N",
    ),
    Figure(
        key="torque_nm",
        words="torque of that force on our shaft",
        formula="force * torque arm",
        source="statics",
        limits="one body at a time",
        unit="N m",
    ),
    Figure(
        key="breaking_force_n",
        words="force that breaks a clod",
        formula="F = Y d^2 / 0.576",
        source="Dexter and Kroesbergen 1985, J. Agric. Eng. Res. 31 (value from memory)",
        limits="air-dry aggregates; strength scatters by 46 to 70 %",
        unit="N",
    ),
    Figure(
        key="breaks",
        words="whether a seized clod breaks",
        formula="force band against breaking force band",
        source="comparison of both bands",
        limits="maybe: the bands overlap",
        unit="-",
    ),
    Figure(
        key="bruise_spot_mm",
        words="diameter of the flat spot on crop",
        formula="2 sqrt(F / (pi p))",
        source="plateau of contact stress 0.9 MPa: Int. Agrophysics 36 (2022) 115-122",
        limits="constant pressure; potato",
        unit="mm",
    ),
    Figure(
        key="share_at_risk",
        words="share of the crop below the grip size",
        formula="sieve table, straight lines between sieves",
        source="the duty's table",
        limits="share as the table counts it",
        unit="1",
    ),
)
