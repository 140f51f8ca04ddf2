"""Undercut depth over angle and height, one map a number of parts, side by side: dark is deep, at any printer."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
STEPS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)  # mm from grey to grey
MOST_GREYS = 6
NONE = 0.002  # share of a step that is still drawn as nothing
SIDE_BY_SIDE = 3
LIGHT, DARK = 0.88, 0.2  # grey of the least and of the greatest depth


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DepthMap:
    """One map: depth (len(z), len(angle)) in mm, angle in deg rising, z in mm, ``planes`` in deg, and its line."""

    angle: Floats
    z: Floats
    depth: Floats
    planes: tuple[float, ...]
    words: str


def undercut_picture(maps: Sequence[DepthMap], *, title: str, form: Literal["png", "svg"] = "png") -> bytes:
    """PNG or SVG bytes; one scale of grey for all maps, with lines of equal depth.  Same input, same bytes.

    Raises ValueError for no map.
    """
    if not maps:
        raise ValueError("nothing to show: no map")
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "rollergen", "font.size": 9.0}):
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        columns = min(len(maps), SIDE_BY_SIDE)
        rows = ceil(len(maps) / columns)
        figure = Figure(figsize=(3.6 * columns + 0.9, 3.3 * rows + 0.7), dpi=120, layout="constrained")
        FigureCanvasAgg(figure)
        grid = figure.subplots(rows, columns, squeeze=False, sharey=True)
        levels = _levels(max(float(m.depth.max()) for m in maps))
        painted: Any = None
        for number, axes in enumerate(grid.ravel()):
            if number >= len(maps):
                axes.set_axis_off()
                continue
            painted = _draw(axes, maps[number], levels) or painted
            axes.set_xlabel("angle, deg")
            if number % columns == 0:
                axes.set_ylabel("height z, mm")
        if painted is not None:
            bar = figure.colorbar(painted, ax=list(grid.ravel()), shrink=0.9, pad=0.01)
            bar.set_label("undercut, mm; white: none")
            bar.set_ticks(levels[1:], labels=[f"{level:g}" for level in levels[1:]])
        figure.suptitle(title)
        page = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(page, format=form, metadata=metadata)
    return page.getvalue()


def _levels(most: float) -> list[float]:
    """Limits of the greys: from nearly nothing in even steps past the greatest depth; empty where all is flat."""
    if most <= 0:
        return []
    step = next((step for step in STEPS if most / step <= MOST_GREYS), most / MOST_GREYS)
    return [NONE * step, *(step * number for number in range(1, ceil(most / step - 1e-9) + 1))]


def _draw(axes: Any, shown: DepthMap, levels: list[float]) -> Any:
    """The map on its axes; what was painted, None where nothing hooks."""
    painted = None
    if levels and shown.depth.max() > levels[0]:
        greys = [str(LIGHT + (DARK - LIGHT) * n / max(1, len(levels) - 2)) for n in range(len(levels) - 1)]
        painted = axes.contourf(shown.angle, shown.z, shown.depth, levels=levels, colors=greys)
        axes.contour(shown.angle, shown.z, shown.depth, levels=levels[:1], colors="black", linewidths=0.7)
    first = shown.planes[0]
    for plane in (*shown.planes, first + 360.0):
        axes.axvline(plane, color="black", linewidth=1.0, linestyle="dashed")
    axes.set_ylim(float(shown.z[0]), float(shown.z[-1]))
    axes.set_xticks(
        [90.0 * quarter for quarter in range(ceil(first / 90 - 1e-9), ceil(first / 90 - 1e-9) + 5)]
    )
    axes.set_xlim(first, first + 360.0)
    axes.xaxis.set_major_formatter("{x:.0f}")
    axes.set_title(shown.words, fontsize=9)
    return painted
