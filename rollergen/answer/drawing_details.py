"""The two details: one rib, and one chamber with its walls, both turned so that their middle points up."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, hypot, pi, sin, tau

from rollergen.answer.drawing_clips import (
    between,
    kept_side,
    loop_of,
    nearest_pair,
    points_of,
    wave_along,
    wave_under,
)
from rollergen.answer.drawing_stated import Held, stated
from rollergen.shape.outline import Arc, Line, Outline, Point, normal_at, turned
from rollergen.shape.properties import least_distance
from rollergen.shape.rib import Flank, flank_of
from rollergen.shape.section import Section, thicknesses_of
from rollergen.shape.views import AngleDim, ArcDim, Dim, LengthDim, RoundDim, Stroke, Trace, View
from rollergen.spec.profile import Chambers, Profile, Ribs

UP = pi / 2
WINDOW = 1.3  # of half a chamber's share of the turn: both webs and the beginning of both neighbours
REACHED = 1e-6  # mm: a wall this near its asked value has it


def rib_detail(profile: Profile, section: Section, held: Held, letter: str) -> View:
    """Rib 1 with all its sizes, its middle up.  Needs a profile with ribs."""
    ribs, R = profile.ribs, profile.body_radius
    assert ribs is not None
    ahead = flank_of(ribs, R, ribs.flank_angle_ahead)
    behind = flank_of(ribs, R, ribs.flank_angle_behind)
    assert ahead is not None and behind is not None  # the section was built from them
    outer = turned(section.outer, UP - ribs.start)
    extra = min(0.5 * ribs.height / R, (tau / ribs.count - ahead.psi - behind.psi) / 2)
    start, end = UP - behind.psi - extra, UP + ahead.psi + extra
    edges = between(outer, start, end)
    depth = min(0.9 * ribs.height, 0.35 * R)
    wave = _ending_at(wave_under(R, depth, start, end), edges[0].start, edges[-1].end)
    body = Arc((0.0, 0.0), R, UP - behind.psi, ahead.psi + behind.psi)
    Rt = profile.tip_radius
    middle = Line((0.0, R - 0.7 * depth), (0.0, Rt + 0.5 * ribs.height))
    return View(
        name="rib",
        title=letter,
        enlarged=True,
        strokes=(
            Stroke(edges=edges),
            Trace(points=tuple(wave), style="broken"),
            Stroke(edges=(body,), style="phantom"),
            Stroke(edges=(middle,), style="centre"),
        ),
        regions=((loop_of([*points_of(edges), *reversed(wave)]),),),
        dims=_rib_dims(profile, ribs, ahead, behind, held),
    )


def _ending_at(points: list[Point], first: Point, last: Point) -> list[Point]:
    return [first, *points[1:-1], last]


def _rib_dims(profile: Profile, ribs: Ribs, ahead: Flank, behind: Flank, held: Held) -> tuple[Dim, ...]:
    R, Rt = profile.body_radius, profile.tip_radius
    half = ribs.tip_width / (2 * Rt)
    height = LengthDim(
        stated=stated(ribs.height, "ribs.height", held=held.within(ribs.height)),
        a=(0.0, R),
        b=(0.0, Rt),
        along=(0.0, 1.0),
        side="right",
    )
    width = ArcDim(
        stated=stated(ribs.tip_width, "ribs.tip_width", held=held.within(ribs.tip_width), before="◠"),
        centre=(0.0, 0.0),
        radius=Rt,
        start=UP - half,
        sweep=2 * half,
    )
    return (height, *_flank_dims(ribs, ahead, behind, R), *_rounds(ribs, ahead, behind, held), width)


def _rounds(ribs: Ribs, ahead: Flank, behind: Flank, held: Held) -> list[Dim]:
    """Tip rounding on the left, root fillet on the right; a sharp one stands in the table."""
    dims: list[Dim] = []
    if ribs.tip_radius > 0:
        held_to = held.within(ribs.tip_radius)
        dims.append(
            RoundDim(
                stated=stated(ribs.tip_radius, "ribs.tip_radius", held=held_to, times=2, before="R"),
                centre=_up(ahead.tip_centre, mirrored=False),
                radius=ribs.tip_radius,
                angles=_spread(UP + ahead.nu, UP + ahead.chi),
                diameter=False,
            )
        )
    if ribs.root_radius > 0:
        held_to = held.within(ribs.root_radius)
        dims.append(
            RoundDim(
                stated=stated(ribs.root_radius, "ribs.root_radius", held=held_to, times=2, before="R"),
                centre=_up(behind.root_centre, mirrored=True),
                radius=ribs.root_radius,
                angles=_spread(3 * UP - behind.nu, 3 * UP - behind.psi),
                diameter=False,
                from_centre=True,
            )
        )
    return dims


def _flank_dims(ribs: Ribs, ahead: Flank, behind: Flank, R: float) -> list[Dim]:
    """One angle for flanks alike, two for unlike ones."""
    first, second = "ribs.flank_angle_ahead", "ribs.flank_angle_behind"
    if ribs.flank_angle_ahead == ribs.flank_angle_behind:
        return [_flank_dim(ribs, ribs.flank_angle_ahead, ahead, R, left=True, keys=(first, second))]
    return [
        _flank_dim(ribs, ribs.flank_angle_ahead, ahead, R, left=True, keys=(first,)),
        _flank_dim(ribs, ribs.flank_angle_behind, behind, R, left=False, keys=(second,)),
    ]


def _spread(a: float, b: float) -> tuple[float, ...]:
    return tuple(a + share * (b - a) for share in (0.5, 0.35, 0.65, 0.2, 0.8, 0.05, 0.95))


def _up(p: Point, *, mirrored: bool) -> Point:
    """A point of the rib's own frame (rib along +x) in the detail's frame (rib along +y)."""
    x, y = (p[0], -p[1]) if mirrored else p
    return (-y, x)


def _flank_dim(
    ribs: Ribs, angle: float, flank: Flank, R: float, *, left: bool, keys: tuple[str, ...]
) -> AngleDim:
    """Between the flank and a line along the rib's middle, from where the flank's line meets the body."""
    # the flank's line has its normal at nu and lies p from the axis; it meets the body at nu - acos(p / R)
    along = (R * R - flank.p**2) ** 0.5
    foot = (
        flank.p * cos(flank.nu) + along * sin(flank.nu),
        flank.p * sin(flank.nu) - along * cos(flank.nu),
    )
    vertex = _up(foot, mirrored=not left)
    both = stated(angle, *keys, times=len(keys))
    start = UP - angle if left else UP
    reach = 0.62 * ribs.height / cos(angle)
    return AngleDim(stated=both, vertex=vertex, start=start, sweep=angle, reach=reach, arms_from=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cell:
    """The chamber that is shown, its middle up, its neighbours, and the section turned alike."""

    section: Section
    shown: Outline
    number: int


def chamber_detail(profile: Profile, section: Section, held: Held, letter: str) -> View:
    """The chamber whose hub wall is least, with wall, webs and corners.  Needs a profile with chambers."""
    chambers = profile.chambers
    assert chambers is not None and section.chambers
    cell = _cell(chambers, section)
    strokes, regions = _cell_lines(chambers, cell, profile)
    return View(
        name="chamber",
        title=letter,
        enlarged=True,
        strokes=strokes,
        regions=(regions,),
        dims=_cell_dims(profile, chambers, cell, held),
    )


def shown_chamber(section: Section) -> int:
    """Which chamber (from 0) the detail shows: the one nearest to the bore, the first of equals."""
    walls = [round(least_distance(chamber, section.bore), 6) for chamber in section.chambers]
    return walls.index(min(walls))


def middle_of(chambers: Chambers, number: int) -> float:
    """Angle of a chamber's middle from +x (rad)."""
    return chambers.start + (number + 0.5) * tau / chambers.count


