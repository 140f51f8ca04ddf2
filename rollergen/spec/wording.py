"""Turns what the validator found into complaints an engineer can act on."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from typing import Any

from pydantic_core import ErrorDetails

from rollergen.errors import Complaint
from rollergen.spec.compound import compound_rows
from rollergen.spec.forms import PROFILE, Form, known_keys_of
from rollergen.spec.places import Path, dotted
from rollergen.spec.units import shown

MOST_COMPLAINTS = 100  # of one file; more of them help nobody


def known_keys(table: str, form: Form[Any] = PROFILE) -> list[str]:
    """The keys a file may write in ``table`` ("" for the top of the file), in the order of the model."""
    return known_keys_of(form, table)


def complaints_about(
    errors: Sequence[ErrorDetails], raw: dict[str, Any], form: Form[Any] = PROFILE
) -> list[Complaint]:
    """The validator's errors as complaints with dotted key, value, limit and way out.

    A key that is missing only because it was misspelt is complained about once, where it was misspelt.
    """
    more = len(errors) - MOST_COMPLAINTS
    errors = errors[:MOST_COMPLAINTS]
    unknown = [tuple(error["loc"]) for error in errors if error["type"] == "extra_forbidden"]
    meant = {(*path[:-1], near) for path in unknown if (near := _near_key(path, form))}
    complaints = []
    for error in errors:
        path: Path = tuple(error["loc"])
        if error["type"] == "missing" and path in meant:
            continue
        complaints.append(Complaint(key=dotted(path), message=_message(error, path, raw, form)))
    if more > 0:
        complaints.append(Complaint(key="", message=f"and {more} more complaints; is it the right file?"))
    return complaints


def unknown_key(path: Path, form: Form[Any] = PROFILE) -> str:
    """What to say about a key the file format does not have."""
    key, table = str(path[-1]), _table_of(path)
    near = _near_key(path, form)
    if near:
        return f'unknown key "{key}"; did you mean "{near}"?'
    home = next((name for name in form.tables if key in known_keys_of(form, name) and name != table), "")
    if home:
        return f'unknown key "{key}" here; it belongs in {_header(home, form)}'
    return f'unknown key "{key}"; known here: {", ".join(known_keys_of(form, table))}'


def _table_of(path: Path) -> str:
    return str(path[0]) if len(path) > 1 else ""


def _header(table: str, form: Form[Any]) -> str:
    return f"[[{table}]]" if table in form.lists else f"[{table}]"


def _near_key(path: Path, form: Form[Any]) -> str:
    known = known_keys_of(form, _table_of(path))
    return next(iter(get_close_matches(str(path[-1]), known, n=1, cutoff=0.6)), "")


def _message(error: ErrorDetails, path: Path, raw: dict[str, Any], form: Form[Any]) -> str:
    kind, context, said = error["type"], error.get("ctx", {}), error["input"]
    if kind == "value_error":
        return str(context["error"])
    if kind == "extra_forbidden":
        return unknown_key(path, form)
    if kind == "missing":
        return _missing(path, raw, form)
    if kind == "literal_error":
        return _not_a_choice(said, context["expected"])
    if kind in ("greater_than_equal", "less_than_equal"):
        limit = f"at least {context['ge']}" if "ge" in context else f"at most {context['le']}"
        return f"{shown(said)} is outside the limit: {limit}"
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        header = _header(str(path[0]), form) if path else "its tables"
        return f"{shown(said)} is not a table; write {header} on a line of its own, its keys below"
    if kind in ("tuple_type", "list_type"):
        return f"{shown(said)} is not a list; write {f'[[{path[0]}]] tables' if path[0] in form.lists else '[1, 4]'}"
    if kind == "string_type":
        return f"{shown(said)} is not a text; write it in quotes"
    return f"{shown(said)}: {error['msg']}"


def _not_a_choice(said: object, expected: str) -> str:
    choices = expected.replace("'", "").replace(" or ", ", ").split(", ")
    near = get_close_matches(str(said), choices, n=1, cutoff=0.5)
    hint = f'; did you mean "{near[0]}"?' if near else ""
    return f"{shown(said)} is not one of {', '.join(choices)}{hint}"


def _missing(path: Path, raw: dict[str, Any], form: Form[Any]) -> str:
    key = str(path[-1])
    if len(path) == 1 and key in form.tables:
        return f"the table {_header(key, form)} is required and missing"
    if path == ("compound", "density"):
        return _missing_density(raw.get("compound", {}).get("name"))
    if key.startswith("flank_angle_"):
        return (
            'required and missing; write flank_angle = "15 deg", or flank_angle_ahead and flank_angle_behind'
        )
    example = form.examples.get(f"{_table_of(path)}.{key}", form.examples.get(key))
    return f"required and missing; write e.g. {key} = {example}" if example else "required and missing"


def _missing_density(name: object) -> str:
    rows = list(compound_rows())
    near: Sequence[str] = get_close_matches(str(name), rows, n=1, cutoff=0.7)
    hint = f'did you mean name = "{near[0]}"? ' if near else ""
    written = (
        "" if name == "compound as written" else f"{shown(name)} is not a row of the compound table; {hint}"
    )
    return f'{written}name one of {", ".join(rows)}, or write density = "1120 kg/m^3"'
