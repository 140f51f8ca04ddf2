"""A page as SVG 1.1 in mm: arcs stay arcs, text stays text."""

from __future__ import annotations

from math import degrees, pi
from xml.sax.saxutils import escape, quoteattr

from rollergen.export.drawing import Chain, Curve, Drawn, Hatching, Page, Solid, Words, drawn_parts
from rollergen.export.drawing_text import FAMILY, size_of, width_of
from rollergen.shape.outline import Arc, Edge

INK = "#000000"
ANCHORS = {"left": "start", "middle": "middle", "right": "end"}


def drawing_svg(page: Page) -> bytes:
    """The page, 1 user unit = 1 mm.  Each text is as long here as the layout took it, whatever the font.

    Same input, same bytes.
    """
    lines = [_hatch(item, page) for item in page.items if isinstance(item, Hatching)]
    texts: list[str] = []
    for item in page.items:
        for part in drawn_parts(item):
            (texts if isinstance(part, Words) else lines).append(_part(part, page))
    w, h = _n(page.width), _n(page.height)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}">\n'
        f"<title>{escape(page.name)}</title>\n"
        f'<rect width="{w}" height="{h}" fill="#ffffff"/>\n'
        f'<g fill="none" stroke="{INK}" stroke-linecap="butt" stroke-linejoin="round">\n'
    )
    family = quoteattr(f"'{FAMILY}', Verdana, Arial, sans-serif")
    middle = f'</g>\n<g fill="{INK}" stroke="none" font-family={family}>\n'
    return (head + "\n".join(lines) + "\n" + middle + "\n".join(texts) + "\n</g>\n</svg>\n").encode()


def _part(part: Drawn, page: Page) -> str:
    if isinstance(part, Words):
        return _text(part, page)
    if isinstance(part, Solid):
        points = " ".join(f"{_n(x)},{_n(page.height - y)}" for x, y in part.points)
        return f'<polygon points="{points}" fill="{INK}" stroke="none"/>'
    style = f'stroke-width="{_n(page.width_of(part.ink))}"'
    if dashes := page.dashes_of(part.ink):
        style += f' stroke-dasharray="{" ".join(map(_n, dashes))}"'
    path = _points(part, page) if isinstance(part, Curve) else _path(part, page)
    return f'<path class="{part.ink}" d="{path}" {style}/>'


def _points(curve: Curve, page: Page) -> str:
    return "M " + " L ".join(f"{_n(x)} {_n(page.height - y)}" for x, y in curve.points)


def _path(chain: Chain, page: Page) -> str:
    first = chain.edges[0].start
    words = [f"M {_n(first[0])} {_n(page.height - first[1])}"]
    for edge in chain.edges:
        words += _edge(edge, page.height)
    last = chain.edges[-1].end
    if abs(last[0] - first[0]) + abs(last[1] - first[1]) < 1e-7:
        words.append("Z")
    return " ".join(words)


def _edge(edge: Edge, height: float) -> list[str]:
    if not isinstance(edge, Arc):
        return [f"L {_n(edge.end[0])} {_n(height - edge.end[1])}"]
    # an arc of more than a half turn is two: no writer of SVG draws a full circle in one
    count = 1 if abs(edge.sweep) < pi - 1e-6 else 2 if abs(edge.sweep) < 2 * pi - 1e-6 else 3
    sense = 0 if edge.sweep > 0 else 1
    r = _n(edge.radius)
    stops = (edge.at((n + 1) / count) for n in range(count))
    return [f"A {r} {r} 0 0 {sense} {_n(x)} {_n(height - y)}" for x, y in stops]


def _text(words: Words, page: Page) -> str:
    x, y = _n(words.at[0]), _n(page.height - words.at[1])
    turn = f' transform="rotate({_n(-degrees(words.angle))} {x} {y})"' if words.angle else ""
    length = _n(width_of(words.text, words.height))
    return (
        f'<text x="{x}" y="{y}" font-size="{_n(size_of(words.height))}" text-anchor="{ANCHORS[words.anchor]}" '
        f'textLength="{length}" lengthAdjust="spacingAndGlyphs"{turn}>{escape(words.text)}</text>'
    )


def _hatch(item: Hatching, page: Page) -> str:
    path = " ".join(
        f"M {_n(a[0])} {_n(page.height - a[1])} L {_n(b[0])} {_n(page.height - b[1])}" for a, b in item.lines
    )
    return f'<path class="hatch" d="{path}" stroke-width="{_n(page.width_of("hatch"))}"/>' if path else "<g/>"


def _n(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
