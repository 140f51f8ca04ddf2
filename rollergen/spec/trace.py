"""Where a reported number comes from: one entry per figure, as data."""

from __future__ import annotations

from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One reported figure: what it is in words, its formula, source, limits of validity and unit.

    ``key`` is the report's key.  ``unit`` is "1" for a pure number and "-" for a word or a yes/no.
    Raises ValueError when a field is left blank: an empty entry explains nothing.
    """

    key: str
    words: str
    formula: str
    source: str
    limits: str
    unit: str

    def __post_init__(self) -> None:
        blank = [field.name for field in fields(self) if not getattr(self, field.name).strip()]
        if blank:
            raise ValueError(f"figure {self.key or '(no key)'} leaves {', '.join(blank)} blank")
