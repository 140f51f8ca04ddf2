"""What the mould command tells people: the rows of its table, in millimetres or inches."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from rollergen.spec.units import Units
    from rollergen.tooling.mould_meeting import Meetings
    from rollergen.tooling.mould_numbers import MouldReport


def met_rows(met: Meetings, units: Units) -> list[tuple[str, str]]:
    """What shares room, else the closest two that do not touch."""
    length = _lengths(units, 3)
    if met.shared:
        return [(f"{one.a} / {one.b}", f"OVERLAP by {length(one.overlap_mm)}") for one in met.shared]
    said = f"none shared among {met.pairs} pairs of bodies"
    apart = [one for one in met.near if one.gap_mm > 0]
    if apart:
        least = min(apart, key=lambda one: one.gap_mm)
        said += f"; the closest that do not touch, {least.a} and {least.b}, are {length(least.gap_mm)} apart"
    return [("room", said)]


def shrunk_rows(r: MouldReport) -> list[tuple[str, str]]:
    said = f"{r.radial_shrinkage:.3%} across, {r.axial_shrinkage:.3%} along ({r.shrinkage_source})"
    scale = (
        f"{r.scale_radial:.6f} across, {r.scale_axial:.6f} along; twist stays {r.cavity_twist_deg:.2f} deg"
    )
    return [("shrinkage", said), ("scale", scale)]


def _lengths(units: Units, digits: int) -> Callable[[float], str]:
    """``length_text`` with units and digits given."""
    from rollergen.spec.units import length_text

    return lambda mm: length_text(mm, units, digits=digits)


def cast_rows(r: MouldReport, units: Units) -> list[tuple[str, str]]:
    length = _lengths(units, 2)
    whose = "core" if r.core_area_mm2 else "mandrel"

    def both(pair: tuple[float, float] | None, text: Callable[[float], str] = length) -> str:
        return (
            "none"
            if pair is None
            else f"{text(pair[0])} at the {whose}'s foot, {text(pair[1])} at its thin end"
        )

    volumes = " / ".join(f"{volume / 1000:.2f}" for volume in (r.cast_mm3, r.cavity_mm3, r.cores_mm3))
    plain = f"without draft and marks {r.part_nominal_kg:.4f} kg"
    return [
        (
            "cavity",
            f"{length(r.cavity_length_mm)} long, {length(r.cavity_tip_diameter_mm)} over the rib tips",
        ),
        ("part", f"{r.part_mm3 / 1000:.2f} cm3, {r.part_kg:.4f} kg ({plain})"),
        ("cast / cavity / cores", f"{volumes} cm3"),
        ("shot", f"{r.shot_kg[0]:.4f} to {r.shot_kg[1]:.4f} kg with {r.overpour - 1:.1%} over"),
        ("draft", _draft_text(r)),
        ("mandrel draft", f"{r.mandrel_draft_deg:g} deg; least width of the bore {length(r.least_bore_mm)}"),
        *(
            [("chamfer's draft", f"{r.recess_draft_deg:.2f} deg at least where a plate holds it")]
            if r.recess_draft_deg is not None
            else []
        ),
        ("wall", both(r.wall_ends_mm)),
        ("web", both(r.web_ends_mm)),
        ("hub wall", both(r.hub_wall_ends_mm)),
        ("mass per metre", both(r.kg_per_m_ends, lambda kg: f"{kg:.2f} kg/m")),
    ]


def _draft_text(r: MouldReport) -> str:
    if r.core_area_mm2 == 0:
        none = "there are no chamber cores"
        return f"{r.draft_deg:g} deg does nothing: {none}" if r.draft_deg else f"none: {none}"
    where = "half way" if r.nominal_end == "middle" else f"at the {r.nominal_end} end"
    return f"{r.draft_deg:g} deg, in the tool {r.tool_draft_deg:.4g} deg; nominal {where}"


def tool_rows(r: MouldReport, units: Units) -> list[tuple[str, str]]:
    coarse, length, fine = (_lengths(units, digits) for digits in (1, 2, 3))

    def over(cold: float, hot: float | None) -> str:
        if hot is None:
            return f"{fine(cold)} a side"
        at_cure = f"{fine(hot)} at cure" if hot > 0 else f"at cure closed and pressed by {fine(-hot)}"
        return f"{fine(cold)} a side cold, {at_cure}"

    block = " x ".join(coarse(side).split()[0] for side in r.block_mm) + f" {units}"
    gate = f"{coarse(r.gate_diameter_mm)} at x {length(r.gate_mm[0])}, y {length(r.gate_mm[1])}"
    return [
        ("block", f"{block}, {r.mould_kg:.2f} kg of tool"),
        ("gate", f"{gate}; {length(r.gate_free_mm)} of rubber about it"),
        ("vents", f"{r.vents} of {coarse(r.vent_diameter_mm)}"),
        *((line.fit, over(line.cold_mm, line.hot_mm)) for line in r.fits),
        (
            "wetted cores",
            f"chambers {r.core_area_mm2 / 100:.1f} cm2, mandrel {r.mandrel_area_mm2 / 100:.1f} cm2",
        ),
        ("core pull force", r.core_pull_reason),
        *(
            (
                f"{line.count} x {line.part}",
                "; ".join(filter(None, (f"{line.kg:.3f} kg {line.material}, {line.role}", line.note))),
            )
            for line in r.parts
        ),
    ]
