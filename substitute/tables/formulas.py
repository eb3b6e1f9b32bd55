"""Accords, shelves and labels: a person's own files, in and out.

Of an accord only ``material`` and ``parts`` are required. A line may name another accord of the same folder (a base); it is
replaced by that accord's lines, scaled, to any depth.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Protocol

from ..errors import InputError, NotFound, Several, TableError, complain
from ..records import ROLES, Accord, Line, Shelf, Stock
from .files import SPREADSHEETS, Row, read_rows, shorten, to_csv
from .names import CAS, Names, Reading

MOST_PARTS = 1e9
LONGEST_NAME = 120
ACCORD_COLUMNS = ("material", "parts", "strength_pct", "role", "optional")
SHELF_COLUMNS = ("material", "strength_pct", "grams", "price_per_gram")
LABEL_COLUMNS = ("label", "cas")
FORMULA_FILES = (".csv", ".tsv", ".txt", *SPREADSHEETS)

Bases = Callable[[str], "Accord | None"]


class Reader(Protocol):
    """Whatever reads names: :class:`~substitute.tables.names.Names`, or one that remembers."""

    def read(self, text: str) -> Reading: ...


def read_accord(source, names: Names, *, name: str | None = None, bases: Bases | None = None) -> Accord:
    """An accord from a CSV or XLSX file (a path, or bytes with their ``name``).

    Raises :class:`~substitute.errors.TableError` with file, row and column.
    """
    if bases is None and not isinstance(source, bytes):
        bases = folder_bases(Path(source), names)
    label = name or str(source)
    rows = read_rows(source, ("material", "parts"), ACCORD_COLUMNS, name=label)
    return accord_from_rows(rows, names, Path(label).stem, label, bases)


def accord_from_rows(
    rows: Iterable[Row], names: Names, name: str, file: str, bases: Bases | None = None
) -> Accord:
    """Lines checked one by one; zero lines are legal, a sum of zero is not."""
    lines: list[Line] = []
    for row in rows:
        lines.extend(_lines(row, names, bases))
    if not lines:
        raise complain(file, None, "material", "has a header but no lines; at least one material is wanted")
    if not sum(line.parts for line in lines) > 0:
        raise complain(file, None, "parts", "the parts sum to 0; at least one line needs parts above 0")
    return Accord(name, tuple(lines))


def _lines(row: Row, names: Names, bases: Bases | None) -> list[Line]:
    text = row.text("material")
    if not text:
        raise row.fault("material", "is empty; an id, name, synonym, label or CAS number is wanted")
    parts = row.figure("parts", low=0.0, high=MOST_PARTS)
    if parts is None:
        raise row.fault("parts", f"is empty; a number from 0 to {MOST_PARTS:,.0f} is wanted")
    role = row.choice("role", ROLES, "support")
    optional = row.flag("optional")
    reading, base = read_material(row, text, names, bases)
    strength = strength_of(row, reading)
    if base is not None:
        share = parts / base.total
        return [
            Line(
                line.material,
                line.parts * share,
                line.strength * strength / 100.0,
                role,
                optional or line.optional,
            )
            for line in base.lines
        ]
    return [Line(reading.material.id, parts, strength, role, optional)]


def read_material(
    row: Row, text: str, names: Reader, bases: Bases | None
) -> tuple[Reading | None, Accord | None]:
    """What a line names: a material, or an accord of the folder, which beats a short name but not a material's own."""
    try:
        reading = names.read(text)
        if reading.sure:
            return reading, None
        fault: InputError | None = None
    except (NotFound, Several) as error:
        reading, fault = None, error
    except InputError as error:
        raise row.fault("material", str(error)) from None
    try:
        base = bases(text) if bases else None
    except TableError:
        raise
    except InputError as error:
        raise row.fault("material", str(error)) from None
    if base is None and fault is not None:
        raise row.fault("material", str(fault)) from None
    return reading, base


def strength_of(row: Row, reading: Reading | None = None) -> float:
    """The strength of a row in percent by mass, above 0 and up to 100: its own cell, else what the name says, else 100."""
    named = reading.strength if reading else None
    strength = row.figure("strength_pct", default=named or 100.0)
    if named is not None and strength not in (named, None):
        raise row.fault(
            "strength_pct", f"{strength:g} is not the {named:g} % that the name says; which is it?"
        )
    if not 0 < strength <= 100:
        raise row.fault(
            "strength_pct", f"{row.text('strength_pct')} is out of range: allowed is above 0 to 100"
        )
    return strength


