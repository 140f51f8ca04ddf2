"""The profile a bed offers to start from: a ribbed roller with its smooth neighbour as mate."""

from __future__ import annotations

from rollergen.errors import UsageError
from rollergen.spec.bed import Bed
from rollergen.spec.profile import Mate, Profile


def start_in(bed: Bed, profile: Profile | None = None) -> Profile:
    """The bed's first ribbed roller that lies beside a smooth one, with that neighbour as its only mate.

    ``profile`` takes the place of the roller's own segment.  Raises UsageError when the bed has no such pair.
    """
    for left, right in bed.neighbours:
        for own, other in ((left, right), (right, left)):
            ours, mate = bed.rollers[own], bed.rollers[other]
            if ours.kind != "ribbed" or mate.kind != "smooth":
                continue
            segment = profile or ours.segment
            assert segment is not None  # ribbed rollers have one
            return segment.model_copy(
                update={
                    "mates": (
                        Mate(
                            name=mate.name,
                            kind="smooth",
                            diameter=f"{2 * mate.body_radius!r} mm",
                            axis_distance=f"{bed.axis_distance(own, other)!r} mm",
                            axis_distance_tolerance="0 mm",
                            height=f"{mate.y - ours.y!r} mm",
                            speed_ratio=_ratio(ours.rotation_speed, mate.rotation_speed),
                            phase="0 deg",
                            z_offset="0 mm",
                        ),
                    )
                }
            )
    raise UsageError(
        f"{bed.name} has no ribbed roller beside a smooth one; grip is worked out for such pairs"
    )


def _ratio(ours: float | None, mates: float | None) -> float:
    """Positive for the opposite sense of rotation; 1 where the bed does not say."""
    return 1.0 if not ours or mates is None else -mates / ours
