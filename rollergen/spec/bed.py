"""What a bed says: rollers side by side, each a profile or a smooth diameter, where it lies and how it turns.

Seen from +z, x to the right and y up; rotation speed in rad/s, positive counter-clockwise.
"""

from __future__ import annotations

from math import hypot
from typing import Annotated, Literal

from pydantic import BeforeValidator

from rollergen.spec.duty import rpm
from rollergen.spec.kinds import SIGNED_ROTATION_SPEED
from rollergen.spec.profile import Profile, Table
from rollergen.spec.units import (
    Angle,
    FileName,
    Name,
    PositiveLength,
    SignedLength,
    reader,
    text_schema,
)

SignedSpeed = Annotated[
    float, BeforeValidator(reader(SIGNED_ROTATION_SPEED)), text_schema(SIGNED_ROTATION_SPEED, "-90 rpm")
]


class BedRoller(Table):
    """One roller of the bed: ``profile`` (a file, read into ``segment``) or a smooth one of ``diameter``.

    ``x``, ``y`` of its axis (mm); ``rotation_speed`` (rad/s, positive counter-clockwise seen from +z) is
    ``None`` where the file does not say; ``phase`` (rad) turns the section against its own profile.
    """

    name: Name
    profile: str | None = None
    diameter: PositiveLength | None = None
    x: SignedLength
    y: SignedLength
    rotation_speed: SignedSpeed | None = None
    phase: Angle
    segment: Profile | None = None  # the profile, read by spec.reading; never a key of the file

    @property
    def kind(self) -> Literal["smooth", "ribbed"]:
        """ "ribbed" where the profile has ribs; a plain sleeve and a bare diameter are smooth."""
        return "ribbed" if self.segment is not None and self.segment.ribs is not None else "smooth"

    @property
    def body_radius(self) -> float:
        """Radius of the body (mm)."""
        if self.segment is not None:
            return self.segment.body_radius
        assert self.diameter is not None  # bed_limits refuses a roller without either
        return self.diameter / 2

    @property
    def tip_radius(self) -> float:
        """Radius of the rib tips (mm); the body radius of a smooth roller."""
        return self.segment.tip_radius if self.segment is not None else self.body_radius

    @property
    def speed_rpm(self) -> float | None:
        """Turns a minute, signed; ``None`` where the file does not say."""
        return None if self.rotation_speed is None else rpm(self.rotation_speed)


class Bed(Table):
    """Rollers side by side; ``width`` is the clear shaft length between the end plates (mm)."""

    name: FileName
    note: str = ""
    width: PositiveLength
    rollers: tuple[BedRoller, ...]

    @property
    def neighbours(self) -> tuple[tuple[int, int], ...]:
        """Numbers of the rollers that lie side by side, from left to right (by x, then y)."""
        row = sorted(range(len(self.rollers)), key=lambda n: (self.rollers[n].x, self.rollers[n].y))
        return tuple(zip(row, row[1:], strict=False))

    def axis_distance(self, one: int, other: int) -> float:
        """Distance between the axes of two rollers, by number (mm)."""
        a, b = self.rollers[one], self.rollers[other]
        return hypot(b.x - a.x, b.y - a.y)
