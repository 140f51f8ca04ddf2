"""The mould taken apart along its axis: every body shaded in its colour, named, and moved off its neighbours."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rollergen.export.shading import MARGIN, Eye, Shown, shaded_png

Floats = NDArray[np.float64]
EYE = Eye(azimuth_deg=-62.0, elevation_deg=24.0, roll_deg=90.0)  # lying: a mould taken apart is long
DPI = 120
WIDEST, HIGHEST = 1600, 1000  # pixels of the shaded part
LETTER = 9.0  # pixels of a sign of a name
NAME_ROOM = 0.62  # inches above and below for names


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Named:
    """One mesh where it is shown (mm), and the name written at it, empty for none."""

    shown: Shown
    name: str = ""


def mould_picture(
    bodies: Sequence[Named],
    *,
    title: str,
    form: Literal["png", "svg"] = "png",
    eye: Eye = EYE,
    width: int = WIDEST,
) -> bytes:
    """PNG or SVG bytes of the bodies as given, names with leaders above and below.  Same input, same bytes.

    Raises ValueError for no body.
    """
    if not bodies:
        raise ValueError("nothing to show: no body")
    import matplotlib

    points = np.concatenate([body.shown.vertices for body in bodies]) @ eye.axes.T
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    size = high - low
    height = int(np.clip(width * size[1] / size[0], width // 4, HIGHEST))
    page = shaded_png([body.shown for body in bodies], eye=eye, width=width, height=height)
    with matplotlib.rc_context({"svg.hashsalt": "rollergen", "font.size": 9.0}):
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
        from matplotlib.image import imread

        tall = height / DPI + 2 * NAME_ROOM + 0.3
        figure = Figure(figsize=(width / DPI, tall), dpi=DPI)
        FigureCanvasAgg(figure)
        axes = figure.add_axes((0.0, NAME_ROOM / tall, 1.0, height / DPI / tall))
        axes.imshow(imread(io.BytesIO(page), format="png"), extent=(0, width, height, 0), aspect="auto")
        axes.set_axis_off()
        room = np.array([width, height]) - 2 * MARGIN * min(width, height)
        scale = float((room / np.maximum(size, 1e-9)).min())
        tags = [
            (body.name, _pixels(body.shown, eye, (low + high) / 2, scale, (width, height)))
            for body in bodies
            if body.name
        ]
        tags.sort(key=lambda tag: float(tag[1][0, 0]))
        for side in (0, 1):  # names above and below in turn
            for (name, spot), x in zip(tags[side::2], _spread(tags[side::2]), strict=True):
                _name(axes, name, spot, x, height, above=side == 0)
        figure.text(0.5, 1 - 0.08 / tall, title, ha="center", va="top", fontsize=11)
        data = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(data, format=form, metadata=metadata)
    return data.getvalue()


def _pixels(shown: Shown, eye: Eye, middle: Floats, scale: float, page: tuple[int, int]) -> Floats:
    """Middle, top and bottom of a mesh in pixels, (3, 2), y downwards."""
    flat = ((shown.vertices @ eye.axes.T)[:, :2] - middle) * scale
    x, y = flat[:, 0] + page[0] / 2, page[1] / 2 - flat[:, 1]
    centre = (x.min() + x.max()) / 2
    near = np.abs(x - centre) <= max(0.25 * (x.max() - x.min()), float(np.abs(x - centre).min()))
    return np.array([[centre, (y.min() + y.max()) / 2], [centre, y[near].min()], [centre, y[near].max()]])


def _spread(tags: Sequence[tuple[str, Floats]]) -> list[float]:
    """Where names of one row stand so that none runs into the one before it (pixels)."""
    found: list[float] = []
    right = 0.0
    for name, spot in tags:
        half = LETTER * len(name) / 2
        found.append(max(float(spot[0, 0]), right + half))
        right = found[-1] + half + LETTER
    return found


def _name(axes: object, name: str, spot: Floats, beside: float, height: int, *, above: bool) -> None:
    from matplotlib.axes import Axes

    assert isinstance(axes, Axes)
    x = float(spot[0, 0])
    tip = float(spot[1, 1] if above else spot[2, 1])
    axes.annotate(
        name,
        (x, tip),
        xytext=(beside, -14.0 if above else height + 14.0),
        ha="center",
        va="bottom" if above else "top",
        annotation_clip=False,
        arrowprops={"arrowstyle": "-", "color": "0.35", "linewidth": 0.8, "shrinkA": 1, "shrinkB": 1},
    )
