"""A mould described, built, checked and written as one STEP assembly, in a process of its own.

Run: python cold_mould.py OUT.step
"""

from __future__ import annotations

import sys
from math import radians
from pathlib import Path

from reference_part import PROFILE

from rollergen.cli.mould_files import _assembly
from rollergen.shape.section import section_of
from rollergen.shape.solid import checked_solid
from rollergen.spec.reading import profile_from_text
from rollergen.tooling.cavity import cavity_of
from rollergen.tooling.mould import Compound, Mould, mould_of
from rollergen.tooling.mould_tool import Tool
from rollergen.tooling.shrinkage import Shrinkage


def speed_mould(draft_deg: float = 0.5) -> Mould:
    profile = profile_from_text(PROFILE.format(pitch="650 mm"))
    tool = Tool(core_draft=radians(draft_deg))
    shrinkage = Shrinkage(radial=0.014, axial=0.014, source="benchmark")
    cavity = cavity_of(profile, section_of(profile), shrinkage, core_draft=tool.core_draft)
    return mould_of(cavity, tool, Compound(name="test", density_kg_m3=1100.0))


def assembly(mould: Mould) -> bytes:
    shapes = [b for b in mould.bodies if not b.copy_of]
    return _assembly(mould, {b.name: checked_solid(b.part)[0] for b in shapes})


if __name__ == "__main__":
    Path(sys.argv[1]).write_bytes(assembly(speed_mould()))
