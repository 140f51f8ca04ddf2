"""A section becomes six-node triangles: nodes along its edges, a fill between, mid-nodes on the true curve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollergen.errors import Complaint, ProfileError
from rollergen.rubber.boundary import PER_QUARTER, THROUGH, Segment, SizeField, segments_of, size_field
from rollergen.rubber.plane_mesh import Numbers, PlaneMesh, Points, least_jacobian
from rollergen.shape.properties import area_of, greatest_radius
from rollergen.shape.section import Section

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

MOST_NODES = 60_000
PER_AREA = 4 * 2 / 3**0.5  # nodes per mm2 where triangles are 1 mm: a corner and three middles each
HOPELESS = 20  # the size field counts holes too: so many times too many nodes are too many anyway
SPARE = 1.1  # on the larger size that is told: finer places grow in number a little too
HAIR = 0.02  # of the size: an edge shorter than this would only make a needle
SEEN = 0.1  # of the asked size: rubber thinner than that escapes the places at which thinness is looked at
MOST_TRIES = 8  # times a missing edge is halved, or a folded triangle made smaller
SMOOTHINGS = 14  # rounds of springs, each on a fresh triangulation
STRETCH = 1.2  # springs are made for somewhat longer edges, so that they press
PUSH = 0.22  # of a spring's shortage moved in one round
NEAR_EDGE = 0.45  # of the size: a fill node nearer to an edge is taken out
FINER = 0.7  # from one level of the fill to the next
SLIVER = 1e-3  # quality below which a triangle between three nodes of one edge is no triangle


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """One outline cut into segments, as a polygon: its first node's number is ``first``."""

    first: int
    segments: tuple[Segment, ...]

    @property
    def corners(self) -> Floats:
        return np.array([s.at(0.0) for s in self.segments])

    @property
    def numbers(self) -> Numbers:
        return self.first + np.arange(len(self.segments))


def mesh_section(section: Section, *, size: float, foamed: Sequence[int] = ()) -> PlaneMesh:
    """Six-node triangles of about ``size`` mm over the rubber, and over the chambers numbered in ``foamed``.

    Triangles are smaller in fillets and where rubber is thin: at least two lie across every wall, web and
    hub wall.  Mid-nodes of edges lie on the true curve: chords through fillets would add material and stiffen
    a segment by up to 9 %.  Every joint of two edges is a node, but edges shorter than a fiftieth of a
    triangle are left out.
    Same input, same mesh.

    Raises ProfileError (mesh) when more than 60 000 nodes would be needed, when one triangle reaches across
    the rubber (thinner than about a tenth of ``size``), or when the triangles cannot follow.
    """
    if not 0 < size < np.inf:
        raise ValueError(f"mesh size {size:g} mm must be above 0")
    outlines = [section.outer, section.bore, *section.chambers]
    field = size_field(outlines, size)
    _refuse_hopeless(field, greatest_radius(section.outer), _nodes_of_size(section, size, foamed), size)
    cut = [_without_hairs(segments_of(outline, field), field) for outline in outlines]
    fill = _fill(field, [_polygon(segments) for segments in cut], size, foamed)
    counted = 4 * len(fill) + 3 * sum(len(segments) for segments in cut)
    if counted > MOST_NODES:
        raise _too_many(f"about {counted}", counted, _nodes_of_size(section, size, foamed), size, field.least)
    for _ in range(MOST_TRIES):
        loops = _loops(cut)
        points, triangles = _triangulated(loops, fill, field, foamed)
        missing = _missing(loops, triangles)
        if not any(flags.any() for flags in missing):
            mesh = _with_middles(points, triangles, loops, foamed)
            folded = _folded(mesh, loops)
            if not any(flags.any() for flags in folded):
                across = _one_across(mesh)
                if not len(across):
                    return mesh
                middles, thin = across.mean(axis=1), np.linalg.norm(np.diff(across, axis=1), axis=2).min()
                if thin < SEEN * size:
                    raise _one_across_only(float(thin), size)
                # smoothing has pushed the node between them away: one is put back
                fill = np.concatenate(
                    [points[sum(len(loop.segments) for loop in loops) :], np.unique(middles, axis=0)]
                )
                continue
            missing = folded
        cut = [_halved(segments, flags) for segments, flags in zip(cut, missing, strict=True)]
        fill = points[sum(len(loop.segments) for loop in loops) :]
    raise ProfileError(
        [
            Complaint(
                key="mesh",
                message=f"triangles of {size:g} mm cannot follow this section: a wall of "
                f"{field.least * THROUGH:.2g} mm is too thin for them; ask for a smaller mesh size",
            )
        ]
    )


