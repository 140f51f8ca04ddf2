"""What is said of each way a part can leave its mould: frozen lines of numbers, and what the caller allows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Way = Literal["auto", "screw", "helical", "planes", "strip"]
Choice = Literal["push", "screw", "helical", "planes", "strip", "none"]
On = Literal["tips", "grooves"]
SUGGESTED_PARTS = 4  # what one still likes to handle and keep flash-free; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseLimits:
    """What the user allows; None: not stated.

    ``most_twist_shear``: shear of the rubber while it is screwed out, as a share; ``most_strip``: strain while it is
    pulled over an undercut, as a share; ``most_parts``: parts of a split by planes, ``SUGGESTED_PARTS`` where not
    stated and nothing is forced.  ``modulus``: Young's modulus (MPa) for the torque, and
    ``modulus_from`` in words where it is from.
    """

    most_twist_shear: float | None = None
    most_strip: float | None = None
    most_parts: int | None = None
    modulus: float | None = None
    modulus_from: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrewLine:
    """Out of a one-piece sleeve: screwed along the helix, or pushed along the axis where there is no twist.

    ``screw_free_length_mm`` None: no length jams.  ``free_play_deg`` None: no ribs.  ``torque_bound_n_m`` None: no
    modulus given.  ``wrong_hand_travel_mm``: how far it goes when turned the other way; None without twist or ribs.
    """

    screw_hand: str
    twist_mismatch_deg: float
    free_play_deg: float | None
    screw_free_length_mm: float | None
    flank_gap_mm: float
    end_gap_mm: float
    twist_needed_deg: float
    twist_shear: float
    most_twist_shear: float | None
    torque_bound_n_m: float | None
    torque_modulus_mpa: float | None
    torque_modulus_from: str
    wrong_hand_travel_mm: float | None
    exit_chamfer_mm: float
    end_ok: bool
    screw_ok: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HelicalLine:
    """Pieces that part along the ribs' own helix and leave straight outwards, ``per_piece`` grooves or ribs each.

    ``limit_deg``: twist up to which a piece comes free, below 0 when it never does.  ``parting_deg`` and
    ``pull_deg``: first piece's first parting and its pull at z = 0; ``pull_deg`` None when it does not come free.
    """

    on: On
    per_piece: int
    piece_count: int
    like: bool
    limit_deg: float
    one_at_a_time_limit_deg: float
    helical_ok: bool
    one_at_a_time: bool
    together: bool
    parting_deg: float
    pull_deg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsLine:
    """A split into equal parts by planes through the axis: how deep it hooks, and what stripping then strains.

    ``parts`` 1: an undivided sleeve, pulled straight along the axis; its ``undercut_share`` is not looked at (None).
    """

    parts: int
    undercut_mm: float
    undercut_share: float | None
    strip_strain: float
    undercut_to_rib_base: float
    first_plane_deg: float | None
    pull_skew_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanesLine:
    """Planes through the axis: the least number of equal parts without undercut, None where no number will do.

    ``least_parts_bound``: the formula that holds at any twist, before rounding up.  ``most_parts``: as stated, else
    as suggested.
    """

    least_parts: int | None
    least_parts_bound: float | None
    most_parts: int
    depth_by_parts: tuple[PartsLine, ...]
    planes_ok: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StripLine:
    """Pulled over what hooks: the split with the fewest parts within the limit, else the one that hooks least."""

    split: PartsLine | None
    most_strip: float | None
    strip_ok: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PullLine:
    """Where one outer piece of the way chosen is moved to: direction from +x, counter-clockwise seen from +z, and by
    how much that is off the piece's middle half way up, counter-clockwise positive (deg)."""

    piece: int
    direction_deg: float
    off_middle_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseReport:
    """Every way with its number, and the choice.  Angles in deg, lengths in mm, strains as shares.

    ``choice`` "none": nothing releases the part, ``refusal`` says why and the way out.  ``pieces``: how many outer
    parts the choice has; ``on``: where they part, "" unless helical; ``pulls``: where each of them is moved to, none
    for a sleeve.  ``why``: the rule, a sentence a line.
    """

    twist_deg: float
    gamma_max_deg: float
    gamma_ahead_deg: float
    gamma_behind_deg: float
    rib_count: int
    screw: ScrewLine
    helical: tuple[HelicalLine, ...]
    rings: int | None
    planes: PlanesLine
    strip: StripLine
    choice: Choice
    outer_parts: int
    on: str
    pulls: tuple[PullLine, ...]
    why: tuple[str, ...]
    refusal: str
