"""A measured part against its profile: verdict by feature, form, runout, and the shrinkage for the next pour."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rollergen.answer.deviation_map import DeviationMap, deviation_map
from rollergen.answer.report import Drawn
from rollergen.answer.unclassed import phase_features, phase_notes, runout_feature
from rollergen.errors import UsageError
from rollergen.spec.tolerances import Dimension, MouldClass
from rollergen.tooling.caliper import HandReading, read_caliper, readings_of
from rollergen.tooling.inspecting import Laid, lay, take
from rollergen.tooling.part_features import (
    Feature,
    NextPour,
    Reading,
    asked_of,
    judged,
    next_pour,
)
from rollergen.tooling.scan_files import read_scan
from rollergen.tooling.scan_form import Form, Offset
from rollergen.tooling.scan_measuring import Taken
from rollergen.tooling.scan_strays import Covered, Patch

MOST_STRAY = 0.05  # share of what was seen of the part that may fit no feature: burrs, marks, dirt
MOST_PATCH = (
    200.0  # mm2 in one place that may fit no feature; no source: sound scans show none, a lost rib 700
)
MOST_COVERED = 0.1  # share of the mouths of a hole that may be closed: a burr, a flash
MOST_OFF_SIZE = 0.06  # of nominal: shrinkage is 5 % at most, a part farther off is another or misread
DIFFERS = 3.0  # standard errors by which two scales must differ to be told apart
LEAST_DIFFERENCE = 0.001  # and at least this much
LIKELY = {
    "outer": "a rib too many or too few, a gouge, a lump",
    "bore": "another bore, or one full of flash",
    "chambers": "a core that stood wrong, or another number of chambers",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What a part is held to and what its mould was made with; shrinkages None where not told.

    ``most_runout``: total runout of the body about the bore (mm); ``most_phase``: what bore and chambers may stand off
    their angle to the ribs either way (deg); None for no limit.
    """

    grade: MouldClass = "M3"
    dimension: Dimension = "fixed"
    most_runout: float | None = None
    most_phase: float | None = None
    radial_used: float | None = None
    axial_used: float | None = None
    used_from: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What share of a surface the scan shows."""

    surface: str
    seen_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanFacts:
    """The scan itself and how it was laid on the profile."""

    file: str
    points_read: int
    triangles: int
    open_edges: int
    large_facet_share: float
    scan_unit: str
    scan_unit_from: str
    hand: str
    end: str
    on_part_share: float
    stray_share: float
    noise_mm: float
    seen: tuple[Seen, ...]
    stray_patches: tuple[Patch, ...]
    covered: tuple[Covered, ...]
    closed_by_foam: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """The verdict.  ``ok``: nothing that was seen fails; ``complete``: everything was seen."""

    ok: bool
    complete: bool
    reasons: tuple[str, ...]
    notes: tuple[str, ...]
    grade: str
    dimension: str
    features: tuple[Feature, ...]
    next_pour: tuple[NextPour, ...]
    forms: tuple[Form, ...]
    offsets: tuple[Offset, ...]
    rib_heights_mm: tuple[float | None, ...]
    end_tilt_mm: tuple[float | None, float | None]
    scan: ScanFacts | None
    hand_readings: tuple[HandReading, ...]


def inspect_scan(
    drawn: Drawn, path: Path, held: Held, *, unit: str | None = None
) -> tuple[Inspection, DeviationMap]:
    """Lay a scan on its profile and judge every feature it shows.

    Raises FileTrouble and UsageError as ``read_scan`` and ``lay`` do.
    """
    scan = read_scan(path)
    laid = lay(scan, drawn.profile, drawn.section, unit=unit)
    taken = take(laid)
    if not taken.readings:
        raise UsageError(
            "the scan shows no feature of this profile: too few of its points lie on any one surface; scan more of it"
        )
    asked = asked_of(laid.profile, laid.section)
    features = (
        *judged(asked, taken.readings, grade=held.grade, dimension=held.dimension, unseen=taken.unseen),
        runout_feature(taken.runout, held.most_runout),
        *phase_features(laid.profile, taken.phases, taken.unseen, held.most_phase),
    )
    facts = ScanFacts(
        file=path.name, points_read=len(laid.scan.points), triangles=scan.triangles, open_edges=scan.open_edges,
        large_facet_share=scan.filled, scan_unit=laid.unit, scan_unit_from=laid.unit_from, hand=laid.hand, end=laid.end,
        on_part_share=laid.on_part, stray_share=taken.stray, noise_mm=taken.noise_mm,
        seen=tuple(Seen(surface=name, seen_share=share) for name, share in taken.seen.items()),
        stray_patches=taken.patches, covered=taken.covered,
        closed_by_foam=taken.foam.closed,
    )  # fmt: skip
    reasons = [*_failed(features), *_scan_reasons(laid, taken)]
    pours, far = _near_enough(_scan_pours(taken, held))
    found = Inspection(
        ok=not reasons,
        complete=all(feature.verdict != "not seen" for feature in features),
        reasons=tuple(reasons),
        notes=(*laid.scan.notes, *_scan_notes(laid, taken, facts), *phase_notes(features, laid.profile), *far),
        grade=held.grade, dimension=held.dimension, features=features,
        next_pour=pours, forms=taken.forms, offsets=taken.offsets,
        rib_heights_mm=taken.rib_heights, end_tilt_mm=taken.end_tilt_mm, scan=facts, hand_readings=(),
    )  # fmt: skip
    return found, deviation_map(taken, laid)


def inspect_readings(drawn: Drawn, path: Path, held: Held) -> Inspection:
    """Judge readings taken by hand; raises as ``read_caliper`` does."""
    asked = asked_of(drawn.profile, drawn.section)
    hand = read_caliper(path, asked)
    readings = readings_of(hand, asked)
    unseen = dict.fromkeys(asked, "no reading of it")
    features = judged(asked, readings, grade=held.grade, dimension=held.dimension, unseen=unseen)
    reasons = _failed(features)
    nominal = {key: each.nominal for key, each in asked.items()}
    pours, far = _near_enough(_hand_pours(readings, nominal, held))
    return Inspection(
        ok=not reasons, complete=all(f.verdict != "not seen" for f in features), reasons=tuple(reasons),
        notes=(*_single(hand), *far), grade=held.grade, dimension=held.dimension, features=features,
        next_pour=pours,
        forms=(), offsets=(), rib_heights_mm=(), end_tilt_mm=(None, None), scan=None, hand_readings=hand,
    )  # fmt: skip


def _failed(features: tuple[Feature, ...]) -> list[str]:
    return [
        f"{f.key} measures {f.measured:.3f} {f.unit}, asked {f.nominal:.3f} plus-minus {f.tolerance:.3f} {f.unit}"
        + (f"; {f.why}" if f.why else "")
        for f in features
        if f.verdict == "fail" and f.measured is not None and f.tolerance is not None
    ]


def _scan_reasons(laid: Laid, taken: Taken) -> list[str]:
    said = []
    if laid.hand == "wrong":
        asked = "left" if laid.profile.ribs is not None and laid.profile.ribs.hand == "right" else "right"
        said.append(
            f"the helix has the wrong hand: the profile asks for {asked}, the part is its mirror image (or the scan was "
            "mirrored on the way); the features are read on the mirror image"
        )
    large = [patch for patch in taken.patches if patch.patch_mm2 > MOST_PATCH]
    if taken.stray > MOST_STRAY:
        where = f", most of it {_on(max(large, key=lambda p: p.patch_mm2))}" if large else ""
        said.append(
            f"{taken.stray:.1%} of what is seen of the part lies on no feature as measured, {MOST_STRAY:.0%} is the most"
            f"{where}: another number of ribs or chambers, damage, a marked or dirty part, a stand in the scan"
        )
    else:
        said += [
            f"{patch.patch_mm2:.0f} mm2 {_on(patch)} lie on no feature as measured, {MOST_PATCH:.0f} mm2 in one place is "
            f"the most: {LIKELY[patch.surface]}, or a stand that touches the part in the scan"
            for patch in large
        ]
    for hole in ("bore", "chambers"):
        worst = max((c for c in taken.covered if c.hole == hole), key=lambda c: c.covered_share, default=None)
        if worst is not None and worst.covered_share > MOST_COVERED:
            said.append(
                f"the {worst.end} shows rubber over {worst.covered_share:.0%} of the {_mouth(hole)}, {MOST_COVERED:.0%} is "
                "the most: another hole, none, or one full of flash; where a program closed holes of the mesh, take "
                "the mesh as it was"
            )
    return said


def _on(patch: Patch) -> str:
    """Where a patch is, in the words of the part."""
    where = {"outer": "of the outside", "bore": "in the bore", "chambers": "in the chambers"}[patch.surface]
    return f"{where} about z = {patch.patch_z_mm:.0f} mm, {patch.patch_angle_deg:.0f} deg from +x"


def _mouth(hole: str) -> str:
    return "bore's mouth" if hole == "bore" else "chambers' mouths"


def _scan_notes(laid: Laid, taken: Taken, facts: ScanFacts) -> tuple[str, ...]:
    said = []
    if facts.open_edges:
        said.append(
            f"the mesh is open ({facts.open_edges} edges with one facet): what it does not show is not judged"
        )
    if facts.large_facet_share > 0.02:
        chord = laid.scan.chord
        short = (
            f", {chord:.2g} mm high, make the part look smaller: take no next pour from it" if chord else ""
        )
        said.append(
            f"{facts.large_facet_share:.0%} of the area is in facets far larger than a scanner makes: read on the facets, "
            f"where their chords count as deviation{short}"
        )
    if laid.scan.normals is None:
        said.append("points without facets: which side is rubber is taken from the nearest surface")
    if laid.end != "known":
        said.append(
            "both ends up fit alike: which end is which is not known; no value depends on it but the flanks' "
            "and the sign of a phase"
        )
    if laid.hand == "not told apart":
        said.append("what is seen fits either hand alike: the hand is not judged")
    said += _foam_notes(laid, taken)
    unsure = [form.place for form in _thin(taken)]
    if unsure:
        said.append(f"seen from too few points: {', '.join(unsure)}")
    both = (taken.across, taken.bore_scale)
    if both[0] is not None and both[1] is not None:
        apart, error = both[1][0] - both[0][0], float(np.hypot(both[0][1], both[1][1]))
        chords = laid.scan.chord * (2 / laid.profile.bore.width + 1 / laid.profile.body_radius)
        if abs(apart) > max(DIFFERS * error, LEAST_DIFFERENCE, chords):
            said.append(
                f"bore and outside did not shrink alike: the bore came out at {both[1][0]:.5f} of nominal, the outside at "
                f"{both[0][0]:.5f}; give its core a shrinkage of its own"
            )
    return tuple(said)


def _foam_notes(laid: Laid, taken: Taken) -> list[str]:
    """What a scan shows of chambers that are to hold foam."""
    chambers = laid.profile.chambers
    if chambers is None or not chambers.foamed:
        return []
    said = []
    closed = taken.foam.closed
    still_open = tuple(number for number in chambers.foamed if number not in closed)
    if closed:
        said.append(
            f"{_numbered(closed)} closed by foam as the profile asks; their wall and web are not seen, and a scan does not "
            "tell foam from rubber: weigh the part"
        )
    if still_open and laid.scan.normals is not None and any(c.hole == "bore" for c in taken.covered):
        said.append(f"{_numbered(still_open)} to hold foam and open: a part scanned before it was foamed")
    return said


def _numbered(chambers: tuple[int, ...]) -> str:
    if len(chambers) == 1:
        return f"chamber {chambers[0]} is"
    return f"chambers {', '.join(str(number) for number in chambers[:-1])} and {chambers[-1]} are"


def _thin(taken: Taken) -> tuple[Form, ...]:
    """Places with fewer points than a mean is worth."""
    return tuple(form for form in taken.forms if form.points < 30)


def _scan_pours(taken: Taken, held: Held) -> tuple[NextPour, ...]:
    pours = []
    if taken.across is not None:
        scale, error = taken.across
        pours.append(
            next_pour(
                scale,
                error,
                used=held.radial_used,
                along="across",
                rests_on="body and ribs, all points together",
            )
        )
    if taken.along is not None:
        scale, error, rests_on = taken.along
        pours.append(next_pour(scale, error, used=held.axial_used, along="along", rests_on=rests_on))
    return tuple(pours)


def _near_enough(pours: tuple[NextPour, ...]) -> tuple[tuple[NextPour, ...], tuple[str, ...]]:
    """Those that a shrinkage can bring to nominal, and a sentence for each of the others."""
    kept = tuple(pour for pour in pours if abs(pour.size_ratio - 1) <= MOST_OFF_SIZE)
    said = tuple(
        f"{pour.along}: {pour.rests_on} came out at {pour.size_ratio:.4g} of nominal, more than the {MOST_OFF_SIZE:.0%} "
        "either way that a shrinkage explains: no next pour is told; check the reading, its unit and the profile"
        for pour in pours
        if pour not in kept
    )
    return kept, said


def _hand_pours(readings: dict[str, Reading], nominal: dict[str, float], held: Held) -> tuple[NextPour, ...]:
    """Across from the diameters, weighed by their errors; along from the length."""
    across = [key for key in ("body.diameter", "tip diameter") if key in readings]
    pours = []
    if across:
        weights = {key: (nominal[key] / max(readings[key].error, 1e-6)) ** 2 for key in across}
        total = sum(weights.values())
        scale = sum(weights[key] * readings[key].value / nominal[key] for key in across) / total
        pours.append(
            next_pour(
                scale, total**-0.5, used=held.radial_used, along="across", rests_on=" and ".join(across)
            )
        )
    if "body.free_length" in readings:
        length, asked = readings["body.free_length"], nominal["body.free_length"]
        pours.append(
            next_pour(
                length.value / asked,
                length.error / asked,
                used=held.axial_used,
                along="along",
                rests_on="body.free_length",
            )
        )
    return tuple(pours)


def _single(hand: tuple[HandReading, ...]) -> tuple[str, ...]:
    single = [each.key for each in hand if len(each.readings) == 1]
    if not single:
        return ()
    return (
        f"one reading only of {', '.join(single)}: no spread, so nothing is known of how round or even it is",
    )
