"""The least and the greatest of what a part measures from place to place: a mean hides an oval, a lean, a low rib."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, tau

import numpy as np
from numpy.typing import NDArray

from rollergen.shape.bore import bore_outline
from rollergen.shape.distance import Flags, Ints
from rollergen.shape.outline import Arc, Edge, Floats, Outline
from rollergen.spec.profile import Profile
from rollergen.tooling.part_features import Reading
from rollergen.tooling.scan_ends import Ends
from rollergen.tooling.scan_readings import hub_wall_of
from rollergen.tooling.scan_strays import Shape
from rollergen.tooling.scan_surfaces import Look, Surfaces, direction_of
from rollergen.tooling.section_fit import ChamberShape, Measured, bore_profile, chamber_shape

LEAST_AT_PLACE = 12  # points
AROUND, ALONG, THIRDS = 12, 5, 3  # places of a surface round and along; thirds of a rib or a wall
SURELY = 3.0  # standard errors taken off before a place counts as further off than the mean
MEDIAN = 1.2533  # standard error of a median over that of a mean, of normal errors: sqrt(pi / 2)
LEAST_ON_RIB = 25
LAND = 0.7  # of a tip land: points there are on no round
STRAIGHT = 0.6  # cosine between facing and straight away from the axis
ONE_RIB = "one of them is"
RADIALLY = 0.9  # the same for the wall of a chamber


def places(values: Floats, place: Ints, count: int) -> tuple[Floats, Floats]:
    """(median, standard error) of the values at each place, NaN where there are too few."""
    median, error = np.full(count, np.nan), np.full(count, np.nan)
    order = np.argsort(place, kind="stable")
    at = np.searchsorted(place[order], np.arange(count + 1))
    for number in range(count):
        mine = values[order[at[number] : at[number + 1]]]
        if len(mine) >= LEAST_AT_PLACE:
            median[number] = np.median(mine)
            spread = 1.4826 * np.median(np.abs(mine - median[number]))
            error[number] = MEDIAN * spread / np.sqrt(len(mine))
    return median, error


def surely_between(median: Floats, error: Floats, mean: float) -> tuple[float, float] | None:
    """(least, greatest) of the medians, each nearer to the mean by three of its errors; None where there is none."""
    known = np.isfinite(median)
    if not known.any():
        return None
    low = float(np.min(median[known] + SURELY * error[known]))
    high = float(np.max(median[known] - SURELY * error[known]))
    return min(low, mean), max(high, mean)


def hold_diameters(
    readings: dict[str, Reading],
    q: Floats,
    look: Look,
    names: NDArray[np.str_],
    shape: Shape,
    surfaces: Surfaces,
    ends: Ends,
) -> None:
    """Body and tips: twice the radius about the body's axis, by places and as its slow change of form has it.

    ``names``: feature of each point.
    """
    form = shape.at(np.arctan2(q[:, 1], q[:, 0]), q[:, 2])
    row = slice_of(q, surfaces, ends, ALONG)
    column = direction_of(np.arctan2(q[:, 1], q[:, 0]), AROUND)
    for key, feature, where, count in (
        ("body.diameter", "body", column, AROUND),
        ("tip diameter", "tip", look.number, surfaces.outer.count),
    ):
        mine = names == feature
        if key in readings and mine.any():
            value = readings[key].value
            found = places(2 * look.deviation[mine], (row * count + where)[mine], count * ALONG)
            low, high = surely_between(value + found[0], found[1], value) or (value, value)
            slow = value + 2 * np.percentile(form[mine], (1, 99))
            put_between(readings, key, (min(low, float(slow[0])), max(high, float(slow[1]))))


def hold_walls(
    readings: dict[str, Reading],
    q: Floats,
    look: Look,
    names: NDArray[np.str_],
    outer: Measured,
    chambers: Measured,
    shape: Shape,
    surfaces: Surfaces,
    ends: Ends,
) -> None:
    """Wall and web chamber by chamber, in thirds: from the body's own axis, as oval and bowed as it is."""
    half, count = surfaces.length / 2, 0 if surfaces.chambers is None else surfaces.chambers.count
    angle = np.arctan2(q[:, 1], q[:, 0])
    c, s = np.cos(angle), np.sin(angle)
    away = look.normal[:, 0] * c + look.normal[:, 1] * s
    third = slice_of(q, surfaces, ends, THIRDS)
    if "chambers.wall" in readings:
        up = q[:, 2] - half
        v, b = chambers.value, outer.value
        x = v["x"] - b["x"] + (v["tilt_x"] - b["tilt_x"]) * up
        y = v["y"] - b["y"] + (v["tilt_y"] - b["tilt_y"]) * up
        value = readings["chambers.wall"].value
        wall = value + look.deviation - x * c - y * s + shape.at(angle, q[:, 2])
        part = np.clip(((angle - _middle(surfaces, look.number)) % tau + np.pi) % tau - np.pi, -9, 9)
        step = tau / max(count, 1)
        sub = np.clip(((part / step + 0.5) * THIRDS).astype(np.int64), 0, THIRDS - 1)
        mine = away < -RADIALLY
        place = (look.number * THIRDS + sub) * THIRDS + third
        found = places(wall[mine], place[mine], count * THIRDS * THIRDS)
        put_between(readings, "chambers.wall", surely_between(*found, value))
    webs = names == "web"
    if "chambers.web" in readings and webs.any():
        ahead = (((angle - _middle(surfaces, look.number)) + np.pi) % tau - np.pi > 0).astype(np.int64)
        place = (look.number * 2 + ahead) * THIRDS + third
        median, error = places(look.deviation[webs], place[webs], count * 2 * THIRDS)
        median, error = median.reshape(count, 2, THIRDS), error.reshape(count, 2, THIRDS)
        value = readings["chambers.web"].value
        web = value + median[:, 1] + np.roll(median[:, 0], -1, axis=0)
        both = np.hypot(error[:, 1], np.roll(error[:, 0], -1, axis=0))
        put_between(readings, "chambers.web", surely_between(web.ravel(), both.ravel(), value))


