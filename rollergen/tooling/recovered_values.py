"""The values of a recovered profile, each with how well it is known and on what it rests."""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, hypot, pi, tau
from typing import Literal

import numpy as np

from rollergen.shape.bore import bore_outline
from rollergen.shape.outline import Floats
from rollergen.spec.profile import Profile
from rollergen.tooling.recovering_start import ChamberGuess, Levels, RibGuess
from rollergen.tooling.scan_readings import hub_wall_of
from rollergen.tooling.section_fit import ChamberShape, Measured, chamber_shape, look_outer

Word = Literal["measured", "weak", "counted", "assumed", "asked for"]
END_ZONE = 5.0  # mm from an end in which chamfers are looked for
STRAIGHT = 0.25  # mm that a rib may wander over its length and be called straight


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """One recovered value under its profile key: number in mm (deg for angles, 1 for counts), standard error, or a word.

    ``confidence``: measured, weak (seen, but badly), counted, assumed (a usual value), asked for (cannot be seen).
    """

    key: str
    number: float | None
    word: str | None
    unit: str
    standard_error: float | None
    points: int
    confidence: Word
    why: str


def _known(
    key: str,
    number: float,
    error: float,
    points: int,
    *,
    unit: str = "mm",
    limit: float = 0.1,
    why: str = "from the points",
) -> Value:
    word: Word = "measured" if error < limit else "weak"
    return Value(
        key=key, number=number, word=None, unit=unit, standard_error=error, points=points, confidence=word,
        why=why if word == "measured" else f"seen too little of, or badly: standard error {error:.2g} {unit}",
    )  # fmt: skip


def _said(
    key: str, word: str | None, number: float | None, confidence: Word, why: str, unit: str = "mm"
) -> Value:
    return Value(
        key=key,
        number=number,
        word=word,
        unit=unit,
        standard_error=None,
        points=0,
        confidence=confidence,
        why=why,
    )


def ask(values: dict[str, Value], keys: tuple[str, ...], why: str) -> None:
    for key in keys:
        values[key] = _said(key, None, None, "asked for", why)


def tell_outer(
    values: dict[str, Value],
    m: Measured,
    profile: Profile,
    guess: RibGuess | None,
    datum: float,
    length: float,
) -> None:
    v, e, n = m.value, m.error, m.points
    values["body.diameter"] = _known("body.diameter", 2 * v["radius"], 2 * e["radius"], n)
    ribs = profile.ribs
    if ribs is None or guess is None:
        return
    if guess.count is None:
        ask(values, ("ribs.count",), f"too little is seen to count what goes round: {guess.seen} of them")
    else:
        why = f"{guess.seen} seen, evenly spaced" if guess.count > 1 else "the only one all round"
        values["ribs.count"] = _said("ribs.count", None, float(guess.count), "counted", why, unit="1")
    for key in ("height", "tip_width", "tip_radius", "root_radius"):
        if key in v:
            values[f"ribs.{key}"] = _known(f"ribs.{key}", v[key], e[key], n)
    for key in ("flank_angle_ahead", "flank_angle_behind"):
        values[f"ribs.{key}"] = _known(
            f"ribs.{key}", degrees(v[key]), degrees(e[key]), n, unit="deg", limit=1.0
        )
    twist = v["twist"]
    wander, unsure = abs(twist) * length * v["radius"], e["twist"] * length * v["radius"]
    if wander < max(STRAIGHT, 3 * unsure):
        why = f"a rib wanders {wander:.2f} mm over what is seen"
        values["ribs.helix_pitch"] = _said("ribs.helix_pitch", "straight", None, "measured", why)
    else:
        pitch = tau / abs(twist)
        values["ribs.helix_pitch"] = _known(
            "ribs.helix_pitch", pitch, pitch * e["twist"] / abs(twist), n, limit=0.01 * pitch
        )
        hand = "right" if twist > 0 else "left"
        values["ribs.hand"] = _said("ribs.hand", hand, None, "measured", "from the helix")
    step = tau / ribs.count
    start = start_at_low_end(profile, m, length) - datum
    start = (start + step / 2) % step - step / 2
    error = hypot(degrees(e["turn"]), degrees(e["twist"]) * length / 2)
    values["ribs.start"] = _known(
        "ribs.start", degrees(start), error, n, unit="deg", limit=0.5, why="at the end taken as z = 0"
    )


def start_at_low_end(before: Profile, m: Measured, length: float) -> float:
    """Where rib 1 is at z = 0: the fit turns its section by (twist before) L/2 + twist (z - L/2) + turn."""
    assert before.ribs is not None
    return before.ribs.start + m.value["turn"] + (before.turn_per_mm - m.value["twist"]) * length / 2


def tell_bore(values: dict[str, Value], kind: str, m: Measured, profile: Profile) -> None:
    values["bore.section"] = _said(
        "bore.section", kind, None, "measured", f"fits best, {m.spread:.3f} mm of spread"
    )
    values["bore.across"] = _known(
        "bore.across",
        m.value["width"],
        m.error["width"],
        m.points,
        why="the hole itself: the clearance to the shaft is not seen",
    )
    for key in ("corner_radius", "key_width", "key_depth"):
        if key in m.value:
            values[f"bore.{key}"] = _known(f"bore.{key}", m.value[key], m.error[key], m.points)
    values["bore.lead_in"] = _said("bore.lead_in", None, 0.0, "assumed", "not looked for")
    values["bore.clearance"] = _said(
        "bore.clearance", None, 0.0, "assumed", "a scan sees the hole, not the shaft"
    )


