"""Where a print is cut, and whether the numbers that refusals name do work."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from rollergen.answer.prototype import PrintAsked, Prototype, prototype_of
from rollergen.answer.report import Drawn, draw_profile
from rollergen.errors import ProfileError
from rollergen.shape.mesh import build_mesh
from rollergen.spec.reading import profile_from_text, read_profile
from rollergen.tooling.print_checks import Printer
from rollergen.tooling.print_cuts import Cutting, check_cuts, even_cuts
from rollergen.tooling.print_joint import Joint
from rollergen.tooling.print_split import Ends

PROFILES = Path(__file__).parents[2] / "profiles"
PRINTER = Printer(plate=(220.0, 220.0), height=250.0)
LENGTH = 150.0  # of beet-general
PLAIN = Cutting(
    length=152.0, joint=Joint(), layer=0.2, flat=0.8, ends=Ends(foot=0.4, chamfer=1.0, lead_in=0.0)
)


@cache
def general() -> Drawn:
    return draw_profile(read_profile(PROFILES / "beet-general.toml"))


def printed(height: float = 250.0, **more) -> Prototype:
    printer = replace(more.pop("printer", PRINTER), height=height)
    return prototype_of(general(), PrintAsked(printer=printer, **more))


def refused(height: float = 250.0, **more) -> str:
    with pytest.raises(ProfileError) as told:
        printed(height, **more)
    return str(told.value)


def number(text: str, before: str) -> float:
    found = re.search(re.escape(before) + r'"?([0-9.]+)', text)
    assert found is not None, text
    return float(found[1])


def test_cuts_are_even_on_layers_and_enough() -> None:
    assert even_cuts(PLAIN, 152, scale=1.0) == ()
    assert even_cuts(PLAIN, 100, scale=1.0) == pytest.approx((76.0,))
    cuts = even_cuts(PLAIN, 80, scale=1.0)
    assert cuts == pytest.approx((50.6, 101.4))
    assert [round(cut / 0.2, 9) % 1 for cut in cuts] == [0, 0]  # on whole layers
    found = printed(80.0)
    assert found.report.print_height_mm == pytest.approx(80) and len(found.printed) == 2
    assert len(printed(79.9).printed) == 3


@pytest.mark.parametrize("height", [60.0, 20.0, 33.3])
@pytest.mark.parametrize(
    "joint", [Joint(), Joint(height=2.0, above=2.0), Joint(height=1.0, above=0.6)], ids=str
)
def test_every_piece_is_as_high_as_the_report_says_and_holds_what_it_should(
    height: float, joint: Joint
) -> None:
    """The mesh's own height, and something between the recess's roof and the top of every piece."""
    found = printed(height, joint=joint)
    assert len(found.printed) > 1 and found.report.flats_cm3 > 0
    for piece, told in zip(found.pieces.pieces, found.printed, strict=True):
        z = build_mesh(piece.part, chord_error=0.2).vertices[:, 2]
        assert np.ptp(z) == pytest.approx(told.piece_height_mm, abs=1e-9)
        assert told.piece_height_mm <= height + 1e-9
        assert piece.high - piece.low >= max(3 * joint.height, 2 * joint.height + joint.above + 0.8) - 1e-9


@pytest.mark.parametrize(
    ("joint", "told"),
    [
        (Joint(above=60.0), "--joint-above: 60 mm is more than the step is high: 5 mm"),
        (Joint(above=46.0), "--joint-above"),
        (Joint(height=0.05), r"--joint-height: 0\.05 mm is too low for 2 layers of 0\.2 mm: 0\.4 mm at least"),
    ],
)  # fmt: skip
def test_a_step_that_cannot_be_is_refused_by_its_own_option(joint: Joint, told: str) -> None:
    for more in ({"height": 60.0}, {"cuts": (75.0,)}):
        with pytest.raises(ProfileError, match=told):
            printed(joint=joint, **more)
    assert printed(joint=joint).joint is None  # no cut, no joint: nothing to refuse


def test_the_numbers_of_a_refused_step_work() -> None:
    assert printed(60.0, joint=Joint(above=5.0)).joint is not None
    assert printed(60.0, joint=Joint(height=0.4)).joint is not None
    told = refused(60.0, joint=Joint(height=0.2, above=0.1), printer=replace(PRINTER, layer=0.1))
    assert "--elephant-foot 0.4 mm" in told
    works = number(told, "(--elephant-foot 0.4 mm): ")
    low = Joint(height=works, above=0.1)
    assert printed(60.0, joint=low, printer=replace(PRINTER, layer=0.1)).joint is not None


@pytest.mark.parametrize(
    ("height", "joint", "scale", "shrinks"),
    [
        (10.0, Joint(), 1.0, False),
        (19.0, Joint(), 1.5, False),
        (60.0, Joint(height=30.0), 1.0, True),
        (9.9, Joint(height=9.0), 0.3, False),
    ],
)
def test_a_low_printer_is_told_what_works(height: float, joint: Joint, scale: float, shrinks: bool) -> None:
    """A scale that needs no cut only where two lines still go across its thinnest rubber."""
    told = refused(height, joint=joint, scale=scale, foot=0.0)
    assert "--printer" in told and "scale down" not in told
    step = number(told, "--joint-height ")
    lower = printed(height, joint=replace(joint, height=step), scale=scale, foot=0.0)
    assert lower.joint is not None and lower.report.height_left_mm >= -1e-9
    refused(height, joint=replace(joint, height=step + 0.02), scale=scale, foot=0.0)
    tall = number(told, "a height of ")
    assert printed(tall, joint=joint, scale=scale, foot=0.0).report.height_left_mm >= -1e-9
    assert ("--scale" in told) == shrinks
    if not shrinks:
        small = printed(height, joint=joint, scale=height / LENGTH, foot=0.0)
        assert small.pieces.cuts == () and small.report.lines_across < 2
        return
    smaller = number(told, "--scale ")
    small = printed(height, joint=joint, scale=smaller, foot=0.0)
    assert small.pieces.cuts == () and small.report.printable
    assert smaller * LENGTH <= height < (smaller + 0.001) * LENGTH + 1e-9


def test_a_scale_below_the_least_is_not_advised() -> None:
    assert "--scale" not in refused(5.0)
    assert "--joint-height" in refused(5.0)


@pytest.mark.parametrize(
    ("cuts", "told"),
    [
        ((200.0,), "200 mm lies outside the print of 0 to 150 mm"),
        ((-3.0,), "-3 mm lies outside"),
        ((100.0, 50.0), '50 mm comes after 100 mm: rising heights are meant, "50 mm, 100 mm"'),
        ((5.0,), "from 0 to 5 mm a piece would be 5 mm high, 15 mm at least"),
        ((75.0, 80.0), "from 75 to 80 mm a piece would be 5 mm high"),
    ],
)
def test_cuts_out_of_place_are_refused(cuts: tuple[float, ...], told: str) -> None:
    assert told in refused(cuts=cuts)


def test_the_lower_step_a_close_cut_is_told_does_work() -> None:
    step = number(refused(cuts=(75.0, 80.0)), "--joint-height ")
    assert printed(cuts=(75.0, 80.0), joint=Joint(height=step)).joint is not None
    refused(cuts=(75.0, 80.0), joint=Joint(height=step + 0.02))
    assert "--joint-height" not in refused(cuts=(75.0, 75.5))


def test_a_deep_lead_in_needs_a_longer_piece() -> None:
    """The upper piece holds its recess, solid layers and the lead-in of the upper end, one over the other."""
    deep = replace(PLAIN, ends=Ends(foot=0.4, chamfer=1.0, lead_in=12.0))
    assert PLAIN.least == pytest.approx(15.0) and deep.least == pytest.approx(5.2 + 0.8 + 12.0)
    check_cuts((135.0,), PLAIN)
    with pytest.raises(ProfileError, match="18 mm at least"):
        check_cuts((135.0,), deep)


def test_cuts_none_is_for_a_small_print_too() -> None:
    """9.9 mm are too short for any joint, and need none."""
    assert printed(10.0, scale=0.066, foot=0.0, cuts=()).pieces.cuts == ()


def test_a_plate_too_small_for_any_scale_is_told_a_plate_that_is_not() -> None:
    told = refused(printer=replace(PRINTER, plate=(2.0, 2.0)))
    side = number(told, "a plate of ")
    small = replace(PRINTER, plate=(side, side))
    assert "--scale" not in told and 0 <= printed(printer=small).report.plate_left_mm < 0.01


def test_the_numbers_of_a_verdict_work() -> None:
    coarse = printed(printer=replace(PRINTER, line=3.4), foot=0.0).report
    assert not coarse.printable
    line = number(coarse.reasons[0], "a line of ")
    up = float(coarse.reasons[0].rpartition(", or ")[2].split()[0])
    assert printed(printer=replace(PRINTER, line=line), foot=0.0).report.printable
    wide = replace(PRINTER, line=3.4, plate=(300.0, 300.0))
    assert printed(printer=wide, foot=0.0, scale=up).report.printable
    text = (PROFILES / "beet-general.toml").read_text()
    for pitch in (300.0, 123.0):
        steep = _of_pitch(text, pitch).report
        assert not steep.printable
        longer = number(steep.reasons[0], "pitch (")
        assert _of_pitch(text, pitch * longer).report.printable
        assert not _of_pitch(text, pitch * (longer - 0.02)).report.printable


def _of_pitch(text: str, pitch: float) -> Prototype:
    made = text.replace('helix_pitch = "650 mm"', f'helix_pitch = "{pitch:.6f} mm"')
    return prototype_of(draw_profile(profile_from_text(made)), PrintAsked(printer=PRINTER))


@pytest.mark.parametrize("count", [6, 1])
def test_a_relief_that_would_meet_the_next_is_refused_with_one_that_works(count: int) -> None:
    """Air 0.75 mm apart: reliefs of 0.4 mm each leave nothing between, though no edge vanishes.

    A lone chamber's own sides are as near as two chambers are.
    """
    text = (PROFILES / "beet-general.toml").read_text().replace('web = "6 mm"', 'web = "3.4 mm"')
    text = text.replace("count = 6", f"count = {count}")
    thin = draw_profile(profile_from_text(text))
    fine = replace(PRINTER, line=0.4)
    asked = PrintAsked(printer=fine, scale=0.22)
    with pytest.raises(
        ProfileError, match="--elephant-foot: 0.4 mm eats up .* the rubber between two"
    ) as told:
        prototype_of(thin, asked)
    works = number(str(told.value), "between two; ")
    assert 0.3 < works < 0.374 and prototype_of(thin, replace(asked, foot=works)).report.solid_cm3 > 0


def test_cuts_too_high_are_not_blamed_on_too_few_lines() -> None:
    """Even cuts fit this printer; that one line only goes across the web is said beside it, not instead."""
    text = (PROFILES / "beet-general.toml").read_text().replace('web = "6 mm"', 'web = "2 mm"')
    thin = draw_profile(profile_from_text(text))
    coarse = replace(PRINTER, height=60.0, line=1.2)
    found = prototype_of(thin, PrintAsked(printer=coarse, cuts=(30.0,))).report
    (high,) = [reason for reason in found.reasons if "120.0 mm" in reason]
    assert "leave --cuts out, which cuts evenly" in high and "no even cut" not in high
