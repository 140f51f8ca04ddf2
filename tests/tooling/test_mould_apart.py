"""Taken apart for a picture, layers of a mould clear one another along the axis."""

from __future__ import annotations

from itertools import pairwise

import pytest
from mould_case import GENERAL, changed, mould_at, mould_from

from rollergen.tooling.mould import Mould
from rollergen.tooling.mould_apart import taken_apart


def spans(mould: Mould) -> dict[str, tuple[float, float]]:
    moved = taken_apart(mould.bodies, mould.cavity.length)
    found = {}
    for body, (_, _, by) in zip(mould.bodies, moved, strict=True):
        heights = [z for side in body.part.sides for z, _ in side.levels]
        found[body.name] = (min(heights) + by, max(heights) + by)
    return found


@pytest.mark.parametrize("length", ["30 mm", "150 mm", "250 mm"])
@pytest.mark.parametrize("split", ["", "tips"])
def test_layers_clear_one_another_whatever_the_length(length: str, split: str) -> None:
    profile = changed(
        ('free_length = "150 mm"', f'free_length = "{length}"'),
        ('fitted_length = "148.5 mm"', f'fitted_length = "{length}"'),
    )
    found = spans(mould_from(profile, split=split))
    sleeve = "jacket" if split else "cavity_sleeve"
    below = ["pin_1"] if split else []
    order = [*below, "base_plate", "chamber_core_1", "cast_segment", sleeve, "top_plate", "bolt_1"]
    assert all(found[a][1] < found[b][0] for a, b in pairwise(order)), found
    assert found["bore_mandrel"][0] > found["base_plate"][1]
    assert found["dowel_1"][0] > found["top_plate"][1]


def test_the_casting_stays_and_pieces_move_straight_out() -> None:
    mould = mould_at(GENERAL, split="tips")
    moved = dict(
        zip([b.name for b in mould.bodies], taken_apart(mould.bodies, mould.cavity.length), strict=True)
    )
    assert moved["cast_segment"] == (0.0, 0.0, 0.0)
    for body in mould.bodies:
        if body.name.startswith("cavity_piece"):
            assert moved[body.name] == (*body.apart[:2], 0.0) and any(body.apart[:2])
