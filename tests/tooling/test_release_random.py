"""Random valid ribs against brute force: leans, chains of normals, crossings, places of ribs."""

from __future__ import annotations

import importlib.util
from math import atan2, hypot, pi, tau
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from rollergen.shape.outline import Arc, Outline, circle, normal_at
from rollergen.shape.rib import outer_outline, rib_complaints
from rollergen.tooling.release_section import chain_of, crossing, lean_of, least_radius, point_on, ribs_of


def _neighbour(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


demo = _neighbour("test_release").demo


BASE = demo()


@st.composite
def valid_outlines(draw: st.DrawFn) -> Outline:
    """Outer curves of random ribs that a profile may have."""
    rounds = st.sampled_from([0.0, 0.4, 1.0, 2.0])
    ribs = BASE.ribs
    assert ribs is not None
    asked = {
        "count": draw(st.integers(1, 9)), "height": draw(st.floats(2, 12)), "tip_width": draw(st.floats(4, 16)),
        "flank_angle_ahead": draw(st.floats(0, 0.95)), "flank_angle_behind": draw(st.floats(0, 0.95)),
        "tip_radius": draw(rounds), "root_radius": draw(rounds), "start": draw(st.floats(0, 6.28)),
    }  # fmt: skip
    profile = BASE.model_copy(update={"ribs": ribs.model_copy(update=asked)})
    assume(not rib_complaints(profile))
    return outer_outline(profile)


def sampled(outline: Outline, many: int = 300) -> tuple[Any, Any]:
    """Polar and normal angles along the curve, (n,), both running on."""
    polar, nu = [], []
    for edge in outline.edges:
        for share in np.linspace(0, 1, many if isinstance(edge, Arc) else 3).tolist():
            p, n = point_on(edge, share), normal_at(edge, share)
            polar.append(atan2(p[1], p[0]))
            nu.append(atan2(n[1], n[0]))
    return np.unwrap(polar), np.unwrap(nu)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(outline=valid_outlines())
def test_lean_and_chains_against_many_samples(outline: Outline) -> None:
    polar, nu = sampled(outline)
    gamma = nu - polar
    gamma -= tau * np.round(gamma / tau)
    lean, ribs = lean_of(outline), ribs_of(outline)
    assert ribs is not None
    assert lean.ahead == pytest.approx(gamma.max(), abs=2e-3) and lean.ahead >= gamma.max() - 1e-9
    assert lean.behind == pytest.approx(-gamma.min(), abs=2e-3) and lean.behind >= -gamma.min() - 1e-9
    assume(lean.greatest < pi / 2 - 1e-3)
    for start in (ribs.centre, ribs.groove):
        shift = start - tau * np.floor((start - polar[0]) / tau)
        doubled_polar, doubled_nu = np.concatenate([polar, polar + tau]), np.concatenate([nu, nu + tau])
        for pieces in range(1, ribs.count):
            inside = (doubled_polar > shift + 1e-9) & (doubled_polar < shift + pieces * ribs.step - 1e-9)
            chain = chain_of(outline, start, start + pieces * ribs.step)
            width = doubled_nu[inside].max() - doubled_nu[inside].min()
            assert chain.greatest - chain.least == pytest.approx(width, abs=0.02)
            assert chain.greatest - chain.least >= width - 1e-9


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(outline=valid_outlines(), angle=st.floats(0, 6.28))
def test_a_ray_crosses_the_curve_where_it_says(outline: Outline, angle: float) -> None:
    number, share = crossing(outline, angle)
    p = point_on(outline.edges[number], share)
    assert (atan2(p[1], p[0]) - angle + pi) % tau - pi == pytest.approx(0, abs=1e-8)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(outline=valid_outlines())
def test_ribs_are_found_where_the_radius_says(outline: Outline) -> None:
    ribs = ribs_of(outline)
    assert ribs is not None
    for number in range(ribs.count):
        row, share = crossing(outline, ribs.groove + number * ribs.step)
        here = hypot(*point_on(outline.edges[row], share))
        assert here <= least_radius(outline) + 1.5  # the floor, or where two fillets meet above it
    assert ribs.body_radius == pytest.approx(59) or ribs.body_radius > 59


def test_least_radius_of_a_circle_off_the_axis() -> None:
    assert least_radius(circle(10, "body", centre=(3.0, 0.0))) == pytest.approx(7)
    assert lean_of(circle(10, "body", centre=(3.0, 0.0))).greatest == pytest.approx(np.arcsin(0.3))


def test_lean_of_a_full_arc_matches_the_closed_form() -> None:
    """A circle whose centre lies c off the axis leans by asin(c / r) at most."""
    outline = Outline((Arc((2.0, 1.0), 8.0, 0.3, tau, "body"),))
    assert lean_of(outline).ahead == pytest.approx(np.arcsin(hypot(2, 1) / 8), rel=1e-12)
