"""Solids against closed forms, limit cases and the kernel's own figures."""

from __future__ import annotations

import importlib
from dataclasses import replace
from math import asin, atan2, cos, pi, radians, sin, sqrt, tau
from typing import Any

import numpy as np
import pytest

from rollergen.errors import BirthError, MissingLibrary
from rollergen.shape import solid as solid_module
from rollergen.shape.outline import Arc, Edge, Line, Outline, circle, polygon
from rollergen.shape.part import Cap, Part, Side
from rollergen.shape.part_volume import centroid_of_part, surface_of, volume_of
from rollergen.shape.properties import area_of, second_moments_of
from rollergen.shape.solid import as_cadquery, build_solid, load_kernel
from rollergen.shape.solid_check import check_solid, kernel_volume, pieces_of
from rollergen.shape.solid_volume import volume_by_faces

LENGTH = 150.0


# shapes made by hand, not by section.py
def spun(edge: Edge, angle: float) -> Edge:
    turn = complex(cos(angle), sin(angle))

    def at(p: tuple[float, float]) -> tuple[float, float]:
        q = complex(*p) * turn
        return (q.real, q.imag)

    if isinstance(edge, Line):
        return Line(at(edge.start), at(edge.end), edge.feature)
    return Arc(at(edge.centre), edge.radius, edge.angle + angle, edge.sweep, edge.feature)


def ribbed(
    *, count: int = 5, body: float = 56.0, height: float = 8.0, tip: float = 10.0, rounding: float = 2.0
) -> Outline:
    """Ribs with flanks of 14 deg, rounded at tip and root: eight edges a rib."""
    top, flank, r = body + height, radians(14), rounding
    half = tip / (2 * top)
    corner = complex(top * cos(half), top * sin(half))
    down, normal = complex(-cos(flank), sin(flank)), complex(sin(flank), cos(flank))

    def centre(aside: float, distance: float) -> complex:
        start = corner + aside * normal
        b = (start.conjugate() * down).real
        root = sqrt(b * b - abs(start) ** 2 + distance**2)
        return start + min((-b - root, -b + root), key=abs) * down

    inner, outer = centre(-r, top - r), centre(r, body + r)
    lean = pi / 2 - flank
    at_tip, at_root = atan2(inner.imag, inner.real), atan2(outer.imag, outer.real)
    ends = [(q.real, q.imag) for q in (inner + r * normal, outer - r * normal)]
    mirrored = [(x, -y) for x, y in ends]
    ahead: list[Edge] = [
        Arc((0, 0), top, -at_tip, 2 * at_tip),
        Arc((inner.real, inner.imag), r, at_tip, lean - at_tip),
        Line(ends[0], ends[1]),
        Arc((outer.real, outer.imag), r, lean + pi, at_root - lean),
        Arc((0, 0), body, at_root, tau / count - 2 * at_root),
    ]
    behind: list[Edge] = [
        Arc((outer.real, -outer.imag), r, -at_root - pi, at_root - lean),
        Line(mirrored[1], mirrored[0]),
        Arc((inner.real, -inner.imag), r, -lean, lean - at_tip),
    ]
    return Outline(
        tuple(
            spun(edge, tau * (rib + share) / count)
            for rib in range(count)
            for share, group in ((0, ahead), (1, behind))
            for edge in group
        )
    )


def rounded_square(width: float, radius: float) -> Outline:
    a = width / 2 - radius
    corner = (Line((width / 2, -a), (width / 2, a)), Arc((a, a), radius, 0.0, pi / 2))
    return Outline(tuple(spun(edge, i * pi / 2) for i in range(4) for edge in corner))


def rounded_square_figures(width: float, radius: float) -> tuple[float, float]:
    """Area and perimeter."""
    return width**2 - (4 - pi) * radius**2, 4 * (width - 2 * radius) + tau * radius


def keyed(radius: float, width: float, top: float) -> Outline:
    """Round hole with a slot on +x reaching to x = ``top``: sharp corners between lines and an arc."""
    half = asin(width / 2 / radius)
    y, x = width / 2, radius * cos(half)
    return Outline(
        (
            Arc((0, 0), radius, half, tau - 2 * half),
            Line((x, -y), (top, -y)),
            Line((top, -y), (top, y)),
            Line((top, y), (x, y)),
        )
    )


