"""Whether a profile sheds the soil of a duty at its working speed."""

from __future__ import annotations

from rollergen.answer.duty_items import Running
from rollergen.errors import UsageError
from rollergen.spec.duty import Duty
from rollergen.spec.profile import Profile
from rollergen.study.shed import ShedReport, shed


def shed_by(profile: Profile, duty: Duty, running: Running, *, tensile: float = 0.0) -> ShedReport:
    """Spin verdict for the duty's soil on the body; ``tensile`` MPa for a closed ring of mud.

    Raises UsageError for a duty without soil.
    """
    soil = duty.soil
    if soil is None:
        raise UsageError(f'{duty.name} has no [soil]: write density, layer and adhesion, or preset = "loam"')
    return shed(
        adhesion=soil.adhesion,
        layer=soil.layer,
        density_kg_m3=soil.density_kg_m3,
        radius=profile.body_radius,
        rotation_speed=running.rotation_speed,
        tensile=tensile,
    )
