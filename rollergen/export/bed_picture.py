"""A whole bed seen along its rollers, to scale: sections, directions, gaps and in-running nips."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, hypot, pi, sin
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.distance import boundary_points
from rollergen.shape.outline import Outline

Floats = NDArray[np.float64]
Side = Literal["above", "below", "left", "right"]

CHORD = 0.8  # mm between the points of a drawn outline
RIBBED, SMOOTH = "0.84", "0.96"  # greys that a printer keeps apart
INCH_PER_ROLLER, NARROWEST, WIDEST = 1.9, 6.4, 60.0  # of the page
DOWN = {"above": (0.0, -1.0), "below": (0.0, 1.0), "left": (1.0, 0.0), "right": (-1.0, 0.0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenRoller:
    """A roller as drawn: its section at z = 0 (``outline`` None: a plain circle), its place (mm), its turning.

    ``radius`` is that of the body, ``tip_radius`` that of the rib tips; ``phase`` (rad) turns the section;
    ``rotation_speed`` (rad/s, counter-clockwise positive) None where it is not given.  ``holes``: bore and
    chambers.
    """

    name: str
    outline: Outline | None
    holes: tuple[Outline, ...] = ()
    radius: float
    tip_radius: float
    x: float
    y: float
    phase: float = 0.0
    rotation_speed: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenGap:
    """A gap between two of the rollers, by number: its tip gap (mm), whether it is as asked, its nips.

    ``nips``: the side each nip draws in from, and whether both surfaces run into it; None where the
    directions are not given, which is drawn as a nip on either side.
    """

    rollers: tuple[int, int]
    tip_gap: float
    ok: bool = True
    nips: tuple[tuple[Side, bool], ...] | None = ()


def bed_picture(
    *,
    rollers: Sequence[SeenRoller],
    gaps: Sequence[SeenGap] = (),
    title: str,
    note: str = "",
    form: Literal["png", "svg"] = "png",
) -> bytes:
    """Side view of a bed seen from +z, x to the right and y up, PNG or SVG bytes; both axes in one scale.

    A black triangle is a nip into which both surfaces run, a hollow one a nip into which one surface
    runs, a dotted one a gap whose directions are not given; the number beside a gap is its tip gap in mm,
    framed where it is not as asked.  ``note`` (the cautions) stands below.
    Same input, same bytes.  Raises ValueError without a roller.
    """
    if not rollers:
        raise ValueError("a bed without rollers has no picture; give at least one")
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "rollergen", "font.size": 8.0}):
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        left, right, low, high = _window(rollers)
        wide = min(max(INCH_PER_ROLLER * len(rollers), NARROWEST), WIDEST)
        scale = (wide - 0.7) / (right - left)
        words = _wrapped(note, wide)
        tall = min(max(scale * (high - low), 1.2), WIDEST) + 1.5 + 0.15 * words.count("\n")
        figure = Figure(figsize=(wide, tall), dpi=120, layout="constrained")
        FigureCanvasAgg(figure)
        axes = figure.add_subplot()
        axes.set_xlim(left, right)
        axes.set_ylim(low, high)
        axes.set_aspect("equal")
        unit = _reach(rollers) / 60.0  # marks grow with the rollers, so that they stay the same on the page
        for roller in rollers:
            _draw_roller(axes, roller, unit)
        for gap in gaps:
            _draw_gap(axes, rollers[gap.rollers[0]], rollers[gap.rollers[1]], gap, unit)
        axes.set_xlabel("x, mm")
        if words:
            figure.supxlabel(words, fontsize=8.0)
        axes.set_ylabel("y, mm")
        axes.set_title(title)
        _legend(axes, gaps)
        page = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(page, format=form, metadata=metadata)
    return page.getvalue()


def placed_points(roller: SeenRoller, outline: Outline | None = None) -> Floats:
    """Points of the roller's outer edge, or of another outline on its axis, as placed, (n, 2), mm."""
    outline = outline or roller.outline
    if outline is None:
        angle = np.linspace(0.0, 2 * pi, 181)
        return np.stack(
            [roller.x + roller.radius * np.cos(angle), roller.y + roller.radius * np.sin(angle)], axis=1
        )
    points = boundary_points(outline, CHORD)
    c, s = cos(roller.phase), sin(roller.phase)
    return np.stack(
        [
            roller.x + c * points[:, 0] - s * points[:, 1],
            roller.y + s * points[:, 0] + c * points[:, 1],
        ],
        axis=1,
    )


def _reach(rollers: Sequence[SeenRoller]) -> float:
    return max(roller.tip_radius for roller in rollers)


def _window(rollers: Sequence[SeenRoller]) -> tuple[float, float, float, float]:
    """Left, right, low and high edge (mm): all rollers, with room for names below and numbers above."""
    reach = _reach(rollers)
    left, right = (f(r.x + s * r.tip_radius for r in rollers) for f, s in ((min, -1), (max, 1)))
    low, high = (f(r.y + s * r.tip_radius for r in rollers) for f, s in ((min, -1), (max, 1)))
    return left - 0.15 * reach, right + 0.15 * reach, low - 0.65 * reach, high + 0.6 * reach


def _wrapped(note: str, wide: float) -> str:
    import textwrap

    return "\n".join(line for part in note.splitlines() for line in textwrap.wrap(part, int(17 * wide)))


