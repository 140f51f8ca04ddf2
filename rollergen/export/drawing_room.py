"""What a view's paper is already used for: boxes of text, lines; and whether something more finds room.

Boxes are (centre, half length, half height, angle) of a text; all in mm of paper.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

from rollergen.export.drawing import Chain, Curve, Drawn, Hatching, Item, Solid, Words, drawn_parts
from rollergen.export.drawing_text import depth_of, width_of
from rollergen.shape.outline import Arc, Edge, Point

Floats = NDArray[np.float64]
CLEAR = 0.7  # mm left round a text
SAGITTA = 0.02  # mm, of arcs taken as points here


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A text's rectangle: its middle, half its sides, the direction of its baseline (rad)."""

    middle: Point
    half: Point
    angle: float

    def corners(self) -> Floats:
        u = np.array([cos(self.angle), sin(self.angle)])
        v = np.array([-u[1], u[0]])
        signs = ((-1, -1), (1, -1), (1, 1), (-1, 1))
        return np.array(
            [np.array(self.middle) + a * self.half[0] * u + b * self.half[1] * v for a, b in signs]
        )


def box_of(words: Words) -> Box:
    """From the deepest descender to the top of the capitals, over the text's whole length."""
    half = width_of(words.text, words.height) / 2
    start = {"left": half, "middle": 0.0, "right": -half}[words.anchor]
    deep = depth_of(words.text, words.height)
    up = (words.height - deep) / 2
    c, s = cos(words.angle), sin(words.angle)
    middle = (words.at[0] + start * c - up * s, words.at[1] + start * s + up * c)
    return Box(middle=middle, half=(half, (words.height + deep) / 2), angle=words.angle)


@dataclass(slots=True)
class Room:
    """The used-up paper of one view while it is being laid out; local to that work.

    ``lines`` (n, 2, 2): what no text may cross; ``leaders`` (n, 2, 2): dimension lines, which shall not
    cross each other either.
    """

    boxes: list[Box] = field(default_factory=list)
    lines: Floats = field(default_factory=lambda: np.zeros((0, 2, 2)))
    leaders: Floats = field(default_factory=lambda: np.zeros((0, 2, 2)))

    def free_for(self, box: Box) -> bool:
        """True when a text there meets neither another text nor a line."""
        return all(apart(box, other) for other in self.boxes) and not bool(crossed(box, self.lines).any())

    def free_for_lines(self, lines: Floats) -> bool:
        """True when lines there cross no text."""
        return not any(bool(crossed(box, lines).any()) for box in self.boxes)

    def free_for_leaders(self, lines: Floats) -> bool:
        """True when dimension lines there cross no other dimension line."""
        return not any(bool(meeting(one, self.leaders).any()) for one in lines)

    def take(self, items: Sequence[Item]) -> None:
        """What is drawn from now on keeps clear of these."""
        found = [self.lines]
        for item in items:
            for part in drawn_parts(item):
                if isinstance(part, Words):
                    self.boxes.append(box_of(part))
                else:
                    found.append(segments_of(part))
            if isinstance(item, Hatching) and item.lines:
                found.append(np.array(item.lines))
        self.lines = np.concatenate(found)


def points_of_edge(edge: Edge) -> list[Point]:
    """Points along one edge, arcs closely enough to look at."""
    if not isinstance(edge, Arc):
        return [edge.start, edge.end]
    step = 2 * (2 * SAGITTA / max(edge.radius, 2 * SAGITTA)) ** 0.5
    count = max(2, int(abs(edge.sweep) / step) + 1)
    return [edge.at(n / count) for n in range(count + 1)]


def segments_of(part: Drawn) -> Floats:
    """A drawn part as straight pieces, shape (n, 2, 2)."""
    if isinstance(part, Chain):
        rows = [row for edge in part.edges for row in _pairs(points_of_edge(edge))]
    elif isinstance(part, Curve):
        rows = _pairs(list(part.points))
    elif isinstance(part, Solid):
        rows = _pairs([*part.points, part.points[0]])
    else:
        rows = []
    return np.array(rows, dtype=float).reshape(-1, 2, 2)


def lines_of(items: Sequence[Item]) -> Floats:
    """All that is drawn of some items as straight pieces, shape (n, 2, 2)."""
    rows = [segments_of(part) for item in items for part in drawn_parts(item)]
    return np.concatenate([np.zeros((0, 2, 2)), *rows])


def _pairs(points: list[Point]) -> list[tuple[Point, Point]]:
    return list(zip(points, points[1:], strict=False))


def apart(a: Box, b: Box, clear: float = CLEAR) -> bool:
    """True when two boxes keep ``clear`` mm between them (separating axes)."""
    dx, dy = b.middle[0] - a.middle[0], b.middle[1] - a.middle[1]
    for angle in (a.angle, a.angle + pi / 2, b.angle, b.angle + pi / 2):
        u = (cos(angle), sin(angle))
        if abs(dx * u[0] + dy * u[1]) >= _shadow(a, angle) + _shadow(b, angle) + clear:
            return True
    return False


def _shadow(box: Box, angle: float) -> float:
    turn = angle - box.angle
    return abs(cos(turn)) * box.half[0] + abs(sin(turn)) * box.half[1]


def crossed(box: Box, lines: Floats, clear: float = CLEAR) -> NDArray[np.bool_]:
    """Which of the straight pieces enter the box widened by ``clear`` (clipping by its four sides)."""
    c, s = cos(box.angle), sin(box.angle)
    local = (lines - np.array(box.middle)) @ np.array([[c, -s], [s, c]])
    start, way = local[:, 0], local[:, 1] - local[:, 0]
    low, high = np.zeros(len(lines)), np.ones(len(lines))
    for axis in (0, 1):
        half = box.half[axis] + clear
        with np.errstate(divide="ignore", invalid="ignore"):
            t = (np.array([[-half], [half]]) - start[:, axis]) / way[:, axis]
        still = np.abs(way[:, axis]) < 1e-12
        inside = np.abs(start[:, axis]) <= half
        near = np.where(still, np.where(inside, -np.inf, np.inf), np.minimum(t[0], t[1]))
        far = np.where(still, np.where(inside, np.inf, -np.inf), np.maximum(t[0], t[1]))
        low, high = np.maximum(low, near), np.minimum(high, far)
    return np.asarray(low <= high)


def meeting(one: Floats, others: Floats) -> NDArray[np.bool_]:
    """Which of the straight pieces cross the one."""
    p, r = one[0], one[1] - one[0]
    q, s = others[:, 0], others[:, 1] - others[:, 0]
    det = r[0] * s[:, 1] - r[1] * s[:, 0]
    qp = q - p
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (qp[:, 0] * s[:, 1] - qp[:, 1] * s[:, 0]) / det
        u = (qp[:, 0] * r[1] - qp[:, 1] * r[0]) / det
    return np.asarray((np.abs(det) > 1e-12) & (t >= 0) & (t <= 1) & (u >= 0) & (u <= 1))


def extent_of(items: list[Item]) -> tuple[float, float, float, float]:
    """Left, bottom, right, top of everything (mm)."""
    points: list[Floats] = []
    for item in items:
        for part in drawn_parts(item):
            found = box_of(part).corners() if isinstance(part, Words) else segments_of(part).reshape(-1, 2)
            points.append(found)
    cloud = np.concatenate(points)
    low, high = cloud.min(axis=0), cloud.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
