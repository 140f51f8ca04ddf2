"""A mould can be opened and closed as its own steps say: screws, threads to pull by, jack screws and what they press on."""

from __future__ import annotations

from dataclasses import replace
from math import cos, floor, hypot, pi, sin, tau

import numpy as np
import pytest
from mould_case import GENERAL, changed, mould_at, mould_from, numbers

from rollergen.errors import ProfileError
from rollergen.shape.distance import signed_distance
from rollergen.shape.offset import inward
from rollergen.shape.outline import Arc, circle
from rollergen.shape.part import Part
from rollergen.shape.part_slice import loops_at
from rollergen.shape.part_volume import area_of_side, volume_of
from rollergen.shape.properties import area_of, centroid_of
from rollergen.shape.solid import checked_solid
from rollergen.spec.reading import read_profile
from rollergen.tooling.cores import bore_mandrel, chamber_core
from rollergen.tooling.fastening import anchors_of, pulling_thread, roomiest
from rollergen.tooling.mould import Mould
from rollergen.tooling.mould_meeting import meetings
from rollergen.tooling.mould_numbers import body_named
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.sold import Sold, sold_bolt, sold_dowel, sold_pin


def metal_at(part: Part, z: float, point: tuple[float, float]) -> float:
    """How deep a point lies in the metal of a part at a height (mm, negative outside it)."""
    loops = loops_at(part, z)
    inside = [float(signed_distance(loop, np.array([point]))[0]) for loop in loops]
    return -max(inside, default=np.inf)


# screws of the cores


def test_every_core_is_held_by_a_screw_from_below() -> None:
    """Its thread lies in the foot with half a diameter of metal round it; its head is sunk in the plate."""
    mould = mould_at(GENERAL)
    tool, plate = mould.tool, body_named(mould, "base_plate").part
    pairs = [(f"chamber_core_{n}", f"core_screw_{n}") for n in range(1, 7)] + [
        ("bore_mandrel", "mandrel_screw")
    ]
    anchors = [*mould.anchors.cores, mould.anchors.mandrel]
    for (core, screw), anchor in zip(pairs, anchors, strict=True):
        assert anchor is not None and anchor.size.thread == 6.0
        foot = body_named(mould, core).part
        shank, head = (s for s in body_named(mould, screw).part.sides)
        assert shank.levels[-1][0] + tool.foot == pytest.approx(
            16 - 5.6
        )  # M6 x 16 through 28 - 16 - 6.4 of plate
        engaged = np.linspace(-tool.foot + 0.1, anchor.end - 0.1, 5).tolist()
        solid = chamber_core(mould.cavity, tool, 0) if core != "bore_mandrel" else foot
        for z in engaged:
            assert metal_at(foot, z, anchor.at) == pytest.approx(-3.0)  # the thread's own hole
            assert metal_at(plate, z, anchor.at) < 0
        if core == "chamber_core_1":
            assert metal_at(solid, engaged[0], anchor.at) >= 6.0
        assert anchor.end + 2.0 <= -1.0  # metal is left over the hole
        assert head.levels[0][0] == pytest.approx(mould.layout.bottom + 0.4)
        ring = (anchor.at[0] + 4.0, anchor.at[1])  # beside the 6.6 mm hole, under the head of 10 mm
        assert metal_at(plate, (anchor.seat - tool.foot) / 2, ring) > 0.5


def test_screws_share_no_room_and_keep_the_clearance_of_their_threads() -> None:
    found = meetings(mould_at(GENERAL, split="tips"))
    assert not found.shared
    gaps = {(m.a, m.b): m.gap_mm for m in found.near}
    assert gaps[("chamber_core_3", "core_screw_3")] == pytest.approx(0.05, abs=1e-9)
    assert gaps[("bore_mandrel", "mandrel_screw")] == pytest.approx(0.05, abs=1e-9)
    assert gaps[("base_plate", "base_jack_2")] == pytest.approx(0.05, abs=1e-9)
    assert gaps[("top_plate", "jack_screw_1")] == pytest.approx(0.05, abs=1e-9)


