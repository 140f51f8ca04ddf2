"""Any reported number's formula, source and limits; and which reported keys nobody explains."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any

from rollergen.answer.inputs import inputs_of
from rollergen.errors import UsageError
from rollergen.spec.profile import Profile
from rollergen.spec.trace import Figure

# names, paths, words for people and containers: nothing was computed
PLAIN = frozenset(
    "schema profile mate kind path sha256 made_from_sha256 currency name source reasons cautions gaps files budget"
    " fitted mass inertia descending rising driving_flank duty grip items keep notes place plenty crumb points report"
    " row rows second_would_win shed side sides taken weights count"
    " bond soils soil bridging heat slots curves at stopped presser modulus_source words point_load_words"
    " a b near interference bodies core_pull_reason demould fit fits material nominal_end note part parts release role"
    " shrinkage_source way chamfers"
    " orientation warnings printable give along dimension end features file forms hand hand_readings key"
    " next_pour offsets rests_on asked_for confidence text values scan scan_unit scan_unit_from seen surface unit".split()
)


def figures() -> dict[str, Figure]:
    """Every figure by its key.  Raises ValueError when two entries claim one key."""
    from rollergen.answer import (
        advise,
        bed_nips,
        bed_overview,
        bed_part_rows,
        drafted_flex,
        fitted,
        grip_verdict,
        prototype,
        rank,
        roller,
        shedding,
        trials,
        weight,
    )
    from rollergen.answer import figures as of_the_report
    from rollergen.study import (
        arching,
        balance,
        bond,
        budget,
        clamp,
        drive,
        fit,
        flex_figures,
        grip_figures,
        hysteresis,
        inertia,
        joints,
        point_load,
        shaft_figures,
        shed,
        stack,
        trial_figures,
    )
    from rollergen.tooling import (
        chamfers,
        inspection_figures,
        mould_figures,
        print_checks,
        print_split,
        release_figures,
    )

    found: dict[str, Figure] = {}
    rooms = (
        of_the_report,
        fitted,
        weight,
        fit,
        budget,
        inertia,
        grip_figures,
        grip_verdict,
        rank,
        advise,
        trials,
        trial_figures,
        roller,
        stack,
        clamp,
        joints,
        shaft_figures,
        balance,
        drive,
        bed_overview,
        bed_nips,
        bed_part_rows,
        shed,
        shedding,
        bond,
        arching,
        hysteresis,
        flex_figures,
        point_load,
        mould_figures,
        release_figures,
        chamfers,
        drafted_flex,
        prototype,
        print_checks,
        print_split,
        inspection_figures,
    )
    for room in rooms:
        for figure in room.FIGURES:
            if figure.key in found:
                raise ValueError(f"figure {figure.key} is explained twice")
            found[figure.key] = figure
    return found


def explain(key: str, values: Mapping[str, Any] | None = None, profile: Profile | None = None) -> str:
    """What a figure is, its formula, source and limits; its value too when ``values`` (a report) has it.

    With ``profile`` the inputs that the formula names stand beside it.

    UsageError, with the nearest keys, for one that no report holds.
    """
    known = figures()
    if key not in known:  # without its unit: body_gap for body_gap_mm
        whole = [
            name for name in known if name.startswith(f"{key}_") and name.count("_") == key.count("_") + 1
        ]
        key = whole[0] if len(whole) == 1 else key
    if key not in known:
        near = get_close_matches(key, known, n=3, cutoff=0.5)
        hint = f"did you mean {', '.join(near)}?" if near else f"known: {', '.join(sorted(known))}"
        raise UsageError(f"no figure is called {key}; {hint}")
    figure = known[key]
    rows = [
        ("is", figure.words),
        ("unit", figure.unit),
        ("formula", figure.formula),
        ("source", figure.source),
        ("limits", figure.limits),
    ]
    rows += [(f"input, {name}", value) for name, value in (inputs_of(figure, profile) if profile else [])]
    rows += [(f"value {place}".rstrip(), str(value)) for place, value in _found(key, values or {}, "")]
    return "\n".join([key, *(f"  {name}: {text}" for name, text in rows)])


def unexplained(report: Mapping[str, Any]) -> list[str]:
    """Keys anywhere in a report that hold a figure and have no entry, sorted."""
    known = figures()
    return sorted({key for key in _keys(report) if key not in known and key not in PLAIN})


def _keys(value: object) -> list[str]:
    if isinstance(value, Mapping):
        return [*map(str, value), *(key for inner in value.values() for key in _keys(inner))]
    if isinstance(value, list | tuple):
        return [key for inner in value for key in _keys(inner)]
    return []


def _found(key: str, value: object, place: str) -> list[tuple[str, object]]:
    """(where, value) of every occurrence of a key, so that each mate's gap is told apart."""
    if isinstance(value, Mapping):
        here = [(place, value[key])] if key in value else []
        return here + [
            hit
            for name, inner in value.items()
            if name != key
            for hit in _found(key, inner, f"{place}.{name}".lstrip("."))
        ]
    if isinstance(value, list | tuple):
        return [hit for number, inner in enumerate(value) for hit in _found(key, inner, f"{place}[{number}]")]
    return []
