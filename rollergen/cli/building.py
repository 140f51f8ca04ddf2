"""Many profiles at once: what is asked, what is kept because nothing changed, what is made side by side.

Workers read and compute, the front process writes: however the run ends, a file is whole or not there.
"""

from __future__ import annotations

import hashlib
import os
import signal
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rollergen.cli.showing import json_text
from rollergen.errors import BirthError, Complaint, RollergenError, UsageError

if TYPE_CHECKING:
    from rollergen.answer.fitted import Assumed
    from rollergen.spec.reading import Source


WORTH_A_WORKER = 4  # profiles: a worker starts in about 1.2 s, mostly the kernel; a profile takes about 0.4 s


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One profile to build and how; everything the files depend on beside the profile itself."""

    path: Path
    out: Path
    formats: tuple[str, ...]
    chord_error: float
    detail: str
    degree: int
    assumed: Assumed
    again: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """What came of an order: a report and files still to be written, or complaints and an exit code.

    ``kept``: the files of an earlier run are what would come out, so there is nothing to write.
    """

    name: str
    report: dict[str, Any] | None
    files: tuple[tuple[Path, bytes], ...] = ()
    kept: bool = False
    notes: tuple[str, ...] = ()
    defaults: tuple[str, ...] = ()
    complaints: tuple[Complaint, ...] = ()
    exit_code: int = 0


def built(orders: Sequence[Order], *, jobs: int) -> Iterator[Built]:
    """The results in the order asked for, ``jobs`` profiles at a time (0: as many as pays).

    What an earlier run made from the same is kept and needs no worker.
    """
    kept = [None if order.again else _kept(order) for order in orders]
    todo = [order for order, found in zip(orders, kept, strict=True) if found is None]
    made = _made(todo, jobs or min(cores(), len(todo) // WORTH_A_WORKER))
    for found in kept:
        yield found if found is not None else next(made)


def _made(orders: Sequence[Order], jobs: int) -> Iterator[Built]:
    if jobs <= 1 or len(orders) <= 1:
        yield from map(build_one, orders)
        return
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import get_context

    # spawn: the same on every system, and no half-copied thread of this process inside a worker
    pool = ProcessPoolExecutor(
        min(jobs, len(orders)), mp_context=get_context("spawn"), initializer=_leave_interrupts_to_the_front
    )
    try:
        yield from pool.map(build_one, orders)
    except BrokenProcessPool as broken:
        raise BirthError("a worker process died, most likely for want of memory; try --jobs 1") from broken
    finally:
        pool.shutdown(cancel_futures=True)


def _leave_interrupts_to_the_front() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def build_one(order: Order) -> Built:
    """One profile, from its file to the bytes of every file asked for.  Writes nothing."""
    from rollergen.answer.report import draw, report_of, verdicts_of
    from rollergen.cli.writing import write_formats
    from rollergen.spec.reading import read_source

    name = order.path.stem
    try:
        source = read_source(order.path)
        name = source.profile.name
        drawn = draw(source, detail=order.detail)
        verdicts = verdicts_of(drawn, source, order.assumed)
        made = write_formats(drawn, order.formats, chord_error=order.chord_error, degree=order.degree)
    except RollergenError as wrong:
        return Built(name=name, report=None, complaints=wrong.complaints, exit_code=wrong.exit_code)
    entries = [{**entry, "path": f"{name}.{kind}"} for kind, _, entry in made]
    report = {**report_of(drawn, verdicts, entries), "made_from_sha256": stamp_of(source, order)}
    files = [(order.out / name / f"{name}.{kind}", data) for kind, data, _ in made]
    files.append((order.out / name / f"{name}.report.json", json_text(report).encode()))
    return _told(source, report, tuple(files))


def _told(source: Source, report: dict[str, Any], files: tuple[tuple[Path, bytes], ...]) -> Built:
    from rollergen.spec.reading import warnings_for

    notes = [f"warning: {warning}" for warning in warnings_for(source)]
    notes += [f"warning: {reason}" for gap in report["gaps"] for reason in gap["fitted"]["reasons"]]
    return Built(
        name=source.profile.name,
        report=report,
        files=files,
        kept=not files,
        notes=tuple(notes),
        defaults=tuple(f"{k} = {v}  ({why})" for k, (v, why) in sorted(source.defaults.items())),
    )


def stamp_of(source: Source, order: Order) -> str:
    """Hash of all that the files depend on: the profile with its mates and defaults, the options, this program."""
    asked = (order.formats, order.chord_error, order.detail, order.degree, order.assumed)
    return hashlib.sha256(repr((_program(), source.profile, asked)).encode()).hexdigest()


@cache
def _program() -> str:
    """Hash of this program's own files and the versions of what it computes with."""
    from importlib.metadata import version

    root = Path(__file__).resolve().parent.parent
    digest = hashlib.sha256()
    for file in sorted(f for f in root.rglob("*") if f.suffix in (".py", ".csv", ".toml")):
        digest.update(file.read_bytes())
    for library in ("cadquery-ocp", "numpy", "ezdxf"):
        digest.update(version(library).encode())
    return digest.hexdigest()


def _kept(order: Order) -> Built | None:
    """What an earlier run made, when it was made from the same and every file of it still stands."""
    import json

    from rollergen.spec.reading import read_source

    try:
        source = read_source(order.path)
        folder = order.out / source.profile.name
        report = json.loads((folder / f"{source.profile.name}.report.json").read_bytes())
        if not isinstance(report, dict) or report.get("made_from_sha256") != stamp_of(source, order):
            return None
        for file in report["files"]:
            if hashlib.sha256((folder / file["path"]).read_bytes()).hexdigest() != file["sha256"]:
                return None
    except (RollergenError, OSError, ValueError, KeyError, TypeError):
        return None  # nothing there, not ours, or a profile that building will complain about
    return _told(source, report, ())


def refuse_twins(results: Sequence[Built]) -> None:
    """Two profiles of one name would write over each other."""
    names = [result.name for result in results if result.report is not None]
    twins = sorted({name for name in names if names.count(name) > 1})
    if twins:
        raise UsageError(f"two profiles are called {', '.join(twins)}; give each its own name")


def cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
