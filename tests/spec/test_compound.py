"""The compound table: every value readable, with a source, inside what cast polyurethane has."""

from __future__ import annotations

import pytest

from rollergen.spec.compound import USUAL_DENSITY, compound_rows, source_of
from rollergen.spec.kinds import DENSITY, EXPANSION
from rollergen.spec.reading import profile_from_text
from rollergen.spec.units import quantity
from rollergen.spec.wording import known_keys

ROWS = compound_rows()


@pytest.mark.parametrize("name", ROWS)
def test_every_value_has_a_key_a_source_and_a_mark(name: str):
    for column, value in ROWS[name].items():
        assert column in known_keys("compound")
        assert value.mark in ("T", "M") and len(value.source) > 10
        assert (value.mark == "M") == ("value from memory" in source_of(name, column))


@pytest.mark.parametrize("name", ROWS)
def test_values_lie_in_the_published_ranges(name: str):
    # density 1050-1250 kg/m^3, expansion 1e-4..2e-4 1/K: property page citing
    # Cardarelli, CRC Handbook, Howatson
    assert USUAL_DENSITY[0] <= quantity(ROWS[name]["density"].value, DENSITY) <= USUAL_DENSITY[1]
    assert 1e-4 <= quantity(ROWS[name]["expansion"].value, EXPANSION) <= 2e-4
    assert not {"modulus", "swell", "shrinkage", "price", "loss_factor"} & set(ROWS[name])


@pytest.mark.parametrize("name", ROWS)
def test_every_row_makes_a_profile(name: str):
    body = '[body]\ndiameter = "90 mm"\nfree_length = "90 mm"\n'
    bore = '[bore]\nsection = "round"\nacross = "30 mm"\nshaft_tolerance = "0.1 mm"\n'
    compound = profile_from_text(f'name = "x"\n{body}{bore}[compound]\nname = "{name}"\n').compound
    assert compound.hardness is not None and f"{compound.hardness:g}A" in name


def test_an_unknown_row_has_no_source():
    with pytest.raises(KeyError):
        source_of("cast ether PU 80A", "modulus")
