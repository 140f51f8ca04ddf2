"""One or several profiles on one sheet: every value beside its name, every computed one with its source."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import degrees, inf
from typing import TYPE_CHECKING

from rollergen.answer.explain import figures
from rollergen.answer.report import Drawn, Verdict
from rollergen.shape.section import thicknesses_of
from rollergen.spec.profile import Profile
from rollergen.study.mass import weigh

if TYPE_CHECKING:
    from rollergen.answer.grip_verdict import GripVerdict
    from rollergen.answer.roller import RollerAnswer

NOTHING = "-"
SHAFTS = 4  # widths of the table of bars that a sheet shows, or a few more


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One value of one profile. ``key``: its figure in the registry; "" for what the profile itself says."""

    block: str
    label: str
    value: str
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One value, a column a profile; ``note`` numbers its source among the sheet's notes, 0 for none."""

    label: str
    values: tuple[str, ...]
    note: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Where the values marked with ``number`` are from."""

    number: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Datasheet:
    """What a data sheet says, as texts: a column for each of ``names``."""

    title: str
    names: tuple[str, ...]
    remarks: tuple[str, ...]
    blocks: tuple[Block, ...]
    reasons: tuple[str, ...]
    notes: tuple[Note, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Studied:
    """One profile and what was found of it; what is None was not asked for and is left out of the sheet.

    ``more``: facts of studies that stand in no field here, in the order they are to be shown.
    """

    drawn: Drawn
    verdicts: tuple[Verdict, ...]
    grip: GripVerdict | None = None
    roller: RollerAnswer | None = None
    more: tuple[Fact, ...] = ()
    cautions: tuple[str, ...] = ()


def datasheet(studied: Sequence[Studied]) -> Datasheet:
    """The sheet of one profile, or several side by side: the same values in the same order.

    Raises ValueError for no profile and KeyError for a fact whose figure nobody explains.
    """
    if not studied:
        raise ValueError("a data sheet needs a profile")
    columns = [list(_facts(one)) for one in studied]
    known = figures()
    order: dict[tuple[str, str], str] = {}
    for fact in (fact for column in columns for fact in column):
        order.setdefault((fact.block, fact.label), fact.key)
    told = [{(f.block, f.label): f.value for f in column} for column in columns]
    notes: dict[str, int] = {}
    blocks: dict[str, list[Line]] = {}
    for (block, label), key in order.items():
        number = 0
        if key:
            figure = known[key]
            words = f"{figure.formula}. {figure.source}. Limits: {figure.limits}."
            number = notes.setdefault(words, len(notes) + 1)
        values = tuple(column.get((block, label), NOTHING) for column in told)
        blocks.setdefault(block, []).append(Line(label=label, values=values, note=number))
    names = tuple(one.drawn.profile.name for one in studied)
    return Datasheet(
        title=names[0] if len(names) == 1 else "Comparison: " + ", ".join(names),
        names=names,
        remarks=tuple(one.drawn.profile.note for one in studied),
        blocks=tuple(Block(title=title, lines=tuple(lines)) for title, lines in blocks.items()),
        reasons=tuple(reason for one in studied for reason in _reasons(one, many=len(names) > 1)),
        notes=tuple(Note(number=number, words=words) for words, number in notes.items()),
        cautions=tuple(dict.fromkeys(caution for one in studied for caution in _cautions(one))),
    )


def _facts(one: Studied) -> Iterator[Fact]:
    yield from _profile_facts(one.drawn.profile)
    yield from _segment_facts(one.drawn)
    for verdict in one.verdicts:
        yield from _gap_facts(verdict)
    if one.grip is not None:
        yield from _grip_facts(one.grip)
    yield from one.more
    if one.roller is not None:
        yield from _roller_facts(one.roller)


def _profile_facts(profile: Profile) -> Iterator[Fact]:
    def say(label: str, value: str) -> Fact:
        return Fact(block="Profile", label=label, value=value)

    body, ribs, bore, chambers = profile.body, profile.ribs, profile.bore, profile.chambers
    yield say("body diameter", mm(body.diameter))
    yield say("length as cast / fitted", f"{mm(body.free_length)} / {mm(body.fitted_length)}")
    if ribs is not None:
        flanks = sorted({round(degrees(a), 9) for a in (ribs.flank_angle_ahead, ribs.flank_angle_behind)})
        pitch = "straight" if ribs.helix_pitch == inf else f"{mm(ribs.helix_pitch)}, {ribs.hand} hand"
        yield say("ribs", f"{ribs.count} x {mm(ribs.height)} high, tip {mm(ribs.tip_width)} wide")
        yield say("flank angle", " / ".join(f"{a:g} deg" for a in flanks))
        yield say("helix pitch", pitch)
    yield say("bore", f"{bore.section}, shaft {mm(bore.across)}, clearance {mm(bore.clearance)}")
    if chambers is not None and chambers.count:
        foam = f", {len(chambers.foamed)} with foam" if chambers.foamed else ""
        yield say("chambers", f"{chambers.count} {chambers.section}{foam}")
    yield say("compound", profile.compound.name)
    if profile.compound.hardness is not None:
        yield say("hardness", f"{profile.compound.hardness:g} Shore A")


def _segment_facts(drawn: Drawn) -> Iterator[Fact]:
    def say(label: str, value: str, key: str) -> Fact:
        return Fact(block="Segment as cast", label=label, value=value, key=key)

    mass = weigh(drawn.profile, drawn.section, drawn.part)
    thick = thicknesses_of(drawn.section, drawn.profile.body_radius)
    yield say("tip diameter", mm(2 * drawn.profile.tip_radius), "tip_diameter_mm")
    if thick.wall is not None:
        yield say("least wall", mm(thick.wall), "wall")
    if thick.web is not None:
        yield say("least web", mm(thick.web), "web")
    if thick.hub_wall is not None:
        yield say("least hub wall", mm(thick.hub_wall), "hub_wall")
    yield say("section", f"{mass.section_area_mm2:.1f} mm2", "section_area_mm2")
    yield say("volume", f"{mass.volume_mm3 / 1000:.2f} cm3", "volume_mm3")
    yield say("mass of rubber", f"{mass.mass_kg:.4f} kg", "mass_kg")
    if mass.foam_kg:
        yield say("mass with foam", f"{mass.total_kg:.4f} kg", "total_kg")
    if mass.cost is not None:
        yield say("cost of compound", f"{mass.cost:.2f} {mass.currency}", "cost")


def _gap_facts(verdict: Verdict) -> Iterator[Fact]:
    gap, fitted = verdict.gap, verdict.fitted

    def say(label: str, value: str, key: str) -> Fact:
        return Fact(block=f"Gap to {gap.mate}", label=label, value=value, key=key)

    yield say("tip gap", mm(gap.tip_gap_mm), "tip_gap_mm")
    yield say("body gap", mm(gap.body_gap_mm), "body_gap_mm")
    yield say("nominal, as cast", "met" if gap.ok else "NOT MET", "ok")
    yield say("tip gap left, root-sum-square", mm(fitted.budget.rss_tip_gap_mm), "rss_tip_gap_mm")
    yield say("tip gap left, worst case", mm(fitted.budget.worst_tip_gap_mm), "worst_tip_gap_mm")
    yield say("as fitted, worst case", "met" if fitted.ok_fitted else "NOT MET", "ok_fitted")


def _grip_facts(grip: GripVerdict) -> Iterator[Fact]:
    block = f"Grip, duty {grip.duty}"
    for item in grip.report.items:
        low, high = item.grip_size_mm
        value = f"{item.kind}; up to {mm(low)} to {mm(high)}"
        yield Fact(block=block, label=item.name, value=value, key="grip_size_mm")
    yield Fact(block=block, label="all items as wanted", value="yes" if grip.ok else "NO")


def _roller_facts(found: RollerAnswer) -> Iterator[Fact]:
    def say(label: str, value: str, key: str) -> Fact:
        return Fact(block=f"Roller of {mm(found.width_mm)}", label=label, value=value, key=key)

    yield say("segments", str(len(found.names)) if found.filled else "cannot be filled", "filled")
    yield say("squeeze", f"{100 * found.squeeze:.2f} %", "squeeze")
    yield say("mass of segments", f"{found.segments_kg:.2f} kg", "segments_kg")
    yield say("smallest bar", found.smallest.bar.words if found.smallest.bar else "none", "smallest_bar")
    yield say("limits of the shaft", "met" if found.shaft.shaft_ok else "NOT MET", "shaft_ok")
    for width, bar in found.widths[:: max(1, len(found.widths) // SHAFTS)]:
        yield say(f"smallest bar over {width / 1000:g} m", bar or "none in the table", "smallest_bar")


def _reasons(one: Studied, *, many: bool) -> Iterator[str]:
    name = f"{one.drawn.profile.name}: " if many else ""
    for verdict in one.verdicts:
        for reason in (*verdict.gap.reasons, *verdict.fitted.reasons):
            yield name + reason
    if one.roller is not None:
        for reason in one.roller.reasons:
            yield name + reason


def _cautions(one: Studied) -> Iterator[str]:
    for verdict in one.verdicts:
        yield from verdict.gap.cautions
    if one.grip is not None:
        yield from one.grip.cautions
    yield from one.cautions


def mm(value: float) -> str:
    """A length for the sheet: two decimals where they say something."""
    return f"{value:.2f}".rstrip("0").rstrip(".") + " mm"
