"""Everything wrong with a book: its own files, its tables, its accords, and what one file says of another."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from ..accords.trial_files import read_family
from ..errors import Complaint, InputError, TableError
from ..tables.check_files import Checked, check_files
from ..tables.load import load_tables
from ..tables.names import Names
from ..tables.typed import read_all
from .book import Book
from .records import Verdict


def is_book(path: Path) -> bool:
    """Whether a folder is a bench book."""
    return (path / "book.csv").is_file()


def check_book(folder: Path, names: Names) -> Checked:
    """Every complaint about the book in ``folder``; reads, changes nothing."""
    try:
        book = Book(folder)
    except TableError as error:
        return _told(folder, error.complaints, ())
    if book.tables is not None and not (wrong := read_all(book.tables)[3]):
        names = Names(load_tables(book.tables))  # with the materials that only this book knows
    elif book.tables is not None:
        return _told(folder, wrong, ())
    complaints = list(_complaints(lambda: book.add_labels(names), folder / "labels.csv"))
    for name, read in (
        ("bottles.csv", lambda: book.bottles(names)),
        ("verdicts.csv", book.verdicts),
        ("moves.csv", book.moves),
    ):
        complaints += _complaints(read, folder / name)
    if not complaints:
        complaints += _between(book, names)
    complaints += _accords(book, names)
    notes = [] if book.store.writable else [f"{folder}: of a later format; it can be read here, not written"]
    return _told(folder, dict.fromkeys(complaints), notes)


def _told(folder: Path, complaints: Iterable[Complaint], notes: Iterable[str]) -> Checked:
    found = tuple(complaints)
    lines = [str(one) for one in found] or [f"{folder}: a bench book, nothing wrong"]
    if found:
        lines.append(f"{len(found)} complaint{'s' if len(found) != 1 else ''}")
    return Checked((*lines, *notes), found)


def _complaints(read: Callable[[], object], path: Path) -> list[Complaint]:
    try:
        read()
    except TableError as error:
        return list(error.complaints)
    except InputError as error:
        return [Complaint(str(path), None, None, str(error).removeprefix(f"{path}: "))]
    return []


def _accords(book: Book, names: Names) -> list[Complaint]:
    """What is wrong in the accords' files, and trials whose parent is gone."""
    found: list[Complaint] = []
    for stem in book.accord_names():
        path = book.accord_of(stem)
        mine = check_files([str(path)], names).complaints
        found += mine
        if mine:
            continue
        try:
            family = read_family(path, names)
        except InputError:
            continue  # told for the file that is wrong
        here = next(trial for trial in family.trials if trial.name == path.name)
        if here.orphan:
            told = (
                f"'{here.parent}' is gone from the folder; put it back, or empty the column to start afresh"
            )
            found.append(Complaint(str(path), None, "parent", told))
    return found


def _between(book: Book, names: Names) -> list[Complaint]:
    """Verdicts and moves that speak of what is not there."""
    found = []
    verdicts, moves = str(book.folder / "verdicts.csv"), str(book.folder / "moves.csv")
    labels = {bottle.label for bottle in book.bottles(names)}
    for one in book.verdicts():
        told = _verdict(book, names, one)
        if told and one.holds:
            found.append(Complaint(verdicts, None, "about", f"verdict {one.id}: {told}"))
    for label in sorted({move.label for move in book.moves() if not move.undone} - labels):
        told = f"'{label}' is not a bottle of bottles.csv any more; what was taken from it cannot be undone"
        found.append(Complaint(moves, None, "label", told))
    return found


def _verdict(book: Book, names: Names, one: Verdict) -> str:
    number = one.trial or 1
    if one.of_accord and not book.accord_path(one.about if number == 1 else f"{one.about}.trial-{number}"):
        what = f"trial {number} of " if number > 1 else ""
        return f"{what}the accord '{one.about}' is not in the book any more"
    for text in one.materials:
        try:
            names.find(text)
        except InputError:
            return f"'{text}' is no material any more; it is not counted"
    return ""


__all__ = ["check_book", "is_book"]
