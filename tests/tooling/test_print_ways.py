"""Ways out of a refused print, followed as a user would: every one of them ends in a print."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from rollergen.answer.proto_ways import OPTIONS, changed, words_of
from rollergen.answer.prototype import PrintAsked, Prototype, prototype_of
from rollergen.answer.report import Drawn, draw_profile
from rollergen.errors import ProfileError
from rollergen.spec.reading import profile_from_text
from rollergen.tooling.print_checks import Printer
from rollergen.tooling.print_joint import Joint
from rollergen.tooling.print_refusal import nearest_that_fits

GENERAL = (Path(__file__).parents[2] / "profiles" / "beet-general.toml").read_text()
NUMBERS = {
    key: re.escape(words).replace(r"\{:g\}", "([0-9.]+)").replace("{:g}", "([0-9.]+)")
    for key, words in OPTIONS.items()
}
COARSE = Printer(plate=(100.0, 100.0), height=60.0, line=1.0, layer=0.4)


@cache
def drawn(*pairs: tuple[str, str]) -> Drawn:
    text = GENERAL
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    return draw_profile(profile_from_text(text))


def printed(asked: PrintAsked) -> Prototype:
    return prototype_of(drawn(), asked)


def ways_of(text: str) -> list[dict]:
    """What every way out named in a refusal changes, read from its words alone."""
    found = []
    for way in re.split(r", or |: (?=--|a plate|a height)", text):
        changes = {}
        for key, pattern in NUMBERS.items():
            match = re.search(pattern, way)
            if match is not None:
                values = tuple(float(value) for value in match.groups())
                changes[key] = values if key in ("plate", "cuts") else values[0]
        if changes:
            found.append(changes)
    return found


def followed(asked: PrintAsked, text: str) -> list[dict]:
    ways = ways_of(text)
    for way in ways:
        found = printed(changed(asked, way)).report
        assert found.printable, way
        assert found.plate_left_mm >= 0 and found.height_left_mm >= -1e-9
    return ways


@pytest.mark.parametrize(
    ("asked", "keys"),
    [
        # the hub holds the shaft but not the joint it is cut for: the limit asks for both
        (PrintAsked(printer=Printer(plate=(220, 220), height=100), shaft=45.0), [{"shaft"}]),
        pytest.param(
            PrintAsked(printer=Printer(plate=(220, 220), height=100), shaft=43.84), [{"shaft"}, {"scale"}],
            marks=pytest.mark.slow,
        ),
        pytest.param(PrintAsked(printer=COARSE, scale=0.5), [{"line"}, {"scale"}], marks=pytest.mark.slow),
        # a scale that fits the plate, but not with this shaft
        (PrintAsked(printer=Printer(plate=(60, 60), height=60), shaft=30.0), [{"scale", "shaft"}, {"plate"}]),
        # no scale: at the one that needs no cut no two lines go across
        (PrintAsked(printer=Printer(plate=(220, 220), height=8)), [{"step"}, {"height"}]),
    ],
)  # fmt: skip
def test_ways_out_work_when_they_are_followed(asked: PrintAsked, keys: list[set[str]]) -> None:
    with pytest.raises(ProfileError) as told:
        printed(asked)
    assert [set(way) for way in followed(asked, str(told.value))] == keys


def test_the_shaft_told_is_the_largest() -> None:
    asked = PrintAsked(printer=Printer(plate=(220, 220), height=100), shaft=45.0)
    with pytest.raises(ProfileError) as told:
        printed(asked)
    (way,) = ways_of(str(told.value))
    with pytest.raises(ProfileError):
        printed(replace(asked, shaft=way["shaft"] + 0.01))
    whole = replace(asked, printer=Printer(plate=(220, 220), height=150))
    with pytest.raises(ProfileError) as told:
        printed(whole)
    assert ways_of(str(told.value))[0]["shaft"] > way["shaft"] + 0.5  # no cut, no joint to hold


def test_cuts_none_is_only_told_where_it_fits_in_one_piece() -> None:
    thick = Printer(plate=(220, 220), height=150, line=2.0)
    asked = PrintAsked(printer=thick, cuts=(75.0,))
    with pytest.raises(ProfileError) as told:
        printed(asked)
    assert ways_of(str(told.value))[0] == {"cuts": ()} and printed(replace(asked, cuts=())).report.printable
    with pytest.raises(ProfileError, match="cannot hold a joint") as told:
        printed(replace(asked, printer=replace(thick, height=149.0)))
    assert "--cuts none" not in str(told.value)


def test_leaving_the_cuts_out_is_only_told_where_a_joint_fits() -> None:
    low = PrintAsked(printer=Printer(plate=(220, 220), height=100), shaft=43.84, cuts=())
    (reason,) = printed(low).report.reasons
    assert "leave --cuts out, which cuts evenly, with --shaft" in reason
    shaft = float(re.search(r'--shaft "([0-9.]+)', reason)[1])  # type: ignore[index]
    assert printed(replace(low, cuts=None, shaft=shaft)).report.printable
    (reason,) = printed(replace(low, shaft=30.0)).report.reasons
    assert reason.endswith("more --cuts, or leave --cuts out, which cuts evenly")


def test_where_no_offer_holds_it_is_said_what_stops_the_first() -> None:
    asked = PrintAsked(printer=Printer(plate=(120, 120), height=60), cuts=())
    with pytest.raises(
        ProfileError, match=r"--scale 0\.937 alone does not do, a piece would stand 140\.6 mm high$"
    ):
        printed(asked)


def test_a_change_is_told_as_it_is_typed() -> None:
    assert words_of({"scale": 0.468, "shaft": 18.4}) == '--scale 0.468 with --shaft "18.4 mm"'
    assert words_of({"cuts": ()}) == "--cuts none"
    asked = changed(
        PrintAsked(printer=COARSE), {"line": 0.5, "step": 3.0, "around": 0.1, "height": 80.0, "scale": 0.5}
    )
    assert asked == PrintAsked(
        printer=replace(COARSE, line=0.5, height=80.0), joint=Joint(height=3.0, around=0.1), scale=0.5
    )


def test_the_nearest_that_fits_is_found_either_way_and_past_what_does_not() -> None:
    for limit in (1, 2, 7, 8, 63):
        assert nearest_that_fits(lambda n, limit=limit: n >= limit, 0, 100) == limit
        assert nearest_that_fits(lambda n, limit=limit: n <= 100 - limit, 100, 0) == 100 - limit
    assert nearest_that_fits(lambda n: n > 100, 0, 100) is None
    assert nearest_that_fits(lambda n: 60 <= n < 90, 100, 0) == 89
    assert nearest_that_fits(lambda n: True, 5, 5) is None


# what is asked of the bore


KEYED = (
    ('section = "square"', 'section = "keyed"\nkey_width = "12 mm"\nkey_depth = "3.3 mm"'),
    ('corner_radius = "2 mm"\nshaft_corner_radius = "2 mm"', 'corner_radius = "0.5 mm"'),
)
WIDE = Printer(plate=(220.0, 220.0), height=250.0)


def test_a_real_shaft_brings_its_own_key() -> None:
    """The profile's key is not scaled with the print where the shaft is not; another one is asked for."""
    keyed = drawn(*KEYED)
    scaled = prototype_of(keyed, PrintAsked(printer=WIDE, scale=0.9))
    assert scaled.keyway_mm == pytest.approx((10.8, 2.97)) and "keyway" not in " ".join(
        scaled.report.warnings
    )
    real = prototype_of(keyed, PrintAsked(printer=WIDE, scale=0.9, shaft=36.0))
    assert real.keyway_mm == (12.0, 3.3)
    assert any(
        "keyway is the profile's, 12 x 3.3 mm, not scaled" in warning for warning in real.report.warnings
    )
    key = [edge for edge in real.section.bore.edges if edge.feature == "key"]
    assert max(edge.start[0] for edge in key) == pytest.approx(36.6 / 2 + 3.3, rel=1e-12)
    assert max(edge.start[1] for edge in key) == pytest.approx(6.0, rel=1e-12)
    other = prototype_of(keyed, PrintAsked(printer=WIDE, scale=0.9, shaft=30.0, shaft_key=(8.0, 3.0)))
    assert other.keyway_mm == (8.0, 3.0) and "keyway" not in " ".join(other.report.warnings)


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"shaft": 10.0}, "--shaft: 10 mm is no wider than its key of 12 mm; a larger shaft, or its own --shaft-key"),
        ({"shaft": 30.0, "shaft_key": (8.0, 0.4)}, "--shaft-corner: 0.5 mm does not fit a keyway of 8 x 0.4 mm"),
    ],
)  # fmt: skip
def test_a_key_that_cannot_be_is_refused(more: dict, told: str) -> None:
    with pytest.raises(ProfileError, match=re.escape(told)):
        prototype_of(drawn(*KEYED), PrintAsked(printer=WIDE, **more))
    works = {**more, "shaft_key": (6.0, 3.0)}
    assert prototype_of(drawn(*KEYED), PrintAsked(printer=WIDE, **works)).report.printable


