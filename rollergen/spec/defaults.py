"""Fills what a profile leaves out, before it is validated, and keeps a record of what was filled and why."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import PurePath
from typing import Any

from rollergen.spec import duty_presets
from rollergen.spec.compound import compound_rows, source_of
from rollergen.spec.ranges import friction_range
from rollergen.spec.tolerances import hot_rolled_square
from rollergen.spec.units import parse_length

Raw = dict[str, Any]
Defaults = dict[str, tuple[str, str]]
Set = Callable[[str, object, str], None]

COLOUR = "#d8c39a"
_DIRECT = "default"


def fill_defaults(raw: Raw) -> Defaults:
    """Fill the linked defaults of DESIGN's profile file into ``raw``; returns key -> (value, why).

    Works on what is there: a value that cannot be read is left for validation to complain about, and a
    default that hangs on it gets a placeholder so that one slip makes one complaint.
    """
    filled: Defaults = {}
    ribs = _table(raw, "ribs")
    if (body := _table(raw, "body")) is not None:
        _fill_body(body, ribs, _setter(body, "body", filled))
    if ribs is not None:
        _fill_ribs(_setter(ribs, "ribs", filled))
    if (bore := _table(raw, "bore")) is not None:
        _fill_bore(bore, _setter(bore, "bore", filled))
    if (chambers := _table(raw, "chambers")) is not None:
        _fill_chambers(chambers, _setter(chambers, "chambers", filled))
    if (compound := _table(raw, "compound")) is not None:
        _fill_compound(compound, _setter(compound, "compound", filled))
    mates = raw.get("mates")
    for number, mate in enumerate(mates if isinstance(mates, list) else []):
        if isinstance(mate, dict):
            _fill_mate(mate, number, _setter(mate, f"mates[{number}]", filled))
    return filled


def fill_duty_defaults(raw: Raw) -> Defaults:
    """Fill presets and defaults of a duty into ``raw``; returns key -> (value, why), a preset's source in why."""
    filled: Defaults = {}
    if (crop := _table(raw, "crop")) is not None:
        set_default = _setter(crop, "crop", filled)
        _fill_preset(crop, "crop", set_default)
        set_default("length_ratio", 1.0, "round")
        _fill_mate_friction(crop, set_default)
    debris = raw.get("debris")
    for number, item in enumerate(debris if isinstance(debris, list) else []):
        if isinstance(item, dict):
            set_default = _setter(item, f"debris[{number}]", filled)
            _fill_preset(item, "debris", set_default)
            set_default("shape", "round", _DIRECT)
            _fill_mate_friction(item, set_default)
    if (soil := _table(raw, "soil")) is not None:
        _fill_preset(soil, "soil", _setter(soil, "soil", filled))
    return filled


def fill_bed_defaults(raw: Raw) -> Defaults:
    """Fill the defaults of a bed into ``raw``; returns key -> (value, why)."""
    filled: Defaults = {}
    rollers = raw.get("rollers")
    for number, roller in enumerate(rollers if isinstance(rollers, list) else []):
        if isinstance(roller, dict):
            set_default = _setter(roller, f"rollers[{number}]", filled)
            set_default("name", f"roller {number + 1}", "its number")
            set_default("y", "0 mm", _DIRECT)
            set_default("phase", "0 deg", _DIRECT)
    return filled


def spread_flank_angle(raw: Raw) -> str:
    """Write ``ribs.flank_angle`` out for both flanks; returns a complaint when all three are there, else "".

    Done file by file before a base is overridden, so that either spelling overrides the other.
    """
    ribs = _table(raw, "ribs")
    if ribs is None or "flank_angle" not in ribs:
        return ""
    both = ribs.pop("flank_angle")
    clash = "flank_angle_ahead" in ribs or "flank_angle_behind" in ribs
    ribs.setdefault("flank_angle_ahead", both)
    ribs.setdefault("flank_angle_behind", both)
    return (
        "stands beside flank_angle_ahead or flank_angle_behind; keep either the one or the two"
        if clash
        else ""
    )


def _table(raw: Raw, name: str) -> Raw | None:
    table = raw.get(name)
    return table if isinstance(table, dict) else None


def _setter(table: Raw, prefix: str, filled: Defaults) -> Set:
    def set_default(key: str, value: object, why: str) -> None:
        if key not in table:
            table[key] = value
            filled[f"{prefix}.{key}"] = (str(value), why)

    return set_default


