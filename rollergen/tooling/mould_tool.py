"""What is asked of a mould beside its cavity: metals, walls, fits, openings, how it closes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rollergen.shape.outline import Point
from rollergen.tooling.shrinkage import METALS, Metal

NominalEnd = Literal["large", "middle", "small"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fits:
    """Gaps between parts that slide into one another, each side, as machined (mm).  Common practice, no source."""

    foot: float = 0.03
    spigot: float = 0.08
    dowel: float = 0.01
    jacket: float = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """Sizes of the tool (mm, rad).  Defaults are common practice without source; none of them is a shrinkage.

    ``block_wall``: metal outside the rib tips.  ``base_plate`` and ``top_plate``: thickness.  ``foot`` and
    ``spigot``: how deep cores sit in the plates.  ``core_draft``, ``mandrel_draft``: angles of the part.
    ``cure_rise``: K from room to cure, None when not asked.  ``gate``: diameter, None for as large as fits up to
    12 mm; ``gate_at`` in mm on the top end, None for the widest rubber.  ``bolt`` and ``dowel``: diameters.
    ``overpour``: share of the part poured in all.  ``marks``: raised texts; ``mark_options``:
    where each is from, for messages.
    """

    metal: Metal = METALS["steel"]
    core_metal: Metal = METALS["steel"]
    cure_rise: float | None = None
    block_wall: float = 25.0
    base_plate: float = 28.0
    top_plate: float = 20.0
    foot: float = 16.0
    spigot: float = 10.0
    fits: Fits = Fits()
    core_draft: float = 0.0
    mandrel_draft: float = 0.0
    nominal_end: NominalEnd = "large"
    gate: float | None = None
    gate_at: Point | None = None
    vent: float = 1.5
    bolt: float = 10.0
    bolts: int = 4
    dowel: float = 10.0
    overpour: float = 1.05
    marks: tuple[str, ...] = ()
    mark_options: tuple[str, ...] = ()
    mark_depth: float = 0.4
