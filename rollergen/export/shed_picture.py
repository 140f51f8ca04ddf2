"""Spin speed over layer and adhesion, with the working speed and the duty's soil drawn in."""

from __future__ import annotations

import io
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
SPEEDS = (60, 100, 150, 200, 300, 500, 800, 1200)  # rpm: lines of the map


def shed_picture(
    *,
    layer: Floats,
    adhesion: Floats,
    speed_rpm: Floats,
    working_rpm: float,
    soil: tuple[float, tuple[float, float]] | None,
    title: str,
    bottom_rpm: Floats | None = None,
    peeled: tuple[float | None, float | None] | None = None,
    form: Literal["png", "svg"] = "png",
) -> bytes:
    """Map of ``speed_rpm`` (len(adhesion), len(layer)) over layer mm and adhesion kPa (log), PNG or SVG bytes.

    Grey: the working speed is enough.  ``bottom_rpm``: the same map for the bottom of the turn, of which the line
    at the working speed is drawn.  ``soil``: (layer, (lowest, highest) adhesion) of a duty.  ``peeled``:
    thinnest layer the flex peels of this soil where it lets go easily and where it holds hard (mm, None: none).
    Same input, same bytes.
    """
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "rollergen", "font.size": 9.0}):
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        figure = Figure(figsize=(7.2, 5.0), dpi=120, layout="constrained")
        FigureCanvasAgg(figure)
        axes = figure.add_subplot()
        axes.set_yscale("log")
        low, high = float(speed_rpm.min()), float(speed_rpm.max())
        if low < working_rpm:
            axes.contourf(layer, adhesion, speed_rpm, levels=[0.0, min(working_rpm, high)], colors=["0.85"])
        lines = axes.contour(
            layer,
            adhesion,
            speed_rpm,
            levels=[s for s in SPEEDS if low < s < high],
            colors="0.35",
            linewidths=0.8,
        )
        axes.clabel(lines, fmt="%d rpm", fontsize=7)
        if low < working_rpm < high:
            bold = axes.contour(
                layer, adhesion, speed_rpm, levels=[working_rpm], colors="black", linewidths=2.0
            )
            axes.clabel(bold, fmt=f"works at {working_rpm:.0f} rpm", fontsize=8)
        if bottom_rpm is not None and bottom_rpm.min() < working_rpm < bottom_rpm.max():
            axes.contour(layer, adhesion, bottom_rpm, levels=[working_rpm], colors="black", linewidths=1.6,
                         linestyles="dotted")  # fmt: skip
        if peeled is not None:
            _draw_peeled(axes, peeled, (float(layer[0]), float(layer[-1])))
        if soil is not None:
            axes.plot([soil[0]] * 2, list(soil[1]), color="black", marker="_", markersize=12, linewidth=2.5)
            axes.annotate(
                "this duty", (soil[0], soil[1][1]), textcoords="offset points", xytext=(6, 2), fontsize=8,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0}, zorder=5,
            )  # fmt: skip
        axes.set_xlabel("thickness of the mud, mm")
        legend = _legend(low < working_rpm, bottom_rpm, peeled)
        figure.supxlabel(legend, x=0.02, ha="left", fontsize=8, linespacing=1.3)
        axes.set_ylabel("adhesion, kPa")
        axes.set_title(title)
        page = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(page, format=form, metadata=metadata)
    return page.getvalue()


def _legend(enough: bool, bottom_rpm: Floats | None, peeled: tuple[float | None, float | None] | None) -> str:
    said = [
        "grey: spin alone sheds it all round at the working speed"
        if enough
        else "the working speed sheds nothing all round"
    ]
    if bottom_rpm is not None:
        said.append("below the dotted line: it drops at the bottom of the turn at the working speed")
    if peeled is not None:
        said.append("right of a dashed line: the flex peels this soil, then its weight drops it")
    return "\n".join(said)


def _draw_peeled(axes: Any, peeled: tuple[float | None, float | None], shown: tuple[float, float]) -> None:
    """A line at the thinnest layer the flex peels where the soil lets go easily, and where it holds hard."""
    for thin, where in zip(peeled, ("lets go easily", "holds hard"), strict=True):
        if thin is None or thin >= shown[1]:
            continue
        at = max(thin, shown[0])
        axes.axvspan(at, shown[1], facecolor="none", edgecolor="0.85", hatch="/", linewidth=0.0, zorder=0.5)
        axes.axvline(at, color="black", linewidth=1.2, linestyle="dashed")
        axes.annotate(
            f"from here on the flex peels what {where}",
            (at, 0.02), xycoords=("data", "axes fraction"), xytext=(3, 0), textcoords="offset points", fontsize=7,
            rotation=90, va="bottom", bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0},
        )  # fmt: skip
