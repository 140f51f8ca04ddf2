"""The rows of a bed's parts list: one kind of part a row, counted and weighed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from rollergen.spec.trace import Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentRow:
    """Segments of one profile and length; ``each_kg`` with foam, ``volume_mm3`` rubber only; None without a price."""

    profile: str
    compound: str
    colour: str
    free_length_mm: float
    fitted_length_mm: float
    count: int
    each_kg: float
    kg: float
    each_volume_mm3: float
    volume_mm3: float
    each_cost: float | None
    cost: float | None
    currency: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftRow:
    """Shafts of one section (``across`` flats, or the diameter) and length (mm); steel, keyways not taken out."""

    section: str
    across_mm: float
    corner_radius_mm: float
    length_mm: float
    count: int
    each_kg: float
    kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SmoothRow:
    """Smooth rollers that are no segments (mm); not weighed (None) where no wall thickness was given."""

    diameter_mm: float
    length_mm: float
    count: int
    wall_mm: float | None
    each_kg: float | None
    kg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CompoundRow:
    """All the rubber of one compound in the bed, foam not counted; ``cost`` None without a price."""

    compound: str
    density_kg_m3: float
    volume_mm3: float
    kg: float
    cost: float | None
    currency: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledRoller:
    """How far the segments fill one roller of the bed (mm)."""

    name: str
    profile: str
    pieces: int
    filled_mm: float
    left_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsList:
    """Everything a bed is ordered by.  ``total_kg``: what could be weighed."""

    bed: str
    width_mm: float
    segments: tuple[SegmentRow, ...]
    shafts: tuple[ShaftRow, ...]
    smooth: tuple[SmoothRow, ...]
    compounds: tuple[CompoundRow, ...]
    filled: tuple[FilledRoller, ...]
    total_kg: float
    remarks: tuple[str, ...]

    @property
    def entry(self) -> dict[str, Any]:
        """The whole list as plain numbers, never rounded."""
        return {"schema": 1, **asdict(self)}

    @property
    def lines(self) -> tuple[dict[str, Any], ...]:
        """One flat line a row, ``part`` naming its kind: what a table of the list holds."""
        kinds: tuple[tuple[str, Sequence[Any]], ...] = (
            ("segment", self.segments),
            ("shaft", self.shafts),
            ("smooth roller", self.smooth),
            ("compound", self.compounds),
        )
        return tuple({"part": kind, **asdict(row)} for kind, rows in kinds for row in rows)


_DEFINITION = "definition"
_AS_CAST = "as cast; no waste, no work"
FIGURES = (
    Figure(
        key="count",
        words="pieces of one kind in the bed",
        formula="given stack, or bed width / fitted length rounded down",
        source=_DEFINITION,
        limits="without a stack: whole segments of the profile's own length, the rest is left over",
        unit="1",
    ),
    Figure(
        key="filled_mm",
        words="shaft length the segments of a roller take up",
        formula="sum of fitted lengths",
        source=_DEFINITION,
        limits="fitted lengths as written",
        unit="mm",
    ),
    Figure(
        key="left_mm",
        words="shaft length left over on a roller",
        formula="bed width - filled length",
        source=_DEFINITION,
        limits="fitted lengths as written",
        unit="mm",
    ),
    Figure(
        key="each_kg",
        words="mass of one piece: a segment with its foam, a shaft, a smooth roller",
        formula="volume x density; steel 7850 kg/m3",
        source="compound.density; steel: common practice, no source",
        limits="shaft: plain bar, keyway and journals not cut; smooth roller: bare tube, None without a wall",
        unit="kg",
    ),
    Figure(
        key="kg",
        words="mass of all pieces of a row; of a compound, its rubber without foam",
        formula="count x mass of one",
        source=_DEFINITION,
        limits=_AS_CAST,
        unit="kg",
    ),
)
