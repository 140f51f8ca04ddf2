"""The gap pattern as it leaves: a picture that survives a black-and-white printer, CSV and JSON."""

from __future__ import annotations

import io
import json
from math import degrees
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

GREYS = 6  # shades between the least and the greatest gap; more cannot be told apart on paper
DARKEST, LIGHTEST = 0.45, 1.0  # light enough for black lines and hatching to show on the darkest


def gap_picture(
    *,
    z: Floats,
    rotation: Floats,
    gap: Floats,
    title: str,
    note: str = "",
    asked: float | None = None,
    form: Literal["png", "svg"] = "png",
) -> bytes:
    """Picture of gap(z, rotation): greys with contour lines, interference hatched, PNG or SVG bytes.

    ``z`` mm, ``rotation`` rad, ``gap`` (len(z), len(rotation)) mm.  The dashed line is the gap that was
    asked for.  Same input, same bytes (no time, no version inside).
    """
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "rollergen", "font.size": 9.0}):
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        figure = Figure(figsize=(7.2, 4.4), dpi=120, layout="constrained")
        FigureCanvasAgg(figure)
        axes = figure.add_subplot()
        turn = np.degrees(rotation)
        low, high = float(gap.min()), float(gap.max())
        if high - low > 1e-9:
            levels = np.linspace(low, high, GREYS + 1)
            greys = [str(round(float(grey), 3)) for grey in np.linspace(DARKEST, LIGHTEST, GREYS)]
            shades = axes.contourf(turn, z, gap, levels=levels, colors=greys)
            axes.contour(turn, z, gap, levels=levels[1:-1], colors="black", linewidths=0.4)
            figure.colorbar(shades, label="gap, mm", format="%.3g")
            if low < 0.0 < high:
                axes.contourf(turn, z, gap, levels=[low, 0.0], colors="none", hatches=["xx"])
            if asked is not None and low < asked < high:
                dashed = axes.contour(turn, z, gap, levels=[asked], colors="black", linewidths=1.6)
                dashed.set_linestyle("dashed")
        else:
            axes.text(0.5, 0.5, f"{low:.4g} mm everywhere", transform=axes.transAxes, ha="center")
            axes.set_xlim(float(turn.min()), float(turn.max()))
            axes.set_ylim(float(z.min()), float(z.max()))
        axes.set_xlabel("rotation of our roller, deg" + (f"\n{note}" if note else ""))
        axes.set_ylabel("height z along the segment, mm")
        axes.set_title(title)
        page = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(page, format=form, metadata=metadata)
    return page.getvalue()


def gap_csv(*, z: Floats, rotation: Floats, gap: Floats) -> bytes:
    """The pattern as a table: one line per (z, rotation), mm and deg, numbers not rounded."""
    rows = ["z_mm,rotation_deg,gap_mm"]
    for height, line in zip(z.tolist(), gap.tolist(), strict=True):
        rows.extend(
            f"{height!r},{degrees(turn)!r},{value!r}"
            for turn, value in zip(rotation.tolist(), line, strict=True)
        )
    return ("\n".join(rows) + "\n").encode()


def gap_json(*, z: Floats, rotation: Floats, gap: Floats, mate: str, meaning: str) -> bytes:
    """The pattern as one JSON object: ``gap_mm[i][j]`` stands at ``z_mm[i]``, ``rotation_deg[j]``."""
    page = {
        "gap_mm": gap.tolist(),
        "mate": mate,
        "meaning": meaning,
        "rotation_deg": np.degrees(rotation).tolist(),
        "schema": 1,
        "z_mm": z.tolist(),
    }
    return (json.dumps(page, sort_keys=True) + "\n").encode()
