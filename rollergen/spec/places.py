"""Where a key stands in a TOML text: needed only once something is wrong, so it is worked out only then."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

Path = tuple[str | int, ...]
Place = tuple[int, int]

_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"""|' + r"'''.*?'''|" + r'"(?:\\.|[^"\\\n])*"|' + r"'[^'\n]*'|#[^\n]*|[\[{]|[\]}]|\n",
    re.DOTALL,
)


def dotted(path: Path) -> str:
    """A path as the user would say it: ``mates[0].diameter``."""
    text = ""
    for part in path:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def undotted(key: str) -> Path:
    """The path a dotted key stands for; the inverse of ``dotted``."""
    parts: list[str | int] = []
    for name, index in re.findall(r"([^.\[\]]+)|\[([0-9]+)\]", key):
        parts.append(name if name else int(index))
    return tuple(parts)


def places_of(text: str) -> dict[Path, Place]:
    """Line and column (from 1) of every key, table header and array entry of a valid TOML text."""
    found: dict[Path, Place] = {}
    prefix: Path = ()
    counts: dict[Path, int] = {}
    for place, statement in _statements(text):
        read = tomllib.loads(statement)
        if not statement.startswith("["):
            for path in _paths(read):
                found.setdefault(prefix + path, place)
            continue
        prefix = _header(read, counts, is_array=statement.startswith("[["))
        for length in range(1, len(prefix) + 1):
            found.setdefault(prefix[:length], place)
    return found


def _statements(text: str) -> Iterator[tuple[Place, str]]:
    """Each statement of the text with the place of its first letter; comments and blank lines left out."""
    begin, line, depth = 0, 1, 0
    for token in _TOKEN.finditer(text + "\n"):
        letter = token.group()
        if letter in "[{":
            depth += 1
        elif letter in "]}":
            depth -= 1
        elif letter == "\n" and depth <= 0:
            statement = text[begin : token.start()]
            bare = statement.lstrip()
            if bare and not bare.startswith("#"):
                skipped = statement[: len(statement) - len(bare)]
                yield (line, len(skipped) + 1), bare
            line += statement.count("\n") + 1
            begin, depth = token.end(), 0


def _header(read: Mapping[str, Any], counts: dict[Path, int], *, is_array: bool) -> Path:
    """The path a table header opens, with the number of the array entry it stands in."""
    path: Path = ()
    node: Any = read
    while isinstance(node, dict) and node:
        name = next(iter(node))
        path, node = (*path, name), node[name]
        last = not (isinstance(node, dict) and node)
        if last and is_array:
            counts[path] = counts.get(path, -1) + 1  # the path holds its parents' numbers
        if path in counts:
            path = (*path, counts[path])
    return path


def _paths(node: Any) -> Iterator[Path]:
    entries = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in entries:
        yield (key,)
        for path in _paths(value):
            yield (key, *path)
