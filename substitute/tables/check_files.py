"""Checks a person's own files: tables, accords, shelves, labels, whole folders.

Reads, complains, changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import ClassVar

from ..errors import Complaint, InputError, TableError
from ..frozen import frozen
from ..records import Tables
from ..shown import Shown
from .files import read_rows
from .fixing import fix_file
from .formulas import ACCORD_COLUMNS, FORMULA_FILES, read_accord
from .load import data_folder
from .names import Names
from .readings import note, noting
from .rows import Rows
from .schema import OWN, read_package
from .shelves import LABEL_COLUMNS, SHELF_COLUMNS, read_labels, read_shelf
from .typed import read_all


@frozen
class Checked(Shown):
    """What each file was taken for, and everything wrong with it."""

    asked_by: ClassVar[str] = "check"

    lines: tuple[str, ...]
    complaints: tuple[Complaint, ...]

    def to_dict(self) -> dict[str, object]:
        return {
            "lines": list(self.lines),
            "complaints": [
                {
                    "file": c.file,
                    "row": c.row,
                    "column": c.column,
                    "message": c.message,
                    "suggestions": list(c.suggestions),
                }
                for c in self.complaints
            ],
        }


def check_files(
    paths: Iterable[str],
    names: Names,
    *,
    tables: Tables | None = None,
    fix: str | None = None,
    force: bool = False,
) -> Checked:
    """Check every path; a folder is checked as a folder of tables, or of accords.

    With ``fix``, a corrected copy of the one accord or shelf named is written there: what is certain is
    put right, the complaints left are what a person must answer. ``tables`` adds what is not wrong but
    not known: materials without potency.
    """
    given = [str(path) for path in paths]
    if any(not path.strip() for path in given):
        raise InputError("a name is empty; a file or a folder is wanted")
    files = [Path(path) for path in given]
    if fix is not None:
        return _fix(files, names, fix, force)
    lines: list[str] = []
    complaints: list[Complaint] = []
    for path in files:
        with noting() as notes:
            kind, wrong = _check(path, names)
        complaints += wrong
        lines += [str(complaint) for complaint in wrong] or [f"{path}: {kind}, nothing wrong"]
        if wrong and kind:
            lines.append(f"{path}: read as {kind}")
        lines += [f"{path}: {note}" for note in dict.fromkeys(notes) if str(path) not in note]
        lines += [note for note in dict.fromkeys(notes) if str(path) in note and note not in lines]
    if tables is not None:
        lines += without_potency(tables)
    return Checked(tuple(lines), tuple(complaints))


def without_potency(tables: Tables) -> list[str]:
    """Sentences about materials of a person's own that can be weighed but not judged, because no potency
    is known."""
    return [
        f"'{name}' is your own material and has no potency in properties.csv: "
        "it counts as unknown in every match"
        for name, material in tables.materials.items()
        if material.source == OWN["source"]
        and material.stocked
        and material.kind != "solvent"
        and tables.value(name, "potency") is None
    ]


def _fix(paths: list[Path], names: Names, out: str, force: bool) -> Checked:
    if len(paths) != 1 or paths[0].is_dir():
        raise InputError("one file at a time is corrected; name one accord or shelf")
    _, rows = own_file(paths[0])
    fixed = fix_file(rows, paths[0], out, names, force=force)
    lines = [*(f"{paths[0]}: {told}" for told in rows.told), *fixed.lines, *map(str, fixed.complaints)]
    lines.append(f"{out}: {_lines(len(rows))} written, {len(fixed.complaints)} still to answer")
    return Checked(tuple(lines), fixed.complaints)


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
        return _looks_like(path), list(error.complaints)
    except InputError as error:
        return "", [Complaint(str(path), None, None, str(error).removeprefix(f"{path}: "))]


def _tables(folder: Path) -> list[Complaint]:
    """Complaints about tables laid over ours; read from the shipped folder itself, the package is
    checked."""
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
    return f"a folder of {len(files)} file{'s' * (len(files) > 1)}", complaints


def _formula(path: Path, names: Names) -> str:
    kind, rows = own_file(path)
    for told in rows.told:
        note(f"{path}: {told}")
    if kind == "labels":
        return f"labels ({len(read_labels(path))})"
    if kind == "shelf":
        return f"a shelf ({_lines(len(read_shelf(path, names).stock))})"
    found = read_accord(path, names, fill=True)
    what = "an accord or a shelf in grams" if _in_grams(path) else "an accord"
    return f"{what} ({_lines(len(found.lines))}{f', {len(found.to_fill)} to fill' if found.to_fill else ''})"


def _lines(number: int) -> str:
    return f"{number} line{'s' if number != 1 else ''}"


def _in_grams(path: Path) -> bool:
    """Whether the amounts of an accord are headed as grams, so that it may be what stands on a shelf."""
    try:
        rows = read_rows(path, ("material", "grams"), SHELF_COLUMNS)
    except TableError:
        return False
    return not {"parts", "role", "optional"} & rows.header


def _looks_like(path: Path) -> str:
    """What a file with faults was taken for; empty where its header says nothing."""
    try:
        return {"labels": "labels", "shelf": "a shelf", "accord": "an accord"}[own_file(path)[0]]
    except (TableError, InputError, OSError):
        return ""


def own_file(path: Path) -> tuple[str, Rows]:
    """What a file is by its header, and its rows: labels or a shelf by our own words, else an accord,
    else a shelf.

    Raises what is wrong with it as an accord where it is none of these.
    """
    for kind, required, known, telling in (
        ("labels", LABEL_COLUMNS, LABEL_COLUMNS, {"label", "cas"}),
        ("shelf", ("material",), SHELF_COLUMNS, {"grams", "price_per_gram"}),
    ):
        try:
            rows = read_rows(path, required, known)
        except TableError:
            continue
        priced = kind == "shelf" and any("price_per_gram" in row.cells for row in rows[:1])
        if (telling & rows.header or priced) and "parts" not in rows.header:
            return kind, rows
    try:
        return "accord", read_rows(path, ("material", "parts"), ACCORD_COLUMNS)
    except TableError as error:
        try:
            return "shelf", read_rows(path, ("material",), SHELF_COLUMNS)
        except TableError:
            raise error from None
