"""Trial pictures: same bytes, right size, and what the frames show."""

from __future__ import annotations

import io
from math import pi

import numpy as np
import pytest
from PIL import Image

from rollergen.export import trial_picture
from rollergen.export.trial_picture import DrawnRoller, mp4_possible, trial_animation, trial_bars
from rollergen.shape.outline import polygon

RED = np.array([0xC0, 0, 0])


def drawn(**changes: object) -> bytes:
    frames, bodies = 20, 12
    rng = np.random.default_rng(1)
    state = np.ones((frames, bodies), dtype=np.int8)
    state[10:, 0] = 2
    corners = [(66 * np.cos(a), 66 * np.sin(a)) for a in np.arange(6) * pi / 3]
    rollers = [
        DrawnRoller(
            outline=polygon(corners, "body"), radius=66.0, x=0.0, y=0.0, rotation_speed=-6.0, phase=0.2
        ),
        DrawnRoller(outline=None, radius=46.0, x=114.0, y=0.0, rotation_speed=-4.0, phase=0.0),
    ]
    said = {
        "rollers": rollers,
        "kinds": ["crop", "debris"],
        "time": np.linspace(0.0, 1.9, frames),
        "x": (rng.uniform(-60, 160, bodies) + np.zeros((frames, 1))).astype(np.float32),
        "y": (rng.uniform(80, 120, bodies) + np.zeros((frames, 1))).astype(np.float32),
        "state": state,
        "diameter": rng.uniform(20, 50, bodies),
        "item": np.arange(bodies) % 2,
        "title": "test",
        **changes,
    }
    return trial_animation(**said)


def frame(data: bytes, number: int) -> np.ndarray:
    image = Image.open(io.BytesIO(data))
    image.seek(number)
    return np.asarray(image.convert("RGB")).astype(int)


def red_pixels(page: np.ndarray) -> int:
    below_the_legend = page[60:]
    return int((np.abs(below_the_legend - RED).max(axis=-1) < 60).sum())


def test_same_track_same_bytes_and_a_small_file_with_every_frame():
    data = drawn()
    assert data == drawn() and data[:6] == b"GIF89a" and len(data) < 400_000
    image = Image.open(io.BytesIO(data))
    assert image.n_frames == 20 and image.info["duration"] == 100 and image.size[0] == 800


def test_a_seized_body_is_marked_for_a_moment_and_rollers_turn():
    data = drawn()
    early, marked, late = (red_pixels(frame(data, number)) for number in (5, 11, 18))
    assert early == 0 and marked > 50 and late == 0
    assert (frame(data, 1) != frame(data, 2)).any(axis=-1).sum() > 300


def test_one_frame_is_no_animation():
    with pytest.raises(ValueError, match="two frames or more"):
        drawn(time=np.zeros(1))


def test_mp4_without_its_program_says_so(monkeypatch):
    monkeypatch.setattr(trial_picture.shutil, "which", lambda name: None)
    with pytest.raises(ValueError, match="ask for a GIF"):
        drawn(form="mp4")


@pytest.mark.skipif(not mp4_possible(), reason="ffmpeg is not on this machine")
def test_mp4_is_one():
    assert b"ftyp" in drawn(form="mp4")[:16]


@pytest.mark.parametrize("form, starts", [("png", b"\x89PNG"), ("svg", b"<?xml")])
def test_bars_are_the_same_every_time(form, starts):
    said = {
        "names": ["crop", "stones"],
        "seized": [3, 40],
        "fell": [0, 2],
        "over": [40, 1],
        "on_bed": [57, 7],
        "errors": [[1.7, 3.0], [1.0, 1.4], [5.0, 1.0], [5.0, 2.5]],
        "title": "test",
        "form": form,
    }
    data = trial_bars(**said)
    assert data.startswith(starts) and data == trial_bars(**said)
    assert data != trial_bars(**{**said, "seized": [4, 40]})
