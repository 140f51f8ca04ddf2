"""Every limit on numbers: it fires, it names numbers, and the number it suggests works."""

from __future__ import annotations

import re
from math import asin, cos, pi, radians, sin, sqrt, tau

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.bore import bore_outline
from rollergen.shape.properties import area_of
from rollergen.spec.limits import broken_limits, check_limits, warnings_of
from rollergen.spec.profile import Profile, corner_reach
from rollergen.spec.reading import profile_from_text
from rollergen.spec.rib_limits import _largest_tip_radius

GOOD = {
    "body": {"diameter": "112 mm", "free_length": "150 mm"},
    "ribs": {
        "count": 5,
        "height": "8 mm",
        "tip_width": "10 mm",
        "flank_angle": "15 deg",
        "tip_radius": "2 mm",
        "root_radius": "2 mm",
        "helix_pitch": "650 mm",
    },
    "bore": {"section": '"square"', "across": "36 mm", "corner_radius": "2 mm", "shaft_tolerance": "0.2 mm"},
    "chambers": {"count": 6, "wall": "7 mm", "web": "6 mm", "hub_wall": "7 mm", "corner_radius": "2.5 mm"},
    "compound": {"density": "1100 kg/m^3"},
    "mates[0]": {"diameter": "90 mm", "axis_distance": "111 mm"},
}


def text_of(**changes: object) -> str:
    """The good profile with changes such as ``ribs__count=3``; None takes a key or a table out."""
    tables = {name: dict(table) for name, table in GOOD.items() if changes.get(name, "") is not None}
    for key, value in changes.items():
        table, _, name = key.partition("__")
        if name:
            tables[table.replace("mate", "mates[0]")][name] = value
    lines = ['name = "x"']
    for name, table in tables.items():
        lines.append("[[mates]]" if name == "mates[0]" else f"[{name}]")
        for key, value in table.items():
            if value is not None:
                bare = isinstance(value, int | list) or (isinstance(value, str) and value.startswith('"'))
                lines.append(f"{key} = {value}" if bare else f'{key} = "{value}"')
    return "\n".join(lines)


def complaints_of(**changes: object) -> tuple[Complaint, ...]:
    try:
        profile_from_text(text_of(**changes))
    except ProfileError as wrong:
        return wrong.complaints
    return ()


def test_the_good_profile_is_within_every_limit():
    profile = profile_from_text(text_of())
    check_limits(profile)
    assert broken_limits(profile) == []


# (changes, key complained about, key the first suggestion is for)
BROKEN: list[tuple[dict[str, object], str, str]] = [
    ({"body__diameter": "3 m"}, "body.diameter", ""),
    ({"body__free_length": "6 m"}, "body.free_length", ""),
    ({"body__fitted_length": "151 mm"}, "body.fitted_length", "body.fitted_length"),
    ({"body__fitted_length": "130 mm"}, "body.fitted_length", "body.fitted_length"),
    (
        {"body__edge_chamfer": "80 mm", "ribs": None, "chambers": None},
        "body.edge_chamfer",
        "body.edge_chamfer",
    ),
    ({"body__edge_chamfer": "2 mm"}, "body.edge_chamfer", "body.edge_chamfer"),
    ({"body__edge_chamfer": "0.001 mm"}, "body.edge_chamfer", ""),
    ({"body__edge_chamfer": "7 mm", "ribs": None}, "body.edge_chamfer", "body.edge_chamfer"),
    ({"ribs__flank_angle": "-1 deg"}, "ribs.flank_angle", ""),
    ({"ribs__flank_angle": "80 deg"}, "ribs.flank_angle", ""),
    ({"ribs__flank_angle": "60 deg"}, "ribs.flank_angle", "ribs.flank_angle"),
    ({"ribs__tip_width": "90 mm"}, "ribs.tip_width", "ribs.tip_width"),
    ({"ribs__count": 24, "ribs__tip_width": "15 mm"}, "ribs.count", "ribs.count"),
    ({"ribs__tip_radius": "8 mm"}, "ribs.tip_radius", "ribs.tip_radius"),
    ({"ribs__tip_radius": "0.001 mm"}, "ribs.tip_radius", ""),
    ({"ribs__root_radius": "0.001 mm"}, "ribs.root_radius", ""),
    ({"ribs__helix_pitch": "10 mm"}, "ribs.helix_pitch", "ribs.helix_pitch"),
    ({"bore__corner_radius": "19 mm"}, "bore.corner_radius", "bore.corner_radius"),
    ({"bore__shaft_corner_radius": "18 mm"}, "bore.shaft_corner_radius", "bore.shaft_corner_radius"),
    (
        {"bore__corner_radius": "4 mm", "bore__shaft_corner_radius": "1 mm"},
        "bore.corner_radius",
        "bore.corner_radius",
    ),
    ({"bore__key_width": "8 mm"}, "bore.key_width", ""),
    ({"bore__key_depth": "3 mm"}, "bore.key_depth", ""),
    ({"bore__section": '"keyed"', "bore__key_depth": "3 mm"}, "bore.key_width", ""),
    ({"bore__section": '"keyed"', "bore__key_width": "8 mm"}, "bore.key_depth", ""),
    (
        {"bore__section": '"keyed"', "bore__key_width": "36 mm", "bore__key_depth": "3 mm"},
        "bore.key_width",
        "bore.key_width",
    ),
    (
        {"bore__across": "79 mm", "chambers": None, "ribs": None, "mates[0]": None},
        "bore.across",
        "body.diameter",
    ),
    ({"bore__lead_in": "40 mm", "chambers": None}, "bore.lead_in", "bore.lead_in"),
    ({"bore__lead_in": "7 mm"}, "bore.lead_in", "bore.lead_in"),
    ({"chambers__wall": "1.9 mm"}, "chambers.wall", "chambers.wall"),
    ({"chambers__web": "1 mm"}, "chambers.web", "chambers.web"),
    ({"chambers__hub_wall": "0.5 mm"}, "chambers.hub_wall", "chambers.hub_wall"),
    ({"chambers__wall": "32 mm"}, "chambers.wall", ""),
    ({"chambers__web": "50 mm"}, "chambers.web", "chambers.web"),
    ({"chambers__web": "99 mm", "chambers__count": 1}, "chambers.web", "chambers.web"),
    ({"chambers__foamed": [7], "chambers__foam_density": "90 kg/m^3"}, "chambers.foamed", ""),
    ({"chambers__foamed": [1, 1], "chambers__foam_density": "90 kg/m^3"}, "chambers.foamed", ""),
    ({"chambers__fill": '"foam"'}, "chambers.foam_density", ""),
    ({"compound__shrinkage": "6 %"}, "compound.shrinkage", ""),
    ({"compound__axial_shrinkage": "5.1 %"}, "compound.axial_shrinkage", ""),
    ({"mate__axis_distance": "101 mm"}, "mates[0].axis_distance", ""),
    ({"mate__height": "-120 mm"}, "mates[0].height", ""),
    ({"mate__axis_distance_tolerance": "111 mm"}, "mates[0].axis_distance_tolerance", ""),
    ({"mate__kind": '"ribbed"', "mate__diameter": None}, "mates[0].profile", ""),
    ({"mate__kind": '"ribbed"'}, "mates[0].diameter", ""),
]