@pytest.mark.parametrize(
    ("radius", "plate", "thread"),
    [(3.99, 28, None), (4.01, 28, 4), (4.99, 28, 4), (5.01, 28, 5), (6.01, 28, 6), (8.01, 40, 8), (7.99, 40, 6)],
)  # fmt: skip
def test_a_screw_is_as_large_as_foot_and_plate_take(
    radius: float, plate: float, thread: float | None
) -> None:
    """Half a diameter of metal round the thread, and half a diameter of plate under the foot."""
    cavity = mould_at(GENERAL, draft=0.0).cavity
    pegs = tuple(
        circle(radius, "hole", centre=(26 * cos(tau * n / 3), 26 * sin(tau * n / 3))) for n in range(3)
    )
    made = anchors_of(
        replace(cavity, section=replace(cavity.section, chambers=pegs)), Tool(base_plate=float(plate))
    )
    if thread is None:
        assert made.cores == (None, None, None)
        return
    for anchor, peg in zip(made.cores, pegs, strict=True):
        assert anchor is not None and anchor.size.thread == thread
        assert isinstance(peg.edges[0], Arc)
        assert anchor.at == pytest.approx(peg.edges[0].centre, abs=1e-3)
        assert anchor.end + 16 >= 1.5 * thread - 1e-9


def test_a_core_too_small_for_a_screw_says_so_and_is_drawn_without() -> None:
    profile = changed(
        ('count = 6\nsection = "sector"', 'count = 24\nsection = "round"'),
        ('hub_wall = "7 mm"', 'hub_wall = "6 mm"'),
    )
    mould = mould_from(profile)
    peg = inward(mould.cavity.section.chambers[0], mould.cavity.chamber_offsets[0])
    assert area_of(peg) < pi * 4**2 and mould.anchors.cores[0] is None and mould.anchors.mandrel is not None
    core = body_named(mould, "chamber_core_1")
    assert "too small for M4" in core.note and "press fit or weld" in core.note
    assert len(core.part.sides) == 1 and not any(b.name.startswith("core_screw") for b in mould.bodies)
    assert "without a screw" in numbers(mould, profile).demould[-1]


def test_the_hole_in_a_foot_touches_no_rubber() -> None:
    """Wetted areas are those of cores without a screw; volumes differ by the hole alone."""
    mould = mould_at(GENERAL)
    report, cavity = numbers(mould, read_profile(GENERAL)), mould.cavity
    plain = chamber_core(cavity, mould.tool, 0)
    held = body_named(mould, "chamber_core_1").part
    anchor = mould.anchors.cores[0]
    assert anchor is not None
    assert report.core_area_mm2 == pytest.approx(
        6 * area_of_side(plain.sides[0], 0.0, cavity.length), rel=1e-12
    )
    deep = anchor.end + 2.0 + mould.tool.foot
    assert volume_of(plain) - volume_of(held) == pytest.approx(pi * 9 * deep, rel=1e-9)
    mandrel = bore_mandrel(cavity, mould.tool)
    assert report.mandrel_area_mm2 == pytest.approx(
        area_of_side(mandrel.sides[0], 0.0, mandrel.sides[0].levels[-1][0]), rel=1e-12
    )


def test_the_roomiest_place_is_in_the_middle_of_a_wide_chamber() -> None:
    """Of a fine grid over the foot no point is deeper; the place lies on the chamber's line of symmetry."""
    cavity = mould_at(GENERAL).cavity
    foot = inward(cavity.section.chambers[0], cavity.chamber_offsets[0])
    at, room = roomiest(foot)
    line = np.linspace(-60, 60, 481)
    grid = np.stack([a.ravel() for a in np.meshgrid(line, line)], axis=1)
    assert room >= float((-signed_distance(foot, grid)).max()) - 0.01
    middle = centroid_of(foot)
    assert abs(middle[0] * at[1] - middle[1] * at[0]) < 1e-9
    assert float(-signed_distance(foot, np.array([at]))[0]) == pytest.approx(room, abs=1e-12)


