"""A formula from a screen kept among the book's accords, so that what is said of it has something to stand
by."""

from __future__ import annotations

import re

from ..accords.trial_files import TRIAL_COLUMNS, next_trial_path
from ..accords.trials import base_name, trial_number
from ..errors import InputError
from ..records import Accord
from ..tables.formulas import read_accord
from ..tables.names import Names
from ..tables.writing import to_csv
from .book import Book

LONGEST = 80  # letters of a file's name


def keep_formula(book: Book, names: Names, accord: Accord) -> str:
    """The file's name under which the book keeps ``accord``: the one where the same formula stands already,
    else a new one; nothing is written over.

    A trial (``NAME.trial-3``) becomes the next trial of NAME where that number is another formula's, and
    names the trial before it as its parent; any other accord becomes ``NAME-2`` and so on.
    """
    stem = _plain(accord.name)
    for known in book.accord_names():
        if base_name(known).startswith(base_name(stem)) and _same(book, names, known, accord):
            return known
    target = book.accords / f"{stem}.csv"
    number = 2
    while target.exists():
        trial = trial_number(stem) > 1
        target = next_trial_path(target) if trial else book.accords / f"{stem}-{number}.csv"
        number += 1
    parent = _parent(book, target.stem)
    rows = [
        (
            names.find(line.material).id,
            line.parts,
            line.strength,
            line.role,
            "yes" if line.optional else "no",
            parent,
            "",
            "",
        )
        for line in accord.lines
    ]
    book.keep_accord(target.stem, to_csv(TRIAL_COLUMNS, rows))
    return target.stem


def _same(book: Book, names: Names, known: str, accord: Accord) -> bool:
    try:
        held = read_accord(book.accord_of(known), names)
    except InputError:
        return False
    return [(line.material, line.parts, line.strength) for line in held.lines] == [
        (line.material, line.parts, line.strength) for line in accord.lines
    ]


def _parent(book: Book, stem: str) -> str:
    """The trial before this one that the book holds, as a file's name; '' for an accord of its own."""
    number = trial_number(stem)
    if number == 1:
        return ""
    earlier = {trial_number(name): name for name in book.accord_names() if base_name(name) == base_name(stem)}
    before = [one for one in earlier if one < number]
    return book.accord_of(earlier[max(before)]).name if before else ""


def _plain(name: str) -> str:
    """A name that any file system takes."""
    found = re.sub(r"[^\w. -]+", "-", name).strip(" .-")[:LONGEST]
    return found or "accord"
