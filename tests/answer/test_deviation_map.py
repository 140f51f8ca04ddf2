"""The coloured map of a scan is as fine as its points allow, and no finer."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from rollergen.answer.deviation_map import MAPS, deviation_map
from rollergen.tooling.scan_surfaces import OUTER

LENGTH = 120.0


def mapped(columns: int, rows: int, *, upto: float = 1.0) -> Any:
    """The map of one point in the middle of each of ``columns`` x ``rows`` places, seen ``upto`` a share of the turn."""
    turn, height = np.meshgrid((np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows)
    seen = turn.ravel() < upto
    angle, z = 2 * np.pi * turn.ravel()[seen], LENGTH * height.ravel()[seen]
    q = np.stack([50 * np.cos(angle), 50 * np.sin(angle), z], axis=1)
    taken: Any = SimpleNamespace(kind=np.full(len(q), OUTER), q=q, deviation=0.001 * z)
    laid: Any = SimpleNamespace(surfaces=SimpleNamespace(length=LENGTH))
    return deviation_map(taken, laid)


@pytest.mark.parametrize(("columns", "rows"), MAPS)
def test_the_map_is_as_fine_as_the_points_lie_and_has_no_holes(columns: int, rows: int) -> None:
    shown = mapped(columns, rows)
    assert shown.deviation.shape == (rows, columns) == (len(shown.z), len(shown.angle))
    np.testing.assert_allclose(shown.deviation, 0.001 * shown.z[:, None] + 0 * shown.angle, rtol=1e-12)


def test_what_was_not_seen_stays_empty_and_does_not_coarsen_the_rest() -> None:
    shown = mapped(432, 180, upto=0.5)
    assert shown.deviation.shape == (60, 144)
    assert np.isfinite(shown.deviation[:, :72]).all() and np.isnan(shown.deviation[:, 72:]).all()
