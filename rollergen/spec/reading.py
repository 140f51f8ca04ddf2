"""Reads a profile, a duty or a bed: TOML in, frozen values out, or every complaint about the file at once.

Two stages only: texts and numbers here (with the limits), geometry later in ``shape.section``.
Whoever finds a geometric complaint puts it in its place with ``placed``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path as File
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from pydantic import BaseModel, ValidationError

from rollergen.errors import Complaint, FileTrouble, ProfileError
from rollergen.spec.defaults import fill_bed_defaults, fill_defaults, fill_duty_defaults, spread_flank_angle
from rollergen.spec.files import Layer, Raw, layer_from_file, layer_from_text, same_file
from rollergen.spec.forms import PROFILE, Form
from rollergen.spec.layers import chain_of, merged, name_of, placed_in
from rollergen.spec.limits import broken_limits, warnings_of
from rollergen.spec.profile import Profile
from rollergen.spec.wording import complaints_about, unknown_key

if TYPE_CHECKING:  # duties and beds are loaded by who reads one
    from rollergen.spec.bed import Bed
    from rollergen.spec.duty import Duty

Defaults = Mapping[str, tuple[str, str]]
Filled = TypeVar("Filled", bound=BaseModel)


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A profile with where it came from: its files (this one first, then what it extends) and its defaults.

    ``defaults`` maps a dotted key to (value as text, why) for every key the files left out.
    """

    profile: Profile
    layers: tuple[Layer, ...]
    defaults: Defaults


@dataclass(frozen=True, slots=True, kw_only=True)
class DutySource:
    """A duty with where it came from; ``defaults`` also names the source and mark of every preset value."""

    duty: Duty
    layers: tuple[Layer, ...]
    defaults: Defaults


@dataclass(frozen=True, slots=True, kw_only=True)
class BedSource:
    """A bed with where it came from."""

    bed: Bed
    layers: tuple[Layer, ...]
    defaults: Defaults


class Placing(Protocol):
    """Anything read from files that a complaint can be placed in."""

    @property
    def layers(self) -> tuple[Layer, ...]: ...


def read_profile(path: str | File) -> Profile:
    """The segment a profile file asks for, with its linked defaults and ribbed mates filled in.

    Raises ``FileTrouble`` when the file cannot be read and ``ProfileError`` with all complaints, each with
    file, line and column, when what it says is wrong.
    """
    return read_source(path).profile


def read_source(path: str | File) -> Source:
    """As ``read_profile``, and also which defaults were filled and where every key stands."""
    return _source(layer_from_file(File(path), str(path), "profile"), mates=True)


def profile_from_text(text: str, *, folder: str | File | None = None, file: str = "profile.toml") -> Profile:
    """The segment a profile text asks for; ``folder`` is where ``extends`` and ribbed mates are looked up."""
    return source_from_text(text, folder=folder, file=file).profile


def source_from_text(text: str, *, folder: str | File | None = None, file: str = "profile.toml") -> Source:
    """As ``profile_from_text``, and also which defaults were filled and where every key stands."""
    return _source(layer_from_text(text, folder, file, "profile"), mates=True)


def read_duty(path: str | File) -> Duty:
    """The duty a file describes, its presets and defaults filled in; raises as ``read_profile`` does."""
    return read_duty_source(path).duty


def read_duty_source(path: str | File) -> DutySource:
    """As ``read_duty``, and also which values a preset or a default filled and where every key stands."""
    return _duty(layer_from_file(File(path), str(path), "duty"))


def duty_from_text(text: str, *, folder: str | File | None = None, file: str = "duty.toml") -> Duty:
    """The duty a text describes; ``folder`` is where ``extends`` is looked up."""
    return duty_source_from_text(text, folder=folder, file=file).duty


def duty_source_from_text(
    text: str, *, folder: str | File | None = None, file: str = "duty.toml"
) -> DutySource:
    """As ``duty_from_text``, and also which values were filled and where every key stands."""
    return _duty(layer_from_text(text, folder, file, "duty"))


