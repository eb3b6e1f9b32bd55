"""A bench book opened: what stands in it, and every change that may be made to it."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import Any

from ..errors import InputError, SubstituteError
from ..figures import figure, given, significant
from ..records import Shelf
from ..tables.folders import write_together
from ..tables.formulas import FORMULA_FILES, read_accord
from ..tables.lines import Reader
from ..tables.load import VARIABLE as TABLES_VARIABLE
from ..tables.load import data_folder
from ..tables.names import Names
from ..tables.readings import noting
from ..tables.rows import Row, shorten
from ..tables.schema import nearest, read_package
from ..tables.writing import to_csv
from .bottles import bottle_cells, bottles_of, read_bottles, shelf_of
from .records import COLUMNS, About, Bottle, Move, Verdict
from .stock import Draw, Short, allot, last_move, move_cells, put_back, read_moves, solution_bottle
from .store import Store, next_id
from .verdicts import read_verdicts, verdict_cells


class Book:
    """The folder of one person, or of a bench that several share. Everything is read anew when asked for."""

    def __init__(self, folder: Path | str):
        self.store = Store(folder)

    @classmethod
    def begin(
        cls,
        folder: Path | str,
        *,
        name: str = "",
        shelf: Shelf | None = None,
        names: Mapping[str, str] | None = None,
        accords: Mapping[str, str | bytes] | None = None,
    ) -> Book:
        """A new book; with a ``shelf``, its bottles to begin with (``names``: id -> what to write on the
        label); with ``accords`` (file name -> content)."""
        files: dict[str, str | bytes] = {f"accords/{file}": text for file, text in (accords or {}).items()}
        if shelf is not None:
            bottles = bottles_of(shelf, names or {}, dt.date.today().isoformat())
            columns = COLUMNS["bottles.csv"]
            files["bottles.csv"] = to_csv(
                columns, [[bottle_cells(bottle)[column] for column in columns] for bottle in bottles]
            )
        Store.begin(folder, name or Path(folder).name, files)
        return cls(folder)

    @property
    def folder(self) -> Path:
        return self.store.folder

    @property
    def about(self) -> About:
        return self.store.about

    # -- what stands in it ---------------------------------------------------------------------------

    @cached_property
    def tables(self) -> Path | None:
        """The folder of own tables, if it holds any."""
        known = {resource.path for resource in read_package(data_folder()).values()}
        own = self.folder / "tables"
        return own if own.is_dir() and any((own / name).is_file() for name in known) else None

    def labels(self) -> dict[str, str]:
        """Label -> CAS number of ``labels.csv``."""
        from ..tables.shelves import read_labels

        path = self.folder / "labels.csv"
        return read_labels(path) if path.is_file() else {}

    def bottles(self, names: Reader) -> tuple[Bottle, ...]:
        with (
            noting()
        ):  # how a bottle's label was read is said when the book is checked, not with every answer
            return read_bottles(self.store.rows("bottles.csv"), names)

    def has_had(self, names: Reader, material: str) -> bool:
        """Whether a material stands, or stood, among the bottles; a book without bottles cannot tell and
        says yes."""
        bottles = self.bottles(names)
        held = {bottle.material for bottle in bottles} | {move.material for move in self.moves()}
        return not bottles or material in held

    def shelf(self, names: Reader) -> Shelf | None:
        """The bottles that are not empty; ``None`` where no bottle was ever entered."""
        return shelf_of(self.bottles(names), self.about.name)

    def verdicts(self) -> tuple[Verdict, ...]:
        """All that was said, by number, with what was taken back."""
        return read_verdicts(self.store.rows("verdicts.csv"))

    def moves(self) -> tuple[Move, ...]:
        return read_moves(self.store.rows("moves.csv"))

    def add_labels(self, names: Names) -> None:
        """Let ``names`` answer to the book's labels, and to its bottles."""
        names.add_labels(self.labels())
        self.name_bottles(names)

    def name_bottles(self, names: Names) -> None:
        """Let ``names`` answer to the book's bottles where they say nothing else already."""
        added: dict[str, tuple[str, float]] = {}
        with noting():
            for bottle in self.bottles(names):
                try:
                    reading = names.read(bottle.label, hints=False)
                except SubstituteError:
                    added[bottle.label] = bottle.material, bottle.strength
                    continue
                if reading.material.id != bottle.material or not reading.sure:
                    added[bottle.label] = bottle.material, bottle.strength
        names.add_bottles(added)

    # -- accords ---------------------------------------------------------------------------------------

    @property
    def accords(self) -> Path:
        return self.folder / "accords"

    def accord_path(self, text: str) -> Path | None:
        """The file of an accord of the book by its name, a trial as ``NAME trial 3`` or ``NAME.trial-3``;
        ``None`` if it has none."""
        wanted = _file_key(text)
        if not self.accords.is_dir():
            return None
        for path in sorted(self.accords.iterdir()):
            if path.suffix.lower() in FORMULA_FILES and wanted in (
                _file_key(path.stem),
                _file_key(path.name),
            ):
                return path
        return None

    def accord_names(self) -> list[str]:
        """Stems of the accords' files, trials included."""
        if not self.accords.is_dir():
            return []
        return sorted(p.stem for p in self.accords.iterdir() if p.suffix.lower() in FORMULA_FILES)

    def parts_of(self, names: Reader) -> Callable[[str, int], Mapping[str, float]]:
        """A function of an accord's name and a trial's number: its active parts by id; nothing where the
        file is gone or cannot be read. Each file is read once."""
        read: dict[tuple[str, int], Mapping[str, float]] = {}

        def parts(stem: str, trial: int) -> Mapping[str, float]:
            if (stem, trial) not in read:
                path = self.accord_path(stem if trial == 1 else f"{stem}.trial-{trial}")
                try:
                    with noting():
                        read[stem, trial] = read_accord(path, names).active() if path else {}
                except InputError:
                    read[stem, trial] = {}
            return read[stem, trial]

        return parts

    def holds(self, path: Path) -> bool:
        """Whether a file lies among the book's accords, so that the book keeps what is said of it."""
        return path.resolve().parent == self.accords.resolve()

    def said_of(self, stem: str, trial: int) -> dict[str, tuple[str, str]]:
        """Material id -> (verdict, degree) of a trial's lines, the newest of each."""
        return {
            one.line: (one.amount, one.degree)
            for one in self.verdicts()
            if one.holds
            and one.kind == "line"
            and one.about == stem
            and (one.trial or 1) == trial
            and one.amount
        }

    def words_of(self, stem: str) -> dict[int, list[str]]:
        """Trial -> what was said of it as a whole."""
        found: dict[int, list[str]] = {}
        for one in self.verdicts():
            if one.holds and one.kind == "accord" and one.about == stem and one.words:
                found.setdefault(one.trial or 1, []).append(one.words)
        return found

    # -- verdicts --------------------------------------------------------------------------------------

    def add_verdicts(self, said: Sequence[Verdict]) -> tuple[Verdict, ...]:
        """Put verdicts down under the next numbers."""
        with self.store.writing():
            rows = self.store.rows("verdicts.csv")
            read_verdicts(rows)
            first = next_id(rows)
            kept = tuple(replace(one, id=first + place) for place, one in enumerate(said))
            self.store.write({"verdicts.csv": self.store.append("verdicts.csv", map(verdict_cells, kept))})
        return kept

    def take_back(self, id: int) -> Verdict:
        """Take a verdict back: it stays in the file with the day, and counts no more."""
        with self.store.writing():
            one = self._verdict(id)
            if one.taken_back:
                raise InputError(f"verdict {id} was taken back on {one.taken_back} already")
            today = dt.date.today().isoformat()

            def change(row: Row) -> Mapping[str, Any] | None:
                return {"taken_back": today} if row.text("id") == str(id) else None

            self.store.write({"verdicts.csv": self.store.changed("verdicts.csv", change)})
        return replace(one, taken_back=today)

    def _verdict(self, id: int) -> Verdict:
        known = {one.id: one for one in self.verdicts()}
        if id not in known:
            told = f"its verdicts are 1 to {max(known)}" if known else "nothing was said in it so far"
            raise InputError(f"{self.folder}: holds no verdict {id}; {told}")
        return known[id]

    # -- stock -----------------------------------------------------------------------------------------

    def take(
        self, draws: Sequence[Draw], names: Names, *, accord: str, batch: float, titles: Mapping[str, str]
    ) -> tuple[Move, ...]:
        """Take what a weighing wants from the bottles, and put what is left of its solutions on the shelf.

        Raises :class:`~substitute.errors.InputError`, and takes nothing, if a bottle does not hold enough.
        """
        with self.store.writing():
            bottles = list(self.bottles(names))
            taken, short = allot(bottles, draws)
            if short:
                raise InputError(
                    f"{accord}: {'; '.join(told_short(one, titles) for one in short)}. Nothing was taken"
                )
            today = dt.date.today().isoformat()
            rows = self.store.rows("moves.csv")
            id = next_id(rows)
            moves: list[Move] = []
            for bottle, grams in taken:
                moves.append(_move(id, today, "weighed", accord, batch, bottle, grams))
            fresh: list[Bottle] = []
            for draw in draws:
                if draw.grams < 0:
                    bottle, new = solution_bottle([*bottles, *fresh], draw, titles[draw.material], today)
                    fresh += [bottle] if new else []
                    moves.append(_move(id, today, "made", accord, batch, bottle, draw.grams))
            self._write_moves([*bottles, *fresh], fresh, moves, rows)
        return tuple(moves)

    def _write_moves(
        self, bottles: Sequence[Bottle], fresh: Sequence[Bottle], moves: Sequence[Move], rows: Sequence[Row]
    ) -> None:
        left = {bottle.label: bottle.grams for bottle in bottles}
        for move in moves:
            held = left[move.label]
            left[move.label] = None if held is None else significant(max(0.0, held - move.grams), 9)

        def change(row: Row) -> Mapping[str, Any] | None:
            label = row.text("label").strip()
            touched = any(move.label == label for move in moves)
            return {"grams": left[label]} if touched and left[label] is not None else None

        added = [{**bottle_cells(bottle), "grams": left[bottle.label]} for bottle in fresh]
        self.store.write(
            {
                "bottles.csv": [*self.store.changed("bottles.csv", change), *added],
                "moves.csv": [*(dict(row.cells) for row in rows), *map(move_cells, moves)],
            }
        )

    def undo(self, names: Names) -> tuple[Move, ...]:
        """Put back what the newest weighing took. A solution it made stays as an empty bottle."""
        with self.store.writing():
            rows = last_move(self.moves())
            changed = put_back(self.bottles(names), rows)
            today = dt.date.today().isoformat()

            def bottle(row: Row) -> Mapping[str, Any] | None:
                found = changed.get(row.text("label").strip())
                return {"grams": found.grams} if found else None

            def move(row: Row) -> Mapping[str, Any] | None:
                return {"undone": today} if row.text("id") == str(rows[0].id) else None

            self.store.write(
                {
                    "bottles.csv": self.store.changed("bottles.csv", bottle),
                    "moves.csv": self.store.changed("moves.csv", move),
                }
            )
        return tuple(replace(one, undone=today) for one in rows)

    # -- files -----------------------------------------------------------------------------------------

    def add_accords(self, files: Mapping[str, str | bytes]) -> list[Path]:
        """Files (name -> content) among the book's accords, all or none; never over another."""
        with self.store.writing():
            there = [name for name in files if (self.accords / name).exists()]
            if there:
                raise InputError(f"{self.accords}: holds {', '.join(there)} already; nothing was taken in")
            write_together(self.folder, {f"accords/{name}": text for name, text in files.items()})
        return [self.accords / name for name in files]

    def keep_accord(self, name: str, text: str) -> Path:
        """Write an accord's or a trial's file among the book's accords; never over another."""
        return self.add_accords({f"{name}.csv": text})[0]

    def accord_of(self, text: str) -> Path:
        """:meth:`accord_path`, or an error that names the nearest."""
        found = self.accord_path(text)
        if found is None:
            names = self.accord_names()
            held = f"; it holds {', '.join(names[:8])}" if names else "; it holds no accords yet"
            raise InputError(f"'{shorten(text)}' is no accord of this book{nearest(text, names) or held}")
        return found


