"""Files in: CSV (comma, semicolon or tab; point or decimal comma; UTF-8, UTF-16 with its mark, or
Windows-1252), XLSX and ODS become rows of text that remember where they stood.
"""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from ..errors import Complaint, InputError, TableError, complain
from .figures import Typed, style_of
from .headers import LOOKED_THROUGH, TOTALS, clean, column_names, header_line
from .near import nearest
from .rows import Row, Rows, shorten
from .texts import decode
from .workbooks import Sheet, kind_of, read_workbook
from .writing import FORMULA_START, check_ordinary

LONGEST_CELL = 32_767  # what a spreadsheet holds
LARGEST_FILE = 200_000_000  # bytes of a file that is read as a whole
SPREADSHEETS = (".xlsx", ".xlsm", ".ods")
FIGURES = (
    "parts",
    "strength_pct",
    "grams",
    "price_per_gram",
)  # columns whose numbers show how a file writes decimals
LINE_END = re.compile(r"\r\n|\r|\n")


def read_bytes(path: object) -> bytes:
    """The file's bytes; every operating-system complaint becomes one plain message."""
    path = Path(str(path))
    check_ordinary(path)
    try:
        is_folder = path.is_dir()
        if not is_folder and path.stat().st_size > LARGEST_FILE:
            raise InputError(
                f"{path}: holds {path.stat().st_size:,} bytes; at most {LARGEST_FILE:,} are read"
            )
        data = b"" if is_folder else path.read_bytes()
    except FileNotFoundError:
        raise InputError(f"{path}: there is no such file{_nearest_file(path)}") from None
    except (OSError, ValueError) as error:
        raise InputError(f"{path}: cannot be read ({getattr(error, 'strerror', None) or error})") from None
    if is_folder:
        raise InputError(f"{path}: is a folder, a file is wanted")
    return data


def _nearest_file(path: Path) -> str:
    try:
        near = nearest(path.name, os.listdir(path.parent))
    except OSError:
        return ""
    return near.replace("'", "").replace("nearest is ", f"nearest is {path.parent}{os.sep}") if near else ""


def read_rows(
    source: object, required: Sequence[str], known: Iterable[str] = (), name: str | None = None
) -> Rows:
    """Rows of a CSV, XLSX or ODS file (a path, or bytes with their ``name``).

    The header is the first of the upper lines that holds the ``required`` columns, in our words or in
    those of other languages, with or without units; columns nobody knows are kept. Raises
    :class:`~substitute.errors.TableError` for an empty file, a missing header, rows that are longer than
    the header (all of them), or rubbish.
    """
    data = source if isinstance(source, bytes) else read_bytes(source)
    name = name or str(source)
    known = list(dict.fromkeys([*required, *known]))
    if not data.strip():
        raise complain(name, None, None, f"is empty; a header with {', '.join(required)} is wanted")
    kind = kind_of(data, name)
    comma_likely, doubt = False, ""
    if kind:
        sheet = read_workbook(data, name, kind)
    else:
        text, doubt = decode(data, name)
        lines, delimiter = _text_lines(text, name, known)
        sheet, comma_likely = Sheet(lines), delimiter == ";"
    rows = _with_header(sheet, name, required, known, comma_likely)
    if doubt:
        rows.doubt, rows.told = doubt, (doubt, *rows.told)
    return rows


def _text_lines(text: str, name: str, known: Sequence[str]) -> tuple[list[tuple[int, list[str]]], str]:
    skipped = 0
    first, _, rest = text.partition("\n")
    if (
        first.lower().startswith("sep=") and len(first.strip()) <= 6
    ):  # a spreadsheet's own note of its delimiter
        text, skipped = rest, 1
    delimiter = delimiter_of(text, known)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    lines = []
    start = 1
    try:
        for cells in reader:
            # csv's own bound is global, and other libraries raise it
            if max(map(len, cells), default=0) > LONGEST_CELL:
                raise csv.Error(f"a cell of over {LONGEST_CELL:,} characters; is a quote left open?")
            lines.append((start + skipped, cells))
            start = reader.line_num + 1
    except csv.Error as error:
        raise complain(name, start, None, f"cannot be split into cells ({error})") from None
    return lines, delimiter


