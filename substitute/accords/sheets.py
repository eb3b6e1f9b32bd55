"""Tables for paper and spreadsheets: one plain record, written as CSV, XLSX, Markdown or a single page to print.

Cells are text, numbers, yes/no or empty. Text is never taken for a formula in a workbook, nor for mark-up on a page. In CSV, cells
are written as they are, so that scripts read back what was written.
"""

from __future__ import annotations

import html
import io
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from ..errors import InputError
from ..tables.files import to_csv as rows_to_csv
from ..tables.files import write_whole
from .weighing import Weighing

XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
NOT_IN_TITLES = re.compile(r"[\[\]:*?/\\\x00-\x1f]")
LONGEST_TITLE, LONGEST_CELL = 31, 32_767  # what XLSX allows
NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


@dataclass(frozen=True)
class Sheet:
    """A table with a title; units stand in the column names.

    ``decimals`` fixes the number of decimals of a column where people read it (CSV keeps full precision); ``tick`` gives every row of
    the printed page a box to tick.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple, ...]
    notes: tuple[str, ...] = ()
    decimals: Mapping[str, int] = field(default_factory=dict)
    tick: bool = False

    def __post_init__(self):
        object.__setattr__(self, "columns", tuple(self.columns))
        object.__setattr__(self, "rows", tuple(tuple(row) for row in self.rows))
        object.__setattr__(self, "notes", tuple(self.notes))
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"{self.title}: a row of {len(row)} cells under {len(self.columns)} columns")


def _is_number(cell) -> bool:
    return isinstance(cell, (int, float)) and not isinstance(cell, bool)


def _plain(cell):
    """A cell with unknown numbers as empty and truth as words."""
    if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
        return None
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return cell if isinstance(cell, (int, float, str)) else str(cell)


def _shown(sheet: Sheet, column: str, cell) -> str:
    """A cell as people read it."""
    cell = _plain(cell)
    if cell is None:
        return ""
    if _is_number(cell):
        return f"{cell:.{sheet.decimals[column]}f}" if column in sheet.decimals else f"{cell:.6g}"
    return cell


def to_csv(sheet: Sheet) -> str:
    """The sheet as CSV text, numbers at full precision; title and notes are left out."""
    return rows_to_csv(sheet.columns, [[_plain(cell) for cell in row] for row in sheet.rows])


def to_xlsx(sheets: Iterable[Sheet], cautions: Sequence[str] = ()) -> bytes:
    """The sheets as a workbook, header in the first row of each; notes and cautions stand on a last sheet of their own.

    Text is always stored as text: a cell that starts with ``=``, ``+``, ``-`` or ``@`` is never a formula. Raises ``ValueError``
    without a sheet.
    """
    from openpyxl import Workbook
    from openpyxl.styles import Font

    sheets = list(sheets)
    if not sheets:
        raise ValueError("a workbook needs at least one sheet")
    notes = [(sheet.title, note) for sheet in sheets for note in sheet.notes] + [
        ("caution", text) for text in cautions
    ]
    if notes:
        sheets.append(Sheet("notes", ("about", "note"), notes))
    book = Workbook()
    book.remove(book.active)
    taken: set[str] = set()
    for sheet in sheets:
        page = book.create_sheet(_tab(sheet.title, taken))
        for row, cells in enumerate((sheet.columns, *sheet.rows), 1):
            for column, cell in enumerate(cells, 1):
                _fill(page.cell(row, column), _plain(cell), sheet.decimals.get(sheet.columns[column - 1]))
        for cell in page[1]:
            cell.font = Font(bold=True)
        page.freeze_panes = "A2"
        for column, name in enumerate(sheet.columns, 1):
            widest = max((len(_shown(sheet, name, row[column - 1])) for row in sheet.rows), default=0)
            page.column_dimensions[page.cell(1, column).column_letter].width = min(
                max(widest, len(name)) + 2, 70
            )
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _fill(cell, value, decimals: int | None) -> None:
    if value is None or value == "":
        return
    if _is_number(value):
        cell.value = value
        if decimals is not None:
            cell.number_format = f"0.{'0' * decimals}" if decimals else "0"
        return
    cell.value = NOT_IN_XML.sub("", value)[:LONGEST_CELL]
    cell.data_type = "s"  # openpyxl guesses a formula from a leading "="
    if cell.value[:1] in ("=", "+", "-", "@", "\t", "\r"):
        cell.quotePrefix = True  # and a spreadsheet guesses one when the cell is edited


def _tab(title: str, taken: set[str]) -> str:
    """A sheet's name as XLSX allows it, each once."""
    base = NOT_IN_TITLES.sub(" ", title).strip(" '")[:LONGEST_TITLE].strip(" '") or "sheet"
    name, number = base, 2
    while name.casefold() in taken or name.casefold() == "history":  # a name spreadsheets keep for themselves
        tail = f" {number}"
        name, number = base[: LONGEST_TITLE - len(tail)] + tail, number + 1
    taken.add(name.casefold())
    return name


