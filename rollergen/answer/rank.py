"""Which profile suits a duty: an ordered table with its reasons, every weight visible.

    score = sum of weight x points, each between 0 and 1:
      crop      1 - share of the crop that can be seized at its highest friction
      debris    share of the debris sizes that is surely seized or drops through, mean over the kinds judged
      windows   share of a turn the gap stands open for a crumb of loose soil (``crumb``, mm)
      chances   rib passings a second that seize debris of middle size, over ``plenty`` a second, at most 1

A profile that misses a gap it asks for comes after all that meet theirs.  Equal scores go by name.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields, replace

import numpy as np

from rollergen.answer.duty_items import Running, items_for, pair_for, smooth_mate_of
from rollergen.answer.gap_verdict import misses_of
from rollergen.answer.report import Drawn, draw_profile
from rollergen.answer.shedding import shed_by
from rollergen.errors import ProfileError, UsageError
from rollergen.shape.touching_hold import largest_held
from rollergen.shape.touching_mate import Pair, drop_size, open_share
from rollergen.spec.duty import Duty
from rollergen.spec.limits import broken_limits
from rollergen.spec.profile import Profile
from rollergen.spec.trace import Figure
from rollergen.study.grip import Item
from rollergen.study.harm import chance, froude_number, share_below

PLENTY = 10.0  # chances a second from which more add nothing; ours, settable
CRUMB = 5.0  # mm: loose soil that should find a window; ours, settable
MOST_TIP, MOST_ROOT = 0.3, 0.45  # of a rib's height: roundings a proposed rib carries at most
SIZE_WITHIN = 1e-4  # of a size: far below what friction leaves open
HEIGHT_STEP, HEIGHT_REACH = 0.5, 4.0  # mm: rib heights tried for the second
GAPS_ALIKE = 0.1  # mm: tip gaps further apart than this are told


@dataclass(frozen=True, slots=True, kw_only=True)
class Weights:
    """What each criterion counts, 0 or more; ``plenty`` chances a second count full, ``crumb`` in mm.

    As shipped, one per cent of the crop weighs as much as ten per cent of the debris.
    """

    crop: float = 40.0
    debris: float = 4.0
    windows: float = 1.0
    chances: float = 1.0
    plenty: float = PLENTY
    crumb: float = CRUMB

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if not 0 <= value < 1e6:
                raise UsageError(f"weight {field.name} {value:g} must be 0 or more, and below 1e6")
        if (
            not self.plenty > 0
            or not self.crumb > 0
            or not self.crop + self.debris + self.windows + self.chances > 0
        ):
            raise UsageError("weights: plenty and crumb must be above 0, and one of the four weights too")


USUAL = Weights()


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One kind of debris: the size up to which it surely goes (mm), the share of its sizes below that.

    ``share`` is None for what is not judged (haulm lying across).
    """

    name: str
    sure_size_mm: float
    share: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranked:
    """One profile in the table.  ``points`` are the four criteria, 0 to 1; ``score`` their weighted sum.

    ``crop_grip_mm``: largest body seized at the crop's highest friction, the worse side.  ``shed``: the
    verdict of spin alone, told and not scored; None for a duty without soil.
    """

    place: int
    profile: str
    mate: str
    score: float
    points: dict[str, float]
    gaps_ok: bool
    tip_gap_mm: float
    crop_grip_mm: float
    crop_at_risk: float
    taken: tuple[Taken, ...]
    open_share: float
    chances_per_s: float
    froude: float
    shed: str | None
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """The ordered table, the weights it stands on, and what would have to change for the second to win."""

    duty: str
    weights: Weights
    rows: tuple[Ranked, ...]
    second_would_win: tuple[str, ...]
    notes: tuple[str, ...]


