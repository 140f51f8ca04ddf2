"""The surfaces of a scanned part as they were measured, and what points see of them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rollergen.shape.distance import Ints
from rollergen.shape.outline import Floats
from rollergen.shape.section import Section
from rollergen.spec.profile import Profile
from rollergen.tooling.scan_readings import chamber_shape_of
from rollergen.tooling.scan_surfaces import BORE, CHAMBER, OUTER, Look, Surfaces
from rollergen.tooling.section_fit import (
    ChamberShape,
    Grain,
    Measured,
    fit_bore,
    fit_chambers,
    fit_outer,
    look_bore,
    look_chambers,
    look_outer,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """The surfaces as they were measured; None for one that was not seen."""

    outer: Measured | None
    bore: Measured | None
    chambers: Measured | None
    shape: ChamberShape | None


def fitted_surfaces(
    q: Floats,
    rows: dict[int, Ints],
    profile: Profile,
    section: Section,
    surfaces: Surfaces,
    grain: Grain,
    *,
    chambers_turned: float = 0.0,
) -> Fitted:
    """Each surface fitted to its points.  ``chambers_turned`` (rad): where they lie already, against where drawn."""
    shape = chamber_shape_of(profile, section)
    return Fitted(
        outer=fit_outer(q[rows[OUTER]], profile, grain=grain) if OUTER in rows else None,
        bore=fit_bore(q[rows[BORE]], profile, grain=grain) if BORE in rows else None,
        chambers=_fitted_chambers(q[rows[CHAMBER]], shape, surfaces.length / 2, grain, chambers_turned)
        if CHAMBER in rows and shape is not None
        else None,
        shape=shape,
    )


def _fitted_chambers(
    points: Floats, shape: ChamberShape, half: float, grain: Grain, turned: float
) -> Measured:
    """Fitted from where they lie, as one wall is soon taken for the next; told from where they were drawn."""
    found = fit_chambers(points, replace(shape, start=shape.start + turned), half, grain=grain)
    return replace(found, value=found.value | {"turn": found.value["turn"] + turned})


def too_fine(fitted: Fitted, grain: Grain) -> dict[str, str]:
    """Why a round of a surface that was seen has no reading."""
    why = f"too small for {grain.words}"
    found: dict[str, str] = {}
    for m, keys in (
        (fitted.outer, ("ribs.tip_radius", "ribs.root_radius")),
        (fitted.bore, ("bore.corner_radius",)),
        (fitted.chambers, ("chambers.corner_radius",)),
    ):
        if m is not None:
            found |= {key: why for key in keys if key.split(".")[1] not in m.value}
    return found


def look_of(
    which: int, points: Floats, fitted: Fitted, profile: Profile, half: float
) -> tuple[Look | None, float]:
    """What points see of a surface as it was measured, and its spread; None for one that was not."""
    if len(points) == 0:
        return None, 0.0
    if which == OUTER and fitted.outer is not None:
        return look_outer(points, profile, fitted.outer.value), fitted.outer.spread
    if which == BORE and fitted.bore is not None:
        return look_bore(points, profile, fitted.bore.value), fitted.bore.spread
    if which == CHAMBER and fitted.chambers is not None and fitted.shape is not None:
        return look_chambers(points, fitted.shape, fitted.chambers.value, half), fitted.chambers.spread
    return None, 0.0