# threads to pull by


def test_dowels_have_a_thread_above_and_pins_one_below() -> None:
    mould = mould_at(GENERAL, split="tips")
    dowel, pin = (body_named(mould, name).part for name in ("dowel_1", "pin_1"))
    at = mould.layout.dowels[0]
    bottom = mould.layout.bottom
    top = bottom + floor(10 * (mould.layout.top - bottom)) / 10  # ground bar, in tenths
    assert metal_at(dowel, top - 1.0, at) < 0 < metal_at(dowel, bottom + 1.0, at)
    middle = pin.sides[0].outline.edges[0]
    assert isinstance(middle, Arc)
    assert metal_at(pin, bottom + 1.0, middle.centre) < 0
    assert metal_at(pin, pin.sides[0].levels[-1][0] - 1.0, middle.centre) > 0
    assert volume_of(dowel) == pytest.approx(25 * pi * (top - bottom) - 9 * pi * 12, rel=1e-9)


@pytest.mark.parametrize(("pin", "thread"), [(6, 4), (8, 5), (10, 6), (12, 6), (16, 8), (20, 10), (25, 10)])
def test_pulling_threads_follow_the_pin(pin: float, thread: float) -> None:
    """Value from memory: ISO 8735."""
    assert pulling_thread(float(pin)) == thread


# what is bought


@pytest.mark.parametrize(
    ("bolt", "words", "length"),
    [
        ((171.66, 186.66, 199.66), "M10 x 190", 190.0),  # the next longer goes in
        ((171.66, 190.0, 199.66), "M10 x 190", 190.0),
        ((171.66, 190.1, 195.0), "M10 x 190", 190.0),  # it does not, and a little less thread holds
        ((171.66, 178.0, 179.0), "M10 x 180 cut to 178.0 mm", 178.0),
        ((32.0, 47.0, 52.0), "M10 x 50", 50.0),
        ((520.0, 535.0, 550.0), "M10 x 535.0 mm, of bar", 535.0),
        (
            (291.0, 306.0, 330.0),
            "M10 x 310 (sold to about 300 mm: take a stud and nuts, or a thicker --bolt)",
            310.0,
        ),
    ],
)
def test_a_bolt_is_as_long_as_it_is_sold(bolt: tuple[float, float, float], words: str, length: float) -> None:
    grip, wanted, most = bolt
    assert sold_bolt(10.0, grip=grip, wanted=wanted, most=most) == Sold(length=length, words=words)


def test_a_dowel_stands_inside_where_that_holds_and_out_above_where_not() -> None:
    assert sold_dowel(10.0, whole=98.0, least=90.0) == Sold(length=95.0, words="diameter 10 mm x 95 mm")
    above = sold_dowel(20.0, whole=199.7, least=189.7)
    assert above.length == 200.0 and above.words.endswith("0.3 mm of it above the top plate")
    bar = Sold(length=199.7, words="diameter 10 mm x 199.7 mm of ground bar: cut the thread")
    assert sold_dowel(10.0, whole=199.74, least=189.7) == bar  # ten diameters are about the longest sold
    assert sold_pin(10.0, whole=41.0, plate=29.0) == Sold(length=40.0, words="diameter 10 mm x 40 mm")
    assert sold_pin(20.0, whole=111.0, plate=99.0).words == "diameter 20 mm x 120 cut to 111.0 mm"


