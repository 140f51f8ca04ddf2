"""A data sheet as one HTML file that stands alone: no script, nothing fetched."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Figured:
    """A picture of the sheet: what it shows, its bytes, "png" or "svg"."""

    caption: str
    data: bytes
    kind: str


_STYLE = """
:root { --ink: #1c1d20; --soft: #5b6068; --rule: #c9ccd1; --ground: #ffffff; --band: #f4f2ec; }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 62rem; padding: 2rem 1.25rem; color: var(--ink); background: var(--ground);
  font: 15px/1.45 "Segoe UI", "Noto Sans", "DejaVu Sans", sans-serif; }
h1 { font-size: 1.7rem; margin: 0; overflow-wrap: anywhere; }
h2 { font-size: 1rem; margin: 1.6rem 0 .3rem; border-bottom: 2px solid var(--ink); }
.remark { color: var(--soft); margin: .2rem 0 1rem; }
.pictures { display: grid; grid-template-columns: repeat(auto-fit, minmax(17rem, 1fr)); gap: 1rem; }
figure { margin: 0; } img { width: 100%; height: auto; border: 1px solid var(--rule); }
figcaption { color: var(--soft); font-size: .85rem; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; padding: .2rem .6rem .2rem 0; border-bottom: 1px solid var(--rule);
  vertical-align: top; font-variant-numeric: tabular-nums; }
th { font-weight: 500; width: 17rem; } thead th { color: var(--soft); }
sup a { color: var(--soft); text-decoration: none; }
.caution { background: var(--band); border-left: 4px solid var(--ink); padding: .5rem .9rem; }
ol { padding-left: 1.6rem; font-size: .87rem; color: var(--soft); }
@media print { body { max-width: none; padding: 0; font-size: 10pt; } h2 { break-after: avoid; }
  tr { break-inside: avoid; } }
"""


def datasheet_html(page: dict[str, Any], pictures: Sequence[Figured]) -> bytes:
    """HTML of a data sheet given as plain data (title, names, remarks, blocks, reasons, notes, cautions).

    Same input, same bytes.  Every text is escaped.
    """
    parts = [
        "<!doctype html>",
        '<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(page['title'])}</title><style>{_STYLE}</style></head><body>",
        f"<h1>{escape(page['title'])}</h1>",
        *(f'<p class="remark">{escape(remark)}</p>' for remark in page["remarks"] if remark),
    ]
    if pictures:
        parts.append('<div class="pictures">' + "".join(map(_picture, pictures)) + "</div>")
    for block in page["blocks"]:
        parts += [f"<h2>{escape(block['title'])}</h2>", _table(block, page["names"])]
    if page["reasons"]:
        parts.append("<h2>What is not met, and why</h2><ul>")
        parts += [f"<li>{escape(reason)}</li>" for reason in page["reasons"]]
        parts.append("</ul>")
    if page["cautions"]:
        parts.append('<h2>Cautions</h2><div class="caution">')
        parts += [f"<p>{escape(caution)}</p>" for caution in page["cautions"]]
        parts.append("</div>")
    if page["notes"]:
        parts.append("<h2>Formulas and sources</h2><ol>")
        parts += [f'<li id="n{n["number"]}">{escape(n["words"])}</li>' for n in page["notes"]]
        parts.append("</ol>")
    return ("\n".join([*parts, "</body></html>"]) + "\n").encode()


def _picture(picture: Figured) -> str:
    mime = "image/svg+xml" if picture.kind == "svg" else "image/png"
    data = base64.b64encode(picture.data).decode()
    caption = escape(picture.caption)
    return f'<figure><img alt="{caption}" src="data:{mime};base64,{data}"><figcaption>{caption}</figcaption></figure>'


def _table(block: dict[str, Any], names: Sequence[str]) -> str:
    head = ""
    if len(names) > 1:
        head = "<thead><tr><th></th>" + "".join(f"<th>{escape(n)}</th>" for n in names) + "</tr></thead>"
    rows = []
    for line in block["lines"]:
        note = f'<sup><a href="#n{line["note"]}">{line["note"]}</a></sup>' if line["note"] else ""
        cells = "".join(f"<td>{escape(value)}</td>" for value in line["values"])
        rows.append(f"<tr><th scope=row>{escape(line['label'])}{note}</th>{cells}</tr>")
    return f'<div class="scroll"><table>{head}<tbody>{"".join(rows)}</tbody></table></div>'
