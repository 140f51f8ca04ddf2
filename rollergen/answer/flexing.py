"""A profile pressed: the rubber it is made of, where to press it, and what the flex study says of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import degrees, inf, pi, remainder, tau

import numpy as np

from rollergen.answer.report import Drawn
from rollergen.errors import Complaint, ProfileError, UsageError
from rollergen.rubber.law import Law, elastic_law, rubber_law
from rollergen.rubber.law_fit import fitted_law
from rollergen.rubber.press import Pressed
from rollergen.shape.outline import turned
from rollergen.shape.section import Section, thicknesses_of
from rollergen.spec.hardness import gent_modulus, modulus_range
from rollergen.spec.profile import Chambers, Profile
from rollergen.study.flex import (
    FlexReport,
    Place,
    Presser,
    Pressing,
    curve_of,
    press_at,
    ready,
    stiffness_round,
)
from rollergen.study.point_load import PointLoad, point_load

THUMB = Presser(name="thumb", radius=10.0)  # mm; common practice, no source
PLATE = Presser(name="plate", radius=inf)
FOAM_POISSON = 0.2  # open soft foam; value from memory
USUAL_TRAVEL, USUAL_STEPS = 8.0, 16  # mm; the travel is less where a chamber is shallow
USUAL_SHARE = 0.5  # of a chamber's depth, pressed unless asked otherwise
USUAL_SIZE = 3.0  # mm: forces within 1 % of half that size, up to 6 mm of travel
CAUTIONS = (
    "stiffness from a hardness is a range by a factor of two: measure the modulus before steel is cut",
    "at room temperature; at 93 C polyurethane keeps about half its stiffness, in the cold it stiffens: dynamic use up"
    " to 70 C (a moulder's design page)",
    "no friction, no time, no fatigue: a running roller is 1.25 to 2.5 times stiffer than a slow press (moulders'"
    " design pages)",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rubber:
    """The rubber's law and how far it can be trusted: Young's modulus ``used``, from ``low`` to ``high`` (MPa)."""

    law: Law
    used: float
    low: float
    high: float
    source: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlexAsked:
    """What to press and how far; None takes what is usual.  ``z`` (mm) is where the ribs are looked at.

    ``at``: angles (rad) to press at instead of the usual places.
    """

    presser: Presser = THUMB
    travel: float | None = None
    steps: int = USUAL_STEPS
    positions: int = 72
    size: float = USUAL_SIZE
    z: float = 0.0
    at: tuple[float, ...] = ()
    past_collapse: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FlexAnswer:
    """What came of it, with what pictures need: the section made ready and every press."""

    profile: str
    rubber: Rubber
    report: FlexReport
    point: PointLoad | None
    section: Section
    pressing: Pressing
    pressed: tuple[Pressed, ...]

    @property
    def band(self) -> tuple[float, float]:
        """Factors on every force at the lowest and highest modulus; no foam, or it follows along."""
        return (self.rubber.low / self.rubber.used, self.rubber.high / self.rubber.used)


def flex_of(drawn: Drawn, asked: FlexAsked, *, told: Callable[[float], None] | None = None) -> FlexAnswer:
    """Press a profile where it matters and all round.  ``told`` is called with the share done.

    Raises ProfileError for a compound without modulus or a foam without one, UsageError for a travel beyond
    the chamber or a place that is none.
    """
    profile = drawn.profile
    rubber = rubber_of(profile)
    travel = _travel(drawn, asked)
    section = _at_height(drawn, asked.z)
    pressing = ready(
        section, body_radius=profile.body_radius, law=rubber.law, foam=foam_of(profile), size=asked.size,
        foamed=profile.chambers.foamed if profile.chambers else (),
    )  # fmt: skip
    places = _asked_places(asked) or usual_places(profile, asked.z)
    travels = [travel * n / asked.steps for n in range(1, asked.steps + 1)]
    pressed = []
    for number, place in enumerate(places):

        def share(done: float, before: int = number) -> None:
            if told is not None:
                told((before + done) / len(places))

        pressed.append(
            press_at(
                pressing, asked.presser, place.angle, travels, past_collapse=asked.past_collapse, told=share
            )
        )
    angles = [tau * n / asked.positions for n in range(asked.positions)]
    around = stiffness_round(pressing, asked.presser, angles)
    report = FlexReport(
        presser=asked.presser.name,
        presser_radius_mm=asked.presser.radius,
        rotation_deg=tuple(degrees(angle) for angle in angles),
        stiffness_n_mm2=around,
        unevenness=max(around) / min(around),
        curves=tuple(curve_of(pressing, p, x) for p, x in zip(places, pressed, strict=True)),
        triangles=len(pressing.assembly.mesh.triangles),
        mesh_size_mm=asked.size,
    )
    return FlexAnswer(
        profile=profile.name, rubber=rubber, report=report, point=_point(drawn, pressing, asked, rubber),
        section=section, pressing=pressing, pressed=tuple(pressed),
    )  # fmt: skip


def rubber_of(profile: Profile) -> Rubber:
    """The law of a profile's compound: a measured table, a measured modulus, or a hardness with its range."""
    compound = profile.compound
    if compound.stress_strain is not None:
        fit = fitted_law(compound.stress_strain)
        fitted_words = (
            f"fitted to a stress-strain table up to {fit.strain_to:.0%}, greatest miss {fit.misfit:.1%} of the"
            " greatest stress; beyond that strain it is a guess",
        )
        law = rubber_law(fit.modulus, c2=fit.c2)
        source = "compound.stress_strain, two terms after Yeoh 1993"
        return Rubber(
            law=law, used=fit.modulus, low=fit.modulus, high=fit.modulus, source=source, words=fitted_words
        )
    found = modulus_range(compound.hardness, measured=compound.modulus)
    used = compound.modulus
    if used is None:
        assert compound.hardness is not None  # modulus_range asks for it
        used = gent_modulus(compound.hardness)
    words: tuple[str, ...] = (
        () if found.inside else ("this hardness is outside the range of the published fits",)
    )
    return Rubber(
        law=rubber_law(used), used=used, low=found.low, high=found.high, source=found.source, words=words
    )


