"""The forms of duties and beds; apart from the profile's, so that reading a profile does not pay for them."""

from __future__ import annotations

from rollergen.spec.bed import Bed, BedRoller
from rollergen.spec.duty import Crop, Debris, Duty, Run, Soil
from rollergen.spec.forms import Form

DUTY = Form(
    what="duty",
    model=Duty,
    tables={"crop": Crop, "debris": Debris, "soil": Soil, "run": Run},
    lists=frozenset({"debris"}),
    file_only={"": ("extends",)},
    never_written=frozenset(),
    examples={
        "name": '"beet-sandy-loam"', "crop.name": '"red beet"', "debris.name": '"clods"',
        "diameters": '["8 mm", "60 mm"]', "friction": "[0.4, 0.7]", "density": '"1.6 g/cm^3"',
        "layer": '"6 mm"', "adhesion": '["0.2 kPa", "2 kPa"]', "rotation_speed": '"90 rpm"',
        "modulus": '["0.5 MPa", "4 MPa"]', "bond_energy": '["0.05 J/m^2", "0.2 J/m^2"]',
        "cohesion": '["4 kPa", "20 kPa"]', "friction_angle": '["20 deg", "30 deg"]', "line_load": '"0.5 N/mm"',
    },
)  # fmt: skip
BED = Form(
    what="bed",
    model=Bed,
    tables={"rollers": BedRoller},
    lists=frozenset({"rollers"}),
    file_only={"": ("extends",)},
    never_written=frozenset({"segment"}),
    examples={"name": '"beet-line"', "width": '"1.5 m"', "x": '"110 mm"'},
)
