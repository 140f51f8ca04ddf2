"""The values of a recovered profile, each with how well it is known and on what it rests."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import degrees, hypot, pi, tau
from typing import Literal

import numpy as np

from rollergen.shape.bore import bore_outline
from rollergen.shape.outline import Floats
from rollergen.spec.profile import Profile
from rollergen.tooling.recovered_cuts import END_ZONE, cut_of, nothing_cut
from rollergen.tooling.recovering_start import ChamberGuess, Levels, RibGuess
from rollergen.tooling.scan_readings import hub_wall_of
from rollergen.tooling.scan_surfaces import Look
from rollergen.tooling.section_fit import ChamberShape, Measured, chamber_shape, look_bore, look_outer

Word = Literal["measured", "weak", "counted", "assumed", "asked for"]
MOST_SPREAD = 0.5  # mm; scanners of parts this size are good to 0.1 mm (common practice, no source)
MOST_STRAY = 0.05  # of the outer surface on nothing that was recovered
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


def _kind(key: str, word: str, spread: float) -> Value:
    why = f"fits best, {spread:.3f} mm of spread"
    return _said(key, word, None, "measured" if spread < MOST_SPREAD else "weak", why)


def ask(values: dict[str, Value], keys: tuple[str, ...], why: str) -> None:
    for key in keys:
        values[key] = _said(key, None, None, "asked for", why)


def doubt_other_shapes(values: dict[str, Value], stray: float, spreads: dict[str, float]) -> None:
    """Values of a surface that the points do not follow are weak: their errors hold for a shape that is right."""
    rests_on = {
        "outer": ("body.diameter", "ribs.", "chambers.wall"),
        "bore": ("bore.", "chambers.hub_wall", "chambers.start", "ribs.start"),
        "chambers": ("chambers.",),
    }
    reasons = {
        name: f"{spread:.2f} mm of spread: of another shape"
        for name, spread in spreads.items()
        if spread > MOST_SPREAD
    }
    if stray > MOST_STRAY:
        reasons["outer"] = f"{stray:.0%} of the outer surface lies on nothing that was recovered"
    for name, why in reasons.items():
        for key, value in values.items():
            if key.startswith(rests_on[name]) and value.confidence in ("measured", "counted"):
                values[key] = replace(value, confidence="weak", why=why)


def tell_outer(
    values: dict[str, Value],
    m: Measured,
    profile: Profile,
    guess: RibGuess | None,
    datum: float,
    length: float,
    bore: Measured | None,
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
    error = degrees(hypot(e["turn"], e["twist"] * length / 2, _datum_error(bore)))
    values["ribs.start"] = _known(
        "ribs.start", degrees(start), error, n, unit="deg", limit=0.5, why="at the end taken as z = 0"
    )


def _datum_error(bore: Measured | None) -> float:
    """Standard error of the angle (rad) that starts are counted from: of the bore's flat or key; a round one has none."""
    return 0.0 if bore is None else bore.error.get("turn", 0.0)


def start_at_low_end(before: Profile, m: Measured, length: float) -> float:
    """Where rib 1 is at z = 0: the fit turns its section by (twist before) L/2 + twist (z - L/2) + turn."""
    assert before.ribs is not None
    return before.ribs.start + m.value["turn"] + (before.turn_per_mm - m.value["twist"]) * length / 2


