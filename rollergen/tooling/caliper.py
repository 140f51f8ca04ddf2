"""Readings taken by hand: a table of features and lengths, several readings of one feature each its own."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from math import degrees, sqrt
from pathlib import Path

from rollergen.errors import Complaint, FileTrouble, ProfileError
from rollergen.spec.units import parse_angle, parse_positive_length
from rollergen.tooling.part_features import Asked, Reading
from rollergen.tooling.tables import decimal_points, delimiter_of, first_line

ROUNDED = sqrt(12.0)  # a reading rounded to a step has a standard deviation of step / sqrt(12)
HEADINGS = ("feature", "key")
STEPS = re.compile(
    r"\s*\+?\d*(?:\.(?P<decimals>\d+)|[\s+-]*\d+/(?P<of>\d+))?\s*(?P<unit>[^\d\s.½¼¾⅓⅔⅛⅜⅝⅞].*)$"
)
SIGNS = "+0123456789 ½¼¾⅓⅔⅛⅜⅝⅞"
TORN = re.compile(r"(?<![\d.])\d+,\d+\s*[^\d\s,;.][^,]*")  # digits, a comma without a blank, digits, a unit
FINEST = 0.01  # mm or deg: nobody reads a cast part finer by hand
OTHER_WORDS = {
    "bore.across": "bore.width",
    "body.length": "body.free_length",
}  # asked of a shaft, or said in short


@dataclass(frozen=True, slots=True, kw_only=True)
class HandReading:
    """Readings of one feature: mean, spread (sample standard deviation, None of one reading), least and greatest."""

    key: str
    unit: str
    readings: tuple[float, ...]
    mean: float
    spread: float | None
    least: float
    greatest: float
    step: float


def read_caliper(path: Path, asked: Mapping[str, Asked]) -> tuple[HandReading, ...]:
    """Readings from lines ``feature, value, value ...`` such as ``body.diameter, 118.3 mm, 118.1 mm``.

    A feature may have several lines; lines that begin with # and a heading are passed over.  Raises FileTrouble for
    a file that cannot be read, ProfileError with every wrong line for the rest.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as trouble:
        raise FileTrouble(f"{path} cannot be read: {trouble.strerror or trouble}") from trouble
    except UnicodeDecodeError as wrong:
        raise FileTrouble(
            f"{path} is no table of readings: it is not a text file in UTF-8; save it as UTF-8 (a spreadsheet calls it "
            "CSV UTF-8)"
        ) from wrong
    found: dict[str, list[tuple[float, float]]] = {}
    complaints: list[Complaint] = []
    between = delimiter_of(first_line(text))
    lines = text.splitlines()
    rows = csv.reader(lines, delimiter=between, skipinitialspace=True)
    for number, row in enumerate(rows, start=1):
        cells = [cell.strip() for cell in row] or [""]
        key = cells[0]
        if not key or key.startswith("#") or key.lower() in HEADINGS:
            continue
        if between != ",":  # a table that needs its commas for decimals
            cells = [decimal_points(cell) for cell in cells]
        if key not in asked:
            complaints.append(Complaint(key=key, message=_unknown(key, asked), file=str(path), line=number))
            continue
        values = [cell for cell in cells[1:] if cell]
        if not values:
            message = 'no reading; write e.g. "118.3 mm"'
            complaints.append(Complaint(key=key, message=message, file=str(path), line=number))
        torn = _torn(lines[rows.line_num - 1]) if between == "," else None
        if torn is not None:
            message = (
                f'"{torn}" has a decimal comma; write "{decimal_points(torn)}", or, where these are two readings, '
                "each with its unit"
            )
            complaints.append(Complaint(key=key, message=message, file=str(path), line=number))
            continue
        for value in values:
            try:
                found.setdefault(key, []).append(_read(value, asked[key]))
            except ValueError as wrong:
                complaints.append(Complaint(key=key, message=str(wrong), file=str(path), line=number))
    if not found and not complaints:
        complaints.append(
            Complaint(
                key="",
                message='no reading in it; write lines such as "body.diameter, 118.3 mm"',
                file=str(path),
            )
        )
    if complaints:
        raise ProfileError(complaints)
    return tuple(_summed(key, found[key], asked[key].unit) for key in asked if key in found)


def readings_of(hand: Iterable[HandReading], asked: Mapping[str, Asked]) -> dict[str, Reading]:
    """The same for a verdict: mean, standard error, and the one reading furthest from nominal, which must hold too.

    The error is never taken below what the step of the readings allows, step / sqrt(12).
    """
    found = {}
    for each in hand:
        n, nominal = len(each.readings), asked[each.key].nominal
        error = max(each.step / ROUNDED, 0.0 if each.spread is None else each.spread / sqrt(n))
        low, high = each.least, each.greatest
        worst = low if abs(low - nominal) > abs(high - nominal) else high
        found[each.key] = Reading(value=each.mean, error=error, points=n, worst=worst, by_hand=True)
    return found


def _torn(line: str) -> str | None:
    """A reading with a decimal comma that the commas between the readings tear apart, as it stands in its line."""
    found = TORN.search(re.sub(r'"[^"]*"', "", line))
    return None if found is None else found[0].strip()


def _read(text: str, asked: Asked) -> tuple[float, float]:
    """(value, step) in the feature's unit: of the last digit, or of a fraction."""
    value = _in_unit(text, asked)
    written = STEPS.match(text)
    if written is None:  # a fraction in one sign, such as ½
        return value, _in_unit(f"0.125 {text.strip().lstrip(SIGNS).strip()}", asked)
    step = 1.0 / int(written["of"]) if written["of"] else 10.0 ** -len(written["decimals"] or "")
    return value, max(step * _in_unit(f"1 {written['unit']}", asked), FINEST)


def _in_unit(text: str, asked: Asked) -> float:
    return (
        degrees(parse_angle(text, "reading"))
        if asked.unit == "deg"
        else parse_positive_length(text, "reading")
    )


def _summed(key: str, readings: list[tuple[float, float]], unit: str) -> HandReading:
    values = tuple(value for value, _ in readings)
    mean = sum(values) / len(values)
    spread = None
    if len(values) > 1:
        spread = sqrt(sum((value - mean) ** 2 for value in values) / (len(values) - 1))
    return HandReading(
        key=key, unit=unit, readings=values, mean=mean, spread=spread, least=min(values), greatest=max(values),
        step=max(step for _, step in readings),
    )  # fmt: skip


def _unknown(key: str, asked: Mapping[str, Asked]) -> str:
    other = OTHER_WORDS.get(key, "")
    near = [other] if other in asked else get_close_matches(key, list(asked), n=2, cutoff=0.5)
    hint = f"did you mean {' or '.join(near)}?" if near else f"this profile has {', '.join(asked)}"
    return f"no feature of this profile is called that; {hint}"
