"""Files that hold many accords, read a block of lines at a time: CSV, XLSX, Parquet, or a folder of
single files."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import IO, Protocol

from ..errors import InputError, complain
from .blocks import BLOCK, OPTIONAL, REQUIRED, Block, Codes, check_header
from .figures import style_of
from .files import FIGURES, SPREADSHEETS, read_bytes, read_rows
from .formulas import accord_files
from .long_lines import Lines, block_of_lines, lines_of_sheet
from .parquet import ParquetSource
from .readings import note
from .rows import Row, shorten
from .texts import NOT_TEXT, encoding_of
from .writing import check_ordinary

MOST_PASSED_OVER = 10
STYLE_LINES = 5_000  # of which the way a file writes decimals is learned
PARQUET = (".parquet", ".pq")


class PortfolioSource(Protocol):
    """A reader of many accords; ``rejected`` lists files left out."""

    rejected: list[tuple[str, str]]

    def blocks(self, codes: Codes) -> Iterator[Block]:
        """All lines, a block at a time, as often as asked."""
        ...


def open_source(path: Path) -> PortfolioSource:
    """The reader for a portfolio: its ``blocks(codes)`` can be asked for again and again, ``rejected``
    lists files left out.

    Raises :class:`~substitute.errors.InputError` for a path that is not there, and for what cannot be
    opened as what it claims.
    """
    check_ordinary(path)
    if path.is_dir():
        return FolderSource(path)
    if path.suffix.lower() in PARQUET or _starts_with(path, b"PAR1"):
        return ParquetSource(path)
    if path.suffix.lower() in SPREADSHEETS or _starts_with(path, b"PK\x03\x04"):
        return SheetSource(path)
    return CsvSource(path)


def _starts_with(path: Path, mark: bytes) -> bool:
    try:
        with open(path, "rb") as file:
            return file.read(len(mark)) == mark
    except OSError:
        read_bytes(path)  # says what is wrong
        raise


class CsvSource:
    """One long CSV (comma, semicolon or tab; point or decimal comma; UTF-8, or UTF-16 with its mark)."""

    def __init__(self, path: Path):
        self.path, self.file = path, str(path)
        self.rejected: list[tuple[str, str]] = []
        self.size = max(path.stat().st_size, 1)
        self._style: str | None = None

    def blocks(self, codes: Codes) -> Iterator[Block]:
        with open(self.path, "rb") as raw:
            encoding, doubt = encoding_of(raw)
            if doubt:
                note(f"{self.file}: {doubt}")
            text = io.TextIOWrapper(raw, encoding, newline="")  # lines end as CSV says, not at U+2028
            try:
                yield from self._blocks(self._lines(text), raw, codes)
            except UnicodeDecodeError as error:
                byte = error.object[error.start]
                raise complain(
                    self.file, None, None, f"{NOT_TEXT[encoding]} (byte 0x{byte:02x}); save it as CSV UTF-8"
                ) from None
            except csv.Error as error:
                raise complain(self.file, None, None, f"cannot be read as CSV ({error})") from None

    def _lines(self, text: Iterable[str]) -> Iterator[str]:
        for line in text:
            if "\x00" in line:
                raise complain(
                    self.file,
                    None,
                    None,
                    "is not text but binary data; a CSV (UTF-8), XLSX or Parquet file is wanted",
                )
            yield line

    def _blocks(self, lines: Iterator[str], raw: IO[bytes], codes: Codes) -> Iterator[Block]:
        skipped, header = 0, ""
        for line in lines:
            skipped += 1
            if line.strip() and not (line.lower().startswith("sep=") and len(line.strip()) <= 6):
                header = line
                break
        if not header:
            raise complain(self.file, None, None, f"is empty; a header with {', '.join(REQUIRED)} is wanted")
        wanted = {*REQUIRED, *OPTIONAL}
        delimiter = max(
            ",;\t",
            key=lambda one: (
                len(wanted & {cell.strip().strip('"').lower() for cell in header.split(one)}),
                header.count(one),
            ),
        )
        columns = check_header(
            [cell.strip().lower() for cell in next(csv.reader([header], delimiter=delimiter))],
            self.file,
            skipped,
        )
        reader = csv.reader(lines, delimiter=delimiter, strict=True)
        cells: list[list[str]] = []
        at: list[int] = []
        some = False
        for found in reader:
            if any(found) and any(cell.strip() for cell in found):
                cells.append(found)
                at.append(skipped + reader.line_num)
            if len(cells) == BLOCK:
                some = True
                self._settle_style(cells, columns, delimiter)
                yield self._block(cells, at, columns, codes, raw)
                cells, at = [], []
        if cells:
            self._settle_style(cells, columns, delimiter)
            yield self._block(cells, at, columns, codes, raw)
        elif not some:
            raise complain(self.file, None, None, "has a header but no lines; at least one accord is wanted")

    def _settle_style(self, cells: Sequence[Sequence[str]], columns: list[str], delimiter: str) -> None:
        """How the file writes decimals, from its first lines; later ones are held to it."""
        if self._style is None:
            places = [i for i, column in enumerate(columns) if column in FIGURES]
            some = (line[i].strip() for line in cells[:STYLE_LINES] for i in places if i < len(line))
            self._style = style_of(some, comma_likely=delimiter == ";")

    def _block(
        self,
        cells: Sequence[Sequence[str]],
        at: Sequence[int],
        columns: list[str],
        codes: Codes,
        raw: IO[bytes],
    ) -> Block:
        width = len(columns)
        broken = [
            i
            for i, line in enumerate(cells)
            if len(line) > width and any(cell.strip() for cell in line[width:])
        ]

        def row(i: int) -> Row:
            if len(cells[i]) > width and any(cell.strip() for cell in cells[i][width:]):
                extra = next(cell for cell in cells[i][width:] if cell.strip())
                raise complain(
                    self.file,
                    at[i],
                    None,
                    f"has {len(cells[i])} cells under a header of {width} "
                    f"(first too many: '{shorten(extra)}')",
                )
            return Row(
                self.file,
                at[i],
                {column: cell.strip() for column, cell in zip(columns, cells[i]) if column},
                self._style or "",
            )

        place = {column: i for i, column in enumerate(columns) if column}
        done = min(raw.tell() / self.size, 1.0)
        return block_of_lines(Lines(cells, place, row, broken, self._style or ""), codes, done)


class SheetSource:
    """One long XLSX sheet (a million rows at most: read as a whole)."""

    def __init__(self, path: Path):
        self.path, self.file = path, str(path)
        self.rejected: list[tuple[str, str]] = []

    def blocks(self, codes: Codes) -> Iterator[Block]:
        rows = read_rows(self.path, REQUIRED, OPTIONAL)
        if not rows:
            raise complain(self.file, None, None, "has a header but no lines; at least one accord is wanted")
        yield block_of_lines(lines_of_sheet(rows), codes, 1.0)


class FolderSource:
    """A folder of accords, a file each."""

    def __init__(self, path: Path):
        self.path, self.file = path, str(path)
        self.files = accord_files(path)
        self.rejected: list[tuple[str, str]] = []
        read = set(self.files)
        others = [
            one.name for one in sorted(path.iterdir()) if one not in read and not one.name.startswith(".")
        ]
        if others:
            shown = ", ".join(shorten(name) for name in others[:MOST_PASSED_OVER])
            more = f" and {len(others) - MOST_PASSED_OVER:,} more" if len(others) > MOST_PASSED_OVER else ""
            note(f"{path}: {len(others):,} not looked at: {shown}{more}")

    def blocks(self, codes: Codes) -> Iterator[Block]:
        self.rejected = []
        stems = Counter(path.stem for path in self.files)
        for count, path in enumerate(self.files, 1):
            try:
                if stems[path.stem] > 1:
                    raise complain(
                        path, None, None, "another file of the folder has the same name; give each its own"
                    )
                rows = read_rows(path, ("material", "parts"), OPTIONAL)
                if rows and "accord" in rows[0].cells:
                    raise complain(
                        path,
                        None,
                        "accord",
                        "this file holds many accords: screen it by itself, not with its folder",
                    )
                if not rows:
                    raise complain(
                        path, None, "material", "has a header but no lines; at least one material is wanted"
                    )
            except InputError as error:
                self.rejected.append((path.stem, str(error)))
                continue
            yield block_of_lines(lines_of_sheet(rows), codes, count / len(self.files), path.stem)
