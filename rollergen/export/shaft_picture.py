"""Which bar for which width, as a picture that survives a black-and-white printer."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STYLES = ("-", "--", "-.", ":")
MARKERS = ("o", "s", "^", "D", "v", "P", "X")  # not a multiple of the styles, so that pairs do not repeat
MOST_CURVES = len(STYLES) * len(MARKERS)
SHOWN_OVER_LIMIT = (0.35, 6.0)  # the picture runs from and to these times the limit


def shaft_picture(
    *,
    widths: Sequence[float],
    ratios: Floats,
    bars: Sequence[str],
    limit: float,
    title: str,
    note: str = "",
    form: Literal["png", "svg"] = "png",
) -> bytes:
    """Span over deflection of each bar against width, and the limit, PNG or SVG bytes.

    ``widths`` mm; ``ratios`` (bars, widths); ``bars`` their names.  Each bar has its own line style and
    marker; below the limit a bar bends too far, and the ground there is grey.  Same input, same bytes.
    Raises ValueError when the shapes do not fit or there are more bars than lines can be told apart.
    """
    if ratios.shape != (len(bars), len(widths)):
        raise ValueError(f"ratios are {ratios.shape}, not {len(bars)} bars by {len(widths)} widths")
    if not 0 < len(bars) <= MOST_CURVES:
        raise ValueError(f"{len(bars)} bars; from 1 to {MOST_CURVES} can be told apart in one picture")
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "rollergen", "font.size": 9.0}):
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
        from matplotlib.ticker import FuncFormatter

        figure = Figure(figsize=(7.2, 4.6), dpi=120, layout="constrained")
        FigureCanvasAgg(figure)
        axes = figure.add_subplot()
        metres = np.asarray(widths, dtype=np.float64) / 1000
        low, high = (share * limit for share in SHOWN_OVER_LIMIT)
        axes.axhspan(low, limit, color="0.88", zorder=0)
        axes.axhline(limit, color="black", linewidth=1.8, zorder=2)
        for number, (name, line) in enumerate(zip(bars, ratios, strict=True)):
            axes.plot(
                metres,
                line,
                color=("black", "0.35")[number % 2],
                linestyle=STYLES[number % len(STYLES)],
                marker=MARKERS[number % len(MARKERS)],
                markersize=4.0,
                markerfacecolor="white",
                linewidth=1.1,
                label=name,
                zorder=3,
            )
        axes.set_yscale("log")
        axes.set_ylim(low, high)
        axes.set_xlim(float(metres.min()), float(metres.max()) + (0.0 if len(metres) > 1 else 0.1))
        ticks = [limit * share for share in (0.5, 1.0, 2.0, 4.0)]
        axes.set_yticks(ticks)
        axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"span/{value:g}"))
        axes.minorticks_off()
        axes.grid(True, color="0.8", linewidth=0.5, zorder=1)
        axes.text(
            0.01, low * 1.05, f"grey: bends further\nthan span/{limit:g}", va="bottom", fontsize=8.0,
            transform=axes.get_yaxis_transform(),
        )  # fmt: skip
        axes.set_xlabel("width between bearings, m" + (f"\n{note}" if note else ""))
        axes.set_ylabel("span over deflection")
        axes.set_title(title)
        figure.legend(loc="outside right center", frameon=False, handlelength=3.2)
        page = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(page, format=form, metadata=metadata)
    return page.getvalue()
