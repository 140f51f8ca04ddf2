"""The bed trial as it leaves: a sideways animation of one feed, and bars of what became of each item."""

from __future__ import annotations

import io
import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, sin
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.distance import boundary_points
from rollergen.shape.outline import Outline

Floats = NDArray[np.float64]

ON_BED, SEIZED = 1, 2  # states of a track that are drawn; the others are waiting or gone
FILLS = {"crop": "#e0a030", "debris": "#7a7f86"}  # told apart in grey too: light crop, dark debris
SEIZED_EDGE = "#c00000"
SKIN = "#dfe6ea"  # of a roller
SHOWN_SEIZED = 0.4  # s for which a seized body stays in the picture with its mark
CHORD = 1.5  # mm between the points of a drawn outline
INK = ("#303030", "#909090", "#d0d0d0", "#ffffff")  # bars: seized, fell, over, still on the bed
HATCHES = ("", "//", "..", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnRoller:
    """A roller as drawn: its outline (None: a circle of ``radius``), place (mm), speed (rad/s) and phase."""

    outline: Outline | None
    radius: float
    x: float
    y: float
    rotation_speed: float
    phase: float


def trial_animation(
    *,
    rollers: Sequence[DrawnRoller],
    kinds: Sequence[Literal["crop", "debris"]],
    time: Floats,
    x: NDArray[np.float32],
    y: NDArray[np.float32],
    state: NDArray[np.int8],
    diameter: Floats,
    item: NDArray[np.int64],
    title: str,
    form: Literal["gif", "mp4"] = "gif",
    width_px: int = 800,
) -> bytes:
    """The bed seen along the rollers, one picture per frame of the track, as GIF or MP4 bytes.

    ``time`` (f,) s; ``x``, ``y`` (f, n) mm and ``state`` (f, n) as recorded (1 on the bed, 2 seized);
    ``diameter`` and ``item`` (n,); ``kinds`` names each item's kind.  Helical ribs are shown where z = 0.
    Same input, same bytes on one machine.  Raises ValueError without two frames, and for "mp4" when
    ffmpeg is not there.
    """
    if len(time) < 2:
        raise ValueError(f"an animation needs two frames or more, the track has {len(time)}")
    if form == "mp4" and not mp4_possible():
        raise ValueError("MP4 needs the program ffmpeg, which is not there; ask for a GIF")
    import matplotlib

    with matplotlib.rc_context({"font.size": 9.0}):
        figure, draw = _stage(rollers, kinds, x, y, state, diameter, item, title, width_px)
        rate = (len(time) - 1) / float(time[-1] - time[0])
        since = _first_seen(state, time)
        if form == "mp4":
            return _filmed(figure, rate, lambda k: draw(k, float(time[k]), since), len(time))
        frames = []
        for k in range(len(time)):
            draw(k, float(time[k]), since)
            frames.append(_pixels(figure))
    return _gif(frames, rate)


def mp4_possible() -> bool:
    """Whether the program that writes MP4 is on this machine."""
    return shutil.which("ffmpeg") is not None


def trial_bars(
    *,
    names: Sequence[str],
    seized: Sequence[float],
    fell: Sequence[float],
    over: Sequence[float],
    on_bed: Sequence[float],
    errors: Sequence[Sequence[float]] | None = None,
    title: str,
    form: Literal["png", "svg"] = "png",
) -> bytes:
    """Bars of seized, fell, over and still on the bed for every item, PNG or SVG bytes.

    Counts of bodies; ``errors`` (4, items) are standard errors, drawn as lines.  Same input, same bytes.
    """
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "rollergen", "font.size": 9.0}):
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        figure = Figure(figsize=(7.2, 3.8), dpi=120, layout="constrained")
        FigureCanvasAgg(figure)
        axes = figure.add_subplot()
        place = np.arange(len(names), dtype=np.float64)
        words = ("seized", "fell through", "carried over", "still on the bed")
        for k, (word, counts) in enumerate(zip(words, (seized, fell, over, on_bed), strict=True)):
            at = place + 0.2 * (k - 1.5)
            axes.bar(at, counts, 0.18, label=word, color=INK[k], edgecolor="black", hatch=HATCHES[k], lw=0.7)
            if errors is not None:
                axes.errorbar(at, counts, yerr=errors[k], fmt="none", ecolor="#c00000", capsize=3, lw=1.2)
        axes.set_xticks(place, list(names))
        axes.set_ylim(bottom=0.0)
        axes.set_ylabel("bodies")
        axes.set_title(title)
        figure.legend(loc="outside lower center", ncols=4, frameon=False)
        page = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(page, format=form, metadata=metadata)
    return page.getvalue()