def hold_hub(
    readings: dict[str, Reading],
    bore: Measured,
    chambers: Measured,
    shape: ChamberShape,
    profile: Profile,
) -> None:
    """Least hub wall where the bore lies off the chambers' axis, at the worse end."""
    reading = readings.get("chambers.hub_wall")
    if reading is None:
        return
    v, b, half = chambers.value, bore.value, profile.body.free_length / 2
    made = chamber_shape(shape, v)
    outline = bore_outline(bore_profile(profile, b).bore)
    error = hypot(*(m.error[key] for m in (bore, chambers) for key in ("x", "y")))
    error = hypot(error, half * max(bore.error["tilt_x"], chambers.error["tilt_x"]))
    least = reading.value
    for up in (-half, half):
        x = b["x"] - v["x"] + (b["tilt_x"] - v["tilt_x"]) * up
        y = b["y"] - v["y"] + (b["tilt_y"] - v["tilt_y"]) * up
        away = hypot(x, y)
        if away > SURELY * error:
            sure = 1 - SURELY * error / away
            hub = hub_wall_of(made, _shifted(outline, sure * x, sure * y))
            least = least if hub is None else min(least, hub)
    put_between(readings, "chambers.hub_wall", (least, reading.value))


def hold_length(readings: dict[str, Reading], ends: Ends, profile: Profile) -> None:
    """Length over the section where one end leans against the other."""
    reading, (low, high) = readings.get("body.free_length"), ends
    if reading is None or low is None or high is None:
        return
    lean = hypot(high.slope_x - low.slope_x, high.slope_y - low.slope_y) * profile.tip_radius
    lean = max(
        lean - 2 * SURELY * reading.error, 0.0
    )  # a slope at the rim is known half as well as the height
    put_between(readings, "body.free_length", (reading.value - lean, reading.value + lean))


def rib_heights_of(
    q: Floats,
    shape: Shape,
    tips: Flags,
    floors: Flags,
    number: Ints,
    profile: Profile,
    surfaces: Surfaces,
    ends: Ends,
) -> tuple[tuple[float | None, ...], tuple[float, float] | None]:
    """Each rib's own height, and (least, greatest) over the thirds of all of them.

    ``q`` about the body's axis; ``tips``, ``floors``: points where a tip land, a groove floor is asked, ``number`` the
    rib they belong to; ``shape`` is taken off, so that an oval body does not count as uneven ribs.  A rib that is not
    there has a height of 0 where its land should be: it is not one unseen.
    """
    if profile.ribs is None:
        return (), None
    r = np.hypot(q[:, 0], q[:, 1]) - shape.at(np.arctan2(q[:, 1], q[:, 0]), q[:, 2])
    third = slice_of(q, surfaces, ends, THIRDS)
    count = profile.ribs.count
    heights: list[float | None] = []
    steps: list[float] = []
    errors: list[float] = []
    for rib in range(count):
        tip, floor = tips & (number == rib), floors & (number == rib)
        if min(tip.sum(), floor.sum()) < LEAST_ON_RIB:
            heights.append(None)
            continue
        level = float(np.median(r[floor]))
        heights.append(float(np.median(r[tip])) - level)
        top, top_error = places(r[tip], third[tip], THIRDS)
        base, base_error = places(r[floor], third[floor], THIRDS)
        unknown = np.isnan(base)
        base[unknown], base_error[unknown] = level, 0.0
        steps += (top - base).tolist()
        errors += np.hypot(top_error, base_error).tolist()
    seen = [height for height in heights if height is not None]
    if not seen:
        return tuple(heights), None
    found = surely_between(np.array(steps), np.array(errors), float(np.mean(seen)))
    return tuple(heights), found


