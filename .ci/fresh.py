"""Is out_examples what the program makes today?  Makes everything aside and compares.

Reports are compared as parsed numbers to 1e-9 (the last digit may differ between processors), other
files by presence and size within 5 %, what comes of a bed run within ROOM.  ``--write`` makes the folder anew instead.
"""

from __future__ import annotations

import json
import math
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
EXAMPLES = ROOT / "out_examples"
RANKED = ("beet-general", "beet-flooded", "shallot-gentle", "celeriac-transfer")
FORMATS = "step,stl,3mf,glb,dxf"
# by which a file's size may differ: a bed run is chaos, its last digits may go another way on another processor
ROOM = {".gif": 0.3, ".txt": 0.15}
SKIPPED = {"sha256", "bytes", "made_from_sha256"}


def build_all(out: Path) -> None:
    profiles = sorted((ROOT / "profiles").glob("*.toml"))
    subprocess.run(
        [sys.executable, "-m", "rollergen", "build", *map(str, profiles), "--out", str(out)]
        + ["--formats", FORMATS, "--chord-error", "0.1 mm"],
        check=True,
        stdout=subprocess.DEVNULL,
    )
    for profile in profiles:
        name = profile.stem
        if "[[mates]]" in profile.read_text():
            picture = out / name / f"{name}.gap.png"
            command = [sys.executable, "-m", "rollergen", "gap", str(profile), "--picture", str(picture)]
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


