"""Where the figures of the bed trial come from."""

from __future__ import annotations

from rollergen.spec.trace import Figure

_SIMULATED = "the stepwise simulation of the bed trial; no closed form"
_LIMITS = (
    "one random feed per seed; stiff rollers, round bodies, no soil, no haulm; compare only with its error"
)


def _counted(key: str, words: str) -> Figure:
    return Figure(key=key, words=words, formula="counted", source=_SIMULATED, limits=_LIMITS, unit="1")


FIGURES = (
    _counted("seized", "bodies both rollers pressed for 15 ms or longer"),
    _counted("fell", "bodies that went through between two rollers without being seized"),
    _counted("over", "bodies carried over the end of the bed"),
    _counted("on_bed", "bodies still on the bed at the end"),
    _counted("waiting", "bodies that found no room to be fed"),
    Figure(
        key="largest_seized",
        words="diameter of the largest body seized; what the pair did, not what it can",
        formula="greatest diameter among those counted as seized",
        source=_SIMULATED,
        limits="one extreme of one feed: partly luck",
        unit="mm",
    ),
    Figure(
        key="smallest_seized",
        words="diameter of the smallest body seized",
        formula="least diameter among those counted as seized",
        source=_SIMULATED,
        limits="one extreme of one feed: partly luck",
        unit="mm",
    ),
    Figure(
        key="breaks_at",
        words="force that breaks the largest seized body, at its lowest and highest strength",
        formula="F = Y d^2 / 0.576",
        source="crushing of an irregular lump between plates, Y = 0.576 F / d^2; common practice for soil"
        " aggregates, value from memory",
        limits="dry clods; the trial itself breaks nothing",
        unit="N",
    ),
    Figure(
        key="width",
        words="length of roller that was looked at, repeated without end along the axes",
        formula="the fewest whole rib periods of every helix that reach 300 mm and four largest bodies",
        source="choice of the bed trial",
        limits="end plates are not modelled",
        unit="mm",
    ),
)
