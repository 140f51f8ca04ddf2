"""Is out_examples what the program makes today?  Builds every profile aside and compares.

Reports are compared as parsed numbers to 1e-9 (the last digit may differ between processors), other
files by presence and size within 5 %.  ``--write`` makes the folder anew instead.
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
FORMATS = "step,stl,3mf,glb,dxf"
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
        build_all(EXAMPLES)
        return 0
    with tempfile.TemporaryDirectory() as folder:
        new = Path(folder)
        build_all(new)
        made = {p.relative_to(new) for p in new.rglob("*") if p.is_file()}
        kept = {p.relative_to(EXAMPLES) for p in EXAMPLES.rglob("*") if p.is_file()}
        stale = [f"only on one side: {path}" for path in sorted(made ^ kept)]
        for path in sorted(made & kept):
            if path.suffix == ".json":
                fresh = same(json.loads((new / path).read_text()), json.loads((EXAMPLES / path).read_text()))
            else:
                a, b = (new / path).stat().st_size, (EXAMPLES / path).stat().st_size
                fresh = abs(a - b) <= 0.05 * b
            if not fresh:
                stale.append(f"stale: {path}")
    print("\n".join(stale) or f"out_examples is fresh ({len(kept)} files)")
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main())
