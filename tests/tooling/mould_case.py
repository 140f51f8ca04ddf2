"""Moulds the tests of this folder look at, and the profiles they are made for."""

from __future__ import annotations

from functools import cache
from math import cos, radians, sin
from pathlib import Path

import manifold3d
import numpy as np
import pytest

from rollergen.shape.mesh import Mesh
from rollergen.shape.part_volume import volume_of
from rollergen.shape.section import part_of, section_of
from rollergen.spec.profile import Profile
from rollergen.spec.reading import profile_from_text, read_profile
from rollergen.spec.schema import starting_profile
from rollergen.tooling.cavity import (
    cavity_of,
)
from rollergen.tooling.mould import Compound, Mould, mould_of
from rollergen.tooling.mould_numbers import MouldReport, mould_report
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.pieces import Split
from rollergen.tooling.shrinkage import Shrinkage

FOLDER = Path(__file__).resolve().parents[2] / "profiles"
PROFILES = sorted(FOLDER.glob("*.toml"))
GENERAL = FOLDER / "beet-general.toml"
UNEVEN = Shrinkage(radial=0.016, axial=0.011, source="test")
RUBBER = Compound(name="test rubber", density_kg_m3=1100.0)
HALF = radians(0.5)
USUAL = Tool(core_draft=HALF)
QUICK = ("beet-general", "plain-sleeve", "celeriac-transfer")
SOME = [p if p.stem in QUICK else pytest.param(p, marks=pytest.mark.slow) for p in PROFILES]
TEXTS = ("PN-07", "CAST PU 80A", "2026-05-12")


@cache
def mould_at(path: Path, *, split: str = "", draft: float = HALF, marks: tuple[str, ...] = ()) -> Mould:
    profile = read_profile(path)
    return mould_from(profile, split=split, tool=Tool(core_draft=draft, marks=marks))


def mould_from(profile: Profile, *, split: str = "", tool: Tool = USUAL) -> Mould:
    cavity = cavity_of(
        profile, section_of(profile), UNEVEN, core_draft=tool.core_draft,
        mandrel_draft=tool.mandrel_draft, nominal_end=tool.nominal_end, fits=tool.fits,
    )  # fmt: skip
    parted = None
    if split and profile.ribs is not None:
        parted = Split(pieces=profile.ribs.count, on="tips" if split == "tips" else "grooves")
    return mould_of(cavity, tool, RUBBER, split=parted)


def changed(*pairs: tuple[str, str]) -> Profile:
    text = starting_profile()
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    return profile_from_text(text)


def numbers(mould: Mould, profile: Profile) -> MouldReport:
    return mould_report(
        mould, UNEVEN, RUBBER, part_nominal_mm3=volume_of(part_of(profile, section_of(profile))),
        drafts=(mould.tool.core_draft, mould.tool.mandrel_draft), cautions=(),
    )  # fmt: skip


def bore_of(*lines: str) -> tuple[str, str]:
    """The starting profile's bore table exchanged for another."""
    text = starting_profile()
    start = text.index("[bore]")
    old = text[start : text.index("[chambers]", start)]
    return (old, "\n".join(("[bore]", 'across = "36 mm"', 'clearance = "0.6 mm"', *lines, "", "")))


VARIANTS = {
    "round bore": (bore_of('section = "round"', 'lead_in = "1 mm"', 'shaft_tolerance = "0.1 mm"'),),
    "hexagon": (
        bore_of('section = "hexagon"', 'corner_radius = "1 mm"', 'lead_in = "1 mm"', 'shaft_tolerance = "0.1 mm"'),
    ),
    "keyed": (
        bore_of(
            'section = "keyed"', 'key_width = "10 mm"', 'key_depth = "3.3 mm"', 'corner_radius = "0.5 mm"',
            'lead_in = "1 mm"', 'shaft_tolerance = "0.1 mm"',
        ),
    ),
    "no lead-in": (
        bore_of('section = "square"', 'corner_radius = "2 mm"', 'lead_in = "0 mm"', 'shaft_tolerance = "0.1 mm"'),
    ),
    "round chambers": (('section = "sector"', 'section = "round"'),),
    "no chamfer": (('# edge_chamfer = "1 mm"', 'edge_chamfer = "0 mm"'),),
    "straight ribs": (('helix_pitch = "650 mm"', 'helix_pitch = "straight"'),),
    "left hand": (('hand = "right"', 'hand = "left"'),),
    "sharp tips": (('tip_radius = "2.5 mm"', 'tip_radius = "0 mm"'),),
}  # fmt: skip


def as_manifold(mesh: Mesh, angle: float = 0.0) -> manifold3d.Manifold:
    c, s = cos(angle), sin(angle)
    points = mesh.vertices @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
    made = manifold3d.Manifold(manifold3d.Mesh64(points, mesh.triangles.astype(np.uint64)))
    assert made.status() == manifold3d.Error.NoError
    return made
