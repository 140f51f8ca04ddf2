"""A profile recovered from the scan of an unknown segment: every value, how well it is known, what is asked for."""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import trimesh
from scan_case import TEXT, moved, noisy, only, part_mesh, profile_with
from scan_whole import whole_mesh

from rollergen.answer.recovery import confidence_page, recover_profile
from rollergen.errors import ProfileError, UsageError
from rollergen.shape.section import net_moments, section_of
from rollergen.spec.profile import Profile
from rollergen.spec.reading import profile_from_text, read_profile
from rollergen.tooling.recovered_cuts import cut_of, nothing_cut, spread_of_edge
from rollergen.tooling.recovered_values import (
    Value,
    doubt_other_shapes,
    tell_chambers,
    tell_outer,
)
from rollergen.tooling.recovering import Found, _drawable, recover
from rollergen.tooling.recovering_start import Levels, Patches, RibGuess, ribs_of
from rollergen.tooling.scan import scan_of_mesh, scan_of_points
from rollergen.tooling.scan_alone import part_alone
from rollergen.tooling.section_fit import ChamberShape, Measured, fit_outer

FOLDER = Path(__file__).resolve().parents[2] / "profiles"
NOISE = 0.05


@cache
def scanned(name: str) -> tuple[Profile, np.ndarray, np.ndarray, np.ndarray]:
    profile = profile_with() if name == "" else read_profile(FOLDER / f"{name}.toml")
    points, facets = part_mesh(profile, spacing=2.0)
    return profile, noisy(points, facets, NOISE, 1), facets, points


@cache
def found_in(name: str) -> Found:
    _, points, facets, _ = scanned(name)
    return recover(scan_of_mesh(moved(points, 3), facets))


def number(found: Found, key: str) -> float:
    value = found.values[key].number
    assert value is not None, key
    return value


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(n, marks=pytest.mark.slow)
        for n in ("", "beet-flooded", "celeriac-transfer", "plain-sleeve")
    ],
)
def test_shipped_segments_come_back(name: str) -> None:
    """Counts and kinds exactly; lengths to 0.05 mm, rounds to 0.15 mm, angles to 1 deg, pitch to 1 mm."""
    profile, found = scanned(name)[0], found_in(name)
    assert number(found, "body.diameter") == pytest.approx(profile.body.diameter, abs=0.03)
    assert number(found, "body.free_length") == pytest.approx(profile.body.free_length, abs=0.03)
    assert found.values["bore.section"].word == profile.bore.section
    assert number(found, "bore.across") == pytest.approx(profile.bore.width, abs=0.03)
    assert found.stray < 0.01
    ribs = profile.ribs
    assert ("ribs.count" in found.values) == (ribs is not None)
    if ribs is not None:
        assert number(found, "ribs.count") == ribs.count
        assert number(found, "ribs.height") == pytest.approx(ribs.height, abs=0.03)
        assert number(found, "ribs.tip_width") == pytest.approx(ribs.tip_width, abs=0.1)
        assert number(found, "ribs.root_radius") == pytest.approx(ribs.root_radius, abs=0.2)
        assert number(found, "ribs.tip_radius") == pytest.approx(ribs.tip_radius, abs=0.2)
        either_way_up = [np.degrees(a) for a in (ribs.flank_angle_ahead, ribs.flank_angle_behind)]
        flanks = [number(found, f"ribs.flank_angle_{side}") for side in ("ahead", "behind")]
        assert (
            min(
                max(abs(a - b) for a, b in zip(flanks, order, strict=True))
                for order in (either_way_up, either_way_up[::-1])
            )
            < 1.5
        )
        if ribs.helix_pitch == np.inf:
            assert found.values["ribs.helix_pitch"].word == "straight"
        else:
            assert number(found, "ribs.helix_pitch") == pytest.approx(ribs.helix_pitch, abs=1.0)
            assert found.values["ribs.hand"].word == ribs.hand
    assert ("chambers.count" in found.values) == (profile.chambers is not None)
    if profile.chambers is not None:
        assert number(found, "chambers.count") == profile.chambers.count
        assert found.values["chambers.section"].word == profile.chambers.section
        assert number(found, "chambers.wall") == pytest.approx(profile.chambers.wall, abs=0.03)
        assert number(found, "chambers.hub_wall") == pytest.approx(profile.chambers.hub_wall, abs=0.06)


def written(tmp_path: Path, points: np.ndarray, facets: np.ndarray, name: str = "part.ply") -> Path:
    trimesh.Trimesh(points, facets, process=False).export(tmp_path / name)
    return tmp_path / name