def run_duties(out: Path) -> None:
    """The beet line's duty: its table, its pictures, a profile proposed for it, the bed run for two seconds."""
    folder, duty = out / "beet-sandy-loam", ROOT / "profiles/duties/beet-sandy-loam.toml"
    general, bed = ROOT / "profiles/beet-general.toml", ROOT / "profiles/beds/beet-line.toml"
    ribbed = [ROOT / f"profiles/{name}.toml" for name in RANKED]
    folder.mkdir(parents=True)
    told = {
        "rank.json": ["rank", *ribbed, "--duty", duty, "--picture", folder / "rank.png", "--json"],
        "grip.json": ["grip", general, "--duty", duty, "--picture", folder / "grip-map.png", "--json"],
        "grip.txt": ["grip", general, "--duty", duty, "--show", "section", "--picture", folder / "grip-section.png"],
        "advise.txt": [
            "advise", "--duty", duty, "--tip-gaps", "1.5 mm", "--out", folder / "proposal.toml", "--picture",
            folder / "advise.png",
        ],
        "trial.txt": [
            "trial", bed, "--duty", duty, "--seconds", "4", "--bodies", "60", "--picture", folder / "bed.gif",
        ],
    }  # fmt: skip
    told["roller.txt"] = [
        "roller", general, "--width", "1.6 m", "--lengths", ROOT / "profiles/beet-short.toml", "--speed", "70 rpm",
        "--table", "--picture", folder / "shafts.png",
    ]  # fmt: skip
    told["shed.txt"] = ["shed", general, "--duty", duty, "--picture", folder / "shed.png"]
    told["bed.txt"] = [
        "bed", bed, "--lengths", ROOT / "profiles/beet-short.toml", "--picture", folder / "bed.png", "--parts",
        folder / "parts.csv",
    ]  # fmt: skip
    told["mould.txt"] = [
        "mould", general, "--shrinkage", "1.4 %", "--shrinkage-source", "example value", "--draft", "0.5 deg",
        "--part-number", "BG-112", "--picture", folder / "mould.png", "--undercut", folder / "undercut.png",
        "--interference",
    ]  # fmt: skip
    told["flex.txt"] = [
        "flex", general, "--travel", "5 mm", "--steps", "10", "--picture", folder / "flex.png",
    ]  # fmt: skip
    for name, words in told.items():
        command = [sys.executable, "-m", "rollergen", *map(str, words)]
        done = subprocess.run(command, check=True, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        (folder / name).write_bytes(done.stdout)


def draw_sheets(out: Path) -> None:
    """Drawings, data sheets and pictures of the general roller; a comparison of three."""
    general, sleeve = ROOT / "profiles/beet-general.toml", ROOT / "profiles/plain-sleeve.toml"
    duty = ROOT / "profiles/duties/beet-sandy-loam.toml"
    three = [ROOT / f"profiles/{name}.toml" for name in ("beet-general", "beet-flooded", "shallot-gentle")]
    block = ["--number", "100-234", "--date", "2026-03-02", "--creator", "A. Weber"]
    for words in (
        ["picture", general, "--show", "solid,section,stack"],
        [
            "proto",
            general,
            "--printer",
            "220x220x90 mm",
            "--chord-error",
            "0.2 mm",
            "--picture",
            out / "beet-sandy-loam" / "proto.png",
        ],
        ["sheet", general, "--duty", duty, "--width", "1.6 m", *block],
        ["sheet", sleeve, "--what", "drawing", "--formats", "pdf", *block],
        ["sheet", *three, "--what", "data", "--duty", duty],
    ):
        command = [sys.executable, "-m", "rollergen", *map(str, words), "--out", str(out)]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def inspect_a_part(out: Path) -> None:
    """The general roller as if scanned after a pour that shrank 0.6 % more across and 0.9 % more along than asked."""
    from dataclasses import replace

    import numpy as np

    from rollergen.export.stl import stl_bytes
    from rollergen.shape.mesh import build_mesh
    from rollergen.shape.section import part_of, section_of
    from rollergen.spec.reading import read_profile

    path = ROOT / "profiles/beet-general.toml"
    profile = read_profile(path)
    mesh = build_mesh(part_of(profile, section_of(profile)), chord_error=0.02)
    noise = np.random.default_rng(1).normal(0.0, 0.05, mesh.vertices.shape)
    scan = replace(mesh, vertices=mesh.vertices * [0.994, 0.994, 0.991] + noise)
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "part.stl").write_bytes(stl_bytes(scan, "synthetic scan"))
        words = ["inspect", path, "--scan", "part.stl", "--cast-with", "1.4 %", "--across-parting"]
        words += ["--picture", out / "beet-sandy-loam" / "inspect.png"]
        command = [sys.executable, "-m", "rollergen", *map(str, words)]
        done = subprocess.run(command, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    if done.returncode not in (0, 3):  # the part may well be out of its class
        raise SystemExit(f"inspect answered {done.returncode}")
    (out / "beet-sandy-loam" / "inspect.txt").write_bytes(done.stdout)


def make_all(out: Path) -> None:
    build_all(out)
    run_duties(out)
    draw_sheets(out)
    inspect_a_part(out)


def same(a: object, b: object) -> bool:
    if isinstance(a, dict) and isinstance(b, dict):
        return a.keys() == b.keys() and all(k in SKIPPED or same(a[k], b[k]) for k in a)
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(map(same, a, b))
    if isinstance(a, float) and isinstance(b, float):
        return math.isclose(a, b, rel_tol=1e-9, abs_tol=1e-7)
    return a == b


def main() -> int:
    if "--write" in sys.argv:
        shutil.rmtree(EXAMPLES, ignore_errors=True)
        make_all(EXAMPLES)
        return 0
    with tempfile.TemporaryDirectory() as folder:
        new = Path(folder)
        make_all(new)
        made = {p.relative_to(new) for p in new.rglob("*") if p.is_file()}
        kept = {p.relative_to(EXAMPLES) for p in EXAMPLES.rglob("*") if p.is_file()}
        stale = [f"only on one side: {path}" for path in sorted(made ^ kept)]
        for path in sorted(made & kept):
            if path.suffix == ".json":
                fresh = same(json.loads((new / path).read_text()), json.loads((EXAMPLES / path).read_text()))
            else:
                a, b = (new / path).stat().st_size, (EXAMPLES / path).stat().st_size
                fresh = abs(a - b) <= ROOM.get(path.suffix, 0.05) * b
            if not fresh:
                stale.append(f"stale: {path}")
    print("\n".join(stale) or f"out_examples is fresh ({len(kept)} files)")
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main())
