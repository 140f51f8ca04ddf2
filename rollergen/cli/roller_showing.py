"""What people read of a roller: stack, joints, shaft, gaps, balance and drive."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING, Any

from rollergen.cli.showing import print_cautions, print_rows

if TYPE_CHECKING:
    from rollergen.answer.roller import Asked, RollerAnswer
    from rollergen.spec.units import Units

MOST_SHOWN = 5
CAUTIONS = (
    "guard the rollers before they run; stop and lock out before clearing; local law and codes decide, this report"
    " does not",
    "a squeezed stack is a spring: slacken the end nuts slowly, and keep fingers from between the segments",
)


def print_roller(found: RollerAnswer, asked: Asked, files: Sequence[dict[str, Any]], units: Units) -> None:
    from rollergen.spec.units import length_text

    state = "" if found.filled else "  CANNOT BE FILLED; figures are those of the nearest width"
    print(f"{found.profile} on a shaft of {length_text(found.width_mm, units)}{state}")
    _print_stack(found, units)
    _print_joints(found, units)
    _print_shaft(found, asked, units)
    for gap in found.fitted:
        rows = [
            ("tip gap at this squeeze", " to ".join(length_text(g, units) for g in gap.tip_gap_band_mm)),
            ("left in the worst case", length_text(gap.least_left_mm, units)),
        ]
        for bent in found.bent:
            if bent.mate == gap.mate:
                ways = (bent.mate_straight_mm, bent.mate_alike_mm, bent.pushed_mm)
                said = " / ".join(length_text(way, units) for way in ways)
                rows.append(("bent shaft, mate straight / alike / pushed at", said))
        print_rows(f"gap to {gap.mate}", rows)
    _print_running(found)
    for file in files:
        print(f"file {file['kind']}: {file['path']}, {file['bytes']} bytes")
    for reason in found.reasons:
        print(f"NOT MET: {reason}")
    for note in found.notes:
        print(f"note: {note}")
    print_cautions(CAUTIONS)


def _print_stack(found: RollerAnswer, units: Units) -> None:
    from rollergen.spec.units import length_text

    rows = [("answer", found.stack.words)]
    for filling in found.stack.fillings[1 : 1 + MOST_SHOWN]:
        rows.append(
            (
                "or",
                f"{filling.words}, squeezed {filling.squeeze:.2%}, leftover {length_text(filling.leftover_mm, units)}",
            )
        )
    more = len(found.stack.fillings) - 1 - MOST_SHOWN
    if more > 0 or found.stack.more:
        rows.append(("", f"{max(more, 0)}{' and more' if found.stack.more else ' more'} ways with --json"))
    rows.append(("mass of the segments", f"{found.segments_kg:.3f} kg"))
    if found.clamp is not None and found.modulus is not None:
        c, m = found.clamp, found.modulus
        rows += [
            ("modulus", f"{m.low:.2f} to {m.high:.2f} MPa ({m.source})"),
            ("axial force, ends free to bulge", f"{c.force_free_ends_n[0]:.0f} to {c.force_free_ends_n[1]:.0f} N"),
            ("axial force, ends that stick", f"{c.force_bonded_ends_n[0]:.0f} to {c.force_bonded_ends_n[1]:.0f} N"
             f" (shape factor {c.shape_factor:.3f})"),
            ("torque by friction, both end plates", f"{c.stack_torque_n_m[0]:.1f} to {c.stack_torque_n_m[1]:.1f} N m"),
        ]  # fmt: skip
    print_rows("stack", rows)


def _print_joints(found: RollerAnswer, units: Units) -> None:
    from rollergen.spec.units import length_text

    j = found.joints
    if not j.joints:
        return
    seats = " ".join(f"{seat.index}{'t' if seat.turned else ''}" for seat in j.seats)
    rows = [
        (
            "worst joint",
            f"{j.worst_mismatch_deg:.2f} deg, {length_text(j.worst_step_mm, units)} at the rib tip",
        ),
        ("put on without looking", f"{j.as_threaded_deg:.2f} deg"),
        ("need never be more than", f"{j.bound_deg:.2f} deg"),
        ("index of each segment", f"{seats}  (t: turned end for end)"),
    ]
    pitches = [p for p in (j.exact_pitch_below_mm, j.exact_pitch_above_mm) if p is not None and isfinite(p)]
    if pitches and j.worst_mismatch_deg > 1e-9:
        rows.append(
            ("joints run through at helix pitch", " or ".join(length_text(p, units) for p in pitches))
        )
    for exact in j.exact_lengths if j.worst_mismatch_deg > 1e-9 else ():
        near = [length_text(x, units) for x in (exact.below_mm, exact.above_mm) if x is not None]
        rows.append((f"or {length_text(exact.free_length_mm, units)} made", " or ".join(near)))
    print_rows("joints", rows)


def _print_shaft(found: RollerAnswer, asked: Asked, units: Units) -> None:
    from rollergen.spec.units import length_text

    s = found.shaft
    chosen = found.smallest
    rows = [
        ("bar", f"{s.across_mm:g} mm {s.section}, {s.shaft_kg:.2f} kg, bearings that align themselves"),
        (
            "loads",
            f"own {s.own_load_n_per_mm:.3f} N/mm, crop {asked.crop_load:g} N/mm, rib {asked.rib_force:g} N",
        ),
        ("deflection", f"{length_text(s.deflection_mm, units)} (span/{s.span_per_deflection:.0f})"),
        ("end slope", f"{s.end_slope_rad:.4f} rad"),
        ("stress over the corners", f"{s.combined_stress_mpa:.1f} MPa"),
        ("first critical speed", f"{s.critical_speed_rpm:.0f} rpm"),
        *(
            [
                (
                    "pressure in a bore, linear / even",
                    f"{s.bore_pressure_mpa[0]:.2f} / {s.bore_pressure_mpa[1]:.2f} MPa",
                )
            ]
            if s.bore_pressure_mpa
            else []
        ),
        ("verdict", "ok" if s.shaft_ok else "NOT MET"),
        ("smallest standard bar", chosen.bar.words if chosen.bar else "none in the table is enough"),
    ]
    if chosen.rejected:
        last = chosen.rejected[-1]
        rows.append(("", f"the one below fails: {last.reasons[0]}"))
    print_rows(f"shaft over {length_text(s.span_mm, units)}", rows)


def print_widths(found: RollerAnswer, units: Units) -> None:
    """The smallest standard bar over widths, under the loads of this roller."""
    from rollergen.spec.units import length_text

    rows = [(length_text(width, units), bar or "none in the table is enough") for width, bar in found.widths]
    print_rows("smallest standard bar by width between bearings", rows)


def _print_running(found: RollerAnswer) -> None:
    if found.balance is not None:
        b = found.balance
        print_rows(
            f"balance at {b.balanced_at_rpm:.0f} rpm",
            [
                ("", b.statement),
                ("unbalance, worst / root-sum-square",
                 f"{b.worst_unbalance_g_mm:.0f} / {b.rss_unbalance_g_mm:.0f} g mm"),
                *((c.name, f"{1000 * c.unbalance_kg_mm:.0f} g mm ({c.source})") for c in b.unbalances),
            ],
        )  # fmt: skip
    if found.drive is not None:
        d = found.drive
        print_rows(
            "drive, an estimate",
            [
                ("torque of one roller", f"{d.roller_torque_n_mm / 1000:.2f} N m"
                 f" (crop {d.crop_torque_n_mm / 1000:.2f}, bearings {d.bearing_torque_n_mm / 1000:.2f},"
                 f" ribs {d.rib_torque_n_mm / 1000:.2f})"),
                ("power of one roller", f"{d.roller_power_w:.0f} W"),
                (f"motor for {d.rollers}", f"{d.motor_power_w:.0f} W (efficiency {d.efficiency:g},"
                 f" service factor {d.service_factor:g})"),
            ],
        )  # fmt: skip
    if found.tip_speed_mm_s is not None:
        print(f"  rib tips run at {found.tip_speed_mm_s / 1000:.3f} m/s")
    if found.axial_speed_mm_s is not None:
        print(
            f"  the helix runs along the roller at {found.axial_speed_mm_s / 1000:+.3f} m/s, turning clockwise"
        )