@pytest.mark.parametrize(
    ("changes", "key", "suggested"), BROKEN, ids=[f"{key}-{n}" for n, (_, key, _) in enumerate(BROKEN)]
)
def test_each_limit_fires_and_its_suggestion_works(changes: dict[str, object], key: str, suggested: str):
    complaints = [complaint for complaint in complaints_of(**changes) if complaint.key == key]
    assert complaints and all(complaint.file and complaint.line for complaint in complaints)
    assert all(
        re.search(r"[0-9]|take it out|name each once|kind = |other.toml", c.message) for c in complaints
    )
    if suggested:
        way_out = re.search(r"at (?:most|least) ([0-9.]+(?: mm| deg)?)", complaints[0].message)
        assert way_out, complaints[0].message
        number = way_out.group(1)
        said = int(number) if number.isdigit() else number
        assert complaints_of(**{**changes, suggested.replace(".", "__"): said}) == ()


def test_a_loss_factor_is_a_small_positive_number():
    with pytest.raises(ProfileError) as wrong:
        profile_from_text(text_of().replace("[compound]", "[compound]\nloss_factor = -0.1"))
    assert [complaint.key for complaint in wrong.value.complaints] == ["compound.loss_factor"]


def test_all_broken_limits_come_at_once():
    keys = [
        c.key
        for c in complaints_of(ribs__tip_radius="8 mm", chambers__web="1 mm", mate__axis_distance="90 mm")
    ]
    assert keys == ["ribs.tip_radius", "chambers.web", "mates[0].axis_distance"]


@pytest.mark.parametrize("count", [1, 2, 3, 24])
@pytest.mark.parametrize("table", ["ribs", "chambers"])
def test_counts_from_1_to_24_are_possible(table: str, count: int):
    changes: dict[str, object] = {
        f"{table}__count": count,
        "ribs__tip_width": "5 mm",
        "ribs__flank_angle": "5 deg",
    }
    changes["chambers__web"] = "4 mm"
    assert complaints_of(**changes) == ()


def test_no_chambers_and_count_zero_are_both_a_solid_segment():
    assert complaints_of(chambers=None) == ()
    assert complaints_of(chambers__count=0) == ()


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"bore__clearance": "0.1 mm"}, "bore.clearance"),
        ({"bore__section": '"round"'}, "bore.corner_radius"),
        ({"chambers__foam_density": "90 kg/m^3"}, "chambers.foam_density"),
        ({"chambers__section": '"round"'}, "chambers.corner_radius"),
        ({"mate__least_tip_gap": "1 mm", "mate__most_body_gap": "8 mm"}, "mates[0].most_body_gap"),
        ({"compound__density": "1300 kg/m^3"}, "compound.density"),
    ],
)
def test_what_is_odd_but_legal_is_a_warning(changes: dict[str, object], key: str):
    profile = profile_from_text(text_of(**{"bore__clearance": "0.3 mm", **changes}))
    assert [complaint.key for complaint in warnings_of(profile)] == [key]


