"""How much smaller the part is than the mould it was cast in, and what that makes of the parameters.

Shrinkage acts on the parameters, not on a finished shape: the section grows by the radial factor, length and
helix pitch by the axial one, and the twist angle between the ends stays.  Arcs, lines and helices stay exact.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import atan, ceil, tan

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.outline import Arc, Line, Outline
from rollergen.shape.section import Section

MOST_SHRINKAGE = 0.05  # cast polyurethane shrinks 1 to 2 % (value from memory); more is a slip


@dataclass(frozen=True, slots=True, kw_only=True)
class Shrinkage:
    """Linear shrinkage from cavity to part, across (``radial``) and along the axis (``axial``), as shares of the cavity.

    0.014 is 1.4 %.  ``source`` says where the number is from; it is never left to a default.
    """

    radial: float
    axial: float
    source: str

    @property
    def radial_scale(self) -> float:
        """Cavity over part across the axis, 1/(1 - s); not 1 + s, which is short by s squared."""
        return 1 / (1 - self.radial)

    @property
    def axial_scale(self) -> float:
        """Cavity over part along the axis."""
        return 1 / (1 - self.axial)


@dataclass(frozen=True, slots=True, kw_only=True)
class Metal:
    """What a tool is made of: density (kg/m^3), linear expansion (1/K), and where both are from."""

    name: str
    density_kg_m3: float
    expansion: float
    source: str


METALS = {
    "steel": Metal(name="steel", density_kg_m3=7850.0, expansion=12e-6, source="value from memory"),
    "aluminium": Metal(name="aluminium", density_kg_m3=2700.0, expansion=23e-6, source="value from memory"),
}


def checked_shrinkage(
    radial: float | None,
    axial: float | None,
    source: str,
    *,
    keys: tuple[str, str] = ("compound.shrinkage", "compound.axial_shrinkage"),
) -> Shrinkage:
    """The shrinkage as given; ``axial`` None means the same as across.  ``keys``: where each was written.

    Raises ProfileError for a missing value, one below 0, one above 5 %, or no source.
    """
    if radial is None:
        raise ProfileError(
            [
                Complaint(
                    key="compound.shrinkage",
                    message='not given, and a mould cannot be made without: write e.g. shrinkage = "1.4 %" or '
                    '--shrinkage "1.4 %", as measured on a trial casting of this compound in this shop',
                )
            ]
        )
    given = [(keys[0], radial)] + ([] if axial is None else [(keys[1], axial)])
    complaints = [
        Complaint(
            key=key,
            message=f"{value:.4g} as a share ({value:.3%}): 0 to {MOST_SHRINKAGE:.0%} is meant; cast polyurethane "
            "usually shrinks 1 to 2 % (value from memory)",
        )
        for key, value in given
        if not 0 <= value <= MOST_SHRINKAGE
    ]
    if not source.strip():
        complaints.append(
            Complaint(
                key="--shrinkage-source",
                message='empty: say where the shrinkage is from, e.g. "trial casting of 12 May"',
            )
        )
    if complaints:
        raise ProfileError(complaints)
    return Shrinkage(radial=radial, axial=radial if axial is None else axial, source=source.strip())


def no_shrinkage_words(shrinkage: Shrinkage) -> tuple[str, ...]:
    """A sentence where a shrinkage of 0 is taken at the user's word; empty else."""
    where = [
        words for words, share in (("across", shrinkage.radial), ("along", shrinkage.axial)) if share == 0
    ]
    if not where:
        return ()
    return (
        f"the shrinkage {' and '.join(where)} is 0 % at your word, so the cavity is as large as the part there: cast "
        "polyurethane usually shrinks 1 to 2 % (value from memory), and the part will come out smaller by that; "
        "measure a trial casting",
    )


def on_other_metal(shrinkage: Shrinkage, *, measured: Metal, used: Metal, rise: float) -> Shrinkage:
    """The shrinkage to use in a tool of another metal than the one it was measured on.

    A measured value already holds the growth of its own hot tool: 1 - s' = (1 - s) (1 + a_used dT) /
    (1 + a_measured dT), dT = ``rise`` from room to cure temperature (K).

    Raises ProfileError where less than 0 would be left.
    """
    if measured.name == used.name or rise == 0:
        return shrinkage
    ratio = (1 + used.expansion * rise) / (1 + measured.expansion * rise)
    least = 1 - 1 / ratio
    if min(shrinkage.radial, shrinkage.axial) < least:
        less = min(shrinkage.radial, shrinkage.axial)
        raise ProfileError(
            [
                Complaint(
                    key="--measured-on",
                    message=f"{less:.3%} measured on {measured.name} would be less than 0 in {used.name} at a rise of "
                    f"{rise:g} K; {ceil(least * 1e5) / 1e5:.3%} or more is needed: leave --measured-on out, "
                    f"or measure on {used.name}",
                )
            ]
        )
    return replace(
        shrinkage,
        radial=1 - (1 - shrinkage.radial) * ratio,
        axial=1 - (1 - shrinkage.axial) * ratio,
        source=f"{shrinkage.source}; carried over from {measured.name} to {used.name} at a rise of {rise:g} K "
        f"with {measured.expansion:.3g} and {used.expansion:.3g} 1/K ({used.source})",
    )


def scaled_outline(outline: Outline, factor: float) -> Outline:
    """The outline ``factor`` times as large about the axis; angles stay."""

    def far(p: tuple[float, float]) -> tuple[float, float]:
        return (factor * p[0], factor * p[1])

    return Outline(
        tuple(
            Line(far(e.start), far(e.end), e.feature)
            if isinstance(e, Line)
            else Arc(far(e.centre), factor * e.radius, e.angle, e.sweep, e.feature)
            for e in outline.edges
        )
    )


def cavity_section(section: Section, shrinkage: Shrinkage) -> Section:
    """The section of the cavity and its cores: outer curve, bore and chambers all by the radial factor."""
    factor = shrinkage.radial_scale
    return Section(
        outer=scaled_outline(section.outer, factor),
        bore=scaled_outline(section.bore, factor),
        chambers=tuple(scaled_outline(c, factor) for c in section.chambers),
    )


def cavity_turn(turn_per_mm: float, shrinkage: Shrinkage) -> float:
    """Twist per mm of cavity: the pitch grows by the axial factor, so the same angle is spread further."""
    return turn_per_mm / shrinkage.axial_scale


def tool_angle(angle: float, shrinkage: Shrinkage) -> float:
    """A draft angle of the part as cut in the tool: its tangent grows by radial over axial factor (rad)."""
    return atan(tan(angle) * shrinkage.radial_scale / shrinkage.axial_scale)
