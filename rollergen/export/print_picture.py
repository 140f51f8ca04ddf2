"""How it stands on the plate, coloured by lean; the joint from above and cut along the axis."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from rollergen.export.shading import MARGIN, Eye, Shown, shaded_png

Floats = NDArray[np.float64]
EYE = Eye(azimuth_deg=-60.0, elevation_deg=20.0)
CLASSES = ((15.0, "#e9e7e1"), (30.0, "#a9c9e3"), (45.0, "#4a7fc1"), (90.1, "#b3201a"))  # up to deg, colour
EVEN = 0.8  # of the light: a surface has to be found again in the key of its lean
SIZE = (11.0, 8.6)  # inches
CUT_AT = (0.62, 0.17, 0.36, 0.23)  # of the page
WIDE, HIGH, DPI = 760, 960, 120  # pixels of the shaded part


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leaning:
    """One piece where it is shown (mm), ``lean_deg`` (t,) of every facet that hangs over, and its name."""

    vertices: Floats
    triangles: NDArray[np.int32]
    surface: NDArray[np.int32]
    lean_deg: Floats
    name: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointDrawn:
    """A joint: step and recess as closed lines (n, 2), and along +x the radii of its half section (mm).

    ``flat_at``: middle of the corner that is cut flat, None where there is none.
    """

    step: Floats
    recess: Floats
    bore_at: float
    step_at: float
    recess_at: float
    hub_at: float
    height: float
    above: float
    flat_at: tuple[float, float] | None = None


def print_picture(
    pieces: Sequence[Leaning],
    *,
    outer: Floats,
    holes: Sequence[Floats],
    joint: JointDrawn | None,
    title: str,
    words: Sequence[str],
    form: Literal["png", "svg"] = "png",
) -> bytes:
    """PNG or SVG bytes; ``outer`` and ``holes`` are the section as closed lines (n, 2), mm.  Same input, same bytes.

    Raises ValueError for no piece.
    """
    if not pieces:
        raise ValueError("nothing to show: no piece")
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "rollergen", "font.size": 9.0, "hatch.linewidth": 0.5}):
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        figure = Figure(figsize=SIZE, dpi=DPI)
        FigureCanvasAgg(figure)
        figure.text(0.5, 0.985, title, ha="center", va="top", fontsize=11)
        _draw_standing(figure.add_axes((0.01, 0.12, 0.52, 0.83)), pieces)
        _draw_key(figure)
        _draw_plan(figure.add_axes((0.56, 0.47, 0.42, 0.46)), outer, holes, joint)
        if joint is not None:
            _draw_cut(figure, joint)
        figure.text(
            0.56,
            0.10 if joint is not None else 0.42,
            "\n".join(words),
            va="top",
            fontsize=8.5,
            linespacing=1.4,
        )
        data = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(data, format=form, metadata=metadata)
    return data.getvalue()


def _draw_standing(axes: Any, pieces: Sequence[Leaning]) -> None:
    from matplotlib.image import imread

    shown = [layer for piece in pieces for layer in _by_lean(piece)]
    page = shaded_png(shown, eye=EYE, width=WIDE, height=HIGH, even=EVEN)
    axes.imshow(imread(io.BytesIO(page), format="png"), extent=(0, WIDE, HIGH, 0))
    axes.set_axis_off()
    points = np.concatenate([s.vertices for s in shown]) @ EYE.axes.T
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    room = np.array([WIDE, HIGH]) - 2 * MARGIN * min(WIDE, HIGH)
    scale = float((room / np.maximum(high - low, 1e-9)).min())
    for piece in pieces if len(pieces) > 1 else ():
        flat = (piece.vertices @ EYE.axes.T)[:, :2]
        x = WIDE / 2 + (flat[:, 0].min() - (low[0] + high[0]) / 2) * scale
        y = HIGH / 2 - ((flat[:, 1].min() + flat[:, 1].max()) / 2 - (low[1] + high[1]) / 2) * scale
        axes.text(max(x - 6.0, 4.0), y, piece.name, ha="right" if x > 60 else "left", va="center", fontsize=9,
                  bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5})  # fmt: skip


def _by_lean(piece: Leaning) -> list[Shown]:
    """The facets of one class each, so that every class has its colour."""
    limits = np.array([limit for limit, _ in CLASSES])
    number = np.searchsorted(limits, piece.lean_deg, side="left")
    return [
        Shown(
            vertices=piece.vertices,
            triangles=piece.triangles[number == n],
            surface=piece.surface[number == n],
            colour=colour,
        )
        for n, (_, colour) in enumerate(CLASSES)
        if np.any(number == n)
    ]


def _draw_key(figure: Any) -> None:
    from matplotlib.patches import Rectangle

    low = 0.0
    figure.text(0.03, 0.085, "lean from upright of what hangs over:", fontsize=9, va="center")
    for n, (limit, colour) in enumerate(CLASSES):
        x = 0.03 + 0.125 * n
        figure.add_artist(
            Rectangle((x, 0.035), 0.022, 0.028, facecolor=colour, edgecolor="black", linewidth=0.6)
        )
        text = f"to {limit:g} deg" if limit < 90 else f"over {low:g} deg"
        figure.text(x + 0.027, 0.049, text, fontsize=8.5, va="center")
        low = limit


def _draw_plan(axes: Any, outer: Floats, holes: Sequence[Floats], joint: JointDrawn | None) -> None:
    axes.fill(*outer.T, facecolor="0.90", edgecolor="black", linewidth=1.2)
    for hole in holes:
        axes.fill(*hole.T, facecolor="white", edgecolor="black", linewidth=1.0)
    if joint is not None:
        axes.plot(
            *_closed(joint.recess).T,
            color="#8c1d18",
            linewidth=1.1,
            linestyle="dashed",
            label=f"recess, {joint.recess_at - joint.step_at:.2f} mm wider",
        )
        axes.plot(*_closed(joint.step).T, color="black", linewidth=1.6, label="step")
        reach = float(np.hypot(*outer.T).max())
        if joint.flat_at is not None:
            axes.annotate(
                "one corner\nflat",
                joint.flat_at,
                xytext=(0.0, 0.0),
                ha="center",
                va="center",
                fontsize=8,
                arrowprops={"arrowstyle": "->", "color": "black", "linewidth": 0.8, "shrinkB": 0},
            )
        axes.set_ylim(-1.06 * reach, 1.30 * reach)
        axes.legend(loc="upper center", fontsize=8, frameon=False, ncols=2)
    axes.set_aspect("equal")
    axes.set_title("section as it stands on the plate, from above, mm", fontsize=9)
    axes.tick_params(labelsize=7)


def _draw_cut(figure: Any, joint: JointDrawn) -> None:
    """Half section along +x: lower piece with its step, upper piece with its recess; a wide hub is broken off."""
    tall, deep = joint.height, joint.height + joint.above
    inner, step, recess = joint.bore_at, joint.step_at, joint.recess_at
    hub = min(joint.hub_at, recess + max(2 * (recess - inner), tall))
    below, over = -0.8 * tall, deep + 0.8 * tall
    axes = figure.add_axes(CUT_AT)
    wide, high = (share * inch for share, inch in zip(CUT_AT[2:], SIZE, strict=True))
    scale = max((hub - inner) / (0.45 * wide), (over - below) / high)  # mm per inch: the words stand beside
    axes.set_xlim(inner - 0.02 * wide * scale, inner + 0.98 * wide * scale)
    axes.set_ylim((below + over - high * scale) / 2, (below + over + high * scale) / 2)
    lower = [(inner, below), (hub, below), (hub, 0), (step, 0), (step, tall), (inner, tall)]
    upper = [(inner, over), (inner, deep), (recess, deep), (recess, 0), (hub, 0), (hub, over)]
    axes.fill(*zip(*lower, strict=True), facecolor="0.93", edgecolor="black", hatch="///", linewidth=1.0)
    axes.fill(*zip(*upper, strict=True), facecolor="0.99", edgecolor="black", hatch="\\\\\\", linewidth=1.0)
    if hub < joint.hub_at:
        axes.plot([hub, hub], [below, over], color="white", linewidth=2.5)
        axes.plot([hub, hub], [below, over], color="black", linewidth=0.8, linestyle=(0, (8, 3, 2, 3)))
    for n, (text, at) in enumerate(
        (
            ("upper piece", (hub, (deep + over) / 2)),
            (f"{joint.above:g} mm above", ((inner + step) / 2, tall + joint.above / 2)),
            (f"{recess - step:.2f} mm round", ((step + recess) / 2, 0.5 * tall)),
            (f"step {tall:g} mm high, rim {step - inner:.2f} mm", (step, 0.05 * tall)),
            ("lower piece", (hub, 0.6 * below)),
        )
    ):
        axes.annotate(
            text, at, xytext=(0.53, 0.86 - 0.18 * n), textcoords="axes fraction", ha="left", va="center", fontsize=8,
            arrowprops={"arrowstyle": "-", "color": "0.3", "linewidth": 0.7},
        )  # fmt: skip
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_title("joint cut along the axis, bore on the left", fontsize=9)


def _closed(line: Floats) -> Floats:
    return np.concatenate([line, line[:1]])