def usual_places(profile: Profile, z: float) -> tuple[Place, ...]:
    """Where a thumb would press: over the chamber and the web that lie freest of ribs, and on a rib."""
    ribs, chambers = profile.ribs, _open(profile)
    turn = profile.turn_per_mm * z
    tips = [] if ribs is None else [ribs.start + turn + tau * n / ribs.count for n in range(ribs.count)]
    places = []
    if chambers is not None:
        step = tau / chambers.count
        webs = [chambers.start + step * n for n in range(chambers.count)]
        middles = [web + step / 2 for web in webs]
        places += [
            Place(name="over a chamber", angle=_freest(middles, tips)),
            Place(name="over a web", angle=_freest(webs, tips)),
        ]
        if tips:
            rib = min(tips, key=lambda tip: min(abs(remainder(tip - m, tau)) for m in middles))
            places.append(Place(name="on a rib", angle=remainder(rib, tau)))
    elif ribs is not None:
        places = [
            Place(name="between ribs", angle=remainder(tips[0] + pi / ribs.count, tau)),
            Place(name="on a rib", angle=remainder(tips[0], tau)),
        ]
    return tuple(places) or (Place(name="on the body", angle=0.0),)


def _asked_places(asked: FlexAsked) -> tuple[Place, ...]:
    return tuple(Place(name=f"at {degrees(angle):g} deg", angle=angle) for angle in asked.at)


def _freest(angles: list[float], tips: list[float]) -> float:
    """The angle farthest from any rib; the first of several, turned to lie within half a turn."""

    def clear(angle: float) -> float:
        return round(min((abs(remainder(angle - tip, tau)) for tip in tips), default=0.0), 9)

    return remainder(max(angles, key=clear), tau)


def _open(profile: Profile) -> Chambers | None:
    return profile.chambers if profile.chambers is not None and profile.chambers.count else None


def _at_height(drawn: Drawn, z: float) -> Section:
    """The section at ``z``: the ribs have turned, chambers and bore run straight."""
    if not 0 <= z <= drawn.profile.body.free_length:
        raise UsageError(f"z {z:g} mm is outside the segment, 0 to {drawn.profile.body.free_length:g} mm")
    section = drawn.section
    return Section(
        outer=turned(section.outer, drawn.profile.turn_per_mm * z),
        bore=section.bore,
        chambers=section.chambers,
    )


def chamber_depth(drawn: Drawn) -> float | None:
    """From hub side to wall side of a chamber, mm; None for a segment without."""
    if not drawn.section.chambers:
        return None
    reaches = [np.hypot(*p) for e in drawn.section.chambers[0].edges for p in (e.start, e.end)]
    profile = drawn.profile
    wall = thicknesses_of(drawn.section, profile.body_radius).wall or 0.0
    return float(profile.body_radius - wall - min(reaches))


def _travel(drawn: Drawn, asked: FlexAsked) -> float:
    depth = chamber_depth(drawn)
    profile = drawn.profile
    room = (profile.body_radius - profile.bore.reach) / 2 if depth is None else depth
    if asked.travel is None:
        return min(USUAL_TRAVEL, USUAL_SHARE * room)
    if not 0 < asked.travel <= room:
        what = "half the rubber over the bore" if depth is None else "the depth of the chamber"
        raise UsageError(
            f"travel {asked.travel:g} mm must be above 0 and at most {room:.2f} mm, {what}; write at most that"
        )
    return asked.travel


def foam_of(profile: Profile) -> Law | None:
    """The law of the foam in a profile's chambers, None without; ProfileError for a foam without modulus."""
    chambers = profile.chambers
    if chambers is None or not chambers.foamed:
        return None
    if chambers.foam_modulus is None:
        raise ProfileError(
            [
                Complaint(
                    key="chambers.foam_modulus",
                    message='needed to press foamed chambers; write e.g. foam_modulus = "0.2 MPa"',
                )
            ]
        )
    return elastic_law(chambers.foam_modulus, FOAM_POISSON)


def _point(drawn: Drawn, pressing: Pressing, asked: FlexAsked, rubber: Rubber) -> PointLoad | None:
    """A point load on the wall over the freest chamber; None without open chambers."""
    profile, chambers = drawn.profile, _open(drawn.profile)
    wall = thicknesses_of(drawn.section, profile.body_radius).wall
    if chambers is None or wall is None or len(chambers.foamed) == chambers.count:
        return None
    place = usual_places(profile, asked.z)[0]
    (k,) = stiffness_round(pressing, asked.presser, [place.angle])
    width = tau / chambers.count * (profile.body_radius - wall / 2) - chambers.web
    if not width > 0:
        return None
    return point_load(
        line_stiffness=k, modulus=rubber.used, width=width, wall=wall, length=profile.body.free_length
    )