def extruded(
    outer: Outline,
    *holes: Outline,
    turn: float = 0.0,
    length: float = LENGTH,
    outer_levels: tuple[tuple[float, float], ...] = (),
    hole_levels: tuple[tuple[float, float], ...] = (),
) -> Part:
    """A body along z with holes through it; only the body is twisted."""
    straight = ((0.0, 0.0), (length, 0.0))
    sides = [Side(outline=outer, levels=outer_levels or straight, turn_per_mm=turn)]
    sides += [Side(outline=hole, levels=hole_levels or straight, material_inside=False) for hole in holes]
    through = range(1, len(sides))
    return Part(
        name="trial",
        sides=tuple(sides),
        caps=(
            Cap(z=0.0, up=False, outer=(0, "low"), holes=tuple((i, "low") for i in through)),
            Cap(z=length, up=True, outer=(0, "high"), holes=tuple((i, "high") for i in through)),
        ),
    )


def chamfered(c: float) -> tuple[tuple[float, float], ...]:
    return ((0.0, c), (c, 0.0), (LENGTH - c, 0.0), (LENGTH, c))


def volume_error(part: Part, expected: float, **options: Any) -> float:
    """Relative error of the kernel's tight integration against ``expected``."""
    return kernel_volume(build_solid(part, **options)) / expected - 1


def skin_of(part: Part) -> float:
    """Relative volume of a skin as thick as the fit may be off, 1.2 nm, all over the part."""
    return 1.2e-6 * surface_of(part) / volume_of(part)


def faces_of(solid: Any) -> list[tuple[Any, Any]]:
    """(face, surface) of a solid."""
    from OCP.BRep import BRep_Tool
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopoDS import TopoDS

    faces = [TopoDS.Face(piece) for piece in pieces_of(solid, TopAbs_FACE)]
    return [(face, BRep_Tool.Surface_s(face)) for face in faces]


def edges_of(solid: Any) -> list[Any]:
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopoDS import TopoDS

    return [TopoDS.Edge_s(piece) for piece in pieces_of(solid, TopAbs_EDGE)]


def surface_kinds(solid: Any) -> dict[str, int]:
    kinds = [type(surface).__name__.removeprefix("Geom_") for _, surface in faces_of(solid)]
    return {kind: kinds.count(kind) for kind in sorted(set(kinds))}


# closed forms
def test_a_tube_is_two_cylinders_and_two_flat_faces_with_the_volume_of_the_book():
    solid = build_solid(extruded(circle(50, "body"), circle(20, "bore")))
    assert surface_kinds(solid) == {"CylindricalSurface": 2, "Plane": 2}
    assert kernel_volume(solid) == pytest.approx(pi * (50**2 - 20**2) * LENGTH, rel=1e-12)


def test_twisting_a_circle_about_its_own_axis_changes_nothing():
    solid = build_solid(extruded(circle(50, "body"), turn=0.05))
    assert surface_kinds(solid) == {"CylindricalSurface": 1, "Plane": 2}
    assert kernel_volume(solid) == pytest.approx(pi * 50**2 * LENGTH, rel=1e-12)


def test_a_circle_off_the_axis_winds_like_a_spring_and_keeps_its_volume():
    part = extruded(circle(6, "body", centre=(20, 3)), turn=tau / 60)
    assert abs(volume_error(part, pi * 36 * LENGTH)) < skin_of(part)


@pytest.mark.parametrize("turn", [0.0, tau / 600, -tau / 600, tau / 150, -tau / 37.5])
def test_volume_is_area_times_length_at_any_twist_up_to_four_turns_a_segment(turn):
    area, _ = rounded_square_figures(60, 5)
    bore, _ = rounded_square_figures(30, 2)
    part = extruded(rounded_square(60, 5), rounded_square(30, 2), turn=turn)
    assert abs(volume_error(part, (area - bore) * LENGTH)) < skin_of(part)


@pytest.mark.parametrize("turn", [0.0, tau / 300, -tau / 120])
def test_end_chamfers_take_what_steiner_says(turn):
    """Both ends of a rounded outline lose 2 (P c^2/2 - pi c^3/3).  Source: Steiner's formula for offsets."""
    c = 1.5
    area, perimeter = rounded_square_figures(60, 5)
    part = extruded(rounded_square(60, 5), turn=turn, outer_levels=chamfered(c))
    expected = area * LENGTH - 2 * (perimeter * c**2 / 2 - pi * c**3 / 3)
    assert abs(volume_error(part, expected)) < skin_of(part)
    assert volume_of(part) == pytest.approx(expected, rel=1e-13)


