"""What keeps the part from turning while the sleeve is screwed off it, and no cores are named where there are none."""

from __future__ import annotations

from typing import Any

import pytest
from mould_case import GENERAL, bore_of, changed, mould_at

from rollergen.answer.moulding import MouldAnswer, mould_for
from rollergen.answer.report import draw_profile
from rollergen.spec.schema import starting_profile
from rollergen.tooling.mould_demould import demould_order, holders
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.release_lines import ReleaseLimits
from rollergen.tooling.shrinkage import Shrinkage

EVEN = Shrinkage(radial=0.014, axial=0.014, source="test")
ROUND = bore_of('section = "round"', 'lead_in = "1 mm"', 'shaft_tolerance = "0.1 mm"')
TEXT = starting_profile()
SOLID = (TEXT[TEXT.index("[chambers]") : TEXT.index("[compound]")], "")


def made(*pairs: tuple[str, str], way: Any = "screw") -> MouldAnswer:
    return mould_for(
        draw_profile(changed(*pairs)), EVEN, Tool(), way=way, limits=ReleaseLimits(most_twist_shear=0.05)
    )


@pytest.mark.parametrize(
    ("pairs", "what", "words"),
    [
        ((), ("chamber cores", "mandrel"), "the chamber cores and the mandrel hold the part against turning"),
        ((ROUND,), ("chamber cores",), "the chamber cores hold the part against turning"),
        ((SOLID,), ("mandrel",), "the mandrel holds the part against turning"),
        ((ROUND, SOLID), (), "nothing in the mould holds the part against turning"),
    ],
    ids=["square, chambers", "round, chambers", "square, solid", "round, solid"],
)
def test_what_holds_the_part_is_said(
    pairs: tuple[tuple[str, str], ...], what: tuple[str, ...], words: str
) -> None:
    found = made(*pairs)
    assert holders(found.mould) == what
    (step,) = [step for step in found.report.demould if "screw the sleeve up" in step]
    assert words in step
    warned = [caution for caution in found.report.cautions if "holds the part against turning" in caution]
    assert len(warned) == (0 if what else 1)
    solid = SOLID in pairs
    assert any("core" in step for step in found.report.demould) != solid
    (last,) = [step for step in found.report.demould if step.startswith("draw the part off")]
    assert ("chamber cores" in last) != solid and "the mandrel" in last


def test_ways_out_of_a_part_that_may_turn_are_open() -> None:
    (said,) = [c for c in made(ROUND, SOLID).report.cautions if "against turning" in c]
    helical, planes = made(ROUND, SOLID, way="helical").release, made(ROUND, SOLID, way="planes").release
    assert f"--release helical, {helical.outer_parts} pieces" in said
    assert f"--release planes, {planes.outer_parts} parts" in said


def test_what_stands_in_the_way_of_the_pieces_is_gone_before_they_move() -> None:
    """Bars before anything is turned from below; what lifted the jacket is turned back before a piece slides over it."""
    steps = demould_order(mould_at(GENERAL, split="tips"))
    order = (
        "on bars",
        "press the jacket up",
        "turn both jack screws back",
        "draw the pins",
        "cavity_piece_1 at",
    )
    found = [[words in step for step in steps].index(True) for words in order]
    assert found == sorted(found) and len(set(found)) == len(order)
    assert not any("jacket" in step or "back under" in step for step in demould_order(mould_at(GENERAL)))


@pytest.mark.parametrize("straight", [True, False], ids=["straight ribs", "no ribs"])
def test_ribs_do_not_give_way_where_nothing_hooks(straight: bool) -> None:
    """Stripping with no strain at all is asked for, and allowed, of a part that leaves its sleeve freely."""
    ribs = TEXT[TEXT.index("[ribs]") : TEXT.index("[bore]")]
    pair = ('helix_pitch = "650 mm"', 'helix_pitch = "straight"') if straight else (ribs, "")
    found = mould_for(
        draw_profile(changed(pair)), EVEN, Tool(), way="strip", limits=ReleaseLimits(most_strip=0.0)
    )
    assert found.release.choice == "strip" and found.way == "sleeve, drawn off along the axis"
    said = " ".join((found.way, *found.report.demould))
    assert "giv" not in said and "then draw it off the part" in said
    strip = next(line for line in found.release.why if line.startswith("strip:"))
    assert ("of a rib's base" in strip) == straight


def test_ribs_give_way_where_they_hook() -> None:
    found = mould_for(
        draw_profile(changed()), EVEN, Tool(), way="strip", limits=ReleaseLimits(most_strip=0.1)
    )
    assert "giving way" in found.way and any("give way" in step for step in found.report.demould)
