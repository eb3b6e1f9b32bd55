"""A verdict taken in: what was said, and of which lines of which trial, checked against what can have been
smelled, as rows for the book."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path

from ..accords.carriers import is_carrier
from ..accords.trial_files import read_family
from ..accords.trials import trial_number
from ..accords.weighing import Weighing
from ..errors import InputError, Several
from ..figures import figure
from ..frozen import frozen
from ..records import Accord, Tables
from ..tables.files import read_bytes as take_bytes
from ..tables.formulas import accord_files
from ..tables.names import Names, plain
from ..tables.rows import shorten
from ..tables.schema import nearest as hint
from .book import Book
from .records import AMOUNTS, DEGREES, NEARNESS, Bottle, Move, Verdict
from .said import TRIAL, clauses, judged, with_degree
from .stock import Draw
from .verdicts import LONGEST_WORDS, MOST_GRAMS


@frozen
class Spoken:
    """What a person said besides the words: nearness, the verdict on the amount with its degree, grams used
    and right for 1 g."""

    words: str = ""
    nearness: str = ""
    amount: str = ""
    degree: str = ""
    used: float | None = None
    needs: float | None = None
    on: str = ""
    english: str = ""  # the words as far as they could be put into English; '' if they are

    def checked(self) -> Spoken:
        """Itself; raises :class:`~substitute.errors.InputError` for what is out of range."""
        for name, value, allowed in (
            ("nearness", self.nearness, NEARNESS),
            ("amount", self.amount, AMOUNTS),
            ("degree", self.degree, DEGREES),
        ):
            if value and value not in allowed:
                raise InputError(f"`{name}` '{shorten(value)}' is not allowed: one of {', '.join(allowed)}")
        for name, grams in (("used", self.used), ("needs", self.needs)):
            if grams is not None and not 0 < grams <= MOST_GRAMS:
                raise InputError(
                    f"`{name}` {grams:g} is out of range: allowed is above 0 up to "
                    f"{MOST_GRAMS:,.0f} g for 1 g"
                )
        if len(self.words) > LONGEST_WORDS:
            raise InputError(f"`words` has {len(self.words):,} letters: at most {LONGEST_WORDS:,} are kept")
        return self

    @property
    def read(self) -> str:
        """The words that are read for what is plain in them."""
        return self.english or self.words

    @property
    def date(self) -> str:
        """The day it was said; today unless given."""
        if not self.on:
            return dt.date.today().isoformat()
        try:
            day = dt.date.fromisoformat(self.on)
        except ValueError:
            raise InputError(f"`on` '{shorten(self.on)}' is not a date: allowed is YYYY-MM-DD") from None
        if day > dt.date.today():
            raise InputError(f"`on` {self.on} is still to come: a verdict is of what was smelled")
        return self.on


def accord_verdicts(
    book: Book,
    names: Names,
    text: str,
    spoken: Spoken,
    said: Mapping[str, Sequence[str]],
    trial: int | None = None,
) -> tuple[tuple[Verdict, ...], tuple[str, ...]]:
    """Verdicts on the lines of an accord's trial; ``said`` is too_strong, too_weak, right -> material names
    with degrees ('a:far')."""
    spoken = spoken.checked()
    path, number = trial_of(book, names, text, spoken.read, trial)
    family = read_family(path, names)
    here = next((one for one in family.trials if trial_number(one.name) == number), None)
    if here is None:
        have = ", ".join(str(trial_number(one.name)) for one in family.trials)
        raise InputError(
            f"{family.stem}: there is no trial {number}, so it was not smelled; there are {have}"
        )
    lines = {id: names.find(id).name for id in here.accord.active()}
    heard = _given(names, family.stem, number, lines, said)
    notes: list[str] = []
    for id, verdict in _heard(spoken.read, lines, notes).items():
        heard.setdefault(id, verdict)
    day, words = spoken.date, spoken.words
    rows = [
        Verdict(0, day, "line", family.stem, id, number, "", amount, degree)
        for id, (amount, degree) in heard.items()
    ]
    if words or spoken.nearness:
        rows.append(Verdict(0, day, "accord", family.stem, "", number, spoken.nearness, words=words))
    if not rows:
        raise InputError("nothing was said: name a line that is too strong, too weak or right, or give words")
    return tuple(rows), tuple(notes)


def trial_of(
    book: Book, names: Names, text: str, words: str = "", trial: int | None = None
) -> tuple[Path, int]:
    """The accord's file in the book and the trial spoken of: the argument's, the file's own, the words',
    else the newest."""
    given = Path(text)
    if given.is_file() and not book.holds(given):
        raise InputError(
            f"{given}: is not among the accords of this book; take it in first (`book add`), so "
            "that what is said stays with it"
        )
    path = given if given.is_file() else book.accord_of(TRIAL.sub("", text).strip() if trial else text)
    own = trial_number(path) if trial_number(path) > 1 else None
    spoken = TRIAL.search(words.lower())
    chosen = trial or own or (int(spoken[1]) if spoken else None)
    if chosen is None:
        chosen = max(trial_number(one.name) for one in read_family(path, names).trials)
    return path, chosen


def _given(
    names: Names, stem: str, number: int, lines: Mapping[str, str], said: Mapping[str, Sequence[str]]
) -> dict[str, tuple[str, str]]:
    heard: dict[str, tuple[str, str]] = {}
    for amount, texts in said.items():
        for text in texts:
            name, degree = with_degree(text)
            id = line_of(names, name, lines)
            if id is None:
                told = hint(name, lines) or f"; its lines are {', '.join(lines)}"
                where = f"{stem}, trial {number}" if number else stem
                raise InputError(f"'{shorten(name)}' is not a line of {where}{told}")
            if heard.setdefault(id, (amount, degree)) != (amount, degree):
                raise InputError(f"{id}: two verdicts on one line; one is wanted")
    return heard


def line_of(names: Names, text: str, lines: Mapping[str, str]) -> str | None:
    """The line that a name means: the only one it is a part of, else the material it names, if that is a
    line."""
    parts = [id for id, name in lines.items() if _mentions(text, id, name)]
    if len(parts) == 1:
        return parts[0]
    try:
        found = names.find(text).id
    except Several:
        found = ""
    except InputError:
        if not parts:
            raise
        found = ""
    if found in lines:
        return found
    if len(parts) > 1:
        raise Several(f"'{shorten(text)}' may be several lines: {', '.join(parts)}", parts)
    return None


def _mentions(text: str, id: str, name: str) -> bool:
    """Whether ``text`` is the line's id or name, or whole words of it."""
    wanted = plain(text)
    words = [*id.split("-"), *name.split(), id, name]
    return bool(wanted) and wanted in {plain(word) for word in words}


