"""Readings by hand: mean, spread, verdict, and wrong lines told with their place."""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest
from scan_case import profile_with

from rollergen.errors import FileTrouble, ProfileError
from rollergen.shape.section import section_of
from rollergen.tooling.caliper import read_caliper, readings_of
from rollergen.tooling.part_features import Reading, asked_of, judged, tolerance_of

PROFILE = profile_with()
ASKED = asked_of(PROFILE, section_of(PROFILE))


def read(tmp_path: Path, text: str):  # noqa: ANN201
    (tmp_path / "hand.csv").write_text(text)
    return read_caliper(tmp_path / "hand.csv", ASKED)


def test_mean_and_spread_of_several_readings(tmp_path: Path) -> None:
    hand = read(
        tmp_path,
        "feature; readings\n# three places\nbody.diameter; 117.8 mm; 118.0 mm\n"
        "body.diameter; 118.4 mm\nribs.height; 9.02 mm\n",
    )
    body, rib = hand
    assert (body.key, body.readings) == ("body.diameter", (117.8, 118.0, 118.4))
    assert body.mean == pytest.approx(354.2 / 3)
    assert body.spread == pytest.approx(sqrt(((0.2667**2) + (0.0667**2) + (0.3333**2)) / 2), abs=1e-4)
    assert rib.spread is None and rib.step == pytest.approx(0.01)
    readings = readings_of(hand, ASKED)
    assert body.spread is not None
    assert readings["body.diameter"].error == pytest.approx(body.spread / sqrt(3))
    assert readings["body.diameter"].worst == 118.4
    assert readings["ribs.height"].error == pytest.approx(0.01 / sqrt(12))


def test_inches_and_angles(tmp_path: Path) -> None:
    hand = {
        each.key: each for each in read(tmp_path, "bore.width, 1.508 in\nribs.flank_angle_ahead, 15.5 deg\n")
    }
    assert hand["bore.width"].mean == pytest.approx(1.508 * 25.4)
    assert hand["bore.width"].step == pytest.approx(0.0254)
    assert hand["ribs.flank_angle_ahead"].mean == pytest.approx(15.5)


def test_every_reading_must_hold_and_unread_features_do_not_pass(tmp_path: Path) -> None:
    hand = read(tmp_path, "body.diameter, 117.0 mm, 119.6 mm, 117.4 mm\nribs.height, 9.1 mm\n")
    features = {
        f.key: f
        for f in judged(
            ASKED,
            readings_of(hand, ASKED),
            grade="M3",
            dimension="fixed",
            unseen=dict.fromkeys(ASKED, "no reading"),
        )
    }
    assert features["body.diameter"].deviation == pytest.approx(0.0, abs=1e-9)
    assert features["body.diameter"].verdict == "fail" and "+1.6" in features["body.diameter"].why
    assert features["ribs.height"].verdict == "pass"
    assert {f.verdict for key, f in features.items() if key not in ("body.diameter", "ribs.height")} == {
        "not seen"
    }


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("key", sorted(ASKED))
def test_what_is_on_its_limit_keeps_it_and_a_micrometre_more_does_not(
    key: str, sign: int, tmp_path: Path
) -> None:
    """8.3 - 8 is 0.30000000000000071 in binary: read at the limit of 0.3 mm it is no failure."""
    asked = ASKED[key]
    limit = tolerance_of(key, asked, "M3", "fixed")
    for off, verdict in ((0.0, "pass"), (1e-3, "fail")):
        value = round(asked.nominal + sign * (limit + off), 9)
        reading = Reading(value=value, error=0.0, points=1, worst=value, by_hand=True)
        feature = judged({key: asked}, {key: reading}, grade="M3", dimension="fixed", unseen={})[0]
        assert feature.verdict == verdict


