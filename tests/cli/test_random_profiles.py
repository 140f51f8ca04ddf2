"""Random profiles through the front door: sound files, or every complaint and no file at all."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any

import pytest
import trimesh
from hypothesis import event, given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from rollergen.cli import app

runner = CliRunner()
Keys = dict[str, dict[str, str]]


def mm(low: float, high: float) -> st.SearchStrategy[str]:
    return st.floats(low, high).map(lambda value: f'"{value:.3f} mm"')


ANGLES = st.floats(0, 359).map(lambda a: f'"{a:.2f} deg"')
RIBS = st.fixed_dictionaries(
    {
        "count": st.integers(1, 11).map(str),
        "height": mm(4, 12),
        "tip_width": mm(7, 11),
        "flank_angle_ahead": st.sampled_from(['"8 deg"', '"15 deg"', '"22 deg"']),
        "flank_angle_behind": st.sampled_from(['"8 deg"', '"15 deg"', '"20 deg"']),
        "tip_radius": st.sampled_from(['"0 mm"', '"1 mm"', '"2 mm"']),
        "root_radius": st.sampled_from(['"0 mm"', '"2 mm"', '"3 mm"']),
        "helix_pitch": st.one_of(st.just('"straight"'), mm(90, 3000)),
        "hand": st.sampled_from(['"right"', '"left"']),
        "start": ANGLES,
    }
)
BORE = st.sampled_from(
    [
        {"section": '"square"', "across": '"30 mm"', "corner_radius": '"1.5 mm"', "clearance": '"0.5 mm"'},
        {"section": '"hexagon"', "across": '"32 mm"', "shaft_tolerance": '"0.2 mm"'},
        {"section": '"round"', "across": '"1 1/4 in"', "lead_in": '"1 mm"'},
        {"section": '"keyed"', "across": '"30 mm"', "key_width": '"8 mm"', "key_depth": '"3 mm"'},
    ]
)
CHAMBERS = st.fixed_dictionaries(
    {
        "count": st.integers(0, 9).map(str),
        "section": st.sampled_from(['"sector"', '"round"']),
        "wall": mm(5, 9),
        "web": mm(5, 8),
        "hub_wall": mm(5, 9),
        "corner_radius": st.just('"2 mm"'),
        "start": ANGLES,
    }
)
PROFILES = st.fixed_dictionaries(
    {
        "body": st.fixed_dictionaries({"diameter": mm(96, 140), "free_length": mm(40, 160)}),
        "ribs": st.one_of(st.none(), RIBS),
        "bore": BORE,
        "chambers": st.one_of(st.none(), CHAMBERS),
        "compound": st.just({"density": '"1120 kg/m^3"'}),
    }
)


def text_of(tables: dict[str, dict[str, str] | None]) -> str:
    lines = ['name = "random"']
    for name, table in tables.items():
        if table is not None:
            lines += [f"[{name}]", *(f"{key} = {value}" for key, value in table.items())]
    return "\n".join(lines) + "\n"


def built(text: str, formats: str) -> tuple[int, dict[str, Any], str, dict[str, bytes]]:
    """(exit code, the JSON object, stderr, files by name)."""
    with tempfile.TemporaryDirectory() as folder:
        profile = Path(folder) / "random.toml"
        profile.write_text(text, encoding="utf-8")
        out = Path(folder) / "out"
        words = ["build", str(profile), "--out", str(out), "--formats", formats, "--json"]
        done = runner.invoke(app, [*words, "--chord-error", "0.2 mm"])
        files = {p.name: p.read_bytes() for p in out.rglob("*") if p.is_file()} if out.exists() else {}
        return done.exit_code, json.loads(done.stdout), done.stderr, files


@settings(max_examples=40, deadline=None)
@given(tables=PROFILES)
def test_a_random_profile_is_built_sound_or_refused_whole(tables: dict[str, dict[str, str] | None]) -> None:
    code, page, err, files = built(text_of(tables), "step,stl")
    event(f"exit {code}")
    assert "Traceback" not in err
    if code == 2:
        assert page["errors"] and all(e["message"] and e["line"] > 0 for e in page["errors"])
        assert files == {}
        return
    assert code == 0
    step, stl = sorted(page["files"], key=lambda file: file["kind"])
    assert abs(step["volume_error"]) < 1e-6
    with tempfile.NamedTemporaryFile(suffix=".stl") as read:
        read.write(files["random.stl"])
        read.flush()
        mesh = trimesh.load_mesh(read.name)
    assert mesh.is_watertight
    # facets inside a round of radius R lose at most 2 e / R of its area; 15 mm is the smallest radius by far
    assert mesh.volume == pytest.approx(page["volume_mm3"], rel=2 * 0.2 / 15)
    assert stl["deviation_mm"] <= 0.2


def test_most_random_profiles_are_valid() -> None:
    """Else the property above would hold for want of cases."""
    codes: list[int] = []

    @settings(max_examples=60, deadline=None, database=None, derandomize=True)
    @given(tables=PROFILES)
    def collect(tables: dict[str, dict[str, str] | None]) -> None:
        codes.append(built(text_of(tables), "dxf")[0])

    collect()
    assert set(codes) <= {0, 2}
    assert codes.count(0) > 0.4 * len(codes)


BREAKS = [
    '"9 kg"', '"9"', "9", '"nan mm"', '"-9 mm"', '"inf mm"', '"1e300 mm"', '"9,5 mm"', '""', '"mm"', "true", "[]", "{}",
    '"9 mm mm"', '"nine mm"', '"1/0 in"', "nan",
]  # fmt: skip


@settings(max_examples=80, deadline=None)
@given(
    tables=PROFILES,
    table=st.sampled_from(["body", "bore"]),
    slip=st.sampled_from(["value", "name", "missing"]),
    said=st.sampled_from(BREAKS),
)
def test_a_broken_profile_exits_2_with_its_place_and_leaves_nothing(
    tables: dict[str, dict[str, str] | None], table: str, slip: str, said: str
) -> None:
    broken = dict(tables[table] or {})
    key = "diameter" if table == "body" else "across"
    if slip == "value":
        broken[key] = said
    else:
        value = broken.pop(key)
        if slip == "name":
            broken[key[:-1] + "x"] = value
    code, page, err, files = built(text_of({**tables, table: broken}), "step,stl")
    assert code == 2
    assert "Traceback" not in err
    assert files == {}
    assert any(error["key"].startswith(table) and error["line"] > 0 for error in page["errors"])
