"""Every reading of a scan held by its places: the least and the greatest of it beside its mean."""

from __future__ import annotations

from rollergen.shape.distance import Ints
from rollergen.shape.outline import Floats
from rollergen.spec.profile import Profile
from rollergen.tooling.part_features import Reading
from rollergen.tooling.scan_bore import hold_bore
from rollergen.tooling.scan_ends import Ends
from rollergen.tooling.scan_fitted import Fitted, look_of
from rollergen.tooling.scan_places import hold_diameters, hold_hub, hold_length, hold_walls
from rollergen.tooling.scan_strays import Shape, shape_of
from rollergen.tooling.scan_surfaces import BORE, CHAMBER, OUTER, Surfaces


def hold_places(
    readings: dict[str, Reading],
    q: Floats,
    rows: dict[int, Ints],
    profile: Profile,
    surfaces: Surfaces,
    ends: Ends,
    fitted: Fitted,
) -> dict[int, Shape]:
    """Puts the least and the greatest of each reading beside it; returns the form of each surface."""
    half = surfaces.length / 2
    looks = {which: look_of(which, q[mine], fitted, profile, half)[0] for which, mine in rows.items()}
    shapes = {
        which: shape_of(q[rows[which]], look, half) for which, look in looks.items() if look is not None
    }
    outer, inner = looks.get(OUTER), looks.get(CHAMBER)
    if outer is not None:
        names = surfaces.outer.names(outer.edge)
        hold_diameters(readings, q[rows[OUTER]], outer, names, shapes[OUTER], surfaces, ends)
    if inner is not None and fitted.outer is not None and fitted.chambers is not None and surfaces.chambers:
        names = surfaces.chambers.names(inner.edge)
        hold_walls(
            readings,
            q[rows[CHAMBER]],
            inner,
            names,
            fitted.outer,
            fitted.chambers,
            shapes[OUTER],
            surfaces,
            ends,
        )
    if fitted.bore is not None and fitted.chambers is not None and fitted.shape is not None:
        hold_hub(readings, fitted.bore, fitted.chambers, fitted.shape, profile)
    hole = looks.get(BORE)
    if hole is not None and fitted.bore is not None:
        hold_bore(readings, q[rows[BORE]], hole, fitted.bore, shapes[BORE], profile, surfaces, ends)
    hold_length(readings, ends, profile)
    return shapes
