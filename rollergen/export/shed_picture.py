"""Spin speed over layer and adhesion, with the working speed and the duty's soil drawn in."""

from __future__ import annotations

import io
from typing import Literal

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
    form: Literal["png", "svg"] = "png",
) -> bytes:
    """Map of ``speed_rpm`` (len(adhesion), len(layer)) over layer mm and adhesion kPa (log), PNG or SVG bytes.

    Grey: the working speed is enough.  ``soil``: (layer, (lowest, highest) adhesion) of a duty.  Same input,
    same bytes.
    """
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "rollergen", "font.size": 9.0}):
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        figure = Figure(figsize=(7.2, 4.6), dpi=120, layout="constrained")
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
        if soil is not None:
            axes.plot([soil[0]] * 2, list(soil[1]), color="black", marker="_", markersize=12, linewidth=2.5)
            axes.annotate(
                "this duty", (soil[0], soil[1][1]), textcoords="offset points", xytext=(6, 2), fontsize=8
            )
        axes.set_xlabel("thickness of the mud, mm;   grey: spin alone sheds it at the working speed")
        axes.set_ylabel("adhesion, kPa")
        axes.set_title(title)
        page = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(page, format=form, metadata=metadata)
    return page.getvalue()
