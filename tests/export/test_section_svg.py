"""The section as SVG: exact arcs, the right way up, same bytes."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from math import atan2, hypot, pi, sqrt
from pathlib import Path

import pytest

from rollergen.export.section_svg import section_svg
from rollergen.shape.properties import area_of
from rollergen.shape.section import section_of
from rollergen.spec.reading import read_profile

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
SVG = "{http://www.w3.org/2000/svg}"


def signed_area(path: str) -> float:
    """Area of one SVG path of M, L and A, by Green's theorem with the sector of every arc."""
    words = re.findall(r"[MLAZ]|-?[\d.]+(?:e-?\d+)?", path)
    total, at, start, place = 0.0, (0.0, 0.0), (0.0, 0.0), 0
    while place < len(words):
        kind = words[place]
        if kind == "A":
            r, _, _, large, sweep, x, y = map(float, words[place + 1 : place + 8])
            place += 8
            chord = hypot(x - at[0], y - at[1])
            angle = 2 * atan2(chord / 2, sqrt(max(r**2 - chord**2 / 4, 0.0)))
            angle = 2 * pi - angle if large else angle
            segment = (
                r**2
                / 2
                * (
                    angle
                    - (2 * (chord / 2) * sqrt(max(r**2 - chord**2 / 4, 0)) / r**2) * (-1 if large else 1)
                )
            )
            total += (at[0] * y - x * at[1]) / 2 + (segment if sweep else -segment)
            at = (x, y)
        elif kind == "Z":
            total += (at[0] * start[1] - start[0] * at[1]) / 2
            place += 1
        else:
            x, y = map(float, words[place + 1 : place + 3])
            place += 3
            if kind == "M":
                start = (x, y)
            else:
                total += (at[0] * y - x * at[1]) / 2
            at = (x, y)
    return -total  # y runs down


@pytest.mark.parametrize("path", PROFILES, ids=lambda p: p.stem)
def test_the_drawn_path_has_the_section_s_area(path: Path) -> None:
    section = section_of(read_profile(path))
    page = section_svg(section.outer, section.holes, title="a <b> & c", colour="#d8c39a")
    tree = ET.fromstring(page)
    drawn = tree.findall(f"{SVG}path")[0].attrib["d"]
    loops = [loop + "Z" for loop in drawn.split("Z") if loop.strip()]
    outlines = (section.outer, *section.holes)
    assert len(loops) == len(outlines)
    for loop, outline in zip(loops, outlines, strict=True):
        assert signed_area(loop) == pytest.approx(area_of(outline), rel=2e-5)
    assert tree.findall(f"{SVG}title")[0].text == "a <b> & c"
    assert page == section_svg(section.outer, section.holes, title="a <b> & c", colour="#d8c39a")
