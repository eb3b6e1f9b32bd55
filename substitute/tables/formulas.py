"""Accords: a person's own formulas, in and out.

Of an accord only ``material`` and ``parts`` are required. A line may name another accord of the same
folder (a base); it is replaced by that accord's lines, scaled, to any depth.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ..errors import Complaint, InputError, TableError, complain
from ..records import ROLES, Accord, Line, ToFill
from .files import SPREADSHEETS, read_rows
from .lines import EMPTY_NAME, MOST_PARTS, Bases, Filling, Found, Reader, amounts, read_material, strength_of
from .names import Names
from .readings import Reading, note
from .rows import Row, shorten
from .writing import harmless, to_csv

LONGEST_NAME = 120
MOST_LINES = 10_000
DEEPEST = 40  # accords inside accords
ACCORD_COLUMNS = ("material", "parts", "strength_pct", "role", "optional")
FORMULA_FILES = (".csv", ".tsv", ".txt", *SPREADSHEETS)


def read_accord(
    source: object,
    names: Reader,
    *,
    name: str | None = None,
    bases: Bases | None = None,
    fill: bool = False,
) -> Accord:
    """An accord from a CSV, XLSX or ODS file (a path, or bytes with their ``name``).

    With ``fill``, a line that names a note (pineapple) is kept apart as a line to fill; without, it is a
    fault. Raises :class:`~substitute.errors.TableError` with every fault: file, row, column, what is
    wrong, what may be meant.
    """
    if bases is None and isinstance(source, str | Path):
        bases = folder_bases(Path(source), names)
    label = name or str(source)
    rows = read_rows(source, ("material", "parts"), ACCORD_COLUMNS, name=label)
    try:
        found = accord_from_rows(rows, names, Path(label).stem, label, bases, fill=fill)
    except TableError as error:
        raise rows.blamed(error) from None
    for told in rows.told:
        note(f"{label}: {told}")
    for line in found.to_fill:
        note(Filling(label, line))
    return replace(found, read_as=(*rows.told, *found.read_as))


def accord_from_rows(
    rows: Iterable[Row],
    names: Reader,
    name: str,
    file: str,
    bases: Bases | None = None,
    *,
    fill: bool = False,
) -> Accord:
    """All lines, or a :class:`~substitute.errors.TableError` with all faults; zero lines are legal, a sum
    of zero is not."""
    lines: list[Line] = []
    all_ = Found()
    rows = list(rows)
    for row, amount in zip(rows, amounts(rows, "parts", all_.faults)):
        lines.extend(_lines(row, amount, names, bases, fill, all_))
    if all_.faults:
        raise TableError(sorted(all_.faults, key=lambda fault: fault.row or 0))
    if not lines and all_.to_fill:
        raise TableError(
            [
                Complaint(file, one.row, "material", _note_fault(one.text, one.suggestions), one.suggestions)
                for one in all_.to_fill
            ]
        )
    if not lines:
        raise complain(file, None, "material", "has a header but no lines; at least one material is wanted")
    if len(lines) > MOST_LINES:
        raise complain(file, None, "material", f"has {len(lines):,} lines; at most {MOST_LINES:,} are read")
    if not sum(line.parts for line in lines) > 0:
        raise complain(file, None, "parts", "the parts sum to 0; at least one line needs parts above 0")
    return Accord(name, tuple(lines), read_as=tuple(all_.read_as), to_fill=tuple(all_.to_fill))


def _note_fault(text: str, suggestions: Iterable[str]) -> str:
    return f"'{shorten(text)}' is a word for a note, not a material; what gives it: {', '.join(suggestions)}"


def _lines(
    row: Row, parts: float | None, names: Reader, bases: Bases | None, fill: bool, all_: Found
) -> list[Line]:
    before = len(all_.faults)
    text = row.text("material")
    if not text:
        all_.faults.append(row.complaint("material", EMPTY_NAME))
    if parts is None and not any(one.row == row.number and one.column == "parts" for one in all_.faults):
        all_.faults.append(
            row.complaint("parts", f"is empty; a number from 0 to {MOST_PARTS:,.0f} is wanted")
        )
    reading: Reading | None = None
    base: Accord | None = None
    strength, role, optional = 100.0, "support", False
    try:
        if text:
            reading, base = read_material(row, text, names, bases)
    except TableError as error:
        wrong = error.complaints[0]
        if fill and wrong.message.startswith(f"'{shorten(text)}' is a word for a note"):
            all_.to_fill.append(ToFill(row.number, text, parts or 0.0, wrong.suggestions))
            return []
        all_.faults.extend(error.complaints)
    for check in (
        lambda: strength_of(row, reading),
        lambda: row.choice("role", ROLES, "support"),
        lambda: row.flag("optional"),
    ):
        try:
            value = check()
        except TableError as error:
            all_.faults.extend(error.complaints)
            continue
        if isinstance(value, bool):
            optional = value
        elif isinstance(value, float):
            strength = value
        else:
            role = str(value)
    if len(all_.faults) > before or parts is None:
        return []
    all_.note(row, None if base else reading)
    if base is not None:
        return _of_base(base, parts, strength, role, optional)
    return [Line(reading.material.id, parts, strength, role, optional)] if reading else []


def _of_base(base: Accord, parts: float, strength: float, role: str, optional: bool) -> list[Line]:
    """The lines of an accord used as a material, scaled; equal ones are added up, so that bases of bases
    cannot swell."""
    share = parts / base.total
    found: dict[tuple[str, float, bool], float] = {}
    for line in base.lines:
        key = line.material, line.strength * strength / 100.0, optional or line.optional
        found[key] = found.get(key, 0.0) + line.parts * share
    return [Line(name, amount, kept, role, may) for (name, kept, may), amount in found.items()]


def folder_bases(
    path: Path, names: Reader, opened: tuple[Path, ...] = (), done: dict[Path, Accord] | None = None
) -> Bases:
    """A look-up of the accords beside ``path`` by their file's stem, each read once; a circle is refused
    by name."""
    opened = (*opened, Path(os.path.realpath(path)))
    done = {} if done is None else done

    def find(text: str) -> Accord | None:
        if len(text) > LONGEST_NAME or any(sign in text for sign in "/\\\0"):  # no file's name
            return None
        for suffix in FORMULA_FILES:
            other = path.parent / f"{text}{suffix}"
            if not other.is_file():
                continue
            place = Path(os.path.realpath(other))
            if place in opened:
                chain = [step.stem for step in opened[opened.index(place) :]] + [other.stem]
                raise InputError(f"the accords contain each other in a circle: {' > '.join(chain)}")
            if len(opened) > DEEPEST:
                raise InputError(
                    f"the accords contain each other {DEEPEST} deep; that is as far as they are followed"
                )
            if place not in done:
                done[place] = read_accord(other, names, bases=folder_bases(other, names, opened, done))
            return done[place]
        return None

    return find


def accord_files(folder: Path) -> list[Path]:
    """The accord files of a folder, by name; raises if there are none."""
    if not str(folder).strip() or not folder.is_dir():
        raise InputError(f"{folder}: there is no such folder")
    try:
        found = sorted(folder.iterdir())
    except OSError as error:
        raise InputError(f"{folder}: cannot be read ({error.strerror or error})") from None
    files = [path for path in found if path.suffix.lower() in FORMULA_FILES and not path.name.startswith(".")]
    if not files:
        raise InputError(
            f"{folder}: holds no accords (CSV, XLSX or ODS files with the columns material and parts)"
        )
    return files


def read_accords(folder: str | Path, names: Names) -> tuple[list[Accord], list[tuple[str, str]]]:
    """All accords of a folder, and those that cannot be read as (name, message)."""
    if not str(folder):
        raise InputError("the folder's name is empty")
    accords, rejected = [], []
    for path in accord_files(Path(folder)):
        try:
            accords.append(read_accord(path, names))
        except InputError as error:
            rejected.append((path.stem, str(error)))
    return accords, rejected


def cells_of(line: Line) -> tuple[object, ...]:
    """A line under :data:`ACCORD_COLUMNS`."""
    return line.material, line.parts, line.strength, line.role, "yes" if line.optional else "no"


def write_accord(accord: Accord, extra: Mapping[str, Sequence[object]] | None = None) -> str:
    """An accord as CSV text, with further columns behind ours."""
    extra = extra or {}
    rows = [
        (*cells_of(line), *(harmless(column[i]) for column in extra.values()))
        for i, line in enumerate(accord.lines)
    ]
    return to_csv((*ACCORD_COLUMNS, *extra), rows)


def read_intents(path: Path) -> dict[str, str]:
    """Accord name -> its line of intent; none if the file is not there."""
    if not path.is_file():
        return {}
    return {row.text("accord"): row.text("intent") for row in read_rows(path, ("accord", "intent"))}
