"""The mould taken apart along its axis: every body shaded in its colour, named, and moved off its neighbours."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from rollergen.export.shading import Eye, Ints, Shown, shaded

EYE = Eye(azimuth_deg=-62.0, elevation_deg=24.0, roll_deg=90.0)  # lying: a mould taken apart is long
DPI = 120
WIDEST, HIGHEST = 1600, 1000  # pixels of the shaded part
LETTER = 9.0  # pixels of a sign of a name
INSIDE = 12  # pixels a name's dot is kept from the edge of what is seen, where there is room
NAME_ROOM = 0.62  # inches above and below for names


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Named:
    """One mesh where it is shown (mm), and its name, empty for none; bodies of one name are named together."""

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
    size = points[:, :2].max(axis=0) - points[:, :2].min(axis=0)
    height = int(np.clip(width * size[1] / size[0], width // 4, HIGHEST))
    page = shaded([body.shown for body in bodies], eye=eye, width=width, height=height)
    with matplotlib.rc_context({"svg.hashsalt": "rollergen", "font.size": 9.0}):
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
        from matplotlib.image import imread

        tall = height / DPI + 2 * NAME_ROOM + 0.3
        figure = Figure(figsize=(width / DPI, tall), dpi=DPI)
        FigureCanvasAgg(figure)
        axes = figure.add_axes((0.0, NAME_ROOM / tall, 1.0, height / DPI / tall))
        axes.imshow(imread(io.BytesIO(page.png), format="png"), extent=(0, width, height, 0), aspect="auto")
        axes.set_axis_off()
        tags = _tags(bodies, page.owner)
        tags.sort(key=lambda tag: tag[1][1])  # the upper half is named above, the lower below
        half = (len(tags) + 1) // 2
        for side in (0, 1):
            row = sorted(tags[half:] if side else tags[:half], key=lambda tag: tag[1])
            for (name, spot), x in zip(row, _spread(row, width), strict=True):
                _name(axes, name, spot, x, height, above=side == 0)
        figure.text(0.5, 1 - 0.08 / tall, title, ha="center", va="top", fontsize=11)
        data = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(data, format=form, metadata=metadata)
    return data.getvalue()


def _tags(bodies: Sequence[Named], owner: Ints) -> list[tuple[str, tuple[float, float]]]:
    """Every name once, and where: of the bodies that carry it, on the one that is seen best."""
    seen = np.bincount(owner[owner >= 0].ravel(), minlength=len(bodies))
    best: dict[str, int] = {}
    for number, body in enumerate(bodies):
        if body.name and (body.name not in best or seen[number] > seen[best[body.name]]):
            best[body.name] = number
    spots = ((name, _spot(owner == number)) for name, number in best.items())
    return [(name, spot) for name, spot in spots if spot is not None]


def _spot(mine: NDArray[np.bool_]) -> tuple[float, float] | None:
    """A pixel (x, y) well inside what is seen of a body; None for one that is hidden.

    What is seen is peeled pixel by pixel; of the last layer, the pixel nearest to its middle.
    """
    if not mine.any():
        return None
    for _ in range(INSIDE):
        inner = mine.copy()
        inner[1:] &= mine[:-1]
        inner[:-1] &= mine[1:]
        inner[:, 1:] &= mine[:, :-1]
        inner[:, :-1] &= mine[:, 1:]
        if not inner.any():
            break
        mine = inner
    y, x = np.nonzero(mine)
    best = int(np.argmin((x - np.median(x)) ** 2 + (y - np.median(y)) ** 2))
    return float(x[best]) + 0.5, float(y[best]) + 0.5


def _spread(tags: Sequence[tuple[str, tuple[float, float]]], width: int) -> list[float]:
    """Where names of one row stand so that none runs into the next or off the page (pixels).

    Where they are too many for the page they keep their order and share it evenly.
    """
    halves = [LETTER * len(name) / 2 for name, _ in tags]
    found: list[float] = []
    right = 0.0
    for (_, spot), half in zip(tags, halves, strict=True):
        found.append(max(spot[0], right + half))
        right = found[-1] + half + LETTER
    left = float(width)
    for number in range(len(tags) - 1, -1, -1):  # and back from the right
        found[number] = min(found[number], left - halves[number])
        left = found[number] - halves[number] - LETTER
    if left < -LETTER:
        return [width * (number + 0.5) / len(tags) for number in range(len(tags))]
    return found


def _name(
    axes: Any, name: str, spot: tuple[float, float], beside: float, height: int, *, above: bool
) -> None:
    """The name over or under the page, a line from it, and a dot on the body itself."""
    axes.annotate(
        name,
        spot,
        xytext=(beside, -14.0 if above else height + 14.0),
        ha="center",
        va="bottom" if above else "top",
        annotation_clip=False,
        arrowprops={"arrowstyle": "-", "color": "0.2", "linewidth": 0.8, "shrinkA": 1, "shrinkB": 0},
    )
    axes.plot(*spot, marker="o", markersize=4.0, color="white", markeredgecolor="0.2", markeredgewidth=0.8)
