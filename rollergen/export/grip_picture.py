"""Pictures of grip: the map, the curves of several profiles, the section at the limit, the trade-off.

They survive a black-and-white printer: greys, hatching and line styles tell apart what colour would.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import atan, cos, sin
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Form = Literal["png", "svg"]

SEIZES, FALLS, NOT_CLOSING = 0, 1, 2
CONTOURS = (0.3, 0.5, 0.7)
MOST_FRICTION = 1.0
STYLES = ("-", "--", "-.", ":")
FRICTION_COLOURS = "cividis"  # even in grey, and for eyes that see few colours


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A range of diameters of one item (mm) and its friction; ``keep`` True for crop."""

    name: str
    smallest: float
    largest: float
    friction: tuple[float, float]
    keep: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Limit:
    """A ball at the limit: its centre, both contacts, and how our roller is turned (mm, rad).

    ``outline`` (n, 2) is our section as points at rotation 0; friction tells the half angle of the cones.
    """

    outline: Floats
    rotation: float
    mate_radius: float
    axis_distance: float
    tilt: float
    centre: tuple[float, float]
    radius: float
    ours: tuple[float, float]
    mates: tuple[float, float]
    friction: float


def grip_map_picture(
    *, rotation: Floats, diameter: Floats, friction: Floats, code: NDArray[np.int8], title: str,
    bands: Sequence[Band] = (), form: Form = "png",
) -> bytes:  # fmt: skip
    """Friction needed over rotation (m,) rad and diameter (n,) mm; "falls" and "not closing" have their own shade.

    ``friction`` and ``code`` (n, m).  Contours at 0.3, 0.5 and 0.7.  Same input, same bytes.
    """

    def draw(figure: Any) -> None:
        axes = figure.add_subplot()
        turn = np.degrees(rotation)
        shades = np.where(code == SEIZES, np.clip(friction, 0.0, MOST_FRICTION), np.nan)
        painted = axes.pcolormesh(
            turn, diameter, shades, cmap=FRICTION_COLOURS, vmin=0.0, vmax=MOST_FRICTION, shading="nearest",
            rasterized=True,
        )  # fmt: skip
        for which, colour in ((FALLS, "white"), (NOT_CLOSING, "0.72")):
            flat = np.where(code == which, 1.0, np.nan)
            axes.pcolormesh(
                turn, diameter, flat, cmap=_one_colour(colour), shading="nearest", rasterized=True
            )
        filled = np.ma.masked_where(code != SEIZES, np.nan_to_num(friction, nan=9.0, posinf=9.0))
        lines = axes.contour(turn, diameter, filled, levels=list(CONTOURS), colors="white", linewidths=0.8)
        axes.clabel(lines, fmt="%.1f", fontsize=7)
        figure.colorbar(painted, label=f"friction needed (above {MOST_FRICTION:g}: as {MOST_FRICTION:g})")
        _mark_bands(axes, bands, across=True)
        axes.set_xlabel("rotation of our roller, deg;   white: falls,   grey: lies there, not drawn in")
        axes.set_ylabel("diameter of the body, mm")
        axes.set_ylim(float(diameter[0]), float(diameter[-1]))
        axes.set_title(title)

    return _page(draw, form, height=4.6)


def grip_curves_picture(
    curves: Sequence[tuple[str, Floats, Floats]],
    *,
    title: str,
    bands: Sequence[Band] = (),
    form: Form = "png",
) -> bytes:
    """Friction needed over diameter for several profiles, crop and debris shaded as boxes of size and friction.

    A box of debris should lie above and left of a profile's line, that of the crop below and right of it.
    """

    def draw(figure: Any) -> None:
        axes = figure.add_subplot()
        greys = np.linspace(0.0, 0.55, max(len(curves), 1))
        for number, (name, diameter, friction) in enumerate(curves):
            shown = np.where(np.isfinite(friction), np.maximum(friction, 0.0), np.nan)
            axes.plot(
                diameter,
                shown,
                STYLES[number % len(STYLES)],
                color=str(greys[number]),
                linewidth=1.6,
                label=name,
            )
        _mark_bands(axes, bands, across=False)
        axes.set_xlabel("diameter of the body, mm")
        axes.set_ylabel("friction needed")
        axes.set_ylim(0.0, MOST_FRICTION)
        axes.set_xlim(0.0, max((float(d[-1]) for _, d, _ in curves), default=1.0))
        axes.set_title(title)
        axes.legend(fontsize=7.5, loc="upper left")
        axes.text(
            0.99,
            0.02,
            "above a line: seized   below it: rides over",
            transform=axes.transAxes,
            ha="right",
            fontsize=8,
        )

    return _page(draw, form, height=4.6)