def folder_bases(path: Path, names: Names, opened: tuple[Path, ...] = ()) -> Bases:
    """A look-up of the accords beside ``path`` by their file's stem; a circle is refused by name."""
    opened = (*opened, path.resolve())

    def find(text: str) -> Accord | None:
        if len(text) > LONGEST_NAME or any(sign in text for sign in "/\\\0"):  # no file's name
            return None
        for suffix in FORMULA_FILES:
            other = path.parent / f"{text}{suffix}"
            if not other.is_file():
                continue
            if other.resolve() in opened:
                chain = [step.stem for step in opened[opened.index(other.resolve()) :]] + [other.stem]
                raise InputError(f"the accords contain each other in a circle: {' > '.join(chain)}")
            return read_accord(other, names, bases=folder_bases(other, names, opened))
        return None

    return find


def accord_files(folder: Path) -> list[Path]:
    """The accord files of a folder, by name; raises if there are none."""
    if not folder.is_dir():
        raise InputError(f"{folder}: there is no such folder")
    files = sorted(
        path
        for path in folder.iterdir()
        if path.suffix.lower() in FORMULA_FILES and not path.name.startswith(".")
    )
    if not files:
        raise InputError(
            f"{folder}: holds no accords (CSV or XLSX files with the columns material and parts)"
        )
    return files


def read_accords(folder, names: Names) -> tuple[list[Accord], list[tuple[str, str]]]:
    """All accords of a folder, and those that cannot be read as (name, message)."""
    accords, rejected = [], []
    for path in accord_files(Path(folder)):
        try:
            accords.append(read_accord(path, names))
        except InputError as error:
            rejected.append((path.stem, str(error)))
    return accords, rejected


def write_accord(accord: Accord, extra: Mapping[str, list] | None = None) -> str:
    """An accord as CSV text, with further columns behind ours."""
    extra = extra or {}
    rows = [
        (
            line.material,
            line.parts,
            line.strength,
            line.role,
            "yes" if line.optional else "no",
            *(column[i] for column in extra.values()),
        )
        for i, line in enumerate(accord.lines)
    ]
    return to_csv((*ACCORD_COLUMNS, *extra), rows)


def read_shelf(source, names: Names, *, name: str | None = None) -> Shelf:
    """A shelf; only ``material`` is required."""
    label = name or str(source)
    return shelf_from_rows(
        read_rows(source, ("material",), SHELF_COLUMNS, name=label), names, Path(label).stem, label
    )


def shelf_from_rows(rows: Iterable[Row], names: Names, name: str, file: str) -> Shelf:
    """Stock checked row by row."""
    stock = []
    for row in rows:
        text = row.text("material")
        if not text:
            raise row.fault("material", "is empty; an id, name, synonym, label or CAS number is wanted")
        reading, _ = read_material(row, text, names, None)
        grams = row.figure("grams", low=0.0, high=MOST_PARTS)
        price = row.figure("price_per_gram", low=0.0, high=MOST_PARTS)
        stock.append(Stock(reading.material.id, strength_of(row, reading), grams, price))
    if not stock:
        raise complain(file, None, "material", "has a header but no lines; the shelf is empty")
    return Shelf(tuple(stock), name)


def write_shelf(shelf: Shelf) -> str:
    """A shelf as CSV text."""
    return to_csv(
        SHELF_COLUMNS, [(item.material, item.strength, item.grams, item.price) for item in shelf.stock]
    )


def read_labels(source, *, name: str | None = None) -> dict[str, str]:
    """Label -> CAS number."""
    label = name or str(source)
    found = {}
    for row in read_rows(source, LABEL_COLUMNS, name=label):
        cas = row.text("cas")
        if not CAS.fullmatch(cas):
            raise row.fault(
                "cas", f"'{shorten(cas)}' is not a CAS number: allowed is digits-dd-d, as on the bottle"
            )
        if not row.text("label"):
            raise row.fault("label", "is empty; the name on the bottle is wanted")
        found[row.text("label")] = cas
    return found


def read_intents(path: Path) -> dict[str, str]:
    """Accord name -> its line of intent; none if the file is not there."""
    if not path.is_file():
        return {}
    return {row.text("accord"): row.text("intent") for row in read_rows(path, ("accord", "intent"))}
