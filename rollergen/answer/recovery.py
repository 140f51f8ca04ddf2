"""A profile file written from a scan of an unknown segment, with what is known of every value beside it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from math import floor, log10
from pathlib import Path
from typing import Any

import numpy as np

from rollergen.errors import ProfileError, UsageError
from rollergen.shape.section import section_of
from rollergen.spec.reading import profile_from_text
from rollergen.tooling.inspecting import UNITS, size_of
from rollergen.tooling.recovered_values import Value
from rollergen.tooling.recovering import Found, recover
from rollergen.tooling.scan import Scan, in_mm
from rollergen.tooling.scan_files import read_scan

SMALLEST, LARGEST = 35.0, 600.0  # mm: half the reach of any segment anybody casts; units are told apart by it
MOST_STRAY = 0.05
TABLES = ("body", "ribs", "bore", "chambers", "compound")
PLACEHOLDER = '[compound]\nname = "unknown"\ndensity = "1100 kg/m^3"\n'


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
    """The profile as a text, its values, what has to be filled in by hand, and what was noticed."""

    name: str
    text: str
    values: tuple[Shown, ...]
    asked_for: tuple[str, ...]
    notes: tuple[str, ...]
    stray_share: float
    noise_mm: float
    scan_unit: str


def recover_profile(path: Path, *, name: str, unit: str | None, compound: str | None) -> Recovered:
    """A profile from a scan file.  Keys that cannot be seen stand in it as comments that ask for them.

    Raises FileTrouble and UsageError as ``read_scan`` and ``recover`` do, UsageError also for a scan of no likely size,
    ProfileError for an unknown compound.
    """
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
    return Recovered(
        name=clean, text=text, values=shown, asked_for=asked, notes=(*found.notes, *_checked(text, shown, found)),
        stray_share=found.stray, noise_mm=max(found.spreads.values()), scan_unit=word,
    )  # fmt: skip


def confidence_page(found: Recovered) -> dict[str, Any]:
    """What stands beside the profile as JSON."""
    return {
        "schema": 1,
        "profile": found.name,
        "scan_unit": found.scan_unit,
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
        # a table that lacks a key it cannot do without is left for whoever fills it in
        lacking = {v.key for v in mine if v.confidence == "asked for"} & {
            "ribs.count", "bore.section", "bore.across", "chambers.count", "compound.name",
        }  # fmt: skip
        lines += [
            "",
            f"# [{table}]" if lacking and table in ("ribs", "chambers", "compound") else f"[{table}]",
        ]
        for value in mine:
            key = value.key.split(".", 1)[1]
            if value.confidence == "asked for":
                lines.append(f'# {key} = ""  # ASKED FOR: {value.why}')
                continue
            mute = "# " if lacking and table in ("ribs", "chambers", "compound") else ""
            doubt = "" if value.standard_error is None else f"± {2 * value.standard_error:.2g} {value.unit}, "
            lines.append(f"{mute}{key} = {value.text}  # {doubt}{value.confidence}: {value.why}")
    return "\n".join(lines) + "\n"


def _checked(text: str, values: tuple[Shown, ...], found: Found) -> tuple[str, ...]:
    """What stands against the recovered file: it does not read, cannot be drawn, or leaves much unexplained."""
    said = []
    asked = {v.key for v in values if v.confidence == "asked for"}
    if asked <= {"compound.name"}:
        try:
            section_of(profile_from_text(text if not asked else text + PLACEHOLDER))
        except ProfileError as wrong:
            said += [
                f"the recovered profile does not hold together yet: {c.key}: {c.message}"
                for c in wrong.complaints
            ]
    if found.stray > MOST_STRAY:
        said.append(
            f"{found.stray:.0%} of the outer surface lies on nothing that was recovered: not a body with straight-sided "
            "ribs on one helix, or damaged; do not trust the ribs"
        )
    if found.values["body.edge_chamfer"].confidence == "assumed":
        said.append("the edge chamfer is written as 0: none is made out at this spacing of points")
    return tuple(said)
