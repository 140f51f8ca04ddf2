"""A shaded picture of meshes, drawn here: no window, no graphics card, the same bytes everywhere.

Orthographic, as a drawing is.  Every pixel finds its nearest facet, then is lit by the smooth normal there;
dark lines where surfaces meet or stand in front of one another keep it readable in black and white.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
FINER = 2  # pixels per side of a shown pixel
MARGIN = 0.06  # of the picture's smaller side, all round
MOST_AT_ONCE = 2_000_000  # pixels of facets in memory together
STEP = 5.0  # shown pixels in depth by which a surface stands clear of what is behind it
MOST_PIXELS = 40_000_000  # shown pixels; a poster is smaller
KEY, FILL = (-0.40, 0.45, 0.80), (0.8, 0.1, 0.4)  # where light comes from, in the eye's own axes
LINE = np.array([0.13, 0.13, 0.15])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shown:
    """One closed mesh: ``vertices`` (n, 3) mm, ``triangles`` (t, 3) outward, ``surface`` (t,) smooth groups."""

    vertices: Floats
    triangles: NDArray[np.int32]
    surface: NDArray[np.int32]
    colour: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Eye:
    """From where one looks: ``azimuth`` round z from +x and ``elevation`` above the section, deg; z points up.

    ``roll_deg`` turns the head clockwise: at 90 the axis lies, +z to the left.
    """

    azimuth_deg: float = -60.0
    elevation_deg: float = 28.0
    roll_deg: float = 0.0

    @property
    def axes(self) -> Floats:
        """(3, 3): rows right, up and towards the eye."""
        a, e, r = radians(self.azimuth_deg), radians(self.elevation_deg), radians(self.roll_deg)
        across = np.array([-sin(a), cos(a), 0.0])
        toward = np.array([cos(a) * cos(e), sin(a) * cos(e), sin(e)])
        above = np.cross(toward, across)
        return np.array([cos(r) * across - sin(r) * above, sin(r) * across + cos(r) * above, toward])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shaded:
    """A picture as PNG bytes, and ``owner`` (height, width): which of the meshes each pixel shows, -1 for none."""

    png: bytes
    owner: Ints


def shaded_png(
    shown: Sequence[Shown], *, eye: Eye, width: int = 1200, height: int = 900, even: float = 0.0
) -> bytes:
    """PNG bytes of the meshes; see ``shaded``."""
    return shaded(shown, eye=eye, width=width, height=height, even=even).png


def shaded(
    shown: Sequence[Shown], *, eye: Eye, width: int = 1200, height: int = 900, even: float = 0.0
) -> Shaded:
    """The meshes filling a picture of ``width`` by ``height`` pixels on white.

    ``even``: 0 for the full play of light, 1 for flat colours, where a colour is to be read off a key.
    Raises ValueError for no mesh and for a picture smaller than 16 pixels or larger than 40 million.
    """
    if not shown:
        raise ValueError("nothing to show: no mesh")
    if min(width, height) < 16 or width * height > MOST_PIXELS:
        raise ValueError(
            f"a picture of {width} x {height} pixels: 16 pixels a side at least, 40 million at most"
        )
    from matplotlib.image import imsave

    points, triangles, surface, colours = _joined(shown)
    seen = points @ eye.axes.T
    w, h = width * FINER, height * FINER
    low, high = seen[:, :2].min(axis=0), seen[:, :2].max(axis=0)
    room = np.array([w, h]) - 2 * MARGIN * min(w, h)
    scale = float((room / np.maximum(high - low, 1e-9)).min())
    flat = (seen[:, :2] - (low + high) / 2) * scale
    flat = np.stack([flat[:, 0] + w / 2, h / 2 - flat[:, 1]], axis=1)
    depth = -seen[:, 2] * scale
    facet, nearest = _visible(flat, depth, triangles, w, h)
    normals = _corner_normals(seen, triangles, surface)
    page = _lit(facet, w, flat, triangles, normals, colours, even)
    page[_lines(facet, nearest, surface, w)] = LINE
    page = page.reshape(height, FINER, width, FINER, 3).mean(axis=(1, 3))
    data = io.BytesIO()
    nameless: dict[str, Any] = {"Software": None}
    imsave(data, np.round(page * 255).astype(np.uint8), format="png", metadata=nameless)
    last = np.cumsum([len(s.triangles) for s in shown])
    first_of_four = facet.reshape(h, w)[::FINER, ::FINER]
    owner = np.where(first_of_four >= 0, np.searchsorted(last, first_of_four, side="right"), -1)
    return Shaded(png=data.getvalue(), owner=owner)


def _joined(shown: Sequence[Shown]) -> tuple[Floats, Ints, Ints, Floats]:
    """All points, triangles, surfaces (numbered through) and the colour of each triangle."""
    from matplotlib.colors import to_rgb

    first = np.cumsum([0, *(len(s.vertices) for s in shown)])
    groups = np.cumsum([0, *(int(s.surface.max()) + 1 for s in shown)])
    return (
        np.concatenate([s.vertices for s in shown]),
        np.concatenate([s.triangles.astype(np.int64) + n for s, n in zip(shown, first[:-1], strict=True)]),
        np.concatenate([s.surface.astype(np.int64) + n for s, n in zip(shown, groups[:-1], strict=True)]),
        np.concatenate([np.tile(to_rgb(s.colour), (len(s.triangles), 1)) for s in shown]),
    )


def _visible(flat: Floats, depth: Floats, triangles: Ints, w: int, h: int) -> tuple[Ints, Floats]:
    """(h * w,) facet seen at each pixel, -1 for none, and its depth."""
    nearest = np.full(w * h, np.inf)
    facet = np.full(w * h, -1, dtype=np.int64)
    a, b, c = (flat[triangles[:, k]] for k in range(3))
    turn = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    facing = np.flatnonzero(turn < -1e-9)  # y runs down, so an outward facet turns the other way
    rows = np.stack([a[:, 1], b[:, 1], c[:, 1]])
    first = np.clip(np.ceil(rows.min(axis=0) - 0.5), 0, h).astype(np.int64)
    last = np.clip(np.floor(rows.max(axis=0) - 0.5) + 1, 0, h).astype(np.int64)
    facing = facing[last[facing] > first[facing]]
    area = np.maximum(np.abs(turn[facing]), (last - first)[facing])
    for part in np.split(facing, _cuts(area, MOST_AT_ONCE)):
        _draw(part, flat, depth, triangles, first, last, w, nearest, facet)
    return facet, nearest


def _cuts(sizes: Floats, most: int) -> Ints:
    """Where to cut a list so that each piece sums to about ``most``."""
    number = (np.cumsum(sizes) // most).astype(np.int64)
    return np.flatnonzero(np.diff(number)) + 1


def _draw(
    part: Ints, flat: Floats, depth: Floats, triangles: Ints, first: Ints, last: Ints, w: int,
    nearest: Floats, facet: Ints,
) -> None:  # fmt: skip
    """Facets ``part`` into the buffers: each row's span, then each pixel of the span."""
    if not len(part):
        return
    height = (last - first)[part]
    owner = np.repeat(part, height)
    row = first[owner] + _counting(height)
    y = row + 0.5
    corners = flat[triangles[owner]]  # (rows, 3, 2)
    left, right = np.full(len(owner), np.inf), np.full(len(owner), -np.inf)
    for k in range(3):
        p, q = corners[:, k], corners[:, (k + 1) % 3]
        rise = q[:, 1] - p[:, 1]
        crosses = (np.minimum(p[:, 1], q[:, 1]) <= y) & (y <= np.maximum(p[:, 1], q[:, 1])) & (rise != 0)
        x = p[:, 0] + (y - p[:, 1]) / np.where(rise == 0, 1.0, rise) * (q[:, 0] - p[:, 0])
        left, right = (
            np.where(crosses, np.minimum(left, x), left),
            np.where(crosses, np.maximum(right, x), right),
        )
    start = np.clip(np.ceil(np.where(left < np.inf, left, 0.0) - 0.5), 0, w).astype(np.int64)
    stop = np.clip(np.floor(np.where(right > -np.inf, right, -1.0) - 0.5) + 1, 0, w).astype(np.int64)
    count = np.maximum(stop - start, 0)
    owner, row = np.repeat(owner, count), np.repeat(row, count)
    column = np.repeat(start, count) + _counting(count)
    shares = _shares(owner, column, row, flat, triangles)
    far = np.einsum("nk,nk->n", shares, depth[triangles[owner]])
    pixel = row * w + column
    np.minimum.at(nearest, pixel, far)
    wins = far == nearest[pixel]
    facet[pixel[wins]] = owner[wins]


