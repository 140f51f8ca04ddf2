"""What draft does to the give: the same press at the core's foot and at its thin end."""

from __future__ import annotations

from dataclasses import dataclass

from rollergen.answer.flexing import THUMB, USUAL_SIZE, foam_of, rubber_of, usual_places
from rollergen.answer.report import Drawn
from rollergen.shape.section import Section
from rollergen.spec.trace import Figure
from rollergen.study.flex import ready, stiffness_round
from rollergen.tooling.cavity import Cavity, drafted_section
from rollergen.tooling.shrinkage import Shrinkage, scaled_outline


@dataclass(frozen=True, slots=True, kw_only=True)
class GiveOfPlace:
    """Stiffness under a thumb at one place (N/mm per mm): at the core's foot and at its thin end."""

    at: str
    stiffness_ends_n_mm2: tuple[float, float]


def drafted_give(drawn: Drawn, cavity: Cavity, shrinkage: Shrinkage) -> tuple[GiveOfPlace, ...]:
    """How the drafted part gives at both ends of its chambers, the ribs as at z = 0.

    Raises ProfileError for a compound or foam without a modulus.
    """
    profile = drawn.profile
    rubber, foam = rubber_of(profile), foam_of(profile)
    places = usual_places(profile, 0.0)
    found = []
    for end in (0, 1):
        hot = drafted_section(cavity.section, cavity.chamber_offsets[end], cavity.bore_offsets[end])
        small = 1 - shrinkage.radial
        section = Section(
            outer=scaled_outline(hot.outer, small),
            bore=scaled_outline(hot.bore, small),
            chambers=tuple(scaled_outline(c, small) for c in hot.chambers),
        )
        pressing = ready(
            section, body_radius=profile.body_radius, law=rubber.law, foam=foam, size=USUAL_SIZE,
            foamed=profile.chambers.foamed if profile.chambers else (),
        )  # fmt: skip
        found.append(stiffness_round(pressing, THUMB, [place.angle for place in places]))
    return tuple(
        GiveOfPlace(at=place.name, stiffness_ends_n_mm2=(foot, thin))
        for place, foot, thin in zip(places, *found, strict=True)
    )


FIGURES = (
    Figure(
        key="stiffness_ends_n_mm2",
        words="force per mm of travel and per mm of roller under a thumb: at the core's foot, at its thin end",
        formula="as stiffness_n_mm2, on the drafted section of either end",
        source="flex study",
        limits="plane strain: as if the whole segment were like that end; 0.5 mm of travel",
        unit="N/mm2",
    ),
)
