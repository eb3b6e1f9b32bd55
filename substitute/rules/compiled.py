"""The rules of a situation's sets compiled once: what every material adds to every term, and what is not
known of it.

Judging, the optimiser's rows, what is forbidden, screening and declaring read this one table. A material's
row is worked out when first
asked for, so that an accord of ten lines costs ten rows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np

from ..frozen import frozen
from .book import pick
from .context import Context
from .exposure import Exposure
from .kinds import EACH, LABEL, SLACK, SUM, Brought, Term, kind_of
from .rule import Rule


@frozen
class Entry:
    """What a material does to the terms, by number: ``adds`` per percent of it in the product, high and
    typical.

    ``open`` are terms to which it brings something that has no figure on file. Those it may touch and nobody
    looked at are asked for apart (:meth:`Compiled.blind`): what is banned needs no such thing.
    """

    adds: Mapping[int, Brought]
    open: frozenset[int]


@frozen
class Standing:
    """An alternative: the materials that must be measured for it (``members``), and the terms that it
    stands for.
    """

    term: int
    members: frozenset[str]
    replaces: frozenset[int]


@frozen(eq=False)
class Rows:
    """``A @ percent <= limit`` with percent of each material in the product: A (rows, materials), limit
    (rows,).

    ``forbidden`` (materials,) marks what no amount of is let in. Unknown limits are not in it, and an
    alternative never is.
    """

    A: np.ndarray
    limit: np.ndarray
    terms: tuple[Term, ...]
    forbidden: np.ndarray
    materials: tuple[str, ...]


class Compiled:
    """Terms of a context in order; those of the label stand at the end."""

    def __init__(self, exposure: Exposure, context: Context):
        self.exposure, self.context = exposure, context
        rules = dict.fromkeys(rule for applied in context.sets for rule in pick(exposure, applied))
        self.rules: tuple[Rule, ...] = tuple(sorted(rules, key=lambda rule: kind_of(rule).on_label))
        terms: list[Term] = []
        self.first: list[int] = []  # of each rule: the number of its first term
        self._by_substance: dict[str, list[int]] = {}
        for number, rule in enumerate(self.rules):
            self.first.append(len(terms))
            terms += kind_of(rule).terms(rule)
            for substance in kind_of(rule).substances(rule):
                self._by_substance.setdefault(substance, []).append(number)
        self.terms = tuple(terms)
        self.labels = tuple(number for number, term in enumerate(terms) if term.how == LABEL)
        self.alternatives = tuple(
            self._standing(number) for number, rule in enumerate(self.rules) if kind_of(rule).if_measured
        )
        self._alternative = frozenset(one.term for one in self.alternatives)
        self._entries: dict[str, Entry] = {}
        self._blind: dict[str, frozenset[int]] = {}
        self._asks: dict[bool, list[tuple[int, tuple[str, ...]]]] = {}

    def _standing(self, number: int) -> Standing:
        rule = self.rules[number]
        beside = [
            other
            for other in self.rules
            if kind_of(other).of_parts
            and (other.limit_set, other.category) == (rule.limit_set, rule.category)
        ]
        singles = {part.substance for one in beside for part in one.parts} | {one.substance for one in beside}
        replaced = (
            place
            for place, other in enumerate(self.rules)
            if other.limit_set == rule.limit_set
            and kind_of(other).gives_way
            and other.substance in singles - {rule.substance}
        )
        return Standing(
            self.first[number],
            frozenset(name for one in beside for name in self.exposure.members(one.substance)),
            frozenset(self.first[place] for place in replaced),
        )

    @cached_property
    def _banned(self) -> frozenset[str]:
        """Substances that a rule may ban: most materials hold none and need not be worked out."""
        ends = [*self.first[1:], len(self.terms)]
        bans = {
            number
            for number, (start, end) in enumerate(zip(self.first, ends))
            if any(term.ban and term.limit is not None for term in self.terms[start:end])
        }
        return frozenset(
            substance for substance, numbers in self._by_substance.items() if not bans.isdisjoint(numbers)
        )

    def entry(self, material: str) -> Entry:
        """What ``material`` does; raises :class:`~substitute.errors.NotFound` for an id that is not in the
        tables.
        """
        if material not in self._entries:
            self._entries[material] = self._work_out(material)
        return self._entries[material]

    def _work_out(self, material: str) -> Entry:
        exposure = self.exposure
        touched = dict.fromkeys(
            number
            for substance in exposure.shares(material)
            for number in self._by_substance.get(substance, ())
        )
        adds: dict[int, Brought] = {}
        open_: set[int] = set()
        for number in sorted(touched):
            rule, first = self.rules[number], self.first[number]
            kind = kind_of(rule)
            for one in kind.brings(exposure, rule, material):
                adds[first + one.place] = one
            if kind.is_open(exposure, rule, material):
                open_.add(first)
        return Entry(adds, frozenset(open_))

    def blind(self, material: str) -> frozenset[int]:
        """Terms that ``material`` may touch and nobody looked at."""
        if material not in self._blind:
            self._blind[material] = self._not_looked_at(material)
        return self._blind[material]

    def _asked(self, material: str) -> list[tuple[int, tuple[str, ...]]]:
        """Per rule the term that stays unknown (of an as-such rule: the natural's share) and the substances
        to ask for.

        What a rule asks differs only between what is of unknown make and the rest.
        """
        make = self.exposure.of_unknown_make(material)
        if make not in self._asks:
            found = []
            for rule, first in zip(self.rules, self.first):
                kind = kind_of(rule)
                substances = kind.asks(self.exposure, rule, material)
                if substances:
                    found.append((first + len(kind.terms(rule)) - 1, substances))
            self._asks[make] = found
        return self._asks[make]

    def _not_looked_at(self, material: str) -> frozenset[int]:
        if not self.exposure.composed(material):
            return frozenset()
        asked = self._asked(material)
        substances = dict.fromkeys(one for _, some in asked for one in some)
        untold = {one for one in substances if self.exposure.unassessed((material,), one)}
        return (
            frozenset(last for last, some in asked if not untold.isdisjoint(some)) if untold else frozenset()
        )

    def governs(self, one: Standing, materials: Sequence[str]) -> bool:
        """Whether an alternative speaks for an accord of ``materials``: every oil of the sum measured,
        nothing else untold.
        """
        substance = self.terms[one.term].rule.substance
        present = [name for name in materials if name in one.members]
        return (
            bool(present)
            and all(self.exposure.measured(name, substance) for name in present)
            and not self.exposure.unassessed(materials, substance)
        )

    def is_alternative(self, number: int) -> bool:
        """Whether term ``number`` is one that speaks only where lots are measured."""
        return number in self._alternative

    def banned_by(self, material: str) -> tuple[Term, ...]:
        """The terms that let no amount of ``material`` in."""
        if self._banned.isdisjoint(self.exposure.shares(material)):
            return ()
        found = []
        for number, one in self.entry(material).adds.items():
            term = self.terms[number]
            if term.limit is None or not term.ban or self.is_alternative(number):
                continue
            if one.high > (term.limit * SLACK if term.how == EACH else 0.0):
                found.append(term)
        return tuple(found)

    def pressures(self, material: str) -> Mapping[int, float]:
        """Term -> the part of its limit that 1 % of ``material`` in the product takes up, where that is a
        figure.
        """
        found = {}
        for number, one in self.entry(material).adds.items():
            term = self.terms[number]
            if term.how == SUM and term.limit and not self.is_alternative(number):
                found[number] = one.high / term.limit
        return found

    def rows(self, materials: Sequence[str]) -> Rows:
        """The known limits over ``materials``; terms that none of them touches are left out."""
        materials = tuple(materials)
        forbidden = np.array([bool(self.banned_by(name)) for name in materials], bool)
        touched: dict[int, np.ndarray] = {}
        for column, name in enumerate(materials):
            for number, one in self.entry(name).adds.items():
                if self.terms[number].bounds and not self.is_alternative(number) and one.high > 0:
                    touched.setdefault(number, np.zeros(len(materials)))[column] = one.high
        order = sorted(touched)
        matrix = np.array([touched[n] for n in order]) if order else np.zeros((0, len(materials)))
        limits = np.array([self.terms[n].limit for n in order], float)
        return Rows(matrix, limits, tuple(self.terms[n] for n in order), forbidden, materials)


def compiled_for(exposure: Exposure, context: Context) -> Compiled:
    """The compiled rules of a context, made once per exposure."""
    if context not in exposure.compiled:
        exposure.compiled[context] = Compiled(exposure, context)
    found = exposure.compiled[context]
    assert isinstance(found, Compiled)
    return found
