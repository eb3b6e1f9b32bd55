"""An accord found again by what was said of it, by its name, or by what it holds."""

from __future__ import annotations

from typing import Any

from ..accords.trials import base_name, trial_number
from ..errors import InputError
from ..records import Tables
from ..tables.formulas import read_accord
from ..tables.names import Names, plain
from .book import Book
from .shown import said_in_words


def find_in(book: Book, names: Names, tables: Tables, text: str) -> dict[str, Any]:
    """Where all words of ``text`` stand: in one verdict, an accord's name, or a material's name in it. As
    JSON."""
    wanted = [plain(word) for word in text.split() if plain(word)]
    if not wanted:
        raise InputError("`text` is empty: a word that was said of the accord is wanted")
    found: list[dict[str, Any]] = []
    for one in book.verdicts():
        told = said_in_words(tables, one)
        if one.holds and _has(told, wanted):
            about = one.about if one.of_accord else ""
            found.append(_place(about, one.trial, "said", f"{told} ({one.date})", one.id))
    notes = []
    for stem in book.accord_names():
        path = book.accord_of(stem)
        name, number = base_name(path.name), trial_number(path)
        if _has(stem.replace("-", " "), wanted):
            found.append(_place(name, number, "name", stem.replace("-", " "), None))
        try:
            accord = read_accord(path, names)
        except InputError as error:
            notes.append(f"not read: {error}")
            continue
        lines = [tables.materials[id].name for id in accord.active()]
        hits = [line for line in lines if _has(line, wanted)]
        if hits:
            found.append(_place(name, number, "line", ", ".join(hits), None))
    return {"text": text, "found": found, "notes": notes}


def _has(text: str, wanted: list[str]) -> bool:
    held = plain(text)
    return all(word in held for word in wanted)


def _place(accord: str, trial: int | None, where: str, told: str, verdict: int | None) -> dict[str, Any]:
    return {"accord": accord, "trial": trial, "where": where, "told": told, "verdict": verdict}
