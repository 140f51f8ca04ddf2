"""Files leave whole or not at all: written aside in the same folder, then renamed."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

from rollergen.errors import FileTrouble


def write_aside(path: Path, data: bytes) -> None:
    """Write ``data`` to ``path`` in one step; whatever stood there stays until the new file is complete.

    Raises FileTrouble when the folder cannot be made or written, or the disk is full.
    """
    write_together([(path, data)])


def write_together(files: Sequence[tuple[Path, bytes]]) -> None:
    """Write every file aside first, then rename them all: a folder or disk that refuses one gets none.

    Raises FileTrouble as ``write_aside`` does.
    """
    aside: list[str] = []
    try:
        for path, data in files:
            aside.append(_written_aside(path, data))
        for path, _ in files:
            _renamed(aside[0], path)
            aside.pop(0)
    finally:
        for left in aside:
            os.unlink(left)


def _written_aside(path: Path, data: bytes) -> str:
    aside: str | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(aside, 0o644)
    except OSError as trouble:
        if aside is not None:
            os.unlink(aside)
        raise FileTrouble(f"{path} cannot be written: {trouble.strerror or trouble}") from trouble
    if path.is_dir():  # the one thing that would stop the rename
        os.unlink(aside)
        raise FileTrouble(f"{path} cannot be written: it is a folder")
    return aside


def _renamed(aside: str, path: Path) -> None:
    try:
        os.replace(aside, path)
    except OSError as trouble:
        raise FileTrouble(f"{path} cannot be written: {trouble.strerror or trouble}") from trouble
