"""Text files as they come: read from disk, decoded, parsed as TOML, every failure with its place and way out."""

from __future__ import annotations

import re
import stat
import tomllib
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path as File
from typing import Any, NoReturn

from rollergen.errors import Complaint, FileTrouble, ProfileError
from rollergen.spec.places import Path, dotted, places_of

LARGEST_FILE = 2_000_000  # bytes; a profile, a duty or a bed is a page of text
LONGEST_NUMBER = 64  # bits, TOML 1.0: "arbitrary 64-bit signed integers should be accepted"
DEEPEST = 50  # tables and lists in each other; ours go 4 deep
MOST_GIANTS = 20  # complained about; more of them help nobody

Raw = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One file of an ``extends`` chain: its name as shown, its folder, its text and what it says."""

    file: str
    folder: File
    path: File | None
    text: str
    raw: Raw


def layer_from_file(path: File, shown_as: str, what: str) -> Layer:
    """The file read and parsed; ``what`` ("profile", "duty", "bed") names in messages what it should be.

    Raises ``FileTrouble`` when it cannot be read and ``ProfileError`` when it is no such file.
    """
    return _layer(_text_of(path, what), path.parent, shown_as, path, what)


def layer_from_text(text: str, folder: str | File | None, file: str, what: str) -> Layer:
    """A text as if it stood in ``file``; ``folder`` is where the files it names are looked up."""
    if len(text) > LARGEST_FILE:
        _refuse(_too_large(len(text), what), file)
    return _layer(text, File(folder) if folder is not None else File(), file, None, what)


def same_file(one: File, other: File) -> bool:
    """Whether two paths lead to one file; no where one leads nowhere."""
    try:
        return one.samefile(other)
    except OSError:
        return False


def _layer(text: str, folder: File, file: str, path: File | None, what: str) -> Layer:
    raw = _parsed(text, file, what)
    if giants := list(islice(_giants(raw, file, what), MOST_GIANTS)):
        places = places_of(text)
        raise ProfileError([_giant(path, *places.get(path, (0, 0)), file) for path in giants])
    return Layer(file=file, folder=folder, path=path, text=text, raw=raw)


def _giants(raw: Raw, file: str, what: str) -> Iterator[Path]:
    """Where whole numbers stand that TOML does not promise to hold; they may be too long even to be printed.

    Refuses a text nested too deeply: dotted keys (a.b.c …) nest without brackets and without end.
    """
    waiting: deque[tuple[Path, Any]] = deque([((), raw)])
    while waiting:
        path, node = waiting.popleft()
        if len(path) > DEEPEST:
            _refuse(f"tables are nested too deeply to be a {what}", file)
        if isinstance(node, int) and node.bit_length() > LONGEST_NUMBER:
            yield path
        if isinstance(node, dict | list):
            entries = node.items() if isinstance(node, dict) else enumerate(node)
            waiting += [((*path, key), value) for key, value in entries]


def _giant(path: Path, line: int, column: int, file: str) -> Complaint:
    message = f"is a whole number of more than {LONGEST_NUMBER} bits; write the number you mean, e.g. 5"
    return Complaint(key=dotted(path), message=message, file=file, line=line, column=column)


def _refuse(message: str, file: str, *, line: int = 0, column: int = 0) -> NoReturn:
    complaint = Complaint(key="", message=message, file=file, line=line, column=column)
    raise ProfileError([complaint])


def _text_of(file: File, what: str) -> str:
    try:
        status = file.stat()
        if stat.S_ISDIR(status.st_mode):
            raise FileTrouble(f"{file} is a folder, not a {what}; name a .toml file in it")
        if not stat.S_ISREG(status.st_mode):
            raise FileTrouble(f"{file} is not a plain file")
        if status.st_size > LARGEST_FILE:
            _refuse(_too_large(status.st_size, what), str(file))
        return _decoded(file.read_bytes(), str(file), what)
    except FileNotFoundError:
        raise FileTrouble(f"{file}: no such file") from None
    except (OSError, ValueError) as trouble:  # ValueError: a NUL inside the path
        reason = trouble.strerror if isinstance(trouble, OSError) else str(trouble)
        raise FileTrouble(f"{file} cannot be read: {reason}") from None


def _too_large(size: int, what: str) -> str:
    most = f"{LARGEST_FILE / 1e6:g} MB"
    return f"{size / 1e6:.1f} MB is too large for a {what}, at most {most}; is it the right file?"


def _decoded(data: bytes, file: str, what: str) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        _refuse("is saved as UTF-16; save it as UTF-8", file)
    if b"\0" in data:
        _refuse(f"is a binary file (a zero byte at {data.index(0)}), not a {what}", file)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        start = wrong.start
    line = data.count(b"\n", 0, start) + 1
    column = start - data.rfind(b"\n", 0, start)
    message = f"byte 0x{data[start]:02x} is not UTF-8 text; save the file as UTF-8"
    _refuse(message, file, line=line, column=column)


_AT = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)")


def _parsed(text: str, file: str, what: str) -> Raw:
    try:
        return tomllib.loads(text)
    except RecursionError:
        message, line, column = f"brackets are nested too deeply to be a {what}", 0, 0
    except ValueError as wrong:  # TOMLDecodeError, and numbers of thousands of digits
        said = str(wrong)
        message, line, column = f"TOML syntax: {_AT.sub('', said)}", 0, 0
        if found := _AT.search(said):
            line = int(found.group(1) or text.count("\n") + 1)
            column = int(found.group(2) or len(text) - text.rfind("\n"))
    _refuse(message, file, line=line, column=column)