def test_a_drafted_circle_is_a_true_cone():
    part = extruded(circle(50, "body"), outer_levels=((0.0, 0.0), (LENGTH, 4.0)))
    solid = build_solid(part)
    assert surface_kinds(solid) == {"ConicalSurface": 1, "Plane": 2}
    assert kernel_volume(solid) == pytest.approx(pi * LENGTH / 3 * (50**2 + 50 * 46 + 46**2), rel=1e-12)


def test_a_drafted_core_of_rounded_corners_is_planes_and_cones_only():
    part = extruded(rounded_square(30, 3), outer_levels=((0.0, 0.0), (LENGTH, 1.3)))
    solid = build_solid(part)
    assert surface_kinds(solid) == {"ConicalSurface": 4, "Plane": 6}
    assert kernel_volume(solid) == pytest.approx(volume_of(part), rel=1e-12)


def test_a_drafted_hole_widens_where_its_offset_is_negative():
    part = extruded(circle(50, "body"), circle(20, "bore"), hole_levels=((0.0, -3.0), (LENGTH, 0.0)))
    expected = pi * 50**2 * LENGTH - pi * LENGTH / 3 * (20**2 + 20 * 23 + 23**2)
    assert abs(volume_error(part, expected)) < 1e-12


@pytest.mark.parametrize("turn", [0.0, tau / 400])
def test_sharp_corners_are_mitred_by_the_chamfer(turn):
    """A square's section at offset d is (w - 2d)^2: each end loses a frustum's worth."""
    w, c = 50.0, 2.0
    square = polygon([(w / 2, -w / 2), (w / 2, w / 2), (-w / 2, w / 2), (-w / 2, -w / 2)], "body")
    part = extruded(square, turn=turn, outer_levels=chamfered(c))
    ends = 2 * c / 3 * (w**2 + w * (w - 2 * c) + (w - 2 * c) ** 2)
    assert abs(volume_error(part, w**2 * (LENGTH - 2 * c) + ends)) < skin_of(part)


@pytest.mark.parametrize("turn", [0.0, tau / 300])
def test_a_mitre_between_an_arc_and_a_line_is_no_line_and_still_closes(turn):
    half_disc = Outline((Arc((0, 0), 40.0, 0.0, pi), Line((-40.0, 0.0), (40.0, 0.0))))
    part = extruded(half_disc, turn=turn, outer_levels=chamfered(3.0))

    def area(d: float) -> float:  # circular segment: radius 40 - d cut at distance d from the centre
        r = 40 - d
        return r**2 * (pi / 2 - asin(d / r)) - d * sqrt(r**2 - d**2)

    node, weight = np.polynomial.legendre.leggauss(20)
    ends = 2 * sum(1.5 * w * area(1.5 * (1 + x)) for x, w in zip(node, weight, strict=True))
    assert abs(volume_error(part, area(0) * (LENGTH - 6) + ends)) < skin_of(part)


def test_hexagon_and_keyed_bores():
    hexagon = polygon([(20 * cos(a), 20 * sin(a)) for a in (i * pi / 3 for i in range(6))], "bore")
    hexed = build_solid(extruded(circle(50, "body"), hexagon))
    assert kernel_volume(hexed) == pytest.approx((pi * 2500 - 1.5 * sqrt(3) * 400) * LENGTH, rel=1e-12)
    r, w, top = 20.0, 8.0, 23.3
    slot = w * top - (w / 2 * sqrt(r**2 - w**2 / 4) + r**2 * asin(w / 2 / r))
    expected = (pi * (2500 - r**2) - slot) * LENGTH
    assert abs(volume_error(extruded(circle(50, "body"), keyed(r, w, top)), expected)) < 1e-9


def test_a_keyed_bore_with_a_lead_in_at_both_ends():
    lead = ((0.0, -1.0), (1.0, 0.0), (LENGTH - 1, 0.0), (LENGTH, -1.0))
    part = extruded(circle(50, "body"), keyed(20.0, 8.0, 23.3), hole_levels=lead)
    assert abs(volume_error(part, volume_of(part))) < skin_of(part)


