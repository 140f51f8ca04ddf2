"""The numbers of a profile that a figure's formula names, so that a reader can work it out again."""

from __future__ import annotations

from collections.abc import Iterator
from math import degrees, inf

from rollergen.spec.profile import Profile
from rollergen.spec.trace import Figure


def inputs_of(figure: Figure, profile: Profile) -> list[tuple[str, str]]:
    """(name, value with its unit) of everything the formula or the words name and the profile says."""
    told = f"{figure.formula} {figure.words}".lower()
    return [(name, value) for name, value in _sayings(profile) if name.split(", ")[0] in told]


def _sayings(profile: Profile) -> Iterator[tuple[str, str]]:
    """Every value a formula may name, by the words formulas use."""
    body, ribs, bore, chambers = profile.body, profile.ribs, profile.bore, profile.chambers
    yield "body radius", _mm(profile.body_radius)
    yield "body diameter", _mm(body.diameter)
    yield "tip radius", _mm(profile.tip_radius)
    yield "free length", _mm(body.free_length)
    yield "fitted length", _mm(body.fitted_length)
    yield "density", f"{profile.compound.density_kg_m3:g} kg/m3"
    if profile.compound.price is not None:
        yield "price", f"{profile.compound.price.amount:g} {profile.compound.price.currency}/kg"
    if ribs is not None:
        yield "rib height", _mm(ribs.height)
        yield "tip width", _mm(ribs.tip_width)
        yield "helix pitch", "straight" if ribs.helix_pitch == inf else _mm(ribs.helix_pitch)
        yield "flank angle", f"{degrees(ribs.flank_angle_ahead):g} / {degrees(ribs.flank_angle_behind):g} deg"
    yield "bore clearance", _mm(bore.clearance)
    if chambers is not None:
        yield "wall", _mm(chambers.wall)
        yield "web", _mm(chambers.web)
    for mate in profile.mates:
        radius = mate.diameter / 2 if mate.diameter is not None else None
        if radius is not None:
            yield f"mate radius, {mate.name}", _mm(radius)
        yield f"axis distance, {mate.name}", _mm(mate.axis_distance)


def _mm(value: float) -> str:
    return f"{value:.12g} mm"
