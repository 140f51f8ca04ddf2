"""Floors and fences of the house: imports go down only, heavy libraries stay in their rooms."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "rollergen"
FLOOR = {
    "errors": 0, "spec": 1, "shape": 2, "rubber": 3, "study": 4, "tooling": 4, "export": 5, "answer": 5, "cli": 6,
}  # fmt: skip
HEAVY = {"OCP", "cadquery", "trimesh", "matplotlib", "scipy", "pint", "ezdxf", "manifold3d"}
DRAWERS = {"util", "utils", "helpers", "common", "core", "base", "manager", "misc"}
FILES = sorted(PACKAGE.rglob("*.py"))


def room_of(file: Path) -> str:
    parts = file.relative_to(PACKAGE).with_suffix("").parts
    return parts[0]


def imports_of(file: Path) -> list[tuple[str, bool]]:
    """(module, at top) of every import."""
    tree = ast.parse(file.read_text())
    top = set(
        ast.walk(
            ast.Module(body=[n for n in tree.body if not isinstance(n, ast.FunctionDef)], type_ignores=[])
        )
    )
    inside = {id(n) for f in ast.walk(tree) if isinstance(f, ast.FunctionDef) for n in ast.walk(f)}
    found = []
    for node in ast.walk(tree):
        at_top = node in top and id(node) not in inside
        if isinstance(node, ast.ImportFrom) and node.module:
            found.append((node.module, at_top))
        elif isinstance(node, ast.Import):
            found.extend((name.name, at_top) for name in node.names)
    return found


@pytest.mark.parametrize("file", FILES, ids=lambda f: str(f.relative_to(PACKAGE)))
def test_imports_go_down_only(file: Path) -> None:
    if room_of(file) in ("__init__", "__main__"):
        return
    mine = room_of(file)
    assert mine in FLOOR, f"give the new room {mine} a floor"
    for module, _ in imports_of(file):
        parts = module.split(".")
        if parts[0] != "rollergen" or len(parts) < 2:
            continue
        other = parts[1]
        assert FLOOR[other] <= FLOOR[mine], f"{file.name} reaches up to {module}"
        if {mine, other} in ({"study", "tooling"}, {"answer", "export"}):
            pytest.fail(f"{mine} and {other} do not know each other: {file.name} knows {module}")
        if mine == other == "study":
            pytest.fail(f"study {file.name} knows another study: {module}")


@pytest.mark.parametrize("file", FILES, ids=lambda f: str(f.relative_to(PACKAGE)))
def test_heavy_libraries_are_imported_inside_functions(file: Path) -> None:
    loud = [module for module, at_top in imports_of(file) if at_top and module.split(".")[0] in HEAVY]
    assert loud == []


def test_no_drawers_for_leftovers() -> None:
    assert [f for f in FILES if f.stem in DRAWERS or f.parent.name in DRAWERS] == []


@pytest.mark.parametrize("command", [["--help"], ["gap", "profiles/beet-general.toml"]])
def test_light_commands_load_no_heavy_library(command: list[str]) -> None:
    code = (
        "import sys\nfrom rollergen.cli import run\n"
        f"sys.argv = ['rollergen', *{command!r}]\n"
        "try:\n    run()\nexcept SystemExit:\n    pass\n"
        "heavy = {'OCP', 'cadquery', 'trimesh', 'matplotlib', 'scipy.optimize', 'ezdxf', 'pint'}\n"
        "print('HEAVY', sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=PACKAGE.parent)
    assert done.stdout.splitlines()[-1] == "HEAVY []"
