"""A stress-strain table in [compound]: read whole, refused with the row and the way out, written back."""

from __future__ import annotations

import pytest

from rollergen.errors import ProfileError
from rollergen.spec.profile import Profile
from rollergen.spec.profile_text import profile_text
from rollergen.spec.reading import profile_from_text

PROFILE = """name = "x"
[body]
diameter = "90 mm"
free_length = "90 mm"
[bore]
section = "round"
across = "30 mm"
shaft_tolerance = "0.1 mm"
[compound]
name = "cast ether PU 80A"
"""
GOOD = '[["5 %", "0.3 MPa"], ["10 %", "0.52 MPa"], ["20 %", "900 kPa"], ["150 %", "2.4 MPa"]]'


def read(table: str, more: str = "") -> Profile:
    return profile_from_text(f"{PROFILE}stress_strain = {table}\n{more}")


def test_a_table_is_read_in_shares_and_megapascal_and_written_back() -> None:
    profile = read(GOOD)
    assert profile.compound.stress_strain == ((0.05, 0.3), (0.1, 0.52), (0.2, 0.9), (1.5, 2.4))
    assert profile_from_text(profile_text(profile)).compound == profile.compound


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ("[]", "not a list of strains"),
        ('[["5 %", "0.3 MPa"], ["10 %", "0.5 MPa"], ["20 %", "0.9 MPa"]]', "4 to 500 rows, this one has 3"),
        (GOOD.replace('"10 %"', '"5 %"'), "row 2: strains must rise"),
        (GOOD.replace("0.52", "0.2"), "row 2: stresses must rise"),
        (GOOD.replace('"20 %"', "0.2"), "row 3:"),
        (GOOD.replace('"5 %", "0.3 MPa"', '"5 %"'), "row 1: "),
        (GOOD.replace("5 %", "0 %"), "row 1:"),
        (GOOD.replace("0.3 MPa", "0.3 mm"), "row 1:"),
    ],
)
def test_a_wrong_table_is_refused_with_row_and_way_out(table: str, told: str) -> None:
    with pytest.raises(ProfileError) as wrong:
        read(table)
    assert [c.key for c in wrong.value.complaints] == ["compound.stress_strain"]
    assert told in wrong.value.complaints[0].message


def test_one_measurement_is_enough() -> None:
    with pytest.raises(ProfileError, match="stands beside modulus"):
        read(GOOD, 'modulus = "6 MPa"\n')
