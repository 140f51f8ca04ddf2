"""What follows from one profile: its section and part, the verdict on every mate, the report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from rollergen.answer.fitted import USUAL, Assumed, FittedGap, fitted_gaps
from rollergen.answer.gap_verdict import GapReport, check_gap
from rollergen.errors import ProfileError
from rollergen.shape.part import Part
from rollergen.shape.section import Section, envelope_of, part_of, section_of, thicknesses_of
from rollergen.spec.profile import Profile
from rollergen.spec.reading import Source, placed
from rollergen.study.mass import weigh

SCHEMA = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A profile with its section and the part it makes."""

    profile: Profile
    section: Section
    part: Part


def draw(source: Source, *, detail: str = "full") -> Drawn:
    """Section and part of a profile; geometric complaints come with file, line and column."""
    try:
        return draw_profile(source.profile, detail=detail)
    except ProfileError as wrong:
        raise ProfileError(placed(wrong.complaints, source)) from wrong


def draw_profile(profile: Profile, *, detail: str = "full") -> Drawn:
    """Section and part of a profile that came from no file; complaints carry keys, not places."""
    section = section_of(profile)
    make = envelope_of if detail == "envelope" else part_of
    return Drawn(profile=profile, section=section, part=make(profile, section))


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """One mate: the nominal gap as cast, and what is left of it as fitted."""

    gap: GapReport
    fitted: FittedGap

    @property
    def entry(self) -> dict[str, Any]:
        """What the report says of this mate."""
        left = asdict(self.fitted)
        names = ("tip_gap_band_mm", "body_gap_band_mm", "budget", "least_left_mm", "most_left_mm", "reasons")
        return {
            **asdict(self.gap),
            "ok_fitted": self.fitted.ok_fitted,
            "fitted": {name: left[name] for name in names},
        }


def verdicts_of(drawn: Drawn, source: Source, assumed: Assumed = USUAL) -> tuple[Verdict, ...]:
    """The verdict on every mate.  Complaints come with file, line and column."""
    try:
        gaps = check_gap(drawn.profile, drawn.section)
        fitted = fitted_gaps(drawn.profile, gaps, assumed)
    except ProfileError as wrong:
        raise ProfileError(placed(wrong.complaints, source)) from wrong
    return tuple(Verdict(gap=g, fitted=f) for g, f in zip(gaps, fitted, strict=True))


def limits_met(verdicts: Sequence[Verdict], *, strict: bool) -> bool:
    """Nominal gaps as cast; with ``strict`` the as-fitted verdict counts too."""
    return all(v.gap.ok and (v.fitted.ok_fitted or not strict) for v in verdicts)


def report_of(drawn: Drawn, verdicts: Sequence[Verdict], files: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """The content of ``<name>.report.json``: plain numbers, never rounded."""
    profile = drawn.profile
    weight = weigh(profile, drawn.section, drawn.part)
    return {
        "schema": SCHEMA,
        "profile": profile.name,
        **asdict(weight),
        **asdict(thicknesses_of(drawn.section, profile.body_radius)),
        "tip_diameter_mm": 2 * profile.tip_radius,
        "body_diameter_mm": profile.body.diameter,
        "length_mm": profile.body.free_length,
        "gaps": [verdict.entry for verdict in verdicts],
        "files": list(files),
    }
