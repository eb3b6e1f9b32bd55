"""XLSX and ODS workbooks as lines of cells: what a person sees, not what the file says about itself."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from typing import Any

from ..errors import InputError, complain
from ..frozen import frozen
from .figures import Typed

MOST_UNPACKED = 400_000_000  # bytes; a workbook that unpacks to more is a bomb, or no formula
MOST_ROWS = 1_048_576  # what a spreadsheet holds
MOST_CELLS = 20_000_000
MOST_REPEATED = 16_384
LONGEST_SHOWN = 80

Lines = list[tuple[int, list[str]]]


@frozen
class Sheet:
    """A sheet's filled lines with their row numbers, and what a person should be told about the workbook."""

    lines: Lines
    told: tuple[str, ...] = ()


def kind_of(data: bytes, name: str) -> str:
    """'xlsx', 'ods' or '' for bytes that are neither; raises for a zip that is something else."""
    if data[:4] != b"PK\x03\x04":
        return (
            "xlsx"
            if name.lower().endswith((".xlsx", ".xlsm"))
            else "ods"
            if name.lower().endswith(".ods")
            else ""
        )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
            unpacked = sum(one.file_size for one in archive.infolist())
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise complain(name, None, None, f"is not a readable XLSX workbook ({_short(error)})") from None
    if unpacked > MOST_UNPACKED:
        raise complain(name, None, None, f"unpacks to {unpacked:,} bytes; at most {MOST_UNPACKED:,} are read")
    if "content.xml" in names:
        return "ods"
    if any(one.startswith("word/") for one in names):
        raise complain(
            name,
            None,
            None,
            "is a text document; copy its table into a spreadsheet and save that as XLSX or CSV",
        )
    return "xlsx"


def read_workbook(data: bytes, name: str, kind: str) -> Sheet:
    """The first visible sheet with data; other sheets that hold data are told."""
    read = _xlsx if kind == "xlsx" else _ods
    try:
        sheets = list(read(data))
    except InputError:
        raise
    except Exception as error:  # whatever the zip or XML inside broke with
        raise complain(
            name, None, None, f"is not a readable {kind.upper()} workbook ({_short(error)})"
        ) from None
    filled = [(title, hidden, lines) for title, hidden, lines in sheets if lines]
    if not filled:
        return Sheet([])
    seen = [one for one in filled if not one[1]] or filled
    title, hidden, lines = seen[0]
    told = []
    if sheets[0][0] != title:
        why = "hidden" if sheets[0][1] else "empty"
        told.append(f"sheet '{title}' was read; the first one, '{sheets[0][0]}', is {why}")
    if hidden:
        told.append(f"sheet '{title}' is hidden, but no other holds anything")
    told += [
        f"sheet '{other}'{' (hidden)' if unseen else ''} holds {len(some):,} lines and was not read"
        for other, unseen, some in filled
        if other != title
    ]
    return Sheet(lines, tuple(told))


def _short(error: BaseException) -> str:
    text = " ".join(str(error).split()) or type(error).__name__
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 1] + "…"


def _xlsx(data: bytes) -> Iterator[tuple[str, bool, Lines]]:
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    formulas = load_workbook(io.BytesIO(data), read_only=True) if _has_formulas(data) else None
    for sheet in book.worksheets:
        sheet.reset_dimensions()  # what the file says of its size may be old
        hidden = sheet.sheet_state != "visible"
        lines: Lines = []
        cells_read = 0
        other = _rows(formulas[sheet.title]) if formulas is not None else None
        for number, cells in _rows(sheet):
            written = next(other)[1] if other is not None else ()
            texts = [
                _xlsx_text(cell, written[i] if i < len(written) else None) for i, cell in enumerate(cells)
            ]
            while texts and not texts[-1]:
                texts.pop()
            cells_read += len(texts)
            if number > MOST_ROWS or cells_read > MOST_CELLS:
                raise InputError(f"sheet '{sheet.title}' is too large: over {MOST_CELLS:,} cells")
            if any(texts):
                lines.append((number, texts))
        yield sheet.title, hidden, lines


def _rows(sheet: Any) -> Iterator[tuple[int, Any]]:
    sheet.reset_dimensions()
    yield from enumerate(sheet.iter_rows(), 1)


def _has_formulas(data: bytes) -> bool:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for one in archive.namelist():
            if one.startswith("xl/worksheets/") and one.endswith(".xml"):
                text = archive.read(one)
                if b"<f>" in text or b"<f " in text:
                    return True
    return False


def _xlsx_text(cell: Any, written: Any) -> str:
    value = cell.value
    if value is None:
        formula = getattr(written, "value", None)
        return str(formula) if isinstance(formula, str) and formula.startswith("=") else ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return _number(float(value), "%" in str(getattr(cell, "number_format", "") or ""))
    return str(value).strip()


def _number(value: float, percent: bool) -> str:
    if percent:
        return Typed(f"{value * 100:.12g}%")
    return Typed(str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value))


def _ods(data: bytes) -> Iterator[tuple[str, bool, Lines]]:
    from odf import table  # type: ignore[import-untyped]
    from odf.namespaces import TABLENS  # type: ignore[import-untyped]
    from odf.opendocument import load  # type: ignore[import-untyped]

    book = load(io.BytesIO(data))
    hidden_styles = _hidden_styles(book)
    for sheet in book.spreadsheet.getElementsByType(table.Table):
        title = str(sheet.getAttribute("name") or "")
        hidden = str(sheet.getAttribute("stylename") or "") in hidden_styles
        lines: Lines = []
        number, cells_read = 1, 0
        for row in sheet.getElementsByType(table.TableRow):
            again = int(row.getAttribute("numberrowsrepeated") or 1)
            texts = _ods_cells(row, TABLENS)
            if any(texts):
                cells_read += len(texts) * min(again, MOST_REPEATED)
                if again > MOST_REPEATED or cells_read > MOST_CELLS:
                    raise InputError(f"sheet '{title}' is too large: one line {again:,} times")
                lines.extend((number + step, texts) for step in range(again))
            number += again
        yield title, hidden, lines


def _hidden_styles(book: Any) -> set[str]:
    from odf import style

    return {
        str(one.getAttribute("name"))
        for one in book.getElementsByType(style.Style)
        if any(
            str(part.getAttribute("display")) == "false"
            for part in one.getElementsByType(style.TableProperties)
        )
    }


def _ods_cells(row: Any, namespace: str) -> list[str]:
    texts: list[str] = []
    for cell in row.childNodes:
        if getattr(cell, "qname", (None, ""))[1] not in ("table-cell", "covered-table-cell"):
            continue
        text = _ods_text(cell)
        again = int(cell.attributes.get((namespace, "number-columns-repeated"), 1))
        texts.extend([text] * (min(again, MOST_REPEATED) if text else min(again, 256)))
    while texts and not texts[-1]:
        texts.pop()
    return texts


def _ods_text(cell: Any) -> str:
    from odf.namespaces import OFFICENS

    kind = str(cell.attributes.get((OFFICENS, "value-type"), ""))
    value = cell.attributes.get((OFFICENS, "value"))
    if kind in ("float", "percentage", "currency") and value is not None:
        return _number(float(str(value)), kind == "percentage")
    if kind == "boolean":
        return "yes" if str(cell.attributes.get((OFFICENS, "boolean-value"))) == "true" else "no"
    from odf import text as words
    from odf.teletype import extractText  # type: ignore[import-untyped]

    return "\n".join(str(extractText(part)) for part in cell.getElementsByType(words.P)).strip()
