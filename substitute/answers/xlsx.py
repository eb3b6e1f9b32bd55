"""An answer as a workbook: one sheet a table, the header in its first row; cautions and notes on the second
sheet.

Text is always stored as text: a cell that begins with ``=``, ``+``, ``-`` or ``@`` is never a formula.
"""

from __future__ import annotations

import io
import re
from typing import Any

from ..tables.writing import FORMULA_START
from .csv import plain
from .page import NOT_IN_XML
from .sections import Answer, Cell, Column, Plain, Said, Section, table

XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
NOT_IN_TITLES = re.compile(r"[\[\]:*?/\\\x00-\x1f]")
PEN = "____________"
LONGEST_TITLE, LONGEST_CELL = 31, 32_767  # what XLSX allows


def answer_xlsx(answer: Answer) -> bytes:
    """The tables of the answer, then what else it says."""
    from openpyxl import Workbook
    from openpyxl.styles import Font

    sheets = [part for part in answer.on("paper") if part.kind == "table"]
    told = _told(answer)
    place = 0 if answer.weighed else 1
    sheets[place:place] = [told] if told.rows or not sheets else []
    book = Workbook()
    book.remove(book.active)
    taken: set[str] = set()
    for sheet in sheets:
        page = book.create_sheet(_tab(sheet.title or answer.title, taken))
        for place, column in enumerate(sheet.columns, 1):
            _fill(page.cell(1, place), column.title, column)
            page.cell(1, place).font = Font(bold=True)
            for number, row in enumerate(sheet.rows, 2):
                _fill(page.cell(number, place), cell_value(column, row[place - 1]), column)
            widest = max((len(column.show(row[place - 1])) for row in sheet.rows), default=0)
            letter = page.cell(1, place).column_letter
            page.column_dimensions[letter].width = min(max(widest, len(column.title)) + 2, 70)
        page.freeze_panes = "A2"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _told(answer: Answer) -> Section:
    """Cautions, the answer in a sentence, lists and notes as one table."""
    rows = [("caution", one) for one in answer.cautions] + [("answer", answer.headline)]
    rows += [(one, PEN) for one in answer.blanks]
    for part in answer.on("paper"):
        rows += [(part.title or "answer", item) for item in part.lines()]
        rows += [(part.title or answer.title, note) for note in (part.more(), *part.notes)]
    rows += [("note", note) for note in answer.notes]
    return table("read first", (Column("about"), Column("note")), [row for row in rows if row[1]])


def cell_value(column: Column, cell: Cell) -> Plain:
    """A cell as a spreadsheet holds it: a rounded number where there is one, else what people read."""
    if isinstance(cell, Said):
        number = isinstance(cell.value, (int, float)) and not isinstance(cell.value, bool)
        if not number or cell.text.strip("-") == "" or not any(letter.isdigit() for letter in cell.text):
            return cell.text
    value = plain(column, cell, raw=True)
    return ("yes" if value else "no") if isinstance(value, bool) else value


def _fill(cell: Any, value: Plain, column: Column) -> None:
    if value is None or value == "":
        return
    if isinstance(value, (int, float)):
        cell.value = value
        if column.form in ("fixed", "signed", "ratio"):
            cell.number_format = f"0.{'0' * column.decimals}" if column.decimals else "0"
        return
    cell.value = NOT_IN_XML.sub("", value)[:LONGEST_CELL]
    cell.data_type = "s"  # openpyxl guesses a formula from a leading "="
    if cell.value.startswith(FORMULA_START):
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