def test_twenty_four_ribs_over_twenty_four_chambers():
    holes = [
        circle(2.5, "chamber", centre=(40 * cos(tau * i / 24), 40 * sin(tau * i / 24))) for i in range(24)
    ]
    part = extruded(ribbed(count=24, tip=5.0, rounding=1.0), rounded_square(36, 2), *holes, turn=tau / 500)
    solid = build_solid(part)
    assert sum(surface_kinds(solid).values()) == 24 * 8 + 8 + 24 + 2


def test_a_blind_pocket_is_a_step_in_the_caps():
    pocket = Side(outline=circle(10, "pocket"), levels=((100.0, 0.0), (LENGTH, 0.0)), material_inside=False)
    body = Side(outline=circle(50, "body"), levels=((0.0, 0.0), (LENGTH, 0.0)))
    part = Part(
        name="blind",
        sides=(body, pocket),
        caps=(
            Cap(z=0.0, up=False, outer=(0, "low")),
            Cap(z=100.0, up=True, outer=(1, "low")),
            Cap(z=LENGTH, up=True, outer=(0, "high"), holes=((1, "high"),)),
        ),
    )
    assert abs(volume_error(part, pi * 2500 * LENGTH - pi * 100 * 50)) < 1e-12


@pytest.mark.parametrize(
    "part",
    [
        extruded(
            rounded_square(60, 5),
            circle(8, "hole", centre=(7, -4)),
            turn=tau / 200,
            outer_levels=chamfered(2),
        ),
        extruded(circle(50, "body"), rounded_square(30, 3), hole_levels=((0.0, -2.0), (LENGTH, 1.0))),
        extruded(circle(6, "body", centre=(20, 3)), outer_levels=((0.0, 0.0), (LENGTH, 2.0))),
    ],
    ids=["twisted", "drafted bore", "cone off the axis"],
)
def test_the_volume_by_faces_is_the_kernels_own_tight_integral(part):
    solid = build_solid(part)
    assert volume_by_faces(solid) == pytest.approx(kernel_volume(solid), rel=3e-9)


def test_the_volume_by_faces_refuses_what_it_cannot_integrate():
    cadquery = importlib.import_module("cadquery")
    with pytest.raises(ValueError, match="Geom_SphericalSurface"):
        volume_by_faces(cadquery.Solid.makeSphere(10).wrapped)


# how true the surfaces are
def off_the_outline(outline: Outline, points: np.ndarray) -> float:
    """Greatest distance of points (complex) from the outline's own arcs and lines, ends respected."""
    best = np.full(len(points), np.inf)
    for edge in outline.edges:
        if isinstance(edge, Line):
            start, step = complex(*edge.start), complex(*edge.end) - complex(*edge.start)
            share = np.clip(((points - start) * step.conjugate()).real / abs(step) ** 2, 0, 1)
            away = np.abs(points - start - share * step)
        else:
            own = points - complex(*edge.centre)
            turned = np.angle(own * np.exp(-1j * (edge.angle + edge.sweep / 2)))
            angle = edge.angle + edge.sweep / 2 + np.clip(turned, -abs(edge.sweep) / 2, abs(edge.sweep) / 2)
            away = np.abs(own - edge.radius * np.exp(1j * angle))
        best = np.minimum(best, away)
    return float(best.max())


def fit_error(outline: Outline, turn: float, **options: Any) -> float:
    """Greatest distance (mm) of sampled spline faces and helix edges from the exact section."""
    from OCP.BRep import BRep_Tool

    solid = build_solid(extruded(outline, turn=turn), check=False, **options)
    points = []
    for _, surface in faces_of(solid):
        if type(surface).__name__ == "Geom_BSplineSurface":
            u0, u1, v0, v1 = surface.Bounds()
            grid = [(u, v) for u in np.linspace(u0, u1, 9) for v in np.linspace(v0, v1, 41)]
            points += [surface.Value(float(u), float(v)) for u, v in grid]
    for edge in edges_of(solid):
        curve = BRep_Tool.Curve_s(edge, 0.0, 1.0)
        if type(curve).__name__ == "Geom_BSplineCurve":
            points += [curve.Value(float(v)) for v in np.linspace(0.0, LENGTH, 41)]
    xyz = np.array([(p.X(), p.Y(), p.Z()) for p in points])
    flat = (xyz[:, 0] + 1j * xyz[:, 1]) * np.exp(-1j * turn * xyz[:, 2])
    return off_the_outline(outline, flat)


