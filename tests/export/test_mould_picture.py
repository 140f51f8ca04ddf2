"""The exploded picture and the parts list of a mould: forms, names, same bytes."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest

from rollergen.export.mould_list import COLUMNS, mould_csv
from rollergen.export.mould_picture import Named, _spot, _spread, _tags, mould_picture
from rollergen.export.shading import Eye, Shown, shaded
from rollergen.shape.mesh import build_mesh
from rollergen.shape.outline import circle
from rollergen.shape.part import Cap, Part, Side


def disc(z: float, name: str) -> Named:
    side = Side(outline=circle(30.0, "plate"), levels=((z, 0.0), (z + 10.0, 0.0)))
    caps = (Cap(z=z, up=False, outer=(0, "low")), Cap(z=z + 10.0, up=True, outer=(0, "high")))
    mesh = build_mesh(Part(name=name, sides=(side,), caps=caps), chord_error=0.2)
    shown = Shown(vertices=mesh.vertices, triangles=mesh.triangles, surface=mesh.surface, colour="#7d8791")
    return Named(shown=shown, name=name)


@pytest.mark.parametrize(("form", "start"), [("png", b"\x89PNG"), ("svg", b"<?xml")])
def test_forms_and_same_bytes(form: str, start: bytes) -> None:
    bodies = [disc(0.0, "base plate"), disc(60.0, "top plate"), disc(120.0, "")]
    kind: Literal["png", "svg"] = "svg" if form == "svg" else "png"
    page = mould_picture(bodies, title="two plates", form=kind, width=400)
    assert page.startswith(start)
    assert page == mould_picture(bodies, title="two plates", form=kind, width=400)


def test_nothing_to_show_is_refused() -> None:
    with pytest.raises(ValueError, match="no body"):
        mould_picture([], title="none")


def test_names_of_one_row_do_not_run_into_each_other_nor_off_the_page() -> None:
    tags = [("cavity piece", (100.0, 0.0)), ("cast segment", (110.0, 0.0)), ("pin", (900.0, 0.0))]
    places = _spread(tags, 1600)
    widths = [9.0 * len(name) for name, _ in tags]
    for i in range(len(tags) - 1):
        assert places[i + 1] - places[i] >= (widths[i] + widths[i + 1]) / 2
    assert places[2] == 900.0
    crowded = [("a rather long name", (1590.0, 0.0)), ("another long name", (1595.0, 0.0))]
    left, right = _spread(crowded, 1600)
    assert right + 9 * len(crowded[1][0]) / 2 <= 1600 and left < right
    many = [(f"body number {n}", (800.0, 0.0)) for n in range(30)]
    assert _spread(many, 1600) == sorted(_spread(many, 1600)) and 0 < _spread(many, 1600)[0]


def test_a_dot_lies_on_what_is_seen_of_its_body_and_none_on_what_is_hidden() -> None:
    """A ring of pixels: its middle is not its own."""
    y, x = np.mgrid[0:100, 0:120]
    far = np.hypot(x - 60, y - 50)
    ring = (far > 20) & (far < 45)
    spot = _spot(ring)
    assert spot is not None
    column, row = (int(v) for v in spot)
    assert ring[row, column] and 20 + 8 < np.hypot(column - 60, row - 50) < 45 - 8
    assert _spot(np.zeros((5, 5), dtype=bool)) is None
    assert _spot(np.pad(np.ones((1, 1), dtype=bool), ((3, 4), (2, 1)))) == (2.5, 3.5)


def test_bodies_of_one_name_are_named_once_on_the_one_that_is_seen_best() -> None:
    bodies = [disc(0.0, "disc"), disc(40.0, "disc"), disc(80.0, ""), disc(120.0, "hidden")]
    owner = np.full((60, 60), -1)
    owner[5:15, 5:15], owner[20:50, 20:50], owner[52:58, 2:20] = 0, 1, 2
    ((name, (x, y)),) = _tags(bodies, owner)
    assert name == "disc" and 20 < x < 50 and 20 < y < 50


def test_every_pixel_knows_the_mesh_it_shows() -> None:
    """Two discs, one before the other, seen along the axis: the far one is hidden, from the side both are seen."""
    small, large = disc(60.0, "a").shown, disc(0.0, "b").shown
    along = shaded([small, large], eye=Eye(azimuth_deg=0.0, elevation_deg=90.0), width=64, height=64)
    assert set(np.unique(along.owner)) == {-1, 0}
    side = shaded([small, large], eye=Eye(azimuth_deg=0.0, elevation_deg=0.0), width=64, height=64)
    assert set(np.unique(side.owner)) == {-1, 0, 1}
    upper, lower = (np.nonzero(side.owner == n)[0] for n in (0, 1))
    assert upper.max() < lower.min()


def test_the_list_keeps_numbers_whole_and_drops_nothing() -> None:
    page = mould_csv([{"part": "pin_1", "count": 2, "kg": 0.1 + 0.2}]).decode()
    head, row = page.splitlines()
    assert head.split(",") == list(COLUMNS) and "0.30000000000000004" in row
    with pytest.raises(ValueError, match="colour"):
        mould_csv([{"colour": "red"}])
