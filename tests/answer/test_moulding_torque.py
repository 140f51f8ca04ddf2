"""The torque that unscrews a part has a modulus on every profile that has a hardness, and says where it is from."""

from __future__ import annotations

from dataclasses import replace
from math import tau
from pathlib import Path

import pytest

from rollergen.answer.moulding import MouldAnswer, mould_for
from rollergen.answer.report import Drawn, draw_profile
from rollergen.shape.section import net_moments
from rollergen.spec.hardness import gent_modulus, log_modulus
from rollergen.spec.reading import read_profile
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.shrinkage import Shrinkage

EVEN = Shrinkage(radial=0.014, axial=0.014, source="test")
GENERAL = draw_profile(read_profile(Path(__file__).parents[2] / "profiles" / "beet-general.toml"))


def made(**compound: float | None) -> MouldAnswer:
    profile = GENERAL.profile
    own = profile.compound.model_copy(update=compound)
    return mould_for(_drawn(profile.model_copy(update={"compound": own})), EVEN, Tool())


def _drawn(profile: object) -> Drawn:
    return replace(GENERAL, profile=profile)


def test_a_hardness_gives_the_torque_as_a_bound_marked_as_an_estimate() -> None:
    """E/3 (Ixx + Iyy) 2 pi/pitch s_z with the higher of the two fits at 80 A, E 17.4 MPa."""
    screw = made().release.screw
    higher = max(gent_modulus(80), log_modulus(80))
    net = net_moments(GENERAL.section)
    bound = higher / 3 * (net.xx + net.yy) * tau / 650 * 0.014 / 1000
    assert screw.torque_bound_n_m == pytest.approx(bound, rel=1e-12)
    assert screw.torque_modulus_mpa == higher
    (line,) = [line for line in made().release.why if line.startswith("screw:")]
    assert f"at most {bound:.2f} N m beside friction" in line and "no modulus" not in line
    assert "an estimate" in line and "80 ShoreA" in line and "Gent 1958" in line


def test_a_measured_modulus_goes_before_and_without_either_there_is_no_torque() -> None:
    measured = made(modulus=6.0).release.screw
    assert (measured.torque_modulus_mpa, measured.torque_modulus_from) == (6.0, "compound.modulus")
    for none in (made(hardness=None), made(hardness=97.0)):
        assert none.release.screw.torque_bound_n_m is None
        assert any("no modulus given" in line for line in none.release.why)


def test_a_hardness_past_the_fits_says_so() -> None:
    screw = made(hardness=90.0).release.screw
    assert screw.torque_modulus_mpa == pytest.approx(2 * gent_modulus(90))
    assert "outside the fits" in screw.torque_modulus_from
