"""What can go wrong, and what the front door answers.

    RollergenError
    |-- ProfileError      what was asked for is wrong: every complaint of a file at once     exit 2
    |   `-- LimitNotMet   possible, but not within a limit the user stated; nothing was made   exit 3
    |-- UsageError        the command line is wrong                                         exit 2
    |-- MissingLibrary    a system library or an optional extra is missing                  exit 4
    |-- FileTrouble       cannot read or write                                              exit 5
    `-- BirthError        a solid or mesh of ours fails its own check: a bug, never shipped  exit 1

A stated limit that is not met (a gap too small) is a verdict, not an error: exit 3.  ``LimitNotMet`` is for where
nothing can be made without it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Complaint:
    """One thing wrong with a file: the key, what was said, what the limit is, the way out.

    ``key`` is a dotted path as the user wrote it (``ribs.height``, ``mates[0].diameter``).
    ``line`` and ``column`` count from 1; 0 means "not known" (a key that is missing).
    """

    key: str
    message: str
    file: str = ""
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        place = ":".join(part for part in (self.file, str(self.line or ""), str(self.column or "")) if part)
        head = f"{place}: " if place else ""
        return f"{head}{self.key}: {self.message}" if self.key else f"{head}{self.message}"


class RollergenError(Exception):
    """Root of everything this program raises on purpose."""

    exit_code = 1

    @property
    def complaints(self) -> tuple[Complaint, ...]:
        return (Complaint(key="", message=str(self)),)


class ProfileError(RollergenError):
    """A profile (or bed, or duty) asks for something impossible or unreadable."""

    exit_code = 2

    def __init__(self, complaints: Sequence[Complaint]) -> None:
        self._complaints = tuple(complaints)
        super().__init__("\n".join(str(complaint) for complaint in self._complaints))

    @property
    def complaints(self) -> tuple[Complaint, ...]:
        return self._complaints

    def __reduce__(self) -> tuple[type[ProfileError], tuple[tuple[Complaint, ...]]]:
        return (type(self), (self._complaints,))  # crosses process borders whole


class LimitNotMet(ProfileError):
    """What was asked for can be done, but not within a limit the user stated: nothing was made."""

    exit_code = 3


class UsageError(RollergenError):
    """The command line cannot be carried out as written."""

    exit_code = 2


class MissingLibrary(RollergenError):
    """A system library or an optional extra is not installed; the message names the command."""

    exit_code = 4


class FileTrouble(RollergenError):
    """A file or folder cannot be read or written."""

    exit_code = 5


class BirthError(RollergenError):
    """A solid or mesh failed the check made where it is born; nothing was written."""
