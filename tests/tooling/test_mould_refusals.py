"""What a mould refuses, with the number that works; random tools; pieces along axial planes and how they leave."""

from __future__ import annotations

from dataclasses import replace
from math import atan, cos, degrees, hypot, pi, radians, sin

import numpy as np
import pytest
from mould_case import (
    GENERAL,
    RUBBER,
    TEXTS,
    UNEVEN,
    USUAL,
    as_manifold,
    changed,
    mould_at,
    mould_from,
    numbers,
)

from rollergen.errors import ProfileError
from rollergen.shape.distance import boundary_points
from rollergen.shape.mesh import build_mesh
from rollergen.shape.mesh_cut import sector_of
from rollergen.shape.outline import circle
from rollergen.shape.part_volume import volume_of
from rollergen.shape.section import section_of
from rollergen.shape.solid import checked_solid
from rollergen.shape.solid_cut import cut_to_sector
from rollergen.spec.reading import read_profile
from rollergen.tooling.cavity import cavity_of
from rollergen.tooling.mould import Mould, mould_of
from rollergen.tooling.mould_numbers import body_named, body_volume
from rollergen.tooling.mould_tool import Fits, Tool
from rollergen.tooling.pieces import Split, parting_angles
from rollergen.tooling.skin import Skin, drilled

# refusals, each with its number


@pytest.mark.parametrize(
    ("tool", "key", "number"),
    [
        (Tool(gate=30.0), "--gate", "use 3 mm to 1"),
        (Tool(gate_at=(0.0, 0.0)), "--gate-at", "inside the bore"),
        (Tool(base_plate=18.0), "--base-plate", "use 22.4 mm"),
        (Tool(top_plate=12.0), "--top-plate", "use 15 mm"),
        (Tool(block_wall=15.0), "--block-wall", "use 22 mm"),
        (Tool(bolts=1), "--bolts", "2 or more"),
        (Tool(vent=30.0), "--vent", "or less"),
        (Tool(marks=("caf\u00e9",)), "--part-number", "A to Z"),
        (Tool(marks=("A" * 400,)), "--part-number", "at most"),
        (Tool(core_draft=radians(3)), "--draft", "0.95 deg or less"),
        (Tool(mandrel_draft=radians(5)), "--mandrel-draft", "or less"),
    ],
    ids=lambda v: v if isinstance(v, str) else "",
)
def test_what_cannot_be_made_is_refused_with_the_number_that_works(tool: Tool, key: str, number: str) -> None:
    with pytest.raises(ProfileError) as wrong:
        mould_from(read_profile(GENERAL), tool=tool)
    said = str(wrong.value)
    assert key in said and number in said


def test_the_draft_that_works_works_and_a_little_more_does_not() -> None:
    profile = read_profile(GENERAL)
    section = section_of(profile)
    limit = atan(2.5 / profile.body.free_length)  # the corner radius is used up at the thin end
    assert cavity_of(profile, section, UNEVEN, core_draft=limit * 0.999).chamber_offsets[1] < 2.6
    with pytest.raises(ProfileError, match="corner radius of 2.5 mm"):
        cavity_of(profile, section, UNEVEN, core_draft=limit * 1.001)


def test_a_draft_of_the_bore_beside_a_wide_fit_names_the_metal_and_the_fit() -> None:
    """A hub wall of 3 mm, and a foot fit that leaves 0.31 mm of metal between the pockets: nothing for a draft."""
    thin = changed(('hub_wall = "7 mm"', 'hub_wall = "3 mm"'))
    section = section_of(thin)
    wide = replace(Fits(), foot=(2.0 / (1 - UNEVEN.radial) - 0.31) / 2)  # the lead-in takes 1 mm
    cavity_of(thin, section, UNEVEN, mandrel_draft=radians(0.3))
    with pytest.raises(
        ProfileError, match="metal between the pockets of the base plate; none does with this --foot-fit"
    ):
        cavity_of(thin, section, UNEVEN, mandrel_draft=radians(0.3), fits=wide)


