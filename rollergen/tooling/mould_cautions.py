"""What a toolmaker and whoever pours should know, in sentences.  None of them says that anything is safe."""

from __future__ import annotations

from collections.abc import Mapping

WORKSHOP = (
    "diisocyanates: in the EU only users with the training of Regulation (EU) 2020/1149 may work with them (over "
    "0.1 % by weight of monomer); ventilation, eye and skin protection",
    "curatives of the MOCA kind are suspected or known carcinogens: read the supplier's safety sheets",
    "mould, cores and compound are hot, 50 to 130 C: heat-proof gloves",
    "liquid or air trapped in a closed hot mould expands and builds pressure: keep the vents open, never clamp shut "
    "without a riser",
    "vacuum or pressure only in vessels rated for it",
    "no water on mould, cores or release agent: the compound foams (value from memory)",
    "hollow cores or mandrels need a vent hole of their own (value from memory)",
    "the force to demould is not known: jack evenly, do not lever or strike, keep hands out of the part's path; "
    "compressed air only behind a shield",
    "the shrinkage is your number: pour a trial, measure it, and correct the radial and the axial value separately",
    "machine tolerances, friction, heat flow and filling are not looked at here",
)
MARKS = (
    "raised marks stand on the end face the next segment of a stack presses on: grind them off there, or keep that "
    "end for the outside"
)
MIXED = (
    "plates and cores are of different metals: their fits change between room and cure temperature, by how much "
    "--cure-rise tells; prefer one metal"
)
SHALLOW = (
    "the draft of {draft:g} deg is under the 0.5 deg of common practice for cores longer than two diameters"
)
THINNER = (
    "rubber is thinner than the profile's own at one end of the cores: limits and flex were judged on the nominal "
    "section, judge them again with {thinner}"
)

LOOSE = (
    "{loose} too small in the foot for a screw (M4): press fit or weld into the base plate, your choice, or the part "
    "lifts what is loose with it"
)
FOAM = (
    "the profile has foam in its chambers: the part leaves this mould with its chambers empty; foaming is a later step, "
    "and masses here are without foam"
)


def cautions_of(
    *,
    marked: bool,
    mixed: bool,
    draft_deg: float,
    has_chambers: bool,
    least: Mapping[str, tuple[float | None, float | None]],
    loose_cores: bool = False,
    loose_mandrel: bool = False,
    foam: bool = False,
) -> tuple[str, ...]:
    """The cautions of this mould, the special ones first.

    ``least``: of wall, web and hub wall the least at either end of the cores and the profile's own (mm).
    """
    found = []
    thinner = [
        f"a {what} of {here:.2f} mm instead of {asked:.2f} mm"
        for what, (here, asked) in least.items()
        if here is not None and asked is not None and here < asked - 1e-6
    ]
    if thinner:
        found.append(THINNER.format(thinner=", ".join(thinner)))
    if foam:
        found.append(FOAM)
    loose = [*(["chamber cores"] if loose_cores else []), *(["the mandrel"] if loose_mandrel else [])]
    if loose:
        found.append(LOOSE.format(loose=" and ".join(loose) + (" are" if loose_cores else " is")))
    if has_chambers and draft_deg < 0.5:
        found.append(SHALLOW.format(draft=draft_deg))
    if mixed:
        found.append(MIXED)
    if marked:
        found.append(MARKS)
    return (*found, *WORKSHOP)
