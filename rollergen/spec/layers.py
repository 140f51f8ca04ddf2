"""Files that extend each other: the chain, what they say together, and where each key stands in them."""

from __future__ import annotations

import copy
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path as File
from typing import NoReturn

from rollergen.errors import Complaint, FileTrouble, ProfileError
from rollergen.spec.files import Layer, Raw, layer_from_file, same_file
from rollergen.spec.places import Path, Place, places_of, undotted
from rollergen.spec.units import shown

LONGEST_CHAIN = 16  # files that extend each other
# keys the reader spreads one written key over
_WRITTEN_TOGETHER = {"flank_angle_ahead": "flank_angle", "flank_angle_behind": "flank_angle"}


def chain_of(first: Layer, what: str) -> list[Layer]:
    """This file and all it extends, the outermost first; a loop or an unreadable base is refused.

    ``what`` ("profile", "duty", "bed") names in messages what the files are.
    """
    layers = [first]
    while "extends" in layers[-1].raw:
        layer = layers[-1]
        said = layer.raw["extends"]
        if not isinstance(said, str) or not said.strip():
            _refuse(layer, f'{shown(said)} is not a file name; write extends = "base.toml"')
        base = layer.folder / said
        shown_as = name_of(said, layer)
        if any(known.path is not None and same_file(known.path, base) for known in layers):
            chain = " -> ".join([known.file for known in layers] + [shown_as])
            _refuse(layer, f"files extend each other in a loop: {chain}; take one extends line out")
        if len(layers) >= LONGEST_CHAIN:
            _refuse(layer, f"more than {LONGEST_CHAIN} files extend each other; shorten the chain")
        try:
            layers.append(layer_from_file(base, shown_as, what))
        except FileTrouble as trouble:
            _refuse(layer, f"cannot read the {what} to start from: {trouble}")
    return layers


def name_of(said: str, writer: Layer) -> str:
    """A file that ``writer`` names, as messages show it."""
    return said if writer.folder == File() else str(writer.folder / said)


def _refuse(layer: Layer, message: str) -> NoReturn:
    raise ProfileError(placed_in([Complaint(key="extends", message=message)], [layer])) from None


def merged(layers: Sequence[Layer]) -> Raw:
    """What the layers say together; the first one wins, tables are merged key by key, lists replaced whole."""
    raw: Raw = {}
    for layer in reversed(layers):
        raw = _overridden(raw, layer.raw)
    raw.pop("extends", None)
    return raw


def _overridden(base: Raw, top: Raw) -> Raw:
    both = dict(base)
    for key, value in top.items():
        below = both.get(key)
        both_tables = isinstance(below, dict) and isinstance(value, dict)
        both[key] = _overridden(below, value) if both_tables and below else copy.deepcopy(value)
    return both


def placed_in(complaints: Iterable[Complaint], layers: Sequence[Layer]) -> tuple[Complaint, ...]:
    """The complaints with file, line and column of their keys, sorted by place.

    A key that stands nowhere (it is missing) gets the place of its table's header, and of its file at least.
    A complaint that already has a file is left as it is.
    """
    maps = [places_of(layer.text) for layer in layers]
    found = dict.fromkeys(_with_place(complaint, layers, maps) for complaint in complaints)
    order = {layer.file: number for number, layer in enumerate(layers)}

    def place(complaint: Complaint) -> tuple[int, bool, int, int]:
        return order.get(complaint.file, len(order)), not complaint.line, complaint.line, complaint.column

    return tuple(sorted(found, key=place))


def _with_place(
    complaint: Complaint, layers: Sequence[Layer], maps: Sequence[dict[Path, Place]]
) -> Complaint:
    if complaint.file:
        return complaint
    path = undotted(complaint.key)
    if path and path[-1] in _WRITTEN_TOGETHER:
        complaint, path = _as_written(complaint, path, maps)
    listed = len(path) > 1 and isinstance(path[1], int)
    while path:
        for layer, places in zip(layers, maps, strict=True):
            if path in places:
                line, column = places[path]
                return replace(complaint, file=layer.file, line=line, column=column)
            if listed and path[:1] in places:
                break  # a list of tables replaces the base's: what stands there does not count
        path = path[:-1]
    return replace(complaint, file=layers[0].file)


def _as_written(
    complaint: Complaint, path: Path, maps: Sequence[dict[Path, Place]]
) -> tuple[Complaint, Path]:
    """A complaint about one of several keys belongs to the one key that the nearest file wrote for all."""
    together = _WRITTEN_TOGETHER[str(path[-1])]
    both = (*path[:-1], together)
    nearest = next((places for places in maps if path in places or both in places), None)
    if nearest is None or path in nearest:
        return complaint, path
    return replace(complaint, key=".".join([*map(str, path[:-1]), together])), both