@pytest.mark.parametrize("turn", [tau / 600, -tau / 150])
def test_default_fit_is_true_to_two_nanometres_and_cubic_to_ten(turn):
    assert fit_error(ribbed(), turn) < 2e-6
    assert fit_error(ribbed(), turn, degree=3) < 10e-6


def test_the_fit_grows_finer_with_the_radius():
    large = ribbed(body=300.0, height=20.0, tip=40.0, rounding=8.0)
    assert fit_error(large, tau / 600) < 2e-6
    assert fit_error(large, tau / 600, degree=3) < 10e-6


def test_a_finer_fit_converges_at_the_order_of_its_degree():
    """A collocated spline of degree 5 gains six orders: halving the span divides the error by about 64."""
    from rollergen.shape.spline_fit import turn_error

    errors = [turn_error(pi, 5, spans) for spans in (6, 12, 24)]
    assert np.log2(errors[0] / errors[1]) > 5.5 and np.log2(errors[1] / errors[2]) > 5.5


@pytest.mark.parametrize(("degree", "most"), [(5, 3e-6), (3, 2.5e-5)])
def test_tolerances_are_honest_and_small(degree, most):
    """Helix edges on true cylinders differ from them by the fit: the tolerance covers it, not much more."""
    from OCP.BRep import BRep_Tool

    turn = tau / 300
    solid = build_solid(extruded(ribbed(), turn=turn), degree=degree)
    worst = max(BRep_Tool.Tolerance_s(edge) for edge in edges_of(solid))
    assert fit_error(ribbed(), turn, degree=degree) <= worst <= most


def test_root_and_tip_stay_true_cylinders_that_can_be_measured():
    solid = build_solid(extruded(ribbed(), turn=tau / 300))
    cylinders = [s for _, s in faces_of(solid) if type(s).__name__ == "Geom_CylindricalSurface"]
    assert sorted(round(s.Radius(), 9) for s in cylinders) == [56.0] * 5 + [64.0] * 5


# limits and symmetries
def test_a_very_long_pitch_is_the_straight_segment():
    straight = surface_of(extruded(ribbed()))
    excess = [surface_of(extruded(ribbed(), turn=tau / pitch)) - straight for pitch in (8e3, 16e3, 32e3)]
    ratios = (excess[0] / excess[1], excess[1] / excess[2])
    assert ratios == pytest.approx((4, 4), rel=2e-3)
    nearly, flat = (build_solid(extruded(ribbed(), turn=turn)) for turn in (1e-12, 0.0))
    assert kernel_volume(nearly) == pytest.approx(kernel_volume(flat), rel=1e-10)


def moments(solid: Any) -> np.ndarray:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid, found, 1e-9)
    matrix = found.MatrixOfInertia()
    return np.array([[matrix.Value(i, j) for j in (1, 2, 3)] for i in (1, 2, 3)])


def test_the_other_hand_is_the_mirror_image():
    """Mirroring y turns a right-hand helix into a left-hand one: products of inertia with y change sign."""
    lopsided = Outline(
        (
            Arc((5, 0), 30.0, -pi / 2, pi),
            Line((5, 30), (-25, 30)),
            Line((-25, 30), (-25, -30)),
            Line((-25, -30), (5, -30)),
        )
    )
    right, left = (moments(build_solid(extruded(lopsided, turn=turn))) for turn in (tau / 400, -tau / 400))
    mirror = np.diag([1.0, -1.0, 1.0])
    assert abs(right[0, 1]) > 1e3 and abs(right[1, 2]) > 1e3
    np.testing.assert_allclose(left, mirror @ right @ mirror, rtol=1e-7, atol=1e-7 * right.max())


@pytest.mark.parametrize("turn", [0.0, tau / 300])
def test_surface_and_centroid_agree_with_the_kernel(turn):
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    levels = ((0.0, 1.0), (1.0, 0.0), (LENGTH, 0.0))
    part = extruded(ribbed(), circle(9, "chamber", centre=(30, 12)), turn=turn, outer_levels=levels)
    solid = build_solid(part)
    skin, bulk = GProp_GProps(), GProp_GProps()
    BRepGProp.SurfaceProperties_s(solid, skin, 1e-9)
    BRepGProp.VolumeProperties_s(solid, bulk, 1e-9)
    centre = bulk.CentreOfMass()
    assert surface_of(part) == pytest.approx(skin.Mass(), rel=1e-8)
    np.testing.assert_allclose(centroid_of_part(part), (centre.X(), centre.Y(), centre.Z()), atol=1e-6)