def _readable(text: object) -> float | None:
    try:
        return parse_length(text) if isinstance(text, str) else None
    except ValueError:
        return None


def _same_as(table: Mapping[str, Any], key: str) -> object:
    value = table.get(key)
    return value if _readable(value) is not None else "1 mm"


def _fill_body(body: Raw, ribs: Raw | None, set_default: Set) -> None:
    set_default("fitted_length", _same_as(body, "free_length"), "as long as cast: no squeeze on the shaft")
    tip_radius = _readable(ribs.get("tip_radius")) if ribs is not None else None
    if tip_radius is None:
        set_default("edge_chamfer", "1 mm", "1 mm where no rib tip asks for less")
    else:
        chamfer = min(1.0, tip_radius / 2)
        set_default("edge_chamfer", f"{chamfer!r} mm", "the smaller of 1 mm and half the tip radius")


def _fill_ribs(set_default: Set) -> None:
    set_default("hand", "right", _DIRECT)
    set_default("start", "0 deg", _DIRECT)


def _fill_bore(bore: Raw, set_default: Set) -> None:
    set_default("clearance", "0 mm", _DIRECT)
    set_default("corner_radius", "0 mm", _DIRECT)
    corner = bore["corner_radius"] if _readable(bore["corner_radius"]) is not None else "0 mm"
    set_default("shaft_corner_radius", corner, "the same as the bore's corner_radius")
    set_default("lead_in", "0 mm", _DIRECT)
    across = _readable(bore.get("across"))
    if bore.get("section") == "square" and across is not None:
        try:
            bar = hot_rolled_square(across)
        except ValueError:
            return  # no row: a warning asks for it, the budget lists it as not given
        set_default("shaft_tolerance", f"{bar.side_tolerance} mm", "EN 10059 hot-rolled square bar, Table 2")


def _fill_chambers(chambers: Raw, set_default: Set) -> None:
    set_default("section", "sector", _DIRECT)
    set_default("start", "0 deg", _DIRECT)
    named = chambers.get("foamed")
    set_default(
        "fill", "foam" if named else "air", "foam because foamed names chambers" if named else _DIRECT
    )
    count = chambers.get("count")
    everyone = list(range(1, count + 1)) if isinstance(count, int) and 0 <= count <= 24 else []
    if chambers["fill"] == "foam":
        set_default("foamed", everyone, "fill is foam: all chambers")
    else:
        set_default("foamed", [], "fill is air: none")


def _fill_compound(compound: Raw, set_default: Set) -> None:
    set_default("name", "compound as written", "no row of the compound table named")
    name = compound["name"]
    for column, value in compound_rows().get(name, {}).items() if isinstance(name, str) else ():
        set_default(column, value.value, source_of(name, column))
    set_default("colour", COLOUR, _DIRECT)


def _fill_preset(table: Raw, kind: str, set_default: Set) -> None:
    said = table.get("preset")
    if not isinstance(said, str):
        return
    rows = duty_presets.preset_rows(kind)
    # a misspelt preset stands in for the one it means, so that one slip makes one complaint
    name = said if said in rows else duty_presets.nearest_preset(kind, said)
    if kind != "soil":
        set_default("name", name or said, "its preset's name")
    for column, value in rows.get(name, {}).items():
        if not (column == "diameters" and "sieve" in table):
            set_default(column, value.value, duty_presets.source_of(kind, name, column))


def _fill_mate_friction(table: Raw, set_default: Set) -> None:
    friction = table.get("friction")
    try:
        friction_range(friction)
    except ValueError:
        set_default("mate_friction", [1.0, 1.0], "stands in for friction, which cannot be read")
    else:
        set_default("mate_friction", friction, "the same as friction against our roller")


def _fill_mate(mate: Raw, number: int, set_default: Set) -> None:
    other = mate.get("profile")
    ribbed = isinstance(other, str)
    set_default("kind", "ribbed" if ribbed else "smooth", "a profile is named" if ribbed else _DIRECT)
    stem = PurePath(other).stem if isinstance(other, str) else ""
    set_default("name", stem or f"mate {number + 1}", "its profile's file name" if stem else "its number")
    set_default("axis_distance_tolerance", "0 mm", _DIRECT)
    set_default("height", "0 mm", _DIRECT)
    set_default("speed_ratio", 1.0, "turns as fast as ours, in the opposite sense")
    set_default("phase", "0 deg", _DIRECT)
    set_default("z_offset", "0 mm", _DIRECT)
