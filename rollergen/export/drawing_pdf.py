"""Pages as PDF 1.7, written by ourselves: vectors in mm, real text in an embedded part of the font.

Source: ISO 32000-1 (PDF 1.7): page description 8, fonts 9.7 (composite fonts), ToUnicode 9.10.3.
"""

from __future__ import annotations

import io
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import cos, sin, tan

from rollergen.export.drawing import Chain, Curve, Drawn, Hatching, Page, Solid, Words, all_words, drawn_parts
from rollergen.export.drawing_text import EM, NARROWED, font_file, size_of, width_of
from rollergen.shape.outline import Arc

POINTS = 72 / 25.4  # PDF points per mm
STEEPEST = 0.79  # rad of one Bezier piece: its radius is then right to 4e-6 of itself


@dataclass(frozen=True, slots=True, kw_only=True)
class Font:
    """The part of the font that the pages need: its file, the glyph number and width of each character."""

    file: bytes
    glyphs: Mapping[str, int]
    widths: Mapping[int, int]


def drawing_pdf(pages: Sequence[Page]) -> bytes:
    """One PDF page per sheet, at 1:1 in mm.  No date, no random id: same input, same bytes."""
    font = _font(sorted({letter for page in pages for w in all_words(page.items) for letter in w.text}))
    objects: list[bytes] = []

    def add(body: bytes) -> int:
        objects.append(body)
        return len(objects)

    def stream(head: str, data: bytes) -> int:
        packed = zlib.compress(data, 9)
        return add(
            f"<< {head} /Length {len(packed)} /Filter /FlateDecode >>\nstream\n".encode()
            + packed
            + b"\nendstream"
        )

    catalog = add(b"<< /Type /Catalog /Pages 2 0 R /ViewerPreferences << /PrintScaling /None >> >>")
    tree = add(b"")
    file = stream(f"/Length1 {len(font.file)}", font.file)
    fonts = add(_composite(add(_descendant(font, add(_descriptor(file)))), stream("", _to_unicode(font))))
    leaves = []
    for page in pages:
        content = stream("", _content(page, font).encode("ascii"))
        box = f"[0 0 {_n(page.width * POINTS)} {_n(page.height * POINTS)}]"
        leaves.append(
            add(
                f"<< /Type /Page /Parent {tree} 0 R /MediaBox {box} /TrimBox {box} /Contents {content} 0 R "
                f"/Resources << /Font << /F1 {fonts} 0 R >> >> >>".encode()
            )
        )
    kids = " ".join(f"{leaf} 0 R" for leaf in leaves)
    objects[tree - 1] = f"<< /Type /Pages /Kids [{kids}] /Count {len(leaves)} >>".encode()
    title = "FEFF" + pages[0].name.encode("utf-16-be").hex().upper()
    info = add(f"<< /Title <{title}> /Producer (rollergen) >>".encode())
    return _file(objects, catalog, info)


