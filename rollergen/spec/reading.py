"""Reads a profile: TOML in, a frozen ``Profile`` out, or every complaint about the file at once.

Two stages only: texts and numbers here (with ``spec.limits``), geometry later in ``shape.section``.
Whoever finds a geometric complaint puts it in its place with ``placed``.
"""

from __future__ import annotations

import copy
import re
import stat
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path as File
from typing import Any

from pydantic import BaseModel, ValidationError

from rollergen.errors import Complaint, FileTrouble, ProfileError
from rollergen.spec.defaults import fill_defaults, spread_flank_angle
from rollergen.spec.limits import broken_limits, warnings_of
from rollergen.spec.places import Path, Place, places_of, undotted
from rollergen.spec.profile import Body, Bore, Chambers, Compound, Profile, Ribs
from rollergen.spec.units import shown
from rollergen.spec.wording import complaints_about, unknown_key

LARGEST_FILE = 2_000_000  # bytes; a profile is a page of text
LONGEST_CHAIN = 16  # files that extend each other

Raw = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One file of an ``extends`` chain: its name as shown, its folder, its text and what it says."""

    file: str
    folder: File
    path: File | None
    text: str
    raw: Raw


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A profile with where it came from: its files (this one first, then what it extends) and its defaults.

    ``defaults`` maps a dotted key to (value as text, why) for every key the files left out.
    """

    profile: Profile
    layers: tuple[Layer, ...]
    defaults: Mapping[str, tuple[str, str]]


def read_profile(path: str | File) -> Profile:
    """The segment a profile file asks for, with its linked defaults and ribbed mates filled in.

    Raises ``FileTrouble`` when the file cannot be read and ``ProfileError`` with all complaints, each with
    file, line and column, when what it says is wrong.
    """
    return read_source(path).profile


def read_source(path: str | File) -> Source:
    """As ``read_profile``, and also which defaults were filled and where every key stands."""
    file = File(path)
    return _source(_first_layer(_text_of(file), file.parent, str(path), file), mates=True)


def profile_from_text(text: str, *, folder: str | File | None = None, file: str = "profile.toml") -> Profile:
    """The segment a profile text asks for; ``folder`` is where ``extends`` and ribbed mates are looked up."""
    return source_from_text(text, folder=folder, file=file).profile


def source_from_text(text: str, *, folder: str | File | None = None, file: str = "profile.toml") -> Source:
    """As ``profile_from_text``, and also which defaults were filled and where every key stands."""
    home = File(folder) if folder is not None else File()
    if len(text) > LARGEST_FILE:
        raise ProfileError([Complaint(key="", message=_too_large(len(text)), file=file)])
    return _source(_first_layer(text, home, file, None), mates=True)


def defaults_of(source: Source) -> Mapping[str, tuple[str, str]]:
    """Every key the files left out: dotted key -> (value as text, why)."""
    return source.defaults


def placed(complaints: Iterable[Complaint], source: Source) -> tuple[Complaint, ...]:
    """The complaints with file, line and column of their keys, sorted by place.

    A key that stands nowhere (it is missing) gets the place of its table's header, and of its file at least.
    A complaint that already has a file is left as it is.
    """
    return _placed(complaints, source.layers)


def warnings_for(source: Source) -> tuple[Complaint, ...]:
    """What is legal but worth a second look, each with its place."""
    return placed(warnings_of(source.profile), source)


# The road: layers -> merged -> defaults -> mates -> validated -> limits


def _source(first: Layer, *, mates: bool) -> Source:
    layers = _chain(first)
    complaints = [complaint for layer in layers for complaint in _spread(layer)]
    raw = _merged(layers)
    if not mates:
        raw.pop("mates", None)
    complaints += _refuse_internal_keys(raw)
    defaults = fill_defaults(raw)
    complaints += _read_mates(raw, layers)
    profile, wrong = _validated(raw)
    complaints += wrong
    if complaints:
        raise ProfileError(_placed(complaints, layers))
    assert profile is not None  # no complaint means it was validated whole
    return Source(profile=profile, layers=tuple(layers), defaults=defaults)


