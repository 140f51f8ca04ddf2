"""What people read of a duty's answers: grip, rank, advise, trial."""

from __future__ import annotations

from typing import TYPE_CHECKING, TextIO

from rollergen.cli.showing import print_cautions, print_rows

if TYPE_CHECKING:
    from rollergen.answer.advise import Advice
    from rollergen.answer.grip_verdict import GripVerdict
    from rollergen.answer.item_verdict import ItemVerdict
    from rollergen.answer.rank import Ranking
    from rollergen.answer.trials import TrialsReport
    from rollergen.spec.units import Units
    from rollergen.study.grip import SideReport


def print_grip(verdict: GripVerdict, units: Units) -> None:
    from rollergen.spec.units import length_text

    report = verdict.report
    head = f"grip of {verdict.profile} and {verdict.mate}" + (f" for {verdict.duty}" if verdict.duty else "")
    print_rows(
        head,
        [
            (
                "tip gap, body gap",
                f"{length_text(report.tip_gap_mm, units)}, {length_text(report.body_gap_mm, units)}",
            ),
            ("drops through standing rollers", f"up to {length_text(report.drop_size_mm, units)}"),
            ("rib passings", f"{report.rib_passings_per_s:.2f} a second, Froude number {report.froude:.2f}"),
        ],
    )
    for side in (report.descending, report.rising):
        print_side(side, units)
    for item in report.items:
        print_item(item, units)
    if verdict.duty:
        print(f"verdict: {'the crop stays' if verdict.ok else 'CROP AT RISK'}")
    print_cautions(verdict.cautions)


def print_side(side: SideReport, units: Units) -> None:
    from rollergen.spec.units import length_text

    def band(pair: tuple[float, float]) -> str:
        return f"{length_text(pair[0], units)} to {length_text(pair[1], units)}"

    low, high = side.friction
    rows = [
        (f"grip size, friction {low:g} to {high:g}", band(side.grip_size_mm)),
        ("nip size, without any rib", band(side.nip_size_mm)),
        ("pushed down without friction", f"up to {length_text(side.frictionless_size_mm, units)}"),
        ("held at the limit by", " / ".join(dict.fromkeys(side.limit_region))),
        ("trusted", "yes" if side.trusted else "NO"),
        *(("", word) for word in side.words),
    ]
    print_rows(f"where ribs are {side.side}" if side.driving_flank != "none" else f"{side.side} side", rows)


def print_item(item: ItemVerdict, units: Units) -> None:
    from rollergen.spec.units import length_text

    if item.ok is None:
        print_rows(f"{item.name} (debris): not judged", [("", word) for word in item.words])
        return
    rows = [("", word) for word in item.words]
    low, high = item.grip_size_mm
    rows.append(("grip size", f"{length_text(low, units)} to {length_text(high, units)}"))
    if item.margin is not None:
        rows.append(("diameter over grip size", f"{item.margin:.2f}"))
    rows.append(
        ("open share of a turn", f"{item.open_share[0]:.0%} (smallest) to {item.open_share[1]:.0%} (largest)")
    )
    for on in item.sides:
        if on.force_n is not None and on.torque_nm is not None:
            rows.append(
                (
                    f"force, torque, {on.side}",
                    f"{on.force_n[0]:.0f} to {on.force_n[1]:.0f} N, {on.torque_nm[0]:.1f} to {on.torque_nm[1]:.1f} N m",
                )
            )
        if on.breaks is not None:
            rows.append((f"breaks, {on.side}", on.breaks))
        if on.bruise_spot_mm is not None:
            rows.append(
                (f"bruise spot, {on.side}", f"{on.bruise_spot_mm[0]:.1f} to {on.bruise_spot_mm[1]:.1f} mm")
            )
        if on.share_at_risk is not None:
            rows.append(
                (f"share at risk, {on.side}", f"{on.share_at_risk[0]:.1%} to {on.share_at_risk[1]:.1%}")
            )
    print_rows(f"{item.name} ({'crop' if item.keep else 'debris'}): {item.kind}", rows)


def print_ranking(ranking: Ranking, units: Units) -> None:
    from rollergen.spec.units import length_text

    w = ranking.weights
    print(
        f"for {ranking.duty}; weights: crop {w.crop:g}, debris {w.debris:g}, windows {w.windows:g},"
        f" chances {w.chances:g} (full at {w.plenty:g} a second), crumbs of {w.crumb:g} mm"
    )
    for row in ranking.rows:
        points = ", ".join(f"{name} {value:.2f}" for name, value in row.points.items())
        title = f"{row.place}. {row.profile}: {row.score:.2f}" + (
            "" if row.gaps_ok else "  (misses a gap it asks for)"
        )
        rows = [("points", points), ("tip gap", length_text(row.tip_gap_mm, units))]
        print_rows(title, rows + [("", word) for word in row.words])
    for line in ranking.second_would_win:
        print(f"second: {line}")
    for note in ranking.notes:
        print(f"note: {note}")


def print_advice(advice: Advice, units: Units, *, file: TextIO) -> None:
    for word in advice.words:
        print(word, file=file)


def print_trial(bed: str, duty: str, report: TrialsReport) -> None:
    seeds = ", ".join(map(str, report.seeds))
    print(f"{bed} with {duty}; seeds {seeds}; counts with their standard error")
    for item in report.items:
        shares = [("seized", item.seized), ("fell through", item.fell), ("over the end", item.over),
                  ("still on the bed", item.on_bed)]  # fmt: skip
        rows = [(name, f"{s.mean:.1f} +- {s.error:.1f}") for name, s in shares]
        if item.largest_seized is not None:
            rows.append(("largest seized", f"{item.largest_seized:.1f} mm"))
        print_rows(f"{item.name} ({item.kind}), {item.count} fed", rows)
    for note in report.notes:
        print(f"note: {note}")
