"""Reads the shipped tables, lays a person's own over them, and checks the whole.

A person's folder holds any of the same files with the same columns; a row there replaces ours that has
the same primary key.
"""

from __future__ import annotations

import datetime as dt
import gc
import hashlib
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from ..errors import Complaint, InputError, TableError
from ..records import Tables
from .assemble import OWN_ROW, Columns, assemble
from .check import check_references
from .files import read_bytes, read_rows
from .kept import keep, key_of, recall
from .schema import OWN_SOURCE, Cells, Resource, TypedRows, read_package
from .shelves import read_labels

VARIABLE = "SUBSTITUTE_TABLES"
CODE = (
    "load.py",
    "schema.py",
    "files.py",
    "rows.py",
    "texts.py",
    "figures.py",
    "headers.py",
    "check.py",
)  # what typed rows depend on
BETWEEN = "\x1f"  # between the cells of a kept column: the unit separator


def data_folder() -> Path:
    """The shipped tables: beside the package when installed, in the checkout otherwise."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "data", package.parent / "data"):
        if (folder / "datapackage.json").is_file():
            return folder
    raise InputError(
        f"the tables are missing: neither {package / 'data'} nor {package.parent / 'data'} "
        "holds datapackage.json"
    )


def demo_folder() -> Path:
    """The demo scenario beside the tables."""
    return data_folder() / "demo"


def own_folder(tables: str | Path | None = None) -> Path | None:
    """A person's own tables: the argument, then ``SUBSTITUTE_TABLES``, then none."""
    chosen = tables if tables is not None else os.environ.get(VARIABLE) or None
    if chosen is None:
        return None
    folder = Path(chosen)
    if not folder.is_dir():
        raise InputError(
            f"{folder}: there is no such folder of tables "
            f"(from {'`tables`' if tables is not None else VARIABLE})"
        )
    return folder


def load_tables(tables: str | Path | None = None) -> Tables:
    """The shipped tables with a person's own laid over them.

    Tables once read and found whole are kept (:mod:`.kept`) and not read cell by cell again while no byte
    of them changes. Raises :class:`~substitute.errors.TableError` with every complaint if anything is
    wrong.
    """
    own = own_folder(tables)
    with _no_collection():
        files = _Files(data_folder(), own)
        key = files.key()
        columns = files.unpacked(recall("tables", key))
        if columns is None:
            rows, complaints = files.typed()
            if complaints:
                raise TableError([*complaints, *files.label_faults])
            columns = files.columns(rows)
            keep("tables", key, files.packed(columns))
        if files.label_faults:
            raise TableError(files.label_faults)
        return assemble(columns, files.labels, files.digest)