def _nodes_of_size(section: Section, size: float, foamed: Sequence[int]) -> float:
    """Nodes if every triangle had the asked size, none finer."""
    holes = (area_of(hole) for number, hole in enumerate(section.holes) if number not in foamed)
    return PER_AREA * (area_of(section.outer) - sum(holes)) / size**2


def _refuse_hopeless(field: SizeField, reach: float, alone: float, size: float) -> None:
    """Refuse before anything is laid out what would take minutes to count."""
    line = field.corner[0] + field.step * np.arange(field.size.shape[1])
    within = np.hypot(*np.meshgrid(line, line)) <= reach
    everywhere = float(PER_AREA * field.step**2 * (1 / field.size[within] ** 2).sum())  # as if without holes
    if everywhere <= HOPELESS * MOST_NODES:
        return
    if alone > MOST_NODES:
        raise _too_many(f"more than {alone:.0f}", alone, alone, size, field.least)
    raise _too_many(f"probably more than {MOST_NODES}", everywhere, alone, size, field.least)


def _too_many(how_many: str, nodes: float, alone: float, size: float, least: float) -> ProfileError:
    """What to say when ``nodes`` are too many, ``alone`` of them for the asked size and nothing finer."""
    left = MOST_NODES - (nodes - alone)  # for the triangles of the asked size
    if left > 0:
        way_out = f"ask for a mesh size of {SPARE * size * (alone / left) ** 0.5:.2g} mm or more"
    else:
        way_out = (
            f"triangles of {least:.2g} mm are needed where the rubber is {least * THROUGH:.2g} mm thin or "
            f"rounded to {least * PER_QUARTER * 2 / np.pi:.2g} mm; make it thicker or rounder there"
        )
    message = f"{how_many} nodes would be needed, at most {MOST_NODES} are taken; {way_out}"
    return ProfileError([Complaint(key="mesh", message=message)])


def _without_hairs(segments: Sequence[Segment], field: SizeField) -> list[Segment]:
    """The segments less those far shorter than the size; the one before then ends where the next begins."""
    begin, end = _polygon(segments), np.array([s.at(1.0) for s in segments])
    hair = np.linalg.norm(end - begin, axis=1) < HAIR * field.at(begin)
    found: list[Segment] = []
    for segment, short, short_before in zip(segments, hair, np.roll(hair, 1), strict=True):
        if not short or short_before:  # never two in a row: together they may be long
            found.append(segment)
    return found


def _polygon(segments: Sequence[Segment]) -> Floats:
    return np.array([s.at(0.0) for s in segments])


def _loops(cut: Sequence[Sequence[Segment]]) -> list[Loop]:
    first = np.cumsum([0, *(len(segments) for segments in cut)])
    return [Loop(first=int(n), segments=tuple(s)) for n, s in zip(first[:-1], cut, strict=True)]


def inside(polygon: Floats, points: Floats) -> Flags:
    """(n,) True for points (n, 2) inside a closed polygon (m, 2); on the edge either way."""
    a, b = polygon, np.roll(polygon, -1, axis=0)
    order = np.argsort(points[:, 1], kind="stable")
    x, y = points[order, 0], points[order, 1]
    # only the points level with an edge can have it beside them
    first = np.searchsorted(y, np.minimum(a[:, 1], b[:, 1]))
    count = np.searchsorted(y, np.maximum(a[:, 1], b[:, 1])) - first
    edge = np.repeat(np.arange(len(a)), count)
    level = np.arange(count.sum()) + np.repeat(first - np.cumsum(count) + count, count)
    (ax, ay), (bx, by) = a[edge].T, b[edge].T
    beside = x[level] < ax + (y[level] - ay) / (by - ay) * (bx - ax)
    found = np.zeros(len(points), dtype=bool)
    found[order] = np.bincount(level[beside], minlength=len(points)) % 2 == 1
    return found


def _fill(field: SizeField, polygons: Sequence[Floats], size: float, foamed: Sequence[int]) -> Floats:
    """A triangular lattice where the size is the asked one, finer ones where it must be less."""
    reach = float(np.abs(polygons[0]).max())
    found, spacing = [], size
    while True:
        finest = spacing * FINER < field.least
        low = 0.0 if finest else spacing * (FINER**0.5)
        high = np.inf if spacing == size else spacing / FINER**0.5
        points = _lattice(field, spacing, reach, all_over=spacing == size)
        wanted = field.at(points)
        found.append(points[(wanted >= low) & (wanted < high)])
        if finest:
            break
        spacing *= FINER
    points = np.concatenate(found)
    return points[_in_rubber(polygons, points, foamed)]


