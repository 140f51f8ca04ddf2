"""What the shed command prints for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rollergen.cli.showing import print_cautions, print_rows

if TYPE_CHECKING:
    from rollergen.answer.shedding import Shedding, SoilRow
    from rollergen.study.arching import BridgeReport
    from rollergen.study.bond import BondReport
    from rollergen.study.hysteresis import HeatReport


def print_shedding(
    title: str,
    found: Shedding,
    soils: tuple[SoilRow, ...],
    bridged: BridgeReport | None,
    warmed: HeatReport | None,
    why_not_warmed: str,
) -> None:
    from rollergen.study.bond import ASSUMPTIONS
    from rollergen.study.hysteresis import CAUTION, WARNS_FROM

    spin = found.spin
    rows = [
        ("leaves all round at", f"{spin.spin_speed_rpm[0]:.0f} to {spin.spin_speed_rpm[1]:.0f} rpm"),
        ("leaves at the bottom at", f"{spin.bottom_speed_rpm[0]:.0f} to {spin.bottom_speed_rpm[1]:.0f} rpm"),
        ("turns at", f"{spin.working_speed_rpm:.0f} rpm, pulling with {spin.throw_kpa:.3g} kPa"),
        ("the mud holds with", f"{spin.adhesion_kpa[0]:.3g} to {spin.adhesion_kpa[1]:.3g} kPa"),
        *(("", word) for word in spin.words),
    ]
    if found.bond is not None:
        rows += _bond_rows(found.bond)
    rows.append(("verdict", found.verdict))
    rows += [("", note) for note in found.notes]
    print_rows(title, rows)
    _print_soils(soils, found)
    if bridged is None:
        print(
            "bridging: not judged, [soil] does not say cohesion and friction_angle; write them, or a preset"
        )
    else:
        print_rows(
            "bridging: what wet soil spans by its own strength and the hold of the flanks",
            _bridge_rows(bridged),
        )
    if warmed is None:
        print(f"work lost in the rubber: {why_not_warmed}")
    else:
        print_rows("work lost in the rubber, an estimate by a factor of two", _heat_rows(warmed))
        print_cautions([CAUTION] if warmed.warming_k_h > WARNS_FROM else [])
    if found.bond is not None:
        for assumption in ASSUMPTIONS:
            print(assumption)


def _bond_rows(bond: BondReport) -> list[tuple[str, str]]:
    thin = ["none" if t is None else f"{t:.1f} mm" for t in bond.flex_layer_mm]
    return [
        (
            "pressed",
            f"{bond.flex_where}, {bond.line_load_n_mm:.3g} N/mm: in by {bond.flex_travel_mm:.2f} mm; what the mud"
            f" feels: stretched by {bond.flex_strain:.2%}, bent by {bond.flex_curvature_1_mm:.3g} 1/mm",
        ),
        (
            "the mud then stores",
            f"{_three(bond.mud_energy_j_m2)} J/m2 (lets go easily / middle / holds hard)",
        ),
        ("the bond asks for", f"{_three(bond.bond_energy_j_m2)} J/m2"),
        ("the flex peels layers from", f"{thin[0]} where they let go easily, {thin[1]} where they hold hard"),
    ]


def _three(values: tuple[float, ...]) -> str:
    return " / ".join(f"{value:.2g}" for value in values)


def _print_soils(soils: tuple[SoilRow, ...], found: Shedding) -> None:
    spin = found.spin
    print(f"every soil preset, {spin.layer_mm:g} mm thick, at {spin.working_speed_rpm:.0f} rpm")
    width = max(len(row.soil) for row in soils)
    judged = found.bond is not None
    asks = "  leaves by: lets go easily / middle / holds hard" if judged else "  verdict, by spin only"
    print(f"  {'soil':<{width}}  adhesion kPa   all round rpm   in a groove{'':22}{asks}")
    for row in soils:
        low, high = row.adhesion_kpa
        speeds = f"{row.spin_speed_rpm[0]:.0f} to {row.spin_speed_rpm[1]:.0f}"
        groove = "no groove" if row.groove_verdict is None else " / ".join(dict.fromkeys(row.groove_verdict))
        word = row.verdict if row.leaves_by is None else " / ".join(row.leaves_by)
        print(
            f"  {row.soil:<{width}}  {f'{low:.3g} to {high:.3g}':<12}   {speeds:<13}   {groove:<33}  {word}"
        )


def _bridge_rows(bridged: BridgeReport) -> list[tuple[str, str]]:
    def span(ends: tuple[float, float]) -> str:
        return f"{ends[0]:.3g} to {ends[1]:.3g} mm"

    rows = [
        (
            "at rest",
            f"{span(bridged.resting_span_mm)} (own strength {span(bridged.arch_span_mm)},"
            f" held {span(bridged.held_span_mm)})",
        ),
        ("turning, at the bottom", f"{span(bridged.turning_span_mm)}, under {bridged.pull_down_g:.2f} g"),
    ]
    if bridged.groove_verdict is not None:
        rows += [
            (
                "groove",
                f"{bridged.groove_mouth_mm:.1f} mm at its mouth, {bridged.groove_floor_mm:.1f} mm on the body,"
                f" {bridged.groove_depth_mm:.1f} mm deep, the layer fills {bridged.filled_share:.0%} of that",
            ),
            (
                "",
                f"{bridged.groove_verdict[0]} (soil at its weakest), {bridged.groove_verdict[1]} (at its strongest)",
            ),
        ]
    else:
        rows.append(("groove", "none: a plain sleeve"))
    for slot in bridged.slots:
        tip, body = slot.slot_mm
        opens = f"opens to {body:.1f} mm" if tip is None else f"opens from {tip:.1f} to {body:.1f} mm"
        easy, hard = ("bridged" if held else "not bridged" for held in slot.slot_bridged)
        rows.append(
            (f"slot to {slot.mate}", f"{opens}: {easy} by soil at its weakest, {hard} at its strongest")
        )
    rows.append(("", "moving sides, crop and clods break arches: not counted"))
    return rows


def _heat_rows(warmed: HeatReport) -> list[tuple[str, str]]:
    return [
        (
            "each press",
            f"{warmed.press_energy_mj_mm:.3g} mJ per mm of roller, {warmed.lost_share:.0%} of it lost",
        ),
        (
            "each turn",
            f"{warmed.presses_per_turn:.1f} presses, {warmed.loss_per_turn_j_m:.3g} J per m of roller",
        ),
        ("power", f"{warmed.loss_power_w_m:.3g} W/m, {warmed.rolling_torque_n:.3g} N m per m of roller"),
        ("warms by at most", f"{warmed.warming_k_h:.3g} K an hour, with no heat leaving"),
    ]
