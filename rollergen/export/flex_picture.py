"""How a segment gives, in one picture: the deformed section by strain, force over travel, stiffness all round."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
STYLES = ("-", "--", ":", "-.", (0, (5, 1, 1, 1, 1, 1)))
MARKERS = ("o", "s", "^", "D", "v")
SHOWN = 0.995  # of the triangles lie within the scale
BANDS = 8  # steps of grey and colour: each step can be told apart in black and white
LEAST_STRAIN = 0.02  # the scale never spreads less than this, so that a stiff segment looks stiff


@dataclass(frozen=True, slots=True, kw_only=True)
class Deformed:
    """A section pressed: ``points`` (n, 2) mm after, ``triangles`` (t, 3), ``strain`` (t,), share.

    ``before``: closed polylines (m, 2) of the section at rest; ``presser``: a polyline of what presses.
    """

    title: str
    points: Floats
    triangles: NDArray[np.int64]
    strain: Floats
    before: Sequence[Floats]
    presser: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class PressedCurve:
    """Force (N per mm of roller) over travel (mm); ``collapse`` is its first peak, or None."""

    name: str
    travel: Floats
    force: Floats
    collapse: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundStiffness:
    """Stiffness (N/mm per mm) at ``angle`` (rad, counter-clockwise seen from +z), closed over one turn."""

    name: str
    angle: Floats
    stiffness: Floats


def flex_picture(
    *,
    deformed: Sequence[Deformed],
    curves: Sequence[PressedCurve],
    around: Sequence[RoundStiffness],
    title: str,
    form: Literal["png", "svg"] = "png",
) -> bytes:
    """PNG or SVG bytes; sections in the upper row on one scale of strain.  Same input, same bytes."""
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "rollergen", "font.size": 9.0}):
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        figure = Figure(figsize=(10.0, 8.2), dpi=110, layout="constrained")
        FigureCanvasAgg(figure)
        rows: Any = figure.subfigures(2, 1, height_ratios=[1.0, 1.0])
        rows[0].suptitle(title)
        _sections(rows[0], deformed)
        left, right = rows[1].subfigures(1, 2)
        _curves(left.add_subplot(), curves)
        _around(right.add_subplot(projection="polar"), around)
        page = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(page, format=form, metadata=metadata)
    return page.getvalue()


def _sections(figure: Any, deformed: Sequence[Deformed]) -> None:
    # folds peak without limit: nearly all of the rubber sets the scale
    most = max([LEAST_STRAIN, *(float(np.quantile(one.strain, SHOWN)) for one in deformed)])
    levels = np.linspace(0.0, most, BANDS + 1)
    from matplotlib import colormaps
    from matplotlib.colors import BoundaryNorm

    colours = colormaps["cividis"].reversed()
    norm = BoundaryNorm(levels, colours.N)
    drawn = None
    axes = np.atleast_1d(figure.subplots(1, max(1, len(deformed))))
    for place, one in zip(axes, deformed, strict=False):
        drawn = place.tripcolor(
            one.points[:, 0], one.points[:, 1], one.triangles, facecolors=np.clip(one.strain, 0, most),
            cmap=colours, norm=norm, edgecolors="none", rasterized=True,
        )  # fmt: skip
        for line in one.before:
            place.plot(line[:, 0], line[:, 1], color="0.35", linewidth=0.7, linestyle=(0, (4, 3)))
        place.plot(one.presser[:, 0], one.presser[:, 1], color="black", linewidth=1.8)
        reach = 1.12 * max(float(np.abs(line).max()) for line in one.before)
        place.set(xlim=(-reach, reach), ylim=(-reach, reach), aspect="equal", xlabel="mm", title=one.title)
    if drawn is not None:
        bar = figure.colorbar(
            drawn, ax=list(axes), location="bottom", shrink=0.6, aspect=45, extend="max",
            format=lambda share, _: f"{100 * share:.1f} %",
        )  # fmt: skip
        bar.set_label("greatest stretch of the rubber")


def _curves(axes: Any, curves: Sequence[PressedCurve]) -> None:
    for number, curve in enumerate(curves):
        axes.plot(
            curve.travel, curve.force, color="black", linestyle=STYLES[number % len(STYLES)],
            marker=MARKERS[number % len(MARKERS)], markersize=3.5, linewidth=1.2, label=curve.name,
        )  # fmt: skip
        if curve.collapse is not None:
            axes.annotate(
                "collapses",
                curve.collapse,
                textcoords="offset points",
                xytext=(0, 8),
                ha="center",
                fontsize=8,
            )
    axes.set(xlabel="travel after first touch, mm", ylabel="force, N per mm of roller", xlim=(0, None))
    axes.grid(color="0.9")
    if curves:
        axes.set_ylim(0, 1.12 * max(float(curve.force.max()) for curve in curves) or None)
        axes.legend(frameon=False, fontsize=8)


def _around(axes: Any, around: Sequence[RoundStiffness]) -> None:
    for number, one in enumerate(around):
        axes.plot(
            one.angle, one.stiffness, color="black", linestyle=STYLES[number % len(STYLES)], linewidth=1.3,
            label=one.name,
        )  # fmt: skip
    axes.set_title("stiffness all round, N/mm per mm of roller", fontsize=9)
    axes.set_rlabel_position(7)
    axes.grid(color="0.85")
    if len(around) > 1:
        axes.legend(loc="lower left", bbox_to_anchor=(-0.25, -0.15), frameon=False, fontsize=8)
