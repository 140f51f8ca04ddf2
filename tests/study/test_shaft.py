"""The shaft: beam and torsion closed forms, limits, invariances, trade facts, and the choice of a bar."""

from __future__ import annotations

from dataclasses import asdict, fields, replace
from math import pi, sqrt

import numpy as np
import pytest

from rollergen.answer.explain import figures
from rollergen.export.shaft_picture import shaft_picture
from rollergen.shape.bar import Bar, bore_pressure
from rollergen.spec.standard_bars import standard_bars
from rollergen.study import balance, drive, shaft_figures
from rollergen.study.shaft import (
    FIRST_MODE,
    GRAVITY,
    WIDTHS,
    Loads,
    ShaftLimits,
    ShaftReport,
    Steel,
    bar_of,
    bars_over_widths,
    bent_axis,
    deflected_gap,
    first_critical_speed,
    ratios_over_widths,
    shaft,
    smallest_bar,
)

RUBBER = 5475 * 1130e-9  # kg per mm: section of an ordinary ribbed roller
LOADS = Loads(rubber_kg_per_mm=RUBBER)


def square(across: float, corner_radius: float = 0.0) -> Bar:
    return Bar(section="square", across=across, corner_radius=corner_radius)


# sections


def test_sharp_sections_are_the_books():
    a = 37.0
    assert square(a).area == pytest.approx(a**2, rel=1e-14)
    assert square(a).second_moment == pytest.approx(a**4 / 12, rel=1e-14)
    assert square(a).corner_modulus == pytest.approx(a**3 / (6 * sqrt(2)), rel=1e-14)
    assert square(a).flat_modulus == pytest.approx(a**3 / 6, rel=1e-14)
    side = a / sqrt(3)  # of a hexagon across its flats
    hexagon = Bar(section="hexagon", across=a)
    assert hexagon.area == pytest.approx(3 * sqrt(3) / 2 * side**2, rel=1e-14)
    assert hexagon.second_moment == pytest.approx(5 * sqrt(3) / 16 * side**4, rel=1e-14)
    assert hexagon.corner_modulus == pytest.approx(5 * sqrt(3) / 16 * side**3, rel=1e-14)
    rod = Bar(section="round", across=a)
    assert (rod.second_moment, rod.torsion_constant) == pytest.approx((pi * a**4 / 64, pi * a**4 / 32))
    assert rod.torsion_modulus == pytest.approx(pi * a**3 / 16) and rod.reach == a / 2


@pytest.mark.parametrize("section, sides", [("square", 4), ("hexagon", 6)])
@pytest.mark.parametrize("radius", [0.0, 1.0, 2.5, 9.0])
def test_rounded_sections_agree_with_a_fine_polygon_in_every_direction(section, sides, radius):
    bar = Bar(section=section, across=40.0, corner_radius=radius)
    for turn in (0.0, 0.3, 0.7):
        x, y = fine_outline(sides, 20.0, radius, 4000, turn)
        cross = x * np.roll(y, -1) - y * np.roll(x, -1)
        area = cross.sum() / 2
        second = (cross * (y**2 + y * np.roll(y, -1) + np.roll(y, -1) ** 2)).sum() / 12
        assert bar.area == pytest.approx(area, rel=1e-6)
        assert bar.second_moment == pytest.approx(second, rel=2e-6)
    assert bar.reach == pytest.approx(np.hypot(x, y).max(), rel=1e-6)


