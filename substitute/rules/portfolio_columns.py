"""The compiled rules of a context as sparse columns over all materials, scaled so that a breach is a value
above 1.

The same terms as :func:`substitute.rules.judge.judge` reads, laid out for many accords. What is unknown
becomes bits: each material
has a word or two of them, and an accord has those of any of its materials.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..frozen import frozen
from .compiled import Compiled, Standing
from .kinds import EACH, LABEL, NEVER, SLACK, SUM, Term
from .product import Rows
from .rule import Rule

HUGE = 1e200  # stands for 1/limit where nothing at all is allowed
LIMIT, ZERO, GRADE = range(3)
NO_FIGURE_ON_FILE = "no figure on file"
NOT_LOOKED_FOR = "naturals in it were not looked at for it"
WORDS_ONLY = "a rule in words, not read from tables"


@frozen
class Column:
    """One column: its term and how its value is read.

    ``kind`` LIMIT: value × limit is found; ZERO: anything at all breaks, value / HUGE is found; GRADE:
    found is the most that a single
    material holds. ``unless`` is the column that speaks in its place where both are over.
    """

    term: Term
    kind: int
    unless: int = -1

    @property
    def rule(self) -> Rule:
        return self.term.rule

    @property
    def limit(self) -> float:
        """In the term's own unit; 0 where nothing at all is allowed."""
        return self.term.limit or 0.0

    @property
    def limit_pct(self) -> float | None:
        """As a verdict's row has it."""
        return self.term.limit_pct


@frozen
class Alternative:
    """The limit on measured lots: bits that say an oil is ``present``, what brings the substance is there
    (``touched``), and that a
    lot is not measured (``blocked``, -1 if no lot is measured at all: then it never governs)."""

    rule: Rule
    column: int
    touched: int
    present: int
    blocked: int
    replaces: frozenset[Rule]


@frozen(eq=False)
class Columns:
    """Rules compiled over ``materials``; ``values`` has shape (materials, columns).

    ``words`` (n, materials) uint64 hold the bits; ``bit_of_rule`` says where the unknown state of a rule
    stands (absent: never unknown).
    """

    materials: tuple[str, ...]
    columns: tuple[Column, ...]
    values: Rows
    most: np.ndarray
    grades: dict[int, np.ndarray]  # column -> percent held by each material
    words: np.ndarray
    bit_of_rule: dict[Rule, int]
    alternatives: tuple[Alternative, ...]

    @property
    def bits(self) -> int:
        return len(self.words) * 64


class _Bits:
    """Patterns over materials, each kept once."""

    def __init__(self, n: int):
        self._n = n
        self._place: dict[bytes, int] = {}
        self._patterns: list[np.ndarray] = []

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
        packed = np.zeros((-(-max(len(self._patterns), 1) // 64), self._n), np.uint64)
        for bit, pattern in enumerate(self._patterns):
            packed[bit // 64, pattern] |= np.uint64(1 << (bit % 64))
        return packed


class _Laid:
    """A compiled context over materials: what they add to each term, and where it is in doubt."""

    def __init__(self, compiled: Compiled, materials: Sequence[str]):
        self.compiled = compiled
        shape = len(compiled.terms), len(materials)
        self.adds = np.zeros(shape)
        self.touches = np.zeros(shape, bool)
        self.open = np.zeros(shape, bool)
        self.blind = np.zeros(shape, bool)
        for column, name in enumerate(materials):
            entry = compiled.entry(name)
            for number, one in entry.adds.items():
                self.adds[number, column], self.touches[number, column] = one.high, True
            self.open[list(entry.open), column] = True
            self.blind[list(compiled.blind(name)), column] = True


class _Builder:
    """Columns and bits as they come."""

    def __init__(self, materials: Sequence[str]):
        self.materials = tuple(materials)
        self.bits = _Bits(len(self.materials))
        self.columns: list[Column] = []
        self.values: list[np.ndarray] = []
        self.grades: dict[int, np.ndarray] = {}
        self.unknown: dict[Rule, int] = {}
        self.alternatives: list[Alternative] = []

    def column(self, term: Term, adds: np.ndarray, unless: int = -1) -> int:
        """The place of a new column; -1 if no material adds to it."""
        limit = term.limit
        if limit is None or term.how in (NEVER, LABEL):
            return -1
        value = np.where(adds > limit * SLACK, HUGE, 0.0) if term.how == EACH else adds
        if not value.any():
            return -1
        if term.how == EACH:
            kind = GRADE
            self.grades[len(self.columns)] = adds
        else:
            kind = LIMIT if limit > 0 else ZERO
            value = value / limit if limit > 0 else value * HUGE
        self.columns.append(Column(term, kind, unless))
        self.values.append(value)
        return len(self.columns) - 1

    def add(self, laid: _Laid, skip: frozenset[Rule]) -> None:
        compiled = laid.compiled
        for rule, first in zip(compiled.rules, compiled.first):
            if rule in skip or compiled.terms[first].how == LABEL or compiled.is_alternative(first):
                continue
            place, number, doubt = -1, first, np.zeros(len(self.materials), bool)
            while number < len(compiled.terms) and compiled.terms[number].rule is rule:
                doubt |= laid.open[number] | laid.blind[number]
                place = self.column(compiled.terms[number], laid.adds[number], place)
                number += 1
            self.unknown[rule] = self.bits.add(doubt)
        for one in compiled.alternatives:
            self._alternative(laid, one)

    def _alternative(self, laid: _Laid, one: Standing) -> None:
        compiled, term = laid.compiled, laid.compiled.terms[one.term]
        measured = np.array(
            [compiled.exposure.measured(name, term.rule.substance) for name in self.materials], bool
        )
        present = np.array([name in one.members for name in self.materials], bool)
        column = blocked = -1
        if (measured & present).any() and term.limit is not None:
            column = self.column(term, laid.adds[one.term])
            blocked = self.bits.add((present & ~measured) | laid.blind[one.term])
        replaced = frozenset(compiled.terms[number].rule for number in one.replaces)
        touched = self.bits.add(laid.touches[one.term])
        self.alternatives.append(
            Alternative(term.rule, column, touched, self.bits.add(present), blocked, replaced)
        )
        self.unknown[term.rule] = touched


def compile_columns(contexts: Sequence[Compiled], materials: Sequence[str]) -> Columns:
    """The rules of one or several contexts (the second one's are compared, see
    :mod:`substitute.rules.changes`).
    """
    built, done = _Builder(materials), frozenset[Rule]()
    for compiled in contexts:
        built.add(_Laid(compiled, built.materials), done)
        done |= frozenset(compiled.rules)
    matrix = np.array(built.values).T if built.values else np.zeros((len(built.materials), 0))
    most = matrix.max(axis=1) if built.values else np.zeros(len(built.materials))
    return Columns(
        built.materials,
        tuple(built.columns),
        Rows.of(matrix),
        most,
        built.grades,
        built.bits.words(),
        {rule: bit for rule, bit in built.unknown.items() if bit >= 0},
        tuple(built.alternatives),
    )


def why_unknown(compiled: Compiled, rule: Rule) -> str:
    """What to do about an unknown state, in a few words."""
    terms = [term for term in compiled.terms if term.rule is rule or term.rule == rule]
    if any(term.how == NEVER for term in terms):
        return WORDS_ONLY
    if any(term.how == SUM and term.limit is None for term in terms):
        return NO_FIGURE_ON_FILE
    return NOT_LOOKED_FOR
