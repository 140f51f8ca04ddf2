"""A body of the mould put together side by side and cap by cap, each side with words for messages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import floor

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.outline import Outline, circle
from rollergen.shape.part import Cap, Part, Side
from rollergen.shape.part_holes import too_near
from rollergen.tooling.skin_holes import holes_too_near

Levels = tuple[tuple[float, float], ...]
End = tuple[int, str]
LEAST_METAL = 0.3  # mm between two holes of one body: less is a slip, not a wall
ROUNDING = 1e-7


@dataclass(frozen=True, slots=True)
class Sized:
    """The option a hole's size is from, its value and the least that can be asked for (mm).

    ``each``: mm a side per mm of the option, 0.5 of a diameter and 1 of a fit.
    """

    option: str
    value: float
    least: float
    each: float = 0.5


@dataclass(slots=True)
class Skin:
    """Sides and caps of one body while it is being described; ``words[i]`` says what side i is.

    ``sized``: by side number the option that makes it smaller, for messages.
    """

    name: str
    sides: list[Side] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    sized: dict[int, Sized] = field(default_factory=dict)
    caps: list[Cap] = field(default_factory=list)

    def wall(self, words: str, outline: Outline, levels: Levels, turn: float = 0.0) -> int:
        """A side with its material inside; its number."""
        return self._add(words, Side(outline=outline, levels=levels, turn_per_mm=turn))

    def hole(
        self, words: str, outline: Outline, levels: Levels, turn: float = 0.0, *, sized: Sized | None = None
    ) -> int:
        """A side with its material outside; its number."""
        number = self._add(
            words, Side(outline=outline, levels=levels, turn_per_mm=turn, material_inside=False)
        )
        if sized is not None:
            self.sized[number] = sized
        return number

    def _add(self, words: str, side: Side) -> int:
        self.sides.append(side)
        self.words.append(words)
        return len(self.sides) - 1

    def face(self, z: float, up: bool, outer: End, holes: Sequence[End] = ()) -> None:
        """A flat end."""
        self.caps.append(Cap(z=z, up=up, outer=outer, holes=tuple(holes)))

    def part(self, colour: str) -> Part:
        """The finished description.  Raises ProfileError, with names and numbers, where holes meet."""
        made = Part(name=self.name, sides=tuple(self.sides), caps=tuple(self.caps), colour=colour)
        least: dict[tuple[int, int], float] = {}
        for near in too_near(made, least=LEAST_METAL):  # a pair that passes through both faces is met twice
            pair = (near.one, near.other)
            least[pair] = min(near.left, least.get(pair, near.left))
        least |= holes_too_near(made, least=LEAST_METAL)
        works = self._smaller(least)
        complaints = [
            Complaint(
                key=self.name,
                message=f"{self.words[one]} and {self.words[other]} leave {round(left, 3) + 0.0:.3f} mm between them, "
                f"{LEAST_METAL:g} mm at least is needed: {self._way_out((one, other), left, works)}",
            )
            for (one, other), left in least.items()
        ]
        if complaints:
            raise ProfileError(complaints)
        return made

    def _smaller(self, least: Mapping[tuple[int, int], float]) -> dict[str, float]:
        """By option the value (mm, down to 0.01) that leaves enough metal beside every hole it makes."""
        works: dict[str, float] = {}
        for pair, left in least.items():
            sized = [self.sized[number] for number in pair if number in self.sized]
            for one in sized:
                each = sum(other.each for other in sized if other.option == one.option)
                value = floor(100 * (one.value - (LEAST_METAL - left) / each) + ROUNDING) / 100
                works[one.option] = min(value, works.get(one.option, value))
        return works

    def _way_out(self, pair: tuple[int, int], left: float, works: Mapping[str, float]) -> str:
        sized = [self.sized[number] for number in pair if number in self.sized]
        ways = [f'{x.option} "{works[x.option]:g} mm"' for x in sized if works[x.option] >= x.least]
        if ways:
            return f"use {' or '.join(dict.fromkeys(ways))} or less"
        options = " and ".join(dict.fromkeys(x.option for x in sized))
        of_what = f": less of {options}, or of a draft that widens one" if options else ""
        return f"together they have to be {LEAST_METAL - left:.2f} mm smaller{of_what}"


def drilled(
    skin: Skin,
    words: str,
    at: tuple[float, float],
    diameter: float,
    low: float,
    high: float,
    *,
    sized: Sized | None = None,
) -> int:
    """A straight round hole; its number."""
    return skin.hole(words, circle(diameter / 2, "hole", centre=at), ((low, 0.0), (high, 0.0)), sized=sized)


def rising(*points: tuple[float, float]) -> Levels:
    """Levels with doubled heights left out, so that a chamfer of 0 or a shortened row leaves no empty one."""
    kept: list[tuple[float, float]] = []
    for z, offset in points:
        if kept and z - kept[-1][0] < 1e-9:
            kept[-1] = (z, offset)
            continue
        kept.append((z, offset))
    return tuple(kept)