def test_the_file_reads_back_to_the_same_section(tmp_path: Path) -> None:
    """Recovered and read again: the section's area is the part's to 0.2 %."""
    profile, points, facets, _ = scanned("")
    got = recover_profile(
        written(tmp_path, moved(points, 4), facets), name="copy", unit=None, compound="cast ether PU 80A"
    )
    assert got.asked_for == () and got.scan_unit == "mm"
    back = profile_from_text(got.text)
    area = net_moments(section_of(back)).area
    assert area == pytest.approx(net_moments(section_of(profile)).area, rel=2e-3)
    page = confidence_page(got)
    values = {value["key"]: value for value in page["values"]}
    assert (
        values["body.diameter"]["confidence"] == "measured"
        and values["body.diameter"]["standard_error"] < 0.01
    )
    assert (
        values["ribs.count"]["confidence"] == "counted"
        and values["bore.clearance"]["confidence"] == "assumed"
    )


@pytest.mark.slow
def test_without_a_compound_the_file_asks_for_it(tmp_path: Path) -> None:
    _, points, facets, _ = scanned("")
    got = recover_profile(written(tmp_path, points, facets), name="two words", unit=None, compound=None)
    assert got.name == "two-words" and got.asked_for == ("compound.name: a scan does not see the compound",)
    assert "ASKED FOR" in got.text
    with pytest.raises(ProfileError, match="compound"):
        profile_from_text(got.text)


@pytest.mark.slow
def test_half_a_segment_still_counts_its_ribs() -> None:
    _, points, facets, plain = scanned("")
    half, kept = only(points, facets, plain[:, 0] > -10)
    found = recover(scan_of_mesh(moved(half, 5), kept))
    assert number(found, "ribs.count") == 5 and number(found, "chambers.count") == 6
    assert number(found, "body.diameter") == pytest.approx(118.0, abs=0.05)


def test_what_is_not_seen_is_asked_for() -> None:
    """The outside of one rib and its surroundings: no count, no length, no bore."""
    _, points, facets, plain = scanned("")
    r = np.hypot(plain[:, 0], plain[:, 1])
    turned = np.angle(
        np.exp(1j * (np.arctan2(plain[:, 1], plain[:, 0]) - profile_with().turn_per_mm * plain[:, 2]))
    )
    patch = (r > 58) & (np.abs(turned) < 0.62) & (plain[:, 2] > 1) & (plain[:, 2] < 151)
    outside, kept = only(points, facets, patch)
    found = recover(scan_of_mesh(moved(outside, 6), kept))
    asked = {key for key, value in found.values.items() if value.confidence == "asked for"}
    assert {"ribs.count", "body.free_length", "bore.section", "bore.across", "compound.name"} <= asked
    assert number(found, "body.diameter") == pytest.approx(118.0, abs=0.3)
    assert number(found, "ribs.height") == pytest.approx(9.0, abs=0.1)


def test_refusals(tmp_path: Path) -> None:
    _, points, facets, plain = scanned("")
    with pytest.raises(UsageError, match="needs a mesh"):
        recover(scan_of_points(points))
    inside, kept = only(points, facets, np.hypot(plain[:, 0], plain[:, 1]) < 28)
    with pytest.raises(UsageError, match="nothing of the outer surface|no axis"):
        recover(scan_of_mesh(inside, kept))
    with pytest.raises(UsageError, match="--scan-units"):
        recover_profile(written(tmp_path, points * 1e-6, facets), name="a", unit=None, compound=None)


@pytest.mark.parametrize(("count", "width", "fits"), [(5, 11.0, True), (15, 362.2, False)])
def test_a_fit_starts_only_from_what_can_be_drawn(count: int, width: float, fits: bool) -> None:
    """Ribs as stray points make them up: 15 of 362 mm on a tip circle of 427 mm are no ribs at all."""
    profile = profile_with()
    assert profile.ribs is not None
    ribs = profile.ribs.model_copy(update={"count": count, "tip_width": width, "height": 8.41})
    body = profile.body.model_copy(update={"diameter": 111.65})
    start = _drawable(profile.model_copy(update={"ribs": ribs, "body": body}), 5.0)
    assert (start is not None) == fits
    if start is not None:
        fit_outer(np.array([[59.0, 0.0, 40.0], [0.0, 60.0, 80.0], [66.0, 2.0, 20.0]]), start)


