"""The numbers of each way out of a mould, on the exact section.

A mould part that moves with velocity v clears the part where v.N >= 0 on every surface it forms, N outward from the
rubber.  Screw with the ribs' own pitch: v.N is 0 on straight walls.  Radial pull along e: v.N = n.e, so normals n,
turned by the twist at their height, must stay within a quarter turn of e.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, ceil, degrees, floor, hypot, inf, pi, tan, tau

import numpy as np

from rollergen.shape.outline import Arc, Floats, Outline, normal_at
from rollergen.shape.section import Section, net_moments
from rollergen.tooling.release_lines import (
    SUGGESTED_PARTS,
    HelicalLine,
    On,
    PartsLine,
    PlanesLine,
    ReleaseLimits,
    ScrewLine,
    StripLine,
)
from rollergen.tooling.release_section import NEAR, Lean, RibPlaces, chain_of, point_on
from rollergen.tooling.shrinkage import Shrinkage
from rollergen.tooling.undercut import (
    Curve,
    curve_of,
    cuts_of,
    mirrored_curves,
    radius_at,
    rim_of,
    share_of_parts,
    skew_of,
    sweeps,
)

MOST_LISTED = 12  # parts of a split by planes that are listed
AXIAL_SAMPLES = 720  # of a rib's step, for the straight pull of an undivided sleeve


@dataclass(frozen=True, slots=True, kw_only=True)
class Moulded:
    """What is released: the part's section and length, twist per mm and where its ribs are (mm, rad)."""

    section: Section
    length: float
    turn_per_mm: float
    ribs: RibPlaces | None
    lean: Lean
    reach: float

    @property
    def twist(self) -> float:
        """Size of the angle from end to end (rad)."""
        return abs(self.turn_per_mm) * self.length

    @property
    def turns(self) -> tuple[float, float]:
        """Least and greatest angle of the section over the length (rad)."""
        total = self.turn_per_mm * self.length
        return (min(0.0, total), max(0.0, total))


# one sleeve


def screw_line(part: Moulded, shrinkage: Shrinkage, limits: ReleaseLimits, exit_chamfer: float) -> ScrewLine:
    """Out of a sleeve with the ribs' own helix.

    Mismatch k L s_z is by how much more the part is twisted than the cavity it lies in; the flanks allow
    s_r (cot gamma_ahead + cot gamma_behind) of turning, so lengths above s_r/(k s_z) times that sum jam.  Turned
    with the other hand, cavity and part part by 2 k per mm of travel, and half the play is soon used up.
    """
    k, s_r, s_z = abs(part.turn_per_mm), shrinkage.radial, shrinkage.axial
    mismatch = part.twist * s_z
    play = None if part.lean.greatest <= NEAR else (shrinkage.radial_scale - 1) * _sum_of_cot(part.lean)
    free = screw_free_length(part.lean, k, shrinkage)
    shear = k * s_z * part.reach
    jams = free is not None and part.length > free
    fits = not jams or (limits.most_twist_shear is not None and shear <= limits.most_twist_shear)
    return ScrewLine(
        screw_hand="none" if k == 0 else "right" if part.turn_per_mm > 0 else "left",
        twist_mismatch_deg=degrees(mismatch),
        free_play_deg=None if play is None else degrees(play),
        screw_free_length_mm=free,
        flank_gap_mm=flank_gap(part.section.outer, s_r, 0.0),
        end_gap_mm=flank_gap(part.section.outer, s_r, mismatch / 2),
        twist_needed_deg=degrees(max(0.0, mismatch - (play or 0.0))) if jams else 0.0,
        twist_shear=shear,
        most_twist_shear=limits.most_twist_shear,
        torque_bound_n_m=_torque_bound(part.section, k * s_z, limits.modulus),
        torque_modulus_mpa=limits.modulus,
        torque_modulus_from=limits.modulus_from,
        wrong_hand_travel_mm=None if play is None or k == 0 else play / (4 * k),
        exit_chamfer_mm=exit_chamfer,
        end_ok=exit_chamfer == 0,
        screw_ok=exit_chamfer == 0 and fits,
    )


def screw_free_length(lean: Lean, turn_per_mm: float, shrinkage: Shrinkage) -> float | None:
    """Longest part that is screwed out without being twisted (mm); None where no length jams.

    s_r (cot gamma_ahead + cot gamma_behind) / (k s_z), for like flanks pitch/pi cot(gamma_max) s_r/s_z.
    """
    if turn_per_mm == 0 or shrinkage.axial == 0:
        return None
    return shrinkage.radial * _sum_of_cot(lean) / (abs(turn_per_mm) * shrinkage.axial)


def _sum_of_cot(lean: Lean) -> float:
    return sum(1 / tan(gamma) for gamma in (lean.ahead, lean.behind))