def rank(
    drawn: Sequence[Drawn],
    duty: Duty,
    running: Running,
    *,
    weights: Weights = USUAL,
    tip_gap: float | None = None,
) -> Ranking:
    """Order profiles for a duty; ``tip_gap`` (mm) moves every mate so that all are compared at one gap.

    Raises UsageError for two profiles of one name or without a smooth mate, ProfileError from geometry.
    """
    names = [d.profile.name for d in drawn]
    twins = sorted({n for n in names if names.count(n) > 1})
    if twins:
        raise UsageError(f"two profiles are called {', '.join(twins)}; a table goes by name")
    if tip_gap is not None:
        drawn = [at_tip_gap(d, tip_gap) for d in drawn]
    judged = [judge(d, duty, running, weights) for d in drawn]
    order = sorted(range(len(judged)), key=lambda i: (not judged[i].gaps_ok, -judged[i].score, names[i]))
    rows = tuple(replace(judged[i], place=place) for place, i in enumerate(order, start=1))
    second = _second_would_win(rows, drawn[order[1]], duty, running, weights) if len(rows) > 1 else ()
    return Ranking(
        duty=duty.name, weights=weights, rows=rows, second_would_win=second, notes=_notes(rows, tip_gap)
    )


def judge(drawn: Drawn, duty: Duty, running: Running, weights: Weights = USUAL) -> Ranked:
    """One profile's row; its place is given by the table."""
    number, mate = smooth_mate_of(drawn.profile)
    pair = pair_for(drawn, number, mate, running)
    crop, *debris = items_for(duty)
    grip_size, sure = _sizes(pair, crop, debris)
    froude = froude_number(running.speed_rpm, pair.tip_radius)
    taken = tuple(_taken(item, size) for item, size in zip(debris, sure, strict=True))
    kinds = [(item, t) for item, t in zip(debris, taken, strict=True) if t.share is not None]
    windows = float(open_share(pair, np.array([weights.crumb]))[0])
    passings = pair.count * running.speed_rpm / 60
    risk = share_below(crop.sieve, grip_size)
    chances = [passings * _chance(pair, item, t, froude) for item, t in kinds]
    often = _mean(chances)
    points = {
        "crop": 1 - risk,
        "debris": _mean([t.share for _, t in kinds if t.share is not None]),
        "windows": windows,
        "chances": min(often / weights.plenty, 1.0),
    }
    counted = asdict(weights)
    missed = misses_of(drawn.profile, drawn.section)
    row = Ranked(
        place=0,
        profile=drawn.profile.name,
        mate=mate.name,
        score=sum(counted[name] * value for name, value in points.items()),
        points=points,
        gaps_ok=not missed,
        tip_gap_mm=pair.tip_gap,
        crop_grip_mm=grip_size,
        crop_at_risk=risk,
        taken=taken,
        open_share=windows,
        chances_per_s=often,
        froude=froude,
        shed=shed_by(drawn.profile, duty, running).verdict if duty.soil is not None else None,
        words=(),
    )
    return replace(row, words=(*_words(row, crop), *missed))


def at_tip_gap(drawn: Drawn, tip_gap: float) -> Drawn:
    """The same segment with its smooth mates moved to one tip gap (mm)."""
    profile = drawn.profile
    mates = tuple(
        m.model_copy(update={"axis_distance": profile.tip_radius + m.diameter / 2 + tip_gap})
        if m.kind == "smooth" and m.diameter
        else m
        for m in profile.mates
    )
    return replace(drawn, profile=profile.model_copy(update={"mates": mates}))


def with_height(profile: Profile, height: float) -> Profile | None:
    """The profile with ribs of another height on the same tip circle (so at the same gap), None if it can't be.

    The body gives way, and roundings that would not fit a low rib shrink with it; where chambers, bore or
    ribs do not allow it there is no such profile.
    """
    ribs = profile.ribs
    if ribs is None or not 0 < height < profile.tip_radius:
        return None
    tip, root = min(ribs.tip_radius, MOST_TIP * height), min(ribs.root_radius, MOST_ROOT * height)
    body = profile.body.model_copy(
        update={
            "diameter": 2 * (profile.tip_radius - height),
            "edge_chamfer": min(profile.body.edge_chamfer, tip / 2) if tip else profile.body.edge_chamfer,
        }
    )
    low = ribs.model_copy(update={"height": height, "tip_radius": tip, "root_radius": root})
    changed = profile.model_copy(update={"body": body, "ribs": low})
    return None if broken_limits(changed) else changed


