"""Accords, shelves and labels: a person's own files, in and out.

Of an accord only ``material`` and ``parts`` are required. A line may name another accord of the same
folder (a base); it is replaced by that accord's lines, scaled, to any depth.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Protocol

from ..errors import Complaint, InputError, NotFound, Several, TableError, complain
from ..records import ROLES, Accord, Line, Shelf, Stock, ToFill
from .bottle import CAS, CAS_PREFIX, HYPHENS
from .check import cas_is_valid
from .files import NO_MASS, SPREADSHEETS, Row, harmless, read_rows, shorten, split_unit, to_csv
from .names import Names, Reading, label_faults, note, noted

MOST_PARTS = 1e9
LONGEST_NAME = 120
MOST_LINES = 10_000
DEEPEST = 40  # accords inside accords
EMPTY_NAME = "is empty; an id, name, synonym, label or CAS number is wanted"
NEAT = ("neat", "pure", "pur", "puro", "rein", "undiluted", "unverdünnt")
GRAMS = {"g": 1.0, "mg": 0.001, "kg": 1000.0}
ACCORD_COLUMNS = ("material", "parts", "strength_pct", "role", "optional")
SHELF_COLUMNS = ("material", "strength_pct", "grams", "price_per_gram")
LABEL_COLUMNS = ("label", "cas")
ID = re.compile(r"(?=[a-z0-9-]*[a-z])[a-z0-9]+(-[a-z0-9]+)*")
FORMULA_FILES = (".csv", ".tsv", ".txt", *SPREADSHEETS)

Bases = Callable[[str], "Accord | None"]


class Reader(Protocol):
    """Whatever reads names: :class:`~substitute.tables.names.Names`, or one that remembers."""

    def read(self, text: str) -> Reading: ...


@dataclass(frozen=True)
class Filling:
    """A line to fill, and the file it stands in."""

    file: str
    line: ToFill

    def __str__(self) -> str:
        return f"{self.file}: {self.line}"

    def to_dict(self) -> dict[str, object]:
        """``{file, row, text, parts, suggestions}``."""
        return {"file": self.file, **asdict(self.line), "suggestions": list(self.line.suggestions)}


def told_of_names() -> dict[str, list[dict[str, object]]]:
    """What answers carry of how names were read: ``read_as`` and ``to_fill``, each only where there is
    something to say."""
    things = noted()
    found = {
        "read_as": [one.to_dict() for one in things if isinstance(one, Reading)],
        "to_fill": [one.to_dict() for one in things if isinstance(one, Filling)],
    }
    return {name: some for name, some in found.items() if some}


@dataclass
class _Lines:
    """What comes of the rows of a file: lines or stock, what is wrong, what was read how, and what is left
    to fill."""

    faults: list[Complaint] = field(default_factory=list)
    read_as: list[str] = field(default_factory=list)
    to_fill: list[ToFill] = field(default_factory=list)

    def note(self, row: Row, reading: Reading | None) -> None:
        if reading is not None and not reading.plain:
            self.read_as.append(f"row {row.number}: {reading}")


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
    found = accord_from_rows(rows, names, Path(label).stem, label, bases, fill=fill)
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
    all_ = _Lines()
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


def amounts(rows: Sequence[Row], column: str, faults: list[Complaint]) -> list[float | None]:
    """A column of amounts in one unit: plain parts, grams and their kin, or percent, not a mixture of
    these."""
    found: list[float | None] = []
    units: dict[str, Row] = {}
    for row in rows:
        text, unit = split_unit(row.text(column))
        reason = NO_MASS.get(unit)
        try:
            if reason:
                raise row.fault(column, f"'{shorten(row.text(column))}' is no mass: {reason}")
            value = row.value(column, text, low=0.0, high=MOST_PARTS)
        except TableError as error:
            faults.extend(error.complaints)
            found.append(None)
            continue
        if value is not None:
            kind = "g" if unit in GRAMS else unit
            if units and kind not in units and value > 0:
                other = next(iter(units))
                faults.append(
                    Complaint(
                        row.file,
                        row.number,
                        column,
                        f"is in {kind or 'plain parts'}, row {units[other].number} "
                        f"in {other or 'plain parts'}; one unit for all",
                    )
                )
            elif value > 0:
                units.setdefault(kind, row)
            value *= GRAMS.get(unit, 1.0)
        found.append(value)
    return found


def _lines(
    row: Row, parts: float | None, names: Reader, bases: Bases | None, fill: bool, all_: _Lines
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


def read_material(
    row: Row, text: str, names: Reader, bases: Bases | None
) -> tuple[Reading | None, Accord | None]:
    """What a line names: a material, or an accord of the folder, which beats a short name but not a
    material's own."""
    reading: Reading | None = None
    fault: NotFound | Several | None = None
    try:
        reading = names.read(text)
        if reading.sure:
            return reading, None
    except (NotFound, Several) as error:
        fault = error
    except InputError as error:
        raise row.fault("material", str(error)) from None
    try:
        base = bases(text) if bases else None
    except TableError:
        raise
    except InputError as error:
        raise row.fault("material", str(error)) from None
    if base is None and fault is not None:
        raise row.fault("material", str(fault), fault.suggestions) from None
    return reading, base


