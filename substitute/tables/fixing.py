"""A corrected copy of a person's accord or shelf: what is certain is put right, the rest is asked."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from ..errors import Complaint, InputError, TableError
from ..frozen import frozen
from .figures import split_unit
from .lines import GRAMS, strength_of
from .names import Names
from .readings import Reading
from .rows import Row, Rows
from .writing import to_csv, write_whole

AMOUNTS = ("parts", "grams", "price_per_gram")


@frozen
class Fixed:
    """What was put right, a sentence each, and what is still to be answered."""

    lines: tuple[str, ...]
    complaints: tuple[Complaint, ...]


def fix_file(rows: Rows, path: Path, out: str, names: Names, *, force: bool = False) -> Fixed:
    """Write ``rows`` with ids for names, plain numbers and strengths in their own column to ``out``;
    ``path`` stays as it is.

    Raises :class:`~substitute.errors.InputError` where ``out`` exists, or is ``path`` itself.
    """
    if Path(out).resolve() == path.resolve():
        raise InputError(f"{out}: the file itself is not written over; give the copy another name")
    columns = list(dict.fromkeys(column for row in rows for column in row.cells))
    if "label" in columns and "material" not in columns:
        raise InputError(f"{path}: labels are not corrected; a CAS number is read on the bottle")
    if "strength_pct" not in columns:
        columns.insert(min(2, len(columns)), "strength_pct")
    done: list[str] = []
    open_: list[Complaint] = []
    cells: list[list[str]] = []
    commas: list[tuple[int, str, str]] = []
    for row in rows:
        fixed, said, faults = _fix_row(row, names)
        only = [name for name in AMOUNTS if _only_a_comma(row, name, fixed)]
        commas += [(row.number, row.text(name), fixed[name]) for name in only]
        cells.append([fixed.get(column, "") for column in columns])
        done += [f"{path}, row {row.number}: {sentence}" for sentence in said]
        open_ += faults
    if commas:
        number, before, after = commas[0]
        more = f"; so in {len(commas)} cells" if len(commas) > 1 else ""
        done.append(f"{path}: decimal comma written as a point (row {number}: '{before}' as {after}{more})")
    if all(not line[columns.index("strength_pct")] for line in cells):
        place = columns.index("strength_pct")
        columns.pop(place)
        for line in cells:
            line.pop(place)
    write_whole(out, to_csv(columns, cells), force=force)
    return Fixed(tuple(done), tuple(open_))


def _fix_row(row: Row, names: Names) -> tuple[dict[str, str], list[str], list[Complaint]]:
    fixed = dict(row.cells)
    said: list[str] = []
    faults: list[Complaint] = []
    reading: Reading | None = None
    text = row.text("material")
    try:
        if not text:
            raise row.fault("material", "is empty; which material is it?")
        reading = names.read(text)
        fixed["material"] = reading.material.id
        if not reading.sure:
            said.append(str(reading))
    except TableError as error:
        faults += error.complaints
    except InputError as error:
        suggestions = getattr(error, "suggestions", ())
        faults.append(row.complaint("material", str(error), suggestions))
    for column in AMOUNTS:
        _fix_number(row, column, fixed, said, faults)
    try:
        strength = strength_of(row, reading)
        if strength != 100.0 or row.text("strength_pct"):
            fixed["strength_pct"] = f"{strength:.12g}"
    except TableError as error:
        faults += error.complaints
    return fixed, said, faults


def _fix_number(
    row: Row, column: str, fixed: dict[str, str], said: list[str], faults: list[Complaint]
) -> None:
    text, unit = split_unit(row.text(column))
    if not text.strip():
        if column == "parts" and "parts" in row.cells:
            faults.append(row.complaint(column, "is empty; how much is it?"))
        return
    try:
        value = row.value(column, text, low=0.0)
    except TableError as error:
        faults += error.complaints
        return
    if unit not in ("", "%", *GRAMS):
        faults.append(row.complaint(column, f"'{row.text(column)}' is no mass; weigh it"))
        return
    plain = f"{(value or 0.0) * GRAMS.get(unit, 1.0):.12g}"
    fixed[column] = plain
    if plain != row.text(column) and not _only_a_comma(row, column, fixed):
        said.append(f"{column} '{row.text(column)}' written as {plain}")


def _only_a_comma(row: Row, column: str, fixed: Mapping[str, str]) -> bool:
    """Whether a number was only given a point for its comma: told once for the whole file."""
    text = row.text(column)
    return "," in text and text.replace(",", ".").strip() == fixed.get(column)