def test_closure_dimensions_get_closure_tolerances_but_cores_do_not() -> None:
    tolerances = {
        (dimension, f.key): f.tolerance
        for dimension in ("fixed", "closure")
        for f in judged(ASKED, {}, grade="M3", dimension=dimension, unseen={})
    }
    assert tolerances["fixed", "body.diameter"] == 1.30 and tolerances["closure", "body.diameter"] == 2.00
    assert tolerances["fixed", "bore.width"] == tolerances["closure", "bore.width"] == 0.60


def test_wrong_lines_are_told_all_at_once(tmp_path: Path) -> None:
    with pytest.raises(ProfileError) as wrong:
        read(tmp_path, "body.diametre, 118 mm\nribs.height, 9\nbore.width\nbody.free_length, 152 kg\n")
    said = [(c.line, c.message) for c in wrong.value.complaints]
    assert [line for line, _ in said] == [1, 2, 3, 4]
    assert "did you mean body.diameter" in said[0][1] and "no unit" in said[1][1]


def test_what_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(FileTrouble, match="cannot be read"):
        read_caliper(tmp_path / "none.csv", ASKED)
    (tmp_path / "b.csv").write_bytes(b"\xff\xfe\x00\x81")
    with pytest.raises(FileTrouble, match="not a text file"):
        read_caliper(tmp_path / "b.csv", ASKED)
    (tmp_path / "c.csv").write_bytes("# Größe\nbody.diameter, 118 mm\n".encode("latin-1"))
    with pytest.raises(FileTrouble, match="save it as UTF-8"):
        read_caliper(tmp_path / "c.csv", ASKED)
    with pytest.raises(ProfileError, match="no reading in it"):
        read(tmp_path, "feature, value\n")


@pytest.mark.parametrize(
    ("text", "value", "step"),
    [
        ('"body.diameter","118.3 mm","118.1 mm"\n', 118.2, 0.1),
        ('body.diameter, "118.3 mm", "118.1 mm"\n', 118.2, 0.1),
        ("body.diameter; 118,3 mm; 118,1 mm\n", 118.2, 0.1),
        ("# by hand\nbody.diameter\t118,3 mm\t118.1 mm\n", 118.2, 0.1),
        ("body.diameter, 4 21/32 in\n", (4 + 21 / 32) * 25.4, 25.4 / 32),
        ("body.diameter, 4-21/32 in\n", (4 + 21 / 32) * 25.4, 25.4 / 32),
        ("body.diameter, 4½ in\n", 4.5 * 25.4, 25.4 / 8),
        ("body.diameter, 118.3456 mm\n", 118.3456, 0.01),
        ("body.diameter, 118 mm\n", 118.0, 1.0),
    ],
)
def test_ways_to_write_a_reading_and_how_fine_each_is(
    tmp_path: Path, text: str, value: float, step: float
) -> None:
    """A step never below 0.01 mm, that of a fraction its denominator's: no reading weighs without bound."""
    (body,) = read(tmp_path, text)
    assert body.mean == pytest.approx(value) and body.step == pytest.approx(step)
    assert readings_of([body], ASKED)["body.diameter"].error > 0


def test_the_shaft_is_not_the_bore_and_the_hint_says_which_to_measure(tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match=r"did you mean bore\.width"):
        read(tmp_path, "bore.across, 36.5 mm\n")


@pytest.mark.parametrize(
    "line", ["body.diameter, 110,4 mm\n", 'body.diameter, "110,4 mm"\n', "body.diameter,110,4 mm"]
)
def test_a_decimal_comma_is_called_one_and_the_advice_works(tmp_path: Path, line: str) -> None:
    """Torn apart at the comma it would be two readings, 110 without a unit and 4 mm."""
    with pytest.raises(ProfileError) as wrong:
        read(tmp_path, line)
    (complaint,) = wrong.value.complaints
    assert '"110,4 mm" has a decimal comma; write "110.4 mm"' in complaint.message and complaint.line == 1
    (body,) = read(tmp_path, line.replace("110,4", "110.4"))
    assert body.readings == (110.4,)
