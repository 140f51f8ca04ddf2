"""Texts with units: never misread; pint is the independent oracle for every unit it knows."""

from __future__ import annotations

from fractions import Fraction
from math import pi, radians

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollergen.spec.kinds import (
    ANGLE,
    DENSITY,
    EXPANSION,
    LENGTH,
    POSITIVE_LENGTH,
    PRESSURE,
    SHARE,
    SIGNED_LENGTH,
    Kind,
)
from rollergen.spec.numerals import Unreadable, number_and_unit
from rollergen.spec.units import angle_text, length_text, parse_length, parse_share, quantity

ORACLE = pint.UnitRegistry(cache_folder=None)
finite = st.floats(min_value=1e-6, max_value=3900, allow_nan=False)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("8 mm", 8.0),
        ("8mm", 8.0),
        (" 0.8 cm ", 8.0),
        (".5 mm", 0.5),
        ("8\u00a0mm", 8.0),
        ("1/4 in", 6.35),
        ("0.25 in", 6.35),
        ("2 1/2 in", 63.5),
        ("2-1/2 in", 63.5),
        ("3 1/4 in", 82.55),
        ("2½ in", 63.5),
        ("2 ½ in", 63.5),
        ("¼ in", 6.35),
        ("1⁄4 in", 6.35),
        ('6"', 152.4),
        ("6″", 152.4),
        ("2 ft", 609.6),
        ("24 inches", 609.6),
        ("1 yard", 914.4),
        ("2 yards", 1828.8),
        ("8 µm", 0.008),
        ("8 μm", 0.008),
        ("8 m^2/m", 8000.0),
        ("1.5e2 mm", 150.0),
    ],
)
def test_a_length_means_what_a_person_means(text: str, mm: float):
    assert quantity(text, LENGTH) == pytest.approx(mm, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        "8", "8.", "", " ", "mm", "straight", "nan mm", "inf mm", "-inf mm", "1e999 mm", "1e9 mm", "-3 mm",
        "118 kg", "3 mil", "5 M", "5 MM", "5 Mm", "24 inchs", "24 foots", "2 ins", "8 degC", "8 mm + 1 in",
        "8 mm 1 in", "8 mm 1", "8 2 mm", "8 mm*2", "8 mm/", "8 mm^2", "8 mm mm", "1..5 mm", "1.5.2 mm",
        "1 e5 mm", "0x10 mm", "5 milimeter", "1/0 in", "1 5/4 in", "2 -1/2 in", "1/4/2 in", "1/4.5 in",
        "1 000 mm", "1_000 mm", "1'000 mm", "5' 6\"", "１２ mm", "8 mm # short", "8..12 mm", "8-12 mm",
        "8±1 mm", "8 mm; 9 mm", "eight mm", "1e mm", "2,5 1/2 in", "8 $", "8 " + "m" * 200,
    ],
)  # fmt: skip
def test_what_is_not_one_number_and_one_unit_is_refused(text: str):
    with pytest.raises(Unreadable):
        quantity(text, LENGTH)


@pytest.mark.parametrize(
    ("said", "hint"),
    [
        (143, 'write "143 mm"'),
        ("143", 'write "143 mm"'),
        (8.5, 'write "8.5 mm"'),
        ("1,5 mm", 'write "1.5 mm"'),
        ("0,25 in", 'write "0.25 in"'),
        ("1,000 mm", 'write "1000 mm" or "1.000 mm"'),
        ("1 000 mm", 'write "1000 mm"'),
        ("24 inchs", 'did you mean "inches"?'),
        ("5 MM", 'did you mean "mm"?'),
        (True, 'write e.g. "8 mm"'),
        ([8], 'write e.g. "8 mm"'),
        ("1e9 mm", "at most 100000 mm"),
    ],
)
def test_a_refusal_names_the_way_out(said: object, hint: str):
    with pytest.raises(Unreadable) as refused:
        quantity(said, LENGTH)
    assert hint in str(refused.value)


