"""An answer as one self-contained page to read and print, and as a fragment for a notebook: no scripts,
nothing loaded.

Cautions stand before the first table, because they must be read before the first weighing.
"""

from __future__ import annotations

import html
import re

from .sections import Answer, Section

SHORT = 24  # rows of a table that fits on a page
NARROW = ("word", "blank")
NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
STYLE = """
@page { size: A4; margin: 16mm 14mm; }
body { font-family: Georgia, "Times New Roman", Times, serif; color: #000; background: #fff; line-height: 1.4;
  max-width: 62rem; margin: 2rem auto; padding: 0 1.2rem; font-size: 1rem; }
h1 { font-size: 1.6rem; font-weight: normal; border-bottom: 2px solid #000; padding-bottom: .3rem; }
h2 { font-size: 1.15rem; font-weight: normal; font-style: italic; margin: 1.6rem 0 .3rem; }
.lead { font-size: 1.1rem; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; margin: 1.6rem 0 .5rem; font-variant-numeric: tabular-nums; }
caption { text-align: left; font-size: 1.15rem; font-style: italic; padding-bottom: .3rem; }
th, td { text-align: left; vertical-align: top; padding: .28rem .6rem .28rem 0; border-bottom: 1px solid #999;
  font-weight: normal; }
thead th { border-bottom: 1.5px solid #000; font-weight: bold; vertical-align: bottom; }
.num { text-align: right; white-space: nowrap; }
.num + :not(.num) { padding-left: .7rem; }
thead .num { white-space: normal; }
.word { white-space: nowrap; }
.tick { width: 1.8rem; }
.blank { width: 4.6rem; border-left: 1px solid #999; border-right: 1px solid #999; padding-left: .3rem; }
.blank + :not(.blank) { padding-left: .4rem; }
.pen { display: flex; gap: 1.6rem; margin: 1rem 0; }
.pen span { flex: 1 1 0; border-bottom: 1px solid #000; padding-bottom: .15rem; }
.bad { font-weight: bold; }
input[type=checkbox] { width: 1.1rem; height: 1.1rem; accent-color: #000; }
.notes, .cautions { margin: .2rem 0 1rem; padding-left: 1.2rem; }
section.warn { border: 1.5px solid #000; padding: .2rem 1rem; margin-top: 1.2rem; }
section.warn h2 { font-style: normal; margin: .5rem 0; }
.own-page { break-before: page; }
@media print { body { margin: 0; padding: 0; max-width: none; font-size: 10.5pt; } .scroll { overflow:
visible; }
  tr, section.warn, .short { break-inside: avoid; } thead { display: table-header-group; }
  caption, h2 { break-after:
  avoid; } }
"""


def answer_page(answer: Answer) -> str:
    """The whole page."""
    title = safe(answer.title)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>{STYLE}</style>\n</head>\n"
        f"<body>\n<main>\n<h1>{title}</h1>\n{_pen(answer.blanks)}{answer_fragment(answer)}\n</main>\n</body>\n</html>\n"
    )


def answer_fragment(answer: Answer) -> str:
    """What stands on the page, to be put into another."""
    blocks = [f'<p class="lead">{safe(answer.headline)}</p>' if answer.headline else ""]
    if answer.cautions:
        blocks.append(
            '<section class="warn" aria-label="Cautions"><h2>Cautions</h2>'
            f"{_items(answer.cautions, 'cautions')}</section>"
        )
    blocks += [_section(section) for section in answer.on("paper")]
    blocks.append(_items(answer.notes, "notes"))
    return "\n".join(filter(None, blocks))


def _pen(blanks: tuple[str, ...]) -> str:
    """A line to be filled in by hand."""
    lines = "".join(f"<span>{safe(one)}</span>" for one in blanks)
    return f'<p class="pen">{lines}</p>\n' if lines else ""


def safe(text: str) -> str:
    """Text that no browser takes for mark-up."""
    return html.escape(NOT_IN_XML.sub("", str(text)))


def _items(texts: tuple[str, ...], kind: str) -> str:
    items = "".join(f"<li>{safe(text)}</li>" for text in texts if text)
    return f'<ul class="{kind}">{items}</ul>' if items else ""


def _section(section: Section) -> str:
    return f'<div class="own-page">{_drawn(section)}</div>' if section.own_page else _drawn(section)


def _drawn(section: Section) -> str:
    notes = _items((section.more(), *section.notes), "notes")
    if section.kind == "table":
        return f"{_table(section)}\n{notes}"
    head = f"<h2>{safe(section.title)}</h2>" if section.title else ""
    if section.kind == "list":
        return f"{head}{_items(section.lines(), 'notes')}{notes}"
    return head + "".join(f"<p>{safe(item)}</p>" for item in section.lines()) + notes


def _table(section: Section) -> str:
    columns = section.columns
    kind = [
        ' class="num"' if column.is_number else f' class="{column.form}"' if column.form in NARROW else ""
        for column in columns
    ]
    head = "".join(
        f'<th scope="col"{kind[at]}>{safe(column.title)}</th>' for at, column in enumerate(columns)
    )
    if section.tick:
        head = f'<th scope="col" class="tick">done</th>{head}'
    named = next((at for at, column in enumerate(columns) if not column.is_number), 0)
    rows = []
    for texts in section.texts():
        cells = [safe(text) for text in texts]
        marked = [
            f'<th scope="row"{kind[at]}>{cell}</th>' if at == named else f"<td{kind[at]}>{cell}</td>"
            for at, cell in enumerate(cells)
        ]
        box = f'<td class="tick"><input type="checkbox" aria-label="done: {cells[named]}"></td>'
        rows.append(f"<tr>{box if section.tick else ''}{''.join(marked)}</tr>")
    caption = f"<caption>{safe(section.title)}</caption>" if section.title else ""
    body = "\n".join(rows)
    short = " short" if len(rows) <= SHORT else ""  # on one sheet of paper where it can be
    return (
        f'<div class="scroll{short}"><table>{caption}\n<thead><tr>{head}</tr></thead>\n'
        f"<tbody>\n{body}\n</tbody></table></div>"
    )