@pytest.mark.parametrize(
    "tool",
    [
        Tool(),
        Tool(bolt=16.0, block_wall=33.0, base_plate=23.0),
        Tool(dowel=16.0, top_plate=31.0),
        Tool(bolt=5.0, dowel=6.0, foot=30.0, base_plate=61.0),
    ],
    ids=["usual", "thick bolt", "thick dowel", "deep foot"],
)
def test_bought_bodies_are_drawn_as_long_as_their_note_says_and_hold(tool: Tool) -> None:
    mould = mould_from(read_profile(GENERAL), split="tips", tool=tool)
    layout = mould.layout
    lines = {line.part: line for line in numbers(mould, read_profile(GENERAL)).parts}
    for name, head in (("bolt_1", tool.bolt), ("dowel_1", 0.0), ("pin_1", 0.0)):
        said = lines[name].note.split(" cut to " if " cut to " in lines[name].note else " x ")[1]
        assert lines[name].size_mm[2] == pytest.approx(float(said.split()[0]) + head, abs=0.05), name
    low = {name: min(z for s in body_named(mould, name).part.sides for z, _ in s.levels) for name in lines}
    assert layout.bottom - 1e-9 <= low["bolt_1"] <= layout.low - tool.bolt + 1e-9
    assert low["dowel_1"] == low["pin_1"] == layout.bottom
    high = {
        n: max(z for s in body_named(mould, n).part.sides for z, _ in s.levels) for n in ("dowel_1", "pin_1")
    }
    assert high["dowel_1"] >= layout.high + min(tool.dowel, (layout.top - layout.high) / 2) - 1e-9
    assert layout.low + 6.0 <= high["pin_1"] <= layout.low + 12.0 + 1e-9


# jack screws


def pressed(mould: Mould, name: str, z: float) -> list[float]:
    return [
        metal_at(body_named(mould, name).part, z, (x + 4.9 * cos(a), y + 4.9 * sin(a)))
        for x, y in mould.layout.jacks
        for a in np.linspace(0, tau, 12).tolist()
    ]


def test_jack_screws_press_on_metal_and_nothing_else_is_in_their_way() -> None:
    """The whole end of each stands over sleeve or jacket, from above and from below."""
    sleeve = mould_at(GENERAL)
    assert min(pressed(sleeve, "cavity_sleeve", sleeve.layout.high - 0.01)) > 0
    parted = mould_at(GENERAL, split="tips")
    for z in (parted.layout.high - 0.01, parted.layout.low + 0.01):
        assert min(pressed(parted, "jacket", z)) > 0
    for mould in (sleeve, parted):
        ends = [
            side.levels[0][0] - mould.layout.high for side in body_named(mould, "jack_screw_1").part.sides
        ]
        assert ends == pytest.approx([1.0])
        for x, y in mould.layout.jacks:
            for u, v in mould.layout.bolts:
                assert hypot(x - u, y - v) > (1.6 * 10 + 10) / 2 + 1


def test_what_is_screwed_off_is_not_pressed_off() -> None:
    assert not any(b.name.startswith("base_jack") for b in mould_at(GENERAL).bodies)
    assert [b.name for b in mould_at(GENERAL, split="tips").bodies if b.name.startswith("base_jack")] == [
        "base_jack_1",
        "base_jack_2",
    ]


def test_steps_use_only_what_is_there() -> None:
    """Every screw and thread a step speaks of is drawn."""
    profile = read_profile(GENERAL)
    for split, words, bodies in (
        ("", ("jack screws", "bolt holes"), ("jack_screw_1", "core_screw_1")),
        ("tips", ("jack screws from below", "threads in its top", "threads in their ends"), ("base_jack_1", "pin_1")),
    ):  # fmt: skip
        mould = mould_at(GENERAL, split=split)
        said = " ".join(numbers(mould, profile).demould)
        assert all(word in said for word in words)
        assert all(body_named(mould, name) for name in bodies)
    jacket = body_named(mould_at(GENERAL, split="tips"), "jacket").part
    assert sum(area_of(s.outline) == pytest.approx(9 * pi) for s in jacket.sides) == 2
    straight = changed(('helix_pitch = "650 mm"', 'helix_pitch = "straight"'))
    pushed = mould_from(straight)
    assert "jack screws from below" in " ".join(numbers(pushed, straight).demould)
    assert (
        body_named(pushed, "base_jack_1").note
        == "set screw M10 x 16; turned in from below it presses the sleeve off"
    )
    assert "before the plates are parted" in body_named(pushed, "dowel_1").note
    assert "before the sleeve is screwed off" in body_named(mould_at(GENERAL), "dowel_1").note


# limits, each with a number that works


