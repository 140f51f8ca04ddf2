"""A profile written out as the file that reads back to it: for what the program proposes."""

from __future__ import annotations

from collections.abc import Callable
from math import degrees, inf, radians
from typing import Any

from pydantic import BaseModel

from rollergen.spec.profile import Bore, Chambers, Mate, Profile
from rollergen.spec.units import PricePerKg

_ANGLES = {"flank_angle_ahead", "flank_angle_behind", "start", "phase"}
_SHARES = {"shrinkage", "axial_shrinkage", "swell"}
_PURE = {"speed_ratio", "loss_factor"}
_TAILS = {"density": "kg/m^3", "foam_density": "kg/m^3", "modulus": "MPa", "foam_modulus": "MPa",
          "hardness": "ShoreA", "expansion": "1/K"}  # fmt: skip


def profile_text(profile: Profile, *, remarks: tuple[str, ...] = ()) -> str:
    """The profile as TOML with every value written out in mm and deg; ``remarks`` go on top as comments.

    Reading it gives the same numbers, angles to 1e-12 rad.  A ribbed mate is named by its file, which must
    lie where it lay.
    """
    lines = [f"# {remark}" for remark in remarks]
    lines += [f"name = {_quoted(profile.name)}"]
    if profile.note:
        lines.append(f"note = {_quoted(profile.note)}")
    for name in ("body", "ribs", "bore", "chambers", "compound"):
        table: BaseModel | None = getattr(profile, name)
        if table is not None:
            lines += ["", f"[{name}]", *_lines(table)]
    for mate in profile.mates:
        lines += ["", "[[mates]]", *_lines(mate)]
    return "\n".join(lines) + "\n"


def _lines(table: BaseModel) -> list[str]:
    written = []
    for name, field in type(table).model_fields.items():
        value = getattr(table, name)
        if value is None or name == "ribbed" or _idle(table, name):
            continue
        key = field.alias or name
        written.append(f"{key} = {_said(key, value)}")
    return written


def _idle(table: BaseModel, name: str) -> bool:
    """Keys that the reader refuses or warns of where they have no effect."""
    if isinstance(table, Bore) and name in ("key_width", "key_depth"):
        return table.section != "keyed"
    if isinstance(table, Chambers) and name in ("foam_density_kg_m3", "foam_modulus"):
        return not table.foamed
    return isinstance(table, Mate) and name == "diameter" and table.kind == "ribbed"


def _said(key: str, value: Any) -> str:
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, PricePerKg):
        return f'"{value.amount!r} {value.currency}/kg"'
    if key == "stress_strain":
        rows = (f'["{_shortest(100 * e, lambda p: p * 0.01, e)} %", "{_plain(s)} MPa"]' for e, s in value)
        return "[" + ", ".join(rows) + "]"
    if isinstance(value, tuple):
        return "[" + ", ".join(str(item) for item in value) + "]"
    if isinstance(value, int):
        return str(value)
    if key == "helix_pitch" and value == inf:
        return '"straight"'
    if key in _ANGLES:
        return f'"{_shortest(degrees(value), radians, value)} deg"'
    if key in _SHARES:
        return f'"{_shortest(100 * value, lambda share: share * 0.01, value)} %"'
    if key in _PURE:
        return _plain(value)
    return f'"{_plain(value)} {_TAILS.get(key, "mm")}"'


def _plain(value: float) -> str:
    return _shortest(value, float, value)


def _shortest(value: float, back: Callable[[float], float], wanted: float) -> str:
    """The shortest text of ``value`` that reads ``back`` as ``wanted``, so that 15 deg stays 15."""
    texts = (f"{value:.{digits}g}" for digits in range(1, 17))
    return next((text for text in texts if "e+" not in text and back(float(text)) == wanted), repr(value))


def _quoted(text: str) -> str:
    body = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in body) + '"'