def flank_gap(outline: Outline, radial_shrinkage: float, turn: float) -> float:
    """Least gap between the shrunk part and its cavity when the part is turned by ``turn`` either way (mm).

    To first order in shrinkage and turn, g p.n - |turn| |p x n| with g = s/(1-s); negative: the rubber is pressed in.
    """
    g = radial_shrinkage / (1 - radial_shrinkage)
    least = inf
    for edge in outline.edges:
        shares = [0.0, 1.0]
        if isinstance(edge, Arc):
            away, towards = hypot(*edge.centre), atan2(edge.centre[1], edge.centre[0])
            if away > NEAR:
                off = atan2(turn, g)
                sense = 1.0 if edge.sweep > 0 else -1.0
                shares += [
                    swept / abs(edge.sweep)
                    for angle in (towards + off, towards - off, towards + pi + off, towards + pi - off)
                    if (swept := (sense * (angle - edge.angle)) % tau) <= abs(edge.sweep)
                ]
        for share in shares:
            p, n = point_on(edge, share), normal_at(edge, share)
            away = p[0] * n[0] + p[1] * n[1]
            least = min(least, g * away - abs(turn) * abs(p[0] * n[1] - p[1] * n[0]))
    return least


def _torque_bound(section: Section, turn_per_mm: float, modulus: float | None) -> float | None:
    """G J theta' with G = E/3 and J the polar second moment of the rubber: no real section is stiffer (N m)."""
    if modulus is None:
        return None
    net = net_moments(section)
    return modulus / 3 * (net.xx + net.yy) * turn_per_mm / 1000


# pieces that part along helices


def helical_lines(part: Moulded) -> tuple[HelicalLine, ...]:
    """Every number of grooves or ribs a piece can hold, up to the first that never comes free."""
    if part.ribs is None:
        return ()
    lines: list[HelicalLine] = []
    on: On
    for on in ("tips", "grooves"):
        for per_piece in range(1, max(2, part.ribs.count)):
            if part.ribs.count < 2:
                break
            line = helical_line(part, part.ribs, on, per_piece)
            lines.append(line)
            if line.limit_deg < 0:
                break
    return tuple(lines)


def helical_line(part: Moulded, ribs: RibPlaces, on: On, per_piece: int) -> HelicalLine:
    """One row: the piece's chain of normals, its limit, and the pull that serves it best."""
    start = ribs.centre if on == "tips" else ribs.groove
    chain = chain_of(part.section.outer, start, start + per_piece * ribs.step)
    low, high = part.turns
    limit = chain.most_twist
    fits = part.twist <= limit + NEAR
    # every normal, turned by the twist at its height, within a quarter turn of the pull
    pulls = (chain.greatest + high - pi / 2, chain.least + low + pi / 2)
    # and no wall of the piece runs into the neighbour that is still there
    alone = (max(pulls[0], chain.start + high), min(pulls[1], chain.end + low))
    by_itself = fits and alone[0] <= alone[1] + NEAR
    best = alone if by_itself else pulls
    pull = (best[0] + best[1]) / 2
    return HelicalLine(
        on=on,
        per_piece=per_piece,
        piece_count=ceil(ribs.count / per_piece),
        like=ribs.count % per_piece == 0,
        limit_deg=degrees(limit),
        one_at_a_time_limit_deg=degrees(_alone_limit(chain.start, chain.end, chain.least, chain.greatest)),
        helical_ok=fits,
        one_at_a_time=by_itself,
        together=fits and _together(chain.end, pull + per_piece * ribs.step / 2, low, high),
        parting_deg=degrees(start),
        pull_deg=degrees(pull) if fits else None,
    )


def _alone_limit(start: float, end: float, least: float, greatest: float) -> float:
    """Twist up to which a piece leaves while its neighbours stay (rad): all four ends of the pull's range."""
    return min(
        pi - (greatest - least),
        end - greatest + pi / 2,
        least + pi / 2 - start,
        end - start,
    )


def _together(wall: float, middle: float, low: float, high: float) -> bool:
    """True when like pieces that all move outwards at once slide apart along their common wall at every height."""
    return all(abs(wall + turn - middle) <= pi / 2 + NEAR for turn in (low, high))


def rings_needed(part: Moulded, lines: Sequence[HelicalLine]) -> int | None:
    """Axial rings that would make every ring's twist small enough for helical pieces; None where none are."""
    best = max((line.limit_deg for line in lines if line.like), default=0.0)
    return ceil(degrees(part.twist) / best - NEAR) if best > 0 else None


# planes through the axis, and stripping


