"""What a duty says: the crop that must stay, the debris and soil that must go, and how the roller runs.

Units inside are mm, rad, kg, N, MPa, s; names say a unit only when it is another one.  Ranges are (lowest,
highest).  What the file leaves out and no default fills is ``None``: a study that needs it asks for it.
"""

from __future__ import annotations

from functools import partial
from math import pi
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from rollergen.spec.duty_presets import known_preset
from rollergen.spec.kinds import (
    BRUISE_PRESSURE,
    CROP_DENSITY,
    DEBRIS_DENSITY,
    ITEM_SIZE,
    LINE_LOAD,
    SIGNED_ROTATION_SPEED,
    SOIL_DENSITY,
    SOIL_LAYER,
)
from rollergen.spec.numerals import Unreadable
from rollergen.spec.profile import Table
from rollergen.spec.ranges import (
    AdhesionRange,
    BondEnergyRange,
    CohesionRange,
    FrictionAngleRange,
    FrictionRange,
    MudModulusRange,
    Points,
    Sieve,
    SizeRange,
    StrengthRange,
    rising_share,
)
from rollergen.spec.units import FileName, Name, Ratio, reader, text_schema

MOST_LENGTH_RATIO = 30.0
MOST_SPEED_RATIO = 50.0  # either way

Shape = Literal["round", "along", "across"]


def _turning(speed: float) -> float:
    if speed == 0:
        raise Unreadable(
            'a roller that stands still seizes nothing; write e.g. "90 rpm" (for a mate that stands still '
            "write mate_speed_ratio = 0)"
        )
    if speed < 0:
        raise Unreadable(
            f"{rpm(speed):g} rpm is negative: a duty has no direction, both sides of the roller are "
            f'reported; write "{rpm(-speed):g} rpm"'
        )
    return speed


def _long_over_short(value: float) -> float:
    if not 1 <= value <= MOST_LENGTH_RATIO:
        turned = f"; upside down? write {1 / value:.3g}" if 1 / MOST_LENGTH_RATIO <= value < 1 else ""
        raise Unreadable(
            f"{value:g} is outside the limit: 1 (round) to {MOST_LENGTH_RATIO:g}, "
            f"long diameter over short{turned}"
        )
    return value


def _within_reach(value: float) -> float:
    if abs(value) > MOST_SPEED_RATIO:
        raise Unreadable(
            f"{value:g} is outside the limit: {-MOST_SPEED_RATIO:g} to {MOST_SPEED_RATIO:g}, "
            "the mate's speed over ours; negative for the same sense, 0 for a mate that stands still"
        )
    return value


def rpm(speed: float) -> float:
    """A rotation speed in rad/s as turns a minute."""
    return speed * 30 / pi


CropPreset = Annotated[str, BeforeValidator(partial(known_preset, "crop"))]
DebrisPreset = Annotated[str, BeforeValidator(partial(known_preset, "debris"))]
SoilPreset = Annotated[str, BeforeValidator(partial(known_preset, "soil"))]
ItemSize = Annotated[float, BeforeValidator(reader(ITEM_SIZE)), text_schema(ITEM_SIZE)]
CropDensity = Annotated[float, BeforeValidator(reader(CROP_DENSITY)), text_schema(CROP_DENSITY)]
DebrisDensity = Annotated[float, BeforeValidator(reader(DEBRIS_DENSITY)), text_schema(DEBRIS_DENSITY)]
SoilDensity = Annotated[float, BeforeValidator(reader(SOIL_DENSITY)), text_schema(SOIL_DENSITY)]
Layer = Annotated[float, BeforeValidator(reader(SOIL_LAYER)), text_schema(SOIL_LAYER)]
BruisePressure = Annotated[float, BeforeValidator(reader(BRUISE_PRESSURE)), text_schema(BRUISE_PRESSURE)]
TurningSpeed = Annotated[
    float,
    BeforeValidator(reader(SIGNED_ROTATION_SPEED)),
    AfterValidator(_turning),
    text_schema(SIGNED_ROTATION_SPEED),
]
LineLoad = Annotated[float, BeforeValidator(reader(LINE_LOAD)), text_schema(LINE_LOAD)]
LengthRatio = Annotated[Ratio, AfterValidator(_long_over_short)]
SpeedRatio = Annotated[Ratio, AfterValidator(_within_reach)]


