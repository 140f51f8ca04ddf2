"""DXF of a section, 1:1 and bare: for wire cutting, water jet and gauges."""

from __future__ import annotations

import io
from collections.abc import Sequence
from math import tan

from rollergen.shape.outline import Arc, Outline, is_circle

MILLIMETRES = 4  # $INSUNITS
METRIC = 1  # $MEASUREMENT


def dxf_bytes(outlines: Sequence[tuple[str, Outline]]) -> bytes:
    """DXF R2018 of (layer, outline) pairs in mm: arcs stay arcs, nothing is approximated.

    Every outline is ONE closed polyline whose bulges (tan of a quarter of the sweep) carry the arcs:
    wire-cutting software follows it without joining loose ends, and cannot lose one.  A full circle
    is a CIRCLE.  No dimensions, no text.  Same input, same bytes, whatever the hash seed.
    """
    import ezdxf
    from ezdxf import options

    fixed, options.write_fixed_meta_data_for_testing = options.write_fixed_meta_data_for_testing, True
    try:  # the option takes run time and random ids out of the header; nobody else sees it set
        doc = ezdxf.new("R2018", setup=False)
        doc.header["$INSUNITS"] = MILLIMETRES
        doc.header["$MEASUREMENT"] = METRIC
        space = doc.modelspace()
        for layer, outline in outlines:
            if layer not in doc.layers:
                doc.layers.add(layer)
            edge = outline.edges[0]
            if is_circle(outline) and isinstance(edge, Arc):
                space.add_circle(edge.centre, edge.radius, dxfattribs={"layer": layer})
            else:
                space.add_lwpolyline(_bulged(outline), "xyb", close=True, dxfattribs={"layer": layer})
        # the table of classes is filled from a set: its order follows the hash seed unless sorted
        doc.classes.add_required_classes(doc.dxfversion)
        doc.classes.classes = dict(sorted(doc.classes.classes.items()))
        text = io.StringIO()
        doc.write(text)
    finally:
        options.write_fixed_meta_data_for_testing = fixed
    return text.getvalue().encode("utf-8")


def _bulged(outline: Outline) -> list[tuple[float, float, float]]:
    """Vertices with the bulge of the edge that leaves them."""
    return [(*e.start, tan(e.sweep / 4) if isinstance(e, Arc) else 0.0) for e in outline.edges]