def to_markdown(sheets: Iterable[Sheet]) -> str:
    """The sheets as Markdown tables under headings, notes as lists."""

    def cell(text: str) -> str:
        text = " ".join(text.split()).replace("\\", "\\\\").replace("|", "\\|")
        return text.replace("&", "&amp;").replace("<", "&lt;")

    blocks = []
    for sheet in sheets:
        numeric = _numeric(sheet)
        lines = [f"## {cell(sheet.title)}", "", f"| {' | '.join(map(cell, sheet.columns))} |"]
        lines.append(f"|{'|'.join('---:' if number else '---' for number in numeric)}|")
        lines += [
            f"| {' | '.join(cell(_shown(sheet, column, value)) for column, value in zip(sheet.columns, row))} |"
            for row in sheet.rows
        ]
        if sheet.notes:
            lines += ["", *(f"- {cell(note)}" for note in sheet.notes)]
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"


def _numeric(sheet: Sheet) -> list[bool]:
    """Which columns hold numbers only."""
    columns = [
        [row[i] for row in sheet.rows if _plain(row[i]) is not None] for i in range(len(sheet.columns))
    ]
    return [bool(cells) and all(map(_is_number, cells)) for cells in columns]


def _single_words(sheet: Sheet, column: int) -> bool:
    """Whether a column holds short words only, such as CAS numbers, that should not be broken."""
    return all(len(text) <= 14 and " " not in text for text in (str(row[column] or "") for row in sheet.rows))


STYLE = """
@page { size: A4; margin: 16mm 14mm; }
body { font-family: Georgia, "Times New Roman", Times, serif; color: #000; background: #fff; line-height: 1.4;
  max-width: 62rem; margin: 2rem auto; padding: 0 1.2rem; font-size: 1rem; }
h1 { font-size: 1.6rem; font-weight: normal; border-bottom: 2px solid #000; padding-bottom: .3rem; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; margin: 1.6rem 0 .5rem; font-variant-numeric: tabular-nums; }
caption { text-align: left; font-size: 1.15rem; font-style: italic; padding-bottom: .3rem; }
th, td { text-align: left; vertical-align: top; padding: .28rem .6rem .28rem 0; border-bottom: 1px solid #999; font-weight: normal; }
thead th { border-bottom: 1.5px solid #000; font-weight: bold; }
.num { text-align: right; white-space: nowrap; }
.word { white-space: nowrap; }
.tick { width: 1.8rem; }
input[type=checkbox] { width: 1.1rem; height: 1.1rem; accent-color: #000; }
.notes, .cautions { margin: .2rem 0 1rem; padding-left: 1.2rem; }
section.warn { border: 1.5px solid #000; padding: .2rem 1rem; margin-top: 1.6rem; }
section.warn h2 { font-size: 1.1rem; margin: .5rem 0; }
@media print { body { margin: 0; padding: 0; max-width: none; font-size: 10.5pt; } .scroll { overflow: visible; }
  tr, section.warn { break-inside: avoid; } thead { display: table-header-group; } caption { break-after: avoid; } }
"""


def to_html(title: str, sheets: Iterable[Sheet], cautions: Sequence[str] = ()) -> str:
    """One self-contained page to read and print: no scripts, nothing loaded from elsewhere."""
    body = "\n".join(_table(sheet) for sheet in sheets)
    warn = ""
    if cautions:
        items = "".join(f"<li>{_safe(text)}</li>" for text in cautions)
        warn = f'<section class="warn" aria-labelledby="cautions"><h2 id="cautions">Cautions</h2><ul class="cautions">{items}</ul></section>\n'
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_safe(title)}</title>\n<style>{STYLE}</style>\n</head>\n"
        f"<body>\n<main>\n<h1>{_safe(title)}</h1>\n{warn}{body}\n</main>\n</body>\n</html>\n"
    )


def _safe(text: str) -> str:
    return html.escape(NOT_IN_XML.sub("", str(text)))


