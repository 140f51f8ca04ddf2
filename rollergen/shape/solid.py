"""A Part as an exact solid of the kernel, and the one door to the kernel.

No boolean, no sewing: faces come from ``solid_rows`` (numbers) and ``solid_faces`` (kernel objects), caps
are flat faces bounded by the same edges.  The solid is checked where it is born (``solid_check``).
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from math import radians
from typing import Any

from rollergen.errors import BirthError, MissingLibrary
from rollergen.shape.part import Part
from rollergen.shape.solid_faces import cap_face, faces_of
from rollergen.shape.solid_rows import fit_of, rows_of


def load_kernel() -> None:
    """Load the CAD kernel (about 0.7 s once), or say what to install.

    Raises MissingLibrary with the apt line when a system library such as libGL is not there.
    """
    try:
        with _uninterrupted():
            import_module("OCP.gp")
    except ImportError as error:
        if isinstance(error, ModuleNotFoundError) and (error.name or "").split(".")[0] == "OCP":
            raise MissingLibrary("the CAD kernel is missing: pip install 'cadquery>=2.8,<3'") from error
        raise MissingLibrary(
            f"the CAD kernel cannot be loaded ({error}): apt-get install libgl1 libegl1"
        ) from error


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Hold Ctrl-C back until the block is done, then let it through.

    An interrupt inside the kernel's start-up leaves it half registered: it then looks like a missing
    library and cannot be loaded again in this process.
    """
    if threading.current_thread() is not threading.main_thread():  # only the main thread is interrupted
        yield
        return
    held: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _: held.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if held:
        raise KeyboardInterrupt


def build_solid(part: Part, *, degree: int = 5, span: float = radians(15), check: bool = True) -> Any:
    """The part as one exact TopoDS_Solid (mm).

    Cylinders, cones and planes are true surfaces wherever the shape is one; the rest are splines of
    ``degree`` 3, 5 or 7, no coarser than ``span`` rad of twist and finer where the radius asks for it:
    error about 1 nm, at ``degree=3`` (old readers) below 10 nm.  Helix edges on true cylinders carry
    twice their measured error as tolerance.  ``check``: valid, one solid, volume = ``volume_of(part)``
    within 1e-6, else BirthError; without it the caller answers for the part.
    """
    if check:
        return checked_solid(part, degree=degree, span=span)[0]
    load_kernel()
    return _assembled(part, degree, span)


def checked_solid(part: Part, *, degree: int = 5, span: float = radians(15)) -> tuple[Any, float]:
    """As ``build_solid`` with its check, and the share by which the solid's volume was found to be off."""
    from rollergen.shape.solid_check import check_solid

    load_kernel()
    solid = _assembled(part, degree, span)
    return solid, check_solid(solid, part)


def _assembled(part: Part, degree: int, span: float) -> Any:
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid

    _refuse_open(part)
    fit = fit_of(degree, span)
    sides = [faces_of(rows_of(side, fit), side.material_inside) for side in part.sides]
    builder, shell, solid = BRep_Builder(), TopoDS_Shell(), TopoDS_Solid()
    builder.MakeShell(shell)
    for side in sides:
        for face in side.faces:
            builder.Add(shell, face)
    for cap in part.caps:
        outer, *holes = [sides[index].ends[end] for index, end in (cap.outer, *cap.holes)]
        builder.Add(shell, cap_face(cap.z, cap.up, outer, holes))
    shell.Closed(True)
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    return solid


def _refuse_open(part: Part) -> None:
    """Every end of every side must be used by exactly one cap at its own height."""
    used = [loop for cap in part.caps for loop in (cap.outer, *cap.holes)]
    wanted = [(i, end) for i in range(len(part.sides)) for end in ("low", "high")]
    if sorted(used) != sorted(wanted):
        raise BirthError(
            f"{part.name} is not closed: caps use {sorted(used)}, its sides end in {sorted(wanted)}"
        )
    for cap in part.caps:
        for index, end in (cap.outer, *cap.holes):
            z = part.sides[index].levels[0 if end == "low" else -1][0]
            if abs(z - cap.z) > 1e-9:
                raise BirthError(f"{part.name}: the cap at z {cap.z:.6g} mm uses an end at z {z:.6g} mm")


def as_cadquery(solid: Any) -> Any:
    """The solid as a ``cadquery.Solid``, for booleans and further modelling (loads cadquery, about 1 s)."""
    load_kernel()
    return import_module("cadquery").Solid(solid)
