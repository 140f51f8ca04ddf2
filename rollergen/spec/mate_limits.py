"""Limits of compound and mates: each rule one function, in plain words, with the number that works."""

from __future__ import annotations

from collections.abc import Iterator

from rollergen.errors import Complaint
from rollergen.spec.amounts import at_most, mm
from rollergen.spec.profile import Mate, Profile

MOST_SHRINKAGE = 0.05  # cast PU shrinks 1 to 2 % (value from memory); more is a slip


def compound_in_range(profile: Profile) -> Iterator[Complaint]:
    compound = profile.compound
    for key in ("shrinkage", "axial_shrinkage"):
        value = getattr(compound, key)
        if value is not None and value > MOST_SHRINKAGE:
            yield Complaint(
                key=f"compound.{key}",
                message=f"{value:.2%} is more than any cast polyurethane shrinks; write at most "
                f"{MOST_SHRINKAGE:.0%}, usual is 1 to 2 %",
            )
    if compound.modulus is not None and compound.stress_strain is not None:
        yield Complaint(
            key="compound.stress_strain", message="stands beside modulus; keep the one that was measured"
        )
    if compound.loss_factor is not None and not 0 <= compound.loss_factor <= 3:
        yield Complaint(
            key="compound.loss_factor", message=f"{compound.loss_factor:g} is outside 0 to 3; write e.g. 0.15"
        )


def mate_is_one_kind(profile: Profile) -> Iterator[Complaint]:
    for number, mate in enumerate(profile.mates):
        here = f"mates[{number}]"
        if mate.kind == "smooth" and mate.diameter is None:
            yield Complaint(
                key=f"{here}.diameter",
                message='required for a smooth mate; write e.g. diameter = "90 mm", or name a profile',
            )
        if mate.kind == "smooth" and mate.profile is not None:
            yield Complaint(key=f"{here}.profile", message='a smooth mate has none; write kind = "ribbed"')
        if mate.kind == "ribbed" and mate.profile is None:
            yield Complaint(
                key=f"{here}.profile", message='required for a ribbed mate; write profile = "other.toml"'
            )
        if mate.kind == "ribbed" and mate.diameter is not None:
            yield Complaint(
                key=f"{here}.diameter",
                message="a ribbed mate takes its diameter from its profile; take it out",
            )


def _mate_radius(mate: Mate) -> float | None:
    if mate.ribbed is not None:
        return mate.ribbed.body_radius
    return mate.diameter / 2 if mate.diameter is not None else None


def axes_keep_apart(profile: Profile) -> Iterator[Complaint]:
    for number, mate in enumerate(profile.mates):
        radius = _mate_radius(mate)
        if radius is not None and mate.axis_distance <= profile.body_radius + radius:
            yield Complaint(
                key=f"mates[{number}].axis_distance",
                message=f"{mm(mate.axis_distance)} lets the bodies collide: the radii are "
                f"{mm(profile.body_radius)} and {mm(radius)}; write "
                f"more than {mm(profile.body_radius + radius)}",
            )


def mate_stands_within_reach(profile: Profile) -> Iterator[Complaint]:
    for number, mate in enumerate(profile.mates):
        if abs(mate.height) > mate.axis_distance:
            yield Complaint(
                key=f"mates[{number}].height",
                message=f"{mm(mate.height)} is more than the axes are apart, {mm(mate.axis_distance)}; "
                f"write at most {at_most(mate.axis_distance + 1e-9)}",
            )
        if mate.axis_distance_tolerance >= mate.axis_distance:
            yield Complaint(
                key=f"mates[{number}].axis_distance_tolerance",
                message=f"{mm(mate.axis_distance_tolerance)} is as large as the distance; write e.g. 0.5 mm",
            )
