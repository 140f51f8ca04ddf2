"""Balance against ISO 21940-11 cases, closed forms and limits."""

from __future__ import annotations

from dataclasses import asdict, fields
from math import pi, sqrt

import pytest

from rollergen.answer.explain import figures
from rollergen.study.balance import FIGURES, BalanceReport, Unbalance, balance, permitted_offset, unbalances

RPM = pi / 30


def of(kg_mm: float, name: str = "given") -> Unbalance:
    return Unbalance(name=name, unbalance_kg_mm=kg_mm, source="test")


def test_k3_g16_at_300_with_8_kg():
    report = balance(mass=8.0, rotation_speed=300 * RPM, contributions=[of(8 * 0.509296)], grade=16)
    assert report.permitted_offset_mm == pytest.approx(0.509296, rel=1e-6)
    assert report.permitted_unbalance_g_mm == pytest.approx(4074.37, rel=1e-6)
    assert report.permitted_unbalance_g_mm == pytest.approx(9550 * 16 * 8 / 300, rel=1e-4)  # shop form
    assert report.unbalance_force_n == pytest.approx(4.0212, rel=2e-5)


def test_k4_at_120_a_moulding_is_truer_than_the_grade_asks():
    parts = unbalances(segments_kg=8.0, roller_kg=25.0, bore_play=0.4, cast_eccentricity=0.6)
    report = balance(mass=25.0, rotation_speed=120 * RPM, contributions=parts)
    assert report.permitted_offset_mm == pytest.approx(1.27324, rel=1e-5)
    assert not report.balance_governs and report.statement.startswith("balance does not govern")
    assert "G16 permits 1.27 mm" in report.statement


def test_k5_g6_3_at_3000():
    report = balance(mass=8.0, rotation_speed=3000 * RPM, contributions=[], grade=6.3)
    assert report.permitted_unbalance_g_mm == pytest.approx(160.43, rel=2e-5)
    assert report.worst_unbalance_g_mm == 0 and report.finest_grade_met == 0.4


def test_a_whole_shaft_at_300():
    # 24.5 kg at 300 rpm, G16: 12.5e3 g mm, 12.3 N
    offset = permitted_offset(16, 300 * RPM)
    report = balance(mass=24.5, rotation_speed=300 * RPM, contributions=[of(24.5 * offset)])
    assert report.worst_unbalance_g_mm == pytest.approx(12.5e3, rel=3e-3)
    assert report.unbalance_force_n == pytest.approx(12.3, abs=0.05)
    assert report.force_share_of_weight == pytest.approx(offset / 1000 * (300 * RPM) ** 2 / 9.80665)


def test_parts_are_what_they_say():
    parts = unbalances(
        segments_kg=8.0, roller_kg=25.0, bore_play=0.5, cast_eccentricity=0.3, foam_kg_mm=1.1, bow=1.5
    )
    assert [p.unbalance_kg_mm for p in parts] == pytest.approx([8 * 0.25 * sqrt(2), 2.4, 1.1, 25.0])
    round_bore = unbalances(segments_kg=8.0, roller_kg=25.0, bore_section="round", bore_play=0.5)
    assert round_bore[0].unbalance_kg_mm == pytest.approx(2.0)


def test_worst_is_the_sum_rss_the_root_and_never_more():
    report = balance(mass=10.0, rotation_speed=10.0, contributions=[of(3), of(4, "larger")], grade=1.0)
    assert (report.worst_unbalance_g_mm, report.rss_unbalance_g_mm) == pytest.approx((7000, 5000))
    assert report.worst_grade == pytest.approx(7.0) and report.finest_grade_met == 16.0
    assert report.balance_governs and "larger" in report.statement and "turn slower" in report.statement


def test_speed_raises_the_grade_in_proportion_and_the_force_by_its_square():
    slow, fast = (balance(mass=20.0, rotation_speed=w, contributions=[of(5)]) for w in (10.0, -30.0))
    assert fast.worst_grade == pytest.approx(3 * slow.worst_grade)
    assert fast.unbalance_force_n == pytest.approx(9 * slow.unbalance_force_n)


def test_the_verdict_turns_exactly_at_the_grade():
    edge = 20.0 * permitted_offset(16, 25.0)
    assert not balance(mass=20.0, rotation_speed=25.0, contributions=[of(edge)]).balance_governs
    assert balance(mass=20.0, rotation_speed=25.0, contributions=[of(edge * 1.0001)]).balance_governs


def test_beyond_every_grade_none_is_met():
    assert balance(mass=1.0, rotation_speed=1e4, contributions=[of(5.0)]).finest_grade_met is None


@pytest.mark.parametrize(
    "wrong, words",
    [
        (lambda: balance(mass=8.0, rotation_speed=0.0, contributions=[]), "rotation speed 0"),
        (lambda: balance(mass=0.0, rotation_speed=1.0, contributions=[]), "mass 0 kg"),
        (lambda: balance(mass=8.0, rotation_speed=1.0, contributions=[], grade=-1.0), "grade -1"),
        (lambda: of(-1.0), "0 or more"),
        (lambda: unbalances(segments_kg=9.0, roller_kg=8.0), "part of the roller"),
        (lambda: unbalances(segments_kg=1.0, roller_kg=8.0, bow=float("nan")), "bow nan"),
    ],
)
def test_nonsense_is_refused(wrong, words):
    with pytest.raises(ValueError, match=words):
        wrong()


def test_every_number_is_explained():
    known = {figure.key for figure in FIGURES} | {"name", "source", "unbalance_kg_mm"}
    assert "unbalance_kg_mm" in figures()  # the inertia study's
    report = balance(mass=1.0, rotation_speed=1.0, contributions=[of(1.0)])
    assert {field.name for field in fields(BalanceReport)} <= known
    assert set(asdict(report)["unbalances"][0]) <= known
