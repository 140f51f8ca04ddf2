"""Synthetic scans: the exact surfaces of a profile, sampled as a scanner would, with known errors put in."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.distance import boundary_points
from rollergen.shape.outline import Outline
from rollergen.shape.section import Section, section_of
from rollergen.spec.profile import Profile
from rollergen.spec.reading import profile_from_text
from rollergen.tooling.shrinkage import scaled_outline

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TEXT = """
name = "measured"
[body]
diameter = "118 mm"
free_length = "152 mm"
edge_chamfer = "0 mm"
[ribs]
count = 5
height = "9 mm"
tip_width = "11 mm"
flank_angle = "15 deg"
tip_radius = "2.5 mm"
root_radius = "4 mm"
helix_pitch = "700 mm"
[bore]
section = "square"
across = "38 mm"
clearance = "0.3 mm"
corner_radius = "1.5 mm"
[chambers]
count = 6
wall = "8 mm"
web = "8 mm"
hub_wall = "8 mm"
corner_radius = "3 mm"
[compound]
name = "made up"
density = "1110 kg/m^3"
"""


def profile_with(*changes: tuple[str, str], text: str = TEXT) -> Profile:
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return profile_from_text(text)


def swept(outline: Outline, length: float, turn: float, spacing: float, *, hole: bool) -> tuple[Floats, Ints]:
    """A band of triangles along the exact helical surface, none longer than about ``spacing``."""
    ring = boundary_points(outline, spacing)
    heights = np.linspace(0.0, length, max(2, int(np.ceil(length / spacing)) + 1))
    angle = turn * heights
    c, s = np.cos(angle)[:, None], np.sin(angle)[:, None]
    points = np.stack(
        [
            c * ring[:, 0] - s * ring[:, 1],
            s * ring[:, 0] + c * ring[:, 1],
            np.broadcast_to(heights[:, None], (len(heights), len(ring))),
        ],
        axis=-1,
    ).reshape(-1, 3)
    n = len(ring)
    i, j = (g.ravel() for g in np.meshgrid(np.arange(len(heights) - 1), np.arange(n), indexing="ij"))
    a, b = i * n + j, i * n + (j + 1) % n
    facets = np.concatenate([np.stack([a, b, b + n], axis=1), np.stack([a, b + n, a + n], axis=1)])
    return points, facets[:, ::-1] if hole else facets


def end_face(section: Section, z: float, turn: float, spacing: float, *, up: bool) -> tuple[Floats, Ints]:
    """A flat grid of the rubber at height z (its rim is left ragged, as a scanner leaves it)."""
    from rollergen.shape.distance import signed_distance
    from rollergen.shape.outline import turned

    reach = 80.0
    steps = np.arange(-reach, reach, spacing)
    x, y = (g.ravel() for g in np.meshgrid(steps, steps, indexing="ij"))
    flat = np.stack([x, y], axis=1)
    inside = signed_distance(turned(section.outer, turn * z), flat) < -0.3
    for hole in section.holes:
        inside &= signed_distance(hole, flat) > 0.3
    n = len(steps)
    i, j = (g.ravel() for g in np.meshgrid(np.arange(n - 1), np.arange(n - 1), indexing="ij"))
    a, b, c, d = i * n + j, (i + 1) * n + j, (i + 1) * n + j + 1, i * n + j + 1
    facets = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    facets = facets[inside[facets].all(axis=1)]
    return np.column_stack([flat, np.full(len(flat), z)]), facets if up else facets[:, ::-1]


def part_mesh(
    profile: Profile, *, spacing: float = 2.0, radial: float = 1.0, axial: float = 1.0, chambers: bool = True
) -> tuple[Floats, Ints]:
    """Vertices and facets of the part, ``radial`` and ``axial`` times as large as asked for; pitch goes along."""
    plain = section_of(profile)
    section = Section(
        outer=scaled_outline(plain.outer, radial),
        bore=scaled_outline(plain.bore, radial),
        chambers=tuple(scaled_outline(c, radial) for c in plain.chambers),
    )
    length, turn = profile.body.free_length * axial, profile.turn_per_mm / axial
    pieces = [
        swept(section.outer, length, turn, spacing, hole=False),
        swept(section.bore, length, 0.0, spacing, hole=True),
        end_face(section, 0.0, turn, spacing, up=False),
        end_face(section, length, turn, spacing, up=True),
    ]
    if chambers:
        pieces += [swept(c, length, 0.0, spacing, hole=True) for c in section.chambers]
    points, facets, first = [], [], 0
    for p, f in pieces:
        points.append(p)
        facets.append(f + first)
        first += len(p)
    return np.concatenate(points), np.concatenate(facets)


def moved(points: Floats, seed: int) -> Floats:
    """Points turned any way and shifted by up to 300 mm."""
    from scipy.spatial.transform import Rotation

    rng = np.random.default_rng(seed)
    return Rotation.random(random_state=seed).apply(points) + rng.uniform(-300, 300, 3)


def noisy(points: Floats, facets: Ints, sigma: float, seed: int) -> Floats:
    """Each point shifted by Gaussian noise of ``sigma`` in every direction."""
    return points + np.random.default_rng(seed).normal(0.0, sigma, points.shape)


def only(points: Floats, facets: Ints, keep: NDArray[np.bool_]) -> tuple[Floats, Ints]:
    """The facets of which every corner is kept."""
    return points, facets[keep[facets].all(axis=1)]
