"""Checks a person's own files: tables, accords, shelves, labels, whole folders. Reads, complains, changes nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from ..errors import Complaint, InputError, TableError
from .files import read_rows
from .formulas import (
    ACCORD_COLUMNS,
    FORMULA_FILES,
    LABEL_COLUMNS,
    SHELF_COLUMNS,
    read_accord,
    read_labels,
    read_shelf,
)
from .load import data_folder, read_all
from .names import Names
from .schema import read_package


@dataclass(frozen=True)
class Checked:
    """What each file was taken for, and everything wrong with it."""

    lines: tuple[str, ...]
    complaints: tuple[Complaint, ...]

    def to_dict(self) -> dict:
        return {
            "lines": list(self.lines),
            "complaints": [
                {"file": c.file, "row": c.row, "column": c.column, "message": c.message}
                for c in self.complaints
            ],
        }


def check_files(paths: Iterable[str], names: Names) -> Checked:
    """Check every path; a folder is checked as a folder of tables, or of accords."""
    lines: list[str] = []
    complaints: list[Complaint] = []
    for path in map(Path, paths):
        kind, wrong = _check(path, names)
        complaints += wrong
        lines += [str(complaint) for complaint in wrong] or [f"{path}: {kind}, nothing wrong"]
    if complaints:
        lines.append(f"{len(complaints)} complaint{'s' if len(complaints) != 1 else ''}")
    return Checked(tuple(lines), tuple(complaints))


def _check(path: Path, names: Names) -> tuple[str, list[Complaint]]:
    try:
        if path.is_dir():
            return _folder(path, names)
        if path.name in {resource.path for resource in read_package(data_folder()).values()}:
            return f"the table {path.stem}", [
                c for c in _tables(path.parent) if Path(c.file).name == path.name
            ]
        return _formula(path, names), []
    except TableError as error:
        return "", list(error.complaints)
    except InputError as error:
        return "", [Complaint(str(path), None, None, str(error).removeprefix(f"{path}: "))]


def _tables(folder: Path) -> list[Complaint]:
    """Complaints about tables laid over ours; read from the shipped folder itself, the package is checked."""
    own = None if folder.resolve() == data_folder().resolve() else folder
    return read_all(own)[3]


def _folder(path: Path, names: Names) -> tuple[str, list[Complaint]]:
    tables = {resource.path for resource in read_package(data_folder()).values()} | {"labels.csv"}
    if any((path / name).exists() for name in tables):
        return "a folder of tables", _tables(path)
    files = sorted(file for file in path.iterdir() if file.suffix.lower() in FORMULA_FILES)
    if not files:
        raise InputError(f"{path}: holds neither tables nor accords")
    complaints = [complaint for file in files for complaint in _check(file, names)[1]]
    return f"a folder of {len(files)} files", complaints


def _formula(path: Path, names: Names) -> str:
    rows = read_rows(path, (), {*ACCORD_COLUMNS, *SHELF_COLUMNS, *LABEL_COLUMNS})
    header = set(rows[0].cells) if rows else set()
    if {"label", "cas"} <= header:
        return f"labels ({len(read_labels(path))})"
    if header & {"grams", "price_per_gram"} and "parts" not in header:
        return f"a shelf ({len(read_shelf(path, names).stock)} lines)"
    if "material" in header and not header & {"parts", "part"} and header <= {"material", "strength_pct"}:
        return f"a shelf ({len(read_shelf(path, names).stock)} lines)"
    return f"an accord ({len(read_accord(path, names).lines)} lines)"