def tell_length(
    values: dict[str, Value], q: Floats, n: Floats, low: float | None, high: float | None
) -> None:
    if low is None or high is None:
        ask(values, ("body.free_length",), "not both ends are seen")
        return
    heights = []
    for level, sign in ((0.0, -1.0), (high, 1.0)):
        flat = q[(sign * n[:, 2] > 0.95) & (np.abs(q[:, 2] - level) < 1.5)]
        matrix = np.column_stack([np.ones(len(flat)), flat[:, 0], flat[:, 1]])
        solution, *_ = np.linalg.lstsq(matrix, flat[:, 2], rcond=None)
        spread = 1.4826 * float(np.median(np.abs(flat[:, 2] - matrix @ solution)))
        error = spread * float(np.sqrt(np.linalg.inv(matrix.T @ matrix)[0, 0]))
        heights.append((float(solution[0]), error, len(flat)))
    (a, ea, na), (b, eb, nb) = heights
    values["body.free_length"] = _known("body.free_length", b - a, hypot(ea, eb), na + nb)


def tell_cuts(
    values: dict[str, Value], q: Floats, profile: Profile, outer: Measured, length: float, ends: bool
) -> None:
    """Chamfers: a point that lies d under the surface and z from the end is on a 45 deg cut of d + z."""
    near = np.minimum(q[:, 2], length - q[:, 2])
    zone = (near > 0.2) & (near < END_ZONE)
    r = np.hypot(q[:, 0], q[:, 1])
    wide = zone & (r > 0.85 * outer.value["radius"])
    look = look_outer(q[wide], profile, outer.value) if ends and wide.any() else None
    cut = None if look is None else _cut_of(-look.deviation, near[wide])
    values["body.edge_chamfer"] = (
        _said("body.edge_chamfer", None, 0.0, "assumed", "no chamfer is made out")
        if cut is None
        else _known("body.edge_chamfer", cut[0], cut[1], cut[2])
    )


def _cut_of(depth: Floats, near_end: Floats) -> tuple[float, float, int] | None:
    on = (depth > 0.2) & (depth < END_ZONE)
    if on.sum() < 40:
        return None
    both = depth[on] + near_end[on]
    middle = float(np.median(both))
    spread = 1.4826 * float(np.median(np.abs(both - middle)))
    return (middle, spread / float(on.sum()) ** 0.5, int(on.sum())) if spread < 0.15 * middle else None


def tell_chambers(
    values: dict[str, Value],
    q: Floats,
    n: Floats,
    chambers: tuple[ChamberShape, Measured] | None,
    guess: ChamberGuess | None,
    outer: Measured,
    bore: tuple[str, Measured, Profile, float] | None,
    profile: Profile,
    levels: Levels,
    length: float,
) -> None:
    if chambers is None:
        if guess is not None:
            ask(values, ("chambers.count",), "too few chambers are seen to count what goes round")
        elif not _solid(q, n, levels):
            ask(
                values,
                ("chambers.count",),
                "neither the inside of chambers nor a whole end without any is seen",
            )
        return
    shape, m = chambers
    made, p = chamber_shape(shape, m.value), m.points
    values["chambers.count"] = _said(
        "chambers.count", None, float(shape.count), "counted", "evenly spaced", unit="1"
    )
    values["chambers.section"] = _said(
        "chambers.section", shape.section, None, "measured", f"fits best, {m.spread:.3f} mm of spread"
    )
    error = hypot(outer.error["radius"], m.error["outer"])
    values["chambers.wall"] = _known("chambers.wall", outer.value["radius"] - made.outer, error, p)
    if shape.section == "sector":
        values["chambers.web"] = _known("chambers.web", made.web, m.error["web"], p)
        values["chambers.corner_radius"] = _known(
            "chambers.corner_radius", made.corner_radius, m.error["corner_radius"], p
        )
    else:
        web = float((made.outer + made.inner) * np.sin(pi / made.count) - (made.outer - made.inner))
        values["chambers.web"] = _known("chambers.web", web, 2 * hypot(m.error["outer"], m.error["inner"]), p)
        why = "a round chamber has no corners"
        values["chambers.corner_radius"] = _said("chambers.corner_radius", None, 0.0, "assumed", why)
    hub = None if bore is None else hub_wall_of(made, bore_outline(profile.bore))
    if hub is None or bore is None:
        ask(values, ("chambers.hub_wall",), "the bore is not seen")
    else:
        # of a change of a corner's round (sqrt 2 - 1) goes into the hub wall, of a keyway's depth all of it
        corner, key = (bore[1].error.get(name, 0.0) for name in ("corner_radius", "key_depth"))
        error = hypot(bore[1].error["width"] / 2, m.error["inner"], 0.42 * corner, key)
        values["chambers.hub_wall"] = _known("chambers.hub_wall", hub, error, p)
    step = tau / shape.count
    start = (shape.start + m.value["turn"] + step / 2) % step - step / 2
    values["chambers.start"] = _known(
        "chambers.start", degrees(start), degrees(m.error["turn"]), p, unit="deg", limit=0.5
    )


def _solid(q: Floats, n: Floats, levels: Levels) -> bool:
    """Whether an end shows rubber all round at mid radius: then there are no chambers."""
    r = np.hypot(q[:, 0], q[:, 1])
    end = (np.abs(n[:, 2]) > 0.95) & (np.abs(r - 0.72 * levels.body) < 0.1 * levels.body)
    cell = (np.mod(np.arctan2(q[end, 1], q[end, 0]), tau) / tau * 36).astype(np.int64) % 36
    return bool((np.bincount(cell, minlength=36) > 0).mean() > 0.97)
