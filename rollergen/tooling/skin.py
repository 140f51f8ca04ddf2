"""A body of the mould put together side by side and cap by cap, each side with words for messages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from rollergen.errors import Complaint, ProfileError
from rollergen.shape.outline import Outline, circle
from rollergen.shape.part import Cap, Part, Side
from rollergen.shape.part_holes import too_near

Levels = tuple[tuple[float, float], ...]
End = tuple[int, str]
LEAST_METAL = 0.3  # mm between two holes of one face: less is a slip, not a wall


@dataclass(slots=True)
class Skin:
    """Sides and caps of one body while it is being described; ``words[i]`` says what side i is."""

    name: str
    sides: list[Side] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    caps: list[Cap] = field(default_factory=list)

    def wall(self, words: str, outline: Outline, levels: Levels, turn: float = 0.0) -> int:
        """A side with its material inside; its number."""
        return self._add(words, Side(outline=outline, levels=levels, turn_per_mm=turn))

    def hole(self, words: str, outline: Outline, levels: Levels, turn: float = 0.0) -> int:
        """A side with its material outside; its number."""
        return self._add(words, Side(outline=outline, levels=levels, turn_per_mm=turn, material_inside=False))

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
        complaints = [
            Complaint(
                key=self.name,
                message=f"{self.words[one]} and {self.words[other]} leave {left:.3f} mm between them, "
                f"{LEAST_METAL:g} mm at least is needed: move or make smaller by {LEAST_METAL - left:.2f} mm",
            )
            for (one, other), left in least.items()
        ]
        if complaints:
            raise ProfileError(complaints)
        return made


def drilled(skin: Skin, words: str, at: tuple[float, float], diameter: float, low: float, high: float) -> int:
    """A straight round hole; its number."""
    return skin.hole(words, circle(diameter / 2, "hole", centre=at), ((low, 0.0), (high, 0.0)))


def rising(*points: tuple[float, float]) -> Levels:
    """Levels with doubled heights left out, so that a chamfer of 0 or a shortened row leaves no empty one."""
    kept: list[tuple[float, float]] = []
    for z, offset in points:
        if kept and z - kept[-1][0] < 1e-9:
            kept[-1] = (z, offset)
            continue
        kept.append((z, offset))
    return tuple(kept)
