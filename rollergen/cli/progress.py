"""Progress on stderr, and only on a terminal: a file or a pipe gets none."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any


@contextmanager
def progress(total: int, what: str) -> Iterator[Any]:
    """A bar on stderr for more than one piece of work, and only on a terminal: yields ``step(text)``."""
    if total < 2 or not sys.stderr.isatty():
        yield lambda text: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (
        TextColumn(what),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        TextColumn("{task.fields[at]}"),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=total, at="")
        yield lambda text: bar.update(task, advance=1, at=text)


@contextmanager
def share_done(what: str) -> Iterator[Any]:
    """A bar of one long piece of work, on a terminal only: yields ``tell(share)``."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=1.0)
        yield lambda share: bar.update(task, completed=share)