def test_a_lone_chamber_has_a_web_that_draft_may_not_eat() -> None:
    """Web 2 mm between the chamber's own sides, nominal at the small end: each side moves by L tan(draft)."""
    lone = changed(("count = 6", "count = 1"), ('web = "6 mm" ', 'web = "2 mm" '))
    section = section_of(lone)
    cavity_of(lone, section, UNEVEN, core_draft=atan(0.8 / 150), nominal_end="small")
    with pytest.raises(ProfileError, match="metal beside a core's pocket|rubber of a wall or a web"):
        cavity_of(lone, section, UNEVEN, core_draft=atan(1.01 / 150), nominal_end="small")


@pytest.mark.parametrize(
    ("asked", "end"),
    [
        (3.0, "large"),
        pytest.param(3.0, "middle", marks=pytest.mark.slow),
        pytest.param(3.0, "small", marks=pytest.mark.slow),
        (1.1, "small"),
        pytest.param(1.2, "large", marks=pytest.mark.slow),
    ],
)
def test_the_draft_advised_makes_a_mould_and_a_little_more_does_not(asked: float, end: str) -> None:
    """Whatever gives way first: corner, rubber, or the metal between two feet of the base plate."""
    profile = read_profile(GENERAL)

    def made(degree: float) -> None:
        mould_from(profile, tool=Tool(core_draft=radians(degree), nominal_end=end))

    with pytest.raises(ProfileError, match="--draft") as wrong:
        made(asked)
    advised = float(str(wrong.value).split("use ")[1].split(" deg")[0])
    made(advised)
    with pytest.raises(ProfileError, match="--draft"):
        made(advised + 0.01)


def test_a_web_eaten_by_draft_is_said_to_be_the_plate_s() -> None:
    """2 x 150 mm x tan(1.07 deg) of a web of 6 mm: 0.4 mm of metal less two fits; nothing is said of two feet by number."""
    with pytest.raises(ProfileError, match="0.3 mm of metal beside a core's pocket") as wrong:
        mould_from(read_profile(GENERAL), tool=Tool(core_draft=radians(1.1), nominal_end="small"))
    assert "foot of core" not in str(wrong.value) and "1.07 deg or less" in str(wrong.value)


def test_two_drafts_that_only_fit_alone_are_told_with_the_pair_that_works() -> None:
    """Both widen at the feet: the draft that works beside the other leaves 0.3 mm of metal, a hundredth more does not."""
    profile = read_profile(GENERAL)

    section = section_of(profile)

    def cast(core: float, mandrel: float) -> None:
        drafts = {"core_draft": radians(core), "mandrel_draft": radians(mandrel)}
        cavity_of(profile, section, UNEVEN, **drafts, nominal_end="small", fits=Fits())

    cast(0.9, 0.0)
    cast(0.0, 2.0)
    with pytest.raises(ProfileError, match="--mandrel-draft: 2 deg .* beside chambers") as wrong:
        cast(0.9, 2.0)
    said = str(wrong.value)
    less = float(said.split("; use ")[1].split(" deg")[0])
    core = float(said.split('--draft "')[1].split(" deg")[0])
    cast(core, 2.0)
    tool = Tool(core_draft=radians(0.9), mandrel_draft=radians(less), nominal_end="small")
    assert mould_from(profile, tool=tool).bodies
    with pytest.raises(ProfileError, match="--mandrel-draft"):
        cast(0.9, less + 0.011)


def test_feet_too_near_without_any_draft_are_not_blamed_on_the_draft() -> None:
    """A web of 2 mm, 2.033 mm in the mould, and 0.95 mm of fit on both its sides."""
    profile = changed(('web = "6 mm"', 'web = "2 mm"'))
    with pytest.raises(ProfileError, match="leave 0.133 mm") as wrong:
        mould_from(profile, tool=Tool(core_draft=radians(0.2), fits=Fits(foot=0.95)))
    assert "--draft" not in str(wrong.value)


def gated(x: float, y: float, diameter: float | None = None) -> Mould:
    return mould_from(read_profile(GENERAL), tool=replace(USUAL, gate_at=(x, y), gate=diameter))


