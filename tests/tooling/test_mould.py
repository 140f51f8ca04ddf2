"""The bodies of a mould add up and are solids the kernel accepts."""

from __future__ import annotations

from math import atan, pi
from pathlib import Path

import numpy as np
import pytest
from mould_case import (
    GENERAL,
    PROFILES,
    SOME,
    TEXTS,
    VARIANTS,
    changed,
    mould_at,
    mould_from,
    numbers,
)

from rollergen.shape.offset import inward
from rollergen.shape.outline import Arc, Outline, normal_at, turned
from rollergen.shape.part import Part
from rollergen.shape.properties import area_of
from rollergen.shape.solid import checked_solid
from rollergen.spec.reading import read_profile
from rollergen.tooling.cavity import (
    greatest_lever,
    recess_draft,
)
from rollergen.tooling.mould import Mould
from rollergen.tooling.mould_numbers import body_named

# volumes and areas


@pytest.mark.parametrize("split", ["", "tips", "grooves"])
@pytest.mark.parametrize("marks", [TEXTS], ids=["marked"])
def test_cavity_less_cores_is_the_casting(split: str, marks: tuple[str, ...]) -> None:
    """Hollow measured on the metal, casting on its own description."""
    mould = mould_at(GENERAL, split=split, marks=marks)
    assert abs(numbers(mould, read_profile(GENERAL)).volume_residual) <= 1e-9


@pytest.mark.parametrize("path", SOME, ids=lambda v: v.stem)
def test_every_demo_profile_gets_a_mould_that_adds_up(path: Path) -> None:
    profile = read_profile(path)
    report = numbers(mould_at(path), profile)
    assert abs(report.volume_residual) <= 1e-9
    assert report.part_mm3 * (1 / (1 - 0.016)) ** 2 / (1 - 0.011) == pytest.approx(report.cast_mm3, rel=1e-13)
    plain = numbers(mould_at(path, draft=0.0), profile)
    assert plain.part_kg == pytest.approx(plain.part_nominal_kg, rel=1e-12)
    assert plain.shot_kg[0] == pytest.approx(1.05 * plain.part_kg, rel=1e-12)
    assert plain.shot_kg[1] == pytest.approx(1.05 * plain.cast_mm3 * 1.1e-6, rel=1e-12)


@pytest.mark.parametrize("share", [0.0, 0.004, 0.02, 0.31, 0.5, 0.77, 0.995, 1.0])
def test_sleeve_cast_and_cores_fill_the_block_at_any_height(share: float) -> None:
    mould = mould_at(GENERAL)
    z = mould.layout.low + share * (mould.layout.high - mould.layout.low)
    holes = sum(
        area_of(side.outline)
        for side in body_named(mould, "cavity_sleeve").part.sides
        if side.outline.edges[0].feature == "hole"
    )
    solid = area_at(body_named(mould, "cavity_sleeve").part, z) + holes
    cores = sum(
        area_at(b.part, z) for b in mould.bodies if b.name.startswith(("chamber_core", "bore_mandrel"))
    )
    mouth = top_cone_area(mould, z)
    block = pi * mould.layout.block_radius**2
    total = solid + cores + mouth + area_at(body_named(mould, "cast_segment").part, z)
    assert total == pytest.approx(block, rel=1e-12)


def area_at(part: Part, z: float) -> float:
    """Area of the material at a height inside the part; a height on an edge counts what lies below it."""
    total = 0.0
    for side in part.sides:
        if side.levels[0][0] - 1e-12 <= z <= side.levels[-1][0] + 1e-12 and (
            z > side.levels[0][0] + 1e-12 or z <= min(s.levels[0][0] for s in part.sides) + 1e-12
        ):
            zs, offsets = zip(*side.levels, strict=True)
            moved = inward(side.outline, float(np.interp(z, zs, offsets)))
            total += area_of(moved) * (1 if side.material_inside else -1)
    return total


def top_cone_area(mould: Mould, z: float) -> float:
    """What the top plate's bore mouth fills of the cavity, its hole for the spigot (clearance) included."""
    sides = body_named(mould, "top_plate").part.sides
    total = 0.0
    for side in (s for s in sides if s.material_inside and s.levels[0][0] < mould.layout.high - 1e-9):
        if z > side.levels[0][0] + 1e-12:
            zs, offsets = zip(*side.levels, strict=True)
            total += area_of(inward(side.outline, float(np.interp(z, zs, offsets))))
            spigot = body_named(mould, "bore_mandrel").part.sides[1].outline
            total -= area_of(spigot)
    return total


# solids


