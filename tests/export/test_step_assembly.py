"""STEP assemblies: every piece once, placed as often as wanted, read back by the kernel."""

from __future__ import annotations

from math import pi
from pathlib import Path

import numpy as np
import pytest

from rollergen.errors import BirthError
from rollergen.export.step import Piece, _numbered, assembly_bytes
from rollergen.shape.part_volume import centroid_of_part, surface_of, volume_of
from rollergen.shape.placing import Placing
from rollergen.shape.section import part_of, section_of
from rollergen.shape.solid import build_solid
from rollergen.spec.reading import profile_from_text
from rollergen.spec.schema import starting_profile


@pytest.fixture(scope="module")
def pieces() -> list[Piece]:
    made = []
    for length in (150.0, 90.0):
        text = starting_profile().replace('free_length = "150 mm"', f'free_length = "{length} mm"')
        profile = profile_from_text(
            text.replace('fitted_length = "148.5 mm"', f'fitted_length = "{length} mm"')
        )
        part = part_of(profile, section_of(profile))
        made.append(
            Piece(
                solid=build_solid(part),
                name=f"segment {length:g}",
                colour="#3060a0",
                volume_mm3=volume_of(part),
                area_mm2=surface_of(part),
                centroid_mm=centroid_of_part(part),
            )
        )
    return made


def stack(lengths: list[float]) -> list[tuple[int, np.ndarray]]:
    places, z = [], 0.0
    for number, length in enumerate(lengths):
        placing = Placing(z=z, rotation=number * pi / 2, flipped=number % 3 == 2, length=length)
        places.append((0 if length == 150.0 else 1, placing.matrix))
        z += length
    return places


def written(pieces: list[Piece], lengths: list[float]) -> bytes:
    return assembly_bytes(pieces, stack(lengths), name="roller", compound="cast PU", density_kg_m3=1110.0)


def test_an_assembly_reads_back_whole_and_in_place(pieces: list[Piece], tmp_path: Path) -> None:
    import cadquery as cq

    lengths = [150.0, 150.0, 90.0, 150.0]
    file = tmp_path / "roller.step"
    file.write_bytes(written(pieces, lengths))
    solids = cq.importers.importStep(str(file)).solids().vals()
    assert len(solids) == 4 and all(solid.isValid() for solid in solids)
    spans = sorted((s.BoundingBox().zmin, s.BoundingBox().zmax) for s in solids)
    assert np.allclose(spans, [(0, 150), (150, 300), (300, 390), (390, 540)], atol=1e-5)
    expected = 3 * pieces[0].volume_mm3 + pieces[1].volume_mm3
    assert sum(s.Volume() for s in solids) == pytest.approx(expected, rel=1e-5)


def test_every_piece_is_written_once_with_name_mass_and_figures(pieces: list[Piece]) -> None:
    text = written(pieces, [150.0] * 9 + [90.0]).decode()
    assert text.count("MANIFOLD_SOLID_BREP") == 2
    assert text.count("NEXT_ASSEMBLY_USAGE_OCCURRENCE") == 10
    for name in ("PRODUCT('roller'", "PRODUCT('segment 150'", "PRODUCT('segment 90'", "10 pieces"):
        assert name in text
    assert text.count("'geometric validation property'") >= 2
    assert "DESCRIPTIVE_REPRESENTATION_ITEM('cast PU'" in text
    assert "rollergen-" not in text


def test_same_bytes_twice_in_one_process(pieces: list[Piece]) -> None:
    assert written(pieces, [150.0, 90.0]) == written(pieces, [150.0, 90.0])


def test_more_places_cost_little(pieces: list[Piece]) -> None:
    few, many = (len(written(pieces, [150.0] * n + [90.0])) for n in (1, 20))
    assert many < 1.1 * few


def test_what_cannot_be_an_assembly_is_refused(pieces: list[Piece]) -> None:
    for places in ([], [(5, np.eye(3, 4))]):
        with pytest.raises(ValueError, match="needs pieces"):
            assembly_bytes(pieces, places, name="x", compound="", density_kg_m3=1.0)
    with pytest.raises(BirthError, match="expected 2"):
        _numbered("NEXT_ASSEMBLY_USAGE_OCCURRENCE('1','a',", 2)