@pytest.mark.parametrize("beside", ["clamp", pytest.param("second part", marks=pytest.mark.slow)])
def test_what_lies_beside_the_part_is_left_out(beside: str) -> None:
    """A block 6 mm off the rib tips, or a whole second part: the values are those of the one part."""
    _, points, facets, _ = scanned("")
    other, more = points + [170.0, 0.0, 0.0], facets
    if beside == "clamp":
        box = trimesh.creation.box([30, 60, 40]).subdivide_to_size(2.0)
        other, more = np.asarray(box.vertices) + [67.0 + 6.0 + 15.0, 0, 75], np.asarray(box.faces)
    both = np.concatenate([points, other]), np.concatenate([facets, more + len(points)])
    found = recover(scan_of_mesh(moved(both[0], 3), both[1]))
    assert number(found, "ribs.count") == 5 and number(found, "chambers.count") == 6
    assert number(found, "body.diameter") == pytest.approx(118.0, abs=0.05)
    assert found.stray < 0.01 and any("lies apart from the part" in note for note in found.notes)


def test_a_part_in_pieces_is_kept_whole() -> None:
    """Outside, bore, chambers and ends of a scan do not touch where their edges are missing."""
    points, facets = part_mesh(profile_with(), spacing=3.0)
    rows = facets[:, 0] % 2 == 0  # half of the facets at random: hundreds of pieces
    for mesh in (facets, facets[rows]):
        scan = scan_of_mesh(points, mesh)
        assert len(part_alone(scan).points) > 0.99 * len(scan.points)


@pytest.mark.parametrize("count", [1, pytest.param(2, marks=pytest.mark.slow)])
def test_few_ribs_are_counted_where_all_round_is_seen(count: int) -> None:
    points, facets = part_mesh(profile_with(("count = 5", f"count = {count}")), spacing=3.0)
    found = recover(scan_of_mesh(moved(noisy(points, facets, NOISE, 1), 3), facets))
    assert number(found, "ribs.count") == count
    assert found.values["ribs.count"].confidence == "counted"
    assert number(found, "ribs.helix_pitch") == pytest.approx(700.0, abs=1.0)


def test_two_ribs_of_a_part_are_no_count_and_the_file_does_not_build(tmp_path: Path) -> None:
    """Two of five ribs seen: what lies between the others is a guess, so the file stays open at its count."""
    _, points, facets, plain = scanned("")
    twist = profile_with().turn_per_mm
    around = np.angle(np.exp(1j * (np.arctan2(plain[:, 1], plain[:, 0]) - twist * plain[:, 2] - 0.63)))
    outside, kept = only(points, facets, (np.abs(around) < 1.1) & (np.hypot(plain[:, 0], plain[:, 1]) > 58))
    got = recover_profile(
        written(tmp_path, moved(outside, 4), kept), name="x", unit=None, compound="cast ether PU 80A"
    )
    assert not got.ok and "ribs.count" in got.reasons[0]
    assert "too little is seen to count what goes round: 2 of them" in got.text
    with pytest.raises(ProfileError) as wrong:
        profile_from_text(got.text)
    assert "ribs.count" in {complaint.key for complaint in wrong.value.complaints}


def cut_band(cut: float, *, on_it: bool, noise: float, seed: int = 5) -> tuple[np.ndarray, np.ndarray]:
    """(depth, distance from the end) of points at an edge with a cut of 45 deg, dense ones or its two edges only."""
    rng = np.random.default_rng(seed)
    across = rng.uniform(0, 1, 4000) if on_it else np.repeat([0.0, 1.0], 400)
    depth = np.concatenate([cut * across, np.zeros(4000), cut + rng.uniform(0, 5, 4000)])
    near = np.concatenate([cut * (1 - across), cut + rng.uniform(0, 5, 4000), np.zeros(4000)])
    return depth + rng.normal(0, noise, len(depth)), near + rng.normal(0, noise, len(near))


