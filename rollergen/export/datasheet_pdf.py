"""A data sheet as PDF pages, set from the same plain data as the HTML."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rollergen.errors import MissingLibrary
from rollergen.export.datasheet_html import Figured

_PAGE = r"""
#let sheet = json("sheet.json")
#set document(title: sheet.title, date: none)
#set page(paper: "a4", margin: (left: 20mm, right: 14mm, top: 14mm, bottom: 16mm), footer: context [
  #set text(8pt, fill: luma(35%))
  #sheet.title #h(1fr) page #counter(page).display() of #counter(page).final().first()
])
#set text(9.5pt, hyphenate: false)
#let soft = luma(35%)
#text(17pt, weight: "bold", sheet.title)
#for remark in sheet.remarks { if remark != "" { block(above: 5pt, below: 4pt, text(fill: soft, remark)) } }
#if sheet.pictures.len() > 0 {
  grid(columns: calc.min(sheet.pictures.len(), 3) * (1fr,), gutter: 8pt,
    ..sheet.pictures.map(p => figure(
      image(p.file, height: 48mm, width: 100%, fit: "contain"),
      caption: text(8pt, p.caption), numbering: none)))
}
#let heading(words) = block(above: 11pt, below: 3pt, width: 100%, stroke: (bottom: 1.2pt), inset: (bottom: 2pt),
  sticky: true, text(10.5pt, weight: "bold", words))
#let blocks(parts, label) = for part in parts {
  heading(part.title)
  let many = sheet.names.len()
  table(columns: (label,) + many * (1fr,), stroke: (x, y) => (bottom: 0.4pt + luma(75%)),
    inset: (left: 0pt, right: 8pt, y: 2.6pt),
    ..if many > 1 { ([],) + sheet.names.map(n => text(fill: soft, n)) } else { () },
    ..part.lines.map(line => (
      [#line.label#if line.note > 0 { super(str(line.note)) }], ..line.values.map(v => [#v])
    )).flatten())
}
#let lines(parts) = parts.map(p => p.lines.len() + 2).sum(default: 0)
#let cut = range(sheet.blocks.len() + 1).find(n => lines(sheet.blocks.slice(0, n)) * 2 >= lines(sheet.blocks))
#if sheet.names.len() > 1 { blocks(sheet.blocks, 58mm) } else {
  grid(columns: (1fr, 1fr), column-gutter: 9mm,
    blocks(sheet.blocks.slice(0, cut), 40mm), blocks(sheet.blocks.slice(cut), 40mm))
}
#if sheet.reasons.len() > 0 { heading("What is not met, and why"); list(..sheet.reasons.map(r => [#r])) }
#if sheet.cautions.len() > 0 {
  heading("Cautions")
  block(width: 100%, stroke: (left: 2.5pt), inset: (left: 8pt, y: 3pt), sheet.cautions.map(c => par[#c]).join())
}
#if sheet.notes.len() > 0 {
  heading("Formulas and sources")
  set text(7.8pt, fill: soft)
  for note in sheet.notes { par(hanging-indent: 14pt, spacing: 3.4pt, [#box(width: 14pt)[#note.number] #note.words]) }
}
"""


def datasheet_pdf(page: dict[str, Any], pictures: Sequence[Figured]) -> bytes:
    """PDF of a data sheet given as plain data; A4, as many pages as it takes, text that can be searched.

    Same input, same bytes.  Raises MissingLibrary when the typesetter is not installed.
    """
    try:
        import typst
    except ImportError as missing:
        raise MissingLibrary(
            "PDF data sheets need typst: pip install typst; the HTML sheet does without"
        ) from missing
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        named = []
        for number, picture in enumerate(pictures):
            file = f"picture{number}.{picture.kind}"
            (root / file).write_bytes(picture.data)
            named.append({"file": file, "caption": picture.caption})
        (root / "sheet.json").write_text(json.dumps({**page, "pictures": named}), encoding="utf-8")
        (root / "sheet.typ").write_text(_PAGE, encoding="utf-8")
        return bytes(typst.compile(root / "sheet.typ", root=root, format="pdf", ignore_system_fonts=True))
