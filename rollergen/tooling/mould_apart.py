"""How far each body of a mould is moved in an exploded picture: apart along the axis, with air between."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from rollergen.tooling.mould_body import Body, Vector

AIR = 0.22  # of the tallest body's height, between one layer and the next
ONE_LAYER = 0.4  # of the cavity's length: fixings asked to move nearly alike move alike


def taken_apart(bodies: Sequence[Body], length: float) -> tuple[Vector, ...]:
    """(x, y, z) mm each body is moved by.

    ``Body.apart`` says the order along z and the way sideways; how far along z is decided here, so that layers clear
    one another whatever their heights.  ``length``: of the cavity, which ``apart`` is measured by.  What is not to
    move (``apart`` z of 0) stays where it is.
    """
    spans = [_span(body) for body in bodies]
    tallest = max(high - low for low, high in spans)
    order = sorted(range(len(bodies)), key=lambda n: (bodies[n].apart[2], bodies[n].role == "buy"))
    layers = _layers(order, bodies, ONE_LAYER * length)
    moved = [0.0] * len(bodies)
    still = next((n for n, layer in enumerate(layers) if any(bodies[b].apart[2] == 0.0 for b in layer)), 0)
    for way, rest in ((1, layers[still:]), (-1, layers[still::-1])):
        edge: float | None = None
        for layer in rest:
            low, high = min(spans[b][0] for b in layer), max(spans[b][1] for b in layer)
            by = 0.0
            if edge is not None:
                by = edge - low if way > 0 else edge - high
            for body in layer:
                moved[body] = by
            edge = (high if way > 0 else low) + by + way * AIR * tallest
    return tuple((body.apart[0], body.apart[1], z) for body, z in zip(bodies, moved, strict=True))


def _span(body: Body) -> tuple[float, float]:
    heights = [z for side in body.part.sides for z, _ in side.levels]
    return min(heights), max(heights)


def _layers(order: Sequence[int], bodies: Sequence[Body], alike: float) -> list[list[int]]:
    """Rising in z.  Bought fixings asked to move within ``alike`` of the ones before go with them, all else alone."""
    layers: list[list[int]] = []
    for (z, bought), group in groupby(order, key=lambda n: (bodies[n].apart[2], bodies[n].role == "buy")):
        last = bodies[layers[-1][-1]] if layers else None
        if last is not None and bought and last.role == "buy" and z - last.apart[2] < alike:
            layers[-1] += group
        else:
            layers.append(list(group))
    return layers
