"""The forms people fill in: which tables and keys a profile, a duty and a bed have, with examples for messages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

from pydantic import BaseModel

from rollergen.spec.bed import Bed, BedRoller
from rollergen.spec.duty import Crop, Debris, Duty, Run, Soil
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
DUTY = Form(
    what="duty",
    model=Duty,
    tables={"crop": Crop, "debris": Debris, "soil": Soil, "run": Run},
    lists=frozenset({"debris"}),
    file_only={"": ("extends",)},
    never_written=frozenset(),
    examples={
        "name": '"beet-sandy-loam"', "crop.name": '"red beet"', "debris.name": '"clods"',
        "diameters": '["8 mm", "60 mm"]', "friction": "[0.4, 0.7]", "density": '"1.6 g/cm^3"',
        "layer": '"6 mm"', "adhesion": '["0.2 kPa", "2 kPa"]', "rotation_speed": '"90 rpm"',
    },
)  # fmt: skip
BED = Form(
    what="bed",
    model=Bed,
    tables={"rollers": BedRoller},
    lists=frozenset({"rollers"}),
    file_only={"": ("extends",)},
    never_written=frozenset({"segment"}),
    examples={"name": '"beet-line"', "width": '"1.5 m"', "x": '"110 mm"'},
)


def known_keys_of(form: Form[Filled], table: str) -> list[str]:
    """The keys a file may write in ``table`` ("" for the top of the file), in the order of the model."""
    model: type[BaseModel] = form.tables[table] if table else form.model
    keys = [field.alias or name for name, field in model.model_fields.items()]
    return [key for key in keys if key not in form.never_written] + list(form.file_only.get(table, ()))
