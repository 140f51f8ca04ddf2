"""The three writers: what one says the others say; DXF opens clean, PDF and SVG hold real text; bytes repeat."""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import sys
from collections import Counter
from functools import cache
from math import degrees, pi
from pathlib import Path

import ezdxf
import pypdf
import pytest
from lxml import etree

from rollergen.answer.drawing_views import drawing_of
from rollergen.answer.report import draw
from rollergen.export.drawing import Measure, Page, all_words
from rollergen.export.drawing_dxf import drawing_dxf, style_name
from rollergen.export.drawing_pdf import drawing_pdf
from rollergen.export.drawing_sheet import Asked, pages_of
from rollergen.export.drawing_svg import drawing_svg
from rollergen.export.drawing_text import width_of
from rollergen.export.sheet_frame import TitleBlock
from rollergen.spec.reading import read_source

ROOT = Path(__file__).parents[2]
PROFILES = {p.stem: p for p in sorted((ROOT / "profiles").glob("*.toml"))}
ODD = TitleBlock(
    title='Walze für Rüben <&> "Nr. 1"', owner="Завод Łódź & Söhne", creator="Ω. O'Neil", number="A/7"
)
SVG = "{http://www.w3.org/2000/svg}"


@cache
def pages(name: str, size: str | None = None) -> tuple[Page, ...]:
    return pages_of(drawing_of(draw(read_source(PROFILES[name]))), ODD, Asked(size=size))  # type: ignore[arg-type]


@cache
def dxf(name: str) -> ezdxf.document.Drawing:
    return ezdxf.read(io.StringIO(drawing_dxf(pages(name)[0]).decode("utf-8")))


def said(page: Page) -> Counter[str]:
    return Counter(w.text for w in all_words(page.items))


@pytest.mark.parametrize("name", ["beet-flooded", "plain-sleeve", "celeriac-transfer"])
def test_dxf_opens_clean_in_millimetres(name: str) -> None:
    doc = dxf(name)
    audit = doc.audit()
    assert not audit.errors and not audit.fixes
    assert doc.dxfversion == "AC1032" and doc.header["$INSUNITS"] == 4 and doc.header["$MEASUREMENT"] == 1
    widths = {layer.dxf.name: layer.dxf.lineweight for layer in doc.layers}
    assert widths["VISIBLE"] == 50 and widths["NARROW"] == widths["HATCH"] == widths["DIMENSION"] == 25
    assert widths["FRAME"] == 70
    assert len(doc.modelspace().query("HATCH")) >= 2


@pytest.mark.parametrize("name", ["beet-flooded", "plain-sleeve", "celeriac-transfer"])
def test_dxf_dimensions_measure_the_model(name: str) -> None:
    """What a CAD system measures on the entity, times the style's DIMLFAC, is the model's value."""
    doc = dxf(name)
    entities = list(doc.modelspace().query("DIMENSION ARC_DIMENSION"))
    items = [i for i in pages(name)[0].items if isinstance(i, Measure)]
    assert len(entities) == len(items)
    for entity, item in zip(entities, items, strict=True):
        factor = doc.dimstyles.get(entity.dxf.dimstyle).dxf.dimlfac
        assert factor == item.per_paper_mm and entity.dxf.dimstyle == style_name(factor)
        assert entity.dxf.text == f"{item.before}<>{item.after}"
        assert len(list(doc.blocks.get(entity.dxf.geometry).query("TEXT"))) == 1
        if item.kind == "arc":
            centre, first, last = entity.dxf.defpoint4, entity.dxf.defpoint2, entity.dxf.defpoint3
            sweep = (last - centre).angle - (first - centre).angle
            assert (first - centre).magnitude * (sweep % (2 * pi)) * factor == pytest.approx(item.value)
        elif item.kind == "angle":
            assert entity.get_measurement() == pytest.approx(degrees(item.value), abs=1e-9)
        else:
            times = 2 if item.kind == "diameter" and entity.dimtype == 4 else 1
            assert times * entity.get_measurement() * factor == pytest.approx(item.value, abs=1e-9)


def test_dxf_says_every_text_and_its_styles_are_ours() -> None:
    doc = dxf("beet-flooded")
    texts = Counter(t.dxf.text for t in doc.modelspace().query("TEXT"))
    for entity in doc.modelspace().query("DIMENSION ARC_DIMENSION"):
        texts.update(t.dxf.text for t in doc.blocks.get(entity.dxf.geometry).query("TEXT"))
    assert texts == said(pages("beet-flooded")[0])
    assert {s.dxf.name for s in doc.dimstyles} >= {"SCALE_1_2", "SCALE_1_1", "SCALE_2_1"}
    used = {e.dxf.dimstyle for e in doc.modelspace().query("DIMENSION ARC_DIMENSION")}
    assert all(doc.dimstyles.get(style).dxf.dimlfac in (0.5, 1.0, 2.0) for style in used)


