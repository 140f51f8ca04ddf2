"""What the fitted surfaces of a scan say of each feature of the profile."""

from __future__ import annotations

from math import degrees, hypot, inf, pi, tau

import numpy as np

from rollergen.shape.bore import bore_outline
from rollergen.shape.chambers import Sector, sector_outline
from rollergen.shape.outline import Arc, Outline, circle, turned
from rollergen.shape.properties import greatest_radius, least_distance
from rollergen.shape.section import Section
from rollergen.spec.profile import Profile
from rollergen.tooling.part_features import Reading
from rollergen.tooling.scan_ends import End
from rollergen.tooling.section_fit import (
    ChamberShape,
    Measured,
    bore_profile,
    chamber_shape,
    ring_of_chambers,
)


def chamber_shape_of(profile: Profile, section: Section) -> ChamberShape | None:
    """The radii of the chambers a profile asks for."""
    chambers = profile.chambers
    if chambers is None or not section.chambers:
        return None
    outline = section.chambers[0]
    outer = greatest_radius(outline)
    if chambers.section == "round":
        inner = outer - 2 * next(e.radius for e in outline.edges if isinstance(e, Arc))
    else:
        hubs = [e.radius for e in outline.edges if isinstance(e, Arc) and e.feature == "hub"]
        inner = hubs[0] if hubs else min(hypot(*e.start) for e in outline.edges)
    return ChamberShape(
        section=chambers.section, count=chambers.count, start=chambers.start, outer=outer, inner=inner,
        web=chambers.web, corner_radius=chambers.corner_radius,
    )  # fmt: skip


def read_outer(readings: dict[str, Reading], m: Measured | None, profile: Profile) -> None:
    if m is None:
        return
    v, e, n = m.value, m.error, m.points
    readings["body.diameter"] = Reading(value=2 * v["radius"], error=2 * e["radius"], points=n)
    if profile.ribs is None:
        return
    tip_error = hypot(e["radius"], e["height"])
    readings["tip diameter"] = Reading(value=2 * (v["radius"] + v["height"]), error=2 * tip_error, points=n)
    for key in ("height", "tip_width", "tip_radius", "root_radius"):
        if key in v:
            readings[f"ribs.{key}"] = Reading(value=v[key], error=e[key], points=n)
    for key in ("flank_angle_ahead", "flank_angle_behind"):
        readings[f"ribs.{key}"] = Reading(value=degrees(v[key]), error=degrees(e[key]), points=n)
    if profile.ribs.helix_pitch < inf and v["twist"]:
        pitch = tau / abs(v["twist"])
        readings["ribs.helix_pitch"] = Reading(
            value=pitch, error=pitch * e["twist"] / abs(v["twist"]), points=n
        )


def read_bore(readings: dict[str, Reading], m: Measured | None) -> None:
    if m is None:
        return
    for key in ("width", "corner_radius", "key_width", "key_depth"):
        if key in m.value:
            readings[f"bore.{key}"] = Reading(value=m.value[key], error=m.error[key], points=m.points)


def read_chambers(
    readings: dict[str, Reading],
    outer: Measured | None,
    bore: Measured | None,
    m: Measured | None,
    shape: ChamberShape | None,
    profile: Profile,
) -> None:
    """Wall from body and chambers, web from the chambers, hub wall from chambers and bore, as they were measured."""
    if m is None or shape is None:
        return
    made = chamber_shape(shape, m.value)
    if outer is not None:
        error = hypot(outer.error["radius"], m.error["outer"])
        readings["chambers.wall"] = Reading(
            value=outer.value["radius"] - m.value["outer"], error=error, points=m.points
        )
    if made.section == "sector":
        readings["chambers.web"] = Reading(value=m.value["web"], error=m.error["web"], points=m.points)
        if "corner_radius" in m.value:
            readings["chambers.corner_radius"] = Reading(
                value=m.value["corner_radius"], error=m.error["corner_radius"], points=m.points
            )
    elif made.count > 1:
        web = (made.outer + made.inner) * np.sin(pi / made.count) - (made.outer - made.inner)
        readings["chambers.web"] = Reading(
            value=float(web), error=2 * hypot(m.error["outer"], m.error["inner"]), points=m.points
        )
    hub = None if bore is None else hub_wall_of(made, bore_outline(bore_profile(profile, bore.value).bore))
    if hub is not None and bore is not None:
        # (sqrt 2 - 1) of a change of the corner's round goes into the hub wall; one that is not seen may be 10 % off
        corner = bore.error.get("corner_radius", 0.1 * profile.bore.corner_radius)
        error = hypot(bore.error["width"] / 2, 0.42 * corner, m.error["inner"])
        readings["chambers.hub_wall"] = Reading(value=hub, error=error, points=m.points)


def hub_wall_of(shape: ChamberShape, bore: Outline) -> float | None:
    """Least rubber between a bore and chambers about the same axis (mm)."""
    if shape.section == "round":
        radius = (shape.outer - shape.inner) / 2
        one = circle(radius, "chamber", centre=((shape.outer + shape.inner) / 2, 0.0))
    elif ring_of_chambers(shape) is None:
        return None
    else:
        one = sector_outline(
            Sector(outer=shape.outer, inner=shape.inner, half_web=shape.web / 2, half_angle=pi / shape.count,
                   round=shape.corner_radius)
        )  # fmt: skip
    step = tau / shape.count
    middles = [shape.start + (number + 0.5) * step for number in range(shape.count)]
    return min(least_distance(turned(one, middle), bore) for middle in middles)


def read_length(
    readings: dict[str, Reading], unseen: dict[str, str], ends: tuple[End | None, End | None]
) -> None:
    low, high = ends
    if low is None or high is None:
        missing = "neither end is" if low is None and high is None else "only one end is"
        unseen["body.free_length"] = f"{missing} seen"
        return
    readings["body.free_length"] = Reading(
        value=high.height - low.height, error=hypot(low.error, high.error), points=low.points + high.points
    )


def scale_along(readings: dict[str, Reading], profile: Profile) -> tuple[float, float, str] | None:
    """Scale along the axis: from the length; else from the helix, whose turns a shrinking part keeps."""
    length, pitch = readings.get("body.free_length"), readings.get("ribs.helix_pitch")
    if length is not None:
        nominal = profile.body.free_length
        return length.value / nominal, length.error / nominal, "the length between both ends"
    if pitch is not None and profile.ribs is not None and pitch.error < 0.01 * pitch.value:
        nominal = profile.ribs.helix_pitch
        return pitch.value / nominal, pitch.error / nominal, "the helix pitch, as no length is seen"
    return None