def read_bed(path: str | File) -> Bed:
    """The bed a file describes, the profile of every roller read; raises as ``read_profile`` does.

    A profile that cannot be read is a complaint about the bed (``ProfileError``), with its roller's place.
    """
    return read_bed_source(path).bed


def read_bed_source(path: str | File) -> BedSource:
    """As ``read_bed``, and also which defaults were filled and where every key stands."""
    return _bed(layer_from_file(File(path), str(path), "bed"))


def bed_from_text(text: str, *, folder: str | File | None = None, file: str = "bed.toml") -> Bed:
    """The bed a text describes; ``folder`` is where ``extends`` and profiles are looked up."""
    return bed_source_from_text(text, folder=folder, file=file).bed


def bed_source_from_text(text: str, *, folder: str | File | None = None, file: str = "bed.toml") -> BedSource:
    """As ``bed_from_text``, and also which defaults were filled and where every key stands."""
    return _bed(layer_from_text(text, folder, file, "bed"))


def placed(complaints: Iterable[Complaint], source: Placing) -> tuple[Complaint, ...]:
    """The complaints with file, line and column of their keys, sorted by place.

    A key that stands nowhere (it is missing) gets the place of its table's header, and of its file at least.
    A complaint that already has a file is left as it is.
    """
    return placed_in(complaints, source.layers)


def warnings_for(source: Source | DutySource | BedSource) -> tuple[Complaint, ...]:
    """What is legal but worth a second look, each with its place."""
    if isinstance(source, Source):
        return placed(warnings_of(source.profile), source)
    if isinstance(source, DutySource):
        from rollergen.spec.duty_limits import duty_warnings

        return placed(duty_warnings(source.duty), source)
    from rollergen.spec.bed_limits import bed_warnings

    return placed(bed_warnings(source.bed), source)


# The road: layers -> merged -> defaults -> other files -> validated -> limits


def _source(first: Layer, *, mates: bool) -> Source:
    layers = chain_of(first, PROFILE.what)
    complaints = [complaint for layer in layers for complaint in _spread(layer)]
    raw = merged(layers)
    if not mates:
        raw.pop("mates", None)
    complaints += _refuse_internal_keys(raw, PROFILE)
    defaults = fill_defaults(raw)
    complaints += _read_mates(raw, layers)
    profile = _validated(raw, PROFILE, broken_limits, complaints, layers)
    return Source(profile=profile, layers=tuple(layers), defaults=defaults)


def _duty(first: Layer) -> DutySource:
    from rollergen.spec.duty_forms import DUTY
    from rollergen.spec.duty_limits import broken_duty_limits, sizes_told_once

    layers = chain_of(first, DUTY.what)
    _override_sizes(layers)
    raw = merged(layers)
    defaults = fill_duty_defaults(raw)
    duty = _validated(raw, DUTY, broken_duty_limits, sizes_told_once(raw), layers)
    return DutySource(duty=duty, layers=tuple(layers), defaults=defaults)


def _bed(first: Layer) -> BedSource:
    from rollergen.spec.bed_limits import broken_bed_limits
    from rollergen.spec.duty_forms import BED

    layers = chain_of(first, BED.what)
    raw = merged(layers)
    complaints = _refuse_internal_keys(raw, BED)
    defaults = fill_bed_defaults(raw)
    complaints += _read_segments(raw, layers)
    bed = _validated(raw, BED, broken_bed_limits, complaints, layers)
    return BedSource(bed=bed, layers=tuple(layers), defaults=defaults)


def _validated(
    raw: Raw,
    form: Form[Filled],
    broken: Callable[..., list[Complaint]],
    complaints: Sequence[Complaint],
    layers: Sequence[Layer],
) -> Filled:
    """What the form says, or all complaints: those so far, those of its texts, and of every limit that can be judged."""
    found = list(complaints)
    try:
        filled = form.model.model_validate(raw)
    except ValidationError as wrong:
        errors = wrong.errors(include_url=False)
        sound = _sound_tables(raw, form, bad={str(error["loc"][0]) for error in errors}, found=found)
        found += complaints_about(errors, raw, form)
        found += broken(form.model.model_construct(None, **sound), tables=set(sound))
        raise ProfileError(placed_in(found, layers)) from None
    sound = _sound_tables(raw, form, bad=set(), found=found)
    found += broken(filled, tables=set(sound))
    if found:
        raise ProfileError(placed_in(found, layers))
    return filled