def planes_line(part: Moulded, limits: ReleaseLimits) -> PlanesLine:
    """Equal parts that leave radially: 180/M + mean gamma <= 90 once the ribs sweep every angle.

    The pull is turned off the middle of a part by half the difference of both gamma, so the mean counts.  With
    less twist than a rib's step the parting may be placed so that fewer parts do: tried, not only bounded.
    """
    allowed = limits.most_parts or SUGGESTED_PARTS
    lines = [axial_line(part)]
    least: int | None = 2
    bound: float | None = 2.0
    if part.ribs is None:
        lines.append(_parts_line(part, 2, 0.0, 0.0, 0.0))
    elif part.lean.greatest >= pi / 2:
        least, bound = None, None
    else:
        bound = pi / (pi / 2 - part.lean.mean)
        least, more = _radial_lines(part, part.ribs, max(2, ceil(bound - NEAR)))
        lines += more
    return PlanesLine(
        least_parts=least,
        least_parts_bound=bound,
        most_parts=allowed,
        depth_by_parts=tuple(lines),
        planes_ok=least is not None and least <= allowed,
    )


def _radial_lines(part: Moulded, ribs: RibPlaces, enough: int) -> tuple[int, list[PartsLine]]:
    """The least number of parts, and a line for two, three ... up to it; ``enough`` parts hook at no twist."""
    curves = mirrored_curves(part.section.outer)
    rims = (rim_of(curves[0], ribs.step), rim_of(curves[1], ribs.step))
    step, turns = ribs.step, part.turns
    lines: list[PartsLine] = []
    for cut in cuts_of(
        curves,
        range(2, min(enough, MOST_LISTED) + 1),
        lean=part.lean,
        step=step,
        turns=turns,
        first=ribs.centre,
    ):
        share = share_of_parts(rims, cut, step=step, turns=turns) if cut.depth else 0.0
        lines.append(_parts_line(part, cut.parts, cut.depth, cut.first, cut.skew, share))
        # where the parts sweep every place the formula is sharp, and sampled depths have no say
        if cut.depth == 0 and (cut.parts == enough or not sweeps(cut.parts, step, turns)):
            return cut.parts, lines
    if enough > MOST_LISTED:
        lines.append(_parts_line(part, enough, 0.0, ribs.centre, skew_of(part.lean, enough)))
    return enough, lines


def _parts_line(
    part: Moulded, parts: int, depth: float, first: float | None, skew: float, share: float | None = 0.0
) -> PartsLine:
    return PartsLine(
        parts=parts,
        undercut_mm=depth,
        undercut_share=share,
        strip_strain=depth / (2 * part.reach),
        undercut_to_rib_base=depth / part.ribs.base_width if part.ribs else 0.0,
        first_plane_deg=None if first is None else degrees(first),
        pull_skew_deg=degrees(skew),
    )


def axial_line(part: Moulded) -> PartsLine:
    """An undivided sleeve pulled straight along the axis: what the twist brings in front of every angle."""
    depth = 0.0
    if part.ribs is not None and part.twist > 0:
        if part.twist >= part.ribs.step or part.lean.greatest >= pi / 2:
            depth = part.ribs.tip_radius - part.ribs.body_radius
        else:
            depth = _axial_depth(curve_of(part.section.outer), part.ribs.step, part.twist)
    return _parts_line(part, 1, depth, None, 0.0, None if depth else 0.0)


def _axial_depth(curve: Curve, step: float, twist: float) -> float:
    """Greatest rise of the curve over ``twist`` either way (one way is the mirror of the other's fall), sampled."""
    count = AXIAL_SAMPLES
    angles: Floats = step / count * np.arange(2 * count, dtype=np.float64)
    radius = radius_at(curve, angles)
    ahead = max(1, floor(twist / step * count))
    windows = np.lib.stride_tricks.sliding_window_view(radius, ahead + 1)[:count]
    there = radius_at(curve, angles[:count] + twist)
    rise = np.maximum(windows.max(axis=1), there) - radius[:count]
    fall = radius[:count] - np.minimum(windows.min(axis=1), there)
    return float(max(rise.max(), fall.max()))


def strip_line(planes: PlanesLine, limits: ReleaseLimits) -> StripLine:
    """The split to strip from: fewest parts within the limit, else the least depth, among the parts allowed."""
    most = limits.most_parts or SUGGESTED_PARTS
    allowed = [line for line in planes.depth_by_parts if line.parts <= most]
    if not allowed:
        return StripLine(split=None, most_strip=limits.most_strip, strip_ok=False)
    limit = limits.most_strip
    within = [line for line in allowed if limit is not None and line.strip_strain <= limit]
    split = within[0] if within else min(allowed, key=lambda line: line.undercut_mm)
    return StripLine(split=split, most_strip=limit, strip_ok=bool(within))