def _in_rubber(polygons: Sequence[Floats], points: Floats, foamed: Sequence[int]) -> Flags:
    """(n,) True for points in rubber or foam; polygons of outer, bore, then every chamber."""
    found = inside(polygons[0], points)
    for number, hole in enumerate(polygons[1:]):
        if number not in foamed:  # 0 is the bore, chambers count from 1
            found &= ~inside(hole, points)
    return found


def _lattice(field: SizeField, spacing: float, reach: float, *, all_over: bool) -> Floats:
    """Points of a triangular lattice: within ``reach`` all round, or only near the edges that need them."""
    rise = spacing * 3**0.5 / 2
    if all_over:
        rows, columns = int(reach / rise) + 1, int(reach / spacing) + 1
        j, i = np.mgrid[-rows : rows + 1, -columns : columns + 1].reshape(2, -1)
    else:
        row, column = np.nonzero(field.size < spacing / FINER**0.5)
        needs = field.corner + field.step * np.stack([column, row], axis=1)
        span = int(np.ceil(field.step / rise)) + 1
        dj, di = np.mgrid[-span : span + 1, -span : span + 1].reshape(2, -1)
        j = (np.round(needs[:, 1] / rise).astype(int)[:, None] + dj).ravel()
        i = (np.round(needs[:, 0] / spacing).astype(int)[:, None] + di).ravel()
        i, j = np.unique(np.stack([i, j]), axis=1)
    return np.stack([spacing * (i + 0.5 * (j % 2)), rise * j], axis=1).astype(np.float64)


def _triangulated(
    loops: Sequence[Loop], fill: Floats, field: SizeField, foamed: Sequence[int]
) -> tuple[Points, Numbers]:
    """Corner nodes, the edges' first, and triangles (t, 3) counter-clockwise over rubber and foam."""
    from scipy.spatial import cKDTree

    fixed = np.concatenate([loop.corners for loop in loops])
    edges = np.concatenate([np.array([[s.at(0.0), s.at(0.5)] for s in loop.segments]) for loop in loops])
    tree = cKDTree(edges.reshape(-1, 2))

    def clear(free: Floats) -> Floats:
        return free[tree.query(free)[0] > NEAR_EDGE * field.at(free)] if len(free) else free

    free = clear(fill)
    for number in range(SMOOTHINGS):
        points = np.concatenate([fixed, free])
        free = _sprung(points, _delaunay(points), len(fixed), field)
        if number % 4 == 3:
            free = clear(free)
    free = clear(free)
    free = free[_in_rubber([loop.corners for loop in loops], free, foamed)]
    points = np.concatenate([fixed, free])
    return points, _kept(points, _delaunay(points), len(fixed), loops, foamed)


def _delaunay(points: Points) -> Numbers:
    from scipy.spatial import Delaunay

    return np.asarray(Delaunay(points).simplices, dtype=np.int64)


