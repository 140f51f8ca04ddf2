"""What a scanned section measures: the values of a profile that lie closest to the points, each with its error.

Outer surface, bore and chambers are fitted one by one, each with its own small shift, tilt and turn, so that
their offsets from each other are measured as well.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import pi, tau
from typing import Any

import numpy as np

from rollergen.shape.bore import bore_complaints, bore_outline
from rollergen.shape.chambers import Sector, sector_outline
from rollergen.shape.outline import Floats, circle
from rollergen.shape.rib import rib_complaints
from rollergen.spec.profile import Profile
from rollergen.tooling.scan_surfaces import Look, Ring, hole_ring, look_at, outer_ring

Values = dict[str, float]
NOT_MOVED: Values = dict.fromkeys(("turn", "x", "y", "tilt_x", "tilt_y"), 0.0)
PLACE = ("turn", "x", "y", "tilt_x", "tilt_y")
PLACE_PRIOR = (0.2, 3.0, 3.0, 0.03, 0.03)  # rad, mm, mm, slopes
RIB_KEYS = ("height", "tip_width", "flank_angle_ahead", "flank_angle_behind", "tip_radius", "root_radius")
STEP = 1e-4  # mm or rad: step of the numeric derivatives
LEAST_SPREAD = 1e-4  # mm
LEAST_FLANK, MOST_FLANK = -0.1, 1.3  # rad
ROUNDS = 12
ARC = 1.4  # rad: what a round goes round, less a little
MOST_CHORD = 0.01  # of a round's radius: a facet that cuts off more moves the radius read by 2 to 10 %
CUT = 4.0  # spreads: further off counts ever less
WIDEST, NARROWS = 4.0, 0.4  # mm at first, then so much of it each round


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Fitted values with their standard errors (same keys), the robust spread of the points (mm), their number.

    The errors hold for point errors that are independent of each other.  A value the points do not touch keeps
    its starting value with an error as large as was allowed for.
    """

    value: Values
    error: Values
    spread: float
    points: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Grain:
    """How fine a scan is: ``spacing`` of its points, ``chord`` by which its facets cut across curves (mm)."""

    spacing: float
    chord: float

    @property
    def words(self) -> str:
        """How far that is, for a round that is too small for it."""
        if self.chord > 0:
            return f"points {self.spacing:.2g} mm apart and facets {self.chord:.2g} mm across the curve"
        return f"points {self.spacing:.2g} mm apart"


