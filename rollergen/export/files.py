"""Files leave whole or not at all: written aside in the same folder, then renamed."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from rollergen.errors import FileTrouble


def write_aside(path: Path, data: bytes) -> None:
    """Write ``data`` to ``path`` in one step; whatever stood there stays until the new file is complete.

    Raises FileTrouble when the folder cannot be made or written, or the disk is full.
    """
    aside: str | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(aside, 0o644)
        os.replace(aside, path)
        aside = None
    except OSError as trouble:
        raise FileTrouble(f"{path} cannot be written: {trouble.strerror or trouble}") from trouble
    finally:
        if aside is not None:
            os.unlink(aside)