def test_corners_a_bore_does_not_have_are_not_swallowed() -> None:
    round_bore = drawn(
        ('section = "square"', 'section = "round"'),
        ('corner_radius = "2 mm"\nshaft_corner_radius = "2 mm"', ""),
    )
    with pytest.raises(ProfileError, match="--shaft-corner: has no effect on a round bore"):
        prototype_of(round_bore, PrintAsked(printer=WIDE, shaft=30.0, shaft_corner=1.0))
    with pytest.raises(ProfileError, match="--shaft-key: a square bore has no keyway"):
        printed(PrintAsked(printer=WIDE, shaft=30.0, shaft_key=(8.0, 3.0)))


def test_the_note_on_corners_names_the_sharpest_shaft_that_goes_in() -> None:
    """Its corner, rounded to that radius, just touches the bore's; a sharp bore takes any shaft and gets no note."""
    from shapely.geometry import Polygon

    from rollergen.shape.bore import rounded_polygon
    from rollergen.shape.distance import boundary_points

    found = printed(PrintAsked(printer=WIDE, shaft=36.0, shaft_corner=3.0))
    (note,) = (warning for warning in found.report.warnings if "shaft corners under" in warning)
    least = float(re.search(r"under ([0-9.]+) mm", note)[1])  # type: ignore[index]
    bore = Polygon(boundary_points(found.section.bore, 0.02))

    def sticks_out(radius: float) -> float:
        shaft = rounded_polygon([(18, -18), (18, 18), (-18, 18), (-18, -18)], radius, "shaft")
        return Polygon(boundary_points(shaft, 0.02)).difference(bore).area

    assert sticks_out(least) < 1e-6 < sticks_out(least - 0.1)
    for corner in (0.0, 0.3):  # 0.3 mm of clearance all round is more than that corner takes
        sharp = printed(PrintAsked(printer=WIDE, shaft=36.0, shaft_corner=corner))
        assert not any("shaft corners" in warning for warning in sharp.report.warnings)
