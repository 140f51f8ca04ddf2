"""The data sheet as HTML and PDF: every text arrives, escaped, with its note, and the bytes stay the same."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from dataclasses import asdict
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from rollergen.answer.datasheet import Fact, Studied, datasheet
from rollergen.answer.report import draw, verdicts_of
from rollergen.export.datasheet_html import Figured, datasheet_html
from rollergen.export.datasheet_pdf import datasheet_pdf
from rollergen.export.section_svg import section_svg
from rollergen.spec.reading import read_source

PROFILES = Path(__file__).parents[2] / "profiles"
NAMES = ("beet-general", "beet-flooded", "plain-sleeve")


def studied(name: str, **more: Any) -> Studied:
    source = read_source(PROFILES / f"{name}.toml")
    drawn = draw(source)
    return Studied(drawn=drawn, verdicts=verdicts_of(drawn, source), **more)


def odd(name: str = "beet-general") -> Studied:
    facts = (Fact(block="Odd", label="<b>Ä & ш</b>", value='#let "x" = $1$ \\ *a*'),)
    return studied(name, more=facts, cautions=("mind the <gap> & the #nip",))


def texts(page: dict[str, Any]) -> list[str]:
    found = [page["title"], *page["remarks"], *page["reasons"], *page["cautions"]]
    for block in page["blocks"]:
        found.append(block["title"])
        for line in block["lines"]:
            found += [line["label"], *line["values"]]
    return [*found, *(note["words"] for note in page["notes"])]


class Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.ids: set[str] = set()
        self.links: set[str] = set()

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag not in ("script", "link", "iframe")
        for name, value in attrs:
            if name == "id":
                self.ids.add(f"#{value}")
            if name == "href":
                self.links.add(str(value))
            if name == "src":
                assert str(value).startswith("data:")


def test_every_text_stands_in_the_html_and_every_note_is_reached() -> None:
    page = asdict(datasheet([odd()]))
    reader = Reader()
    reader.feed(datasheet_html(page, [Figured(caption="a & b", data=b"<svg/>", kind="svg")]).decode())
    whole = "\n".join(reader.words)
    assert [t for t in texts(page) if t not in whole] == []
    assert reader.links == {f"#n{note['number']}" for note in page["notes"]} <= reader.ids


def squeezed(text: str) -> str:
    """Without what line breaking may change: spaces, hyphens."""
    return "".join(c for c in text if not c.isspace() and c not in "-\u2010\u00ad")


def test_every_text_can_be_read_out_of_the_pdf() -> None:
    one = odd()
    page = asdict(datasheet([one]))
    section = one.drawn.section
    picture = section_svg(section.outer, section.holes, title="section", colour="#d8c39a")
    data = datasheet_pdf(page, [Figured(caption="section", data=picture, kind="svg")])
    assert data.startswith(b"%PDF")
    pages = PdfReader(io.BytesIO(data)).pages
    # A4 in points
    assert all((round(float(p.mediabox.width)), round(float(p.mediabox.height))) == (595, 842) for p in pages)
    whole = squeezed("".join(p.extract_text() for p in pages))
    for number in range(1, len(pages) + 1):
        assert squeezed(f"beet-general page {number} of {len(pages)}") in whole
    # a text may be broken where its column ends, and the column beside it is read between: words stay whole
    missing = [word for text in texts(page) for word in text.split() if squeezed(word) not in whole]
    assert missing == []


def test_several_profiles_share_lines_and_miss_none() -> None:
    sheet = datasheet([studied(name) for name in NAMES])
    assert sheet.names == NAMES and sheet.title.startswith("Comparison")
    lines = {(block.title, line.label): line for block in sheet.blocks for line in block.lines}
    assert all(len(line.values) == 3 for line in lines.values())
    assert lines["Profile", "flank angle"].values == ("15 deg", "10 deg / 24 deg", "-")
    assert lines["Segment as cast", "mass with foam"].values[:2] == ("-", "-")
    alone = datasheet([studied("plain-sleeve")])
    for block in alone.blocks:
        for line in block.lines:
            assert lines[block.title, line.label].values[2] == line.values[0]
    assert all(reason.split(":")[0] in NAMES for reason in sheet.reasons)


def test_the_sheet_says_what_the_report_says() -> None:
    from rollergen.answer.report import report_of

    one = studied("beet-general")
    report = report_of(one.drawn, one.verdicts, ())
    lines = {line.label: line.values[0] for block in datasheet([one]).blocks for line in block.lines}
    assert lines["tip gap"] == f"{report['gaps'][0]['tip_gap_mm']:.2f}".rstrip("0") + " mm"
    assert lines["mass of rubber"] == f"{report['mass_kg']:.4f} kg"
    assert lines["volume"] == f"{report['volume_mm3'] / 1000:.2f} cm3"
    assert lines["as fitted, worst case"] == ("met" if report["gaps"][0]["ok_fitted"] else "NOT MET")


def test_no_profile_and_no_figure_are_refused() -> None:
    with pytest.raises(ValueError, match="needs a profile"):
        datasheet([])
    with pytest.raises(KeyError):
        datasheet([studied("plain-sleeve", more=(Fact(block="x", label="y", value="z", key="nobody"),))])


def test_bytes_are_the_same_in_other_processes() -> None:
    code = (
        "import sys, hashlib\nsys.path.insert(0, 'tests/export')\n"
        "from test_datasheet import *\n"
        "page = asdict(datasheet([odd(), studied('plain-sleeve')]))\n"
        "print(hashlib.sha256(datasheet_html(page, []) + datasheet_pdf(page, [])).hexdigest())"
    )
    told = {
        subprocess.run(
            [sys.executable, "-c", code], env={**os.environ, "PYTHONHASHSEED": seed}, check=True,
            capture_output=True, text=True, cwd=PROFILES.parent,
        ).stdout
        for seed in ("1", "2")
    }  # fmt: skip
    assert len(told) == 1
