"""A page as DXF R2018: arcs, hatches, texts and dimension entities, in mm of paper.

The sheet lies in model space at 1:1 of the PAPER.  Every scale on it has a dimension style of its own whose factor
for lengths (DIMLFAC) turns paper into part, so that a dimension taken anew in a CAD system shows the part's size.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from math import degrees, pi
from typing import Any

from rollergen.export.drawing import (
    DASHES,
    Chain,
    Curve,
    Drawn,
    Hatching,
    Ink,
    Measure,
    Page,
    Solid,
    Words,
)
from rollergen.export.drawing_text import FAMILY, NARROWED
from rollergen.shape.outline import Arc, Outline, Point, is_circle

MILLIMETRES, METRIC = 4, 1  # $INSUNITS, $MEASUREMENT
STYLE = "LETTERING"
DECIMALS = 3
PLACES = {"left": "LEFT", "middle": "CENTER", "right": "RIGHT"}
PATTERNS = {"hidden": "DASHED_02", "centre": "CHAIN_04", "cut": "CHAIN_04_WIDE", "phantom": "CHAIN_05"}
INKS: tuple[Ink, ...] = (
    "visible", "narrow", "hidden", "centre", "phantom", "broken", "hatch", "dimension", "cut", "table", "frame",
)  # fmt: skip


def drawing_dxf(page: Page) -> bytes:
    """The page as a DXF file: units mm, layers with ISO 128 widths and patterns, no audit errors.

    Dimensions are entities whose picture is ours, so that every program shows what PDF and SVG show.
    Same input, same bytes, whatever the hash seed.
    """
    import ezdxf
    from ezdxf import options

    fixed, options.write_fixed_meta_data_for_testing = options.write_fixed_meta_data_for_testing, True
    try:  # the option takes run time and random ids out of the header; nobody else sees it set
        doc = ezdxf.new("R2018", setup=False)
        _set_up(doc, page)
        space = doc.modelspace()
        for item in page.items:
            if isinstance(item, Hatching):
                _hatch(space, item)
            elif isinstance(item, Measure):
                _measure(doc, item)
            else:
                _draw(space, item)
        # the table of classes is filled from a set: its order follows the hash seed unless sorted
        doc.classes.add_required_classes(doc.dxfversion)
        doc.classes.classes = dict(sorted(doc.classes.classes.items()))
        text = io.StringIO()
        doc.write(text)
    finally:
        options.write_fixed_meta_data_for_testing = fixed
    return text.getvalue().encode("utf-8")


def _set_up(doc: Any, page: Page) -> None:
    doc.header["$INSUNITS"] = MILLIMETRES
    doc.header["$MEASUREMENT"] = METRIC
    doc.header["$LTSCALE"] = 1.0
    doc.header["$LWDISPLAY"] = 1
    doc.header["$LIMMIN"] = (0.0, 0.0)
    doc.header["$LIMMAX"] = (page.width, page.height)
    doc.header["$EXTMIN"] = (0.0, 0.0, 0.0)
    doc.header["$EXTMAX"] = (page.width, page.height, 0.0)
    doc.styles.add(STYLE, font="DejaVuSans.ttf", dxfattribs={"width": NARROWED})
    doc.styles.get(STYLE).set_extended_font_data(FAMILY)
    for ink in INKS:
        attributes: dict[str, Any] = {"lineweight": round(100 * page.width_of(ink))}
        if ink in DASHES:
            dashes = page.dashes_of(ink)
            signed = [d if n % 2 == 0 else -d for n, d in enumerate(dashes)]
            if PATTERNS[ink] not in doc.linetypes:
                doc.linetypes.add(PATTERNS[ink], [sum(dashes), *signed], description=f"ISO 128 {ink}")
            attributes["linetype"] = PATTERNS[ink]
        doc.layers.add(ink.upper(), **attributes)
    doc.layers.add("TEXT", lineweight=round(100 * page.narrow))
    for item in page.items:
        if isinstance(item, Measure):
            _add_style(doc, page, item)
    doc.set_modelspace_vport(height=page.height * 1.05, center=(page.width / 2, page.height / 2))


def style_name(per_paper_mm: float) -> str:
    """Name of the dimension style for a scale: SCALE_1_2, SCALE_2_1."""
    if per_paper_mm >= 1:
        return f"SCALE_1_{round(per_paper_mm)}"
    return f"SCALE_{round(1 / per_paper_mm)}_1"


def _add_style(doc: Any, page: Page, item: Measure) -> None:
    name = style_name(item.per_paper_mm)
    if name in doc.dimstyles:
        return
    style = doc.dimstyles.new(name)
    height = item.words.height
    style.dxf.dimlfac = item.per_paper_mm
    style.dxf.dimscale = 1.0
    style.dxf.dimtxsty = STYLE
    style.dxf.dimtxt = height
    style.dxf.dimasz = height
    style.dxf.dimexe = 8 * page.narrow
    style.dxf.dimexo = 0.0
    style.dxf.dimgap = 1.0
    style.dxf.dimtad = 1  # text above the line
    style.dxf.dimtih = 0
    style.dxf.dimtoh = 0
    style.dxf.dimdec = DECIMALS
    style.dxf.dimadec = DECIMALS
    style.dxf.dimzin = 8  # no trailing zeros
    style.dxf.dimazin = 2
    style.dxf.dimdsep = ord(".")
    style.dxf.dimlunit = 2
    style.dxf.dimaunit = 0
    style.dxf.dimlwd = round(100 * page.narrow)
    style.dxf.dimlwe = round(100 * page.narrow)


def _draw(space: Any, part: Drawn) -> None:
    if isinstance(part, Words):
        text = space.add_text(
            _escaped(part.text),
            height=part.height,
            rotation=degrees(part.angle),
            dxfattribs={"layer": "TEXT", "style": STYLE, "width": NARROWED},
        )
        _anchor(text, part)
    elif isinstance(part, Solid):
        a, b, c = part.points
        space.add_solid([a, b, c, c], dxfattribs={"layer": "DIMENSION"})
    elif isinstance(part, Curve):
        space.add_lwpolyline(part.points, "xy", dxfattribs={"layer": part.ink.upper()})
    else:
        _chain(space, part)


def _escaped(text: str) -> str:
    """A text as TEXT entities spell it: two per cent signs in a row and carets would be read as codes."""
    return re.sub("%{2,}", lambda signs: "%%%" * len(signs.group()), text.replace("^", "^ "))


def _anchor(text: Any, words: Words) -> None:
    from ezdxf.enums import TextEntityAlignment

    text.set_placement(words.at, align=TextEntityAlignment[PLACES[words.anchor]])


def _chain(space: Any, chain: Chain) -> None:
    attributes = {"layer": chain.ink.upper()}
    for edge in chain.edges:
        if not isinstance(edge, Arc):
            space.add_line(edge.start, edge.end, dxfattribs=attributes)
        elif abs(edge.sweep) > 2 * pi - 1e-9:
            space.add_circle(edge.centre, edge.radius, dxfattribs=attributes)
        else:
            first, last = sorted((edge.angle, edge.angle + edge.sweep))
            space.add_arc(edge.centre, edge.radius, degrees(first), degrees(last), dxfattribs=attributes)


def _hatch(space: Any, item: Hatching) -> None:
    hatch = space.add_hatch(dxfattribs={"layer": "HATCH", "hatch_style": 0})
    hatch.set_pattern_fill("LINES_45", scale=1.0, definition=[[45.0, (0.0, 0.0), _step(item.spacing), []]])
    for loop in item.loops:
        _boundary(hatch, loop)


def _step(spacing: float) -> tuple[float, float]:
    """From one 45 degree line to the next."""
    return (-spacing / 2**0.5, spacing / 2**0.5)


def _boundary(hatch: Any, loop: Outline) -> None:
    path = hatch.paths.add_edge_path()
    if is_circle(loop):
        edge = loop.edges[0]
        assert isinstance(edge, Arc)
        path.add_arc(edge.centre, edge.radius, 0, 360)
        return
    for edge in loop.edges:
        if isinstance(edge, Arc):
            ccw = edge.sweep > 0
            first, last = (
                (edge.angle, edge.angle + edge.sweep) if ccw else (edge.angle + edge.sweep, edge.angle)
            )
            path.add_arc(edge.centre, edge.radius, degrees(first), degrees(last), ccw=ccw)
        else:
            path.add_line(edge.start, edge.end)


def _measure(doc: Any, item: Measure) -> None:
    """The dimension entity, with our own lines, arrows and text as its picture."""
    override = _entity(doc.modelspace(), item)
    dimension = override.dimension
    block = doc.blocks.new_anonymous_block(type_char="D")
    for part in (*item.drawn, item.words):
        _draw(block, part)
    dimension.dxf.geometry = block.name
    dimension.dxf.text_midpoint = (item.words.at[0], item.words.at[1], 0.0)
    dimension.dxf.dimtype |= 128  # its text stands where it was put


def _entity(space: Any, item: Measure) -> Any:
    common: dict[str, Any] = {
        "text": f"{item.before}<>{item.after}",
        "dimstyle": style_name(item.per_paper_mm),
        "dxfattribs": {"layer": "DIMENSION"},
    }
    p: Sequence[Point] = item.points
    if item.kind == "length":
        return space.add_linear_dim(base=p[2], p1=p[0], p2=p[1], angle=degrees(item.along), **common)
    if item.kind == "radius":
        return space.add_radius_dim(center=p[0], mpoint=p[1], **common)
    if item.kind == "diameter":
        return space.add_diameter_dim(
            center=((p[0][0] + p[1][0]) / 2, (p[0][1] + p[1][1]) / 2), mpoint=p[1], **common
        )
    if item.kind == "angle":
        return space.add_angular_dim_3p(base=p[3], center=p[0], p1=p[1], p2=p[2], **common)
    return space.add_arc_dim_3p(base=p[3], center=p[0], p1=p[1], p2=p[2], **common)
