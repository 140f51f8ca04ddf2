"""The profile file for editors (a JSON schema) and for people (a commented profile to start from)."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

from rollergen.spec.compound import compound_rows
from rollergen.spec.profile import Profile

# Keys the program fills in before it validates: required inside, optional in the file.
_OPTIONAL = {
    "Body": ("fitted_length", "edge_chamfer"),
    "Ribs": ("hand", "start", "flank_angle_ahead", "flank_angle_behind"),
    "Bore": ("clearance", "corner_radius", "shaft_corner_radius", "shaft_tolerance", "lead_in"),
    "Chambers": ("section", "start", "fill", "foamed"),
    "Compound": ("name", "density", "colour"),
    "Mate": (
        "name",
        "kind",
        "axis_distance_tolerance",
        "height",
        "speed_ratio",
        "phase",
        "z_offset",
    ),
}
_NEVER_WRITTEN = {"Mate": ("ribbed",)}
_WORDS = {
    "Body": "The round part: diameter, length as cast, length on the shaft, chamfer of the end edges.",
    "Ribs": "The ribs. Leave the table out for a plain sleeve.",
    "Bore": "The shaft hole: across is the SHAFT's size, the hole is wider by the clearance.",
    "Chambers": "The air holes. Leave the table out for a solid segment.",
    "Compound": "The polyurethane: a row of the compound table, values written out, or both.",
    "Mate": "A roller next to ours: smooth (diameter) or ribbed (profile).",
}


def profile_schema() -> dict[str, Any]:
    """JSON schema (draft 2020-12) of a profile FILE: texts with units, what may be left out, ``extends``.

    A file that extends another may leave out anything, so with ``extends`` nothing is required by the
    schema; the program checks the whole.
    """
    schema = Profile.model_json_schema(by_alias=True, ref_template="#/$defs/{model}")
    definitions = schema.pop("$defs")
    profile = definitions.pop("Profile", schema)
    tables = {name: _as_written(name, definitions[name]) for name in _WORDS}
    required = profile.pop("required")
    top: dict[str, Any] = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "rollergen profile",
        "type": "object",
        "additionalProperties": False,
        "properties": {name: without_null(entry) for name, entry in profile["properties"].items()},
        "if": {"required": ["extends"]},
        "else": {"required": required},
        "$defs": tables,
    }
    top["properties"]["extends"] = {
        "type": "string",
        "minLength": 1,
        "description": "another profile, relative to this file, to start from",
    }
    for table in tables.values():
        # a file with extends may override a single key of a table
        table["x-required-without-extends"] = table.pop("required", [])
    top["else"]["properties"] = _required_inside(tables)
    return top


def starting_profile() -> str:
    """A commented profile that reads without complaint, for ``init``; its default gap verdict is ok."""
    return files("rollergen.spec").joinpath("starting.toml").read_text(encoding="utf-8")


def _as_written(name: str, definition: dict[str, Any]) -> dict[str, Any]:
    """A table's schema as the file shows it."""
    properties = {key: without_null(entry) for key, entry in definition["properties"].items()}
    for key in _NEVER_WRITTEN.get(name, ()):
        properties.pop(key)
    if name == "Ribs":
        properties["flank_angle"] = {
            **properties["flank_angle_ahead"],
            "description": "both flanks, from the rib's radial centre line",
        }
    if name == "Compound":
        properties["name"] = {**properties["name"], "examples": list(compound_rows())}
    optional = (*_OPTIONAL.get(name, ()), *_NEVER_WRITTEN.get(name, ()))
    return {
        "title": name,
        "description": _WORDS[name],
        "type": "object",
        "additionalProperties": False,
        "properties": properties,
        "required": [key for key in definition.get("required", ()) if key not in optional],
    }


def _required_inside(tables: dict[str, dict[str, Any]]) -> dict[str, Any]:
    inside: dict[str, Any] = {
        name.lower(): {"required": tables[name].pop("x-required-without-extends")}
        for name in ("Body", "Ribs", "Bore", "Chambers", "Compound")
    }
    # mates are never merged with a base's, so their keys are required in any case
    tables["Mate"]["required"] = tables["Mate"].pop("x-required-without-extends")
    return {name: entry for name, entry in inside.items() if entry["required"]}


def without_null(entry: dict[str, Any]) -> dict[str, Any]:
    """TOML knows no null: what may be None inside is simply left out of the file."""
    entry = {key: value for key, value in entry.items() if key not in ("default", "title")}
    options = [option for option in entry.pop("anyOf", []) if option.get("type") != "null"]
    if len(options) == 1:
        return {**options[0], **entry}
    return {**entry, **({"anyOf": options} if options else {})}