def on_lands(
    q: Floats, facing: Floats | None, mine: Flags, surfaces: Surfaces, turn_ratio: float
) -> tuple[Flags, Ints]:
    """(points where a tip land is asked and that face away from the axis, the rib of each point).

    ``mine``: points of the outer surface, however far off.
    """
    ring, half = surfaces.outer, surfaces.length / 2
    lands = [n for n, feature in enumerate(ring.features) if feature == "tip" and ring.table.is_arc[n]]
    step = tau / ring.count
    turn = ring.start + ring.twist * (half + turn_ratio * (q[:, 2] - half))
    angle = np.arctan2(q[:, 1], q[:, 0])
    number = np.rint((angle - turn) / step).astype(np.int64)
    nothing = np.zeros(len(q), dtype=bool)
    if not lands:
        return nothing, number % ring.count
    land = min(lands, key=lambda n: abs(float(np.arctan2(ring.table.middle[n, 1], ring.table.middle[n, 0]))))
    middle = float(np.arctan2(ring.table.middle[land, 1], ring.table.middle[land, 0]))
    reach = LAND * float(np.arccos(np.clip(ring.table.cos_half[land], -1, 1)))
    found: Flags = mine & (np.abs(angle - turn - number * step - middle) < reach)
    if facing is not None:
        found &= facing[:, 0] * np.cos(angle) + facing[:, 1] * np.sin(angle) > STRAIGHT
    return found, number % ring.count


def hold_ribs(
    readings: dict[str, Reading],
    heights: tuple[float | None, ...],
    over_thirds: tuple[float, float] | None,
    profile: Profile,
) -> None:
    """The height of the ribs is held by the one furthest off, and by its thirds, not by their mean alone."""
    seen = [height for height in heights if height is not None]
    if profile.ribs is None or not seen or "ribs.height" not in readings:
        return
    least, greatest = min(seen), max(seen)
    if over_thirds is not None:
        least, greatest = min(least, over_thirds[0]), max(greatest, over_thirds[1])
    put_between(readings, "ribs.height", (least, greatest), where=ONE_RIB)


def put_between(
    readings: dict[str, Reading],
    key: str,
    between: tuple[float, float] | None,
    *,
    where: str = "in one place it is",
) -> None:
    """Puts what a reading lies between from place to place beside it."""
    if between is not None:
        readings[key] = replace(readings[key], least=between[0], greatest=between[1], where=where)


def slice_of(q: Floats, surfaces: Surfaces, ends: Ends, count: int) -> Ints:
    """Which of ``count`` equal parts of the length each point lies in, the first at the low end."""
    low, high = (
        level if end is None else end.height for end, level in zip(ends, (0.0, surfaces.length), strict=True)
    )
    found: Ints = np.clip((q[:, 2] - low) / max(high - low, 1.0) * count, 0, count - 1).astype(np.int64)
    return found


def _middle(surfaces: Surfaces, number: Ints) -> Floats:
    """Angle of the middle of each chamber."""
    ring = surfaces.chambers
    start, step = (0.0, 0.0) if ring is None else (ring.start, tau / ring.count)
    return np.asarray(start + number * step, dtype=np.float64)


def _shifted(outline: Outline, x: float, y: float) -> Outline:
    def edge(e: Edge) -> Edge:
        if isinstance(e, Arc):
            return replace(e, centre=(e.centre[0] + x, e.centre[1] + y))
        return replace(e, start=(e.start[0] + x, e.start[1] + y), end=(e.end[0] + x, e.end[1] + y))

    return Outline(edges=tuple(edge(e) for e in outline.edges))
