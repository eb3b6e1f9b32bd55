"""The only code that opens files: spreadsheets in, whole files out.

Reads CSV (comma, semicolon or tab; point or decimal comma; UTF-8, or UTF-16 with its mark) and XLSX into rows of text that
remember where they stood, and turns cells into numbers with a message for everything that is not one.
"""

from __future__ import annotations

import csv
import io
import math
import os
import re
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from ..errors import InputError, complain

LONGEST_CELL = 32_767  # what a spreadsheet holds
SPREADSHEETS = (".xlsx", ".xlsm")
NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?")
TRUE, FALSE = {"yes", "y", "true", "1", "x"}, {"no", "n", "false", "0", ""}


@dataclass(frozen=True)
class Row:
    """One line of a table: the number a spreadsheet shows for it and its cells by column name."""

    file: str
    number: int
    cells: dict[str, str]

    def text(self, column: str, default: str = "") -> str:
        return self.cells.get(column, default) or default

    def fault(self, column: str, message: str):
        """The error to raise for this row and column."""
        return complain(self.file, self.number, column, message)

    def figure(
        self, column: str, *, low: float = -math.inf, high: float = math.inf, default: float | None = None
    ) -> float | None:
        """The cell as a finite number within ``low``..``high``; ``default`` where it is empty."""
        text = self.text(column).strip()
        if not text:
            return default
        return parse_number(text, lambda message: self.fault(column, message), low=low, high=high)

    def choice(self, column: str, allowed: Sequence[str], default: str) -> str:
        """The cell as one of ``allowed``."""
        text = self.text(column).strip().lower()
        if not text:
            return default
        if text not in allowed:
            raise self.fault(column, f"'{shorten(text)}' is not allowed: one of {', '.join(allowed)}")
        return text

    def flag(self, column: str) -> bool:
        """The cell as yes or no; empty is no."""
        text = self.text(column).strip().lower()
        if text in TRUE:
            return True
        if text in FALSE:
            return False
        raise self.fault(column, f"'{shorten(text)}' is neither yes nor no")


def shorten(text: str, length: int = 40) -> str:
    """``text`` fit for one line of a message."""
    text = " ".join(text.split())
    return text if len(text) <= length else text[: length - 1] + "…"


def parse_number(text: str, fault, *, low: float = -math.inf, high: float = math.inf) -> float:
    """``text`` as a finite float between ``low`` and ``high``, with point or decimal comma; ``fault(message)`` makes the error."""
    text = text.strip().replace("\N{NO-BREAK SPACE}", "").replace("\N{MINUS SIGN}", "-")
    allowed = _range(low, high)
    if text.lower().lstrip("+-") in ("nan", "inf", "infinity"):
        raise fault(f"'{shorten(text)}' is not a finite number{allowed}")
    if not NUMBER.fullmatch(text):
        raise fault(f"'{shorten(text)}' is not a number{allowed}")
    value = float(text.replace(",", "."))
    if not math.isfinite(value):
        raise fault(f"'{shorten(text)}' is too large{allowed}")
    if not low <= value <= high:
        raise fault(f"{text} is out of range{allowed}")
    return value


def _range(low: float, high: float) -> str:
    if low == -math.inf and high == math.inf:
        return ""
    if high == math.inf:
        return f": allowed is {low:g} or more"
    return f": allowed is {low:g} to {high:,.10g}"


def read_bytes(path) -> bytes:
    """The file's bytes; every operating-system complaint becomes one plain message."""
    path = Path(path)
    try:
        is_folder = path.is_dir()
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
        near = get_close_matches(path.name, os.listdir(path.parent), 1)
    except OSError:
        near = []
    return f"; nearest is {path.parent / near[0]}" if near else ""