def test_zero_is_a_length_but_not_a_positive_one():
    assert quantity("0 mm", LENGTH) == 0.0
    with pytest.raises(Unreadable, match="above 0 mm"):
        quantity("0 mm", POSITIVE_LENGTH)
    assert quantity("−3 mm", SIGNED_LENGTH) == -3.0
    assert quantity("-2 1/2 in", SIGNED_LENGTH) == pytest.approx(-63.5)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("15 deg", ANGLE, radians(15)),
        ("15°", ANGLE, radians(15)),
        ("0.2 rad", ANGLE, 0.2),
        ("100 grad", ANGLE, pi / 2),
        ("30′", ANGLE, radians(0.5)),
        ("0.25 turn", ANGLE, pi / 2),
        ("1.05 g/cm^3", DENSITY, 1050.0),
        ("1.05 g/cm³", DENSITY, 1050.0),
        ("1.1 kilograms/liter", DENSITY, 1100.0),
        ("150e-6 1/K", EXPANSION, 150e-6),
        ("150 ppm/K", EXPANSION, 150e-6),
        ("1.5e-4 / delta_degC", EXPANSION, 1.5e-4),
        ("1.4 %", SHARE, 0.014),
        ("14 mm/m", SHARE, 0.014),
        ("6 N/mm²", PRESSURE, 6.0),
        ("1 kgf/cm^2", PRESSURE, 0.0980665),
    ],
)
def test_other_kinds(text: str, kind: Kind, value: float):
    assert quantity(text, kind) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("15 percent", ANGLE), ("15 sr", ANGLE), ("15 degC", ANGLE), ("15 mm", ANGLE), ("1 rad", SHARE),
        ("0.014", SHARE), ("140 %", SHARE), ("-1 %", SHARE), ("1.5e-4 degC^-1", EXPANSION),
        ("6 dB", PRESSURE),
        ("1100 kg", DENSITY), ("1100", DENSITY), ("0 kg/m^3", DENSITY), ("6 N", PRESSURE),
    ],
)  # fmt: skip
def test_other_kinds_refuse_what_measures_something_else(text: str, kind: Kind):
    with pytest.raises(Unreadable):
        quantity(text, kind)


@pytest.mark.parametrize("kind", [LENGTH, ANGLE, DENSITY, PRESSURE, EXPANSION, SHARE], ids=lambda k: k.name)
def test_our_own_table_agrees_with_the_oracle(kind: Kind):
    spelled = {
        '"': None,
        "'": None,
        "″": None,
        "′": None,
        "°": "deg",
        "º": "deg",
        "%": "percent",
        "‰": "permille",
    }
    compared = 0
    for unit, size in kind.own.items():
        name = spelled.get(unit, unit)
        if name is None or "C" in unit or "F" in unit:
            continue  # quote signs; per degree of difference, which the oracle spells delta_degC
        name = name.replace("m3", "m^3").replace("in3", "in^3").replace("ft3", "ft^3").replace("mm2", "mm^2")
        name = name.replace("N/m2", "N/m^2").replace("g/cc", "g/cm^3")
        name = "1" + name if name.startswith("/") else name
        expected = ORACLE.Quantity(1.0, "") * ORACLE(name)
        assert size == pytest.approx(expected.to(kind.oracle or "dimensionless").magnitude, rel=1e-9), unit
        compared += 1
    assert compared >= 3


@given(
    value=finite,
    unit=st.sampled_from(["mm", "cm", "in", "inch", "thou", "micrometer", "pica", "nm", "angstrom"]),
)
def test_any_length_unit_agrees_with_the_oracle(value: float, unit: str):
    expected = ORACLE.Quantity(value, unit).to("mm").magnitude
    assert quantity(f"{value!r} {unit}", LENGTH) == pytest.approx(expected, rel=1e-9, abs=1e-300)


@given(
    whole=st.integers(0, 99), top=st.integers(1, 63), bottom=st.sampled_from([2, 3, 4, 5, 8, 16, 32, 64]),
    between=st.sampled_from([" ", "-", "  "]),
)  # fmt: skip
def test_mixed_fractions_are_exact_or_refused(whole: int, top: int, bottom: int, between: str):
    text = f"{whole}{between}{top}/{bottom} in"
    if top >= bottom:
        with pytest.raises(Unreadable, match="odd mixed fraction"):
            quantity(text, LENGTH)
    else:
        exact = (whole + Fraction(top, bottom)) * Fraction(254, 10)
        assert quantity(text, LENGTH) == pytest.approx(float(exact), rel=1e-14)


@given(value=st.floats(min_value=0, max_value=1e5, allow_nan=False))
def test_a_number_comes_back_as_it_was_written(value: float):
    assert number_and_unit(f"{value!r} mm") == (value, "mm")


@given(text=st.text(max_size=30))
def test_any_text_is_read_or_refused_and_nothing_else(text: str):
    try:
        value = quantity(text, SIGNED_LENGTH)
    except Unreadable as refused:
        assert str(refused)
    else:
        assert abs(value) <= 1e5


@given(a=st.integers(0, 999), b=st.integers(0, 99), sign=st.sampled_from(["", "-", "+"]))
def test_a_decimal_comma_is_never_read(a: int, b: int, sign: str):
    with pytest.raises(Unreadable):
        quantity(f"{sign}{a},{b} mm", SIGNED_LENGTH)


def test_the_command_line_names_what_was_meant():
    assert parse_length("1/4 in", "--chord-error") == pytest.approx(6.35)
    assert parse_share("1.4 %", "--shrinkage") == pytest.approx(0.014)
    with pytest.raises(Unreadable, match='--chord-error: "5" has no unit; write "5 mm"'):
        parse_length("5", "--chord-error")


def test_lengths_are_shown_in_millimetres_or_inches():
    assert length_text(112.0) == "112.00 mm"
    assert length_text(25.4, "in") == "1.0000 in"
    assert length_text(-0.001) == "0.00 mm"
    assert length_text(1.23456, digits=3) == "1.235 mm"
    assert angle_text(radians(90)) == "90.00 deg"