def _kept(
    points: Points, triangles: Numbers, fixed: int, loops: Sequence[Loop], foamed: Sequence[int]
) -> Numbers:
    """Triangles of rubber and foam, counter-clockwise; a triangle with a free node is one."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    turn = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    triangles = np.where((turn < 0)[:, None], triangles[:, ::-1], triangles)
    sides = sum(((p - q) ** 2).sum(axis=1) for p, q in ((a, b), (b, c), (c, a)))
    keep = 2 * 3**0.5 * np.abs(turn) / sides > SLIVER
    doubtful = keep & (triangles.max(axis=1) < fixed)
    middle = (a[doubtful] + b[doubtful] + c[doubtful]) / 3
    keep[doubtful] = _in_rubber([loop.corners for loop in loops], middle, foamed)
    found: Numbers = triangles[keep]
    return found


def _sprung(points: Points, triangles: Numbers, fixed: int, field: SizeField) -> Floats:
    """Free nodes after one round: springs along all edges that push where an edge is too short."""
    sides = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    codes = np.unique(sides[sides[:, 1] >= fixed] @ [len(points), 1])
    pairs = np.stack([codes // len(points), codes % len(points)], axis=1)
    along = points[pairs[:, 1]] - points[pairs[:, 0]]
    length = np.linalg.norm(along, axis=1)
    wanted = field.at((points[pairs[:, 0]] + points[pairs[:, 1]]) / 2)
    rest = wanted * STRETCH * np.sqrt((length**2).sum() / (wanted**2).sum())
    push = np.maximum(rest - length, 0.0)[:, None] * along / np.maximum(length, 1e-12)[:, None]
    move = np.stack(
        [
            np.bincount(pairs[:, 1], weights=push[:, k], minlength=len(points))
            - np.bincount(pairs[:, 0], weights=push[:, k], minlength=len(points))
            for k in (0, 1)
        ],
        axis=1,
    )
    found: Floats = (points + PUSH * move)[fixed:]
    return found


def _missing(loops: Sequence[Loop], triangles: Numbers) -> list[Flags]:
    """Per loop and segment: True where no triangle has that edge."""
    most = int(triangles.max()) + 1
    known = np.unique(np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1) @ [most, 1])
    found = []
    for loop in loops:
        pair = np.sort(np.stack([loop.numbers, np.roll(loop.numbers, -1)], axis=1), axis=1)
        found.append(~np.isin(pair @ [most, 1], known))
    return found


def _halved(segments: Sequence[Segment], which: Flags) -> list[Segment]:
    return [
        part
        for segment, halve in zip(segments, which, strict=True)
        for part in (segment.halves() if halve else (segment,))
    ]


def _with_middles(
    points: Points, triangles: Numbers, loops: Sequence[Loop], foamed: Sequence[int]
) -> PlaneMesh:
    """Six-node triangles: mid-nodes half way, on the true curve along the edges."""
    used, triangles = np.unique(triangles, return_inverse=True)
    points, triangles = points[used], triangles.reshape(-1, 3)
    most = len(points)
    sides = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    pairs, place = np.unique(sides, axis=0, return_inverse=True)
    middles = (points[pairs[:, 0]] + points[pairs[:, 1]]) / 2
    code = pairs @ [most, 1]
    edges = []
    for loop in loops:
        begin = loop.numbers  # nodes of edges come first and are all used, so numbers have not moved
        end = np.roll(begin, -1)
        at = np.searchsorted(code, np.sort(np.stack([begin, end], axis=1), axis=1) @ [most, 1])
        middles[at] = np.array([s.at(0.5) for s in loop.segments])
        edges.append(np.stack([begin, most + at, end], axis=1))
    centre = points[triangles].mean(axis=1)
    filled = np.zeros(len(triangles), dtype=np.int64)
    for number in foamed:
        filled[inside(loops[1 + number].corners, centre)] = number
    return PlaneMesh(
        nodes=np.concatenate([points, middles]),
        triangles=np.concatenate([triangles, most + place.reshape(-1, 3)], axis=1),
        filled=filled,
        outer=edges[0],
        bore=edges[1],
        chambers=tuple(edges[2:]),
    )


def _folded(mesh: PlaneMesh, loops: Sequence[Loop]) -> list[Flags]:
    """Per loop and segment: True where the triangle at that edge is folded by its curved side."""
    bad = np.unique(mesh.triangles[least_jacobian(mesh) <= 0][:, 3:])
    edges = (mesh.outer, mesh.bore, *mesh.chambers)
    return [np.isin(edge[:, 1], bad) for edge in edges]


def _one_across(mesh: PlaneMesh) -> Floats:
    """(k, 2, 2) both ends of every side that reaches from one outline to another: too stiff a way to bend."""
    outline = np.zeros(len(mesh.nodes), dtype=np.int64)
    for number, edges in enumerate((mesh.outer, mesh.bore, *mesh.chambers), start=1):
        outline[edges[:, 0]] = number
    begin, end = mesh.triangles[:, :3].ravel(), mesh.triangles[:, [1, 2, 0]].ravel()
    joins = (outline[begin] > 0) & (outline[end] > 0) & (outline[begin] != outline[end]) & (begin < end)
    return np.stack([mesh.nodes[begin[joins]], mesh.nodes[end[joins]]], axis=1)


def _one_across_only(thin: float, size: float) -> ProfileError:
    message = (
        f"triangles of {size:g} mm reach across rubber of {thin:.2g} mm, two are needed there; "
        f"ask for a smaller mesh size, {thin / SEEN:.2g} mm or less"
    )
    return ProfileError([Complaint(key="mesh", message=message)])