def strength_of(row: Row, reading: Reading | None = None) -> float:
    """The strength of a row in percent by mass, above 0 and up to 100: its own cell, else what the name
    says, else 100."""
    named = reading.strength if reading else None
    text, unit = split_unit(row.text("strength_pct"))
    if text.casefold() in NEAT:
        text, unit = "100", ""
    if unit not in ("", "%"):
        raise row.fault(
            "strength_pct", f"'{row.text('strength_pct')}' is not a percentage: allowed is above 0 to 100"
        )
    strength = row.value("strength_pct", text)
    if strength is None:
        return named or 100.0
    if not 0 < strength <= 100:
        raise row.fault(
            "strength_pct", f"{row.text('strength_pct')} is out of range: allowed is above 0 to 100"
        )
    if named is not None and strength != named:
        raise row.fault(
            "strength_pct", f"{strength:g} is not the {named:g} % that the name says; which is it?"
        )
    return strength


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


def write_accord(accord: Accord, extra: Mapping[str, Sequence[object]] | None = None) -> str:
    """An accord as CSV text, with further columns behind ours."""
    extra = extra or {}
    rows = [
        (
            line.material,
            line.parts,
            line.strength,
            line.role,
            "yes" if line.optional else "no",
            *(harmless(column[i]) for column in extra.values()),
        )
        for i, line in enumerate(accord.lines)
    ]
    return to_csv((*ACCORD_COLUMNS, *extra), rows)


def read_shelf(source: object, names: Reader, *, name: str | None = None) -> Shelf:
    """A shelf; only ``material`` is required.

    Raises with every fault.
    """
    label = name or str(source)
    rows = read_rows(source, ("material",), SHELF_COLUMNS, name=label)
    found = shelf_from_rows(rows, names, Path(label).stem, label)
    for told in rows.told:
        note(f"{label}: {told}")
    return replace(found, read_as=(*rows.told, *found.read_as))


def shelf_from_rows(rows: Iterable[Row], names: Reader, name: str, file: str) -> Shelf:
    """All stock, or a :class:`~substitute.errors.TableError` with all faults."""
    stock: list[Stock] = []
    all_ = _Lines()
    rows = list(rows)
    for row, grams in zip(rows, amounts(rows, "grams", all_.faults)):
        before = len(all_.faults)
        reading = None
        strength, price = 100.0, None
        try:
            if not row.text("material"):
                raise row.fault("material", EMPTY_NAME)
            reading, _ = read_material(row, row.text("material"), names, None)
        except TableError as error:
            all_.faults.extend(error.complaints)
        try:
            strength = strength_of(row, reading)
            price = row.figure("price_per_gram", low=0.0, high=MOST_PARTS)
        except TableError as error:
            all_.faults.extend(error.complaints)
        if reading and len(all_.faults) == before:
            all_.note(row, reading)
            stock.append(Stock(reading.material.id, strength, grams, price))
    if all_.faults:
        raise TableError(sorted(all_.faults, key=lambda fault: fault.row or 0))
    if not stock:
        raise complain(file, None, "material", "has a header but no lines; the shelf is empty")
    return Shelf(tuple(stock), name, tuple(all_.read_as))


def write_shelf(shelf: Shelf) -> str:
    """A shelf as CSV text."""
    return to_csv(
        SHELF_COLUMNS, [(item.material, item.strength, item.grams, item.price) for item in shelf.stock]
    )


def read_labels(source: object, *, name: str | None = None) -> dict[str, str]:
    """Label -> CAS number or id.

    Raises with every fault; two labels that fall together are one.
    """
    label = name or str(source)
    rows = read_rows(source, LABEL_COLUMNS, name=label)
    faults: list[Complaint] = []
    found: list[tuple[Row, str, str]] = []
    for row in rows:
        target = CAS_PREFIX.sub("", row.text("cas")).translate(HYPHENS)
        if CAS.fullmatch(target):
            if not cas_is_valid(target):
                faults.append(
                    row.complaint("cas", f"{target} fails its check digit; read it on the bottle once more")
                )
        elif not ID.fullmatch(target):
            shown = shorten(row.text("cas"))
            faults.append(
                row.complaint(
                    "cas", f"'{shown}' is neither a CAS number (digits-dd-d, as on the bottle) nor an id"
                )
            )
        if not row.text("label"):
            faults.append(row.complaint("label", "is empty; the name on the bottle is wanted"))
        found.append((row, row.text("label"), target))
    for place, message in label_faults((text, target) for _, text, target in found if text):
        faults.append([one for one in found if one[1]][place][0].complaint("label", message))
    if faults:
        raise TableError(sorted(faults, key=lambda fault: fault.row or 0))
    return {text: target for _, text, target in found}


def read_intents(path: Path) -> dict[str, str]:
    """Accord name -> its line of intent; none if the file is not there."""
    if not path.is_file():
        return {}
    return {row.text("accord"): row.text("intent") for row in read_rows(path, ("accord", "intent"))}