class Crop(Table):
    """What must stay on top and whole: short diameters as a range or a sieve table, friction, bruise pressure.

    ``length_ratio`` is long over short diameter; ``least_permitted`` the smallest size that is worth keeping.
    """

    name: Name
    preset: CropPreset | None = None
    diameters: SizeRange | None = None
    sieve: Sieve | None = None
    least_permitted: ItemSize | None = None
    length_ratio: LengthRatio
    friction: FrictionRange
    mate_friction: FrictionRange
    bruise_pressure: BruisePressure | None = None
    density_kg_m3: CropDensity | None = Field(default=None, alias="density")

    @property
    def points(self) -> Points:
        """Rising (size mm, share below) from share 0 to share 1; the two ends of ``diameters`` without a sieve.

        A sieve table that begins above 0 or ends below 1 is carried on along its end lines, down to no less
        than half its first size and up to no more than twice its last; ``duty_limits`` warns of it.
        """
        if self.sieve is None:
            assert self.diameters is not None  # reading refuses a crop without either
            return (self.diameters[0], 0.0), (self.diameters[1], 1.0)
        first, last = self.sieve[0], self.sieve[-1]
        head: Points = () if first[1] == 0 else ((_carried_down(first, self.sieve[1]), 0.0),)
        tail: Points = () if last[1] == 1 else ((_carried_up(self.sieve[-2], last), 1.0),)
        return head + self.sieve + tail

    @property
    def smallest_diameter(self) -> float:
        """The size (mm) none of the crop is below."""
        return self.points[0][0]

    @property
    def largest_diameter(self) -> float:
        """The size (mm) all of the crop is below."""
        return self.points[-1][0]

    def share_below(self, diameter: float) -> float:
        """Share of the crop with a short diameter below ``diameter`` (mm), 0 to 1, straight between points.

        Without a sieve table it takes all sizes between the two diameters as equally frequent: a guess.
        """
        return rising_share(self.points, diameter)


def _carried_down(first: tuple[float, float], second: tuple[float, float]) -> float:
    slope = (second[1] - first[1]) / (second[0] - first[0])
    return max(first[0] - first[1] / slope, first[0] / 2)


def _carried_up(second_last: tuple[float, float], last: tuple[float, float]) -> float:
    slope = (last[1] - second_last[1]) / (last[0] - second_last[0])
    return min(last[0] + (1 - last[1]) / slope, 2 * last[0])


class Debris(Table):
    """One kind of thing that must go: clods, stones, haulm.

    ``shape`` "along" is haulm that lies along the roller, "across" haulm that lies across it.
    ``strength`` is ``None`` for what does not break.
    """

    name: Name
    preset: DebrisPreset | None = None
    diameters: SizeRange
    shape: Shape
    friction: FrictionRange
    mate_friction: FrictionRange
    strength: StrengthRange | None = None
    density_kg_m3: DebrisDensity | None = Field(default=None, alias="density")

    @property
    def smallest_diameter(self) -> float:
        """Smallest short diameter (mm)."""
        return self.diameters[0]

    @property
    def largest_diameter(self) -> float:
        """Largest short diameter (mm)."""
        return self.diameters[1]


class Soil(Table):
    """The mud on the roller, ranges (lowest, highest): ``layer`` thickness (mm), pull-off ``adhesion`` (MPa).

    For flex: ``modulus`` (MPa), ``bond_energy`` (N/mm, that is 1000 J/m^2) that peels it off, tensile
    ``strength`` (MPa) of the mud itself.  For bridging: ``cohesion`` (MPa) and ``friction_angle`` (rad) within it.
    """

    preset: SoilPreset | None = None
    density_kg_m3: SoilDensity = Field(alias="density")
    layer: Layer
    adhesion: AdhesionRange
    modulus: MudModulusRange | None = None
    bond_energy: BondEnergyRange | None = None
    strength: StrengthRange | None = None
    cohesion: CohesionRange | None = None
    friction_angle: FrictionAngleRange | None = None


class Run(Table):
    """How our roller turns: ``rotation_speed`` (rad/s, above 0).

    ``mate_speed_ratio`` is the mate's angular speed over ours: positive opposite sense, negative same sense,
    0 a mate that stands still, ``None`` as the profile's mate says.  ``line_load``: what presses on the roller
    as it runs, N per mm of its length.
    """

    rotation_speed: TurningSpeed
    mate_speed_ratio: SpeedRatio | None = None
    line_load: LineLoad | None = None

    @property
    def speed_rpm(self) -> float:
        return rpm(self.rotation_speed)


class Duty(Table):
    """Crop and ground a roller must face."""

    name: FileName
    note: str = ""
    crop: Crop
    debris: tuple[Debris, ...] = ()
    soil: Soil | None = None
    run: Run | None = None