def _table(sheet: Sheet) -> str:
    numeric = _numeric(sheet)
    kind = [
        ' class="num"' if number else ' class="word"' if _single_words(sheet, i) else ""
        for i, number in enumerate(numeric)
    ]
    head = "".join(f'<th scope="col"{kind[i]}>{_safe(column)}</th>' for i, column in enumerate(sheet.columns))
    if sheet.tick:
        head = f'<th scope="col" class="tick">done</th>{head}'
    named = numeric.index(False) if False in numeric else 0  # the first column of words names the row
    rows = []
    for row in sheet.rows:
        cells = [_safe(_shown(sheet, column, cell)) for column, cell in zip(sheet.columns, row)]
        marked = [
            f'<th scope="row"{kind[i]}>{cell}</th>' if i == named else f"<td{kind[i]}>{cell}</td>"
            for i, cell in enumerate(cells)
        ]
        box = (
            f'<td class="tick"><input type="checkbox" aria-label="done: {cells[named]}"></td>'
            if sheet.tick
            else ""
        )
        rows.append(f"<tr>{box}{''.join(marked)}</tr>")
    notes = (
        f'<ul class="notes">{"".join(f"<li>{_safe(note)}</li>" for note in sheet.notes)}</ul>\n'
        if sheet.notes
        else ""
    )
    caption = f"<caption>{_safe(sheet.title)}</caption>"
    body = "\n".join(rows)
    return f'<div class="scroll"><table>{caption}\n<thead><tr>{head}</tr></thead>\n<tbody>\n{body}\n</tbody></table></div>\n{notes}'


def weighing_sheets(weighing: Weighing) -> list[Sheet]:
    """The sheets of a weighing: what to weigh in its order, what to make first (if anything), strips, check."""
    places = max(0, -math.floor(math.log10(weighing.balance) + 1e-9))
    while places < 9 and abs(round(weighing.balance, places) - weighing.balance) > 1e-9 * weighing.balance:
        places += 1  # a step such as 0.025 needs one more
    rows = [
        (
            line.order,
            line.name,
            line.cas,
            line.strength_pct,
            line.grams,
            line.error_pct,
            line.active_g,
            line.warn,
        )
        for line in sorted(weighing.lines, key=lambda line: line.order)
    ]
    if weighing.solvent_g > 0:
        rows.append(
            (
                len(rows) + 1,
                f"{weighing.solvent['name']} to fill up",
                weighing.solvent["cas"],
                100.0,
                weighing.solvent_g,
                None,
                None,
                "",
            )
        )
    columns = (
        "no.",
        "material",
        "CAS",
        "strength [%]",
        "weigh [g]",
        "rounding error [%]",
        "of itself [g]",
        "note",
    )
    notes = [
        f"Total {weighing.total_g:g} g, of which {weighing.concentrate_pct:.4g} % are materials and the rest carrier.",
        "Smallest first: a slip there is mended by scaling the rest (common practice, no source).",
    ]
    decimals = {"weigh [g]": places, "rounding error [%]": 2}
    found = [Sheet(f"Weigh: {weighing.accord}", columns, rows, notes, decimals, tick=True)]
    if weighing.dilutions:
        columns = (
            "solution of",
            "strength [%]",
            "makes [g]",
            "from strength [%]",
            "of that [g]",
            "carrier",
            "carrier [g]",
        )
        rows = [
            (d.name, d.strength_pct, d.grams, d.from_pct, d.from_grams, d.carrier, d.carrier_grams)
            for d in weighing.dilutions
        ]
        decimals = dict.fromkeys(("makes [g]", "of that [g]", "carrier [g]"), places)
        note = "By mass, from top to bottom; label each bottle with name, strength, carrier and date."
        found.append(Sheet("Make first", columns, rows, [note], decimals, tick=True))
    rows = [
        (strip.name, strip.dip_pct, "yes" if strip.have else "to make", strip.why, "")
        for strip in weighing.strips
    ]
    note = "Hold the strips together and smell before mixing anything; dip all to the same depth."
    found.append(
        Sheet("Strips", ("material", "dip [%]", "at hand", "why", "what it says"), rows, [note], tick=True)
    )
    rows = [(step.test, step.day, step.lay_out, step.ask, "") for step in weighing.check]
    notes = [
        "Someone else lays out the triangles and keeps this sheet; old and new at the same strength.",
        "Five or six of six right: the two can be told apart (guessing does that in 2 rounds of 100).",
    ]
    found.append(
        Sheet("Check old against new", ("test", "day", "lay out", "ask", "answer"), rows, notes, tick=True)
    )
    return found


def write_sheets(
    path, title: str, sheets: Sequence[Sheet], cautions: Sequence[str] = (), *, force: bool = False
):
    """Write sheets as the file's ending says: .html, .xlsx, .md or .csv (one table after another); whole or not at all.

    Raises :class:`~substitute.errors.InputError` for another ending or a file that exists.
    """
    ending = Path(path).suffix.lower()
    warned = [Sheet("Cautions", ("caution",), [(text,) for text in cautions])] if cautions else []
    makers = {
        ".html": lambda: to_html(title, sheets, cautions),
        ".xlsx": lambda: to_xlsx(sheets, cautions),
        ".md": lambda: to_markdown([*warned, *sheets]),
        ".csv": lambda: "\n".join(to_csv(sheet) for sheet in (*sheets, *warned)),
    }
    if ending not in makers:
        raise InputError(f"{path}: '{ending}' is not a kind of sheet: one of {', '.join(makers)}")
    return write_whole(path, makers[ending](), force=force)
