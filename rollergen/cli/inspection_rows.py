"""An inspection told as tables: the scan, its features one by one, and the next pour."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from rollergen.cli.showing import in_words, print_rows

if TYPE_CHECKING:
    from rollergen.answer.inspection import Held, Inspection
    from rollergen.answer.report import Drawn
    from rollergen.spec.units import Units
    from rollergen.tooling.part_features import Feature, NextPour

NO_READING = "no reading of it"


def verdict_line(found: Inspection) -> str:
    """How many features pass, fail and are not seen, and by which class."""
    counts = {word: sum(f.verdict == word for f in found.features) for word in ("pass", "fail", "not seen")}
    said = f"{counts['pass']} features pass, {counts['fail']} fail, {counts['not seen']} not seen"
    return f"{said}; class {found.grade} of ISO 3302-1, {found.dimension}"


def tell_inspection(drawn: Drawn, found: Inspection, held: Held, units: Units) -> None:
    """The whole inspection as tables, what is not met below them, notes to stderr."""
    print_rows(
        f"{drawn.profile.name}: {'PASS' if found.ok else 'FAIL'}, {verdict_line(found)}",
        _scan_rows(found, units),
    )
    print_rows("features", [(f.key, _feature_text(f, units)) for f in found.features])
    if found.rib_heights_mm and any(height is not None for height in found.rib_heights_mm):
        from rollergen.spec.units import length_text

        heights = ", ".join(
            "not seen" if h is None else length_text(h, units, digits=3) for h in found.rib_heights_mm
        )
        print_rows("rib by rib", [("height", heights)])
    print_rows("next pour", [row for pour in found.next_pour for row in _pour_rows(pour, held)])
    for reason in found.reasons:
        print(f"not met: {in_words(reason, units)}")
    for note in found.notes:
        print(f"note: {in_words(note, units)}", file=sys.stderr)


def _scan_rows(found: Inspection, units: Units) -> list[tuple[str, str]]:
    from rollergen.spec.units import length_text

    scan = found.scan
    if scan is None:
        return [("readings", ", ".join(f"{each.key} x {len(each.readings)}" for each in found.hand_readings))]
    seen = ", ".join(f"{each.surface} {each.seen_share:.0%}" for each in scan.seen)
    return [
        (
            "scan",
            f"{scan.file}, {scan.triangles} facets, {scan.points_read} points, in {scan.scan_unit} {scan.scan_unit_from}",
        ),
        ("hand / ends", f"{scan.hand} / {scan.end}"),
        ("seen", seen),
        (
            "spread of the points",
            f"{length_text(scan.noise_mm, units, digits=3)}; on the part {scan.on_part_share:.1%}, stray "
            f"{scan.stray_share:.1%}",
        ),
        *(
            (f"{end} end leans", f"{length_text(tilt, units)} over the body")
            for end, tilt in zip(("low", "high"), found.end_tilt_mm, strict=True)
            if tilt is not None
        ),
    ]


def _feature_text(f: Feature, units: Units) -> str:
    from rollergen.spec.units import length_text

    def size(value: float, digits: int = 3) -> str:
        if f.unit == "deg":
            return f"{round(value, 2) + 0.0:.2f} deg"  # no -0.00
        return length_text(value, units, digits=digits)

    if f.measured is None or f.standard_error is None or f.deviation is None:
        return f.why if f.why == NO_READING else f"not seen: {f.why}"
    asked = (
        f"at most {size(f.tolerance or 0.0)}"
        if f.key == "runout"
        else f"asked {size(f.nominal)} ± {size(f.tolerance or 0.0)}"
    )
    limit = "" if f.tolerance is None else f", {asked}"
    doubt = "" if f.sure or f.verdict == "no limit" else ", too near the limit to be sure"
    why = f" ({f.why})" if f.why else ""
    word = f.verdict.upper() if f.verdict == "fail" else f.verdict
    off = f"{f.deviation:+.3f} ± {2 * f.standard_error:.3f}"
    if units == "in" and f.unit == "mm":
        off = f"{f.deviation / 25.4:+.5f} ± {2 * f.standard_error / 25.4:.5f}"
    between = ""
    if f.least is not None and f.greatest is not None:
        between = f"; {size(f.least)} to {size(f.greatest)} from place to place"
    return f"{size(f.measured)} ({off}){between}{limit}: {word}{doubt}{why}"


def _pour_rows(pour: NextPour, held: Held) -> list[tuple[str, str]]:
    size = f"{pour.size_ratio:.5f} ± {2 * pour.standard_error:.5f} of nominal, from {pour.rests_on}"
    rows = [(f"{pour.along}, measured", size)]
    if pour.shrinkage_next is None:
        said = f'make the mould {pour.mould_factor:.5f} times as large; --cast-with "1.4 %" tells the new shrinkage'
    else:
        said = (
            f"shrinkage {pour.shrinkage_next:.3%} instead of {pour.shrinkage_used:.3%} ({held.used_from}): the mould "
            f"{pour.mould_factor:.5f} times as large"
        )
    return [*rows, (f"{pour.along}, to nominal", said)]
