"""Limits of bore and chambers: each rule one function, in plain words, with the number that works."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi, sin

from rollergen.errors import Complaint
from rollergen.spec.amounts import at_least, at_most, mm
from rollergen.spec.profile import Chambers, Profile, corner_reach

# Value from memory: cast-PU pages advise walls of at least 1 mm (0.5 mm on small parts); 2 mm is asked
# for hot cast with loose air-chamber cores. Common practice, no source.
LEAST_CASTABLE_WALL = 2.0  # mm


def bore_corner_fits(profile: Profile) -> Iterator[Complaint]:
    bore = profile.bore
    if bore.section not in ("square", "hexagon"):
        return
    if 2 * bore.corner_radius >= bore.width:
        yield Complaint(
            key="bore.corner_radius",
            message=f"{mm(bore.corner_radius)} rounds the whole {bore.section} away; write at most "
            f'{at_most(bore.width / 2)}, or section = "round"',
        )
    if 2 * bore.shaft_corner_radius >= bore.across:
        yield Complaint(
            key="bore.shaft_corner_radius",
            message=f"{mm(bore.shaft_corner_radius)} rounds the whole shaft away; write at most "
            f"{at_most(bore.across / 2)}",
        )


def shaft_corner_passes(profile: Profile) -> Iterator[Complaint]:
    bore = profile.bore
    if bore.section not in ("square", "hexagon"):
        return
    shaft = corner_reach(bore.section, bore.across, bore.shaft_corner_radius)
    if shaft > bore.reach + 1e-9:
        sharp = corner_reach(bore.section, 2.0, 0.0)
        most = (sharp * bore.width / 2 - shaft) / (sharp - 1)
        least = (sharp * bore.across / 2 - bore.reach) / (sharp - 1)
        room = f"write at most {at_most(most + 2e-9)}, or " if most > 0.01 else "write "
        yield Complaint(
            key="bore.corner_radius",
            message=f"{mm(bore.corner_radius)}: the shaft's corner reaches {mm(shaft)} from the axis, the "
            f"bore's only {mm(bore.reach)}; {room}shaft_corner_radius of at least {at_least(least, itself=True)}",
        )


def key_belongs(profile: Profile) -> Iterator[Complaint]:
    bore = profile.bore
    for key in ("key_width", "key_depth"):
        value = getattr(bore, key)
        if bore.section == "keyed" and value is None:
            yield Complaint(key=f"bore.{key}", message='required for section = "keyed"; write e.g. "8 mm"')
        if bore.section != "keyed" and value is not None:
            yield Complaint(
                key=f"bore.{key}",
                message=f'a {bore.section} bore has no key; take it out or write section = "keyed"',
            )
    if bore.section == "keyed" and bore.key_width is not None and bore.key_width >= bore.across:
        yield Complaint(
            key="bore.key_width",
            message=f"{mm(bore.key_width)} is as wide as the shaft; write at most {at_most(bore.across)}",
        )


def bore_leaves_body(profile: Profile) -> Iterator[Complaint]:
    reach = profile.bore.reach
    left = profile.body_radius - reach
    if left < LEAST_CASTABLE_WALL:
        yield Complaint(
            key="bore.across",
            message=f"the bore reaches {mm(reach)} from the axis and leaves {mm(left)} of a body "
            f"{mm(profile.body_radius)} in radius, {mm(LEAST_CASTABLE_WALL)} must stay; write "
            f"body.diameter of at least {at_least(2 * (reach + LEAST_CASTABLE_WALL))}, or a smaller shaft",
        )


def lead_in_fits(profile: Profile) -> Iterator[Complaint]:
    lead_in, body = profile.bore.lead_in, profile.body
    room = profile.body_radius - body.edge_chamfer - profile.bore.reach
    most = min(body.free_length / 2, room)
    if lead_in > 0 and lead_in >= most:
        yield Complaint(
            key="bore.lead_in",
            message=f"{mm(lead_in)} leaves nothing of the end face ({mm(room)} from bore corner to chamfer) "
            f"or of the length; write {'at most ' + at_most(most) if most > 0.01 else '0 mm'}",
        )


def walls_are_castable(profile: Profile) -> Iterator[Complaint]:
    chambers = _real_chambers(profile)
    for key in ("wall", "web", "hub_wall") if chambers else ():
        value = getattr(chambers, key)
        if value < LEAST_CASTABLE_WALL:
            yield Complaint(
                key=f"chambers.{key}",
                message=f"{mm(value)} is thinner than can be cast; write at least {mm(LEAST_CASTABLE_WALL)}",
            )


def _real_chambers(profile: Profile) -> Chambers | None:
    chambers = profile.chambers
    return chambers if chambers is not None and chambers.count > 0 else None


def walls_leave_air(profile: Profile) -> Iterator[Complaint]:
    chambers = _real_chambers(profile)
    if chambers is None:
        return
    # even a chamber that sits over a flat of the bore cannot come nearer than half the bore's width
    room = profile.body_radius - profile.bore.width / 2
    asked = chambers.wall + chambers.hub_wall
    if asked >= room:
        yield Complaint(
            key="chambers.wall",
            message=f"wall {mm(chambers.wall)} and hub_wall {mm(chambers.hub_wall)} leave no air: {mm(room)} "
            f"lie between bore flat and body, the two need {mm(asked)}; together at most {at_most(room)}",
        )


def webs_leave_air(profile: Profile) -> Iterator[Complaint]:
    chambers = _real_chambers(profile)
    if chambers is None or chambers.wall >= profile.body_radius:
        return
    outer = profile.body_radius - chambers.wall
    single = chambers.count == 1
    if single and chambers.section == "round":
        return  # a lone round chamber has no neighbour
    most = 2 * outer * (1.0 if single else sin(pi / chambers.count))
    if chambers.web >= most:
        yield Complaint(
            key="chambers.web",
            message=f"{mm(chambers.web)} leaves no air between {chambers.count} webs inside the wall (radius "
            f"{mm(outer)}); write at most {at_most(most)}, or fewer chambers",
        )


def ends_spare_chambers(profile: Profile) -> Iterator[Complaint]:
    chambers = _real_chambers(profile)
    if chambers is None:
        return
    pairs = (
        ("body.edge_chamfer", profile.body.edge_chamfer, "wall", chambers.wall),
        ("bore.lead_in", profile.bore.lead_in, "hub_wall", chambers.hub_wall),
    )
    for key, value, name, wall in pairs:
        if value >= wall:
            yield Complaint(
                key=key,
                message=f"{mm(value)} cuts through chambers.{name} {mm(wall)}; write at most {at_most(wall)}",
            )


def foam_is_told(profile: Profile) -> Iterator[Complaint]:
    chambers = profile.chambers
    if chambers is None:
        return
    wrong = [number for number in chambers.foamed if not 1 <= number <= chambers.count]
    if wrong:
        yield Complaint(
            key="chambers.foamed",
            message=f"there is no chamber {', '.join(map(str, wrong))}: numbers run 1 to {chambers.count}",
        )
    if len(set(chambers.foamed)) < len(chambers.foamed):
        yield Complaint(key="chambers.foamed", message="names a chamber twice; name each once")
    if chambers.foamed and chambers.foam_density_kg_m3 is None:
        yield Complaint(
            key="chambers.foam_density", message='required when chambers hold foam; write e.g. "90 kg/m^3"'
        )