def grip_section_picture(limit: Limit, *, title: str, note: str = "", form: Form = "png") -> bytes:
    """Our section, the mate and the largest body seized: both contacts, their friction cones, the chord."""

    def draw(figure: Any) -> None:
        axes = figure.add_subplot()
        lean, turn = (
            complex(cos(limit.tilt), sin(limit.tilt)),
            complex(cos(limit.rotation), sin(limit.rotation)),
        )
        shape = (limit.outline[:, 0] + 1j * limit.outline[:, 1]) * turn
        axes.fill(shape.real, shape.imag, facecolor="0.85", edgecolor="black", linewidth=1.0)
        mate = limit.axis_distance * lean
        axes.add_patch(_circle((mate.real, mate.imag), limit.mate_radius, facecolor="0.93"))
        centre, ours, mates = (complex(*p) * lean for p in (limit.centre, limit.ours, limit.mates))
        axes.add_patch(_circle((centre.real, centre.imag), limit.radius, facecolor="none", linestyle="--"))
        for contact in (ours, mates):
            _cone(axes, contact, centre, atan(limit.friction))
        axes.plot([ours.real, mates.real], [ours.imag, mates.imag], color="black", linewidth=1.6)
        axes.plot([0, mate.real], [0, mate.imag], "k+", markersize=8)
        reach = 1.25 * limit.radius + 18
        axes.set_xlim(centre.real - reach, centre.real + reach)
        axes.set_ylim(centre.imag - 1.1 * reach, centre.imag + 0.9 * reach)
        axes.set_aspect("equal")
        axes.set_xlabel("x, mm" + (f"\n{note}" if note else ""))
        axes.set_ylabel("y, mm")
        axes.set_title(title)

    return _page(draw, form, height=6.2, width=6.4)


def trade_off_picture(
    points: Sequence[tuple[float, float, int, bool]], *, chosen: tuple[float, float] | None, title: str,
    smallest_crop: float, form: Form = "png",
) -> bytes:  # fmt: skip
    """Largest body seized against share of debris that surely goes; a marker a rib count.

    ``points``: (size mm, share, rib count, keeps every limit).  Hollow: does not keep every limit.
    """
    markers = "osD^v<>ph*"

    def draw(figure: Any) -> None:
        axes = figure.add_subplot()
        for number, count in enumerate(sorted({p[2] for p in points})):
            some = [p for p in points if p[2] == count]
            shape = markers[number % len(markers)]
            for keeps, face in ((True, "0.25"), (False, "none")):
                at = [(x, y) for x, y, _, k in some if k is keeps]
                if at:
                    axes.scatter(
                        *zip(*at, strict=True),
                        marker=shape,
                        s=22,
                        facecolors=face,
                        edgecolors="0.25",
                        linewidths=0.7,
                    )
            axes.scatter(
                [], [], marker=shape, s=22, facecolors="0.25", edgecolors="0.25", label=f"{count} ribs"
            )
        axes.axvline(smallest_crop, color="black", linestyle="--", linewidth=1.0, label="smallest crop")
        if chosen is not None:
            axes.scatter([chosen[0]], [chosen[1]], s=150, facecolors="none", edgecolors="black", linewidths=1.6,
                         label="proposed")  # fmt: skip
        axes.set_xlabel("largest body seized at the crop's highest friction, mm;   hollow: misses a limit")
        axes.set_ylabel("share of the debris sizes that surely goes")
        axes.set_title(title)
        axes.legend(fontsize=7.5)

    return _page(draw, form, height=4.6)


def _page(draw: Callable[[Any], None], form: Form, *, height: float, width: float = 7.2) -> bytes:
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "rollergen", "font.size": 9.0}):
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        figure = Figure(figsize=(width, height), dpi=120, layout="constrained")
        FigureCanvasAgg(figure)
        draw(figure)
        page = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(page, format=form, metadata=metadata)
    return page.getvalue()


def _mark_bands(axes: Any, bands: Sequence[Band], *, across: bool) -> None:
    from matplotlib.patches import Rectangle

    for band in bands:
        hatch, colour = ("..", "0.15") if band.keep else ("//", "0.45")
        if across:
            for size in (band.smallest, band.largest):
                axes.axhline(size, color=colour, linewidth=0.8, linestyle="-" if band.keep else ":")
            axes.text(2, band.smallest, f" {band.name} from {band.smallest:g}", fontsize=7, va="bottom",
                      bbox={"facecolor": "white", "alpha": 0.6, "edgecolor": "none", "pad": 0.5})  # fmt: skip
            continue
        low, high = band.friction
        wide, tall = max(band.largest - band.smallest, 0.3), max(high - low, 0.006)
        axes.add_patch(
            Rectangle(
                (band.smallest, low),
                wide,
                tall,
                facecolor="none",
                edgecolor=colour,
                hatch=hatch,
                linewidth=0.8,
            )
        )
        axes.text(band.smallest + wide / 2, high, band.name, fontsize=8, ha="center", va="bottom")


def _one_colour(colour: str) -> Any:
    from matplotlib.colors import ListedColormap

    return ListedColormap([colour])


def _circle(centre: tuple[float, float], radius: float, **look: Any) -> Any:
    from matplotlib.patches import Circle

    return Circle(centre, radius, edgecolor="black", linewidth=1.0, **look)


def _cone(axes: Any, contact: complex, centre: complex, half: float) -> None:
    """The friction cone at a contact: what force the surface can pass on without slipping."""
    inwards = 0.8 * (centre - contact)
    edges = [contact + inwards * complex(cos(s * half), sin(s * half)) for s in (-1, 1)]
    corner = [contact, *edges]
    axes.fill(
        [p.real for p in corner], [p.imag for p in corner], facecolor="0.5", alpha=0.25, edgecolor="0.3"
    )
    axes.plot([contact.real], [contact.imag], "ko", markersize=3.5)
