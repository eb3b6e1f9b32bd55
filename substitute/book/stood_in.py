"""A verdict on what stood in for a material, one or a blend: checked against what can have been tried, as a
row for the book."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from ..errors import InputError
from ..records import Tables
from ..tables.names import Names
from ..tables.rows import shorten
from .book import Book
from .desk import Spoken
from .profile import words_said
from .records import PLUS, Verdict
from .said import Said, read_said
from .tongues import languages
from .verdicts import MOST_GRAMS

StoodIn = str | Mapping[str, float | None]
"""What stood in: a material's name, or several with the grams of each for 1 g of what is missing."""

MOST_MEMBERS = 3


def swap_verdict(
    book: Book,
    names: Names,
    tables: Tables,
    pair: tuple[str, StoodIn],
    spoken: Spoken,
    *,
    elsewhere: bool = False,
    usual: Callable[[str, str], float | None] | None = None,
) -> tuple[Verdict, tuple[str, ...]]:
    """The verdict on ``pair`` (missing, what stood in; names as typed), and what is to be said about how
    it was read.

    ``usual`` gives the amount that the answers named, for a verdict of too much or too little without grams.
    """
    spoken = spoken.checked()
    missing, mixed = names.find(pair[0]).id, mixed_of(names, pair[1])
    if missing in mixed:
        raise InputError(f"{missing}: cannot have been tried in its own place")
    for id in () if elsewhere else mixed:
        _was_at_hand(book, names, tables, id)
    read = read_said(spoken.read)
    amount = spoken.amount or ("" if spoken.needs is not None else read.amount)
    degree = spoken.degree or (read.degree if amount == read.amount else "")
    used, right = spoken.used or read.used, spoken.needs or read.right
    if amount and used is None and right is None:
        used = _usual(missing, mixed, usual)
        if used is None:
            raise InputError(
                "how much was tried is not known: give `used`, in grams for 1 g of the missing material"
            )
    notes = _notes(tables, spoken, read, amount, used)
    nearness = spoken.nearness or read.nearness
    if not (nearness or amount or right is not None or spoken.words):
        raise InputError("nothing was said: give how near it was, an amount, or words")
    kind, line = "swap", next(iter(mixed))
    if len(mixed) > 1:
        kind, line = "blend", PLUS.join(f"{id}:{grams:.6g}" for id, grams in mixed.items())
    return Verdict(
        0, spoken.date, kind, missing, line, None, nearness, amount, degree, used, right, spoken.words
    ), notes


def mixed_of(names: Names, what: StoodIn) -> dict[str, float]:
    """Id -> grams of what stood in: one material by its name (1), or several with the grams of each, as a
    mapping or as ``a:0.5 + b:0.3``."""
    if isinstance(what, str) and PLUS not in what:
        return {names.find(what).id: 1.0}
    given = dict(_part_of(part) for part in what.split(PLUS)) if isinstance(what, str) else what
    found: dict[str, float] = {}
    for name, grams in given.items():
        if grams is None or not 0 < grams <= MOST_GRAMS:
            raise InputError(f"'{shorten(name)}': its grams are wanted, above 0 up to {MOST_GRAMS:,.0f}")
        id = names.find(name).id
        found[id] = found.get(id, 0.0) + grams
    if not 1 < len(found) <= MOST_MEMBERS:
        raise InputError(f"a blend is of two to {MOST_MEMBERS} materials; {len(found)} are named")
    return found


def _part_of(text: str) -> tuple[str, float]:
    """'a:0.5' -> ('a', 0.5)."""
    name, _, grams = text.strip().rpartition(":")
    try:
        return name.strip() or text, float(grams.strip().removesuffix("g").replace(",", "."))
    except ValueError:
        raise InputError(
            f"'{shorten(text)}': how much of it is wanted as well, in grams for 1 g of the missing "
            "material, as a:0.5 + b:0.3"
        ) from None


def _usual(
    missing: str, mixed: Mapping[str, float], usual: Callable[[str, str], float | None] | None
) -> float | None:
    """The grams that were tried where nobody said so: of a blend those of its members, else what the
    answers name."""
    if len(mixed) > 1:
        return sum(mixed.values())
    return usual(missing, next(iter(mixed))) if usual else None


def _notes(tables: Tables, spoken: Spoken, read: Said, amount: str, used: float | None) -> tuple[str, ...]:
    found = []
    words = words_said(tables, spoken.words)
    if spoken.words and not words and read == Said():
        known = ", ".join(["English", *languages(tables)])
        found.append(
            "The words are kept as they are; nothing in them changes a figure. Read is the like of “near”, "
            f"“1 g was too much, half was right”, “sweet, wanting freshness”: {known}."
        )
    if amount and used is None:
        found.append("How much was used was not said.")
    if words:
        told = [
            f"{'' if sign > 0 else 'less '}{tables.descriptors[word].name}" for word, sign in words.items()
        ]
        found.append(f"Heard as: {', '.join(told)}.")
    return tuple(found)


def _was_at_hand(book: Book, names: Names, tables: Tables, stand_in: str) -> None:
    """Raise unless the stand-in stands, or stood, among the bottles; a book without bottles knows nothing
    of that."""
    if not book.has_had(names, stand_in):
        name = tables.materials[stand_in].name
        raise InputError(
            f"{name} stands on none of the bottles of this book, so it cannot have been tried; enter its "
            "bottle, or say that it was smelled `elsewhere`"
        )
