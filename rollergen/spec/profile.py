"""What a profile says: one segment and its mates, as frozen plain numbers.

Units inside are mm, rad, kg, N, MPa; names say a unit only when it is another one.  Optional tables
left out of the file are ``None``; linked defaults (``fitted_length`` = ``free_length`` and the like)
are already filled in by ``spec.reading``, so nobody downstream has to know them.
"""

from __future__ import annotations

from math import hypot, inf, sqrt, tau
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from rollergen.spec.stretch_table import StressStrain
from rollergen.spec.units import (
    Angle,
    Colour,
    Count,
    Density,
    Expansion,
    FileName,
    Hardness,
    Length,
    Modulus,
    Name,
    PitchOrStraight,
    PositiveLength,
    Price,
    Ratio,
    Share,
    SignedLength,
)


class Table(BaseModel):
    """A table of the file: unknown keys refused, values frozen."""

    model_config = ConfigDict(extra="forbid", frozen=True, validate_default=True)


class Body(Table):
    """The round part. ``diameter``, ``free_length`` as cast, ``fitted_length`` on the shaft (mm)."""

    diameter: PositiveLength
    free_length: PositiveLength
    fitted_length: PositiveLength
    edge_chamfer: Length


class Ribs(Table):
    """The ribs. ``height`` above the body; angles in rad; ``helix_pitch`` is ``inf`` for straight."""

    count: Count = Field(ge=1, le=24)
    height: PositiveLength
    tip_width: PositiveLength
    flank_angle_ahead: Angle
    flank_angle_behind: Angle
    tip_radius: Length
    root_radius: Length
    helix_pitch: PitchOrStraight
    hand: Literal["right", "left"]
    start: Angle


def corner_reach(section: str, width: float, corner_radius: float) -> float:
    """Distance from the axis to the rounded corner of a square or hexagon ``width`` across flats (mm).

    For a circle (round, keyed) it is the radius.
    """
    sharp = {"square": sqrt(2.0), "hexagon": 2 / sqrt(3.0)}.get(section)
    return width / 2 if sharp is None else sharp * (width / 2 - corner_radius) + corner_radius


# how far a loose segment shifts off centre, into a corner where there is one, over half the play across flats
OFF_CENTRE = {"square": sqrt(2.0), "hexagon": 2 / sqrt(3.0), "round": 1.0, "keyed": 1.0}


class Bore(Table):
    """The shaft hole. ``across`` is the SHAFT size; the hole is ``across + clearance`` wide.

    Keyed only: a parallel-sided keyway ``key_width`` wide on +x, its flat floor at ``width/2 + key_depth``.
    """

    section: Literal["square", "hexagon", "round", "keyed"]
    across: PositiveLength
    clearance: Length
    corner_radius: Length
    shaft_corner_radius: Length
    shaft_tolerance: Length | None = None  # plus-minus; None where the file and the bar standard are silent
    key_width: PositiveLength | None = None
    key_depth: PositiveLength | None = None
    lead_in: Length

    @property
    def width(self) -> float:
        """Hole size across flats, or its diameter (mm)."""
        return self.across + self.clearance

    @property
    def reach(self) -> float:
        """Largest distance of the hole's edge from the axis: its rounded corner, its keyway (mm)."""
        if self.section == "keyed":
            return hypot(self.width / 2 + (self.key_depth or 0.0), (self.key_width or 0.0) / 2)
        return corner_reach(self.section, self.width, self.corner_radius)


class Chambers(Table):
    """The air holes. ``filled`` numbers (from 1) the chambers that hold foam."""

    count: Count = Field(ge=0, le=24)
    section: Literal["sector", "round"]
    wall: PositiveLength
    web: PositiveLength
    hub_wall: PositiveLength
    corner_radius: Length
    start: Angle
    fill: Literal["air", "foam"]
    foamed: tuple[Count, ...]
    foam_density_kg_m3: Density | None = Field(default=None, alias="foam_density")
    foam_modulus: Modulus | None = None


class Compound(Table):
    """The polyurethane. Values the file leaves out stay ``None``: a study that needs one asks for it."""

    name: Name
    density_kg_m3: Density = Field(alias="density")
    hardness: Hardness | None = None
    modulus: Modulus | None = None
    stress_strain: StressStrain | None = None
    loss_factor: Ratio | None = None
    shrinkage: Share | None = None
    axial_shrinkage: Share | None = None
    price: Price | None = None
    colour: Colour
    expansion: Expansion | None = None
    swell: Share | None = None


class Mate(Table):
    """The roller next to ours: smooth (``diameter``) or ribbed (``profile``, a file name)."""

    name: Name
    kind: Literal["smooth", "ribbed"]
    diameter: PositiveLength | None = None
    profile: str | None = None
    axis_distance: PositiveLength
    axis_distance_tolerance: Length
    least_tip_gap: SignedLength | None = None
    most_body_gap: SignedLength | None = None
    height: SignedLength
    speed_ratio: Ratio
    phase: Angle
    z_offset: SignedLength
    ribbed: Profile | None = None  # the mate's own profile, read by spec.reading; never a key of the file


class Profile(Table):
    """One segment as asked for."""

    name: FileName
    note: str = ""
    body: Body
    ribs: Ribs | None = None
    bore: Bore
    chambers: Chambers | None = None
    compound: Compound
    mates: tuple[Mate, ...] = ()

    @property
    def body_radius(self) -> float:
        return self.body.diameter / 2

    @property
    def tip_radius(self) -> float:
        """Radius of the rib tips about the axis; the body radius of a plain sleeve (mm)."""
        return self.body_radius + (self.ribs.height if self.ribs else 0.0)

    @property
    def turn_per_mm(self) -> float:
        """Twist of the section along z, rad per mm; positive for a right-hand helix."""
        if self.ribs is None or self.ribs.helix_pitch == inf:
            return 0.0
        return (1 if self.ribs.hand == "right" else -1) * tau / self.ribs.helix_pitch