def decode(data: bytes, name: str) -> str:
    """Bytes as text; a byte-order mark decides, else UTF-8."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError:
            raise complain(
                name, None, None, "is not text (a UTF-16 mark, but not UTF-16); save it as CSV UTF-8"
            ) from None
    if b"\x00" in data:
        raise complain(name, None, None, "is not text but binary data; a CSV (UTF-8) or XLSX file is wanted")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        raise complain(
            name, row, None, f"is not UTF-8 (byte 0x{data[error.start]:02x}); save it as CSV UTF-8"
        ) from None


def read_rows(
    source, required: Sequence[str], known: Iterable[str] = (), name: str | None = None
) -> list[Row]:
    """Rows of a CSV or XLSX file (a path, or bytes with their ``name``).

    The delimiter is the one that splits the header into most of the ``required`` and ``known`` columns. Column names are matched
    without regard to case; columns nobody knows are kept. Raises :class:`~substitute.errors.TableError` for an empty file, a
    missing header, a row that is longer than the header, or rubbish.
    """
    data = source if isinstance(source, bytes) else read_bytes(source)
    name = name or str(source)
    if not data.strip():
        raise complain(name, None, None, f"is empty; a header with {', '.join(required)} is wanted")
    if data[:4] == b"PK\x03\x04" or name.lower().endswith(SPREADSHEETS):
        lines = _sheet_lines(data, name)
    else:
        lines = _text_lines(decode(data, name), name, set(required) | set(known))
    return _with_header(lines, name, required, known)


def _text_lines(text: str, name: str, known: set[str]) -> list[tuple[int, list[str]]]:
    header = next((line for line in text.splitlines() if line.strip()), "")
    if header.lower().startswith("sep=") and len(header) <= 6:  # a spreadsheet's own note of its delimiter
        text = text.split("\n", 1)[1] if "\n" in text else ""
        header = next((line for line in text.splitlines() if line.strip()), "")

    def fit(delimiter: str) -> tuple[int, int]:
        cells = [cell.strip().strip('"').lower() for cell in header.split(delimiter)]
        return len(known & set(cells)), len(cells)

    delimiter = max(",;\t", key=fit)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    lines = []
    start = 1
    try:
        for cells in reader:
            if any(
                len(cell) > LONGEST_CELL for cell in cells
            ):  # csv's own bound is global, and other libraries raise it
                raise csv.Error(f"a cell of over {LONGEST_CELL:,} characters; is a quote left open?")
            lines.append((start, cells))
            start = reader.line_num + 1
    except csv.Error as error:
        raise complain(name, start, None, f"cannot be split into cells ({error})") from None
    return lines


def _sheet_lines(data: bytes, name: str) -> list[tuple[int, list[str]]]:
    from openpyxl import load_workbook

    try:
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        return [
            (number, ["" if cell is None else _cell_text(cell) for cell in cells])
            for number, cells in enumerate(sheet.iter_rows(values_only=True), 1)
        ]
    except Exception as error:  # openpyxl raises whatever the zip or XML inside broke with
        raise complain(name, None, None, f"is not a readable XLSX workbook ({shorten(str(error))})") from None


def _cell_text(cell) -> str:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return repr(cell)
    return str(cell)


def _with_header(lines, name: str, required: Sequence[str], known: Iterable[str]) -> list[Row]:
    filled = [(number, cells) for number, cells in lines if any(cell.strip() for cell in cells)]
    if not filled:
        raise complain(name, None, None, f"is empty; a header with {', '.join(required)} is wanted")
    number, header = filled[0][0], [cell.strip().lower() for cell in filled[0][1]]
    while header and not header[-1]:
        header.pop()
    for column in required:
        if column not in header:
            near = get_close_matches(column, header, 1, 0.7)
            hint = f"; nearest is '{near[0]}'" if near else ""
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
    rows = []
    for number, cells in filled[1:]:
        extra = [cell for cell in cells[len(header) :] if cell.strip()]
        if extra:
            raise complain(
                name,
                number,
                None,
                f"has {len(cells)} cells under a header of {len(header)} (first too many: '{shorten(extra[0])}')",
            )
        rows.append(
            Row(name, number, {column: cell.strip() for column, cell in zip(header, cells) if column})
        )
    return rows


def write_whole(path, data: bytes | str, *, force: bool = False) -> Path:
    """Write a file whole or not at all (through a temporary neighbour), never over another without ``force``."""
    path = Path(path)
    if isinstance(data, str):
        data = data.encode("utf-8")
    if path.is_dir():
        raise InputError(f"{path}: is a folder, a file name is wanted")
    if path.exists() and not force:
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


def to_csv(columns: Sequence[str], rows: Iterable[Sequence]) -> str:
    """Rows as CSV text; numbers at full precision without needless digits, ``None`` as an empty cell."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow(
            ["" if cell is None else f"{cell:.12g}" if isinstance(cell, float) else cell for cell in row]
        )
    return out.getvalue()