def cavity_and(**change: float) -> Mould:
    return mould_from(read_profile(GENERAL), tool=Tool(**change))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("bad", "key", "said", "good", "still_bad"),
    [
        ({"base_plate": 20.0}, "--base-plate", "22.4 mm", {"base_plate": 22.4}, {"base_plate": 22.39}),
        ({"dowel": 5.0}, "--dowel", "6 mm or more", {"dowel": 6.0}, {"dowel": 5.9}),
        ({"bolt": 9.0}, "--bolt", "use 8 mm", {"bolt": 8.0}, {"bolt": 9.0}),
        ({"bolt": 16.0}, "--block-wall", "31.6 mm", {"bolt": 16.0, "block_wall": 31.6}, {"block_wall": 31.5, "bolt": 16}),
        ({"dowel": 20.0}, "--block-wall", "26 mm", {"dowel": 20.0, "block_wall": 26.0}, {"block_wall": 25.9, "dowel": 20}),
    ],
)  # fmt: skip
def test_fixings_are_refused_with_the_number_that_works(
    bad: dict[str, float], key: str, said: str, good: dict[str, float], still_bad: dict[str, float]
) -> None:
    with pytest.raises(ProfileError) as wrong:
        cavity_and(**bad)
    assert key in str(wrong.value) and said in str(wrong.value)
    assert not meetings(cavity_and(**good)).shared
    with pytest.raises(ProfileError):
        cavity_and(**still_bad)


def test_more_bolts_than_stand_beside_one_another_are_refused_with_as_many_as_do() -> None:
    with pytest.raises(ProfileError, match="--bolts") as wrong:
        cavity_and(bolts=40)
    most = int(str(wrong.value).split("use ")[1].split()[0])
    mould = cavity_and(bolts=most)
    heads = mould.layout.bolts
    for number, one in enumerate(heads):
        for other in heads[number + 1 :]:
            assert hypot(one[0] - other[0], one[1] - other[1]) >= 16 + 1 - 1e-9
    assert not meetings(mould).shared
    with pytest.raises(ProfileError) as wrong:
        cavity_and(bolts=most + 1)
    thinner = float(str(wrong.value).split('--bolt "')[1].split()[0])
    assert len(cavity_and(bolts=most + 1, bolt=thinner).layout.bolts) == most + 1


def test_a_thin_wall_for_pins_names_a_wall_and_a_dowel_that_work() -> None:
    profile = read_profile(GENERAL)
    with pytest.raises(ProfileError, match="--block-wall") as wrong:
        mould_from(profile, split="tips", tool=Tool(block_wall=9.5))
    said = str(wrong.value)
    wall = float(said.split("block wall of ")[1].split()[0])
    dowel = float(said.split('--dowel "')[1].split()[0])
    mould_from(profile, split="tips", tool=Tool(block_wall=wall))
    mould_from(profile, split="tips", tool=Tool(block_wall=9.5, dowel=dowel))
    for tool in (Tool(block_wall=wall - 0.1), Tool(block_wall=9.5, dowel=dowel + 0.11)):
        with pytest.raises(ProfileError):
            mould_from(profile, split="tips", tool=tool)


@pytest.mark.parametrize(
    "tool",
    [Tool(base_plate=22.4), Tool(base_plate=60.0, foot=30.0), Tool(foot=10.0), Tool(bolt=6.0, bolts=6)],
)
@pytest.mark.parametrize("split", ["", pytest.param("tips", marks=pytest.mark.slow)])
def test_other_plates_feet_and_bolts_close_without_sharing_room(tool: Tool, split: str) -> None:
    profile = read_profile(GENERAL)
    mould = mould_from(profile, split=split, tool=tool)
    assert all((*mould.anchors.cores, mould.anchors.mandrel))
    assert not meetings(mould).shared
    assert abs(numbers(mould, profile).volume_residual) <= 1e-9
    for name in ("base_plate", "chamber_core_1", "core_screw_1", "jack_screw_1"):
        assert abs(checked_solid(body_named(mould, name).part)[1]) <= 1e-8
