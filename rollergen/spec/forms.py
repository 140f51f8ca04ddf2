"""The forms people fill in: which tables and keys a file has, with examples for messages; here the profile's."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

from pydantic import BaseModel

from rollergen.spec.profile import Body, Bore, Chambers, Compound, Mate, Profile, Ribs

Filled = TypeVar("Filled", bound=BaseModel)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Form(Generic[Filled]):
    """One kind of file: ``what`` it is called, its model, its tables, the tables written as [[lists]].

    ``file_only`` are keys the reader spreads or resolves (table -> keys, "" for the top of the file);
    ``never_written`` are keys of the models that only the reader fills.
    """

    what: str
    model: type[Filled]
    tables: Mapping[str, type[BaseModel]]
    lists: frozenset[str]
    file_only: Mapping[str, tuple[str, ...]]
    never_written: frozenset[str]
    examples: Mapping[str, str]


PROFILE = Form(
    what="profile",
    model=Profile,
    tables={
        "body": Body,
        "ribs": Ribs,
        "bore": Bore,
        "chambers": Chambers,
        "compound": Compound,
        "mates": Mate,
    },
    lists=frozenset({"mates"}),
    file_only={"ribs": ("flank_angle",), "": ("extends",)},
    never_written=frozenset({"ribbed"}),
    examples={
        "name": '"beet-general"', "diameter": '"112 mm"', "free_length": '"150 mm"', "count": "5",
        "height": '"8 mm"', "tip_width": '"10 mm"', "flank_angle": '"15 deg"', "tip_radius": '"2 mm"',
        "root_radius": '"4 mm"', "helix_pitch": '"600 mm"', "section": '"square"', "across": '"36 mm"',
        "shaft_tolerance": '"0.6 mm"', "wall": '"7 mm"', "web": '"6 mm"', "hub_wall": '"7 mm"',
        "corner_radius": '"2.5 mm"', "density": '"1120 kg/m^3"', "axis_distance": '"110 mm"',
    },
)  # fmt: skip


def known_keys_of(form: Form[Filled], table: str) -> list[str]:
    """The keys a file may write in ``table`` ("" for the top of the file), in the order of the model."""
    model: type[BaseModel] = form.tables[table] if table else form.model
    keys = [field.alias or name for name, field in model.model_fields.items()]
    return [key for key in keys if key not in form.never_written] + list(form.file_only.get(table, ()))
