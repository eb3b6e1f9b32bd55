"""The folder itself: reads its files, writes them whole, one writer at a time, and keeps what it does not
know.

Columns that a person added in a spreadsheet stay where they are. Text that a spreadsheet would take for a
formula is kept behind an apostrophe. A book of a later version is read as far as it can be understood and
never written.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from ..errors import InputError, complain
from ..tables.files import read_rows
from ..tables.folders import finish, one_writer, write_together
from ..tables.rows import Row, shorten
from ..tables.writing import to_csv
from .records import COLUMNS, REQUIRED, About

FORMAT = 1
FORMULA = ("=", "+", "-", "@")
Cells = dict[str, Any]


class Store:
    """A book's folder. Raises :class:`~substitute.errors.InputError` for a folder that is none."""

    def __init__(self, folder: Path | str):
        self.folder = Path(folder)
        if not self.folder.is_dir():
            raise InputError(f"{self.folder}: there is no such folder; `substitute book new` begins a book")
        if not (self.folder / "book.csv").is_file():
            raise InputError(
                f"{self.folder}: is no bench book (it has no book.csv); `substitute book new` begins one"
            )
        finish(self.folder)
        self.about = self._read_about()

    @classmethod
    def begin(cls, folder: Path | str, name: str, files: Mapping[str, str | bytes]) -> Store:
        """A new book in an empty or new folder; ``files`` are texts to begin with (name -> text)."""
        folder = Path(folder)
        if (folder / "book.csv").exists():
            raise InputError(f"{folder}: is a bench book already; open it, or name another folder")
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise InputError(f"{folder}: is not an empty folder; a new book wants one of its own")
        try:
            folder.mkdir(parents=True, exist_ok=True)
            for inner in ("accords", "tables"):
                (folder / inner).mkdir(exist_ok=True)
        except OSError as error:
            raise InputError(f"{folder}: cannot be made ({error.strerror or error})") from None
        begun = [("format", FORMAT), ("name", harmless(name)), ("created", dt.date.today().isoformat())]
        made = {"book.csv": to_csv(COLUMNS["book.csv"], begun)}
        empty = {file: to_csv(columns, []) for file, columns in COLUMNS.items() if file != "book.csv"}
        write_together(folder, {**empty, **files, **made})
        return cls(folder)

    @property
    def writable(self) -> bool:
        return self.about.format <= FORMAT

    def _read_about(self) -> About:
        path = self.folder / "book.csv"
        found: dict[str, str] = {}
        for row in read_rows(path, REQUIRED["book.csv"], COLUMNS["book.csv"]):
            found[row.text("key").strip().lower()] = plain(row.text("value"))
        version = found.pop("format", "")
        if not version.isdigit() or int(version) < 1:
            raise complain(
                path, None, "value", f"the format '{shorten(version)}' is no version; {FORMAT} is ours"
            )
        return About(int(version), found.pop("name", "") or self.folder.name, found.pop("created", ""), found)

    # -- reading -----------------------------------------------------------------------------------

    def rows(self, file: str) -> list[Row]:
        """The rows of one of the book's files, apostrophes before formulas taken off; none where it is not
        there."""
        path = self.folder / file
        if not path.is_file():
            return []
        rows = read_rows(path, REQUIRED[file], COLUMNS[file])
        return [Row(row.file, row.number, {k: plain(v) for k, v in row.cells.items()}) for row in rows]

    # -- writing -----------------------------------------------------------------------------------

    @contextmanager
    def writing(self) -> Iterator[None]:
        """The lock around read, change and write; what is read inside is what is there."""
        if not self.writable:
            raise InputError(
                f"{self.folder}: this book is of format {self.about.format}, written by a later version; "
                f"this one writes format {FORMAT}. It can be read here; to write in "
                "it, use the later version. Nothing was changed"
            )
        with one_writer(self.folder):
            yield

    def write(self, changes: Mapping[str, Sequence[Mapping[str, Any]]]) -> None:
        """Write files of cells, all or none; only inside :meth:`writing`."""
        write_together(self.folder, {file: self._text(file, rows) for file, rows in changes.items()})

    def append(self, file: str, added: Iterable[Mapping[str, Any]]) -> list[Cells]:
        """The file's cells with ``added`` behind them, ready for :meth:`write`."""
        return [*(dict(row.cells) for row in self.rows(file)), *(dict(cells) for cells in added)]

    def changed(self, file: str, change: Callable[[Row], Mapping[str, Any] | None]) -> list[Cells]:
        """The file's cells with what ``change`` returns for a row laid over that row."""
        return [{**row.cells, **(change(row) or {})} for row in self.rows(file)]

    def _text(self, file: str, rows: Sequence[Mapping[str, Any]]) -> str:
        known = COLUMNS[file]
        columns = (*known, *dict.fromkeys(name for row in rows for name in row if name not in known))
        return to_csv(columns, [[_cell(row.get(name)) for name in columns] for row in rows])


def _cell(value: Any) -> Any:
    return harmless(value) if isinstance(value, str) else value


def harmless(text: str) -> str:
    """``text`` that no spreadsheet takes for a formula; a number stays a number."""
    if not text.startswith(FORMULA):
        return text
    try:
        float(text.replace(",", "."))
    except ValueError:
        return f"'{text}"
    return text


def plain(text: str) -> str:
    """What :func:`harmless` was made of."""
    return text[1:] if text[:1] == "'" and text[1:2] and text[1:].startswith(FORMULA) else text


def next_id(rows: Iterable[Row]) -> int:
    """One above the highest id there is, taken back or not, so that no number is ever given twice."""
    return max((int(row.text("id")) for row in rows if row.text("id").isdigit()), default=0) + 1