@pytest.mark.parametrize("turn", [0.0, tau / 300])
def test_area_and_inertia_of_the_section_carry_through_to_the_solid(turn):
    """The polar moment of a section does not feel the twist: I_zz = L (integral of x2 + y2)."""
    outline = ribbed()
    solid = build_solid(extruded(outline, turn=turn))
    yy, xx, _ = second_moments_of(outline)
    assert moments(solid)[2, 2] == pytest.approx(LENGTH * (xx + yy), rel=1e-8)
    assert kernel_volume(solid) == pytest.approx(LENGTH * area_of(outline), rel=1e-8)


# the check where it is born
def test_a_part_whose_hole_is_said_to_be_a_body_is_refused_with_name_and_numbers():
    good = extruded(circle(50, "body"), circle(20, "bore"))
    wrong = replace(good, sides=(good.sides[0], replace(good.sides[1], material_inside=True)))
    with pytest.raises(BirthError, match="trial"):
        build_solid(wrong)


def test_holes_that_overlap_are_refused():
    with pytest.raises(BirthError, match=r"trial.*invalid"):
        build_solid(
            extruded(circle(50, "body"), circle(12, "a", centre=(10, 0)), circle(12, "b", centre=(-10, 0)))
        )


def test_a_solid_of_another_volume_is_refused():
    solid = build_solid(extruded(circle(50, "body")))
    with pytest.raises(BirthError, match=r"trial.*off by 2e-06, allowed 1e-06"):
        check_solid(solid, extruded(circle(50 * (1 - 1e-6), "body")))


def test_a_skin_with_a_hole_in_it_is_refused():
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid

    part = extruded(circle(50, "body"))
    builder, shell, solid = BRep_Builder(), TopoDS_Shell(), TopoDS_Solid()
    builder.MakeShell(shell)
    for face, _ in faces_of(build_solid(part))[:-1]:
        builder.Add(shell, face)
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    with pytest.raises(BirthError, match="trial: the skin has free edges"):
        check_solid(solid, part)


def test_an_end_without_a_cap_is_refused():
    part = extruded(circle(50, "body"), circle(20, "bore"))
    with pytest.raises(BirthError, match="not closed"):
        build_solid(replace(part, caps=(part.caps[0], replace(part.caps[1], holes=()))))
    with pytest.raises(BirthError, match="uses an end at z 150 mm"):
        build_solid(replace(part, caps=(part.caps[0], replace(part.caps[1], z=140.0))))


@pytest.mark.parametrize(("degree", "span"), [(4, 0.2), (5, 0.0), (5, 7.0)])
def test_fits_that_are_not_offered_are_refused(degree, span):
    with pytest.raises(ValueError, match="spline"):
        build_solid(extruded(circle(50, "body")), degree=degree, span=span)


# the kernel's door
def test_a_missing_system_library_is_named_with_its_remedy(monkeypatch):
    def broken(name: str) -> Any:
        raise ImportError("libGL.so.1: cannot open shared object file: No such file or directory")

    monkeypatch.setattr(solid_module, "import_module", broken)
    with pytest.raises(MissingLibrary, match="apt-get install libgl1 libegl1") as caught:
        load_kernel()
    assert caught.value.exit_code == 4


def test_a_missing_kernel_package_is_named_with_its_remedy(monkeypatch):
    def absent(name: str) -> Any:
        raise ModuleNotFoundError("No module named 'OCP'", name="OCP")

    monkeypatch.setattr(solid_module, "import_module", absent)
    with pytest.raises(MissingLibrary, match="pip install"):
        load_kernel()


def test_the_solid_is_a_cadquery_object_for_real_booleans():
    cadquery = importlib.import_module("cadquery")
    part = extruded(rounded_square(60, 5), turn=tau / 600)
    piece = as_cadquery(build_solid(part))
    drilled = piece.cut(cadquery.Solid.makeCylinder(10, LENGTH))
    area, _ = rounded_square_figures(60, 5)
    assert drilled.isValid()
    expected = (area - pi * 100) * LENGTH
    assert kernel_volume(drilled.wrapped) == pytest.approx(expected, rel=2 * skin_of(part))
