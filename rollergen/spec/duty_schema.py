"""JSON schemas of duty and bed FILES for editors: keys, texts with units, what may be left out."""

from __future__ import annotations

from typing import Any

from rollergen.spec.bed import Bed
from rollergen.spec.duty import Duty
from rollergen.spec.duty_presets import preset_rows
from rollergen.spec.schema import without_null

# What neither a default nor a preset can give
_REQUIRED = {
    "Crop": ["friction"],
    "Debris": ["diameters"],
    "Soil": ["layer"],
    "Run": ["rotation_speed"],
    "BedRoller": ["x"],
}
_NEVER_WRITTEN = {"BedRoller": ("segment",)}
_WORDS = {
    "Crop": "What must stay on top and whole: short diameters as a range or a sieve table, friction against rubber.",
    "Debris": "One kind of thing that must go down: clods, stones, haulm.",
    "Soil": "The mud that clings to the roller.",
    "Run": "How our roller turns, and its mate's speed over ours.",
    "BedRoller": "One roller: a profile, or a smooth one's diameter; where its axis lies and how it turns.",
}


def duty_schema() -> dict[str, Any]:
    """JSON schema (draft 2020-12) of a duty file."""
    schema = _of(Duty.model_json_schema(by_alias=True), "rollergen duty", ["name", "crop"])
    for name, table in (("Crop", "crop"), ("Debris", "debris"), ("Soil", "soil")):
        schema["$defs"][name]["properties"]["preset"] = {"enum": sorted(preset_rows(table))}
    return schema


def bed_schema() -> dict[str, Any]:
    """JSON schema (draft 2020-12) of a bed file."""
    return _of(Bed.model_json_schema(by_alias=True), "rollergen bed", ["name", "width", "rollers"])


def _of(model: dict[str, Any], title: str, required: list[str]) -> dict[str, Any]:
    properties = {key: without_null(entry) for key, entry in model["properties"].items()}
    properties["extends"] = {
        "type": "string",
        "minLength": 1,
        "description": "another file of this kind, relative to this one, to start from",
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": title,
        "type": "object",
        "additionalProperties": False,
        "properties": properties,
        # a file that extends another may leave out anything
        "if": {"required": ["extends"]},
        "else": {"required": required, "properties": _required_inside(properties)},
        "$defs": {name: _table(name, model["$defs"][name]) for name in _WORDS if name in model["$defs"]},
    }


def _table(name: str, definition: dict[str, Any]) -> dict[str, Any]:
    hidden = _NEVER_WRITTEN.get(name, ())
    return {
        "title": name,
        "description": _WORDS[name],
        "type": "object",
        "additionalProperties": False,
        "properties": {
            key: without_null(entry) for key, entry in definition["properties"].items() if key not in hidden
        },
    }


def _required_inside(properties: dict[str, Any]) -> dict[str, Any]:
    """What each table must hold in a file that extends none; lists of tables one by one."""
    inside: dict[str, Any] = {}
    for key, model in (("crop", "Crop"), ("soil", "Soil"), ("run", "Run")):
        if key in properties:
            inside[key] = {"required": _REQUIRED[model]}
    for key, model in (("debris", "Debris"), ("rollers", "BedRoller")):
        if key in properties:
            inside[key] = {"items": {"required": _REQUIRED[model]}}
    return inside