def _sound_tables(
    raw: Raw, form: Form[Filled], *, bad: set[str], found: Iterable[Complaint]
) -> dict[str, Any]:
    """The tables that could be read and that no complaint has been made about yet."""
    bad = bad | {complaint.key.split(".")[0].split("[")[0] for complaint in found if not complaint.file}
    sound: dict[str, Any] = {}
    for name, model in form.tables.items():
        if name in bad:
            continue
        if name in form.lists:
            sound[name] = tuple(model.model_validate(entry) for entry in raw.get(name, ()))
        else:
            sound[name] = model.model_validate(raw[name]) if name in raw else None
    return sound


def _refuse_internal_keys(raw: Raw, form: Form[Any]) -> list[Complaint]:
    complaints = []
    for name in sorted(form.lists):
        entries = raw.get(name)
        for number, entry in enumerate(entries if isinstance(entries, list) else []):
            for key in sorted(form.never_written & set(entry)) if isinstance(entry, dict) else ():
                del entry[key]
                path = (name, number, key)
                complaints.append(Complaint(key=f"{name}[{number}].{key}", message=unknown_key(path, form)))
    return complaints


# profile: flanks and mates


def _spread(layer: Layer) -> list[Complaint]:
    clash = spread_flank_angle(layer.raw)
    return list(placed_in([Complaint(key="ribs.flank_angle", message=clash)], [layer])) if clash else []


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
    if same_file(own, path):
        message = (
            f'"{said}" is this profile itself; copy it under another name, or write a short file '
            f'with extends = "{said}" and its own name, and name that'
        )
        return [Complaint(key=key, message=message)]
    try:
        mate["ribbed"] = _source(layer_from_file(path, name_of(said, writer), "profile"), mates=False).profile
    except FileTrouble as trouble:
        return [Complaint(key=key, message=f"cannot read the mate's profile: {trouble}")]
    except ProfileError as wrong:
        return list(wrong.complaints)
    return []


# duty: sizes


def _override_sizes(layers: Sequence[Layer]) -> None:
    """A file that tells the crop's sizes in one way takes back what its base tells in the other."""
    told: set[str] = set()
    for layer in layers:
        crop = layer.raw.get("crop")
        if not isinstance(crop, dict):
            continue
        here = {"diameters", "sieve"} & set(crop)
        for key in here if told else ():
            del crop[key]
        told = told or here


# bed: segments


def _read_segments(raw: Raw, layers: Sequence[Layer]) -> list[Complaint]:
    """Put the profile of every roller that names one into its table, each file read once."""
    rollers = raw.get("rollers")
    writer = next((layer for layer in layers if "rollers" in layer.raw), layers[0])
    known: dict[str, Profile | list[Complaint]] = {}
    complaints: list[Complaint] = []
    for number, roller in enumerate(rollers if isinstance(rollers, list) else []):
        said = roller.get("profile") if isinstance(roller, dict) else None
        if not isinstance(said, str):
            continue
        if said not in known:
            known[said] = _segment(said, f"rollers[{number}].profile", writer)
        read = known[said]
        if isinstance(read, Profile):
            roller["segment"] = read
        else:
            complaints += read
    return complaints


def _segment(said: str, key: str, writer: Layer) -> Profile | list[Complaint]:
    try:
        return _source(
            layer_from_file(writer.folder / said, name_of(said, writer), "profile"), mates=True
        ).profile
    except FileTrouble as trouble:
        return [Complaint(key=key, message=f"cannot read the roller's profile: {trouble}")]
    except ProfileError as wrong:
        return list(wrong.complaints)
