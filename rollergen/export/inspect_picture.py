"""A measured part in one picture: deviation of the outer surface unrolled, and each feature against its tolerance."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
STEPS = (
    0.005,
    0.01,
    0.02,
    0.03,
    0.05,
    0.1,
    0.15,
    0.2,
    0.25,
    0.3,
    0.4,
    0.5,
    0.6,
    0.8,
    1.0,
)  # mm from colour to colour
EACH_SIDE = 5  # colours on either side of zero
BEYOND = 1.6  # tolerances: bars are cut off there
MARKS = {"pass": "o", "fail": "X", "not seen": "", "no limit": "d"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureBar:
    """One feature: its name, what is said of it, its verdict, deviation and standard error over the tolerance."""

    name: str
    words: str
    verdict: str
    share: float | None
    error: float | None


def inspect_picture(
    *,
    angle: Floats,
    z: Floats,
    deviation: Floats,
    bars: Sequence[FeatureBar],
    title: str,
    verdict: str,
    least_range: float = 0.0,
    form: Literal["png", "svg"] = "png",
) -> bytes:
    """PNG or SVG bytes.  ``deviation`` (len(z), len(angle)) mm, NaN where nothing was seen (hatched).

    ``least_range`` (mm): colours reach at least so far either way, so that noise does not fill the map.

    Each cell is shown as the mean with its neighbours.  Orange is too little rubber, purple too much; lines of equal
    deviation, dashed below zero, tell the same in black and white.  Same input, same bytes.
    """
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "rollergen", "font.size": 9.0, "hatch.linewidth": 0.4}):
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        figure = Figure(figsize=(11.6, 5.0), dpi=120, layout="constrained")
        FigureCanvasAgg(figure)
        left, right = figure.subplots(1, 2, width_ratios=(1.25, 1.0))
        _draw_map(figure, left, angle, z, deviation, least_range)
        _draw_bars(right, bars)
        figure.suptitle(f"{title}\n{verdict}", fontsize=10)
        page = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(page, format=form, metadata=metadata)
    return page.getvalue()


def _draw_map(
    figure: Any, axes: Any, angle: Floats, z: Floats, deviation: Floats, least_range: float
) -> None:
    axes.set_facecolor("0.93")
    axes.patch.set_hatch("///")
    axes.patch.set_edgecolor("0.7")
    seen = deviation[np.isfinite(deviation)]
    axes.set_xlabel("angle from +x at its own height, deg")
    axes.set_ylabel("height z, mm")
    axes.set_xlim(0, 360)
    axes.set_xticks(range(0, 361, 45))
    axes.set_ylim(0, float(z[-1] + z[0]))
    axes.set_title(
        "outer surface: measured less nominal, lines dashed below zero; hatched: not seen", fontsize=9
    )
    if len(seen) == 0:
        return
    most = max(float(np.percentile(np.abs(seen), 99)), least_range)
    step = next((step for step in STEPS if most <= step * EACH_SIDE), ceil(most / EACH_SIDE))
    levels = [step * n for n in range(-EACH_SIDE, EACH_SIDE + 1)]
    # one column more on either side, so that the map closes at 0 and 360 deg, and rows at the very ends
    around = np.concatenate([[angle[-1] - 360], angle, [angle[0] + 360]])
    along = np.concatenate([[0.0], z, [z[-1] + z[0]]])
    painted = axes.contourf(
        around, along, _closed(_spread_over(deviation, 1)), levels=levels, cmap="PuOr", extend="both"
    )
    drawn = [level for level in levels[1:-1] if level]  # a line at 0 would follow the noise
    lines = axes.contour(
        around, along, _closed(_spread_over(deviation, 2)), levels=drawn, colors="black",
        linewidths=0.5, negative_linestyles="dashed",
    )  # fmt: skip
    axes.clabel(lines, fmt="%g", fontsize=6)
    bar = figure.colorbar(painted, ax=axes, shrink=0.9, pad=0.01)
    bar.set_label("mm; + is too much rubber")
    bar.set_ticks(levels, labels=[f"{level:+.3g}" if level else "0" for level in levels])


def _closed(values: Floats) -> Any:
    round_about = np.column_stack([values[:, -1], values, values[:, 0]])
    return np.ma.masked_invalid(np.concatenate([round_about[:1], round_about, round_about[-1:]]))


def _spread_over(values: Floats, cells: int) -> Floats:
    """Mean of each seen cell and its seen neighbours up to ``cells`` away: noise does not draw lines of its own."""
    seen = np.isfinite(values)
    padded = np.pad(np.where(seen, values, 0.0), ((cells, cells), (0, 0)))
    counted = np.pad(seen.astype(np.float64), ((cells, cells), (0, 0)))
    total, count = np.zeros_like(values), np.zeros_like(values)
    for up in range(2 * cells + 1):
        for turn in range(-cells, cells + 1):
            total += np.roll(padded[up : up + len(values)], turn, axis=1)
            count += np.roll(counted[up : up + len(values)], turn, axis=1)
    return np.where(seen, total / np.maximum(count, 1.0), np.nan)


def _draw_bars(axes: Any, bars: Sequence[FeatureBar]) -> None:
    """One line a feature: where it lies between its two limits."""
    axes.axvspan(-1, 1, color="0.9", zorder=0)
    for edge in (-1, 1):
        axes.axvline(edge, color="black", linewidth=1.0)
    axes.axvline(0, color="0.5", linewidth=0.6, linestyle="dotted")
    for row, bar in enumerate(bars):
        y = len(bars) - 1 - row
        if bar.share is not None and MARKS.get(bar.verdict):
            at = float(np.clip(bar.share, -BEYOND, BEYOND))
            axes.plot([0, at], [y, y], color="0.45", linewidth=1.2, zorder=1)
            axes.plot(
                [at], [y], marker=MARKS[bar.verdict], markersize=7 if bar.verdict == "fail" else 5, color="black",
                zorder=3, markerfacecolor="black" if bar.verdict == "fail" else "white",
            )  # fmt: skip
            if bar.error is not None and bar.error > 0.02:
                axes.plot(
                    [at - 2 * bar.error, at + 2 * bar.error], [y, y], color="black", linewidth=0.8, zorder=2
                )
        axes.text(BEYOND + 0.15, y, bar.words, va="center", fontsize=7.5)
    axes.set_yticks(range(len(bars)), labels=[bar.name for bar in reversed(bars)], fontsize=8)
    axes.set_ylim(-0.7, len(bars) - 0.3)
    axes.set_xlim(-BEYOND - 0.1, BEYOND + 2.2)
    axes.set_xticks([-1, 0, 1], labels=["lower\nlimit", "nominal", "upper\nlimit"])
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.set_title("features: circle passes, X fails, diamond has no limit", fontsize=9)
