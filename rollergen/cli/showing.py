"""What people and programs read: tables and JSON on stdout, complaints on stderr."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Sequence
from dataclasses import asdict
from math import inf
from typing import TYPE_CHECKING, Any

from rollergen.errors import Complaint

if TYPE_CHECKING:
    from rollergen.answer.weight import Weight
    from rollergen.spec.units import Units

LENGTH = re.compile(r"(-?\d+(?:\.(\d+))?) mm\b")


def print_complaints(complaints: Sequence[Complaint]) -> None:
    for complaint in complaints:
        print(complaint, file=sys.stderr)


def as_dict(complaint: Complaint) -> dict[str, Any]:
    return asdict(complaint)


def json_text(page: dict[str, Any]) -> str:
    return json.dumps(page, indent=2, sort_keys=True, allow_nan=False) + "\n"


def print_json(page: dict[str, Any]) -> None:
    print(json_text(page), end="")


def in_words(sentence: str, units: Units) -> str:
    """A sentence with its lengths in the units asked for; areas, volumes and threads stay as they are."""
    from rollergen.spec.units import length_text

    if units == "mm":
        return sentence
    return LENGTH.sub(lambda found: length_text(float(found[1]), units, digits=len(found[2] or "")), sentence)


def print_rows(title: str, rows: Sequence[tuple[str, str]]) -> None:
    print(title)
    width = max((len(name) for name, _ in rows), default=0)
    for name, value in rows:
        print(f"  {name:<{width}}  {value}")


def print_report(report: dict[str, Any], units: Units) -> None:
    from rollergen.spec.units import length_text

    def mm(key: str) -> str:
        return "none" if report[key] is None else length_text(report[key], units)

    print_rows(
        report["profile"],
        [
            ("tip diameter", mm("tip_diameter_mm")),
            ("length as cast", mm("length_mm")),
            ("least wall / web / hub wall", f"{mm('wall')} / {mm('web')} / {mm('hub_wall')}"),
            ("volume", f"{report['volume_mm3'] / 1000:.2f} cm3"),
            ("mass", f"{report['mass_kg']:.4f} kg (with foam {report['total_kg']:.4f} kg)"),
            *((f"file {f['kind']}", f"{f['path']}, {f['bytes']} bytes") for f in report["files"]),
        ],
    )
    for gap_entry in report["gaps"]:
        print_gap(gap_entry, units)
    print_cautions([caution for entry in report["gaps"] for caution in entry["cautions"]])


def print_gaps(entries: Sequence[dict[str, Any]], units: Units, *, budget: bool = False) -> None:
    for entry in entries:
        print_gap(entry, units)
        if budget:
            print_budget(entry, units)
    if not entries:
        print("no mates in this profile: nothing to clear")
    print_cautions([caution for entry in entries for caution in entry["cautions"]])


def print_gap(entry: dict[str, Any], units: Units) -> None:
    from rollergen.spec.units import length_text

    fitted = entry["fitted"]
    budget = fitted["budget"]
    rows = [
        ("tip gap", length_text(entry["tip_gap_mm"], units)),
        ("body gap", length_text(entry["body_gap_mm"], units)),
        ("greatest gap", length_text(entry["greatest_gap_mm"], units)),
        ("rib passings per turn", f"{entry['rib_passings_per_turn']:g}"),
        ("verdict, nominal as cast", "ok" if entry["ok"] else "NOT MET"),
        *(("", reason) for reason in entry["reasons"]),
        ("tip gap left, root-sum-square", length_text(budget["rss_tip_gap_mm"], units)),
        ("tip gap left, worst case", length_text(budget["worst_tip_gap_mm"], units)),
        ("tip gap left, fitted and worst", length_text(fitted["least_left_mm"], units)),
        ("verdict, as fitted", "ok" if entry["ok_fitted"] else "not met in the worst case"),
    ]
    print_rows(f"gap to {entry['mate']} ({entry['kind']})", rows)


def print_budget(entry: dict[str, Any], units: Units) -> None:
    """Every contribution, plus-minus on tip gap and body gap, with its source."""
    from rollergen.spec.units import length_text

    rows = [
        (
            c["name"],
            f"{length_text(c['tip_mm'], units)} / {length_text(c['body_mm'], units)}  ({c['source']})",
        )
        for c in entry["fitted"]["budget"]["contributions"]
    ]
    print_rows(f"plus-minus on the tip gap / body gap to {entry['mate']}", rows)


def print_weight(name: str, weight: Weight, units: Units) -> None:
    from rollergen.spec.units import length_text

    w, turning = weight.mass, weight.inertia
    rows = [
        ("volume", f"{w.volume_mm3 / 1000:.2f} cm3"),
        ("section", f"{w.section_area_mm2:.2f} mm2"),
        ("density", f"{w.density_kg_m3:g} kg/m3"),
        ("mass", f"{w.mass_kg:.4f} kg"),
        ("foam", f"{w.foam_kg:.4f} kg"),
        ("total", f"{w.total_kg:.4f} kg"),
        ("size over all", " x ".join(length_text(side, units) for side in weight.over_all_mm)),
        ("centre of mass x, y, z", ", ".join(length_text(at, units) for at in turning.centre_mm)),
        ("inertia about the roller axis", f"{turning.spin_inertia_kg_mm2:.2f} kg mm2"),
        ("unbalance", f"{turning.unbalance_kg_mm * 1000:.2f} kg um"),
        ("per metre as cast", f"{weight.kg_per_m_free:.4f} kg/m"),
        ("per metre of shaft", f"{w.kg_per_m:.4f} kg/m"),
    ]
    if weight.pieces is not None and w.roller_kg is not None and w.roller_length_mm is not None:
        exact, fit, _ = weight.pieces
        rows += [
            (f"roller of {length_text(w.roller_length_mm, units)}", f"{w.roller_kg:.3f} kg"),
            ("segments on it", f"{exact:.3f}; {fit} whole ones, {weight.roller_whole_kg:.3f} kg"),
        ]
    if w.cost is not None and w.cost_per_m is not None:
        rows.append(("cost", f"{w.cost:.2f} {w.currency} each, {w.cost_per_m:.2f} {w.currency}/m"))
    print_rows(name, rows)


def print_cautions(cautions: Sequence[str]) -> None:
    for caution in dict.fromkeys(cautions):
        print(f"caution: {caution}")


def flattened(value: Any, key: str = "") -> dict[str, Any]:
    if isinstance(value, dict):
        return {
            k: v
            for name, item in value.items()
            for k, v in flattened(item, f"{key}.{name}".strip(".")).items()
        }
    if isinstance(value, list | tuple):
        return {k: v for n, item in enumerate(value) for k, v in flattened(item, f"{key}[{n}]").items()}
    return {key: value}


def short(value: Any) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def finite(value: Any) -> Any:
    """JSON knows no infinity: what never happens (squeeze that is never lost) is null."""
    if isinstance(value, dict):
        return {key: finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [finite(item) for item in value]
    return None if isinstance(value, float) and value in (inf, -inf) else value