def drawn_from(profile: Profile) -> Drawn | None:
    """Section and part of a profile made by changing another, None where geometry refuses it."""
    try:
        return draw_profile(profile)
    except ProfileError:
        return None  # the candidate is dropped, nobody asked for it by file


def _sizes(pair: Pair, crop: Item, debris: Sequence[Item]) -> tuple[float, list[float]]:
    """Largest body seized at the crop's highest friction, and per debris the size that surely goes (mm)."""
    low = [item.governing[0] for item in debris]
    high = crop.governing[1]
    half = np.arctan(np.array([high, high, *low]))
    rising = np.array([False, True, *(False for _ in low)])
    fans = np.array([True, False, *(False for _ in low)])
    if not pair.twist:
        fans = ~rising  # a straight rib's push by two contacts is certain
    found = largest_held(pair, half, rising=rising, fans=fans, within=SIZE_WITHIN)
    drop = drop_size(pair)
    return float(found[:2].max()), [max(float(size), drop) for size in found[2:]]


def _taken(item: Item, sure: float) -> Taken:
    if item.shape == "across":
        return Taken(name=item.name, sure_size_mm=sure, share=None)
    if item.largest == item.smallest:
        share = float(item.largest <= sure)
    else:
        share = min(max((sure - item.smallest) / (item.largest - item.smallest), 0.0), 1.0)
    return Taken(name=item.name, sure_size_mm=sure, share=share)


def _chance(pair: Pair, item: Item, taken: Taken, froude: float) -> float:
    middle = (item.smallest + item.largest) / 2
    return (
        chance(froude, middle / taken.sure_size_mm) if middle > pair.tip_gap and taken.sure_size_mm else 0.0
    )


def _mean(values: Sequence[float]) -> float:
    return float(np.mean(values)) if len(values) else 0.0


def _words(row: Ranked, crop: Item) -> list[str]:
    said = []
    if row.crop_at_risk > 0:
        said.append(
            f"{row.crop_at_risk:.0%} of the {crop.name} is below {row.crop_grip_mm:.1f} mm and can be seized at"
            f" friction {crop.governing[1]:g}"
        )
    else:
        said.append(f"{crop.name} stays: nothing above {row.crop_grip_mm:.1f} mm is seized")
    for taken in row.taken:
        if taken.share is None:
            said.append(f"{taken.name} lying across is not judged")
        else:
            said.append(
                f"{taken.share:.0%} of the {taken.name} surely goes (up to {taken.sure_size_mm:.1f} mm)"
            )
    if row.shed is not None:
        said.append(f"its mud leaves: {row.shed}")
    said.append(f"{row.chances_per_s:.1f} chances a second, open {row.open_share:.0%} of a turn for crumbs")
    return said


def _second_would_win(
    rows: Sequence[Ranked], second: Drawn, duty: Duty, running: Running, weights: Weights
) -> tuple[str, ...]:
    first, other = rows[0], rows[1]
    behind = first.score - other.score
    if not other.gaps_ok and first.gaps_ok:
        return (f"{other.profile} first has to meet the gaps it asks for",)
    said = [f"{other.profile} is {behind:.2f} points behind {first.profile}"]
    counted = asdict(weights)
    for name, value in other.points.items():
        needed = value + behind / counted[name] if counted[name] else 2.0
        if needed <= 1:
            said.append(
                f"it would draw level with {name} at {needed:.2f} instead of {value:.2f}, all else equal"
            )
    said.extend(_height_that_wins(first, second, duty, running, weights))
    return tuple(said)


