"""The exploded picture and the parts list of a mould: forms, names, same bytes."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest

from rollergen.export.mould_list import COLUMNS, mould_csv
from rollergen.export.mould_picture import Named, _spread, mould_picture
from rollergen.export.shading import Shown
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


def test_names_of_one_row_do_not_run_into_each_other() -> None:
    spot = np.zeros((3, 2))
    tags = [("cavity piece", spot + 100.0), ("cast segment", spot + 110.0), ("pin", spot + 900.0)]
    places = _spread(tags)
    widths = [9.0 * len(name) for name, _ in tags]
    for i in range(len(tags) - 1):
        assert places[i + 1] - places[i] >= (widths[i] + widths[i + 1]) / 2
    assert places[2] == 900.0


def test_the_list_keeps_numbers_whole_and_drops_nothing() -> None:
    page = mould_csv([{"part": "pin_1", "count": 2, "kg": 0.1 + 0.2}]).decode()
    head, row = page.splitlines()
    assert head.split(",") == list(COLUMNS) and "0.30000000000000004" in row
    with pytest.raises(ValueError, match="colour"):
        mould_csv([{"colour": "red"}])