def _validated(raw: Raw) -> tuple[Profile | None, list[Complaint]]:
    """The profile, or the complaints of its texts together with those of every limit that can be judged."""
    try:
        profile = Profile.model_validate(raw)
    except ValidationError as wrong:
        complaints = complaints_about(wrong.errors(include_url=False), raw)
        sound = _sound_tables(raw, bad={str(error["loc"][0]) for error in wrong.errors(include_url=False)})
        return None, complaints + broken_limits(Profile.model_construct(None, **sound), tables=set(sound))
    complaints = broken_limits(profile)
    return (None, complaints) if complaints else (profile, [])


def _sound_tables(raw: Raw, bad: set[str]) -> dict[str, Any]:
    models: dict[str, type[BaseModel]] = {
        "body": Body, "ribs": Ribs, "bore": Bore, "chambers": Chambers, "compound": Compound,
    }  # fmt: skip
    sound: dict[str, Any] = {}
    for name, model in models.items():
        if name not in bad:
            sound[name] = model.model_validate(raw[name]) if name in raw else None
    return sound


# Files


def _text_of(file: File) -> str:
    try:
        status = file.stat()
        if stat.S_ISDIR(status.st_mode):
            raise FileTrouble(f"{file} is a folder, not a profile; name a .toml file in it")
        if not stat.S_ISREG(status.st_mode):
            raise FileTrouble(f"{file} is not a plain file")
        if status.st_size > LARGEST_FILE:
            raise ProfileError([Complaint(key="", message=_too_large(status.st_size), file=str(file))])
        return _decoded(file.read_bytes(), str(file))
    except FileNotFoundError:
        raise FileTrouble(f"{file}: no such file") from None
    except (OSError, ValueError) as trouble:  # ValueError: a NUL inside the path
        reason = trouble.strerror if isinstance(trouble, OSError) else str(trouble)
        raise FileTrouble(f"{file} cannot be read: {reason}") from None


def _too_large(size: int) -> str:
    most = f"{LARGEST_FILE / 1e6:g} MB"
    return f"{size / 1e6:.1f} MB is too large for a profile, at most {most}; is it the right file?"


def _decoded(data: bytes, file: str) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise ProfileError([Complaint(key="", message="is saved as UTF-16; save it as UTF-8", file=file)])
    if b"\0" in data:
        message = f"is a binary file (a zero byte at {data.index(0)}), not a profile"
        raise ProfileError([Complaint(key="", message=message, file=file)])
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = data.count(b"\n", 0, wrong.start) + 1
        column = wrong.start - data.rfind(b"\n", 0, wrong.start)
        message = f"byte 0x{data[wrong.start]:02x} is not UTF-8 text; save the file as UTF-8"
        raise ProfileError(
            [Complaint(key="", message=message, file=file, line=line, column=column)]
        ) from None


def _first_layer(text: str, folder: File, file: str, path: File | None) -> Layer:
    return Layer(file=file, folder=folder, path=path, text=text, raw=_parsed(text, file))


_AT = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)")


def _parsed(text: str, file: str) -> Raw:
    try:
        return tomllib.loads(text)
    except RecursionError:
        message = "brackets are nested too deeply to be a profile"
        raise ProfileError([Complaint(key="", message=message, file=file)]) from None
    except ValueError as wrong:  # TOMLDecodeError, and numbers of thousands of digits
        said = str(wrong)
        found = _AT.search(said)
        line, column = 0, 0
        if found:
            line = int(found.group(1) or text.count("\n") + 1)
            column = int(found.group(2) or len(text) - text.rfind("\n"))
        message = f"TOML syntax: {_AT.sub('', said)}"
        raise ProfileError(
            [Complaint(key="", message=message, file=file, line=line, column=column)]
        ) from None


# extends


def _chain(first: Layer) -> list[Layer]:
    """This file and all it extends, the outermost first; a loop or an unreadable base is refused."""
    layers = [first]
    while "extends" in layers[-1].raw:
        layer = layers[-1]
        said = layer.raw["extends"]
        if not isinstance(said, str) or not said.strip():
            _refuse(layer, f'{shown(said)} is not a file name; write extends = "base.toml"')
        base = layer.folder / said
        shown_as = said if layer.folder == File() else str(base)
        if any(known.path is not None and _same_file(known.path, base) for known in layers):
            chain = " -> ".join([known.file for known in layers] + [shown_as])
            _refuse(layer, f"profiles extend each other in a loop: {chain}; take one extends line out")
        if len(layers) >= LONGEST_CHAIN:
            _refuse(layer, f"more than {LONGEST_CHAIN} files extend each other; shorten the chain")
        try:
            text = _text_of(base)
        except FileTrouble as trouble:
            _refuse(layer, f"cannot read the profile to start from: {trouble}")
        layers.append(
            Layer(file=shown_as, folder=base.parent, path=base, text=text, raw=_parsed(text, shown_as))
        )
    return layers


