"""Rules on numbers, judged before any geometry; the rules themselves stand in ``rib_limits``,
``bore_limits`` and ``mate_limits``, each one function in plain words with the number that works.

What only the rounded outline can know (fillets that meet, the exact hub wall) is judged in
``shape.section``.  Suggested numbers are rounded towards the safe side, so that writing them helps.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator

from rollergen.errors import Complaint, ProfileError
from rollergen.spec import bore_limits, mate_limits, rib_limits
from rollergen.spec.amounts import at_least, mm
from rollergen.spec.compound import density_warning
from rollergen.spec.profile import Profile

ALL_TABLES = frozenset({"body", "ribs", "bore", "chambers", "compound", "mates"})
Rule = Callable[[Profile], Iterator[Complaint]]


def check_limits(profile: Profile) -> None:
    """Raise ``ProfileError`` with every broken limit of the profile; complaints carry keys, not places."""
    complaints = broken_limits(profile)
    if complaints:
        raise ProfileError(complaints)


def broken_limits(profile: Profile, *, tables: Collection[str] = ALL_TABLES) -> list[Complaint]:
    """Every limit the profile breaks, judged by the rules whose tables are all among ``tables``.

    A profile of which some tables could not be read is judged by what could.
    """
    known = set(tables)
    return [complaint for needs, rule in _RULES if needs <= known for complaint in rule(profile)]


def warnings_of(profile: Profile) -> list[Complaint]:
    """What is legal but worth a second look: loose numbers, idle values, asks that clash."""
    found = [complaint for rule in _WARNINGS for complaint in rule(profile)]
    if density := density_warning(profile.compound):
        found.append(Complaint(key="compound.density", message=density.removeprefix("compound.density ")))
    return found


# Warnings


def _clearance_covers_shaft(profile: Profile) -> Iterator[Complaint]:
    bore = profile.bore
    if bore.shaft_tolerance is None:
        yield Complaint(
            key="bore.shaft_tolerance",
            message=f"not given, and the table of hot-rolled square bars (EN 10059) has no row for a "
            f"{bore.section} {mm(bore.across)} shaft: the tolerance budget counts it as 0; "
            'write the plus-minus of your shaft, e.g. shaft_tolerance = "0.1 mm"',
        )
    elif bore.clearance < bore.shaft_tolerance:
        yield Complaint(
            key="bore.clearance",
            message=f"{mm(bore.clearance)} does not cover the shaft's plus tolerance "
            f"{mm(bore.shaft_tolerance)}: the largest shaft stretches the bore; meant for a tight fit only",
        )


def _values_have_effect(profile: Profile) -> Iterator[Complaint]:
    bore, chambers = profile.bore, profile.chambers
    if bore.section == "round" and bore.corner_radius > 0:  # a keyway's floor is rounded with it
        yield Complaint(key="bore.corner_radius", message="has no effect on a round bore")
    if chambers is not None and not chambers.foamed:
        for key, value in (
            ("foam_density", chambers.foam_density_kg_m3),
            ("foam_modulus", chambers.foam_modulus),
        ):
            if value is not None:
                yield Complaint(key=f"chambers.{key}", message="has no effect: no chamber holds foam")
    if chambers is not None and chambers.section == "round" and chambers.corner_radius > 0:
        yield Complaint(key="chambers.corner_radius", message="has no effect on round chambers")


def _asked_gaps_agree(profile: Profile) -> Iterator[Complaint]:
    for number, mate in enumerate(profile.mates):
        if mate.least_tip_gap is None or mate.most_body_gap is None or mate.kind == "ribbed":
            continue
        height = profile.tip_radius - profile.body_radius
        if mate.most_body_gap < mate.least_tip_gap + height:
            yield Complaint(
                key=f"mates[{number}].most_body_gap",
                message=f"{mm(mate.most_body_gap)} can never be met together with least_tip_gap "
                f"{mm(mate.least_tip_gap)} and ribs {mm(height)} high; write "
                f"at least {at_least(mate.least_tip_gap + height)}",
            )


def _needs(*tables: str) -> frozenset[str]:
    return frozenset(tables)


_RULES: tuple[tuple[frozenset[str], Rule], ...] = (
    (_needs("body"), rib_limits.body_in_range),
    (_needs("body"), rib_limits.fitted_is_squeezed),
    (_needs("body"), rib_limits.chamfer_fits_length),
    (_needs("body", "ribs"), rib_limits.chamfer_fits_tip_rounding),
    (_needs("ribs"), rib_limits.flanks_in_range),
    (_needs("body", "ribs"), rib_limits.tip_fits_circle),
    (_needs("body", "ribs"), rib_limits.flanks_reach_body),
    (_needs("body", "ribs"), rib_limits.ribs_keep_apart),
    (_needs("body", "ribs"), rib_limits.tip_rounding_fits_tip),
    (_needs("body", "ribs"), rib_limits.helix_is_buildable),
    (_needs("body", "ribs", "bore", "chambers"), rib_limits.roundings_are_real),
    (_needs("bore"), bore_limits.bore_corner_fits),
    (_needs("bore"), bore_limits.shaft_corner_passes),
    (_needs("bore"), bore_limits.key_belongs),
    (_needs("body", "bore"), bore_limits.bore_leaves_body),
    (_needs("body", "bore"), bore_limits.lead_in_fits),
    (_needs("chambers"), bore_limits.walls_are_castable),
    (_needs("body", "bore", "chambers"), bore_limits.walls_leave_air),
    (_needs("body", "chambers"), bore_limits.webs_leave_air),
    (_needs("body", "bore", "chambers"), bore_limits.ends_spare_chambers),
    (_needs("chambers"), bore_limits.foam_is_told),
    (_needs("compound"), mate_limits.compound_in_range),
    (_needs("mates"), mate_limits.mate_is_one_kind),
    (_needs("body", "mates"), mate_limits.axes_keep_apart),
    (_needs("mates"), mate_limits.mate_stands_within_reach),
)
_WARNINGS: tuple[Rule, ...] = (_clearance_covers_shaft, _values_have_effect, _asked_gaps_agree)