def fine_outline(sides, apothem, radius, points, turn=0.0):
    inner = apothem - radius
    corner = (2 * np.arange(sides)[:, None] + 1) * pi / sides
    arc = corner + np.linspace(-pi / sides, pi / sides, points // sides)
    reach = inner / np.cos(pi / sides)
    place = reach * np.exp(1j * corner) + radius * np.exp(1j * arc)
    place = place.ravel() * np.exp(1j * turn)
    return place.real, place.imag


# torsion, by methods of the test's own


def collocated_torsion(sides, radius, terms=40, points=400):
    """J and Q of a rounded polygon across flats 1: stress function = harmonic polynomials - r2/2, 0 on the edge.

    By the maximum principle the stress function is off by no more than the residual on the edge, returned too.
    """
    x, y = fine_outline(sides, 0.5, radius, sides * points)
    tangent = 0.5 - radius  # flats between the arcs, first one's middle on +x
    half = tangent * np.tan(pi / sides)
    if half > 0:
        flat = 0.5 + 1j * half * np.linspace(-1, 1, points)
        flats = (flat[None, :] * np.exp(2j * pi * np.arange(sides)[:, None] / sides)).ravel()
        z = np.concatenate([x + 1j * y, flats])
    else:
        z = x + 1j * y
    z = z[np.argsort(np.angle(z))]
    k = sides * np.arange(terms)
    scale = np.abs(z).max()
    A = ((z[:, None] / scale) ** k).real
    c, *_ = np.linalg.lstsq(A, np.abs(z) ** 2 / 2, rcond=None)
    residual = np.abs(A @ c - np.abs(z) ** 2 / 2).max()
    theta, r = np.angle(z), np.abs(z)
    step = np.diff(np.append(theta, theta[0] + 2 * pi))

    def around(values):  # trapezia in the angle
        return (step * (values + np.roll(values, -1)) / 2).sum()

    u = sum(c[i] * around(((z / scale) ** k[i]).real * r**2) / (k[i] + 2) for i in range(terms))
    J = 2 * u - around(r**4) / 4
    steepest = 0.5 - (c * k * (0.5 / scale) ** np.maximum(k - 1, 0) / scale)[1:].sum()
    return J, J / steepest, residual


@pytest.mark.parametrize("section, sides", [("square", 4), ("hexagon", 6)])
@pytest.mark.parametrize("radius", [0.02, 0.0625, 0.125, 0.25])
def test_torsion_of_rounded_bars_agrees_with_harmonic_collocation(section, sides, radius):
    J, Q, residual = collocated_torsion(sides, radius)
    bar = Bar(section=section, across=1.0, corner_radius=radius)
    assert residual < 2e-5
    assert bar.torsion_constant == pytest.approx(J, rel=1.5e-4)
    assert bar.torsion_modulus == pytest.approx(Q, rel=1e-3)


def prandtl(inside, points):
    """J of a section across flats 1 by finite differences with the edge's true distance (Shortley and Weller)."""
    from scipy.sparse import coo_array
    from scipy.sparse.linalg import spsolve

    h = 1.2 / points
    at = (np.arange(points + 1) - points / 2) * h
    X, Y = np.meshgrid(at, at, indexing="ij")
    free = inside(X, Y)
    number = -np.ones(free.shape, dtype=int)
    number[free] = np.arange(free.sum())
    rows, cols, values = [], [], []
    own = number[free]
    arms = {}
    for name, dx, dy in (("e", 1, 0), ("w", -1, 0), ("n", 0, 1), ("s", 0, -1)):
        low, high = np.zeros(free.sum()), np.ones(free.sum())
        for _ in range(45):  # how far the edge is, in steps, by halving
            middle = (low + high) / 2
            still = inside(X[free] + middle * dx * h, Y[free] + middle * dy * h)
            low, high = np.where(still, middle, low), np.where(still, high, middle)
        neighbour = np.roll(number, (-dx, -dy), axis=(0, 1))[free]
        arms[name] = (np.where(neighbour >= 0, 1.0, np.maximum(high, 1e-9)), neighbour)
    diagonal = np.zeros(free.sum())
    for one, other in (("e", "w"), ("n", "s")):
        for here, there in ((one, other), (other, one)):
            reach, neighbour = arms[here]
            weight = 2 / (reach * (reach + arms[there][0]) * h**2)
            diagonal += weight
            known = neighbour >= 0
            rows.append(own[known])
            cols.append(neighbour[known])
            values.append(-weight[known])
    rows.append(own)
    cols.append(own)
    values.append(diagonal)
    matrix = coo_array((np.concatenate(values), (np.concatenate(rows), np.concatenate(cols)))).tocsr()
    return 2 * spsolve(matrix, np.full(free.sum(), 2.0)).sum() * h**2


def test_torsion_of_a_rounded_square_agrees_with_finite_differences_and_they_converge():
    r = 0.0625  # 2.5 mm on a 40 mm bar

    def inside(x, y):
        dx, dy = np.maximum(np.abs(x) - (0.5 - r), 0), np.maximum(np.abs(y) - (0.5 - r), 0)
        return dx**2 + dy**2 < r**2 * (1 - 1e-12)

    J = square(1.0, r).torsion_constant
    error = [abs(prandtl(inside, points) / J - 1) for points in (36, 72, 144)]
    assert error[2] < 3e-4 and error[2] < error[0] / 4


def test_rounding_takes_torsion_away_and_never_adds():
    at = [square(40.0, radius).torsion_constant for radius in (0, 1, 2, 4, 7, 10)]
    assert at == sorted(at, reverse=True) and at[-1] > pi * 40**4 / 32


# beams


@pytest.mark.parametrize(
    "supports, even, force", [("self-aligning", 5 / 384, 1 / 48), ("clamped", 1 / 384, 1 / 192)]
)
def test_sags_are_the_tables(supports, even, force):
    report = shaft(square(40), 1800, loads=replace(LOADS, rib_force=120.0), supports=supports)
    EI = 210e3 * 40**4 / 12
    assert report.sag_crop_mm == pytest.approx(even * 0.5 * 1800**4 / EI, rel=1e-13)
    assert report.sag_rib_mm == pytest.approx(force * 120 * 1800**3 / EI, rel=1e-13)
    assert report.deflection_mm == report.sag_own_mm + report.sag_crop_mm + report.sag_rib_mm


@pytest.mark.parametrize("supports", ["self-aligning", "clamped"])
def test_the_curve_satisfies_the_beam_equation_its_ends_and_the_reported_middle_slope_and_moment(supports):
    L, bar, steel = 1000.0, square(30), Steel()
    loads = Loads(rubber_kg_per_mm=0.0, rib_force=200.0)
    z = np.linspace(0, L, 2001)
    e = bent_axis(z, bar, L, loads=loads, rib_direction=-pi / 2, supports=supports)
    report = shaft(bar, L, loads=loads, supports=supports)
    EI = steel.modulus * bar.second_moment
    down = -e[:, 1]
    assert np.abs(e[:, 0]).max() < 1e-12  # a force straight down pushes nothing sideways
    assert down[[0, -1]] == pytest.approx([0, 0], abs=1e-12)
    assert down[1000] == pytest.approx(report.deflection_mm, rel=1e-12) and down.argmax() == 1000
    assert down == pytest.approx(down[::-1], abs=1e-12)
    h = z[1] - z[0]
    slope = (-3 * down[0] + 4 * down[1] - down[2]) / (2 * h)
    assert slope == pytest.approx(report.end_slope_rad, abs=2e-6)
    moment = -EI * np.diff(down, 2) / h**2
    assert np.abs(moment).max() == pytest.approx(report.bending_stress_mpa * bar.corner_modulus, rel=4e-3)
    q = report.own_load_n_per_mm + 0.5
    inner = np.diff(moment[200:800:100], 2) / (100 * h) ** 2  # fourth derivative, away from the force
    assert inner == pytest.approx(-q, rel=1e-4)


def test_frequencies_are_the_published_first_modes():
    # Kn = 9.87 (hinged), 22.37 (clamped); roots of sin x and of cos x cosh x = 1
    assert FIRST_MODE["self-aligning"] == pytest.approx(9.87, abs=5e-3)
    assert FIRST_MODE["clamped"] == pytest.approx(22.37, abs=5e-3)
    x = sqrt(FIRST_MODE["clamped"])
    assert np.cos(x) * np.cosh(x) == pytest.approx(1, abs=1e-10)


@pytest.mark.parametrize("supports", ["self-aligning", "clamped"])
def test_critical_speed_agrees_with_a_chain_of_masses(supports):
    EI, m, L, n = 3e10, 0.016, 1500.0, 400
    h = L / n
    size = n - 1
    second = (
        np.diag(np.full(size, -2.0)) + np.diag(np.ones(size - 1), 1) + np.diag(np.ones(size - 1), -1)
    ) / h**2
    fourth = second @ second
    if supports == "clamped":
        fourth[0, 0] += 2 / h**4  # w(-h) = w(h) where hinges have -w(h)
        fourth[-1, -1] += 2 / h**4
    lowest = np.linalg.eigvalsh(fourth)[0]
    assert first_critical_speed(EI, m, L, supports) == pytest.approx(sqrt(1000 * EI / m * lowest), rel=2e-4)


def test_scaling_laws():
    one, double = shaft(square(40), 1500, loads=LOADS), shaft(square(40), 3000, loads=LOADS)
    assert double.deflection_mm == pytest.approx(16 * one.deflection_mm)
    assert double.end_slope_rad == pytest.approx(8 * one.end_slope_rad)
    assert double.bending_stress_mpa == pytest.approx(4 * one.bending_stress_mpa)
    assert double.critical_speed_rpm == pytest.approx(one.critical_speed_rpm / 4)
    stiff = shaft(square(40), 1500, loads=LOADS, steel=Steel(modulus=420e3))
    assert stiff.deflection_mm == pytest.approx(one.deflection_mm / 2)
    assert stiff.critical_speed_rpm == pytest.approx(sqrt(2) * one.critical_speed_rpm)
    assert stiff.bending_stress_mpa == one.bending_stress_mpa


def test_signs_of_force_torque_and_speed_do_not_matter():
    there = replace(LOADS, rib_force=90.0, torque=4e4, rotation_speed=12.0)
    back = replace(LOADS, rib_force=-90.0, torque=-4e4, rotation_speed=-12.0)
    assert shaft(square(36), 1500, loads=there) == shaft(square(36), 1500, loads=back)


def test_rubber_slows_the_critical_speed_by_the_root_of_the_masses():
    report = shaft(square(36), 1500, loads=LOADS)
    steel = 36**2 * 7850e-9
    assert report.critical_speed_rpm / report.bare_critical_speed_rpm == pytest.approx(
        sqrt(steel / (steel + RUBBER)), rel=1e-12
    )
    bare = shaft(square(36), 1500, loads=Loads(rubber_kg_per_mm=0.0))
    assert bare.critical_speed_rpm == bare.bare_critical_speed_rpm


def test_combined_stress_in_its_limits():
    bent = shaft(square(36), 1500, loads=LOADS)
    both = shaft(square(36), 1500, loads=replace(LOADS, torque=2e5))
    assert bent.combined_stress_mpa == bent.bending_stress_mpa
    assert both.combined_stress_mpa**2 == pytest.approx(
        both.bending_stress_mpa**2 + 3 * both.torsion_stress_mpa**2
    )


# the gap


def test_sag_across_the_line_of_centres_changes_the_gap_by_its_square_only():
    e = np.array([[0.0, -1.5], [0.0, 0.0], [0.0, 1.5]])
    change = deflected_gap((110.0, 0.0), e)
    assert change == pytest.approx([1.5**2 / 220, 0, 1.5**2 / 220], rel=1e-4)
    assert change[0] < 0.011


def test_alike_neighbours_sag_together_and_the_gap_stays():
    z = np.linspace(0, 1800, 19)
    e = bent_axis(z, square(40), 1800, loads=LOADS)
    assert e[:, 1].min() < -2
    for centres in ((110.0, 0.0), (80.0, 60.0), (0.0, -110.0)):
        assert deflected_gap(centres, e, e, gap=2.5) == pytest.approx(2.5, abs=1e-13)


def test_force_along_the_line_of_centres_counts_in_full():
    z = np.array([900.0])
    loads = Loads(rubber_kg_per_mm=0.0, crop_load=0.0, rib_force=300.0)
    weightless = Steel(density_kg_m3=1e-9)
    ours = bent_axis(z, square(40), 1800, loads=loads, steel=weightless)
    theirs = bent_axis(z, square(40), 1800, loads=loads, rib_direction=0.0, steel=weightless)
    push = shaft(square(40), 1800, loads=loads, steel=weightless).sag_rib_mm
    assert deflected_gap((110.0, 0.0), ours, theirs) == pytest.approx(2 * push, rel=1e-9)
    assert deflected_gap((110.0, 0.0), ours) == pytest.approx(push, rel=1e-9)


def test_a_roller_above_its_mate_closes_the_gap_by_its_whole_sag():
    assert deflected_gap((0.0, -110.0), np.array([[0.0, -1.5]]), gap=3.0) == pytest.approx(1.5, rel=1e-12)


def test_the_gap_does_not_mind_how_the_picture_is_turned():
    rng = np.random.default_rng(3)
    own, mate = rng.normal(size=(2, 20, 2))
    turn = np.array([[np.cos(0.7), -np.sin(0.7)], [np.sin(0.7), np.cos(0.7)]])
    turned = tuple(turn @ (100.0, 30.0))
    assert deflected_gap((100.0, 30.0), own, mate) == pytest.approx(
        deflected_gap(turned, own @ turn.T, mate @ turn.T), abs=1e-12
    )


# the choice


@pytest.mark.parametrize(
    "across, width, ratio, good", [(40, 1800, 860, True), (45, 2400, 560, True), (40, 2400, 360, False)]
)
def test_what_the_trade_uses_is_what_passes(across, width, ratio, good):
    # common practice, no source: 40 mm square up to 1.8 m, 45 mm at 2.4 m
    bar = next(bar for bar in standard_bars() if bar.across == across)
    report = shaft(bar_of(bar), width, loads=replace(LOADS, rotation_speed=200 * pi / 30))
    assert report.span_per_deflection == pytest.approx(ratio, rel=0.015)
    assert report.shaft_ok is good
    assert bool(report.reasons) is not good


def test_the_smallest_bar_passes_and_the_next_smaller_says_why_it_does_not():
    choice = smallest_bar(2400.0, standard_bars(), loads=LOADS)
    assert choice.bar.across == 45 and choice.report.shaft_ok
    assert choice.rejected[-1].bar.across == 40
    reason = choice.rejected[-1].reasons[0]
    assert "40 mm square over 2400 mm bends 6.65 mm (span/361), allowed are 6.00 mm (span/400)" in reason
    assert "larger bar" in reason


@pytest.mark.parametrize("section", ["square", "hexagon", "round"])
def test_wider_never_takes_a_smaller_bar_and_every_choice_is_the_smallest_by_brute_force(section):
    bars = standard_bars(section)
    rows = bars_over_widths(bars, loads=LOADS)
    assert [row.span_mm for row in rows] == list(WIDTHS) and WIDTHS[0] == 600 and WIDTHS[-1] == 3200
    assert [row.bar.across for row in rows] == sorted(row.bar.across for row in rows)
    for row in rows:
        enough = [b.across for b in bars if shaft(bar_of(b), row.span_mm, loads=LOADS).shaft_ok]
        assert row.bar.across == min(enough)
        assert len(row.rejected) == sum(b.across < row.bar.across for b in bars)


def test_when_no_bar_is_enough_every_one_says_why():
    choice = smallest_bar(6000.0, standard_bars(), loads=replace(LOADS, crop_load=5.0))
    assert choice.bar is None and choice.report is None
    assert len(choice.rejected) == len(standard_bars()) and all(r.reasons for r in choice.rejected)


@pytest.mark.parametrize(
    "limits, loads, words",
    [
        (ShaftLimits(span_per_sag=2000), LOADS, "bends 1.48 mm"),
        (ShaftLimits(stress=20), LOADS, "stressed to 33.8 MPa"),
        (ShaftLimits(slope=0.001), LOADS, "tilts 0.0032 rad"),
        (ShaftLimits(), replace(LOADS, rotation_speed=150.0), "its critical speed is 1775 rpm"),
        (
            ShaftLimits(bore_pressure=0.5),
            replace(LOADS, segment_torque=4e4, segment_length=130.0),
            "0.71 MPa",
        ),
    ],
)
def test_every_limit_has_its_reason(limits, loads, words):
    report = shaft(square(36), 1500, loads=loads, limits=limits)
    assert not report.shaft_ok and len(report.reasons) == 1 and words in report.reasons[0]
    free = ShaftLimits(span_per_sag=None, stress=None, slope=None, speed_share=None)
    assert shaft(square(36), 1500, loads=loads, limits=free).shaft_ok


@pytest.mark.parametrize(
    "wrong, words",
    [
        (lambda: square(0.0), "above 0"),
        (lambda: square(float("nan")), "above 0"),
        (lambda: square(40.0, 11.0), "from 0 to 10 mm"),
        (lambda: Bar(section="oval", across=40.0), "no section of a bar"),
        (lambda: shaft(square(40), 0.0, loads=LOADS), "span 0 mm"),
        (lambda: shaft(square(40), 1e3, loads=LOADS, steel=Steel(modulus=0.0)), "modulus 0 MPa"),
        (lambda: Loads(rubber_kg_per_mm=-1.0), "0 or more"),
        (lambda: Loads(rubber_kg_per_mm=0.0, segment_torque=1.0), "segment_length"),
        (lambda: smallest_bar(1e3, [], loads=LOADS), "no bars"),
        (lambda: deflected_gap((0.0, 0.0), np.zeros((1, 2))), "axis distance"),
        (lambda: standard_bars("hexagon", "hot-rolled"), "it holds hexagon bright"),
        (lambda: bore_pressure(Bar(section="round", across=40.0), 1.0, 1.0), "no flats"),
    ],
)
def test_nonsense_is_refused_with_its_number(wrong, words):
    with pytest.raises(ValueError, match=words):
        wrong()


def test_pressure_turns_back_into_the_torque_it_came_from():
    for bar in (square(36, 1.5), Bar(section="hexagon", across=40.0)):
        linear, uniform = bore_pressure(bar, 4e4, 130.0)
        c, n = bar.flat / 2, {"square": 4, "hexagon": 6}[bar.section]
        s = (np.arange(2000) + 0.5) * c / 2000
        for pressure in (linear * s / c, np.full_like(s, uniform)):
            assert n * 130.0 * (pressure * s).sum() * c / 2000 == pytest.approx(4e4, rel=1e-6)


def test_standard_bars_have_their_standard_and_tolerance():
    bars = standard_bars()
    assert [b.across for b in bars] == sorted(b.across for b in bars) and {40.0, 45.0} <= {
        b.across for b in bars
    }
    forty = next(b for b in bars if b.across == 40)
    assert (forty.corner_radius, forty.least_across) == (2.5, 39.2) and forty.source == "EN 10059 (text read)"
    bright = next(b for b in standard_bars("square", "bright") if b.across == 40)
    assert bright.deviations == (-0.16, 0.0) and "from memory" in bright.source


def test_an_undersize_bar_bends_as_said():
    nominal, least = (shaft(square(a, 2.5), 1800, loads=LOADS).deflection_mm for a in (40.0, 39.2))
    assert 1.07 < least / nominal < 1.09


# what is said about the numbers, and the picture


def test_every_reported_number_is_explained_once():
    own = [f.key for f in shaft_figures.FIGURES]
    assert set(own) == {f.name for f in fields(ShaftReport)} and len(own) == len(set(own))
    every = [*own, *(f.key for f in balance.FIGURES), *(f.key for f in drive.FIGURES)]
    assert len(every) == len(set(every))
    said = figures()  # of the studies that were there before: another meaning under one key would be a lie
    for figure in (*shaft_figures.FIGURES, *balance.FIGURES, *drive.FIGURES):
        assert said.get(figure.key, figure) == figure


def picture(**changes):
    bars = [bar for bar in standard_bars() if bar.across >= 25]
    said = {
        "widths": WIDTHS,
        "ratios": ratios_over_widths(bars, loads=LOADS),
        "bars": [bar_of(bar).words for bar in bars],
        "limit": 400.0,
        "title": "test",
        **changes,
    }
    return shaft_picture(**said)


@pytest.mark.parametrize("form, starts", [("png", b"\x89PNG"), ("svg", b"<?xml")])
def test_the_picture_is_the_same_every_time(form, starts):
    data = picture(form=form)
    assert data.startswith(starts) and data == picture(form=form) and data != picture(form=form, limit=500.0)


def test_the_picture_has_no_colour_and_refuses_what_does_not_fit():
    import io

    from PIL import Image

    pixels = np.asarray(Image.open(io.BytesIO(picture())).convert("RGB")).astype(int)
    assert (pixels.max(axis=-1) - pixels.min(axis=-1)).max() == 0
    with pytest.raises(ValueError, match="2 bars by 14 widths"):
        picture(bars=["a", "b"])


def test_ratios_are_those_of_the_reports():
    bars = standard_bars()[-2:]
    table = ratios_over_widths(bars, loads=LOADS, widths=(1000.0, 2000.0))
    assert table.shape == (2, 2)
    assert table[1, 0] == shaft(bar_of(bars[1]), 1000.0, loads=LOADS).span_per_deflection
    assert asdict(shaft(bar_of(bars[1]), 1000.0, loads=LOADS))["across_mm"] == 80
    assert GRAVITY == 9.80665
