"""Everything that follows from one profile: its report, and the files that leave."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from rollergen.answer.fitted import FittedGap, fitted_gaps
from rollergen.answer.gap_verdict import GapReport, check_gap
from rollergen.errors import ProfileError
from rollergen.shape.part import Part
from rollergen.shape.section import Section, envelope_of, part_of, section_of, thicknesses_of
from rollergen.spec.profile import Profile
from rollergen.spec.reading import Source, placed
from rollergen.study.mass import weigh

SCHEMA = 1
FORMATS = ("step", "stl", "3mf", "glb", "dxf")
DEFAULT_FORMATS = ("step", "stl", "3mf", "glb")


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A profile with its section and the part it makes."""

    profile: Profile
    section: Section
    part: Part


def draw(source: Source, *, detail: str = "full") -> Drawn:
    """Section and part of a profile; geometric complaints come with file, line and column."""
    profile = source.profile
    try:
        section = section_of(profile)
    except ProfileError as wrong:
        raise ProfileError(placed(wrong.complaints, source)) from wrong
    make = envelope_of if detail == "envelope" else part_of
    return Drawn(profile=profile, section=section, part=make(profile, section))


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """One mate: the nominal gap as cast, and what is left of it as fitted."""

    gap: GapReport
    fitted: FittedGap

    @property
    def entry(self) -> dict[str, Any]:
        """What the report says of this mate."""
        left = asdict(self.fitted)
        names = ("tip_gap_band_mm", "body_gap_band_mm", "budget", "least_left_mm", "most_left_mm", "reasons")
        return {
            **asdict(self.gap),
            "ok_fitted": self.fitted.ok_fitted,
            "fitted": {name: left[name] for name in names},
        }


def verdicts_of(drawn: Drawn, source: Source, *, warm_by: float | None = None) -> tuple[Verdict, ...]:
    """The verdict on every mate; ``warm_by`` in K.  Complaints come with file, line and column."""
    try:
        gaps = check_gap(drawn.profile, drawn.section)
        fitted = fitted_gaps(drawn.profile, gaps, warm_by=warm_by)
    except ProfileError as wrong:
        raise ProfileError(placed(wrong.complaints, source)) from wrong
    return tuple(Verdict(gap=g, fitted=f) for g, f in zip(gaps, fitted, strict=True))


def limits_met(verdicts: Sequence[Verdict], *, strict: bool) -> bool:
    """Nominal gaps as cast; with ``strict`` the as-fitted verdict counts too."""
    return all(v.gap.ok and (v.fitted.ok_fitted or not strict) for v in verdicts)


def report_of(drawn: Drawn, verdicts: Sequence[Verdict], files: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """The content of ``<name>.report.json``: plain numbers, never rounded."""
    profile = drawn.profile
    weight = weigh(profile, drawn.section, drawn.part)
    return {
        "schema": SCHEMA,
        "profile": profile.name,
        **asdict(weight),
        **asdict(thicknesses_of(drawn.section, profile.body_radius)),
        "tip_diameter_mm": 2 * profile.tip_radius,
        "body_diameter_mm": profile.body.diameter,
        "length_mm": profile.body.free_length,
        "gaps": [verdict.entry for verdict in verdicts],
        "files": list(files),
    }


def write_formats(
    drawn: Drawn, formats: Sequence[str], *, chord_error: float, degree: int
) -> list[tuple[str, bytes, dict[str, Any]]]:
    """(kind, bytes, what the report says of it) for each format asked for."""
    made: list[tuple[str, bytes, dict[str, Any]]] = []
    if "step" in formats:
        made.append(_step(drawn, degree))
    if set(formats) & {"stl", "3mf", "glb"}:
        made.extend(_meshed(drawn, formats, chord_error))
    if "dxf" in formats:
        made.append(_dxf(drawn))
    return [(kind, data, {**entry, **_identity(kind, data)}) for kind, data, entry in made]


def _identity(kind: str, data: bytes) -> dict[str, Any]:
    return {"kind": kind, "bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}


def _step(drawn: Drawn, degree: int) -> tuple[str, bytes, dict[str, Any]]:
    from rollergen.export.step import step_bytes
    from rollergen.shape.part_volume import centroid_of_part, surface_of, volume_of
    from rollergen.shape.solid import build_solid
    from rollergen.shape.solid_volume import volume_by_faces

    solid = build_solid(drawn.part, degree=degree)
    volume = volume_of(drawn.part)
    data = step_bytes(
        solid,
        name=drawn.profile.name,
        part_name=f"{drawn.profile.name} segment",
        colour=drawn.part.colour,
        compound=drawn.profile.compound.name,
        density_kg_m3=drawn.profile.compound.density_kg_m3,
        volume_mm3=volume,
        area_mm2=surface_of(drawn.part),
        centroid_mm=centroid_of_part(drawn.part),
    )
    error = volume_by_faces(solid) / volume - 1
    return ("step", data, {"deviation_mm": None, "volume_error": error})


def _meshed(
    drawn: Drawn, formats: Sequence[str], chord_error: float
) -> list[tuple[str, bytes, dict[str, Any]]]:
    from rollergen.export.glb import glb_bytes
    from rollergen.export.stl import stl_bytes
    from rollergen.export.threemf import threemf_bytes
    from rollergen.shape.mesh import build_mesh
    from rollergen.shape.mesh_check import mesh_volume
    from rollergen.shape.part_volume import volume_of

    mesh = build_mesh(drawn.part, chord_error=chord_error)
    name, compound = drawn.profile.name, drawn.profile.compound
    entry = {
        "deviation_mm": mesh.deviation_mm,
        "volume_error": mesh_volume(mesh.vertices, mesh.triangles) / volume_of(drawn.part) - 1,
        "triangles": len(mesh.triangles),
    }
    writers: dict[str, Callable[[], bytes]] = {
        "stl": lambda: stl_bytes(mesh, name),
        "3mf": lambda: threemf_bytes(
            [(name, mesh, drawn.part.colour)],
            title=name,
            compound=compound.name,
            density_kg_m3=compound.density_kg_m3,
        ),
        "glb": lambda: glb_bytes(mesh, name=name, colour=drawn.part.colour),
    }
    return [(kind, writers[kind](), entry) for kind in ("stl", "3mf", "glb") if kind in formats]


def _dxf(drawn: Drawn) -> tuple[str, bytes, dict[str, Any]]:
    from rollergen.export.dxf import dxf_bytes

    section = drawn.section
    chambers = [(f"CHAMBER_{number}", c) for number, c in enumerate(section.chambers, start=1)]
    data = dxf_bytes([("OUTER", section.outer), ("BORE", section.bore), *chambers])
    return ("dxf", data, {"deviation_mm": 0.0, "volume_error": None})
