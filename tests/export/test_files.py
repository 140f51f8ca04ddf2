"""Files leave together or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from rollergen.errors import FileTrouble
from rollergen.export.files import write_aside, write_together


def everything(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_all_are_written_folders_made_old_ones_replaced(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"old")
    write_together([(tmp_path / "a", b"1"), (tmp_path / "deep" / "er" / "b", b"2")])
    assert everything(tmp_path) == {"a": b"1", "deep/er/b": b"2"}
    assert (tmp_path / "a").stat().st_mode & 0o777 == 0o644


@pytest.mark.parametrize(
    "last", ["wall/c", "folder"], ids=["a file where a folder should be", "a folder in the way"]
)
def test_one_that_cannot_be_written_keeps_all_others_away(tmp_path: Path, last: str) -> None:
    (tmp_path / "a").write_bytes(b"old")
    (tmp_path / "wall").write_bytes(b"a file")
    (tmp_path / "folder").mkdir()
    before = everything(tmp_path)
    with pytest.raises(FileTrouble, match="cannot be written"):
        write_together([(tmp_path / "a", b"new"), (tmp_path / "b", b"new"), (tmp_path / last, b"new")])
    assert everything(tmp_path) == before


def test_one_alone(tmp_path: Path) -> None:
    write_aside(tmp_path / "x" / "y", b"z")
    assert everything(tmp_path) == {"x/y": b"z"}
