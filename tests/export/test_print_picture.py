"""The picture of a print: what leans has the colour its key says."""

from __future__ import annotations

import io
from math import cos, radians, sin

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.image import imread

from rollergen.export import print_picture
from rollergen.export.print_picture import CLASSES, EVEN, EYE, Leaning
from rollergen.export.shading import shaded_png


def leaning_plate(lean_deg: float, beside_deg: float) -> Leaning:
    """A triangle that hangs over by ``lean_deg``, seen from ``beside_deg`` off its middle."""
    around, down = radians(EYE.azimuth_deg + beside_deg), radians(lean_deg)
    across = np.array([-sin(around), cos(around), 0.0])
    out = np.array([cos(around), sin(around), 0.0])
    up = out * sin(down) + np.array([0.0, 0.0, cos(down)])
    corners = np.array([[0.0, 0.0, 0.0], 10 * across, 5 * across + 10 * up])
    return Leaning(
        vertices=corners, triangles=np.array([[0, 1, 2]], dtype=np.int32), surface=np.array([0], dtype=np.int32),
        lean_deg=np.array([lean_deg]), name="plate",
    )  # fmt: skip


def colour_of(plate: Leaning, even: float) -> np.ndarray:
    (shown,) = print_picture._by_lean(plate)
    page = imread(io.BytesIO(shaded_png([shown], eye=EYE, width=120, height=120, even=even)), format="png")
    pixels, counts = np.unique(page.reshape(-1, page.shape[-1])[:, :3], axis=0, return_counts=True)
    inside = np.any(pixels < 0.995, axis=1)
    return pixels[inside][counts[inside].argmax()]


def nearest_class(colour: np.ndarray) -> int:
    return int(np.argmin([np.abs(colour - to_rgb(each)).sum() for _, each in CLASSES]))


@pytest.mark.parametrize("beside", [-60.0, 0.0, 55.0])
@pytest.mark.parametrize(("lean", "number"), [(5.0, 0), (25.0, 1), (29.5, 1), (40.0, 2), (50.0, 3)])
def test_a_leaning_surface_is_found_in_the_key(lean: float, number: int, beside: float) -> None:
    seen = colour_of(leaning_plate(lean, beside), EVEN)
    assert nearest_class(seen) == number
    assert np.abs(seen - to_rgb(CLASSES[number][1])).max() < 0.12


def test_with_the_full_play_of_light_it_is_not() -> None:
    """Why the light is evened out: a light blue flank turns slate."""
    seen = colour_of(leaning_plate(25.0, -60.0), 0.0)
    assert np.abs(seen - to_rgb(CLASSES[1][1])).max() > 0.3
