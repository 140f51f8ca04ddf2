"""The angle of bore and chambers to the ribs: what was turned comes back, whatever the part's height and shrinkage."""

from __future__ import annotations

from math import degrees, lcm, radians, tau

import numpy as np
import pytest
from scan_case import TEXT, profile_with, swept

from rollergen.answer.unclassed import phase_features, phase_notes
from rollergen.shape.bore import bore_outline
from rollergen.shape.section import section_of
from rollergen.spec.profile import Profile
from rollergen.tooling.part_features import Feature, asked_of, judged
from rollergen.tooling.scan_ends import End, Ends
from rollergen.tooling.scan_fitted import Fitted
from rollergen.tooling.scan_phase import NO_END, period_of, phases_asked, phases_of
from rollergen.tooling.section_fit import NOT_MOVED, Measured, fit_bore

PROFILE = profile_with(
    ('flank_angle = "15 deg"', 'flank_angle_ahead = "15 deg"\nflank_angle_behind = "20 deg"')
)
ALIKE = profile_with()
LENGTH = 152.0
PLAIN = profile_with((TEXT[TEXT.index("[ribs]") : TEXT.index("[bore]")], ""))
STRAIGHT = profile_with(('helix_pitch = "700 mm"', 'helix_pitch = "straight"'))
ROUND = profile_with(('section = "square"', 'section = "round"'), ('corner_radius = "1.5 mm"\n[ch', "[ch"))


def turned(turn: float, **more: float) -> Measured:
    value = NOT_MOVED | {"turn": turn} | more
    return Measured(value=value, error=dict.fromkeys(value, 1e-4), spread=0.05, points=6000)


def fitted(
    *, ribs: float = 0.0, bore: float = 0.0, chambers: float = 0.0, twist: float | None = None
) -> Fitted:
    """Surfaces turned by so much (rad) at mid height of the frame."""
    twist = PROFILE.turn_per_mm if twist is None else twist
    return Fitted(outer=turned(ribs, twist=twist), bore=turned(bore), chambers=turned(chambers), shape=None)


def ends(low: float | None, high: float | None) -> Ends:
    def at(height: float | None) -> End | None:
        return (
            None if height is None else End(height=height, error=0.01, slope_x=0.0, slope_y=0.0, points=999)
        )

    return at(low), at(high)


WHOLE = ends(0.0, LENGTH)


@pytest.mark.parametrize("by", [0.0, 3.0, -3.0, 8.0, 12.0, -40.0])
def test_what_was_turned_comes_back_modulo_the_symmetry(by: float) -> None:
    """5 ribs and a square repeat after 18 deg, 5 ribs and 6 chambers after 12 deg."""
    found, unseen = phases_of(fitted(ribs=0.01, bore=0.01 + radians(by)), WHOLE, PROFILE)
    assert not unseen and abs(found["bore.phase"].value) <= 9
    assert (found["bore.phase"].value - by + 9) % 18 - 9 == pytest.approx(0.0, abs=1e-9)
    assert found["chambers.phase"].value == pytest.approx(degrees(-0.01))
    assert period_of("bore.phase", PROFILE) == 360 / lcm(5, 4)
    assert period_of("chambers.phase", PROFILE) == 360 / lcm(5, 6)