def _move(id: int, day: str, what: str, accord: str, batch: float, bottle: Bottle, grams: float) -> Move:
    return Move(id, day, what, accord, batch, bottle.label, bottle.material, bottle.strength, grams)


def _file_key(text: str) -> str:
    return "".join(letter for letter in text.casefold() if letter.isalnum())


def told_short(one: Short, titles: Mapping[str, str]) -> str:
    """'linalool at 10 %: 4 g wanted, 1.2 g left'."""
    name = titles.get(one.material, one.material)
    if one.held:
        held = f"{figure(one.held, 4)} g left"
    elif one.others:
        kept = ", ".join(f"{given(strength)}" for strength in one.others)
        held = f"your bottle is at {kept}: `stretch` makes room for it"
    else:
        held = "no bottle holds any"
    return f"{name} at {given(one.strength)}: {figure(one.wanted, 4)} g wanted, {held}"


def open_book(folder: Path | str, tables: Path | str | None = None) -> Book:
    """The book in ``folder``.

    Raises :class:`~substitute.errors.InputError` where it brings own tables and others are named beside it.
    """
    book = Book(folder)
    if book.tables is not None and (tables is not None or os.environ.get(TABLES_VARIABLE)):
        raise InputError(
            f"{book.folder}: this book has tables of its own in {book.tables}; two sets of own tables would "
            "be two truths. "
            "Leave `tables` (or SUBSTITUTE_TABLES) out, or put its rows into the book's"
        )
    return book