SOLIDS = [
    (GENERAL, "", ()),
    (GENERAL, "tips", ("A1-8", "PU")),
    *(pytest.param(p, "", (), marks=pytest.mark.slow) for p in PROFILES if p != GENERAL),
    pytest.param(GENERAL, "grooves", (), marks=pytest.mark.slow),
]


@pytest.mark.parametrize(
    ("path", "split", "marks"), SOLIDS, ids=lambda v: v.stem if isinstance(v, Path) else str(v)
)
def test_every_body_is_a_valid_solid_of_its_closed_form_volume(
    path: Path, split: str, marks: tuple[str, ...]
) -> None:
    """The check at birth is valid, one solid, closed, within 1e-6; here every body to 1e-8."""
    for body in (b for b in mould_at(path, split=split, marks=marks).bodies if not b.copy_of):
        _, error = checked_solid(body.part)
        assert abs(error) <= 1e-8, body.name


@pytest.mark.parametrize("name", VARIANTS)
def test_other_bores_chambers_and_ends_add_up(name: str) -> None:
    profile = changed(*VARIANTS[name])
    assert abs(numbers(mould_from(profile), profile).volume_residual) <= 1e-9


@pytest.mark.slow
@pytest.mark.parametrize("split", ["", "tips"])
@pytest.mark.parametrize("name", VARIANTS)
def test_other_bores_chambers_and_ends_make_valid_solids(name: str, split: str) -> None:
    for body in (b for b in mould_from(changed(*VARIANTS[name]), split=split).bodies if not b.copy_of):
        assert abs(checked_solid(body.part)[1]) <= 1e-8, body.name


def test_a_sharp_chamber_corner_with_draft_is_mitred_exactly() -> None:
    """Lines move along their normals and meet again: planes, valid, volume to 1e-9 of the closed form."""
    profile = changed(('corner_radius = "2.5 mm"', 'corner_radius = "0 mm"'))
    core = body_named(mould_from(profile), "chamber_core_1").part
    assert all(abs(checked_solid(part)[1]) <= 1e-9 for part in (core,))


def test_like_bodies_are_the_same_shape_turned() -> None:
    mould = mould_at(GENERAL, split="tips")
    for body in (b for b in mould.bodies if b.copy_of):
        first = body_named(mould, body.copy_of)
        for mine, theirs in zip(body.part.sides, first.part.sides, strict=True):
            expected = turned(theirs.outline, body.turned)
            assert np.allclose(places_of(mine.outline), places_of(expected), atol=1e-9), body.name
            assert mine.levels == theirs.levels


def places_of(outline: Outline) -> list[tuple[float, float]]:
    """Corners; of a circle its centre."""
    first = outline.edges[0]
    if len(outline.edges) == 1 and isinstance(first, Arc):
        return [first.centre]
    return [edge.start for edge in outline.edges]


def test_sleeve_continues_the_chamfers_of_the_plates() -> None:
    """The lower chamfer lies in the plate, the upper in the sleeve: screwed off upwards nothing hooks."""
    mould = mould_at(GENERAL)
    hollow = next(s for s in body_named(mould, "cavity_sleeve").part.sides if not s.material_inside)
    offsets = [d for _, d in hollow.levels]
    assert offsets == sorted(offsets)  # narrows upwards only
    recess = next(s for s in body_named(mould, "base_plate").part.sides if s.turn_per_mm)
    assert recess.levels[-1] == (mould.layout.low, 0.0) and recess.levels[0][1] > 0


def test_chamfer_recess_releases_by_its_stated_draft() -> None:
    """Least of d' - k (p x n) round the outline, sampled against the closed form."""
    cavity = mould_at(GENERAL).cavity
    points, normals = sampled(cavity.section.outer)
    lever = np.abs(points[:, 0] * normals[:, 1] - points[:, 1] * normals[:, 0]).max()
    assert greatest_lever(cavity.section.outer) == pytest.approx(lever, rel=1e-4)
    slope = cavity.chamfer[0] / cavity.chamfer[1]
    assert recess_draft(cavity) == pytest.approx(atan(slope - abs(cavity.turn_per_mm) * lever), abs=1e-4)


def sampled(outline: Outline) -> tuple[np.ndarray, np.ndarray]:

    shares = np.linspace(0, 1, 201)
    points, normals = [], []
    for edge in outline.edges:
        for share in shares:
            x, y = edge.start
            along = (
                edge.at(share)
                if isinstance(edge, Arc)
                else (x + share * (edge.end[0] - x), y + share * (edge.end[1] - y))
            )
            points.append(along)
            normals.append(normal_at(edge, float(share)))
    return np.array(points), np.array(normals)