def _cell(chambers: Chambers, section: Section) -> _Cell:
    number = shown_chamber(section)
    turn = UP - middle_of(chambers, number)
    return _Cell(
        section=Section(
            outer=turned(section.outer, turn),
            bore=turned(section.bore, turn),
            chambers=tuple(turned(c, turn) for c in section.chambers),
        ),
        shown=turned(section.chambers[number], turn),
        number=number,
    )


def _cell_lines(
    chambers: Chambers, cell: _Cell, profile: Profile
) -> tuple[tuple[Stroke | Trace, ...], tuple[Outline, ...]]:
    R = profile.body_radius
    if chambers.count < 3:
        whole = (cell.section.outer, *cell.section.holes)
        return tuple(Stroke(edges=o.edges) for o in whole), whole
    low, high = UP - WINDOW * pi / chambers.count, UP + WINDOW * pi / chambers.count
    outer, bore = between(cell.section.outer, low, high), between(cell.section.bore, low, high)
    right = wave_along(bore[0].start, outer[0].start, 0.012 * R)
    left = wave_along(outer[-1].end, bore[-1].end, 0.012 * R)
    strokes: list[Stroke | Trace] = [
        Stroke(edges=outer),
        Stroke(edges=bore),
        Stroke(edges=cell.shown.edges),
        Trace(points=tuple(right), style="broken"),
        Trace(points=tuple(left), style="broken"),
        Stroke(edges=(Line((0.0, bore_top(cell) * 0.9), (0.0, R * 1.06)),), style="centre"),
    ]
    if profile.ribs is not None:
        strokes.append(Stroke(edges=(Arc((0.0, 0.0), R, low, high - low),), style="phantom"))
    rim = [*points_of(outer), *left[1:-1], *reversed(points_of(bore)), *right[1:-1]]
    loops = [loop_of(rim), cell.shown]
    count = chambers.count
    # neighbours end on a straight ray, the rubber on a wave about it: they differ by a hundredth of the body
    for offset, ray, side in ((-1, low, 1), (1, high, -1)):
        neighbour = cell.section.chambers[(cell.number + offset) % count]
        kept = kept_side(points_of(neighbour.edges)[:-1], ray, side)
        if len(kept) > 2:
            loops.append(loop_of(kept))
            strokes.append(Trace(points=_open_at(kept, ray)))
    return tuple(strokes), tuple(loops)