def _height_that_wins(
    first: Ranked, second: Drawn, duty: Duty, running: Running, weights: Weights
) -> tuple[str, ...]:
    """The nearest rib height, on the same tip circle, with which the second would win."""
    ribs = second.profile.ribs
    if ribs is None:
        return ()
    steps = [
        s * HEIGHT_STEP * sign for s in range(1, int(HEIGHT_REACH / HEIGHT_STEP) + 1) for sign in (1, -1)
    ]
    for step in steps:
        changed = with_height(second.profile, ribs.height + step)
        redrawn = drawn_from(changed) if changed else None
        if redrawn is not None and judge(redrawn, duty, running, weights).score > first.score:
            return (
                f"with ribs of {ribs.height + step:g} mm instead of {ribs.height:g} mm on the same tip circle it"
                " would win",
            )
    return (
        f"no rib height within {HEIGHT_REACH:g} mm of its {ribs.height:g} mm on the same tip circle makes it win",
    )


def _notes(rows: Sequence[Ranked], tip_gap: float | None) -> tuple[str, ...]:
    notes = ["sizes say what a pair can seize, one body at a time; friction is the weakest input"]
    gaps = [row.tip_gap_mm for row in rows]
    if tip_gap is None and max(gaps) - min(gaps) > GAPS_ALIKE:
        notes.append(
            f"tip gaps differ, {min(gaps):.2f} to {max(gaps):.2f} mm: give one tip gap to compare the ribs alone"
        )
    if any(row.froude > 1 for row in rows):
        notes.append("Froude number above 1: bodies are thrown; the order holds, single sizes do not")
    return tuple(notes)


_OURS = "ours: a weighted sum, every weight printed"
_CAN = "can, not will: a chance a rib passing, falling with speed"


def _point(key: str, words: str, formula: str) -> Figure:
    return Figure(key=key, words=words, formula=formula, source=_OURS, limits="0 to 1, for ranking", unit="1")


FIGURES = (
    Figure(
        key="score",
        words="weighted sum of the four points of a profile",
        formula="crop x (1 - share at risk) + debris x share taken + windows x open share + chances x (rate / plenty)",
        source=_OURS,
        limits="ranks profiles for one duty; not a rate of anything",
        unit="1",
    ),
    _point("crop", "how much of the crop cannot be seized (a point), or what that counts (a weight)", "1 - crop at risk"),
    _point("debris", "how much of the debris surely goes (a point), or what that counts (a weight)", "mean share taken"),
    _point("windows", "how open the pair is for crumbs (a point), or what that counts (a weight)", "open share"),
    _point("chances", "how often debris is offered a rib (a point), or what that counts (a weight)",
           "chances a second / plenty, at most 1"),
    Figure(
        key="gaps_ok",
        words="whether every gap the profile asks for is met",
        formula="tip gap >= asked and body gap <= asked, for every mate",
        source="gap answer",
        limits="nominal, as cast",
        unit="-",
    ),
    Figure(
        key="crop_grip_mm",
        words="largest body seized at the crop's highest friction",
        formula="grip size, the larger of both sides",
        source="grip study",
        limits="to 1e-4 of itself",
        unit="mm",
    ),
    Figure(
        key="crop_at_risk",
        words="share of the crop that can be seized",
        formula="share of the sieve table below the grip size at the crop's highest friction, the worse side",
        source="grip study; sieve table of the duty, straight between its points",
        limits=_CAN,
        unit="1",
    ),
    Figure(
        key="sure_size_mm",
        words="size up to which a kind of debris surely goes",
        formula="larger of the drop size and the grip size at its lowest friction, pushes between two contacts left out",
        source="grip study",
        limits="sizes within the range of the duty taken as equally frequent",
        unit="mm",
    ),
    Figure(
        key="share",
        words="share of a kind of debris that surely goes; of the bodies fed, in a trial",
        formula="(sure size - smallest) / (largest - smallest), between 0 and 1",
        source="grip study",
        limits="sizes within the range taken as equally frequent; none for haulm lying across",
        unit="1",
    ),
)  # fmt: skip
