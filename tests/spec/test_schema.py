"""The JSON schema describes the FILE: keys, texts with units, what may be left out."""

from __future__ import annotations

import json
import re
import tomllib
from typing import Any

import pytest

from rollergen.spec.schema import profile_schema, starting_profile
from rollergen.spec.wording import known_keys

SCHEMA = profile_schema()


def table(name: str) -> dict[str, Any]:
    found = SCHEMA["$defs"][name]
    assert isinstance(found, dict)
    return found


@pytest.mark.parametrize("name", ["body", "ribs", "bore", "chambers", "compound", "mates"])
def test_the_schema_knows_exactly_the_keys_the_reader_knows(name: str):
    properties = table({"mates": "Mate"}.get(name, name.capitalize()))["properties"]
    assert set(properties) == set(known_keys(name))


def test_the_top_of_the_file():
    assert set(SCHEMA["properties"]) == set(known_keys(""))
    assert SCHEMA["else"]["required"] == ["name", "body", "bore", "compound"]
    assert SCHEMA["if"] == {"required": ["extends"]}


def test_what_has_a_default_is_not_required():
    inside = SCHEMA["else"]["properties"]
    assert inside["body"]["required"] == ["diameter", "free_length"]
    assert inside["bore"]["required"] == ["section", "across"]
    assert "compound" not in inside
    assert table("Mate")["required"] == ["axis_distance"]


def test_nothing_internal_shows():
    written = json.dumps(SCHEMA)
    for word in ('ribbed": {', "density_kg_m3", "null", "#/$defs/Profile"):
        assert word not in written


@pytest.mark.parametrize(
    ("text", "fits"),
    [
        ("8 mm", True), ("8mm", True), ("1/4 in", True), ("2½ in", True), ("-3 mm", True), ('6"', True),
        ("1.5e-4 1/K", True), ("15°", True), ("8", False), ("1,5 mm", False), ("mm", False), ("", False),
    ],
)  # fmt: skip
def test_editors_see_the_same_texts_as_wrong(text: str, fits: bool):
    pattern = table("Body")["properties"]["diameter"]["pattern"]
    assert bool(re.search(pattern, text)) is fits


def test_every_example_fits_its_own_pattern():
    seen = 0
    for definition in SCHEMA["$defs"].values():
        for entry in definition["properties"].values():
            for example in entry.get("examples", []) if "pattern" in entry else []:
                assert re.search(entry["pattern"], example), (entry, example)
                seen += 1
    assert seen > 40


def test_the_starting_profile_uses_only_keys_of_the_schema():
    raw = tomllib.loads(starting_profile())
    for name, value in raw.items():
        for entry in value if isinstance(value, list) else [value] if isinstance(value, dict) else []:
            assert set(entry) <= set(known_keys(name))
    commented = re.findall(r"^# (\w+) = ", starting_profile(), flags=re.MULTILINE)
    every_key = {
        key
        for name in ("", "body", "ribs", "bore", "chambers", "compound", "mates")
        for key in known_keys(name)
    }
    assert set(commented) <= every_key and len(commented) >= 8
