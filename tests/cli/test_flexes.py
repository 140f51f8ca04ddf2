"""The flex command as a user runs it, coarse so that it is quick."""

from __future__ import annotations

import json
from math import pi
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rollergen.answer.explain import unexplained
from rollergen.answer.flexing import usual_places
from rollergen.cli import app
from rollergen.spec.reading import read_profile

PROFILES = Path(__file__).parents[2] / "profiles"
GENERAL, SLEEVE = str(PROFILES / "beet-general.toml"), str(PROFILES / "plain-sleeve.toml")
# thick and large-featured, so that a coarse mesh will do
COARSE = """name = "coarse"
[body]
diameter = "80 mm"
free_length = "60 mm"
[ribs]
count = 3
height = "8 mm"
tip_width = "22 mm"
flank_angle = "20 deg"
tip_radius = "6 mm"
root_radius = "8 mm"
helix_pitch = "900 mm"
[bore]
section = "round"
across = "20 mm"
shaft_tolerance = "0.1 mm"
[chambers]
count = 3
section = "sector"
wall = "9 mm"
web = "14 mm"
hub_wall = "9 mm"
corner_radius = "4 mm"
start = "60 deg"
[compound]
name = "cast ether PU 80A"
[[mates]]
name = "smooth roller"
diameter = "90 mm"
axis_distance = "96 mm"
"""
QUICK = ["--mesh", "9 mm", "--steps", "2", "--travel", "1.5 mm", "--positions", "8"]
RUN = CliRunner()