def test_a_gate_over_a_vent_is_refused_by_name_and_once() -> None:
    x, y = mould_at(GENERAL).vents[0].at
    with pytest.raises(ProfileError) as wrong:
        gated(x * 0.97, y * 0.97, 3.0)
    (only,) = wrong.value.complaints
    assert only.key == "--gate-at" and "mm from the middle of vent 1" in only.message


def test_the_gate_shrinks_beside_a_vent_and_a_larger_one_is_told_how_large() -> None:
    """0.3 mm of plate stay between their edges."""
    vent = mould_at(GENERAL).vents[0]
    x, y = 0.95 * vent.at[0], 0.95 * vent.at[1]
    made = gated(x, y).gate
    assert made.diameter / 2 + vent.diameter / 2 + 0.3 <= hypot(vent.at[0] - x, vent.at[1] - y) + 1e-9
    with pytest.raises(ProfileError, match="--gate:") as wrong:
        gated(x, y, made.diameter + 0.1)
    most = float(str(wrong.value).split("use 3 mm to ")[1].split()[0])
    assert made.diameter - 0.01 <= most <= made.diameter
    assert gated(x, y, most).gate.diameter == most


@pytest.mark.parametrize(
    ("radius", "degree", "said"),
    [
        (40.0, 30.0, "inside chamber 1"),
        (5.0, 0.0, "inside the bore"),
        (90.0, 10.0, "outside the part"),
        (20.5, 0.0, "of rubber about it"),
    ],
)
def test_a_gate_in_no_rubber_says_where_it_lies_and_a_place_that_works(
    radius: float, degree: float, said: str
) -> None:
    with pytest.raises(ProfileError) as wrong:
        gated(radius * cos(radians(degree)), radius * sin(radians(degree)))
    (only,) = wrong.value.complaints
    assert (
        only.key == "--gate-at"
        and said in only.message
        and "-" not in only.message.split(") mm")[1].split(";")[0]
    )
    place = only.message.split('"')[1]
    r, angle = float(place.split()[0]), radians(float(place.split(", ")[1].split()[0]))
    assert gated(r * cos(angle), r * sin(angle)).gate.diameter > 10


def test_holes_that_meet_in_both_faces_of_a_plate_are_told_once() -> None:
    skin = Skin("plate")
    edge = skin.wall("edge", circle(20.0, "plate"), ((0.0, 0.0), (5.0, 0.0)))
    a, b = (drilled(skin, name, (x, 0.0), 4.0, 0.0, 5.0) for name, x in (("hole a", 0.0), ("hole b", 4.1)))
    skin.face(0.0, False, (edge, "low"), [(a, "low"), (b, "low")])
    skin.face(5.0, True, (edge, "high"), [(a, "high"), (b, "high")])
    with pytest.raises(ProfileError) as wrong:
        skin.part("#000000")
    (only,) = wrong.value.complaints
    assert "hole a" in only.message and "leave 0.100 mm" in only.message


@pytest.mark.slow
def test_200_random_tools_have_no_invalid_body() -> None:
    """What the hole check lets through the kernel accepts; what it does not is refused with words."""
    rng, made, refused = np.random.default_rng(5), 0, 0
    for _ in range(200):
        pitch = rng.choice(['"straight"', '"900 mm"', '"400 mm"', '"250 mm"'])
        profile = changed(
            ("count = 5", f"count = {rng.choice([2, 3, 5, 8])}"),
            ('height = "8 mm"', f'height = "{rng.choice([4, 8])} mm"'),
            ('flank_angle = "15 deg"', f'flank_angle = "{rng.choice([12, 25])} deg"'),
            ('helix_pitch = "650 mm"', f"helix_pitch = {pitch}"),
            ('hand = "right"', f'hand = "{rng.choice(["right", "left"])}"'),
            ("count = 6", f"count = {rng.choice([4, 6])}"),
        )
        tool = Tool(
            core_draft=radians(rng.choice([0.0, 0.5])),
            gate=float(rng.choice([4.0, 8.0, 12.0])),
            vent=float(rng.choice([1.0, 1.5, 2.0])),
            bolts=int(rng.choice([3, 4, 6])),
            block_wall=float(rng.choice([22.0, 30.0])),
            marks=TEXTS if rng.random() < 0.2 else (),
        )
        try:
            mould = mould_from(profile, split=str(rng.choice(["", "tips", "grooves"])), tool=tool)
        except ProfileError:
            refused += 1
            continue
        made += 1
        for body in (b for b in mould.bodies if not b.copy_of):
            assert abs(checked_solid(body.part)[1]) <= 1e-8, body.name
    assert made > 150, refused


