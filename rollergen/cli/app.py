"""The command line itself: one Typer application, one way in, one way to end."""

from __future__ import annotations

import os
import sys
from typing import Any

import typer

from rollergen.cli.showing import print_json

INTERRUPTED = 130
USAGE = 2
# the root of what a wrong command line raises; newer typer brings its own copy of click, so no import of it
CommandLineError: type[Exception] = typer.BadParameter.__mro__[2]

app = typer.Typer(
    name="rollergen",
    help="From one profile file to exact solids, gaps, grip, a stacked roller and its weight.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def run() -> None:
    """Entry point: carries out the command line and ends in an exit code."""
    code: object
    try:
        code = typer.main.get_command(app).main(standalone_mode=False)
    except CommandLineError as wrong:
        code = _usage(wrong)
    except (typer.Abort, KeyboardInterrupt):
        code = INTERRUPTED
    except SystemExit as ended:
        code = ended.code
    except BrokenPipeError:
        code = _reader_left()
    if code == INTERRUPTED:
        print("interrupted; files already written are whole", file=sys.stderr)
    _end(code if isinstance(code, int) else 0)


def _usage(wrong: Any) -> int:
    """A command line that cannot be read: words for people, and the same as JSON when that was asked for."""
    wrong.show()
    if "--json" in sys.argv:
        place = {"key": "", "file": "", "line": 0, "column": 0}
        print_json({"schema": 1, "errors": [{**place, "message": wrong.format_message()}]})
    return USAGE


def _reader_left() -> int:
    """The reader of our stdout went away (``| head``): nothing more to say, and no complaint at the end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0


def _end(code: int) -> None:
    """Leave.  With the kernel loaded, at once: its own tidying up takes 0.3 s and writes nothing."""
    if "OCP" not in sys.modules:
        sys.exit(code)
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)