def bore_top(cell: _Cell) -> float:
    return max(p[1] for p in points_of(cell.section.bore.edges))


def _open_at(points: list[Point], ray: float) -> tuple[Point, ...]:
    """A clipped polygon as an open chain that leaves out the side along the ray."""
    n = (-sin(ray), cos(ray))
    on_ray = [abs(p[0] * n[0] + p[1] * n[1]) < 1e-9 for p in points]
    for k in range(len(points)):
        if on_ray[k - 1] and on_ray[k]:
            return tuple(points[k:] + points[:k])
    return (*points, points[0])


def _cell_dims(profile: Profile, chambers: Chambers, cell: _Cell, held: Held) -> tuple[Dim, ...]:
    R = profile.body_radius
    shown = cell.shown
    least = thicknesses_of(cell.section, R)
    dims: list[Dim] = [
        _across(
            ((0.0, R - chambers.wall), (0.0, R)),
            "chambers.wall",
            chambers.wall,
            chambers.wall,
            held,
            (0.45, 1.0),
        )
    ]
    hub = nearest_pair(shown, cell.section.bore)
    assert least.hub_wall is not None
    dims.append(_across(hub, "chambers.hub_wall", chambers.hub_wall, least.hub_wall, held, (-1.0, -0.6)))
    if least.web is not None:
        web = _web_pair(chambers, cell)
        dims.append(_across(web, "chambers.web", chambers.web, least.web, held, (1.0, -0.15)))
    if chambers.section == "round":
        dims.append(_hole_diameter(shown))
    elif chambers.corner_radius > 0:
        dims.append(_corner(chambers, shown, held))
    return tuple(dims)


def _web_pair(chambers: Chambers, cell: _Cell) -> tuple[Point, Point]:
    if chambers.section == "round":
        return nearest_pair(cell.shown, cell.section.chambers[(cell.number - 1) % chambers.count])
    sides = [e for e in cell.shown.edges if isinstance(e, Line) and e.feature == "web"]
    side = max(sides, key=lambda e: e.start[0] + e.end[0])
    middle = ((side.start[0] + side.end[0]) / 2, (side.start[1] + side.end[1]) / 2)
    n = normal_at(side, 0.5)
    return middle, (middle[0] + chambers.web * n[0], middle[1] + chambers.web * n[1])


def _across(
    pair: tuple[Point, Point], key: str, asked: float, found: float, held: Held, towards: Point
) -> LengthDim:
    """A least thickness as built; where it is more than asked, the table says what was asked."""
    (ax, ay), (bx, by) = pair
    long = hypot(bx - ax, by - ay)
    value = asked if abs(found - asked) < REACHED else found
    keys = (key,) if abs(found - asked) < REACHED else ()
    return LengthDim(
        stated=stated(value, *keys, held=held.across(value)),
        a=pair[0],
        b=pair[1],
        along=((bx - ax) / long, (by - ay) / long),
        side="leader",
        towards=towards,
    )


def walls_beyond_asked(profile: Profile, section: Section) -> tuple[str, ...]:
    """Keys of the walls that come out thicker than the profile asks at least."""
    chambers = profile.chambers
    if chambers is None or not section.chambers:
        return ()
    least = thicknesses_of(section, profile.body_radius)
    asked = {"hub_wall": (chambers.hub_wall, least.hub_wall), "web": (chambers.web, least.web)}
    return tuple(f"chambers.{name}" for name, (a, b) in asked.items() if b is None or abs(a - b) >= REACHED)


def _hole_diameter(shown: Outline) -> RoundDim:
    hole = shown.edges[0]
    assert isinstance(hole, Arc)
    return RoundDim(
        stated=stated(2 * hole.radius, before="⌀", reference=True),
        centre=hole.centre,
        radius=hole.radius,
        angles=(pi * 0.8, pi * 0.7, pi * 0.9),
        diameter=True,
    )


def _corner(chambers: Chambers, shown: Outline, held: Held) -> RoundDim:
    corners = [e for e in shown.edges if isinstance(e, Arc) and e.feature == "corner"]
    arc = min(corners, key=lambda e: e.centre[0] - e.centre[1])  # upper left
    return RoundDim(
        stated=stated(
            chambers.corner_radius,
            "chambers.corner_radius",
            held=held.by_core(chambers.corner_radius),
            times=len(corners),
            before="R",
        ),
        centre=arc.centre,
        radius=arc.radius,
        angles=_spread(arc.angle, arc.angle + arc.sweep),
        diameter=False,
    )


def angle_to(p: Point) -> float:
    return atan2(p[1], p[0])