# axial planes: the one boolean


def test_axial_pieces_add_up_to_the_ring() -> None:
    """Sector volumes by exact areas at every height against the whole ring's closed form."""
    for pieces in (3,):
        cavity = mould_at(GENERAL).cavity
        mould = mould_of(cavity, USUAL, RUBBER, split=Split(pieces=pieces, on="planes"))
        ring = next(b for b in mould.bodies if b.name == "cavity_piece_1").part
        each = [body_volume(mould, b) for b in mould.bodies if b.name.startswith("cavity_piece")]
        assert len(each) == pieces and sum(each) == pytest.approx(volume_of(ring), rel=1e-12)
        assert abs(numbers(mould, read_profile(GENERAL)).volume_residual) <= 1e-9


def test_axial_pieces_meshed_are_the_ring_cut() -> None:
    mould = mould_of(mould_at(GENERAL).cavity, USUAL, RUBBER, split=Split(pieces=3, on="planes"))
    for body in (b for b in mould.bodies if b.name.startswith("cavity_piece")):
        assert body.sector is not None
        mesh = sector_of(build_mesh(body.part, chord_error=0.02), *body.sector)
        assert as_manifold(mesh).volume() == pytest.approx(body_volume(mould, body), rel=1e-3)


@pytest.mark.slow
def test_axial_pieces_cut_by_the_kernel_are_valid_and_of_their_volume() -> None:
    mould = mould_of(mould_at(GENERAL).cavity, USUAL, RUBBER, split=Split(pieces=2, on="planes"))
    layout = mould.layout
    for body in (b for b in mould.bodies if b.name.startswith("cavity_piece")):
        assert body.sector is not None
        _, error = cut_to_sector(
            checked_solid(body.part)[0], start=body.sector[0], sweep=body.sector[1], radius=layout.block_radius,
            low=layout.low, high=layout.high, volume=body_volume(mould, body), name=body.name,
        )  # fmt: skip
        assert abs(error) <= 1e-8


def test_pieces_leave_straight_outwards_up_to_half_their_twist() -> None:
    """The part's section moved against the piece along the pull, at heights of the piece: no overlap (shapely)."""
    from shapely import Polygon
    from shapely.affinity import rotate, translate

    profile = changed(('helix_pitch = "650 mm"', 'helix_pitch = "1500 mm"'))
    mould = mould_from(profile, split="tips")
    cavity = mould.cavity
    piece = body_named(mould, "cavity_piece_1").part.sides[0].outline
    rubber, metal = (Polygon(boundary_points(o, 0.05)) for o in (cavity.section.outer, piece))
    first = parting_angles(cavity, Split(pieces=5, on="tips"))[0]
    middle = first + pi / 5 + cavity.twist / 2
    hooked = []
    for share in (0.0, 0.5, 1.0):
        turn = degrees(
            cavity.turn_per_mm * (mould.layout.low + share * (mould.layout.high - mould.layout.low))
        )
        still, moving = (rotate(shape, turn, origin=(0, 0)) for shape in (rubber, metal))
        for step in (0.3, 1.0, 3.0, 8.0):
            moved = translate(moving, step * cos(middle), step * sin(middle))
            assert moved.intersection(still).area < 0.02, (share, step)
        wrong = translate(moving, 3 * cos(middle + 1.2), 3 * sin(middle + 1.2))
        hooked.append(wrong.intersection(still).area)
    assert max(hooked) > 1.0