@contextmanager
def _no_collection() -> Iterator[None]:
    """The collector of circles looks again and again through a hundred thousand cells that hold none: a
    third of the time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def read_all(
    own: Path | None, shipped: Path | None = None
) -> tuple[TypedRows, str, dict[str, str], list[Complaint]]:
    """Typed rows by table and key, a digest of the bytes read, labels, and all complaints."""
    files = _Files(shipped or data_folder(), own)
    rows, complaints = files.typed()
    return rows, files.digest, files.labels, [*complaints, *files.label_faults]


class _Files:
    """The bytes of all tables: ours, and a person's own to lay over them."""

    def __init__(self, shipped: Path, own: Path | None):
        self.shipped, self.own = shipped, own
        self.package = read_package(shipped)
        self.ours = {name: read_bytes(shipped / one.path) for name, one in self.package.items()}
        self.mine: dict[str, bytes] = {}
        self.labels: dict[str, str] = {}
        self.label_faults: list[Complaint] = []
        if own is not None:
            self._read_own(own)
        digest = hashlib.sha256()
        for data in (*self.ours.values(), *self.mine.values()):
            digest.update(data)
        self.digest = digest.hexdigest()

    def _read_own(self, own: Path) -> None:
        paths = {name: own / one.path for name, one in self.package.items()}
        self.mine = {name: read_bytes(path) for name, path in paths.items() if path.exists()}
        labels = own / "labels.csv"
        if labels.exists():
            try:
                self.labels = read_labels(labels)
            except TableError as error:
                self.label_faults = list(error.complaints)
        elif not self.mine:
            known = ", ".join(resource.path for resource in self.package.values())
            raise InputError(f"{own}: holds none of the tables ({known}, labels.csv)")

    def key(self) -> str:
        """Under which the columns are kept."""
        return self._key(self.mine)

    def _key(self, mine: Mapping[str, bytes]) -> str:
        parts = [(self.shipped / "datapackage.json").read_bytes()]
        for name in self.package:
            parts += [self.ours[name], mine.get(name, b"")]
        here = Path(__file__).parent
        return key_of(parts, [here / name for name in CODE])

    def typed(self) -> tuple[TypedRows, list[Complaint]]:
        """Rows by table and key, and everything wrong with them.

        Ours are taken as kept, if they are, and read from their files only if a complaint is of them: what
        was kept does not tell in which row of a file it stood.
        """
        kept = self.unpacked(recall("tables", self._key({}))) if self.own is not None else None
        if kept is not None:
            rows, complaints = self._laid_over(self._as_rows(kept), [])
            if all(one.row is not None for one in complaints):
                return rows, complaints
        ours: TypedRows = {}
        faults: list[Complaint] = []
        for name, resource in self.package.items():
            ours[name] = _read(self.ours[name], self.shipped / resource.path, resource, faults, own=False)
        return self._laid_over(ours, faults)

    def _as_rows(self, columns: Columns) -> TypedRows:
        found: TypedRows = {}
        for name, resource in self.package.items():
            table = {column: columns[name][column] for column in resource.columns}
            cells = [dict(zip(table, row)) for row in zip(*table.values())]
            found[name] = dict(zip(zip(*(table[key] for key in resource.primary_key)), cells))
        return found

    def _laid_over(self, rows: TypedRows, complaints: list[Complaint]) -> tuple[TypedRows, list[Complaint]]:
        """A person's rows laid over ours, and the whole checked."""
        if self.own is not None:
            rows["sources"][("own",)] = dict(OWN_SOURCE)
            for name, data in self.mine.items():
                resource = self.package[name]
                mine = _read(data, self.own / resource.path, resource, complaints, own=True)
                for row in mine.values():
                    row[OWN_ROW] = True
                rows[name].update(mine)
        if not complaints:
            complaints.extend(check_references(self.package, rows))
        return rows, complaints

    def columns(self, rows: TypedRows) -> Columns:
        """Checked rows column by column, and under ``OWN_ROW`` whether each is a person's own."""
        return {
            name: {
                column: [row.get(column, False) for row in rows[name].values()]
                for column in (*resource.columns, OWN_ROW)
            }
            for name, resource in self.package.items()
        }

    def packed(self, columns: Columns) -> dict[str, list[Any]]:
        """Columns for keeping, dates as texts."""
        found = {}
        for name, resource in self.package.items():
            kept = list(columns[name].values())
            for place in resource.dates:
                kept[place] = [date.isoformat() if date else "" for date in kept[place]]
            found[name] = [_joined(column) for column in kept]
        return found

    def unpacked(self, kept: Any) -> Columns | None:
        """Columns from what was kept, ``None`` if that is nothing."""
        if kept is None:
            return None
        found = {}
        for name, resource in self.package.items():
            columns = [_parted(column) for column in kept[name]]
            for place in resource.dates:
                columns[place] = [dt.date.fromisoformat(date) if date else None for date in columns[place]]
            found[name] = dict(zip((*resource.columns, OWN_ROW), columns, strict=True))
        return found


def _joined(column: list[Any]) -> str | list[Any]:
    """A column of texts as one text: reading that is several times faster than reading each."""
    if column and all(isinstance(cell, str) and BETWEEN not in cell for cell in column):
        return BETWEEN.join(column)
    return column


def _parted(column: str | list[Any]) -> list[Any]:
    return column.split(BETWEEN) if isinstance(column, str) else column


def _read(
    data: bytes, path: Path, resource: Resource, complaints: list[Complaint], *, own: bool
) -> dict[tuple[Any, ...], Cells]:
    try:
        required = [name for name in resource.required if not (own and name in ("basis", "source"))]
        typed, wrong = resource.type_rows(read_rows(data, required, resource.columns, name=str(path)), own)
    except TableError as error:
        typed, wrong = {}, list(error.complaints)
    complaints.extend(wrong)
    return typed