def delimiter_of(text: str, known: Iterable[str]) -> str:
    """The delimiter that splits one of the upper lines into most known columns."""
    known = set(known)
    upper = [line for line in LINE_END.split(text[:65536]) if line.strip()][:LOOKED_THROUGH]

    def fit(delimiter: str) -> tuple[int, int]:
        best = (0, 0)
        for line in upper:
            cells = [cell.strip().strip('"') for cell in line.split(delimiter)][:256]
            best = max(best, (len(known & set(column_names(cells, known)[0])), len(cells)))
            if best[0] == len(known):
                break
        return best

    return max(",;\t", key=fit)


def _with_header(
    sheet: Sheet, name: str, required: Sequence[str], known: Sequence[str], comma_likely: bool
) -> Rows:
    filled = [(number, cells) for number, cells in sheet.lines if any(cell.strip() for cell in cells)]
    if not filled:
        raise complain(name, None, None, f"is empty; a header with {', '.join(required)} is wanted")
    place = header_line(filled, required, known)
    number, cells = filled[place]
    header, units = column_names(cells, known)
    while header and not header[-1]:
        header.pop()
    _check_header(header, units, name, number, required)
    told = list(sheet.told)
    if place:
        told.append(f"the header was found in row {number}; what stands above it was not looked at")
    rows, faults = Rows(), []
    for row_number, cells in filled[place + 1 :]:
        extra = [cell for cell in cells[len(header) :] if cell.strip()]
        if extra:
            message = (
                f"has {len(cells)} cells under a header of {len(header)} "
                f"(first too many: '{shorten(extra[0])}')"
            )
            faults.append(Complaint(name, row_number, None, message))
            continue
        rows.append(
            Row(name, row_number, {column: _cell(cell) for column, cell in zip(header, cells) if column})
        )
    if faults:
        raise TableError(faults)
    if len(rows) > 1 and clean(rows[-1].text("material")) in TOTALS:
        last = rows.pop()
        told.append(
            f"row {last.number}, '{shorten(last.text('material'))}', adds the others up and was left out"
        )
    figures = [column for column in FIGURES if column in header]
    style = style_of((row.text(column) for row in rows for column in figures), comma_likely)
    if style:
        rows[:] = [Row(row.file, row.number, row.cells, style) for row in rows]
    rows.told, rows.header = tuple(told), frozenset(map(clean, filled[place][1]))
    return rows


def _cell(text: str) -> str:
    """A cell without blanks around it, and without the mark that keeps a spreadsheet from running it."""
    if isinstance(text, Typed):
        return text
    text = text.strip()
    return text[1:] if text.startswith("'") and len(text) > 1 and text[1] in FORMULA_START else text


def _check_header(
    header: list[str], units: dict[str, str], name: str, number: int, required: Sequence[str]
) -> None:
    for column in required:
        if column not in header:
            hint = nearest(column, header, 70)
            found = shorten(", ".join(header), 60)
            raise complain(
                name,
                number,
                column,
                f"the header lacks this column{hint} (found: {found}; wanted: {', '.join(required)})",
            )
    twice = {column for column in header if column and header.count(column) > 1}
    if twice:
        raise complain(name, number, sorted(twice)[0], "stands twice in the header")
    for column, unit in units.items():
        if unit in NO_MASS:
            raise complain(name, number, column, f"is counted in {unit}: {NO_MASS[unit]}")


NO_MASS = {
    "drops": "drops differ from pipette to pipette and from material to material; weigh them in grams",
    "ml": "a millilitre of each material weighs something else; weigh it in grams",
}
