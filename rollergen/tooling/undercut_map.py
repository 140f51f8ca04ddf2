"""Undercut depth all over a part that is drawn out of equal parts by planes through the axis: a map to look at."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, degrees, pi, tau

import numpy as np

from rollergen.shape.outline import Floats, Outline
from rollergen.tooling.release_section import lean_of, ribs_of
from rollergen.tooling.undercut import SEEN, Curve, curve_of, cuts_of, mirrored_curves, radius_at, skew_of

FINE = pi / 720  # rad between columns, a quarter degree
ROWS = 121  # heights


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UndercutMap:
    """Depth (mm) over angle and height: ``depth`` (len(z), len(angle)), angle in rad rising over one turn from the
    first parting, z in mm.

    ``planes``: angles of the partings; ``deepest`` exact; ``share`` of the surface that hooks, from the map.
    """

    parts: int
    angle: Floats
    z: Floats
    depth: Floats
    planes: tuple[float, ...]
    pull_skew: float
    deepest: float
    share: float


def undercut_map(
    outline: Outline, *, turn_per_mm: float, length: float, parts: int, rows: int = ROWS
) -> UndercutMap:
    """Map of the split into ``parts`` equal parts (2 or more), its planes where it hooks least.

    ``outline``: the outer curve at z = 0; ``turn_per_mm`` in rad, right-hand positive; ``length`` in mm.
    Raises ValueError for less than 2 parts or a curve that turns back as seen from the axis.
    """
    if parts < 2:
        raise ValueError(f"{parts} parts: planes through the axis make 2 at least")
    ribs, lean = ribs_of(outline), lean_of(outline)
    skew = skew_of(lean, parts)
    turn = turn_per_mm * length
    first, deepest = 0.0, 0.0
    if ribs is not None:
        (cut,) = cuts_of(
            mirrored_curves(outline), (parts,), lean=lean, step=ribs.step,
            turns=(min(0.0, turn), max(0.0, turn)), first=ribs.centre,
        )  # fmt: skip
        first, deepest = cut.first, cut.depth
    curve = curve_of(outline)
    z = np.linspace(0.0, length, rows)
    angles, blocks, lengths = [], [], []
    for number in range(parts):
        pull = first + tau * (number + 0.5) / parts + skew
        # towards the parting behind, read backwards, then towards the parting ahead
        for sign, width in ((-1.0, pi / parts + skew), (1.0, pi / parts - skew)):
            if width < FINE:  # pulled along its parting
                continue
            count = max(2, ceil(width / FINE))
            beta = width * (np.arange(count) + 0.5) / count
            depth, radius = _hook(curve, pull - turn_per_mm * z, sign, beta)
            order = slice(None, None, int(sign))
            angles.append((pull + sign * beta)[order])
            blocks.append(depth[:, order])
            lengths.append(_lengths(radius, beta)[:, order])
    depth, along = np.concatenate(blocks, axis=1), np.concatenate(lengths, axis=1)
    return UndercutMap(
        parts=parts,
        angle=np.concatenate(angles),
        z=z,
        depth=depth,
        planes=tuple(first + tau * number / parts for number in range(parts)),
        pull_skew=skew,
        deepest=deepest,
        share=float((along * (depth > SEEN)).sum() / along.sum()),
    )


def _hook(curve: Curve, pull: Floats, sign: float, beta: Floats) -> tuple[Floats, Floats]:
    """Depth and distance from the axis over ``beta`` off each pull, (len(pull), len(beta))."""
    radius = radius_at(curve, pull[:, None] + sign * beta)
    across = radius * np.sin(beta)
    return np.maximum.accumulate(across, axis=1) - across, radius


def _lengths(radius: Floats, beta: Floats) -> Floats:
    """Length of curve each sample stands for, as a multiple of the step in angle."""
    found: Floats = np.hypot(radius, np.gradient(radius, beta, axis=1)) * (beta[1] - beta[0])
    return found


def map_words(found: UndercutMap) -> str:
    """What stands over a map: parts, depth, share, and a pull that is not along the middle."""
    if found.deepest == 0:
        return f"{found.parts} parts: no undercut"
    words = f"{found.parts} parts: {found.deepest:.3g} mm, {found.share:.1%} of the surface"
    if abs(found.pull_skew) > 1e-9:
        words += f"\npulled {degrees(found.pull_skew):.1f} deg off the middle"
    return words
