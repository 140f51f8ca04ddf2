"""Turns what the validator found into complaints an engineer can act on."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from typing import Any

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from rollergen.errors import Complaint
from rollergen.spec.compound import compound_rows
from rollergen.spec.places import Path, dotted
from rollergen.spec.profile import Body, Bore, Chambers, Compound, Mate, Profile, Ribs
from rollergen.spec.units import shown

_EXAMPLES = {
    "name": '"beet-general"', "diameter": '"112 mm"', "free_length": '"150 mm"', "count": "5",
    "height": '"8 mm"', "tip_width": '"10 mm"', "flank_angle": '"15 deg"', "tip_radius": '"2 mm"',
    "root_radius": '"4 mm"', "helix_pitch": '"600 mm"', "section": '"square"', "across": '"36 mm"',
    "shaft_tolerance": '"0.6 mm"', "wall": '"7 mm"', "web": '"6 mm"', "hub_wall": '"7 mm"',
    "corner_radius": '"2.5 mm"', "density": '"1120 kg/m^3"', "axis_distance": '"110 mm"',
}  # fmt: skip
MOST_COMPLAINTS = 100  # of one file; more of them help nobody
_TABLES: dict[str, type[BaseModel]] = {
    "body": Body, "ribs": Ribs, "bore": Bore, "chambers": Chambers, "compound": Compound, "mates": Mate,
}  # fmt: skip
_FILE_ONLY = {"ribs": ["flank_angle"], "": ["extends"]}
_NEVER_WRITTEN = {"ribbed"}


def known_keys(table: str) -> list[str]:
    """The keys a file may write in ``table`` ("" for the top of the file), in the order of the model."""
    model = _TABLES[table] if table else Profile
    keys = [field.alias or name for name, field in model.model_fields.items()]
    return [key for key in keys if key not in _NEVER_WRITTEN] + _FILE_ONLY.get(table, [])


def complaints_about(errors: Sequence[ErrorDetails], raw: dict[str, Any]) -> list[Complaint]:
    """The validator's errors as complaints with dotted key, value, limit and way out.

    A key that is missing only because it was misspelt is complained about once, where it was misspelt.
    """
    more = len(errors) - MOST_COMPLAINTS
    errors = errors[:MOST_COMPLAINTS]
    unknown = [tuple(error["loc"]) for error in errors if error["type"] == "extra_forbidden"]
    meant = {(*path[:-1], near) for path in unknown if (near := _near_key(path))}
    complaints = []
    for error in errors:
        path: Path = tuple(error["loc"])
        if error["type"] == "missing" and path in meant:
            continue
        complaints.append(Complaint(key=dotted(path), message=_message(error, path, raw)))
    if more > 0:
        complaints.append(Complaint(key="", message=f"and {more} more complaints; is it the right file?"))
    return complaints


def unknown_key(path: Path) -> str:
    """What to say about a key the file format does not have."""
    key, table = str(path[-1]), _table_of(path)
    near = _near_key(path)
    if near:
        return f'unknown key "{key}"; did you mean "{near}"?'
    home = next((name for name in _TABLES if key in known_keys(name) and name != table), "")
    if home:
        return f'unknown key "{key}" here; it belongs in [{home}]'
    return f'unknown key "{key}"; known here: {", ".join(known_keys(table))}'


def _table_of(path: Path) -> str:
    return str(path[0]) if len(path) > 1 else ""


def _near_key(path: Path) -> str:
    return next(iter(get_close_matches(str(path[-1]), known_keys(_table_of(path)), n=1, cutoff=0.6)), "")


def _message(error: ErrorDetails, path: Path, raw: dict[str, Any]) -> str:
    kind, context, said = error["type"], error.get("ctx", {}), error["input"]
    if kind == "value_error":
        return str(context["error"])
    if kind == "extra_forbidden":
        return unknown_key(path)
    if kind == "missing":
        return _missing(path, raw)
    if kind == "literal_error":
        return _not_a_choice(said, context["expected"])
    if kind in ("greater_than_equal", "less_than_equal"):
        limit = f"at least {context['ge']}" if "ge" in context else f"at most {context['le']}"
        return f"{shown(said)} is outside the limit: {limit}"
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        key = dotted(path)
        return f"{shown(said)} is not a table; write [{key}] on a line of its own, its keys below"
    if kind in ("tuple_type", "list_type"):
        return f"{shown(said)} is not a list; write {'[[mates]] tables' if path[0] == 'mates' else '[1, 4]'}"
    if kind == "string_type":
        return f"{shown(said)} is not a text; write it in quotes"
    return f"{shown(said)}: {error['msg']}"


def _not_a_choice(said: object, expected: str) -> str:
    choices = expected.replace("'", "").replace(" or ", ", ").split(", ")
    near = get_close_matches(str(said), choices, n=1, cutoff=0.5)
    hint = f'; did you mean "{near[0]}"?' if near else ""
    return f"{shown(said)} is not one of {', '.join(choices)}{hint}"


def _missing(path: Path, raw: dict[str, Any]) -> str:
    key = str(path[-1])
    if len(path) == 1 and key in _TABLES:
        return f"the table [{key}] is required and missing"
    if path == ("compound", "density"):
        return _missing_density(raw.get("compound", {}).get("name"))
    if key.startswith("flank_angle_"):
        return (
            'required and missing; write flank_angle = "15 deg", or flank_angle_ahead and flank_angle_behind'
        )
    example = f"; write e.g. {key} = {_EXAMPLES[key]}" if key in _EXAMPLES else ""
    return f"required and missing{example}"


def _missing_density(name: object) -> str:
    rows = list(compound_rows())
    near: Sequence[str] = get_close_matches(str(name), rows, n=1, cutoff=0.7)
    hint = f'did you mean name = "{near[0]}"? ' if near else ""
    written = (
        "" if name == "compound as written" else f"{shown(name)} is not a row of the compound table; {hint}"
    )
    return f'{written}name one of {", ".join(rows)}, or write density = "1120 kg/m^3"'