def _heard(words: str, lines: Mapping[str, str], notes: list[str]) -> dict[str, tuple[str, str]]:
    """Verdicts on lines in a person's own words: 'the ionone shouted'."""
    found: dict[str, tuple[str, str]] = {}
    for clause in clauses(words):
        amount, degree = judged(TRIAL.sub(" ", clause))
        if not amount:
            continue
        tokens = [token for token in clause.replace("-", " ").split() if len(token) > 2]
        mentioned = [
            id
            for id, name in lines.items()
            if id.replace("-", " ") in clause.replace("-", " ") or name.lower() in clause
        ]
        mentioned = mentioned or [
            id for id, name in lines.items() if any(_mentions(t, id, name) for t in tokens)
        ]
        if len(mentioned) == 1:
            found[mentioned[0]] = amount, degree
        elif mentioned:
            notes.append(
                f"“{clause}”: kept in words only, it may mean {' or '.join(mentioned)}; name the line."
            )
        elif amount != "right":
            notes.append(f"“{clause}”: kept in words only, no line is named in it.")
    return found


def heard_of(
    names: Names, accord: Accord, said: Mapping[str, Sequence[str]], before: Mapping[str, tuple[str, str]]
) -> dict[str, tuple[str, str]]:
    """Verdicts on an accord's lines as typed, over what was said of them ``before`` (id -> verdict,
    degree)."""
    lines = {id: names.find(id).name for id in accord.active()}
    return {**before, **_given(names, accord.name, 0, lines, said)}


def ratios_of(names: Names, accord: Accord, texts: Sequence[str]) -> dict[tuple[str, ...], tuple[float, ...]]:
    """Groups of lines whose ratio stays, each as ``a:b`` or ``a:b:c`` (no figures), or is set anew, as
    ``a:b=2:1`` (its figures, neat for neat)."""
    lines = {id: names.find(id).name for id in accord.active()}
    found: dict[tuple[str, ...], tuple[float, ...]] = {}
    for text in texts:
        named, sign, figures = text.partition("=")
        parts = [part.strip() for part in named.split(":")]
        group = tuple(dict.fromkeys(line_of(names, part, lines) or part for part in parts if part))
        if len(group) < 2:
            raise InputError(f"`ratio` '{shorten(text)}': two lines of {accord.name} are wanted, as a:b")
        found[group] = _figures(text, figures, len(group)) if sign else ()
    held = [id for group in found for id in group]
    twice = next((id for id in held if held.count(id) > 1), None)
    if twice:
        raise InputError(f"`ratio`: {twice} stands in two ratios; name them as one, as a:b:c")
    return found


def _figures(text: str, figures: str, wanted: int) -> tuple[float, ...]:
    """'2:1' -> (2, 1)."""
    try:
        found = tuple(float(part.strip().replace(",", ".")) for part in figures.split(":"))
    except ValueError:
        found = ()
    if len(found) != wanted or not all(0 < value <= MOST_GRAMS for value in found):
        told = ":".join("2" if number == 0 else "1" for number in range(wanted))
        raise InputError(
            f"`ratio` '{shorten(text)}': {wanted} figures above 0 are wanted behind the '=', such as {told}"
        )
    return found


def draws_of(weighed: Weighing, bottles: Sequence[Bottle], tables: Tables) -> list[Draw]:
    """What a weighing takes from the bottles; a carrier of which the book has no bottle is taken to be at
    hand."""
    held = {bottle.material for bottle in bottles}
    return [
        Draw(material, strength, grams)
        for (material, strength), grams in weighed.draws().items()
        if material in held or not is_carrier(material, tables)
    ]


def told_moves(moves: Sequence[Move]) -> tuple[str, ...]:
    """'4.2 g out of linalool', '5.8 g left over into linalool 10 %'."""
    return tuple(
        f"{figure(move.grams, 4)} g out of {move.label}"
        if move.grams > 0
        else f"{figure(-move.grams, 4)} g made and left over into {move.label}"
        for move in moves
    )


def files_of_accords(folder: Path | str) -> dict[str, bytes]:
    """File name -> content of the accords of a folder."""
    return texts_of(Path(folder), [path.name for path in accord_files(Path(folder))])


def texts_of(folder: Path, names: Sequence[str]) -> dict[str, bytes]:
    """File name -> content."""
    return {name: take_bytes(folder / name) for name in names}
