"""Answers about a book as records: what was learned from what, what stands in it, what a verdict changed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, ClassVar

from ..figures import figure, percent
from ..frozen import frozen
from ..records import Tables, Tried, TriedBlend
from ..shown import Shown
from .book import Book
from .overlay import Lessons
from .records import PLUS, Bottle, Move, Verdict

TOLD, TOLD_ALONG = (
    1.1,
    1.25,
)  # factors from which a loudness is told, of what was tried and of what moved along


@frozen
class Change:
    """One thing learned: ``what`` (amount, loudness, profile, rank), of whom, before and after, nine-in-ten
    limits, from which verdicts."""

    what: str
    material: str
    name: str
    missing: str
    before: float | None
    after: float | None
    low: float | None
    high: float | None
    verdicts: tuple[int, ...]
    told: str

    def to_dict(self) -> dict[str, Any]:
        return {
            "what": self.what,
            "id": self.material,
            "name": self.name,
            "missing": self.missing or None,
            "before": self.before,
            "after": self.after,
            "low": self.low,
            "high": self.high,
            "from": list(self.verdicts),
            "told": self.told,
        }


def changes(tables: Tables, found: Lessons) -> tuple[Change, ...]:
    """Everything a book taught, amounts first."""
    return (
        *_amounts(tables, found),
        *_ranks(tables, found),
        *_loudness(tables, found),
        *_profiles(tables, found),
    )


def _name(tables: Tables, id: str) -> str:
    return tables.materials[id].name if id in tables.materials else id


def _amounts(tables: Tables, found: Lessons) -> Iterable[Change]:
    for matter, one in found.learned.amounts.items():
        names = blend_in_words(tables, dict(matter.parts))
        was = f"{figure(one.before, 2)} g on file" if one.before is not None else "nothing on file"
        told = (
            f"{names} for 1 g of {_name(tables, matter.place)}: {was}, to you {figure(one.grams, 2)} g "
            f"({figure(one.low, 2)} to {figure(one.high, 2)})"
        )
        figures = (one.before, one.grams, one.low, one.high)
        yield Change("amount", _ids(matter.parts), names, matter.place, *figures, one.verdicts, told)


def _ids(parts: Iterable[tuple[str, float]]) -> str:
    return PLUS.join(id for id, _ in parts)


def blend_in_words(tables: Tables, parts: Mapping[str, float]) -> str:
    """'linalool', 'linalool 60 % + coumarin 40 %'."""
    if len(parts) == 1:
        return _name(tables, next(iter(parts)))
    whole = sum(parts.values())
    return PLUS.join(f"{_name(tables, id)} {percent(100 * part / whole, 2)}" for id, part in parts.items())


def _ranks(tables: Tables, found: Lessons) -> Iterable[Change]:
    every: list[tuple[Mapping[str, float], Tried | TriedBlend]] = [
        *(({one.stand_in: 1.0}, one) for one in found.tried.values()),
        *((one.parts, one) for some in found.blends.values() for one in some),
    ]
    for parts, one in every:
        if one.nearness:
            names = blend_in_words(tables, parts)
            where = {"near": "stands first", "fair": "moves up", "far": "goes to the end"}.get(
                one.nearness, "goes back"
            )
            told = f"{names} in the place of {_name(tables, one.missing)}: {one.told}; it {where}"
            ids = _ids(parts.items())
            yield Change("rank", ids, names, one.missing, None, None, None, None, one.verdicts, told)


def _loudness(tables: Tables, found: Lessons) -> Iterable[Change]:
    """Materials that were tried, and those that moved along with them by more than :data:`TOLD`."""
    tried = found.learned.tried
    order = sorted(found.learned.loudness.items(), key=lambda item: -max(item[1].factor, 1 / item[1].factor))
    for name, one in order:
        off = max(one.factor, 1 / one.factor)
        if off < TOLD or (name not in tried and name in tables.constituents and off < TOLD_ALONG):
            continue
        told = (
            f"{_name(tables, name)} is to you {figure(one.factor, 2)} times as loud as on file "
            f"({figure(one.low, 2)} to {figure(one.high, 2)})"
        )
        told += "" if name in tried else ", by what is in it"
        told += "; from what was said of lines alone, so not sure" if one.lines else ""
        yield Change(
            "loudness", name, _name(tables, name), "", 1.0, one.factor, one.low, one.high, one.verdicts, told
        )


def _profiles(tables: Tables, found: Lessons) -> Iterable[Change]:
    for one in found.shifts:
        word = tables.descriptors[one.word].name
        told = (
            f"{_name(tables, one.material)}: {word} {one.before:g} on file, to you "
            f"{figure(one.after, 2)} (give or take {one.sd:.1f})"
        )
        low, high = max(0.0, one.after - 1.645 * one.sd), one.after + 1.645 * one.sd
        yield Change(
            "profile",
            one.material,
            _name(tables, one.material),
            "",
            one.before,
            one.after,
            low,
            high,
            one.verdicts,
            told,
        )


def moved(tables: Tables, before: Lessons, after: Lessons) -> tuple[Change, ...]:
    """What differs between two states of a book: the changes after, with the figure of before as
    ``before``."""
    held = {(c.what, c.material, c.missing, _word(c)): c for c in changes(tables, before)}
    found = []
    for change in changes(tables, after):
        old = held.pop((change.what, change.material, change.missing, _word(change)), None)
        if old is None or old.told != change.told:
            found.append(change)
    for gone in held.values():
        told = f"{gone.told.partition(':')[0] if gone.what != 'loudness' else gone.name}: as on file again"
        found.append(
            Change(
                gone.what,
                gone.material,
                gone.name,
                gone.missing,
                gone.after,
                gone.before,
                None,
                None,
                (),
                told,
            )
        )
    return tuple(found)


def _word(change: Change) -> str:
    return change.told.partition(": ")[2].partition(" ")[0] if change.what == "profile" else ""


@frozen
class TriedAnswer(Shown):
    """What ``tried`` answers: the verdicts put down, what they changed, and what could not be read in the
    words."""

    asked_by: ClassVar[str] = "tried"

    verdicts: tuple[Verdict, ...]
    learned: tuple[Change, ...]
    notes: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        return {
            "verdicts": [verdict_dict(one) for one in self.verdicts],
            "learned": [change.to_dict() for change in self.learned],
            "notes": list(self.notes),
        }


def verdict_dict(one: Verdict) -> dict[str, Any]:
    """A verdict as JSON."""
    return {
        "id": one.id,
        "date": one.date,
        "kind": one.kind,
        "about": one.about,
        "line": one.line or None,
        "trial": one.trial,
        "nearness": one.nearness or None,
        "amount": one.amount or None,
        "degree": one.degree or None,
        "grams_used": one.grams_used,
        "grams_right": one.grams_right,
        "words": one.words,
        "taken_back": one.taken_back or None,
    }


def said_in_words(tables: Tables, one: Verdict) -> str:
    """A verdict in a sentence."""
    near = {"near": "near", "fair": "fairly near", "far": "far from it", "not_smelled": "hardly smelled"}
    told = [near[one.nearness]] if one.nearness else []
    if one.amount:
        degree = f"{one.degree} " if one.degree else ""
        used = f" at {figure(one.grams_used)} g for 1 g" if one.grams_used is not None else ""
        told.append(f"{degree}{one.amount.replace('_', ' ')}{used}")
    if one.grams_right is not None:
        told.append(f"{figure(one.grams_right)} g for 1 g right")
    if one.words:
        told.append(f"“{one.words}”")
    what = ", ".join(told) or "tried"
    if one.kind in ("swap", "blend"):
        mixed = PLUS.join(
            _name(tables, id) + (f" {figure(grams)} g" if one.kind == "blend" else "")
            for id, grams in one.mixed.items()
        )
        return f"{mixed} for {_name(tables, one.about)}: {what}"
    where = one.about + (f", trial {one.trial}" if one.trial and one.trial > 1 else "")
    return f"{where}{f', {_name(tables, one.line)}' if one.line else ''}: {what}"


@frozen
class BookShown(Shown):
    """A book as ``book show`` tells it."""

    asked_by: ClassVar[str] = "book"

    folder: str
    name: str
    created: str
    bottles: tuple[Bottle, ...]
    verdicts: tuple[Verdict, ...]
    moves: tuple[Move, ...]
    accords: tuple[str, ...]
    learned: tuple[Change, ...]
    notes: tuple[str, ...]
    names: Mapping[str, str]
    sentences: Sequence[str]

    def to_dict(self) -> dict[str, Any]:
        return {
            "book": {"folder": self.folder, "name": self.name, "created": self.created},
            "learned": [change.to_dict() for change in self.learned],
            "verdicts": [
                {**verdict_dict(one), "told": told} for one, told in zip(self.verdicts, self.sentences)
            ],
            "bottles": [
                {
                    "label": b.label,
                    "id": b.material,
                    "name": self.names.get(b.material, b.material),
                    "lot": b.lot,
                    "strength_pct": b.strength,
                    "grams": b.grams,
                    "price_per_gram": b.price,
                    "date": b.date,
                }
                for b in self.bottles
            ],
            "accords": list(self.accords),
            "taken": [
                {
                    "id": m.id,
                    "date": m.date,
                    "what": m.what,
                    "accord": m.accord,
                    "label": m.label,
                    "grams": m.grams,
                }
                for m in self.moves
                if not m.undone
            ],
            "notes": list(self.notes),
        }


def show_book(book: Book, tables: Tables, found: Lessons, bottles: tuple[Bottle, ...]) -> BookShown:
    """All of a book; ``tables`` as on file."""
    verdicts, notes = book.verdicts(), []
    if not book.store.writable:
        notes.append(
            f"This book is of format {book.about.format}, from a later version: it can be read "
            "here, not written."
        )
    empty = [bottle.label for bottle in bottles if bottle.grams == 0]
    if empty:
        notes.append(f"Empty: {', '.join(empty)}.")
    lost = sorted({one.about for one in verdicts if one.of_accord and not book.accord_path(one.about)})
    if lost:
        notes.append(f"Verdicts speak of accords that are not in the book any more: {', '.join(lost)}.")
    unknown = [str(one.id) for one in verdicts if not set(one.materials) <= set(tables.materials)]
    if unknown:
        notes.append(
            f"Not counted, a material in them is not on file any more: verdicts {', '.join(unknown)}."
        )
    return BookShown(
        str(book.folder),
        book.about.name,
        book.about.created,
        bottles,
        verdicts,
        book.moves(),
        tuple(book.accord_names()),
        changes(tables, found),
        tuple(notes),
        {id: material.name for id, material in tables.materials.items()},
        tuple(said_in_words(tables, one) for one in verdicts),
    )
