"""A profile file written from a scan of an unknown segment, with what is known of every value beside it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from difflib import get_close_matches
from math import floor, log10
from pathlib import Path
from typing import Any

import numpy as np

from rollergen.errors import ProfileError, UsageError
from rollergen.shape.section import section_of
from rollergen.spec.compound import compound_rows
from rollergen.spec.reading import profile_from_text
from rollergen.tooling.inspecting import UNITS, size_of
from rollergen.tooling.recovered_values import MOST_SPREAD, MOST_STRAY, Value
from rollergen.tooling.recovering import Found, recover
from rollergen.tooling.scan import Scan, in_mm
from rollergen.tooling.scan_files import read_scan

SMALLEST, LARGEST = 35.0, 600.0  # mm: half the reach of any segment anybody casts; units are told apart by it
WHERE = {"outer": "the outside", "bore": "the bore", "chambers": "the chambers"}
TABLES = ("body", "ribs", "bore", "chambers", "compound")
PLACEHOLDER = 'density = "1100 kg/m^3"\n'  # ends the last table, the compound's


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One value as it stands in the file: its text, how sure it is and why."""

    key: str
    text: str
    number: float | None
    unit: str
    standard_error: float | None
    points: int
    confidence: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Recovered:
    """The profile as a text, its values, what has to be filled in by hand, and what was noticed.

    ``reasons``: why it is not ``ok``: what is left open (the compound apart, which no scan shows), what cannot be trusted.
    """

    name: str
    text: str
    values: tuple[Shown, ...]
    asked_for: tuple[str, ...]
    ok: bool
    reasons: tuple[str, ...]
    notes: tuple[str, ...]
    stray_share: float
    noise_mm: float
    scan_unit: str


def recover_profile(path: Path, *, name: str, unit: str | None, compound: str | None) -> Recovered:
    """A profile from a scan file.  Keys that cannot be seen stand in it as comments that ask for them.

    Raises FileTrouble and UsageError as ``read_scan`` and ``recover`` do, UsageError also for a scan of no likely size
    and for a compound that the table does not hold.
    """
    if compound is not None:
        _refuse_unknown(compound)
    scan = read_scan(path)
    word, size = _unit_of(scan, unit)
    found = recover(in_mm(scan, size))
    values = dict(found.values)
    if compound is not None:
        values["compound.name"] = Value(
            key="compound.name", number=None, word=compound, unit="mm", standard_error=None, points=0,
            confidence="assumed", why="as told",
        )  # fmt: skip
    shown = tuple(_shown(value) for value in values.values())
    clean = "".join(c if c.isalnum() or c in "._-" else "-" for c in name).strip("-._") or "recovered"
    text = _file(clean, path.name, shown)
    asked = tuple(f"{v.key}: {v.why}" for v in shown if v.confidence == "asked for")
    reasons = (*_left_open(shown), *_checked(text, shown), *_doubts(found))
    return Recovered(
        name=clean, text=text, values=shown, asked_for=asked, ok=not reasons, reasons=reasons, notes=found.notes,
        stray_share=found.stray, noise_mm=max(found.spreads.values()), scan_unit=word,
    )  # fmt: skip


def confidence_page(found: Recovered) -> dict[str, Any]:
    """What stands beside the profile as JSON."""
    return {
        "schema": 1,
        "profile": found.name,
        "scan_unit": found.scan_unit,
        "ok": found.ok,
        "reasons": list(found.reasons),
        "noise_mm": found.noise_mm,
        "stray_share": found.stray_share,
        "values": [asdict(value) for value in found.values],
        "asked_for": list(found.asked_for),
        "notes": list(found.notes),
    }


def _unit_of(scan: Scan, told: str | None) -> tuple[str, float]:
    if told is not None:
        return told, UNITS[told]
    if scan.unit is not None:
        return next(
            (name for name, size in UNITS.items() if size == scan.unit), f"{scan.unit:g} mm"
        ), scan.unit
    reach = size_of(scan.points)
    for name, size in UNITS.items():
        if SMALLEST < reach * size < LARGEST:
            return name, size
    raise UsageError(
        f"the scan reaches {2 * reach:.4g} from end to end: no segment of {2 * SMALLEST:g} to {2 * LARGEST:g} mm in "
        f"{', '.join(UNITS)}; say the unit with --scan-units"
    )


