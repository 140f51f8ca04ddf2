"""The front door: reads the command line, prints results, answers with an exit code."""

from rollergen.cli import (
    beds,
    flexes,
    gaps,
    grips,
    inspections,
    moulds,
    pages,
    pictures,
    protos,
    rollers,
    sheds,
    sheets,
    solids,
)
from rollergen.cli.app import app, run

__all__ = [
    "app",
    "beds",
    "flexes",
    "gaps",
    "grips",
    "inspections",
    "moulds",
    "pages",
    "pictures",
    "protos",
    "rollers",
    "run",
    "sheds",
    "sheets",
    "solids",
]