def test_a_bore_turned_by_seven_degrees_is_fitted_so() -> None:
    points, _ = swept(bore_outline(PROFILE.bore), LENGTH, 0.0, 3.0, hole=True)
    c, s = np.cos(radians(7)), np.sin(radians(7))
    points = points[:, :2] @ np.array([[c, s], [-s, c]])
    z = np.repeat(np.linspace(0, LENGTH, 52), len(points) // 52)
    bore = fit_bore(np.column_stack([points, z]), PROFILE)
    all_round = Fitted(outer=turned(0.0, twist=PROFILE.turn_per_mm), bore=bore, chambers=None, shape=None)
    found, unseen = phases_of(all_round, WHOLE, PROFILE)
    assert found["bore.phase"].value == pytest.approx(7.0, abs=1e-3)
    assert unseen == {"chambers.phase": "it takes chambers and ribs"}


@pytest.mark.parametrize("seen", [(True, True), (True, False), (False, True)])
@pytest.mark.parametrize(("up", "axial"), [(3.0, 1.0), (-2.0, 0.98)])
def test_where_the_frame_lies_and_how_the_part_shrank_do_not_matter(
    up: float, axial: float, seen: tuple[bool, bool]
) -> None:
    """A part ``up`` mm too high in its frame, its pitch shrunk with it: the helix at mid height turns back."""
    twist = PROFILE.turn_per_mm / axial
    low = LENGTH / 2 * (1 - axial) + up
    both = ends(low if seen[0] else None, low + LENGTH * axial if seen[1] else None)
    found, _ = phases_of(fitted(ribs=-twist * up, twist=twist), both, PROFILE)
    assert found["bore.phase"].value == pytest.approx(0.0, abs=1e-9)
    assert found["bore.phase"].error >= degrees(twist * 0.007)  # an end off by 0.01 mm turns the ribs


def test_a_helix_without_an_end_tells_no_phase_and_straight_ribs_do() -> None:
    found, unseen = phases_of(fitted(bore=0.05), (None, None), PROFILE)
    assert not found and unseen == dict.fromkeys(("bore.phase", "chambers.phase"), NO_END)
    straight, _ = phases_of(fitted(bore=0.05, twist=0.0), (None, None), STRAIGHT)
    assert straight["bore.phase"].value == pytest.approx(degrees(0.05))


def test_only_what_can_turn_has_a_phase() -> None:
    assert phases_asked(PROFILE) == ("bore.phase", "chambers.phase")
    assert phases_asked(ROUND) == ("chambers.phase",)
    assert phases_asked(PLAIN) == ("chambers.phase",)
    solid = TEXT[TEXT.index("[chambers]") : TEXT.index("[compound]")]
    assert phases_asked(profile_with((solid, ""))) == ("bore.phase",)
    no_ribs = TEXT[TEXT.index("[ribs]") : TEXT.index("[bore]")]
    round_bore = ('section = "square"', 'section = "round"'), ('corner_radius = "1.5 mm"\n', "")
    assert phases_asked(profile_with((solid, ""), (no_ribs, ""), *round_bore)) == ()
    found, _ = phases_of(fitted(bore=0.03, chambers=0.05), WHOLE, PLAIN)
    assert found["chambers.phase"].value == pytest.approx(degrees(0.02))  # to the bore


@pytest.mark.parametrize("by", [4.0, -6.0])
def test_a_part_that_lies_closer_end_for_end_counts_so_unless_its_flanks_tell(by: float) -> None:
    """The drawn ribs stand 39.09 deg on at mid height: seen from the other end a bore off by b is off by 78.17 - b."""
    off = 360 * LENGTH / 700 - by
    other = (off + 9) % 18 - 9
    assert phases_of(fitted(bore=radians(by)), WHOLE, PROFILE)[0]["bore.phase"].value == pytest.approx(by)
    alike = phases_of(fitted(bore=radians(by)), WHOLE, ALIKE)[0]["bore.phase"].value
    assert alike == pytest.approx(min(by, other, key=abs))


def told(profile: Profile, limit: float | None, **by: float) -> tuple[tuple[Feature, ...], tuple[str, ...]]:
    """(phase features, notes) of surfaces turned ``by`` deg."""
    rad = {key: radians(value) for key, value in by.items()}
    found, unseen = phases_of(fitted(**rad), WHOLE, profile)
    phases = phase_features(profile, found, unseen, limit)
    rest = judged(asked_of(profile, section_of(profile)), {}, grade="M3", dimension="fixed", unseen={})
    return phases, phase_notes((*rest, *phases), profile)


def test_a_phase_is_noted_where_the_play_on_the_shaft_does_not_hide_it() -> None:
    """0.15 mm of play each way over a flat of 17.5 mm to the corner's round: 0.49 deg."""
    assert told(PROFILE, None, bore=0.4)[1] == ()
    (note,) = told(PROFILE, None, bore=0.7)[1]
    assert "+0.70 deg" in note and f"step by {68 * tau * 0.7 / 360:.1f} mm" in note and "0.49 deg" in note
    assert told(PROFILE, None, chambers=4.0)[1] == ()  # 3.6 mm at 51 mm, half a web is 4
    assert "half a web" in told(PROFILE, None, chambers=5.0)[1][0]


@pytest.mark.parametrize(("by", "verdict"), [(0.9, "pass"), (-0.9, "pass"), (1.1, "fail"), (-1.1, "fail")])
def test_a_phase_is_held_to_the_limit_that_is_given_either_way(by: float, verdict: str) -> None:
    features, notes = told(PROFILE, 1.0, bore=by)
    assert [feature.verdict for feature in features] == [verdict, "pass"] and notes == ()
    assert told(PROFILE, None, bore=by)[0][0].verdict == "no limit"