def _stage(
    rollers: Sequence[DrawnRoller],
    kinds: Sequence[str],
    x: NDArray[np.float32],
    y: NDArray[np.float32],
    state: NDArray[np.int8],
    diameter: Floats,
    item: NDArray[np.int64],
    title: str,
    width_px: int,
) -> tuple[Any, Any]:
    """An empty figure, and a function that puts one frame on it."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.collections import EllipseCollection, PolyCollection
    from matplotlib.figure import Figure
    from matplotlib.patches import Patch

    left, right, low, high = _window(rollers, x, y, state, diameter)
    dpi = 100
    wide = width_px / dpi
    figure = Figure(figsize=(wide, wide * (high - low) / (right - left) + 0.55), dpi=dpi)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0 - 0.5 / figure.get_figheight()))
    axes.set_xlim(left, right)
    axes.set_ylim(low, high)
    axes.set_aspect("equal")
    axes.set_axis_off()
    outlines = [_points(roller) for roller in rollers]
    skins = PolyCollection([], facecolors=SKIN, edgecolors="black", linewidths=0.8, zorder=1)
    axes.add_collection(skins)
    fills = np.array([FILLS[kinds[k]] for k in item])
    balls = EllipseCollection([], [], [], units="xy", offsets=[], transOffset=axes.transData, zorder=2)
    axes.add_collection(balls)
    line = 1.0 - 0.25 / figure.get_figheight()
    clock = figure.text(0.99, line, "", ha="right", va="center")
    figure.text(0.01, line, title, ha="left", va="center")
    figure.legend(
        handles=[
            Patch(facecolor=FILLS["crop"], edgecolor="black", label="crop"),
            Patch(facecolor=FILLS["debris"], edgecolor="black", label="debris"),
            Patch(facecolor="white", edgecolor=SEIZED_EDGE, linewidth=2.0, label="seized"),
        ],
        loc="center right",
        bbox_to_anchor=(0.92, line),
        ncols=3,
        frameon=False,
    )

    def draw(frame: int, now: float, since: Floats) -> None:
        skins.set_verts(
            [_placed(points, roller, now) for points, roller in zip(outlines, rollers, strict=True)]
        )
        held = (state[frame] == SEIZED) & (now - since < SHOWN_SEIZED)
        shown = np.concatenate([np.flatnonzero(state[frame] == ON_BED), np.flatnonzero(held)])
        size = diameter[shown]
        balls.set_offsets(np.stack([x[frame, shown], y[frame, shown]], axis=1))
        balls.set_widths(size)
        balls.set_heights(size)
        balls.set_angles(np.zeros(len(shown)))
        balls.set_facecolor(fills[shown])
        balls.set_edgecolor(np.where(held[shown], SEIZED_EDGE, "#000000"))
        balls.set_linewidth(np.where(held[shown], 2.2, 0.5).tolist())
        clock.set_text(f"{now:.1f} s")

    return figure, draw


def _window(
    rollers: Sequence[DrawnRoller],
    x: NDArray[np.float32],
    y: NDArray[np.float32],
    state: NDArray[np.int8],
    diameter: Floats,
) -> tuple[float, float, float, float]:
    """Left, right, low and high edge of the picture: all rollers, and all bodies that ever lay on them."""
    on = state == ON_BED
    top = np.where(on, y + diameter / 2, -np.inf).max()
    left, right = min(r.x - r.radius for r in rollers), max(r.x + r.radius for r in rollers)
    low, high = min(r.y - r.radius for r in rollers), max(r.y + r.radius for r in rollers)
    return left - 60.0, right + 60.0, low - 15.0, max(high + 40.0, float(top) + 10.0)


def _first_seen(state: NDArray[np.int8], time: Floats) -> Floats:
    """When each body was first seen as seized; inf when never."""
    seized = state == SEIZED
    return np.where(seized.any(axis=0), time[seized.argmax(axis=0)], np.inf)


def _points(roller: DrawnRoller) -> Floats:
    """The outline as points, with a spoke's notch on a plain circle so that its turning shows."""
    if roller.outline is not None:
        return boundary_points(roller.outline, CHORD)
    angle = np.linspace(0.06, 2 * np.pi - 0.06, 90)
    rim = roller.radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return np.concatenate([rim, [[0.82 * roller.radius, 0.0]]])


def _placed(points: Floats, roller: DrawnRoller, now: float) -> Floats:
    angle = roller.phase + roller.rotation_speed * now
    c, s = cos(angle), sin(angle)
    return np.stack(
        [
            roller.x + c * points[:, 0] - s * points[:, 1],
            roller.y + s * points[:, 0] + c * points[:, 1],
        ],
        axis=1,
    )


def _pixels(figure: Any) -> NDArray[np.uint8]:
    figure.canvas.draw()
    page: NDArray[np.uint8] = np.asarray(figure.canvas.buffer_rgba())[..., :3].copy()
    return page


def _gif(frames: list[NDArray[np.uint8]], rate: float) -> bytes:
    """One palette for all frames, so that unchanged pixels stay unchanged and the file small."""
    from PIL import Image

    palette = Image.new("P", (1, 1))
    palette.putpalette(_palette())
    pages = [Image.fromarray(frame).quantize(palette=palette, dither=Image.Dither.NONE) for frame in frames]
    page = io.BytesIO()
    pages[0].save(
        page,
        format="GIF",
        save_all=True,
        append_images=pages[1:],
        duration=max(20, round(1000.0 / rate)),
        loop=0,
        optimize=False,
    )
    return page.getvalue()


def _palette() -> list[int]:
    """Every colour that is drawn, and two steps from each to each for the smoothed edges between them."""
    drawn = ["#ffffff", "#000000", SKIN, SEIZED_EDGE, *FILLS.values()]
    base = [np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) for colour in drawn]
    mixed = [a + (b - a) * step // 3 for i, a in enumerate(base) for b in base[i + 1 :] for step in (1, 2)]
    return [int(value) for colour in (*base, *mixed) for value in colour]


def _filmed(figure: Any, rate: float, draw: Any, frames: int) -> bytes:
    from matplotlib.animation import FFMpegWriter

    writer = FFMpegWriter(
        fps=round(rate), bitrate=1200, extra_args=["-fflags", "+bitexact", "-flags", "+bitexact"]
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "trial.mp4"
        with writer.saving(figure, str(path), dpi=figure.dpi):
            for k in range(frames):
                draw(k)
                writer.grab_frame()
        return path.read_bytes()
