"""The only code that opens files: spreadsheets in, whole files out.

Reads CSV (comma, semicolon or tab; point or decimal comma; UTF-8, or UTF-16 with its mark), XLSX and ODS
into rows of text that remember where they stood, and turns cells into numbers with a message for
everything that is not one.
"""

from __future__ import annotations

import csv
import io
import math
import os
import re
import stat
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..errors import Complaint, InputError, TableError, complain
from .figures import Typed, parse_number, split_unit, style_of
from .headers import LOOKED_THROUGH, TOTALS, clean, column_names, header_line
from .near import nearest
from .workbooks import Sheet, kind_of, read_workbook

__all__ = [
    "Row",
    "Rows",
    "parse_number",
    "read_bytes",
    "read_rows",
    "shorten",
    "split_unit",
    "to_csv",
    "write_whole",
]

LONGEST_CELL = 32_767  # what a spreadsheet holds
LARGEST_FILE = 200_000_000  # bytes of a file that is read as a whole
SPREADSHEETS = (".xlsx", ".xlsm", ".ods")
FIGURES = (
    "parts",
    "strength_pct",
    "grams",
    "price_per_gram",
)  # columns whose numbers show how a file writes decimals
TRUE = {"yes", "y", "true", "1", "x", "ja", "oui", "si", "sí", "да", "✓"}
FALSE = {"no", "n", "false", "0", "", "nein", "non", "нет"}
NO_TABLES = {
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture (PNG)",
    b"\xff\xd8\xff": "a picture (JPEG)",
    b"GIF8": "a picture (GIF)",
    b"BM": "a picture (BMP)",
    b"\xd0\xcf\x11\xe0": "an old binary office file",
    b"{\\rtf": "a text document (RTF)",
    b"<!DOCTYPE": "a web page",
    b"<html": "a web page",
    b"SQLite format": "a database",
    b"\x1f\x8b": "a compressed file",
    b"7z\xbc\xaf": "a compressed file",
}
LINE_END = re.compile(r"\r\n|\r|\n")
FORMULA_START = ("=", "+", "-", "@", "\t", "\r")  # a spreadsheet runs cells that begin so


@dataclass(frozen=True)
class Row:
    """One line of a table: the number a spreadsheet shows for it, its cells by column name, and its
    file's decimal sign."""

    file: str
    number: int
    cells: dict[str, str]
    style: str = ""

    def text(self, column: str, default: str = "") -> str:
        return self.cells.get(column, default) or default

    def complaint(self, column: str | None, message: str, suggestions: Iterable[str] = ()) -> Complaint:
        """What is wrong in this row and column."""
        return Complaint(self.file, self.number, column, message, tuple(suggestions))

    def fault(self, column: str | None, message: str, suggestions: Iterable[str] = ()) -> TableError:
        """The error to raise for this row and column."""
        return TableError([self.complaint(column, message, suggestions)])

    def value(
        self, column: str, text: str, *, low: float = -math.inf, high: float = math.inf
    ) -> float | None:
        """``text`` of a column as a finite number within ``low``..``high``; ``None`` where it is
        empty."""
        if not text.strip():
            return None
        return parse_number(
            text, lambda message: self.fault(column, message), low=low, high=high, style=self.style
        )

    def figure(
        self, column: str, *, low: float = -math.inf, high: float = math.inf, default: float | None = None
    ) -> float | None:
        """The cell as a finite number within ``low``..``high``; ``default`` where it is empty."""
        found = self.value(column, self.text(column), low=low, high=high)
        return default if found is None else found

    def choice(self, column: str, allowed: Sequence[str], default: str) -> str:
        """The cell as one of ``allowed``."""
        text = self.text(column).strip().lower()
        if not text:
            return default
        if text not in allowed:
            raise self.fault(
                column,
                f"'{shorten(text)}' is not allowed: one of {', '.join(allowed)}{nearest(text, allowed)}",
            )
        return text

    def flag(self, column: str) -> bool:
        """The cell as yes or no; empty is no."""
        text = self.text(column).strip().lower()
        if text in TRUE:
            return True
        if text in FALSE:
            return False
        raise self.fault(column, f"'{shorten(text)}' is neither yes nor no")


class Rows(list[Row]):
    """Rows of a file, what a person should be ``told`` about how it was read, and the cells of its header
    as they stand."""

    told: tuple[str, ...] = ()
    header: frozenset[str] = frozenset()


def shorten(text: str, length: int = 40) -> str:
    """``text`` fit for one line of a message: no line breaks, no codes for a terminal."""
    text = " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())
    return text if len(text) <= length else text[: length - 1] + "…"


def check_ordinary(path: Path) -> None:
    """Raise for what is neither a file nor a folder: reading a pipe or a device may never end."""
    try:
        mode = os.stat(path).st_mode
    except (OSError, ValueError):
        return  # whoever opens it says what is wrong
    if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
        raise InputError(
            f"{path}: is no ordinary file (a pipe, a device or a socket); save it to a file first"
        )


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


def decode(data: bytes, name: str) -> str:
    """Bytes as text; a byte-order mark decides, else UTF-8."""
    for mark, what in NO_TABLES.items():
        if data.startswith(mark) and (mark != b"BM" or b"\x00" in data[:64]):
            raise complain(
                name,
                None,
                None,
                f"is {what}, not a table; save the formula as CSV (UTF-8), XLSX or ODS, or type it in",
            )
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError:
            raise complain(
                name, None, None, "is not text (a UTF-16 mark, but not UTF-16); save it as CSV UTF-8"
            ) from None
    if b"\x00" in data:
        raise complain(
            name, None, None, "is not text but binary data; a CSV (UTF-8), XLSX or ODS file is wanted"
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        raise complain(
            name, row, None, f"is not UTF-8 (byte 0x{data[error.start]:02x}); save it as CSV UTF-8"
        ) from None


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
    comma_likely = False
    if kind:
        sheet = read_workbook(data, name, kind)
    else:
        lines, delimiter = _text_lines(decode(data, name), name, known)
        sheet, comma_likely = Sheet(lines), delimiter == ";"
    return _with_header(sheet, name, required, known, comma_likely)


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


def write_whole(path: str | Path, data: bytes | str, *, force: bool = False) -> Path:
    """Write a file whole or not at all (through a temporary neighbour), never over another without
    ``force``."""
    path = Path(path)
    if isinstance(data, str):
        data = data.encode("utf-8")
    if not str(path).strip() or path.is_dir():
        raise InputError(f"{path}: is a folder, a file name is wanted")
    check_ordinary(path)  # a device or a pipe is never replaced
    if path.is_symlink():
        path = Path(os.path.realpath(path))  # what it points to is written, the link stays
    if (path.exists() or path.is_symlink()) and not force:
        raise InputError(f"{path}: exists already; another name, or `force` to write over it")
    temporary = None
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent or Path("."), prefix=f".{path.name}.")
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(temporary, 0o666 & ~_umask())
        os.replace(temporary, path)
    except OSError as error:
        if temporary and os.path.exists(temporary):
            os.unlink(temporary)
        raise InputError(f"{path}: cannot be written ({error.strerror or error})") from None
    return path


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def harmless(cell: object) -> object:
    """A cell of an export that no spreadsheet runs: a text that begins like a formula gets an apostrophe
    in front."""
    if not isinstance(cell, str) or not cell.startswith(FORMULA_START):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell


def to_csv(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Rows as CSV text as they are; numbers at full precision without needless digits, ``None`` as an
    empty cell."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow(
            ["" if cell is None else f"{cell:.12g}" if isinstance(cell, float) else cell for cell in row]
        )
    return out.getvalue()