@pytest.mark.parametrize("size", [None, "A4"])
def test_pdf_holds_every_text_as_text_on_pages_of_true_size(size: str | None) -> None:
    sheets = pages("beet-flooded", size)
    reader = pypdf.PdfReader(io.BytesIO(drawing_pdf(sheets)), strict=True)
    assert len(reader.pages) == len(sheets)
    for leaf, page in zip(reader.pages, sheets, strict=True):
        assert float(leaf.mediabox.width) == pytest.approx(page.width * 72 / 25.4, abs=1e-3)
        assert float(leaf.mediabox.height) == pytest.approx(page.height * 72 / 25.4, abs=1e-3)
        found: Counter[str] = Counter()
        leaf.extract_text(visitor_text=lambda text, *_, found=found: found.update([text.strip()]))
        whole = "".join(leaf.extract_text().split())
        for text, times in said(page).items():
            assert whole.count("".join(text.split())) >= times, text
    assert reader.metadata is not None and reader.metadata.title == "beet-flooded"
    assert "/CreationDate" not in reader.metadata


def test_pdf_and_svg_draw_lines_in_the_page_s_widths() -> None:
    page = pages("beet-flooded")[0]
    content = pypdf.PdfReader(io.BytesIO(drawing_pdf([page]))).pages[0].get_contents()
    assert content is not None
    widths = {
        float(line.split()[0]) for line in content.get_data().decode("ascii").splitlines() if " w [" in line
    }
    assert widths == {0.25, 0.5, 0.7}
    root = etree.fromstring(drawing_svg(page))
    assert {float(p.get("stroke-width")) for p in root.iter(f"{SVG}path")} == widths


def test_svg_says_every_text_as_long_as_the_layout_took_it() -> None:
    page = pages("beet-flooded")[0]
    root = etree.fromstring(drawing_svg(page))
    assert root.get("width") == "420mm" and root.get("viewBox") == "0 0 420 297"
    texts = list(root.iter(f"{SVG}text"))
    assert Counter(t.text for t in texts) == said(page)
    for text in texts:
        height = float(text.get("font-size")) * 1493 / 2048
        assert float(text.get("textLength")) == pytest.approx(width_of(text.text, height), abs=2e-3)


def test_odd_letters_reach_all_three_files() -> None:
    page = pages("beet-flooded")[0]
    words = said(page)
    for text in (ODD.creator, ODD.number):
        assert words[text] == 1
    joined = "".join(words)
    assert all(word in joined for word in ("Rüben", "<&>", "Завод", "Łódź", "Söhne"))
    assert "Завод".encode() in drawing_dxf(page) and b"&lt;&amp;&gt;" in drawing_svg(page)
    assert "Завод" in pypdf.PdfReader(io.BytesIO(drawing_pdf([page]))).pages[0].extract_text()


def test_signs_that_dxf_reads_as_codes_stay_what_they_are() -> None:
    title = TitleBlock(title="100 % and %%c ^J", owner="%%% 5%")
    page = pages_of(drawing_of(draw(read_source(PROFILES["plain-sleeve"]))), title)[0]
    doc = ezdxf.read(io.StringIO(drawing_dxf(page).decode("utf-8")))
    texts = [t.plain_text() for t in doc.modelspace().query("TEXT")]
    assert title.title in texts and title.owner in texts and not doc.audit().errors


@pytest.mark.parametrize("seed", [pytest.param("0", marks=pytest.mark.slow), "1"])
def test_bytes_do_not_depend_on_process_or_hash_seed(seed: str) -> None:
    """A process of its own with a hash seed of its own says the same as this one."""
    code = (
        "import sys, hashlib\nfrom pathlib import Path\n"
        "from rollergen.answer.drawing_views import drawing_of\nfrom rollergen.answer.report import draw\n"
        "from rollergen.export.drawing_sheet import pages_of\nfrom rollergen.export.sheet_frame import TitleBlock\n"
        "from rollergen.export.drawing_dxf import drawing_dxf\nfrom rollergen.export.drawing_pdf import drawing_pdf\n"
        "from rollergen.export.drawing_svg import drawing_svg\nfrom rollergen.spec.reading import read_source\n"
        "pages = pages_of(drawing_of(draw(read_source(Path('profiles/beet-short.toml')))), TitleBlock(title='ж'))\n"
        "for data in (drawing_dxf(pages[0]), drawing_pdf(pages), drawing_svg(pages[0])):\n"
        "    print(hashlib.sha256(data).hexdigest())\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONHASHSEED": seed},
        check=True,
    )
    again = pages_of(drawing_of(draw(read_source(PROFILES["beet-short"]))), TitleBlock(title="ж"))
    here = (drawing_dxf(again[0]), drawing_pdf(again), drawing_svg(again[0]))
    assert done.stdout.split() == [hashlib.sha256(data).hexdigest() for data in here]