@pytest.mark.parametrize("cut", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("noise", [0.02, 0.05, 0.1])
def test_the_error_of_a_cut_holds_its_truth(cut: float, noise: float) -> None:
    """Over twelve seeds no miss of 4 standard errors, and as many as they say: their root mean square is about 1.

    A cut of five spreads or less may be left out, and then what would not show is at least as wide.
    """
    misses = []
    for seed in range(12):
        depth, near = cut_band(cut, on_it=True, noise=noise, seed=seed)
        found = cut_of(depth, near, noise)
        if found is None:
            most = float(nothing_cut(depth, near, noise).rpartition("up to ")[2].split()[0])
            assert cut <= most and cut < 8 * noise
        else:
            misses.append((found.size - cut) / found.error)
            assert found.weak == (found.size < 5 * spread_of_edge(depth, near, noise))
    assert (len(misses) == 12) == (cut > 6 * noise)
    assert not misses or (np.abs(misses).max() < 4 and np.sqrt(np.mean(np.square(misses))) < 1.6)


@pytest.mark.parametrize("cut", [1.0, 2.0])
def test_edges_that_a_scanner_rounds_off_do_not_widen_a_cut(cut: float) -> None:
    """Every point is the middle of what lies up to 0.4 mm to either side of it along the surface."""
    length = cut * np.sqrt(2)
    for seed in range(6):
        rng = np.random.default_rng(seed)
        at = rng.uniform(-5, 5 + length, 6000) + np.linspace(-0.4, 0.4, 9)[:, None]
        depth = np.interp(at, [-9, 0, length, length + 9], [0, 0, cut, cut + 9]).mean(axis=0)
        near = np.interp(at, [-9, 0, length, length + 9], [cut + 9, cut, 0, 0]).mean(axis=0)
        found = cut_of(depth + rng.normal(0, 0.02, 6000), near + rng.normal(0, 0.02, 6000), 0.02)
        assert found is not None and abs(found.size - cut) < 4 * found.error < 0.02


@pytest.mark.parametrize("cut", [1.0, 2.0])
def test_a_cut_without_points_is_measured_by_its_edges(cut: float) -> None:
    found = cut_of(*cut_band(cut, on_it=False, noise=0.03), 0.03)
    assert found is not None and found.size == pytest.approx(cut, abs=0.03)


@pytest.mark.parametrize("noise", [0.0, 0.02, 0.05, 0.1])
def test_no_cut_is_made_up(noise: float) -> None:
    """A sharp edge, its points 1 mm apart and rough, has no cut; what could hide there is told."""
    rng = np.random.default_rng(7)
    depth = np.concatenate([np.zeros(3000), rng.uniform(0, 5, 3000)]) + rng.normal(0, noise, 6000)
    near = np.concatenate([rng.uniform(0, 5, 3000), np.zeros(3000)]) + rng.normal(0, noise, 6000)
    assert cut_of(depth, near, noise) is None
    assert f"one up to {np.ceil(10 * (0.2 + 4 * 2**0.5 * noise)) / 10:.1f} mm" in nothing_cut(
        depth, near, noise
    )


def test_a_cut_that_reaches_out_of_where_it_is_looked_for_is_none() -> None:
    """What agrees with a width of 7 mm within 5 mm of the end is no cut, but a surface that was not recovered."""
    assert cut_of(*cut_band(7.0, on_it=True, noise=0.05), 0.05) is None


def test_a_surface_far_from_what_was_recovered_hides_more() -> None:
    """An oval of 0.5 mm is no edge that 1 mm was cut off: no number is made up, and 1 mm is within what would not show."""
    depth, near = cut_band(1.0, on_it=True, noise=0.03)
    depth += 0.5 * np.cos(np.linspace(0, 4000, len(depth)))
    assert cut_of(depth, near, 0.5) is None
    assert float(nothing_cut(depth, near, 0.5).rpartition("up to ")[2].split()[0]) > 1.0


@pytest.mark.slow
def test_chamfer_and_lead_in_of_a_whole_part() -> None:
    """The program's own mesh of a part with 2 mm chamfers and a 1 mm lead-in; the ends are found to 0.01 mm first."""
    profile = profile_with(
        ('edge_chamfer = "0 mm"', 'edge_chamfer = "2 mm"'),
        ('corner_radius = "1.5 mm"', 'corner_radius = "1.5 mm"\nlead_in = "1 mm"'),
    )
    points, facets = whole_mesh(profile)
    found = recover(scan_of_mesh(moved(noisy(points, facets, 0.03, 4), 5), facets))
    assert number(found, "body.edge_chamfer") == pytest.approx(2.0, abs=0.03)
    assert number(found, "bore.lead_in") == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize("datum_error", [0.0, 3e-4])
def test_starts_are_as_uncertain_as_the_flat_they_are_counted_from(datum_error: float) -> None:
    """Two angles that are measured independently: the error of their difference is the root of both squared."""
    profile, zero = profile_with(), np.zeros((0, 3))
    own = {"radius": 0.01, "outer": 0.01, "inner": 0.01, "web": 0.01, "corner_radius": 0.01, "width": 0.01}
    own |= {"turn": 1e-4, "twist": 1e-6, "flank_angle_ahead": 1e-3, "flank_angle_behind": 1e-3}
    value = {
        "radius": 59.0,
        "turn": 0.0,
        "twist": profile.turn_per_mm,
        "outer": 51.0,
        "inner": 30.0,
        "web": 8.0,
    }
    value |= {"corner_radius": 3.0, "width": 38.3, "flank_angle_ahead": 0.26, "flank_angle_behind": 0.26}
    fit = Measured(value=value, error=own, spread=0.05, points=5000)
    bore = replace(fit, error={**own, "turn": datum_error})
    shape = ChamberShape(
        section="sector", count=6, start=0.0, outer=51.0, inner=30.0, web=8.0, corner_radius=3.0
    )
    guess = RibGuess(count=5, drawn=5, seen=5, start=0.0, twist=profile.turn_per_mm, width=10.0)
    levels = Levels(tip=68.0, body=59.0, outer=55.0, split=28.0, bore_seen=True)
    values: dict[str, Value] = {}
    tell_outer(values, fit, profile, guess, 0.0, 152.0, bore)
    tell_chambers(
        values, zero, zero, (shape, fit), None, fit, ("square", bore, profile, 0.0), profile, levels, 152.0
    )
    told = {key: values[key].standard_error for key in ("ribs.start", "chambers.start")}
    assert told["ribs.start"] == pytest.approx(np.degrees(np.sqrt(1e-8 + 76e-6**2 + datum_error**2)))
    assert told["chambers.start"] == pytest.approx(np.degrees(np.hypot(1e-4, datum_error)))


def test_a_tip_is_as_wide_as_its_own_points_also_where_ribs_are_half_seen() -> None:
    """Of five ribs 0.2 rad wide two are seen in part, without a middle of their own: they widen no other's tip."""
    rng = np.random.default_rng(3)
    step, share = 2 * np.pi / 5, np.array([1.0, 1.0, 1.0, 0.2, 0.2])
    rib = rng.choice(5, size=8000, p=share / share.sum())
    angle = rib * step + rng.uniform(-0.1, 0.1, 8000)
    z = np.where(share[rib] < 1, rng.uniform(0, 6, 8000), rng.uniform(0, 30, 8000))
    body = rng.uniform(0, 2 * np.pi, 8000)
    tips = Patches(r=np.full(8000, 64.0), angle=angle, z=z, out=np.ones(8000), along=np.zeros(8000))
    floor = replace(tips, r=np.full(8000, 56.0), angle=body)
    both = Patches(
        **{f.name: np.concatenate([getattr(e, f.name) for e in (tips, floor)]) for f in fields(Patches)}
    )
    guess = ribs_of(both, Levels(tip=64.0, body=56.0, outer=50.0, split=30.0, bore_seen=True))
    assert guess is not None and guess.count == 5
    assert guess.width == pytest.approx(0.2 * 64, rel=0.1)


def test_values_of_a_shape_that_the_points_do_not_follow_are_weak() -> None:
    good = Value(
        key="", number=8.0, word=None, unit="mm", standard_error=0.01, points=500, confidence="measured", why=""
    )  # fmt: skip
    ribs = ("ribs.height", "ribs.count", "ribs.start")
    keys = ("body.diameter", *ribs, "bore.across", "chambers.wall", "body.free_length")

    def weak(stray: float, **spreads: float) -> set[str]:
        values = {key: replace(good, key=key) for key in keys}
        doubt_other_shapes(values, stray, {"outer": 0.05, "bore": 0.05, **spreads})
        return {key for key, value in values.items() if value.confidence == "weak"}

    outside = {"body.diameter", "ribs.height", "ribs.count", "ribs.start", "chambers.wall"}
    assert weak(0.0) == set() and weak(0.15) == weak(0.0, outer=0.7) == outside
    assert weak(0.0, bore=0.7) == {"bore.across", "ribs.start"} and weak(0.0, chambers=0.7) == {
        "chambers.wall"
    }


@pytest.mark.slow
def test_a_half_with_one_end_cut_off_comes_back() -> None:
    """It used to come out with ribs of 5.8 mm instead of 8: half seen ribs made the tips seven times as wide."""
    text = TEXT.replace('"118 mm"', '"112 mm"').replace('"9 mm"', '"8 mm"').replace('"11 mm"', '"10 mm"')
    plain, facets = part_mesh(profile_with(text=text), spacing=2.0)
    half, kept = only(noisy(plain, facets, NOISE, 1), facets, (plain[:, 0] > -5) & (plain[:, 2] < 110))
    found = recover(scan_of_mesh(moved(half, 7), kept))
    assert number(found, "ribs.height") == pytest.approx(8.0, abs=0.02)
    assert number(found, "ribs.tip_width") == pytest.approx(10.0, abs=0.1) and found.stray < 0.01