def _shown(value: Value) -> Shown:
    return Shown(
        key=value.key, text=_text(value), number=value.number, unit=value.unit, standard_error=value.standard_error,
        points=value.points, confidence=value.confidence, why=value.why,
    )  # fmt: skip


def _text(value: Value) -> str:
    """As it stands in the file: no more digits than the value is known to."""
    if value.word is not None:
        return f'"{value.word}"'
    if value.number is None:
        return "?"
    if value.unit == "1":
        return str(int(value.number))
    digits = 3
    if value.standard_error:
        digits = int(np.clip(1 - floor(log10(value.standard_error)), 1, 3))
    return f'"{round(value.number, digits) + 0.0:g} {value.unit}"'


def _file(name: str, source: str, values: tuple[Shown, ...]) -> str:
    lines = [
        f"# Recovered from the scan {source}; what follows a value is how well it is known (two standard errors).",
        f'name = "{name}"',
    ]
    for table in TABLES:
        mine = [value for value in values if value.key.startswith(f"{table}.")]
        if not mine:
            continue
        # the table stays where a key it cannot do without is missing: without it another part would build
        lines += ["", f"[{table}]"]
        for value in mine:
            key = value.key.split(".", 1)[1]
            if value.confidence == "asked for":
                lines.append(f'# {key} = ""  # ASKED FOR: {value.why}')
                continue
            doubt = "" if value.standard_error is None else f"± {2 * value.standard_error:.2g} {value.unit}, "
            lines.append(f"{key} = {value.text}  # {doubt}{value.confidence}: {value.why}")
    return "\n".join(lines) + "\n"


def _refuse_unknown(compound: str) -> None:
    rows = compound_rows()
    if compound not in rows:
        near = get_close_matches(compound, list(rows), n=3, cutoff=0.4)
        hint = f"did you mean {' or '.join(near)}?" if near else f"known are {', '.join(rows)}."
        raise UsageError(
            f'--compound "{compound}" is no row of the compound table; {hint} For one of your own leave the option out, '
            "and write its values into the profile"
        )


def _left_open(values: tuple[Shown, ...]) -> tuple[str, ...]:
    missing = [v.key for v in values if v.confidence == "asked for" and v.key != "compound.name"]
    if not missing:
        return ()
    return (f"left open, to be filled in by hand before it builds: {', '.join(missing)}",)


def _checked(text: str, values: tuple[Shown, ...]) -> tuple[str, ...]:
    """Why a file of which only the compound may be missing does not read, or cannot be drawn."""
    asked = {v.key for v in values if v.confidence == "asked for"}
    if asked - {"compound.name"}:
        return ()
    try:
        section_of(profile_from_text(text if not asked else text + PLACEHOLDER))
    except ProfileError as wrong:
        return tuple(
            f"the recovered profile does not hold together: {c.key}: {c.message}" for c in wrong.complaints
        )
    return ()


def _doubts(found: Found) -> tuple[str, ...]:
    """What was recovered but is not to be trusted."""
    said = []
    if found.stray > MOST_STRAY:
        said.append(
            f"{found.stray:.0%} of the outer surface lies on nothing that was recovered, {MOST_STRAY:.0%} is the most: "
            "not a body with straight-sided ribs on one helix, damaged, or not the part alone; do not trust the ribs, and "
            "scan more of the outside"
        )
    body = found.values["body.diameter"]
    if body.confidence == "weak" and not said and found.spreads["outer"] <= MOST_SPREAD:
        said.append(f"body.diameter is known badly: {body.why}; scan more of the outside")
    said += [
        f"the points lie {spread:.2f} mm about the recovered {name}, {MOST_SPREAD:g} mm is the most: it is of another "
        f"shape, or too little of it is seen: scan more of {WHERE[name]}"
        for name, spread in found.spreads.items()
        if spread > MOST_SPREAD
    ]
    return tuple(said)