def _draw_roller(axes: Any, roller: SeenRoller, unit: float) -> None:
    edge = placed_points(roller)
    shade = SMOOTH if roller.tip_radius == roller.radius else RIBBED
    axes.fill(edge[:, 0], edge[:, 1], facecolor=shade, edgecolor="black", linewidth=0.9, zorder=2)
    for hole in roller.holes:
        rim = placed_points(roller, hole)
        axes.fill(rim[:, 0], rim[:, 1], facecolor="white", edgecolor="0.35", linewidth=0.5, zorder=3)
    arm = 5.0 * unit
    for dx, dy in ((arm, 0.0), (0.0, arm)):
        axes.plot(
            [roller.x - dx, roller.x + dx], [roller.y - dy, roller.y + dy], color="black", lw=0.7, zorder=5
        )
    _draw_turning(axes, roller, unit)
    speed = roller.rotation_speed
    turns = "speed not given" if speed is None else f"{speed * 30 / pi:.4g} rpm"
    axes.text(
        roller.x, roller.y - roller.tip_radius - 4 * unit, f"{roller.name}\n{turns}", ha="center", va="top",
        zorder=8,
    )  # fmt: skip


def _draw_turning(axes: Any, roller: SeenRoller, unit: float) -> None:
    """An arc with a head over the top of the roller; none where it stands or its speed is not given."""
    if not roller.rotation_speed:
        return
    sense = 1.0 if roller.rotation_speed > 0 else -1.0
    radius = 0.8 * roller.radius
    head = 0.17  # rad, what the head takes up of the arc
    angle = pi / 2 + sense * np.linspace(-0.75, 0.75 - head, 40)
    x, y = roller.x + radius * np.cos(angle), roller.y + radius * np.sin(angle)
    for colour, width in (("white", 4.0), ("black", 1.5)):  # a white rim keeps the arc apart from the holes
        axes.plot(x, y, color=colour, linewidth=width, zorder=5, solid_capstyle="butt")
    end = pi / 2 + sense * 0.75
    corners = [
        (radius, end),
        (radius + 3.2 * unit, end - sense * head),
        (radius - 3.2 * unit, end - sense * head),
    ]
    axes.fill(
        [roller.x + r * cos(a) for r, a in corners], [roller.y + r * sin(a) for r, a in corners],
        facecolor="black", edgecolor="white", linewidth=0.6, zorder=6,
    )  # fmt: skip


def _draw_gap(axes: Any, a: SeenRoller, b: SeenRoller, gap: SeenGap, unit: float) -> None:
    """The number above the gap with a line down to it, and a triangle at every nip pointing into the gap."""
    apart = hypot(b.x - a.x, b.y - a.y)
    along = ((b.x - a.x) / apart, (b.y - a.y) / apart)
    share = (a.tip_radius + (apart - a.tip_radius - b.tip_radius) / 2) / apart
    x, y = a.x + share * (b.x - a.x), a.y + share * (b.y - a.y)
    top = max(a.y + a.tip_radius, b.y + b.tip_radius) + 9 * unit
    axes.plot([x, x], [y, top], color="black", linewidth=0.6, linestyle=(0, (4, 2)), zorder=4)
    frame = {"facecolor": "white", "edgecolor": "none" if gap.ok else "black", "pad": 1.8}
    word = f"{gap.tip_gap:.4g}" if gap.ok else f"{gap.tip_gap:.4g}!"
    axes.text(x, top, word, ha="center", va="bottom", zorder=7, bbox=frame,
              fontweight="normal" if gap.ok else "bold")  # fmt: skip
    steep = abs(along[1]) > abs(along[0])
    either: tuple[Side, Side] = ("left", "right") if steep else ("above", "below")
    marks = [(side, None) for side in either] if gap.nips is None else gap.nips
    for side, both in marks:
        _draw_nip(axes, (x, y), along, side, both, min(a.radius, b.radius), unit)


def _draw_nip(
    axes: Any,
    at: tuple[float, float],
    along: tuple[float, float],
    side: Side,
    both: bool | None,
    radius: float,
    unit: float,
) -> None:
    """A triangle in the wedge on one side of the gap, its tip towards the line of centres."""
    into = DOWN[side]
    across = (-along[1], along[0])
    sign = 1.0 if across[0] * into[0] + across[1] * into[1] > 0 else -1.0
    down = (sign * across[0], sign * across[1])
    near, far, half = 0.55 * radius, 0.55 * radius + 15 * unit, 7.5 * unit
    corners = [
        (-near, 0.0),
        (-far, half),
        (-far, -half),
    ]
    axes.fill(
        [at[0] + depth * down[0] + wide * along[0] for depth, wide in corners],
        [at[1] + depth * down[1] + wide * along[1] for depth, wide in corners],
        facecolor="black" if both else "white",
        edgecolor="black",
        linewidth=1.1,
        linestyle=":" if both is None else "-",
        zorder=6,
    )


def _legend(axes: Any, gaps: Sequence[SeenGap]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    look: dict[str, Any] = {"linestyle": "none", "marker": "v", "markeredgecolor": "black", "markersize": 8}
    kinds = {both for gap in gaps for _, both in gap.nips or ()}
    words = {True: "in-running nip, both surfaces run in", False: "in-running nip, one surface runs in"}
    handles: list[Any] = [
        Line2D([], [], markerfacecolor="black" if both else "white", label=words[both], **look)
        for both in sorted(kinds, reverse=True)
    ]
    if any(gap.nips is None for gap in gaps):
        handles.append(
            Patch(facecolor="white", edgecolor="black", linestyle=":", label="direction not given")
        )
    if gaps:
        line = (0, (4, 2))
        handles.append(Line2D([], [], color="black", linewidth=0.6, linestyle=line, label="tip gap, mm"))
    if any(not gap.ok for gap in gaps):
        handles.append(Patch(facecolor="white", edgecolor="black", label="! not as asked"))
    if handles:
        columns = max(1, min(len(handles), int(axes.figure.get_figwidth() / 2.6)))
        axes.figure.legend(handles=handles, loc="outside upper center", ncols=columns, frameon=False)
