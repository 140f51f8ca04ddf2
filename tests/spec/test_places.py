"""Line and column of every key, for complaints."""

from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from rollergen.spec.places import dotted, places_of, undotted

TEXT = '''# head
a = 1
  b.c = "x # no comment"   # comment ] [
list = [
  1, # one
  "]",
]
long = """
[not.a.table]
key = 1
"""

[table] # words
x = {y = 1, z = [1, 2]}
[table.below]
k = 'v'
[[many]]
k = 1
[many.inner]
q = 1
[[many]]
k = 2
[many.inner]
q = 2
[[many.sub]]
s = 1
[[many.sub]]
s = 2
'''


def test_every_key_has_its_place():
    places = places_of(TEXT)
    expected = {
        ("a",): (2, 1),
        ("b", "c"): (3, 3),
        ("list",): (4, 1),
        ("long",): (8, 1),
        ("table",): (13, 1),
        ("table", "x", "y"): (14, 1),
        ("table", "x", "z"): (14, 1),
        ("table", "below", "k"): (16, 1),
        ("many", 0): (17, 1),
        ("many", 0, "k"): (18, 1),
        ("many", 0, "inner", "q"): (20, 1),
        ("many", 1, "k"): (22, 1),
        ("many", 1, "inner", "q"): (24, 1),
        ("many", 1, "sub", 0, "s"): (26, 1),
        ("many", 1, "sub", 1, "s"): (28, 1),
    }
    assert {path: places.get(path) for path in expected} == expected


def leaves(node: object, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    if isinstance(node, dict):
        return [leaf for key, value in node.items() for leaf in leaves(value, (*path, key))]
    if isinstance(node, list):
        return [leaf for number, value in enumerate(node) for leaf in leaves(value, (*path, number))]
    return [path]


def test_no_key_is_forgotten_and_none_invented():
    places = places_of(TEXT)
    assert set(leaves(tomllib.loads(TEXT))) <= set(places)
    lines = TEXT.splitlines()
    for path, (line, column) in places.items():
        assert lines[line - 1][column - 1] not in " #", path


@given(st.lists(st.one_of(st.from_regex(r"\A[a-z_]{1,8}\Z"), st.integers(0, 99)), min_size=1, max_size=5))
def test_dotted_and_back(parts: list[str | int]):
    path = ("top", *parts)
    assert undotted(dotted(path)) == path
