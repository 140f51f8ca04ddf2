"""Holes of one body that share no face: the metal between them is looked at when the body is made."""

from __future__ import annotations

from dataclasses import replace

import pytest
from mould_case import GENERAL, USUAL, mould_from

from rollergen.errors import ProfileError
from rollergen.shape.outline import circle
from rollergen.spec.reading import read_profile
from rollergen.tooling.layout import END_GAP
from rollergen.tooling.mould_numbers import body_named
from rollergen.tooling.mould_tool import Fits, Tool
from rollergen.tooling.plates import UNDER_FUNNEL
from rollergen.tooling.skin import LEAST_METAL, Skin, drilled

HIGH = 16.0


def plate(apart: float, *, pocket: float = 11.0, funnel_from: float = 8.0) -> Skin:
    """A plate of 16 mm: a pocket of radius 2 from below, and a pipe of radius 2 that widens by 5/8 mm per mm."""
    skin = Skin("plate")
    edge = skin.wall("edge", circle(40.0, "plate"), ((0.0, 0.0), (HIGH, 0.0)))
    low = drilled(skin, "pocket", (0.0, 0.0), 4.0, 0.0, pocket)
    skin.face(pocket, False, (low, "high"))
    wider = (HIGH - funnel_from) * 5 / 8
    levels = ((0.0, 0.0), (funnel_from, 0.0), (HIGH, -wider))
    funnel = skin.hole("funnel", circle(2.0, "gate", centre=(apart, 0.0)), levels)
    skin.face(0.0, False, (edge, "low"), [(low, "low"), (funnel, "low")])
    skin.face(HIGH, True, (edge, "high"), [(funnel, "high")])
    return skin


@pytest.mark.parametrize("apart", [5.0, 6.0, 6.3])
def test_a_funnel_that_widens_beside_a_pocket_from_below_is_told_by_how_much(apart: float) -> None:
    """The pocket keeps 0.3 mm above its ceiling too: there the funnel's radius is 2 + 5/8 (11.3 - 8)."""
    left = apart - 2.0 - (2.0 + 5 / 8 * (11.0 + LEAST_METAL - 8.0))
    with pytest.raises(ProfileError) as wrong:
        plate(apart).part("#000000")
    (only,) = wrong.value.complaints
    assert only.message.startswith(f"pocket and funnel leave {left:.3f} mm between them")


def test_a_funnel_clear_of_the_pocket_or_above_it_is_made() -> None:
    touches = 4.0 + 5 / 8 * (11.0 + LEAST_METAL - 8.0) + LEAST_METAL
    assert plate(touches + 1e-6).part("#000000").sides
    assert plate(4.4, funnel_from=11.0 + LEAST_METAL).part("#000000").sides
    with pytest.raises(ProfileError, match="pocket and funnel"):
        plate(touches - 1e-6).part("#000000")


@pytest.mark.parametrize(
    ("top", "spigot"), [(15.0, 10.0), (16.0, 10.0), (17.0, 10.0), (25.0, 20.0), (20.0, 10.0)]
)
def test_the_funnel_begins_above_the_pockets_of_the_cores(top: float, spigot: float) -> None:
    mould = mould_from(read_profile(GENERAL), tool=replace(USUAL, top_plate=top, spigot=spigot))
    gate = next(s for s in body_named(mould, "top_plate").part.sides if s.outline.edges[0].feature == "gate")
    (_, straight), (begins, still), (ends, wider) = gate.levels
    assert straight == still == 0.0 and wider < 0 and ends == mould.layout.top
    assert begins >= mould.cavity.length + spigot + END_GAP + UNDER_FUNNEL - 1e-9


def test_holes_too_near_name_the_options_that_move_each_and_both_work() -> None:
    """A fit of 1 mm brings the spigots' pockets to the gate."""
    profile, wide = read_profile(GENERAL), Fits(spigot=1.0)
    with pytest.raises(ProfileError, match="spigot of core 1 and gate leave") as wrong:
        mould_from(profile, tool=Tool(fits=wide))
    said = wrong.value.complaints[0].message
    fit, gate = (float(said.split(f'{option} "')[1].split(" mm")[0]) for option in ("--spigot-fit", "--gate"))
    assert mould_from(profile, tool=Tool(fits=replace(wide, spigot=fit))).gate.diameter > gate
    assert mould_from(profile, tool=Tool(fits=wide, gate=gate)).gate.diameter == gate
    for tool in (Tool(fits=replace(wide, spigot=fit + 0.011)), Tool(fits=wide, gate=gate + 0.011)):
        with pytest.raises(ProfileError, match="spigot of core 1 and gate leave"):
            mould_from(profile, tool=tool)