def _refuse(layer: Layer, message: str) -> None:
    raise ProfileError(_placed([Complaint(key="extends", message=message)], [layer]))


def _same_file(one: File, other: File) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False


def _spread(layer: Layer) -> list[Complaint]:
    clash = spread_flank_angle(layer.raw)
    return list(_placed([Complaint(key="ribs.flank_angle", message=clash)], [layer])) if clash else []


def _merged(layers: Sequence[Layer]) -> Raw:
    raw: Raw = {}
    for layer in reversed(layers):
        raw = _overridden(raw, layer.raw)
    raw.pop("extends", None)
    return raw


def _overridden(base: Raw, top: Raw) -> Raw:
    """Tables are merged key by key; everything else, lists of tables included, is replaced whole."""
    merged = dict(base)
    for key, value in top.items():
        below = merged.get(key)
        both_tables = isinstance(below, dict) and isinstance(value, dict)
        merged[key] = _overridden(below, value) if both_tables and below else copy.deepcopy(value)
    return merged


def _refuse_internal_keys(raw: Raw) -> list[Complaint]:
    mates = raw.get("mates")
    complaints = []
    for number, mate in enumerate(mates if isinstance(mates, list) else []):
        if isinstance(mate, dict) and "ribbed" in mate:
            del mate["ribbed"]
            complaints.append(
                Complaint(key=f"mates[{number}].ribbed", message=unknown_key(("mates", number, "ribbed")))
            )
    return complaints


# mates


def _read_mates(raw: Raw, layers: Sequence[Layer]) -> list[Complaint]:
    """Put the profile of every ribbed mate into its table; a mate's own mates are not read."""
    mates = raw.get("mates")
    writer = next((layer for layer in layers if "mates" in layer.raw), layers[0])
    complaints: list[Complaint] = []
    for number, mate in enumerate(mates if isinstance(mates, list) else []):
        said = mate.get("profile") if isinstance(mate, dict) else None
        if isinstance(said, str):
            complaints += _read_mate(mate, said, f"mates[{number}].profile", writer, layers)
    return complaints


def _read_mate(mate: Raw, said: str, key: str, writer: Layer, layers: Sequence[Layer]) -> list[Complaint]:
    path = writer.folder / said
    own = layers[0].path or layers[0].folder / layers[0].file
    if _same_file(own, path):
        message = (
            f'"{said}" is this profile itself; copy it under another name, or write a short file '
            f'with extends = "{said}" and its own name, and name that'
        )
        return [Complaint(key=key, message=message)]
    shown_as = said if writer.folder == File() else str(path)
    try:
        mate["ribbed"] = _source(
            _first_layer(_text_of(path), path.parent, shown_as, path), mates=False
        ).profile
    except FileTrouble as trouble:
        return [Complaint(key=key, message=f"cannot read the mate's profile: {trouble}")]
    except ProfileError as wrong:
        return list(wrong.complaints)
    return []


# places


def _placed(complaints: Iterable[Complaint], layers: Sequence[Layer]) -> tuple[Complaint, ...]:
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
    if path and path[-1] in ("flank_angle_ahead", "flank_angle_behind"):
        complaint, path = _as_written(complaint, path, maps)
    while path:
        for layer, places in zip(layers, maps, strict=True):
            if path in places:
                line, column = places[path]
                return replace(complaint, file=layer.file, line=line, column=column)
            if path[0] == "mates" and ("mates",) in places:
                break  # a list of tables replaces the base's: what stands there does not count
        path = path[:-1]
    return replace(complaint, file=layers[0].file)


def _as_written(
    complaint: Complaint, path: Path, maps: Sequence[dict[Path, Place]]
) -> tuple[Complaint, Path]:
    """A complaint about one flank belongs to ``flank_angle`` where the nearest file wrote it for both."""
    both = (*path[:-1], "flank_angle")
    nearest = next((places for places in maps if path in places or both in places), None)
    if nearest is None or path in nearest:
        return complaint, path
    return replace(complaint, key="ribs.flank_angle"), both