def _file(objects: Sequence[bytes], catalog: int, info: int) -> bytes:
    out = bytearray(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
    places = []
    for number, body in enumerate(objects, start=1):
        places.append(len(out))
        out += f"{number} 0 obj\n".encode() + body + b"\nendobj\n"
    start = len(out)
    out += f"xref\n0 {len(objects) + 1}\n0000000000 65535 f \n".encode()
    out += "".join(f"{place:010d} 00000 n \n" for place in places).encode()
    out += (
        f"trailer\n<< /Size {len(objects) + 1} /Root {catalog} 0 R /Info {info} 0 R >>\nstartxref\n{start}\n%%EOF\n"
    ).encode()
    return bytes(out)


# The font


def _font(letters: Sequence[str]) -> Font:
    from fontTools.subset import Options, Subsetter  # type: ignore[import-untyped]
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    options = Options()
    options.drop_tables = [
        *options.drop_tables,
        "GSUB",
        "GPOS",
        "GDEF",
        "kern",
        "name",
        "post",
        "OS/2",
        "FFTM",
    ]
    options.layout_features = []
    options.hinting = False
    options.notdef_outline = True
    options.recalc_timestamp = False
    with TTFont(font_file(), lazy=True, recalcTimestamp=False) as font:
        subsetter = Subsetter(options)
        subsetter.populate(text="".join(letters))
        subsetter.subset(font)
        names = font.getBestCmap()
        glyphs = {letter: font.getGlyphID(names[ord(letter)]) for letter in letters}
        widths = {font.getGlyphID(name): advance for name, (advance, _) in font["hmtx"].metrics.items()}
        file = io.BytesIO()
        font.save(file)
    return Font(file=file.getvalue(), glyphs=glyphs, widths=widths)


def _descriptor(file: int) -> bytes:
    # box, ascent and descent of the whole font, per thousand of the em; the subset only has less
    return (
        f"<< /Type /FontDescriptor /FontName /ROLLER+DejaVuSans /Flags 4 /FontBBox [-1021 -463 1793 1232] "
        f"/ItalicAngle 0 /Ascent 928 /Descent -236 /CapHeight 729 /StemV 90 /FontFile2 {file} 0 R >>"
    ).encode()


def _descendant(font: Font, descriptor: int) -> bytes:
    widths = " ".join(
        f"{glyph} [{_n(advance * 1000 / EM)}]" for glyph, advance in sorted(font.widths.items())
    )
    return (
        "<< /Type /Font /Subtype /CIDFontType2 /BaseFont /ROLLER+DejaVuSans "
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (Identity) /Supplement 0 >> "
        f"/CIDToGIDMap /Identity /FontDescriptor {descriptor} 0 R /DW 600 /W [{widths}] >>"
    ).encode()


def _composite(descendant: int, to_unicode: int) -> bytes:
    return (
        "<< /Type /Font /Subtype /Type0 /BaseFont /ROLLER+DejaVuSans /Encoding /Identity-H "
        f"/DescendantFonts [{descendant} 0 R] /ToUnicode {to_unicode} 0 R >>"
    ).encode()


def _to_unicode(font: Font) -> bytes:
    """Glyph numbers back to text, for search and copy; two characters of one glyph keep the first."""
    letters: dict[int, str] = {}
    for letter, glyph in sorted(font.glyphs.items()):
        letters.setdefault(glyph, letter)
    rows = [
        f"<{glyph:04X}> <{letter.encode('utf-16-be').hex().upper()}>"
        for glyph, letter in sorted(letters.items())
    ]
    blocks = [rows[n : n + 100] for n in range(0, len(rows), 100)]
    maps = "\n".join(f"{len(b)} beginbfchar\n" + "\n".join(b) + "\nendbfchar" for b in blocks)
    return (
        "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
        "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
        f"1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n{maps}\n"
        "endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n"
    ).encode("ascii")


# The page


def _content(page: Page, font: Font) -> str:
    lines = [f"{POINTS:.8f} 0 0 {POINTS:.8f} 0 0 cm 0 G 0 g 0 J 1 j"]
    texts = []
    for item in page.items:
        if isinstance(item, Hatching):
            lines.append(_hatch(item, page))
        for part in drawn_parts(item):
            if isinstance(part, Words):
                texts.append(_text(part, font))
            else:
                lines.append(_drawn(part, page))
    return "\n".join([*lines, *texts]) + "\n"


def _pen(page: Page, ink: str, width: float, dashes: tuple[float, ...]) -> str:
    return f"{_n(width)} w [{' '.join(map(_n, dashes))}] 0 d"


def _hatch(item: Hatching, page: Page) -> str:
    path = " ".join(f"{_n(a[0])} {_n(a[1])} m {_n(b[0])} {_n(b[1])} l" for a, b in item.lines)
    return f"{_pen(page, 'hatch', page.width_of('hatch'), ())} {path} S" if path else ""


def _drawn(part: Drawn, page: Page) -> str:
    if isinstance(part, Solid):
        return f"{_poly(part.points)} h f"
    assert not isinstance(part, Words)
    pen = _pen(page, part.ink, page.width_of(part.ink), page.dashes_of(part.ink))
    if isinstance(part, Curve):
        return f"{pen} {_poly(part.points)} S"
    return f"{pen} {_path(part)} S"


def _poly(points: Sequence[tuple[float, float]]) -> str:
    first, *rest = points
    return " ".join([f"{_n(first[0])} {_n(first[1])} m", *(f"{_n(x)} {_n(y)} l" for x, y in rest)])


def _path(chain: Chain) -> str:
    first, last = chain.edges[0].start, chain.edges[-1].end
    words = [f"{_n(first[0])} {_n(first[1])} m"]
    for edge in chain.edges:
        if isinstance(edge, Arc):
            words += _bezier(edge)
        else:
            words.append(f"{_n(edge.end[0])} {_n(edge.end[1])} l")
    if abs(last[0] - first[0]) + abs(last[1] - first[1]) < 1e-7:
        words.append("h")
    return " ".join(words)


def _bezier(arc: Arc) -> list[str]:
    """Cubic pieces with tangents of 4/3 tan(sweep / 4) of the radius."""
    count = max(1, int(abs(arc.sweep) / STEEPEST) + 1)
    step = arc.sweep / count
    k = 4 / 3 * tan(step / 4) * arc.radius
    pieces = []
    for n in range(count):
        a, b = arc.angle + n * step, arc.angle + (n + 1) * step
        (x0, y0), (x3, y3) = arc.at(n / count), arc.at((n + 1) / count)
        points = (x0 - k * sin(a), y0 + k * cos(a), x3 + k * sin(b), y3 - k * cos(b), x3, y3)
        pieces.append(" ".join(map(_n, points)) + " c")
    return pieces


def _text(words: Words, font: Font) -> str:
    back = {"left": 0.0, "middle": 0.5, "right": 1.0}[words.anchor] * width_of(words.text, words.height)
    c, s = cos(words.angle), sin(words.angle)
    x, y = words.at[0] - back * c, words.at[1] - back * s
    shown = "".join(f"{font.glyphs[letter]:04X}" for letter in words.text)
    return (
        f"BT /F1 {_n(size_of(words.height))} Tf {_n(100 * NARROWED)} Tz "
        f"{_n(c)} {_n(s)} {_n(-s)} {_n(c)} {_n(x)} {_n(y)} Tm <{shown}> Tj ET"
    )


def _n(value: float) -> str:
    text = f"{value:.5f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
