"""The exact section as a picture that scales: arcs stay arcs, one filled path with its holes."""

from __future__ import annotations

from collections.abc import Sequence
from xml.sax.saxutils import escape

from rollergen.shape.outline import Arc, Outline, is_circle
from rollergen.shape.properties import greatest_radius

MARGIN = 6.0  # mm round the section
TEXT = 4.0  # mm


def section_svg(outer: Outline, holes: Sequence[Outline], *, title: str, colour: str) -> bytes:
    """SVG in mm at 1:1, +x to the right and +y up, as seen from +z.  Same input, same bytes."""
    reach = greatest_radius(outer) + MARGIN
    side, below = 2 * reach, 2 * TEXT
    path = " ".join(_path(outline) for outline in (outer, *holes))
    page = f"""<svg xmlns="http://www.w3.org/2000/svg" width="{_n(side)}mm" height="{_n(side + below)}mm" \
viewBox="{_n(-reach)} {_n(-reach)} {_n(side)} {_n(side + below)}" role="img">
<title>{escape(title)}</title>
<path d="{path}" fill="{escape(colour)}" fill-rule="evenodd" stroke="#1f1f22" stroke-width="0.5" \
stroke-linejoin="round"/>
<path d="M {_n(-reach)} 0 H {_n(reach)} M 0 {_n(-reach)} V {_n(reach)}" stroke="#1f1f22" stroke-width="0.2" \
stroke-dasharray="8 1.5 0.4 1.5"/>
<text x="0" y="{_n(reach + 1.1 * TEXT)}" font-family="sans-serif" font-size="{_n(TEXT)}" \
text-anchor="middle">{escape(title)}</text>
</svg>
"""
    return page.encode()


def _path(outline: Outline) -> str:
    """One closed outline; y turns over, so counter-clockwise stays counter-clockwise to the eye."""
    first = outline.edges[0]
    if is_circle(outline) and isinstance(first, Arc):
        x, y, r = *first.centre, first.radius
        half = f"A {_n(r)} {_n(r)} 0 1 0"
        return f"M {_n(x + r)} {_n(-y)} {half} {_n(x - r)} {_n(-y)} {half} {_n(x + r)} {_n(-y)} Z"
    words = [f"M {_n(first.start[0])} {_n(-first.start[1])}"]
    for edge in outline.edges:
        end = f"{_n(edge.end[0])} {_n(-edge.end[1])}"
        if isinstance(edge, Arc):
            large, sense = int(abs(edge.sweep) > 3.141592653589793), int(edge.sweep < 0)
            words.append(f"A {_n(edge.radius)} {_n(edge.radius)} 0 {large} {sense} {end}")
        else:
            words.append(f"L {end}")
    return " ".join([*words, "Z"])


def _n(value: float) -> str:
    """To a nanometre, without a minus in front of nothing."""
    return f"{value:.6f}".rstrip("0").rstrip(".").replace("-0", "0") if abs(value) < 5e-7 else f"{value:.6g}"
