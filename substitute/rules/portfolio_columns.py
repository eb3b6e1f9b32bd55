"""The rules of a context as sparse columns over all materials, scaled so that a breach is a value above 1.

The same arithmetic as :func:`substitute.rules.judge.judge`, compiled once for many accords. What is unknown is compiled to bits: each
material has a word or two of them, and an accord has those of any of its materials.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from .book import Book, Rule
from .found import SLACK, WHOLE

HUGE = 1e200  # stands for 1/limit where nothing at all is allowed
LIMIT, ZERO, GRADE = range(3)
NO_FIGURE_ON_FILE = "no figure on file"
NOT_LOOKED_FOR = "naturals in it were not looked at for it"
WORDS_ONLY = "a rule in words, not read from tables"


@dataclass(frozen=True)
class Column:
    """One column: its rule, the limit in percent of the product (see ``Row.limit_pct``), how its value is read.

    ``kind`` LIMIT: value × limit is found; ZERO: anything at all breaks, value / HUGE is found; GRADE: found is the most that a single
    material holds. ``unless`` is the column that speaks in its place where both are over.
    """

    rule: Rule
    limit_pct: float
    kind: int
    unless: int = -1


@dataclass(frozen=True)
class Alternative:
    """The limit on measured lots: bits that say an oil is ``present``, what brings the substance is there (``touched``), and that a
    lot is not measured (``blocked``, -1 if no lot is measured at all: then it never governs)."""

    rule: Rule
    column: int
    touched: int
    present: int
    blocked: int
    replaces: frozenset[Rule]


@dataclass(frozen=True, eq=False)
class Columns:
    """Rules compiled over ``materials``; ``values`` has shape (materials, columns).

    ``words`` (materials, n) uint64 hold the bits; ``bit_of_rule`` says where the unknown state of a rule stands (absent: never unknown).
    """

    materials: tuple[str, ...]
    columns: tuple[Column, ...]
    values: sparse.csr_array
    most: np.ndarray
    grades: dict[int, np.ndarray]  # column -> percent held by each material
    rules: tuple[Rule, ...]
    words: np.ndarray
    bit_of_rule: dict[Rule, int]
    alternatives: tuple[Alternative, ...]

    @property
    def bits(self) -> int:
        return self.words.shape[1] * 64


class _Bits:
    """Patterns over materials, each kept once."""

    def __init__(self, n: int):
        self._n, self._place, self._patterns = n, {}, []

    def add(self, pattern: np.ndarray) -> int:
        """The bit of a pattern; -1 if no material has it."""
        if not pattern.any():
            return -1
        key = pattern.tobytes()
        if key not in self._place:
            self._place[key] = len(self._patterns)
            self._patterns.append(pattern)
        return self._place[key]

    def words(self) -> np.ndarray:
        packed = np.zeros((self._n, -(-max(len(self._patterns), 1) // 64)), np.uint64)
        for bit, pattern in enumerate(self._patterns):
            packed[pattern, bit // 64] |= np.uint64(1 << (bit % 64))
        return packed


def compile_columns(books: Sequence[Book], materials: Sequence[str]) -> Columns:
    """The rules of one or several books (the second one's are compared, see :mod:`substitute.rules.changes`)."""
    materials = tuple(materials)
    rules = tuple(dict.fromkeys(rule for book in books for rule in book.rules))
    exposure = books[0].exposure
    wanted = dict.fromkeys(
        name for rule in rules for name in (rule.substance, *(part.substance for part in rule.parts))
    )
    high = dict(zip(wanted, exposure.matrix(list(wanted), materials)[0])) if wanted else {}
    open_ = _unassessed(exposure, rules, materials)
    bits = _Bits(len(materials))
    columns: list[Column] = []
    values: list[np.ndarray] = []
    grades: dict[int, np.ndarray] = {}
    unknown: dict[Rule, int] = {}

    def add(rule, value, limit, kind, unless=-1) -> int:
        if not value.any():
            return -1
        columns.append(Column(rule, limit, kind, unless))
        values.append(
            value * HUGE
            if kind == ZERO
            else np.where(value > 0, HUGE, 0.0)
            if kind == GRADE
            else value / limit
        )
        return len(columns) - 1

    def figure(rule, value, limit, unless=-1) -> int:
        return add(rule, value, limit, LIMIT if limit > 0 else ZERO, unless)

    for rule in rules:
        share, limit, doubt = high[rule.substance], rule.max_pct, open_[rule]
        if rule.rule == "grade":
            inside = np.array([name in exposure.members(rule.substance) for name in materials])
            if limit is None:
                doubt = inside
            else:
                held = np.where(inside, 0.0, share * WHOLE)
                place = add(rule, np.where(held > limit * SLACK, held, 0.0), limit, GRADE)
                if place >= 0:
                    grades[place] = held
        elif rule.rule == "not_with":
            doubt = share > 0
        elif rule.rule == "prohibited_as_such":
            members = exposure.members(rule.substance)
            added = np.array(
                [
                    name in members or exposure.share(name, rule.substance).via == "release"
                    for name in materials
                ]
            )
            first = figure(rule, np.where(added, share, 0.0), 0.0)
            figure(
                rule,
                np.where(added, 0.0, share),
                WHOLE if rule.tolerated_pct is None else rule.tolerated_pct,
                first,
            )
        elif rule.rule == "sum_of_fractions":
            known = sum(
                (high[part.substance] * (WHOLE / part.max_pct) for part in rule.parts if part.max_pct),
                np.zeros(len(materials)),
            )
            figure(rule, known, WHOLE if limit is None else limit)
            for part in rule.parts:
                if part.max_pct is None:
                    doubt = doubt | (high[part.substance] > 0)
        elif rule.rule in ("max", "prohibited"):
            if limit is None:
                doubt = doubt | (share > 0)
            else:
                figure(rule, share, limit)
                doubt = doubt & (limit < WHOLE or rule.rule != "max")
        if rule.rule != "alternative":
            unknown[rule] = bits.add(doubt)
    alternatives = []
    for book in books:
        for number, members in book.members_of_sums.items():
            rule = book.rules[number]
            measured = np.array([exposure.measured(name, rule.substance) for name in materials])
            present = np.array([name in members for name in materials])
            touched = bits.add(high[rule.substance] > 0)
            column = blocked = -1
            if (measured & present).any() and rule.max_pct is not None:
                column = figure(rule, high[rule.substance], rule.max_pct)
                blocked = bits.add((present & ~measured) | open_[rule])
            alternatives.append(
                Alternative(rule, column, touched, bits.add(present), blocked, book.stands_for[number])
            )
            unknown[rule] = touched
    matrix = np.array(values).T if values else np.zeros((len(materials), 0))
    most = matrix.max(axis=1) if values else np.zeros(len(materials))
    return Columns(
        materials,
        tuple(columns),
        sparse.csr_array(matrix),
        most,
        grades,
        rules,
        bits.words(),
        {rule: bit for rule, bit in unknown.items() if bit >= 0},
        tuple(alternatives),
    )


def _unassessed(exposure, rules: Sequence[Rule], materials: Sequence[str]) -> dict[Rule, np.ndarray]:
    """Which materials may bring an unknown amount of what each rule limits (see ``book.unassessed_for``)."""
    composed = [place for place, name in enumerate(materials) if exposure.composed(name)]
    done: dict[str, np.ndarray] = {}

    def of(substance: str) -> np.ndarray:
        if substance not in done:
            asked = np.zeros(len(materials), bool)
            asked[[place for place in composed if exposure.unassessed((materials[place],), substance)]] = True
            done[substance] = asked
        return done[substance]

    found = {}
    for rule in rules:
        names = (
            ()
            if not rule.asks_naturals
            else [part.substance for part in rule.parts]
            if rule.rule == "sum_of_fractions"
            else [rule.substance]
        )
        found[rule] = (
            np.logical_or.reduce([of(name) for name in names]) if names else np.zeros(len(materials), bool)
        )
    return found


def why_unknown(rule: Rule) -> str:
    """What to do about an unknown state, in a few words."""
    if rule.rule == "not_with" or (rule.rule == "grade" and rule.max_pct is None):
        return WORDS_ONLY
    if rule.max_pct is None and rule.rule not in ("sum_of_fractions", "prohibited_as_such"):
        return NO_FIGURE_ON_FILE
    return NOT_LOOKED_FOR