def _counting(counts: Ints) -> Ints:
    """0, 1, ... within each run of ``counts``."""
    ends = np.cumsum(counts)
    total = int(ends[-1]) if len(ends) else 0
    found: Ints = np.arange(total) - np.repeat(ends - counts, counts)
    return found


def _shares(owner: Ints, column: Ints, row: Ints, flat: Floats, triangles: Ints) -> Floats:
    """(n, 3) weights of a facet's corners in the middle of a pixel."""
    x, y = column + np.float64(0.5), row + np.float64(0.5)
    a, b, c = (flat[triangles[owner, k]] for k in range(3))
    whole = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    second = ((x - a[:, 0]) * (c[:, 1] - a[:, 1]) - (y - a[:, 1]) * (c[:, 0] - a[:, 0])) / whole
    third = ((b[:, 0] - a[:, 0]) * (y - a[:, 1]) - (b[:, 1] - a[:, 1]) * (x - a[:, 0])) / whole
    return np.stack([1 - second - third, second, third], axis=1)


def _corner_normals(points: Floats, triangles: Ints, surface: Ints) -> Floats:
    """(t, 3, 3) unit normals at each facet's corners, averaged over the facets of one smooth surface."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    key = (triangles * (int(surface.max()) + 1) + surface[:, None]).ravel()
    _, place = np.unique(key, return_inverse=True)
    total = np.zeros((int(place.max()) + 1, 3))
    for axis in range(3):
        total[:, axis] = np.bincount(place, weights=np.repeat(normal[:, axis], 3), minlength=len(total))
    total /= np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-30)
    return total[place].reshape(-1, 3, 3)


def _lit(
    facet: Ints, w: int, flat: Floats, triangles: Ints, normals: Floats, colours: Floats, even: float
) -> Floats:
    """(h * w, 3) colour of every pixel, white where nothing stands."""
    page = np.ones((len(facet), 3))
    everywhere = np.flatnonzero(facet >= 0)
    for hit in np.split(everywhere, np.arange(MOST_AT_ONCE, len(everywhere), MOST_AT_ONCE)):
        owner = facet[hit]
        shares = np.clip(_shares(owner, hit % w, hit // w, flat, triangles), 0, 1)
        normal = np.einsum("nk,nkd->nd", shares, normals[owner])
        normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-30)
        key, fill = (np.maximum(normal @ (np.array(x) / np.linalg.norm(x)), 0.0) for x in (KEY, FILL))
        light = 0.46 + 0.56 * key + 0.20 * fill
        light += even * (1.0 - light)
        shine = (1.0 - even) * 0.10 * key**24
        page[hit] = np.clip(colours[owner] * light[:, None] + shine[:, None], 0, 1)
    return page


def _lines(facet: Ints, nearest: Floats, surface: Ints, w: int) -> NDArray[np.bool_]:
    """(h * w,) True where two surfaces meet in the picture, or one stands clear in front of itself."""
    group = np.where(facet >= 0, surface[facet], -1).reshape(-1, w)
    far = np.where(facet >= 0, nearest, nearest[np.isfinite(nearest)].max(initial=0.0)).reshape(-1, w)
    marked = np.zeros(group.shape, dtype=bool)
    for axis in (0, 1):
        lead, lag = [slice(None)] * 2, [slice(None)] * 2
        lead[axis], lag[axis] = slice(1, None), slice(None, -1)
        marked[tuple(lag)] |= group[tuple(lead)] != group[tuple(lag)]
        marked[tuple(lead)] |= group[tuple(lead)] != group[tuple(lag)]
        bend = np.zeros(group.shape)
        inner = [slice(None)] * 2
        inner[axis] = slice(1, -1)
        bend[tuple(inner)] = np.abs(np.diff(far, n=2, axis=axis))
        marked |= bend > STEP * FINER
    found: NDArray[np.bool_] = (marked & (group >= 0)).ravel()
    return found