def flexed(*words: str) -> dict:
    done = RUN.invoke(app, ["flex", *words, *QUICK, "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def variant(tmp_path: Path, name: str, *changes: tuple[str, str]) -> str:
    text = COARSE
    for old, new in (('"coarse"', f'"{name}"'), *changes):
        assert old in text
        text = text.replace(old, new)
    (tmp_path / f"{name}.toml").write_text(text)
    return str(tmp_path / f"{name}.toml")


def test_every_number_is_there_and_explained(tmp_path: Path) -> None:
    page = flexed(variant(tmp_path, "one"))
    assert page["schema"] == 1 and page["profile"] == "one"
    assert [c["at"] for c in page["curves"]] == ["over a chamber", "over a web", "on a rib"]
    assert len(page["stiffness_n_mm2"]) == len(page["rotation_deg"]) == 8
    low, high = page["modulus_mpa"]
    assert low == pytest.approx(9.35, abs=0.01) and high == pytest.approx(17.37, abs=0.01)  # 80 A, both fits
    assert page["force_band"] == pytest.approx([1.0, high / low])
    curve = page["curves"][0]
    assert curve["travel_mm"] == [0.0, 0.75, 1.5] and curve["force_n_mm"][0] == 0
    lengths = {len(curve[key]) for key in curve if isinstance(curve[key], list)}
    assert lengths == {3}
    assert unexplained(page) == []


def test_forces_follow_a_given_modulus(tmp_path: Path) -> None:
    one, two = (flexed(variant(tmp_path, "one"), "--modulus", f"{E} MPa", "--at", "30 deg") for E in (5, 10))
    a, b = (page["curves"][0]["force_n_mm"][-1] for page in (one, two))
    assert b == pytest.approx(2 * a, rel=1e-6)
    assert one["modulus_mpa"] == [5.0, 5.0] and one["curves"][0]["at_deg"] == pytest.approx(30)


def test_profiles_side_by_side_and_a_thinner_wall_gives_more(tmp_path: Path) -> None:
    thin = variant(tmp_path, "thin", ('\nwall = "9 mm"', '\nwall = "6 mm"'))
    done = RUN.invoke(app, ["flex", variant(tmp_path, "thick"), thin, *QUICK])
    assert done.exit_code == 0, done.output
    assert "side by side" in done.stdout and "caution:" in done.stdout
    told = done.stdout[done.stdout.index("side by side") :]
    assert told.index("thin") < told.index("thick")


@pytest.mark.slow
def test_halving_the_wall_softens_the_give_over_a_chamber(tmp_path: Path) -> None:
    # common practice: stiffness grows about as wall^2.15, so halving softens 3 to 6 times
    text = Path(GENERAL).read_text()
    assert 'wall = "7 mm"                          # least' in text
    (tmp_path / "thin.toml").write_text(
        text.replace('wall = "7 mm"                          # least', 'wall = "3.5 mm"  #')
    )
    thin = str(tmp_path / "thin.toml")
    words = ["--travel", "0.5 mm", "--steps", "1", "--positions", "4", "--at", "30 deg", "--json"]
    done = RUN.invoke(app, ["flex", GENERAL, thin, *words])
    assert done.exit_code == 0, done.output
    thick, soft = (page["curves"][0]["force_n_mm"][-1] for page in json.loads(done.stdout)["profiles"])
    assert 3 < thick / soft < 6


def test_a_picture_is_drawn(tmp_path: Path) -> None:
    for name in ("flex.png", "flex.svg"):
        words = [variant(tmp_path, "one"), *QUICK, "--at", "30 deg", "--picture", str(tmp_path / name)]
        done = RUN.invoke(app, ["flex", *words])
        assert done.exit_code == 0, done.output
        assert (tmp_path / name).stat().st_size > 20_000


def test_a_solid_segment_and_a_sleeve(tmp_path: Path) -> None:
    head, rest = COARSE.split("[chambers]")
    (tmp_path / "solid.toml").write_text(head + "[compound]" + rest.split("[compound]", 1)[1])
    page = flexed(str(tmp_path / "solid.toml"))
    assert [c["at"] for c in page["curves"]] == ["between ribs", "on a rib"]
    assert page["curves"][0]["chamber_gap_mm"] == [] and "point_stiffness_n_mm" not in page


def test_where_a_thumb_presses() -> None:
    places = {p.name: p.angle for p in usual_places(read_profile(GENERAL), 0.0)}
    # five ribs from 0, six chambers: 30 deg lies 30 and 42 deg from ribs, the web at 180 deg 36 deg from two
    assert places["over a chamber"] == pytest.approx(pi / 6)
    assert abs(places["over a web"]) == pytest.approx(pi)


def test_a_stress_strain_table_is_fitted_and_told(tmp_path: Path) -> None:
    rows = ", ".join(
        f'["{e} %", "{s} MPa"]' for e, s in ((5, 0.27), (10, 0.52), (20, 0.95), (50, 1.95), (100, 3.3))
    )
    table = variant(tmp_path, "measured", ("[compound]", f"[compound]\nstress_strain = [{rows}]"))
    page = flexed(table, "--at", "30 deg")
    assert (
        page["modulus_mpa"][0] == page["modulus_used_mpa"]
        and "fitted to a stress-strain table" in page["words"][0]
    )


@pytest.mark.parametrize(
    ("words", "changes", "told"),
    [
        (["--travel", "40 mm"], (), "the depth of the chamber"),
        (["--travel", "0 mm"], (), "--travel"),
        (["--presser", "foot"], (), "--presser"),
        (["--z", "200 mm"], (), "outside the segment"),
        (["--mesh", "0.2 mm"], (), "nodes would be needed"),
        (["--modulus", "0 MPa"], (), "--modulus"),
        (["--picture", "x.pdf"], (), ".png, .svg"),
        ([], (("[compound]", '[compound]\nhardness = "95 ShoreA"'),), "95 ShoreA gives no modulus"),
        (
            [],
            (("[chambers]", '[chambers]\nfill = "foam"\nfoam_density = "90 kg/m^3"'),),
            "chambers.foam_modulus",
        ),
    ],
)
def test_bad_input_is_refused_with_a_way_out(
    words: list[str], changes: tuple[tuple[str, str], ...], told: str, tmp_path: Path
) -> None:
    profile = variant(tmp_path, "odd", *changes)
    done = RUN.invoke(app, ["flex", profile, "--steps", "1", "--positions", "4", *words])
    assert done.exit_code == 2 and told in done.stderr, done.output


def test_mate_as_presser_needs_a_smooth_one(tmp_path: Path) -> None:
    done = RUN.invoke(app, ["flex", SLEEVE, "--presser", "mate"])
    assert done.exit_code == 2 and "no smooth mate" in done.stderr
    page = flexed(variant(tmp_path, "one"), "--presser", "mate", "--at", "30 deg")
    assert page["presser"] == "smooth roller" and page["presser_radius_mm"] == 45.0


def test_a_plate_has_no_radius_in_json(tmp_path: Path) -> None:
    assert (
        flexed(variant(tmp_path, "one"), "--presser", "plate", "--at", "30 deg")["presser_radius_mm"] is None
    )