ANY_FINE = Grain(spacing=0.0, chord=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Freedom:
    """One value to be fitted: where it starts, and how far off it may reasonably be (one standard deviation)."""

    start: float
    prior: float


def fit_outer(points: Floats, profile: Profile, *, loose: float = 1.0, grain: Grain = ANY_FINE) -> Measured:
    """Body, ribs and helix from points (n, 3) on the outer surface, in the part's frame.

    Keys: radius, height, tip_width, flank_angle_ahead, flank_angle_behind, tip_radius, root_radius, twist (rad per
    mm), and place.  ``loose`` widens what each value may be off.  A round too short for the ``grain`` of the scan stays
    as it is, and has no key.
    """
    ribs, half = profile.ribs, profile.body.free_length / 2
    free = {"radius": Freedom(start=profile.body_radius, prior=0.05 * profile.body_radius * loose)}
    if ribs is not None:
        free |= {
            "height": Freedom(start=ribs.height, prior=(0.5 + 0.2 * ribs.height) * loose),
            "tip_width": Freedom(start=ribs.tip_width, prior=(0.5 + 0.2 * ribs.tip_width) * loose),
            "flank_angle_ahead": Freedom(start=ribs.flank_angle_ahead, prior=0.15 * loose),
            "flank_angle_behind": Freedom(start=ribs.flank_angle_behind, prior=0.15 * loose),
            "twist": Freedom(start=profile.turn_per_mm, prior=0.1 * abs(profile.turn_per_mm) + 2e-4),
        }
        for key in ("tip_radius", "root_radius"):
            if round_is_touched(getattr(ribs, key), grain):  # a sharp corner stays sharp
                free[key] = Freedom(start=getattr(ribs, key), prior=(0.5 + 0.3 * getattr(ribs, key)) * loose)
    return _fitted(free, lambda v: look_outer(points, profile, v), points, half, turns=ribs is not None)


def can_be_drawn(profile: Profile) -> bool:
    """Whether ``fit_outer`` may start from a profile: its outer surface can be drawn."""
    start = {"radius": profile.body_radius}
    if profile.ribs is not None:
        start |= {key: getattr(profile.ribs, key) for key in RIB_KEYS}
        start = {key: value for key, value in start.items() if value or not key.endswith("_radius")}
    return not _absurd(profile, start) and not rib_complaints(outer_profile(profile, start))


def look_outer(points: Floats, profile: Profile, v: Mapping[str, float]) -> Look | None:
    """What points see of the outer surface with fitted values; None where it cannot be drawn."""
    half = profile.body.free_length / 2
    if _absurd(profile, v):
        return None
    shape = outer_profile(profile, v)
    if rib_complaints(shape):
        return None
    q = _placed(points, v, half)
    twist = v.get("twist", 0.0)
    angle = profile.turn_per_mm * half + twist * (q[:, 2] - half) + v.get("turn", 0.0)
    return look_at(replace(outer_ring(shape), twist=twist), q, twist_angle=angle)


def _absurd(profile: Profile, v: Mapping[str, float]) -> bool:
    """Values no rib has: a length of 0, a flank that overhangs, a tip wider than its share of the turn."""
    lengths = ("radius", "height", "tip_width", "tip_radius", "root_radius")
    if min(v[key] for key in lengths if key in v) <= 0:
        return True
    if profile.ribs is None:
        return False
    if v["tip_width"] * profile.ribs.count >= tau * (v["radius"] + v["height"]):
        return True
    return any(not LEAST_FLANK < v[key] < MOST_FLANK for key in ("flank_angle_ahead", "flank_angle_behind"))


def outer_profile(profile: Profile, v: Mapping[str, float]) -> Profile:
    """The profile with the fitted values of its outer surface put in."""
    body = profile.body.model_copy(update={"diameter": 2 * v["radius"]})
    if profile.ribs is None:
        return profile.model_copy(update={"body": body})
    ribs = profile.ribs.model_copy(update={key: v[key] for key in RIB_KEYS if key in v})
    if "twist" in v:
        pitch = tau / abs(v["twist"]) if v["twist"] else float("inf")
        ribs = ribs.model_copy(update={"helix_pitch": pitch, "hand": "left" if v["twist"] < 0 else "right"})
    return profile.model_copy(update={"body": body, "ribs": ribs})


def fit_scale(points: Floats, ring: Ring, half: float) -> Measured:
    """How many times as large as asked a surface is across the axis: key scale, and twist and place."""
    free = {
        "scale": Freedom(start=1.0, prior=0.1),
        "twist": Freedom(start=ring.twist, prior=0.1 * abs(ring.twist) + 2e-4),
    }

    def off(v: Mapping[str, float]) -> Look | None:
        q = _placed(points, v, half)
        angle = ring.twist * half + v["twist"] * (q[:, 2] - half) + v["turn"]
        smaller = np.column_stack([q[:, :2] / v["scale"], q[:, 2]])
        look = look_at(ring, smaller, twist_angle=angle)
        return replace(look, deviation=v["scale"] * look.deviation)

    if len(ring.features) == 1:
        free.pop("twist")
        return _fitted(free, lambda v: off({**v, "twist": 0.0}), points, half, turns=False)
    return _fitted(free, off, points, half, turns=True)


def fit_bore(points: Floats, profile: Profile, *, loose: float = 1.0, grain: Grain = ANY_FINE) -> Measured:
    """Bore from points on it: width, corner_radius, key_width, key_depth as its kind has them, and place."""
    bore, half = profile.bore, profile.body.free_length / 2
    free = {"width": Freedom(start=bore.width, prior=(0.5 + 0.03 * bore.width) * loose)}
    if bore.section != "round" and round_is_touched(bore.corner_radius, grain):
        free["corner_radius"] = Freedom(
            start=bore.corner_radius, prior=(0.5 + 0.3 * bore.corner_radius) * loose
        )
    if bore.section == "keyed":
        for key in ("key_width", "key_depth"):
            free[key] = Freedom(start=getattr(bore, key), prior=(0.5 + 0.1 * getattr(bore, key)) * loose)

    return _fitted(free, lambda v: look_bore(points, profile, v), points, half, turns=bore.section != "round")


def look_bore(points: Floats, profile: Profile, v: Mapping[str, float]) -> Look | None:
    """What points see of the bore with fitted values; None where it cannot be drawn."""
    shape = bore_profile(profile, v)
    least = min(v[key] for key in ("width", "corner_radius", "key_width", "key_depth") if key in v)
    if least <= 0 or v.get("key_width", 0.0) >= v["width"] or bore_complaints(shape):
        return None
    ring = hole_ring(bore_outline(shape.bore), count=1, start=v.get("turn", 0.0))
    return look_at(ring, _placed(points, v, profile.body.free_length / 2))


def bore_profile(profile: Profile, v: Mapping[str, float]) -> Profile:
    """The profile with the fitted values of its bore put in; the clearance stays as asked."""
    change: dict[str, Any] = {"across": v["width"] - profile.bore.clearance}
    change |= {key: v[key] for key in ("corner_radius", "key_width", "key_depth") if key in v}
    return profile.model_copy(update={"bore": profile.bore.model_copy(update=change)})


@dataclass(frozen=True, slots=True, kw_only=True)
class ChamberShape:
    """A chamber by its radii about the axis (mm): what ``chambers`` of a profile comes to."""

    section: str
    count: int
    start: float
    outer: float
    inner: float
    web: float
    corner_radius: float


def fit_chambers(
    points: Floats, shape: ChamberShape, half: float, *, loose: float = 1.0, grain: Grain = ANY_FINE
) -> Measured:
    """Chambers from points on their walls, all taken as alike: outer, inner, web, corner_radius, and place.

    Round chambers have outer and inner only (their web follows).
    """
    free = {
        "outer": Freedom(start=shape.outer, prior=0.03 * shape.outer * loose),
        "inner": Freedom(start=shape.inner, prior=0.06 * shape.inner * loose),
    }
    if shape.section == "sector":
        free["web"] = Freedom(start=shape.web, prior=(0.5 + 0.2 * shape.web) * loose)
        if round_is_touched(shape.corner_radius, grain):
            free["corner_radius"] = Freedom(
                start=shape.corner_radius, prior=(0.5 + 0.3 * shape.corner_radius) * loose
            )

    return _fitted(free, lambda v: look_chambers(points, shape, v, half), points, half, turns=True)


def look_chambers(points: Floats, shape: ChamberShape, v: Mapping[str, float], half: float) -> Look | None:
    """What points see of the chambers with fitted values; None where they cannot be drawn."""
    ring = ring_of_chambers(chamber_shape(shape, v))
    if ring is None:
        return None
    return look_at(replace(ring, start=ring.start + v["turn"]), _placed(points, v, half))


def chamber_shape(shape: ChamberShape, v: Mapping[str, float]) -> ChamberShape:
    return replace(
        shape,
        outer=v.get("outer", shape.outer),
        inner=v.get("inner", shape.inner),
        web=v.get("web", shape.web),
        corner_radius=v.get("corner_radius", shape.corner_radius),
    )


def ring_of_chambers(shape: ChamberShape) -> Ring | None:
    """The chambers as a ring; None where they cannot be drawn."""
    middle = shape.start + pi / shape.count
    if shape.section == "round":
        radius = (shape.outer - shape.inner) / 2
        if radius <= 0.1:
            return None
        hole = circle(radius, "chamber", centre=((shape.outer + shape.inner) / 2, 0.0))
        return hole_ring(hole, count=shape.count, start=middle)
    sector = Sector(
        outer=shape.outer, inner=shape.inner, half_web=shape.web / 2, half_angle=pi / shape.count,
        round=shape.corner_radius,
    )  # fmt: skip
    if min(shape.web, shape.inner) <= 0 or shape.corner_radius < 0 or not sector.fits():
        return None
    return hole_ring(sector_outline(sector), count=shape.count, start=middle)


def round_is_touched(radius: float, grain: Grain) -> bool:
    """Whether a round can be told from the points: some lie on it (about 90 deg of it are taken), and they follow it."""
    return radius > 0 and ARC * radius > grain.spacing and grain.chord < MOST_CHORD * radius


def _placed(points: Floats, v: Mapping[str, float], half: float) -> Floats:
    """Points as seen from the surface's own axis."""
    from_middle = points[:, 2] - half
    x = points[:, 0] - v["x"] - v["tilt_x"] * from_middle
    y = points[:, 1] - v["y"] - v["tilt_y"] * from_middle
    return np.column_stack([x, y, points[:, 2]])


def _fitted(
    free: Mapping[str, Freedom],
    off: Callable[[Mapping[str, float]], Look | None],
    points: Floats,
    half: float,
    *,
    turns: bool,
) -> Measured:
    """Levenberg-Marquardt with robust weights and with the freedoms' own spread as a weak pull to the start.

    What counts as far off narrows from a few mm to a few spreads, so that a rib that is 3 mm too low is still taken
    for a rib.  Source: Nocedal and Wright, Numerical Optimization, 10.3 (method; from memory); weights as in
    ``aligning``; the narrowing is graduated non-convexity (Blake and Zisserman, 1987; from memory).
    """
    place = [(name, prior) for name, prior in zip(PLACE, PLACE_PRIOR, strict=True) if turns or name != "turn"]
    names = [*free, *(name for name, _ in place)]
    start = np.array([*(f.start for f in free.values()), *(0.0 for _ in place)])
    prior = np.array([*(f.prior for f in free.values()), *(p for _, p in place)])
    fixed = {} if turns else {"turn": 0.0}

    def at(u: Floats) -> Look | None:
        return off({**fixed, **dict(zip(names, u.tolist(), strict=True))})

    u, here = start, at(start)
    if here is None:
        raise ValueError("the starting values cannot be drawn")
    damping, wide = 1e-6, WIDEST
    covariance = np.diag(prior**2)
    for _ in range(ROUNDS):
        spread = max(1.4826 * float(np.median(np.abs(here.deviation))), LEAST_SPREAD)
        cut = max(CUT * spread, wide)
        trust = 1 / (1 + (here.deviation / cut) ** 2) ** 2
        jacobian = _jacobian(names, u, here, at, points, half, prior)
        information = (jacobian * trust[:, None]).T @ jacobian / spread**2 + np.diag(prior**-2.0)
        gradient = jacobian.T @ (trust * here.deviation) / spread**2 + (u - start) / prior**2
        covariance = np.linalg.inv(information)

        def cost(r: Floats, v: Floats, width: float = cut, s: float = spread) -> float:
            small = (r / width) ** 2
            pull = float((((v - start) / prior) ** 2).sum())
            return float((small / (1 + small)).sum()) * width**2 / s**2 + pull

        now, done = cost(here.deviation, u), False
        for _ in range(8):
            step = -np.linalg.solve(information + damping * np.diag(np.diag(information)), gradient)
            there = at(u + step)
            if there is not None and cost(there.deviation, u + step) <= now:
                done = wide < cut and bool(np.all(np.abs(step) < 0.05 * np.sqrt(np.diag(covariance))))
                u, here, damping = u + step, there, max(damping / 10, 1e-9)
                break
            damping = max(damping * 10, 1e-4)
        else:
            done = wide < cut
        wide *= NARROWS
        if done:
            break
    error = np.sqrt(np.diag(covariance))
    return Measured(
        value=dict(zip(names, u.tolist(), strict=True)),
        error=dict(zip(names, error.tolist(), strict=True)),
        spread=1.4826 * float(np.median(np.abs(here.deviation))),
        points=len(points),
    )


def _jacobian(
    names: list[str],
    u: Floats,
    here: Look,
    at: Callable[[Floats], Look | None],
    points: Floats,
    half: float,
    prior: Floats,
) -> Floats:
    """Change of every distance with every value: closed form for the place, one small step for the rest."""
    n, from_middle = here.normal, points[:, 2] - half
    turn = n[:, 0] * points[:, 1] - n[:, 1] * points[:, 0]
    known = {
        "turn": turn, "twist": turn * from_middle, "x": -n[:, 0], "y": -n[:, 1],
        "tilt_x": -n[:, 0] * from_middle, "tilt_y": -n[:, 1] * from_middle,
    }  # fmt: skip
    jacobian = np.zeros((len(points), len(names)))
    for column, name in enumerate(names):
        if name in known:
            jacobian[:, column] = known[name]
            continue
        step = np.zeros(len(u))
        step[column] = min(STEP, float(prior[column]) / 50)
        ahead = at(u + step)
        other = at(u - step) if ahead is None else ahead
        if other is not None:
            sign = -1.0 if ahead is None else 1.0
            jacobian[:, column] = sign * (other.deviation - here.deviation) / step[column]
    return jacobian
