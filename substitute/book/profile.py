"""Words that a person said of a stand-in, as a mild shift of their own profile of it.

"Sweet" said of a stand-in means that it smells sweeter than what it stands for: an observation that its
weight of that word lies
:data:`SAID` above the missing one's, with a standard deviation of :data:`DOUBT`; "wanting freshness" that
it lies as much below. The weight on file is the mean before, with :data:`CURATED` as its standard deviation
(two curators' weights differ by about that much). A word the figures say already moves nothing. All
verdicts count together.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from ..frozen import frozen
from ..records import Tables
from ..tables.names import plain
from .records import Verdict
from .tongues import in_english

SAID, DOUBT, CURATED = 3.0, 2.0, 1.5  # of the weights, 1 to 10
MOST = 10.0
LESS = re.compile(
    r"\b(?:want(?:s|ing)?|lack(?:s|ing)?|miss(?:es|ing)?|without|no|not|less|hardly|needs?|too "
    r"little|not enough)\b"
)
CLAUSE = re.compile(r"[,;.:!?()\n]|\bbut\b|\byet\b|\bthough\b")
ENDINGS = ("iness", "ness", "ier", "er", "ish", "iest", "est", "y", "")


@frozen
class Shift:
    """A weight of a profile learned: on file, after, and from which verdicts."""

    material: str
    word: str
    before: float
    after: float
    sd: float
    verdicts: tuple[int, ...]


def words_said(tables: Tables, text: str) -> dict[str, int]:
    """Descriptor -> +1 (it smells of that) or -1 (it wants that), as far as the words are on file."""
    known = _forms(tables)
    found: dict[str, int] = {}
    for clause in CLAUSE.split(in_english(tables, text).lower()):
        cue = LESS.search(clause)
        for start, word in _words(clause, known):
            found.setdefault(word, -1 if cue and cue.start() < start else 1)
    return found


def _words(clause: str, known: Mapping[str, str]) -> list[tuple[int, str]]:
    places = [(m.start(), m.group()) for m in re.finditer(r"[^\W\d_]+", clause)]
    found = []
    for number, (start, word) in enumerate(places):
        double = f"{word} {places[number + 1][1]}" if number + 1 < len(places) else ""
        hit = known.get(plain(double)) if double else None
        hit = hit or next((known[s] for s in _stems(word) if s in known), None)
        if hit:
            found.append((start, hit))
    return found


def _stems(word: str) -> list[str]:
    """A word and what it may come from: freshness, fresher, freshish -> fresh; rosy -> rose."""
    found = [plain(word)]
    for ending in ENDINGS[:-1]:
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            stem = word[: -len(ending)]
            found += [plain(stem), plain(stem + "y"), plain(stem + "e")]
            if stem[-1:] == stem[-2:-1]:
                found.append(plain(stem[:-1]))
    return found


def _forms(tables: Tables) -> dict[str, str]:
    forms: dict[str, str] = {}
    for word in tables.descriptors.values():
        for text in (word.id, word.name):
            forms.setdefault(plain(text), word.id)
    return forms


def learn_profiles(tables: Tables, verdicts: Iterable[Verdict]) -> tuple[Shift, ...]:
    """The weights that words said of swaps move."""
    said: dict[tuple[str, str], list[tuple[float, int]]] = {}
    for one in verdicts:
        if one.kind != "swap" or not one.holds or not one.words or one.line not in tables.profiles:
            continue
        missing, own = tables.profiles.get(one.about, {}), tables.profiles[one.line]
        for word, sign in words_said(tables, one.words).items():
            target = missing.get(word, 0.0) + sign * SAID
            target = min(max(target, 0.0), MOST)
            before = own.get(word, 0.0)
            if (target - before) * sign > 0:
                said.setdefault((one.line, word), []).append((target, one.id))
    found = []
    for (material, word), heard in said.items():
        before = tables.profiles[material].get(word, 0.0)
        weight = CURATED**-2 + len(heard) * DOUBT**-2
        after = (before * CURATED**-2 + sum(target for target, _ in heard) * DOUBT**-2) / weight
        ids = tuple(id for _, id in heard)
        found.append(Shift(material, word, before, round(after, 3), weight**-0.5, ids))
    return tuple(found)