def test_the_good_profile_with_clearance_warns_of_nothing():
    assert warnings_of(profile_from_text(text_of(bore__clearance="0.3 mm"))) == []


def test_a_round_of_the_keyway_has_an_effect_and_is_not_warned_of():
    """The two corners of a keyway's floor rounded with r: (2 - pi / 2) r^2 less hole, closed form."""
    keyed = {"bore__section": '"keyed"', "bore__key_width": "8 mm", "bore__key_depth": "3 mm"}
    sharp, rounded = (
        profile_from_text(text_of(**keyed, bore__corner_radius=radius)) for radius in ("0 mm", "1 mm")
    )
    assert area_of(bore_outline(sharp.bore)) - area_of(bore_outline(rounded.bore)) == pytest.approx(
        2 - pi / 2
    )
    said = [warning.key for warning in warnings_of(rounded)]
    assert "bore.corner_radius" not in said
    round_bore = profile_from_text(text_of(bore__section='"round"', bore__corner_radius="1 mm"))
    assert "bore.corner_radius" in [warning.key for warning in warnings_of(round_bore)]


# closed forms


def test_corner_reach_closed_forms():
    assert corner_reach("square", 2.0, 0.0) == pytest.approx(sqrt(2))
    assert corner_reach("hexagon", 2.0, 0.0) == pytest.approx(2 / sqrt(3))
    for section in ("square", "hexagon", "round", "keyed"):
        assert corner_reach(section, 36.0, 18.0) == pytest.approx(18.0)  # rounded away: the circle


def test_the_largest_tip_radius_has_a_closed_form_for_like_flanks():
    profile = profile_from_text(text_of())
    ribs = profile.ribs
    assert ribs is not None
    Rt, half, flank = 64.0, 10 / 2 / 64.0, radians(15)
    # both centres meet on the centre line: Rt sin(half + flank) - r = (Rt - r) sin(flank)
    exact = Rt * (sin(half + flank) - sin(flank)) / (1 - sin(flank))
    assert _largest_tip_radius(profile, ribs) == pytest.approx(exact, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(flank=st.floats(0, 30), width=st.floats(3, 25), count=st.integers(1, 12))
def test_ribs_overlap_exactly_when_sampled_flanks_meet(flank: float, width: float, count: int):
    Rt, R, half = 64.0, 56.0, width / 128.0
    t = np.linspace(0, 40, 400_001)  # walk down the flank line until the body circle
    x, y = Rt * cos(half) - t * cos(radians(flank)), Rt * sin(half) + t * sin(radians(flank))
    first = int(np.argmax(np.hypot(x, y) <= R))
    root = np.arctan2(y[first], x[first])
    if abs(2 * root - tau / count) < 1e-4:
        return
    changes: dict[str, object] = {
        "ribs__count": count,
        "ribs__tip_width": f"{width!r} mm",
        "ribs__flank_angle": f"{flank!r} deg",
        "ribs__tip_radius": "0 mm",
    }
    keys = {complaint.key for complaint in complaints_of(**changes)}
    assert ("ribs.count" in keys) == (2 * root > tau / count)


def test_webs_that_fill_the_circle_have_a_closed_form():
    outer = 56 - 7
    for count in (2, 3, 6, 24):
        most = 2 * outer * sin(pi / count)
        assert asin(most / 2 / outer) == pytest.approx(pi / count)
        assert [c.key for c in complaints_of(chambers__count=count, chambers__web=f"{most + 0.01} mm")] == [
            "chambers.web"
        ]
        assert complaints_of(chambers__count=count, chambers__web=f"{most - 0.01} mm") == ()


def test_limits_judge_a_changed_profile_too():
    profile = profile_from_text(text_of())
    assert profile.ribs is not None
    changed: Profile = profile.model_copy(
        update={"ribs": profile.ribs.model_copy(update={"tip_radius": 9.0})}
    )
    with pytest.raises(ProfileError, match=r"ribs\.tip_radius: 9 mm is too large"):
        check_limits(changed)


# common practice, no source: check values of the trade, not demo data


@pytest.mark.parametrize(("count", "height"), [(4, "6 mm"), (6, "10 mm"), (3, "15 mm")])
@pytest.mark.parametrize(("shaft", "fitted"), [("40 mm", "171 mm"), ("45 mm", "122 mm"), ("45 mm", "100 mm")])
def test_common_rollers_are_within_the_limits(count: int, height: str, shaft: str, fitted: str):
    free = float(fitted.split()[0]) * 1.016
    changes: dict[str, object] = {
        "body__free_length": f"{free!r} mm", "body__fitted_length": fitted, "bore__across": shaft,
        "bore__shaft_tolerance": None, "ribs__count": count, "ribs__height": height, "mates[0]": None,
    }  # fmt: skip
    assert complaints_of(**changes) == ()
