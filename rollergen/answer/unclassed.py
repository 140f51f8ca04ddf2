"""Features that no class has a limit for: judged by the user's own limit, or told without a verdict."""

from __future__ import annotations

from rollergen.tooling.part_features import UNSURE, Feature, Reading, Verdict, keeps


def runout_feature(reading: Reading | None, limit: float | None) -> Feature:
    """Total runout of the body when the part turns about its bore; one not known well enough never passes."""
    if reading is None:
        return _unlimited("runout", "mm", limit, None, "not seen", "it takes bore and body")
    if limit is None:
        return _unlimited(
            "runout", "mm", limit, reading, "no limit", "no limit given; --most-runout sets one"
        )
    verdict: Verdict = "fail" if not keeps(reading.value, limit) else "pass"
    if verdict == "pass" and reading.error > UNSURE * limit:
        why = (
            f"seen too little of: the standard error is {reading.error:.3g} mm, a quarter of the limit is "
            f"{UNSURE * limit:.3g} mm"
        )
        return _unlimited("runout", "mm", limit, None, "not seen", why)
    return _unlimited("runout", "mm", limit, reading, verdict, "")


def _unlimited(
    key: str, unit: str, limit: float | None, reading: Reading | None, verdict: Verdict, why: str
) -> Feature:
    """A feature that no class has a limit for: ``limit`` is the user's own, None for none; nominal is 0."""
    value = None if reading is None else reading.value
    error = None if reading is None else reading.error
    sure = reading is not None and (limit is None or abs(abs(reading.value) - limit) > 2 * reading.error)
    return Feature(
        key=key, unit=unit, nominal=0.0, measured=value, deviation=value, standard_error=error, tolerance=limit,
        points=0 if reading is None else reading.points, verdict=verdict, sure=sure, why=why,
    )  # fmt: skip