def tell_bore(values: dict[str, Value], kind: str, m: Measured, profile: Profile) -> None:
    values["bore.section"] = _kind("bore.section", kind, m.spread)
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
    values["bore.clearance"] = _said(
        "bore.clearance", None, 0.0, "assumed", "a scan sees the hole, not the shaft"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class EndPlane:
    """A flat end: its height over (x, y) as ``a + b x + c y`` (mm, mm per mm), standard error of a, number of points."""

    a: float
    b: float
    c: float
    error: float
    points: int


def ends_of(q: Floats, n: Floats, low: float | None, high: float | None) -> tuple[EndPlane, EndPlane] | None:
    """Both ends as planes; None where one is not seen."""
    if low is None or high is None:
        return None
    lower, upper = (_end_plane(q, n, level, sign) for level, sign in ((0.0, -1.0), (high, 1.0)))
    return lower, upper


def _end_plane(q: Floats, n: Floats, level: float, sign: float) -> EndPlane:
    flat = q[(sign * n[:, 2] > 0.95) & (np.abs(q[:, 2] - level) < 1.5)]
    matrix = np.column_stack([np.ones(len(flat)), flat[:, 0], flat[:, 1]])
    solution, *_ = np.linalg.lstsq(matrix, flat[:, 2], rcond=None)
    spread = 1.4826 * float(np.median(np.abs(flat[:, 2] - matrix @ solution)))
    error = spread * float(np.sqrt(np.linalg.inv(matrix.T @ matrix)[0, 0]))
    a, b, c = solution.tolist()
    return EndPlane(a=a, b=b, c=c, error=error, points=len(flat))


def tell_length(values: dict[str, Value], ends: tuple[EndPlane, EndPlane] | None) -> None:
    if ends is None:
        ask(values, ("body.free_length",), "not both ends are seen")
        return
    low, high = ends
    values["body.free_length"] = _known(
        "body.free_length", high.a - low.a, hypot(low.error, high.error), low.points + high.points
    )


def tell_chamfer(
    values: dict[str, Value],
    q: Floats,
    profile: Profile,
    outer: Measured,
    ends: tuple[EndPlane, EndPlane] | None,
) -> None:
    r = np.hypot(q[:, 0], q[:, 1])
    near = _from_end(q, ends)
    wide = (np.abs(near) < END_ZONE) & (r > 0.85 * outer.value["radius"])
    look = look_outer(q[wide], profile, outer.value) if ends is not None and wide.any() else None
    _tell_cut(values, "body.edge_chamfer", look, near[wide], ends, outer.error["radius"], outer.spread)


def tell_lead_in(
    values: dict[str, Value],
    q: Floats,
    profile: Profile,
    bore: Measured,
    ends: tuple[EndPlane, EndPlane] | None,
    limit: float,
) -> None:
    """The cut at the bore's mouths; ``limit``: radius (mm) that everything of the bore lies within."""
    near = _from_end(q, ends)
    # points (n, 3) and the fit are in the same frame here: the bore's turn is part of its fit
    mouth = (np.abs(near) < END_ZONE) & (np.hypot(q[:, 0], q[:, 1]) < limit)
    look = look_bore(q[mouth], profile, bore.value) if ends is not None and mouth.any() else None
    _tell_cut(values, "bore.lead_in", look, near[mouth], ends, bore.error["width"] / 2, bore.spread)


def _from_end(q: Floats, ends: tuple[EndPlane, EndPlane] | None) -> Floats:
    """How far every point lies inside the nearer end (mm)."""
    if ends is None:
        return np.full(len(q), np.inf)
    low, high = (end.a + end.b * q[:, 0] + end.c * q[:, 1] for end in ends)
    near: Floats = np.minimum(q[:, 2] - low, high - q[:, 2])
    return near


def _tell_cut(
    values: dict[str, Value],
    key: str,
    look: Look | None,
    near: Floats,
    ends: tuple[EndPlane, EndPlane] | None,
    surface_error: float,
    spread: float,
) -> None:
    if look is None or ends is None:
        why = "no end is seen to look for a cut at" if ends is None else "nothing is seen near the ends"
        values[key] = _said(key, None, 0.0, "assumed", why)
        return
    # the cut is made in the section; a surface that leans along the axis is nearer in space than there
    depth = -look.deviation / np.sqrt(np.maximum(1 - look.normal[:, 2] ** 2, 0.1))
    shared = hypot(surface_error, ends[0].error, ends[1].error)
    cut = cut_of(depth, near, spread)
    if cut is None:
        values[key] = _said(key, None, 0.0, "assumed", nothing_cut(depth, near, spread))
        return
    values[key] = _known(key, cut.size, hypot(cut.error, shared), cut.points)
    if cut.weak:
        why = f"small for a surface whose points lie {spread:.2g} mm about what was recovered"
        values[key] = replace(values[key], confidence="weak", why=why)


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
    values["chambers.section"] = _kind("chambers.section", shape.section, m.spread)
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
    error = degrees(hypot(m.error["turn"], _datum_error(None if bore is None else bore[1])))
    values["chambers.start"] = _known("chambers.start", degrees(start), error, p, unit="deg", limit=0.5)


def _solid(q: Floats, n: Floats, levels: Levels) -> bool:
    """Whether an end shows rubber all round at mid radius: then there are no chambers."""
    r = np.hypot(q[:, 0], q[:, 1])
    end = (np.abs(n[:, 2]) > 0.95) & (np.abs(r - 0.72 * levels.body) < 0.1 * levels.body)
    cell = (np.mod(np.arctan2(q[end, 1], q[end, 0]), tau) / tau * 36).astype(np.int64) % 36
    return bool((np.bincount(cell, minlength=36) > 0).mean() > 0.97)
