"""Loads the shipped tables with a person's own laid over them, as they were kept or read and checked anew.

A person's folder holds any of the same files with the same columns; a row there replaces ours that has
the same primary key. What reads cells and checks them (:mod:`.typed`) is imported only where nothing is kept.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from functools import cached_property
from pathlib import Path

from ..errors import Complaint, InputError, TableError
from ..records import Tables
from .assemble import assemble
from .columns import Columns, KeptColumns, packed
from .kept import first_time, keep_parts, key_of, recall_parts

VARIABLE = "SUBSTITUTE_TABLES"
CODE = (
    "typed.py",
    "columns.py",
    "schema.py",
    "files.py",
    "rows.py",
    "texts.py",
    "figures.py",
    "headers.py",
    "check.py",
)  # what typed rows depend on


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
    files = TableFiles(data_folder(), own_folder(tables))
    columns = files.kept()
    if columns is None:
        columns = _read_anew(files)
    if files.label_faults:
        raise TableError(files.label_faults)
    return assemble(columns, files.labels, files.digest)


def _read_anew(files: TableFiles) -> Columns:
    from .typed import as_columns, read_typed

    with first_time("reading the tables"):
        rows, complaints = read_typed(files)
        if complaints:
            raise TableError([*complaints, *files.label_faults])
        columns = as_columns(files, rows)
        keep_parts("tables", files.key(files.mine), packed(columns))
    return columns


class TableFiles:
    """The bytes of all tables: ours, and a person's own to lay over them."""

    def __init__(self, shipped: Path, own: Path | None):
        self.shipped, self.own = shipped, own
        self.descriptor = self._bytes("datapackage.json")
        self.paths: dict[str, str] = {
            entry["name"]: entry["path"] for entry in json.loads(self.descriptor)["resources"]
        }
        self.ours = {name: self._bytes(path) for name, path in self.paths.items()}
        self.mine: dict[str, bytes] = {}
        self.labels: dict[str, str] = {}
        self.label_faults: list[Complaint] = []
        if own is not None:
            self._read_own(own)

    def _bytes(self, name: str) -> bytes:
        try:
            return (self.shipped / name).read_bytes()
        except OSError:
            from .files import read_bytes

            return read_bytes(self.shipped / name)  # which says what is wrong

    def _read_own(self, own: Path) -> None:
        from .files import read_bytes
        from .shelves import read_labels

        paths = {name: own / path for name, path in self.paths.items()}
        self.mine = {name: read_bytes(path) for name, path in paths.items() if path.exists()}
        labels = own / "labels.csv"
        if labels.exists():
            try:
                self.labels = read_labels(labels)
            except TableError as error:
                self.label_faults = list(error.complaints)
        elif not self.mine:
            known = ", ".join(self.paths.values())
            raise InputError(f"{own}: holds none of the tables ({known}, labels.csv)")

    @cached_property
    def digest(self) -> str:
        """Over all bytes of all tables."""
        return self._digest(self.mine)

    def key(self, mine: Mapping[str, bytes]) -> str:
        """Under which the columns are kept, where ``mine`` are laid over ours."""
        here = Path(__file__).parent
        digest = self.digest if mine is self.mine else self._digest(mine)
        return key_of([self.descriptor, digest.encode()], [here / name for name in CODE])

    def _digest(self, mine: Mapping[str, bytes]) -> str:
        return key_of(part for name in self.paths for part in (self.ours[name], mine.get(name, b"")))

    def kept(self) -> Columns | None:
        """Ours with a person's own over them, as kept when these bytes were last read."""
        return _columns(self.key(self.mine))

    def kept_ours(self) -> Columns | None:
        """Ours alone, as kept."""
        return _columns(self.key({}))


def _columns(key: str) -> Columns | None:
    parts = recall_parts("tables", key)
    return None if parts is None else KeptColumns(parts)
