"""A profile written out reads back to the same numbers."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from rollergen.spec.profile_text import profile_text
from rollergen.spec.reading import profile_from_text, read_profile, source_from_text, warnings_for

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))


def near(a: Any, b: Any) -> bool:
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(near(a[k], b[k]) for k in a)
    if isinstance(a, list | tuple):
        return len(a) == len(b) and all(map(near, a, b))
    return bool(a == pytest.approx(b, rel=1e-12)) if isinstance(a, float) else a == b


@pytest.mark.parametrize("path", PROFILES, ids=lambda p: p.stem)
def test_a_profile_written_out_reads_back_to_itself(path: Path) -> None:
    profile = read_profile(path)
    text = profile_text(profile, remarks=("proposed",))
    assert text.startswith("# proposed\n")
    assert "e+" not in text and "99999" not in text
    again = profile_from_text(text, folder=path.parent)
    assert near(again.model_dump(), profile.model_dump())
    assert profile_text(again, remarks=("proposed",)) == text
    source = source_from_text(text, folder=path.parent)
    assert {w.key for w in warnings_for(source)} <= {"bore.clearance", "bore.shaft_tolerance"}


def test_names_with_quotes_and_controls_survive() -> None:
    profile = read_profile(PROFILES[0]).model_copy(update={"note": 'a "b" \\ c\n\td'})
    assert profile_from_text(profile_text(profile)).note == profile.note
